"""The rating: arithmetic that can be done by hand, what must move it and which way, honesty about how little is known."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from borewright import hydraulics as h
from borewright.errors import BadInput, OutOfDomain

DAY, YEAR = 86400.0, 365.25 * 86400.0
CERTAIN = h.RatingBelief(boundaries=(1.0, 0.0, 0.0), source_fails=0.0, loss_share=0.0, fall_spread=0.0)


def invented_test(*, transmissivity=1e-4, storativity=1e-3, rate=1e-3, last=DAY, noise=0.01, seed=0, solutions=("theis",), loss=0.0):
    """A constant-rate test in the pumped bore, invented."""
    rng = np.random.default_rng(seed)
    time = np.geomspace(60, last, 60)
    drawdown = h.drawdown(time, 0.1, rate=rate, transmissivity=transmissivity, storativity=storativity) + loss * rate**2
    return h.fit_test([h.Levels(time, drawdown + noise * rng.standard_normal(60), 0.1, "pumped")], rate=rate, solutions=list(solutions) if solutions else None)


def test_with_nothing_in_doubt_it_is_theis_turned_round():
    fit = invented_test(noise=1e-6)
    rating = h.rate_bore(fit, static_level=10.0, guard_depth=40.0, dry_season_fall=4.0, belief=CERTAIN, confidence=0.9)
    for horizon, room in zip(rating.horizons, (30.0, 26.0, 26.0, 26.0), strict=True):
        expected = room / h.drawdown(horizon.time, 0.1, rate=1.0, transmissivity=1e-4, storativity=1e-3)
        assert horizon.flow == pytest.approx(expected, rel=1e-3)
        assert horizon.high == pytest.approx(horizon.low, rel=1e-3)


def test_loss_at_the_bore_is_taken_out_of_the_test_and_put_back_by_the_square():
    loss, rate = 4e5, 1e-3
    fit = invented_test(noise=1e-6, loss=loss, rate=rate)
    rating = h.rate_bore(fit, static_level=10.0, guard_depth=40.0, dry_season_fall=0.0, belief=CERTAIN, well_loss=h.Estimate(loss, loss, loss))
    linear = h.drawdown(10 * YEAR, 0.1, rate=1.0, transmissivity=1e-4, storativity=1e-3)
    expected = (-linear + np.sqrt(linear**2 + 4 * loss * 30.0)) / (2 * loss)
    assert rating.horizons[-1].middle == pytest.approx(expected, rel=2e-2)


def test_a_neighbour_takes_what_theis_says():
    fit = invented_test(noise=1e-6)
    belief = dataclasses.replace(CERTAIN, storativity=(1e-3, 0.0))
    alone = h.rate_bore(fit, static_level=10.0, guard_depth=40.0, dry_season_fall=0.0, belief=belief)
    beside = h.rate_bore(fit, static_level=10.0, guard_depth=40.0, dry_season_fall=0.0, belief=belief, neighbours=[h.Neighbour(200.0, 5e-4)])
    taken = h.drawdown(10 * YEAR, 200.0, rate=5e-4, transmissivity=1e-4, storativity=1e-3)
    assert alone.available - beside.available == pytest.approx(taken, rel=1e-3)
    assert beside.horizons[-1].flow == pytest.approx(alone.horizons[-1].flow * (30 - taken) / 30, rel=1e-3)


def test_rating_recovers_the_flow_that_the_true_ground_gives():
    """40 invented grounds of known truth and edges as believed: nine in ten of the true flows lie above the rating, within luck."""
    rng = np.random.default_rng(4)
    belief = h.RatingBelief(loss_share=0.0, fall_spread=0.0)
    held, inside = 0, 0
    for seed in range(40):
        T, S = 10 ** rng.uniform(-5, -3), 10 ** rng.uniform(-4, -2)
        fit = invented_test(transmissivity=T, storativity=S, noise=0.02, seed=seed)
        rating = h.rate_bore(fit, static_level=0.0, guard_depth=30.0, dry_season_fall=0.0, belief=belief, samples=1000, seed=seed)
        count = rng.choice(3, p=belief.boundaries)
        felt = np.exp(rng.uniform(np.log(DAY), np.log(30 * YEAR), count))
        unit = h.drawdown(10 * YEAR, 0.1, rate=1.0, transmissivity=T, storativity=S)
        unit += sum(h.well_function(0.5 * f / (10 * YEAR)) / (4 * np.pi * T) for f in felt)
        true = 30.0 / unit
        held += true >= rating.horizons[-1].flow * 0.999
        inside += rating.low * 0.999 <= true <= rating.high * 1.001
    assert 31 <= held <= 40 and 31 <= inside <= 40


def test_longer_is_never_more_and_more_room_never_less():
    rating = h.rate_bore(invented_test(solutions=None), static_level=10.0, guard_depth=40.0, dry_season_fall=3.0)
    flows = [x.flow for x in rating.horizons]
    assert flows == sorted(flows, reverse=True)
    assert np.all(np.diff(rating.curve_flow[2]) <= 1e-12)
    deeper = h.rate_bore(invented_test(solutions=None), static_level=10.0, guard_depth=60.0, dry_season_fall=3.0)
    assert all(b.middle > a.middle for a, b in zip(rating.horizons, deeper.horizons, strict=True))
    rests = h.rate_bore(invented_test(solutions=None), static_level=10.0, guard_depth=40.0, dry_season_fall=3.0, hours_per_day=8.0)
    assert rests.horizons[-1].middle > rating.horizons[-1].middle


def test_never_rated_above_what_was_tested():
    rating = h.rate_bore(invented_test(rate=2e-4), static_level=10.0, guard_depth=90.0, dry_season_fall=1.0)
    assert rating.flow == pytest.approx(2e-4)
    assert rating.horizons[-1].flow > rating.flow and "tested-rate" in {a.code for a in rating.advisories}


def test_an_airlift_is_told_with_the_width_it_deserves():
    airlift = h.rate_bore(h.Airlift(1e-3, 3600.0), static_level=12.0, guard_depth=58.0)
    tested = h.rate_bore(invented_test(), static_level=12.0, guard_depth=58.0)
    assert airlift.high / airlift.low > 8 > 3 > tested.high / tested.low
    assert {"airlift-only", "level-unknown", "wide"} <= {a.code for a in airlift.advisories}
    assert airlift.flow <= 1e-3
    dipped = h.rate_bore(h.Airlift(1e-3, 3600.0, level=50.0), static_level=12.0, guard_depth=58.0)
    assert np.log(dipped.high / dipped.low) < np.log(airlift.high / airlift.low)


def test_a_short_test_is_wider_than_a_long_one():
    short = h.rate_bore(invented_test(last=3600.0, solutions=None, noise=0.03), static_level=12.0, guard_depth=58.0, dry_season_fall=0.0)
    long = h.rate_bore(invented_test(last=3 * DAY, solutions=None, noise=0.03), static_level=12.0, guard_depth=58.0, dry_season_fall=0.0)
    assert short.high / short.low > long.high / long.low
    assert "short-test" in {a.code for a in short.advisories}


def test_leak_that_may_fail_lowers_the_careful_figure():
    rng = np.random.default_rng(1)
    time = np.geomspace(60, 3 * DAY, 80)
    drawdown = h.leaky_drawdown(time, 0.1, rate=1e-3, transmissivity=1e-4, storativity=1e-3, leakage_factor=15.0) + 0.005 * rng.standard_normal(80)
    fit = h.fit_test([h.Levels(time, drawdown, 0.1, "pumped")], rate=1e-3, solutions=["hantush-jacob"])
    given = {"static_level": 10.0, "guard_depth": 40.0, "dry_season_fall": 0.0}
    sure = h.rate_bore(fit, belief=dataclasses.replace(CERTAIN), **given)
    doubted = h.rate_bore(fit, belief=dataclasses.replace(CERTAIN, source_fails=0.3), **given)
    assert doubted.horizons[-1].flow < 0.95 * sure.horizons[-1].flow
    assert doubted.horizons[-1].high == pytest.approx(sure.horizons[-1].high, rel=0.02)


def test_chance_of_the_need_falls_as_the_need_grows():
    fit = invented_test()
    chances = [h.rate_bore(fit, static_level=10.0, guard_depth=40.0, need=n).chance_of_need for n in (2e-4, 8e-4, 1.2e-3, 4e-3)]
    assert chances == sorted(chances, reverse=True) and chances[0] > 0.99 and chances[-1] < 0.01


def test_same_seed_same_rating_and_plain_json():
    fit = invented_test(solutions=None)
    one, two = (h.rating_as_dict(h.rate_bore(fit, static_level=10.0, guard_depth=40.0, seed=3)) for _ in range(2))
    assert one == two and json.loads(json.dumps(one, allow_nan=False)) == one
    assert {"flow", "low", "high", "guard_depth", "horizons", "levels", "rules", "sentence", "basis", "pumping_level"} <= set(one)
    new, dry = one["levels"]["new"], one["levels"]["tenth dry season"]
    assert new["flow"] == dry["flow"] and new["depth"][0] == pytest.approx(10.0) and dry["depth"][0] > 10.0
    assert all(np.diff(new["depth"]) > 0) and all(d > n for n, d in zip(new["depth"], dry["depth"], strict=True))


def test_a_spring_dry_level_below_the_guard_is_a_danger():
    rating = h.rate_bore(invented_test(), static_level=10.0, guard_depth=12.0, dry_season_fall=4.0)
    assert rating.flow == 0.0 and "no-room" in {a.code for a in rating.advisories}


@pytest.mark.parametrize("change", [
    {"guard_depth": 9.0}, {"guard_depth": float("nan")}, {"hours_per_day": 0.0}, {"hours_per_day": 25.0}, {"confidence": 1.0}, {"samples": 10}, {"need": -1.0},
    {"dry_season_fall": -1.0}, {"bore_radius": 0.0}, {"neighbours": [h.Neighbour(-1.0, 1e-3)]},
])
def test_bad_input_is_refused(change):
    with pytest.raises((BadInput, OutOfDomain)):
        h.rate_bore(invented_test(), **({"static_level": 10.0, "guard_depth": 40.0} | change))


def test_bad_airlifts_are_refused():
    for airlift in (h.Airlift(0.0, 3600.0), h.Airlift(1e-3, 0.0), h.Airlift(1e-3, 3600.0, level=5.0), h.Airlift(1e-3, 3600.0, air_line=5.0)):
        with pytest.raises((BadInput, OutOfDomain)):
            h.rate_bore(airlift, static_level=12.0, guard_depth=58.0)


def test_published_rules(table):
    """Constants and illustrations of the rules table (formulae from memory, arithmetic checked there)."""
    rows = {r["item"]: float(r["value"]) for r in table("rated_yield_practice") if r["value"]}
    assert h.q20_flow(5.0, 30.0) == pytest.approx(rows["illustrative: T=5 m2/d Ha=30 m Farvolden Q20 m3/d"], rel=4e-3)  # 0.68 is rounded from 0.6822
    assert h.moell_flow(86.4, 8.0, 2.5, 30.0) == pytest.approx(rows["illustrative: Q=86.4 s100=8 ds=2.5 Ha=30 Moell Q20 m3/d"], rel=1e-3)
    assert h.hundred_day_flow(86.4, 11.0, 2.5, 30.0) == pytest.approx(
        rows["illustrative: Q=86.4 s24h=11 ds=2.5 Ha=30 100-day with 0.7 m3/d"], rel=1e-6)
    assert h.taylor_flow(1.0, 10.0, 2.0, 0.0, DAY, 30.0) == pytest.approx(30.0 / (10 + 2 * rows["log cycles from 24 h to 2 years"]), rel=1e-4)


def test_specific_capacity_rules(table):
    assert h.logan_transmissivity(1.0, 1.0) == pytest.approx(1.2203, rel=1e-3)
    gallon, foot = 3.785411784e-3, 0.3048
    # The confined rule of 2000: T 30,000 gpd/ft, S 1e-3, r 0.5 ft, one day gives 1994.9.
    T = 30000 * gallon / DAY / foot
    rate = 100 * gallon / 60
    drawdown = h.straight_line_drawdown(DAY, 0.5 * foot, rate=rate, transmissivity=T, storativity=1e-3)
    per_foot = (rate / (gallon / 60)) / (drawdown / foot)
    # The rule was worked with 264 and 0.3; with the constants unrounded it is a two-thousandth less.
    assert 30000 / per_foot == pytest.approx(1994.9, rel=1e-3)
    assert h.specific_capacity_transmissivity(rate, drawdown, time=DAY, bore_radius=0.5 * foot, storativity=1e-3) == pytest.approx(T, rel=1e-9)
