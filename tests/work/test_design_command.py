"""`borewright design`: from the expected and the logged ground, by hand, and what it refuses."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from borewright.cli.main import main
from tests.work.conftest import START
from tests.work.test_bore import drilled


@pytest.fixture
def run(book, job, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(book.folder))

    def ran(*words, code=0):
        assert main(["design", *words]) == code
        return capsys.readouterr()

    return ran


def designs(book, job):
    return [e for e in book.entries(job) if e.kind == "bore.design"]


def test_before_a_log_the_expected_ground_is_designed_and_kept(run, book, job):
    told = run("T-1").out
    assert "Design from the expected ground" in told and "Will it hold, stage by stage" in told and "Materials" in told and "Cautions" in told
    (kept,) = designs(book, job)
    assert kept.body["basis"] == "expected" and kept.by == "office"


def test_a_log_is_the_default_and_a_dry_run_writes_nothing(run, book, job):
    drilled(book, job)
    book.write(job, "rig.level", {"depth_to_water": 9.0}, by="rig", at=START + timedelta(days=1))
    told = json.loads(run("T-1", "--json", "--dry-run").out)
    assert told["basis"] == "logged" and told["check"]["passes"] is True and not designs(book, job)
    assert json.loads(run("T-1", "--expected", "--json").out)["basis"] == "expected"
    assert [e.body["basis"] for e in designs(book, job)] == ["expected"]


def test_a_design_edited_by_hand_is_reckoned_anew_and_kept_by_hand(run, book, job, tmp_path):
    drilled(book, job)
    book.write(job, "rig.level", {"depth_to_water": 9.0}, by="rig", at=START + timedelta(days=1))
    design = json.loads(run("T-1", "--json", "--dry-run").out)
    before = {(s["stage"], s["string"]): s["factor"] for s in design["stages"]}
    for string in design["strings"]:
        if string["string"] == "production":
            string["wall"] *= 0.5
    file = tmp_path / "edited.json"
    file.write_text(json.dumps(design))
    after = json.loads(run("T-1", "--check", str(file), "--json", code=1).out)
    factors = {(s["stage"], s["string"]): s["factor"] for s in after["stages"]}
    # A thin ring's collapse goes with the cube of its wall over its diameter: half the wall, far under a sixth of the factor.
    assert factors["grouting", "production"] < before["grouting", "production"] / 6
    assert not after["check"]["passes"] and any(a["code"] == "stage-fails" for a in after["advisories"])
    assert [e.body["basis"] for e in designs(book, job)] == ["by hand"]
    assert "does NOT pass" in run("--check", str(file), code=1).out  # no job: checked, kept nowhere
    assert len(designs(book, job)) == 1


@pytest.mark.parametrize(("change", "field"), [
    (lambda d: d["strings"][-1].update(wall=0.2), "wall"),
    (lambda d: d["hole"][0].update(to_depth=500.0), "hole"),
    (lambda d: d["strikes"].append({"depth": 900.0, "flow": 0.001}), "strikes"),
    (lambda d: d["settings"].update(annulus=-0.01), "settings.annulus"),
    (lambda d: d["settings"].update(pack="perhaps"), "settings.pack"),
])
def test_what_cannot_be_built_is_one_line_and_exit_code_2(run, change, field, tmp_path):
    design = json.loads(run("T-1", "--json", "--dry-run").out)
    change(design)
    file = tmp_path / "edited.json"
    file.write_text(json.dumps(design))
    told = run("T-1", "--check", str(file), code=2)
    assert told.err.count("\n") == 1 and field in told.err and not told.out


@pytest.mark.parametrize("words", [(), ("T-1", "--check", "nowhere.json"), ("T-1", "--depth", "40 m", "--logged"), ("T-1", "--expected", "--logged"), ("T-9",)])
def test_words_that_do_not_go_together_are_refused(run, words):
    told = run(*words, code=1 if words == ("T-9",) else 2)
    assert told.err.startswith("borewright: ") and told.err.count("\n") == 1
