"""The season's board: which job stands where, metres and hours of the season, and what its dry holes came to. Sums over folded jobs, nothing more."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from borewright.errors import BadInput
from borewright.record.fold import STAGES, Hole, Job

__all__ = ["Board", "BoardRow", "board", "board_csv"]

COLUMNS = (
    "job", "reference", "customer", "stage", "outcome", "accepted", "holes", "metres", "hours_at_rig", "standby_hours", "dry_holes", "dry_metres", "last_entry",
)


@dataclass(frozen=True, slots=True)
class BoardRow:
    """One job: where it stands, and what was done on it between the days of the board [m, s]."""

    job: Job
    stage: str
    outcome: str
    accepted: bool
    holes: int
    metres: float
    time_at_rig: float
    standby: float
    dry_holes: int
    dry_metres: float
    last: datetime


@dataclass(frozen=True, slots=True)
class Board:
    """The rows of a season from one day to another, both counted, and their sums [m, s]."""

    since: date
    until: date
    rows: tuple[BoardRow, ...]

    def of_stage(self, stage: str) -> list[BoardRow]:
        """The open jobs that stand at a stage, the one written to last first."""
        return sorted((r for r in self.rows if r.stage == stage), key=lambda r: r.last, reverse=True)

    @property
    def stages(self) -> list[tuple[str, list[BoardRow]]]:
        """Every stage with its jobs, in the order of the work."""
        return [(stage, self.of_stage(stage)) for stage in STAGES]

    @property
    def metres(self) -> float:
        """Metres drilled in the holes begun in the season."""
        return sum(r.metres for r in self.rows)

    @property
    def time_at_rig(self) -> float:
        """From the first to the last entry at the rig of each day, summed."""
        return sum(r.time_at_rig for r in self.rows)

    @property
    def standby(self) -> float:
        """Time of standing by that was written down."""
        return sum(r.standby for r in self.rows)

    @property
    def holes(self) -> int:
        """Holes begun in the season."""
        return sum(r.holes for r in self.rows)

    @property
    def dry_holes(self) -> int:
        """Those of them that were given up, lost or sealed."""
        return sum(r.dry_holes for r in self.rows)

    @property
    def dry_metres(self) -> float:
        """Metres in them."""
        return sum(r.dry_metres for r in self.rows)


def board(jobs: Iterable[Job], *, since: date, until: date, zone: tzinfo) -> Board:
    """Return the board of the jobs for a season.

    Parameters
    ----------
    since, until : date
        First and last day of the season, in `zone`.

    Raises
    ------
    BadInput
        A season that ends before it begins.
    """
    if until < since:
        raise BadInput("until", until.isoformat(), "is before the season begins", f"{since.isoformat()} or later")
    return Board(since, until, tuple(_row(job, since, until, zone) for job in jobs))


def _row(job: Job, since: date, until: date, zone: tzinfo) -> BoardRow:
    inside = [h for h in job.holes.values() if (day := _begun(h, zone)) is not None and since <= day <= until]
    dry = [h for h in inside if _dry(h)]
    days: dict[date, tuple[datetime, datetime]] = {}
    for entry, striker in job.history:
        if striker is not None or not entry.kind.startswith("rig.") or entry.kind == "rig.photo":
            continue
        day = entry.at.astimezone(zone).date()
        if since <= day <= until:
            first, last = days.get(day, (entry.at, entry.at))
            days[day] = min(first, entry.at), max(last, entry.at)
    standby = sum(f.body.duration or 0.0 for h in job.holes.values() for f in h.stood_by if since <= f.entry.at.astimezone(zone).date() <= until)
    return BoardRow(
        job, job.stage, job.outcome, job.accepted is not None, len(inside), sum(h.depth for h in inside), sum((b - a).total_seconds() for a, b in days.values()), standby, len(dry),
        sum(h.depth for h in dry), max(e.at for e, _ in job.history),
    )


def _begun(hole: Hole, zone: tzinfo) -> date | None:
    moments = [f.entry.at for f in (hole.started, *hole.advances, *hole.ground, *hole.strikes, hole.stopped) if f]
    return min(moments).astimezone(zone).date() if moments else None


def _dry(hole: Hole) -> bool:
    return hole.sealed_off is not None or (hole.stopped is not None and hole.stopped.body.reason in ("walked away", "hole lost"))


def board_csv(made: Board) -> bytes:
    """Return the board as a CSV table, a row for each job; text that a spreadsheet would take for a formula begins with an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for r in made.rows:
        texts = (r.job.title, r.job.opened.body.reference if r.job.opened else "", r.job.customer.body.name if r.job.customer else "")
        writer.writerow([
            *("'" + t if t.startswith(("=", "+", "-", "@", "\t", "\r", "'")) else t for t in texts), r.stage, r.outcome, "yes" if r.accepted else "no", r.holes, f"{r.metres:.10g}",
            f"{r.time_at_rig / 3600:.2f}", f"{r.standby / 3600:.2f}", r.dry_holes, f"{r.dry_metres:.10g}", r.last.isoformat(),
        ])
    return out.getvalue().encode()
