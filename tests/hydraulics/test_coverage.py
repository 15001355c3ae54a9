"""Simulated tests of every solution, in the pumped bore and beside it: every true value lies inside its interval nine times in ten (invented ground)."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from scipy.stats import binom

from borewright import hydraulics as h
from borewright.hydraulics.engine import node_map, response_at
from borewright.hydraulics.solutions import SOLUTIONS, Place

SETS, SEEDS, READINGS = 3, 20, 60
# A fit of these takes long.
SEEDS_OF = {"neuman": 6, "two-barriers": 7, "barrier-and-river": 8, "two-rivers": 8}
BESIDE = ("neuman",)
INSIDE = ("gringarten", "gringarten-even")
CASES = [(name, radius) for name in SOLUTIONS for radius in (0.1, 30.0) if not ((name in BESIDE and radius < 1) or (name in INSIDE and radius > 1))]


def _truth(name, rng, radius, last):
    """Return parameters whose shape shows within the test."""
    t, s = 10 ** rng.uniform(-5, -2.3), 10 ** rng.uniform(-5, -2.5)
    cone = np.sqrt(2.25 * t / s * last)
    near = 10 ** rng.uniform(np.log10(max(1.5 * radius, cone / 30)), np.log10(max(cone / 2.5, 3 * radius)))
    value = {"transmissivity": t, "storativity": s, "image_distance": near, "leakage_factor": near, "flow_dimension": rng.uniform(1.3, 2.6), "fracture_storage": t * 10 ** rng.uniform(2.5, 4.3)}
    value["block_storativity_ratio"] = 10 ** rng.uniform(0.3, 1.7)
    value["interflow"] = s * value["block_storativity_ratio"] / t / (last * 10 ** rng.uniform(-2, -0.7))
    first, second = SOLUTIONS[name].edges or ("near_edge", "far_edge")
    value[first] = 10 ** rng.uniform(np.log10(max(1.5 * radius, cone / 30)), np.log10(max(cone / 4, 2 * radius)))
    value[second] = value[first] * 10 ** rng.uniform(0.1, 0.6)
    if name == "neuman":
        value |= {"storativity": 10 ** rng.uniform(-4.5, -3.3), "yield_ratio": 10 ** rng.uniform(1.7, 2.8), "vertical_factor": 10 ** rng.uniform(-2, 0) / radius**2}
    return value


def _least(count):
    """Return the fewest hits of so many that one run in ten thousand would stay below, were each a hit nine times in ten."""
    return int(binom.ppf(1e-4, count, 0.9))


def _held(name, radius, time, value, noise, rng, seeds):
    """Return how many intervals were told and how many hold the truth, by parameter, over so many seeds of noise [m]."""
    told, hits = Counter(), Counter()
    nodes, parts, rows = node_map(time, (h.steady_rate(1.0),))
    unit = rows @ response_at(nodes, parts, SOLUTIONS[name], Place(radius, radius < 1, 0.1, 0.1), {k: np.array([[v]]) for k, v in value.items()})[0]
    rate = 5.0 / unit[-1]
    for _ in range(seeds):
        levels = h.Levels(time, unit * rate + noise * rng.standard_normal(time.size), radius, "w")
        for key, found in h.fit_test([levels], rate=rate, solutions=[name], bore_radius=0.1, casing_radius=0.1).fits[0].parameters.items():
            told[key] += 1
            hits[key] += found.low <= value[key] <= found.high
    return told, hits


@pytest.mark.slow
@pytest.mark.parametrize(("name", "radius"), CASES)
def test_the_truth_lies_inside_nine_times_in_ten(name, radius):
    rng = np.random.default_rng([7, sum(map(ord, name)), int(radius)])
    told, hits, seeds = Counter(), Counter(), SEEDS_OF.get(name, SEEDS)
    for _ in range(SETS):
        time = np.geomspace(30, 10 ** rng.uniform(4.3, 5.5), READINGS)
        value = _truth(name, rng, radius, time[-1])
        for total, more in zip((told, hits), _held(name, radius, time, value, 10 ** rng.uniform(-2.5, -1.5), rng, seeds), strict=True):
            total.update(more)
    assert all(count == SETS * seeds for count in told.values())
    assert {key: hits[key] for key in told if hits[key] < _least(told[key])} == {}


@pytest.mark.slow
def test_a_valley_in_which_storage_and_blocks_trade_off_is_walked_to_its_end():
    value = {"transmissivity": 3.84e-5, "storativity": 2.29e-4, "block_storativity_ratio": 32.7, "interflow": 0.171}
    told, hits = _held("moench", 30.0, np.geomspace(30, 1e5, 60), value, 0.009, np.random.default_rng(3), 24)
    assert {key: hits[key] for key in told if hits[key] < _least(told[key])} == {}
