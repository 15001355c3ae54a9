"""A logger's or a hand-kept file on its way into a test: read as stated, set right, thinned, looked at, and then kept with the file itself."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np

from borewright.errors import Advisory, BadInput
from borewright.record.entries import Entry
from borewright.work.facts import the_hole
from borewright.work.runs import run_of

if TYPE_CHECKING:
    from borewright.hydraulics import LoggerSeries
    from borewright.storage import JobBook

__all__ = ["AS_ELAPSED", "DECIMAL_MARKS", "SHAPES", "UNITS", "Picks", "Preview", "columns_of", "dips_from", "keep_levels", "preview_file", "preview_levels"]

Opener = Callable[[str], AbstractContextManager[Path]]  # what a file is called -> the file, while it is read

AS_ELAPSED = {"seconds since the start": 1.0, "minutes since the start": 60.0, "hours since the start": 3600.0}
SHAPES = ("depth to water", "drawdown", "height of water over the sensor", "pressure with air in it")
UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "kPa": 1000.0 / (1000.0 * 9.80665), "mbar": 100.0 / (1000.0 * 9.80665), "psi": 6894.757293168 / (1000.0 * 9.80665)}
DECIMAL_MARKS: dict[str, bool | None] = {"": None, "point": False, "comma": True}
THINNED_TO = 400


@dataclass(frozen=True, slots=True)
class Picks:
    """How a file is to be read: columns, what its times and values are, and what sets them right.

    `clock_column` is the column of the time of day where it stands apart from the day; `decimal_mark` is "point", "comma", or empty where it is plain.

    `time_form` is "date and time" (then `date_format` and `zone` are stated) or a key of AS_ELAPSED. `dips` are (moment, depth to water) in the
    logger's zone; `clock` is (set right at, compared at, seconds ahead then). `air` names another file's hash with its columns.
    """

    time_column: str
    value_column: str
    clock_column: str = ""
    decimal_mark: str = ""
    time_form: str = "date and time"
    date_format: str = ""
    zone: str = ""
    unit: str = "m"
    shape: str = "depth to water"
    started_at: str = ""
    static: float | None = None
    clock: tuple[str, str, float] | None = None
    dips: tuple[tuple[str, float], ...] = ()
    air: str = ""
    air_time_column: str = ""
    air_clock_column: str = ""
    air_value_column: str = ""
    air_unit: str = "kPa"
    air_efficiency: float | None = None
    keep: int = THINNED_TO
    until: float | None = None


@dataclass(frozen=True, slots=True)
class Preview:
    """What would be kept: times [s] and drawdown [m], how many rows the file holds, and what was noticed and done."""

    time: np.ndarray
    drawdown: np.ndarray
    rows: int
    advisories: tuple[Advisory, ...]
    source: dict[str, Any] = field(default_factory=dict)
    stops: tuple[tuple[float, float | None], ...] = ()


class _Named:
    """A kept file under a name whose ending says what it is, while it is read."""

    def __init__(self, path: Path):
        self.path = path

    def __enter__(self) -> Path:
        self.folder = Path(tempfile.mkdtemp(prefix="levels-"))
        with self.path.open("rb") as stream:
            ending = ".xlsx" if stream.read(4) == b"PK\x03\x04" else ".csv"
        named = self.folder / f"levels{ending}"
        try:
            named.symlink_to(self.path.resolve())
        except OSError:
            shutil.copyfile(self.path, named)
        return named

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)


def columns_of(book: JobBook, sha256: str) -> tuple[list[str], list[list[str]]]:
    """Return the columns of a kept file and its first rows as text, to pick from. Raises BadInput where it is no table."""
    from borewright.hydraulics.tables import read_table

    with _Named(book.attachment(sha256)) as path:
        frame = read_table(path, field="file")
        return list(frame.columns), [["" if v is None else str(v) for v in row] for row in frame.head(5).rows()]


def _moment(text: str, picks: Picks, name: str) -> float:
    from borewright.hydraulics.logger import clock_zone

    try:
        at = datetime.strptime(text.strip(), picks.date_format)
    except ValueError:
        raise BadInput(name, text, f"is not a time of the form {picks.date_format}", "the same form as the file's own times") from None
    return at.replace(tzinfo=clock_zone(picks.zone)).timestamp()


def preview_levels(book: JobBook, sha256: str, picks: Picks) -> Preview:
    """Return what a kept file gives under the picks, set right and thinned, without writing anything. Raises as `preview_file`."""
    return _preview(lambda name: _Named(book.attachment(name)), sha256, picks)


def preview_file(path: str | Path, picks: Picks) -> Preview:
    """Return what a file on the disk gives under the picks, whose `air` then names a file as well.

    Raises
    ------
    BadInput
        A column, format, zone or row that cannot be read, named by field and row; corrections that do not fit the record.
    """
    return _preview(lambda name: nullcontext(Path(name)), str(path), picks)


def _preview(opened: Opener, name: str, picks: Picks) -> Preview:
    if picks.shape not in SHAPES:
        raise BadInput("shape", picks.shape, "is not what a logger records", "one of " + ", ".join(SHAPES))
    if picks.unit not in UNITS:
        raise BadInput("unit", picks.unit, "is not a unit of level here", "one of " + ", ".join(UNITS))
    if not 20 <= picks.keep <= 5000:
        raise BadInput("keep", picks.keep, "is not a number of readings to keep", "20 to 5000; the file itself is kept whole")
    from borewright.hydraulics import pump_stops

    if picks.decimal_mark not in DECIMAL_MARKS:
        raise BadInput("decimal_mark", picks.decimal_mark, "is not a decimal mark here", "point or comma, or nothing where the file leaves no doubt")
    notes: list[Advisory] = []
    if picks.time_form in AS_ELAPSED:
        time, drawdown, rows = _elapsed(opened, name, picks)
    else:
        series = _series(opened, name, picks)
        rows = series.epoch.size
        time, drawdown, series = _dated(opened, series, picks)
        notes += series.advisories
    if picks.until is not None:
        use = time <= picks.until
        time, drawdown = time[use], drawdown[use]
    if time.size < 2:
        raise BadInput("file", int(time.size), "holds too few readings after the start", "at least two")
    stops = pump_stops(time, drawdown)
    notes += [_stop_note(off, on) for off, on in stops]
    kept_time, kept = _thin(time, drawdown, picks.keep)
    if kept_time.size < time.size:
        notes.append(Advisory("thinned", "note", f"{kept_time.size} of {time.size} readings after the start are kept, evenly in log time; the file itself is kept whole.", "keep"))
    source = {
        "columns": [c for c in (picks.time_column, picks.clock_column, picks.value_column) if c], "decimal_mark": picks.decimal_mark, "time_form": picks.time_form, "date_format": picks.date_format, "zone": picks.zone, "unit": picks.unit,
        "shape": picks.shape, "started_at": picks.started_at, "rows": int(rows), "kept": int(kept_time.size), "done": [a.message for a in notes],
    }
    if picks.air:
        source["air"] = picks.air
    return Preview(kept_time, kept, int(rows), tuple(notes), {k: v for k, v in source.items() if v not in ("", None)}, stops)


def _stop_note(off: float, on: float | None) -> Advisory:
    from borewright.quantities import show

    if on is None:
        said = f"The level comes back for good from {show(off, 'time')}: if the pump stopped then, load up to there and give the rest to a recovery, or say when it stopped."
    else:
        said = f"The level came back between {show(off, 'time')} and {show(on, 'time')}: if the pump stopped or slowed then, write it into the rates, or the fit is bent by it."
    return Advisory("pump-stop", "doubt", said, "time")


def _elapsed(opened: Opener, name: str, picks: Picks) -> tuple[np.ndarray, np.ndarray, int]:
    from borewright.hydraulics.tables import column_numbers, read_table

    for what, there in (("clock", picks.clock), ("dips", picks.dips), ("air", picks.air)):
        if there:
            raise BadInput(what, "given", "needs dates in the file to be put to it", "a column of date and time, or no such correction")
    with opened(name) as path:
        frame = read_table(path, field="file")
        for which, column in (("time_column", picks.time_column), ("value_column", picks.value_column)):
            if column not in frame.columns:
                raise BadInput(which, column, "is not a column of the file", ", ".join(frame.columns))
        comma = DECIMAL_MARKS[picks.decimal_mark]
        time = column_numbers(frame, picks.time_column, field="time_column", decimal_comma=comma) * AS_ELAPSED[picks.time_form]
        value = column_numbers(frame, picks.value_column, field="value_column", decimal_comma=comma, blanks=True) * UNITS[picks.unit]
    held = ~np.isnan(value)
    time, value = time[held], value[held]
    if time.size < 2:
        raise BadInput("value_column", int(time.size), "holds too few readings", "at least two")
    order = np.argsort(time, kind="stable")
    time, value = time[order], value[order]
    if picks.shape == "drawdown":
        drawdown = value
    else:
        static = picks.static
        if static is None:
            if time[0] > 0:
                raise BadInput("static", None, "is not said, and no reading stands at the start", "the level at rest in the file's own terms")
            static = float(value[time <= 0][-1])
        drawdown = (value - static) * (1.0 if picks.shape == "depth to water" else -1.0)
    use = time > 0
    return time[use], drawdown[use], int(time.size)


def _series(opened: Opener, name: str, picks: Picks) -> LoggerSeries:
    from borewright.hydraulics import read_logger

    for which in ("date_format", "zone", "started_at"):
        if not getattr(picks, which).strip():
            raise BadInput(which, "", "is not stated", {"date_format": "strftime signs such as %d/%m/%Y %H:%M:%S: 3/4 is two days", "zone": "what the logger's clock kept, such as +10:00",
                                                       "started_at": "when the pump started, or stopped for a recovery, in the logger's zone"}[which])
    with opened(name) as path:
        try:
            return read_logger(path, time_column=picks.time_column, clock_column=picks.clock_column, value_column=picks.value_column, date_format=picks.date_format, zone=picks.zone,
                               factor=UNITS[picks.unit], decimal_comma=DECIMAL_MARKS[picks.decimal_mark])
        except BadInput as error:
            raise BadInput({"value": "value_column", "time": "time_column", "data": "file"}.get(error.field, error.field), error.value, error.problem, error.want) from None


def _dated(opened: Opener, series: LoggerSeries, picks: Picks) -> tuple[np.ndarray, np.ndarray, LoggerSeries]:
    from dataclasses import replace

    from borewright.hydraulics import anchored_to_dips, clock_corrected, drawdown_from

    if picks.clock:
        set_at, read_at, ahead = picks.clock
        series = clock_corrected(series, set_at=_moment(set_at, picks, "clock_set"), read_at=_moment(read_at, picks, "clock_read"), ahead=ahead)
    if picks.air:
        series = _without_air(opened, series, picks)
    elif picks.shape == "pressure with air in it":
        raise BadInput("air", "", "is missing: this record holds the air's weight as well as the water's", "a record of air pressure over the same time")
    rises = picks.shape in ("height of water over the sensor", "pressure with air in it")
    if picks.dips:
        if picks.shape == "drawdown":
            raise BadInput("dips", len(picks.dips), "do not set a record of drawdown right", "a record of depth, height or pressure")
        if rises:
            # Dips are depths: the record is turned into depths below an unknown mark, which the dips then find.
            series, rises = replace(series, value=-series.value), False
        series = anchored_to_dips(series, [_moment(t, picks, "dips") for t, _ in picks.dips], [d for _, d in picks.dips])
    started = _moment(picks.started_at, picks, "started_at")
    if picks.shape == "drawdown":
        use = series.epoch > started
        return series.epoch[use] - started, series.value[use], series
    time, drawdown = drawdown_from(series, started_at=started, static=picks.static, rises_with_water=rises)
    return time, drawdown, series


def _without_air(opened: Opener, series: LoggerSeries, picks: Picks) -> LoggerSeries:
    """Return the record with air pressure taken out, by the efficiency said or found while the bore rested."""
    from dataclasses import replace

    from borewright.hydraulics import barometric_efficiency, pressure_corrected, read_logger

    with opened(picks.air) as path:
        try:
            air = read_logger(path, time_column=picks.air_time_column or picks.time_column, clock_column=picks.air_clock_column or ("" if picks.air_time_column else picks.clock_column),
                              value_column=picks.air_value_column, date_format=picks.date_format, zone=picks.zone, factor=UNITS[picks.air_unit], decimal_comma=DECIMAL_MARKS[picks.decimal_mark])
        except BadInput as error:
            raise BadInput("air_time_column" if "time" in error.field else "air_value_column" if "value" in error.field else "air", error.value, error.problem, error.want) from None
    if air.epoch[0] > series.epoch[0] + 3600 or air.epoch[-1] < series.epoch[-1] - 3600:
        raise BadInput("air", picks.air[:12], "does not cover the time of the levels", "a record of air pressure over the whole of it, in the same zone")
    head = np.interp(series.epoch, air.epoch, air.value)
    sealed = picks.shape == "pressure with air in it"
    up = -1.0 if picks.shape in ("height of water over the sensor", "pressure with air in it") else 1.0
    depth = up * series.value
    efficiency = picks.air_efficiency
    note = "as said"
    if efficiency is None:
        before = series.epoch < _moment(picks.started_at, picks, "started_at")
        rest = depth + head if sealed else depth
        if before.sum() < 4:
            raise BadInput("air_efficiency", None, "is not said, and too little of the record lies before the start to find it", "the share, 0 to 1, or a longer record at rest")
        pick = np.unique(np.linspace(0, before.sum() - 1, min(int(before.sum()), 200)).astype(int))
        efficiency = barometric_efficiency(np.diff(rest[before][pick]), np.diff(head[before][pick]))
        note = "found while the bore rested (Clark)"
    cleared = pressure_corrected(depth, head, efficiency=efficiency, vented=not sealed)
    told = Advisory("air-pressure", "note", f"Air pressure taken out with an efficiency of {efficiency:.2f}, {note}.", "air")
    return replace(series, value=up * cleared, advisories=(*series.advisories, told))


def _thin(time: np.ndarray, value: np.ndarray, most: int) -> tuple[np.ndarray, np.ndarray]:
    from borewright.hydraulics import thinned

    if time.size <= most:
        return time, value
    decades = max(float(np.log10(time[-1] / time[0])), 0.5)
    each = max(3, int(most / decades))
    while True:
        kept = thinned(time, value, a_decade=each)
        if kept[0].size <= most or each <= 3:
            return kept
        each = int(each * 0.8)


def keep_levels(
    book: JobBook, job_id: UUID, run: str, sha256: str, picks: Picks, *, by: str, hole: int | None = None, well: str = "", radius: float | None = None, at: datetime | None = None,
) -> Entry:
    """Write the levels that a kept file gives under the picks, naming the file and how it was read. Raises as `preview_levels`."""
    logged = the_hole(book.job(job_id), hole)
    test = run_of(logged, run)
    found = preview_levels(book, sha256, picks)
    body: dict[str, Any] = {
        "hole": logged.number, "run": run, "time": [float(t) for t in found.time], "drawdown": [float(s) for s in found.drawdown], "attachment": sha256, "source": found.source,
    }
    if well and well != test.run.body.well:
        body["well"] = well
    if radius is not None:
        body["radius"] = radius
    return book.write(job_id, "test.levels", body, by=by, at=at)


def dips_from(rows: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """Return (moment, depth) of lines "moment; depth in metres". Raises BadInput naming the line."""
    found = []
    for number, line in enumerate(rows, 1):
        if not line.strip():
            continue
        moment, _, depth = line.rpartition(";")
        try:
            found.append((moment.strip(), float(depth.strip().replace(",", "."))))
        except ValueError:
            raise BadInput("dips", line, f"has no depth in line {number}", "lines of a moment, a semicolon and the depth in metres") from None
        if not moment.strip():
            raise BadInput("dips", line, f"has no moment in line {number}", "lines of a moment, a semicolon and the depth in metres")
    return tuple(found)
