"""An analysis held against the guidelines for a use: what is past them first, what was not tested, what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from borewright.errors import Advisory
from borewright.water.analysis import (
    Analysis,
    analysis_from_values,
    check_analysis,
    dissolved_solids,
    hardness,
    hardness_class,
    ion_balance,
    residual_sodium_carbonate,
    sample_sodium_adsorption_ratio,
)
from borewright.water.diagrams import diagram_data
from borewright.water.guidelines import GuidelineSet, Infiltration, Limit, guideline_sets
from borewright.water.indices import (
    carbonate_indices,
    langelier_meaning,
    larson_ratio,
    ryznar_meaning,
    saturation_indices,
)
from borewright.water.meaning import Meaning, materials, retest, treatments
from borewright.water.species import PARAMETERS, units_for

__all__ = ["Assessment", "Finding", "assess", "assessment_as_dict"]

DRINKING_CAUTION = ("This is a screening against published figures, of this sample on this day. Whether water may be drunk is for your health authority: a health question needs a "
                    "certified laboratory, and germs come and go with the weather.")
_ORDER = {"health": 0, "animal": 1, "crop": 1, "clogging": 2, "taste": 3}
Verdict = Literal["above", "below", "within", "cannot tell"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One result held against one limit of one set.

    Attributes
    ----------
    value : float
        Canonical [mg/L of the ion, uS/cm, NTU, per 100 mL, Bq/L]; the detection limit where `below_detection`.
    typed : str
        As the laboratory wrote it, or how it was worked out.
    guideline : str
        The limit as printed, its kind, publisher and year.
    sentence : str
        The finding in plain words.
    """

    name: str
    value: float
    unit: str
    below_detection: bool
    typed: str
    verdict: Verdict
    kind: str
    whom: str
    guideline: str
    set_key: str
    status: str
    sentence: str

    @property
    def past(self) -> bool:
        """Is it above or below what the guideline allows?"""
        return self.verdict in ("above", "below")


@dataclass(frozen=True, slots=True)
class Assessment:
    """What an analysis says for a use; never that water is safe.

    Attributes
    ----------
    findings : tuple of Finding
        Past the guideline first, health before taste; then what cannot be told; then what is within.
    not_tested : tuple of str
        In the guidelines and not in the analysis, health first.
    indices : tuple of (name, value, unit, meaning)
    """

    use: str
    sentence: str
    findings: tuple[Finding, ...]
    not_tested: tuple[str, ...]
    not_tested_health: tuple[str, ...]
    indices: tuple[tuple[str, float, str, str], ...]
    materials: tuple[Meaning, ...]
    treatments: tuple[Meaning, ...]
    retest: tuple[str, ...]
    sets: tuple[GuidelineSet, ...]
    sample: Analysis
    advisories: tuple[Advisory, ...]


@dataclass(frozen=True, slots=True)
class _Judged:
    value: float
    below: bool
    typed: str
    unit: str


def assess(values: Analysis | Iterable[Mapping[str, Any]], use: str = "drinking", *, guidelines: Sequence[str] | None = None, temperature: float | None = None) -> Assessment:
    """Return what an analysis says for a use, past the guidelines first.

    Parameters
    ----------
    values : Analysis or rows
        Rows hold name, value ("0.3", "<0.001" or a number), unit and, if wished, below_detection and form.
    use : {"drinking", "stock", "irrigation"}
    guidelines : sequence of str, optional
        Keys of `guideline_sets(use)`; all of the use where not given. Sets are shown side by side, never merged.
    temperature : float, optional
        Of the water [degC], for the scale indices where it is not in the analysis.

    Raises
    ------
    BadInput
        A use or set that is not known, or a row that cannot be read.
    """
    sample = values if isinstance(values, Analysis) else analysis_from_values(values)
    own = sample.value("temperature")
    temperature = temperature if own is None else own
    sets = guideline_sets(use, guidelines)
    found: list[Finding] = []
    for one in sets:
        found += _against(sample, one)
    found.sort(key=lambda f: (not f.past, f.verdict != "cannot tell", _ORDER.get(f.kind, 9)))
    wanted = {limit.parameter: limit for one in sets for limit in reversed(one.limits)}
    absent = [name for name in wanted if _value(sample, name) is None]
    health = tuple(dict.fromkeys(limit.parameter for one in sets for limit in one.limits if limit.kind == "health" and _value(sample, limit.parameter) is None))
    not_tested = (*health, *(name for name in absent if name not in health))
    past = tuple(dict.fromkeys(f.name for f in found if f.past))
    past_health = tuple(dict.fromkeys(f.name for f in found if f.past and f.kind == "health"))
    advisories = [*check_analysis(sample), *_not_worked_out(sample, temperature), *_advisories(use, found, past_health, health)]
    return Assessment(
        use=use, sentence=_sentence(sets, found, not_tested, health), findings=tuple(found), not_tested=not_tested, not_tested_health=health, indices=_indices(sample, temperature),
        materials=materials(sample, temperature=temperature), treatments=treatments(past), retest=retest(sample, use, past_health), sets=sets, sample=sample, advisories=tuple(advisories),
    )


def _value(sample: Analysis, name: str) -> _Judged | None:
    """Return what is held against the limits of a name: as tested, else worked out from the other results."""
    tested = sample.results.get(name)
    if tested is not None:
        return _Judged(tested.value, tested.below_detection, f"{tested.typed} {tested.unit} {tested.form}".strip(), units_for(name)[0])
    if name == "sodium adsorption ratio":
        ratio = sample_sodium_adsorption_ratio(sample)
        return None if ratio is None else _Judged(ratio, False, "worked out from sodium, calcium and magnesium", "")
    if name == "hardness":
        hard = hardness(sample)
        return None if hard is None else _Judged(hard, False, "worked out from calcium and magnesium", "mg/L")
    if name == "total dissolved solids":
        solids = dissolved_solids(sample)
        return None if solids is None else _Judged(solids[0], False, f"worked out {solids[1]}" if solids[1].startswith("from") else f"worked out as the {solids[1]}", "mg/L")
    return None


def _against(sample: Analysis, one: GuidelineSet) -> list[Finding]:
    """Return a finding for each thing, kind and animal or way of watering; of several limits the worst that is passed, else the first."""
    groups: dict[tuple[str, str, str], list[Limit]] = {}
    for limit in one.limits:
        groups.setdefault((limit.parameter, limit.kind, limit.whom), []).append(limit)
    found = []
    for (name, _, _), limits in groups.items():
        held = _value(sample, name)
        if held is None:
            continue
        ordered = sorted(limits, key=lambda limit: limit.most)
        verdicts = [_verdict(name, held, limit) for limit in ordered]
        chosen = next((i for i in reversed(range(len(ordered))) if verdicts[i] in ("above", "below")), None)
        if chosen is None:
            chosen = next((i for i, v in enumerate(verdicts) if v == "cannot tell"), 0)
        found.append(_finding(one, ordered[chosen], held, verdicts[chosen]))
    found += _infiltration(sample, one)
    parts = [(sample.results.get("nitrate"), 50.0), (sample.results.get("nitrite"), 3.0)]
    if one.key == "drinking_who" and all(r is not None for r, _ in parts):
        found += _nitrogen_together(sample, one)
    return found


def _verdict(name: str, held: _Judged, limit: Limit) -> Verdict:
    if held.below:
        if PARAMETERS.get(name) is not None and PARAMETERS[name].kind == "count" and held.value <= 1:
            return "within"
        if limit.least is not None or held.value > limit.most:
            return "cannot tell"
        return "within"
    if held.value > limit.most:
        return "above"
    return "below" if limit.least is not None and held.value < limit.least else "within"


def _finding(one: GuidelineSet, limit: Limit, held: _Judged, verdict: Verdict) -> Finding:
    guideline = f"{limit.text} ({limit.kind}{', ' + limit.whom if limit.whom else ''}), {one.name} of {one.year}"
    who = f" for {limit.whom}" if limit.whom else ""
    if verdict == "within":
        sentence = f"{limit.parameter.capitalize() if limit.parameter != 'pH' else 'pH'}{who} is within the {one.name} of {one.year} ({limit.text})."
    elif verdict == "cannot tell":
        sentence = (f"{limit.parameter.capitalize()}: the laboratory could see no lower than {held.typed}, which is above the {one.name} of {one.year} ({limit.text}): "
                    "whether it is past cannot be told.")
    else:
        tail = f": {limit.words}" if limit.words else ""
        name = limit.parameter if limit.parameter in ("pH", "E. coli") else limit.parameter.capitalize()
        sentence = f"{name}{who} is {verdict} the {one.name} of {one.year} ({limit.text}){tail}."
    return Finding(limit.parameter, held.value, held.unit, held.below, held.typed, verdict, limit.kind, limit.whom, guideline, one.key, limit.status, sentence)


def _infiltration(sample: Analysis, one: GuidelineSet) -> list[Finding]:
    """Return how the soil takes the water in: the purer the water for its sodium, the worse."""
    ratio, conductivity = sample_sodium_adsorption_ratio(sample), sample.value("conductivity")
    if not one.infiltration or ratio is None or conductivity is None:
        return []
    band: Infiltration | None = next((b for b in one.infiltration if b.ratio_from <= ratio < b.ratio_to), None)
    if band is None:
        band = one.infiltration[-1]
    severity = "severe" if conductivity < band.severe else "slight to moderate" if conductivity < band.ease else ""
    text = f"over {band.ease / 1000:g} dS/m at a sodium adsorption ratio of {ratio:.1f}"
    verdict: Verdict = "below" if severity else "within"
    words = f"{severity} restriction: the soil may seal and take water in slowly" if severity else f"within the {one.name} of {one.year}"
    return [Finding("infiltration", conductivity, "uS/cm", False, "conductivity against sodium adsorption ratio", verdict, "crop", "", f"{text}, {one.name} of {one.year}", one.key, "read",
                    f"Infiltration: {words} ({text}).")]


def _nitrogen_together(sample: Analysis, one: GuidelineSet) -> list[Finding]:
    """Return the sum of shares of nitrate and nitrite, which the WHO holds to one (from memory)."""
    nitrate, nitrite = sample.value("nitrate") or 0.0, sample.value("nitrite") or 0.0
    total = nitrate / 50 + nitrite / 3
    verdict: Verdict = "above" if total > 1 else "within"
    return [Finding("nitrate and nitrite together", total, "", False, "nitrate / 50 + nitrite / 3", verdict, "health", "", f"1 (health), {one.name} of {one.year}", one.key, "from memory",
                    f"Nitrate and nitrite together are {verdict} the {one.name} of {one.year} (sum of shares 1): {total:.2f}.")]


def _sentence(sets: tuple[GuidelineSet, ...], found: Sequence[Finding], not_tested: tuple[str, ...], health: tuple[str, ...]) -> str:
    past = [f for f in found if f.past]
    names: dict[str, list[str]] = {}
    for f in past:
        kinds = names.setdefault(f.name, [])
        if f.kind not in kinds:
            kinds.append(f.kind)
    whose = "; ".join(f"{one.name} of {one.year}" for one in sets)
    if names:
        listed = ", ".join(f"{name} ({', '.join(kinds)})" for name, kinds in names.items())
        text = f"Past a guideline: {listed}."
    elif found:
        text = "Nothing that was tested is past a guideline."
    else:
        text = "Nothing that was tested stands in these guidelines."
    unsure = tuple(dict.fromkeys(f.name for f in found if f.verdict == "cannot tell" and f.name not in names))
    if unsure:
        text += f" Cannot be told from this laboratory's limits: {', '.join(unsure)}."
    text += f" Held against: {whose}."
    if not_tested:
        shown = health[:6] if health else not_tested[:6]
        rest = len(not_tested) - len(shown)
        text += f" Not tested: {', '.join(shown)}{f' and {rest} more' if rest > 0 else ''}."
    return text


def _advisories(use: str, found: Sequence[Finding], past_health: tuple[str, ...], missing_health: tuple[str, ...]) -> list[Advisory]:
    said: list[Advisory] = []
    if use == "drinking":
        if past_health:
            said.append(Advisory("past-health-guideline", "danger", f"{', '.join(past_health)} past a health guideline: until a certified laboratory and the health authority have been asked, use other "
                                 "water for drinking, and for infants above all.", "analysis"))
        if "E. coli" in missing_health:
            said.append(Advisory("germs-not-tested", "danger", "Germs were not tested: nothing here speaks for drinking it untreated.", "analysis"))
        said.append(Advisory("drinking-water", "danger", DRINKING_CAUTION, "analysis"))
    elif use == "stock":
        said.append(Advisory("stock-advice", "note", "The sources differ by animal, feed and weather: bring stock onto salty water slowly, and ask a vet.", "analysis"))
    if any(f.past and f.status == "from memory" for f in found):
        said.append(Advisory("guideline-from-memory", "doubt", "Some of the limits that are passed were entered from memory: look at the guideline itself.", "guidelines"))
    return said


def _indices(sample: Analysis, temperature: float | None) -> tuple[tuple[str, float, str, str], ...]:
    """Return the numbers that follow from the ions, each with what it says."""
    told: list[tuple[str, float, str, str]] = []
    hard = hardness(sample)
    if hard is not None:
        told.append(("hardness", hard, "mg/L as CaCO3", hardness_class(hard)))
    solids = dissolved_solids(sample)
    if solids is not None:
        told.append(("dissolved solids", solids[0], "mg/L", solids[1]))
    ratio = sample_sodium_adsorption_ratio(sample)
    if ratio is not None:
        told.append(("sodium adsorption ratio", ratio, "", "for irrigation"))
    residual = residual_sodium_carbonate(sample)
    if residual is not None:
        told.append(("residual sodium carbonate", residual, "meq/L", "under 1.25 no harm to soil, over 2.5 not suitable (USDA Handbook 60)"))
    indices = carbonate_indices(sample, temperature=temperature)
    if indices is not None:
        told.append(("Langelier index", indices.langelier, "", langelier_meaning(indices.langelier)))
        told.append(("Ryznar index", indices.ryznar, "", ryznar_meaning(indices.ryznar)))
    saturation = saturation_indices(sample, temperature=temperature) or {}
    for mineral in ("calcite", "dolomite", "gypsum"):
        if mineral in saturation:
            told.append((f"{mineral} saturation", saturation[mineral], "", _saturation_meaning(saturation[mineral], mineral)))
    larson = larson_ratio(sample)
    if larson is not None:
        told.append(("Larson ratio", larson, "", "over 1.2 hard on mild steel" if larson > 1.2 else "0.8 to 1.2 may hinder a film on mild steel" if larson > 0.8 else "mild to steel"))
    if all(name in sample.results or (name == "bicarbonate" and "alkalinity" in sample.results) for name in (p.name for p in PARAMETERS.values() if p.major)):
        balance = ion_balance(sample)
        told.append(("ion balance error", balance.error, "", "within the limit" if balance.acceptable else "over the limit: see the doubts"))
    return tuple(told)


def _saturation_meaning(index: float, mineral: str) -> str:
    """Return what a saturation index says: over nought the water holds more than it can keep."""
    if abs(index) <= 0.2:
        return f"near balance with {mineral}"
    return f"may lay down {mineral}" if index > 0 else f"would still dissolve {mineral}"


def _not_worked_out(sample: Analysis, temperature: float | None) -> list[Advisory]:
    """Say what keeps the scale and corrosion indices from being worked out."""
    if carbonate_indices(sample, temperature=temperature) is not None:
        return []
    lacking = [name for name, there in (
        ("temperature", temperature is not None), ("pH", sample.value("pH") is not None), ("calcium", bool(sample.value("calcium"))),
        ("bicarbonate or alkalinity", bool(sample.value("bicarbonate") or sample.value("alkalinity"))), ("dissolved solids or conductivity", dissolved_solids(sample) is not None)) if not there]
    if len(lacking) > 3 or not lacking:
        return []  # a short analysis for something else is not nagged
    return [Advisory("indices-not-worked-out", "note", f"Whether the water lays down scale or eats metal was not worked out for lack of: {', '.join(lacking)}.", "analysis")]


def assessment_as_dict(found: Assessment) -> dict[str, Any]:
    """Return an assessment as plain JSON types, for keeping in the job book and for the papers."""
    return {
        "use": found.use, "sentence": found.sentence,
        "findings": [
            {"name": f.name, "value": f.value, "unit": f.unit, "below_detection": f.below_detection, "typed": f.typed, "verdict": f.verdict, "past": f.past, "kind": f.kind, "whom": f.whom,
             "guideline": f.guideline, "set": f.set_key, "status": f.status, "sentence": f.sentence}
            for f in found.findings
        ],
        "exceedances": [f.sentence for f in found.findings if f.past],
        "not_tested": list(found.not_tested), "not_tested_health": list(found.not_tested_health),
        "indices": {name: {"value": value, "unit": unit, "meaning": meaning} for name, value, unit, meaning in found.indices},
        "materials": [_meaning(m) for m in found.materials], "treatments": [_meaning(m) for m in found.treatments], "retest": list(found.retest),
        "guidelines": [{"key": s.key, "name": s.name, "title": s.title, "publisher": s.publisher, "year": s.year, "source": s.source, "dated": s.dated} for s in found.sets],
        "diagrams": diagram_data(found.sample),
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in found.advisories],
    }


def _meaning(one: Meaning) -> dict[str, str]:
    return {"about": one.about, "words": one.words, "because": one.because, "source": one.source}
