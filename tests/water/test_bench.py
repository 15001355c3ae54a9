"""The bench of water: published answers as typed, and bad input by field."""

import json

import pytest

from borewright.bench.declare import answer, calculations
from borewright.errors import BadInput, BorewrightError
from tests.water.conftest import WATERS


def test_sar_as_typed():
    # 10, 4 and 2 meq/L: 5.7735, the published worked answer
    told = answer("sodium-adsorption-ratio", {"sodium": f"{10 * 22.98977} mg/L", "calcium": f"{4 * 20.039} mg/L", "magnesium": f"{2 * 12.1525} mg/L"})
    assert told["results"]["ratio"]["value"] == pytest.approx(5.7735, abs=6e-5)


def test_langelier_as_typed():
    told = answer("langelier", {"ph": "7.5", "temperature": "77 degF", "dissolved_solids": "320 mg/L", "calcium_hardness": "150 ppm", "alkalinity": "34 mg/L"})
    assert told["results"]["langelier"]["value"] == pytest.approx(-0.7, abs=0.05)


def test_hardness_as_typed():
    told = answer("hardness", {"calcium": "98 mg/L", "magnesium": "14 mg/L"})
    assert told["results"]["hardness"]["value"] == pytest.approx(float(WATERS["B"]["hardness"]), abs=0.06)
    assert any("very hard" in line for line in told["limits"])


def test_balance_tells_the_slip():
    given = {"calcium": "120 mg/L", "magnesium": "95 mg/L", "sodium": "640 mg/L", "potassium": "14 mg/L", "bicarbonate": "420 mg/L", "sulfate": "380 mg/L", "nitrate": "4 mg/L"}
    good, slip = (answer("ion-balance", given | {"chloride": c}) for c in ("960 mg/L", "96 mg/L"))
    assert good["results"]["error"]["value"] == pytest.approx(0.0008, abs=6e-5) and slip["results"]["error"]["value"] == pytest.approx(0.4102, abs=6e-5)
    assert any("disagree" in line for line in slip["limits"]) and not any("disagree" in line for line in good["limits"])


def test_saturation_of_the_limestone_bore():
    told = answer("saturation", {"ph": "7.3", "temperature": "15 degC", "calcium": "98 mg/L", "magnesium": "14 mg/L", "sodium": "20 mg/L", "bicarbonate": "340 mg/L", "sulfate": "25 mg/L", "chloride": "35 mg/L"})
    assert told["results"]["calcite"]["value"] == pytest.approx(float(WATERS["B"]["SI_calcite"]), abs=0.06)


def test_nitrate_in_both_forms():
    told = answer("nitrate-form", {"value": "12 mg/L", "form": "as nitrogen"})
    assert told["results"]["as_nitrate"]["value"] == pytest.approx(53.1, abs=0.05) and any("above the WHO" in line for line in told["cautions"])


def test_trend_as_typed():
    told = answer("trend", {"time": "0, 1, 2, 3, 4 year", "values": "1, 3, 2, 5, 4"})
    assert told["results"]["slope"]["value"] == pytest.approx(0.875) and told["results"]["tau"]["value"] == pytest.approx(0.6)


def test_every_example_of_water_runs():
    for name, one in calculations().items():
        if one.stage == "water":
            given = {n: f.json_schema_extra["example"] for n, f in one.inputs.model_fields.items() if f.json_schema_extra.get("example")}
            told = answer(name, given)
            assert told["results"] and json.dumps(told), name


@pytest.mark.parametrize(("name", "given", "field"), [
    ("hardness", {"calcium": "98 mg/L"}, "magnesium"), ("hardness", {"calcium": "-1 mg/L", "magnesium": "1 mg/L"}, "calcium"), ("langelier", {"ph": "17", "temperature": "25 degC", "dissolved_solids": "320 mg/L", "calcium_hardness": "150 mg/L", "alkalinity": "34 mg/L"}, "ph"), ("nitrate-form", {"value": "12 mg/L", "form": "as salt"}, "form"),
    ("sodium-adsorption-ratio", {"sodium": "10 mg/L", "calcium": "0 mg/L", "magnesium": "0 mg/L"}, "calcium"), ("dissolved-solids", {"conductivity": "800"}, "conductivity"),
    ("saturation", {"ph": "7", "temperature": "15 degC", "calcium": "0 mg/L", "bicarbonate": "100 mg/L"}, "calcium"),
])
def test_bad_input_names_the_field(name, given, field):
    with pytest.raises(BorewrightError) as caught:
        answer(name, given)
    assert isinstance(caught.value, BadInput) and caught.value.field == field
