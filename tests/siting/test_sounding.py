"""Soundings against image series (computed, tests/reference/siting), brute-force integration and made ground."""

import numpy as np
import pytest

from borewright.errors import OutOfDomain
from borewright.siting import apparent_resistivity, invert_sounding

from .conftest import rows_of

THREE = {"H: 100/20/500": ((100, 20, 500), (2, 10)), "K: 20/200/10": ((20, 200, 10), (2, 8)), "A: 10/50/250": ((10, 50, 250), (3, 12)),
         "Q: 250/50/10": ((250, 50, 10), (3, 12)), "basement: laterite 800, saprolite 40, bedrock 3000": ((800, 40, 3000), (2, 18))}


def test_two_layers():
    rows = rows_of("ves_two_layer_schlumberger.csv")
    table = np.array(rows[1:], float)
    for column, name in enumerate(rows[0][1:], 1):
        k = float(name.removeprefix("k="))
        found = apparent_resistivity(table[:, 0], resistivity=[1.0, (1 + k) / (1 - k)], thickness=[1.0])
        assert found == pytest.approx(table[:, column], rel=2e-4)


@pytest.mark.parametrize("name", THREE)
def test_three_layers(name):
    rows = rows_of("ves_three_layer_schlumberger.csv")
    table = np.array(rows[1:], float)
    rho, h = THREE[name]
    found = apparent_resistivity(table[:, 0], resistivity=rho, thickness=h)
    assert found == pytest.approx(table[:, rows[0].index(name)], rel=2e-4)


def test_wenner_by_images():
    a, n = np.array([1.0, 5, 20, 100]), np.arange(1, 40_001)[:, None]
    k = (20 - 100) / (20 + 100)
    series = (k**n * ((1 + (2 * n * 5 / a) ** 2) ** -0.5 - (4 + (2 * n * 5 / a) ** 2) ** -0.5)).sum(axis=0)
    assert apparent_resistivity(a, resistivity=[100, 20], thickness=[5], array="wenner") == pytest.approx(100 * (1 + 4 * series), rel=3e-4)


def test_even_ground_and_small_inner_distance():
    s = np.array([1.0, 10, 100])
    for array in ("schlumberger", "wenner"):
        assert apparent_resistivity(s, resistivity=[70.0], thickness=[], array=array) == pytest.approx(70.0)
    ideal = apparent_resistivity(s, resistivity=[100, 20, 500], thickness=[2, 10])
    near = apparent_resistivity(s, resistivity=[100, 20, 500], thickness=[2, 10], inner=s / 20)
    assert near == pytest.approx(ideal, rel=0.02) and not np.allclose(near, ideal, rtol=1e-6)


def test_made_ground_is_found_again_and_the_range_holds_it():
    s = np.geomspace(1, 300, 16)
    truth = apparent_resistivity(s, resistivity=[100, 20, 500], thickness=[2, 10])
    read = truth * np.exp(0.03 * np.random.default_rng(2).standard_normal(len(s)))
    fit = invert_sounding(s, read, layers=3, relative_error=0.03, members=120)
    assert fit.misfit < 0.045
    assert fit.best.resistivity[0] == pytest.approx(100, rel=0.1) and fit.best.resistivity[2] == pytest.approx(500, rel=0.25)
    # What a sounding over a conductive layer tells is its thickness over its resistivity.
    conductance = fit.best.thickness[1] / fit.best.resistivity[1]
    assert conductance == pytest.approx(0.5, rel=0.12)
    assert fit.depth_range[1][0] < fit.depth_range[1][1] and len(fit.ensemble) == 120


def test_equivalence_is_shown():
    s = np.geomspace(1, 300, 14)
    read = apparent_resistivity(s, resistivity=[200, 10, 800], thickness=[5, 2])
    fit = invert_sounding(s, read, layers=3, relative_error=0.05, members=120)
    low, high = fit.thickness_range[1]
    assert high / low > 1.8  # a thin layer: its thickness alone is not known
    ratio = np.array([one.thickness[1] / one.resistivity[1] for one in fit.ensemble])
    assert np.quantile(ratio, 0.9) / np.quantile(ratio, 0.1) < high / low


@pytest.mark.parametrize("bad", [
    {"spacing": [0.0]}, {"resistivity": [-1, 5]}, {"thickness": [1, 2]}, {"thickness": [np.nan]}, {"array": "square"}, {"inner": 2.0},
])
def test_nonsense(bad):
    given = {"spacing": [1.0], "resistivity": [10, 50], "thickness": [5]} | bad
    with pytest.raises(OutOfDomain):
        apparent_resistivity(given.pop("spacing"), **given)


def test_too_few_readings():
    with pytest.raises(OutOfDomain):
        invert_sounding([1, 2, 3], [10, 20, 30], layers=3)
    with pytest.raises(OutOfDomain):
        invert_sounding([1, 2, 3], [10, 20, 30], layers=9)
