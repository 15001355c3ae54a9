"""The list of jobs as a table: one row a job, always equal to the fold of its entries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from borewright.record.fold import Job

__all__ = ["JobLine", "line_of", "row_of"]


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in one line. Depth in m, flow in m3/s; None where nothing is recorded."""

    id: UUID
    title: str
    customer: str
    stage: str
    outcome: str
    updated: datetime
    latitude: float | None
    longitude: float | None
    depth: float | None
    flow: float | None
    reference: str = ""
    entries: int = 0


def row_of(job: Job) -> dict[str, Any]:
    """Return the row of the projection that a folded job has."""
    place = job.spot or job.site
    hole = job.hole
    received = [entry.received for entry, _ in job.history if entry.received]
    return {
        "id": str(job.id), "title": _plain(job.title), "reference": _plain(job.opened.body.reference if job.opened else ""),
        "customer": _plain(job.customer.body.name if job.customer else ""), "stage": job.stage, "outcome": job.outcome,
        "updated": max(received).astimezone(UTC).isoformat(), "latitude": place.body.latitude if place else None,
        "longitude": place.body.longitude if place else None, "depth": hole.depth if hole and hole.depth else None,
        "flow": hole.last_flow.body.flow if hole and hole.last_flow else None, "entries": len(job.history),
        "last_sequence": max(entry.sequence or 0 for entry, _ in job.history),
    }


def _plain(text: str) -> str:
    return text.replace("\x00", "")[:200]  # PostgreSQL keeps no NUL in text


def line_of(row: Any) -> JobLine:
    """Return the line that a row holds."""
    return JobLine(
        id=UUID(row.id), title=row.title, customer=row.customer, stage=row.stage, outcome=row.outcome,
        updated=datetime.fromisoformat(row.updated), latitude=row.latitude, longitude=row.longitude, depth=row.depth, flow=row.flow,
        reference=row.reference, entries=row.entries,
    )
