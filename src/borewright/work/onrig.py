"""What happens at the rig: flows worked out from raw readings, and the advice of the stop rule."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.record.entries import Entry
from borewright.record.fold import Hole, Job
from borewright.work.facts import the_hole
from borewright.work.quoting import policy_of

if TYPE_CHECKING:
    from borewright.pricing import WhatNow
    from borewright.storage import JobBook

__all__ = ["hole_so_far", "measure_flow", "what_now"]


def measure_flow(
    book: JobBook, job_id: UUID, method: str, readings: Mapping[str, Any], *, depth: float, by: str, hole: int = 1, at: datetime | None = None,
) -> Entry:
    """Work a flow out from its raw readings and write both down; `readings` as `borewright.rig.flow_from_readings` takes them."""
    from borewright.rig import flow_from_readings

    measured = flow_from_readings(method, readings)
    return book.write(job_id, "rig.flow", {
        "hole": hole, "depth": depth, "method": method, "readings": dict(readings), "flow": measured.flow,
        "standard_uncertainty": measured.standard_uncertainty,
    }, by=by, at=at)


def hole_so_far(hole: Hole) -> tuple[float, float, int]:
    """Return (depth [m], flow [m3/s], strikes) as the stop rule asks for them.

    Water measured with no strike logged counts as one strike: it came in somewhere.
    """
    flow = hole.last_flow.body.flow if hole.last_flow else 0.0
    strikes = len(hole.strikes)
    return hole.depth, flow, max(strikes, 1) if flow > 0 else strikes


def what_now(job: Job, number: int | None = None) -> WhatNow | None:
    """Return the advice for a hole of the job as logged so far, or None when no quote with a stop rule was issued."""
    from borewright.pricing import what_now_from_table

    table = policy_of(job)
    return what_now_from_table(table, *hole_so_far(the_hole(job, number))) if table else None
