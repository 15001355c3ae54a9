"""Reading a register from files: what can be used is loaded, what cannot is listed with the reason."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import Advisory, BadInput
from borewright.ground import GROUND, classify
from borewright.siting.columns import CANONICAL, ColumnMap
from borewright.siting.doubts import doubts_of
from borewright.siting.register import Intervals, Register, Strikes, by_size, check_name
from borewright.siting.sheets import Numbers, RefusedRow, Sheet, each_of_few, open_sheet, shortened
from borewright.threads import beside

if TYPE_CHECKING:
    import polars as pl

__all__ = ["LoadReport", "Preview", "PreviewRow", "RefusedRow", "preview", "read_register", "write_refused"]

DEEPEST = 5_000.0  # deeper than any water bore [m]
GREATEST = 2.0  # more than any bore gives [m3/s]
_LONGEST_NAME = 200  # letters
_OPTIONAL = ("elevation", "static_level", "first_water", "conductivity")


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
    extent : tuple of float, optional
        South, west, north and east of the bores taken [deg]: for a person to see whether they are where they should be.
    """

    name: str
    rows: int
    loaded: int
    strikes: int = 0
    intervals: int = 0
    refused: tuple[RefusedRow, ...] = ()
    refused_file: Path | None = None
    advisories: tuple[Advisory, ...] = ()
    extent: tuple[float, float, float, float] | None = None


def _extent(lon: np.ndarray, lat: np.ndarray) -> tuple[float, float, float, float] | None:
    return (float(lat.min()), float(lon.min()), float(lat.max()), float(lon.max())) if len(lon) else None


def _in_degrees(crs: str) -> bool:
    return crs.upper().replace(" ", "") in ("EPSG:4326", "OGC:CRS84", "4326")


def _to_degrees(x: np.ndarray, y: np.ndarray, crs: str) -> tuple[np.ndarray, np.ndarray]:
    from pyproj import Transformer
    from pyproj.exceptions import CRSError

    try:
        change = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except CRSError as error:
        raise BadInput("crs", crs, "is not a known grid", "an EPSG code such as EPSG:28355") from error
    lon, lat = change.transform(x, y)
    return np.where(np.isfinite(lon), lon, np.nan), np.where(np.isfinite(lat), lat, np.nan)


def _repeats(values: pl.Series) -> np.ndarray:
    """Return which values repeat one above."""
    # Most often there are none, and that is quicker to see.
    marks, begin = np.empty(len(values), np.uint64), 0
    for part in values.hash().get_chunks():
        marks[begin : begin + len(part)] = part.to_numpy()
        begin += len(part)
    marks.sort()
    if (marks[1:] != marks[:-1]).all():
        return np.zeros(len(values), bool)
    return (~values.is_first_distinct()).to_numpy()


@dataclass(frozen=True, slots=True)
class _Bores:
    """The columns of a file of bores in SI, row by row, and which rows are kept; `again` repeats another row with no date.

    `by_lon` holds the kept rows by longitude, counted among themselves, and their longitudes.
    """

    bore_id: pl.Series
    lon: np.ndarray
    lat: np.ndarray
    depth: np.ndarray
    flow: np.ndarray
    wet: np.ndarray
    elevation: np.ndarray
    static_level: np.ndarray
    first_water: np.ndarray
    conductivity: np.ndarray
    drilled_on: pl.Series
    picked_by: pl.Series
    keep: np.ndarray
    again: np.ndarray
    left_out: dict[str, int]
    by_lon: tuple[np.ndarray, np.ndarray]


def _misplaced(x: np.ndarray, y: np.ndarray, crs: str) -> tuple[str, str]:
    """Return what may be the matter with places that are none, and what would mend it; nothing where no guess is good."""
    told = np.isfinite(x) & np.isfinite(y)
    if not told.any():
        return "", ""
    if not _in_degrees(crs):
        return f" when read as {crs}", ": is the grid right?"
    if np.median(np.maximum(np.abs(x[told]), np.abs(y[told]))) > 360:
        return ": it looks like a place on a grid", ', or the grid named in a column map, such as crs = "EPSG:28355"'
    if (np.abs(x[told]) <= 90).all() and np.median(np.abs(y[told])) > 90:
        return ": longitude and latitude look swapped", "; the two columns the other way round"
    return "", ""


def _words(sheet: Sheet, columns: ColumnMap) -> tuple[pl.Series, pl.Series, np.ndarray, pl.Series, pl.Series, np.ndarray]:
    """Return the names, how many bytes each has, which repeat one above, the dates, who picked the spots, and what the status says."""
    bore_id = sheet.text("bore_id")
    return bore_id, bore_id.str.len_bytes(), _repeats(bore_id), sheet.text("drilled_on"), sheet.text("picked_by"), _wet(sheet, columns)


def _take_bores(sheet: Sheet, columns: ColumnMap) -> _Bores:
    """Return what the rows hold, refusing on the sheet those that cannot be used."""
    sheet.find("bore_id")
    words = beside(lambda: _words(sheet, columns))  # words are read while numbers are checked
    x = sheet.number("lon", bad="a longitude in degrees, or an easting with its grid in the column map")
    y = sheet.number("lat", bad="a latitude in degrees, or a northing with its grid in the column map")
    lon, lat = (x, y) if _in_degrees(columns.crs) else (Numbers.of(values, place.wrong) for values, place in zip(_to_degrees(x.values, y.values, columns.crs), (x, y), strict=True))
    depth = sheet.number("depth", bad="the depth drilled")
    flow = sheet.number("flow", bad="a yield, or nothing where none was recorded")
    for what in ("drilled_on", "picked_by", "status"):
        sheet.find(what)
    optional = {what: sheet.number(what, bad="") for what in _OPTIONAL}
    misplaced = lon.blanks or lat.blanks or not (lon.least >= -180 and lon.greatest <= 180 and lat.least >= -90 and lat.greatest <= 90)
    by_lon = None if misplaced else by_size(lon.values)
    alike = None if misplaced else _at_one_place(*by_lon, lat.values)

    bore_id, letters, repeats, drilled_on, picked_by, wet = words.result()
    if letters.len() and letters.min() == 0:
        sheet.refuse((letters == 0).to_numpy(), "bore_id", "is missing", "a name for the bore")
    if letters.len() and letters.max() > _LONGEST_NAME:  # bytes are at least as many as letters, and known without reading them
        sheet.refuse((bore_id.str.len_chars() > _LONGEST_NAME).to_numpy(), "bore_id", "is too long for a name", f"at most {_LONGEST_NAME} letters")
    # What no row goes beyond is not looked for row by row.
    for what, place in (("lon", x), ("lat", y)):
        if place.blanks:
            sheet.refuse(np.isnan(place.values), what, "is missing", "the place of the bore: a point, or two columns")
    if misplaced:
        problem, want = _misplaced(x.values, y.values, columns.crs)
        for what, called, limit, place in (("lon", "longitude", 180, lon), ("lat", "latitude", 90, lat)):
            sheet.refuse(~(np.abs(place.values) <= limit), what, f"is no {called}{problem}", f"a place between -{limit} and {limit} degrees{want}")
    if lon.least <= 0 <= lon.greatest and lat.least <= 0 <= lat.greatest:
        sheet.refuse((lon.values == 0) & (lat.values == 0), "lon", "is 0, 0: a blank, not a place", "the place of the bore")
    if depth.blanks:
        sheet.refuse(np.isnan(depth.values), "depth", "is missing", "the depth drilled")
    if depth.least <= 0:
        sheet.refuse(depth.values <= 0, "depth", "must be above zero", "the depth drilled, positive down")
    if depth.greatest > DEEPEST:
        sheet.refuse(depth.values > DEEPEST, "depth", "is deeper than any water bore", f"at most {DEEPEST:g} m; is the unit right?")
    if flow.least < 0:
        sheet.refuse(flow.values < 0, "flow", "must not be below zero", "a yield, 0 for dry")
    if flow.greatest > GREATEST:
        sheet.refuse(flow.values > GREATEST, "flow", "is more than any bore gives", f"at most {1000 * GREATEST:g} L/s; is the unit right?")
    live = sheet.reason < 0
    if repeats.any() and not live.all():
        repeats[live] = _repeats(bore_id.filter(live))
    sheet.refuse(repeats, "bore_id", "repeats a bore above", "one row per bore")
    live = sheet.reason < 0
    by_lon = _by_longitude(lon.values, live) if misplaced else _among(by_lon, live)
    alike = _at_one_place(*by_lon, lat.values) if misplaced else alike[live[alike]]
    again = _same_again(alike, lon.values, lat.values, depth.values, flow.values, drilled_on)
    if again.any():
        # Two bores that share everything but their name and have no date may be two bores; the same date as well is the same bore.
        sheet.refuse(again & (drilled_on != "").to_numpy(), "bore_id", "is the same place, date, depth and yield as a bore above", "one row per bore")
    keep = sheet.reason < 0
    told, left_out = {}, {}
    for what, numbers in optional.items():
        told[what] = numbers.values
        if sheet.find(what) is None:
            continue
        wrong = numbers.wrong
        if what == "first_water":
            wrong = wrong | (numbers.values > depth.values + 0.5)
        elif what == "static_level":
            wrong = wrong | (numbers.values > depth.values + 5)
            if numbers.least < -DEEPEST or numbers.greatest > DEEPEST:
                wrong |= np.abs(numbers.values) > DEEPEST
        if what in ("first_water", "conductivity") and numbers.least < 0:
            wrong = wrong | (numbers.values < 0)
        left_out[what] = 0
        if wrong.any():
            left_out[what] = int((wrong & keep).sum())
            told[what] = np.where(wrong, np.nan, numbers.values)
    if not keep.all():
        rows, longitudes = _among(by_lon, keep)
        by_lon = (np.cumsum(keep) - 1).take(rows), longitudes
    return _Bores(bore_id, lon.values, lat.values, depth.values, flow.values, wet, **told, drilled_on=drilled_on, picked_by=picked_by,
                  keep=keep, again=again & keep, left_out=left_out, by_lon=by_lon)


def _by_longitude(lon: np.ndarray, live: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the live rows by longitude, and their longitudes."""
    rows = np.flatnonzero(live)
    order, longitudes = by_size(lon[rows])
    return rows.take(order), longitudes


def _among(by_lon: tuple[np.ndarray, np.ndarray], live: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the live ones of rows by longitude, and their longitudes."""
    if live.all():
        return by_lon
    rows, longitudes = by_lon
    told = live.take(rows)
    return rows[told], longitudes[told]


def _at_one_place(rows: np.ndarray, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    """Return those of some rows that share their place with another, to a millionth of a degree: `rows` by longitude, `lon` theirs, `lat` of all."""
    import polars as pl

    steps = lon * 1e6
    np.rint(steps, out=steps)
    same = steps[1:] == steps[:-1]
    if not same.any():
        return np.empty(0, np.int64)
    together = np.flatnonzero(np.append(same, False) | np.append(False, same))
    rows = rows[together]
    at = steps[together].astype(np.int64)
    at <<= 29
    at += np.rint(lat[rows] * 1e6).astype(np.int64)
    inorder = np.sort(at)
    if (inorder[1:] != inorder[:-1]).all():
        return np.empty(0, np.int64)
    return np.sort(rows[pl.Series(at).is_duplicated().to_numpy()])


def _same_again(rows: np.ndarray, lon: np.ndarray, lat: np.ndarray, depth: np.ndarray, flow: np.ndarray, drilled_on: pl.Series) -> np.ndarray:
    """Return which of all rows have the place, date, depth and yield of one above, where only `rows` share their place with another."""
    import polars as pl

    out = np.zeros(len(lat), bool)
    if len(rows):
        key = pl.DataFrame({"a": np.round(lon[rows], 6), "b": np.round(lat[rows], 6), "c": depth[rows], "d": np.nan_to_num(flow[rows], nan=-1.0), "e": drilled_on.gather(rows)})
        out[rows] = ~key.select(pl.struct(pl.all()).is_first_distinct()).to_series().to_numpy()
    return out


def read_register(bores: Path | str, *, name: str, strikes: Path | str | None = None, intervals: Path | str | None = None, columns: ColumnMap = CANONICAL,
                  progress: Callable[[str], None] = lambda step: None, taken: Callable[[Register], None] = lambda register: None) -> tuple[Register, LoadReport]:
    """Return the register that files hold, and a report of what was refused or doubted; nothing is written.

    Parameters
    ----------
    bores, strikes, intervals : path
        CSV, Parquet, GeoJSON (bores only) or spreadsheet.
    columns : ColumnMap
        Where everything stands.
    progress : callable
        Told the name of each step.
    taken : callable
        Given the register as soon as it stands, before doubts about its bores are looked for.

    Raises
    ------
    BadInput
        A file that cannot be read, a compulsory column that is missing, an unknown grid, or no row that can be used.
    """
    import polars as pl

    check_name(name)
    path = Path(bores)
    progress("reading bores")
    sheet = open_sheet(path, columns, columns.bores)
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
    advisories += _by_looking(sheet)
    whole = bool(keep.all())
    kept = lambda values: values if whole else values.filter(keep) if isinstance(values, pl.Series) else values[keep]
    kept_id, kept_depth = kept(found.bore_id), kept(found.depth)
    index = lambda: pl.DataFrame({"bore_id": kept_id, "bore": np.arange(len(kept_id))})
    progress("reading strikes and ground")
    found_strikes = found_intervals = None
    if strikes is not None:
        found_strikes, more = _read_strikes(Path(strikes), columns, index(), kept_depth)
        refused += more
    if intervals is not None:
        found_intervals, more, unknown = _read_intervals(Path(intervals), columns, index(), kept_depth)
        refused += more
        if unknown:
            shown = ", ".join(unknown[:8])
            advisories.append(Advisory("unknown-ground", "note", f"{len(unknown)} descriptions of ground hold no word that is known ({shown})", Path(intervals).name))
    told = {what: kept(getattr(found, what)) for what in ("lon", "lat", "flow", "wet", "elevation", "static_level", "first_water", "conductivity", "drilled_on", "picked_by")
            if what == "wet" or sheet.find(what)}
    register = Register.of(name, depth=kept_depth, bore_id=kept_id, **told, strikes=found_strikes, intervals=found_intervals, by_lon=found.by_lon)
    taken(register)
    progress("looking for doubts")
    advisories += doubts_of(register, int(found.again.sum()))
    report = LoadReport(name, len(keep), int(keep.sum()), 0 if found_strikes is None else len(found_strikes.bore),
                        0 if found_intervals is None else len(found_intervals.bore), tuple(refused), None, tuple(advisories), _extent(register.lon, register.lat))
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
    extent : tuple of float or None
        South, west, north and east of the rows that would be taken [deg].
    """

    file: str
    headings: tuple[str, ...]
    found: dict[str, str]
    missing: tuple[BadInput, ...]
    rows: tuple[PreviewRow, ...]
    advisories: tuple[Advisory, ...] = ()
    extent: tuple[float, float, float, float] | None = None


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
    sheet = open_sheet(path, columns, columns.bores, rows=rows)
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
                values[what] = shortened(value) or None
            else:
                values[what] = float(value) if np.isfinite(value) else None
        shown.append(PreviewRow(i + 1, values, reasons.get(i + 1)))
    notes = tuple(Advisory("value-left-out", "note", f"{what.replace('_', ' ')}: {count} values made no sense and would be left out", path.name)
                  for what, count in found.left_out.items() if count) + tuple(_by_looking(sheet))
    return Preview(path.name, tuple(sheet.frame.columns), {k: v for k, v in places.items() if v}, tuple(missing), tuple(shown), notes,
                   _extent(found.lon[found.keep], found.lat[found.keep]))


def _by_looking(sheet: Sheet) -> list[Advisory]:
    """Return what was taken for granted of a file."""
    out = [Advisory("found-by-looking", "note", words, sheet.file) for words in sheet.looked]
    if sheet.commas:
        names = ", ".join(sorted(sheet.commas)).replace("_", " ")
        out.append(Advisory("decimal-comma", "note", f"{names}: commas were read as decimal points; a column map with decimal = \",\" says so for good", sheet.file))
    return out


def _wet(sheet: Sheet, columns: ColumnMap) -> np.ndarray:
    import polars as pl

    found = sheet.find("status")
    if found is None:
        return np.full(len(sheet.frame), -1, np.int8)
    status = sheet.frame[found].cast(pl.String).fill_null("")
    meaning = lambda words: [1 if w in columns.wet else 0 if w in columns.dry else -1 for w in (word.strip().lower() for word in words)]
    few = each_of_few(status)
    if few is not None:
        out = np.full(len(status), -1, np.int8)
        for said, rows in zip(meaning(few), few.values(), strict=True):
            if said >= 0:
                out += rows.to_numpy().view(np.int8) * np.int8(said + 1)
        return out
    words = status.unique().to_list()
    return np.array(meaning(words), np.int8)[status.cast(pl.Enum(words)).to_physical().to_numpy()]


def _bore_rows(sheet: Sheet, index: pl.DataFrame) -> tuple[pl.Series, np.ndarray]:
    """Return the bore each row belongs to, refusing rows of bores that are not in the register."""
    import polars as pl

    sheet.need("bore_id")
    names = sheet.text("bore_id")
    joined = pl.DataFrame({"bore_id": names}).join(index, on="bore_id", how="left", maintain_order="left")
    row = joined["bore"].fill_null(-1).to_numpy()
    sheet.refuse(row < 0, "bore_id", "is not a bore of this register", "the name of a bore that was loaded")
    return names, np.array(row)


def _read_strikes(path: Path, columns: ColumnMap, index: pl.DataFrame, depth: np.ndarray) -> tuple[Strikes, list[RefusedRow]]:
    sheet = open_sheet(path, columns, columns.strikes)
    names, row = _bore_rows(sheet, index)
    sheet.need("depth")
    at = sheet.number("depth", bad="the depth of the strike").values
    flow = sheet.number("flow", bad="a yield, or nothing where none was recorded").values
    limit = depth[np.maximum(row, 0)]
    sheet.refuse(np.isnan(at), "depth", "is missing", "the depth of the strike")
    sheet.refuse(at < 0, "depth", "must not be below zero", "the depth of the strike, positive down")
    sheet.refuse(at > limit + 1.0, "depth", "is below the bottom of the bore", "a depth inside the bore")
    sheet.refuse((flow < 0) | (flow > GREATEST), "flow", "is not a yield that a strike can have", f"0 to {1000 * GREATEST:g} L/s")
    keep = sheet.reason < 0
    return Strikes(row[keep].astype(np.int64), np.minimum(at, limit)[keep], flow[keep]), sheet.refused(names)


def _read_intervals(path: Path, columns: ColumnMap, index: pl.DataFrame, depth: np.ndarray) -> tuple[Intervals, list[RefusedRow], list[str]]:
    import polars as pl

    sheet = open_sheet(path, columns, columns.intervals)
    names, row = _bore_rows(sheet, index)
    for what in ("top", "end", "lithology"):
        sheet.need(what)
    top = sheet.number("top", bad="the depth at which the ground begins").values
    end = sheet.number("end", bad="the depth at which the ground ends").values
    limit = depth[np.maximum(row, 0)]
    sheet.refuse(np.isnan(top) | np.isnan(end), "top", "is missing", "both depths of the interval")
    sheet.refuse(top < 0, "top", "must not be below zero", "a depth, positive down")
    sheet.refuse(end <= top, "end", "is not below the top", "a deeper depth")
    sheet.refuse(top > limit + 1.0, "top", "is below the bottom of the bore", "a depth inside the bore")
    keep = sheet.reason < 0
    said = sheet.text("lithology")
    words = said.unique().sort()
    order = {ground: i for i, ground in enumerate(GROUND)}
    classes = [classify(w) for w in words.to_list()]
    numbers = pl.Series([-1 if c is None else order[c.name] for c in classes], dtype=pl.Int16)
    ground = np.array(said.replace_strict(words, numbers).to_numpy())
    unknown = [w for w, c in zip(words.to_list(), classes, strict=True) if c is None and w]
    return Intervals(row[keep].astype(np.int64), top[keep], np.minimum(end, limit + 1.0)[keep], ground[keep]), sheet.refused(names), unknown


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
