"""The invoice: every line is a quantity of the log at a rate of the card, and the lines add up."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

import made_jobs
import pytest

from borewright.errors import Refused
from borewright.papers.charges import charge_lines, need_met


def by_label(lines):
    return {line["label"]: line for line in lines}


def test_lines_are_the_log_at_the_cards_rates():
    job = made_jobs.built().job()
    lines, total = charge_lines(job)
    assert total == sum(line["amount_minor"] for line in lines)
    named = by_label(lines)
    card = made_jobs.quote()[0]["rate_card"]
    rates = {row["diameter_mm"]: row for row in card["drilling"]}
    # Metres by hand from the entries: 254 mm to 18.5 m over loam, clay and clay (0-9.2), rotten granite (9.2-17.8), granite (17.8-18.5);
    # 165 mm below: broken granite 37-41 and 57.6-60.5 (medium), schist 60.5-66.3 (medium; its "some quartz" is only mixed in), granite 18.5-37 and 41-57.6 (hard).
    expected = {
        "Drilling 254 mm, loose ground": (9.2, rates[254]["loose"]), "Drilling 254 mm, soft ground": (8.6, rates[254]["soft"]), "Drilling 254 mm, hard ground": (0.7, rates[254]["hard"]),
        "Drilling 165 mm, medium ground": (12.7, rates[165]["medium"]), "Drilling 165 mm, hard ground": (35.1, rates[165]["hard"]),
    }
    for label, (metres, rate) in expected.items():
        assert named[label]["quantity_thousandths"] == round(metres * 1000), label
        exact = Decimal(str(metres)) * Decimal(str(rate)) * 100
        assert named[label]["amount_minor"] == int(exact.quantize(Decimal(1), ROUND_HALF_EVEN)), label
    assert sum(line["quantity_thousandths"] for label, line in named.items() if label.startswith("Drilling")) == 66300
    assert named["Grout"]["quantity_thousandths"] == 26000 and named["Slotted casing 125 mm"]["quantity_thousandths"] == 12000
    assert named["Casing 125 mm"]["quantity_thousandths"] == 54300 and named["Surface casing 200 mm"]["quantity_thousandths"] == 18500
    assert named["Development"]["quantity_thousandths"] == 2000 and named["Pumping test"]["quantity_thousandths"] == 24000 and named["Seal"]["quantity_thousandths"] == 3000
    before_tax = sum(line["amount_minor"] for line in lines if line["label"] not in ("GST 10 %", "Rounding"))
    assert named["GST 10 %"]["amount_minor"] == int((Decimal(before_tax) / 10).quantize(Decimal(1), ROUND_HALF_EVEN))
    assert total % card_step(card) == 0


def card_step(card) -> int:
    return int(Decimal(str(card.get("round_total_to", "0.01"))) * 100) or 1


def test_a_dry_hole_under_a_promise_costs_the_customer_nothing():
    job = made_jobs.sealed().job()
    assert not need_met(job)
    lines, total = charge_lines(job)
    assert total == 0 and by_label(lines)["Not charged: the need was not met"]["amount_minor"] < 0
    assert "Price of the promise" not in by_label(lines)


def test_variations_and_standing_are_charged_before_tax():
    log = made_jobs.built()
    plain = charge_lines(log.job())[1]
    log.write("quote.varied", number="Q-0107", reason="second tank stand", amount_minor=50000, currency="AUD")
    log.write("quote.varied", number="Q-0107", reason="other money", amount_minor=1, currency="NZD")
    lines, total = charge_lines(log.job())
    assert by_label(lines)["Variation: second tank stand"]["amount_minor"] == 50000
    assert "Variation: other money" not in by_label(lines)
    assert total - plain == pytest.approx(55000, abs=100)


def test_what_cannot_be_charged_is_refused():
    log = made_jobs.before()
    log.write("rig.ground", from_depth=0.0, to_depth=10.0, words="clay")
    with pytest.raises(Refused, match="no bit recorded"):
        charge_lines(log.job())
    log.write("rig.bit", diameter=0.9, from_depth=0.0)
    with pytest.raises(Refused, match="no line"):
        charge_lines(log.job())


def test_ground_that_nobody_logged_is_charged_at_the_lowest_rate_and_said():
    log = made_jobs.before()
    log.write("rig.bit", diameter=0.165, from_depth=0.0)
    log.write("rig.advanced", to_depth=10.0)
    line = by_label(charge_lines(log.job())[0])["Drilling 165 mm, ground not logged (lowest rate)"]
    rates = next(row for row in made_jobs.quote()[0]["rate_card"]["drilling"] if row["diameter_mm"] == 165)
    assert line["quantity_thousandths"] == 10000
    assert line["rate_minor"] == min(int(Decimal(str(rates[k])) * 100) for k in ("loose", "soft", "medium", "hard"))
