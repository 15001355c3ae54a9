"""Picking the spot and telling the odds; what was told is kept as evidence and never worked out again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from borewright.errors import Refused
from borewright.record.entries import Entry
from borewright.work.facts import need_of, place_of

if TYPE_CHECKING:
    from borewright.siting import Register
    from borewright.storage import JobBook

__all__ = ["tell_odds"]


def tell_odds(
    book: JobBook, job_id: UUID, register: Register, *, by: str, opinion: object | None = None, depths: Sequence[float] | None = None,
    at: datetime | None = None,
) -> Entry:
    """Work out the odds of the job's need at its spot from a register and write them down.

    A refusal (too few records) is written down as well: that the records were too thin is itself what the customer was told.

    Raises
    ------
    BadInput
        No need or no place on the job.
    Refused
        After it was written down.
    """
    from borewright.siting import column_as_dict, odds_as_dict, odds_at, prospect_as_dict

    job = book.job(job_id)
    need = need_of(job)
    latitude, longitude = place_of(job)
    try:
        odds = odds_at(register, latitude, longitude, need=need.flow, depths=depths, opinion=opinion)
    except Refused as refusal:
        book.write(job_id, "ground.odds", {"register_name": register.name, "need": need.flow, "answer": {}, "refused": str(refusal)}, by=by, at=at)
        raise
    told = odds_as_dict(odds)
    answer = {"odds": told, "prospect": prospect_as_dict(odds.prospect), "column": column_as_dict(odds.column)}
    return book.write(job_id, "ground.odds", {
        "register_name": register.name, "need": need.flow, "answer": answer, "sentence": str(told.get("sentence", "")),
    }, by=by, at=at)
