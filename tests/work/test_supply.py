"""The pump of the driller's own, water wanted, sun, and analyses: written down as they were told, on one invented rated bore."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from borewright.errors import BadInput, Refused
from borewright.pumping import read_pump_curve
from borewright.work.pump import PipeRun, choose, kept_pump, kept_system
from borewright.work.supply import tell_demand, tell_sun
from borewright.work.water import as_kept, compared, judge, rows_of_csv, rows_of_rig_sample
from tests.work.conftest import START

CURVE = "flow_lps,head_m,efficiency,npsh_m\n0,80,0,1\n0.3,75,0.4,1\n0.6,62,0.55,1.5\n0.9,40,0.5,2\n1.2,10,0.2,3"
FLOWS = np.linspace(0, 1.2e-3, 13)
SUN = [3.6e6 * v for v in (6.8, 6.2, 5.4, 4.2, 3.2, 2.8, 3.0, 3.9, 4.9, 5.8, 6.4, 6.8)]


def rate(book, job, flow=0.6e-3):
    """Log a cased hole and give it an invented rating: 8 m at rest, 10 m down for each L/s new and 18 m ten years on."""
    levels = {name: {"flow": FLOWS.tolist(), "depth": (rest + slope * FLOWS).tolist()} for name, rest, slope in (("new", 8.0, 1e4), ("tenth dry season", 12.0, 1.8e4))}
    book.write_all(job, [
        ("rig.hole_started", {}), ("rig.advanced", {"to_depth": 60.0}), ("rig.struck", {"depth": 50.0}),
        ("rig.casing", {"from_depth": 0.0, "to_depth": 48.0, "string": "production", "outside_diameter": 0.14, "wall": 0.0066, "material": "PVC-U"}),
        ("rig.casing", {"from_depth": 48.0, "to_depth": 56.0, "string": "production", "outside_diameter": 0.14, "wall": 0.0066, "material": "PVC-U", "slotted": True}),
        ("rig.sample", {"conductivity": 640.0, "ph": 7.1, "temperature": 16.2}), ("test.rated", {"rating": {"levels": levels, "flow": flow}, "flow": flow}),
    ], by="rig", at=START + timedelta(days=2))
    return job


@pytest.fixture
def rated(book, job):
    return rate(book, job)


def test_the_drillers_own_pump_is_worked_out_at_the_start_and_end_of_life_and_kept_with_what_was_typed(book, rated):
    entry = choose(
        book, rated, by="office", pump=read_pump_curve(CURVE, name="own"), minimum_flow=0.2e-3, delivery_pressure=1e5, tank_height=5.0,
        riser=PipeRun("riser", "polyethylene", 0.05, 1.6e6, fittings={"check valve": 1}), main=PipeRun("main", "PVC-U", 0.05, 0.9e6, length=100.0),
        price_minor=28.5, further_fall=3.0, hours_a_day=6.0, typed={"riser_diameter": "50 mm"},
    )
    duty = book.job(rated).hole.pump.body.duty
    assert duty["inputs"] == {"riser_diameter": "50 mm"} and entry.body["name"] == "own"
    new, end, drier = duty["moments"]
    assert [p["moment"] for p in duty["moments"]] == ["new", "tenth dry season", "drier season"]
    assert new["flow"] > end["flow"] > drier["flow"] and new["pumping_level"] < end["pumping_level"] < drier["pumping_level"]
    curve = read_pump_curve(CURVE)
    for point in duty["moments"]:
        assert point["head"] == pytest.approx(float(curve.head_at(point["flow"])), abs=1e-6)  # the point lies on the pump's own curve
        asked = duty["curves"][point["moment"]]
        assert point["head"] == pytest.approx(np.interp(point["flow"], asked["flow"], asked["head"]), abs=0.05)  # and on what the bore asks
    assert drier["pumping_level"] == pytest.approx(12.0 + 3.0 + 1.8e4 * drier["flow"], abs=1e-6)
    # the static part by hand: level, lift, and 1 bar of pressure in metres of water at 20 degC
    assert duty["curves"]["new"]["head"][0] == pytest.approx(8.0 + 5.0 + 1e5 / (998.2 * 9.80665), abs=0.01)
    assert {row["pipe"]: row["holds"] for row in duty["pressures"]} == {"riser": True, "main": True}
    assert all(row["shut_off"] == pytest.approx(80 * 9806.65) for row in duty["pressures"])
    assert duty["pressures"][1]["running"] == pytest.approx((drier["head"] - drier["pumping_level"]) * 9806.65)
    assert duty["day"]["volume"] == pytest.approx(drier["flow"] * 6 * 3600) and duty["day"]["cost_minor"] == round(duty["day"]["energy_kwh"] * 28.5)
    assert duty["runs_above_least"] and duty["intake"]["highest"] < duty["intake_depth"] < duty["intake"]["lowest"]
    assert any("electrician" in a["message"] for a in duty["advisories"])


def test_a_weak_pipe_a_hot_motor_and_a_least_flow_are_told(book, rated):
    duty = choose(book, rated, by="office", pump=read_pump_curve(CURVE), minimum_flow=1.1e-3, riser=PipeRun("riser", "PVC-U", 0.05, 0.6e6), intake_depth=52.0).body["duty"]
    codes = {a["code"] for a in duty["advisories"]}
    assert {"shut-off-bursts-pipe", "motor-runs-hot", "below-minimum-flow"} <= codes
    assert duty["pressures"][0]["holds"] is False and not duty["runs_above_least"] and duty["intake_depth"] == 52.0
    assert duty["cooling"]["velocity"] == 0.0  # below the slots no water passes the motor


def test_an_entry_without_the_new_parts_still_reads_and_its_system_can_be_made_again(book, rated):
    plain = choose(book, rated, by="office").body["duty"]
    old = {k: plain[k] for k in ("pump", "pipes", "lift", "delivery_pressure", "moment", "flow", "head")}
    book.write(rated, "pump.chosen", {"name": "as it was kept before", "duty": old}, by="office")
    hole = book.job(rated).hole
    assert hole.pump.body.name == "as it was kept before" and kept_pump(old).invented
    system = kept_system(old, hole)
    assert float(system.pumping_level(np.array([0.5e-3]))[0]) == pytest.approx(12.0 + 9.0)


@pytest.mark.parametrize(("given", "field"), [
    ({"hours_a_day": 25.0}, "hours_a_day"), ({"further_fall": -1.0}, "further_fall"), ({"main": PipeRun("main", "steel", 0.05)}, "main_length"),
    ({"riser": PipeRun("riser", "steel", 0.05)}, "riser_wall"), ({"riser": PipeRun("riser", "bamboo", 0.05)}, "riser_material"), ({"phases": 2}, "phases"), ({"voltage": 0.0}, "voltage"),
    ({"price_minor": -1.0}, "price_minor"), ({"delivery_pressure": -5.0}, "delivery_pressure"), ({"delivery_pressure": 3e6}, "pump"),
])
def test_what_cannot_be_is_refused_by_its_field_and_nothing_is_written(book, rated, given, field):
    before = len(book.entries(rated))
    with pytest.raises(BadInput) as caught:
        choose(book, rated, by="office", pump=read_pump_curve(CURVE), **given)
    assert caught.value.field == field and len(book.entries(rated)) == before


def test_the_tank_carries_the_spell_and_one_drop_less_does_not(book, rated):
    body = tell_demand(book, rated, {"person, all household use": 4, "dry cattle": 30}, by="office", tank=5.0).body
    answer = body["answer"]
    assert (answer["low"], answer["high"]) == (pytest.approx(4 * 0.070 + 30 * 0.080), pytest.approx(4 * 0.300 + 30 * 0.112))
    assert answer["enough"] in ("yes", "with a tank") and answer["dated"] and min(answer["stored"]) >= 0
    assert answer["tank"] == pytest.approx(3 * answer["high"])  # three days without a pump are the deepest fall, since the bore outruns the use
    assert answer["tried"]["days_short"] > 0 and "short on" in answer["tried"]["sentence"]
    folded = book.job(rated)
    assert folded.demand.body.numbers == {"person, all household use": 4.0, "dry cattle": 30.0} and len(folded.holes) == 1


def test_without_a_rating_the_demand_is_told_and_the_bore_is_not_judged(book, job):
    answer = tell_demand(book, job, {"person, all household use": 4}, by="office").body["answer"]
    assert answer["enough"] is None and "until it is rated" in answer["sentence"] and not book.job(job).holes


def test_a_bore_that_gives_too_little_is_told_so(book, job):
    rate(book, job, flow=0.02e-3)
    answer = tell_demand(book, job, {"lactating cow": 60}, by="office").body["answer"]
    assert answer["enough"] == "no" and answer["sentence"].startswith("No:")


@pytest.mark.parametrize(("numbers", "more", "field"), [({}, {}, "numbers"), ({"unicorn": 2}, {}, "numbers"), ({"horse": 2}, {"outage_days": 100}, "outage_days"), ({"horse": 2}, {"dry_yield": 0.0}, "dry_yield"),
                                                        ({"horse": 2}, {"pumping_hours": 30.0}, "pumping_hours"), ({"horse": -2}, {}, "horse"), ({"horse": 2}, {"tank": -1.0}, "tank")])
def test_a_demand_that_cannot_be_is_refused(book, rated, numbers, more, field):
    with pytest.raises(BadInput) as caught:
        tell_demand(book, rated, numbers, by="office", **more)
    assert caught.value.field == field


def test_the_sun_lifts_the_demand_in_the_worst_month_and_says_so(book, rated):
    choose(book, rated, by="office", pump=read_pump_curve(CURVE))
    answer = tell_sun(book, rated, SUN, by="office", demand=3.0).body["answer"]
    assert answer["worst_month"] == 6 and min(answer["daily"]) == answer["daily"][5] >= 3.0 and not answer["short_months"] and answer["tank"] == pytest.approx(9.0)
    # no month lifts more than the sun's energy on the panels could at the head of the still water
    for lifted, sun in zip(answer["daily"], SUN, strict=True):
        assert lifted * 998.2 * 9.80665 * 12.0 < answer["panel_power"] / 1000 * sun
    small = tell_sun(book, rated, SUN, by="office", panel_power=answer["panel_power"] * 0.7, demand=3.0).body["answer"]
    assert "June" in small["short_months"] and book.job(rated).hole.sun.body.panel_power == pytest.approx(answer["panel_power"] * 0.7)


def test_the_sun_asks_for_a_pump_with_efficiency(book, rated):
    with pytest.raises(BadInput) as caught:
        tell_sun(book, rated, SUN, by="office", demand=3.0)
    assert caught.value.field == "pump"
    choose(book, rated, by="office", pump=read_pump_curve("flow_lps,head_m\n0,80\n0.6,60\n1.2,10"))
    with pytest.raises(Refused):
        tell_sun(book, rated, SUN, by="office", demand=3.0)
    choose(book, rated, by="office", pump=read_pump_curve(CURVE))
    with pytest.raises(BadInput) as caught:
        tell_sun(book, rated, SUN[:11], by="office", demand=3.0)
    assert caught.value.field == "irradiation"
    with pytest.raises(BadInput) as caught:
        tell_sun(book, rated, SUN, by="office")
    assert caught.value.field == "demand"


SHEET = "name,value,unit,form\npH,6.4,,\nEC,1.9,mS/cm,\nCa,88,mg/L,\nMg,31,mg/L,\nNa,240,mg/L,\nHCO3,300,mg/L,\nCl,380,mg/L,\nSulphate,60,mg/L,\nNitrate,14.5,mg/L as N,\nAs,<0.001,mg/L,\nE.coli,not detected,CFU/100 mL,\nWombatium,3,mg/L,\n"


def test_a_sheet_keeps_the_laboratorys_names_and_figures_beside_the_plain_names(book, rated):
    rows = rows_of_csv(SHEET)
    assert [r["name"] for r in rows][:3] == ["pH", "EC", "Ca"]
    body = judge(book, rated, [as_kept(r) for r in rows], by="office", laboratory="Invented").body
    named = {r["name"]: r["parameter"] for r in body["assessment"]["rows"]}
    assert named["Na"] == "sodium" and named["Sulphate"] == "sulfate" and named["E.coli"] == "E. coli" and named["Wombatium"] is None
    kept = {v["name"]: v for v in body["values"]}
    assert kept["As"] == {"name": "As", "value": 0.001, "unit": "mg/L", "below_detection": True} and kept["E.coli"]["below_detection"]
    balance = body["assessment"]["ion_balance"]
    # by hand, meq/L: Ca 88/20.039, Mg 31/12.1525, Na 240/22.98977; HCO3 300/61.0168, Cl 380/35.453, SO4 60/48.0313, NO3 14.5/14.0067
    cations, anions = 88 / 20.039 + 31 / 12.1525 + 240 / 22.98977, 300 / 61.0168 + 380 / 35.453 + 60 / 48.0313 + 14.5 / 14.0067
    assert (balance["cations"], balance["anions"]) == (pytest.approx(cations), pytest.approx(anions)) and balance["limit"] == 0.05
    assert balance["error"] == pytest.approx((cations - anions) / (cations + anions))


def test_a_missing_major_ion_is_named_instead_of_a_balance(book, rated):
    body = judge(book, rated, [{"name": "chloride", "value": 84, "unit": "mg/L"}], by="office").body
    assert "calcium" in body["assessment"]["ion_balance"]["missing"]


@pytest.mark.parametrize("row", [{"name": "iron", "value": "rusty", "unit": "mg/L"}, {"name": "iron", "value": "0.3", "unit": "bucket"}, {"name": "nitrate", "value": "3", "unit": "mg/L"},
                                 {"name": "Wombatium", "value": "lots", "unit": ""}, {"name": "iron", "value": ">5", "unit": "mg/L"}, {"name": "pH", "value": "15", "unit": ""}])
def test_a_row_that_cannot_be_read_is_refused_in_four_words(row):
    with pytest.raises(BadInput) as caught:
        as_kept(row)
    assert all(caught.value.as_dict()[k] for k in ("field", "problem", "want"))


def test_analyses_side_by_side_are_in_one_unit(book, rated):
    for value, unit in (("1.2", "mS/cm"), ("1500", "uS/cm")):
        judge(book, rated, [as_kept({"name": "EC", "value": value, "unit": unit}), as_kept({"name": "iron", "value": "<0.01", "unit": "mg/L"})], by="office")
    table = compared(book.job(rated).hole.analyses)
    row = next(r for r in table["rows"] if r["name"] == "conductivity")
    assert [v[0] for v in row["values"]] == [pytest.approx(1200), pytest.approx(1500)] and row["change"] == pytest.approx(0.25)
    assert next(r for r in table["rows"] if r["name"] == "iron")["change"] is None  # no change is told of what was not found


def test_the_rig_offers_what_it_read(book, rated):
    assert {r["name"]: r["value"] for r in rows_of_rig_sample(book.job(rated))} == {"temperature": "16.2", "pH": "7.1", "conductivity": "640"}
