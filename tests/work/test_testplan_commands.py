"""Planning, rating and looking beyond the bore by command (invented bore, truth known)."""

from __future__ import annotations

import json

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.hydraulics import drawdown
from tests.web.conftest import log_hole, open_test_job

T, S, RATE = 9.0 / 86400, 2e-4, 0.5e-3
PLAN = ["--flow", "20 L/min", "--drawdown", "12 m", "--available", "30 m", "--need", "15 L/min", "--static", "8.4 m", "--bore-radius", "82 mm", "--casing-radius", "58 mm"]


@pytest.fixture
def job(tmp_path, monkeypatch):
    from borewright.storage import open_job_book

    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    with open_job_book(tmp_path / "home") as book:
        made = open_test_job(book, quoted=False)
        log_hole(book, made)
        time = np.geomspace(60, 8 * 3600.0, 26)
        fall = drawdown(time, 0.0825, rate=RATE, transmissivity=T, storativity=S) + 0.005 * np.random.default_rng(3).standard_normal(time.size)
        book.write(made, "test.run", {"run": "constant 1", "type": "constant rate", "rate": RATE, "duration": 8 * 3600.0}, by="t")
        book.write(made, "test.levels", {"run": "constant 1", "time": time.tolist(), "drawdown": fall.tolist()}, by="t")
    return str(made)


def told(capsys, *words: str) -> dict:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def refused(capsys, *words: str) -> str:
    assert main([*words, "--json"]) == 2
    return json.loads(capsys.readouterr().err)["error"]["field"]


def test_a_plan_without_a_job_and_one_that_is_kept_in_a_job(capsys, job, tmp_path):
    from borewright.storage import open_job_book

    alone = told(capsys, "testplan", *PLAN)
    assert len(alone["steps"]) == 4 and alone["duration"] >= 86400 and alone["lowest_pumping_level"] > 8.4
    far = told(capsys, "testplan", *PLAN, "--edge", "300 m")
    assert far["duration"] > alone["duration"] and any("edge" in r for r in far["reasons"])
    kept = told(capsys, "testplan", job, "--flow", "20 L/min", "--drawdown", "12 m", "--casing-radius", "58 mm")
    with open_job_book(tmp_path / "home") as book:
        assert book.jobs()[0] and book.job(book.find(job)).hole.planned.body.plan == kept
    assert main(["testplan", *PLAN]) == 0
    words = capsys.readouterr().out
    assert "Read by hand at (minutes): 0.5, 1," in words and "connected by a licensed person" in words


@pytest.mark.parametrize(("change", "field"), [(["--flow", "-1 L/s"], "flow"), (["--drawdown", "0 m"], "drawdown"), (["--need", "fast"], "need"), (["--storativity", "-1"], "storativity"),
                                              (["--edge", "0 m"], "edge"), (["--step-length", "0 h"], "step-length")])
def test_a_plan_refuses_by_the_name_of_its_option(capsys, change, field):
    assert refused(capsys, "testplan", *PLAN, *change) == field
    assert refused(capsys, "testplan", "--flow", "20 L/min") == "drawdown"


def test_the_rating_of_a_job_heeds_guard_hours_and_neighbours_and_refuses_what_it_would_not_use(capsys, job):
    plain = told(capsys, "rate", job)
    assert plain["guard_depth"] != 30.0 and len(plain["curve"]["time_s"]) > 20
    asked = told(capsys, "rate", job, "--guard", "30 m", "--hours-per-day", "8", "--neighbour", "300 m: 0.1 L/s")
    assert asked["guard_depth"] == 30.0 and asked["hours_per_day"] == 8.0 and asked["asked"]["neighbours"][0]["distance"] == 300.0
    assert asked["horizons"][-1]["flow"] != plain["horizons"][-1]["flow"]
    for words, field in ((["--need", "1 L/s"], "need"), (["--static", "3 m"], "static"), (["--guard", "1 m"], "guard_depth"), (["--neighbour", "300 m"], "neighbour"), (["--hours-per-day", "25"], "hours_per_day")):
        assert refused(capsys, "rate", job, *words) == field


def test_what_pumping_does_elsewhere(capsys, job):
    found = told(capsys, "effects", job, "--neighbour", "Lot 9: 400 m", "--stream", "600 m", "--rate", "20 L/min", "--transmissivity", "9", "--storativity", "0.0002", "--allowed", "1 m")
    year = next(i for i, t in enumerate(found["times"]) if t["name"] == "1 year")
    # By Theis and by Glover & Balmer written out here from scipy.
    from scipy.special import erfc, exp1

    rate, at = 20e-3 / 60, found["times"][year]["time_s"]
    assert found["rows"][0]["drawdown"][year] == pytest.approx(rate / (4 * np.pi * 9 / 86400) * exp1(400**2 * 2e-4 / (4 * 9 / 86400 * at)), rel=1e-9)
    assert found["stream"][year]["share"] == pytest.approx(erfc(np.sqrt(600**2 * 2e-4 / (4 * 9 / 86400 * at))), rel=1e-9)
    assert found["rows"][0]["within"] is False
    for words, field in ((["--neighbour", "400 m"], "neighbour"), (["--stream", "here"], "stream"), ([], "rate")):
        assert refused(capsys, "effects", job, *words) == field
