"""The four commands and the bench, through the front door."""

from __future__ import annotations

import json

import numpy as np
import pytest

from borewright import hydraulics as h
from borewright.bench.declare import answer, calculations
from borewright.cli.main import main

DAY = 86400.0


@pytest.fixture
def data(tmp_path, table):
    path = tmp_path / "korendijk.csv"
    rows = [r for r in table("oude_korendijk_drawdown") if r["r_m"] in ("30", "90")]
    path.write_text("time_s,drawdown_m,well,radius_m\n" + "".join(f"{float(r['t_min']) * 60},{r['s_m']},P{r['r_m']},{r['r_m']}\n" for r in rows), encoding="utf-8")
    return str(path)


def run(capsys, *words):
    code = main(list(words))
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_pumptest_json(capsys, data):
    code, out, _ = run(capsys, "pumptest", data, "--rate", "788 m3/d", "--solution", "theis", "--json")
    fit = json.loads(out)["fits"][0]
    assert code == 0 and fit["solution"] == "theis"
    assert fit["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(462.6, rel=1e-3)
    assert fit["parameters"]["storativity"]["low"] < fit["parameters"]["storativity"]["value"] < fit["parameters"]["storativity"]["high"]


def test_pumptest_in_words_and_its_refusals(capsys, data, tmp_path):
    code, out, _ = run(capsys, "pumptest", data, "--rate", "788 m3/d")
    assert code == 0 and "transmissivity_m2_per_d" in out
    assert run(capsys, "pumptest", data)[0] == 2
    assert run(capsys, "pumptest", data, "--rate", "0 m3/d")[0] == 2
    code, out, err = run(capsys, "pumptest", data, "--rate", "788", "--json")
    assert code == 2 and json.loads(out)["error"]["field"] == "rate" and err.count("\n") == 1
    two = tmp_path / "two.csv"
    two.write_text("time_s,drawdown_m\n60,0.1\n120,0.2\n", encoding="utf-8")
    code, out, _ = run(capsys, "pumptest", str(two), "--rate", "1 L/s", "--json")
    assert code == 2 and "few" in json.loads(out)["error"]["problem"]


def test_pumptest_of_a_bore_open_to_part_of_the_aquifer(capsys, tmp_path):
    path, time = tmp_path / "part.csv", np.geomspace(60, 2e5, 30)
    fall = h.partial_drawdown(time, radius=6.0, rate=2e-3, transmissivity=3e-4, storativity=2e-4, thickness=40.0, screen=(5.0, 15.0), observed=(20.0, 30.0), anisotropy=0.2)
    path.write_text("time_s,drawdown_m,well,radius_m\n" + "".join(f"{t},{s},P6,6\n" for t, s in zip(time, fall, strict=True)), encoding="utf-8")
    words = ("pumptest", str(path), "--rate", "2 L/s", "--solution", "theis", "--json")
    said = ("--open", "5 m to 15 m", "--aquifer-thickness", "40 m", "--anisotropy", "0.2", "--observed", "P6: 20 m to 30 m")
    code, out, _ = run(capsys, *words, *said)
    got = json.loads(out)
    assert code == 0 and got["fits"][0]["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(3e-4 * DAY, rel=1e-3)
    assert got["part_open"] == {"thickness_m": 40.0, "top_m": 5.0, "bottom_m": 15.0, "anisotropy": 0.2, "observed_m": [[20.0, 30.0]]}
    assert json.loads(run(capsys, *words)[1])["part_open"] is None
    assert run(capsys, *words[:-1], *said)[1].splitlines()[-2].startswith("The pumped bore is open from 5 to 15 m")


@pytest.mark.parametrize(("said", "field"), [
    (("--open", "5 m to 15 m"), "aquifer-thickness"),
    (("--aquifer-thickness", "40 m"), "open"),
    (("--open", "5 m", "--aquifer-thickness", "40 m"), "open"),
    (("--open", "5 to 15", "--aquifer-thickness", "40 m"), "open"),
    (("--open", "15 m to 50 m", "--aquifer-thickness", "40 m"), "open"),
    (("--open", "5 m to 15 m", "--aquifer-thickness", "0 m"), "aquifer-thickness"),
    (("--open", "5 m to 15 m", "--aquifer-thickness", "40 m", "--anisotropy", "-1"), "anisotropy"),
    (("--open", "5 m to 15 m", "--aquifer-thickness", "40 m", "--observed", "P99: 1 m to 2 m"), "observed"),
    (("--open", "5 m to 15 m", "--aquifer-thickness", "40 m", "--observed", "P30: 30 m to 60 m"), "observed"),
    (("--open", "5 m to 15 m", "--aquifer-thickness", "40 m", "--thickness", "20 m"), "thickness"),
])
def test_a_part_of_the_aquifer_that_cannot_be_is_refused_by_its_option(capsys, data, said, field):
    code, out, _ = run(capsys, "pumptest", data, "--rate", "788 m3/d", "--solution", "theis", "--json", *said)
    assert code == 2 and json.loads(out)["error"]["field"] == field


def test_steptest_and_slug(capsys, tmp_path):
    steps = tmp_path / "steps.csv"
    steps.write_text("rate_L/s,drawdown_m\n2,1.04\n4,2.16\n6,3.36\n8,4.64\n", encoding="utf-8")
    code, out, _ = run(capsys, "steptest", str(steps), "--json")
    fit = json.loads(out)
    assert code == 0 and fit["aquifer_loss_s_per_m2"]["value"] == pytest.approx(500, rel=1e-6) and fit["well_loss_si"]["value"] == pytest.approx(10000, rel=1e-6)
    slug = tmp_path / "slug.csv"
    time = np.linspace(0, 180, 30)
    slug.write_text("time_s,displacement_m\n" + "".join(f"{t},{0.5 * np.exp(-t / 60)}\n" for t in time), encoding="utf-8")
    code, out, _ = run(capsys, "slug", str(slug), "--casing-radius", "25 mm", "--screen-radius", "50 mm", "--screen-length", "1 m", "--json")
    assert code == 0 and json.loads(out)["hydraulic_conductivity_m_per_s"]["value"] == pytest.approx(1.560277e-05, rel=1e-6)
    assert run(capsys, "steptest", str(steps))[0] == 0 and run(capsys, "slug", str(slug), "--casing-radius", "25 mm", "--screen-radius", "50 mm",
                                                               "--screen-length", "1 m")[0] == 0


def test_rate_from_a_test_from_an_airlift_and_refused(capsys, tmp_path):
    path = tmp_path / "bore.csv"
    time = np.geomspace(60, DAY, 40)
    fall = h.drawdown(time, 0.1, rate=1e-3, transmissivity=1e-4, storativity=1e-3)
    path.write_text("time_s,drawdown_m\n" + "".join(f"{t},{s}\n" for t, s in zip(time, fall, strict=True)), encoding="utf-8")
    code, out, _ = run(capsys, "rate", str(path), "--rate", "1 L/s", "--static", "12 m", "--guard", "50 m", "--need", "20 L/min", "--neighbour", "300 m: 0.2 L/s", "--json")
    rating = json.loads(out)
    assert code == 0 and 0 < rating["flow"] <= 1e-3 and rating["chance_of_need"] > 0.9 and len(rating["horizons"]) == 4
    code, out, _ = run(capsys, "rate", "--airlift", "1.2 L/s", "--static", "12 m", "--guard", "58 m")
    assert code == 0 and "airlift" in out
    assert run(capsys, "rate", "--airlift", "1.2 L/s", "--static", "12 m")[0] == 2
    assert run(capsys, "rate", "--airlift", "1.2 L/s", "--static", "12 m", "--guard", "5 m")[0] == 2
    assert run(capsys, "rate", str(path), "--rate", "1 L/s", "--static", "12 m", "--guard", "50 m", "--neighbour", "300 m")[0] == 2


def test_bench_theis(capsys):
    got = answer("theis-drawdown", {"rate": "1000 m3/d", "transmissivity": "500 m2/d", "storativity": "0.0002", "radius": "50 m", "time": "1 d"})
    assert got["results"]["drawdown"] == {"value": pytest.approx(1.228212, abs=1e-6), "unit": "m"}


def test_every_hydraulics_calculation_answers_its_own_example():
    for one in calculations().values():
        if one.stage != "hydraulics":
            continue
        from borewright.bench.declare import input_fields

        given = {f.name: f.example for f in input_fields(one) if f.required}
        results = answer(one.name, given)["results"]
        assert results and one.source, one.name
