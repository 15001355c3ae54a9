"""Fitting the tests of a job and rating its bore.

Times of a pumping, step or slug run count from its start; those of a recovery run from the moment the pump stopped, as crews write them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import Advisory, BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Test
from borewright.work.facts import the_hole
from borewright.work.runs import bore_radius_of, intake_guard_of, run_of
from borewright.work.steps import well_loss_of

if TYPE_CHECKING:
    from borewright.hydraulics import Airlift, Neighbour, TestFit
    from borewright.storage import JobBook

__all__ = ["fit_run", "intake_guard_of", "rate_job"]

_WORTH = ("constant rate", "step", "recovery")  # in the order of what they can show


def fit_run(
    book: JobBook, job_id: UUID, run: str, *, by: str, hole: int | None = None, slug: Mapping[str, Any] | None = None, exponent: float | None = 2.0,
    at: datetime | None = None,
) -> Entry:
    """Fit one run alone and write down every fit, with the curve of the best one; step and slug runs with what they tell besides.

    `slug` holds the geometry of a slug run where the hole's own casing is not to be taken (see `slugs.slug_result`); `exponent`
    None finds the power of a step run's loss.
    """
    from borewright.work.joint import fit_together, result_for
    from borewright.work.slugs import slug_result
    from borewright.work.steps import step_result

    logged = the_hole(book.job(job_id), hole)
    test = run_of(logged, run)
    if test.run.body.type == "slug":
        result = slug_result(logged, run, **(slug or {}))
    elif test.run.body.type == "step":
        result = step_result(logged, run, exponent=exponent)
    else:
        result = result_for(fit_together(logged, run, alone=True), run)
    return book.write(job_id, "test.fitted", {"hole": logged.number, "run": run, "result": result}, by=by, at=at)


def rate_job(
    book: JobBook, job_id: UUID, *, by: str, hole: int | None = None, dry_season_fall: float | None = None, neighbours: Sequence[Neighbour] = (),
    hours_per_day: float = 24.0, guard_depth: float | None = None, at: datetime | None = None,
) -> Entry:
    """Rate the bore from the test that says most, and write the rating down.

    A constant-rate run is taken before steps, steps before a recovery, each together with what else watched the same pumping; with none
    of them the air-lift readings, and the wide band that they deserve. A solution chosen by hand, and what was held in it, are kept to.

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
    common = {"hours_per_day": hours_per_day, "neighbours": tuple(neighbours), "dry_season_fall": dry_season_fall}
    rating = _rate(logged, static=static, guard=guard_depth, need=job.need.body.flow if job.need else None, **common)
    return book.write(job_id, "test.rated", {"hole": logged.number, "rating": rating, "flow": rating["flow"]}, by=by, at=at)


def _rate(hole: Hole, *, static: float, guard: float | None, need: float | None, **asked: Any) -> dict[str, Any]:
    from borewright.hydraulics import rate_bore, rating_as_dict

    radius = bore_radius_of(hole)
    runs = sorted((t for t in hole.tests.values() if t.levels and t.run.body.type in _WORTH), key=lambda t: _WORTH.index(t.run.body.type))
    test, notes, rests_on = _fitted(hole, runs[0]) if runs else (_airlift_of(hole), (), {})
    common = {"bore_radius": radius} if radius else {}
    rating = rate_bore(
        test, static_level=static, guard_depth=intake_guard_of(hole) if guard is None else guard, need=need or None, well_loss=well_loss_of(hole), **common, **asked,
    )
    result = rating_as_dict(rating)
    result["advisories"] += [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in notes]
    asked["neighbours"] = [{"name": n.name, "distance": n.distance, "rate": n.rate} for n in asked["neighbours"]]
    return result | rests_on | {"asked": {k: v for k, v in asked.items() if v not in (None, [])}}


def _fitted(hole: Hole, test: Test) -> tuple[TestFit, tuple[Advisory, ...], dict[str, Any]]:
    """Return the fit that the rating rests on: joint over the runs of one pumping, and by hand where it was set by hand."""
    from borewright.work.joint import fit_together, kept_part, si_holds

    kept = test.fitted.body.result if test.fitted else {}
    by_hand: dict[str, Any] = {}
    notes: tuple[Advisory, ...] = ()
    if (kept.get("held") or kept.get("best_by_aicc")) and kept.get("best") != "cooper-jacob":
        by_hand = {"solutions": [kept["best"]], "hold": si_holds(kept.get("held") or {})}
        said = f"The rating rests on {kept['best']}, chosen by hand"
        said += f", with {', '.join(kept['held'])} held: the band does not count that these may be wrong." if kept.get("held") else "."
        notes = (Advisory("by-hand", "doubt", said, "test"),)
    together = fit_together(hole, test.run.body.run, robust=bool(kept.get("robust")), **kept_part(kept), **by_hand)
    return together.fit, (*notes, *together.advisories), {"rests_on": list(together.runs)}


def _airlift_of(hole: Hole) -> Airlift:
    """Return what the air-lift readings say when they are all there is: the flow of the last hour, lifted from the bottom."""
    from borewright.hydraulics import Airlift

    readings = [f.body for f in hole.airlift if f.body.flow]
    if not readings:
        raise BadInput("test", None, "with levels is not recorded in this hole", "a pumping test, a recovery, or flows while air-lifting")
    last = readings[-1].elapsed
    late = [r.flow for r in readings if r.elapsed >= last - 3600.0]
    return Airlift(flow=sum(late) / len(late), duration=max(last, 60.0), air_line=hole.depth)
