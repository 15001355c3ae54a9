"""Files of a register as sheets: opened whatever their kind, read column by column, rows refused one by one with the reason."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import BadInput
from borewright.siting.columns import Column, ColumnMap
from borewright.siting.headings import (
    Beginning,
    beginning_of_text,
    heading_row,
    known_headings,
    refuse_what_is_no_table,
    repeated,
)
from borewright.siting.swallowed import rows_that_swallow
from borewright.workbooks import check_workbook

if TYPE_CHECKING:
    import polars as pl

__all__ = ["RefusedRow", "Sheet", "each_of_few", "open_sheet", "shortened"]

_BLANK = ["", "na", "n/a", "nan", "null", "none", "-", "--", "unknown", "not recorded"]
NUMBERS = {"lon", "lat", "elevation", "depth", "flow", "static_level", "first_water", "conductivity", "top", "end"}
_COMMA_NUMBER = r"^[+-]?\d+,\d+$"
_LOOKED = 40  # rows of a sheet among which the headings are looked for
_LONGEST = 80  # letters of a value that are shown
_PLAIN = (0x21, 0x7E)  # bytes of letters, digits and signs, none of them a space or a part of one
_FEW_WORDS, _FIRST = 8, 1000  # different words that are few, and rows among which they are met


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """One row that could not be used: the file, its row (the first below the heading is 1), and the four words of the reason."""

    file: str
    row: int
    bore_id: str
    field: str
    value: str
    problem: str
    want: str


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column as numbers in SI (blank: NaN), and which rows hold something that is no finite number.

    `least` and `greatest` are of what is told, infinities the wrong way round where nothing is; `blanks` says whether any row is blank.
    """

    values: np.ndarray
    wrong: np.ndarray
    least: float
    greatest: float
    blanks: bool

    @classmethod
    def of(cls, values: np.ndarray, wrong: np.ndarray) -> Numbers:
        """Return numbers, looked through."""
        least, greatest = float(np.fmin.reduce(values, initial=np.inf)), float(np.fmax.reduce(values, initial=-np.inf))
        return cls(values, wrong, least, greatest, bool(np.isnan(values).any()))


@dataclass
class Sheet:
    """One file being read: its rows as they stand in it, and why some are refused.

    Attributes
    ----------
    file : str
    frame : polars.DataFrame
    columns : dict of str to Column
    decimal : str
        Of numbers kept as text.
    separator : str
        Of a text file; empty for other kinds.
    reason : ndarray of int, shape (rows,)
        Index into `reasons`; -1 where a row is not refused.
    commas : set of str
        The columns whose decimal commas were found by looking.
    twice : frozenset of str
        Headings that stand in the file more than once, in lower case.
    looked : list of str
        What else was found by looking: another sheet of a spreadsheet, headings below other rows.
    """

    file: str
    frame: pl.DataFrame
    columns: dict[str, Column]
    decimal: str
    separator: str = ""
    reason: np.ndarray = field(init=False)
    reasons: list[tuple[str, str, str]] = field(default_factory=list)
    commas: set[str] = field(default_factory=set)
    twice: frozenset[str] = frozenset()
    looked: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.reason = np.full(len(self.frame), -1, np.int16)

    def find(self, what: str) -> str | None:
        """Return the file's column that holds something, or None; raise BadInput where two have its heading."""
        by_lower = {c.strip().lower(): c for c in self.frame.columns}
        for name in self.columns[what].names:
            name = name.strip().lower()
            if name in by_lower:
                if name in self.twice:
                    raise BadInput(what, by_lower[name], f"stands more than once among the headings of {self.file}", "one column of that name, or a column map that names another")
                return by_lower[name]
        return None

    def need(self, what: str) -> str:
        """Return the file's column that holds something; raise BadInput where there is none."""
        found = self.find(what)
        if found is None:
            wanted = " or ".join(self.columns[what].names)
            raise BadInput(what, shortened(", ".join(self.frame.columns[:12])), f"{self.file} has no column {wanted}", "that column, or a column map that names it (--columns MAP.toml)")
        return found

    def text(self, what: str) -> pl.Series:
        """Return a column as text, blanks empty."""
        import polars as pl

        found = self.find(what)
        if found is None:
            return pl.Series([""]).new_from_index(0, len(self.frame))
        series = self.frame[found]
        if series.dtype.is_float() and (series.fill_null(0.0).fill_nan(0.0) % 1.0 == 0.0).all():
            series = series.fill_nan(None).cast(pl.Int64, strict=False)  # a spreadsheet keeps bore 7 as 7.0
        words = series.cast(pl.String)
        return words if not words.null_count() and _stripped(words) else words.fill_null("").str.strip_chars()

    def number(self, what: str, *, bad: str) -> Numbers:
        """Return a column as numbers in SI; `bad` refuses the rows that hold something that is no finite number."""
        import polars as pl

        found = self.find(what)
        n = len(self.frame)
        if found is None:
            return Numbers(np.broadcast_to(np.nan, n), np.broadcast_to(False, n), np.inf, -np.inf, n > 0)
        series, wrong = self.frame[found], np.broadcast_to(False, n)
        if series.dtype.is_numeric():
            parts = [(part.fill_null(np.nan) if part.null_count() else part).to_numpy() for part in series.cast(pl.Float64).get_chunks()]
        else:
            values, wrong = self._number_of_text(what, series.cast(pl.String))
            parts = [values]
        values, begin, seen = np.empty(n), 0, []
        for part in parts:  # one after the other, each still at hand while it is looked through
            mine = values[begin : begin + len(part)]
            np.multiply(part, self.columns[what].factor, out=mine)
            seen.append(Numbers.of(mine, wrong))
            begin += len(part)
        least, greatest = min((part.least for part in seen), default=np.inf), max((part.greatest for part in seen), default=-np.inf)
        numbers = Numbers(values, wrong, least, greatest, any(part.blanks for part in seen))
        if least == -np.inf or greatest == np.inf:
            infinite = np.isinf(values)
            numbers = Numbers.of(np.where(infinite, np.nan, values), wrong | infinite)
        if bad:
            self.refuse(numbers.wrong, what, "is not a number", bad)
        return numbers

    def _number_of_text(self, what: str, text: pl.Series) -> tuple[np.ndarray, np.ndarray]:
        """Return text as numbers, and which rows hold neither a number nor a blank."""
        import polars as pl

        def plain(text: pl.Series) -> pl.Series:
            return text.str.replace_all(".", "", literal=True).str.replace(",", ".", literal=True)

        if self.decimal == ",":
            text = plain(text)
        quick = text.cast(pl.Float64, strict=False)
        if quick.null_count() == text.null_count():
            return quick.fill_null(np.nan).to_numpy(), np.zeros(len(text), bool)
        text = text.str.strip_chars()
        quick = text.cast(pl.Float64, strict=False)
        blank = text.is_null() | text.str.to_lowercase().is_in(_BLANK)
        doubtful = quick.is_null() & ~blank
        if self.decimal != "," and self.separator not in ("", ",") and doubtful.any():
            # Where commas do not part the columns, 12,5 is a number of a land that writes it so, if no number of the column has a point.
            comma = doubtful & text.str.contains(_COMMA_NUMBER)
            if comma.sum() == doubtful.sum() and not text.filter(~blank).str.contains(".", literal=True).any():
                self.commas.add(what)
                quick = plain(text).cast(pl.Float64, strict=False)
        return quick.fill_null(np.nan).to_numpy(), (quick.is_null() & ~blank).to_numpy()

    def refuse(self, rows: np.ndarray, what: str, problem: str, want: str) -> None:
        """Refuse rows that are not refused yet."""
        if not rows.any():
            return
        new = rows & (self.reason < 0)
        if new.any():
            self.reason[new] = len(self.reasons)
            self.reasons.append((what, problem, want))

    def refused(self, bore_id: pl.Series) -> list[RefusedRow]:
        """Return the refused rows with their reasons."""
        out = []
        for i in np.flatnonzero(self.reason >= 0).tolist():
            what, problem, want = self.reasons[self.reason[i]]
            found = self.find(what)
            value = "" if found is None else self.frame[found][i]
            out.append(RefusedRow(self.file, i + 1, shortened(bore_id[i]), what, "" if value is None else f"{value:.15g}" if isinstance(value, float) else shortened(str(value)), problem, want))
        return out


def _stripped(words: pl.Series) -> bool:
    """Return whether it is seen at once that no word begins or ends with a space of any kind."""
    import polars as pl

    few = each_of_few(words)
    if few is not None:
        met = pl.Series(list(few), dtype=pl.String)
        return met.equals(met.str.strip_chars())
    ends = [words.cast(pl.Binary).bin.get(at, null_on_oob=True) for at in (0, -1)]
    return all(byte is None or _PLAIN[0] <= byte <= _PLAIN[1] for end in ends for byte in (end.min(), end.max()))


def each_of_few(words: pl.Series) -> dict[str, pl.Series] | None:
    """Return which rows hold each of a column's words, where these are few; None where they are many.

    Comparing all rows with each of a few words is quicker than numbering the words of the rows.
    """
    met = words.head(_FIRST).unique().to_list()
    if len(met) > _FEW_WORDS:
        return None
    found = {word: words == word for word in met}
    return found if sum(rows.sum() for rows in found.values()) == len(words) else None


def shortened(text: str) -> str:
    """Return a text as far as it is worth showing."""
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def open_sheet(path: Path, columns: ColumnMap, what: dict[str, Column], *, rows: int | None = None) -> Sheet:
    """Return the rows of a file: CSV, Parquet, GeoJSON points or a spreadsheet; the first few only if asked.

    Of a spreadsheet the first sheet is taken whose headings are known, else the first; headings may stand below other rows.
    """
    import polars as pl

    if not path.is_file():
        raise BadInput("file", str(path), "is not there", "a CSV, Parquet, GeoJSON or spreadsheet file")
    kind, separator, line_end, twice, looked = path.suffix.lower(), "", "", frozenset(), []
    numbers = {name.strip().lower() for key, column in what.items() if key in NUMBERS for name in column.names}
    wanted = {name.strip().lower() for column in what.values() for name in column.names}
    try:
        refuse_what_is_no_table(path)
        if kind in (".parquet", ".pq"):
            frame = pl.read_parquet(path)
        elif kind in (".xlsx", ".xls", ".xlsb", ".xlsm", ".ods"):
            frame, twice, looked = _spreadsheet(path, wanted)
        elif kind in (".geojson", ".json"):
            frame = _geojson(path)
        else:
            beginning = beginning_of_text(path, wanted, encoding=columns.encoding, separator=columns.separator)
            separator, line_end, twice = beginning.separator, beginning.line_end, beginning.twice
            looked = _below(beginning.skipped)
            try:
                frame = _csv(path, columns, beginning, numbers, rows)
            except pl.exceptions.ComputeError:
                frame = _line_by_line(path, beginning, rows)
                looked.append("its quotation marks do not pair: it was read a line at a time")
        nested = [name for name, dtype in frame.schema.items() if dtype.is_nested()]
        frame = frame.drop(nested) if nested else frame
    except (pl.exceptions.PolarsError, csv.Error, OSError, ValueError, LookupError) as error:
        if isinstance(error, BadInput):
            raise
        raise BadInput("file", path.name, f"cannot be read: {shortened(str(error).splitlines()[0])}", "a table with one heading row") from error
    sheet = Sheet(path.name, frame if rows is None else frame.head(rows), what, columns.decimal, separator, twice=twice, looked=looked)
    if separator:
        _refuse_swallowed(sheet, line_end, {at for at, name in enumerate(frame.columns) if name.strip().lower() in numbers})
    return sheet


def _refuse_swallowed(sheet: Sheet, line_end: str, numbers: set[int]) -> None:
    """Refuse rows whose quotation marks take in whole lines: what stands behind these is another row's."""
    for name, rows, lines in rows_that_swallow(sheet.frame, numbers=numbers, separator=sheet.separator, line_end=line_end):
        these = np.zeros(len(sheet.frame), bool)
        these[rows] = True
        sheet.refuse(these, "bore_id", f"has quotation marks in its column {shortened(name)} that take in whole lines, rows of their own", "each quotation mark closed where its text ends")
        sheet.looked.append(f"quotation marks in the column {shortened(name)} take in {lines} line{'' if lines == 1 else 's'} that look like rows: these were not read")


def _below(skipped: int) -> list[str]:
    return [f"the headings were found below {skipped} other rows"] if skipped else []


def _spreadsheet(path: Path, wanted: set[str]) -> tuple[pl.DataFrame, frozenset[str], list[str]]:
    """Return the rows of a spreadsheet's sheet of bores, its headings that stand there twice, and what was found by looking."""
    import polars as pl
    from fastexcel import FastExcelError, read_excel

    check_workbook(path)
    try:
        book = read_excel(path)
        sheets = []
        for name in book.sheet_names:
            first = book.load_sheet(name, header_row=None, n_rows=_LOOKED, dtypes="string").to_polars().rows()
            first = [[cell or "" for cell in row] for row in first]
            if first:
                at = heading_row(first, wanted)
                sheets.append((name, at, first[at]))
        if not sheets:
            raise BadInput("file", path.name, "is empty", "a spreadsheet with a heading row and one row per bore")
        name, at, headings = next((sheet for sheet in sheets if known_headings(sheet[2], wanted) >= 2), sheets[0])
        # Empty rows at the top count for the one way of reading and not for the other: the headings are known when they are met.
        for row in range(at, at + _LOOKED):
            frame = pl.read_excel(path, sheet_name=name, read_options={"header_row": row})
            met = [cell for cell in frame.columns if not cell.startswith("__UNNAMED__")]
            if met and met[0] == next(cell for cell in headings if cell):
                break
    except FastExcelError as error:
        raise BadInput("file", path.name, f"cannot be read: {shortened(str(error).splitlines()[0])}", "a spreadsheet whose first sheet has one heading row") from error
    others = [f"of the sheets {', '.join(book.sheet_names)} the one named {name} was read"] if len(sheets) > 1 else []
    return frame, repeated(headings), others + _below(at)


def _csv(path: Path, columns: ColumnMap, beginning: Beginning, numbers: set[str], rows: int | None) -> pl.DataFrame:
    """Return the rows of a text file: `numbers` as numbers where every row holds one or nothing, all else as text."""
    import polars as pl

    encoding = beginning.encoding
    options = {"separator": beginning.separator, "infer_schema": False, "truncate_ragged_lines": True, "quote_char": '"', "n_rows": rows,
               "eol_char": beginning.line_end, "skip_lines": beginning.skipped}
    if columns.decimal == "." and rows is None:
        try:
            names = pl.read_csv(path, encoding=encoding, **{**options, "n_rows": 0}).columns
            return pl.read_csv(path, encoding=encoding, schema_overrides={c: pl.Float64 for c in names if c.strip().lower() in numbers}, **options)
        except (pl.exceptions.PolarsError, UnicodeDecodeError):
            pass  # some row holds something else: read as text, so that it can be told which and what
    def read(encoding: str) -> pl.DataFrame:
        frame = pl.read_csv(path, encoding=encoding, **options)
        # Fewer rows than asked for: the end of the file, or a quotation mark left open, which only a reading to the end tells.
        return frame if rows is None or len(frame) >= rows else pl.read_csv(path, encoding=encoding, **{**options, "n_rows": None})

    try:
        return read(encoding)
    except (pl.exceptions.ComputeError, UnicodeDecodeError):
        if columns.encoding:
            raise
        # Not UTF-8, then as old spreadsheets write it.
        try:
            return read("cp1252")
        except UnicodeDecodeError as error:
            raise BadInput("file", path.name, "is not text", "a CSV file in UTF-8, UTF-16 or as old spreadsheets write it") from error


def _line_by_line(path: Path, beginning: Beginning, rows: int | None) -> pl.DataFrame:
    """Return the rows of a text file whose quotation marks do not pair, as text: one left open, or one for inches, spoils its own line at most."""
    import polars as pl

    encoding = {"utf8": "utf-8-sig"}.get(beginning.encoding, beginning.encoding)
    data = path.read_bytes()
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    lines = text.split(beginning.line_end)[beginning.skipped:]
    cells = [next(csv.reader([line.rstrip("\r")], delimiter=beginning.separator), []) for line in lines[: None if rows is None else rows + 1] if line.strip()]
    headings = cells[0] if cells else []
    # A heading that stands twice is told apart as the quick way does; the first keeps its name.
    names = [name if name not in headings[:i] else f"{name}_duplicated_{i}" for i, name in enumerate(headings)]
    width = len(names)
    return pl.DataFrame([[*row[:width], *[""] * (width - len(row))] for row in cells[1:]], schema=dict.fromkeys(names, pl.String), orient="row")


def _geojson(path: Path) -> pl.DataFrame:
    import polars as pl

    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise BadInput("file", path.name, f"is not JSON that can be read: {shortened(str(error))}", "a GeoJSON FeatureCollection of points") from error
    if not isinstance(data, dict) or not isinstance(data.get("features"), list):
        raise BadInput("file", path.name, "holds no features", "a GeoJSON FeatureCollection of points")
    rows = []
    for feature in data["features"]:
        feature = feature if isinstance(feature, dict) else {}
        geometry = feature.get("geometry")
        place = geometry.get("coordinates") if isinstance(geometry, dict) else None
        point = place if isinstance(place, list) and len(place) >= 2 and not isinstance(place[0], list) else [None, None]
        properties = feature.get("properties")
        row = {k: v if v is None else str(v) for k, v in (properties if isinstance(properties, dict) else {}).items()}
        rows.append({"bore_id": None if feature.get("id") is None else str(feature["id"]), **row, "lon": None if point[0] is None else str(point[0]), "lat": None if point[1] is None else str(point[1])})
    return pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame({"bore_id": [], "lon": [], "lat": []})
