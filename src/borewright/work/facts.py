"""Reading one needed fact out of a folded job, with an error that says what to write down first."""

from __future__ import annotations

from typing import Any

from borewright.errors import BadInput
from borewright.record.fold import Fact, Hole, Job

__all__ = ["last_ground_answer", "need_of", "place_of", "the_hole"]


def need_of(job: Job) -> Any:
    """Return the need's body; raise BadInput when the job has none."""
    if job.need is None:
        raise BadInput("need", None, "is not stated on this job", "the flow that the customer must have, such as 15 L/min")
    return job.need.body


def place_of(job: Job) -> tuple[float, float]:
    """Return (latitude, longitude) of the spot last picked, else of the site; raise BadInput when there is neither."""
    fact: Fact | None = job.spot or job.site
    if fact is None:
        raise BadInput("spot", None, "is not picked on this job", "latitude and longitude in degrees, such as -38.47, -18.22")
    return fact.body.latitude, fact.body.longitude


def last_ground_answer(job: Job) -> dict[str, Any]:
    """Return the answer last told about the ground with its prospect and column; raise BadInput when no odds were worked out."""
    answers = [f.body.answer for f in job.odds if f.body.answer.get("prospect")]
    if not answers:
        raise BadInput("odds", None, "are not worked out for this job", "the odds from a register first (stage: ground)")
    return answers[-1]


def the_hole(job: Job, number: int | None = None) -> Hole:
    """Return a hole of the job, the last one by default; raise BadInput when nothing is logged."""
    if not job.holes:
        raise BadInput("hole", number, "is not logged on this job", "a hole started on the rig page")
    if number is None:
        return job.holes[max(job.holes)]
    if number not in job.holes:
        raise BadInput("hole", number, "is not logged on this job", "one of " + ", ".join(map(str, sorted(job.holes))))
    return job.holes[number]
