"""Rates from few holes, cost until success, setbacks, ranking; and the bench of siting."""

import pytest

from borewright.bench.declare import answer
from borewright.errors import BadInput, OutOfDomain
from borewright.siting import (
    Hazard,
    Spot,
    expected_cost_to_success,
    rank_spots,
    rate_from_counts,
    sample_setbacks,
    setback_breaches,
    setbacks_from_toml,
)

from .conftest import rows_of

CHECKS = {row[1]: row[2] for row in rows_of("statistics_checks.csv")[1:]}


def test_gamma_poisson_rows():
    """tests/reference/siting/statistics_checks.csv, Gamma-Poisson (computed)."""
    belief = rate_from_counts(3, 180, prior_shape=2, prior_metres=100, next_metres=60)
    assert (belief.shape, belief.rate) == (5, 280)
    assert belief.mean == pytest.approx(0.017857, abs=5e-7)
    assert belief.none_next == pytest.approx(float(CHECKS["P(no strike in the next 60 m) = ((b+L)/(b+L+x))^(a+y)"]), abs=5e-7)
    assert (belief.low, belief.high) == pytest.approx((0.005798, 0.036577), abs=5e-7)
    with pytest.raises(OutOfDomain):
        rate_from_counts(-1, 180, prior_shape=2, prior_metres=100, next_metres=60)


def test_cost_until_success_row():
    assert expected_cost_to_success(10_000, 7_000, 0.7) == pytest.approx(13_000.0)
    assert CHECKS["hole cost c_ok for a success, c_dry for a dry hole: E = c_ok + c_dry (1-p)/p"].endswith("13000.00")
    for bad in (0.0, 1.1, float("nan")):
        with pytest.raises(OutOfDomain):
            expected_cost_to_success(1, 1, bad)


def test_the_cheaper_spot_in_the_end_comes_first_and_a_foul_one_last():
    spots = [Spot("near the house", 20, 0, 0.4, 10_000, 7_000), Spot("far, better", 300, 0, 0.8, 10_000, 7_000), Spot("by the tank", 0, 5, 0.95, 10_000, 7_000)]
    ranked = rank_spots(spots, house=(0, 0), run_cost_per_metre=20.0, hazards=[Hazard("Septic tank", 0, 0)], rules=sample_setbacks())
    assert [r.spot.name for r in ranked] == ["far, better", "near the house", "by the tank"]
    assert ranked[0].whole_cost == pytest.approx(10_000 + 7_000 * 0.25 + 300 * 20)
    assert ranked[2].breaches[0].required == pytest.approx(15.2) and ranked[2].advisories[-1].severity == "danger"
    assert all("local code" in r.advisories[0].message for r in ranked)


def test_setback_rules():
    rules = setbacks_from_toml('[[setback]]\nhazard = "Dip"\ndistance = 50\nsource = "made up for the test"\n')
    assert setback_breaches(0, 0, [Hazard("dip", 30, 40)], rules) == ()
    assert setback_breaches(0, 0, [Hazard("dip", 30, 39)], rules)[0].distance == pytest.approx(49.2, abs=0.1)
    with pytest.raises(BadInput, match="has no rule"):
        setback_breaches(0, 0, [Hazard("volcano", 1, 1)], rules)
    for bad in ("", "[[setback]]\nhazard='x'", "[[setback]]\nhazard='x'\ndistance='far'\nsource='s'", "[["):
        with pytest.raises(BadInput):
            setbacks_from_toml(bad)
    with pytest.raises(OutOfDomain):
        setbacks_from_toml("[[setback]]\nhazard='x'\ndistance=-3\nsource='s'")
    assert all(rule.source for rule in sample_setbacks())


def test_bench_answers():
    curve = answer("sounding-curve", {"spacings": "1, 10, 100 m", "resistivities": "100, 20, 500 ohm m", "thicknesses": "2, 10 m"})
    # tests/reference/siting/ves_three_layer_schlumberger.csv, column H.
    assert curve["results"]["apparent"]["value"] == pytest.approx([98.2451, 27.7576, 143.9706], rel=2e-4)
    assert answer("first-success", {"chance": "70 %", "cost_success": "10000", "cost_failure": "7000"})["results"]["expected_cost"]["value"] == pytest.approx(13_000)
    assert answer("strike-rate", {"strikes": "3", "metres": "180 m", "next_metres": "60 m"})["results"]["none_next"]["value"] == pytest.approx(0.378787, abs=5e-7)
    plane = answer("three-points", {"eastings": "0, 0, 100 m", "northings": "0, 50, 0 m", "elevations": "100, 100, 0 m", "collar_easting": "30 m", "collar_elevation": "100 m"})
    assert plane["results"]["dip"]["value"] == pytest.approx(45) and plane["results"]["depth"]["value"] == pytest.approx(30)
    layers = answer("sounding-layers", {"spacings": "1, 2, 3, 5, 10, 20, 50, 100 m", "readings": "98.2, 89.2, 74.5, 47.7, 27.8, 37.1, 82.2, 144 ohm m"})
    assert layers["results"]["resistivities"]["value"][0] == pytest.approx(100, rel=0.1)
    with pytest.raises(BadInput):
        answer("three-points", {"eastings": "0, 0 m", "northings": "0, 50, 0 m", "elevations": "100, 100, 0 m", "collar_elevation": "100 m"})
