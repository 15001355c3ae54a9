"""The things a laboratory reports: their names, masses and charges, and the units they come in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from borewright.errors import BadInput

__all__ = ["PARAMETERS", "Parameter", "parameter", "to_canonical", "units_for"]

Kind = Literal["dissolved", "conductivity", "pH", "temperature", "turbidity", "count", "radioactivity", "colour"]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One thing that is measured: canonical unit by kind, formula mass [g/mol] and charge where it has them, other names."""

    name: str
    kind: Kind = "dissolved"
    mass: float | None = None
    charge: int = 0
    major: bool = False
    forms: tuple[str, ...] = ()
    also: tuple[str, ...] = ()


# Formula masses from IUPAC standard atomic weights.
_LIST = (
    Parameter("calcium", mass=40.078, charge=2, major=True, also=("ca", "ca2+")),
    Parameter("magnesium", mass=24.305, charge=2, major=True, also=("mg", "mg2+")),
    Parameter("sodium", mass=22.98977, charge=1, major=True, also=("na", "na+")),
    Parameter("potassium", mass=39.0983, charge=1, also=("k", "k+")),
    Parameter("ammonium", mass=18.0385, charge=1, also=("nh4", "nh4+", "ammonia")),
    Parameter("iron", mass=55.845, charge=2, also=("fe", "fe2+", "iron total", "iron dissolved")),
    Parameter("manganese", mass=54.938, charge=2, also=("mn", "mn2+", "manganese total")),
    Parameter("bicarbonate", mass=61.0168, charge=-1, major=True, also=("hco3", "hco3-", "hydrogen carbonate")),
    Parameter("carbonate", mass=60.0089, charge=-2, also=("co3", "co3 2-", "co32-")),
    Parameter("chloride", mass=35.453, charge=-1, major=True, also=("cl", "cl-")),
    Parameter("sulfate", mass=96.0626, charge=-2, major=True, also=("so4", "sulphate", "so42-", "so4 2-")),
    Parameter("nitrate", mass=62.0049, charge=-1, forms=("as nitrate", "as nitrogen"), also=("no3", "no3-")),
    Parameter("nitrite", mass=46.0055, charge=-1, forms=("as nitrite", "as nitrogen"), also=("no2", "no2-")),
    Parameter("fluoride", mass=18.9984, charge=-1, also=("f", "f-")),
    Parameter("alkalinity", mass=100.0869, also=("total alkalinity", "alkalinity as caco3")),
    Parameter("hardness", mass=100.0869, also=("total hardness", "hardness as caco3")),
    Parameter("total dissolved solids", also=("tds", "dissolved solids")),
    Parameter("suspended solids", also=("tss",)),
    Parameter("bromide", mass=79.904, charge=-1, also=("br", "br-")),
    Parameter("phosphate", mass=94.9714, forms=("as phosphate", "as phosphorus"), also=("po4", "orthophosphate")),
    Parameter("silica", mass=60.0843, also=("sio2",)),
    Parameter("hydrogen sulfide", mass=34.081, also=("h2s", "hydrogen sulphide", "sulfide")),
    Parameter("dissolved oxygen", mass=31.998, also=("do", "o2", "oxygen")),
    Parameter("carbon dioxide", mass=44.0095, also=("co2", "free co2")),
    *(Parameter(name, mass=mass, also=(symbol,)) for name, symbol, mass in (
        ("aluminium", "al", 26.982), ("antimony", "sb", 121.76), ("arsenic", "as", 74.922), ("barium", "ba", 137.33), ("beryllium", "be", 9.0122),
        ("boron", "b", 10.81), ("cadmium", "cd", 112.41), ("chromium", "cr", 51.996), ("cobalt", "co", 58.933), ("copper", "cu", 63.546), ("lead", "pb", 207.2),
        ("lithium", "li", 6.94), ("mercury", "hg", 200.59), ("molybdenum", "mo", 95.95), ("nickel", "ni", 58.693), ("selenium", "se", 78.971), ("silver", "ag", 107.87), ("strontium", "sr", 87.62), ("thallium", "tl", 204.38),
        ("uranium", "u", 238.03), ("vanadium", "v", 50.942), ("zinc", "zn", 65.38))),
    Parameter("conductivity", "conductivity", also=("ec", "electrical conductivity", "conductivity at 25 c")),
    Parameter("pH", "pH", also=("ph",)),
    Parameter("temperature", "temperature", also=("t", "temp", "water temperature")),
    Parameter("turbidity", "turbidity"),
    Parameter("colour", "colour", also=("color", "true colour")),
    Parameter("E. coli", "count", also=("e. coli", "e.coli", "escherichia coli", "ecoli")),
    Parameter("total coliforms", "count", also=("coliforms", "total coliform")),
    Parameter("radon", "radioactivity", also=("radon-222", "rn")),
    Parameter("gross alpha", "radioactivity", also=("gross alpha activity",)),
    Parameter("radium", "radioactivity", also=("radium 226+228",)),
)
PARAMETERS: dict[str, Parameter] = {p.name: p for p in _LIST}
_BY_WORD = {word.lower(): p for p in _LIST for word in (p.name, *p.also)}

_UNITS: dict[str, dict[str, float]] = {
    "dissolved": {"mg/L": 1.0, "ug/L": 1e-3, "g/L": 1e3, "ppm": 1.0, "ppb": 1e-3},
    "conductivity": {"uS/cm": 1.0, "mS/cm": 1e3, "dS/m": 1e3, "mS/m": 10.0},
    "pH": {"": 1.0, "pH": 1.0, "pH units": 1.0},
    "temperature": {"degC": 1.0},
    "turbidity": {"NTU": 1.0, "FNU": 1.0},
    "colour": {"": 1.0, "HU": 1.0, "colour units": 1.0, "TCU": 1.0},
    "count": {"per 100 mL": 1.0, "CFU/100 mL": 1.0, "MPN/100 mL": 1.0},
    "radioactivity": {"Bq/L": 1.0, "pCi/L": 0.037},
}
_SPELLINGS = {
    "mg/l": "mg/L", "µg/l": "ug/L", "μg/l": "ug/L", "ug/l": "ug/L", "g/l": "g/L", "meq/l": "meq/L", "me/l": "meq/L", "mmol/l": "mmol/L", "mm/l": "mmol/L",
    "µs/cm": "uS/cm", "μs/cm": "uS/cm", "us/cm": "uS/cm", "ms/cm": "mS/cm", "ds/m": "dS/m", "ms/m": "mS/m", "°c": "degC", "c": "degC", "degc": "degC",
    "deg c": "degC", "ph": "pH", "ph units": "pH units", "ntu": "NTU", "fnu": "FNU", "per 100 ml": "per 100 mL", "/100 ml": "per 100 mL",
    "/100ml": "per 100 mL", "cfu/100ml": "CFU/100 mL", "cfu/100 ml": "CFU/100 mL", "mpn/100ml": "MPN/100 mL", "mpn/100 ml": "MPN/100 mL", "bq/l": "Bq/L",
    "pci/l": "pCi/L", "hu": "HU", "-": "", "mg/l as caco3": "mg/L as CaCO3", "mg caco3/l": "mg/L as CaCO3",
}
CACO3_EQUIVALENT = 100.0869 / 2
# Forms that a laboratory writes into the unit ("mg/L as N"), and the mass of the element they count by.
_FORM_WORDS = {"n": "as nitrogen", "nitrogen": "as nitrogen", "no3": "as nitrate", "nitrate": "as nitrate", "no2": "as nitrite", "nitrite": "as nitrite",
               "p": "as phosphorus", "phosphorus": "as phosphorus", "po4": "as phosphate", "phosphate": "as phosphate"}
_ELEMENT_MASS = {"as nitrogen": 14.0067, "as phosphorus": 30.9738}


def parameter(name: str) -> Parameter:
    """Return the parameter that a name, symbol or usual spelling stands for; BadInput if none is known."""
    found = _BY_WORD.get(" ".join(str(name).lower().split()))
    if found is None:
        from difflib import get_close_matches

        near = get_close_matches(str(name).lower(), _BY_WORD, n=3, cutoff=0.5)
        raise BadInput("parameter", name, "is not a thing this program knows", "one such as " + ", ".join(near or ["calcium", "nitrate", "conductivity"]))
    return found


def units_for(name: str) -> tuple[str, ...]:
    """Return the units in which a parameter may be entered."""
    what = parameter(name)
    units = tuple(_UNITS[what.kind])
    if what.mass and what.kind == "dissolved":
        units += ("mmol/L",) if what.name not in ("alkalinity", "hardness") else ()
        if what.charge or what.name in ("alkalinity", "hardness"):
            units += ("meq/L", "mg/L as CaCO3")
    return units


def to_canonical(name: str, value: float, unit: str, form: str = "") -> float:
    """Return a value in the canonical unit of its parameter: mg/L of the ion, uS/cm, degC, NTU, per 100 mL, Bq/L.

    Alkalinity and hardness are canonical as mg/L CaCO3; nitrate, nitrite and phosphate as the ion, so their form must be said: in `form`, or
    in the unit as "mg/L as N".

    Raises
    ------
    BadInput
        A unit that the parameter does not come in, or a nitrate or nitrite without its form.
    """
    what = parameter(name)
    head, _, tail = unit.lower().partition(" as ")
    if what.forms and tail.strip() in _FORM_WORDS:
        said = _FORM_WORDS[tail.strip()]
        if form and " ".join(form.lower().split()) != said:
            raise BadInput(f"{what.name} form", form, f"does not agree with the unit {unit!r}", "one of the two")
        unit, form = head.strip(), said
    known = _SPELLINGS.get(unit.strip().lower(), unit.strip())
    if known not in units_for(name):
        raise BadInput(f"{what.name} unit", unit, f"is not a unit of {what.name}", "one of " + ", ".join(u or "none" for u in units_for(name)))
    if what.forms:
        form = " ".join(form.lower().split())
        if known not in ("meq/L", "mmol/L"):
            if form not in what.forms:
                raise BadInput(f"{what.name} form", form, f"must be chosen: {what.name} is reported in two ways", " or ".join(what.forms))
            if form in _ELEMENT_MASS:
                value = value * (what.mass or 1.0) / _ELEMENT_MASS[form]
    if known == "meq/L":
        return value * (CACO3_EQUIVALENT if not what.charge else (what.mass or 1.0) / abs(what.charge))
    if known == "mmol/L":
        return value * (what.mass or 1.0)
    if known == "mg/L as CaCO3":
        return value if not what.charge else value / CACO3_EQUIVALENT * (what.mass or 1.0) / abs(what.charge)
    return value * _UNITS[what.kind][known]
