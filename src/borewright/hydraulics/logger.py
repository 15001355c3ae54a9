"""Logger files: time zone and date format stated, not guessed; clock drift, dips that correct, air pressure, gaps, the start of pumping."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, BadInput, require_finite, require_fraction
from borewright.hydraulics.readings import column_numbers, read_table

__all__ = [
    "LoggerSeries", "anchored_to_dips", "barometric_efficiency", "clock_corrected", "clock_zone", "drawdown_from", "pressure_corrected", "read_logger",
]

GAP = 5.0


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
    path: str | Path, *, time_column: str, value_column: str, date_format: str, zone: str, factor: float = 1.0,
) -> LoggerSeries:
    """Return a logger's record from CSV or a spreadsheet.

    Parameters
    ----------
    path : path
    time_column, value_column : str
        Names in the heading line.
    date_format : str
        Of the time column in strftime signs, such as "%d/%m/%Y %H:%M:%S": never guessed, since 3/4 is two days.
    zone : str
        What the logger's clock kept: an offset such as +10:00 (clocks without summer time) or a name such as Australia/Sydney.
    factor : float
        From the file's unit to SI, such as 0.01 for centimetres.

    Raises
    ------
    BadInput
        No such file, column or format; the first row that cannot be read; a clock that goes back, with the row.
    """
    import polars

    require_finite(factor=factor)
    keeper = clock_zone(zone)
    frame = read_table(path, numbers=(value_column,))
    for field, column in (("time_column", time_column), ("value_column", value_column)):
        if column not in frame.columns:
            raise BadInput(field, column, "is not a column of the file", ", ".join(frame.columns))
    text = frame.get_column(time_column)
    try:
        stamps = text.str.to_datetime(date_format, strict=False, time_unit="us", cache=False)
        if stamps.null_count():
            stamps = text.str.strip_chars().str.to_datetime(date_format, strict=False, time_unit="us", cache=False)
    except polars.exceptions.PolarsError:
        raise BadInput("date_format", date_format, f"does not read {text[0]!r}", "strftime signs such as %Y-%m-%d %H:%M:%S") from None
    missing = stamps.is_null()
    if missing.any():
        row = int(missing.arg_true()[0])
        raise BadInput("date_format", text[row], f"is not a time of the form {date_format} in row {row + 1}", "the form that the file keeps, such as %d/%m/%Y %H:%M:%S")
    epoch = stamps.dt.epoch("us").to_numpy() * 1e-6
    epoch = epoch - _shift(epoch, keeper)
    values = column_numbers(frame, value_column, field="value")
    values = values * factor if factor != 1.0 else values
    notes = []
    steps = np.diff(epoch)
    if steps.size and steps.min() < 0:
        row = int(np.flatnonzero(steps < 0)[0]) + 2
        raise BadInput("time", text[row - 1], f"is earlier than the row before, in row {row}: the clock went back",
                       "a zone with summer time if that is why, or the record cut at the change")
    if steps.size and steps.min() == 0:
        keep = np.append(True, steps > 0)
        notes.append(Advisory("repeated", "note", f"{int((~keep).sum())} rows repeat a time; the first of each was kept.", "time"))
        epoch, values, steps = epoch[keep], values[keep], steps[steps > 0]
    if steps.size > 1:
        # A sample is enough for the usual step of a long record.
        usual = float(np.median(steps[:: max(1, steps.size // 20_000)]))
        longest = float(steps.max())
        if longest > GAP * usual:
            notes.append(Advisory("gaps", "note", f"{int(np.sum(steps > GAP * usual))} gaps longer than {GAP * usual:g} s; the longest lasts {longest:g} s.", "time"))
    return LoggerSeries(epoch, values, zone, tuple(notes))


def _shift(epoch: np.ndarray, keeper: timezone | ZoneInfo) -> np.ndarray | float:
    """Return seconds to take off local clock readings to have UTC."""
    if not isinstance(keeper, ZoneInfo):
        return keeper.utcoffset(None).total_seconds()
    # Offsets change seldom: ask once for each hour that occurs.
    hours, back = np.unique(np.floor(epoch / 3600.0), return_inverse=True)
    naive = datetime(1970, 1, 1)
    offsets = np.array([(naive + timedelta(hours=float(h))).replace(tzinfo=keeper).utcoffset().total_seconds() for h in hours])
    return offsets[back]


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
    after = series.epoch > started_at
    if not after.any():
        raise BadInput("started_at", started_at, "is after the record ends", "when the pump started, in the logger's zone")
    sign = -1.0 if rises_with_water else 1.0
    return series.epoch[after] - started_at, sign * (series.value[after] - static)
