"""Readings close in time that stray together: the choice between shapes counts them for what they carry (simulated, truth known)."""

from __future__ import annotations

import numpy as np

from borewright.hydraulics import Levels, drawdown, fit_test

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
