"""Quantities at the edges: read what a person types, show what the program knows. Inside the program only SI floats pass.

The one place where a conversion factor may stand. tests/test_quantities.py audits every factor against pint.
A bare "gal" is refused until it says which gallon; a bare "psi" or "ton" has one meaning here and is taken.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from borewright.errors import BadInput

__all__ = ["KINDS", "UNIT_SYSTEMS", "Kind", "Quantity", "from_si", "parse", "rounded", "show", "shown_unit", "units_of"]

UNIT_SYSTEMS = ("metric", "US", "imperial")

FOOT = 0.3048
INCH = 0.0254
US_GALLON = 3.785411784e-3
IMPERIAL_GALLON = 4.54609e-3
POUND = 0.45359237
POUND_FORCE = 4.4482216152605
MINUTE, HOUR, DAY, YEAR = 60.0, 3600.0, 86400.0, 365.25 * 86400.0


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: its SI unit, its units with factors to SI, and the unit shown in each system."""

    name: str
    si_unit: str
    units: Mapping[str, float]
    shown: tuple[str, str, str]
    minimum: float = 0.0


def _volumes() -> dict[str, float]:
    return {
        "m3": 1.0, "L": 1e-3, "mL": 1e-6, "kL": 1.0, "ML": 1e3, "US gal": US_GALLON, "imp gal": IMPERIAL_GALLON,
        "ft3": FOOT**3, "yd3": (3 * FOOT) ** 3, "acre ft": 43560 * FOOT**3,
    }


def _flows() -> dict[str, float]:
    times = {"s": 1.0, "min": MINUTE, "h": HOUR, "d": DAY}
    flows = {
        f"{volume}/{time}": factor / seconds
        for volume, factor in {**_volumes(), "mL": 1e-6}.items()
        if volume not in ("yd3", "acre ft")
        for time, seconds in times.items()
    }
    return flows | {
        "US gpm": US_GALLON / MINUTE, "imp gpm": IMPERIAL_GALLON / MINUTE, "US gph": US_GALLON / HOUR,
        "imp gph": IMPERIAL_GALLON / HOUR, "cfm": FOOT**3 / MINUTE, "cfs": FOOT**3, "ML/year": 1e3 / YEAR,
        "kL/d": 1.0 / DAY,
    }


_LENGTHS = {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "um": 1e-6, "ft": FOOT, "in": INCH, "yd": 3 * FOOT, "mile": 5280 * FOOT}

KINDS: dict[str, Kind] = {
    k.name: k
    for k in (
        Kind("length", "m", _LENGTHS, ("m", "ft", "ft")),
        Kind("depth", "m", _LENGTHS, ("m", "ft", "ft")),
        Kind("level", "m", _LENGTHS, ("m", "ft", "ft"), -math.inf),
        Kind("diameter", "m", _LENGTHS, ("mm", "in", "in")),
        Kind("area", "m2", {"m2": 1.0, "mm2": 1e-6, "cm2": 1e-4, "ha": 1e4, "km2": 1e6, "ft2": FOOT**2, "in2": INCH**2,
                            "acre": 43560 * FOOT**2}, ("m2", "ft2", "ft2")),
        Kind("volume", "m3", _volumes(), ("L", "US gal", "imp gal")),
        Kind("flow", "m3/s", _flows(), ("L/min", "US gpm", "imp gpm")),
        Kind("air_flow", "m3/s", _flows(), ("m3/min", "cfm", "cfm")),
        Kind("time", "s", {"s": 1.0, "min": MINUTE, "h": HOUR, "d": DAY, "year": YEAR}, ("h", "h", "h")),
        Kind("velocity", "m/s", {"m/s": 1.0, "m/min": 1 / MINUTE, "m/h": 1 / HOUR, "mm/s": 1e-3, "ft/s": FOOT, "ft/min": FOOT / MINUTE,
                                 "ft/h": FOOT / HOUR, "km/h": 1 / 3.6}, ("m/s", "ft/s", "ft/s")),
        Kind("penetration", "m/s", {"m/h": 1 / HOUR, "m/min": 1 / MINUTE, "m/s": 1.0, "ft/h": FOOT / HOUR, "ft/min": FOOT / MINUTE},
             ("m/h", "ft/h", "ft/h")),
        Kind("pressure", "Pa", {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "bar": 1e5, "mbar": 100.0, "psi": POUND_FORCE / INCH**2,
                                "m head": 9806.65, "ft head": 9806.65 * FOOT, "atm": 101325.0}, ("kPa", "psi", "psi")),
        Kind("force", "N", {"N": 1.0, "kN": 1e3, "lbf": POUND_FORCE, "kgf": 9.80665, "tf": 9806.65}, ("kN", "lbf", "lbf")),
        Kind("mass", "kg", {"kg": 1.0, "g": 1e-3, "mg": 1e-6, "t": 1e3, "lb": POUND, "oz": POUND / 16}, ("kg", "lb", "lb")),
        Kind("density", "kg/m3", {"kg/m3": 1.0, "kg/L": 1e3, "g/cm3": 1e3, "t/m3": 1e3, "lb/ft3": POUND / FOOT**3,
                                  "lb/US gal": POUND / US_GALLON, "lb/imp gal": POUND / IMPERIAL_GALLON},
             ("kg/m3", "lb/US gal", "lb/imp gal")),
        Kind("concentration", "mg/L", {"mg/L": 1.0, "g/L": 1e3, "ug/L": 1e-3, "kg/m3": 1e3, "ppm": 1.0}, ("mg/L", "mg/L", "mg/L")),
        Kind("conductivity", "uS/cm", {"uS/cm": 1.0, "mS/cm": 1e3, "dS/m": 1e3, "mS/m": 10.0, "S/m": 1e4}, ("uS/cm", "uS/cm", "uS/cm")),
        Kind("transmissivity", "m2/s", {"m2/s": 1.0, "m2/d": 1 / DAY, "m2/min": 1 / MINUTE, "ft2/d": FOOT**2 / DAY,
                                        "US gal/d/ft": US_GALLON / DAY / FOOT}, ("m2/d", "ft2/d", "ft2/d")),
        Kind("hydraulic_conductivity", "m/s", {"m/s": 1.0, "m/d": 1 / DAY, "cm/s": 1e-2, "ft/d": FOOT / DAY,
                                               "US gal/d/ft2": US_GALLON / DAY / FOOT**2}, ("m/d", "ft/d", "ft/d")),
        Kind("specific_capacity", "m2/s", {"m2/s": 1.0, "m3/s/m": 1.0, "L/s/m": 1e-3, "m3/d/m": 1 / DAY, "m2/d": 1 / DAY,
                                           "US gpm/ft": US_GALLON / MINUTE / FOOT}, ("L/s/m", "US gpm/ft", "US gpm/ft")),
        Kind("power", "W", {"W": 1.0, "kW": 1e3, "hp": 745.69987158227022, "MW": 1e6}, ("kW", "hp", "hp")),
        Kind("energy", "J", {"J": 1.0, "kJ": 1e3, "MJ": 1e6, "kWh": 3.6e6, "Wh": 3600.0}, ("kWh", "kWh", "kWh")),
        Kind("energy_per_volume", "J/m3", {"J/m3": 1.0, "kWh/kL": 3.6e6, "kWh/m3": 3.6e6, "kWh/ML": 3600.0, "kWh/1000 US gal": 3600.0 / US_GALLON,
                                           "kWh/1000 imp gal": 3600.0 / IMPERIAL_GALLON}, ("kWh/kL", "kWh/1000 US gal", "kWh/1000 imp gal")),
        Kind("voltage", "V", {"V": 1.0, "kV": 1e3}, ("V", "V", "V")),
        Kind("current", "A", {"A": 1.0, "mA": 1e-3}, ("A", "A", "A")),
        Kind("viscosity", "Pa s", {"Pa s": 1.0, "mPa s": 1e-3, "cP": 1e-3}, ("mPa s", "mPa s", "mPa s")),
        Kind("angle", "deg", {"deg": 1.0, "rad": 180 / math.pi}, ("deg", "deg", "deg"), -math.inf),
        Kind("fraction", "", {"": 1.0, "%": 0.01}, ("%", "%", "%")),
        Kind("number", "", {"": 1.0}, ("", "", ""), -math.inf),
        Kind("intensity", "1/m", {"1/m": 1.0, "1/ft": 1 / FOOT, "1/km": 1e-3}, ("1/m", "1/ft", "1/ft")),
        Kind("resistivity", "ohm m", {"ohm m": 1.0, "ohm ft": FOOT}, ("ohm m", "ohm m", "ohm m")),
        Kind("temperature", "degC", {"degC": 1.0, "degF": math.nan, "K": math.nan}, ("degC", "degF", "degC"), -273.15),
        Kind("pH", "", {"": 1.0}, ("", "", "")),
    )
}

# How people write units; everything here is the same unit under another spelling.
_SPELLINGS = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "'": "ft", "inch": "in", "inches": "in",
    '"': "in", "″": "in", "′": "ft", "yard": "yd", "yards": "yd", "miles": "mile", "mi": "mile", "micron": "um", "µm": "um", "μm": "um",
    "litre": "L", "litres": "L", "liter": "L", "liters": "L", "l": "L", "ml": "mL", "kl": "kL", "m³": "m3", "m^3": "m3", "cu m": "m3",
    "cumecs": "m3/s", "cubic metres": "m3", "ft³": "ft3", "cu ft": "ft3", "cf": "ft3", "m²": "m2", "m^2": "m2", "ft²": "ft2",
    "mm²": "mm2", "hectare": "ha", "acres": "acre",
    "second": "s", "seconds": "s", "sec": "s", "minute": "min", "minutes": "min", "mins": "min", "hour": "h", "hours": "h", "hr": "h",
    "hrs": "h", "day": "d", "days": "d", "years": "year", "yr": "year", "a": "year",
    "°c": "degC", "c": "degC", "degc": "degC", "°f": "degF", "f": "degF", "degf": "degF", "degrees": "deg", "degree": "deg", "°": "deg",
    "µg/l": "ug/L", "μg/l": "ug/L", "ug/l": "ug/L", "mg/l": "mg/L", "g/l": "g/L", "µs/cm": "uS/cm", "μs/cm": "uS/cm", "us/cm": "uS/cm",
    "ms/cm": "mS/cm", "ds/m": "dS/m", "kilogram": "kg", "kilograms": "kg", "kgs": "kg", "tonne": "t", "tonnes": "t", "lbs": "lb",
    "pound": "lb", "pounds": "lb", "percent": "%", "per cent": "%", "kpa": "kPa", "mpa": "MPa", "pa": "Pa", "kw": "kW", "w": "W",
    "kwh": "kWh", "lps": "L/s", "lpm": "L/min", "lph": "L/h", "litres/second": "L/s", "ls": "L/s", "kg/m³": "kg/m3", "g/cc": "g/cm3",
    "volt": "V", "volts": "V", "amp": "A", "amps": "A", "mh2o": "m head", "m of water": "m head", "ft of water": "ft head",
    "m³/s": "m3/s", "m³/d": "m3/d", "m³/h": "m3/h", "m³/min": "m3/min", "m²/d": "m2/d", "m²/s": "m2/s", "l/s/m": "L/s/m",
    "usgpm": "US gpm", "us gal/min": "US gpm", "igpm": "imp gpm", "igph": "imp gph", "usgph": "US gph",
    "imperial gal/h": "imp gph", "us gal": "US gal", "imperial gal": "imp gal", "imp gal": "imp gal", "us gallon": "US gal",
    "us gallons": "US gal", "imperial gallon": "imp gal", "imperial gallons": "imp gal", "acre-foot": "acre ft", "acre-feet": "acre ft",
    "scfm": "cfm",
}
_NUMBER = re.compile(r"^\s*([+-]?)\s*(?:(\d+)\s+)?(?:(\d+)\s*/\s*(\d+)(?=\s|[^\d.]|$)|(\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE]([+-]?\d+))?)\s*(.*?)\s*$")
_BARE_GALLON = re.compile(r"(?<![a-z])(gal|gals|gallon|gallons|gpm|gph|gpd)(?![a-z])")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in SI beside the text that a person typed, so that "6 5/8 in" prints back unchanged."""

    si: float
    text: str
    kind: str
    unit: str


def units_of(kind: str) -> tuple[str, ...]:
    """Return the names of the units that a kind of quantity may be typed in."""
    return tuple(KINDS[kind].units)


def _unit(text: str, kind: Kind) -> str | None:
    """Return the kind's own name of the unit typed, or None."""
    plain = " ".join(text.replace("·", " ").split())
    candidates = [plain, plain.lower(), _SPELLINGS.get(plain, ""), _SPELLINGS.get(plain.lower(), "")]
    by_lower: dict[str, list[str]] = {}
    for name in kind.units:
        by_lower.setdefault(name.lower(), []).append(name)
    lower = plain.lower().replace("imperial ", "imp ").replace("gallons", "gal").replace("gallon", "gal").replace("gals", "gal")
    lower = lower.replace(" per ", "/").replace("us-", "us ").replace("imp-", "imp ").replace("u.s.", "us").replace("imp.", "imp")
    if "/" in lower:
        top, *rest = (part.strip() for part in lower.split("/"))
        rest = [(_SPELLINGS.get(part, part)).lower() for part in rest]
        lower = "/".join([_SPELLINGS.get(top, top).lower(), *rest])
    candidates.append(lower)
    for candidate in candidates:
        if candidate in kind.units:
            return candidate
        matches = by_lower.get(candidate.lower(), []) if candidate else []
        if len(matches) == 1:
            return matches[0]
    return None


def parse(text: str | float | int, kind: str, *, field: str = "value", default_unit: str | None = None) -> Quantity:
    """Return the quantity that a person typed, in SI beside the text.

    Parameters
    ----------
    text : str or number
        Such as "15 L/min", "6 5/8 in", "1.2e-3 m2/s"; a bare number needs `default_unit` or a kind without unit.
    kind : str
        A key of `KINDS`.
    field : str
        Name used in the error.
    default_unit : str, optional
        Unit of a bare number.

    Raises
    ------
    BadInput
        No number, not finite, a unit that the kind does not know, a gallon that does not say which, a missing unit,
        or a value below what is physically possible for the kind.
    """
    what = KINDS[kind]
    if isinstance(text, bool):
        raise BadInput(field, text, "is not a number", _want(what))
    if isinstance(text, (int, float)):
        if not math.isfinite(text):
            raise BadInput(field, float(text), "is not a finite number", _want(what))
        text = repr(text)
    typed = str(text)
    match = _NUMBER.match(typed)
    if not match:
        raise BadInput(field, typed, "does not begin with a number", _want(what))
    sign, whole, top, bottom, number, exponent, unit_text = match.groups()
    if top is not None:
        if int(bottom) == 0:
            raise BadInput(field, typed, "divides by zero", _want(what))
        value = int(top) / int(bottom) + (int(whole) if whole else 0)
    elif whole is not None:
        raise BadInput(field, typed, "holds two numbers", _want(what))
    else:
        if "," in number and re.fullmatch(r"\d{1,3},\d{3}", number):
            raise BadInput(field, typed, "has a comma that may be a decimal or a thousands mark", "a number such as 1200 or 1.2")
        value = float(number.replace(",", ".") + (f"e{exponent}" if exponent else ""))
    value = -value if sign == "-" else value
    if not unit_text:
        if "" in what.units:
            unit = ""
        elif default_unit is not None:
            unit = default_unit
        else:
            raise BadInput(field, typed, "has no unit", _want(what))
    else:
        lowered = unit_text.lower()
        if _BARE_GALLON.search(lowered) and not re.search(r"(?<![a-z])(us|u\.s\.|usa|imp|imperial|uk)(?![a-z])", lowered):
            raise BadInput(field, typed, "does not say which gallon", "US gal (3.785 L) or imp gal (4.546 L)")
        found = _unit(unit_text, what)
        if found is None:
            raise BadInput(field, typed, f"{unit_text!r} is not a unit of {kind.replace('_', ' ')}", _want(what))
        unit = found
    si = _to_si(value, unit, what)
    if not math.isfinite(si):
        raise BadInput(field, typed, "is not a finite number", _want(what))
    if si < what.minimum:
        problem = "is below absolute zero" if kind == "temperature" else "must not be below zero"
        raise BadInput(field, typed, problem, _want(what))
    return Quantity(si, typed.strip(), kind, unit)


def _want(kind: Kind) -> str:
    if set(kind.units) == {""}:
        return f"a number for {kind.name}"
    names = [u for u in dict.fromkeys([*kind.shown, *kind.units]) if u][:5]
    return f"a number with a unit of {kind.name.replace('_', ' ')} such as {', '.join(names)}"


def _to_si(value: float, unit: str, kind: Kind) -> float:
    if kind.name == "temperature":
        return {"degC": value, "degF": (value - 32) / 1.8, "K": value - 273.15}[unit]
    return value * kind.units[unit]


def from_si(si: float, kind: str, unit: str) -> float:
    """Return an SI value in the unit named."""
    if kind == "temperature":
        return {"degC": si, "degF": si * 1.8 + 32, "K": si + 273.15}[unit]
    return si / KINDS[kind].units[unit]


def shown_unit(kind: str, system: str = "metric") -> str:
    """Return the unit in which a kind is shown under a system of units."""
    if system not in UNIT_SYSTEMS:
        raise BadInput("units", system, "is not a system of units", "one of metric, US, imperial")
    return KINDS[kind].shown[UNIT_SYSTEMS.index(system)]


def show(si: float | None, kind: str, *, system: str = "metric", unit: str | None = None, digits: int = 3) -> str:
    """Return a value as a person reads it, rounded to significant digits, with its unit; a dash for nothing."""
    if si is None or not math.isfinite(si):
        return "–"
    unit = shown_unit(kind, system) if unit is None else unit
    value = from_si(si, kind, unit)
    text = rounded(value, digits)
    if unit == "%":
        return f"{text} %"
    return f"{text} {unit}".strip()


def rounded(value: float, digits: int = 3) -> str:
    """Return a number to significant digits in plain notation, whole numbers never cut ("12345", "0.00123")."""
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(decimals, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
