"""The list of jobs as a table: one row a job, equal to the fold of its entries whenever it is read.

What the desk writes renews the job's row in the same transaction. A phone's batches leave a mark for the job in theirs instead, and the
row is made when the list is next read: folding the job at each batch would cost more than keeping the entries.

An entry that only a newer version can read changes the fold once that version is here, and so may a fold that was mended. The
store notes by which fold its list was made, and makes it anew when it is opened by another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from borewright.record import bodies
from borewright.record.fold import Job, fold
from borewright.storage import tables as t
from borewright.storage.engine import reading, writing
from borewright.storage.rows import entry_of

__all__ = ["JobLine", "behind_mark", "folded_rows", "jobs_behind", "line_of", "none_behind", "rebuild_projection", "renew_projection", "row_of"]

_MARK = "projection"
_BEHIND = "behind "


def behind_mark(job: UUID) -> str:
    """Return the name of the mark that says: this job has entries that its row does not count."""
    return f"{_BEHIND}{job}"


def jobs_behind(connection: sa.Connection) -> list[UUID]:
    """Return the jobs whose rows have to be made anew."""
    names = connection.execute(sa.select(t.marks.c.name).where(t.marks.c.name.startswith(_BEHIND)).order_by(t.marks.c.name)).scalars()
    return [UUID(name.removeprefix(_BEHIND)) for name in names]


def none_behind(connection: sa.Connection) -> None:
    """Take the marks away, within the transaction that made the rows of all jobs that had one."""
    connection.execute(sa.delete(t.marks).where(t.marks.c.name.startswith(_BEHIND)))


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


def folded_rows(connection: sa.Connection) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each job's row of the projection, folded anew from its entries; an entry that cannot be read is left out."""
    for job in connection.execute(sa.select(t.entries.c.job).distinct()).scalars().all():
        entries = []
        for row in connection.execute(sa.select(t.entries).where(t.entries.c.job == job).order_by(t.entries.c.sequence)):
            try:
                entries.append(entry_of(row))
            except (ValueError, TypeError):
                continue
        if entries:
            yield job, row_of(fold(entries))


def rebuild_projection(engine: sa.Engine) -> int:
    """Make the list of jobs anew from the entries and return how many there are."""
    with writing(engine) as connection:
        rows = [row for _, row in folded_rows(connection)]
        connection.execute(sa.delete(t.jobs))
        if rows:
            connection.execute(sa.insert(t.jobs), rows)
        connection.execute(sa.delete(t.marks).where((t.marks.c.name == _MARK) | t.marks.c.name.startswith(_BEHIND)))
        connection.execute(sa.insert(t.marks), {"name": _MARK, "value": _made_by()})
    return len(rows)


def renew_projection(engine: sa.Engine) -> None:
    """Make the list of jobs anew if another fold than this program's made it."""
    with reading(engine) as connection:
        mark = connection.execute(sa.select(t.marks.c.value).where(t.marks.c.name == _MARK)).scalar()
    if mark != _made_by():
        rebuild_projection(engine)


@lru_cache(maxsize=1)
def _made_by() -> str:
    """Return what tells one fold from another: the text of the modules that make the rows."""
    digest = sha256()
    record = Path(bodies.__file__).parent
    for path in (record / "bodies.py", record / "fold.py", Path(__file__)):
        if path.is_file():
            digest.update(path.read_bytes())
    return digest.hexdigest()
