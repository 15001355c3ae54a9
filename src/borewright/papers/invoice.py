"""The invoice: what was agreed, what was done, what is due."""

from __future__ import annotations

from typing import Any

from borewright.papers.charges import charge_lines, need_met
from borewright.papers.quote import contract_words, line_rows
from borewright.papers.wording import Wording, heading
from borewright.record.fold import Job

__all__ = ["content"]


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the invoice's data."""
    quote = job.quote.body
    c = quote.content
    lines, total = charge_lines(job)
    accepted = next((f for f in job.acceptances if f.body.content_hash == quote.content_hash), None)
    met = need_met(job)
    drilled = sum(h.depth for h in job.holes.values())
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": [
            ["For", w.customer()], ["Invoice", f"{quote.number}-I"], ["Address", " ".join(job.customer.body.address.split())], ["Date", w.day_of_record()],
            ["Under quote", f"{quote.number}, revision {quote.revision}"], ["Accepted", f"{accepted.body.name}, {w.day(accepted.entry.at)}" if accepted else ""],
        ]},
        {"kind": "figures", "items": [[w.money(total, c["currency"]), "to pay, with tax"], [w.depth(drilled), "drilled"], ["met" if met else "not met", f"the need of {w.typed(job.need, 'flow', w.flow(c['need']))}"]]},
        heading("What was agreed"), {"kind": "list", "items": contract_words(c, w)},
        heading("What is due"),
        {"kind": "table", "head": ["item", "amount", "rate", c["currency"]], "align": "lrrr", "total": 1, "rows": [*line_rows(lines, w, c["currency"]), ["To pay, with tax", "", "", w.money(total, c["currency"])]]},
    ]
    foreign = [f.body for f in job.variations if f.body.currency != c["currency"]]
    if foreign:
        blocks.append({"kind": "text", "text": "Not in the sum, because of another currency: " + "; ".join(f"{v.reason}, {w.money(v.amount_minor, v.currency)}" for v in foreign) + "."})
    if w.settings.terms:
        blocks += [heading("Terms"), {"kind": "text", "text": w.settings.terms}]
    blocks += [{"kind": "cautions", "items": [{"severity": "note", "message": "Amounts follow the rate card named in the quote. Check tax and what an invoice must show where you work before it is sent."}]}]
    return {"title": "Invoice", "blocks": blocks}
