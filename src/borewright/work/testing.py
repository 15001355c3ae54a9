"""Fitting the tests of a job and rating its bore.

Times of a pumping, step or slug run count from its start; those of a recovery run from the moment the pump stopped, as crews write them.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Test
from borewright.work.facts import the_hole

if TYPE_CHECKING:
    from borewright.hydraulics import Airlift, Estimate, Levels, RateHistory, TestFit
    from borewright.storage import JobBook

__all__ = ["fit_run", "intake_guard_of", "rate_job", "refit"]

CURVE_POINTS = 80
_WORTH = ("constant rate", "step", "recovery")  # in the order of what they can show


def _run_of(hole: Hole, run: str) -> Test:
    if run not in hole.tests:
        raise BadInput("run", run, "is not a test of this hole", "one of " + (", ".join(hole.tests) or "no tests yet"))
    return hole.tests[run]


def _readings(test: Test) -> tuple[list[Levels], RateHistory, float]:
    """Return the levels by well, the rate history, and what to add to the run's times so that they count from the start of pumping [s]."""
    from borewright.hydraulics import Levels, rate_steps, steady_rate

    body = test.run.body
    recovery = body.type == "recovery"
    if body.steps:
        history = rate_steps(list(body.steps))
    elif body.rate:
        if recovery and not body.duration:
            raise BadInput("duration", body.duration, "of the pumping before the recovery is not recorded", "how long the pump ran")
        history = steady_rate(body.rate, stopped_at=body.duration if recovery else None)
    else:
        raise BadInput("rate", body.rate, "is not recorded for this test", "the pumping rate, such as 20 L/min")
    shift = body.duration if recovery else 0.0
    wells: dict[str, list[tuple[float, float]]] = {}
    radii: dict[str, float | None] = {}
    for fact in test.levels:
        wells.setdefault(fact.body.well, []).extend(zip(fact.body.time, fact.body.drawdown, strict=True))
        radii[fact.body.well] = fact.body.radius if fact.body.well != body.well else (fact.body.radius or body.radius)
    if not wells:
        raise BadInput("levels", None, "are not recorded for this test", "times and drawdowns")
    levels = []
    for well, rows in wells.items():
        rows.sort()
        time, drawdown = (np.array(column) for column in zip(*rows, strict=True))
        levels.append(Levels(time + shift, drawdown, radii[well], well, well == body.well))
    return levels, history, shift


def refit(test: Test, *, bore_radius: float | None = None) -> TestFit:
    """Return the fit of a run from its readings, every suitable solution."""
    from borewright.hydraulics import fit_test

    levels, history, _ = _readings(test)
    return fit_test(levels, rate=history, bore_radius=bore_radius)


def fit_run(book: JobBook, job_id: UUID, run: str, *, by: str, hole: int | None = None, at: datetime | None = None) -> Entry:
    """Fit one run and write down every fit, with the curve of the best one for the pumped bore."""
    from borewright.hydraulics import fits_as_dict, model_drawdown

    logged = the_hole(book.job(job_id), hole)
    test = _run_of(logged, run)
    levels, _, shift = _readings(test)
    fit = refit(test, bore_radius=_bore_radius(logged))
    result = fits_as_dict(fit)
    pumped = next((i for i, one in enumerate(levels) if one.pumped), 0)
    times = np.geomspace(max(levels[pumped].time.min() - shift, 1.0), levels[pumped].time.max() - shift, CURVE_POINTS)
    for row in result["fits"]:
        if row["solution"] == result["best"]:
            curve = model_drawdown(fit, row["solution"], times + shift, well=pumped)
            row["curve"] = {"time_s": [float(t) for t in times], "drawdown_m": [float(s) for s in curve]}
    return book.write(job_id, "test.fitted", {"hole": logged.number, "run": run, "result": result}, by=by, at=at)


def _bore_radius(hole: Hole) -> float | None:
    """Return the radius of the hole along the slots [m]: that of the last bit."""
    return 0.5 * hole.bits[-1].body.diameter if hole.bits else None


def intake_guard_of(hole: Hole) -> float:
    """Return the depth that the pumping level must not pass [m]: a metre above the slots, or two above the bottom of an open hole."""
    slots = [f.body.from_depth for f in hole.casings if f.body.slotted]
    return min(slots) - 1.0 if slots else hole.depth - 2.0


def rate_job(
    book: JobBook, job_id: UUID, *, by: str, hole: int | None = None, dry_season_fall: float | None = None, at: datetime | None = None,
) -> Entry:
    """Rate the bore from the test that says most, and write the rating down.

    A constant-rate run is taken before steps, steps before a recovery; with none of them the air-lift readings, and the wide band that they deserve.

    Raises
    ------
    BadInput
        No test and no air-lift flow, or no static level.
    """
    job = book.job(job_id)
    logged = the_hole(job, hole)
    static = logged.static_level
    if static is None:
        raise BadInput("static level", None, "is not dipped in this hole", "the depth to water at rest before pumping")
    rating = _rate(logged, static=static, need=job.need.body.flow if job.need else None, fall=dry_season_fall)
    return book.write(job_id, "test.rated", {"hole": logged.number, "rating": rating, "flow": rating["flow"]}, by=by, at=at)


def _rate(hole: Hole, *, static: float, need: float | None, fall: float | None) -> dict[str, Any]:
    from borewright.hydraulics import rate_bore, rating_as_dict

    radius = _bore_radius(hole)
    runs = sorted((t for t in hole.tests.values() if t.levels and t.run.body.type in _WORTH), key=lambda t: _WORTH.index(t.run.body.type))
    test = refit(runs[0], bore_radius=radius) if runs else _airlift_of(hole)
    common = {"bore_radius": radius} if radius else {}
    return rating_as_dict(rate_bore(
        test, static_level=static, guard_depth=intake_guard_of(hole), dry_season_fall=fall, need=need or None, well_loss=_well_loss(hole), **common,
    ))


def _airlift_of(hole: Hole) -> Airlift:
    """Return what the air-lift readings say when they are all there is: the flow of the last hour, lifted from the bottom."""
    from borewright.hydraulics import Airlift

    readings = [f.body for f in hole.airlift if f.body.flow]
    if not readings:
        raise BadInput("test", None, "with levels is not recorded in this hole", "a pumping test, a recovery, or flows while air-lifting")
    last = readings[-1].elapsed
    late = [r.flow for r in readings if r.elapsed >= last - 3600.0]
    return Airlift(flow=sum(late) / len(late), duration=max(last, 60.0), air_line=hole.depth)


def _well_loss(hole: Hole) -> Estimate | None:
    """Return C of the step test last run on the hole, where its readings give one."""
    from borewright.errors import BorewrightError
    from borewright.hydraulics import fit_step_readings

    for test in reversed(list(hole.tests.values())):
        if test.run.body.type == "step" and test.levels and test.run.body.steps:
            levels, history, _ = _readings(test)
            pumped = next((one for one in levels if one.pumped), levels[0])
            try:
                return fit_step_readings(pumped.time, pumped.drawdown, history).well_loss
            except BorewrightError:
                return None  # steps too few or too alike say nothing about well loss; the rating then carries its own doubt of it
    return None
