"""Quantities: every factor against pint (an independent table of units), the gallon rule, text kept as typed."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.quantities import KINDS, from_si, parse, show

REGISTRY = pint.UnitRegistry()
PINT = {
    "US gal": "gallon", "imp gal": "imperial_gallon", "L": "liter", "mL": "milliliter", "kL": "kiloliter", "ML": "megaliter",
    "m3": "m**3", "ft3": "ft**3", "yd3": "yd**3", "acre ft": "acre_foot", "US gpm": "gallon/minute", "imp gpm": "imperial_gallon/minute",
    "US gph": "gallon/hour", "imp gph": "imperial_gallon/hour", "cfm": "ft**3/minute", "cfs": "ft**3/second", "ML/year": "megaliter/year",
    "um": "micrometer", "in": "inch", "m2": "m**2", "mm2": "mm**2", "cm2": "cm**2", "km2": "km**2", "ft2": "ft**2", "in2": "inch**2",
    "ha": "hectare", "min": "minute", "h": "hour", "d": "day", "mbar": "millibar", "m head": "m_H2O", "ft head": None,
    "kgf": "kilogram_force", "tf": "metric_ton*standard_gravity", "lbf": "pound_force", "t": "metric_ton", "lb": "pound",
    "oz": "ounce", "hp": "horsepower", "lb/US gal": "pound/gallon", "lb/imp gal": "pound/imperial_gallon", "kg/L": "kg/liter",
    "t/m3": "metric_ton/m**3", "g/cm3": "g/cm**3", "kg/m3": "kg/m**3", "lb/ft3": "pound/ft**3", "Pa s": "Pa*s", "mPa s": "mPa*s",
    "cP": "centipoise", "US gal/d/ft": "gallon/day/ft", "US gal/d/ft2": "gallon/day/ft**2", "US gpm/ft": "gallon/minute/ft",
    "L/s/m": "liter/s/m", "m3/s/m": "m**3/s/m", "m3/d/m": "m**3/day/m", "ppm": None, "deg": "degree", "rad": "radian",
    "kWh/1000 US gal": "kWh/kilogallon", "kWh/1000 imp gal": "kWh/kiloimperial_gallon", "m2/s": "m**2/s", "m2/d": "m**2/day", "m2/min": "m**2/minute", "ft2/d": "ft**2/day", "m head ": None,
}
SI = {"mg/L": "mg/liter", "uS/cm": "microsiemens/cm", "deg": "degree", "m3/s": "m**3/s", "m2/s": "m**2/s", "m2": "m**2", "m3": "m**3",
      "kg/m3": "kg/m**3", "Pa s": "Pa*s", "1/m": "1/m", "J/m3": "J/m**3"}


def _pint_name(unit):
    if unit in PINT:
        return PINT[unit]
    if "/" in unit:
        parts = unit.split("/")
        names = [PINT.get(p, p) or p for p in parts]
        return names[0] + "".join("/" + n for n in names[1:])
    return unit


CASES = [(k.name, u) for k in KINDS.values() for u in k.units if u and k.name != "temperature"]


@pytest.mark.parametrize(("kind", "unit"), CASES)
def test_every_factor_agrees_with_pint(kind, unit):
    name = _pint_name(unit.replace("uS", "microsiemens").replace("mS", "millisiemens").replace("dS", "decisiemens").replace("S/m", "siemens/m")
                      if kind == "conductivity" else unit)
    if kind == "conductivity":
        name = {"uS/cm": "microsiemens/cm", "mS/cm": "millisiemens/cm", "dS/m": "decisiemens/m", "mS/m": "millisiemens/m", "S/m": "siemens/m"}[unit]
    if unit in ("ppm", "%"):
        # mg/L of water of density 1 kg/L by convention of the trade; a percentage is one hundredth by definition.
        assert KINDS[kind].units[unit] == {"ppm": 1.0, "%": 0.01}[unit]
        return
    if unit in ("m head", "ft head"):
        # Conventional metre of water (ISO 80000-4 remark): 1000 kg/m3 at standard gravity.
        assert KINDS[kind].units[unit] == pytest.approx(9806.65 * (1 if unit == "m head" else 0.3048))
        return
    if unit in ("acre", "acre ft"):
        # The international acre, 43 560 square international feet; pint's acre is of survey feet, 4e-6 larger.
        assert KINDS[kind].units[unit] == pytest.approx(43560 * 0.3048 ** (2 if unit == "acre" else 3), rel=1e-12)
        return
    si = KINDS[kind].si_unit
    expected = REGISTRY.Quantity(1.0, name).to(SI.get(si, si)).magnitude
    assert KINDS[kind].units[unit] == pytest.approx(expected, rel=1e-9)


def test_temperatures_agree_with_pint():
    for text, unit in (("59 degF", "degF"), ("288.15 K", "kelvin")):
        value = float(text.split()[0])
        assert parse(text, "temperature").si == pytest.approx(REGISTRY.Quantity(value, unit).to("degC").magnitude)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("15 L/min", "flow", 15e-3 / 60), ("0.25 L/s", "flow", 0.25e-3), ("788 m3/d", "flow", 788 / 86400), ("6 5/8 in", "diameter", 6.625 * 0.0254),
        ("165 mm", "diameter", 0.165), ('6"', "diameter", 0.1524), ("1000 imp gal/h", "flow", 4.54609 / 3600), ("5 US gpm", "flow", 5 * 3.785411784e-3 / 60),
        ("1/2 in", "diameter", 0.0127), ("24 metres", "depth", 24.0), ("1.2e-3 m2/s", "transmissivity", 1.2e-3), ("0,5 m", "length", 0.5),
        ("1100 imperial gallons per hour", "flow", 1100 * 4.54609e-3 / 3600), ("12 litres per second", "flow", 0.012),
        ("-2 m", "level", -2.0), ("40 %", "fraction", 0.4), ("100 l/min", "flow", 0.1 / 60), ("200 cfm", "air_flow", 200 * 0.3048**3 / 60),
    ],
)
def test_reads_what_people_type(text, kind, si):
    quantity = parse(text, kind)
    assert quantity.si == pytest.approx(si, rel=1e-12)
    assert quantity.text == text


@pytest.mark.parametrize("text", ["1000 gal/h", "20 gpm", "5 gallons", "3 gal", "1000 gph", "40 gallons per minute"])
def test_a_gallon_must_say_which(text):
    kind = "volume" if text in ("5 gallons", "3 gal") else "flow"
    with pytest.raises(BadInput) as caught:
        parse(text, kind, field="need")
    assert caught.value.field == "need"
    assert "which gallon" in caught.value.problem
    assert "US gal" in caught.value.want and "imp gal" in caught.value.want


@pytest.mark.parametrize(
    ("text", "kind", "problem"),
    [
        ("", "flow", "number"), ("abc", "flow", "number"), ("nan L/s", "flow", "number"), ("inf m", "length", "number"), ("-3 m", "depth", "below zero"),
        ("3", "depth", "no unit"), ("3 L", "depth", "not a unit"), ("1,200 m", "depth", "comma"), ("1e999 m", "depth", "finite"), ("1/0 in", "diameter", "zero"),
        ("-300 degC", "temperature", "absolute zero"), ("3 4 m", "depth", "two numbers"), (float("nan"), "depth", "finite"), (True, "depth", "number"),
    ],
)
def test_refuses_with_field_problem_and_want(text, kind, problem):
    with pytest.raises(BadInput) as caught:
        parse(text, kind, field="depth of hole")
    assert caught.value.field == "depth of hole"
    assert problem in caught.value.problem
    assert caught.value.want


@given(st.floats(min_value=1e-6, max_value=1e6), st.sampled_from(CASES))
def test_to_si_and_back(value, case):
    kind, unit = case
    si = parse(f"{value!r} {unit}", kind).si
    assert from_si(si, kind, unit) == pytest.approx(value, rel=1e-12)


def test_shows_in_each_system():
    assert show(15e-3 / 60, "flow") == "15 L/min"
    assert show(0.1524, "diameter", system="US") == "6 in"
    assert show(0.1524, "diameter") == "152 mm"
    assert show(None, "depth") == "–"
    assert show(math.nan, "depth") == "–"
    assert show(1234.6, "depth") == "1235 m"
    assert show(0.4, "fraction") == "40 %"
