"""Will the water scale or eat: Langelier, Ryznar, Larson, and saturation from the ions. Print one decimal; they know no more."""

from __future__ import annotations

import math
from dataclasses import dataclass

from borewright.errors import Advisory, OutOfDomain, require_non_negative, require_positive
from borewright.water.analysis import Analysis, _meq, alkalinity, dissolved_solids
from borewright.water.species import CACO3_EQUIVALENT, PARAMETERS

__all__ = ["CarbonateIndices", "carbonate_indices", "langelier", "langelier_meaning", "larson_ratio", "ryznar_meaning", "saturation_indices"]


@dataclass(frozen=True, slots=True)
class CarbonateIndices:
    """pH of saturation, Langelier index and Ryznar index [-]."""

    saturation_ph: float
    langelier: float
    ryznar: float
    advisories: tuple[Advisory, ...] = ()


def langelier(*, ph: float, temperature: float, dissolved_solids: float, calcium_hardness: float, alkalinity: float) -> CarbonateIndices:
    """Return the Langelier and Ryznar indices.

    Parameters
    ----------
    ph : float
        Measured at the bore, not after standing [-].
    temperature : float
        [degC].
    dissolved_solids : float
        [mg/L].
    calcium_hardness, alkalinity : float
        As CaCO3 [mg/L].

    Notes
    -----
    pHs = (9.3 + A + B) - (C + D), A = (log TDS - 1) / 10, B = -13.12 log(T + 273) + 34.55, C = log Ca - 0.4, D = log alkalinity;
    Langelier = pH - pHs, Ryznar = 2 pHs - pH. Differs from a full speciation by up to 0.25.

    References
    ----------
    .. [1] Langelier, W.F. (1936) J. AWWA 28:1500; Ryznar, J.W. (1944) J. AWWA 36:472-483.

    Examples
    --------
    >>> round(langelier(ph=7.5, temperature=25, dissolved_solids=320, calcium_hardness=150, alkalinity=34).langelier, 1)
    -0.7
    """
    require_positive(dissolved_solids=dissolved_solids, calcium_hardness=calcium_hardness, alkalinity=alkalinity)
    if not (math.isfinite(ph) and 0 <= ph <= 14):
        raise OutOfDomain("ph", ph, "is not a pH", "0 to 14")
    if not 0 <= temperature <= 100:
        raise OutOfDomain("temperature", temperature, "is not a temperature of liquid water", "0 to 100 degC")
    a = (math.log10(dissolved_solids) - 1) / 10
    b = -13.12 * math.log10(temperature + 273) + 34.55
    c = math.log10(calcium_hardness) - 0.4
    d = math.log10(alkalinity)
    saturation = 9.3 + a + b - c - d
    advisories = [Advisory("ph-at-the-bore", "note", "A pH read in the laboratory after the gas has left is high and makes the index too positive: use the pH read at the bore.", "ph")]
    if dissolved_solids > 10000 or ph > 9.3:
        advisories.append(Advisory("index-outside", "doubt", "The index was made for fresh water below pH 9.3.", "dissolved_solids"))
    return CarbonateIndices(saturation, ph - saturation, 2 * saturation - ph, tuple(advisories))


def carbonate_indices(sample: Analysis, *, temperature: float | None = None) -> CarbonateIndices | None:
    """Return the indices of an analysis, or None where pH, temperature, calcium, alkalinity or solids were not tested."""
    base, solids, calcium, ph = alkalinity(sample), dissolved_solids(sample), _meq(sample, "calcium"), sample.value("pH")
    warm = sample.value("temperature") if temperature is None else temperature
    if not base or not solids or not calcium or ph is None or warm is None:
        return None
    return langelier(ph=ph, temperature=warm, dissolved_solids=solids[0], calcium_hardness=calcium * CACO3_EQUIVALENT, alkalinity=base)


def langelier_meaning(index: float) -> str:
    """Return what a Langelier index says, in a sentence."""
    if index < -0.5:
        return "tends to dissolve lime and to eat steel and concrete"
    return "tends to lay down lime scale" if index > 0.5 else "near balance: little scale and little attack by this index"


def ryznar_meaning(index: float) -> str:
    """Return what a Ryznar index says, in a sentence (Carrier 1965 classes, from memory)."""
    bands = ((5.0, "heavy scale"), (6.0, "light scale"), (7.0, "little scale or corrosion"), (7.5, "significant corrosion of steel"), (9.0, "heavy corrosion of steel"))
    return next((words for top, words in bands if index < top), "corrosion of steel that cannot be borne")


def larson_ratio(sample: Analysis) -> float | None:
    """Return (chloride + sulfate) / alkalinity by meq [-]: under 0.8 mild, over 1.2 hard on mild steel (Larson and Skold 1958)."""
    base = alkalinity(sample)
    if not base or not {"chloride", "sulfate"} <= set(sample.results):
        return None
    return (_meq(sample, "chloride") + _meq(sample, "sulfate")) / (base / CACO3_EQUIVALENT)


def _constants(temperature: float) -> dict[str, float]:
    """Return log10 constants by temperature [K]: Plummer and Busenberg (1982) carbonates; van 't Hoff for gypsum."""
    t = temperature
    return {
        "K2": -107.8871 - 0.03252849 * t + 5151.79 / t + 38.92561 * math.log10(t) - 563713.9 / t**2,
        "K1": -356.3094 - 0.06091964 * t + 21834.37 / t + 126.8339 * math.log10(t) - 1684915 / t**2,
        "KH": 108.3865 + 0.01985076 * t - 6919.53 / t - 40.45154 * math.log10(t) + 669365 / t**2,
        "calcite": -171.9065 - 0.077993 * t + 2839.319 / t + 71.595 * math.log10(t),
        "aragonite": -171.9773 - 0.077993 * t + 2903.293 / t + 71.595 * math.log10(t),
        "dolomite": -17.09 + (-39480 / (8.314 * math.log(10))) * (1 / 298.15 - 1 / t),
        "gypsum": -4.58 + (-456 / (8.314 * math.log(10))) * (1 / 298.15 - 1 / t),
    }


def saturation_indices(sample: Analysis, *, temperature: float | None = None) -> dict[str, float] | None:
    """Return saturation indices of calcite, aragonite, dolomite and gypsum, and log10 of carbon dioxide's partial pressure [atm].

    Returns None where pH, temperature, calcium or alkalinity were not tested. Other entries are left out where their ions were.

    Notes
    -----
    Activities by Davies; ion pairs of calcium and magnesium with bicarbonate, carbonate and sulfate and of sodium with sulfate are
    solved by iteration (constants at 25 degC). Fit for waters to about 0.1 mol/kg; not for brines.

    References
    ----------
    .. [1] Plummer, L.N. and Busenberg, E. (1982) Geochim. Cosmochim. Acta 46:1011-1040.
    """
    base, ph = alkalinity(sample), sample.value("pH")
    warm = sample.value("temperature") if temperature is None else temperature
    if not base or ph is None or warm is None or not _meq(sample, "calcium"):
        return None
    require_non_negative(temperature=warm)
    kelvin = warm + 273.15
    log_k = _constants(kelvin)
    total = {n: (sample.value(n) or 0.0) / (PARAMETERS[n].mass or 1.0) / 1000 for n in
             ("calcium", "magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate")}
    free = dict(total)
    carbon = base / CACO3_EQUIVALENT / 1000  # mol/L of charge
    hydrogen = 10**-ph
    bicarbonate, carbonate = carbon, 0.0
    pairs = {"CaHCO3": 1.11, "MgHCO3": 1.07, "CaCO3": 3.22, "MgCO3": 2.98, "CaSO4": 2.30, "MgSO4": 2.37, "NaSO4": 0.70}
    for _ in range(100):
        strength = 0.5 * (4 * (free["calcium"] + free["magnesium"] + free["sulfate"] + carbonate) + free["sodium"] + free["potassium"] + free["chloride"] + free["nitrate"] + bicarbonate)
        slope = 0.4883 + 8.074e-4 * warm
        one = 10 ** (-slope * (math.sqrt(strength) / (1 + math.sqrt(strength)) - 0.3 * strength))
        two = one**4
        k = {p: 10**v for p, v in pairs.items()}
        ca, mg, so4 = free["calcium"] * two, free["magnesium"] * two, free["sulfate"] * two
        ratio = 10 ** log_k["K2"] / hydrogen  # activity of carbonate per activity of bicarbonate
        per_bicarbonate = 1 / one + k["CaHCO3"] * ca / one + k["MgHCO3"] * mg / one + 2 * ratio * (1 / two + k["CaCO3"] * ca + k["MgCO3"] * mg)
        hco3 = max(carbon - 1e-14 / hydrogen + hydrogen, 1e-9) / per_bicarbonate
        co3 = ratio * hco3
        new = {
            "calcium": total["calcium"] / (1 + two * (k["CaHCO3"] * hco3 / one + k["CaCO3"] * co3 + k["CaSO4"] * so4)),
            "magnesium": total["magnesium"] / (1 + two * (k["MgHCO3"] * hco3 / one + k["MgCO3"] * co3 + k["MgSO4"] * so4)),
            "sodium": total["sodium"] / (1 + one * k["NaSO4"] * so4 / one),
            "sulfate": total["sulfate"] / (1 + two * (k["CaSO4"] * ca + k["MgSO4"] * mg) + two * k["NaSO4"] * free["sodium"] * one / one),
        }
        moved = max(abs(new[n] - free[n]) for n in new)
        free |= new
        bicarbonate, carbonate = hco3 / one, co3 / two
        if moved < 1e-12:
            break
    ca, mg, so4 = free["calcium"] * two, free["magnesium"] * two, free["sulfate"] * two
    found = {
        "calcite": math.log10(ca * co3) - log_k["calcite"], "aragonite": math.log10(ca * co3) - log_k["aragonite"],
        "log carbon dioxide": math.log10(hco3 * hydrogen) - log_k["K1"] - log_k["KH"],
    }
    if mg > 0:
        found["dolomite"] = math.log10(ca * mg * co3**2) - log_k["dolomite"]
    if so4 > 0:
        found["gypsum"] = math.log10(ca * so4) - log_k["gypsum"]
    return found
