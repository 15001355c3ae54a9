"""Pricing a job from its odds, the firm's rates and the firm's own pace; acceptance; estimate against actual."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput, Conflict, Refused
from borewright.record.done import need_met, time_logged, work_done
from borewright.record.entries import Entry
from borewright.record.fold import Job
from borewright.work.facts import last_ground_answer, need_of
from borewright.work.learning import time_model

if TYPE_CHECKING:
    from borewright.pricing import Contract, HoleForm, RateCard
    from borewright.storage import JobBook

__all__ = ["accept_quote", "estimate_against_actual", "form_of", "issue_quote", "policy_of"]


def issue_quote(
    book: JobBook, job_id: UUID, *, by: str, card: RateCard, contract: Contract | None = None, maximum_depth: float = 120.0,
    rule: str | None = None, valid_days: int = 30, holes: int = 10_000, at: datetime | None = None,
) -> Entry:
    """Work out a quote for the job as it stands and write it down; a further one is the next revision of the same number.

    Raises
    ------
    BadInput
        No need, no odds, or anything `make_quote` cannot use.
    Refused
        A promise or a rule for a need that no hole here is expected to meet.
    """
    from borewright.pricing import card_as_dict, make_quote, quote_as_dict
    from borewright.siting import column_from_dict, prospect_from_dict

    if not 1 <= valid_days <= 365:
        raise BadInput("valid_days", valid_days, "is not a number of days for a quote to stand", "1 to 365")
    job = book.job(job_id)
    need, answer = need_of(job), last_ground_answer(job)
    distance = job.site.body.distance_from_yard if job.site and job.site.body.distance_from_yard is not None else 0.0
    own = [book.job(line.id) for line in book.jobs() if line.id != job_id]
    quote = make_quote(
        prospect_from_dict(answer["prospect"]), column_from_dict(answer["column"]), card, need=need.flow, contract=contract,
        maximum_depth=maximum_depth, distance=distance, form=form_of(job), time=time_model(own), rule=rule, holes=holes,
    )
    content = quote_as_dict(quote)
    content["rate_card"] = card_as_dict(card)
    moment = at or datetime.now(UTC).astimezone()
    number = job.quotes[0].body.number if job.quotes else f"Q-{str(job_id)[9:13]}{str(job_id)[-4:]}".upper()
    return book.write(job_id, "quote.issued", {
        "number": number, "revision": 1 + max((f.body.revision for f in job.quotes), default=0),
        "valid_until": (moment + timedelta(days=valid_days)).date().isoformat(), "content": content, "content_hash": quote.content_hash,
    }, by=by, at=at)


def form_of(job: Job) -> HoleForm:
    """Return the sizes of the hole to price: those of the design last made, else the usual ones.

    The price counts grout by the metre of conductor, so all the bags of the design are spread over that length; the conductor goes as
    far below rockhead as the design takes it.
    """
    from borewright.pricing import HoleForm

    design = job.design.body.design if job.design else {}
    strings = {s["string"]: s for s in design.get("strings", ())}
    usual = HoleForm()
    if not {"conductor", "production"} <= set(strings) or not design.get("hole"):
        return usual
    conductor, production = strings["conductor"], strings["production"]
    bags = sum(a["bags"] for a in design["annulus"] if a["what"] == "grout" and a.get("bags"))
    seal = sum(a["to_depth"] - a["from_depth"] for a in design["annulus"] if a["what"] == "seal")
    slotted = sum(s["to_depth"] - s["from_depth"] for s in design["slots"])
    rockhead = last_ground_answer(job)["column"]["rockhead_quantiles"]
    middle = min(rockhead, key=lambda p: abs(float(p) - 0.5)) if rockhead else None
    key_in = max(usual.key_in, conductor["to_depth"] - float(rockhead[middle])) if middle else usual.key_in
    return replace(
        usual, main_diameter=design["hole"][-1]["diameter"], upper_diameter=design["hole"][0]["diameter"],
        surface_casing_diameter=conductor["outside_diameter"], production_casing_diameter=production["outside_diameter"], key_in=key_in,
        slotted=slotted or usual.slotted, seal=seal or usual.seal, grout_per_metre=bags / conductor["to_depth"] if bags else usual.grout_per_metre,
    )


def accept_quote(
    book: JobBook, job_id: UUID, *, name: str, by: str, revision: int | None = None, way: str = "in person", at: datetime | None = None,
) -> Entry:
    """Write down that a person accepted a quote, with the hash of exactly what was accepted.

    Raises
    ------
    BadInput
        No name, no such revision.
    Conflict
        The quote has run out, a later revision stands, or it was accepted already: the first acceptance is the one that counts.
    """
    job = book.job(job_id)
    if not name.strip():
        raise BadInput("name", name, "is empty", "the name of the person who accepts")
    if job.quote is None:
        raise BadInput("quote", None, "is not issued on this job", "a quote first")
    quote = job.quote.body
    if revision is not None and revision != quote.revision:
        known = [f.body.revision for f in job.quotes]
        if revision not in known:
            raise BadInput("revision", revision, "was never issued", "one of " + ", ".join(map(str, known)))
        raise Conflict(f"revision {revision} of quote {quote.number} was replaced by revision {quote.revision}")
    moment = at or datetime.now(UTC).astimezone()
    if quote.valid_until and moment.date().isoformat() > quote.valid_until:
        raise Conflict(f"quote {quote.number} ran out on {quote.valid_until}; issue it again")
    if job.accepted is not None:
        first = job.accepted
        raise Conflict(f"quote {quote.number}, revision {quote.revision}, was accepted already by {first.body.name} on {first.entry.at.date().isoformat()}")
    return book.write(job_id, "quote.accepted", {
        "number": quote.number, "revision": quote.revision, "name": name.strip(), "content_hash": quote.content_hash, "way": way,
    }, by=by, at=at)


def policy_of(job: Job) -> dict[str, Any] | None:
    """Return the stop rule's table of the quote last issued, or None."""
    return job.quote.body.content.get("table") if job.quote else None


def estimate_against_actual(job: Job) -> dict[str, Any]:
    """Return what the quote foresaw beside what the log holds.

    Each row is {"what", "kind", "p10", "p50", "p90", "actual", "inside"}, in SI or whole minor units by its kind ("depth", "time" or
    "money"); rows without an actual are left out. Metres and hours stand from the first log on; price, the firm's cost and profit once the
    hole is finished, by the rate card of the quote. "lacks" says in words what the log does not hold for them.
    """
    if job.quote is None or not job.holes:
        return {"rows": [], "lacks": ""}
    content = job.quote.body.content
    logged = time_logged(job)
    rows = [("metres drilled", "depth", content["metres"], sum(hole.depth for hole in job.holes.values()))]
    if logged is not None:
        rows.append(("time on the hole", "time", content["seconds"], logged))
    money, lacks = _money_of(job, content, logged) if job.outcome in ("water", "no water") else ([], "")
    return {"lacks": lacks, "rows": [
        {"what": what, "kind": kind, "p10": q["p10"], "p50": q["p50"], "p90": q["p90"], "actual": actual, "inside": q["p10"] <= actual <= q["p90"]}
        for what, kind, q, actual in rows + money
    ]}


def _money_of(job: Job, content: dict[str, Any], logged: float | None) -> tuple[list[tuple[str, str, dict[str, float], int]], str]:
    """Return the rows of price, cost and profit of a finished job, and what kept any of them out."""
    from borewright.pricing import Contract, Variation, WorkDone, bill_for, card_from_dict, cost_of, prior_time_model

    if not content.get("rate_card"):
        return [], "The quote carries no rate card, so its price cannot be held against the log."
    card, holes = card_from_dict(content["rate_card"]), [WorkDone(**hole) for hole in work_done(job)]
    distance = float(content.get("distance") or 0.0)
    try:
        bill = bill_for(
            card, Contract(**content["contract"]), holes, need_met=need_met(job, content["need"]), distance=distance,
            variations=[Variation(f.body.reason, f.body.amount_minor, f.body.currency) for f in job.variations],
        )
        rows = [("price with tax", "money", content["price"], bill.total)]
        if logged is None:
            return rows, "Too few entries carry a time for the hours, so there is no cost."
        # Hours foreseen hold the road; a log begins at the site, so the road is added at the pace the quote was made with.
        hours = logged + 2.0 * distance / prior_time_model().travel_speed
        cost = cost_of(card, holes, hours=hours, distance=distance)
    except Refused as refused:
        return [], str(refused)
    return [*rows, ("own cost", "money", content["cost"], cost), ("profit", "money", content["profit"], bill.total - bill.tax - cost)], ""
