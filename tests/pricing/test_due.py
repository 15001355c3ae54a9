"""The bill for work done: plain quantities at the card's rates, the contract, tax and rounding, in exact whole minor units."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import Refused
from borewright.pricing import Variation, WorkDone, bill_for, cost_of, fixed_price, per_metre, promise, sample_card

CARD = sample_card()
DRILLED = WorkDone(1, 40.0, bits=((0.0, 0.165),), ground=((0.0, 10.0, "loose"), (10.0, 40.0, "hard")))


def test_a_bill_by_hand():
    size, (loose, _, _, hard) = CARD.drilling_rates(0.165)
    bill = bill_for(CARD, per_metre(), [DRILLED], need_met=True, distance=15_000.0)
    net = CARD.charges["set_up"] + 30 * CARD.charges["travel_per_km"] + 10 * loose + 30 * hard
    assert net > CARD.minimum_charge
    assert bill.tax == int((net * CARD.tax_rate).quantize(Decimal(1)))
    assert bill.total == sum(line.amount_minor for line in bill.lines) and bill.total % CARD.round_total_to == 0
    assert abs(bill.total - net - bill.tax) <= CARD.round_total_to


def test_each_contract_turns_the_same_work_into_its_own_money():
    def net(contract, met):
        bill = bill_for(CARD, contract, [DRILLED], need_met=met)
        return sum(line.amount_minor for line in bill.lines if line.key not in ("tax", "rounding"))

    full = net(per_metre(), True)
    assert net(fixed_price(1_234_567), True) == 1_234_567
    assert net(promise(promise_price=90_000), True) == full + 90_000 and net(promise(), False) == 0
    assert net(promise(dry_hole_share=0.25), False) == round(full * 0.25)
    assert net(promise(deposit=50_000), False) == 50_000
    assert net(per_metre(metres_cap=35.0), True) == full - 5 * CARD.drilling_rates(0.165)[1][3]


def test_a_variation_in_another_currency_stays_out():
    plain = bill_for(CARD, per_metre(), [DRILLED], need_met=True)
    changed = bill_for(CARD, per_metre(), [DRILLED], need_met=True, variations=[Variation("tank", 10_000, CARD.currency), Variation("other", 10_000, "XTS")])
    assert [line.label for line in changed.lines if line.key == "variation"] == ["Variation: tank"] and changed.total > plain.total


def test_what_has_no_rate_is_refused():
    with pytest.raises(Refused, match="no bit"):
        bill_for(CARD, per_metre(), [WorkDone(1, 10.0)], need_met=True)
    with pytest.raises(Refused, match="no line"):
        bill_for(CARD, per_metre(), [WorkDone(1, 10.0, bits=((0.0, 1.5),))], need_met=True)
    with pytest.raises(Refused, match="no bit"):
        cost_of(CARD, [WorkDone(1, 10.0)], hours=0.0)


def test_costs_by_hand():
    casing = CARD.casing_rates(0.125)
    hole = WorkDone(1, 40.0, bits=((0.0, 0.165),), ground=DRILLED.ground, casings=(("production", False, 0.125, 28.0), ("production", True, 0.125, 12.0)), seal=3.0, grout_bags=8.0)
    expected = (CARD.costs["job"] + 10 * CARD.costs["rig_and_crew_per_hour"] + 30 * CARD.costs["travel_per_km"] + 10 * CARD.wear[0] + 30 * CARD.wear[3]
                + 28 * casing[3] + 12 * casing[4] + 3 * CARD.costs["seal_per_metre"] + 8 * CARD.costs["grout_bag"] + CARD.costs["headworks"])
    assert cost_of(CARD, [hole], hours=36_000.0, distance=15_000.0) == expected


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(1, 200), st.floats(0, 200), st.floats(0, 80_000), st.booleans(), st.floats(0, 1))
def test_lines_always_add_up_and_more_metres_never_cost_less(depth, more, distance, met, share):
    def bill(metres):
        return bill_for(CARD, per_metre(dry_hole_share=share), [WorkDone(1, metres, bits=((0.0, 0.165),), ground=((0.0, 500.0, "medium"),))], need_met=met, distance=distance)

    short, long = bill(depth), bill(depth + more)
    assert short.total == sum(line.amount_minor for line in short.lines)
    assert long.total >= short.total
