"""What a register's own track record found is said with each answer, whichever way it went."""

import json

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.demo.district import Recipe, make_district
from borewright.siting import Register, load_register, odds_at, open_register, prove

from .test_odds import arrays


def said(register, need=0.25e-3, at=(-29.9, 20.1)):
    return [a for a in odds_at(register, *at, need=need, depths=[50.0]).advisories if a.code.startswith("record-")]


def test_a_record_that_did_not_beat_the_base_rate_is_said_with_each_answer():
    # Yields that neither place nor depth tells of.
    register = Register.of("x", **{**arrays(240, seed=12), "depth": np.full(240, 60.0)})
    assert said(register) == []
    proof = prove(register, need=0.25e-3)
    assert proof.brier_alone >= proof.brier_base or proof.log_score_alone >= proof.log_score_base
    (told,) = said(register)
    assert told.code == "record-no-better" and told.severity == "doubt" and "have not beaten the base rate" in told.message
    assert f"{100 * proof.share:.0f} in 100" in told.message and f"{proof.log_score_alone:.3f} against {proof.log_score_base:.3f}" in told.message
    assert said(register, need=0.35e-3) == [told] and said(register, need=0.6e-3) == []  # of a need much like it, not of another


def test_the_record_is_kept_beside_the_register_until_it_is_loaded_anew(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    paths = make_district(Recipe(seed=31, bores=200)).write(tmp_path / "csv")
    load_register(paths["bores"], name="invented", strikes=paths["strikes"])
    at = (-38.5, -18.25)
    before = open_register("invented")
    assert said(before, at=at) == []
    assert main(["register", "prove", "invented", "--need", "0.25 L/s", "--json"]) == 0
    proof = json.loads(capsys.readouterr().out)
    better = proof["brier_alone"] < proof["brier_base"] and proof["log_score_alone"] < proof["log_score_base"]
    for register in (before, open_register("invented")):  # one that was open already sees it too
        assert [a.code for a in said(register, at=at)] == ["record-better" if better else "record-no-better"]
    assert main(["odds", "--register", "invented", "--at=-38.5,-18.25", "--need", "15 L/min"]) == 0
    assert "This register's own track record (200 bores" in capsys.readouterr().out
    load_register(paths["bores"], name="invented")
    assert said(open_register("invented"), at=at) == []


@pytest.mark.parametrize("text", ["", "[]", '{"loaded": 1, "records": []}', '{"records": 3}'])
def test_a_record_that_cannot_be_read_says_nothing(tmp_path, text):
    paths = make_district(Recipe(seed=31, bores=60)).write(tmp_path / "csv")
    load_register(paths["bores"], name="invented", folder=tmp_path)
    (tmp_path / "invented" / "record.json").write_text(text)
    assert said(open_register("invented", tmp_path), at=(-38.5, -18.25)) == []
