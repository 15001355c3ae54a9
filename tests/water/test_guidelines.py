"""Guideline data against the transcribed tables, and the words of an assessment: never more than was tested."""

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.water import USES, analysis_of, assess, assessment_as_dict, guideline_sets, parameter, result
from tests.water.conftest import sample, table

NAMES = {"Chromium total": "chromium", "Manganese total": "manganese", "Mercury inorganic": "mercury", "Nitrate as NO3": "nitrate", "Nitrite as NO2": "nitrite", "Nitrate as N": "nitrate", "Nitrite as N": "nitrite",
         "TDS": "total dissolved solids", "Hardness as CaCO3": "hardness", "Aluminium acid-soluble": "aluminium", "Ammonia as NH3": "ammonium", "Ammonia": "ammonium", "Radium 226+228": "radium",
         "Radon-222": "radon", "Manganese (staining)": "manganese"}


def held(key, name, kind):
    (one,) = (s for use in USES for s in guideline_sets(use) if s.key == key)
    return [limit for limit in one.limits if limit.parameter == name and limit.kind == kind]


def printed(limit):
    return float(re.match(r"[\d.]+(?: to ([\d.]+))?", limit.text).group(1) or re.match(r"[\d.]+", limit.text).group())


WHO = [r for r in table("who_gdwq") if re.fullmatch(r"[\d.]+", r["value"])]


@pytest.mark.parametrize("row", WHO, ids=lambda r: r["parameter"])
def test_who_values_and_status(row):
    name = NAMES.get(row["parameter"], row["parameter"].lower())
    (limit,) = held("drinking_who", parameter(name).name, "taste" if row["basis"].startswith("E") else "health")
    assert printed(limit) == float(row["value"]) and limit.status == row["status"]


EPA = [r for r in table("us_epa") if re.fullmatch(r"[\d.]+", r["value"]) and r["kind"] in ("MCL", "AL", "SMCL") and r["parameter"] not in ("Foaming agents", "Odour")]


@pytest.mark.parametrize("row", EPA, ids=lambda r: r["parameter"] + r["kind"])
def test_epa_values_and_status(row):
    name = NAMES.get(row["parameter"], row["parameter"].lower())
    (limit,) = held("drinking_us_epa", parameter(name).name, "taste" if row["kind"] == "SMCL" else "health")
    assert printed(limit) == float(row["value"]) and limit.status == row["status"]


NHMRC = [(r, kind, column) for r in table("nhmrc_adwg") for kind, column in (("health", "health"), ("taste", "aesthetic")) if re.fullmatch(r"[\d.]+", r[column] or "") and r["parameter"] != "Chromium VI"]


@pytest.mark.parametrize(("row", "kind", "column"), NHMRC, ids=[f"{r['parameter']}-{k}" for r, k, _ in NHMRC])
def test_nhmrc_values_and_status(row, kind, column):
    name = NAMES.get(row["parameter"], row["parameter"].lower())
    (limit,) = held("drinking_nhmrc", parameter(name).name, kind)
    assert printed(limit) == float(row[column]) and limit.status == row["status"]


def test_fao_irrigation_values():
    rows = {(r["hazard"], r["condition"]): r for r in table("fao29_irrigation")}
    pairs = {("Salinity ECw", ""): ("conductivity", ""), ("Salinity TDS", ""): ("total dissolved solids", ""), ("Sodium", "surface irrigation"): ("sodium adsorption ratio", "surface irrigation"),
             ("Chloride", "surface irrigation"): ("chloride", "surface irrigation"), ("Boron", ""): ("boron", ""), ("Nitrogen NO3-N", ""): ("nitrate", ""), ("Bicarbonate", "overhead sprinkling only"): ("bicarbonate", "overhead sprinklers")}
    for key, (name, whom) in pairs.items():
        limits = sorted((x for x in held("irrigation_fao29", name, "crop") if x.whom == whom), key=lambda x: x.most)
        assert [printed(x) for x in limits] == [float(rows[key]["none"].lstrip("<")), float(rows[key]["severe"].lstrip(">"))], name
    (one,) = (s for s in guideline_sets("irrigation") if s.key == "irrigation_fao29")
    for band in one.infiltration:
        row = rows[("Infiltration ECw", f"SAR {band.ratio_from:g}-{band.ratio_to:g}")]
        assert band.ease / 1000 == pytest.approx(float(row["none"].lstrip(">"))) and band.severe / 1000 == pytest.approx(float(row["severe"].lstrip("<")))


def test_stock_values():
    rows = table("stock_salinity")
    fao = sorted({float(r["from"]) for r in rows if r["source"] == "FAO 29" and float(r["from"]) > 0})
    assert [printed(x) for x in held("stock_fao29", "conductivity", "animal")] == fao
    for r in rows:
        if r["source"] == "Ag Victoria 2016" and "TDS" in r["unit"]:
            who = {"mature sheep": "mature sheep", "nursing ewes, lambs": "nursing ewes and lambs", "mature cattle": "mature cattle", "lactating cattle, calves": "lactating cattle and calves"}[r["class"]]
            assert float(r["to"]) in [x.most for x in held("stock_agvic", "total dissolved solids", "animal") if x.whom == who]
    for who in ("beef cattle", "dairy cattle", "sheep", "horses", "pigs", "poultry"):
        ours = sorted(x.most for x in held("stock_anzecc", "total dissolved solids", "animal") if x.whom == who)
        assert ours == sorted(float(r["to"]) for r in rows if r["source"] == "ANZECC 2000" and r["class"] == who)


def test_drip_values():
    for row in table("emitter_clogging"):
        name = {"Dissolved solids": "total dissolved solids", "Bacteria": None}.get(row["parameter"], row["parameter"])
        if name:
            limits = sorted(x.most for x in held("irrigation_drip", parameter(name).name, "clogging"))
            assert limits == [float(row["low"].lstrip("<")), float(row["high"].lstrip(">"))]


def test_every_set_says_who_when_and_how_sure():
    for use in USES:
        for one in guideline_sets(use):
            assert one.title and one.publisher and 1950 < one.year <= 2026 and one.source and one.dated
            assert all(limit.status in ("read", "from memory") and limit.words != "safe" for limit in one.limits)


def rows(**values):
    return [{"name": name.replace("_", " "), "value": value, "unit": unit} for name, (value, unit) in values.items()]


def test_past_first_and_health_before_taste():
    found = assess(rows(iron=("0.9", "mg/L"), arsenic=("0.03", "mg/L"), chloride=("20", "mg/L"), nitrate=("5", "mg/L as N")), "drinking")
    past = [f for f in found.findings if f.past]
    assert found.findings[: len(past)] == tuple(past)
    assert [f.name for f in past] == ["arsenic"] * 3 + ["iron"] * 3
    assert found.sentence.startswith("Past a guideline: arsenic (health), iron (taste).")
    assert any(a.severity == "danger" and "arsenic" in a.message for a in found.advisories)
    assert past[0].sentence == "Arsenic is above the WHO guideline of 2022 (0.01 mg/L): harms over years; provisional, set by what can be measured and treated."


def test_a_detection_limit_above_the_guideline_cannot_tell():
    found = assess(rows(arsenic=("<0.02", "mg/L"), lead=("<0.001", "mg/L")), "drinking")
    verdicts = {(f.name, f.set_key): f.verdict for f in found.findings}
    assert verdicts["arsenic", "drinking_who"] == "cannot tell" and verdicts["lead", "drinking_who"] == "within"
    assert "Cannot be told" in found.sentence


def test_germs():
    assert {f.verdict for f in assess(rows(ecoli=("<1", "per 100 mL"))).findings} == {"within"}
    assert {f.verdict for f in assess(rows(ecoli=("0", "per 100 mL"))).findings} == {"within"}
    bad = assess(rows(ecoli=("3", "per 100 mL")))
    assert {f.verdict for f in bad.findings} == {"above"} and any("two weeks" in line for line in bad.retest) and any("disinfect" in m.words for m in bad.treatments)
    assert any(a.code == "germs-not-tested" for a in assess(rows(iron=("0.1", "mg/L"))).advisories)


def test_nitrate_form_decides():
    # 50 as nitrate is 11.3 as nitrogen: 12 means opposite things
    as_ion, as_nitrogen = (assess(rows(nitrate=("12", unit))) for unit in ("mg/L as NO3", "mg/L as N"))
    assert not any(f.past for f in as_ion.findings) and all(f.past for f in as_nitrogen.findings)


def test_nitrate_and_nitrite_together():
    found = assess(rows(nitrate=("40", "mg/L as NO3"), nitrite=("1.5", "mg/L as NO2")), guidelines=["drinking_who"])
    together = next(f for f in found.findings if f.name == "nitrate and nitrite together")
    assert together.value == pytest.approx(1.3) and together.verdict == "above"


def test_not_tested_is_said_health_first():
    found = assess(rows(iron=("0.1", "mg/L")))
    assert "E. coli" in found.not_tested_health and "arsenic" in found.not_tested_health and found.not_tested[0] in found.not_tested_health
    assert "Not tested: E. coli" in found.sentence


def test_irrigation_of_the_brackish_water():
    water = analysis_of([*sample("C").results.values(), result("EC", "4152", "uS/cm")])
    found = assess(water, "irrigation")
    severe = {(f.name, f.whom) for f in found.findings if f.past and "severe" in f.sentence}
    assert {("conductivity", ""), ("total dissolved solids", ""), ("sodium adsorption ratio", "surface irrigation"), ("chloride", "surface irrigation")} <= severe
    infiltration = next(f for f in found.findings if f.name == "infiltration")
    assert infiltration.verdict == "within"  # salt enough to keep the soil open: 4.2 dS/m at SAR 10.6
    soft = analysis_of([*sample("D").results.values(), result("EC", "1756", "uS/cm")])
    assert next(f for f in assess(soft, "irrigation").findings if f.name == "infiltration").verdict == "below"


def test_stock_classes_take_the_worst_that_is_passed():
    found = assess(rows(conductivity=("9", "dS/m")), "stock")
    fao = [f for f in found.findings if f.set_key == "stock_fao29"]
    assert len(fao) == 1 and "limited use" in fao[0].sentence and "8 dS/m" in fao[0].guideline


def test_materials_and_treatment():
    soft, hard = assess(sample("A")), assess(sample("C"))
    assert any("Attacks mild steel" in m.words and "pH 6.6" in m.because for m in soft.materials)
    assert any("Lays down scale" in m.words for m in hard.materials)
    gas = assess(rows(hydrogen_sulfide=("0.4", "mg/L"), iron=("0.6", "mg/L")))
    assert any("poisonous" in m.words for m in gas.materials) and any("bacteria" in m.words for m in gas.materials)
    assert all(m.source for a in (soft, hard, gas) for m in (*a.materials, *a.treatments))


def strings(thing):
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield key
            yield from strings(value)
    elif isinstance(thing, (list, tuple)):
        for value in thing:
            yield from strings(value)


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("letter", ["A", "B", "C", "D"])
def test_never_safe_always_plain_json(use, letter):
    plain = assessment_as_dict(assess(sample(letter), use))
    assert json.loads(json.dumps(plain)) == plain
    assert not any(re.search(r"\b(un)?safe\b|\bpotable\b", text, re.I) for text in strings(plain))
    assert plain["sentence"] and plain["retest"] and plain["guidelines"] and plain["diagrams"]["type"]


@settings(max_examples=80, derandomize=True, deadline=None)
@given(value=st.floats(1e-5, 10), name=st.sampled_from(["arsenic", "iron", "manganese", "fluoride", "lead", "uranium"]))
def test_a_verdict_is_the_comparison_and_no_more(value, name):
    for f in assess(rows(**{name: (repr(value), "mg/L")})).findings:
        limit = next(x for x in held(f.set_key, name, f.kind))
        assert (f.verdict == "above") == (value > limit.most)
    # the same water in micrograms gets the same verdicts
    assert [f.verdict for f in assess(rows(**{name: (repr(value * 1000), "ug/L")})).findings] == [f.verdict for f in assess(rows(**{name: (repr(value), "mg/L")})).findings]


def test_bad_use_and_set():
    with pytest.raises(BadInput):
        assess(rows(iron=("1", "mg/L")), "bathing")
    with pytest.raises(BadInput):
        assess(rows(iron=("1", "mg/L")), "stock", guidelines=["drinking_who"])


def test_the_warmth_in_the_analysis_goes_before_the_rigs_and_the_minerals_are_told():
    row = next(w for w in table("worked_waters") if w["id"] == "B")
    values = [{"name": n, "value": row[k], "unit": u} for n, k, u in (("pH", "pH", ""), ("calcium", "Ca", "mg/L"), ("magnesium", "Mg", "mg/L"), ("sodium", "Na", "mg/L"), ("bicarbonate", "HCO3", "mg/L"),
                                                                   ("sulfate", "SO4", "mg/L"), ("chloride", "Cl", "mg/L"))]
    bare = assess(values)
    assert "indices-not-worked-out" in {a.code for a in bare.advisories} and "temperature" in next(a.message for a in bare.advisories if a.code == "indices-not-worked-out")
    warm = [*values, {"name": "temperature", "value": row["T"], "unit": "degC"}]
    told = {name: value for name, value, _, _ in assess(warm, temperature=60.0).indices}
    assert told == {name: value for name, value, _, _ in assess(values, temperature=float(row["T"])).indices}
    assert told["calcite saturation"] == pytest.approx(float(row["SI_calcite"]), abs=0.06) and told["dolomite saturation"] == pytest.approx(float(row["SI_dolomite"]), abs=0.15)
