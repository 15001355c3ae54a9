"""Strikes: the belief and its sums against scipy, quadrature, simulation and published compound Poisson values."""

import numpy as np
import pytest
from scipy import integrate, stats

from borewright.errors import BadInput, OutOfDomain
from borewright.pricing.stoprule import chance_of_need
from borewright.pricing.strikes import negative_binomial, panjer, strike_model, yield_kernel

from .conftest import make_prospect


def test_counts_are_negative_binomial():
    got = negative_binomial(4.0, 4.0, 2.5, 20)
    assert got == pytest.approx(stats.nbinom.pmf(np.arange(21), 4.0, 4.0 / 6.5), rel=1e-12)


def test_none_in_the_next_metres(checks):
    # Gamma(2, 100) after 3 strikes in 180 m is Gamma(5, 280); none in the next 60 m.
    assert round(float(negative_binomial(5.0, 280.0, 60.0, 0)[0]), 6) == float(checks["B-01"]["expected"])


def test_panjer_against_the_published_example(checks):
    got = panjer(np.array([0.0, 0.25, 0.375, 0.375]), a=0.0, b=0.8, start=np.exp(-0.8), most=4)
    for total in range(5):
        # Half a unit in the last printed digit.
        assert got[total] == pytest.approx(float(checks[f"P-0{total + 1}"]["expected"]), abs=0.51e-6)


def test_panjer_binomial_is_binomial():
    n, p = 12, 0.3
    got = panjer(np.array([0.0, 1.0]), a=-p / (1 - p), b=(n + 1) * p / (1 - p), start=(1 - p) ** n, most=n)
    assert got == pytest.approx(stats.binom.pmf(np.arange(n + 1), n, p), rel=1e-10)


def test_compound_poisson_tail_with_log_series_is_negative_binomial():
    # A Poisson number of logarithmic severities is negative binomial (Quenouille 1949, from memory): an exact tail from scipy.
    r, p = 2.5, 0.4
    k = np.arange(0, 200)
    severity = np.where(k > 0, -((1 - p) ** np.maximum(k, 1)) / (np.maximum(k, 1) * np.log(p)), 0.0)
    mean = -r * np.log(p)
    got = panjer(severity, a=0.0, b=mean, start=np.exp(-mean), most=60)
    assert 1 - np.cumsum(got) == pytest.approx(stats.nbinom.sf(np.arange(61), r, p), abs=1e-12)


def test_kernel_rows_are_chances_and_the_last_step_is_exact():
    need, mean, sd, levels = 0.25e-3, np.log(0.2e-3), 1.1, 60
    kernel = yield_kernel(levels, need, mean, sd)
    assert kernel.sum(axis=1) == pytest.approx(np.ones(levels), abs=1e-12) and kernel.min() >= 0
    flows = np.arange(levels - 1) * need / (levels - 1)
    assert kernel[:-1, -1] == pytest.approx(stats.lognorm(sd, scale=np.exp(mean)).sf(need - flows), abs=1e-12)


def test_two_strikes_against_quadrature():
    need, mean, sd = 0.25e-3, np.log(0.12e-3), 0.8
    one = stats.lognorm(sd, scale=np.exp(mean))
    exact = one.sf(need) + integrate.quad(lambda y: one.pdf(y) * one.sf(need - y), 0, need, points=[need / 2], epsabs=1e-12)[0]
    prospect = make_prospect(median=float(np.exp(mean)), spread=sd)
    assert strike_model(prospect, need=need, maximum_depth=100, levels=240).tails(2)[2, 0] == pytest.approx(exact, abs=2e-5)
    assert strike_model(prospect, need=need, maximum_depth=100, levels=60).tails(2)[2, 0] == pytest.approx(exact, abs=3e-4)


def test_odds_by_depth_against_simulation():
    prospect = make_prospect()
    model = strike_model(prospect, need=0.25e-3, maximum_depth=120)
    generator = np.random.default_rng(11)
    count, index = 200_000, 60
    strikes = generator.poisson(generator.gamma(4.0, 0.25, count) * model.exposure[index])
    owner = np.repeat(np.arange(count), strikes)
    flow = np.bincount(owner, np.exp(np.log(0.25e-3) + 1.2 * generator.standard_normal(len(owner))), minlength=count)
    share = (flow >= 0.25e-3).mean()
    assert chance_of_need(model)[index] == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / count))
    assert (np.diff(chance_of_need(model)) >= -1e-12).all()


def test_level_is_the_last_only_when_the_need_is_met():
    model = strike_model(make_prospect(), need=0.25e-3, maximum_depth=20)
    assert int(model.level(0.25e-3)) == 59 and int(model.level(0.25e-3 * 0.999)) == 58 and int(model.level(0.0)) == 0


@pytest.mark.parametrize("change", [{"need": 0.0}, {"need": -1.0}, {"need": float("nan")}, {"maximum_depth": 0.0}, {"maximum_depth": 500.0},
                                    {"step": 0.0}, {"levels": 2}, {"maximum_depth": 0.5}])
def test_what_no_hole_could_have_is_refused(change):
    with pytest.raises(OutOfDomain):
        strike_model(make_prospect(), **({"need": 0.25e-3, "maximum_depth": 100.0} | change))


def test_prospects_that_are_not_are_refused():
    from dataclasses import replace

    good = make_prospect()
    for change in ({"scale_shape": 0.0}, {"scale_rate": -1.0}, {"log_yield_sd": 0.0}, {"strike_intensity": good.strike_intensity - 1},
                   {"depth_edges": good.depth_edges[::-1]}, {"strike_intensity": good.strike_intensity[:-1]}, {"log_yield_mean": float("inf")}):
        with pytest.raises(BadInput):
            strike_model(replace(good, **change), need=0.25e-3, maximum_depth=100)
