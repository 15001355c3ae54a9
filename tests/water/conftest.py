"""Published tables and worked waters beside the tests of water."""

import csv
from pathlib import Path

from borewright.water import analysis_of, result

REFERENCE = Path(__file__).parents[1] / "reference" / "water"


def table(name):
    """Rows of a reference table without its comment lines."""
    lines = [line for line in (REFERENCE / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))


IONS = {"Ca": "calcium", "Mg": "magnesium", "Na": "sodium", "K": "potassium", "HCO3": "bicarbonate", "SO4": "sulfate", "Cl": "chloride", "NO3": "nitrate"}
WATERS = {row["id"]: row for row in table("worked_waters")}


def sample(letter, **changes):
    """An analysis of one of the worked waters, made up for the checks."""
    row = WATERS[letter]
    found = [result(name, changes.get(name, row[symbol]), "mg/L", form="as nitrate" if symbol == "NO3" else "") for symbol, name in IONS.items()]
    return analysis_of([*found, result("pH", row["pH"]), result("temperature", row["T"], "degC")])
