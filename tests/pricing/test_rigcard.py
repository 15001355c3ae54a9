"""The rig card and its table: the same answers as the rule, odds by closed form, and vectors for a second implementation."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.pricing import (
    hole_tables,
    per_metre,
    policy_table,
    prior_time_model,
    promise,
    rig_card_rows,
    sample_card,
    strike_model,
    table_vectors,
    walk_away_depths,
    what_now,
    what_now_from_table,
)
from borewright.pricing.optima import customer_best, driller_best
from borewright.pricing.stoprule import ACTIONS, COMPLETE, DRILL
from borewright.pricing.tables import HoleForm

from .conftest import DISTRICTS

NEED = 0.25e-3


def rule(name, *, kind="promise"):
    prospect, column = DISTRICTS[name]
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    terms = promise(promise_price=700_000, least_depth=0.0) if kind == "promise" else per_metre()
    tables = hole_tables(column, sample_card(), terms, depth=model.depth, distance=4e4, form=HoleForm(), time=prior_time_model())
    return driller_best(model, tables) if kind == "promise" else customer_best(model, tables)[0]


@pytest.fixture(scope="module")
def policies():
    return {name: rule(name) for name in DISTRICTS}


@pytest.fixture(scope="module")
def tables(policies):
    return {name: policy_table(policy) for name, policy in policies.items()}


def test_the_table_is_small_plain_json_and_answers_after_a_journey(policies):
    for policy in policies.values():
        text = json.dumps(policy_table(policy), allow_nan=False)
        assert len(text) < 200_000  # a phone keeps one per job
        table = json.loads(text)
        for vector in table_vectors(policy, count=30):
            now = what_now_from_table(table, vector["depth_m"], vector["flow_m3_per_s"], vector["strikes"])
            assert now.action == vector["action"] and round(now.odds_next_10m, 12) == vector["odds_next_10m"]


@settings(max_examples=200, deadline=None, derandomize=True)
@given(name=st.sampled_from(sorted(DISTRICTS)), i=st.integers(0, 120), n=st.integers(0, 14), share=st.floats(0, 1.5))
def test_the_table_says_what_the_rule_says(policies, tables, name, i, n, share):
    policy = policies[name]
    model = policy.model
    flow = share * NEED if n else 0.0
    now = what_now_from_table(tables[name], i * model.step, flow, n)
    expected = ACTIONS[policy.actions[i, min(n, model.counts - 1), int(model.level(np.float64(flow)))]]
    assert now.action == expected and 0.0 <= now.odds_next_10m <= 1.0 and now.reason.endswith(".")
    if flow >= NEED and i:
        assert now.action == ACTIONS[COMPLETE]


def test_odds_of_the_next_ten_metres_by_closed_form():
    # When any strike is enough the odds are the chance of a strike: 1 - (b / (b + d)) ** a for a scale gamma(a, b) and exposure d.
    prospect = replace(DISTRICTS["ordinary"][0], log_yield_mean=math.log(1.0), log_yield_sd=0.05)
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    tables = hole_tables(DISTRICTS["ordinary"][1], sample_card(), per_metre(), depth=model.depth, distance=0.0, form=HoleForm(), time=prior_time_model())
    table = policy_table(customer_best(model, tables)[0])
    for depth in (0.0, 17.0, 60.0, 104.0):
        i = int(depth)
        passed = model.exposure[i + 10] - model.exposure[i]
        b = model.rate + model.exposure[i]
        assert what_now_from_table(table, depth, 0.0, 0).odds_next_10m == pytest.approx(1 - (b / (b + passed)) ** model.shape, rel=1e-6)
    assert what_now_from_table(table, 120.0, 0.0, 0).odds_next_10m == 0.0


def test_odds_with_some_water_by_simulation():
    # By another road: scale from its posterior, Poisson strikes, log-normal yields, summed.
    policy = rule("ordinary")
    model, generator, count = policy.model, np.random.default_rng(4), 200_000
    for i, n, share in ((40, 0, 0.0), (40, 1, 0.5), (70, 2, 0.8)):
        passed = model.exposure[i + 10] - model.exposure[i]
        scale = generator.gamma(model.shape + n, 1 / (model.rate + model.exposure[i]), count)
        strikes = generator.poisson(scale * passed)
        total = np.zeros(count)
        for k in range(int(strikes.max())):
            total += np.where(strikes > k, np.exp(model.log_yield_mean + model.log_yield_sd * generator.standard_normal(count)), 0.0)
        level = int(model.level(np.float64(share * NEED)))
        held = level * NEED / (model.levels - 1)  # the flow as the table sees it
        expected = float((held + total >= NEED).mean())
        # Within the noise and half a level of flow.
        assert what_now(policy, float(i), share * NEED, n).odds_next_10m == pytest.approx(expected, abs=0.01)


def test_rule_and_table_advise_alike(policies, tables):
    for name, policy in policies.items():
        assert what_now(policy, 43.0, 0.4 * NEED, 2) == what_now_from_table(tables[name], 43.0, 0.4 * NEED, 2)


def test_more_water_never_lowers_the_odds_and_more_strikes_raise_them(tables):
    table = tables["ordinary"]
    odds = [what_now_from_table(table, 50.0, f * NEED, 1).odds_next_10m for f in np.linspace(0.01, 0.99, 25)]
    assert all(b >= a - 1e-12 for a, b in zip(odds, odds[1:], strict=False))
    by_strikes = [what_now_from_table(table, 50.0, 0.3 * NEED, n).odds_next_10m for n in (1, 2, 4, 8, 12)]
    assert all(b > a for a, b in zip(by_strikes, by_strikes[1:], strict=False))


def test_card_rows_say_what_the_rule_does(policies, tables):
    for name, policy in policies.items():
        table = tables[name]
        rows = rig_card_rows(policy, every=6.0)
        assert [r.depth for r in rows] == [6.0 * k for k in range(1, 21)]
        for r in rows:
            assert r.stop_at == pytest.approx(NEED, rel=1e-9)
            dry = what_now_from_table(table, r.depth, 0.0, 0)
            assert (r.action_dry, r.odds_dry) == (dry.action, dry.odds_next_10m)
            assert what_now_from_table(table, r.depth, r.stop_at, 1).action == ACTIONS[COMPLETE]
            if r.leave_below is None:
                assert dry.action == ACTIONS[DRILL]
            elif r.leave_below < NEED:
                assert dry.action != ACTIONS[DRILL] and what_now_from_table(table, r.depth, r.leave_below * 1.0001, 1).action == ACTIONS[DRILL]
        assert rows[-1].action_dry != ACTIONS[DRILL]  # at the greatest depth the hole ends


def test_a_last_row_stands_at_the_greatest_depth_even_off_the_stride(policies):
    assert [r.depth for r in rig_card_rows(policies["rich"], every=50.0)] == [50.0, 100.0, 120.0]


def test_walk_away_is_the_first_depth_at_which_the_rule_leaves(policies, tables):
    for district, policy in policies.items():
        table = tables[district]
        away = walk_away_depths(policy)
        assert set(away) == {"dry", "quarter", "half", "three quarters"}
        for name, share in (("dry", 0.0), ("quarter", 0.25), ("half", 0.5), ("three quarters", 0.75)):
            depth = away[name]
            flow, strikes = share * NEED, 1 if share else 0
            if depth is None:
                assert all(what_now_from_table(table, float(d), flow, strikes).action == ACTIONS[DRILL] for d in range(1, 120, 7))
            else:
                assert what_now_from_table(table, depth, flow, strikes).action != ACTIONS[DRILL]
                assert all(what_now_from_table(table, float(d), flow, strikes).action == ACTIONS[DRILL] for d in range(1, int(depth), 5))


def test_at_no_district_is_the_card_the_same_as_at_another(policies):
    assert len({json.dumps(walk_away_depths(p)) for p in policies.values()}) >= 4


@pytest.mark.parametrize(("field", "depth", "flow", "strikes"), [
    ("depth", -1.0, 0.0, 0), ("depth", float("nan"), 0.0, 0), ("flow", 10.0, -1e-4, 1), ("flow", 10.0, float("inf"), 1),
    ("strikes", 10.0, 1e-4, -1), ("strikes", 10.0, 1e-4, 1.5), ("strikes", 10.0, 1e-4, 0),
])
def test_bad_readings_are_refused_by_field(policies, field, depth, flow, strikes):
    with pytest.raises(BadInput) as caught:
        what_now(policies["rich"], depth, flow, strikes)
    assert caught.value.field == field
