"""The commands `register` and `odds` as a person or another program meets them."""

import json

import pytest

from borewright.cli.main import main
from borewright.demo.district import Recipe, make_district


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    folder = tmp_path_factory.mktemp("home")
    make_district(Recipe(seed=31, bores=200)).write(folder / "csv")
    return folder


@pytest.fixture
def run(home, capsys, monkeypatch):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(home / "data"))

    def call(*words):
        code = main(list(words))
        out, err = capsys.readouterr()
        return code, out, err

    return call


def test_load_list_odds_sites_prove(home, run):
    csv = home / "csv"
    code, out, _ = run("register", "load", str(csv / "bores.csv"), "--strikes", str(csv / "strikes.csv"), "--intervals", str(csv / "intervals.csv"), "--name", "invented", "--json")
    assert code == 0 and json.loads(out)["loaded"] == 200
    code, out, _ = run("register", "list", "--json")
    assert code == 0 and json.loads(out)[0]["name"] == "invented"
    code, out, _ = run("odds", "--register", "invented", "--at", "-38.5,-18.25", "--need", "15 L/min", "--depth", "40", "80", "--json")
    answer = json.loads(out)
    assert code == 0 and [r["depth_m"] for r in answer["by_depth"]] == [40, 80] and answer["need_lps"] == pytest.approx(0.25)
    code, out, _ = run("odds", "--register", "invented", "--at=-38.5,-18.25", "--need", "15 L/min", "--opinion", "0.5 as 5 bores")
    assert code == 0 and "in 10" in out and "nearest bores" in out
    sites = home / "sites.csv"
    sites.write_text("lon,lat,depth_m,need_lps\n-18.25,-38.5,80,0.25\n-18.2,-38.45,60,1\n40,40,60,1\n")
    code, out, _ = run("odds", "--register", "invented", "--sites", str(sites), "--json")
    lines = [json.loads(line) for line in out.splitlines()]
    assert code == 0 and len(lines) == 3
    assert {"lon", "lat", "depth_m", "need_lps", "p", "low", "high", "effective_records"} <= lines[0].keys()
    assert lines[0]["p"] == pytest.approx(answer["by_depth"][1]["p"], abs=0.01)
    assert lines[2]["p"] is None and "too far" in lines[2]["refused"]
    code, out, _ = run("register", "prove", "invented", "--need", "0.25 L/s", "--json")
    proof = json.loads(out)
    assert code == 0 and proof["brier"] < proof["brier_base"] and proof["reliability"]
    code, out, _ = run("register", "prove", "invented", "--need", "0.25 L/s")
    assert code == 0 and "base rate" in out


@pytest.mark.parametrize(("words", "field"), [
    (("odds", "--register", "invented", "--at", "north", "--need", "15 L/min"), "at"),
    (("odds", "--register", "invented", "--need", "15 L/min"), "at"),
    (("odds", "--register", "invented", "--at", "1,2"), "need"),
    (("odds", "--register", "invented", "--at", "1,2", "--need", "15 gal/min"), "need"),
    (("odds", "--register", "../etc", "--at", "1,2", "--need", "15 L/min"), "name"),
    (("register", "load", "nowhere.csv", "--name", "x"), "file"),
])
def test_bad_input_is_one_line_and_code_2(run, words, field):
    code, out, err = run(*words, "--json")
    assert code == 2 and json.loads(out)["error"]["field"] == field and len(err.splitlines()) == 1


@pytest.mark.parametrize("rows", ["lon,lat,depth_m\n1,2,3\n", "lon,lat,depth_m,need_lps\n1,x,3,4\n", "lon,lat,depth_m,need_lps\n-18.2,-38.5,60,-1\n", "lon,lat,depth_m,need_lps\n-18.2,-38.5,0,1\n"])
def test_bad_sites(home, run, rows):
    test_sites = home / "bad.csv"
    test_sites.write_text(rows)
    if not (home / "data" / "registers" / "two").exists():
        assert run("register", "load", str(home / "csv" / "bores.csv"), "--name", "two")[0] == 0
    code, out, _ = run("odds", "--register", "two", "--sites", str(test_sites), "--json")
    assert code == 2 and json.loads(out)["error"]["problem"]


def test_no_such_register_is_code_1(run):
    code, _, err = run("odds", "--register", "none", "--at", "1,2", "--need", "15 L/min")
    assert code == 1 and "no register named none" in err
