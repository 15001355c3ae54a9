"""What is due for a job as it was done: the quote's rate card and contract on the quantities that the job book holds."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from borewright.errors import Refused
from borewright.record.done import need_met as met_by
from borewright.record.done import work_done
from borewright.record.fold import Job

__all__ = ["charge_lines", "need_met"]


def need_met(job: Job) -> bool:
    """Return whether the flow measured last in any hole that stands open reached the need that was quoted."""
    return met_by(job, job.quote.body.content["need"])


def charge_lines(job: Job) -> tuple[list[dict[str, Any]], int]:
    """Return the lines due and their sum, whole minor units; see `borewright.pricing.bill_for`.

    Raises
    ------
    Refused
        The quote carries no rate card, metres have no diameter to charge by, or the card has no line for what was done.
    """
    from borewright.pricing import Contract, Variation, WorkDone, bill_for, card_from_dict

    content = job.quote.body.content
    if not content.get("rate_card"):
        raise Refused("The quote carries no rate card, so nothing can be charged by it: issue the quote again.")
    bill = bill_for(
        card_from_dict(content["rate_card"]), Contract(**content["contract"]), [WorkDone(**hole) for hole in work_done(job)],
        need_met=need_met(job), distance=float(content.get("distance") or 0.0),
        variations=[Variation(f.body.reason, f.body.amount_minor, f.body.currency) for f in job.variations],
    )
    return [asdict(line) for line in bill.lines], bill.total
