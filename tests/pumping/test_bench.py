"""The bench of pumping: published numbers as typed, and bad input by field."""

import json

import pytest

from borewright.bench.declare import answer, calculations
from borewright.errors import BadInput

FOOT = 0.3048


def test_pipe_friction_as_typed():
    # Schedule 40, C = 145, 1.61 in, 20 US gpm: 2.6 ft per 100 ft (The Engineering ToolBox).
    told = answer("pipe-friction", {"flow": "20 US gpm", "length": "100 ft", "inside_diameter": "1.61 in", "hazen_williams": "145"})
    assert told["results"]["loss_hazen_williams"]["value"] / FOOT == pytest.approx(2.6, abs=0.06)
    assert told["results"]["loss"]["value"] == pytest.approx(told["results"]["loss_hazen_williams"]["value"], rel=0.1)


def test_pump_duty_with_a_typed_curve():
    told = answer("pump-duty", {"need": "0.5 L/s", "pumping_level": "25 m", "curve_flows": "0, 0.3, 0.6, 0.9 L/s", "curve_heads": "60, 56, 46, 20 m"})
    assert 0.5e-3 < told["results"]["flow"]["value"] < 0.9e-3 and "motor_power" not in told["results"]


def test_pump_duty_without_a_curve_says_it_is_invented():
    told = answer("pump-duty", {"need": "0.5 L/s", "pumping_level": "25 m", "lift": "6 m", "main_length": "120 m"})
    assert any("invented" in line for line in told["limits"]) and any("electrician" in line for line in told["cautions"])


def test_cable_size_as_typed():
    told = answer("cable-size", {"motor_power": "1.5 kW", "length": "90 m", "current": "11.5 A"})
    # 2 x 11.5 A x 90 m x R over 230 V under 5 %: R under 5.56 ohm/km; 4 mm2 at 70 degC is 4.95 x 1.2 = 5.94, 6 mm2 3.96.
    assert told["results"]["conductor_area"]["value"] == pytest.approx(6e-6)
    assert told["results"]["drop"]["value"] == pytest.approx(2 * 11.5 * 90 * 3.30e-3 * 1.2 / 230)


def test_cooling_as_typed():
    told = answer("motor-cooling", {"flow": "10 m3/h", "casing_inside_diameter": "203 mm", "motor_diameter": "144 mm"})
    assert told["results"]["velocity"]["value"] == pytest.approx(0.17, abs=0.005)


def test_bore_enough_answers_in_words():
    told = answer("bore-enough", {"rated_flow": "0.4 L/s", "people": "4"})
    assert any(line.startswith("Yes") for line in told["limits"])


def test_bore_enough_says_which_field_an_empty_form_lacks_and_runs_on_the_fields_it_calls_needed():
    one = calculations()["bore-enough"]
    needed = {n: f.json_schema_extra["example"] for n, f in one.inputs.model_fields.items() if f.is_required()}
    assert set(needed) == {"rated_flow", "people"}
    assert answer("bore-enough", needed)["results"]["high"]["value"] == pytest.approx(4 * 0.3)
    with pytest.raises(BadInput) as told:
        answer("bore-enough", {})
    assert told.value.field in needed


def test_panels_lift_the_demand_in_the_worst_month():
    told = answer("sun-pump", {"demand": "4000 L", "need": "0.5 L/s", "pumping_level": "25 m", "lift": "6 m", "latitude": "-35 deg",
                               "irradiation": "6.8, 6.2, 5.4, 4.2, 3.2, 2.8, 3.0, 3.9, 4.9, 5.8, 6.4, 6.8 kWh"})["results"]
    assert told["worst_day"]["value"] >= 4.0 and told["worst_month"]["value"] == 6
    # no less than the energy that the water itself takes: 4 m3 up 31 m on 2.8 h of full sun
    assert told["panel_power"]["value"] > 4 * 998.2 * 9.80665 * 31 / 3600 / 2.8


def test_every_example_of_pumping_runs():
    for name, one in calculations().items():
        if one.stage == "pumping":
            given = {n: f.json_schema_extra["example"] for n, f in one.inputs.model_fields.items() if f.json_schema_extra.get("example")}
            told = answer(name, given)
            assert told["results"] and json.dumps(told), name


@pytest.mark.parametrize(("name", "given", "field"), [
    ("pipe-friction", {"flow": "20 gal/min", "length": "100 ft", "inside_diameter": "1.61 in"}, "flow"), ("pipe-friction", {"flow": "1 L/s", "length": "100 m", "inside_diameter": "0 mm"}, "inside_diameter"),
    ("pump-duty", {"need": "0.5 L/s", "pumping_level": "25 m", "curve_flows": "0, 1, 2 L/s"}, "curve_heads"),
    ("pump-duty", {"need": "0.5 L/s", "pumping_level": "25 m", "curve_flows": "0, 1, 2 L/s", "curve_heads": "30, 40, 20 m"}, "pump curve"),
    ("pump-duty", {"need": "0.5 L/s", "pumping_level": "95 m", "curve_flows": "0, 1, 2 L/s", "curve_heads": "60, 40, 20 m"}, "pump"),
    ("cable-size", {"motor_power": "1.5 kW", "length": "90 m", "phases": "2"}, "phases"), ("tank-size", {"rated_flow": "0.1 L/s"}, "demand"), ("bore-enough", {"rated_flow": "0.1 L/s"}, "people"),
    ("bore-enough", {"rated_flow": "0.1 L/s", "people": "0"}, "numbers"),
])
def test_bad_input_names_the_field(name, given, field):
    with pytest.raises(BadInput) as caught:
        answer(name, given)
    assert caught.value.field == field
