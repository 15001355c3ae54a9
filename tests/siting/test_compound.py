"""The total of a random number of log-normal yields, against closed forms, simulation and itself on finer cells."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm, norm

from borewright.errors import OutOfDomain
from borewright.siting import WaterProspect, chance_of_enough, compound
from borewright.siting.compound import chance_each, enough_table, latent_strikes

EDGES = np.arange(0.0, 101.0, 2.0)


def prospect(shape=3.0, rate=3.0, intensity=0.02, median=0.3e-3, sd=1.1):
    return WaterProspect(EDGES, np.full(len(EDGES) - 1, intensity), shape, rate, float(np.log(median)), sd, 20.0)


def test_a_vanishing_need_is_one_strike_or_more():
    one = prospect()
    found = chance_of_enough(one, 1e-12, [30.0, 100.0])[0]
    # Negative binomial: none = (b / (b + E))^a.
    assert found == pytest.approx(1 - (3.0 / (3.0 + 0.02 * np.array([30.0, 100.0]))) ** 3.0, abs=2e-6)


def test_at_most_one_strike_is_the_log_normal_tail():
    one = prospect(shape=1e6, rate=1e6, intensity=1e-7)
    expected = 1e-7 * 100 * norm.sf(np.log(0.5 / 0.3) / 1.1)
    assert chance_of_enough(one, 0.5e-3, 100.0)[0, 0] == pytest.approx(expected, rel=1e-3)


def test_against_simulation():
    rng = np.random.default_rng(3)
    one, n = prospect(), 400_000
    count = rng.poisson(rng.gamma(3.0, 1 / 3.0, n) * 0.02 * 80)
    total = np.zeros(n)
    np.add.at(total, np.repeat(np.arange(n), count), lognorm.rvs(1.1, scale=0.3e-3, size=count.sum(), random_state=rng))
    for need in (0.1e-3, 0.25e-3, 1e-3, 3e-3):
        simulated = (total >= need).mean()
        assert chance_of_enough(one, need, 80.0)[0, 0] == pytest.approx(simulated, abs=4.5 * np.sqrt(0.25 / n))


def test_halving_the_cells_moves_nothing(monkeypatch):
    needs, depths = np.array([0.05, 0.25, 1.0, 4.0]) * 1e-3, [20.0, 60.0, 100.0]
    usual = chance_of_enough(prospect(), needs, depths)
    monkeypatch.setattr(compound, "_CELLS", 512)
    assert np.abs(chance_of_enough(prospect(), needs, depths) - usual).max() < 2e-4


def test_many_spots_at_once_is_each_spot_alone():
    cases = [(0.25e-3, 40.0, 2.0, 1.5, 0.2e-3, 1.0), (1e-3, 90.0, 8.0, 9.0, 0.5e-3, 1.3)]
    together = chance_each(*(np.array(v) for v in zip(*[(n, 0.02 * d, a, b, np.log(m), s) for n, d, a, b, m, s in cases], strict=True)))
    alone = [chance_of_enough(prospect(a, b, 0.02, m, s), n, d)[0, 0] for n, d, a, b, m, s in cases]
    assert together == pytest.approx(alone, abs=1e-12)


def test_the_table_is_the_sum_it_stands_for():
    table = enough_table(1.1)
    for expected, need in ((0.3, 0.2e-3), (1.6, 1e-3), (6.0, 3e-3)):
        exact = chance_of_enough(prospect(1e7, 1e7, expected / 100.0), need, 100.0)[0, 0]
        assert float(table(np.array(expected), np.log(need / 0.3e-3))) == pytest.approx(exact, abs=2e-3)


def test_hidden_strikes_behind_a_total():
    tables, rng = latent_strikes(1.0), np.random.default_rng(5)
    x = np.exp(rng.standard_normal((400_000, 3)))
    logs, total = np.log(x), np.log(x.sum(axis=1))
    near = np.abs(total - np.log(4.0)) < 0.03
    density, mean, square = tables.at(np.array([np.log(4.0)]))
    assert np.exp(density[2, 0]) == pytest.approx(near.mean() / 0.06, rel=0.03)
    assert mean[2, 0] == pytest.approx(logs[near].mean(), abs=0.02)
    assert square[2, 0] == pytest.approx((logs[near] ** 2).mean(), rel=0.03)
    before = tables.before_last()(np.exp)  # the flow before the last of three is on average two thirds of the total
    at = np.interp(np.log(4.0), tables.log_total, before[2])
    assert at == pytest.approx(4.0 * 2 / 3, rel=0.02)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(shape=st.floats(0.3, 50), intensity=st.floats(1e-4, 0.1), sd=st.floats(0.3, 2.0), need=st.floats(1e-5, 1e-2))
def test_odds_never_fall_with_depth_nor_rise_with_need(shape, intensity, sd, need):
    chance = chance_of_enough(prospect(shape, shape, intensity, sd=sd), [need, 1.5 * need], np.arange(5.0, 101.0, 5.0))
    assert np.all((chance >= 0) & (chance <= 1))
    assert np.all(np.diff(chance, axis=1) >= -1e-9)
    assert np.all(chance[1] <= chance[0] + 2e-4)


@pytest.mark.parametrize(("need", "depth"), [(-1.0, 10.0), (np.nan, 10.0), (1e-3, 101.0), (1e-3, -1.0), (1e-3, np.inf)])
def test_nonsense_is_refused(need, depth):
    with pytest.raises(OutOfDomain):
        chance_of_enough(prospect(), need, depth)
