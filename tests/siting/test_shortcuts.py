"""The quick way to one spot's odds gives what the plain way gives, worked here without any of its shortcuts."""

import numpy as np
import pytest
from scipy.linalg import solve
from scipy.spatial.distance import cdist
from scipy.special import ndtr

from borewright.siting import belief, odds_at, odds_at_sites, prospect_as_dict
from borewright.siting.belief import around, belief_at, belief_from
from borewright.siting.fields import Field, correlation, place, places
from borewright.siting.keep import model_of
from borewright.siting.model import Layer

SPOTS = [(-38.47, -18.22), (-38.40, -18.10), (-38.55, -18.30), (-38.44, -18.19)]


@pytest.fixture(params=[160, None], ids=["nearest", "all"])
def most(request, monkeypatch):
    """How many bores speak for a spot: the nearest 160 as in a large register, or all as in one of moderate size."""
    if request.param:
        monkeypatch.setattr(belief, "ALL_SPEAK", 0)
    return request.param


def plain_layer(layer, register, spot, most):
    """Return mean and variance at a spot by a dense solution over the nearest bores, or all."""
    distance = cdist(register.places, spot)[:, 0]
    rows = np.argsort(distance, kind="stable")[:most]
    rows = rows[layer.precision[rows] > 0]
    field = layer.field
    between = field.sd**2 * correlation(cdist(register.places[rows], register.places[rows]), field.length, field.family) + field.level_sd**2
    between += np.diag(field.nugget**2 + 1.0 / np.maximum(layer.precision[rows], 1e-9))
    cross = field.sd**2 * correlation(distance[rows], field.length, field.family) + field.level_sd**2
    weights = solve(between, cross, assume_a="pos")
    return field.mean + weights @ (layer.value[rows] - field.mean), field.variance - weights @ cross


def plain_chance(prospect, need, depth, cells=256):
    """Return the chance by the compound sum, transformed there and back on four times the cells."""
    expected = np.interp(depth, prospect.depth_edges, np.concatenate([[0], np.cumsum(np.diff(prospect.depth_edges) * prospect.strike_intensity)]))
    edges = (np.arange(cells + 2) - 0.5) / cells
    edges[0] = 1e-300
    one = np.diff(ndtr((np.log(edges) + np.log(need) - prospect.log_yield_mean) / prospect.log_yield_sd))
    tilt = np.exp(-24.0 / (4 * cells) * np.arange(cells + 1))
    transform = np.fft.rfft(one * tilt, n=4 * cells)
    many = (1.0 + expected / prospect.scale_rate * (1.0 - transform)) ** -prospect.scale_shape
    sums = np.fft.irfft(many, n=4 * cells)[: cells + 1] / tilt
    return 1.0 - (sums.sum() - 0.5 * sums[-1])


@pytest.mark.parametrize("spot", SPOTS)
@pytest.mark.parametrize("need", [0.25e-3, 1e-3])
def test_odds_at_one_spot_are_those_of_the_plain_way(small, spot, need, most):
    _, register = small
    model = model_of(register)
    odds = odds_at(register, *spot, need=need, depths=[40.0, 60.0, 90.0])
    at = places(np.array([spot[1]]), np.array([spot[0]]))
    mean, variance = plain_layer(model.scale, register, at, most)
    shape = 1.0 / np.expm1(variance)
    assert odds.prospect.scale_shape == pytest.approx(shape, rel=1e-9)
    assert odds.prospect.scale_rate == pytest.approx(shape / np.exp(mean + 0.5 * variance), rel=1e-9)
    level, doubt = plain_layer(model.water, register, at, most)
    assert odds.prospect.log_yield_mean == pytest.approx(level, abs=1e-9)
    assert odds.prospect.log_yield_sd == pytest.approx(np.sqrt(model.log_yield_sd**2 + doubt), abs=1e-9)
    for row in odds.by_depth:
        assert row.p == pytest.approx(plain_chance(odds.prospect, need, row.depth), abs=1e-9)
        assert row.low <= row.p <= row.high


def test_nearest_bores_come_in_order_of_distance(small):
    _, register = small
    odds = odds_at(register, *SPOTS[0], need=0.25e-3)
    distance = np.sort(cdist(register.places, places(np.array([SPOTS[0][1]]), np.array([SPOTS[0][0]])))[:, 0])
    assert [bore.distance for bore in odds.nearest] == pytest.approx(distance[:12], abs=1e-6)


@pytest.mark.parametrize("family", ["smooth", "rough"])
@pytest.mark.parametrize("length", [800.0, 1e5, np.inf])
def test_both_families_of_field_and_a_field_without_width(small, family, length, most):
    from dataclasses import replace

    _, register = small
    model = model_of(register)
    field = Field(0.1, 0.4, length, 0.1, 0.2, family)
    other = replace(model, scale=replace(model.scale, field=field))
    spot = (-38.47, -18.22)
    quick = belief_from(other, register, around(register, spot[1], spot[0]))
    mean, variance = plain_layer(other.scale, register, places(np.array([spot[1]]), np.array([spot[0]])), most)
    assert quick.scale[0] == pytest.approx(mean, abs=1e-9)
    assert quick.scale_variance[0] == pytest.approx(variance, abs=1e-9)


@pytest.mark.parametrize("spot", [*SPOTS, (-38.47, -18.45)])
@pytest.mark.parametrize("length", [9e3, 14e3, 25e3, 60e3])
def test_the_series_about_a_spot_is_the_solution_by_pairs(small, spot, length):
    _, register = small
    model = model_of(register)
    layer = Layer(Field(0.1, 0.7, length, 0.05, 0.15), model.scale.value, np.where(model.scale.precision > 0, 300.0, 0.0))
    near = around(register, spot[1], spot[0])
    points = register.places[near.rows] - near.spot
    by_pairs = belief._layer_pairs(layer, near.rows, points)
    quick = belief._layer_one(layer, near.rows, points, belief._directions(near.spot) @ points.T, near.distance**2)
    assert quick == pytest.approx(by_pairs, abs=1e-4)
    if length > 2e4:
        assert quick != by_pairs  # another way was taken


def test_one_point_in_space_is_that_of_many():
    rng = np.random.default_rng(1)
    lon, lat = rng.uniform(-180, 180, 50), rng.uniform(-90, 90, 50)
    np.testing.assert_allclose(places(lon, lat), [place(x, y) for x, y in zip(lon, lat, strict=True)], atol=1e-8)


def test_few_sites_and_one_by_one_agree(small, most):
    _, register = small
    lat, lon = np.array(SPOTS).T
    together = odds_at_sites(register, lat, lon, need=0.25e-3, depth=60.0)
    alone = [odds_at(register, *spot, need=0.25e-3, depths=[60.0]).by_depth[0] for spot in SPOTS]
    assert together.p == pytest.approx([a.p for a in alone], abs=1e-9)
    found = belief_at(model_of(register), register, lon, lat)
    assert together.effective_records == pytest.approx(found.records, abs=1e-12)


def test_an_answer_does_not_share_its_arrays(small):
    _, register = small
    first = odds_at(register, *SPOTS[0], need=0.25e-3)
    before = prospect_as_dict(first.prospect)
    other = odds_at(register, *SPOTS[0], need=0.25e-3)
    other.prospect.strike_intensity[:] = 0.0
    other.column.probability[:] = 0.0
    again = odds_at(register, *SPOTS[0], need=0.25e-3)
    assert prospect_as_dict(again.prospect) == before
    assert again.column.probability.sum() == pytest.approx(first.column.probability.sum())
