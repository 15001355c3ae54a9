"""Registers from files of every kind and state: what can be used is loaded, the rest is listed with its reason."""

import csv
import json

import numpy as np
import polars as pl
import pytest

from borewright.errors import BadInput, NotFound
from borewright.siting import column_map_from_toml, list_registers, load_register, odds_at, open_register, read_register

HEAD = "bore_id,lon,lat,elevation_m,depth_m,yield_lps,static_level_m,first_water_m,drilled_on,status\n"


def good_rows(count, start=0):
    rng = np.random.default_rng(start)
    return [f"B{start + i},{10 + rng.uniform(0, 0.1):.6f},{50 + rng.uniform(0, 0.1):.6f},100,{30 + i % 50},{0.1 * (i % 7):.2f},5,,2001-02-03,{'dry' if i % 7 == 0 else 'wet'}" for i in range(count)]


def write(path, rows, head=HEAD):
    path.write_text(head + "".join(row + "\n" for row in rows), encoding="utf-8")
    return path


def test_a_third_broken_loads_the_rest_and_says_why(tmp_path):
    broken = [
        ",10.0,50.0,,40,0.2,,,,wet", "X1,,50.0,,40,0.2,,,,wet", "X2,abc,50.0,,40,0.2,,,,wet", "X3,190,50.0,,40,0.2,,,,wet", "X4,10,95,,40,0.2,,,,wet",
        "X5,0,0,,40,0.2,,,,wet", "X6,10,50,,,0.2,,,,wet", "X7,10,50,,-4,0.2,,,,wet", "X8,10,50,,99999,0.2,,,,wet", "X9,10,50,,40,-0.1,,,,wet",
        "X10,10,50,,40,wet hole,,,,wet", "B0,10,50,,40,0.1,,,,wet", "X11,nan,50,,40,0.2,,,,wet", "X12,10,inf,,40,0.2,,,,wet", "X13,10,50,,40,50000,,,,wet",
    ]
    report = load_register(write(tmp_path / "bores.csv", good_rows(35) + broken), name="mixed", folder=tmp_path / "registers")
    assert (report.rows, report.loaded, len(report.refused)) == (50, 35, 15)
    assert report.refused_file == tmp_path / "bores.refused.csv"
    with report.refused_file.open(encoding="utf-8") as file:
        listed = list(csv.DictReader(file))
    assert len(listed) == 15 and all(row["problem"] and row["want"] and row["field"] for row in listed)
    assert {row["row"] for row in listed} == {str(36 + i) for i in range(15)}
    by_id = {row["bore_id"]: row for row in listed}
    assert by_id["X10"]["value"] == "wet hole" and by_id["B0"]["field"] == "bore_id" and by_id["X7"]["field"] == "depth"
    assert len(open_register("mixed", tmp_path / "registers")) == 35


def test_blank_yield_is_not_recorded_never_dry(tmp_path):
    register, _ = read_register(write(tmp_path / "b.csv", ["A,10,50,,40,,,,,", "B,10.1,50,,40,n/a,,,,wet", "C,10.2,50,,40,0,,,,", "D,10.3,50,,40,,,,,dry"]), name="x")
    order = {name: i for i, name in enumerate(register.bore_id)}
    assert np.isnan(register.flow[[order["A"], order["B"], order["D"]]]).all()
    assert register.flow[order["C"]] == 0
    assert [register.wet[order[k]] for k in "ABCD"] == [-1, 1, -1, 0]


def test_semicolons_crlf_latin1_decimal_commas_feet_gallons_and_a_grid(tmp_path):
    text = "Nr;Ost;Nord;Tiefe;Ergiebigkeit;Zustand\r\nBr\xfcck 1;500000;5538630;100,5;12,0;naß\r\nBr\xfcck 2;501000;5538630;1.200,0;0;trocken\r\n"
    (tmp_path / "b.csv").write_bytes(text.encode("latin-1"))
    columns = column_map_from_toml(
        'crs = "EPSG:25832"\ndecimal = ","\n[status]\nwet = ["naß"]\ndry = ["trocken"]\n'
        '[bores]\nid = "Nr"\neasting = "Ost"\nnorthing = "Nord"\ndepth = { column = "Tiefe", unit = "ft" }\nyield = { column = "Ergiebigkeit", unit = "US gpm" }\nstatus = "Zustand"\n')
    register, report = read_register(tmp_path / "b.csv", name="x", columns=columns)
    assert report.loaded == 2 and list(register.bore_id) == ["Br\xfcck 1", "Br\xfcck 2"]
    assert register.lon[0] == pytest.approx(9.0, abs=1e-9)  # the central meridian of the zone
    assert register.lat[0] == pytest.approx(50.0, abs=0.01)
    assert register.depth == pytest.approx([100.5 * 0.3048, 1200 * 0.3048])
    assert register.flow[0] == pytest.approx(12 * 3.785411784e-3 / 60)
    assert list(register.wet) == [1, 0]


def test_decimal_commas_and_unicode_spreadsheet_text_are_found_by_looking(tmp_path):
    (tmp_path / "b.csv").write_bytes("\ufeffbore_id;lon;lat;depth_m;yield_lps\r\nA;10,5;50;40,5;NaN\r\nB;10,6;50;41;0,3\r\n".encode())
    register, report = read_register(tmp_path / "b.csv", name="x")
    assert register.depth == pytest.approx([40.5, 41.0]) and np.isnan(register.flow[0]) and register.flow[1] == pytest.approx(0.3e-3)
    assert [a.code for a in report.advisories] == ["decimal-comma"]
    (tmp_path / "u.csv").write_bytes("bore_id\tlon\tlat\tdepth_m\nBö\t10.5\t50\t40\n".encode("utf-16"))
    assert list(read_register(tmp_path / "u.csv", name="x")[0].bore_id) == ["Bö"]


def test_a_large_register_is_learned_from_at_its_first_question(tmp_path):
    path = write(tmp_path / "b.csv", good_rows(60))
    load_register(path, name="now", folder=tmp_path / "r")
    report = load_register(path, name="later", folder=tmp_path / "r", learn=False)
    assert [a.code for a in report.advisories] == ["learned-later"] and not (tmp_path / "r/later/model.npz").exists()
    told = [odds_at(open_register(name, tmp_path / "r"), 50.05, 10.05, need=0.2e-3, depths=[60.0]).by_depth for name in ("now", "later")]
    assert told[0] == told[1] and (tmp_path / "r/later/model.npz").exists()


def test_parquet_and_geojson_say_the_same(tmp_path):
    path = write(tmp_path / "b.csv", good_rows(20))
    frame = pl.read_csv(path)
    frame.write_parquet(tmp_path / "b.parquet")
    features = [{"type": "Feature", "geometry": {"type": "Point", "coordinates": [r["lon"], r["lat"]]},
                 "properties": {k: v for k, v in r.items() if k not in ("lon", "lat")}} for r in frame.to_dicts()]
    (tmp_path / "b.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    first, _ = read_register(path, name="x")
    for other in ("b.parquet", "b.geojson"):
        register, report = read_register(tmp_path / other, name="x")
        assert report.loaded == 20
        for column in ("lon", "lat", "depth", "flow", "wet", "static_level"):
            np.testing.assert_allclose(getattr(register, column), getattr(first, column))


def test_strikes_and_intervals_must_belong_to_a_bore_and_lie_in_it(tmp_path):
    bores = write(tmp_path / "b.csv", ["A,10,50,,40,0.3,,,,wet", "B,10.1,50,,40,0,,,,dry"])
    strikes = write(tmp_path / "s.csv", ["A,20,0.2", "A,35,", "C,10,0.1", "A,60,0.1", "A,x,0.1", "A,10,-1"], "bore_id,depth_m,yield_lps\n")
    intervals = write(tmp_path / "i.csv", ["A,0,5,Sandy CLAY", "A,5,12,decomposed granite", "A,12,40,hard granite", "A,9,3,clay", "B,0,40,blue whatsit", "C,0,3,clay"],
                      "bore_id,from_m,to_m,lithology\n")
    register, report = read_register(bores, name="x", strikes=strikes, intervals=intervals)
    assert (report.strikes, report.intervals) == (2, 4)
    assert sorted((r.file, r.row) for r in report.refused) == [("i.csv", 4), ("i.csv", 6), ("s.csv", 3), ("s.csv", 4), ("s.csv", 5), ("s.csv", 6)]
    assert [a.code for a in report.advisories] == ["unknown-ground"] and "blue whatsit" in report.advisories[0].message
    assert np.isnan(register.strikes.flow[1])


def test_doubts_of_units_and_repeats(tmp_path):
    rng = np.random.default_rng(1)
    rows = [f"B{i},{10 + rng.uniform(0, 0.05):.6f},{50 + rng.uniform(0, 0.05):.6f},,{60 * np.exp(0.1 * rng.standard_normal()):.1f},"
            f"{0.5 * np.exp(0.2 * rng.standard_normal()):.3f},,,1999-01-01,wet" for i in range(120)]
    rows += ["FT,10.02,50.02,,196.8,0.5,,,1999-01-02,wet", "GPM,10.03,50.02,,60,7.9,,,1999-01-02,wet", "SAME,10.04,50.04,,61,0.5,,,1999-01-02,wet", "SAME2,10.04,50.04,,61,0.5,,,1999-01-02,wet"]
    register, report = read_register(write(tmp_path / "b.csv", rows), name="x")
    doubts = {a.where: a.message for a in report.advisories if a.code == "unit-suspected"}
    assert "feet read as metres" in doubts["FT"] and "gallons a minute" in doubts["GPM"]
    assert [r.bore_id for r in report.refused] == ["SAME2"]
    assert len(register) == 123


@pytest.mark.parametrize(("head", "rows", "field"), [
    ("bore_id,lon,depth_m\n", ["A,10,40"], "lat"), (HEAD, ["A,10,50,,0,,,,,"], "depth"), (HEAD, [], "file"),
])
def test_nothing_usable_is_refused(tmp_path, head, rows, field):
    with pytest.raises(BadInput) as caught:
        load_register(write(tmp_path / "b.csv", rows, head), name="x", folder=tmp_path / "registers")
    assert caught.value.field == field
    assert not (tmp_path / "registers" / "x").exists()


@pytest.mark.parametrize("text", ["[bores]\ndepth = { column = \"D\", unit = \"furlong\" }", "[bores]\nwidth = \"D\"", "nonsense = 1", "[bores", "[bores]\nlon = { column = \"x\", unit = \"m\" }", "[bores]\ndepth = 3"])
def test_a_bad_column_map_is_refused(text):
    with pytest.raises(BadInput):
        column_map_from_toml(text)


@pytest.mark.parametrize("name", ["../up", "", "a/b", ".hidden", "x" * 80])
def test_a_name_cannot_reach_outside(tmp_path, name):
    with pytest.raises(BadInput):
        load_register(write(tmp_path / "b.csv", good_rows(3)), name=name, folder=tmp_path)
    with pytest.raises(BadInput):
        open_register(name, tmp_path)


def test_an_unknown_grid_file_or_register(tmp_path):
    path = write(tmp_path / "b.csv", good_rows(3))
    with pytest.raises(BadInput, match="not a known grid"):
        read_register(path, name="x", columns=column_map_from_toml('crs = "EPSG:999999"'))
    with pytest.raises(BadInput, match="is not there"):
        read_register(tmp_path / "none.csv", name="x")
    with pytest.raises(NotFound):
        open_register("none", tmp_path)
    assert list_registers(tmp_path / "nowhere") == []


def test_loading_again_replaces_the_register_whole(tmp_path):
    for count in (30, 12):
        load_register(write(tmp_path / "b.csv", good_rows(count)), name="again", folder=tmp_path / "r")
    assert [(r["name"], r["bores"]) for r in list_registers(tmp_path / "r")] == [("again", 12)]
    assert len(open_register("again", tmp_path / "r")) == 12
    assert sorted(p.name for p in (tmp_path / "r").iterdir()) == ["again"]


def test_a_register_that_cannot_be_kept_leaves_nothing_behind_and_spares_the_old(tmp_path, monkeypatch):
    from borewright.errors import StoreError
    from borewright.siting import register as module

    rows = [f"{i},{10 + 0.01 * i},50,,40,{i % 3},,,," for i in range(30)]
    path = write(tmp_path / "b.csv", rows)
    load_register(path, name="x", folder=tmp_path / "kept")

    def full(*_):
        raise OSError("no space left")

    monkeypatch.setattr(module, "_write_tables", full)
    with pytest.raises(StoreError, match="no space left"):
        load_register(write(tmp_path / "c.csv", rows[:20]), name="x", folder=tmp_path / "kept")
    assert [p.name for p in (tmp_path / "kept").iterdir()] == ["x"]
    monkeypatch.undo()
    again = open_register("x", tmp_path / "kept")
    assert len(again) == 30
    # What no bore tells takes no room on disk and is read back as not recorded.
    assert all(np.isnan(getattr(again, name)).all() for name in ("elevation", "static_level", "first_water", "conductivity"))


def test_a_register_kept_as_it_was_before_opens_the_same(tmp_path):
    """Its table was Parquet, every column in it."""
    rows = [f"{i},{10 + 0.01 * i},50,,40,{i % 3},{i % 7},,," for i in range(30)]
    load_register(write(tmp_path / "b.csv", rows), name="x", folder=tmp_path / "kept")
    now = open_register("x", tmp_path / "kept")
    home = tmp_path / "kept" / "x"
    frame = pl.read_ipc((home / "bores.arrow").read_bytes())
    frame.with_columns(**{name: pl.lit(float("nan")) for name in ("elevation", "static_level", "first_water", "conductivity") if name not in frame.columns}).write_parquet(home / "bores.parquet")
    (home / "bores.arrow").unlink()
    before = open_register("x", tmp_path / "kept")
    for name in ("lon", "lat", "depth", "flow", "wet", "elevation", "static_level", "first_water", "conductivity"):
        np.testing.assert_array_equal(getattr(before, name), getattr(now, name))
    assert before.bore_id.tolist() == now.bore_id.tolist()
