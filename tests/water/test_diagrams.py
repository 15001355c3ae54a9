"""Diagram geometry against check points, and trends against exact and published ranks."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.water import (
    analysis_of,
    diagram_data,
    equivalents,
    meets,
    parallel_points,
    radial_points,
    result,
    step_change,
    trend,
    trilinear_points,
    water_type,
)
from tests.water.conftest import sample, table

ROWS = table("piper_points")


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["water"])
def test_trilinear_points(row):
    if len(row["water"]) == 1:
        groups = equivalents(sample(row["water"]))
    else:
        groups = {"calcium": float(row["Ca_pct"]), "magnesium": float(row["Mg_pct"]), "sodium and potassium": float(row["NaK_pct"]), "bicarbonate": float(row["HCO3_pct"]),
                  "sulfate": float(row["SO4_pct"]), "chloride": float(row["Cl_pct"])}
    points = trilinear_points(groups)
    for name, x, y in (("cations", "x_cation", "y_cation"), ("anions", "x_anion", "y_anion"), ("diamond", "X_diamond", "Y_diamond")):
        assert points[name] == (pytest.approx(float(row[x]), abs=0.011), pytest.approx(float(row[y]), abs=0.011))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.lists(st.floats(0.01, 50), min_size=6, max_size=6))
def test_diamond_lies_on_both_lines_and_inside(six):
    groups = dict(zip(("calcium", "magnesium", "sodium and potassium", "bicarbonate", "sulfate", "chloride"), six, strict=True))
    p = trilinear_points(groups)
    (xc, yc), (xa, ya), (xd, yd) = p["cations"], p["anions"], p["diamond"]
    assert yd - yc == pytest.approx(math.sqrt(3) * (xd - xc), abs=1e-9) and yd - ya == pytest.approx(-math.sqrt(3) * (xd - xa), abs=1e-9)
    assert 0 <= xc <= 100 and 120 <= xa <= 220 and 60 - 1e-9 <= xd <= 160 + 1e-9


def test_kinds_of_water():
    assert water_type(equivalents(sample("B"))) == "calcium, bicarbonate"
    assert water_type(equivalents(sample("C"))) == "sodium and potassium, chloride"


def test_radial_and_parallel_carry_the_equivalents():
    groups = equivalents(sample("C"))
    for name, angle, x, y in radial_points(groups):
        assert math.hypot(x, y) == pytest.approx(groups[name]) and math.degrees(math.atan2(x, y)) % 360 == pytest.approx(angle)
    assert {n: abs(v) for n, v, _ in parallel_points(groups)} == pytest.approx(groups)
    assert [row for _, _, row in parallel_points(groups)] == [0, 1, 2, 2, 1, 0]


def test_no_diagram_without_the_major_ions():
    assert diagram_data(analysis_of([result("Ca", "12", "mg/L")])) is None


YEAR = 365.25 * 86400


def test_trend_by_hand():
    # 1, 3, 2, 5, 4: of ten pairs eight rise and two fall: tau 0.6. The ten slopes by hand: -1, -1, 1/3, 1/2, 3/4, 1, 1, 4/3, 2, 3.
    found = trend(np.arange(5.0), [1, 3, 2, 5, 4])
    assert found.tau == pytest.approx(0.6) and found.slope == pytest.approx(0.875)
    # exact two-sided p of Kendall's S = 6 with n = 5 is 0.234 (28 of 120 orderings are as far out)
    assert found.p_value == pytest.approx(0.2333, abs=1e-3)


def test_slope_of_theil_and_sen_by_brute_force():
    rng = np.random.default_rng(1)
    time, values = np.sort(rng.uniform(0, 10, 15)), rng.normal(size=15)
    slopes = [(values[j] - values[i]) / (time[j] - time[i]) for i in range(15) for j in range(i + 1, 15)]
    assert trend(time, values).slope == pytest.approx(np.median(slopes))


def test_trend_is_honest_about_nothing():
    rng = np.random.default_rng(8)
    false = sum(trend(np.arange(12.0), rng.normal(size=12)).p_value <= 0.05 for _ in range(400))
    assert 5 <= false <= 34  # 20 expected of 400 at 5 %, three standard errors
    assert trend(np.arange(6.0), [3, 3, 3, 3, 3, 3]).p_value == 1.0


def test_falling_level_meets_the_intake():
    time = np.arange(10) * YEAR
    level = 30 + 0.8 * np.arange(10) + np.array([0.1, -0.1, 0.05, 0, -0.05, 0.1, 0, -0.1, 0.05, 0])
    found = trend(time, level)
    assert found.words.startswith("Rising by about 0.8 a year") and found.p_value < 1e-3
    when, soonest = meets(found, 45.0, now=time[-1])
    assert when / YEAR == pytest.approx((45 - 37.2) / 0.8, rel=0.03) and soonest < when
    assert meets(found, 30.0, now=time[-1]) == (0.0, 0.0)
    assert meets(trend(time, -level), 0.0, now=time[-1])[0] is None


def test_readings_that_follow_each_other_are_told():
    rng = np.random.default_rng(2)
    walk = np.cumsum(rng.normal(size=60))
    assert "readings-follow-each-other" in {a.code for a in trend(np.arange(60.0), walk).advisories}


def test_step():
    rng = np.random.default_rng(6)
    values = np.concatenate([rng.normal(10, 0.3, 12), rng.normal(12, 0.3, 10)])
    found = step_change(values)
    assert found.after == 11 and found.p_value < 0.01 and found.since - found.before == pytest.approx(2.0, abs=0.3)
    assert step_change(rng.normal(size=20)).p_value > 0.05


@pytest.mark.parametrize("call", [
    lambda: trend([0, 1, 2], [1, 2, 3]), lambda: trend([0, 1, 2, 2, 3], [1, 2, 3, 4, 5]), lambda: trend(np.arange(5), [1, 2, float("nan"), 4, 5]), lambda: trend(np.arange(5), [1, 2, 3, 4]),
    lambda: step_change([1, 2, 3]), lambda: trend(np.arange(5), np.arange(5), level_of_doubt=2),
])
def test_nonsense_is_refused(call):
    with pytest.raises(BadInput):
        call()
