"""The rig's bench: published numbers come out of what a person types, and nonsense is told in four words."""

import json

import pytest

from borewright.bench.declare import answer, calculations
from borewright.errors import BadInput

GPM = 3.785411784e-3 / 60


def test_v_notch_as_typed():
    # Oregon EC 550, 0.40 ft: 115 US gpm
    told = answer("v-notch-flow", {"heads": "0.40, 0.40, 0.40 ft"})
    assert told["results"]["flow"]["value"] / GPM == pytest.approx(115, rel=0.01) and told["results"]["flow"]["unit"] == "m3/s"
    assert told["source"] and told["cautions"] and json.dumps(told)


def test_bucket_as_typed():
    assert answer("bucket-flow", {"volume": "200 L", "fill_times": "60, 60, 60 s"})["results"]["flow"]["value"] == pytest.approx(3.333e-3, abs=1e-6)


def test_uphole_velocity_as_typed():
    # Baski 2008: 1900 cfm in 8 in pipe with 2.375 in air pipe, about 5970 ft/min
    told = answer("uphole-velocity", {"air_flow": "1900 cfm", "hole_diameter": "8 in", "rod_diameter": "2 3/8 in"})
    assert told["results"]["velocity"]["value"] / 0.3048 * 60 == pytest.approx(5970, abs=5)
    assert any("Compressed air kills" in c for c in told["cautions"])


def test_trajectory_as_typed():
    told = answer("pipe-trajectory-flow", {"throws": "20, 20, 20 in", "drop": "13 in", "pipe_inside_diameter": "3 in"})
    assert told["results"]["flow"]["value"] / GPM == pytest.approx(141, rel=0.01)


def test_altitude_as_typed():
    # maker's ratio at 5000 ft: 1.202
    told = answer("air-at-altitude", {"altitude": "5000 ft", "rated_air": "900 cfm"})
    assert told["results"]["factor"]["value"] == pytest.approx(1.202, abs=0.002)


def test_cleaning_depth_as_typed():
    given = {"depth": "300 m", "hole_diameter": "165 mm", "rod_diameter": "114 mm", "air_flow": "18 m3/min", "compressor_pressure": "2000 kPa", "static_level": "8 m"}
    dry, wet = (answer("cleaning-depth", given | {"water_flow": w})["results"] for w in ("0 L/s", "3 L/s"))
    assert wet["cleaning_ends"]["value"] < dry.get("cleaning_ends", {"value": 301})["value"]
    assert wet["bit_pressure"]["value"] > dry["bit_pressure"]["value"] > 101325


def test_every_example_of_the_rig_runs():
    for name, one in calculations().items():
        if one.stage == "rig":
            given = {n: f.json_schema_extra["example"] for n, f in one.inputs.model_fields.items() if f.json_schema_extra.get("example")}
            told = answer(name, given)
            assert told["results"] and json.dumps(told), name


@pytest.mark.parametrize(("name", "given", "field"), [
    ("uphole-velocity", {"air_flow": "20 m3/min", "hole_diameter": "100 mm", "rod_diameter": "114 mm"}, "rod_diameter"),
    ("v-notch-flow", {"heads": "100 mm", "notch_angle": "10 deg"}, "notch_angle"), ("v-notch-flow", {"heads": "-5 mm"}, "heads"), ("bucket-flow", {"volume": "5 gal", "fill_times": "3 s"}, "volume"),
    ("bucket-flow", {"volume": "20 L"}, "fill_times"), ("airlift", {"air_flow": "6 m3/min", "air_depth": "10 m", "static_level": "20 m", "specific_capacity": "0.3 L/s/m"}, "air_depth"),
    ("development", {"elapsed": "0, 10 min", "readings": "3"}, "readings"),
])
def test_bad_input_names_the_field(name, given, field):
    with pytest.raises(BadInput) as caught:
        answer(name, given)
    assert caught.value.field == field
