"""What a job's log says was done, as plain quantities for the invoice and for estimate against actual."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from borewright.ground import GROUND, classify
from borewright.record.fold import Hole, Job

__all__ = ["need_met", "time_logged", "work_done"]


def need_met(job: Job, need: float) -> bool:
    """Return whether the flow measured last in any hole that stands open reached a need [m3/s]."""
    return any(h.last_flow is not None and h.last_flow.body.flow >= need and not h.sealed_off for h in job.holes.values())


def work_done(job: Job) -> list[dict[str, Any]]:
    """Return, for each hole, the fields of `borewright.pricing.WorkDone` as the log holds them."""
    return [_of(hole) for hole in job.holes.values()]


def _of(hole: Hole) -> dict[str, Any]:
    return {
        "number": hole.number, "depth": hole.depth, "bits": tuple((f.body.from_depth, f.body.diameter) for f in hole.bits),
        "ground": tuple((f.body.from_depth, f.body.to_depth, _drilling(f.body)) for f in hole.ground),
        "casings": tuple((f.body.string, f.body.slotted, f.body.outside_diameter, f.body.to_depth - f.body.from_depth) for f in hole.casings),
        "seal": sum(f.body.to_depth - f.body.from_depth for f in hole.annulus if f.body.what == "seal"),
        "grout_bags": sum(f.body.bags or 0.0 for f in hole.annulus if f.body.what == "grout"),
        "development": max((f.body.elapsed for f in hole.airlift), default=0.0),
        "test": sum(t.run.body.duration or 0.0 for t in hole.tests.values() if t.run.body.type in ("constant rate", "step")),
        "standing": sum(f.body.duration or 0.0 for f in hole.stood_by), "sealed": hole.sealed_off is not None,
    }


def _drilling(body: Any) -> str:
    ground = GROUND.get(body.ground_class) or classify(body.words)
    return ground.drilling if ground else ""


def time_logged(job: Job) -> float | None:
    """Return the hours on the hole: from the first to the last rig entry of each day, nights left out; None for fewer than two entries [s]."""
    days: dict[Any, list] = defaultdict(list)
    for entry, striker in job.history:
        if striker is None and entry.kind.startswith("rig.") and entry.kind != "rig.day_started":
            days[entry.at.date()].append(entry.at)
    if sum(map(len, days.values())) < 2:
        return None
    return sum((max(moments) - min(moments)).total_seconds() for moments in days.values())
