"""How doubts are put together, against the worked examples of the guide itself.

Source of every number here: JCGM 100:2008 (the GUM), clauses 4.4.3, 4.4.5 and H.1; from memory, the guide was not opened. The
readings of 4.4.3 vouch for one another: their printed mean and deviation come out of them.
"""

from __future__ import annotations

import math

import pytest
from scipy.stats import t as student

from borewright.rig.flow import bucket_flow
from borewright.rig.measurement import Component, combine, method_component, read, repeat_component, tool_component

# Twenty temperatures of 4.4.3, table 1 [degC].
TEMPERATURES = [
    96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
]


def test_type_a_is_the_guides_thermometer():
    reading = read(TEMPERATURES, "temperature", presumed_spread=0.03)
    assert reading.mean == pytest.approx(100.145, abs=5e-4)
    assert reading.spread * reading.mean == pytest.approx(1.489, abs=5e-4)
    assert reading.standard_error == pytest.approx(0.333, abs=5e-4)
    one = repeat_component("temperature", reading, 2.0)
    assert one.type == "A" and one.degrees_of_freedom == 19 and one.contribution == pytest.approx(2 * 0.333, abs=1e-3)


def test_type_b_is_the_guides_rectangle():
    # 4.4.5: known only to lie from 96 to 104 degC, anywhere alike: 4 / sqrt(3) = 2.3 degC
    one = tool_component("temperature", 4.0, -1.0)
    assert one.type == "B" and one.contribution == pytest.approx(2.3, abs=0.05) and math.isinf(one.degrees_of_freedom)


def test_one_reading_alone_is_a_presumption_and_so_type_b():
    one = repeat_component("fill time", read(40.0, "fill_times", presumed_spread=0.05), 1.0)
    assert one.type == "B" and one.contribution == pytest.approx(2.0)


def test_the_whole_is_the_guides_gauge_block():
    # H.1: 32 nm with 16 effective degrees of freedom (16.7 before it is cut off), from a calibration by another laboratory, repeat readings, the comparator and temperature.
    parts = [
        Component("standard", "B", 25.0, 18), Component("repeat readings", "A", 5.8, 24), Component("comparator, chance", "B", 3.9, 5), Component("comparator, bias", "B", 6.7, 8),
        Component("expansion", "B", 2.9, 50), Component("temperature of the two", "B", 16.6, 2),
    ]
    whole = combine("gauge block", 50_000_838.0, parts, 5, [])
    assert whole.standard_uncertainty == pytest.approx(32, abs=0.5)
    assert student.ppf(0.975, 17) < whole.coverage_factor < student.ppf(0.975, 16)
    assert whole.coverage_factor == pytest.approx(2.12, abs=0.01)  # table G.2: 16 degrees of freedom, 95 %
    assert whole.high - whole.flow == pytest.approx(whole.coverage_factor * whole.standard_uncertainty)
    assert [c.name for c in whole.components][:2] == ["standard", "temperature of the two"]  # largest first


def test_a_bucket_says_which_of_its_doubts_are_of_each_type():
    told = {c.name.split(",")[0]: c for c in bucket_flow(0.02, [39.0, 40.0, 41.0]).components}
    kinds = [c.type for c in told.values()]
    assert kinds.count("A") == 1 and kinds.count("B") >= 2  # the repeats; the bucket and the watch
    repeats = next(c for c in told.values() if c.type == "A")
    # flow = volume / time: the mean's standard error of 1 / sqrt(3) s on 40 s
    assert repeats.contribution == pytest.approx(0.02 / 40**2 / math.sqrt(3), rel=1e-9) and repeats.degrees_of_freedom == 2


def test_a_method_with_its_own_accuracy_counts_as_type_b():
    one = method_component("V-notch law", 1e-3, 0.01)
    assert one.type == "B" and one.contribution == pytest.approx(1e-5)
