"""Readings of a working bore from a file: a line for each day, checked whole before the first is written, and twice the same written once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, tzinfo
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["COLUMNS", "load_readings", "read_readings"]

# What a column holds, and other words for it.
COLUMNS: dict[str, tuple[str, tuple[str, ...]]] = {
    "static_level": ("level", ("static", "static level", "water at rest", "level at rest")),
    "pumping_level": ("level", ("pumping level", "water while pumping")),
    "flow": ("flow", ("rate",)),
    "conductivity": ("conductivity", ("ec",)),
    "electricity_meter": ("energy", ("electricity", "electricity meter", "energy", "energy meter", "power meter")),
    "water_meter": ("volume", ("water", "water meter", "volume")),
    "electric_power": ("power", ("power", "electric power")),
}
_SHORT = {"kwh": ("electricity_meter", "kWh"), "kl": ("water_meter", "kL")}
WANT = 'a heading such as "date,pumping_level (m),flow (L/min),electricity_meter (kWh),water_meter (kL),note"'
MOST = 5000


def _column(heading: str) -> tuple[str, str | None]:
    """Return what a heading names and its unit, None where each value must say its own."""
    from borewright.quantities import KINDS, parse

    text = heading.strip()
    if text.lower() in _SHORT:
        return _SHORT[text.lower()]
    if text.lower() in ("date", "day", "note"):
        return {"day": "date"}.get(text.lower(), text.lower()), None
    shape = re.fullmatch(r"(.*?)\s*[(\[]\s*([^)\]]+?)\s*[)\]]", text)
    word, unit = (shape.group(1), shape.group(2)) if shape else (text, None)
    word = re.sub(r"[\s_]+", " ", word.lower()).strip()
    for name, (kind, words) in COLUMNS.items():
        if word == name.replace("_", " ") or word in words:
            if unit is not None:
                parse(f"1 {unit}", kind, field=f"heading {heading}")
            return name, unit
        for start in (name.replace("_", " "), *words):  # pumping_level_m
            if unit is None and word.startswith(start + " ") and (last := text.strip().rsplit("_", 1)[-1]) in KINDS[kind].units:
                return name, last
    raise BadInput("heading", heading, "is not a column of readings", "one of date, note, " + ", ".join(COLUMNS))


def read_readings(text: str) -> list[dict[str, Any]]:
    """Return the readings that a CSV holds, in SI, each with its `line` and its `date`; raise BadInput naming the line and the column."""
    import csv

    from borewright.quantities import parse

    kept = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip() and not line.lstrip().startswith("#")]
    if len(kept) < 2:
        raise BadInput("readings", len(kept), "hold no line of readings", WANT + " and a line for each day")
    if len(kept) > MOST:
        raise BadInput("readings", len(kept), "are more lines than a bore's life", f"at most {MOST}")
    mark = max(",;\t", key=kept[0][1].count)
    table = list(csv.reader([line for _, line in kept], delimiter=mark))
    columns = [_column(cell) for cell in table[0]]
    names = [name for name, _ in columns]
    if "date" not in names:
        raise BadInput("heading", ", ".join(table[0]), "has no date", WANT)
    if len(set(names)) < len(names):
        twice = next(n for n in names if names.count(n) > 1)
        raise BadInput("heading", twice, "stands twice", "each column once")
    found = []
    for (number, _), cells in zip(kept[1:], table[1:], strict=True):
        if len(cells) != len(columns):
            raise BadInput(f"line {number}", mark.join(cells), f"has {len(cells)} parts where the heading has {len(columns)}", "a part for each column, empty where nothing was read")
        row: dict[str, Any] = {"line": number, "typed": {}}
        for (name, unit), cell in zip(columns, (c.strip() for c in cells), strict=True):
            if not cell:
                continue
            if name in ("date", "note"):
                row[name] = cell
                continue
            try:
                read = parse(cell, COLUMNS[name][0], field=name, default_unit=unit)
            except BadInput as error:
                raise BadInput(f"line {number}, {name}", cell, error.problem, error.want) from None
            row[name] = read.si
            row["typed"][name] = cell if unit is None or re.search(r"[A-Za-z]", cell) else f"{cell} {unit}"
        if "date" not in row:
            raise BadInput(f"line {number}, date", "", "is missing", "a date such as 2026-03-02")
        if not set(row) & set(COLUMNS):
            raise BadInput(f"line {number}", mark.join(cells), "holds no reading", "a level, a flow, a conductivity, a meter or a power")
        found.append(row)
    return found


def load_readings(book: JobBook, job_id: UUID, text: str, *, by: str, hole: int = 1, zone: tzinfo = UTC, now: datetime | None = None) -> tuple[int, int]:
    """Write down the readings of a CSV and return (how many were written, how many stood in the book already).

    Raises
    ------
    BadInput
        As `read_readings` and `write_reading`, by the line; nothing is written then.
    """
    from borewright.record.bodies import CURRENT_VERSION, validate_body
    from borewright.work.owner import reading_of, write_reading

    now = now or datetime.now(UTC)
    rows = read_readings(text)
    known = {_mark(f.body.model_dump(), f.entry.at.astimezone(zone).date().isoformat()) for f in (book.job(job_id).holes[hole].readings if hole in book.job(job_id).holes else ())}
    fresh = []
    for row in rows:
        given = {k: v for k, v in row.items() if k not in ("line", "date")}
        try:
            moment, body = reading_of(on=row["date"], hole=hole, zone=zone, now=now, **given)
            validate_body("pump.reading", CURRENT_VERSION["pump.reading"], body)
        except BadInput as error:
            raise BadInput(f"line {row['line']}, {error.field}", error.value, error.problem, error.want) from None
        mark = _mark(body, moment.astimezone(zone).date().isoformat())
        if mark not in known:
            known.add(mark)
            fresh.append((row["date"], given))
    for on, given in fresh:
        write_reading(book, job_id, by=by, on=on, hole=hole, zone=zone, now=now, **given)
    return len(fresh), len(rows) - len(fresh)


def _mark(body: Mapping[str, Any], day: str) -> tuple[Any, ...]:
    return (day, *(None if body.get(name) is None else round(float(body[name]), 9) for name in COLUMNS))
