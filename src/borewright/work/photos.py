"""A photo into the job book: the file kept whole, with the time and place that it carries."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.pictures import picture_facts

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["attach_photo", "attach_photos", "photo_list", "write_photos"]

LARGEST = 30 * 2**20  # bytes
EARLIEST = datetime(1990, 1, 1, tzinfo=UTC)  # a camera whose clock was never set tells an earlier day


def attach_photo(book: JobBook, job: UUID, data: bytes, *, by: str, hole: int | None = None, depth: float | None = None, caption: str = "", zone: str = "UTC") -> Entry:
    """Keep a photo and write it into the job book; return the entry.

    Parameters
    ----------
    hole : int, optional
        The last by default.
    depth : float, optional
        Below ground, what the photo shows [m].
    zone : str
        IANA zone in which the camera's clock is read where the file names no offset and the site no zone.

    Raises
    ------
    BadInput
        A file that is no whole JPEG, PNG or WebP, or is too large; what the entry itself refuses.
    """
    if len(data) > LARGEST:
        raise BadInput("photo", len(data), "is too large", f"at most {LARGEST // 2**20} MB")
    facts = picture_facts(data)
    folded = book.job(job)
    number = hole if hole is not None else folded.hole.number if folded.hole else 1
    body: dict[str, Any] = {"hole": number, "attachment": "0" * 64, "media_type": facts.media_type}
    if depth is not None:
        body["depth"] = depth
    if caption:
        body["caption"] = caption
    if facts.latitude is not None:
        body |= {"latitude": facts.latitude, "longitude": facts.longitude}
    moment = _moment(facts.taken, (folded.site.body.zone if folded.site else "") or zone)
    from borewright.record.bodies import CURRENT_VERSION, validate_body

    validate_body("rig.photo", CURRENT_VERSION["rig.photo"], body)  # before the file is kept
    return book.write(job, "rig.photo", body | {"attachment": book.attach(data)}, by=by, at=moment)


def attach_photos(book: JobBook, job: UUID, files: Iterable[str | Path], **more: Any) -> list[Entry]:
    """Keep photos from files, all of them or none where one is no photo; further arguments are those of `attach_photo`."""
    read = []
    for name in files:
        path = Path(name)
        if not path.is_file():
            raise BadInput("photo", str(name), "is not there", "the path of a JPEG, PNG or WebP file")
        if path.stat().st_size > LARGEST:  # looked at before it is read
            raise BadInput("photo", path.name, "is too large", f"at most {LARGEST // 2**20} MB")
        data = path.read_bytes()
        try:
            picture_facts(data)
        except BadInput as bad:
            raise BadInput("photo", path.name, bad.problem, bad.want) from None
        read.append(data)
    return [attach_photo(book, job, data, **more) for data in read]


def photo_list(book: JobBook, job: UUID) -> list[dict[str, Any]]:
    """Return the photos of a job, hole by hole and in order of time, as plain rows."""
    rows = []
    for hole in book.job(job).holes.values():
        for fact in sorted(hole.photos, key=lambda f: f.entry.at):
            b = fact.body
            rows.append({"at": fact.entry.at.isoformat(), "hole": hole.number, "depth_m": b.depth, "caption": b.caption, "latitude": b.latitude, "longitude": b.longitude,
                         "place_of": b.place_of if b.latitude is not None else None, "place_within_m": b.place_within, "media_type": b.media_type, "attachment": b.attachment, "entry": str(fact.entry.id)})
    return sorted(rows, key=lambda row: row["entry"])


def write_photos(book: JobBook, job: UUID, folder: str | Path, *, whole: bool = False) -> list[dict[str, Any]]:
    """Write the photos of a job into a folder, each bare of all but the picture unless `whole`; return their rows with the file each became."""
    from borewright.record.pictures import without_private_data

    place = Path(folder)
    if place.exists() and not place.is_dir():
        raise BadInput("out", str(folder), "is not a folder", "a folder, made if it is not there")
    place.mkdir(parents=True, exist_ok=True)
    rows = photo_list(book, job)
    for row in rows:
        data = book.attachment(row["attachment"]).read_bytes()
        ending = {"image/png": "png", "image/webp": "webp"}.get(row["media_type"], "jpg")
        path = place / f"hole-{row['hole']}-{row['attachment'][:12]}.{ending}"
        path.write_bytes(data if whole else without_private_data(data))
        row["file"] = str(path)
    return rows


def _moment(taken: datetime | None, zone: str) -> datetime | None:
    """Return when the camera says, or None (which is now) where it says nothing that can be so."""
    from zoneinfo import ZoneInfo

    if taken is None:
        return None
    if taken.tzinfo is None:
        try:
            taken = taken.replace(tzinfo=ZoneInfo(zone))
        except (KeyError, ValueError, OSError):
            taken = taken.replace(tzinfo=UTC)
    return taken if EARLIEST <= taken <= datetime.now(UTC) + timedelta(hours=1) else None
