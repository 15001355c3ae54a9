"""What a register's own track record found is said with each answer, whichever way it went."""

import json

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.demo.district import Recipe, make_district
from borewright.siting import Register, joined, load_register, odds_at, open_register, prove
from borewright.work.trackrecord import first_record

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
    # The customer's sentence then leads with the plain share, and says what the spot's own figure is worth.
    sentence = odds_at(register, -29.9, 20.1, need=0.25e-3, depths=[50.0]).sentence
    assert sentence.startswith(f"Of the {proof.bores} bores of this register whose yield is known, about {round(10 * proof.share)} in 10 had enough.")
    assert "by 50 m" in sentence and "no closer than the plain share" in sentence
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


def test_a_register_loaded_by_command_has_its_record_at_once(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    paths = make_district(Recipe(seed=31, bores=200)).write(tmp_path / "csv")
    assert main(["register", "load", str(paths["bores"]), "--name", "invented", "--strikes", str(paths["strikes"]), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)["track_record"]
    assert record["bores"] == 200 and record["need_lps"] == pytest.approx(0.25)
    assert record["better"] == (record["brier"] < record["brier_base"] and record["log_score"] < record["log_score_base"])
    register = open_register("invented")
    (told,) = said(register, at=(-38.5, -18.25))
    # The firm's own few bores counted in do not silence it.
    own = register.subset(np.arange(len(register)) < 12)
    assert said(joined(register, own), at=(-38.5, -18.25)) == [told]


def test_a_register_too_thin_or_too_large_has_none_until_asked(tmp_path, monkeypatch):
    paths = make_district(Recipe(seed=31, bores=60)).write(tmp_path / "csv")
    load_register(paths["bores"], name="invented", folder=tmp_path)
    monkeypatch.setattr("borewright.work.trackrecord._MOST", 59)
    assert first_record("invented", tmp_path) is None
    monkeypatch.undo()
    assert first_record("invented", tmp_path).bores > 40
    thin = make_district(Recipe(seed=31, bores=20)).write(tmp_path / "thin")
    load_register(thin["bores"], name="thin", folder=tmp_path)
    assert first_record("thin", tmp_path) is None
