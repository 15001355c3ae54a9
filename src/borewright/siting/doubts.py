"""Doubts about the bores of a register: bores at one place, outliers among their neighbours, units that look mistaken."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from borewright.errors import Advisory
from borewright.siting.register import Register

__all__ = ["doubts_of"]

_MOST = 200  # of each kind that are named
_MANY = 50_000  # bores above which neighbours are those of a strip, sorted, instead of the very nearest
_GROUP = 16
_AT_HAND = 65_536  # rows that are worked on together, so that they stay in the processor's own memory
_BESIDE = 24  # nearest bores beyond all of which a bore may stand out
_BEYOND = 4.0  # times the usual distance beyond them: some 1 in 16 of those beyond, which are 1 in 12 of all, if it falls away exponentially
_SUSPECT_DEPTH = {3.28: "feet read as metres", 0.305: "metres converted from feet twice"}
_SUSPECT_FLOW = {15.85: "US gallons a minute read as litres a second", 13.2: "imperial gallons a minute read as litres a second", 60.0: "litres a minute read as litres a second",
                 86.4: "cubic metres a day read as litres a second", 3.6: "cubic metres an hour read as litres a second", 0.0758: "litres a second converted as gallons a minute"}


def doubts_of(register: Register, repeated: int) -> list[Advisory]:
    """Return doubts about the bores taken; so many `repeated` another's place, depth and yield and have no date."""
    out = []
    if repeated:
        out.append(Advisory("same-place", "doubt", f"{repeated} bores have the same place, depth and yield as another and no date: are they the same bore?", register.name))
    n = len(register)
    if n < 40:
        return out
    gaps = _gaps_in_groups(register.lat, (register.depth, register.flow)) if n > _MANY else (None, None)
    for what, values, gap, suspects in (("depth", register.depth, gaps[0], _SUSPECT_DEPTH), ("yield", register.flow, gaps[1], _SUSPECT_FLOW)):
        beside = gap is None
        if beside:
            logs = _logs(values)
            around = logs[register.tree.query(register.places, k=min(_BESIDE + 1, n))[1][:, 1:]]
            gap = logs - _usual_near(around)
        good = np.isfinite(gap)
        count = np.count_nonzero(good)
        if count < 40:
            continue
        step = max(1, n // _MANY)
        sample = gap[::step] if count == n else gap[np.flatnonzero(good)[::step]]
        spread = max(1.4826 * _median(np.abs(sample - _median(sample))), 0.05)
        limit = max(4.0 * spread, np.log(2.5))
        far = np.flatnonzero(good & ((gap > limit) | (gap < -limit)))
        beyond = _beyond_all(logs, around, gap, suspects) if beside else {}
        far = np.union1d(far, np.fromiter(beyond, np.intp, len(beyond)))
        if len(far) > _MOST:
            out.append(Advisory("outliers", "doubt", f"{len(far)} bores have a {what} far from their neighbours'; the first {_MOST} are named", register.name))
        for i in far[:_MOST]:
            ratio = float(np.exp(gap[i]))
            # The nearest of the factors, and near it: 13.2 and 15.9 are told apart where the neighbours are much alike.
            factor = min(suspects, key=lambda f: abs(gap[i] - np.log(f)))
            guess = suspects[factor] if abs(gap[i] - np.log(factor)) < 0.2 else suspects.get(beyond.get(int(i), 0.0))
            code, more = ("unit-suspected", f": {guess}?") if guess else ("outlier", "")
            out.append(Advisory(code, "doubt", f"bore {register.bore_id[i]}: {what} is {ratio:.3g} times what its neighbours have{more}", str(register.bore_id[i])))
    return out + _logs_and_depths(register)


def _logs(values: np.ndarray) -> np.ndarray:
    """Return logarithms, NaN of what is not above zero."""
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(values)
    logs[logs == -np.inf] = np.nan
    return logs


def _median(values: np.ndarray) -> float:
    """Return the median of values of which there are some."""
    at = len(values) // 2
    parted = np.partition(values, (max(at - 1, 0), at))
    return float(parted[at] if len(values) % 2 else 0.5 * (parted[at - 1] + parted[at]))


def _usual_near(around: np.ndarray) -> np.ndarray:
    """Return the median among the twelve nearest of each bore, given what those around it have; NaN where fewer than six of them say anything."""
    around = around[:, :12]
    enough = np.isfinite(around).sum(axis=1) >= 6
    usual = np.full(len(around), np.nan)
    usual[enough] = np.nanmedian(around[enough], axis=1)
    return usual


def _beyond_all(logs: np.ndarray, around: np.ndarray, gap: np.ndarray, suspects: dict[float, str]) -> dict[int, float]:
    """Return bores well beyond all of those around them that a mistaken unit would put among these again, and its factor.

    Where depths or yields of neighbours differ widely no ratio to their middle stands out; but few bores lie beyond all their neighbours, and few of these far.
    """
    out: dict[int, float] = {}
    enough = np.isfinite(logs) & np.isfinite(gap) & (np.isfinite(around).sum(axis=1) >= _BESIDE // 2)
    lowest, highest = np.fmin.reduce(around, axis=1), np.fmax.reduce(around, axis=1)
    for sign, edge in ((1.0, highest), (-1.0, lowest)):
        past = np.where(enough, sign * (logs - edge), 0.0)
        some = past[past > 0]
        if len(some) < 6:
            continue
        for i in np.flatnonzero(past > max(0.3, _BEYOND * float(np.median(some)))).tolist():
            fitting = [f for f in suspects if sign * np.log(f) > 0 and lowest[i] <= logs[i] - np.log(f) <= highest[i]]
            if fitting:
                out[i] = min(fitting, key=lambda f: abs(gap[i] - np.log(f)))
    return out


def _gaps_in_groups(lat: np.ndarray, columns: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Return how far the logarithm of each value lies above the median of its group, no finite number where either is not told.

    The columns are of rows in order of longitude.

    Groups are sixteen neighbours: strips from west to east, each cut from south to north; the last is filled up with its last row.
    """
    n = len(lat)
    long = math.ceil(n / max(1, round(np.sqrt(n / _GROUP))) / _GROUP) * _GROUP
    gaps = [np.empty(n) for _ in columns]
    for begin in range(0, n, (several := max(1, _AT_HAND // long) * long)):
        end = min(begin + several, n)
        strips = math.ceil((end - begin) / long)
        north = np.full(strips * long, lat[end - 1], np.float32)
        north[: end - begin] = lat[begin:end]
        rows = np.argsort(north.reshape(strips, long), axis=1)
        rows += long * np.arange(strips)[:, None]
        np.minimum(rows[-1], end - begin - 1, out=rows[-1])
        rows = rows.reshape(-1, _GROUP)
        for values, gap in zip(columns, gaps, strict=True):
            with np.errstate(divide="ignore", invalid="ignore"):
                logs = np.log(values[begin:end])
                told = logs.astype(np.float32)
                told += 0.0 * told  # the logarithm of nothing becomes NaN, which sorting puts last
                usual = gap[begin:end]
                usual[rows] = _middle(told.take(rows))[:, None]
                np.subtract(logs, usual, out=usual)
    return gaps


def _middle(each: np.ndarray) -> np.ndarray:
    """Return the median of each row; NaN where fewer than seven of it say anything."""
    each.sort(axis=1)  # what is not recorded comes last
    if not np.isnan(each[:, -1]).any():
        return 0.5 * (each[:, (_GROUP - 1) // 2] + each[:, _GROUP // 2])
    count = _GROUP - np.isnan(each).sum(axis=1)
    pick = lambda at: np.take_along_axis(each, np.maximum(at, 0)[:, None], axis=1)[:, 0]
    return np.where(count >= 7, 0.5 * (pick((count - 1) // 2) + pick(count // 2)), np.nan)


def _logs_and_depths(register: Register) -> list[Advisory]:
    """Return doubts about bores whose depth is in feet beside a log in metres."""
    if register.intervals is None:
        return []
    logged = np.zeros(len(register))
    np.maximum.at(logged, register.intervals.bore, register.intervals.end)
    feet = (logged > 0) & (np.abs(register.depth / np.maximum(logged, 0.1) - 3.28) < 0.12) & (register.depth > 20)
    return [Advisory("unit-suspected", "doubt", f"bore {register.bore_id[i]}: depth is 3.28 times the depth of its log: feet read as metres?", str(register.bore_id[i]))
            for i in np.flatnonzero(feet)[:_MOST]]
