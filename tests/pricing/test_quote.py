"""The quote: plain JSON, ordered quantiles, lines that sum to the minor unit, and refusals that name the field."""

import json
from dataclasses import replace
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput, Refused
from borewright.pricing import (
    card_as_dict,
    card_from_dict,
    fixed_price,
    hole_tables,
    itemised,
    make_quote,
    per_metre,
    prior_time_model,
    promise,
    quote_as_dict,
    sample_card,
)
from borewright.pricing.contract import Contract
from borewright.pricing.tables import FAILED, FOUND, HoleForm
from borewright.pricing.timing import PenetrationRecord, learn_penetration

from .conftest import DISTRICTS

NEED = 0.25e-3
TERMS = {"per metre": per_metre(), "fixed": fixed_price(1_600_000, dry_hole_share=0.3), "promise": promise()}


def quote(district="ordinary", contract=None, **changes):
    prospect, column = DISTRICTS[district]
    card = changes.pop("card", sample_card())
    given_ = {"need": NEED, "maximum_depth": 120.0, "distance": 40e3, "contract": contract, "holes": 4000, "sensitivities": False} | changes
    return make_quote(given_.pop("prospect", prospect), given_.pop("column", column), card, **given_)


@pytest.fixture(scope="module", params=[(d, t) for d in DISTRICTS for t in TERMS], ids=lambda p: " ".join(p))
def made(request):
    district, terms = request.param
    return quote(district, TERMS[terms])


def test_quantiles_ascend_and_hold_the_mean_of_the_exact_sums(made):
    for part in (made.metres, made.seconds, made.price, made.cost, made.profit):
        assert part.p10 <= part.p50 <= part.p90
    agreed = made.agreed_rule
    # The simulation draws yields without the rule's grid of flows; four standard errors of 4000 holes, and the grid, are within 4 %.
    assert made.chance_found == pytest.approx(agreed.chance_found, abs=0.04)
    assert made.metres.mean == pytest.approx(agreed.metres, rel=0.04)
    assert made.cost.mean == pytest.approx(agreed.cost, rel=0.04)
    assert made.profit.mean == pytest.approx(made.price.mean / 1.1 - made.cost.mean, abs=60)  # 10 % tax; totals round to whole dollars


def test_it_is_plain_json_and_comes_back(made):
    plain = quote_as_dict(made)
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert plain["contract"]["kind"] == made.contract.kind and len(plain["content_hash"]) == 64


def test_scenarios_sum_to_the_minor_unit_and_stand_in_order(made):
    assert [s.name for s in made.scenarios] == ["shallow", "likely", "deep", "no water"]
    for s in made.scenarios:
        assert isinstance(s.price_minor, int) and sum(line.amount_minor for line in s.lines) == s.price_minor
        assert s.seconds > 0 and 0 < s.depth <= made.maximum_depth and s.found == (s.name != "no water")
    shallow, likely, deep = (s.depth for s in made.scenarios[:3])
    assert shallow <= likely <= deep
    if made.contract.kind == "promise":
        assert made.scenarios[3].price_minor == 0


def test_odds_by_depth_never_fall(made):
    assert np.all(np.diff(made.odds_by_depth) >= -1e-12) and made.odds_by_depth[0] == 0.0
    assert made.chance_found <= made.odds_by_depth[-1] + 0.03


def test_promise_is_told_with_its_cost(made):
    if made.contract.kind != "promise":
        assert made.promise is None
        return
    assert made.contract.promise_price == made.promise.price > 0
    assert made.promise.expected_loss == pytest.approx(made.promise.chance_dry * made.promise.loss_when_dry, abs=1)
    assert made.agreed_rule.profit == pytest.approx(made.promise.target_profit, abs=150)  # whole dollars and tax
    assert any(a.code == "simulation-is-not-insurance" for a in made.advisories)


def test_same_seed_same_quote_and_any_rate_changes_the_hash():
    one, two = quote(), quote()
    assert one.content_hash == two.content_hash and quote_as_dict(one) == quote_as_dict(two)
    card = card_as_dict(sample_card())
    card["charges"]["headworks"] = "620.01"
    other = quote(card=card_from_dict(card))
    assert other.content_hash != one.content_hash and other.card_version != one.card_version
    assert quote(seed=2).content_hash != one.content_hash


def test_the_customers_optimum_is_cheapest_for_the_customer_and_the_drillers_earns_most(made):
    # Up to the rounding of the iteration that finds them.
    assert made.customer_optimum.working_bore_cost <= made.driller_optimum.working_bore_cost * (1 + 1e-9)
    assert made.driller_optimum.profit >= made.customer_optimum.profit - 1e-6 * abs(made.customer_optimum.profit)
    assert made.difference.endswith(".")


def test_sensitivities_move_the_price_the_way_they_must():
    rows = {s.cause: s for s in quote(sensitivities=True).sensitivities}
    assert set(rows) == {"strikes in this ground", "yield of a strike", "the need", "greatest depth", "distance", "the ground"}
    assert rows["strikes in this ground"].chance_low < rows["strikes in this ground"].chance_high
    assert rows["yield of a strike"].chance_low < rows["yield of a strike"].chance_high
    assert rows["the need"].chance_low > rows["the need"].chance_high
    assert rows["distance"].price_low < rows["distance"].price_high
    assert rows["the ground"].price_low < rows["the ground"].price_high
    spread = [abs(s.price_high - s.price_low) for s in rows.values()]
    assert spread == sorted(spread, reverse=True)


def test_own_metres_change_hours_but_not_the_metre_price():
    slow = learn_penetration(prior_time_model(), [PenetrationRecord(c, 60.0, 60.0 * 3600 / 2.5) for c in ("soft", "medium", "hard") for _ in range(8)])
    before, after = quote(), quote(time=slow)
    assert after.seconds.mean > before.seconds.mean * 1.2
    assert after.profit.mean < before.profit.mean
    assert next(p for p in after.penetration if p["drilling"] == "hard")["metres"] == 480.0


def test_a_rule_that_never_finds_water_still_makes_plain_json():
    # Nothing in the first 20 m and a price too low to drill past the first metre: the driller's best rule has no chance at all.
    prospect, _ = DISTRICTS["ordinary"]
    intensity = np.where(np.asarray(prospect.depth_edges)[:-1] < 20, 0.0, prospect.strike_intensity)
    made = quote(contract=fixed_price(100, least_depth=0.0), prospect=replace(prospect, strike_intensity=intensity))
    assert made.chance_found == 0.0
    plain = quote_as_dict(made)
    assert plain["driller_optimum"]["working_bore_cost"] is None
    assert [s["name"] for s in plain["scenarios"]] == ["no water"]
    assert any(a.code == "below-cost" for a in made.advisories)


@pytest.mark.parametrize(("field", "changes"), [
    ("need", {"need": 0.0}), ("need", {"need": -1e-4}), ("need", {"need": float("nan")}), ("maximum_depth", {"maximum_depth": -5.0}),
    ("maximum_depth", {"maximum_depth": float("inf")}), ("distance", {"distance": -1.0}), ("distance", {"distance": float("nan")}),
    ("holes", {"holes": 1}), ("rule", {"rule": "nobody"}), ("step", {"step": 0.0}),
    ("currency", {"contract": Contract("per metre", currency="NZD")}), ("least_depth", {"contract": per_metre(least_depth=500.0)}),
    ("diameter", {"form": HoleForm(upper_diameter=0.35)}),
])
def test_bad_input_is_refused_by_field(field, changes):
    with pytest.raises(BadInput) as caught:
        quote(**changes)
    assert caught.value.field == field and caught.value.problem and caught.value.want


@pytest.mark.parametrize(("field", "make"), [
    ("contract", lambda: Contract("handshake")), ("fixed", lambda: Contract("fixed")), ("fixed", lambda: Contract("per metre", fixed=5)),
    ("promise_price", lambda: Contract("per metre", promise_price=5)), ("promise_price", lambda: promise(promise_price=-5)),
    ("deposit", lambda: per_metre(deposit=10.5)), ("deposit", lambda: per_metre(deposit=True)), ("dry_hole_share", lambda: per_metre(dry_hole_share=1.5)),
    ("dry_hole_share", lambda: per_metre(dry_hole_share=float("nan"))), ("metres_cap", lambda: per_metre(metres_cap=0.0)),
    ("least_depth", lambda: promise(least_depth=-1.0)), ("main_diameter", lambda: HoleForm(main_diameter=0.1)),
    ("surface_casing_diameter", lambda: HoleForm(surface_casing_diameter=0.3)),
])
def test_terms_that_cannot_be_are_refused_by_field(field, make):
    with pytest.raises(BadInput) as caught:
        make()
    assert caught.value.field == field


def test_a_need_beyond_every_record_is_refused_in_a_sentence():
    with pytest.raises(Refused, match="Ask for less water"):
        quote(need=4.0)


def test_a_promise_below_cost_is_made_but_not_without_a_doubt():
    cheap = quote(contract=promise(promise_price=1000))
    assert cheap.contract.promise_price == 1000 and cheap.promise.price > 1000
    assert any(a.code == "promise-below-cost" and a.severity == "doubt" for a in cheap.advisories)


def test_a_plan_deeper_than_the_records_is_cut_and_says_so():
    deep = quote(maximum_depth=900.0)
    assert deep.maximum_depth == 160.0 and any(a.code == "odds-end" for a in deep.advisories)


contracts = st.one_of(
    st.builds(per_metre, deposit=st.integers(0, 500_000), metres_cap=st.one_of(st.none(), st.floats(5, 150)), dry_hole_share=st.floats(0, 1)),
    st.builds(fixed_price, st.integers(0, 5_000_000), dry_hole_share=st.floats(0, 1), deposit=st.integers(0, 500_000)),
    st.builds(promise, promise_price=st.integers(0, 2_000_000), dry_hole_share=st.floats(0, 1), deposit=st.integers(0, 500_000)),
)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(terms=contracts, ending=st.sampled_from((FAILED, FOUND)), column=st.integers(0, 8), index=st.integers(0, 60),
       rounding=st.sampled_from(("half-even", "half-up", "up", "down")), step=st.sampled_from(("0.01", "0.05", "1.00", "10.00")),
       tax=st.sampled_from(("0", "0.10", "0.0725")), distance=st.floats(0, 300e3))
def test_lines_always_sum_to_what_is_paid(terms, ending, column, index, rounding, step, tax, distance):
    plain = card_as_dict(sample_card()) | {"rounding": rounding, "round_total_to": step, "tax": {"name": "GST", "rate": tax}}
    tables = hole_tables(DISTRICTS["ordinary"][1], card_from_dict(plain), terms, depth=np.arange(0, 121, 2.0), distance=distance, form=HoleForm(), time=prior_time_model())
    lines = itemised(tables, ending=ending, column=column, index=index)
    assert sum(line.amount_minor for line in lines) == int(tables.gross[ending, column, index])
    assert tables.gross[ending, column, index] >= 0 and tables.due[ending, column, index] >= terms.deposit


def test_lines_are_what_decimal_arithmetic_gives():
    # By another road: Python's Decimal, line by line, round half to even.
    tables = hole_tables(DISTRICTS["ordinary"][1], sample_card(), per_metre(), depth=np.arange(0, 121, 1.0), distance=41_237.0, form=HoleForm(), time=prior_time_model())
    for ending, column, index in ((FOUND, 4, 77), (FAILED, 0, 120), (FOUND, 8, 3)):
        lines = itemised(tables, ending=ending, column=column, index=index)
        sums = Decimal(0)
        for line in lines:
            if line.key not in ("minimum", "tax", "rounding"):
                exact = Decimal(line.quantity_thousandths) * line.rate_minor / 1000
                assert line.amount_minor == int(exact.quantize(Decimal(1), ROUND_HALF_EVEN))
                sums += line.amount_minor
        net = max(sums, Decimal(sample_card().minimum_charge))
        taxed = net + (net * Decimal("0.10")).quantize(Decimal(1), ROUND_HALF_EVEN)
        whole = (taxed / 100).quantize(Decimal(1), ROUND_HALF_EVEN) * 100
        assert sum(line.amount_minor for line in lines) == whole
        drilled = sum(line.quantity_thousandths for line in lines if line.key.startswith("drilling"))
        assert drilled == index * 1000


@settings(max_examples=15, deadline=None, derandomize=True)
@given(near=st.floats(0, 100e3), more=st.floats(1e3, 100e3))
def test_farther_never_costs_less(near, more):
    def price(distance):
        return hole_tables(DISTRICTS["rich"][1], sample_card(), per_metre(), depth=np.arange(0, 61, 3.0), distance=distance, form=HoleForm(), time=prior_time_model()).gross

    assert (price(near + more) >= price(near)).all()


def test_deeper_never_costs_less_in_any_ground():
    for _, column in DISTRICTS.values():
        tables = hole_tables(column, sample_card(), per_metre(), depth=np.arange(0, 121, 1.0), distance=1e4, form=HoleForm(), time=prior_time_model())
        assert (np.diff(tables.gross, axis=2) >= 0).all() and (np.diff(tables.seconds(), axis=2) > 0).all()
