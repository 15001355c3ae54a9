"""What every door (command, page) does with a book and a file: write jobs in a format, and bring a file in, whole or not at all."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from borewright.errors import BadInput, NotFound
from borewright.exchange.bore import Bore, bores_of, entries_of
from borewright.exchange.depths import check_depths
from borewright.exchange.files import whole_file
from borewright.exchange.reading import Import, read_any
from borewright.record import Entry

__all__ = ["FORMATS", "Brought", "bring_in", "write_jobs"]

# name -> (ending of the file, is it text, what it is in words)
FORMATS: dict[str, tuple[str, bool, str]] = {
    "csv": (".csv.zip", False, "CSV tables in a zip, with a data package descriptor"),
    "geojson": (".geojson", True, "GeoJSON, RFC 7946"),
    "gwml2": (".gwml2.xml", True, "OGC GroundWaterML 2.2, one bore"),
    "gpkg": (".gpkg", False, "OGC GeoPackage 1.3, for any map program"),
    "waterml": (".waterml.xml", True, "OGC WaterML 2.0, the water levels of one bore"),
    "ics": (".ics", True, "iCalendar: rig days, jobs to drill, quotes that run out"),
    "archive": (".archive.zip", False, "everything, to restore byte for byte"),
}
_ID_OF_A_JOB = re.compile(r"^([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})-\d{1,2}$")


@dataclass(frozen=True, slots=True)
class Brought:
    """What bringing a file in did: its format, the jobs it holds, how many entries and attachments came, and how many were new."""

    format: str
    jobs: tuple[UUID, ...]
    entries: int
    fresh: int
    attachments: int


def write_jobs(book: Any, jobs: Iterable[UUID], format: str, path: Path, *, hole: int | None = None, made: datetime | None = None) -> int:
    """Write jobs of a book in one of `FORMATS` to a file that is whole or absent; return its size in bytes.

    Parameters
    ----------
    book : JobBook
    hole : int, optional
        For the formats that hold one bore: which hole of the job; the last by default. For the others: only that hole.
    made : datetime, optional
        Moment written into an archive, a calendar or a GeoPackage; now by default.

    Raises
    ------
    BadInput
        No such format; no such hole; several jobs for a format of one bore; what the format itself cannot do without.
    """
    if format not in FORMATS:
        raise BadInput("format", format, "is not known", "one of " + ", ".join(FORMATS))
    jobs, made = list(jobs), made or datetime.now().astimezone()
    if format == "archive":
        from borewright.exchange.archive import write_archive

        entries = sorted((e for job in jobs for e in book.entries(job)), key=lambda e: e.sequence or 0)
        with whole_file(path) as part, part.open("w+b") as stream:  # photos go through one at a time
            write_archive(entries, _kept(book, entries), stream, made=made)
    elif format == "ics":
        from borewright.exchange.ics import write_calendar

        _put(path, write_calendar([book.job(job) for job in jobs], made=made))
    else:
        bores = [b for job in jobs for b in bores_of(book.job(job)) if hole is None or b.hole == hole]
        if not bores:
            raise BadInput("hole", hole, "is not a hole of the job", "the number of a hole, or none for all")
        if format in ("gwml2", "waterml") and len(jobs) != 1:
            raise BadInput("job", len(jobs), f"are too many for {format}, which holds one bore", "one job")
        _write_bores(bores, format, path, made)
    return path.stat().st_size


def _write_bores(bores: list[Bore], format: str, path: Path, made: datetime) -> None:
    if format == "gpkg":
        from borewright.exchange.geopackage import write_geopackage

        write_geopackage(bores, path, made=made)
    elif format == "csv":
        from borewright.exchange.csvset import write_csv_set

        _put(path, write_csv_set(bores))
    elif format == "geojson":
        from borewright.exchange.geojson import write_geojson

        _put(path, write_geojson(bores).encode())
    elif format == "gwml2":
        from borewright.exchange.gwml2 import write_gwml2

        _put(path, write_gwml2(bores[-1]))
    else:
        from borewright.exchange.waterml import write_levels

        _put(path, write_levels(bores[-1]))


def _put(path: Path, data: bytes) -> None:
    with whole_file(path) as part:
        part.write_bytes(data)


def _kept(book: Any, entries: list[Entry]) -> Iterable[tuple[str, Path]]:
    """Yield the attachments that are here; one that a phone has still to send cannot be archived yet."""
    from borewright.exchange.archive import attachments_named

    for name in attachments_named(entries):
        try:
            yield name, book.attachment(name)
        except NotFound:
            continue


def bring_in(book: Any, path: Path, *, by: str, at: datetime | None = None, dry_run: bool = False) -> Brought:
    """Read a file and put what it holds into a book: all of it, or on any fault nothing.

    Bores become new jobs whose ids follow from theirs, so the same file brought in twice adds nothing the second time. An archive brings its
    entries as they were written.

    Raises
    ------
    BadInput
        The first thing in the file that cannot stand, by name; or a bore that is this book's own.
    Conflict
        An entry of an archive whose id stands for something else here.
    """
    found = read_any(path)
    if held := found.archive:
        if dry_run:
            return Brought(found.format, held.jobs, held.count, 0, len(held.attachments))
        for _, data in held.each_attachment():  # before the entries that name them; a file on its own is nothing half written
            book.attach(data)
        return Brought(found.format, held.jobs, held.count, book.take_in(held.each_entry()), len(held.attachments))
    entries = _entries(book, found, by=by, at=at or datetime.now().astimezone())
    jobs = tuple(dict.fromkeys(e.job for e in entries))
    if dry_run:
        return Brought(found.format, jobs, len(entries), 0, 0)
    return Brought(found.format, jobs, len(entries), sum(r.fresh for r in book.add(entries)), 0)


def _entries(book: Any, found: Import, *, by: str, at: datetime) -> list[Entry]:
    known = {str(line.id) for line in book.jobs()}
    entries: list[Entry] = []
    for bore in found.bores:
        own = _ID_OF_A_JOB.match(bore.id)
        if own and own.group(1) in known:
            raise BadInput("bore_id", bore.id, "is a bore of this book, which would come in twice", "a file from elsewhere; an archive brings entries back")
        check_depths(bore)
        made = entries_of(bore, by=by, at=at)
        if str(made[0].job) in known:
            # Another format or edition of the same bore has other moments and rows: added to those here, every reading would stand twice.
            here = {entry.id: entry for entry in book.entries(made[0].job)}
            if any(entry.id not in here for entry in made):
                raise BadInput("bore_id", bore.id, "has come in before, from a file that says something else of it", "the same file, or the bore under another id")
            made = [here[entry.id] for entry in made]  # a file that gives no time was taken in at another moment
        entries += made
    return entries
