"""Readings of a working bore from a file: all or nothing, each once, and the electricity that the water takes."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.cli.main import main
from borewright.errors import BadInput
from borewright.pumping import metered_use
from borewright.record.bodies import read_body
from borewright.work.owner import history
from borewright.work.readings import load_readings, read_readings
from borewright.work.yearwords import energy_words

NOW = datetime(2040, 6, 1, 9, 0, tzinfo=UTC)
KWH = 3.6e6
# Invented: 1000 kL a year, 500 kWh in the first and 30 kWh more in each that follows.
YEARS = [(2027 + n, 500 * n + 15 * n * (n - 1), 1000 * n) for n in range(10)]
SHEET = "date,electricity_meter (kWh),water_meter (kL),note\n" + "\n".join(f"{y}-05-01,{e},{w}," for y, e, w in YEARS)


@pytest.fixture
def pumped(book, job):
    book.write_all(job, [("rig.hole_started", {}), ("rig.advanced", {"to_depth": 60.0}), ("pump.chosen", {"name": "Any pump (invented)", "intake_depth": 40.0, "duty": {"energy_kwh_per_kl": 0.5}})], by="rig")
    return job


def energy_of(book, job):
    return next(s for s in history(book.job(job), now=NOW.date()).series if s.kind == "energy_per_volume")


def test_the_meters_give_the_electricity_of_each_kilolitre_its_trend_and_what_the_pump_was_chosen_for(book, pumped):
    assert load_readings(book, pumped, SHEET, by="office", now=NOW) == (10, 0)
    read = energy_of(book, pumped)
    assert read.values == pytest.approx([KWH * (500 + 30 * n) / 1000 for n in range(9)])  # a value between each two readings, on the later day
    assert read.days[0] == date(2028, 5, 1) and read.trend.slope * 365.25 * 86400 == pytest.approx(0.03 * KWH, rel=2e-3) and read.trend.p_value < 0.001
    told = history(book.job(pumped), now=NOW.date())
    assert told.energy.over == pytest.approx(0.74 / 0.5 - 1)
    assert "48 % more" in energy_words(told.energy, "metric") and "kWh/1000 US gal" in energy_words(told.energy, "US")


def test_a_new_pump_shows_as_a_step_not_a_drift(book, pumped):
    used = [0, *([520] * 8), *([400] * 8)]  # the pump was changed after eight years
    lines = [f"{2020 + n}-05-01,{sum(used[: n + 1]) + 3 * (n % 3)},{1000 * n}" for n in range(17)]
    load_readings(book, pumped, "date,kWh,kL\n" + "\n".join(lines), by="office", now=NOW)
    step = energy_of(book, pumped).step
    assert step is not None and step.before > step.since and energy_of(book, pumped).days[step.after] == date(2028, 5, 1)


def test_the_same_file_twice_adds_nothing_and_a_longer_one_adds_what_is_new(book, pumped):
    load_readings(book, pumped, SHEET, by="office", now=NOW)
    assert load_readings(book, pumped, SHEET + "\n2037-05-01,7000,10000,", by="office", now=NOW) == (1, 10)
    assert len(book.job(pumped).hole.readings) == 11


def test_a_new_meter_leaves_its_time_out_and_is_told(book, pumped):
    sheet = "date,kWh,kL\n2027-01-01,9000,100\n2028-01-01,9500,1100\n2029-01-01,20,2100\n2030-01-01,620,3100"
    load_readings(book, pumped, sheet, by="office", now=NOW)
    read = energy_of(book, pumped)
    assert read.values == pytest.approx([0.5 * KWH, 0.6 * KWH]) and [a.code for a in read.advisories] == ["meter-went-back"]


def test_power_over_flow_stands_where_no_meters_were_read(book, pumped):
    load_readings(book, pumped, "date;flow (L/s);power (kW)\n2027-01-01;0.5;0.9", by="office", now=NOW)
    assert energy_of(book, pumped).values == pytest.approx([900 / 0.5e-3])


@pytest.mark.parametrize(("text", "field", "says"), [
    ("", "readings", "hold no line"), ("date,flow (L/s)", "readings", "hold no line"), ("flow (L/s)\n0.5", "heading", "has no date"), ("date,colour\n2027-01-01,blue", "heading", "not a column"),
    ("date,flow\n2027-01-01,5", "line 2, flow", "no unit"), ("date,flow (kg)\n2027-01-01,5", "heading flow (kg)", "not a unit"), ("date,flow (L/s),flow (L/s)\n2027-01-01,5,5", "heading", "twice"),
    ("date,flow (L/s)\n2027-01-01,lots", "line 2, flow", "number"), ("date,flow (L/s)\n2027-01-01", "line 2", "parts"), ("date,flow (L/s)\n2027-13-01,5", "line 2, date", "not a day"),
    ("date,flow (L/s)\n2041-01-01,5", "line 2, date", "still to come"), ("date,static_level (m),pumping_level (m)\n2027-01-01,9,5", "line 2, pumping_level", "above the level"),
    ("date,power (kW)\n2027-01-01,2", "line 2, electric_power", "without the flow"), ("date,kWh,note\n2027-01-01,,dry", "line 2", "no reading"), ("date,kWh\n2027-01-01,-5", "line 2, electricity_meter", "below"),
    ("date,flow (L/s)\n2027-01-01,0.5\n2028-01-01,9e9", "line 3, flow", "5"),
])
def test_a_line_that_cannot_be_read_stops_the_file_and_names_itself(book, pumped, text, field, says):
    before = len(book.entries(pumped))
    with pytest.raises(BadInput, match=says) as caught:
        load_readings(book, pumped, text, by="office", now=NOW)
    assert caught.value.field == field and len(book.entries(pumped)) == before


def test_units_stand_in_the_heading_or_the_cell():
    (one,) = read_readings("Day\tWater at rest\tFlow [US gpm]\tWater meter\n2027-01-01\t20 ft\t5\t2 ML")
    assert (one["static_level"], one["flow"], one["water_meter"]) == pytest.approx((6.096, 5 * 3.785411784e-3 / 60, 2000.0))
    assert one["typed"] == {"static_level": "20 ft", "flow": "5 US gpm", "water_meter": "2 ML"}


def test_a_reading_of_the_first_format_still_reads():
    old = json.loads('{"hole": 1, "static_level": 6.1, "flow": 0.0004, "typed": {"flow": "0.4 L/s"}}')
    body = read_body("pump.reading", 1, old)
    assert (body.static_level, body.flow, body.electricity_meter, body.water_meter) == (6.1, 0.0004, None, None)


@settings(max_examples=40, derandomize=True)
@given(st.lists(st.tuples(st.floats(0, 1e10), st.floats(0, 1e6)), min_size=1, max_size=12))
def test_what_the_meters_tell_adds_up_to_what_they_moved(steps):
    energy, water = [0.0], [0.0]
    for e, w in steps:
        energy.append(energy[-1] + e)
        water.append(water[-1] + w)
    uses, doubts = metered_use(energy, water)
    assert not doubts and all(u.volume > 0 and u.per_volume >= 0 for u in uses)
    assert sum(u.volume for u in uses) == pytest.approx(water[-1], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("electricity", "water"), [([1.0, 2.0], [1.0]), ([-1.0], [1.0]), ([float("nan")], [1.0])])
def test_meters_that_cannot_be_are_refused(electricity, water):
    with pytest.raises(BadInput):
        metered_use(electricity, water)


def test_the_command_loads_and_tells(tmp_path, monkeypatch, capsys):
    from borewright.storage import open_job_book
    from tests.work.conftest import START

    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    with open_job_book(tmp_path / "home") as book:
        from borewright.record.entries import new_id

        job = new_id()
        book.write_all(job, [("enquiry.opened", {"title": "Meter bore (invented)"}), ("rig.hole_started", {}), ("rig.advanced", {"to_depth": 60.0})], by="rig", at=START, job_new=True)
    sheet = tmp_path / "readings.csv"
    sheet.write_text("date,kWh,kL\n2019-01-01,100,100\n2020-01-01,700,1100\n", encoding="utf-8")
    assert main(["owner", "Meter bore", "--readings", str(sheet), "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["series"][0]["values"] == pytest.approx([0.6 * KWH]) and "2 readings written down" in err
    assert main(["owner", "Meter bore"]) == 0
    assert "a trend needs five" in capsys.readouterr().out
    sheet.write_text("date,kWh\n2019-01-01,lots\n", encoding="utf-8")
    assert main(["owner", "Meter bore", "--readings", str(sheet)]) == 2 and "line 2" in capsys.readouterr().err
    assert main(["owner", "Meter bore", "--readings", str(tmp_path / "none.csv")]) == 2 and main(["owner", "Meter bore", "--hole", "9"]) == 2
