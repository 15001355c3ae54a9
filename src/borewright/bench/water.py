"""The single calculations of water."""

from __future__ import annotations

from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity, quantity_list
from borewright.errors import Advisory
from borewright.water import (
    DRINKING_CAUTION,
    adjusted_conductivity,
    analysis_of,
    check_analysis,
    hardness_class,
    ion_balance,
    langelier,
    langelier_meaning,
    result,
    ryznar_meaning,
    saturation_indices,
    sodium_adsorption_ratio,
    solids_from_conductivity,
    trend,
)
from borewright.water import hardness as hardness_of

_DRINK = (DRINKING_CAUTION,)


def _ion(name: str, example: str, *, required: bool = True):
    if required:
        return quantity("concentration", "mg/L", f"{name.capitalize()}, as the ion", at_least=0, example=example)
    return quantity("concentration", "mg/L", f"{name.capitalize()}, as the ion", at_least=0, default=0.0, example=example)


class SodiumInputs(BenchModel):
    sodium: float = _ion("sodium", "640 mg/L")
    calcium: float = _ion("calcium", "120 mg/L")
    magnesium: float = _ion("magnesium", "95 mg/L")


class SodiumResults(BenchModel):
    ratio: float = quantity("number", "", "Sodium adsorption ratio [(meq/L)^0.5]")


def _meq(name: str, value: float) -> float:
    from borewright.water import PARAMETERS

    what = PARAMETERS[name]
    return value * abs(what.charge) / what.mass


def _sodium(given: SodiumInputs) -> Outcome:
    ratio = sodium_adsorption_ratio(*(_meq(name, getattr(given, name)) for name in ("sodium", "calcium", "magnesium")))
    words = "no restriction" if ratio < 3 else "slight to moderate restriction" if ratio <= 9 else "severe restriction"
    return Outcome(SodiumResults(ratio=ratio), (Advisory("surface-irrigation", "note", f"For surface irrigation of sensitive crops: {words} (FAO 29, 1985).", "sodium"),))


declare(Calculation(
    name="sodium-adsorption-ratio", title="Sodium adsorption ratio", stage="water", about="How much sodium there is for the calcium and magnesium that keep soil open.", inputs=SodiumInputs,
    results=SodiumResults, compute=_sodium, source=("US Salinity Laboratory Staff (1954) USDA Handbook 60, p. 25", "FAO Irrigation and Drainage Paper 29 rev. 1 (1985), table 1"),
    limits=("Judge it together with the conductivity: soft water at the same ratio seals soil sooner.",),
))


class HardnessInputs(BenchModel):
    calcium: float = _ion("calcium", "98 mg/L")
    magnesium: float = _ion("magnesium", "14 mg/L")


class HardnessResults(BenchModel):
    hardness: float = quantity("concentration", "mg/L", "As calcium carbonate")


def _hardness(given: HardnessInputs) -> Outcome:
    value = hardness_of(analysis_of([result("calcium", repr(given.calcium), "mg/L"), result("magnesium", repr(given.magnesium), "mg/L")]))
    return Outcome(HardnessResults(hardness=value), (Advisory("class", "note", f"This water is {hardness_class(value)} (US Geological Survey).", "calcium"),))


declare(Calculation(
    name="hardness", title="Hardness", stage="water", about="Hardness from calcium and magnesium, and its class.", inputs=HardnessInputs, results=HardnessResults, compute=_hardness,
    source=("2.497 Ca + 4.118 Mg, by equivalent weights", "Classes: Durfor and Becker (1964) USGS WSP 1812"),
))


class LangelierInputs(BenchModel):
    ph: float = quantity("pH", "", "Read at the bore", at_least=0, at_most=14, example="7.5")
    temperature: float = quantity("temperature", "degC", "Of the water", at_least=0, at_most=100, example="25 degC")
    dissolved_solids: float = quantity("concentration", "mg/L", "Total dissolved solids", above=0, example="320 mg/L")
    calcium_hardness: float = quantity("concentration", "mg/L", "Calcium as calcium carbonate", above=0, example="150 mg/L")
    alkalinity: float = quantity("concentration", "mg/L", "Alkalinity as calcium carbonate", above=0, example="34 mg/L")


class LangelierResults(BenchModel):
    langelier: float = quantity("number", "", "Langelier index")
    ryznar: float = quantity("number", "", "Ryznar index")
    saturation_ph: float = quantity("pH", "", "pH of saturation")


def _langelier(given: LangelierInputs) -> Outcome:
    found = langelier(**given.model_dump())
    words = f"By Langelier it {langelier_meaning(found.langelier)}; by Ryznar: {ryznar_meaning(found.ryznar)}."
    if found.langelier >= -0.5 and found.langelier <= 0.5:
        words = f"By Langelier {langelier_meaning(found.langelier)}; by Ryznar: {ryznar_meaning(found.ryznar)}."
    results = LangelierResults(langelier=found.langelier, ryznar=found.ryznar, saturation_ph=found.saturation_ph)
    return Outcome(results, (Advisory("meaning", "note", words, "ph"), *found.advisories))


declare(Calculation(
    name="langelier", title="Langelier and Ryznar indices", stage="water", about="Whether water lays down lime or dissolves it.", inputs=LangelierInputs, results=LangelierResults, compute=_langelier,
    source=("Langelier (1936) J. AWWA 28:1500; formula with A, B, C, D", "Ryznar (1944) J. AWWA 36:472", "Ryznar classes: Carrier (1965), from memory"),
    limits=("Known to about 0.25: print one decimal.", "Says nothing of oxygen, chloride or sulfide, which also eat steel."),
))


class BalanceInputs(BenchModel):
    calcium: float = _ion("calcium", "120 mg/L")
    magnesium: float = _ion("magnesium", "95 mg/L")
    sodium: float = _ion("sodium", "640 mg/L")
    potassium: float = _ion("potassium", "14 mg/L", required=False)
    bicarbonate: float = _ion("bicarbonate", "420 mg/L")
    sulfate: float = _ion("sulfate", "380 mg/L")
    chloride: float = _ion("chloride", "960 mg/L")
    nitrate: float = quantity("concentration", "mg/L", "Nitrate as nitrate, not as nitrogen", at_least=0, default=0.0, example="4 mg/L")


class BalanceResults(BenchModel):
    cations: float = quantity("number", "", "Sum of cations [meq/L]")
    anions: float = quantity("number", "", "Sum of anions [meq/L]")
    error: float = quantity("number", "", "(cations - anions) / (cations + anions)")
    limit: float = quantity("number", "", "What a laboratory is held to")


def _balance(given: BalanceInputs) -> Outcome:
    sample = analysis_of([result(name, repr(value), "mg/L", form="as nitrate" if name == "nitrate" else "") for name, value in given])
    found = ion_balance(sample)
    return Outcome(BalanceResults(cations=found.cations, anions=found.anions, error=found.error, limit=found.limit), check_analysis(sample))


declare(Calculation(
    name="ion-balance", title="Balance of the ions", stage="water", about="Whether cations and anions agree, as they must in any water.", inputs=BalanceInputs, results=BalanceResults, compute=_balance,
    source=("Freeze and Cherry (1979) Groundwater, p. 97", "Limits: Standard Methods 1030E, from memory"), limits=("Very dilute waters often miss the limit.",),
))


class SaturationInputs(BenchModel):
    ph: float = quantity("pH", "", "Read at the bore", at_least=4, at_most=11, example="7.3")
    temperature: float = quantity("temperature", "degC", "Of the water", at_least=0, at_most=90, example="15 degC")
    calcium: float = _ion("calcium", "98 mg/L")
    magnesium: float = _ion("magnesium", "14 mg/L", required=False)
    sodium: float = _ion("sodium", "20 mg/L", required=False)
    bicarbonate: float = _ion("bicarbonate", "340 mg/L")
    sulfate: float = _ion("sulfate", "25 mg/L", required=False)
    chloride: float = _ion("chloride", "35 mg/L", required=False)


class SaturationResults(BenchModel):
    calcite: float = quantity("number", "", "Saturation index of calcite")
    aragonite: float = quantity("number", "", "Saturation index of aragonite")
    dolomite: float | None = quantity("number", "", "Saturation index of dolomite")
    gypsum: float | None = quantity("number", "", "Saturation index of gypsum")
    log_carbon_dioxide: float = quantity("number", "", "log10 of the partial pressure of carbon dioxide [atm]")


def _saturation(given: SaturationInputs) -> Outcome:
    from borewright.errors import OutOfDomain

    ions = [result(name, repr(value), "mg/L") for name, value in given if name not in ("ph", "temperature")]
    found = saturation_indices(analysis_of([*ions, result("pH", repr(given.ph)), result("temperature", repr(given.temperature), "degC")]))
    if found is None:
        raise OutOfDomain("calcium", given.calcium, "or the bicarbonate is nought, so nothing can be saturated", "calcium and bicarbonate above zero")
    return Outcome(SaturationResults(calcite=found["calcite"], aragonite=found["aragonite"], dolomite=found.get("dolomite"), gypsum=found.get("gypsum"), log_carbon_dioxide=found["log carbon dioxide"]))


declare(Calculation(
    name="saturation", title="Saturation of minerals", stage="water", about="Saturation indices by activities and ion pairs: above zero a mineral may settle out.", inputs=SaturationInputs,
    results=SaturationResults, compute=_saturation, source=("Plummer and Busenberg (1982) Geochim. Cosmochim. Acta 46:1011", "Davies activities; ion pairs at 25 degC"),
    limits=("Waters to about 0.1 mol/kg, not brines.", "Within 0.06 (calcite) of a full geochemistry code on four worked waters."),
))


class ConductivityInputs(BenchModel):
    conductivity: float = quantity("conductivity", "uS/cm", "As read", above=0, example="800 uS/cm")
    temperature: float = quantity("temperature", "degC", "At which it was read; 25 where the meter corrects", at_least=0, at_most=60, default=25.0, example="18 degC")


class ConductivityResults(BenchModel):
    conductivity_25: float = quantity("conductivity", "uS/cm", "At 25 degC")
    dissolved_solids: float = quantity("concentration", "mg/L", "Estimated dissolved solids")


def _conductivity(given: ConductivityInputs) -> Outcome:
    at_25 = adjusted_conductivity(given.conductivity, given.temperature)
    return Outcome(ConductivityResults(conductivity_25=at_25, dissolved_solids=solids_from_conductivity(at_25)))


declare(Calculation(
    name="dissolved-solids", title="Dissolved solids from conductivity", stage="water", about="Conductivity at 25 degrees and the dissolved solids it stands for.", inputs=ConductivityInputs,
    results=ConductivityResults, compute=_conductivity, source=("EC25 = EC / (1 + 0.0191 (T - 25)): Standard Methods 2510, from memory", "640 mg/L for each dS/m to 5, 800 above: FAO 29"),
    limits=("A rule: 0.55 to 0.75 is usual, gypsum waters to 0.96.",),
))


class NitrateInputs(BenchModel):
    value: float = quantity("concentration", "mg/L", "As the laboratory wrote it", at_least=0, example="11 mg/L")
    form: str = choice(("as nitrogen", "as nitrate"), "In which of the two ways")


class NitrateResults(BenchModel):
    as_nitrate: float = quantity("concentration", "mg/L", "As nitrate")
    as_nitrogen: float = quantity("concentration", "mg/L", "As nitrogen")


def _nitrate(given: NitrateInputs) -> Outcome:
    ion = result("nitrate", repr(given.value), "mg/L", form=given.form).value
    where = "above" if ion > 50 else "within"
    said = Advisory("who", "danger" if ion > 50 else "note", f"It is {where} the WHO guideline of 2022 of 50 mg/L as nitrate (11.3 as nitrogen), set for bottle-fed infants.", "value")
    return Outcome(NitrateResults(as_nitrate=ion, as_nitrogen=ion * 14.0067 / 62.0049), (said,))


declare(Calculation(
    name="nitrate-form", title="Nitrate in its two forms", stage="water", about="Nitrate as nitrate and as nitrogen: the same water, numbers 4.4 apart.", inputs=NitrateInputs, results=NitrateResults,
    compute=_nitrate, source=("Formula masses 62.0049 and 14.0067 (IUPAC)", "WHO (2022) Guidelines for drinking-water quality, 4th ed. with addenda"), cautions=_DRINK,
))


class TrendInputs(BenchModel):
    time: tuple[float, ...] = quantity_list("time", "year", "Of each reading, from any start, ascending", example="0, 1, 2, 3, 4, 5, 6 year")
    values: tuple[float, ...] = quantity_list("number", "", "Readings, all in one unit: level, conductivity, flow or energy", example="30.1, 30.7, 31.7, 32.4, 33.1, 34.2, 34.7")


class TrendResults(BenchModel):
    slope: float = quantity("number", "", "Change in a year, in the unit of the readings")
    slope_low: float = quantity("number", "", "Low end of its 95 % interval")
    slope_high: float = quantity("number", "", "High end")
    tau: float = quantity("number", "", "Kendall's tau: 1 always rising, -1 always falling")
    p_value: float = quantity("number", "", "How often chance alone would show as much")


def _trend(given: TrendInputs) -> Outcome:
    found = trend(given.time, given.values)
    year = 365.25 * 86400
    results = TrendResults(slope=found.slope * year, slope_low=found.slope_low * year, slope_high=found.slope_high * year, tau=found.tau, p_value=found.p_value)
    return Outcome(results, (Advisory("words", "note", found.words, "values"), *found.advisories))


declare(Calculation(
    name="trend", title="Trend over the years", stage="water", about="Whether a level, conductivity, flow or energy rises or falls beyond chance, and how fast.", inputs=TrendInputs, results=TrendResults,
    compute=_trend, source=("Mann (1945) Econometrica 13:245; Kendall's tau by SciPy", "Sen (1968) J. American Statistical Association 63:1379"),
    limits=("At least five readings, best one a season: readings close together are alike and make the test too sure.",),
))
