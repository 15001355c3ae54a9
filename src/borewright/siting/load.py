"""Reading a register from files: what can be used is loaded, what cannot is listed with the reason."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import Advisory, BadInput
from borewright.ground import GROUND, classify
from borewright.siting.columns import CANONICAL, Column, ColumnMap
from borewright.siting.register import Intervals, Register, Strikes, check_name

if TYPE_CHECKING:
    import polars as pl

__all__ = ["LoadReport", "Preview", "PreviewRow", "RefusedRow", "preview", "read_register", "write_refused"]

DEEPEST = 5_000.0  # deeper than any water bore [m]
GREATEST = 2.0  # more than any bore gives [m3/s]
_BLANK = ["", "na", "n/a", "nan", "null", "none", "-", "--", "unknown", "not recorded"]


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


@dataclass(frozen=True)
class LoadReport:
    """What became of the rows.

    Attributes
    ----------
    name : str
    rows, loaded : int
        Bores in the file, and bores taken.
    strikes, intervals : int
        Rows of them taken.
    refused : tuple of RefusedRow
    refused_file : Path or None
        The CSV with the refused rows.
    advisories : tuple of Advisory
        Doubts about what was taken: duplicates, outliers, suspected units, values left out.
    """

    name: str
    rows: int
    loaded: int
    strikes: int = 0
    intervals: int = 0
    refused: tuple[RefusedRow, ...] = ()
    refused_file: Path | None = None
    advisories: tuple[Advisory, ...] = ()


@dataclass
class _Sheet:
    """One file being read: its rows as text, and why some are refused."""

    file: str
    frame: pl.DataFrame
    columns: dict[str, Column]
    decimal: str
    reason: np.ndarray = field(init=False)
    reasons: list[tuple[str, str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.reason = np.full(len(self.frame), -1, np.int32)

    def find(self, what: str) -> str | None:
        """Return the file's column that holds something, or None."""
        by_lower = {c.strip().lower(): c for c in self.frame.columns}
        for name in self.columns[what].names:
            if name.strip().lower() in by_lower:
                return by_lower[name.strip().lower()]
        return None

    def need(self, what: str) -> str:
        found = self.find(what)
        if found is None:
            wanted = " or ".join(self.columns[what].names)
            raise BadInput(what, ", ".join(self.frame.columns[:12]), f"{self.file} has no column {wanted}", "that column, or a column map that names it (--columns MAP.toml)")
        return found

    def text(self, what: str) -> np.ndarray:
        """Return a column as text, blanks empty."""
        import polars as pl

        found = self.find(what)
        if found is None:
            return np.full(len(self.frame), "", dtype=object)
        series = self.frame[found].cast(pl.String).fill_null("").str.strip_chars()
        return np.asarray(series.to_numpy(), dtype=object)

    def number(self, what: str, *, bad: str) -> tuple[np.ndarray, np.ndarray]:
        """Return a column as numbers in SI (blank: NaN) and which rows hold something that is no finite number; `bad` refuses them."""
        import polars as pl

        found = self.find(what)
        n = len(self.frame)
        if found is None:
            return np.full(n, np.nan), np.zeros(n, bool)
        series = self.frame[found]
        if series.dtype.is_numeric():
            values = series.cast(pl.Float64).to_numpy()
            wrong = np.isinf(values)
            values = values * self.columns[what].factor
        else:
            text = series.cast(pl.String)
            if self.decimal == ",":
                text = text.str.replace_all(".", "", literal=True).str.replace(",", ".", literal=True)
            quick = text.cast(pl.Float64, strict=False)
            doubtful = quick.is_null() & text.is_not_null()
            if doubtful.any():
                text = text.str.strip_chars()
                quick = text.cast(pl.Float64, strict=False)
                blank = text.is_null() | text.str.to_lowercase().is_in(_BLANK)
            else:
                blank = text.is_null()
            values = quick.fill_null(np.nan).to_numpy()
            wrong = ~np.isfinite(values) & ~blank.to_numpy()
            values = values * self.columns[what].factor
        values = np.where(np.isfinite(values), values, np.nan)
        if bad:
            self.refuse(wrong, what, "is not a number", bad)
        return values, wrong

    def refuse(self, rows: np.ndarray, what: str, problem: str, want: str) -> None:
        """Refuse rows that are not refused yet."""
        new = rows & (self.reason < 0)
        if new.any():
            self.reason[new] = len(self.reasons)
            self.reasons.append((what, problem, want))

    def refused(self, bore_id: np.ndarray) -> list[RefusedRow]:
        out = []
        for i in np.flatnonzero(self.reason >= 0):
            what, problem, want = self.reasons[self.reason[i]]
            found = self.find(what)
            value = "" if found is None else self.frame[found][int(i)]
            out.append(RefusedRow(self.file, int(i) + 1, str(bore_id[i]), what, "" if value is None else str(value), problem, want))
        return out


def _open(path: Path, columns: ColumnMap) -> pl.DataFrame:
    """Return the rows of a file: CSV, Parquet, GeoJSON points or a spreadsheet's first sheet."""
    import polars as pl

    if not path.is_file():
        raise BadInput("file", str(path), "is not there", "a CSV, Parquet, GeoJSON or spreadsheet file")
    kind = path.suffix.lower()
    try:
        if kind == ".parquet":
            return pl.read_parquet(path)
        if kind in (".xlsx", ".xls", ".xlsb", ".ods"):
            return _spreadsheet(path)
        if kind in (".geojson", ".json"):
            return _geojson(path)
        return _csv(path, columns)
    except (pl.exceptions.PolarsError, OSError, ValueError) as error:
        if isinstance(error, BadInput):
            raise
        raise BadInput("file", path.name, f"cannot be read: {str(error).splitlines()[0]}", "a table with one heading row") from error


def _spreadsheet(path: Path) -> pl.DataFrame:
    import polars as pl
    from fastexcel import FastExcelError

    try:
        return pl.read_excel(path)
    except FastExcelError as error:
        raise BadInput("file", path.name, f"cannot be read: {str(error).splitlines()[0]}", "a spreadsheet whose first sheet has one heading row") from error


def _csv(path: Path, columns: ColumnMap) -> pl.DataFrame:
    import polars as pl

    with path.open("rb") as file:
        head = file.readline()
    if not head.strip():
        raise BadInput("file", path.name, "is empty", "a heading row and one row per bore")
    separator = columns.separator or max([",", ";", "\t", "|"], key=lambda s: head.count(s.encode()))
    encoding = columns.encoding or "utf8"
    options = {"separator": separator, "infer_schema": False, "truncate_ragged_lines": True, "quote_char": '"'}
    try:
        return pl.read_csv(path, encoding=encoding, **options)
    except (pl.exceptions.ComputeError, UnicodeDecodeError):
        if columns.encoding:
            raise
        # Not UTF-8, then as old spreadsheets write it.
        return pl.read_csv(path, encoding="cp1252", **options)


def _geojson(path: Path) -> pl.DataFrame:
    import polars as pl

    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise BadInput("file", path.name, f"is not JSON: {error}", "a GeoJSON FeatureCollection of points") from error
    if not isinstance(data, dict) or not isinstance(data.get("features"), list):
        raise BadInput("file", path.name, "holds no features", "a GeoJSON FeatureCollection of points")
    rows = []
    for feature in data["features"]:
        place = (feature.get("geometry") or {}).get("coordinates") or []
        point = place if len(place) >= 2 and not isinstance(place[0], list) else [None, None]
        row = {k: v if v is None else str(v) for k, v in (feature.get("properties") or {}).items()}
        rows.append({"bore_id": None if feature.get("id") is None else str(feature["id"]), **row, "lon": str(point[0]), "lat": str(point[1])})
    return pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame({"bore_id": [], "lon": [], "lat": []})


def _to_degrees(x: np.ndarray, y: np.ndarray, crs: str) -> tuple[np.ndarray, np.ndarray]:
    if crs.upper().replace(" ", "") in ("EPSG:4326", "OGC:CRS84", "4326"):
        return x, y
    from pyproj import Transformer
    from pyproj.exceptions import CRSError

    try:
        change = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except CRSError as error:
        raise BadInput("crs", crs, "is not a known grid", "an EPSG code such as EPSG:28355") from error
    lon, lat = change.transform(x, y)
    return np.where(np.isfinite(lon), lon, np.nan), np.where(np.isfinite(lat), lat, np.nan)


def _repeats(names: pl.Series) -> np.ndarray:
    return (~names.is_first_distinct()).to_numpy()


@dataclass(frozen=True, slots=True)
class _Bores:
    """The columns of a file of bores in SI, row by row, and which rows are kept; `again` repeats another row with no date."""

    bore_id: np.ndarray
    lon: np.ndarray
    lat: np.ndarray
    depth: np.ndarray
    flow: np.ndarray
    wet: np.ndarray
    elevation: np.ndarray
    static_level: np.ndarray
    first_water: np.ndarray
    conductivity: np.ndarray
    drilled_on: np.ndarray
    picked_by: np.ndarray
    keep: np.ndarray
    again: np.ndarray
    left_out: dict[str, int]


def _take_bores(sheet: _Sheet, columns: ColumnMap) -> _Bores:
    """Return what the rows hold, refusing on the sheet those that cannot be used."""
    import polars as pl

    bore_id = sheet.text("bore_id")
    x, _ = sheet.number("lon", bad="a longitude in degrees, or an easting with its grid in the column map")
    y, _ = sheet.number("lat", bad="a latitude in degrees, or a northing with its grid in the column map")
    lon, lat = _to_degrees(x, y, columns.crs)
    depth, _ = sheet.number("depth", bad="the depth drilled")
    flow, _ = sheet.number("flow", bad="a yield, or nothing where none was recorded")
    sheet.refuse(bore_id == "", "bore_id", "is missing", "a name for the bore")
    sheet.refuse(np.isnan(lon) | (np.abs(lon) > 180), "lon", "is no longitude", "a place between -180 and 180 degrees")
    sheet.refuse(np.isnan(lat) | (np.abs(lat) > 90), "lat", "is no latitude", "a place between -90 and 90 degrees")
    sheet.refuse((lon == 0) & (lat == 0), "lon", "is 0, 0: a blank, not a place", "the place of the bore")
    sheet.refuse(np.isnan(depth), "depth", "is missing", "the depth drilled")
    sheet.refuse(depth <= 0, "depth", "must be above zero", "the depth drilled, positive down")
    sheet.refuse(depth > DEEPEST, "depth", "is deeper than any water bore", f"at most {DEEPEST:g} m; is the unit right?")
    sheet.refuse(flow < 0, "flow", "must not be below zero", "a yield, 0 for dry")
    sheet.refuse(flow > GREATEST, "flow", "is more than any bore gives", f"at most {1000 * GREATEST:g} L/s; is the unit right?")
    sheet.refuse(_repeats(pl.Series(np.where(sheet.reason < 0, bore_id, ""), dtype=pl.String)) & (sheet.reason < 0), "bore_id",
                 "repeats a bore above", "one row per bore")
    drilled_on = sheet.text("drilled_on")
    key = pl.DataFrame({"a": np.round(lon, 6), "b": np.round(lat, 6), "c": depth, "d": np.nan_to_num(flow, nan=-1.0), "e": pl.Series(drilled_on, dtype=pl.String)})
    live = pl.Series(sheet.reason < 0)
    again = np.zeros(len(bore_id), bool)
    again[live.to_numpy()] = ~key.filter(live).select(pl.struct(pl.all()).is_first_distinct()).to_series().to_numpy()
    # Two bores that share everything but their name and have no date may be two bores; the same date as well is the same bore.
    sheet.refuse(again & (drilled_on != ""), "bore_id", "is the same place, date, depth and yield as a bore above", "one row per bore")
    keep = sheet.reason < 0
    optional, left_out = {}, {}
    for what in ("elevation", "static_level", "first_water", "conductivity"):
        values, wrong = sheet.number(what, bad="")
        if what == "first_water":
            wrong = wrong | (values > depth + 0.5) | (values < 0)
        elif what == "static_level":
            wrong = wrong | (np.abs(values) > DEEPEST) | (values > depth + 5)
        elif what == "conductivity":
            wrong = wrong | (values < 0)
        left_out[what] = int((wrong & keep).sum())
        optional[what] = np.where(wrong, np.nan, values)
    return _Bores(bore_id, lon, lat, depth, flow, _wet(sheet.text("status"), columns), **optional, drilled_on=drilled_on,
                  picked_by=sheet.text("picked_by"), keep=keep, again=again & keep, left_out=left_out)


def read_register(bores: Path | str, *, name: str, strikes: Path | str | None = None, intervals: Path | str | None = None, columns: ColumnMap = CANONICAL,
                  progress: Callable[[str], None] = lambda step: None) -> tuple[Register, LoadReport]:
    """Return the register that files hold, and a report of what was refused or doubted; nothing is written.

    Parameters
    ----------
    bores, strikes, intervals : path
        CSV, Parquet, GeoJSON (bores only) or spreadsheet.
    columns : ColumnMap
        Where everything stands.
    progress : callable
        Told the name of each step.

    Raises
    ------
    BadInput
        A file that cannot be read, a compulsory column that is missing, an unknown grid, or no row that can be used.
    """
    import polars as pl

    check_name(name)
    path = Path(bores)
    progress("reading bores")
    sheet = _Sheet(path.name, _open(path, columns), columns.bores, columns.decimal)
    for what in ("bore_id", "lon", "lat", "depth"):
        sheet.need(what)
    found = _take_bores(sheet, columns)
    keep = found.keep
    refused = sheet.refused(found.bore_id)
    if not keep.any():
        first = refused[0] if refused else None
        raise BadInput(first.field if first else "file", first.value if first else path.name, f"no row of {path.name} can be used" +
                       (f"; the first: {first.problem}" if first else ": it has none"), first.want if first else "at least one bore")
    advisories = [Advisory("value-left-out", "note", f"{what.replace('_', ' ')}: {count} values made no sense and were left out; the bores were kept", path.name)
                  for what, count in found.left_out.items() if count]
    index = pl.DataFrame({"bore_id": pl.Series(found.bore_id[keep], dtype=pl.String), "bore": np.arange(keep.sum())})
    progress("reading strikes and ground")
    kept_depth = found.depth[keep]
    found_strikes = found_intervals = None
    if strikes is not None:
        found_strikes, more = _read_strikes(Path(strikes), columns, index, kept_depth)
        refused += more
    if intervals is not None:
        found_intervals, more, unknown = _read_intervals(Path(intervals), columns, index, kept_depth)
        refused += more
        if unknown:
            shown = ", ".join(unknown[:8])
            advisories.append(Advisory("unknown-ground", "note", f"{len(unknown)} descriptions of ground hold no word that is known ({shown})", Path(intervals).name))
    columns_kept = {what: getattr(found, what)[keep] for what in ("bore_id", "lon", "lat", "flow", "wet", "elevation", "static_level", "first_water",
                                                                  "conductivity", "drilled_on", "picked_by")}
    register = Register.of(name, depth=kept_depth, **columns_kept, strikes=found_strikes, intervals=found_intervals)
    progress("looking for doubts")
    advisories += _doubts(register, found.again)
    report = LoadReport(name, len(keep), int(keep.sum()), 0 if found_strikes is None else len(found_strikes.bore),
                        0 if found_intervals is None else len(found_intervals.bore), tuple(refused), None, tuple(advisories))
    return register, report


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """One row as it would be read: its number, its values in SI by what they are (None where blank), and why it is refused, if it is."""

    row: int
    values: dict[str, float | str | None]
    refused: RefusedRow | None


@dataclass(frozen=True)
class Preview:
    """The first rows of a file of bores under a column map; nothing is kept.

    Attributes
    ----------
    file : str
    headings : tuple of str
        The file's own columns.
    found : dict of str to str
        What a register holds, and the column it was found in.
    missing : tuple of BadInput
        Compulsory columns that were not found.
    rows : tuple of PreviewRow
    advisories : tuple of Advisory
    """

    file: str
    headings: tuple[str, ...]
    found: dict[str, str]
    missing: tuple[BadInput, ...]
    rows: tuple[PreviewRow, ...]
    advisories: tuple[Advisory, ...] = ()


def preview(bores: Path | str, columns: ColumnMap = CANONICAL, *, rows: int = 20) -> Preview:
    """Return the first rows of a file of bores as they would be read, each with its refusal.

    Parameters
    ----------
    bores : path
        CSV, Parquet, GeoJSON or spreadsheet.
    columns : ColumnMap
        The map that is tried.
    rows : int
        How many rows.

    Raises
    ------
    BadInput
        A file that cannot be read, an unknown grid. A compulsory column that is missing does not raise: it is listed.
    """
    if not 1 <= rows <= 1000:
        raise BadInput("rows", rows, "is not a number of rows to show", "1 to 1000")
    path = Path(bores)
    sheet = _Sheet(path.name, _open(path, columns).head(rows), columns.bores, columns.decimal)
    missing = []
    for what in ("bore_id", "lon", "lat", "depth"):
        try:
            sheet.need(what)
        except BadInput as error:
            missing.append(error)
    places = {what: sheet.find(what) for what in columns.bores}
    found = _take_bores(sheet, columns)
    reasons = {r.row: r for r in sheet.refused(found.bore_id)}
    names = ("bore_id", "lon", "lat", "depth", "flow", "wet", "elevation", "static_level", "first_water", "conductivity", "drilled_on", "picked_by")
    shown = []
    for i in range(len(found.keep)):
        values = {}
        for what in names:
            value = getattr(found, what)[i]
            if what == "wet":
                values[what] = None if value < 0 else "wet" if value else "dry"
            elif isinstance(value, str):
                values[what] = value or None
            else:
                values[what] = float(value) if np.isfinite(value) else None
        shown.append(PreviewRow(i + 1, values, reasons.get(i + 1)))
    notes = tuple(Advisory("value-left-out", "note", f"{what.replace('_', ' ')}: {count} values made no sense and would be left out", path.name)
                  for what, count in found.left_out.items() if count)
    return Preview(path.name, tuple(sheet.frame.columns), {k: v for k, v in places.items() if v}, tuple(missing), tuple(shown), notes)


def _wet(status: np.ndarray, columns: ColumnMap) -> np.ndarray:
    words, inverse = np.unique(status.astype(str), return_inverse=True)
    said = np.array([1 if w.strip().lower() in columns.wet else 0 if w.strip().lower() in columns.dry else -1 for w in words], np.int8)
    return said[inverse]


def _bore_rows(sheet: _Sheet, index: pl.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the bore each row belongs to, refusing rows of bores that are not in the register."""
    import polars as pl

    sheet.need("bore_id")
    names = sheet.text("bore_id")
    joined = pl.DataFrame({"bore_id": pl.Series(names, dtype=pl.String)}).join(index, on="bore_id", how="left", maintain_order="left")
    row = joined["bore"].fill_null(-1).to_numpy()
    sheet.refuse(row < 0, "bore_id", "is not a bore of this register", "the name of a bore that was loaded")
    return names, np.array(row)


def _read_strikes(path: Path, columns: ColumnMap, index: pl.DataFrame, depth: np.ndarray) -> tuple[Strikes, list[RefusedRow]]:
    sheet = _Sheet(path.name, _open(path, columns), columns.strikes, columns.decimal)
    names, row = _bore_rows(sheet, index)
    sheet.need("depth")
    at, _ = sheet.number("depth", bad="the depth of the strike")
    flow, _ = sheet.number("flow", bad="a yield, or nothing where none was recorded")
    limit = depth[np.maximum(row, 0)]
    sheet.refuse(np.isnan(at), "depth", "is missing", "the depth of the strike")
    sheet.refuse(at < 0, "depth", "must not be below zero", "the depth of the strike, positive down")
    sheet.refuse(at > limit + 1.0, "depth", "is below the bottom of the bore", "a depth inside the bore")
    sheet.refuse((flow < 0) | (flow > GREATEST), "flow", "is not a yield that a strike can have", f"0 to {1000 * GREATEST:g} L/s")
    keep = sheet.reason < 0
    return Strikes(row[keep].astype(np.int64), np.minimum(at, limit)[keep], flow[keep]), sheet.refused(names)


def _read_intervals(path: Path, columns: ColumnMap, index: pl.DataFrame, depth: np.ndarray) -> tuple[Intervals, list[RefusedRow], list[str]]:
    sheet = _Sheet(path.name, _open(path, columns), columns.intervals, columns.decimal)
    names, row = _bore_rows(sheet, index)
    for what in ("top", "end", "lithology"):
        sheet.need(what)
    top, _ = sheet.number("top", bad="the depth at which the ground begins")
    end, _ = sheet.number("end", bad="the depth at which the ground ends")
    limit = depth[np.maximum(row, 0)]
    sheet.refuse(np.isnan(top) | np.isnan(end), "top", "is missing", "both depths of the interval")
    sheet.refuse(top < 0, "top", "must not be below zero", "a depth, positive down")
    sheet.refuse(end <= top, "end", "is not below the top", "a deeper depth")
    sheet.refuse(top > limit + 1.0, "top", "is below the bottom of the bore", "a depth inside the bore")
    keep = sheet.reason < 0
    words, inverse = np.unique(sheet.text("lithology").astype(str), return_inverse=True)
    order = {ground: i for i, ground in enumerate(GROUND)}
    classes = [classify(w) for w in words]
    ground = np.array([-1 if c is None else order[c.name] for c in classes], np.int16)[inverse]
    unknown = [w for w, c in zip(words, classes, strict=True) if c is None and w]
    return Intervals(row[keep].astype(np.int64), top[keep], np.minimum(end, limit + 1.0)[keep], ground[keep]), sheet.refused(names), unknown


_SUSPECT_DEPTH = {3.28: "feet read as metres", 0.305: "metres converted from feet twice"}
_SUSPECT_FLOW = {15.85: "US gallons a minute read as litres a second", 13.2: "imperial gallons a minute read as litres a second", 60.0: "litres a minute read as litres a second",
                 86.4: "cubic metres a day read as litres a second", 3.6: "cubic metres an hour read as litres a second", 0.0758: "litres a second converted as gallons a minute"}


def _doubts(register: Register, repeated: np.ndarray) -> list[Advisory]:
    """Return doubts about the bores taken: bores at one place, outliers, suspected units (the first 200 of each are named)."""
    out = []
    if repeated.any():
        out.append(Advisory("same-place", "doubt", f"{int(repeated.sum())} bores have the same place, depth and yield as another and no date: are they the same bore?", register.name))
    n = len(register)
    if n < 40:
        return out
    rows = np.arange(n) if n <= 50_000 else np.random.default_rng(0).choice(n, 50_000, replace=False)
    _, near = register.tree.query(register.places[rows], k=13)
    for what, values, suspects in (("depth", register.depth, _SUSPECT_DEPTH), ("yield", register.flow, _SUSPECT_FLOW)):
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.where(values > 0, np.log(values), np.nan)
        around = logs[near[:, 1:]]
        enough = np.isfinite(around).sum(axis=1) >= 6
        usual = np.full(len(rows), np.nan)
        usual[enough] = np.nanmedian(around[enough], axis=1)
        gap = logs[rows] - usual
        good = np.isfinite(gap)
        if good.sum() < 40:
            continue
        spread = max(1.4826 * float(np.median(np.abs(gap[good] - np.median(gap[good])))), 0.05)
        far = good & (np.abs(gap) > 4.0 * spread) & (np.abs(gap) > np.log(2.5))
        for j in np.flatnonzero(far)[:200]:
            i, ratio = rows[j], float(np.exp(gap[j]))
            # The nearest of the factors, and near it: 13.2 and 15.9 are told apart where the neighbours are much alike.
            factor = min(suspects, key=lambda f: abs(gap[j] - np.log(f)))
            guess = suspects[factor] if abs(gap[j] - np.log(factor)) < 0.2 else None
            code, more = ("unit-suspected", f": {guess}?") if guess else ("outlier", "")
            out.append(Advisory(code, "doubt", f"bore {register.bore_id[i]}: {what} is {ratio:.3g} times what its neighbours have{more}", str(register.bore_id[i])))
    if register.intervals is not None:
        logged = np.zeros(n)
        np.maximum.at(logged, register.intervals.bore, register.intervals.end)
        for i in np.flatnonzero((logged > 0) & (np.abs(register.depth / np.maximum(logged, 0.1) - 3.28) < 0.12) & (register.depth > 20))[:200]:
            out.append(Advisory("unit-suspected", "doubt", f"bore {register.bore_id[i]}: depth is 3.28 times the depth of its log: feet read as metres?", str(register.bore_id[i])))
    return out


def write_refused(report: LoadReport, path: Path) -> Path | None:
    """Write the refused rows as CSV; return the path, or None when none was refused or the folder cannot be written."""
    if not report.refused:
        return None
    try:
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(("file", "row", "bore_id", "field", "value", "problem", "want"))
            writer.writerows((r.file, r.row, r.bore_id, r.field, r.value, r.problem, r.want) for r in report.refused)
    except OSError:
        return None
    return path
