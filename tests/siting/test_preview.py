"""A column map tried on the first rows; a spreadsheet as a register; units that look wrong beside the neighbours."""

import json
from datetime import date

import numpy as np
import polars as pl
import pytest

from borewright.cli.main import main
from borewright.demo.district import Recipe, make_district
from borewright.errors import BadInput
from borewright.siting import column_map_from_toml, preview, read_register

HEAD = "bore_id,lon,lat,elevation_m,depth_m,yield_lps,static_level_m,first_water_m,drilled_on,status\n"
MAP = """
crs = "EPSG:25832"
decimal = ","
[status]
wet = ["fördert"]
dry = ["trocken"]
[bores]
id = "Nr"
easting = "Ost"
northing = "Nord"
depth = { column = "Tiefe", unit = "ft" }
yield = { column = "Menge", unit = "US gpm" }
status = "Zustand"
"""


def write(path, rows, head=HEAD):
    path.write_text(head + "".join(r + "\n" for r in rows), encoding="utf-8")
    return path


def test_rows_are_shown_as_they_would_be_read_with_their_refusals(tmp_path):
    path = write(tmp_path / "b.csv", ["A,10,50,100,40,0.25,5,12,2001-02-03,wet", "B,10.1,50,,-4,0.2,,,,dry", "C,abc,50,,40,,,,,", "A,10.2,50,,40,,,,,"])
    found = preview(path)
    assert found.headings[0] == "bore_id" and found.missing == () and [r.row for r in found.rows] == [1, 2, 3, 4]
    first = found.rows[0]
    assert first.refused is None
    assert (first.values["bore_id"], first.values["depth"], first.values["flow"], first.values["wet"]) == ("A", 40.0, pytest.approx(0.25e-3), "wet")
    assert [r.refused.field if r.refused else None for r in found.rows] == [None, "depth", "lon", "bore_id"]
    assert found.rows[1].refused.problem == "must be above zero" and found.rows[3].values["flow"] is None
    # What is shown is what is loaded.
    register, report = read_register(path, name="x")
    assert report.loaded == sum(r.refused is None for r in found.rows) and register.depth.tolist() == [40.0]
    assert {r.row for r in report.refused} == {r.row for r in found.rows if r.refused}


def test_only_the_first_rows_are_shown(tmp_path):
    path = write(tmp_path / "b.csv", [f"B{i},{10 + i / 1000},50,,40,,,,," for i in range(50)])
    assert len(preview(path).rows) == 20 and len(preview(path, rows=3).rows) == 3
    with pytest.raises(BadInput):
        preview(path, rows=0)


def test_a_missing_column_is_named_and_the_rest_shown(tmp_path):
    path = tmp_path / "b.csv"
    path.write_bytes("Nr;Ost;Nord;Tiefe;Menge;Zustand\r\n7;500000;5538630;100,5;12,0;fördert\r\n".encode("cp1252"))
    found = preview(path)
    assert {e.field for e in found.missing} == {"bore_id", "lon", "lat", "depth"} and found.headings == ("Nr", "Ost", "Nord", "Tiefe", "Menge", "Zustand")
    found = preview(path, column_map_from_toml(MAP))
    values = found.rows[0].values
    assert found.missing == () and found.found["depth"] == "Tiefe"
    assert values["lon"] == pytest.approx(9.0, abs=1e-9) and values["depth"] == pytest.approx(100.5 * 0.3048)
    assert values["flow"] == pytest.approx(12 * 3.785411784e-3 / 60) and values["wet"] == "wet"


def test_the_command_shows_and_keeps_nothing(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    path = write(tmp_path / "b.csv", ["A,10,50,,40,0.25,,,,wet", "B,10.1,50,,-4,0.2,,,,dry"])
    assert main(["register", "load", str(path), "--preview"]) == 0
    out = capsys.readouterr().out
    assert "refused: depth -4" in out and "0.250" in out
    assert main(["register", "load", str(path), "--preview", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["rows"][1]["refused"]["problem"] == "must be above zero" and said["rows"][0]["refused"] is None
    assert not (tmp_path / "home" / "registers").exists()
    assert main(["register", "load", str(path), "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]["field"] == "name"


def test_a_spreadsheet_is_a_register_like_any_other(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["bore_id", "lon", "lat", "depth_m", "yield_lps", "static_level_m", "drilled_on", "status"])
    rng = np.random.default_rng(3)
    rows = [(f"S{i}", 10 + float(rng.uniform(0, 0.1)), 50 + float(rng.uniform(0, 0.1)), 30 + i, None if i % 5 == 0 else 0.1 * (i % 4), 4.5, "2003-05-06", "wet" if i % 4 else "dry") for i in range(25)]
    for row in rows:
        sheet.append([*row[:6], date.fromisoformat(row[6]), row[7]])  # a day as a spreadsheet keeps it
    sheet.append(["BAD", "here", 50, 40, 0.1, None, None, "wet"])
    book.save(tmp_path / "bores.xlsx")
    register, report = read_register(tmp_path / "bores.xlsx", name="x")
    assert (report.rows, report.loaded) == (26, 25)
    assert (report.refused[0].row, report.refused[0].field) == (26, "lon")
    order = {name: i for i, name in enumerate(register.bore_id)}
    for name, lon, _, depth, flow, level, day, _ in rows:
        i = order[name]
        assert register.lon[i] == pytest.approx(lon, abs=1e-9) and register.depth[i] == depth and register.static_level[i] == level
        assert register.drilled_on[i] == day
        assert np.isnan(register.flow[i]) if flow is None else register.flow[i] == pytest.approx(flow * 1e-3)
    assert preview(tmp_path / "bores.xlsx").rows[0].values["depth"] == 30.0
    # The same rows as CSV say the same.
    pl.DataFrame(rows, schema=["bore_id", "lon", "lat", "depth_m", "yield_lps", "static_level_m", "drilled_on", "status"], orient="row").write_csv(tmp_path / "b.csv")
    other, _ = read_register(tmp_path / "b.csv", name="x")
    for column in ("lon", "lat", "depth", "flow", "wet", "static_level"):
        np.testing.assert_allclose(getattr(other, column), getattr(register, column), atol=1e-9)


@pytest.mark.parametrize("name", ["b.xlsx", "b.ods", "b.parquet", "b.geojson"])
def test_a_file_that_is_not_what_its_name_says_is_refused(tmp_path, name):
    (tmp_path / name).write_bytes(b"bore_id,lon,lat,depth_m\nA,10,50,40\n")
    with pytest.raises(BadInput, match="cannot be read|is not JSON"):
        read_register(tmp_path / name, name="x")


def neighbours(odd, *, spread=0.1, count=150):
    """Return rows of bores much alike, some odd ones among them."""
    rng = np.random.default_rng(7)
    rows = [f"B{i},{10 + rng.uniform(0, 0.05):.6f},{50 + rng.uniform(0, 0.05):.6f},,{60 * np.exp(spread * rng.standard_normal()):.1f},"
            f"{0.5 * np.exp(spread * rng.standard_normal()):.4f},,,1999-01-01,wet" for i in range(count)]
    return rows + [f"{name},10.0{20 + i},50.0{20 + i},,{depth},{flow},,,1999-02-01,wet" for i, (name, depth, flow) in enumerate(odd)]


def doubts(path):
    register, report = read_register(path, name="x")
    assert not report.refused  # a doubt never drops a bore
    return {a.where: (a.code, a.message) for a in report.advisories if a.code in ("unit-suspected", "outlier")}, register


@pytest.mark.parametrize(("factor", "words"), [(3.28084, "feet read as metres"), (0.3048, "metres converted from feet twice")])
def test_a_depth_in_the_wrong_unit_is_suspected(tmp_path, factor, words):
    found, _ = doubts(write(tmp_path / "b.csv", neighbours([("ODD", round(60 * factor, 1), 0.5)])))
    assert set(found) == {"ODD"} and found["ODD"][0] == "unit-suspected" and words in found["ODD"][1]


@pytest.mark.parametrize(("factor", "words"), [
    (0.0757682, "converted as gallons a minute"), (0.0630902, "litres"), (1 / 0.0630902, "US gallons a minute read as litres"), (60.0, "litres a minute read as litres a second"),
    (86.4, "cubic metres a day"), (3.6, "cubic metres an hour"), (13.198, "imperial gallons a minute"),
])
def test_a_yield_in_the_wrong_unit_is_suspected(tmp_path, factor, words):
    found, _ = doubts(write(tmp_path / "b.csv", neighbours([("ODD", 60, round(0.5 * factor, 4))])))
    assert set(found) == {"ODD"} and found["ODD"][0] == "unit-suspected" and words in found["ODD"][1]


def test_a_whole_column_that_is_alike_is_not_doubted(tmp_path):
    assert doubts(write(tmp_path / "b.csv", neighbours([])))[0] == {}


def test_an_outlier_of_no_known_unit_is_only_an_outlier(tmp_path):
    found, _ = doubts(write(tmp_path / "b.csv", neighbours([("ODD", 60 * 7, 0.5)])))
    assert found["ODD"][0] == "outlier" and "7" in found["ODD"][1]


def test_where_yields_differ_widely_a_factor_of_three_is_no_news(tmp_path):
    found, _ = doubts(write(tmp_path / "b.csv", neighbours([("ODD", 60, 1.64)], spread=0.9)))
    assert "ODD" not in found


def test_a_depth_three_times_its_log_is_suspected(tmp_path):
    rows = neighbours([("LOG", 60, 0.5)])
    logs = "bore_id,from_m,to_m,lithology\nLOG,0,6,clay\nLOG,6,18.29,granite\nB1,0,8,clay\n"
    (tmp_path / "i.csv").write_text(logs)
    _, report = read_register(write(tmp_path / "b.csv", rows), name="x", intervals=tmp_path / "i.csv")
    assert any(a.where == "LOG" and "3.28 times the depth of its log" in a.message for a in report.advisories)


@pytest.mark.parametrize(("what", "factor", "words"), [("depth", 3.28084, "feet read as metres"), ("yield", 0.0757682, "converted as gallons a minute"), ("yield", 13.198, "imperial gallons a minute read as litres")])
def test_a_mistaken_unit_is_named_by_the_command(tmp_path, capsys, monkeypatch, what, factor, words):
    """One bore among neighbours much alike: the command that loads the register names it, in words and as JSON, and keeps it."""
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    odd = ("ODD", round(60 * factor, 1), 0.5) if what == "depth" else ("ODD", 60, round(0.5 * factor, 4))
    path = write(tmp_path / "b.csv", neighbours([odd]))
    assert main(["register", "load", str(path), "--name", "invented"]) == 0
    told = capsys.readouterr().out
    assert "151 of 151 bores" in told and f"doubt: bore ODD: {what} is " in told and words in told
    assert main(["register", "load", str(path), "--name", "invented", "--json"]) == 0
    suspected = [a for a in json.loads(capsys.readouterr().out)["advisories"] if a["code"] == "unit-suspected"]
    assert [a["where"] for a in suspected] == ["ODD"] and words in suspected[0]["message"]


def test_feet_are_suspected_where_neighbours_differ_widely(tmp_path):
    """Of ten bores of usual depth given in feet most lie beyond all of their neighbours; none of the others is suspected. (A short bore's feet look like a deep bore's metres.)"""
    district = make_district(Recipe(seed=32, geology="layered sandstone"))
    order = np.random.default_rng(0).choice([i for i, row in enumerate(district.bores) if row[4] >= 60], 10, replace=False)
    names = {district.bores[i][0] for i in order}
    district.bores = [(*row[:4], round(row[4] * 3.28084, 1), *row[5:]) if row[0] in names else row for row in district.bores]
    _, report = read_register(district.write(tmp_path)["bores"], name="x")
    suspected = {a.where for a in report.advisories if a.code == "unit-suspected" and "depth" in a.message}
    assert len(suspected & names) >= 6 and not suspected - names
