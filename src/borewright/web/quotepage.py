"""What the quote stage shows of the quote last issued: cases, what moves the price, whose rule it is, and how the job came out."""

from __future__ import annotations

from typing import Any

__all__ = ["price_bars", "quote_view", "terms"]


def price_bars(content: dict[str, Any]) -> list[dict[str, Any]]:
    """Return each cause with its bar: where it begins and how long it is, in hundredths of the span of all; the longest first."""
    causes = [s for s in content.get("sensitivities", ()) if s["price_high"] != s["price_low"]]
    if not causes:
        return []
    ends = [v for s in causes for v in (s["price_low"], s["price_high"])]
    least, span = min(ends), max(ends) - min(ends)
    bars = []
    for s in sorted(causes, key=lambda s: -abs(s["price_high"] - s["price_low"])):
        left, right = sorted((s["price_low"], s["price_high"]))
        bars.append({**s, "at": round(100 * (left - least) / span, 2), "long": round(max(100 * (right - left) / span, 0.6), 2)})
    return bars


def terms(contract: dict[str, Any]) -> list[tuple[str, str, Any]]:
    """Return the terms of a contract that were set: words, kind of the value ("money", "depth", "share") and the value."""
    named = (("Fixed price before tax", "money", "fixed"), ("Price of the promise before tax", "money", "promise_price"), ("Deposit", "money", "deposit"),
             ("Metres charged, at most", "depth", "metres_cap"), ("Not given up above", "depth", "least_depth"))
    said = [(words, kind, contract[key]) for words, kind, key in named if contract.get(key)]
    if contract.get("dry_hole_share", 1.0) != 1.0:
        said.append(("Part charged for a dry hole", "share", contract["dry_hole_share"]))
    return said


def quote_view(job: Any) -> dict[str, Any]:
    """Return what the stage's template names."""
    from borewright.work.quoting import estimate_against_actual

    content = job.quote.body.content if job.quote else None
    answer = estimate_against_actual(job)
    return {
        "quote": job.quote, "content": content, "accepted": job.accepted, "variations": job.variations, "bars": price_bars(content) if content else [],
        "terms": terms(content["contract"]) if content else [], "actual": answer["rows"], "lacks": answer["lacks"],
    }
