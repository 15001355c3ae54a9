"""The single calculations of pricing, against textbook values and closed forms."""

import itertools

import pytest
from scipy import stats

from borewright.bench.declare import answer
from borewright.errors import BadInput
from borewright.pricing import reserve_of_promises, ruin_chance


def results(name, **given):
    return {k: v["value"] for k, v in answer(name, given)["results"].items()}


def test_promise_price_is_the_geometric_search(checks):
    got = results("promise-price", chance="70 %", cost_dry="7000", cost_found="10000")
    assert got["cost_per_bore"] == pytest.approx(float(checks["G-01"]["expected"]), abs=0.005)
    assert got["addition"] == pytest.approx(3000.0) and got["holes_per_bore"] == pytest.approx(1 / 0.7)


def test_drilling_hours_of_the_usual_24_m():
    # T-01: common practice, no source.
    got = results("drilling-hours", soft="12 m", medium="12 m")
    assert 3 * 3600 < got["time"] < 5 * 3600 and got["low"] < got["time"] < got["high"] and got["drilling"] < got["time"]


def test_dry_hole_luck_is_the_binomial_table():
    # Cumulative binomial table, n = 20, p = 0.30: P(X <= 7) = 0.7723 (standard table, from memory; agrees with scipy.stats).
    got = results("dry-hole-luck", jobs="20", dry="8", odds="70 %")
    assert round(1 - got["as_many"], 4) == 0.7723 and got["as_many"] == pytest.approx(stats.binom.sf(7, 20, 0.3), rel=1e-12)


@pytest.mark.parametrize(("dry", "reserve"), [(0.3, 0), (0.3, 2), (0.4, 3), (0.45, 1)])
def test_ruin_is_the_gamblers_for_even_stakes(dry, reserve):
    # Feller 1968, XIV.2 (from memory): ruin from a fortune of z is (q / p)^z; here ruin is below minus the reserve, so z = reserve + 1.
    got = ruin_chance(jobs=1000, chance_dry=dry, profit=1.0, loss=1.0, reserve=float(reserve))
    assert got == pytest.approx((dry / (1 - dry)) ** (reserve + 1), rel=1e-3 if dry < 0.42 else 0.02)


@pytest.mark.parametrize(("profit", "loss", "reserve"), [(1.0, 1.0, 1.0), (4.0, 7.0, 9.0), (3.0, 10.0, 0.0)])
def test_ruin_is_the_sum_over_all_seasons(profit, loss, reserve):
    jobs, dry, ruined = 9, 0.35, 0.0
    for season in itertools.product((True, False), repeat=jobs):
        total, below = 0.0, False
        for found in season:
            total += profit if found else -loss
            below |= total < -reserve
        if below:
            ruined += dry ** season.count(False) * (1 - dry) ** season.count(True)
    assert ruin_chance(jobs=jobs, chance_dry=dry, profit=profit, loss=loss, reserve=reserve) == pytest.approx(ruined, abs=1e-12)


def test_one_luck_for_all_is_one_throw():
    # Every job dry or none: ruin when all are dry, whatever reserve below the whole loss.
    assert ruin_chance(jobs=10, chance_dry=0.2, profit=1.0, loss=1.0, reserve=9.5, correlation=1.0) == pytest.approx(0.2)
    assert ruin_chance(jobs=10, chance_dry=0.2, profit=1.0, loss=1.0, reserve=10.0, correlation=1.0) == pytest.approx(0.0)


def test_the_reserve_is_the_least_that_does():
    given = {"jobs": 25, "chance_dry": 0.3, "profit": 4000.0, "loss": 7000.0, "correlation": 0.3}
    reserve = reserve_of_promises(**given, ruin_allowed=0.05)
    assert ruin_chance(**given, reserve=reserve) <= 0.05 < ruin_chance(**given, reserve=reserve - 1)


def test_shared_luck_needs_more_and_the_season_says_when_it_loses():
    got = results("season-reserve", jobs="30", chance_dry="30 %", profit="4000", loss="7000")
    assert got["reserve"] > got["reserve_own_luck"] > 0 and got["mean"] == pytest.approx(21000)
    told = answer("season-reserve", {"jobs": "30", "chance_dry": "60 %", "profit": "4000", "loss": "7000"})
    assert any("loses money" in c for c in told["cautions"])


@pytest.mark.parametrize(("name", "field", "given"), [
    ("promise-price", "chance", {"chance": "0 %", "cost_dry": "7000"}), ("promise-price", "cost_dry", {"chance": "50 %", "cost_dry": "-1"}),
    ("season-reserve", "jobs", {"jobs": "2.5", "chance_dry": "30 %", "profit": "1", "loss": "1"}),
    ("season-reserve", "profit", {"jobs": "2", "chance_dry": "30 %", "profit": "0", "loss": "1"}),
    ("dry-hole-luck", "dry", {"jobs": "5", "dry": "6", "odds": "50 %"}), ("dry-hole-luck", "jobs", {"jobs": "many", "dry": "6", "odds": "50 %"}),
    ("drilling-hours", "soft", {"soft": "-3 m"}), ("drilling-hours", "rod_length", {"soft": "3 m", "rod_length": "0 m"}),
])
def test_bad_input_is_refused_by_field(name, field, given):
    with pytest.raises(BadInput) as caught:
        answer(name, given)
    assert caught.value.field == field
