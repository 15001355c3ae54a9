"""One analysis of water: entering it, and what can be worked out from its ions."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from borewright.errors import Advisory, BadInput, OutOfDomain, require, require_non_negative
from borewright.water.species import CACO3_EQUIVALENT, PARAMETERS, parameter, to_canonical

__all__ = [
    "Analysis", "IonBalance", "Result", "adjusted_conductivity", "check_analysis", "dissolved_solids", "hardness", "hardness_class",
    "ion_balance", "residual_sodium_carbonate", "read_analysis_csv", "result", "sodium_adsorption_ratio", "solids_from_conductivity",
    "alkalinity", "analysis_from_values", "analysis_of", "sample_sodium_adsorption_ratio",
]

_TEXT = re.compile(r"^\s*(<|>|less than )?\s*([-+]?\d*\.?\d+(?:[eE][-+]?\d+)?)\s*$")
_NOTHING = {"nd", "n.d.", "not detected", "absent", "none detected"}


@dataclass(frozen=True, slots=True)
class Result:
    """One result in its canonical unit; where `below_detection`, `value` is the detection limit and the truth lies under it."""

    name: str
    value: float
    below_detection: bool = False
    typed: str = ""
    unit: str = ""
    form: str = ""


@dataclass(frozen=True, slots=True)
class Analysis:
    """Results by parameter name."""

    results: Mapping[str, Result]
    unknown: tuple[str, ...] = ()  # names on the laboratory's sheet that this program does not know; kept, not judged

    def value(self, name: str) -> float | None:
        """Return a value for reckoning: half the detection limit where not detected (common practice), None if not tested."""
        found = self.results.get(name)
        if found is None:
            return None
        return found.value / 2 if found.below_detection else found.value


def result(name: str, value: str | float, unit: str = "", *, form: str = "", below_detection: bool = False) -> Result:
    """Return one result as the laboratory wrote it ("<0.001", "mg/L", "as nitrogen") in its canonical unit.

    Raises
    ------
    BadInput
        A name, number, unit or form that cannot be read, or a value that cannot be.
    """
    what = parameter(name)
    typed = str(value).strip()
    if typed.lower() in _NOTHING:
        if what.kind != "count":
            raise BadInput(what.name, typed, "does not give the detection limit", 'a limit such as "<0.001"')
        return Result(what.name, 1.0, True, typed, unit, form)
    match = _TEXT.match(typed)
    if not match:
        raise BadInput(what.name, typed, "is not a result", 'a number, or a detection limit such as "<0.001"')
    sign, number = match.groups()
    if sign == ">":
        raise BadInput(what.name, typed, "is above what the method can read", "a diluted and repeated result")
    canonical = to_canonical(name, float(number), unit, form)
    if not math.isfinite(canonical):
        raise BadInput(what.name, typed, "is not a finite number", "a finite number")
    low, high = {"pH": (0.0, 14.0), "temperature": (-5.0, 120.0)}.get(what.kind, (0.0, math.inf))
    if not low <= canonical <= high:
        want = f"{low:g} to {high:g}" if math.isfinite(high) else "zero or more"
        raise BadInput(what.name, typed, "cannot be", want)
    if (sign or below_detection) and canonical == 0:
        raise BadInput(what.name, typed, "is a detection limit of zero", 'a limit such as "<0.001"')
    return Result(what.name, canonical, bool(sign) or below_detection, typed, unit, form)


def analysis_of(results: Iterable[Result]) -> Analysis:
    """Return an analysis from results, each parameter once."""
    found: dict[str, Result] = {}
    for one in results:
        if one.name in found:
            raise BadInput(one.name, one.typed or one.value, "stands twice in the analysis", "each thing tested once")
        found[one.name] = one
    if not found:
        raise BadInput("analysis", "nothing", "holds no result", "at least one result")
    return Analysis(found)


def analysis_from_values(values: Iterable[Mapping[str, Any]]) -> Analysis:
    """Return an analysis from rows with the keys name, value, unit and, if wished, below_detection and form.

    Names that are not known are set aside in `unknown`, so that a long laboratory sheet can be entered whole.

    Raises
    ------
    BadInput
        A value, unit or form that cannot be read, a thing that stands twice, or nothing that is known.
    """
    found, unknown = [], []
    for row in values:
        name = str(row.get("name") or "")
        try:
            parameter(name)
        except BadInput:
            unknown.append(name)
            continue
        found.append(result(name, row.get("value", ""), str(row.get("unit") or ""), form=str(row.get("form") or ""), below_detection=bool(row.get("below_detection", False))))
    if not found and unknown:
        parameter(unknown[0])  # says what is near
    return Analysis(analysis_of(found).results, tuple(unknown))


_HEADINGS = {
    "name": ("name", "parameter", "analyte", "determinand", "what", "test"), "value": ("value", "result", "concentration", "found"), "unit": ("unit", "units"),
    "form": ("form", "as", "reported as"),
}


def sheet_rows(text: str) -> list[tuple[int, dict[str, str]]]:
    """Return the rows of a laboratory's CSV with their line numbers: name, value, unit and form, whatever else the sheet holds.

    Commas, semicolons or tabs may part the columns; a heading may call them parameter, result and units. Raises BadInput for a sheet without them.
    """
    import csv

    lines = [(n, line) for n, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise BadInput("analysis", "", "is empty", "a heading name,value,unit,form and a line for each result")
    mark = max(",;\t", key=lines[0][1].count)
    heads = [cell.strip().lower() for cell in next(csv.reader([lines[0][1]], delimiter=mark))]
    place = {part: next((heads.index(word) for word in words if word in heads), None) for part, words in _HEADINGS.items()}
    if any(place[part] is None for part in ("name", "value", "unit")):
        raise BadInput("analysis", lines[0][1], "lacks its columns", "a heading name,value,unit,form")
    rows = []
    for number, line in lines[1:]:
        cells = next(csv.reader([line], delimiter=mark))
        rows.append((number, {part: cells[at].strip() if at is not None and at < len(cells) else "" for part, at in place.items()}))
    return rows


def read_analysis_csv(text: str) -> Analysis:
    """Return an analysis from CSV text with the columns name, value, unit and, if wished, form; see `sheet_rows`.

    Raises
    ------
    BadInput
        The line and the reason.
    """
    read, unknown = [], []
    for number, row in sheet_rows(text):
        try:
            parameter(row["name"])
        except BadInput:
            unknown.append(row["name"])
            continue
        try:
            read.append(result(row["name"], row["value"], row["unit"], form=row["form"]))
        except BadInput as error:
            raise BadInput(f"line {number}: {error.field}", error.value, error.problem, error.want) from None
    if not read and unknown:
        parameter(unknown[0])
    return Analysis(analysis_of(read).results, tuple(unknown))


def _meq(sample: Analysis, name: str) -> float:
    what, value = PARAMETERS[name], sample.value(name)
    return 0.0 if value is None else value * abs(what.charge) / (what.mass or 1.0)


def alkalinity(sample: Analysis) -> float | None:
    """Return the alkalinity [mg/L CaCO3], as tested or from bicarbonate and carbonate; None if neither was tested."""
    if "alkalinity" in sample.results:
        return sample.value("alkalinity")
    if "bicarbonate" not in sample.results:
        return None
    return (_meq(sample, "bicarbonate") + _meq(sample, "carbonate")) * CACO3_EQUIVALENT


@dataclass(frozen=True, slots=True)
class IonBalance:
    """Sums of cations and anions [meq/L], their disagreement as a fraction (cations - anions) / (cations + anions), and whether it passes."""

    cations: float
    anions: float
    error: float
    limit: float
    acceptable: bool
    missing: tuple[str, ...]
    advisories: tuple[Advisory, ...]


def ion_balance(sample: Analysis) -> IonBalance:
    """Return the balance of charge.

    Raises
    ------
    OutOfDomain
        A major ion was not tested, so that there is no balance to judge.

    Notes
    -----
    Limit: a difference of 0.2 meq/L for anions to 3 meq/L (as a fraction), 0.02 to 10, 0.05 above (Standard Methods 1030E, from memory).

    References
    ----------
    .. [1] Freeze, R.A. and Cherry, J.A. (1979) Groundwater, p. 97.
    """
    missing = tuple(p.name for p in PARAMETERS.values() if p.major and p.name not in sample.results and not (p.name == "bicarbonate" and "alkalinity" in sample.results))
    if missing:
        raise OutOfDomain("analysis", ", ".join(missing), "lacks a major ion, so the ions cannot be balanced",
                          "calcium, magnesium, sodium, bicarbonate or alkalinity, chloride and sulfate")
    cations = sum(_meq(sample, p.name) for p in PARAMETERS.values() if p.charge > 0)
    anions = sum(_meq(sample, p.name) for p in PARAMETERS.values() if p.charge < 0)
    if "bicarbonate" not in sample.results:
        anions += (sample.value("alkalinity") or 0.0) / CACO3_EQUIVALENT - _meq(sample, "carbonate")
    total = cations + anions
    if total <= 0:
        raise OutOfDomain("analysis", 0.0, "holds no ions", "concentrations above zero")
    error = (cations - anions) / total
    limit = max(0.2 / total, 0.02) if anions <= 3 else 0.02 if anions <= 10 else 0.05
    acceptable = abs(error) <= limit
    advisories = []
    if abs(error) > max(limit, 0.05):
        advisories.append(Advisory("ion-balance", "doubt", f"Cations {cations:.2f} and anions {anions:.2f} meq/L disagree by {abs(error):.1%} (limit {limit:.1%}): "
                                   "a slip of the pen, a missing ion, or a wrong unit. Ask the laboratory.", "analysis"))
    elif not acceptable:
        advisories.append(Advisory("ion-balance", "note", f"Cations and anions disagree by {abs(error):.1%}, over the laboratory's limit of {limit:.1%} but under 5 %.", "analysis"))
    return IonBalance(cations, anions, error, limit, acceptable, (), tuple(advisories))


def hardness(sample: Analysis) -> float | None:
    """Return the hardness [mg/L CaCO3], from calcium and magnesium or as tested; None if neither."""
    if {"calcium", "magnesium"} <= set(sample.results):
        return (_meq(sample, "calcium") + _meq(sample, "magnesium")) * CACO3_EQUIVALENT
    return sample.value("hardness")


def hardness_class(value: float) -> str:
    """Return the class of a hardness in mg/L CaCO3 (Durfor and Becker 1964, US Geological Survey WSP 1812)."""
    require_non_negative(hardness=value)
    return "soft" if value <= 60 else "moderately hard" if value <= 120 else "hard" if value <= 180 else "very hard"


def sodium_adsorption_ratio(sodium: float, calcium: float, magnesium: float) -> float:
    """Return the sodium adsorption ratio from concentrations in meq/L.

    Notes
    -----
    SAR = Na / sqrt((Ca + Mg) / 2), all meq/L; the result is in (meq/L)^0.5 by custom.

    References
    ----------
    .. [1] US Salinity Laboratory Staff (1954) USDA Handbook 60, p. 25-26.

    Examples
    --------
    >>> round(sodium_adsorption_ratio(10, 4, 2), 4)
    5.7735
    """
    require_non_negative(sodium=sodium, calcium=calcium, magnesium=magnesium)
    require(calcium + magnesium > 0, "calcium", calcium, "and magnesium are both nought, so there is no ratio", "calcium or magnesium above zero")
    return sodium / math.sqrt((calcium + magnesium) / 2)


def sample_sodium_adsorption_ratio(sample: Analysis) -> float | None:
    """Return the sodium adsorption ratio of an analysis, or None where an ion was not tested."""
    if not {"sodium", "calcium", "magnesium"} <= set(sample.results) or _meq(sample, "calcium") + _meq(sample, "magnesium") == 0:
        return None
    return sodium_adsorption_ratio(_meq(sample, "sodium"), _meq(sample, "calcium"), _meq(sample, "magnesium"))


def residual_sodium_carbonate(sample: Analysis) -> float | None:
    """Return the residual sodium carbonate, alkalinity less calcium and magnesium [meq/L]; None where not tested.

    References
    ----------
    .. [1] USDA Handbook 60 (1954).
    """
    base = alkalinity(sample)
    if base is None or not {"calcium", "magnesium"} <= set(sample.results):
        return None
    return base / CACO3_EQUIVALENT - _meq(sample, "calcium") - _meq(sample, "magnesium")


def solids_from_conductivity(conductivity: float) -> float:
    """Return total dissolved solids [mg/L] from conductivity [uS/cm at 25 degC]: 640 per dS/m to 5 dS/m, 800 above (FAO 29; a rule)."""
    require_non_negative(conductivity=conductivity)
    return 0.64 * conductivity if conductivity <= 5000 else 0.80 * conductivity


def adjusted_conductivity(conductivity: float, temperature: float) -> float:
    """Return conductivity at 25 degC from one read at another temperature [uS/cm]: EC / (1 + 0.0191 (T - 25)) (Standard Methods 2510)."""
    require_non_negative(conductivity=conductivity)
    if not 0 <= temperature <= 60:
        raise OutOfDomain("temperature", temperature, "is outside the correction", "0 to 60 degC")
    return conductivity / (1 + 0.0191 * (temperature - 25))


def dissolved_solids(sample: Analysis) -> tuple[float, str] | None:
    """Return total dissolved solids [mg/L] and how they were had: "tested", "sum of ions" or "from conductivity"; None if it cannot be.

    Notes
    -----
    In the sum bicarbonate counts by 0.4917, as it leaves carbonate when the water is dried (Hem 1985).
    """
    if "total dissolved solids" in sample.results:
        return sample.value("total dissolved solids") or 0.0, "tested"
    try:
        ion_balance(sample)
    except OutOfDomain:
        conductivity = sample.value("conductivity")
        return None if conductivity is None else (solids_from_conductivity(conductivity), "from conductivity")
    bicarbonate = sample.value("bicarbonate")
    if bicarbonate is None:
        bicarbonate = (sample.value("alkalinity") or 0.0) / CACO3_EQUIVALENT * PARAMETERS["bicarbonate"].mass
    others = sum(sample.value(p.name) or 0.0 for p in PARAMETERS.values() if p.charge and p.name != "bicarbonate")
    return others + (sample.value("silica") or 0.0) + 0.4917 * bicarbonate, "sum of ions"


def check_analysis(sample: Analysis) -> tuple[Advisory, ...]:
    """Return the doubts about an analysis: missing ions, imbalance, a suspected wrong unit, conductivity against solids."""
    found: list[Advisory] = []
    try:
        balance = ion_balance(sample)
        found.extend(balance.advisories)
        if abs(balance.error) > 0.05:
            found.extend(_unit_suspicion(sample, balance))
    except OutOfDomain as error:
        found.append(Advisory("missing-major-ion", "doubt", f"The ions cannot be balanced: not tested were {error.value}.", "analysis"))
    found.extend(_conductivity_doubts(sample))
    if sample.unknown:
        found.append(Advisory("not-known", "note", f"Not known to this program and not judged: {', '.join(sample.unknown)}.", "analysis"))
    return tuple(found)


def _unit_suspicion(sample: Analysis, balance: IonBalance) -> list[Advisory]:
    """Say which readings, taken as mmol/L or meq/L entered for mg/L, would put the balance right."""
    entered = {n: r for n, r in sample.results.items() if PARAMETERS[n].major and r.unit.lower().replace(" ", "") in ("", "mg/l", "ppm")}
    repaired: list[tuple[float, str, str]] = []
    for unit in ("mmol/L", "meq/L"):
        for names in ([[n] for n in entered] + [[n for n in entered if PARAMETERS[n].charge > 0], [n for n in entered if PARAMETERS[n].charge < 0], list(entered)]):
            cations, anions = balance.cations, balance.anions
            for name in names:
                what = PARAMETERS[name]
                now = _meq(sample, name)
                value = sample.value(name) or 0.0
                change = (value * abs(what.charge) if unit == "mmol/L" else value) - now
                cations, anions = (cations + change, anions) if what.charge > 0 else (cations, anions + change)
            error = abs(cations - anions) / (cations + anions)
            if error < 0.05 and error < abs(balance.error) / 3:
                repaired.append((error, unit, "all of the main ions" if len(names) == len(entered) else " and ".join(names)))
    conductivity = sample.value("conductivity")
    agrees = conductivity and 0.7 <= 50 * (balance.cations + balance.anions) / conductivity <= 1.4  # 100 uS/cm for each meq/L
    if not repaired or agrees:
        return []
    _, unit, names = min(repaired)
    # Of ions with one charge the two units are the same number: both are then named.
    unit = " or ".join(dict.fromkeys(u for _, u, n in sorted(repaired) if n == names))
    return [Advisory("unit-suspected", "doubt", f"The ions would balance if {names} had been reported in {unit} and entered as mg/L: look at the laboratory's sheet and enter it again in its own unit.", names)]


def _conductivity_doubts(sample: Analysis) -> list[Advisory]:
    conductivity, solids = sample.value("conductivity"), sample.value("total dissolved solids")
    found = []
    if conductivity and solids is not None and not 0.5 <= solids / conductivity <= 0.96:
        found.append(Advisory("solids-against-conductivity", "doubt", f"Dissolved solids of {solids:g} mg/L do not go with a conductivity of {conductivity:g} uS/cm "
                              f"(ratio {solids / conductivity:.2f}, usual 0.55 to 0.75): one of them, or its unit, is wrong.", "conductivity"))
    if conductivity and conductivity > 100:
        cations = sum(_meq(sample, p.name) for p in PARAMETERS.values() if p.charge > 0)
        if {"calcium", "magnesium", "sodium"} <= set(sample.results) and cations < 20 and not 0.6 <= 100 * cations / conductivity <= 1.5:
            found.append(Advisory("ions-against-conductivity", "doubt", f"Cations of {cations:.1f} meq/L do not go with a conductivity of {conductivity:g} uS/cm "
                                  f"(about {conductivity / 100:.1f} meq/L expected).", "conductivity"))
    return found
