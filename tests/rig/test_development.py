"""The development tracker: recovery with coverage, the floor, and the words when it will not clear."""

import numpy as np
import pytest

from borewright.errors import BadInput
from borewright.rig import CRITERIA, track_development, volume_to_remove

TIMES = np.arange(0, 7201, 600.0)


def noisy(rng, time, height, tau, floor=0.0, scatter=0.15):
    return (height * np.exp(-time / tau) + floor) * np.exp(scatter * rng.standard_normal(time.size))


def test_exact_decay_is_found():
    found = track_development(TIMES, 400 * np.exp(-TIMES / 1800))
    assert found.model == "decay"
    assert found.half_life == pytest.approx(1800 * np.log(2), rel=1e-9)
    assert found.clean_by == pytest.approx(1800 * np.log(80), rel=1e-9)


def test_interval_of_plain_decay_covers():
    rng = np.random.default_rng(11)
    truth, held, runs = 2500 * np.log(200 / 5.0), 0, 300
    for _ in range(runs):
        found = track_development(TIMES[:5], noisy(rng, TIMES[:5], 200, 2500))  # five readings: no floor is tried
        held += found.clean_low is not None and found.clean_low <= truth and (found.clean_high is None or truth <= found.clean_high)
    assert 0.92 <= held / runs <= 0.98  # 95 % exact; three binomial standard errors either way


def test_interval_with_a_floor_covers():
    rng = np.random.default_rng(5)
    time = np.arange(0, 9001, 450.0)
    truth, held, runs, floored = 900 * np.log(200 / 3.0), 0, 40, 0
    for _ in range(runs):
        found = track_development(time, noisy(rng, time, 200, 900, floor=2.0, scatter=0.10))
        floored += found.model == "decay to a floor"
        held += found.clean_low <= truth and (found.clean_high is None or truth <= found.clean_high)
    assert floored == runs
    assert held / runs >= 0.85


def test_a_floor_above_the_criterion_is_told():
    rng = np.random.default_rng(2)
    found = track_development(TIMES, noisy(rng, TIMES, 200, 900, floor=12.0, scatter=0.05))
    assert found.clean_by is None and not found.clean
    assert found.floor == pytest.approx(12.0, rel=0.15)
    assert "floor-above-criterion" in {a.code for a in found.advisories}


def test_sand_that_does_not_fall_is_told():
    rng = np.random.default_rng(4)
    found = track_development(TIMES, 60 * np.exp(0.3 * rng.standard_normal(TIMES.size)), what="sand")
    assert found.model == "not clearing" and found.clean_by is None
    assert "not-clearing" in {a.code for a in found.advisories}
    assert track_development(TIMES, 5 + TIMES / 100, what="sand").model == "not clearing"


def test_clean_needs_three_in_a_row():
    values = 100 * np.exp(-TIMES / 1200)
    assert CRITERIA["turbidity"] == 5.0  # UFGS 02521
    assert track_development(TIMES, values).clean
    values[-2] = 30.0
    assert not track_development(TIMES, values).clean


def test_three_readings_are_too_few():
    found = track_development([0, 600, 1200], [100, 50, 25])
    assert found.model == "too few readings" and found.clean_by is None


def test_scaling_the_clock_scales_the_answer():
    rng = np.random.default_rng(9)
    values = noisy(rng, TIMES, 300, 2000)
    minutes, seconds = track_development(TIMES / 60, values), track_development(TIMES, values)
    assert seconds.clean_by == pytest.approx(60 * minutes.clean_by, rel=1e-6)
    assert seconds.clean_high == pytest.approx(60 * minutes.clean_high, rel=1e-6)


def test_nothing_seen_is_not_zero():
    values = 100 * np.exp(-TIMES / 900)
    values[-1] = 0.0
    found = track_development(TIMES, values)
    assert np.isfinite(found.clean_by) and "below-resolution" in {a.code for a in found.advisories}


def test_volume_to_remove():
    assert volume_to_remove(0.5, water_added=0.2) == pytest.approx(2.1)  # UFGS 02521: three of each


@pytest.mark.parametrize("call", [
    lambda: track_development([0, 1, 2, 3], [1, 2, 3]), lambda: track_development([0, 2, 1, 3], [9, 8, 7, 6]), lambda: track_development([0, 1, 2, 3], [9, -8, 7, 6]),
    lambda: track_development([], []), lambda: track_development(TIMES, TIMES, what="mud"), lambda: track_development(TIMES, TIMES, criterion=0),
    lambda: track_development(TIMES, TIMES, criterion=5, resolution=6), lambda: track_development(TIMES, TIMES, confidence=1.5), lambda: volume_to_remove(-1),
])
def test_nonsense_is_refused(call):
    with pytest.raises(BadInput):
        call()
