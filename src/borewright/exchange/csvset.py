"""A set of CSV tables in one zip with a Frictionless data package descriptor: what any spreadsheet, register or consultant can open."""

from __future__ import annotations

import codecs
import csv
import io
import json
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import BORE_COLUMNS, MOST_BORES, TABLES, Bore, Column, bore_from, from_text, to_text
from borewright.exchange.zips import member_pieces, open_zip, zip_of

__all__ = ["read_bores_csv", "read_csv_set", "write_csv_set"]

MOST_BYTES = 200 * 2**20  # of a table, unpacked
MOST_LINE = 2**20  # letters
_KEY = Column("bore_id", "bore", "string", help="the bore that the row belongs to")
# Only these must be in a foreign bores table; a row that gives nothing else is a place with a depth.
_COMPULSORY = ("bore_id", "lon", "lat", "depth_m")
# A spreadsheet takes a cell that begins so for a formula; a leading apostrophe is what such programs themselves put before text.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


def write_csv_set(bores: Iterable[Bore]) -> bytes:
    """Return the zip: datapackage.json, bores.csv and a table for each kind of reading that any bore has.

    Numbers are exact decimals in the unit of the column's name; text that a spreadsheet would take for a formula begins with an apostrophe.
    """
    bores = list(bores)
    _distinct(bores)
    tables = [("bores", "Bores", BORE_COLUMNS, [_bore_cells(b) for b in bores])]
    for table in TABLES:
        if any(b.table(table.name) for b in bores):
            tables.append((table.name, table.title, (_KEY, *table.columns), [cells for b in bores for cells in _row_cells(b, table)]))
    files = [(f"{name}.csv", _csv([c.name for c in columns], cells)) for name, _, columns, cells in tables]
    package = json.dumps(_package([(n, t, c) for n, t, c, _ in tables]), indent=1, ensure_ascii=False) + "\n"
    return zip_of([("datapackage.json", package.encode()), *files])


def _distinct(bores: list[Bore]) -> None:
    seen: set[str] = set()
    for bore in bores:
        if bore.id in seen:
            raise BadInput("bore_id", bore.id, "stands for two bores", "each id once")
        seen.add(bore.id)


def _bore_cells(bore: Bore) -> list[str]:
    return [_cell(getattr(bore, c.field), c) for c in BORE_COLUMNS]


def _row_cells(bore: Bore, table) -> Iterator[list[str]]:
    yields = iter(bore.strike_yields()) if table.name == "strikes" else None
    for row in bore.table(table.name):
        values = {**row, "yield_": next(yields)} if yields is not None else row
        yield [_cell(bore.id, _KEY), *(_cell(values[c.field], c) for c in table.columns)]


def _cell(value: Any, column: Column) -> str:
    text = to_text(value, column)
    return "'" + text if column.type == "string" and text.startswith(_FORMULA) else text


def _csv(head: list[str], rows: Iterable[list[str]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue().encode()


def _package(tables: list[tuple[str, str, tuple[Column, ...]]]) -> dict[str, Any]:
    """Return the descriptor: Data Package and Table Schema version 1 (specs.frictionlessdata.io, from memory)."""
    resources = []
    for name, title, columns in tables:
        schema: dict[str, Any] = {"fields": [_field(c) for c in columns], "missingValues": [""]}
        if name == "bores":
            schema["primaryKey"] = "bore_id"
        else:
            schema["foreignKeys"] = [{"fields": "bore_id", "reference": {"resource": "bores", "fields": "bore_id"}}]
        resources.append({
            "profile": "tabular-data-resource", "name": name.replace("_", "-"), "title": title, "path": f"{name}.csv", "format": "csv",
            "mediatype": "text/csv", "encoding": "utf-8", "dialect": {"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"', "doubleQuote": True},
            "schema": schema,
        })
    return {
        "profile": "tabular-data-package", "name": "bores", "title": "Bores",
        "description": "Depths in metres below ground level, positive down; longitude and latitude in WGS 84. Text beginning with =, +, -, @ or ' "
                       "has an apostrophe before it.",
        "resources": resources,
    }


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {"name": column.name, "type": column.type}
    if column.type == "datetime":
        field["format"] = "any"
    if column.help:
        field["description"] = column.help
    if column.name == "bore_id":
        field["constraints"] = {"required": True}
    return field


# Reading


def read_csv_set(data: bytes) -> list[Bore]:
    """Return the bores of a zip that `write_csv_set` wrote, or that has a bores.csv with its compulsory columns.

    Raises
    ------
    BadInput
        The first thing that cannot be read, named by table, row and column.
    """
    with open_zip(io.BytesIO(data), most_members=50, most_bytes=4 * MOST_BYTES) as archive:
        names = {i.filename for i in archive.infolist()}
        known = {f"{t.name}.csv" for t in TABLES} | {"bores.csv", "datapackage.json"}
        for name in sorted(names - known):
            raise BadInput("file", name, "is not a table of bores", "one of " + ", ".join(sorted(known)))
        if "bores.csv" not in names:
            raise BadInput("bores.csv", None, "is missing", "a zip with a table of bores")
        # Row by row as it unpacks: a table that unpacks to a thousand times its size is never held whole.
        return _bores({name: _lines(member_pieces(archive, name, most=MOST_BYTES), name) for name in sorted(names) if name.endswith(".csv")})


def read_bores_csv(data: bytes) -> list[Bore]:
    """Return the bores of one plain CSV table of bores."""
    if len(data) > MOST_BYTES:
        raise BadInput("file", len(data), "is too large", f"at most {MOST_BYTES} bytes")
    return _bores({"bores.csv": _lines((data[at:at + 2**18] for at in range(0, len(data), 2**18)), "bores.csv")})


def _lines(pieces: Iterator[bytes], name: str) -> Iterator[str]:
    """Yield the lines of a table with their ends, as its bytes come.

    Raises
    ------
    BadInput
        A byte that is not UTF-8, or a line that no table of bores has.
    """
    decoder, rest, before = codecs.getincrementaldecoder("utf-8-sig")(), "", 0
    for piece in chain(pieces, (None,)):
        try:
            text = rest + (decoder.decode(piece) if piece is not None else decoder.decode(b"", final=True))
        except UnicodeDecodeError as error:
            raise BadInput(name, before + error.start, "has a byte that is not UTF-8", "a file in UTF-8") from None
        before += len(piece or b"")
        # A carriage return at the end may be half of the end of a line.
        rows = io.StringIO(text, newline="").readlines()
        rest = rows.pop() if rows and piece is not None else ""
        if len(rest) > MOST_LINE:
            raise BadInput(name, len(rest), "has a line that is too long", f"at most {MOST_LINE} letters")
        yield from rows


def _bores(texts: dict[str, Iterator[str]]) -> list[Bore]:
    values: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {}
    for number, row in enumerate(_table("bores.csv", texts["bores.csv"], BORE_COLUMNS, _COMPULSORY), 1):
        where = f"bores row {number}"
        if not row["id"]:
            raise BadInput(f"{where}: bore_id", row["id"], "is missing", "an id for each bore")
        if row["id"] in values:
            raise BadInput(f"{where}: bore_id", row["id"], "stands for two bores", "each id once")
        derived = {c.field: row.pop(c.field) for c in BORE_COLUMNS if c.derived}
        values[row["id"]] = (row, derived)
        if len(values) > MOST_BORES:
            raise BadInput("bores", len(values), "are too many", f"at most {MOST_BORES}")
    rows: dict[str, dict[str, list[dict[str, Any]]]] = {key: {} for key in values}
    for table in TABLES:
        if f"{table.name}.csv" not in texts:
            continue
        for number, row in enumerate(_table(f"{table.name}.csv", texts[f"{table.name}.csv"], (_KEY, *table.columns), ("bore_id",)), 1):
            key = row.pop("bore")
            if key not in rows:
                raise BadInput(f"{table.name} row {number}: bore_id", key, "is not in the table of bores", "the id of a bore")
            for column in table.columns:
                if column.derived:
                    row.pop(column.field)
            rows[key].setdefault(table.name, []).append(row)
    return [bore_from(given, rows[key], derived) for key, (given, derived) in values.items()]


def _table(name: str, lines: Iterator[str], columns: tuple[Column, ...], compulsory: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    by_name = {c.name: c for c in columns}
    reader = csv.reader(lines, strict=True)
    where = name.removesuffix(".csv")
    try:
        head = next(reader, None)
        if not head:
            raise BadInput(name, None, "is empty", "a line of column names")
        head = [h.strip() for h in head]
        for column in head:
            if column not in by_name:
                raise BadInput(f"{where}: {column}", column, "is not a column of this table", "one of " + ", ".join(by_name))
            if head.count(column) > 1:
                raise BadInput(f"{where}: {column}", column, "stands twice at the head", "each column once")
        for column in compulsory:
            if column not in head:
                raise BadInput(f"{where}: {column}", None, "is missing", "the columns " + ", ".join(compulsory))
        for number, cells in enumerate(reader, 1):
            if not cells:
                continue
            if len(cells) != len(head):
                raise BadInput(f"{where} row {number}", len(cells), f"has another number of cells than the {len(head)} of the head", "one cell for each column")
            given = dict(zip(head, cells, strict=True))
            yield {c.field: _value(given.get(c.name), c, f"{where} row {number}") for c in columns}
    except csv.Error as error:
        raise BadInput(f"{where} line {reader.line_num}", None, f"is not CSV: {error}", "comma-separated values with quotes as RFC 4180 has them") from None


def _value(text: str | None, column: Column, where: str) -> Any:
    if text is not None and column.type == "string":
        text = text[1:] if text.startswith("'") else text
        return text if text != "" else column.default
    return from_text(text, column, where=where)
