"""The ground and the water that a design is made for: from a log, or from what is expected before drilling."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from borewright.errors import BadInput, Refused, require_non_negative, require_positive
from borewright.ground import GROUND, classify
from borewright.siting.prospect import ExpectedColumn, WaterProspect

__all__ = ["GroundInterval", "Strike", "expected_depth", "expected_ground", "expected_strikes", "read_ground", "read_strikes", "rockhead_of", "sound_rock"]

UNSOUND = ("weathered rock", "broken rock", "cavity", "coal")
ROCK_RUN = 3.0  # m of rock in one run before it is called rockhead and not a boulder; common practice, no source
SOUND_RUN = 1.5  # m


@dataclass(frozen=True, slots=True)
class GroundInterval:
    """Ground between two depths: its class (a key of `borewright.ground.GROUND`, or "" when not known) and the driller's words."""

    from_depth: float
    to_depth: float
    ground_class: str
    words: str = ""

    @property
    def overburden(self) -> bool:
        """True where it lies above rock; ground of no known class is taken as overburden."""
        return self.ground_class not in GROUND or GROUND[self.ground_class].overburden

    @property
    def rock(self) -> bool:
        """True where it is not overburden."""
        return not self.overburden

    @property
    def sound(self) -> bool:
        """True where it stands open and holds a casing's foot."""
        return not self.overburden and self.ground_class not in UNSOUND


@dataclass(frozen=True, slots=True)
class Strike:
    """Where water enters [m] and how much, where known [m3/s]."""

    depth: float
    flow: float = 0.0


def _field(row: Any, name: str, default: Any = None) -> Any:
    return row.get(name, default) if isinstance(row, Mapping) else getattr(row, name, default)


def _number(value: Any, field: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float, np.floating, np.integer)):
        raise BadInput(field, value, "is not a number", "a number in SI units")
    if not math.isfinite(value):
        raise BadInput(field, float(value), "is not a finite number", "a finite number in SI units")
    return float(value)


def read_ground(rows: Iterable[Any]) -> tuple[GroundInterval, ...]:
    """Return ground intervals in order of depth from rows with from_depth, to_depth and ground_class or words.

    Raises
    ------
    BadInput
        A row that ends above its start, two that overlap, or a class that is not known.
    """
    found = []
    for i, row in enumerate(rows):
        top, bottom = _number(_field(row, "from_depth"), f"ground[{i}].from_depth"), _number(_field(row, "to_depth"), f"ground[{i}].to_depth")
        if top < 0 or bottom <= top:
            raise BadInput(f"ground[{i}].to_depth", bottom, "is not below the top of the interval", f"a depth below {max(top, 0.0):g} m")
        words, name = str(_field(row, "words", "") or ""), str(_field(row, "ground_class", "") or "")
        if name and name not in GROUND:
            raise BadInput(f"ground[{i}].ground_class", name, "is not a class of ground", "one of " + ", ".join(GROUND))
        if not name and words and (guess := classify(words)):
            name = guess.name
        found.append(GroundInterval(top, bottom, name, words))
    found.sort(key=lambda g: g.from_depth)
    for above, below in zip(found, found[1:], strict=False):
        if below.from_depth < above.to_depth - 1e-6:
            raise BadInput("ground", f"{below.from_depth:g} m", f"overlaps the interval that ends at {above.to_depth:g} m", "intervals that do not overlap")
    return tuple(found)


def read_strikes(rows: Iterable[Any], *, total_depth: float) -> tuple[Strike, ...]:
    """Return strikes in order of depth from (depth, flow) pairs or rows with depth and flow; refuse one outside the hole."""
    found = []
    for i, row in enumerate(rows):
        if isinstance(row, (tuple, list)):
            pair = (*row, 0.0)[:2]
        elif isinstance(row, (int, float)):
            pair = (row, 0.0)
        else:
            pair = (_field(row, "depth"), _field(row, "flow") or 0.0)
        depth, flow = _number(pair[0], f"strikes[{i}].depth"), _number(pair[1], f"strikes[{i}].flow")
        if not 0 <= depth <= total_depth:
            raise BadInput(f"strikes[{i}].depth", depth, "lies outside the hole", f"a depth from 0 to {total_depth:g} m")
        if flow < 0:
            raise BadInput(f"strikes[{i}].flow", flow, "must not be below zero", "zero or more [m3/s]")
        found.append(Strike(depth, flow))
    return tuple(sorted(found, key=lambda s: s.depth))


def _runs(ground: tuple[GroundInterval, ...], wanted: str) -> Iterable[tuple[float, float]]:
    top = bottom = None
    for g in ground:
        if getattr(g, wanted):
            if top is None or g.from_depth > bottom + 1e-6:
                if top is not None:
                    yield top, bottom
                top = g.from_depth
            bottom = g.to_depth
        elif top is not None:
            yield top, bottom
            top = None
    if top is not None:
        yield top, bottom


def rockhead_of(ground: tuple[GroundInterval, ...]) -> float | None:
    """Return the depth of the first rock that runs on for 3 m or to the end of the log, or None when there is none [m]."""
    end = ground[-1].to_depth if ground else 0.0
    for top, bottom in _runs(ground, "rock"):
        if bottom - top >= ROCK_RUN or bottom >= end - 1e-6:
            return top
    return None


def sound_rock(ground: tuple[GroundInterval, ...], *, below: float) -> float | None:
    """Return the first depth at or below a depth where sound rock runs on for 1.5 m, or None [m]."""
    for top, bottom in _runs(ground, "sound"):
        start = max(top, below)
        if bottom - start >= SOUND_RUN - 1e-6:
            return start
    return None


def expected_ground(column: ExpectedColumn, *, depth: float, chance: float = 0.5) -> tuple[tuple[GroundInterval, ...], float | None]:
    """Return the most likely ground down to a depth, and the rockhead that goes with it.

    Parameters
    ----------
    column : ExpectedColumn
    depth : float
        How deep to go; the last class is carried on if the column is shorter [m].
    chance : float
        Which quantile of rockhead to design for: 0.5, or 0.9 to buy conductor for a deep one [-].

    Notes
    -----
    Above that rockhead the likeliest overburden is taken in each cell, below it the likeliest rock, so the ground and the rockhead agree.
    """
    require_positive(depth=depth)
    edges, chances = np.asarray(column.depth_edges, float), np.asarray(column.probability, float)
    over = np.array([name not in GROUND or GROUND[name].overburden for name in column.classes])
    rockhead: float | None = None
    if column.rockhead_quantiles and not over.all():
        at, value = zip(*sorted(column.rockhead_quantiles.items()), strict=True)
        rockhead = float(np.interp(chance, at, value))
    marks = sorted({0.0, depth, *edges[(edges > 0) & (edges < depth)], *([rockhead] if rockhead is not None and 0 < rockhead < depth else [])})
    rows: list[GroundInterval] = []
    for top, bottom in zip(marks, marks[1:], strict=False):
        cell = min(int(np.searchsorted(edges, 0.5 * (top + bottom), side="right")) - 1, len(chances) - 1)
        allowed = np.ones_like(over) if rockhead is None else (over if bottom <= rockhead + 1e-9 else ~over)
        if not allowed.any():
            allowed = np.ones_like(over)
        name = column.classes[int(np.argmax(np.where(allowed, chances[cell] + 1e-12, -1.0)))]
        if rows and rows[-1].ground_class == name:
            rows[-1] = GroundInterval(rows[-1].from_depth, bottom, name, "expected")
        else:
            rows.append(GroundInterval(top, bottom, name, "expected"))
    return tuple(rows), rockhead if rockhead is not None and rockhead < depth else None


def _mean_strikes(prospect: WaterProspect) -> tuple[np.ndarray, np.ndarray]:
    edges = np.asarray(prospect.depth_edges, float)
    counts = np.concatenate([[0.0], np.cumsum(np.asarray(prospect.strike_intensity, float) * np.diff(edges))])
    return edges, counts * prospect.scale_shape / prospect.scale_rate


def expected_depth(prospect: WaterProspect, *, need: float) -> float:
    """Return the depth to plan for: where the strikes expected, at their median yield, reach the need; the end of the prospect if never [m].

    A plan and not odds: what the hole will do is for the odds and the stop rule to say.
    """
    require_positive(need=need)
    edges, counts = _mean_strikes(prospect)
    wanted = max(1.0, need / math.exp(prospect.log_yield_mean))
    if counts[-1] < wanted:
        return float(edges[-1])
    return float(np.interp(wanted, counts, edges))


def expected_strikes(prospect: WaterProspect, *, total_depth: float, below: float = 0.0) -> tuple[Strike, ...]:
    """Return strikes spread as the prospect expects them between two depths, each of median yield: at least one, so that a plan can be drawn.

    Raises
    ------
    Refused
        The prospect expects no strike there at all.
    """
    require_positive(total_depth=total_depth)
    require_non_negative(below=below)
    edges, counts = _mean_strikes(prospect)
    first, last = np.interp([below, total_depth], edges, counts)
    if last - first <= 0:
        raise Refused(f"no water strike is expected between {below:g} and {total_depth:g} m, so there is nothing to slot")
    number = max(1, round(float(last - first)))
    steps = first + (np.arange(number) + 0.5) / number * (last - first)
    return tuple(Strike(float(d), math.exp(prospect.log_yield_mean)) for d in np.interp(steps, counts, edges))
