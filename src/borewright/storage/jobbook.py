"""The job book on disk: entries are added and never changed; everything else is read off them."""

from __future__ import annotations

import difflib
import json
import secrets
import threading
from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from borewright.errors import BadInput, Conflict, NotFound
from borewright.record.bodies import CURRENT_VERSION, KINDS, validate_body
from borewright.record.entries import Entry, EntryText, as_texts, checked_entry, content_hash, new_id
from borewright.record.fold import Job
from borewright.record.folding import Folding, carried_on, folded
from borewright.storage import tables as t
from borewright.storage.attachments import existing_attachment, keep_attachment
from borewright.storage.engine import make_engine, reading, writing
from borewright.storage.files import write_whole
from borewright.storage.home import data_folder
from borewright.storage.migrate import bring_up_to_date
from borewright.storage.projection import (
    JobLine,
    behind_mark,
    jobs_behind,
    line_of,
    none_behind,
    renew_projection,
    row_of,
)
from borewright.storage.rows import CHAIN_START, COLUMNS, entry_of, row_of_entry

if TYPE_CHECKING:
    from borewright.storage.checking import CheckReport

__all__ = ["JobBook", "Receipt", "open_job_book"]

_REMEMBERED = 64  # jobs whose fold is kept in memory
_AT_ONCE = 500  # ids in one question: SQLite takes a limited number of values
_LAST = "SELECT sequence, chain FROM entries ORDER BY sequence DESC LIMIT 1"
_MARK = "INSERT INTO marks (name, value) VALUES (?, '') ON CONFLICT (name) DO NOTHING"
_JOB, _RECEIVED, _HASH, _BODY = (COLUMNS.index(name) for name in ("job", "received", "hash", "body"))
# Ten thousand rows straight to the driver: SQLAlchemy's own way through takes longer for a row than SQLite.
_INSERT = f"INSERT INTO entries ({', '.join(chr(34) + name + chr(34) for name in COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"


class Receipt(NamedTuple):
    """What the store says of an entry it has: it is on the disk. `fresh` is False when it was there before."""

    id: UUID
    sequence: int
    received: datetime
    fresh: bool


class JobBook:
    """All jobs of a firm. May be used from several threads and by several processes at once; close it, or use it in `with`.

    Jobs that it returns are shared between callers and must not be changed.
    """

    def __init__(self, folder: Path, engine: sa.Engine):
        self.folder = folder
        self.engine = engine
        self._folded: dict[UUID, _Folded] = {}  # only what is committed
        self._lock = threading.Lock()
        self._device = ""

    def __enter__(self) -> JobBook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    @property
    def device(self) -> str:
        """This machine's name in entries, made once and kept beside the data."""
        if not self._device:
            path = self.folder / "device.txt"
            name = path.read_text(encoding="utf-8").strip() if path.is_file() else ""
            if not name:
                name = f"desk-{secrets.token_hex(4)}"
                write_whole(path, name.encode())
            self._device = name
        return self._device

    # Writing

    def add(self, entries: Iterable[Entry], *, checked: bool = False, as_received: bool = False) -> list[Receipt]:
        """Keep entries made anywhere, all of them or, on any error, none; a receipt means that the entry is on the disk.

        Adding an entry again changes nothing. The fold and the job's line in the list are made when they are next read. Raises
        BadInput for an entry that cannot stand, and Conflict for an id that is already another entry. `checked` says that they come
        straight from `entry_from_json`, which looked at each of them; `as_received`, that they come from a book's archive and were
        taken in when they say.
        """
        sound = list(entries) if checked else [checked_entry(entry) for entry in entries]
        if not sound:
            return []
        try:
            return self._add_in_one(sound, as_received=as_received, new=True)
        except _SomeAreHere:  # nothing of it was written
            return self._add_in_one(sound, as_received=as_received, new=False)

    def take_in(self, entries: Iterable[Entry], *, at_once: int = 500) -> int:
        """Keep the entries of another book's archive, all of them or, on any error, none, and return how many were new.

        They may be any number: `at_once` of them are in memory at a time, in one transaction. They come straight from `entry_from_json`
        and were taken in when they say. Raises as `add` does, and whatever reading them raises.
        """
        source, fresh, changed = iter(entries), 0, dict[UUID, None]()
        with writing(self.engine) as connection:
            while some := list(islice(source, at_once)):
                receipts, jobs = self._add(connection, some, as_received=True)
                fresh += sum(receipt.fresh for receipt in receipts)
                changed |= dict.fromkeys(jobs)
            if changed:
                self._behind(connection, changed)
        return fresh

    def _add_in_one(self, sound: Sequence[Entry], *, as_received: bool, new: bool) -> list[Receipt]:
        with writing(self.engine) as connection:
            receipts, jobs = self._add(connection, sound, as_received=as_received, new=new)
            if jobs:
                self._behind(connection, jobs)
        return receipts

    def write(
        self, job: UUID, kind: str, body: Mapping[str, Any], *, by: str, at: datetime | None = None, strikes_out: UUID | None = None,
        job_new: bool = False,
    ) -> Entry:
        """Write one entry on this machine and return it as kept. Raises NotFound for an unknown job unless `job_new`."""
        return self.write_all(job, [(kind, body)], by=by, at=at, strikes_out=strikes_out, job_new=job_new)[0]

    def write_all(
        self, job: UUID, what: Sequence[tuple[str, Mapping[str, Any]]], *, by: str, at: datetime | None = None,
        strikes_out: UUID | None = None, job_new: bool = False,
    ) -> list[Entry]:
        """Write several entries of one job, all or none; each is (kind, body)."""
        for kind, _ in what:
            if kind not in KINDS:
                near = difflib.get_close_matches(kind, KINDS, 3) or list(KINDS)
                raise BadInput("kind", kind, "is not a kind of entry", "one of " + ", ".join(near))
        moment = at or datetime.now().astimezone()
        checked = [(kind, validate_body(kind, CURRENT_VERSION[kind], body)) for kind, body in what]
        made = [
            checked_entry(Entry(
                id=new_id(), job=job, kind=kind, at=moment, by=by, device=self.device, counter=0, body=body,
                version=CURRENT_VERSION[kind], strikes_out=strikes_out,
            ))
            for kind, body in checked
        ]
        with writing(self.engine) as connection:
            if not job_new and not self._has_job(connection, job):
                raise NotFound(f"No job {job} is in the book.")
            if strikes_out is not None:
                self._must_have(connection, job, strikes_out)
            last = connection.execute(sa.select(sa.func.max(t.entries.c.counter)).where(t.entries.c.device == self.device)).scalar()
            numbered = [replace(entry, counter=(last or 0) + 1 + place) for place, entry in enumerate(made)]
            receipts, jobs = self._add(connection, numbered)
            changed = [self._project(connection, job) for job in jobs]
        self._remember(changed)
        return [replace(e, received=r.received, sequence=r.sequence) for e, r in zip(numbered, receipts, strict=True)]

    def attach(self, data: bytes) -> str:
        """Keep a file and return its SHA-256, by which entries name it. Attaching it again changes nothing."""
        name, _ = keep_attachment(self.folder, data)
        with writing(self.engine) as connection:
            if connection.execute(sa.select(t.attachments.c.sha256).where(t.attachments.c.sha256 == name)).first() is None:
                row = {"sha256": name, "size": len(data), "received": datetime.now(UTC).isoformat()}
                connection.execute(sa.insert(t.attachments), row)
        return name

    def _add(self, connection: sa.Connection, entries: Sequence[Entry], *, as_received: bool = False, new: bool = False) -> tuple[list[Receipt], list[UUID]]:
        """Write the entries that are new and return a receipt for each, and the jobs that have new ones.

        `new` takes it that none of them is in the book, as with nearly every batch: the table itself then says if one is, by _SomeAreHere.
        """
        here = {} if new else self._kept(connection, [str(entry.id) for entry in entries])
        now = datetime.now(UTC)
        written = now.isoformat()
        before, last = connection.exec_driver_sql(_LAST).first() or (0, CHAIN_START)
        rows: dict[str, tuple[Any, ...]] = {}
        again: set[int] = set()  # places of entries that were here before, or earlier in this batch
        for place, (entry, text) in enumerate(zip(entries, as_texts(entries), strict=True)):
            one = text.id
            if one in here or one in rows:
                _must_be_same(here[one] if one in here else _kept_of(rows[one]), entry, text)
                again.add(place)
                continue
            received = entry.received.astimezone(UTC).isoformat() if as_received and entry.received else written
            row = rows[one] = row_of_entry(entry, text, received, last)
            last = row[-1]
        try:
            numbers = self._insert(connection, rows, before)
        except IntegrityError as error:
            if new:
                raise _SomeAreHere from error
            raise
        jobs = [UUID(job) for job in dict.fromkeys(row[_JOB] for row in rows.values())]
        if not again and not as_received:  # as nearly always
            return [Receipt(entry.id, number, now, True) for entry, number in zip(entries, numbers, strict=True)], jobs
        here |= {one: _kept_of(row, number) for (one, row), number in zip(rows.items(), numbers, strict=True)}
        receipts = []
        for place, entry in enumerate(entries):
            kept = here[str(entry.id)]
            receipts.append(Receipt(entry.id, kept.sequence, datetime.fromisoformat(kept.received), place not in again))
        return receipts, jobs

    def _insert(self, connection: sa.Connection, rows: dict[str, tuple[Any, ...]], before: int) -> Sequence[int]:
        """Write new rows in their order and return the sequence that each got; `before` is the last one there was."""
        if not rows:
            return ()
        sqlite = connection.dialect.name == "sqlite"
        if sqlite:
            connection.exec_driver_sql(_INSERT, list(rows.values()))
        else:
            connection.execute(sa.insert(t.entries), [dict(zip(COLUMNS, row, strict=True)) for row in rows.values()])
        # Numbers only grow, and nobody else writes meanwhile: as many as there are rows, they are the next ones in order.
        if sqlite and connection.exec_driver_sql(_LAST).one().sequence == before + len(rows):
            return range(before + 1, before + 1 + len(rows))
        kept = self._kept(connection, list(rows))
        return [kept[one].sequence for one in rows]

    def _kept(self, connection: sa.Connection, ids: Sequence[str]) -> dict[str, _Kept]:
        c = t.entries.c
        found = {}
        for first in range(0, len(ids), _AT_ONCE):
            some = ids[first:first + _AT_ONCE]
            if connection.dialect.name == "sqlite":  # the same question, without a parameter object for each id
                rows = connection.exec_driver_sql(f"SELECT id, sequence, received, hash, body FROM entries WHERE id IN ({', '.join('?' * len(some))})", tuple(some))
            else:
                rows = connection.execute(sa.select(c.id, c.sequence, c.received, c.hash, c.body).where(c.id.in_(some)))
            for row in rows:
                found[row[0]] = _Kept(*row[1:])
        return found

    def _behind(self, connection: sa.Connection, jobs: Iterable[UUID]) -> None:
        """Note which jobs have entries that the list of jobs does not count yet; `jobs` makes their lines when it is asked."""
        names = [behind_mark(job) for job in jobs]
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql(_MARK, [(name,) for name in names])
        else:
            connection.execute(sa.text(_MARK.replace("?", ":name")), [{"name": name} for name in names])

    def settle(self) -> None:
        """Make the lines of the jobs that got entries since the list was last asked for."""
        with reading(self.engine) as connection:
            if not jobs_behind(connection):
                return
        with writing(self.engine) as connection:
            behind = jobs_behind(connection)
            changed = deque((self._project(connection, job) for job in behind), _REMEMBERED)
            none_behind(connection)
        self._remember(changed)

    def _project(self, connection: sa.Connection, job: UUID) -> _Folded:
        folded = self._fold(connection, job)
        row = row_of(folded.job)
        if connection.execute(sa.update(t.jobs).where(t.jobs.c.id == row["id"]).values(**row)).rowcount == 0:
            connection.execute(sa.insert(t.jobs), row)
        return folded

    def _fold(self, connection: sa.Connection, job: UUID) -> _Folded:
        """Return the fold as the transaction sees it, reading only the entries that the last fold did not have."""
        before = self._folded.get(job)
        new = self._entries(connection, job, after=before.sequence if before else 0)
        if before and not new:
            return before
        entries = (*before.entries, *new) if before else tuple(new)
        if not entries:
            raise NotFound(f"No job {job} is in the book.")
        return _Folded(entries[-1].sequence or 0, entries, carried_on(before.folding, entries, new) if before else folded(entries))

    def _remember(self, changed: Iterable[_Folded]) -> None:
        with self._lock:
            for folded in changed:
                before = self._folded.pop(folded.job.id, None)
                self._folded[folded.job.id] = before if before and before.sequence > folded.sequence else folded
            while len(self._folded) > _REMEMBERED:
                del self._folded[next(iter(self._folded))]

    # Reading

    def entries(self, job: UUID) -> list[Entry]:
        """Return every entry of a job in the order the store took them, struck-out ones included."""
        with reading(self.engine) as connection:
            found = self._entries(connection, job)
        if not found:
            raise NotFound(f"No job {job} is in the book.")
        return found

    def entry(self, entry_id: UUID) -> Entry:
        """Return one entry."""
        with reading(self.engine) as connection:
            row = connection.execute(sa.select(t.entries).where(t.entries.c.id == str(entry_id))).first()
        if row is None:
            raise NotFound(f"No entry {entry_id} is in the book.")
        return entry_of(row)

    def since(self, sequence: int, *, job: UUID | None = None, limit: int = 1000) -> list[Entry]:
        """Return entries taken after a sequence number, for a device that asks what is new."""
        query = sa.select(t.entries).where(t.entries.c.sequence > sequence).order_by(t.entries.c.sequence).limit(limit)
        if job is not None:
            query = query.where(t.entries.c.job == str(job))
        with reading(self.engine) as connection:
            return [entry_of(row) for row in connection.execute(query)]

    def job(self, job: UUID) -> Job:
        """Return the job as its entries tell it. The result is shared: do not change it."""
        with reading(self.engine) as connection:
            folded = self._fold(connection, job)
        self._remember([folded])
        return folded.job

    def jobs(self) -> list[JobLine]:
        """Return every job in one line each, the one written to last first."""
        self.settle()
        with reading(self.engine) as connection:
            rows = connection.execute(sa.select(t.jobs).order_by(t.jobs.c.updated.desc(), t.jobs.c.last_sequence.desc()))
            return [line_of(row) for row in rows]

    def find(self, text: str) -> UUID:
        """Return the job that a person means by an id, the beginning or end of one (four digits or more), a reference or a title.

        Raises NotFound naming near matches, and BadInput naming them all when the text fits more than one job.
        """
        wanted = " ".join(str(text).split()).casefold()
        if not wanted:
            raise BadInput("job", text, "is empty", "a job's title, reference or id")
        lines = self.jobs()
        digits = wanted.replace("-", "")
        tests = (
            lambda j: j.id.hex == digits,
            lambda j: j.reference.casefold() == wanted,
            lambda j: " ".join(j.title.split()).casefold() == wanted,
            lambda j: len(digits) >= 4 and (j.id.hex.startswith(digits) or j.id.hex.endswith(digits)),
            lambda j: wanted in j.title.casefold() or (j.reference and wanted in j.reference.casefold()),
        )
        for test in tests:
            fitting = [line for line in lines if test(line)]
            if len(fitting) == 1:
                return fitting[0].id
            if fitting:
                raise BadInput("job", text, f"fits {len(fitting)} jobs: " + _named(fitting), "more of the title, or the id")
        near = difflib.get_close_matches(wanted, [line.title.casefold() for line in lines], 3, 0.5)
        like = [line for line in lines if line.title.casefold() in near] or lines[:3]
        raise NotFound(f"No job fits {text!r}. " + (f"Near it: {_named(like)}." if like else "The book is empty."))

    def attachment(self, sha256: str) -> Path:
        """Return the file kept under a hash; raise NotFound if it has not arrived."""
        return existing_attachment(self.folder, sha256)

    def _entries(self, connection: sa.Connection, job: UUID, *, after: int = 0) -> list[Entry]:
        query = sa.select(t.entries).where(t.entries.c.job == str(job), t.entries.c.sequence > after).order_by(t.entries.c.sequence)
        rows = connection.execute(query)
        return [entry_of(row) for row in rows]

    def _has_job(self, connection: sa.Connection, job: UUID) -> bool:
        return connection.execute(sa.select(t.entries.c.id).where(t.entries.c.job == str(job)).limit(1)).first() is not None

    def _must_have(self, connection: sa.Connection, job: UUID, entry: UUID) -> None:
        query = sa.select(t.entries.c.id).where(t.entries.c.id == str(entry), t.entries.c.job == str(job))
        if connection.execute(query).first() is None:
            raise NotFound(f"No entry {entry} is in that job, so it cannot be struck out.")

    # Keeping

    def check(self, rebuild: bool = False) -> CheckReport:
        """Verify every entry, attachment and projection; with `rebuild` make the projection anew from the entries."""
        from borewright.storage.checking import check

        return check(self, rebuild=rebuild)

    def backup(self, path: Path | str, *, replace: bool = False) -> Path:
        """Write one verified file that holds everything; raise Conflict if it is there already unless `replace`."""
        from borewright.storage.backup import backup

        return backup(self, Path(path), replace=replace)


@dataclass(frozen=True, slots=True)
class _Folded:
    sequence: int
    entries: tuple[Entry, ...]
    folding: Folding

    @property
    def job(self) -> Job:
        return self.folding.job


class _SomeAreHere(Exception):
    """Entries were taken to be new, and one of them is in the book already."""


class _Kept(NamedTuple):
    sequence: int
    received: str
    hash: str
    body: str


def _kept_of(row: tuple[Any, ...], sequence: int = 0) -> _Kept:
    return _Kept(sequence, row[_RECEIVED], row[_HASH], row[_BODY])


def _must_be_same(kept: _Kept, entry: Entry, text: EntryText) -> None:
    if kept.hash == text.hash:
        return
    # A body may come back with 5 where 5.0 was kept, from a device that is a format behind: the same content all the same.
    body = json.loads(kept.body)
    if body != entry.body or kept.hash != content_hash(replace(entry, body=body)):
        raise Conflict(f"Entry {entry.id} is already in the book with other content. Nothing was written.")


def _named(lines: Iterable[JobLine]) -> str:
    return ", ".join(f"{line.title!r} ({line.id.hex[-6:]})" for line in lines)


def open_job_book(folder: Path | str | None = None, *, url: str | None = None) -> JobBook:
    """Open the job book of a folder, made or brought up to date as needed; None is the data folder.

    Parameters
    ----------
    folder : path, optional
        Holds the database, the attachments, the settings and the backups.
    url : str, optional
        Another database than the SQLite file in the folder, as SQLAlchemy names it. Also read from BOREWRIGHT_DATABASE.
    """
    import os

    return open_store(data_folder() if folder is None else Path(folder), url or os.environ.get("BOREWRIGHT_DATABASE"))


def open_store(folder: Path, url: str | None = None) -> JobBook:
    """Open the job book in a folder, or the one behind a URL whose files lie in the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    engine = make_engine(url or folder / "job_book.sqlite")
    try:
        bring_up_to_date(engine, copy_to=folder / "backups")
        renew_projection(engine)
    except BaseException:
        engine.dispose()
        raise
    return JobBook(folder, engine)
