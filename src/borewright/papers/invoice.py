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
            [w.say("For"), w.customer()], [w.say("Invoice"), f"{quote.number}-I"], [w.say("Address"), " ".join(job.customer.body.address.split())], [w.say("Date"), w.day_of_record()],
            [w.say("Under_quote"), w.say("revision", number=quote.number, revision=quote.revision)], [w.say("Accepted"), f"{accepted.body.name}, {w.day(accepted.entry.at)}" if accepted else ""],
        ]},
        {"kind": "figures", "items": [[w.money(total, c["currency"]), w.say("to_pay_with_tax")], [w.depth(drilled), w.say("drilled")], [w.say("met") if met else w.say("not_met"), w.say("the_need_of", flow=w.typed(job.need, 'flow', w.flow(c['need'])))]]},
        heading(w.say("What_was_agreed")), {"kind": "list", "items": contract_words(c, w)},
        heading(w.say("What_is_due")),
        {"kind": "table", "head": [w.say("item"), w.say("amount"), w.say("rate"), c["currency"]], "align": "lrrr", "total": 1, "rows": [*line_rows(lines, w, c["currency"]), [w.say("To_pay_with_tax"), "", "", w.money(total, c["currency"])]]},
    ]
    foreign = [f.body for f in job.variations if f.body.currency != c["currency"]]
    if foreign:
        listed = "; ".join(f"{v.reason}, {w.money(v.amount_minor, v.currency)}" for v in foreign)
        blocks.append({"kind": "text", "text": w.say("Not_in_the_sum_because_of", listed=listed)})
    if w.settings.terms:
        blocks += [heading(w.say("Terms")), {"kind": "text", "text": w.settings.terms}]
    blocks += [{"kind": "cautions", "items": [{"severity": "note", "message": w.say("Amounts_follow_the_rate_card_named")}]}]
    return {"title": w.say("Invoice"), "blocks": blocks}
