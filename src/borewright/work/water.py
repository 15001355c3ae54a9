"""Judging a water analysis for its use and writing both down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.record.entries import Entry

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["judge"]


def judge(
    book: JobBook, job_id: UUID, values: Sequence[Mapping[str, Any]], *, use: str = "drinking", by: str, laboratory: str = "", sampled_on: str = "",
    hole: int | None = None, at: datetime | None = None,
) -> Entry:
    """Judge an analysis against the guidelines for its use and write both down, the laboratory's own figures kept as they came.

    `values` are rows of name, value, unit and, where it was not found, below_detection; see `borewright.water.assess`.
    """
    from borewright.water import assess, assessment_as_dict

    job = book.job(job_id)
    number = hole if hole is not None else max(job.holes, default=1)
    samples = [f.body.temperature for f in job.holes[number].samples if f.body.temperature is not None] if number in job.holes else []
    # Scale depends on the warmth of the water, which a laboratory does not see and the rig does.
    assessment = assess([dict(row) for row in values], use, temperature=samples[-1] if samples else None)
    return book.write(job_id, "water.analysis", {
        "hole": number, "laboratory": laboratory, "sampled_on": sampled_on, "use": use, "values": [dict(row) for row in values],
        "assessment": assessment_as_dict(assessment),
    }, by=by, at=at)
