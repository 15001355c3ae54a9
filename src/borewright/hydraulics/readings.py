"""Reading a test from CSV: elapsed times and drawdowns, one well or several, where these stand, with the unit in the column's name."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from borewright.errors import BadInput
from borewright.hydraulics.fitted import AlsoPumped, Levels
from borewright.hydraulics.ratehistory import RateHistory, rate_steps
from borewright.hydraulics.tables import column_numbers, read_table
from borewright.quantities import KINDS

__all__ = ["placed", "read_levels", "read_places", "read_rates", "read_slug", "read_steps"]


def _measured(frame: Any, word: str, kind: str, *, compulsory: bool) -> np.ndarray | None:
    """Return the column `word_unit` in SI; the unit is read off the name."""
    units = KINDS[kind].units
    found = []
    for name in frame.columns:
        head, _, unit = name.lower().rpartition("_")
        match = next((u for u in units if u.lower() == unit), None)
        if head == word and match:
            found.append((name, units[match]))
    if len(found) > 1:
        raise BadInput(word, ", ".join(n for n, _ in found), "stands in more than one column", f"one column such as {found[0][0]}")
    if not found:
        if compulsory:
            example = {"time": "time_s, time_min or time_h", "drawdown": "drawdown_m or drawdown_ft", "rate": "rate_m3/d or rate_L/s",
                       "displacement": "displacement_m or displacement_cm", "east": "east_m", "north": "north_m"}[word]
            raise BadInput(word, ", ".join(frame.columns), "has no column with its unit in the name", example)
        return None
    return column_numbers(frame, found[0][0], field=word) * found[0][1]


def read_levels(path: str | Path, *, radius: float | None = None) -> list[Levels]:
    """Return a test read from a file.

    Parameters
    ----------
    path : path
        CSV with time_s (or time_min, time_h, time_d), drawdown_m (or _ft, _cm, _mm) and, if they vary, well and radius_m.
    radius : float, optional
        Distance from the pumped bore where the file does not say [m].

    Raises
    ------
    BadInput
        No such file or column, or the first cell that is not a number, with its row; a well at two radii.
    """
    frame = read_table(path)
    time = _measured(frame, "time", "time", compulsory=True)
    drawdown = _measured(frame, "drawdown", "level", compulsory=True)
    distance = _measured(frame, "radius", "length", compulsory=False)
    wells = next((n for n in frame.columns if n.lower() == "well"), None)
    if wells is not None:
        names = np.array([str(v).strip() if v is not None else "" for v in frame.get_column(wells).to_list()])
    elif distance is not None:
        names = np.array([f"{v:g} m" for v in distance])
    else:
        names = np.full(time.size, "pumped" if radius is None else "observed")
    levels = []
    for name in dict.fromkeys(names.tolist()):
        mine = names == name
        own = radius if distance is None else float(distance[mine][0])
        if distance is not None and np.ptp(distance[mine]) > 0:
            raise BadInput("radius_m", f"{distance[mine].min():g}, {distance[mine].max():g}", f"differs within well {name}", "one radius for each well")
        levels.append(Levels(time[mine], drawdown[mine], own, name or "pumped"))
    return levels


def read_places(path: str | Path) -> dict[str, tuple[float, float]]:
    """Return where each bore stands, (east, north) [m] from any one point, from a CSV file with well, east_m and north_m."""
    frame = read_table(path, field="places")
    named = next((n for n in frame.columns if n.lower() in ("well", "bore")), None)
    if named is None:
        raise BadInput("places", ", ".join(frame.columns), "has no column of bores", "well,east_m,north_m")
    names = [str(v or "").strip() for v in frame.get_column(named).to_list()]
    twice = next((n for n in names if not n or names.count(n) > 1), None)
    if twice is not None:
        raise BadInput("places", twice, "does not name one bore", "a name of its own for each bore")
    east, north = (_measured(frame, word, "length", compulsory=True) for word in ("east", "north"))
    return {name: (float(x), float(y)) for name, x, y in zip(names, east, north, strict=True)}


def placed(
    levels: Sequence[Levels], places: Mapping[str, tuple[float, float]], *, pumped: str, also: Mapping[str, RateHistory],
) -> tuple[list[Levels], list[AlsoPumped]]:
    """Return readings with their distance from the pumped bore, and the other bores that pumped with theirs, from where all of them stand.

    Raises
    ------
    BadInput
        A bore without its place; the pumped bore among the others; two bores on one spot.
    """
    for name in (pumped, *also, *(one.well for one in levels)):
        if name not in places:
            raise BadInput("places", name, "is not among the places", "one of " + ", ".join(places))
    if pumped in also:
        raise BadInput("also_pumped", pumped, "is the pumped bore of the test itself", "another bore")

    def apart(one: str, other: str) -> float:
        return math.hypot(places[one][0] - places[other][0], places[one][1] - places[other][1])

    answer = []
    for one in levels:
        distance = apart(one.well, pumped)
        if one.well != pumped and distance == 0:
            raise BadInput("places", one.well, f"stands where {pumped} stands", "places that differ")
        answer.append(replace(one, radius=None if one.well == pumped else distance, pumped=one.well == pumped))
    return answer, [AlsoPumped(name, history, {one.well: apart(one.well, name) for one in levels}) for name, history in also.items()]


def read_rates(path: str | Path) -> RateHistory:
    """Return a rate history from a CSV file with time_s (or _min, _h, _d), when a rate began, and rate_m3/d (or any unit of flow)."""
    frame = read_table(path, field="rates")
    time = _measured(frame, "time", "time", compulsory=True)
    rate = _measured(frame, "rate", "flow", compulsory=True)
    if np.any(np.diff(np.sort(time)) == 0):
        raise BadInput("rates", str(path), "gives two rates for one time", "one rate for each start")
    return rate_steps(zip(time.tolist(), rate.tolist(), strict=True))


def read_steps(path: str | Path) -> tuple[np.ndarray, np.ndarray]:
    """Return rates [m3/s] and drawdowns [m] of a step test written one row a step: rate_m3/d, drawdown_m."""
    frame = read_table(path)
    rate = _measured(frame, "rate", "flow", compulsory=True)
    return rate, _measured(frame, "drawdown", "level", compulsory=True)


def read_slug(path: str | Path) -> tuple[np.ndarray, np.ndarray]:
    """Return times [s] and displacements [m] of a slug test: time_s, displacement_m."""
    frame = read_table(path)
    time = _measured(frame, "time", "time", compulsory=True)
    return time, _measured(frame, "displacement", "level", compulsory=True)
