"""Pages of a register: the map of odds, its track record, and a column map tried on a file's first rows."""

from __future__ import annotations

import json
import re
import time

import pytest

from borewright.demo.district import Recipe, make_district
from borewright.siting import load_register, open_register, standing_of

NEED = "15 L/min"


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A folder of registers with one of 150 bores."""
    folder = tmp_path_factory.mktemp("registers")
    paths = make_district(Recipe(seed=31, bores=150)).write(folder / "csv")
    load_register(paths["bores"], name="invented", strikes=paths["strikes"], intervals=paths["intervals"], folder=folder / "registers")
    return folder


@pytest.fixture
def desk(client, loaded):
    """The client, with the register on its desk."""
    import shutil

    shutil.copytree(loaded / "registers", client.app.state.desk.registers, dirs_exist_ok=True)
    return client


def until(client, path, sign, patience=120.0):
    """Return the page once the work in the background is over."""
    end = time.monotonic() + patience
    while True:
        answer = client.get(path)
        if sign in answer.text or answer.status_code != 200 or time.monotonic() > end:
            return answer
        assert 'http-equiv="refresh"' in answer.text and "<progress" in answer.text
        time.sleep(0.2)


def text_of(html):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


MAP = "/registers/invented/map?need=15+L%2Fmin&depth=60+m&south_west=-38.50%2C+-18.28&north_east=-38.42%2C+-18.18&cell=1500+m"


def test_the_list_leads_to_map_record_and_trial(desk):
    page = desk.get("/registers").text
    for path in ("/registers/invented/map", "/registers/invented/record", "/columns"):
        assert f'href="{path}"' in page and desk.get(path).status_code == 200


def test_a_map_is_drawn_with_its_scale_legend_and_nearest_bores(desk):
    answer = until(desk, MAP, "</figure>")
    assert answer.status_code == 200 and 'http-equiv="refresh"' not in answer.text
    for words in ("over 8 in 10", "no figure", " km</text>", "north", "The bores nearest to the middle", "no colour here is a promise"):
        assert words in answer.text
    assert "style=" not in answer.text and "<script" not in answer.text.split("<main")[1]
    assert 'value="-38.50, -18.28"' in answer.text  # the form holds what was asked


def test_the_map_is_taken_away_in_open_formats(desk):
    until(desk, MAP, "</figure>")
    data = desk.get(MAP.replace("/map?", "/map.geojson?"))
    cells = json.loads(data.text)["features"]
    assert data.headers["content-type"].startswith("application/geo+json") and 20 < len(cells) < 80
    assert all(0 <= c["properties"]["p"] <= 1 and c["properties"]["depth_m"] == 60 for c in cells)
    for kind, first in (("tif", b"II*\0"), ("svg", b"<svg"), ("png", b"\x89PNG")):
        assert desk.get(MAP.replace("/map?", f"/map.{kind}?")).content.startswith(first)


@pytest.mark.parametrize(("query", "field"), [
    ("need=lots&depth=60+m", "need"), ("need=15+gal%2Fmin&depth=60+m", "need"), ("depth=60+m", "need"), ("need=15+L%2Fmin&depth=0", "depth"), ("need=15+L%2Fmin&depth=4000+m", "depth"),
    ("need=15+L%2Fmin&depth=60+m&south_west=-38.5%2C-18.3", "north_east"), ("need=15+L%2Fmin&depth=60+m&south_west=here&north_east=-38%2C-18", "south_west"),
    ("need=15+L%2Fmin&depth=60+m&south_west=-38.4%2C-18.3&north_east=-38.5%2C-18.2", "north_east"), ("need=15+L%2Fmin&depth=60+m&cell=1+m", "cell"),
])
def test_bad_questions_come_back_beside_their_field(desk, query, field):
    answer = until(desk, f"/registers/invented/map?{query}", "nothing that is there")
    assert answer.status_code == 422
    inside = answer.text.split(f'id="map-{field}"')[1].split("</div>")[0]
    assert f'id="map-{field}-wrong"' in inside


@pytest.mark.parametrize("path", ["/registers/none/map", "/registers/none/record", "/registers/none/map.tif?need=15+L%2Fmin&depth=60+m"])
def test_a_register_that_is_not_there(desk, path):
    answer = desk.get(path)
    assert answer.status_code in (404, 422) and "none" in answer.text


def test_the_track_record_shows_scores_diagram_and_the_trials(desk):
    answer = until(desk, "/registers/invented/record?need=15+L%2Fmin", "</figure>")
    assert answer.status_code == 200
    told = text_of(answer.text)
    for words in ("These odds", "The share of all bores", "The share of the 25 nearest", "share that had enough", "No finished job had its odds told", "from memory", "Mitta Mitta"):
        assert words in told
    scores = [float(v) for v in re.findall(r'<td class="n">(0\.\d{4})</td>', answer.text)]
    assert scores[0] < scores[4]  # the Brier score beats the base rate on a district with known truth
    assert "Gradient boosting on place and depth" in told and scores[0] < scores[8]
    wrong = desk.get("/registers/invented/record?need=much")
    assert wrong.status_code == 422 and 'id="record-need-wrong"' in wrong.text


def test_a_register_loaded_on_the_page_is_held_against_its_own_bores_by_itself(client, loaded):
    bores = (loaded / "csv" / "bores.csv").read_bytes()
    page = client.post("/registers", data={"name": "fresh"}, files={"bores": ("bores.csv", bores, "text/csv")})
    assert page.status_code == 200 and 'href="/registers/fresh/record"' in page.text
    folder, end = client.app.state.desk.registers, time.monotonic() + 120.0
    while not (standing := standing_of(open_register("fresh", folder), 0.25e-3)) and time.monotonic() < end:
        time.sleep(0.2)
    assert standing.bores > 100 and 0.0 < standing.brier_base < 0.26


def test_refused_rows_name_their_file_only_where_there_are_several(client):
    bores, strikes = b"bore_id,lon,lat,depth_m\na,30.1,-15.2,40\nb,30.2,-15.3,\n", b"bore_id,depth_m,yield_lps\na,90,0.3\n"
    one = client.post("/registers", data={"name": "one"}, files={"bores": ("bores.csv", bores, "text/csv")}).text
    assert ">File</th>" not in one and "<td>depth: is missing. Want the depth drilled.</td>" in one
    two = client.post("/registers", data={"name": "two"}, files={"bores": ("bores.csv", bores, "text/csv"), "strikes": ("strikes.csv", strikes, "text/csv")}).text
    assert ">File</th>" in two and "<td>strikes.csv</td>" in two


def test_ways_of_picking_are_scored_by_one_rule(desk, book):
    from tests.web.conftest import BEGUN, log_hole, open_test_job

    job = open_test_job(book, quoted=False)
    book.write(job, "ground.spot", {"name": "A", "latitude": -38.47, "longitude": -18.22, "way_of_picking": "divining"}, by="tester", at=BEGUN)
    odds = {"by_depth": [{"depth_m": float(d), "p": float(d) / 200, "low": 0.1, "high": 0.8} for d in range(10, 121, 10)]}
    book.write(job, "ground.odds", {"register_name": "invented", "need": 0.25e-3, "answer": {"odds": odds}, "sentence": ""}, by="tester", at=BEGUN)
    log_hole(book, job)
    book.write(job, "rig.stopped", {"depth": 48.0, "reason": "enough water"}, by="tester")
    told = text_of(desk.get("/registers/invented/record").text)
    assert "divining 1" in told and "scored by the same rule" in told


def test_a_finished_bore_joins_the_firm_s_own_register_by_itself(client, app, book):
    from tests.web.conftest import BEGUN, log_hole, open_test_job

    job = open_test_job(book, quoted=False)
    book.write(job, "ground.spot", {"name": "A", "latitude": -38.47, "longitude": -18.22, "way_of_picking": "lineament"}, by="tester", at=BEGUN)
    client.get("/jobs")
    app.state.own_bores.thread.join(60)
    assert "own-bores" not in client.get("/registers").text  # nothing is drilled yet
    log_hole(book, job)
    assert client.get("/jobs").status_code == 200
    app.state.own_bores.thread.join(60)
    assert "own-bores" in client.get("/registers").text


FILE = "Nr;Ost;Nord;Tiefe;Menge;Zustand\r\n" + "".join(f"{i};{500000 + 40 * i};{5538630 + 30 * i};{100 + i},5;{i % 4},0;{'ja' if i % 4 else 'nein'}\r\n" for i in range(30)) + "99;here;1;2;3;ja\r\n"
MAPPED = {"crs": "EPSG:25832", "decimal": ",", "wet": "ja", "dry": "nein", "column_bore_id": "Nr", "column_lon": "Ost", "column_lat": "Nord", "column_depth": "Tiefe", "unit_depth": "ft",
          "column_flow": "Menge", "unit_flow": "US gpm", "column_status": "Zustand"}


def upload(client, data=None, **more):
    return client.post("/columns", data=data or {}, files={"bores": ("bores.csv", FILE.encode("cp1252"), "text/csv")}, **more)


def token_of(answer):
    return re.search(r'name="token" value="([^"]+)"', answer.text)[1]


def test_a_file_is_tried_mapped_kept_and_loaded(desk):
    first = upload(desk)
    assert first.status_code == 200 and "has no column" in first.text and '<option>Tiefe</option>' in first.text
    token = token_of(first)
    second = desk.post("/columns", data={**MAPPED, "token": token, "act": "try"})
    told = text_of(second.text)
    assert second.status_code == 200 and "20 rows; 0 would be refused" in told and "9.00000" in told and "30.6 m" in told
    kept = desk.post("/columns", data={**MAPPED, "token": token, "act": "keep", "map_name": "north-grid"})
    assert "kept as north-grid" in kept.text
    toml = desk.get("/columns/north-grid.toml")
    assert 'unit = "US gpm"' in toml.text and "EPSG:25832" in toml.text
    loaded = desk.post("/columns", data={**MAPPED, "token": token, "act": "load", "name": "north"})
    assert loaded.status_code == 200 and "30 of 31" in loaded.text and "/registers/north/refused.csv" in loaded.text
    assert open_register("north", desk.app.state.desk.registers).depth.min() == pytest.approx(100.5 * 0.3048)
    # The map serves the next file, here and on the page of registers.
    again = upload(desk, {"saved": "north-grid"})
    assert "20 rows; 0 would be refused" in text_of(again.text)
    other = desk.post("/registers", data={"name": "south", "saved": "north-grid"}, files={"bores": ("b.csv", FILE.encode("cp1252"), "text/csv")})
    assert other.status_code == 200 and "30 of 31" in other.text


def test_the_registers_own_columns_are_found_by_themselves(desk, loaded):
    answer = desk.post("/columns", files={"bores": ("bores.csv", (loaded / "csv" / "bores.csv").read_bytes(), "text/csv")})
    assert "20 rows; 0 would be refused" in text_of(answer.text) and '<option selected>depth_m</option>' in answer.text


@pytest.mark.parametrize(("change", "field"), [
    ({"unit_depth": "furlong"}, "unit_depth"), ({"crs": "EPSG:1"}, "crs"), ({"act": "keep", "map_name": "../x"}, "map_name"), ({"act": "load", "name": ""}, "name"),
])
def test_a_bad_map_comes_back_beside_its_field_with_nothing_lost(desk, change, field):
    token = token_of(upload(desk))
    answer = desk.post("/columns", data={**MAPPED, "token": token, "act": "try", **change})
    assert answer.status_code == 422 and f'id="{field}-wrong"' in answer.text
    assert '<option selected>Tiefe</option>' in answer.text and 'value="US gpm"' in answer.text


def test_no_file_or_one_that_is_none(desk):
    assert desk.post("/columns", data={"act": "try"}).status_code == 422
    assert desk.post("/columns", data={"token": "long-gone"}).status_code == 422
    answer = desk.post("/columns", files={"bores": ("x.xlsx", b"not a spreadsheet", "application/octet-stream")})
    assert answer.status_code == 422 and "cannot be read" in answer.text
    assert desk.get("/columns/none.toml").status_code == 404


ODD = {
    "empty.csv": b"", "picture.csv": b"\x89PNG\r\n\x1a\n" + bytes(60), "packed.csv": b"PK\x03\x04" + bytes(60), "deep.json": b"[" * 100_000, "none.xlsx": b"no spreadsheet",
    "twice.csv": b"bore_id,lon,lat,depth_m,depth_m\na,10,50,40,41\n", "twisted.csv": b"bore_id,lon,lat,depth_m\na,-33.1,149.2,40\n", "grid.csv": b"bore_id,lon,lat,depth_m\na,500000,5538630,40\n",
    "nothing.csv": b"one,two\n1,2\n", "page.csv": b"<!doctype html><p>sign in</p>", "quote.csv": b'bore_id,lon,lat,depth_m\n"a,10,50,40\n', "noise.csv": bytes(range(256)) * 8,
}


@pytest.mark.parametrize("name", ODD)
def test_an_odd_file_is_refused_in_words_and_by_its_own_name(client, name):
    answer = client.post("/registers", data={"name": "odd"}, files={"bores": (name, ODD[name], "application/octet-stream")})
    assert answer.status_code == 422 and 'class="wrong" role="alert"' in answer.text and "Want" in answer.text
    told = text_of(answer.text)
    assert name in told and "bores.csv" not in told
    tried = client.post("/columns", data={"act": "try"}, files={"bores": (name, ODD[name], "application/octet-stream")})
    assert tried.status_code in (200, 422) and ('class="wrong"' in tried.text or "1 would be refused" in text_of(tried.text))


@pytest.mark.parametrize("name", ["../../up.csv", "..", "a/b\\c.csv", "x" * 400 + ".csv", "na\u0000me.csv", "Bohrungen (neu).CSV"])
def test_the_name_of_a_file_reaches_nothing_outside(client, name):
    data = b"bore_id,lon,lat,depth_m\n" + b"".join(b"a%d,10.%03d,50,40\n" % (i, i) for i in range(9))
    answer = client.post("/columns", data={"act": "try"}, files={"bores": (name, data, "text/csv")})
    assert answer.status_code == 200 and "9 rows; 0 would be refused" in text_of(answer.text)
    assert "They lie between latitude 50.000 and 50.000, longitude 10.000 and 10.008" in text_of(answer.text)
