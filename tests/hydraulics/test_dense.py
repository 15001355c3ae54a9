"""Readings close in time that stray together: the choice between shapes counts them for what they carry (simulated, truth known)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import kve

from borewright.hydraulics import Levels, drawdown, fit_test
from borewright.hydraulics.bessel import scaled_k

RATE, T, S, RADIUS = 5e-3, 1e-3, 2e-4, 30.0
SHAPES = ["theis", "hantush-jacob", "theis-barrier", "theis-recharge"]
TIME = np.linspace(60, 12 * 3600.0, 300)


def strayed(seed: int, likeness: float) -> np.ndarray:
    """Noise of 1 cm whose every value resembles the one before it (first-order autoregression)."""
    fresh = np.random.default_rng(seed).standard_normal(TIME.size)
    held = fresh.copy()
    for i in range(1, TIME.size):
        held[i] = likeness * held[i - 1] + np.sqrt(1 - likeness**2) * fresh[i]
    return 0.01 * held


def chosen(level: np.ndarray) -> str:
    return fit_test([Levels(TIME, level, RADIUS)], rate=RATE, solutions=SHAPES).best


def test_noise_that_strays_in_runs_does_not_buy_an_edge_or_a_leak():
    plain = drawdown(TIME, RADIUS, rate=RATE, transmissivity=T, storativity=S)
    found = [chosen(plain + strayed(seed, 0.9)) for seed in range(8)]
    assert found.count("theis") >= 6, found


def test_an_edge_that_is_there_is_still_found_through_such_noise_and_through_plain_noise():
    edged = sum(drawdown(TIME, r, rate=RATE, transmissivity=T, storativity=S) for r in (RADIUS, 400.0))
    for likeness in (0.0, 0.9):
        assert [chosen(edged + strayed(seed, likeness)) for seed in range(4)] == ["theis-barrier"] * 4


def held_by_intervals(likeness: float, runs: int) -> tuple[int, int, float]:
    """Return how often the intervals of T and S hold the truth, and the middle width of T's [natural logarithm]."""
    plain = drawdown(TIME[::4], RADIUS, rate=RATE, transmissivity=T, storativity=S)
    inside, widths = [0, 0], []
    for seed in range(runs):
        found = fit_test([Levels(TIME[::4], plain + strayed(seed, likeness)[::4], RADIUS)], rate=RATE, solutions=["theis"]).leading.parameters
        for which, (name, truth) in enumerate((("transmissivity", T), ("storativity", S))):
            inside[which] += found[name].low <= truth <= found[name].high
        widths.append(np.log(found["transmissivity"].high / found["transmissivity"].low))
    return *inside, float(np.median(widths))


def test_intervals_hold_through_noise_that_strays_in_runs():
    """Of 60 runs at a true 90 %, fewer than 46 happens once in some 4,000; least squares alone holds it in some 25. Wider, but not without end:

    readings that resemble their neighbour by 0.66 (0.9 over four) carry (1 + 0.66)/(1 - 0.66) = 4.9 times less, so 2.2 times the width.
    """
    transmissivity, storativity, width = held_by_intervals(0.9, 60)
    assert transmissivity >= 46 and storativity >= 46
    *_, plain = held_by_intervals(0.0, 20)
    assert 1.7 * plain < width < 5.0 * plain


@pytest.mark.parametrize("order", [0, 1])
def test_quick_bessel_functions_are_the_librarys(order):
    rng = np.random.default_rng(order)
    z = np.exp(rng.uniform(np.log(1e-8), np.log(600.0), 4000)) * np.exp(1j * rng.uniform(-1.45, 1.45, 4000))
    np.testing.assert_allclose(scaled_k(order, z), kve(order, z), rtol=1e-7)
