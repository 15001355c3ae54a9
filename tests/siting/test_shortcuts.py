"""The quick way to one spot's odds gives what the plain way gives, worked here without any of its shortcuts."""

import numpy as np
import pytest
from scipy.linalg import solve
from scipy.spatial.distance import cdist
from scipy.special import ndtr

from borewright.siting import Register, belief, chance_of_enough, gathered, odds_at, odds_at_sites, prospect_as_dict
from borewright.siting.belief import around, belief_at, belief_from
from borewright.siting.compound import strikes_by_depth
from borewright.siting.fields import Field, correlation, place, places
from borewright.siting.keep import model_of
from borewright.siting.model import Layer

SPOTS = [(-38.47, -18.22), (-38.40, -18.10), (-38.55, -18.30), (-38.44, -18.19)]


@pytest.fixture(params=[160, None], ids=["nearest", "all"])
def most(request, monkeypatch):
    """How many bores speak for a spot: the nearest 160 as in a large register, or all as in one of moderate size."""
    if request.param:
        monkeypatch.setattr(belief, "ALL_SPEAK", 0)
        monkeypatch.setattr(gathered, "_DENSE", np.inf)
    return request.param


def plain_layer(layer, register, spot, most):
    """Return mean and variance at a spot by a dense solution over the nearest bores, or all; over all, at each width that is open."""
    told = [(*plain_field(field, layer, register, spot, most), weight) for field, weight in ([(layer.field, 1.0)] if most else layer.fields)]
    mean = sum(weight * each for each, _, weight in told)
    return mean, sum(weight * (variance + each**2) for each, variance, weight in told) - mean**2


def plain_field(field, layer, register, spot, most):
    distance = cdist(register.places, spot)[:, 0]
    rows = np.argsort(distance, kind="stable")[:most]
    rows = rows[layer.precision[rows] > 0]
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
    other = replace(model, scale=replace(model.scale, field=field, widths=()))
    spot = (-38.47, -18.22)
    quick = belief_from(other, register, around(model, register, spot[1], spot[0]))
    mean, variance = plain_layer(other.scale, register, places(np.array([spot[1]]), np.array([spot[0]])), most)
    assert quick.scale[0] == pytest.approx(mean, abs=1e-9)
    assert quick.scale_variance[0] == pytest.approx(variance, abs=1e-9)


@pytest.mark.parametrize("speaking", [0, 10_000], ids=["nearest cells", "all cells"])
def test_cells_speak_as_all_their_bores_do(monkeypatch, speaking):
    """Against the dense solution over every bore: the belief moves by less than half of its own doubt."""
    monkeypatch.setattr(gathered, "_ALL_SPEAK", speaking)
    rng = np.random.default_rng(3)
    n, length = 3000, 20e3
    lon, lat = rng.uniform(-1, 1, n), rng.uniform(50, 51, n)
    for family in ("smooth", "rough"):
        field = Field(0.1, 0.5, length, 0.1, 0.15, family)
        precision = np.where(rng.random(n) < 0.8, rng.uniform(0.2, 1.5, n), 0.0)
        layer = Layer(field, 0.1 + np.sin(4 * lon) * np.cos(5 * lat) + rng.normal(0, 0.9, n), precision)
        cells = gathered.gather(field, layer.value, precision, lon, lat, places(lon, lat))
        assert cells.bores.sum() == (precision > 0).sum()
        assert len(cells.bores) < (0.25 if family == "smooth" else 0.7) * n
        register = Register.of("dense", lon=lon, lat=lat, depth=np.full(n, 50.0))
        order = np.searchsorted(lon, register.lon, sorter=np.argsort(lon))
        row = np.argsort(lon)[order]
        sorted_layer = Layer(field, layer.value[row], precision[row])
        spots = places(rng.uniform(-0.8, 0.8, 6), rng.uniform(50.2, 50.8, 6))
        for spot, together in zip(spots, gathered.at_cells_of_many(field, cells, spots).T, strict=True):
            mean, variance = plain_layer(sorted_layer, register, spot[None, :], None)
            quick, doubt, records = gathered.at_cells(field, cells, tuple(spot.tolist()))
            assert together == pytest.approx((quick, doubt, records), rel=1e-9)
            assert abs(quick - mean) < 0.5 * np.sqrt(variance - field.nugget**2)
            # Cells near the edge speak with less than their weight: a little more doubt, never less.
            assert 0.97 < (doubt - field.nugget**2) / (variance - field.nugget**2) < 1.25
            told = correlation(cdist(register.places, spot[None, :])[:, 0], length, family)[sorted_layer.precision > 0]
            # A rough field's correlation has a long tail, of which the cells that speak count the most.
            assert (0.9 if family == "smooth" else 0.65) < records / (told**2).sum() < 1.05


def test_cells_do_not_mind_the_antimeridian_or_the_pole():
    rng = np.random.default_rng(4)
    field = Field(0.0, 0.5, 30e3, 0.1, 0.15)
    for lon, lat in ((180.0 + rng.uniform(-1, 1, 800), rng.uniform(10, 11, 800)), (rng.uniform(-180, 180, 800), rng.uniform(89, 90, 800))):
        lon = (lon + 180.0) % 360.0 - 180.0
        cells = gathered.gather(field, np.zeros(800), np.ones(800), lon, lat, places(lon, lat))
        assert cells.bores.sum() == 800
        # No cell is wider than it may be: every bore is near the middle of some cell.
        assert cells.tree.query(places(lon, lat))[0].max() < 0.4 * 30e3


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


@pytest.mark.parametrize("more", [0.3, 4.0, 30.0], ids=["poor", "fair", "so rich that enough is sure"])
@pytest.mark.parametrize("need", [0.1e-3, 1e-3])
def test_the_depth_of_enough_is_read_off_right(small, more, need):
    """Against the chance worked out at that depth by the public way, and the first strike by the gamma belief's own chance of none."""
    from dataclasses import replace

    _, register = small
    model = model_of(register)
    richer = replace(model, shape=replace(model.shape, intensity=more * model.shape.intensity))
    copy = replace(register)
    copy.__dict__["_model"] = richer
    odds = odds_at(copy, *SPOTS[0], need=need, depths=[40.0])
    prospect = odds.prospect
    deepest = float(prospect.depth_edges[-1])
    reached = chance_of_enough(prospect, need, deepest)[0, 0]
    assert any(depth is not None for depth in odds.first_water.values())
    for q, depth in odds.enough_depth.items():
        assert (depth is None) == (reached < q)
        if depth is not None:
            assert chance_of_enough(prospect, need, depth)[0, 0] == pytest.approx(q, abs=5e-4)
    for q, depth in odds.first_water.items():
        strikes = strikes_by_depth(prospect, np.array([deepest if depth is None else depth]))[0]
        some = 1.0 - (1.0 + strikes / prospect.scale_rate) ** -prospect.scale_shape
        assert some < q if depth is None else some == pytest.approx(q, abs=1e-6)


def test_the_nearest_bore_that_says_anything_is_found_behind_many_that_say_nothing(monkeypatch):
    """Where cells speak only a few bores around a spot are looked up; here none of them says anything."""
    from dataclasses import replace

    rng = np.random.default_rng(5)
    n = 3000
    lon, lat, depth = rng.uniform(10, 10.4, n), rng.uniform(-20.4, -20, n), rng.uniform(30, 90, n)
    flow = np.where(rng.random(n) < 0.6, 1e-3, 0.0)
    register = Register.of("large", lon=lon, lat=lat, depth=depth, flow=flow, wet=(flow > 0).astype(int))
    model = model_of(register)
    assert gathered.gathered_of(model, register) is not None
    spot = (-20.2, 10.2)
    distance = cdist(register.places, places(np.array([spot[1]]), np.array([spot[0]])))[:, 0]
    silent = distance < np.sort(distance)[60]
    hushed = replace(model, scale=replace(model.scale, precision=np.where(silent, 0.0, model.scale.precision)))
    near = around(hushed, register, spot[1], spot[0])
    assert len(near.rows) < 60
    assert belief_from(hushed, register, near).nearest[0] == pytest.approx(distance[~silent & (model.scale.precision > 0)].min())
