"""A bore's design as rows of a form: read from what was typed, shown again, and each rule's message put beside the row it speaks of."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput
from borewright.quantities import from_si, parse, shown_unit

if TYPE_CHECKING:
    from borewright.construction import BoreDesign, Catalogue, DesignCheck

__all__ = ["NUMBERS", "TABLES", "Column", "Table", "form_of", "messages", "read_cell", "read_design", "rows_shown"]

MOST_ROWS = 40
WHATS = ("grout", "seal", "pack", "backfill", "open")
USUAL = {"open": "open hole", "pack": "filter sand", "backfill": "clean gravel"}


@dataclass(frozen=True, slots=True)
class Column:
    """One cell of a row: `kind` is a quantity's kind, or choice, stock, material, text, whole."""

    name: str
    label: str
    kind: str
    choices: tuple[str, ...] = ()
    needed: bool = True

    def unit(self, system: str) -> str:
        """Return the unit in which a bare number is read, or nothing."""
        return shown_unit(self.kind, system) if self.kind not in ("choice", "stock", "material", "text", "whole") else ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one part of a design."""

    name: str
    title: str
    row: str
    columns: tuple[Column, ...]


_SPAN = (Column("from_depth", "From", "depth"), Column("to_depth", "To", "depth"))
_STRINGS = ("conductor", "production")
TABLES = (
    Table("hole", "Hole", "interval", (*_SPAN, Column("diameter", "Bit", "diameter"))),
    Table("strings", "Casing", "string", (
        Column("string", "String", "choice", _STRINGS), *_SPAN, Column("casing", "Stock size", "stock", needed=False),
        Column("outside_diameter", "Outside", "diameter", needed=False), Column("wall", "Wall", "diameter", needed=False), Column("material", "Material", "material", needed=False),
    )),
    Table("slots", "Slots", "interval", (*_SPAN, Column("aperture", "Slot width", "diameter"), Column("open_share", "Open", "fraction"))),
    Table("annulus", "Annulus", "interval", (
        Column("string", "Outside the", "choice", _STRINGS), Column("what", "What", "choice", WHATS), *_SPAN, Column("material", "Material", "text", needed=False),
        Column("density", "Grout density", "density", needed=False), Column("lifts", "Lifts", "whole", needed=False),
    )),
)
NUMBERS = (
    Column("total_depth", "Total depth", "depth"), Column("static_level", "Static level, below ground", "level"),
    Column("pumping_level", "Lowest pumping level", "depth"), Column("pump_depth", "Pump at", "depth"), Column("stick_up", "Stick-up above the slab", "length"),
)


def _text(value: Any, kind: str, system: str) -> str:
    if value is None:
        return ""
    if kind in ("choice", "stock", "material", "text", "whole"):
        return str(value)
    return f"{from_si(value, kind, shown_unit(kind, system)):.8g}"


def form_of(design: BoreDesign, system: str) -> dict[str, str]:
    """Return a design as the texts of the form's fields."""
    from borewright.construction import grout_mix, grout_mixes, slurry

    given: dict[str, str] = {column.name: _text(getattr(design, column.name), column.kind, system) for column in NUMBERS}
    for table in TABLES:
        rows = sorted(getattr(design, table.name), key=lambda r: (r.from_depth, r.to_depth) if table.name in ("hole", "slots") else 0)
        for place, row in enumerate(rows):
            for column in table.columns:
                given[f"{table.name}-{place}-{column.name}"] = _text(getattr(row, column.name), column.kind, system)
            if table.name == "annulus":
                usual = 0.0
                if row.what == "grout" and row.material in grout_mixes():
                    mix = grout_mix(row.material)
                    usual = slurry(bag_mass=20.0, water_ratio=mix.water_ratio, bentonite_share=mix.bentonite_share, powder=mix.powder).density
                if row.what != "grout" or abs(row.density - usual) < 0.5:
                    given[f"annulus-{place}-density"] = ""
                if row.what != "grout":
                    given[f"annulus-{place}-lifts"] = ""
    for string in design.strings:
        depths = sorted(depth for name, depth in design.centralisers if name == string.string)
        given[f"centralisers-{string.string}"] = ", ".join(f"{from_si(d, 'depth', shown_unit('depth', system)):.6g}" for d in depths)
    return given


def _places(given: Mapping[str, str], table: Table) -> list[int]:
    """Return the numbers of a table's rows that hold anything and are not ticked to go, in the order shown."""
    found: set[int] = set()
    for key, text in given.items():
        match = re.fullmatch(rf"{table.name}-(\d{{1,3}})-(\w+)", key)
        # A choice always carries a word, so by itself it makes no row.
        if match and str(text).strip() and match[2] not in ("string", "what", "material", "drop") and f"{table.name}-{match[1]}-drop" not in given:
            found.add(int(match[1]))
    return sorted(found)[:MOST_ROWS]


def read_design(given: Mapping[str, str], base: BoreDesign, *, catalogue: Catalogue, system: str, settings: Any = None) -> tuple[BoreDesign | None, dict[str, BadInput]]:
    """Return the design that a form says, volumes and stages not yet reckoned, and what is wrong by the form's field; the design is None then.

    Ground, strikes and need are the base's: the form does not ask for them.
    """
    from borewright.construction import design_as_dict, design_from_dict

    wrong: dict[str, BadInput] = {}
    data = design_as_dict(base) | {"basis": "by hand", "stages": [], "materials": [], "advisories": []}
    if settings is not None:
        data["settings"] = {**asdict(settings), "bits": list(settings.bits)}
    for column in NUMBERS:
        data[column.name] = _cell(given, column.name, column, system, wrong)
    places: dict[str, list[int]] = {}
    for table in TABLES:
        places[table.name] = _places(given, table)
        data[table.name] = [
            {column.name: _cell(given, f"{table.name}-{place}-{column.name}", column, system, wrong) for column in table.columns} for place in places[table.name]
        ]
    if not wrong:
        _complete(data, places, catalogue, wrong)
    if wrong:
        return None, wrong
    try:
        design = design_from_dict(data)
        return replace(design, centralisers=_centralisers(given, design, system)), wrong
    except BadInput as error:
        return None, {_key(error.field, data, places): error}


def _cell(given: Mapping[str, str], key: str, column: Column, system: str, wrong: dict[str, BadInput]) -> Any:
    text = str(given.get(key, "") or "").strip()
    try:
        if not text:
            if column.needed:
                raise BadInput(key, "", "is missing", column.label.lower())
            return None
        if column.kind == "choice" and text not in column.choices:
            raise BadInput(key, text, "is not one of the choices", "one of " + ", ".join(column.choices))
        if column.kind == "whole":
            if not text.isdigit() or int(text) < 1:
                raise BadInput(key, text, "is not a number of lifts", "1 or more")
            return int(text)
        if column.kind in ("choice", "stock", "material", "text"):
            return text[:200]
        return read_cell(text, column.kind, key, system)
    except BadInput as error:
        wrong[key] = error
        return None


def read_cell(text: str, kind: str, field: str, system: str) -> float:
    """Return a typed quantity in SI; a bare number is in the unit that stands beside the field, a share in percent too."""
    unit = shown_unit(kind, system)
    if kind == "fraction" and text.strip()[-1:].isdigit():
        text = f"{text.strip()} %"
    return parse(text, kind, field=field, default_unit=unit or None).si


def _complete(data: dict[str, Any], places: Mapping[str, list[int]], catalogue: Catalogue, wrong: dict[str, BadInput]) -> None:
    """Fill in what a row leaves to the stock, the settings or the slots."""
    slots = data["slots"]
    for place, row in zip(places["strings"], data["strings"], strict=True):
        if row["casing"]:
            try:
                stock = catalogue.casing(row["casing"])
            except BadInput as error:
                wrong[f"strings-{place}-casing"] = error
                continue
            row |= {"outside_diameter": stock.outside_diameter, "wall": stock.wall, "material": stock.material.name}
        for name in ("outside_diameter", "wall", "material"):
            if row[name] is None:
                wrong[f"strings-{place}-{name}"] = BadInput(name, "", "is missing", "a stock size, or outside diameter, wall and material by hand")
        if row["material"] is not None and row["material"] not in catalogue.materials:
            wrong[f"strings-{place}-material"] = BadInput("material", row["material"], "is not in the catalogue", "one of " + ", ".join(catalogue.materials))
        row["casing"] = row["casing"] or ""
        slotted = row["string"] == "production" and slots
        row["slotted_from"], row["slotted_to"] = (min(s["from_depth"] for s in slots), max(s["to_depth"] for s in slots)) if slotted else (None, None)
    for row in data["annulus"]:
        row["density"], row["lifts"] = row["density"] or 0.0, row["lifts"] or 1
        usual = {**USUAL, "grout": data["settings"]["grout_mix"], "seal": data["settings"]["seal_kind"]}
        row["material"] = row["material"] or usual[row["what"]]
    _known_mixes(data, places, wrong)


def _known_mixes(data: Mapping[str, Any], places: Mapping[str, list[int]], wrong: dict[str, BadInput]) -> None:
    from borewright.construction import FILLS, grout_mixes

    for place, row in zip(places["annulus"], data["annulus"], strict=True):
        known = tuple(grout_mixes()) if row["what"] == "grout" else tuple(n for n in FILLS if n != "sand") if row["what"] == "seal" else None
        if known is not None and row["material"] not in known:
            wrong[f"annulus-{place}-material"] = BadInput("material", row["material"], f"is not a {row['what']} that is known", "one of " + ", ".join(known))


def _centralisers(given: Mapping[str, str], design: BoreDesign, system: str) -> tuple[tuple[str, float], ...]:
    from borewright.construction import centralisers_of

    found: list[tuple[str, float]] = []
    for string in design.strings:
        key = f"centralisers-{string.string}"
        text = str(given.get(key, "")).strip()
        if text.lower() == "even":
            found += [(name, depth) for name, depth in centralisers_of(design) if name == string.string]
            continue
        for part in filter(None, (p.strip() for p in text.replace(";", ",").split(","))):
            depth = parse(part, "depth", field=key, default_unit=shown_unit("depth", system)).si
            if not string.from_depth - 1e-6 <= depth <= string.to_depth + 1e-6:
                raise BadInput(key, part, "is not beside the string", f"a depth from {string.from_depth:g} to {string.to_depth:g} m")
            found.append((string.string, depth))
    return tuple(found)


def _key(field: str, data: Mapping[str, Any], places: Mapping[str, Sequence[int]]) -> str:
    """Return the form's field that the design's own refusal speaks of: hole[1].diameter is the second interval from the top."""
    match = re.fullmatch(r"(hole|slots|strings|annulus)(?: of the (\w+))?\[(\d+)\](?:\.(\w+))?", field)
    if not match:
        return field if any(field == c.name for c in NUMBERS) or field.startswith("centralisers-") else field.partition("[")[0] if field in places else ""
    name, string, at, column = match[1], match[2], int(match[3]), match[4] or "from_depth"
    rows = list(zip(places[name], data[name], strict=True))
    if string:
        rows = [r for r in rows if r[1]["string"] == string]
    if name in ("hole", "slots") or string:
        rows.sort(key=lambda r: r[1]["from_depth"])
    return f"{name}-{rows[at][0]}-{column}" if at < len(rows) else ""


# Which table or number a rule speaks of; the strings' own rules stand beside the string that they name.
_BESIDE = {
    "hole-narrows": "hole", "slots-in-casing": "slots", "slots-below-static": "slots", "strike-slotted": "slots", "entrance-speed": "slots", "no-slots": "slots",
    "pumping-above-slots": "pumping_level", "pump-in-blank": "pump_depth", "pump-in-casing": "pump_depth", "sealed-length": "annulus", "seal-above-slots": "annulus",
    "seal-off-slots": "annulus", "pack-cover": "annulus", "stick-up": "stick_up",
}
_ANNULUS = ("grout-to-surface", "annulus-whole", "grout-off-slots", "grout-density")


def messages(given: Mapping[str, str], check: DesignCheck) -> dict[str, list[dict[str, str]]]:
    """Return what does not hold, by the row (strings-0), table (slots), number or centralisers that it stands beside."""
    strings = {str(given.get(f"strings-{place}-string")): place for place in _places(given, TABLES[1])}
    found: dict[str, list[dict[str, str]]] = {}
    for rule in check.rules:
        if rule.holds:
            continue
        key = _BESIDE.get(rule.rule, "")
        if rule.rule == "centralisers":
            key = f"centralisers-{rule.where}"
        elif rule.rule in _ANNULUS:
            key = "annulus"
        elif not key:
            key = f"strings-{strings[rule.where]}" if rule.where in strings else "strings"
        found.setdefault(key, []).append({"severity": rule.severity, "message": f"{rule.found[:1].upper()}{rule.found[1:]}; asked: {rule.asked}."})
    for stage in check.stages:
        if stage.verdict != "holds":
            key = f"strings-{strings[stage.string]}" if stage.string in strings else "strings"
            word = "Fails" if stage.verdict == "fails" else "Close"
            found.setdefault(key, []).append({
                "severity": "danger" if stage.verdict == "fails" else "note",
                "message": f"{word} at {stage.stage}: a factor of {stage.factor:.2f} at {stage.depth:.1f} m where {stage.required:g} is asked.",
            })
    return found


def rows_shown(given: Mapping[str, str], table: Table) -> list[int]:
    """Return the numbers of the rows to show: those that hold something, ticked ones too, and one empty."""
    held = sorted({int(m[1]) for key, text in given.items() if (m := re.fullmatch(rf"{table.name}-(\d{{1,3}})-(\w+)", key)) and str(text).strip()
                   and m[2] not in ("string", "what", "material", "drop")})[:MOST_ROWS]
    return [*held, max(held, default=-1) + 1]
