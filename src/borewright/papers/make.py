"""From a job to a PDF: the facts as plain strings, their hash, and typst."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from queue import Empty, SimpleQueue
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.drawing import font_folder
from borewright.drawing.svg import lettered
from borewright.drawing.words import speaking
from borewright.errors import BadInput, Refused, StoreError
from borewright.papers.photos import Album
from borewright.papers.wording import Wording
from borewright.record.complete import PAPERS, problems
from borewright.record.fold import Job

if TYPE_CHECKING:
    from borewright.record.entries import Entry
    from borewright.storage import JobBook, Settings

__all__ = ["PAPERS", "Made", "issue", "keep_issued", "make_paper", "paper_data", "paper_pdf"]

# document -> module of this package that gives its blocks
_MODULES = {
    "quote": "quote", "rig card": "rigcard", "safety sheet": "safety", "bore record": "borerecord", "field sheet": "fieldsheet", "test report": "testreport",
    "water report": "waterreport", "handover pack": "handover", "invoice": "invoice",
}
_STANDARDS = ("a-2a", "ua-1")  # ISO 19005-2 level A for keeping, ISO 14289-1 for reading aloud
_IDLE: SimpleQueue[Any] = SimpleQueue()  # compilers that no thread holds; each has parsed the templates
TEMPLATES = Path(__file__).with_name("templates")
LOGO_LARGEST = 1_500_000  # bytes


@dataclass(frozen=True, slots=True)
class Made:
    """A paper made: its bytes, their SHA-256, and that of the content it was made from."""

    pdf: bytes
    sha256: str
    inputs_sha256: str
    document: str
    paper: str
    file_name: str


def _checked(document: str, paper: str) -> None:
    if document not in PAPERS:
        raise BadInput("document", document, "is not a paper", "one of " + ", ".join(PAPERS))
    if paper not in ("A4", "Letter"):
        raise BadInput("paper", paper, "is not a size of paper", "A4 or Letter")


def paper_data(job: Job, document: str, *, settings: Settings, paper: str | None = None, attachments: Callable[[str], Path] | None = None) -> dict[str, Any]:
    """Return what a paper says, as plain strings and numbers.

    Parameters
    ----------
    attachments : callable, optional
        Gives the file of a SHA-256, as `JobBook.attachment` does; without it a paper has no photos.

    Raises
    ------
    BadInput
        An unknown document or size.
    Refused
        The job lacks what the paper cannot do without; the sentence names all of it.
    """
    return _data(job, document, settings, paper or settings.paper, Album(attachments, {}))


def _data(job: Job, document: str, settings: Settings, paper: str, album: Album) -> dict[str, Any]:
    _checked(document, paper)
    found = problems(job, document)
    if blocking := [p.message for p in found if p.blocks]:
        raise Refused(f"The {document} cannot be issued yet: " + " ".join(blocking))
    w = Wording(job, settings, until=_rests_on(job, document), album=album)
    with speaking(w.tongue()):
        data = import_module(f"borewright.papers.{_MODULES[document]}").content(job, w, paper)
    frame = w.language.texts["frame"]
    missing = [w.told(p.message) for p in found]
    if missing:
        data["blocks"] += [{"kind": "heading", "text": frame["missing"]}, {"kind": "text", "text": " ".join(missing)}]
    if w.as_told:
        data["blocks"].append({"kind": "text", "text": frame["as_told"]})
    firm = settings.firm or frame["firm_not_named"]
    reference = job.opened.body.reference if job.opened else ""
    data = {
        "layout": "flow", "document": document, "paper": paper, "lang": w.language.code, "words": frame | {"logo": frame["logo"].format(firm=firm)}, "firm": firm, "contact": w.contact(),
        "colour": settings.colour, "job_title": job.title, "subtitle": " · ".join(p for p in (job.title, reference, w.day_of_record()) if p),
        "foot": _short(" · ".join(p for p in (reference or str(job.id)[:8], job.title) if p), 64), "date": w.date_parts(), "invented": w.invented,
        "invented_words": frame["invented"],
    } | data
    data["hash"] = hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()).hexdigest()
    data["hash_shown"] = " ".join(data["hash"][i:i + 4] for i in range(0, 16, 4))
    return data


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip(" ,.;·") + "…"


def _rests_on(job: Job, document: str) -> Any:
    """Return the moment of the last entry that a quote or a rig card rests on, or None for papers that rest on the whole job."""
    if document not in ("quote", "rig card"):
        return None
    accepted = [f.entry.at for f in job.acceptances if f.body.content_hash == job.quote.body.content_hash]
    return max([job.quote.entry.at, *accepted[:1]])


def _logo(settings: Settings) -> list[int] | None:
    """Return the bytes of the firm's logo, or None where there is none, it is too large, or it is no picture."""
    path = Path(settings.logo) if settings.logo else None
    if path is None or not path.is_file() or path.stat().st_size > LOGO_LARGEST:
        return None
    data = path.read_bytes()
    known = data.startswith((b"\x89PNG", b"\xff\xd8\xff", b"GIF8")) or b"<svg" in data[:2000]
    return list(data) if known else None


def paper_pdf(job: Job, document: str, *, settings: Settings, paper: str | None = None, attachments: Callable[[str], Path] | None = None) -> Made:
    """Return a paper of a job as PDF, the same bytes for the same job and settings; arguments and errors are those of `paper_data`."""
    album = Album(attachments, {})
    data = _data(job, document, settings, paper or settings.paper, album)
    content = data["hash"]
    logo = _logo(settings)
    # An archive file for a screen reader where it can be; a letter that no bundled font holds, or a logo that cannot be read, must
    # not leave a person without the paper.
    tries = [(logo, _STANDARDS, True), (logo, (), True), (None, _STANDARDS, True), (None, (), True), (None, (), False)][: 5 if album.held else 4]
    for index, (picture, standards, photos) in enumerate(tries):
        try:
            pdf = _set(data if photos else _without_photos(data), picture, standards, album.held if photos else {})
            break
        except StoreError:
            if index == len(tries) - 1:
                raise
    name = re.sub(r"[^\w]+", "-", f"{job.opened.body.reference or job.title if job.opened else job.id} {document}").strip("-").lower()
    return Made(pdf, hashlib.sha256(pdf).hexdigest(), content, document, data["paper"], f"{name[:80]}-{data['paper'].lower()}.pdf")


def _without_photos(data: dict[str, Any]) -> dict[str, Any]:
    return data | {key: [b for b in data.get(key, ()) if b["kind"] != "photos"] for key in ("blocks", "after")}


def _compiler_in(folder: Path) -> Any:
    import typst

    return typst.Compiler(root=str(folder), font_paths=_fonts(), ignore_system_fonts=True)


@lru_cache(maxsize=1)
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(font_folder())])


@contextmanager
def _setter(photos: dict[str, bytes]) -> Iterator[Any]:
    """Give a compiler: an idle one, which parses no template again, or one in a folder that holds the photos beside the templates."""
    if not photos:
        try:
            compiler = _IDLE.get_nowait()
        except Empty:
            compiler = _compiler_in(TEMPLATES)
        try:
            yield compiler
        finally:
            _IDLE.put(compiler)
        return
    with TemporaryDirectory() as made:
        for path in TEMPLATES.glob("*.typ"):
            shutil.copyfile(path, Path(made) / path.name)
        for name, picture in photos.items():
            (Path(made) / name).write_bytes(picture)
        yield _compiler_in(Path(made))


def _set(data: dict[str, Any], logo: list[int] | None, standards: tuple[str, ...], photos: dict[str, bytes]) -> bytes:
    import typst

    try:
        with _setter(photos) as compiler:
            pdf = compiler.compile(_source(data | {"logo": logo}), format="pdf", timestamp=_noon(data["date"]), pdf_standards=list(standards))
    except (typst.TypstError, RuntimeError) as error:
        raise StoreError(f"The {data['document']} could not be set: {str(error).splitlines()[0]}") from error
    return bytes(pdf)


def _source(data: dict[str, Any]) -> bytes:
    """Return the file that is set: the data as one string of the language, which reads no markup in it, and the template.

    Given as an input of the program instead, other data would make it forget all that it has learned of the templates.
    """
    text = json.dumps(_lettered(data), ensure_ascii=False, allow_nan=False).replace("\\", "\\\\").replace('"', '\\"')
    return f'#import "paper.typ": paper\n#paper(json(bytes("{text}")))'.encode()


def _lettered(value: Any) -> Any:
    """Return data with the words of each drawing beside its shapes, for the template to set as words."""
    if isinstance(value, list):
        return [_lettered(v) for v in value] if value and isinstance(value[0], dict) else value
    if not isinstance(value, dict):
        return value
    if "svg" in value and value.get("kind") != "code":
        drawing = lettered(value["svg"])
        return value | {"svg": drawing.shapes, "size": (drawing.width, drawing.height), "said": drawing.words}
    return {k: _lettered(v) if isinstance(v, (dict, list)) else v for k, v in value.items()}


def _noon(date: list[int]) -> int:
    from datetime import UTC, datetime

    return int(datetime(*date, 12, tzinfo=UTC).timestamp())


def make_paper(
    job: Job, document: str, *, settings: Settings, folder: Path, paper: str | None = None, attachments: Callable[[str], Path] | None = None,
) -> Path:
    """Write a paper into a folder, whole or not at all, and return its path."""
    return _write(paper_pdf(job, document, settings=settings, paper=paper, attachments=attachments), Path(folder))


def _write(made: Made, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / made.file_name
    part = path.with_suffix(".part")
    part.write_bytes(made.pdf)
    part.replace(path)
    return path


def issue(
    book: JobBook, job_id: UUID, document: str, *, settings: Settings, folder: Path, by: str, paper: str | None = None,
) -> tuple[Path, Entry | None]:
    """Make a paper, write it, and keep in the job book that it was issued, with the hash of the PDF and of its content.

    Issuing the same content again writes the file and no second entry: the entry returned is then None.
    """
    made = paper_pdf(book.job(job_id), document, settings=settings, paper=paper, attachments=book.attachment)
    return keep_issued(book, job_id, made, Path(folder), by=by)


def keep_issued(book: JobBook, job_id: UUID, made: Made, folder: Path, *, by: str) -> tuple[Path, Entry | None]:
    """Write a paper that was made and keep that it was issued, unless the same bytes were issued before."""
    path = _write(made, folder)
    if any(f.body.sha256 == made.sha256 and f.body.document == made.document for f in book.job(job_id).papers):
        return path, None
    body = {"document": made.document, "sha256": made.sha256, "inputs_sha256": made.inputs_sha256, "paper": made.paper}
    return path, book.write(job_id, "papers.issued", body, by=by)
