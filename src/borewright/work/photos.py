"""A photo into the job book: the file kept whole, with the time and place that it carries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.pictures import picture_facts

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["attach_photo"]

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
