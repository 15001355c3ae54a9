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
        unit = f"{line['unit']}s" if line["unit"] in ("bag", "hole") and amount != 1 else line["unit"]
        rows.append([w.told(line["label"]), "" if once else f"{w.n(amount, 10)} {w.term(unit)}", "" if once else w.money(line["rate_minor"], currency), w.money(line["amount_minor"], currency)])
    return [[cell or "–" for cell in row] for row in rows]


def contract_words(content: Mapping[str, Any], w: Wording) -> list[str]:
    """Return what is agreed about money, each term a sentence."""
    contract, currency = content["contract"], content["currency"]
    said = []
    share = contract.get("dry_hole_share", 1.0)
    if contract["kind"] == "per metre":
        said.append(w.say("You_pay_for_the_depth_drilled"))
    elif contract["kind"] == "fixed":
        said.append(w.say("You_pay_before_tax_for_a", money=w.money(contract['fixed'], currency)))
    else:
        price = contract.get("promise_price")
        due = w.say("nothing_for_the_hole") if share == 0 else w.say("only_of_the_charge", percent=w.percent(share))
        said.append(w.say("The_promise_if_the_need_is", due=due) + (" " + w.say("For_it_before_tax_is_added", money=w.money(price, currency)) if price else ""))
    if contract["kind"] != "promise" and share < 1:
        said.append(w.say("If_the_need_is_not_met", percent=w.percent(share)))
    if contract.get("deposit"):
        said.append(w.say("A_deposit_of_before_tax_is", money=w.money(contract['deposit'], currency)))
    if contract.get("metres_cap"):
        said.append(w.say("Below_is_not_charged", depth=w.depth(contract['metres_cap'])))
    if contract.get("least_depth"):
        said.append(w.say("The_hole_is_not_given_up", depth=w.depth(contract['least_depth'])))
    return said


def _what_happens(job: Job, w: Wording, content: Mapping[str, Any]) -> list[str]:
    need = w.typed(job.need, "flow", w.flow(content["need"]))
    said = [w.say("The_rig_drills_at_the_spot", need=need, depth=w.depth(content['maximum_depth']))]
    leave = content["walk_away"].get("dry")
    if leave is not None:
        said.append(w.say("A_hole_that_is_still_dry", depth=w.depth(leave)))
    said.append(w.say("A_that_gives_enough_is_cased"))
    said.append(w.say("A_hole_that_does_not_is"))
    return said


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the quote's data."""
    body = job.quote.body
    c = body.content
    money = lambda v: w.round_money(v, c["currency"])
    rows = []
    for name, label, shown in (("metres", w.say("Depth_drilled"), lambda v: w.depth(round(v))), ("seconds", w.say("Hours_on_the_job"), w.hours), ("price", w.say("Price_with_tax"), money)):
        q = c[name]
        rows.append([label, shown(q["p10"]), shown(q["p50"]), shown(q["p90"])])
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": [
            [w.say("For"), w.customer()], [w.say("Quote_2"), w.say("revision", number=body.number, revision=body.revision)], [w.say("At"), (job.site.body.name if job.site else "") or w.place(job.spot or job.site)],
            [w.say("Stands_until"), w.iso_day(body.valid_until)], [w.say("The_need"), w.typed(job.need, "flow", w.flow(c["need"]))], [w.say("Rates"), c["card_name"]],
        ]},
        {"kind": "figures", "items": [
            [w.in_100(c["chance_found"]), w.say("chance_of_the_need_by", depth=w.depth(c['maximum_depth']))], [money(c["price"]["p50"]), w.say("as_likely_to_cost_more_as")],
            [f"{money(c['price']['p10'])} – {w.amount(c['price']['p90'], c['currency'])}", w.say("8_such_jobs_in_10_cost")],
        ]},
        {"kind": "pair", "left": [
            heading(w.say("What_will_happen")), {"kind": "list", "items": _what_happens(job, w, c)},
            heading(w.say("What_it_may_cost")),
            {"kind": "table", "head": ["", w.say("1_in_10_less"), w.say("as_likely"), w.say("1_in_10_more")], "align": "lrrr", "rows": rows},
            heading(w.say("What_is_agreed_about_money")), {"kind": "list", "items": contract_words(c, w)},
        ], "right": [{"kind": "picture", **_picture(job, w)}]},
        heading(w.say("How_it_may_go")),
        {"kind": "table", "head": ["", w.say("what_it_stands_for"), w.say("depth_2"), w.say("hours"), w.say("you_pay_with_tax")], "align": "llrrr", "widths": [0, 1, 0, 0, 0], "rows": [
            [w.told(s["name"].capitalize()), w.told(s["stands_for"]), w.depth(s["depth"]), w.hours(s["seconds"]), w.money(s["price_minor"], c["currency"])] for s in c["scenarios"]
        ], "note": w.say("From_simulated_holes_bores_worth_of", holes=w.whole(c['holes']), effective_records=w.whole(c['effective_records']))},
    ]
    for scenario in c["scenarios"]:
        if scenario["name"] in ("likely", "no water"):
            title = w.say("Itemised", name=w.told(scenario['name']), depth=w.depth(scenario['depth']))
            blocks += [heading(title), {"kind": "table", "head": [w.say("item"), w.say("amount"), w.say("rate"), c["currency"]], "align": "lrrr", "total": 1,
                                        "rows": [*line_rows(scenario["lines"], w, c["currency"]), [w.say("To_pay_with_tax"), "", "", w.money(scenario["price_minor"], c["currency"])]]}]
    causes = [s for s in c["sensitivities"] if abs(s["price_high"] - s["price_low"]) > 0][:5]
    if causes:
        blocks += [heading(w.say("What_moves_the_price")), {"kind": "table", "head": [w.say("cause"), w.say("if"), w.say("expected_price"), w.say("if"), w.say("expected_price")], "align": "llrlr", "widths": [1, 1, 0, 1, 0], "rows": [
            [w.told(s["cause"].capitalize()), w.told(s["low_setting"]), money(s["price_low"]), w.told(s["high_setting"]), money(s["price_high"])] for s in causes]}]
    blocks += [heading(w.say("What_else_to_know")), {"kind": "cautions", "items": advisories_of(w, [a for a in c["advisories"] if a.get("code") not in FIRM_ONLY])}]
    if w.settings.terms:
        blocks += [heading(w.say("Terms")), {"kind": "text", "text": w.settings.terms}]
    accepted = next((f for f in job.acceptances if f.body.content_hash == body.content_hash), None)
    if accepted:
        said = w.say("Accepted_by_on", name=accepted.body.name, day=w.day(accepted.entry.at)) + (f", {w.term(accepted.body.way)}" if accepted.body.way else "") + "."
        blocks += [heading(w.say("Acceptance")), {"kind": "text", "text": said}]
    else:
        blocks += [heading(w.say("Acceptance")), {"kind": "lines", "items": [w.say("name"), w.say("signature"), w.say("date")]}]
    return {"title": w.say("Quote", number=body.number), "blocks": [*blocks, {"kind": "text", "text": w.say("Content_of_the_quote", content_hash=body.content_hash)}]}


def _picture(job: Job, w: Wording) -> dict[str, Any]:
    """The hole as it is planned; a hole that was begun since stays off the quote."""
    from dataclasses import replace

    expected = [f.body.design for f in job.designs if f.body.basis == "expected"]
    section = section_of(replace(job, holes={}), design=expected[-1] if expected else {})
    svg = living_section(section, width=247, height=345, medium="paper", units=w.system)
    return {"svg": svg, "alt": w.say("The_expected_ground_the_planned_construction"), "caption": w.say("Expected_ground_and_planned")}
