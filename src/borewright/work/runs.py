"""The runs of a hole as the hydraulics want them: levels by bore, the rates, and which runs watched the same pumping."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import BadInput
from borewright.record.fold import Hole, Test

if TYPE_CHECKING:
    from borewright.hydraulics import AlsoPumped, Levels, RateHistory

__all__ = ["Readings", "bore_radius_of", "casing_radius_of", "intake_guard_of", "readings_of", "readings_together", "run_of", "runs_together", "wells_read"]

SAME = 0.01  # rates and durations this close are of one pumping


@dataclass(frozen=True, slots=True)
class Readings:
    """Levels by bore with times since the pump started, the rates, and what was added to each run's own times [s]."""

    levels: tuple[Levels, ...]
    history: RateHistory
    shifts: dict[str, float]
    wells: dict[str, tuple[int, ...]]  # run -> places of its bores in `levels`, its own first
    also: tuple[AlsoPumped, ...] = ()  # other bores that pumped meanwhile


def run_of(hole: Hole, run: str) -> Test:
    """Return a run of a hole; raise BadInput where there is none of that name."""
    if run not in hole.tests:
        raise BadInput("run", run, "is not a test of this hole", "one of " + (", ".join(hole.tests) or "no tests yet"))
    return hole.tests[run]


def bore_radius_of(hole: Hole) -> float | None:
    """Return the radius of the hole along the slots [m]: that of the last bit."""
    return 0.5 * hole.bits[-1].body.diameter if hole.bits else None


def casing_radius_of(hole: Hole) -> float | None:
    """Return the inside radius of the production casing where the level moves [m], or None where none is recorded with its wall."""
    plain = [f.body for f in hole.casings if f.body.string == "production" and not f.body.slotted and f.body.wall]
    return 0.5 * plain[0].outside_diameter - plain[0].wall if plain else None


def intake_guard_of(hole: Hole) -> float:
    """Return the depth that the pumping level must not pass [m]: a metre above the slots, or two above the bottom of an open hole."""
    slots = [f.body.from_depth for f in hole.casings if f.body.slotted]
    return min(slots) - 1.0 if slots else hole.depth - 2.0


def readings_of(test: Test) -> Readings:
    """Return the readings of one run. Raises BadInput for a rate, a duration, a distance or levels that are not recorded."""
    return readings_together([test])


def readings_together(tests: list[Test]) -> Readings:
    """Return the readings of runs that watched one pumping, the pumping run first, as `runs_together` gives them."""
    from borewright.hydraulics import Levels

    history, shifts = _history(tests), {}
    held: dict[tuple[str, float | None], list[tuple[float, float]]] = {}
    owners: dict[str, list[tuple[str, float | None]]] = {}
    for test in tests:
        body = test.run.body
        shift = shifts[body.run] = body.duration or 0.0 if body.type == "recovery" else 0.0
        if body.type == "recovery" and not shift:
            shift = shifts[body.run] = _pumped_for(tests)
        own = owners.setdefault(body.run, [])
        for fact in test.levels:
            if not fact.body.time:
                continue
            mine = fact.body.well == body.well
            radius = fact.body.radius or (body.radius if mine else None)
            if not mine and radius is None:
                raise BadInput("radius", None, f"of {fact.body.well} from the pumped bore is not recorded", "its distance, such as 30 m")
            key = (fact.body.well, radius)
            held.setdefault(key, []).extend((t + shift, s) for t, s in zip(fact.body.time, fact.body.drawdown, strict=True))
            if key not in own:
                own.insert(0, key) if mine else own.append(key)
    if not held:
        raise BadInput("levels", None, "are not recorded for this test", "times and drawdowns")
    names = list(held)
    levels = []
    for (well, radius), rows in held.items():
        rows.sort()
        time, drawdown = (np.array(column) for column in zip(*rows, strict=True))
        named = well if sum(n == well for n, _ in names) == 1 or radius is None else f"{well} at {radius:g} m"
        levels.append(Levels(time, drawdown, radius, named, True if radius is None else None))
    return Readings(tuple(levels), history, shifts, {run: tuple(names.index(k) for k in keys) for run, keys in owners.items()}, _also_pumped(tests, levels))


def _also_pumped(tests: list[Test], levels: list[Levels]) -> tuple[AlsoPumped, ...]:
    """Return the other bores that the runs say pumped meanwhile, each once, with their distance from every bore read."""
    from borewright.hydraulics import AlsoPumped, rate_steps

    found: dict[str, AlsoPumped] = {}
    for test in tests:
        for other in test.run.body.also_pumped:
            distances = {**other.distances, **{one.well: other.distance for one in levels if one.pumped and other.distance is not None}}
            before = found.get(other.name)
            found[other.name] = AlsoPumped(other.name, before.history if before else rate_steps(other.steps), {**(dict(before.distances) if before else {}), **distances})
    return tuple(found.values())


def wells_read(hole: Hole, run: str) -> tuple[str, ...]:
    """Return the names of the bores that watched the same pumping as a run, as a fit has them; none where the readings do not go together."""
    try:
        return tuple(one.well for one in readings_together(runs_together(hole, run)).levels)
    except BadInput:
        return ()


def _pumped_for(tests: list[Test]) -> float:
    found = next((t.run.body.duration for t in tests if t.run.body.duration), None)
    if not found:
        raise BadInput("duration", None, "of the pumping before the recovery is not recorded", "how long the pump ran")
    return found


def _history(tests: list[Test]) -> RateHistory:
    from borewright.hydraulics import rate_steps, steady_rate

    steps = next((t.run.body.steps for t in tests if t.run.body.steps), ())
    rate = next((t.run.body.rate for t in tests if t.run.body.rate), None)
    stops = any(t.run.body.type == "recovery" for t in tests)
    if steps:
        return rate_steps([*steps, (_pumped_for(tests), 0.0)] if stops and steps[-1][1] > 0 else list(steps))
    if not rate:
        raise BadInput("rate", rate, "is not recorded for this test", "the pumping rate, such as 20 L/min")
    return steady_rate(rate, stopped_at=_pumped_for(tests) if stops else None)


def runs_together(hole: Hole, run: str) -> list[Test]:
    """Return the runs that watched the same pumping as one run, itself among them, the pumping first.

    A recovery belongs to the pumping run before it with the same rate and duration (what it does not say counts as the same); another
    bore's run belongs where rate and duration are the same and the bore is not one that is there already.
    """
    groups: list[list[Test]] = []
    for test in hole.tests.values():
        if not test.levels or test.run.body.type in ("slug", "airlift"):
            continue
        home = next((g for g in reversed(groups) if _belongs(test, g)), None)
        if home is None:
            groups.append([test])
        else:
            home.append(test)
    found = next((g for g in groups if any(t.run.body.run == run for t in g)), None)
    return sorted(found, key=lambda t: t.run.body.type == "recovery") if found else [run_of(hole, run)]


def _belongs(test: Test, group: list[Test]) -> bool:
    body, first = test.run.body, group[0].run.body
    if body.hole != first.hole or (body.type == "step") != (first.type == "step") and body.type != "recovery":
        return False
    if body.type == "recovery" and first.type != "recovery" and not (body.duration or first.duration):
        return False
    same = [(t.run.body.well, t.run.body.radius) for t in group if (t.run.body.type == "recovery") == (body.type == "recovery")]
    if (body.well, body.radius) in same or (first.type == "recovery" and body.type != "recovery"):
        return False
    if body.steps and first.steps:
        return body.steps == first.steps and _close(body.duration, first.duration)
    if body.type == "recovery" and first.steps:
        return body.rate is None or _close(body.rate, first.steps[-1][1])
    return _close(body.rate, first.rate) and _close(body.duration, first.duration)


def _close(one: float | None, other: float | None) -> bool:
    return one is None or other is None or math.isclose(one, other, rel_tol=SAME)
