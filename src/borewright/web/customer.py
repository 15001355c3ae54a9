"""The quote as the customer reads it, on a phone: what will happen, what each case costs, what is promised, and a name to accept it with.

Nothing of the firm's own costs, profit or reserve comes onto these pages.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from borewright.errors import BadInput, BorewrightError, Conflict, NotFound
from borewright.web.jobs import Posted, job_id
from borewright.web.present import desk_of, page

__all__ = ["WAY", "customer_view", "router"]

router = APIRouter(include_in_schema=False)

WAY = "on this screen"
# What happens in each case, in the customer's words; the names are those of the quote's scenarios.
CASES = {
    "shallow": ("Water comes early", "One successful hole in ten is as shallow as this."),
    "likely": ("About in the middle", "Half of the successful holes end above this depth, half below."),
    "deep": ("Water comes late", "One successful hole in ten goes deeper than this."),
    "no water": ("Not enough water", "The need is not met and the hole is sealed."),
}
# Doubts that concern the firm's own purse, not the customer.
_FIRM_ONLY = ("simulation-is-not-insurance", "below-cost", "promise-below-cost", "least-depth", "metres-pay")


def _fact_of(job: Any, revision: int | None) -> Any:
    if job.quote is None:
        raise NotFound("No quote has been worked out for this job yet.")
    if revision is None:
        return job.quote
    fact = next((f for f in job.quotes if f.body.revision == revision), None)
    if fact is None:
        raise NotFound(f"Quote {job.quote.body.number} has no revision {revision}.")
    return fact


def _odds_told(job: Any, quote: Any) -> dict[str, Any] | None:
    """Return the odds that stood when the quote was issued, at the depth planned for: {"depth", "chance", "low", "high"}."""
    told = [f for f in job.odds if f.entry.at <= quote.entry.at] or job.odds
    rows = [r for r in told[-1].body.answer.get("odds", {}).get("by_depth", []) if isinstance(r, dict) and {"depth_m", "p", "low", "high"} <= set(r)] if told else []
    if not rows:
        return None
    row = min(rows, key=lambda r: abs(r["depth_m"] - quote.body.content["maximum_depth"]))
    return {"depth": row["depth_m"], "chance": row["p"], "low": row["low"], "high": row["high"]}


def _state(job: Any, fact: Any, today: date) -> str:
    """Return whether a revision is "accepted", "replaced", "run out" or "open"."""
    if any(f.body.content_hash == fact.body.content_hash for f in job.acceptances):
        return "accepted"
    if fact.body.revision != job.quote.body.revision:
        return "replaced"
    return "run out" if fact.body.valid_until and today.isoformat() > fact.body.valid_until else "open"


def customer_view(job: Any, settings: Any, *, revision: int | None = None, now: datetime | None = None) -> dict[str, Any]:
    """Return what the customer's page shows of one revision of a quote, the last unless one is named. Raises NotFound."""
    from borewright.papers.quote import contract_words
    from borewright.papers.wording import Wording

    fact = _fact_of(job, revision)
    content = fact.body.content
    today = (now or datetime.now(UTC).astimezone()).date()
    accepted = next((f for f in job.acceptances if f.body.content_hash == fact.body.content_hash), None)
    return {
        "fact": fact, "content": content, "state": _state(job, fact, today), "accepted": accepted, "odds": _odds_told(job, fact),
        "latest": job.quote.body.revision,
        "cases": [{"name": s["name"], "title": CASES.get(s["name"], (s["name"], s["stands_for"]))[0], "words": CASES.get(s["name"], ("", s["stands_for"]))[1],
                   "depth": s["depth"], "seconds": s["seconds"], "price": s["price_minor"], "found": s["found"], "lines": s["lines"]} for s in content["scenarios"]],
        "money": contract_words(content, Wording(job, settings)),
        "leave": content["walk_away"].get("dry"),
        "doubts": [a for a in content["advisories"] if a.get("code") not in _FIRM_ONLY],
        "revisions": [{"number": f.body.revision, "at": f.entry.at, "state": _state(job, f, today), "hash": f.body.content_hash} for f in reversed(job.quotes)],
        "variations": job.variations if fact is job.quote else [],
    }


def _shown(request: Request, job: Any, revision: int | None, *, given: str = "", wrong: BadInput | None = None, told: str = "", status: int = 200) -> Response:
    view = customer_view(job, desk_of(request).settings, revision=revision)
    return page(request, "customer.html", status=status, job=job, v=view, given=given, wrong=wrong, told=told, thanks="thanks" in request.query_params)


@router.get("/jobs/{job}/quote/customer")
def last(request: Request, job: str) -> Response:
    """The quote last issued."""
    return _shown(request, desk_of(request).book.job(job_id(job)), None)


@router.get("/jobs/{job}/quote/customer/{revision}")
def one(request: Request, job: str, revision: int) -> Response:
    """A revision as it was issued; an old one stays readable."""
    return _shown(request, desk_of(request).book.job(job_id(job)), revision)


@router.post("/jobs/{job}/quote/customer/{revision}")
def accept(request: Request, job: str, revision: int, given: Posted) -> Response:
    """Write down that the customer accepts this revision; whatever forbids it is said politely and nothing is written."""
    from borewright.work.quoting import accept_quote

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    fact = _fact_of(folded, revision)
    name = given.get("name", "")
    if given.get("content_hash") != fact.body.content_hash:
        return _shown(request, folded, revision, given=name, told="The page that you signed does not show this quote as it stands. Please read it again below.", status=409)
    try:
        accept_quote(desk.book, folded.id, name=name[:200], by=desk.by, revision=revision, way=WAY)
    except BadInput as error:
        return _shown(request, folded, revision, given=name, wrong=error, status=422)
    except Conflict as error:
        return _shown(request, desk.book.job(folded.id), revision, given=name, told=_kindly(str(error).strip("'\"")), status=409)
    except BorewrightError as error:
        return _shown(request, folded, revision, given=name, told=str(error).strip("'\""), status=422)
    return RedirectResponse(f"/jobs/{folded.id}/quote/customer/{revision}?thanks", status_code=303)


def _kindly(problem: str) -> str:
    return f"Thank you, but this cannot be accepted: {problem}. Nothing was signed; please speak to the driller."
