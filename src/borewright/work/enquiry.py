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

    All or nothing: bad input leaves no half-opened job.
    """
    bodies: list[tuple[str, Mapping[str, Any]]] = [("enquiry.opened", {"title": title, "reference": reference})]
    bodies += [(kind, body) for kind, body in (("enquiry.customer", customer), ("enquiry.need", need), ("enquiry.site", site)) if body]
    job = new_id(at)
    book.write_all(job, bodies, by=by, at=at, job_new=True)
    return job
