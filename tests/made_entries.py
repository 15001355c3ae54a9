"""Entries for tests: short to write, each whole."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

from borewright.record import Entry, new_id

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
JOB = UUID("0192f1a2-0000-7000-8000-000000000007")


def entry(kind: str, counter: int = 1, *, minutes: float = 0, device: str = "phone-a", job: UUID = JOB, strikes=None, version: int = 1, **body):
    """Return an entry made `minutes` after noon by the device's clock."""
    return Entry(
        id=new_id(), job=job, kind=kind, at=NOON + timedelta(minutes=minutes), by="sam", device=device, counter=counter, body=body,
        version=version, strikes_out=strikes.id if isinstance(strikes, Entry) else strikes,
    )
