"""An authority's form as a template that the firm adds without code: `forms/<name>/` in the data folder.

A form is a folder with form.toml and either form.typ (a typst document) or form.pdf (a fillable PDF, filled through pypdf)::

    title = "Notice of a bore completed"        # form.toml
    authority = "Orrin Vale Water Office"
    template = "form.typ"                       # or "form.pdf"

    [fields]
    depth = { path = "hole.depth", unit = "ft", decimals = 1, required = true }
    owner = "customer.name"                     # short for { path = "customer.name" }
    ended = { path = "hole.reason", words = { "enough water" = "A", "walked away" = "B" } }
    drilled = { path = "hole.stopped_on", date = "%d/%m/%Y" }
    kind = { text = "Water bore" }

    [tables.strata]
    path = "hole.ground"
    columns = { from = { path = "from_depth", unit = "m" }, what = "words" }

`borewright.papers.facts` lists the paths. form.typ reads `json(bytes(sys.inputs.data))`: `fields` by name, `tables` as lists of rows, `missing`, all of it text.
In a fillable PDF a field takes the field of its name, and row 1 of a table the fields "strata.1.from", "strata.1.what".
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput, NotFound, Refused, StoreError
from borewright.papers.facts import PATHS, ROWS, Source, written_at
from borewright.papers.wording import Wording
from borewright.quantities import KINDS, from_si, rounded, shown_unit, units_of
from borewright.record.fold import Job

if TYPE_CHECKING:
    from borewright.papers.make import Made
    from borewright.record.entries import Entry
    from borewright.storage import JobBook, Settings

__all__ = ["AuthorityForm", "add_form", "form_data", "form_lacks", "form_pdf", "forms", "issue_form", "load_form"]

SAMPLES = Path(__file__).with_name("forms")
LARGEST = 20 * 2**20  # bytes of any file of a form
MOST_FILES = 40
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_OPTIONS = {"path", "text", "unit", "digits", "decimals", "date", "words", "empty", "required"}
_TEMPLATES = ("form.typ", "form.pdf")


@dataclass(frozen=True, slots=True)
class AuthorityForm:
    """A form that was read and found sound: where it stands, what it is called, and its map."""

    name: str
    folder: Path
    title: str
    authority: str
    template: str
    paper: str
    fields: dict[str, dict[str, Any]]
    tables: dict[str, dict[str, Any]]
    sample: bool = False


def forms(folder: Path | None = None) -> list[AuthorityForm]:
    """Return the firm's forms and the sample that comes with the program, by name; a form that cannot stand is left out."""
    found: dict[str, AuthorityForm] = {}
    for base in (SAMPLES, _home(folder)):
        for place in sorted(base.iterdir()) if base.is_dir() else ():
            if not place.is_dir() or not _NAME.fullmatch(place.name):
                continue
            try:
                found[place.name] = _read(place, place.name)
            except BadInput:
                continue
    return [found[name] for name in sorted(found)]


def load_form(name: str, folder: Path | None = None) -> AuthorityForm:
    """Return a form by its name, the firm's own before the sample.

    Raises
    ------
    NotFound
        No form of that name.
    BadInput
        A form.toml that cannot stand, by the name of what is wrong in it.
    """
    if not _NAME.fullmatch(name):
        raise BadInput("form", name, "is not the name of a form", "small letters, figures and hyphens, such as orrin-vale")
    for base in (_home(folder), SAMPLES):
        if (base / name).is_dir():
            return _read(base / name, name)
    raise NotFound(f"No form is named {name!r}; there are: " + ", ".join(f.name for f in forms(folder)) + ".")


def add_form(source: Path, folder: Path | None = None, *, name: str | None = None, replace: bool = False) -> AuthorityForm:
    """Check a form in a folder and copy it among the firm's forms, whole or not at all; returns it where it stands now.

    Raises
    ------
    BadInput
        What is wrong in the form, by name; a name that is taken, without `replace`.
    """
    source = Path(source)
    if not source.is_dir():
        raise BadInput("form", str(source), "is not a folder", "a folder with form.toml and form.typ or form.pdf")
    name = name or re.sub(r"[^a-z0-9]+", "-", source.name.lower()).strip("-")
    if not _NAME.fullmatch(name):
        raise BadInput("name", name, "is not the name of a form", "small letters, figures and hyphens, such as orrin-vale")
    _read(source, name)
    target = _home(folder) / name
    if target.exists() and not replace:
        raise BadInput("name", name, "is a form that is there already", "another name, or say that it is to be replaced")
    files = [p for p in sorted(source.iterdir()) if p.is_file() and not p.is_symlink()]
    if len(files) > MOST_FILES:
        raise BadInput("form", len(files), "holds too many files", f"at most {MOST_FILES}")
    part = target.with_name(f".{name}.part")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    try:
        for path in files:
            if path.stat().st_size > LARGEST:
                raise BadInput("form", path.name, "is too large", f"at most {LARGEST} bytes")
            shutil.copyfile(path, part / path.name)
        if target.exists():
            shutil.rmtree(target)
        part.replace(target)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return _read(target, name)


def _home(folder: Path | None) -> Path:
    from borewright.storage import data_folder

    return (data_folder() if folder is None else Path(folder)) / "forms"


def _read(place: Path, name: str) -> AuthorityForm:
    import tomllib

    path = place / "form.toml"
    if not path.is_file():
        raise BadInput("form.toml", None, "is missing", "a folder with form.toml and form.typ or form.pdf")
    if path.stat().st_size > 2**20:
        raise BadInput("form.toml", path.stat().st_size, "is too large", "at most a megabyte")
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadInput("form.toml", str(error)[:80], "is not TOML", "lines such as title = \"…\"") from None
    for key in given:
        if key not in ("title", "authority", "template", "paper", "fields", "tables"):
            raise BadInput(key, str(given[key])[:80], "is not a part of a form", "title, authority, template, paper, fields, tables")
    for key in ("title", "authority"):
        if not isinstance(given.get(key, ""), str):
            raise BadInput(key, given[key], "is not text", "text")
    template = given.get("template") or next((t for t in _TEMPLATES if (place / t).is_file()), "form.typ")
    if template not in _TEMPLATES:
        raise BadInput("template", template, "is not a template", "form.typ or form.pdf, beside form.toml")
    if given.get("paper", "A4") not in ("A4", "Letter"):
        raise BadInput("paper", given["paper"], "is not a size of paper", "A4 or Letter")
    fields = given.get("fields", {})
    tables = given.get("tables", {})
    for key, table in (("fields", fields), ("tables", tables)):
        if not isinstance(table, dict):
            raise BadInput(key, str(table)[:80], "is not a table", f"[{key}]")
    if not fields and not tables:
        raise BadInput("fields", None, "is missing", "at least one field, such as depth = \"hole.depth\"")
    kinds = {path: kind for path, (kind, _) in PATHS.items()}
    read = {key: _rule(f"fields.{key}", rule, kinds) for key, rule in fields.items()}
    laid = {key: _table(f"tables.{key}", table) for key, table in tables.items()}
    form = AuthorityForm(name, place, given.get("title") or name, given.get("authority", ""), template, given.get("paper", "A4"), read, laid, place.parent == SAMPLES)
    _check_template(form)
    return form


def _table(where: str, given: Any) -> dict[str, Any]:
    if not isinstance(given, dict):
        raise BadInput(where, str(given)[:80], "is not a table", f"[{where}] with path and columns")
    for key in given:
        if key not in ("path", "columns", "most"):
            raise BadInput(f"{where}.{key}", str(given[key])[:80], "is not a part of a table", "path, columns, most")
    path = given.get("path")
    if path not in ROWS:
        raise BadInput(f"{where}.path", path, "is not a list of rows of a job", "one of " + ", ".join(ROWS))
    columns, most = given.get("columns"), given.get("most", 500)
    if not isinstance(columns, dict) or not columns:
        raise BadInput(f"{where}.columns", str(columns)[:80], "is missing", "a name for each column, such as from = \"from_depth\"")
    if isinstance(most, bool) or not isinstance(most, int) or not 1 <= most <= 5000:
        raise BadInput(f"{where}.most", most, "is not a number of rows", "a whole number from 1 to 5000")
    kinds = ROWS[path][0]
    return {"path": path, "most": most, "columns": {key: _rule(f"{where}.columns.{key}", rule, kinds) for key, rule in columns.items()}}


def _rule(where: str, given: Any, kinds: dict[str, str]) -> dict[str, Any]:
    """Return the rule of one field, checked against the kind of its path."""
    rule = {"path": given} if isinstance(given, str) else given
    if not isinstance(rule, dict):
        raise BadInput(where, str(given)[:80], "is not a path nor a table", 'a path such as "hole.depth", or { path = "hole.depth", unit = "ft" }')
    for key in rule:
        if key not in _OPTIONS:
            raise BadInput(f"{where}.{key}", str(rule[key])[:80], "is not an option of a field", "one of " + ", ".join(sorted(_OPTIONS)))
    if ("path" in rule) == ("text" in rule):
        raise BadInput(where, str(rule)[:80], "needs a path or a text, and not both", 'such as { path = "hole.depth" }')
    if "text" in rule:
        if not isinstance(rule["text"], str):
            raise BadInput(f"{where}.text", rule["text"], "is not text", "text")
        return rule | {"kind": "text"}
    kind = kinds.get(rule["path"]) if isinstance(rule["path"], str) else None
    if kind is None:
        raise BadInput(f"{where}.path", rule["path"], "is not a path of a job", "one of " + ", ".join(kinds))
    _check_options(where, rule, kind)
    return rule | {"kind": kind}


def _check_options(where: str, rule: dict[str, Any], kind: str) -> None:
    if "unit" in rule and (kind not in KINDS or rule["unit"] not in units_of(kind)):
        want = "one of " + ", ".join(u for u in units_of(kind) if u) if kind in KINDS else f"no unit: {rule['path']} is {kind}"
        raise BadInput(f"{where}.unit", rule["unit"], f"is not a unit of {kind}", want)
    for key, low, high in (("digits", 1, 10), ("decimals", 0, 8)):
        value = rule.get(key, low)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise BadInput(f"{where}.{key}", value, "is not such a number", f"a whole number from {low} to {high}")
        if key in rule and kind in ("text", "date", "whole"):
            raise BadInput(f"{where}.{key}", value, f"does not go with {kind}", "a path that is a number")
    if "date" in rule:
        if kind != "date":
            raise BadInput(f"{where}.date", rule["date"], f"does not go with {kind}", "a path that is a date")
        if not isinstance(rule["date"], str) or "%" not in rule["date"] or re.sub(r"%[dmYyjHM]", "", rule["date"]).find("%") >= 0:
            raise BadInput(f"{where}.date", rule["date"], "is not a form of a date", "%d, %m, %Y, %y, %j, %H, %M with signs between")
    words = rule.get("words", {})
    if not isinstance(words, dict) or not all(isinstance(v, str) for v in words.values()):
        raise BadInput(f"{where}.words", str(words)[:80], "is not a list of words", '{ "enough water" = "A" }')
    if not isinstance(rule.get("empty", ""), str):
        raise BadInput(f"{where}.empty", rule["empty"], "is not text", "what stands where nothing is recorded")
    if not isinstance(rule.get("required", False), bool):
        raise BadInput(f"{where}.required", rule["required"], "is not yes or no", "true or false")


def _check_template(form: AuthorityForm) -> None:
    path = form.folder / form.template
    if not path.is_file():
        raise BadInput("template", form.template, "is missing", f"{form.template} beside form.toml")
    if path.stat().st_size > LARGEST:
        raise BadInput(form.template, path.stat().st_size, "is too large", f"at most {LARGEST} bytes")
    if form.template == "form.typ":
        text = path.read_text(encoding="utf-8", errors="replace")
        # A package by name would be fetched from the network, and a paper must be the same in ten years.
        if match := re.search(r"(?:import|include)\s*\(?\s*\"(@[^\"]*)\"", text):
            raise BadInput(form.template, match[1], "is a package from the network", "files that stand beside form.typ")
        return
    there = set(_pdf_fields(path))
    for name in form.fields:
        if name not in there:
            raise BadInput(f"fields.{name}", name, "is not a field of form.pdf", "one of " + ", ".join(sorted(there)[:40]))
    for key, table in form.tables.items():
        for column in table["columns"]:
            if f"{key}.1.{column}" not in there:
                raise BadInput(f"tables.{key}.columns.{column}", f"{key}.1.{column}", "is not a field of form.pdf", "fields named as table.row.column")


# Filling


def _fields(form: AuthorityForm, source: Source, w: Wording) -> dict[str, str | None]:
    return {key: _shown(PATHS[rule["path"]][1](source) if "path" in rule else rule["text"], rule, w) for key, rule in form.fields.items()}


def _needed(form: AuthorityForm, fields: dict[str, str | None]) -> list[tuple[str, str, str]]:
    return [(key, form.fields[key]["path"], written_at(form.fields[key]["path"])) for key, text in fields.items() if text is None and form.fields[key].get("required")]


def form_lacks(job: Job, form: AuthorityForm, *, settings: Settings) -> list[tuple[str, str, str]]:
    """Return what a form cannot be filled without and the job has not: the field, its path, and where it is written down (a stage or "settings")."""
    return _needed(form, _fields(form, Source.of(job, settings), Wording(job, settings)))


def form_data(job: Job, form: AuthorityForm, *, settings: Settings) -> dict[str, Any]:
    """Return what the form says: fields and tables as text, and the names of fields with nothing recorded.

    Raises
    ------
    Refused
        A field that the form requires has nothing recorded; the sentence names all of them.
    """
    source = Source.of(job, settings)
    w = Wording(job, settings)
    fields = _fields(form, source, w)
    missing = [key for key, text in fields.items() if text is None]
    if needed := _needed(form, fields):
        said = (f"{key} ({path}), which is written " + ("in the settings" if at == "settings" else f"at the stage {at}") for key, path, at in needed)
        raise Refused(f"The form {form.title} cannot be made yet: nothing is recorded for " + "; ".join(said) + ".")
    tables = {}
    for key, table in form.tables.items():
        rows = list(ROWS[table["path"]][1](source))
        if len(rows) > table["most"]:
            raise Refused(f"The form {form.title} has room for {table['most']} rows of {key} and {len(rows)} are recorded: make it by hand, or give the form more rows.")
        tables[key] = [{c: _shown(row.get(rule["path"]) if "path" in rule else rule["text"], rule, w) or rule.get("empty", "") for c, rule in table["columns"].items()} for row in rows]
    return {
        "title": form.title, "authority": form.authority, "paper": form.paper, "firm": settings.firm, "lang": "en", "date": w.date_parts(), "invented": w.invented or form.sample,
        "fields": {key: text if text is not None else form.fields[key].get("empty", "") for key, text in fields.items()}, "tables": tables, "missing": missing,
    }


def _shown(value: Any, rule: dict[str, Any], w: Wording) -> str | None:
    """Return a value as the form asks for it, or None where nothing is recorded."""
    if value is None or value == "":
        return None
    kind = rule["kind"]
    if kind == "text":
        return rule.get("words", {}).get(str(value), str(value))
    if kind == "date":
        return w.local(value).strftime(rule.get("date", "%Y-%m-%d"))
    if kind in ("whole", "number", "degrees") or kind not in KINDS:
        return f"{value:.{rule['decimals']}f}" if "decimals" in rule else str(value) if kind == "whole" else rounded(value, rule.get("digits", 8))
    # A unit that the map names is the form's own, printed on it; without one it is the firm's, and stands behind the figure.
    unit = rule.get("unit", shown_unit(kind, w.system))
    figure = from_si(value, kind, unit)
    text = f"{figure:.{rule['decimals']}f}" if "decimals" in rule else rounded(figure, rule.get("digits", 4))
    return text if "unit" in rule else f"{text} {unit}".strip()


def form_pdf(job: Job, form: AuthorityForm, *, settings: Settings) -> Made:
    """Return the filled form as PDF, the same bytes for the same job; raises as `form_data` does, and StoreError where the template cannot be set."""
    from borewright.papers.make import Made

    data = form_data(job, form, settings=settings)
    content = hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()).hexdigest()
    pdf = _set(form, data | {"hash": content}) if form.template == "form.typ" else _filled(form, data)
    reference = (job.opened.body.reference or job.title) if job.opened else str(job.id)
    name = re.sub(r"[^\w]+", "-", f"{reference} form {form.name}").strip("-").lower()
    return Made(pdf, hashlib.sha256(pdf).hexdigest(), content, f"form: {form.name}", form.paper, f"{name[:80]}.pdf")


def _set(form: AuthorityForm, data: dict[str, Any]) -> bytes:
    from borewright.drawing import font_folder
    from borewright.papers.apart import set_apart

    try:
        return set_apart(form.folder, [str(font_folder()), str(form.folder)], data, int(datetime(*data["date"], 12, tzinfo=UTC).timestamp()))
    except RuntimeError as error:
        raise StoreError(f"The form {form.name} could not be set: {error}") from error


def _pypdf() -> Any:
    try:
        import pypdf
    except ImportError:
        raise Refused("A fillable PDF needs the library pypdf, which is not installed here; a form.typ needs nothing more.") from None
    return pypdf


def _pdf_fields(path: Path) -> dict[str, Any]:
    pypdf = _pypdf()
    try:
        reader = pypdf.PdfReader(path)
        if reader.is_encrypted:
            raise BadInput("form.pdf", path.name, "is locked with a password", "a fillable PDF without one")
        found = reader.get_fields() or {}
    except BadInput:
        raise
    except Exception as error:  # the library raises many kinds for a file that lies
        raise BadInput("form.pdf", str(error)[:80], "cannot be read as a PDF", "a fillable PDF") from None
    if not found:
        raise BadInput("form.pdf", path.name, "has no fields to fill", "a fillable PDF (AcroForm)")
    return found


def _filled(form: AuthorityForm, data: dict[str, Any]) -> bytes:
    pypdf = _pypdf()
    values = dict(data["fields"])
    there = _pdf_fields(form.folder / "form.pdf")
    for key, rows in data["tables"].items():
        for n, row in enumerate(rows, 1):
            for column, text in row.items():
                if f"{key}.{n}.{column}" not in there:
                    raise Refused(f"The form {form.title} has room for {n - 1} rows of {key} and {len(rows)} are recorded: make it by hand, or give the form more rows.")
                values[f"{key}.{n}.{column}"] = text
    out = io.BytesIO()
    try:
        writer = pypdf.PdfWriter(clone_from=form.folder / "form.pdf")
        for page in writer.pages:
            if "/Annots" in page:
                writer.update_page_form_field_values(page, values, auto_regenerate=False)
        writer.write(out)
    except Exception as error:  # the library raises many kinds for a file that lies
        raise StoreError(f"The form {form.name} could not be filled: {str(error).splitlines()[0] if str(error) else type(error).__name__}") from error
    return out.getvalue()


def issue_form(book: JobBook, job_id: UUID, name: str, *, settings: Settings, folder: Path, by: str) -> tuple[Path, Entry | None]:
    """Fill a form, write it into a folder, and keep in the job book that it was issued; the same content again writes no second entry."""
    from borewright.papers.make import keep_issued

    form = load_form(name, book.folder)
    return keep_issued(book, job_id, form_pdf(book.job(job_id), form, settings=settings), Path(folder), by=by)
