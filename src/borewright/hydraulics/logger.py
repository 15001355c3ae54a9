"""Logger files: time zone and date format stated, not guessed; clock drift, dips that correct, air pressure, gaps, the start of pumping."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, BadInput, require_finite, require_fraction
from borewright.hydraulics.tables import column_numbers, joined_columns, read_table

__all__ = [
    "LoggerSeries", "anchored_to_dips", "barometric_efficiency", "clock_corrected", "clock_zone", "drawdown_from", "pressure_corrected", "pump_stops",
    "read_logger",
]

GAP = 5.0
MOST_LOOKED_AT = 20_000  # readings, when a long record is looked over for stops of the pump


@dataclass(frozen=True, slots=True)
class LoggerSeries:
    """A logger's record: `epoch` seconds UTC, rising; `value` in SI; the zone that its clock kept; what was noticed."""

    epoch: np.ndarray
    value: np.ndarray
    zone: str
    advisories: tuple[Advisory, ...] = ()


def clock_zone(zone: str) -> timezone | ZoneInfo:
    """Return the zone that a text names. Raises BadInput."""
    text = zone.strip()
    if text.upper() in ("UTC", "Z"):
        return UTC
    if text[:1] in "+-" and len(text) in (3, 5, 6):
        digits = text[1:].replace(":", "")
        if digits.isdigit():
            hours, minutes = int(digits[:2]), int(digits[2:] or 0)
            if hours <= 14 and minutes < 60:
                return timezone((1 if text[0] == "+" else -1) * timedelta(hours=hours, minutes=minutes))
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadInput("zone", zone, "is not a time zone", "such as +10:00, UTC or Australia/Brisbane") from None


def read_logger(
    path: str | Path, *, time_column: str, value_column: str, date_format: str, zone: str, factor: float = 1.0, clock_column: str = "",
    decimal_comma: bool | None = None,
) -> LoggerSeries:
    """Return a logger's record from CSV or a spreadsheet.

    Parameters
    ----------
    path : path
    time_column, value_column : str
        Names in the heading line.
    date_format : str
        Of the time column in strftime signs, such as "%d/%m/%Y %H:%M:%S": never guessed, since 3/4 is two days. ".%f" reads parts of a second.
    zone : str
        What the logger's clock kept: an offset such as +10:00 (clocks without summer time) or a name such as Australia/Sydney.
    factor : float
        From the file's unit to SI, such as 0.01 for centimetres.
    clock_column : str
        Where day and time of day stand in two columns, the second; `date_format` is then of both with a space between.
    decimal_comma : bool, optional
        Whether levels are written 0,36; None reads them so only where it can mean nothing else.

    Raises
    ------
    BadInput
        No such file, column or format; the first row that cannot be read; a clock that goes back, with the row.
    """
    require_finite(factor=factor)
    keeper = clock_zone(zone)
    frame = read_table(path, numbers=(value_column,), decimal_comma=bool(decimal_comma))
    for field, column in (("time_column", time_column), ("value_column", value_column), *((("clock_column", clock_column),) if clock_column else ())):
        if column not in frame.columns:
            raise BadInput(field, column, "is not a column of the file", ", ".join(frame.columns))
    text = joined_columns(frame, time_column, clock_column) if clock_column else frame.get_column(time_column)
    if time_column == value_column:
        raise BadInput("time_column", time_column, "is the column of levels as well", "a column of dates and times")
    stamps = _stamps(text, date_format)
    missing = stamps.is_null()
    if missing.any():
        row = int(missing.arg_true()[0])
        raise BadInput("date_format", text[row], f"is not a time of the form {date_format} in row {row + 1}", "the form that the file keeps, such as %d/%m/%Y %H:%M:%S")
    local = stamps.dt.epoch("us").to_numpy() * 1e-6
    values = column_numbers(frame, value_column, field="value", decimal_comma=decimal_comma, blanks=True)
    values = values * factor if factor != 1.0 else values
    notes: list[Advisory] = []
    if local.size > 1 and local[0] > local[-1] and np.all(np.diff(local) <= 0):
        local, values = local[::-1], values[::-1]
        notes.append(Advisory("newest-first", "note", "The file runs from the newest reading to the oldest; it was turned round.", "time"))
    shift, told = _shift(local, keeper)
    notes += told
    epoch = local - shift
    steps = np.diff(epoch)
    if steps.size and steps.min() < 0:
        row = int(np.flatnonzero(steps < 0)[0]) + 2
        raise BadInput("time", text[row - 1], f"is earlier than the row before, in row {row}: the clock went back",
                       "a zone with summer time, such as Australia/Sydney, if that is why; or the record cut at the change")
    if steps.size and steps.min() == 0:
        keep = np.append(True, steps > 0)
        notes.append(Advisory("repeated", "note", f"{int((~keep).sum())} rows repeat a time; the first of each was kept.", "time"))
        epoch, values, steps = epoch[keep], values[keep], steps[steps > 0]
    if np.isnan(values.min(initial=np.inf)):
        held = ~np.isnan(values)
        if held.sum() < 2:
            raise BadInput("value", int(held.sum()), f"is all that column {value_column} holds", "a column of levels")
        notes.append(Advisory("blanks", "note", f"{int((~held).sum())} rows hold no level and were left out.", "value"))
        epoch, values = epoch[held], values[held]
        steps = np.diff(epoch)
    if steps.size > 1:
        # A sample is enough for the usual step of a long record.
        usual = float(np.median(steps[:: max(1, steps.size // 20_000)]))
        longest = float(steps.max())
        if longest > GAP * usual:
            notes.append(Advisory("gaps", "note", f"{int(np.sum(steps > GAP * usual))} gaps longer than {GAP * usual:g} s; the longest lasts {longest:g} s.", "time"))
    return LoggerSeries(epoch, values, zone, tuple(notes))


def _stamps(text: Any, date_format: str) -> Any:
    """Return a column of times as they stand, null where a cell is not of the format; long columns are read on every core."""
    import polars

    form = date_format.replace(".%f", "%.f")

    def read(part: Any) -> Any:
        return part.str.to_datetime(form, strict=False, time_unit="us", cache=False)

    cores = polars.thread_pool_size()
    try:
        if text.len() > 100_000 and cores > 1:
            each = -(-text.len() // cores)
            with ThreadPoolExecutor(cores) as pool:
                stamps = polars.concat(list(pool.map(lambda k: read(text.slice(k * each, each)), range(cores))))
        else:
            stamps = read(text)
        return read(text.str.strip_chars()) if stamps.null_count() else stamps
    except polars.exceptions.PolarsError:
        raise BadInput("date_format", date_format, f"does not read {text[0]!r}", "strftime signs such as %Y-%m-%d %H:%M:%S") from None


def _shift(local: np.ndarray, keeper: timezone | ZoneInfo) -> tuple[np.ndarray | float, list[Advisory]]:
    """Return seconds to take off local clock readings to have UTC, and what is doubtful about them.

    The hour that comes twice when summer time ends is told apart by the step back in the record itself.
    """
    if not isinstance(keeper, ZoneInfo):
        return keeper.utcoffset(None).total_seconds(), []
    # Offsets change seldom and on the quarter of an hour: ask once for each that occurs.
    quarters, place = np.unique(np.floor(local / 900.0), return_inverse=True)
    naive = datetime(1970, 1, 1)
    first, second = (np.array([(naive + timedelta(seconds=900.0 * float(q))).replace(tzinfo=keeper, fold=fold).utcoffset().total_seconds() for q in quarters]) for fold in (0, 1))
    shift, notes = first[place], []
    if np.any(first < second):
        rows = int(np.sum((first < second)[place]))
        notes.append(Advisory("no-such-time", "doubt", f"{rows} readings stand at times that summer time leaves out in {keeper.key}: the clock may not have kept that zone.", "zone"))
    if np.any(first > second):
        twice = np.flatnonzero((first > second)[place])
        unsure = 0
        for block in np.split(twice, np.flatnonzero(np.diff(twice) > 1) + 1):
            start, end = int(block[0]), int(block[-1]) + 1
            back = np.flatnonzero(np.diff(local[max(start - 1, 0):end]) <= 0)
            turn = max(start - 1, 0) + int(back[0]) + 1 if back.size else None
            if turn is None:
                unsure += end - start
                continue
            shift[turn:end] = second[place[turn:end]]
        if unsure:
            notes.append(Advisory("hour-twice", "doubt", f"{unsure} readings stand in the hour that comes twice when summer time ends; they were taken as its first.", "zone"))
    return shift, notes


def clock_corrected(series: LoggerSeries, *, set_at: float, read_at: float, ahead: float) -> LoggerSeries:
    """Return the record with a clock's steady drift taken out.

    `set_at` when the clock was right, `read_at` when it was compared, `ahead` how far ahead it was then (behind negative) [s, epoch].
    """
    require_finite(set_at=set_at, read_at=read_at, ahead=ahead)
    if read_at <= set_at:
        raise BadInput("read_at", read_at, "is not after the clock was set", "the moment of reading out")
    rate = ahead / (read_at - set_at)
    if abs(rate) > 0.01:
        raise BadInput("ahead", ahead, "is more than 1 % of the time since the clock was set", "seconds ahead of true time; a wrong day or zone is not drift")
    moved = series.epoch - rate * (series.epoch - set_at)
    note = Advisory("clock-drift", "note", f"The clock gained {rate * 86400:.2f} s a day; taken out evenly.", "time")
    return replace(series, epoch=moved, advisories=(*series.advisories, note))


def anchored_to_dips(series: LoggerSeries, dip_epoch: ArrayLike, dip_value: ArrayLike, *, near: float = 600.0) -> LoggerSeries:
    """Return the record moved onto hand dips: one offset, or a straight drift where the dips are two or more.

    A dip counts where the logger has a reading within `near` [s]. Residuals above 5 cm come back as a doubt.
    """
    at, depth = np.asarray(dip_epoch, dtype=float), np.asarray(dip_value, dtype=float)
    require_finite(dip_epoch=at, dip_value=depth)
    index = np.clip(np.searchsorted(series.epoch, at), 1, series.epoch.size - 1)
    index = np.where(np.abs(series.epoch[index - 1] - at) <= np.abs(series.epoch[index] - at), index - 1, index)
    good = np.abs(series.epoch[index] - at) <= near
    if not good.any():
        raise BadInput("dips", int(at.size), f"are none within {near:g} s of a logger reading", "dips taken while the logger ran, in the same zone")
    off = depth[good] - np.interp(at[good], series.epoch, series.value)
    middle = at[good] - at[good].mean()
    if good.sum() >= 2 and np.ptp(middle) > 0:
        slope, level = np.polyfit(middle, off, 1)
    else:
        slope, level = 0.0, float(off.mean())
    worst = float(np.max(np.abs(off - level - slope * middle)))
    notes = [Advisory("dips", "note", f"{int(good.sum())} dips moved the logger by {level:+.3f} m on the mean.", "value")]
    if worst > 0.05:
        notes.append(Advisory("dips-disagree", "doubt", f"A dip disagrees with the corrected logger by {worst:.2f} m.", "value"))
    value = series.value + level + slope * (series.epoch - at[good].mean())
    return replace(series, value=value, advisories=(*series.advisories, *notes))


def barometric_efficiency(depth_change: ArrayLike, pressure_change: ArrayLike) -> float:
    """Return the share of an air-pressure change that shows in depth to water, by Clark's rule of like signs.

    Changes between readings of depth to water and of air pressure as metres of water, both [m]; pairs whose depth does not move with the
    pressure's sign are weighed against it. Source: Clark (1967) J. Hydraul. Div. ASCE 93(HY4):11-20 (from memory).
    """
    depth, pressure = np.asarray(depth_change, dtype=float), np.asarray(pressure_change, dtype=float)
    require_finite(depth_change=depth, pressure_change=pressure)
    if depth.shape != pressure.shape or depth.size < 3:
        raise BadInput("pressure_change", int(pressure.size), "does not pair with the depths or is too short", "as many changes of both, three at least")
    total = float(np.sum(np.abs(pressure)))
    if total == 0:
        raise BadInput("pressure_change", 0.0, "never changes", "a record of air pressure while the bore rested")
    share = float(np.sum(np.sign(depth * pressure) * np.abs(depth))) / total
    return min(max(share, 0.0), 1.0)


def pressure_corrected(depth: ArrayLike, pressure_head: ArrayLike, *, efficiency: float, vented: bool = True) -> np.ndarray:
    """Return depth to water freed of air pressure [m].

    `pressure_head`: air pressure as metres of water at the same times. Vented loggers read depth: the efficiency share of the pressure's
    departure from its mean comes off. Sealed (absolute) loggers read water and air: give their depth as it is, and the rest comes off too.
    """
    require_finite(depth=depth, pressure_head=pressure_head)
    require_fraction(efficiency=efficiency)
    air = np.asarray(pressure_head, dtype=float)
    away = air - air.mean()
    # A sealed logger reads one metre shallower for each metre of air pressure that the rock does not carry.
    share = efficiency if vented else efficiency - 1.0
    return np.asarray(depth, dtype=float) - share * away


def drawdown_from(series: LoggerSeries, *, started_at: float, static: float | None = None, rises_with_water: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Return times since the pump started [s] and drawdown [m], positive down.

    `static`: level at rest in the record's own terms; the median of the hour before the start if not said.
    `rises_with_water`: the record is height of water (pressure above the sensor) and not depth to water.
    """
    require_finite(started_at=started_at)
    if static is None:
        before = series.value[(series.epoch < started_at) & (series.epoch >= started_at - 3600.0)]
        if before.size == 0:
            raise BadInput("static", None, "is not said, and the record holds nothing from the hour before the pump started", "the level at rest, or the right start")
        static = float(np.median(before))
    if not math.isfinite(static):
        raise BadInput("static", static, "is not a finite number", "metres")
    first = int(np.searchsorted(series.epoch, started_at, side="right"))
    if first == series.epoch.size:
        raise BadInput("started_at", started_at, "is after the record ends", "when the pump started, in the logger's zone")
    fall = static - series.value[first:] if rises_with_water else series.value[first:] - static
    return series.epoch[first:] - started_at, fall


def pump_stops(time: ArrayLike, drawdown: ArrayLike, *, share: float = 0.15) -> tuple[tuple[float, float | None], ...]:
    """Return when the level came back while it should have been falling: pairs of (stopped, started again) [s], None where it never fell again.

    A stop, or a pump that slowed, shows as a rise by more than `share` of the drawdown reached and well above the scatter. A record that begins at its
    deepest is a recovery and shows none.
    """
    t, s = np.asarray(time, dtype=float), np.asarray(drawdown, dtype=float)
    require_finite(time=t, drawdown=s)
    require_fraction(share=share)
    if t.size < 8:
        return ()
    each = t.size // MOST_LOOKED_AT + 1
    if each > 1:
        use = t.size // each * each
        t, s = t[:use].reshape(-1, each)[:, 0], np.median(s[:use].reshape(-1, each), axis=1)
    smooth = np.concatenate((s[:1], np.median(np.stack((s[:-2], s[1:-1], s[2:])), axis=0), s[-1:]))
    scatter = float(np.median(np.abs(np.diff(s)))) / 0.95
    deepest = np.maximum.accumulate(smooth)
    up = deepest - smooth > np.maximum(share * deepest, 6.0 * scatter + 0.01)
    found: list[tuple[float, float | None]] = []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], up.astype(int), [0]))))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        reached = float(deepest[start])
        before = int(np.flatnonzero(smooth[:start] >= reached - (3.0 * scatter + 0.02 * reached))[-1]) if start else 0
        if before == 0:
            continue
        least = int(start + np.argmin(smooth[start:end]))
        fell_again = end < t.size or smooth[end - 1] - smooth[least] > 6.0 * scatter + 0.01
        found.append((float(t[before]), float(t[least]) if fell_again else None))
    return tuple(found)
