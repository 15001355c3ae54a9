"""Files as loggers and crews write them (all layouts and readings invented): where the table stands, how it is written, what its clock did."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from borewright import hydraulics as h
from borewright.errors import BadInput
from borewright.hydraulics.tables import read_table

START = datetime(2026, 3, 2, 9, 0)
TIMES = [START + timedelta(minutes=k) for k in range(120)]
LEVELS = [round(10.0 + 0.3 * np.log1p(max(0, k - 60)), 3) for k in range(120)]
COMMA = [f"{v:.3f}".replace(".", ",") for v in LEVELS]
ISO = [f"{t:%Y-%m-%d %H:%M:%S}" for t in TIMES]


def rows(*columns: list[str], by: str = ",") -> str:
    return "\n".join(by.join(cells) for cells in zip(*columns, strict=True)) + "\n"


LAYOUTS = {
    "title lines, semicolons, decimal commas, western European letters, day and clock apart": (
        ("Gerät;Pegel 7\nNummer;12345\n\nDatum;Uhrzeit;Stand [m];Wärme [°C]\n" + rows([f"{t:%d.%m.%Y}" for t in TIMES], [f"{t:%H:%M:%S}" for t in TIMES], COMMA, ["15,0"] * 120, by=";")).encode("cp1252"),
        {"time_column": "Datum", "clock_column": "Uhrzeit", "value_column": "Stand [m]", "decimal_comma": True, "date_format": "%d.%m.%Y %H:%M:%S"}),
    "title lines and a name with a comma in quotes": (
        ('Invented device\nSerial,998\nInterval,60 s\n"Date, time","Depth, m"\n' + rows([f"{t:%m/%d/%Y %I:%M:%S %p}" for t in TIMES], [str(v) for v in LEVELS])).encode(),
        {"time_column": "Date, time", "value_column": "Depth, m", "date_format": "%m/%d/%Y %I:%M:%S %p"}),
    "tabs and letters of two bytes": (
        ("Time\tLevel cm\r\n" + rows([f"{t:%Y-%m-%d %H:%M}" for t in TIMES], [f"{v * 100:.1f}" for v in LEVELS], by="\t")).encode("utf-16"),
        {"time_column": "Time", "value_column": "Level cm", "date_format": "%Y-%m-%d %H:%M", "factor": 0.01}),
    "no names at all": (rows([f"{t:%d/%m/%Y %H:%M}" for t in TIMES], [str(v) for v in LEVELS]).encode(), {"time_column": "column 1", "value_column": "column 2", "date_format": "%d/%m/%Y %H:%M"}),
    "a line of units below the names": (("when;level\n-;m\n" + rows(ISO, COMMA, by=";")).encode(), {"time_column": "when", "decimal_comma": True, "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S"}),
    "a mark after the last cell": (("when;level;\n" + rows(ISO, COMMA, [""] * 120, by=";")).encode(), {"time_column": "when", "decimal_comma": True, "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S"}),
    "newest first": (("when,level\n" + rows(ISO[::-1], [str(v) for v in LEVELS[::-1]])).encode(), {"time_column": "when", "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S"}),
    "remarks": (("# an invented bore\nwhen,level\n# pump on at ten\n" + rows(ISO, [str(v) for v in LEVELS])).encode(), {"time_column": "when", "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S"}),
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_one_record_comes_out_of_every_layout(tmp_path, name):
    raw, how = LAYOUTS[name]
    path = tmp_path / "log.csv"
    path.write_bytes(raw)
    series = h.read_logger(path, zone="+00:00", **how)
    np.testing.assert_allclose(series.value, LEVELS, atol=6e-4)
    np.testing.assert_allclose(series.epoch, [t.replace(tzinfo=UTC).timestamp() for t in TIMES])


def test_a_spreadsheet_with_title_rows_and_cells_that_are_dates(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["Invented bore", 7], [], ["When", "Day", "Clock", "Level"], *([t, t.date(), t.time(), v] for t, v in zip(TIMES, LEVELS, strict=True))):
        sheet.append(row)
    book.save(tmp_path / "log.xlsx")
    assert read_table(tmp_path / "log.xlsx").columns == ["When", "Day", "Clock", "Level"]
    for how in ({"time_column": "When"}, {"time_column": "Day", "clock_column": "Clock"}):
        series = h.read_logger(tmp_path / "log.xlsx", value_column="Level", date_format="%Y-%m-%d %H:%M:%S", zone="UTC", **how)
        np.testing.assert_allclose(series.value, LEVELS)
        np.testing.assert_allclose(series.epoch, [t.replace(tzinfo=UTC).timestamp() for t in TIMES])


def test_parts_of_a_second_are_kept(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("when,level\n2026-03-02 09:00:00.25,1.0\n2026-03-02 09:00:00.75,1.1\n")
    series = h.read_logger(path, time_column="when", value_column="level", date_format="%Y-%m-%d %H:%M:%S.%f", zone="UTC")
    assert np.diff(series.epoch) == pytest.approx([0.5])


def test_rows_without_a_level_are_left_out_and_told_and_a_word_is_refused(tmp_path):
    path = tmp_path / "log.csv"
    held = [("" if k % 10 == 7 else "NaN" if k % 10 == 3 else str(v)) for k, v in enumerate(LEVELS)]
    path.write_text("when,level\n" + rows(ISO, held))
    how = {"time_column": "when", "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S", "zone": "UTC"}
    series = h.read_logger(path, **how)
    assert series.value.size == 96 and "24 rows hold no level" in " ".join(a.message for a in series.advisories)
    path.write_text("when,level\n" + rows(ISO, ["overrange" if k == 50 else str(v) for k, v in enumerate(LEVELS)]))
    with pytest.raises(BadInput, match="row 51"):
        h.read_logger(path, **how)


def test_a_decimal_comma_is_read_where_it_is_plain_asked_where_it_is_not_and_taken_when_stated(tmp_path):
    path = tmp_path / "log.csv"
    how = {"time_column": "when", "value_column": "level", "date_format": "%Y-%m-%d %H:%M:%S", "zone": "UTC"}
    path.write_text("when;level\n" + rows(ISO[:3], ["1,5", "1,25", "2,125"], by=";"))
    assert h.read_logger(path, **how).value == pytest.approx([1.5, 1.25, 2.125])
    path.write_text("when;level\n" + rows(ISO[:3], ["1,125", "1,250", "2,125"], by=";"))
    with pytest.raises(BadInput, match="decimal comma stated"):
        h.read_logger(path, **how)
    assert h.read_logger(path, decimal_comma=True, **how).value == pytest.approx([1.125, 1.25, 2.125])


@pytest.mark.parametrize("minutes", [15, 30, 60])
def test_the_hour_that_comes_twice_is_told_apart_by_the_record(tmp_path, minutes):
    """Summer time ends in Sydney on 5 April 2026 at 03:00; the clock of the record kept it."""
    zone = ZoneInfo("Australia/Sydney")
    truth = [datetime(2026, 4, 4, 13, tzinfo=UTC) + timedelta(minutes=minutes * k) for k in range(600 // minutes)]
    path = tmp_path / "log.csv"
    path.write_text("when,level\n" + rows([f"{t.astimezone(zone):%Y-%m-%d %H:%M}" for t in truth], [f"{10 + 0.01 * k:.2f}" for k in range(len(truth))]))
    series = h.read_logger(path, time_column="when", value_column="level", date_format="%Y-%m-%d %H:%M", zone="Australia/Sydney")
    np.testing.assert_allclose(series.epoch, [t.timestamp() for t in truth])
    with pytest.raises(BadInput, match="summer time"):
        if minutes == 60:  # an hourly clock repeats one time and does not go back
            path.write_text(path.read_text().replace("2026-04-05 03:00", "2026-04-05 01:00"))
        h.read_logger(path, time_column="when", value_column="level", date_format="%Y-%m-%d %H:%M", zone="+11:00")


def test_times_that_summer_time_leaves_out_are_doubted(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("when,level\n2026-10-04 01:30,1\n2026-10-04 02:30,1.1\n2026-10-04 03:45,1.2\n")
    series = h.read_logger(path, time_column="when", value_column="level", date_format="%Y-%m-%d %H:%M", zone="Australia/Sydney")
    assert [a.code for a in series.advisories] == ["no-such-time"]


def test_a_stop_of_the_pump_is_found_and_a_recovery_or_a_steady_test_is_not_taken_for_one():
    rng = np.random.default_rng(5)
    ground = {"transmissivity": 20 / 86400, "storativity": 1e-4}
    t = np.arange(30.0, 86400.0, 30.0)
    unit = lambda since: np.where(since > 0, h.drawdown(np.maximum(since, 1e-3), 0.1, rate=1e-3, **ground), 0.0)
    steady = unit(t) + 0.005 * rng.standard_normal(t.size)
    assert h.pump_stops(t, steady) == ()
    stopped = steady - unit(t - 30000.0) + unit(t - 31800.0)
    ((off, on),) = h.pump_stops(t, stopped)
    assert off == pytest.approx(30000.0, abs=60) and on == pytest.approx(31800.0, abs=60)
    ((off, on),) = h.pump_stops(t, steady - unit(t - 50000.0))
    assert off == pytest.approx(50000.0, abs=60) and on is None
    assert h.pump_stops(t, unit(t + 86400.0) - unit(t)) == ()
    long = np.arange(1.0, 250_001.0)
    ((off, on),) = h.pump_stops(long, unit(long) - unit(long - 1e5) + unit(long - 1.1e5))
    assert off == pytest.approx(1e5, abs=60) and on == pytest.approx(1.1e5, abs=60)


def test_the_command_reads_a_file_as_stated_and_writes_levels_that_the_next_command_fits(tmp_path, capsys):
    from borewright.cli.main import main

    raw, _ = LAYOUTS["title lines, semicolons, decimal commas, western European letters, day and clock apart"]
    (tmp_path / "log.csv").write_bytes(raw)
    assert main(["levels", str(tmp_path / "log.csv"), "--columns", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["columns"] == ["Datum", "Uhrzeit", "Stand [m]", "Wärme [°C]"]
    ask = ["levels", str(tmp_path / "log.csv"), "--time", "Datum", "--clock", "Uhrzeit", "--level", "Stand [m]", "--date-format", "%d.%m.%Y %H:%M:%S", "--zone", "+01:00", "--decimal", "comma",
           "--started", "02.03.2026 10:00:00", "--dip", "02.03.2026 10:30:00;11,05", "--out", str(tmp_path / "levels.csv")]
    assert main([*ask, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["rows"] == 120 and told["kept"] == 59 and told["pump_stops"] == [] and told["time_s"][0] == 60.0
    assert told["drawdown_m"][-1] == pytest.approx(LEVELS[-1] - 10.0, abs=1e-3)
    assert any(a["code"] == "dips" for a in told["advisories"])
    (levels,) = h.read_levels(tmp_path / "levels.csv")
    np.testing.assert_allclose(levels.drawdown, told["drawdown_m"], atol=1e-5)


@pytest.mark.parametrize(("change", "field"), [
    (["--level", "Pegel"], "level"), (["--decimal", "dot"], "decimal"), (["--zone", "here"], "zone"), (["--date-format", "%Y"], "date-format"), (["--started", "noon"], "started"),
    (["--dip", "02.03.2026 10:30:00;deep"], "dip"), (["--times-are", "fortnights"], "times-are"), (["--clock-set", "02.03.2026 10:30:00"], "clock-read"), (["--unit", "fathom"], "unit"),
    (["--keep", "3"], "keep"), (["--air", "air.csv"], "air-level"), (["--run", "constant 1"], "job"),
])
def test_the_command_refuses_by_the_name_of_its_option(tmp_path, capsys, change, field):
    from borewright.cli.main import main

    raw, _ = LAYOUTS["title lines, semicolons, decimal commas, western European letters, day and clock apart"]
    (tmp_path / "log.csv").write_bytes(raw)
    ask = ["levels", str(tmp_path / "log.csv"), "--time", "Datum", "--clock", "Uhrzeit", "--level", "Stand [m]", "--date-format", "%d.%m.%Y %H:%M:%S", "--zone", "+01:00", "--decimal", "comma",
           "--started", "02.03.2026 10:00:00", *change, "--json"]
    assert main(ask) == 2
    assert json.loads(capsys.readouterr().err)["error"]["field"] == field
