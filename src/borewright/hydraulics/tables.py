"""A file of readings as a table: where its heading stands, how its cells are parted, which decimal mark and letters it uses.

No maker's layout is known here. A table is the longest stretch of lines with the same number of cells and a number in each; the names stand on the
line before it, and what is above the names is left out.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import numpy as np

from borewright.errors import BadInput
from borewright.workbooks import check_workbook

__all__ = ["BLANK", "column_numbers", "joined_columns", "read_table"]

BLANK = ("", "-", "--", "---", "nan", "null", "n/a", "na")  # what loggers write where they have no value
SHEETS = (".xlsx", ".xls", ".ods")
_LOOKED_AT = 400
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")


def read_table(path: str | Path, *, field: str = "data", numbers: tuple[str, ...] = (), decimal_comma: bool = False) -> Any:
    """Return a CSV or spreadsheet as a polars frame of text columns.

    Lines above the heading, a line of units below it and lines that begin with # are left out; cells may be parted by comma, semicolon or tab; letters
    may be UTF-8, UTF-16 or western European. A file without a heading has its columns named "column 1" and so on.

    Parameters
    ----------
    path : path
    field : str
        What a refusal calls the file.
    numbers : tuple of str
        Columns to read as numbers at once where every cell is one: a long file is then read in half the time.
    decimal_comma : bool
        Those numbers are written 0,36.

    Raises
    ------
    BadInput
        No file, no table in it, or a column named twice.
    """
    import polars

    file = Path(path)
    if not file.is_file():
        raise BadInput(field, str(path), "is not a file that can be read", "a CSV file with a heading line")
    try:
        frame = _sheet(polars, file) if file.suffix.lower() in SHEETS else _text(polars, file, numbers, decimal_comma)
    except (polars.exceptions.PolarsError, OSError, ValueError) as error:
        if isinstance(error, BadInput):
            raise
        said = (str(error).splitlines() or ["no reason given"])[0][:80]
        raise BadInput(field, file.name, f"cannot be read as a table ({said})", "a CSV file with a heading line") from None
    names = [name.strip().strip("\ufeff").strip('"').strip() for name in frame.columns]
    if len({n.lower() for n in names}) != len(names) or any(re.search(r"_duplicated_\d+$", n) for n in names):
        raise BadInput(field, ",".join(names), "names a column twice", "each column named once")
    frame.columns = names
    if frame.height == 0:
        raise BadInput(field, file.name, "holds no rows", "a heading line and rows below it")
    return frame


def _text(polars: Any, file: Path, numbers: tuple[str, ...], decimal_comma: bool) -> Any:
    with file.open("rb") as stream:
        start = stream.read(65536)
    plain = not start.startswith((b"\xff\xfe", b"\xfe\xff"))
    source: Any = file
    try:
        # Cut off at a line's end: a letter of two bytes must not be halved.
        lines = start[: start.rfind(b"\n") + 1 or len(start)].decode("utf-8-sig" if plain else "utf-16").splitlines()
    except UnicodeDecodeError:
        plain = False
        lines = []
    if not plain:
        text = _decoded(file.read_bytes())
        source, lines = text.encode(), text[:65536].splitlines()
    separator, heading, units, begins = _layout(lines[:_LOOKED_AT])
    commented = any(line.lstrip().startswith("#") for line in lines)
    how: dict[str, Any] = {"separator": separator, "infer_schema": False}
    above = begins if heading is None else heading
    if above:
        how["skip_lines"] = above
    if heading is None:
        how["has_header"] = False
    elif units:
        how["skip_rows_after_header"] = 1
    if commented:
        how["comment_prefix"] = "#"
    found = None
    if numbers and not commented and heading is not None:
        try:
            found = polars.read_csv(source, **how, decimal_comma=decimal_comma, schema_overrides=dict.fromkeys(numbers, polars.Float64))
        except polars.exceptions.PolarsError:
            found = None
    if found is None:
        try:
            found = polars.read_csv(source, **how)
        except polars.exceptions.PolarsError:
            # A letter further down that is not UTF-8, or rows with more cells than names.
            raw = source if isinstance(source, bytes) else _decoded(file.read_bytes()).encode()
            found = polars.read_csv(raw, **how, truncate_ragged_lines=True)
    if heading is None:
        found.columns = [f"column {k + 1}" for k in range(found.width)]
    empty = [name for name in found.columns if not name.strip() or name.startswith("_duplicated_")]
    idle = [name for name in empty if found.get_column(name).null_count() == found.height]
    return found.drop(idle)


def _decoded(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", "replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")


def _sheet(polars: Any, file: Path) -> Any:
    from fastexcel import FastExcelError

    check_workbook(file)
    try:
        frame = polars.read_excel(file, infer_schema_length=0, has_header=False)
    except FastExcelError as error:
        raise ValueError(str(error).splitlines()[0]) from error
    rows = [["" if v is None else str(v) for v in row] for row in frame.head(_LOOKED_AT).rows()]
    heading, units, start = _heading(rows, frame.width)
    if heading is None:
        frame.columns = [f"column {k + 1}" for k in range(frame.width)]
        return frame.slice(start)
    names = [name.strip() for name in rows[heading]]
    used = [k for k, name in enumerate(names) if name]
    body = frame.slice(heading + (2 if units else 1)).select([frame.columns[k] for k in used])
    body.columns = [names[k] for k in used]
    return body.filter(~polars.all_horizontal(polars.all().is_null()))


def _layout(lines: list[str]) -> tuple[str, int | None, bool, int]:
    """Return what parts the cells, on which line the names stand, whether a line of units follows, and where the readings begin."""
    best: tuple[int, str, int | None, bool, int] = (-1, ",", 0, False, 0)
    for separator in (";", "\t", ","):
        rows = [next(csv.reader([line], delimiter=separator), []) if line.strip() and not line.lstrip().startswith("#") else [] for line in lines]
        widths = [len(row) for row in rows if len(row) > 1]
        if not widths:
            continue
        usual = max(set(widths), key=lambda w: (widths.count(w), w))
        heading, units, begins = _heading(rows, usual)
        # Decimal commas part a semicolon's cells as well: of equal fits the mark first in the list is the one meant.
        score = sum(len(row) == usual for row in rows)
        if score > best[0]:
            best = (score, separator, heading, units, begins)
    if best[0] < 0:
        first = next((k for k, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")), 0)
        return ",", first, False, first
    return best[1:]


def _heading(rows: list[list[str]], width: int) -> tuple[int | None, bool, int]:
    """Return the row that names the columns (None where there is none), whether a row of units follows it, and the first row of readings."""
    wide = [len(row) == width and any(c.strip() for c in row) for row in rows]
    data = [full and _holds_numbers(row) for full, row in zip(wide, rows, strict=True)]
    start, longest, k = None, 0, 0
    while k < len(rows):
        if data[k]:
            end = k
            # Blank lines and a few rows in which the reading is missing do not end a table.
            while end + 1 < len(rows) and (data[end + 1] or not any(c.strip() for c in rows[end + 1]) or wide[end + 1] and _mostly_figures(rows[end + 1]) and any(data[end + 2:end + 7])):
                end += 1
            if sum(data[k:end + 1]) > longest:
                start, longest = k, sum(data[k:end + 1])
            k = end
        k += 1
    if start is None:
        return next((k for k, full in enumerate(wide) if full), 0), False, 0
    before = [k for k in range(start) if any(c.strip() for c in rows[k])]
    named = before[-1] if before else 0
    if not before or not (wide[named] or abs(len(rows[named]) - width) == 1):
        return None, False, start
    above = rows[named - 1] if named and wide[named - 1] and not data[named - 1] else None
    if above is not None and all(len(c.strip()) <= 8 for c in rows[named]) and sum(map(len, rows[named])) < sum(map(len, above)):
        return named - 1, True, start
    return named, False, start


def _holds_numbers(row: list[str]) -> bool:
    cells = [cell.strip() for cell in row]
    return any(_NUMBER.match(cell) for cell in cells) and not all(cell.isalpha() for cell in cells if cell)


def _mostly_figures(row: list[str]) -> bool:
    """Return whether a cell of a row is mostly figures, as a date is and a name is not."""
    return any(2 * sum(c.isdigit() for c in cell) >= len(cell.replace(" ", "")) > 0 for cell in row)


def column_numbers(frame: Any, column: str, *, field: str, decimal_comma: bool | None = None, blanks: bool = False) -> np.ndarray:
    """Return one column as floats, or raise BadInput naming the first row that is not a number.

    `decimal_comma` None reads 0,36 only where it can be nothing else: no cell has a point, and at least one has not three figures after the comma or
    begins with 0. `blanks` True gives NaN for cells without a value.
    """
    import polars

    text = frame.get_column(column)
    if text.dtype == polars.Float64 and not text.null_count() and text.is_finite().all():
        return text.to_numpy()
    values = text.cast(polars.Float64, strict=False)
    if text.dtype == polars.String and (values.null_count() or decimal_comma):
        text = text.str.strip_chars()
        if decimal_comma is None:
            with_comma = text.str.contains(r"^[+-]?\d*,\d+([eE][+-]?\d+)?$").fill_null(False)
            plain = text.str.contains(".", literal=True).fill_null(False)
            telling = text.str.contains(r"^[+-]?(0?,\d+|\d+,(\d{1,2}|\d{4,}))([eE]|$)|^[+-]?\d{4,},").fill_null(False)
            decimal_comma = bool(with_comma.any() and not plain.any() and telling.any())
        values = (text.str.replace(",", ".", literal=True) if decimal_comma else text).cast(polars.Float64, strict=False)
    lacking = values.is_null() | ~values.is_finite()
    if blanks and lacking.any():
        empty = text.is_null() | (text.str.to_lowercase().is_in(BLANK) if text.dtype == polars.String else text.is_nan())
        values = values.fill_null(float("nan"))
        lacking = lacking & ~empty
    bad = lacking.fill_null(True)
    if bad.any():
        row = int(bad.arg_true()[0])
        cell = text[row]
        want = "a number such as 0.36"
        if cell is not None and "," in str(cell):
            want = "a point as the decimal mark, such as 0.36, or the decimal comma stated"
        raise BadInput(field, cell, f"is not a number in row {row + 1} of column {column}", want)
    return values.to_numpy()


def joined_columns(frame: Any, first: str, second: str) -> Any:
    """Return a day's column and a clock's column as one of text, parted by a space; a spreadsheet's own days and clocks lose what they stand for besides."""
    day = frame.get_column(first).str.strip_chars().str.replace(r"^(\d{4}-\d\d-\d\d) 00:00:00$", "${1}")
    clock = frame.get_column(second).str.strip_chars().str.replace(r"^(1899-12-3[01]|190[04]-01-0[01]) ", "")
    return day + " " + clock
