"""Verify a store: every entry against its hash and the chain, every attachment, every projection, settings and rate cards."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from borewright.errors import BorewrightError
from borewright.record.bodies import CURRENT_VERSION, KINDS, read_body
from borewright.record.entries import content_hash
from borewright.storage import tables as t
from borewright.storage.attachments import attachment_path
from borewright.storage.engine import reading
from borewright.storage.files import hash_of
from borewright.storage.projection import folded_rows, rebuild_projection
from borewright.storage.ratecards import current_rate_card, rate_card_versions
from borewright.storage.rows import CHAIN_START, chained, entry_of
from borewright.storage.settings import load_settings

if TYPE_CHECKING:
    from borewright.storage.jobbook import JobBook

__all__ = ["CheckReport", "check"]


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What a check read and what it found.

    `problems` are faults: the store does not say what was written to it. `notes` are worth knowing and no fault. `rebuilt` is the
    number of jobs whose projection was made anew.
    """

    entries: int
    jobs: int
    attachments: int
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    rebuilt: int = 0

    @property
    def ok(self) -> bool:
        """Whether nothing is at fault."""
        return not self.problems


def check(book: JobBook, *, rebuild: bool = False) -> CheckReport:
    """Read everything once and compare; with `rebuild`, first make every projection anew from the entries."""
    problems: list[str] = []
    notes: list[str] = []
    rebuilt = rebuild_projection(book.engine) if rebuild else 0
    book.settle()
    with reading(book.engine) as connection:
        if book.engine.dialect.name == "sqlite":
            problems += [f"database: {row[0]}" for row in connection.exec_driver_sql("PRAGMA integrity_check") if row[0] != "ok"]
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            problems += [f"database: a row of {row[0]} points at nothing" for row in broken]
        entries, named = _check_entries(connection, problems, notes)
        jobs = _check_projection(connection, problems)
        attachments = _check_attachments(connection, book.folder, named, problems, notes)
    for what in (load_settings, rate_card_versions, current_rate_card):
        try:
            what(book.folder)
        except BorewrightError as error:
            problems.append(str(error))
    return CheckReport(entries, jobs, attachments, tuple(problems), tuple(notes), rebuilt)


def _check_entries(connection: sa.Connection, problems: list[str], notes: list[str]) -> tuple[int, set[str]]:
    """Verify hashes, chain and bodies; return the number of entries and the attachments that they name."""
    count, before, named, newer = 0, CHAIN_START, set(), 0
    struck: list[tuple[str, str]] = []
    jobs: dict[str, str] = {}
    for row in connection.execute(sa.select(t.entries).order_by(t.entries.c.sequence)):
        count += 1
        try:
            entry = entry_of(row)
            content = content_hash(entry)
        except (ValueError, TypeError, KeyError) as error:
            problems.append(f"entry {row.id} (number {row.sequence}) cannot be read: {error}")
            before = row.chain
            continue
        if content != row.hash:
            problems.append(f"entry {row.id} (number {row.sequence}) is not what was written: its content does not match its hash")
        if row.chain != chained(before, row.hash):
            problems.append(f"entry {row.id} (number {row.sequence}) does not follow on from the one before: an entry was removed, moved or put in")
        before = row.chain
        jobs[row.id] = row.job
        if row.strikes_out:
            struck.append((row.id, row.strikes_out))
        known = row.kind in KINDS and row.version <= CURRENT_VERSION[row.kind]
        if not known:
            newer += 1
        elif read_body(row.kind, row.version, entry.body) is None:
            notes.append(f"entry {row.id} ({row.kind}) holds values that this version does not allow; it is kept and shown as it is")
        if isinstance(entry.body.get("attachment"), str) and entry.body["attachment"]:
            named.add(entry.body["attachment"])
    if newer:
        notes.append(f"{newer} entries are of kinds or formats newer than this program; they are kept and shown as they are")
    for entry_id, target in struck:
        if jobs.get(target) != jobs[entry_id]:
            notes.append(f"entry {entry_id} strikes out {target}, which is not (yet) in its job")
    return count, named


def _check_projection(connection: sa.Connection, problems: list[str]) -> int:
    kept = {row.id: row._asdict() for row in connection.execute(sa.select(t.jobs))}
    count = 0
    for job, row in folded_rows(connection):
        count += 1
        there = kept.pop(job, None)
        if there is None:
            problems.append(f"job {job} is missing from the list of jobs; `borewright check --rebuild` mends it")
        elif there != row:
            wrong = ", ".join(name for name in row if row[name] != there[name])
            problems.append(f"job {job} ({row['title']}) is listed wrongly ({wrong}); `borewright check --rebuild` mends it")
    problems += [f"job {job} is listed but has no entries; `borewright check --rebuild` mends it" for job in kept]
    return count


def _check_attachments(connection: sa.Connection, folder: Path, named: set[str], problems: list[str], notes: list[str]) -> int:
    kept = {row.sha256: row.size for row in connection.execute(sa.select(t.attachments))}
    for name, size in kept.items():
        path = attachment_path(folder, name)
        if not path.is_file():
            problems.append(f"attachment {name} is missing from {path}")
        elif path.stat().st_size != size or hash_of(path) != name:
            problems.append(f"attachment {name} is damaged: its content does not match its name")
    absent = sorted(name for name in named if name not in kept)
    if absent:
        notes.append(f"{len(absent)} attachments are named by entries and have not arrived: " + ", ".join(n[:12] for n in absent[:5]))
    stray = [path.name for path in (folder / "attachments").glob("*/*") if path.name not in kept]
    if stray:
        notes.append(f"{len(stray)} files lie among the attachments that the book does not know, such as {stray[0]}")
    return len(kept)
