"""The charts: ink stands where the numbers say, words stay apart, bad numbers are refused."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest

from borewright.drawing import charts, supply
from borewright.errors import BadInput
from borewright.water import analysis_from_values, diagram_data
from drawing.test_living import NS, boxes, meeting, words

SIZE = {"width": 360, "height": 240, "medium": "paper"}
TIME = [60.0, 600.0, 6000.0, 60000.0]
DRAWDOWN = [1.0, 2.0, 3.0, 4.0]


def circles(svg):
    return [(float(c.get("cx")), float(c.get("cy"))) for c in ET.fromstring(svg).iter(f"{NS}circle")]


# Invented: 4 meq/L of calcium, 1 of magnesium, 2 of sodium; 3 of bicarbonate, 1 of sulfate, 3 of chloride.
WATER = analysis_from_values([{"name": n, "value": v, "unit": "meq/L"} for n, v in (("calcium", 4), ("magnesium", 1), ("sodium", 2), ("bicarbonate", 3), ("sulfate", 1), ("chloride", 3))])
MADE = {
    "odds": lambda: charts.odds_chart([(10, 0.1, 0.05, 0.2), (50, 0.6, 0.5, 0.7), (90, 0.8, None, None)], drilled=40.0, **SIZE),
    "drawdown": lambda: charts.drawdown_chart(TIME, DRAWDOWN, fit_time=TIME, fit_drawdown=DRAWDOWN, **SIZE),
    "log drawdown": lambda: charts.drawdown_chart(TIME, DRAWDOWN, log_drawdown=True, **SIZE),
    "derivative": lambda: charts.derivative_chart(TIME, DRAWDOWN, TIME, [0.4, 0.43, 0.44, -0.1], **SIZE),
    "recovery": lambda: charts.recovery_chart([1000, 100, 10, 2], [8, 5, 2, 0.5], fit_ratio=[1000, 2], fit_residual=[8, 0.5], **SIZE),
    "rating": lambda: charts.rating_chart([0, 1e-3, 2e-3], [10, 20, 33], low=[10, 18, 28], high=[10, 23, 40], guard=45.0, rated=1.5e-3, **SIZE),
    "pump": lambda: charts.pump_chart([0, 1e-3, 2e-3], [60, 50, 20], [0, 1e-3, 2e-3], [20, 30, 55], duty_flow=1.4e-3, duty_head=38.0, **SIZE),
    "margins": lambda: charts.margins_chart([("grouting, production", 4.6, 1.5), ("airlifting, production", 1.2, 1.5)], **SIZE),
    "pump over the years": lambda: charts.pump_chart([0, 1e-3, 2e-3], [60, 50, 20], (), (), moments=[("new", [0, 2e-3], [20, 55]), ("tenth dry season", [0, 2e-3], [30, 58])],
                                                     duties=[(1.4e-3, 38.0), (1.2e-3, 44.0)], **SIZE),
    "radial": lambda: charts.radial_chart(diagram_data(WATER)["radial"], **SIZE),
    "parallel": lambda: charts.parallel_chart([("a", diagram_data(WATER)["parallel"])], **SIZE),
    "two parallel": lambda: charts.parallel_chart([("2026-03-02", diagram_data(WATER)["parallel"]), ("2027-03-02", diagram_data(WATER)["parallel"])], **SIZE),
    "months": lambda: supply.month_chart([6.0, 5.5, 5, 4, 3, 2.5, 2.6, 3.2, 4, 5, 5.6, 6], wanted=3.0, **SIZE),
    "tank": lambda: supply.tank_chart([12.0, 8.0, 4.0, 0.0, 9.0], tried=[5.0, 1.0, 0.0, 0.0, 5.0], **SIZE),
    "trilinear": lambda: charts.trilinear_chart([("a", {"calcium": 1, "magnesium": 1, "sodium and potassium": 1, "bicarbonate": 2, "sulfate": 1, "chloride": 1})], **SIZE),
}


@pytest.mark.parametrize("name", MADE)
def test_words_stay_apart_and_inside(name):
    svg = MADE[name]()
    assert meeting(svg) == []
    for left, top, right, bottom, text in boxes(svg):
        assert left >= -0.01 and right <= 360.01 and top >= -0.01 and bottom <= 240.01, text
    root = ET.fromstring(svg)
    assert root.find(f"{NS}title").text and root.find(f"{NS}desc").text


def test_equal_ratios_of_time_and_equal_steps_of_drawdown_stand_equally_far_apart():
    places = circles(charts.drawdown_chart(TIME, DRAWDOWN, **SIZE))[:4]
    across = [b[0] - a[0] for a, b in zip(places, places[1:], strict=False)]
    down = [b[1] - a[1] for a, b in zip(places, places[1:], strict=False)]
    assert across == pytest.approx([across[0]] * 3, abs=0.03) and across[0] > 0
    assert down == pytest.approx([down[0]] * 3, abs=0.03) and down[0] > 0, "drawdown grows downwards"


def test_units_change_the_words_and_not_the_shape():
    metric, us = (charts.rating_chart([0, 1e-3], [10, 20], rated=5e-4, units=u, **SIZE) for u in ("metric", "us"))
    assert "ft" in words(us) and "US gpm" in words(us) and "ft" not in words(metric)


def test_trilinear_corners_and_middle():
    corner = {"magnesium": 0.0, "sodium and potassium": 0.0, "bicarbonate": 5.0, "sulfate": 0.0, "chloride": 0.0, "calcium": 5.0}
    pure, middle = charts.trilinear_chart([("c", corner)], **SIZE), charts.trilinear_chart(
        [("m", {"calcium": 1, "magnesium": 1, "sodium and potassium": 2, "bicarbonate": 2, "sulfate": 1, "chloride": 1})], **SIZE)
    triangles = [p.get("d") for p in ET.fromstring(pure).iter(f"{NS}path") if p.get("stroke-width") == "0.8"]
    corners = [[tuple(map(float, pair)) for pair in re.findall(r"(-?[\d.]+) (-?[\d.]+)", d)] for d in triangles]
    left, right, diamond = corners
    # Pure calcium bicarbonate stands on a corner of each triangle and on the left corner of the diamond (Piper 1944).
    assert circles(pure) == [pytest.approx(left[0], abs=0.02), pytest.approx(right[0], abs=0.02), pytest.approx(diamond[0], abs=0.02)]
    assert diamond[0][0] == min(x for x, _ in diamond)
    # Half alkali, half strong acid: the middle of the diamond, which is the mean of its corners.
    mean = tuple(sum(v[i] for v in diamond) / 4 for i in (0, 1))
    assert circles(middle)[2] == pytest.approx(mean, abs=0.02)


def test_equivalents_against_published_factors():
    # Hem 1985, USGS Water-Supply Paper 2254, table 9 (factors mg/L to meq/L; from memory): Ca 0.04990, Mg 0.08229, Na 0.04350, HCO3 0.01639, SO4 0.02082, Cl 0.02821.
    got = charts.equivalents_of({"Calcium": (100, "mg/L"), "Magnesium": (100, "mg/L"), "Sodium": (100, "mg/L"), "Bicarbonate": (100, "mg/L"), "Sulfate": (100, "mg/L"), "Chloride": (100, "mg/L")})
    want = {"calcium": 4.990, "magnesium": 8.229, "sodium and potassium": 4.350, "bicarbonate": 1.639, "sulfate": 2.082, "chloride": 2.821}
    for name, value in want.items():
        assert got[name] == pytest.approx(value, abs=0.0015), name
    assert charts.equivalents_of({"calcium": (10, "mg/L")}) is None
    assert charts.equivalents_of({"calcium": (10, "meq/L"), "chloride": (10, "mg/L")}) is None


@pytest.mark.parametrize("wrong", [
    lambda: charts.drawdown_chart([60, math.nan], [1, 2], **SIZE), lambda: charts.drawdown_chart([60], [1, 2], **SIZE), lambda: charts.rating_chart([0, 1], [1, 2], low=[1], high=[1], **SIZE),
    lambda: charts.odds_chart([], width=10, height=240), lambda: charts.pump_chart([0], [1], [0], [1], width=360, height=240, medium="film"),
    lambda: charts.trilinear_chart([("x", {"calcium": 1.0})], **SIZE), lambda: charts.recovery_chart([1], [True], **SIZE),
])
def test_bad_numbers_are_refused(wrong):
    with pytest.raises(BadInput):
        wrong()


def test_nothing_to_draw_is_an_empty_frame():
    assert circles(charts.drawdown_chart([], [], **SIZE)) == []


def corners_of(svg):
    d = next(p.get("d") for p in ET.fromstring(svg).iter(f"{NS}path") if p.get("fill-opacity"))
    return [tuple(map(float, part.split())) for part in d.removeprefix("M").removesuffix("Z").split("L")]


def test_each_spoke_is_as_long_as_its_ion_and_stands_at_its_angle():
    svg = charts.radial_chart(diagram_data(WATER)["radial"], **SIZE)
    centre = (180.0, 120.0)
    found = [(math.hypot(x - centre[0], y - centre[1]), math.degrees(math.atan2(x - centre[0], centre[1] - y)) % 360) for x, y in corners_of(svg)]
    expected = [(4, 30), (1, 90), (2, 150), (3, 210), (1, 270), (3, 330)]  # clockwise: calcium, magnesium, sodium; chloride, sulfate, bicarbonate
    scale = found[0][0] / 4
    assert [length / scale for length, _ in found] == pytest.approx([length for length, _ in expected], abs=0.01)
    assert [angle for _, angle in found] == pytest.approx([angle for _, angle in expected], abs=0.1)


def test_parallel_lines_put_metals_left_and_acids_right_to_one_scale():
    points = corners_of(charts.parallel_chart([("a", diagram_data(WATER)["parallel"])], **SIZE))
    across = [x - 180.0 for x, _ in points]
    scale = -across[1] / 4
    # Stiff: left sodium, calcium, magnesium down the page; then up the right side sulfate, bicarbonate, chloride
    assert [x / scale for x in across] == pytest.approx([-2, -4, -1, 1, 3, 3], abs=0.01)
    rows = [y for _, y in points]
    assert rows[0] == rows[5] < rows[1] == rows[4] < rows[2] == rows[3]


def test_a_month_that_falls_short_is_hollow_and_bars_are_as_tall_as_their_water():
    svg = supply.month_chart([6.0, 3.0, *[4.0] * 10], wanted=3.5, **SIZE)
    bars = [r for r in ET.fromstring(svg).iter(f"{NS}rect") if r.get("stroke") and float(r.get("width")) < 40][:12]
    heights = [float(r.get("height")) for r in bars]
    assert heights[0] / heights[1] == pytest.approx(2.0, abs=0.01)
    assert [bool(r.get("stroke-dasharray")) for r in bars] == [False, True, *[False] * 10]


@pytest.mark.parametrize("make", [
    lambda: charts.radial_chart([], **SIZE), lambda: charts.radial_chart([{"group": "calcium", "angle": 30.0, "x": math.nan, "y": 0.0}] * 6, **SIZE),
    lambda: charts.parallel_chart([], **SIZE), lambda: charts.parallel_chart([("a", [{"group": "calcium", "meq_per_l": 0.0, "row": 1}] * 6)], **SIZE),
    lambda: charts.parallel_chart([("a", diagram_data(WATER)["parallel"])] * 9, **SIZE), lambda: supply.month_chart([1.0] * 11, **SIZE), lambda: supply.month_chart([math.inf] * 12, **SIZE),
    lambda: supply.tank_chart([1.0], **SIZE), lambda: supply.tank_chart([1.0, 2.0], tried=[1.0], **SIZE), lambda: charts.pump_chart([0, 1], [2, 1], (), (), moments=[("new", [0.0], [1.0, 2.0])], **SIZE),
])
def test_a_diagram_of_nothing_is_refused(make):
    with pytest.raises(BadInput) as caught:
        make()
    assert caught.value.field and caught.value.want
