"""What an analysis means for casing, pump and pipe, what kinds of treatment there are, and when to test again. In plain words."""

from __future__ import annotations

from dataclasses import dataclass

from borewright.water.analysis import Analysis, alkalinity, dissolved_solids, hardness
from borewright.water.indices import carbonate_indices, larson_ratio

__all__ = ["Meaning", "materials", "retest", "treatments"]


@dataclass(frozen=True, slots=True)
class Meaning:
    """One thing that follows: what it is about, what to do or know, and on what reading and whose rule it rests."""

    about: str
    words: str
    because: str
    source: str


_DRISCOLL = "Driscoll (1986) Groundwater and Wells, from memory"
_PRACTICE = "common practice, no source"


def materials(sample: Analysis, *, temperature: float | None = None) -> tuple[Meaning, ...]:
    """Return what the water does to casing, pump and pipe.

    References
    ----------
    .. [1] Signs of attack and incrustation: Driscoll (1986), from memory; Langelier bands 1936; Larson and Skold (1958), from memory.
    """
    found: list[Meaning] = []
    attack = _signs_of_attack(sample, temperature)
    if attack:
        found.append(Meaning("casing and pump", "Attacks mild steel and zinc, and copper and brass in the house: use plastic or stainless casing and riser, and a pump with stainless or plastic parts.",
                             "; ".join(words for words, _ in attack), "; ".join(dict.fromkeys(source for _, source in attack))))
    crust = _signs_of_crust(sample, temperature)
    if crust:
        found.append(Meaning("slots and pump", "Lays down scale or rust in slots, pump and pipe: give more open area than needed, pump gently and steadily, and plan to clean the bore.",
                             "; ".join(words for words, _ in crust), "; ".join(dict.fromkeys(source for _, source in crust))))
    iron = sample.value("iron")
    if iron is not None and iron > 0.2:
        found.append(Meaning("iron bacteria", "Slime of iron bacteria is likely: disinfect tools and pump before they go in, and watch for reddish slime and a falling specific capacity.",
                             f"iron {iron:g} mg/L", "field rule, above about 0.2 mg/L, from memory"))
    sulfide = sample.value("hydrogen sulfide")
    if sulfide is not None and sulfide > 0.05:
        found.append(Meaning("gas", "Hydrogen sulfide gas is poisonous and gathers in pits and tanks: vent the bore and the tank, and never go into a pit without testing the air.",
                             f"hydrogen sulfide {sulfide:g} mg/L", _PRACTICE))
    radon = sample.value("radon")
    if radon is not None and radon > 11.1:
        found.append(Meaning("radon", "Radon goes from water into the air of the house: have the air tested.", f"radon {radon:g} Bq/L; 11 Bq/L is the level the US EPA proposed in 1999 and never made final",
                             "64 FR 59246 (read)"))
    return tuple(found)


def _signs_of_attack(sample: Analysis, temperature: float | None) -> list[tuple[str, str]]:
    signs = []
    indices = carbonate_indices(sample, temperature=temperature)
    if indices is not None and indices.langelier < -0.5:
        signs.append((f"Langelier index {indices.langelier:.1f}", "Langelier (1936) bands"))
    for name, limit, unit in (("dissolved oxygen", 2, " mg/L"), ("hydrogen sulfide", 1, " mg/L"), ("carbon dioxide", 50, " mg/L"), ("chloride", 500, " mg/L")):
        value = sample.value(name)
        if value is not None and value > limit:
            signs.append((f"{name} {value:g}{unit}", _DRISCOLL))
    ph = sample.value("pH")
    if ph is not None and ph < 7:
        signs.append((f"pH {ph:g}", _DRISCOLL))
    solids = dissolved_solids(sample)
    if solids is not None and solids[0] > 1000:
        signs.append((f"dissolved solids {solids[0]:.0f} mg/L ({solids[1]})", _DRISCOLL))
    ratio = larson_ratio(sample)
    if ratio is not None and ratio > 1.2:
        signs.append((f"Larson ratio {ratio:.1f}", "Larson and Skold (1958), from memory"))
    return signs


def _signs_of_crust(sample: Analysis, temperature: float | None) -> list[tuple[str, str]]:
    signs = []
    indices = carbonate_indices(sample, temperature=temperature)
    if indices is not None and indices.langelier > 0.5:
        signs.append((f"Langelier index {indices.langelier:.1f}", "Langelier (1936) bands"))
    base, hard = alkalinity(sample), hardness(sample)
    if base is not None and hard is not None and min(base, hard) > 300:
        signs.append((f"carbonate hardness {min(base, hard):.0f} mg/L", _DRISCOLL))
    for name, limit in (("iron", 0.5), ("manganese", 0.2)):
        value = sample.value(name)
        if value is not None and value > limit:
            signs.append((f"{name} {value:g} mg/L", _DRISCOLL))
    return signs


# What is past its guideline -> kinds of treatment. Common practice, no source; never brands.
_TREATMENT = {
    "E. coli": "Find how germs get in (cap, seal, stick-up, tank) and mend it; disinfect bore and pipes, test again; where it comes back, ultraviolet light on clear water or chlorine, looked after.",
    "total coliforms": "Look at cap, seal and tank; disinfect and test again.",
    "turbidity": "Develop the bore further; then a sediment filter before anything else.",
    "iron": "Aerate or oxidise and filter; a softener takes a little dissolved iron. Draw the sample again after pumping clear: new bores carry rust and mud.",
    "manganese": "Oxidise and filter, harder than iron; some filters for iron take it too.",
    "hardness": "A softener for the heater and laundry (it adds sodium: not for gardens, nor for those who must avoid salt).",
    "nitrate": "Another source for infants now; ion exchange or reverse osmosis at the drinking tap. Boiling makes it stronger. Look for the waste or fertiliser that feeds it.",
    "nitrite": "Another source for infants now; look for waste getting in and test again.",
    "arsenic": "Adsorption on iron media or reverse osmosis at the drinking tap, tested often; or another source.",
    "fluoride": "Reverse osmosis or activated alumina at the drinking tap; or another source.",
    "uranium": "Ion exchange or reverse osmosis at the drinking tap.",
    "lead": "Look at fittings and solder first: flush, test bore and tap apart; then a certified filter at the tap.",
    "copper": "Usually from the pipes: raise the pH with a neutralising filter; flush the tap.",
    "pH": "Low: a neutralising filter of limestone or magnesia. High: ask why first.",
    "total dissolved solids": "Reverse osmosis for drinking; none is cheap for a garden or a paddock.",
    "sodium": "Reverse osmosis for drinking; nothing else takes it out.",
    "chloride": "Reverse osmosis for drinking.",
    "sulfate": "Reverse osmosis or ion exchange for drinking.",
    "hydrogen sulfide": "Aerate in an open, vented tank, or oxidise and filter.",
    "radon": "Aeration outside the house, or carbon with care for what it gathers.",
    "boron": "Hard to take out: another source, or crops that bear it.",
    "sodium adsorption ratio": "Gypsum on the soil or mixing with better water: ask an agronomist.",
    "conductivity": "Mix with better water, grow what bears salt, and water enough to leach: ask an agronomist.",
}
_OTHER = "Ask a water treatment specialist; test again first."


def treatments(names: tuple[str, ...]) -> tuple[Meaning, ...]:
    """Return the kinds of treatment for things past their guideline, by name, each once (common practice, no source)."""
    return tuple(Meaning(name, _TREATMENT.get(name, _OTHER), "past its guideline", _PRACTICE) for name in dict.fromkeys(names))


def retest(sample: Analysis, use: str, past_health: tuple[str, ...]) -> tuple[str, ...]:
    """Return when to test again, in sentences (common practice, no source; the local health authority's rule comes first)."""
    said = []
    if past_health:
        said.append(f"Now: repeat {', '.join(past_health)} at a certified laboratory from a fresh sample before deciding on treatment.")
    if "E. coli" in past_health:
        said.append("After disinfection: when no chlorine is left, and again about two weeks later; then every three months until four in a row are clear.")
    if use == "drinking":
        if "E. coli" not in sample.results:
            said.append("Before anyone drinks it: E. coli, from a sterile bottle, in the laboratory within a day.")
        said.append("Every year, after any flood, and after work on the bore or a change of taste, smell or colour: E. coli and nitrate.")
        said.append("Every three to five years: the full analysis; after treatment is fitted: before and after the filter.")
    elif use == "stock":
        said.append("Every year at the end of the dry season, and when stock refuse it: conductivity; the full analysis every three to five years.")
    else:
        said.append("Every year at the end of the season: conductivity and sodium adsorption ratio, and the soil beside them.")
    return tuple(said)
