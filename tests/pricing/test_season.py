"""The season: ruin against the closed form, shared luck, and the ledger against exact distributions."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from borewright.errors import BadInput
from borewright.pricing import (
    dry_hole_ledger,
    hole_tables,
    make_quote,
    price_runs,
    prior_time_model,
    promise,
    sample_card,
    season,
    season_of_quote,
    simulate_holes,
    strike_model,
)
from borewright.pricing.optima import driller_best, reckon
from borewright.pricing.seasons import reserve_for, ruin_share, shared_scales
from borewright.pricing.tables import HoleForm

from .conftest import DISTRICTS


@pytest.mark.parametrize(("loading", "reserve"), [(0.3, 0.0), (0.3, 2.0), (0.5, 1.0), (1.0, 0.5)])
def test_ruin_is_cramer_lundbergs_for_exponential_claims(loading, reserve):
    # psi(u) = exp(-theta u / ((1 + theta) m)) / (1 + theta), claims exponential of mean m = 1, premium (1 + theta) a claim on average.
    # Source: Bowers and others, Actuarial Mathematics, 2nd ed. 1997, section 13.5 (from memory); checked against psi(0) = 1 / (1 + theta).
    # Ruin can only come at a claim, so the sums are taken there; 600 claims leave out less than the noise.
    generator = np.random.default_rng(11)
    paths, claims = 6000, 600
    gains = (1 + loading) * generator.exponential(1.0, (paths, claims)) - generator.exponential(1.0, (paths, claims))
    expected = np.exp(-loading * reserve / (1 + loading)) / (1 + loading)
    assert ruin_share(gains, reserve) == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / paths))


def test_reserve_is_where_cramer_lundberg_puts_it():
    # In thousandths of a mean claim, since reserves are whole. psi(u) = 0.05 at u = (1 + theta) / theta ln(1 / (0.05 (1 + theta))).
    generator = np.random.default_rng(5)
    gains = 1000 * (1.4 * generator.exponential(1.0, (8000, 500)) - generator.exponential(1.0, (8000, 500)))
    expected = 1000 * 1.4 / 0.4 * np.log(1 / (0.05 * 1.4))
    got = reserve_for(gains, 0.05)
    assert got == pytest.approx(expected, rel=0.04)
    assert ruin_share(gains, got) <= 0.05 < ruin_share(gains, 0.97 * got)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(data=st.lists(st.lists(st.integers(-1000, 1000), min_size=3, max_size=3), min_size=1, max_size=40), allowed=st.floats(0, 1))
def test_reserve_is_the_least_that_keeps_ruin_allowed(data, allowed):
    gains = np.array(data, float)
    reserve = reserve_for(gains, allowed)
    assert reserve >= 0 and ruin_share(gains, reserve) <= allowed + 1e-9
    if reserve > 0:
        assert ruin_share(gains, reserve - 1) > allowed - 1e-9


def test_scales_keep_their_belief_whatever_they_share():
    for tie in (0.0, 0.5, 1.0):
        scales = shared_scales(4.0, 2.0, tie, 4000, 5, np.random.default_rng(3))
        assert stats.kstest(scales[:, 0], stats.gamma(4.0, scale=0.5).cdf).pvalue > 1e-3
        scores = stats.norm.ppf(stats.gamma.cdf(scales, 4.0, scale=0.5))
        got = np.corrcoef(scores[:, 0], scores[:, 1])[0, 1]
        assert got == pytest.approx(tie, abs=0.05)


@pytest.fixture(scope="module")
def job():
    prospect, column = DISTRICTS["fickle"]
    model = strike_model(prospect, need=0.25e-3, maximum_depth=100.0, step=2.0, levels=25)
    tables = hole_tables(column, sample_card(), promise(promise_price=1_300_000), depth=model.depth, distance=4e4, form=HoleForm(), time=prior_time_model())
    return driller_best(model, tables), tables


def test_a_shared_bad_year_needs_more_in_reserve(job):
    kept = [season(*job, jobs=15, seasons=1500, correlation=c) for c in (0.0, 0.4, 0.9)]
    assert kept[0].reserve < kept[1].reserve < kept[2].reserve
    assert kept[0].reserve == kept[0].reserve_independent
    for one in kept:
        assert one.profit[0] <= one.profit[1] <= one.profit[2] and one.dry_holes[0] <= one.dry_holes[1] <= one.dry_holes[2] <= 15
        assert any(a.code == "simulation-is-not-insurance" for a in one.advisories)


def test_the_mean_of_a_season_is_the_rules_own_sum_whatever_is_shared(job):
    policy, tables = job
    exact = reckon(policy, tables)
    generator = np.random.default_rng(8)
    single = price_runs(simulate_holes(policy, 20000, generator), tables, generator)
    for tie in (0.0, 0.8):
        made = season(policy, tables, jobs=10, seasons=3000, correlation=tie)
        noise = single.profit.std() * 10 / np.sqrt(3000 if tie else 30000) + 0.02 * 10 * abs(exact.price)  # and the rule's grid of flows
        assert made.profit_mean == pytest.approx(10 * exact.profit, abs=4 * noise)


def test_less_ruin_allowed_needs_more_reserve_and_overhead_comes_off(job):
    strict, loose = (season(*job, jobs=12, seasons=1000, ruin_allowed=r) for r in (0.01, 0.2))
    assert strict.reserve > loose.reserve
    dear = season(*job, jobs=12, seasons=1000, ruin_allowed=0.2, overhead=100_000)
    assert dear.profit_mean == pytest.approx(loose.profit_mean - 12 * 100_000, abs=1) and dear.reserve >= loose.reserve


def test_a_season_of_a_quote_is_reproducible():
    prospect, column = DISTRICTS["rich"]
    made = make_quote(prospect, column, sample_card(), need=0.25e-3, contract=promise(), maximum_depth=100.0, distance=3e4, holes=1000, sensitivities=False)
    one, two = (season_of_quote(prospect, column, sample_card(), made, jobs=10, seasons=500) for _ in range(2))
    assert one == two and one.profit_mean == pytest.approx(10 * made.agreed_rule.profit, rel=0.25)


@pytest.mark.parametrize(("field", "changes"), [
    ("jobs", {"jobs": 0}), ("jobs", {"jobs": 10**6}), ("jobs", {"seasons": 5}), ("correlation", {"correlation": 1.2}),
    ("correlation", {"correlation": float("nan")}), ("ruin_allowed", {"ruin_allowed": -0.1}), ("overhead", {"overhead": -1}),
])
def test_bad_seasons_are_refused_by_field(job, field, changes):
    with pytest.raises(BadInput) as caught:
        season(*job, **({"jobs": 5, "seasons": 200} | changes))
    assert caught.value.field == field


def test_ledger_of_equal_odds_is_binomial():
    found = [True] * 12 + [False] * 8
    ledger = dry_hole_ledger([0.7] * 20, found)
    assert ledger.chance_as_many_or_more_dry == pytest.approx(stats.binom.sf(7, 20, 0.3), rel=1e-12)
    assert ledger.chance_as_few_or_fewer_dry == pytest.approx(stats.binom.cdf(8, 20, 0.3), rel=1e-12)
    assert ledger.dry == 8 and ledger.dry_expected == pytest.approx(6.0)
    assert ledger.brier == pytest.approx((12 * 0.09 + 8 * 0.49) / 20) and ledger.brier_expected == pytest.approx(0.21)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(odds=st.lists(st.floats(0, 1), min_size=1, max_size=7), data=st.data())
def test_ledger_of_any_odds_is_the_sum_over_all_outcomes(odds, data):
    found = data.draw(st.lists(st.booleans(), min_size=len(odds), max_size=len(odds)))
    dry = found.count(False)
    many = 0.0
    for outcome in itertools.product((True, False), repeat=len(odds)):
        if outcome.count(False) >= dry:
            many += np.prod([p if met else 1 - p for p, met in zip(odds, outcome, strict=True)])
    ledger = dry_hole_ledger(odds, found)
    assert ledger.chance_as_many_or_more_dry == pytest.approx(many, abs=1e-12)
    assert sum(g[2] for g in ledger.groups) == len(odds)
    assert sum(g[2] * g[4] for g in ledger.groups) == pytest.approx(found.count(True))


def test_ledger_says_when_the_odds_were_wrong():
    assert "too high" in dry_hole_ledger([0.9] * 20, [True] * 10 + [False] * 10).sentence
    assert "too low" in dry_hole_ledger([0.3] * 20, [True] * 18 + [False] * 2).sentence
    assert "ordinary luck" in dry_hole_ledger([0.7] * 20, [True] * 14 + [False] * 6).sentence


@pytest.mark.parametrize(("odds", "found"), [([], []), ([0.5], []), ([1.5], [True]), ([float("nan")], [True])])
def test_bad_ledgers_are_refused(odds, found):
    with pytest.raises(BadInput):
        dry_hole_ledger(odds, found)
