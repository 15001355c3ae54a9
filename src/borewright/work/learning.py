"""What the firm's own job books teach: the pace in each class of ground, and how the odds told have come true."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING

from borewright.ground import GROUND, classify
from borewright.record.fold import Hole, Job
from borewright.record.hours import DRILLING, Span, time_spans

if TYPE_CHECKING:
    from collections.abc import Iterable

    from borewright.pricing import PenetrationRecord, TimeModel

__all__ = ["Told", "penetration_records", "time_model", "told_and_found"]

LONGEST_ROD = 2 * 3600.0  # s: a longer gap between two rods was not all drilling, so it teaches nothing about pace


@dataclass(frozen=True, slots=True)
class Told:
    """Odds as told before a hole was drilled, how the spot was picked, and whether the need was found."""

    job: Job
    way_of_picking: str
    odds: float
    found: bool


def _class_of(hole: Hole, depth: float) -> str | None:
    for fact in hole.ground:
        if fact.body.from_depth <= depth < fact.body.to_depth:
            ground = GROUND.get(fact.body.ground_class) or classify(fact.body.words)
            return ground.drilling if ground else None
    return None


def _drilled(spans: list[Span], began: datetime, ended: datetime) -> float:
    """Return the time between two rods that was drilling by the taps [s]."""
    return sum(s.seconds for s in spans if s.activity == DRILLING and began <= s.began and s.ended <= ended)


def penetration_records(job: Job) -> list[PenetrationRecord]:
    """Return the metres and drilling time of a job by drilling class, from the times of its rods; rod handling, stand-by, measuring and casing taken off."""
    from borewright.pricing import PenetrationRecord, prior_time_model

    handling = prior_time_model().add_rod
    spans = time_spans(job)
    sums: dict[str, list[float]] = {}
    for hole in job.holes.values():
        rods = sorted(hole.advances, key=lambda f: f.body.to_depth)
        for above, below in pairwise(rods):
            metres = below.body.to_depth - above.body.to_depth
            seconds = _drilled(spans, above.entry.at, below.entry.at) - handling
            drilling = _class_of(hole, 0.5 * (above.body.to_depth + below.body.to_depth))
            if drilling and metres > 0 and 0 < seconds < LONGEST_ROD and metres / seconds * 3600 <= 200:
                total = sums.setdefault(drilling, [0.0, 0.0])
                total[0] += metres
                total[1] += seconds
    return [PenetrationRecord(name, metres, seconds) for name, (metres, seconds) in sums.items()]


def time_model(jobs: Iterable[Job]) -> TimeModel:
    """Return the time model after every metre that the given jobs recorded."""
    from borewright.pricing import learn_penetration, prior_time_model

    return learn_penetration(prior_time_model(), [record for job in jobs for record in penetration_records(job)])


def told_and_found(jobs: Iterable[Job]) -> list[Told]:
    """Return, for each finished job whose odds were told before drilling began, what was told and what was found.

    A hole found the need when the last flow measured in any of its holes reached it; odds are those of the last telling
    before the first hole was started, at the depth drilled or the deepest told.
    """
    answer = []
    for job in jobs:
        if job.need is None or not job.holes or job.outcome == "open":
            continue
        started = min((h.started.entry.at for h in job.holes.values() if h.started), default=None)
        told = [f for f in job.odds if f.body.answer and (started is None or f.entry.at <= started)]
        if not told:
            continue
        depth = max(hole.depth for hole in job.holes.values())
        odds = _odds_at(told[-1].body.answer.get("odds", {}), depth)
        if odds is None:
            continue
        flows = [hole.last_flow.body.flow for hole in job.holes.values() if hole.last_flow]
        way = job.spot.body.way_of_picking if job.spot else "other"
        answer.append(Told(job, way, odds, max(flows, default=0.0) >= job.need.body.flow))
    return answer


def _odds_at(odds: dict, depth: float) -> float | None:
    rows = [r for r in odds.get("by_depth", []) if isinstance(r, dict) and "depth_m" in r and "p" in r]
    if not rows:
        return None
    return float(min(rows, key=lambda r: abs(r["depth_m"] - depth))["p"])
