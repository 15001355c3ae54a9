"""Planning a test of a job from what is known of the bore, keeping the plan, and telling while readings come in whether more would change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

import numpy as np

from borewright.errors import BadInput, BorewrightError
from borewright.quantities import show
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Job
from borewright.work.facts import the_hole
from borewright.work.runs import bore_radius_of, intake_guard_of, readings_of, run_of
from borewright.work.slugs import slug_geometry

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["Settling", "keep_plan", "plan_inputs", "settling"]

LIFTED_SHARE = 0.65  # of the water above the bottom, where an air-lift's level was not dipped; the middle of what rate_bore takes
MOMENTS = 12


def plan_inputs(job: Job, hole: Hole) -> dict[str, float]:
    """Return what the job says of the inputs of a plan, SI; what it does not say is left out."""
    found: dict[str, float] = {}
    static = hole.static_level
    flows = [f.body.flow for f in hole.airlift if f.body.flow]
    if flows:
        found["flow"] = flows[-1]
    elif hole.last_flow is not None:
        found["flow"] = hole.last_flow.body.flow
    if job.need:
        found["need"] = job.need.body.flow
    if static is not None and hole.depth > static:
        found["static_level"] = static
        found["drawdown_then"] = LIFTED_SHARE * (hole.depth - static)
        found["available"] = intake_guard_of(hole) - static
    radius = bore_radius_of(hole)
    if radius:
        found["bore_radius"] = radius
    casing = slug_geometry(hole).get("casing_radius")
    if casing:
        found["casing_radius"] = casing
    return {k: v for k, v in found.items() if v > 0 or k == "static_level"}


def keep_plan(
    book: JobBook, job_id: UUID, inputs: Mapping[str, float], *, by: str, hole: int | None = None, typed: Mapping[str, str] | None = None, at: datetime | None = None,
) -> Entry:
    """Plan a test from the inputs given over those that the job says, and write the plan down.

    Raises
    ------
    BadInput
        An input that is neither given nor in the job, or cannot be.
    """
    from borewright.hydraulics import plan_as_dict, plan_test

    job = book.job(job_id)
    logged = the_hole(job, hole)
    taken = plan_inputs(job, logged) | dict(inputs)
    wanted = {"flow": "a flow pumped or lifted before", "drawdown_then": "the drawdown that it made", "available": "from the level at rest to the guard", "need": "the flow wanted",
              "static_level": "the level at rest", "bore_radius": "half the hole's diameter", "casing_radius": "half the casing's inside diameter"}
    for name, want in wanted.items():
        if name not in taken:
            raise BadInput(name, None, "is neither given nor in the job", want)
    plan = plan_as_dict(plan_test(**taken))
    body = {"hole": logged.number, "inputs": taken | ({"typed": dict(typed)} if typed else {}), "plan": plan}
    return book.write(job_id, "test.planned", body, by=by, at=at)


@dataclass(frozen=True, slots=True)
class Settling:
    """How an answer moved as the readings came in: how long the test had run [s], the transmissivity then [m2/s], whether it is enough."""

    durations: tuple[float, ...]
    estimates: tuple[float, ...]
    enough: bool
    sentence: str


def settling(hole: Hole, run: str) -> Settling | None:
    """Return how the transmissivity of a run moved as its readings came in, by one plain solution throughout; None where they are too few to say."""
    from borewright.hydraulics import Levels, enough_readings, fit_test

    test = run_of(hole, run)
    if test.run.body.type not in ("constant rate", "recovery", "step"):
        return None
    try:
        readings = readings_of(test)
    except BorewrightError:
        return None
    shift = readings.shifts[run]
    one = readings.levels[readings.wells[run][0]]
    time = one.time - shift
    use = time > 0
    time, level = time[use], one.drawdown[use]
    if time.size < 8:
        return None
    ends = np.unique(time[np.unique(np.searchsorted(time, np.geomspace(max(time[-1] / 16.0, time[5]), time[-1], MOMENTS), side="right") - 1)])
    durations, estimates = [], []
    for end in ends:
        seen = time <= end
        if seen.sum() < 6:
            continue
        try:
            fit = fit_test([Levels(time[seen] + shift, level[seen], one.radius, one.well, one.pumped)], rate=readings.history, bore_radius=bore_radius_of(hole),
                           solutions=["theis"], intervals=False, also=readings.also)
        except BorewrightError:
            continue  # too little drawdown yet to say anything
        durations.append(float(end))
        estimates.append(fit.leading.parameters["transmissivity"].value)
    if len(durations) < 3:
        return None
    enough = enough_readings(durations, estimates)
    moved = [e for d, e in zip(durations, estimates, strict=True) if d >= durations[-1] / 2]
    change = (max(moved) - min(moved)) / estimates[-1]
    ran = show(durations[-1], "time")
    if enough:
        sentence = (f"Since half of {ran} the transmissivity has moved by {change:.0%}: more of the same would hardly change the answer. An edge farther off would "
                    "still not show; run on as planned where the bore will be pumped hard for years.")
    else:
        sentence = f"In the second half of {ran} the transmissivity still moved by {change:.0%} (5% or less is enough): read on."
    return Settling(tuple(durations), tuple(estimates), enough, sentence)
