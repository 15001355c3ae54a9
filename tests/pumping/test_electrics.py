"""Cable, start and generator against conductor standards and a pump maker's chart."""

import math
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.pumping import (
    cable_for,
    conductor_resistance,
    conductor_sizes,
    generator_for,
    longest_cable,
    motor_current,
    motor_size,
    starting_drop,
    volt_drop,
)
from tests.pumping.conftest import table

FOOT = 0.3048
NEC = {row["awg"]: float(row["published_ohm_per_kft"]) / 1000 / FOOT for row in table("conductor_resistance_nec")}


@pytest.mark.parametrize("row", table("conductor_resistance_iec60228"), ids=lambda r: r["size_mm2"])
def test_resistance_is_the_standards(row):
    area = float(row["size_mm2"]) * 1e-6
    assert conductor_resistance(area, temperature=20) * 1000 == pytest.approx(float(row["class5_ohm_km"]), rel=1e-12)
    assert conductor_resistance(area, temperature=20, flexible=False) * 1000 == pytest.approx(float(row["class1_2_ohm_km"]), rel=1e-12)


@pytest.mark.parametrize("row", table("conductor_temperature_factor"), ids=lambda r: r["temp_C"])
def test_temperature(row):
    ratio = conductor_resistance(4e-6, temperature=20) / conductor_resistance(4e-6, temperature=float(row["temp_C"]))
    assert ratio == pytest.approx(float(row["published_Kt"]), abs=1e-3)


def test_american_conductors_by_the_same_law():
    # 12 AWG is 3.31 mm2: between 2.5 and 4 mm2 of IEC at 75 degC, as it must be.
    assert conductor_resistance(4e-6, temperature=75, flexible=False) < NEC["12"] < conductor_resistance(2.5e-6, temperature=75, flexible=False)


CHART = [(hp, list(rows)) for hp, rows in groupby(table("submersible_cable_230V_1ph"), key=lambda r: r["motor_hp"])]


@pytest.mark.parametrize(("hp", "rows"), CHART, ids=[hp for hp, _ in CHART])
def test_longest_cable_against_the_makers_chart(hp, rows):
    # The chart does not print its currents: the 14 AWG column gives the current, the larger sizes are the test.
    first = float(rows[0]["max_length_ft"]) * FOOT
    current = 0.05 * 230 / (2 * first * NEC["14"])
    for row in rows[1:]:
        if row["awg"] in ("12", "10", "8", "6"):
            ours = longest_cable(current, NEC[row["awg"]], voltage=230) / FOOT
            assert ours == pytest.approx(float(row["max_length_ft"]), rel=0.06)


def test_mixed_sizes_as_the_makers_rule():
    # Motor maker's manual, printed cut off at three places: 3 hp, 160 ft of 10 AWG (300 allowed) and 310 ft of 8 AWG (470) is 1.193; with 6 AWG (750), 0.946.
    current = 10.0
    allowed = {"10": 300 * FOOT, "8": 470 * FOOT, "6": 750 * FOOT}
    resistance = {awg: 0.05 * 230 / (2 * current * length) for awg, length in allowed.items()}
    for awg, want in (("8", 1.193), ("6", 0.946)):
        drop = volt_drop(current, [(160 * FOOT, resistance["10"]), (310 * FOOT, resistance[awg])]) / 230
        assert drop / 0.05 == pytest.approx(want, abs=1e-3)


def test_three_phase_loses_root_three_over_two():
    assert volt_drop(10, [(50, 1e-3)], phases=3) / volt_drop(10, [(50, 1e-3)]) == pytest.approx(math.sqrt(3) / 2)


def test_cable_is_the_smallest_that_serves():
    cable = cable_for(8.0, length=90, voltage=230)
    assert cable.drop <= 0.05 and cable.start_drop <= 0.25
    smaller = [s for s in conductor_sizes() if s < cable.conductor_area][-1]
    runs = [(90, conductor_resistance(smaller))]
    assert volt_drop(8.0, runs) / 230 > 0.05 or starting_drop(8.0, runs, voltage=230) > 0.25
    assert cable.advisories[0].severity == "danger" and "licensed electrician" in cable.advisories[0].message
    assert cable_for(50, length=2, voltage=400, phases=3).chosen_by == "current"
    assert cable_for(8.0, length=90, voltage=230, start_factor=12).chosen_by == "starting"


@settings(max_examples=60, derandomize=True, deadline=None)
@given(current=st.floats(1, 40), length=st.floats(5, 150), more=st.floats(1.0, 2.0))
def test_a_longer_run_never_takes_a_smaller_cable(current, length, more):
    assert cable_for(current, length=length * more, voltage=400, phases=3).conductor_area >= cable_for(current, length=length, voltage=400, phases=3).conductor_area


@pytest.mark.parametrize(("horsepower", "kva"), [(2, 5.0), (3, 6.25), (5, 9.4), (7.5, 12.5), (10, 18.75)])
def test_generator_beside_a_motor_makers_table(horsepower, kva):
    # Externally regulated generator for a submersible motor; the table is from memory, so this only guards the size of the answer.
    output = horsepower * 745.7
    current = motor_current(output, voltage=400, phases=3)
    assert generator_for(current, voltage=400, phases=3).rating / 1000 == pytest.approx(kva, rel=0.35)


def test_generator_set_by_start_or_running():
    assert generator_for(5, voltage=230).set_by == "start"
    assert generator_for(5, voltage=230, start_factor=1.5).set_by == "running"


def test_motor_current_by_definition():
    assert motor_current(1500, voltage=230, efficiency=0.7, power_factor=0.9) == pytest.approx(1500 / (0.7 * 0.9 * 230))
    assert motor_current(4000, voltage=400, phases=3, efficiency=0.8, power_factor=0.8) == pytest.approx(4000 / (0.64 * 400 * math.sqrt(3)))
    assert motor_size(1000) == 1100 and motor_size(1010) == 1500


@pytest.mark.parametrize("call", [
    lambda: cable_for(0, length=10, voltage=230), lambda: cable_for(10, length=10, voltage=230, phases=2), lambda: cable_for(10, length=10, voltage=230, allowed=5),
    lambda: cable_for(200, length=2000, voltage=230), lambda: conductor_resistance(3e-6), lambda: conductor_resistance(4e-6, temperature=400), lambda: motor_size(2e6),
    lambda: motor_current(1500, voltage=230, efficiency=70), lambda: volt_drop(10, [(-5, 1e-3)]), lambda: generator_for(5, voltage=230, hold=1.0), lambda: starting_drop(5, [(5, 1e-3)], voltage=230, start_factor=0.5),
])
def test_nonsense_is_refused(call):
    with pytest.raises(BadInput):
        call()


def test_a_gentler_start_drops_fewer_volts_and_takes_a_smaller_generator():
    from borewright.pumping import STARTS, start_named

    order = ("direct on line", "soft start", "variable speed")
    cables = [cable_for(8.0, length=60.0, voltage=400.0, phases=3, start_factor=start_named(name).factor) for name in order]
    assert [c.start_drop / c.drop for c in cables] == pytest.approx([STARTS[name].factor for name in order])  # the drop goes as the current
    kva = [generator_for(8.0, voltage=400.0, phases=3, start_factor=STARTS[name].factor, margin=STARTS[name].margin) for name in order]
    assert kva[0].rating > kva[1].rating and kva[0].set_by == "start" and kva[2].set_by == "running"
    assert kva[2].rating == pytest.approx(1.5 * kva[2].running)
    with pytest.raises(BadInput, match="not a way of starting"):
        start_named("by rope")
