"""What to ask about a test before it is believed: a rate far from what the bore gave, a level above ground, depths typed for drawdowns, times that go back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.errors import Advisory, BadInput
from borewright.record.fold import Hole
from borewright.work.runs import run_of

__all__ = ["confirmed", "doubts_of_levels", "doubts_of_run"]

# Common practice, no source: a pumped rate is of the order of what the air lifted; L/s typed for L/min is 60 times off, mL or m3 1000 times.
RATE_APART = 20.0
LARGEST_RATE, SMALLEST_RATE = 0.2, 1e-6  # m3/s, where no flow was measured: more than a large town bore, less than a dripping tap
LONGEST, SHORTEST = 60 * 86400.0, 60.0  # s
AS_DEPTHS = 0.8  # of the depth to water at rest: drawdowns none of which is less may be depths


def doubts_of_run(hole: Hole | None, run: Mapping[str, Any]) -> tuple[Advisory, ...]:
    """Return what to ask about a run as it would be written (a body of `test.run`), beside what is known of its hole."""
    notes = []
    from borewright.quantities import show

    measured = max((f.body.flow for f in (*hole.flows, *hole.airlift) if f.body.flow), default=None) if hole else None
    for rate in {run["rate"]} if run.get("rate") else {q for _, q in run.get("steps") or () if q}:
        if measured and not measured / RATE_APART <= rate <= measured * RATE_APART:
            notes.append(Advisory("rate-apart", "doubt", f"A rate of {show(rate, 'flow')} is {rate / measured:.3g} times the largest flow measured in this hole, {show(measured, 'flow')}. Is its unit right?", "rate"))
        elif not measured and not SMALLEST_RATE <= rate <= LARGEST_RATE:
            notes.append(Advisory("rate-unusual", "doubt", f"A rate of {show(rate, 'flow')} is unusual for a bore. Is its unit right?", "rate"))
    starts = [start for start, _ in run.get("steps") or ()]
    if any(b <= a for a, b in zip(starts, starts[1:], strict=False)):
        notes.append(Advisory("steps-back", "doubt", "The steps do not begin one after another.", "steps"))
    level = run.get("static_level")
    if level is not None and level < 0:
        notes.append(Advisory("above-ground", "doubt", f"The level at rest stands {-level:g} m above ground: does the bore flow by itself?", "static_level"))
    if level is not None and hole and hole.depth and level > hole.depth:
        notes.append(Advisory("below-bottom", "doubt", f"The level at rest, {level:g} m, is below the bottom of the hole at {hole.depth:g} m.", "static_level"))
    duration = run.get("duration")
    if duration is not None and duration and not SHORTEST <= duration <= LONGEST:
        notes.append(Advisory("duration-unusual", "doubt", f"Pumping for {show(duration, 'time')} is unusual. Is its unit right?", "duration"))
    return tuple(notes)


def doubts_of_levels(hole: Hole, run: str, time: Sequence[float], drawdown: Sequence[float]) -> tuple[Advisory, ...]:
    """Return what to ask about readings of a run. Raises BadInput for a run that is not there."""
    test = run_of(hole, run)
    notes = []
    if any(b <= a for a, b in zip(time, time[1:], strict=False)):
        notes.append(Advisory("times-back", "doubt", "The times do not rise from line to line. Was a clock set back, or do they count from different starts?", "rows"))
    if test.run.body.type == "slug" or not drawdown:
        return tuple(notes)
    if max(drawdown) <= 0:
        notes.append(Advisory("drawdown-negative", "doubt", "No drawdown is above zero; it counts down from the level at rest.", "rows"))
    static = test.run.body.static_level if test.run.body.static_level is not None else hole.static_level
    own = not test.levels or all(f.body.well == test.run.body.well for f in test.levels)
    if static is not None and static > 3.0 and min(drawdown) >= AS_DEPTHS * static and len(drawdown) > 1:
        notes.append(Advisory("depths-suspected", "doubt", f"No drawdown is less than {min(drawdown):g} m, and the level at rest is {static:g} m deep: are these depths to water?", "rows"))
    if static is not None and own and test.run.body.radius is None and hole.depth and max(drawdown) > hole.depth - static:
        notes.append(Advisory("below-bottom", "doubt", f"A drawdown of {max(drawdown):g} m lies below the bottom of the hole: {hole.depth - static:g} m of water stand in it.", "rows"))
    return tuple(notes)


def confirmed(notes: Sequence[Advisory], sure: bool) -> None:
    """Raise BadInput, told at the field "sure", for what is asked and not yet confirmed."""
    if notes and not sure:
        raise BadInput("sure", "no", "is asked first: " + " ".join(a.message for a in notes), "the entry put right, or this ticked where it is so")
