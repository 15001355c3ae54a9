"""Opening a job and writing down what the customer said."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from borewright.record.entries import new_id
from borewright.storage import JobBook

__all__ = ["open_job"]


def open_job(
    book: JobBook, title: str, *, by: str, reference: str = "", customer: Mapping[str, Any] | None = None,
    need: Mapping[str, Any] | None = None, site: Mapping[str, Any] | None = None, at: datetime | None = None,
) -> UUID:
    """Return the id of a new job; what is known of customer, need and site is written with it.

    Every body is validated before the first entry is written, so bad input leaves no half-opened job.
    """
    from borewright.record.bodies import validate_body

    bodies = [("enquiry.opened", {"title": title, "reference": reference})]
    for kind, body in (("enquiry.customer", customer), ("enquiry.need", need), ("enquiry.site", site)):
        if body:
            bodies.append((kind, dict(body)))
    checked = [(kind, validate_body(kind, 1, body)) for kind, body in bodies]
    job = new_id(at)
    for kind, body in checked:
        book.write(job, kind, body, by=by, at=at, job_new=True)
    return job
