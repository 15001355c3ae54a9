"""The quote: what will happen, what it may cost, what is promised, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from borewright.drawing import living_section, section_of
from borewright.papers.wording import Wording, advisories_of, heading
from borewright.record.fold import Job

__all__ = ["content", "contract_words", "line_rows"]


# Doubts about the firm's own money: they stand on the job page, not on the customer's paper.
FIRM_ONLY = ("simulation-is-not-insurance", "below-cost", "promise-below-cost", "least-depth", "metres-pay")


def line_rows(lines: list[Mapping[str, Any]], w: Wording, currency: str) -> list[list[str]]:
    """Return itemised lines as words: what, how much, rate, amount."""
    rows = []
    for line in lines:
        amount = line["quantity_thousandths"] / 1000
        once = line["unit"] == "job"
        rows.append([line["label"], "" if once else f"{amount:g} {line['unit']}", "" if once else w.money(line["rate_minor"], currency), w.money(line["amount_minor"], currency)])
    return [[cell or "–" for cell in row] for row in rows]


def contract_words(content: Mapping[str, Any], w: Wording) -> list[str]:
    """Return what is agreed about money, each term a sentence."""
    contract, currency = content["contract"], content["currency"]
    said = []
    share = contract.get("dry_hole_share", 1.0)
    if contract["kind"] == "per metre":
        said.append("You pay for the metres drilled and the work done, at the rates in the table, whether or not enough water is found.")
    elif contract["kind"] == "fixed":
        said.append(f"You pay {w.money(contract['fixed'], currency)} before tax for a {w.word} that gives the need.")
    else:
        price = contract.get("promise_price")
        said.append(f"The promise: if the need is not met you pay {'nothing for the hole' if share == 0 else f'only {share:.0%} of the charge'}."
                    + (f" For it, {w.money(price, currency)} before tax is added when the need is met." if price else ""))
    if contract["kind"] != "promise" and share < 1:
        said.append(f"If the need is not met you pay {share:.0%} of the charge.")
    if contract.get("deposit"):
        said.append(f"A deposit of {w.money(contract['deposit'], currency)} before tax is kept whatever happens.")
    if contract.get("metres_cap"):
        said.append(f"Metres below {w.depth(contract['metres_cap'])} are not charged.")
    if contract.get("least_depth"):
        said.append(f"The hole is not given up above {w.depth(contract['least_depth'])}.")
    return said


def _what_happens(job: Job, w: Wording, content: Mapping[str, Any]) -> list[str]:
    need = w.typed(job.need, "flow", w.flow(content["need"]))
    said = [f"The rig drills at the spot agreed until the hole gives {need}, or until going on is no longer worth it, and to {w.depth(content['maximum_depth'])} at the deepest."]
    leave = content["walk_away"].get("dry")
    if leave is not None:
        said.append(f"A hole that is still dry at {w.depth(leave)} is given up, unless you and the driller agree in writing to go on.")
    said.append(f"A {w.word} that gives enough is cased, sealed against surface water, cleaned by air-lifting and tested. You get its record and its papers.")
    said.append("A hole that does not is sealed as the local code asks.")
    return said


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the quote's data."""
    body = job.quote.body
    c = body.content
    money = lambda v: w.round_money(v, c["currency"])
    rows = []
    for name, label, shown in (("metres", "Metres drilled", lambda v: w.depth(round(v))), ("seconds", "Hours on the job", w.hours), ("price", "Price with tax", money)):
        q = c[name]
        rows.append([label, shown(q["p10"]), shown(q["p50"]), shown(q["p90"])])
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": [
            ["For", w.customer()], ["Quote", f"{body.number}, revision {body.revision}"], ["At", (job.site.body.name if job.site else "") or w.place(job.spot or job.site)],
            ["Stands until", w.iso_day(body.valid_until)], ["The need", w.typed(job.need, "flow", w.flow(c["need"]))], ["Rates", c["card_name"]],
        ]},
        {"kind": "figures", "items": [
            [w.in_100(c["chance_found"]), f"chance of the need by {w.depth(c['maximum_depth'])}"], [money(c["price"]["p50"]), "as likely to cost more as less"],
            [f"{money(c['price']['p10'])} – {money(c['price']['p90']).split(' ')[-1]}", "8 such jobs in 10 cost this"],
        ]},
        {"kind": "pair", "left": [
            heading("What will happen"), {"kind": "list", "items": _what_happens(job, w, c)},
            heading("What it may cost"),
            {"kind": "table", "head": ["", "1 in 10 less", "as likely", "1 in 10 more"], "align": "lrrr", "rows": rows},
            heading("What is agreed about money"), {"kind": "list", "items": contract_words(c, w)},
        ], "right": [{"kind": "picture", **_picture(job, w)}]},
        heading("How it may go"),
        {"kind": "table", "head": ["", "what it stands for", "depth", "hours", "you pay, with tax"], "align": "llrrr", "widths": [0, 1, 0, 0, 0], "rows": [
            [s["name"].capitalize(), s["stands_for"], w.depth(s["depth"]), w.hours(s["seconds"]), w.money(s["price_minor"], c["currency"])] for s in c["scenarios"]
        ], "note": f"From {c['holes']:,} simulated holes; {c['effective_records']:.0f} bores' worth of records stand behind the odds. The figures are ranges, not limits."},
    ]
    for scenario in c["scenarios"]:
        if scenario["name"] in ("likely", "no water"):
            title = f"Itemised: {scenario['name']}, {w.depth(scenario['depth'])}"
            blocks += [heading(title), {"kind": "table", "head": ["item", "amount", "rate", c["currency"]], "align": "lrrr", "total": 1,
                                        "rows": [*line_rows(scenario["lines"], w, c["currency"]), ["To pay, with tax", "", "", w.money(scenario["price_minor"], c["currency"])]]}]
    causes = [s for s in c["sensitivities"] if abs(s["price_high"] - s["price_low"]) > 0][:5]
    if causes:
        blocks += [heading("What moves the price"), {"kind": "table", "head": ["cause", "if", "expected price", "if", "expected price"], "align": "llrlr", "widths": [1, 1, 0, 1, 0], "rows": [
            [s["cause"].capitalize(), s["low_setting"], money(s["price_low"]), s["high_setting"], money(s["price_high"])] for s in causes]}]
    blocks += [heading("What else to know"), {"kind": "cautions", "items": advisories_of([a for a in c["advisories"] if a.get("code") not in FIRM_ONLY])}]
    if w.settings.terms:
        blocks += [heading("Terms"), {"kind": "text", "text": w.settings.terms}]
    accepted = next((f for f in job.acceptances if f.body.content_hash == body.content_hash), None)
    if accepted:
        said = f"Accepted by {accepted.body.name} on {w.day(accepted.entry.at)}" + (f", {accepted.body.way}" if accepted.body.way else "") + "."
        blocks += [heading("Acceptance"), {"kind": "text", "text": said}]
    else:
        blocks += [heading("Acceptance"), {"kind": "lines", "items": ["name", "signature", "date"]}]
    return {"title": f"Quote {body.number}", "blocks": [*blocks, {"kind": "text", "text": f"Content of the quote: {body.content_hash}"}]}


def _picture(job: Job, w: Wording) -> dict[str, Any]:
    """The hole as it is planned; a hole that was begun since stays off the quote."""
    from dataclasses import replace

    expected = [f.body.design for f in job.designs if f.body.basis == "expected"]
    section = section_of(replace(job, holes={}), design=expected[-1] if expected else {})
    svg = living_section(section, width=247, height=345, medium="paper", units=w.system)
    return {"svg": svg, "alt": "The expected ground, the planned construction and its depth", "caption": f"Expected ground and planned {w.word}."}
