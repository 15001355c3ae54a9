"""The invented district: the same every time, marked as invented, and its truth is the truth of the holes it drills."""

import csv

import numpy as np
import pytest

from borewright.demo.district import (
    BORE_COLUMNS,
    GEOLOGIES,
    INTERVAL_COLUMNS,
    ORRIN_VALE,
    STRIKE_COLUMNS,
    Recipe,
    make_district,
    orrin_vale,
    truth_odds,
)


def read(path):
    with path.open(encoding="utf-8") as file:
        return list(csv.reader(file))


def test_orrin_vale_is_always_the_same_and_says_that_it_is_invented(tmp_path):
    first = orrin_vale().write(tmp_path / "a")
    second = make_district(ORRIN_VALE).write(tmp_path / "b")
    for kind, columns in (("bores", BORE_COLUMNS), ("strikes", STRIKE_COLUMNS), ("intervals", INTERVAL_COLUMNS)):
        rows = read(first[kind])
        assert tuple(rows[0]) == columns
        assert rows == read(second[kind])
    assert len(read(first["bores"])) == 1201
    assert "invented" in (tmp_path / "a" / "INVENTED.txt").read_text()


def test_records_agree_with_one_another():
    district = orrin_vale()
    depth = {b[0]: b[4] for b in district.bores}
    total = dict.fromkeys(depth, 0.0)
    for name, at, flow in district.strikes:
        assert 0 < at <= depth[name] + 0.06
        total[name] += flow
    for name, _, _, _, _, flow, _, first, _, status in district.bores:
        assert total[name] == pytest.approx(flow, abs=0.006)
        assert (status == "dry") == (flow == 0) == (first is None)
    ends = {}
    for name, top, end, _ in district.intervals:
        assert top == ends.get(name, 0.0) and end > top
        ends[name] = end
    assert ends == pytest.approx(depth)


@pytest.mark.parametrize("geology", GEOLOGIES)
def test_the_truth_is_the_share_of_holes_that_would_succeed(geology):
    """Holes drilled to the full depth by simulation at one spot, against the odds by transform."""
    district = make_district(Recipe(geology=geology, seed=6, bores=10))
    lon, lat = district.degrees(np.array([9_000.0]), np.array([21_000.0]))
    x, y = district.metres(lon, lat)
    intensity = float(district.scale(lon, lat)[0]) * district._profile(district.rockhead(lon, lat), x, y)[0]
    rng, n, depth, need = np.random.default_rng(0), 200_000, 70.0, 0.25e-3
    count = rng.poisson(intensity[: int(depth / 0.5)].sum() * 0.5, n)
    total = np.zeros(n)
    sizes = np.exp(district.log_yield_mean(lon, lat)[0] + district.recipe.yield_sd * rng.standard_normal(count.sum())) * 1e-3
    np.add.at(total, np.repeat(np.arange(n), count), sizes)
    assert district.odds(lon, lat, depth, need)[0] == pytest.approx((total >= need).mean(), abs=0.005)


def test_truth_rises_with_depth_and_falls_with_need():
    lon, lat = orrin_vale().degrees(np.full(5, 15_000.0), np.full(5, 15_000.0))
    assert np.all(np.diff(truth_odds(lon, lat, [20, 40, 60, 80, 100], 0.25e-3)) > 0)
    assert np.all(np.diff(truth_odds(lon, lat, 80.0, np.array([0.1, 0.3, 0.6, 1.0, 3.0]) * 1e-3)) < 0)


def test_stopping_when_enough_makes_shallow_bores_lucky():
    wet = np.array([(b[4], b[5]) for b in orrin_vale().bores])
    shallow, deep = wet[wet[:, 0] < 30], wet[wet[:, 0] >= 60]
    assert (shallow[:, 1] > 0).mean() > 0.95 > (deep[:, 1] > 0).mean()
