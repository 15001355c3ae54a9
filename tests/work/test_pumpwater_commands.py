"""The commands `pump` and `water`: the same answers as the pages, one line and exit code 2 for bad input."""

from __future__ import annotations

import json

import pytest

from borewright.cli.main import main
from borewright.papers.waterreport import value_rows
from tests.work.test_supply import CURVE, SHEET, rate


@pytest.fixture
def home(book, job, tmp_path, monkeypatch):
    rate(book, job)
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    (tmp_path / "lab.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "pump.csv").write_text(CURVE, encoding="utf-8")
    return tmp_path


def test_water_is_judged_and_written_down_where_a_job_is_named(home, book, job, capsys):
    assert main(["water", str(home / "lab.csv"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["use"] == "drinking" and any("Nitrate is above" in s for s in told["exceedances"])
    assert main(["water", str(home / "lab.csv"), "--use", "irrigation"]) == 0
    assert "FAO" in capsys.readouterr().out
    assert main(["water", str(home / "lab.csv"), "--job", "Test paddock", "--by", "me", "--json"]) == 0
    kept = book.job(job).hole.analyses[-1].body
    assert json.loads(capsys.readouterr().out) == kept.assessment and len(kept.values) == 12


def test_the_water_report_finds_the_verdict_under_the_laboratorys_own_name(home, book, job):
    assert main(["water", str(home / "lab.csv"), "--job", "Test paddock", "--by", "me", "--json"]) == 0

    class Plain:
        """Words as they stand, so that only the matching is looked at."""

        def say(self, key, **values):
            return key

        def figures(self, text):
            return text

        told = figures

    folded = book.job(job)
    verdicts = {row[0]: row[3] for row in value_rows(folded.hole.analyses[-1].body, Plain())}
    assert verdicts["Na"] == "above" and verdicts["Cl"] == "above" and verdicts["As"] == "within" and verdicts["Wombatium"] == "–"
    old = folded.hole.analyses[-1].body.model_copy(update={"assessment": {k: v for k, v in folded.hole.analyses[-1].body.assessment.items() if k != "rows"}})
    assert {row[0]: row[3] for row in value_rows(old, Plain())}["Na"] == "–"  # an entry that kept no names is read as it was told


def test_the_pump_is_chosen_from_the_command_line_as_on_the_desk(home, book, job, capsys):
    words = ["pump", "Test paddock", "--curve", str(home / "pump.csv"), "--riser", "polyethylene 50 mm 1600 kPa", "--riser-fittings", "check valve 1", "--main", "PVC-U 50 mm 900 kPa",
             "--main-length", "90 m", "--price", "0.285", "--further-fall", "2 m", "--hours", "6", "--by", "me"]
    assert main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == book.job(job).hole.pump.body.duty and told["pump"]["name"] == "pump" and len(told["moments"]) == 3
    assert [p["inside_diameter"] for p in told["pipes"]] == pytest.approx([0.0408, 0.0456])
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "licensed electrician" in out and "holds" in out and "kWh" in out


def test_guidelines_are_listed_and_chosen_for_a_job(home, book, job, capsys):
    assert main(["water", "--guidelines", "list"]) == 0
    listed = capsys.readouterr().out
    assert "drinking_who" in listed and "irrigation_fao29" in listed and "of 1985" in listed and "2026-11-25" in listed
    assert main(["water", str(home / "lab.csv"), "--job", "Test paddock", "--guidelines", "drinking_who", "--by", "me", "--json"]) == 0
    assert [g["key"] for g in book.job(job).hole.analyses[-1].body.assessment["guidelines"]] == ["drinking_who"]


@pytest.mark.parametrize(("words", "field"), [
    (["water", "{home}/none.csv"], "analysis"), (["water", "{home}/pump.csv"], "analysis"), (["water", "{home}/lab.csv", "--use", "beer"], "use"), (["water", "{home}/lab.csv", "--guidelines", "mine"], "guidelines"),
    (["water", "{home}/lab.csv", "--job", "Test paddock", "--temperature", "18 degC"], "temperature"), (["pump", "Test paddock", "--curve", "{home}/lab.csv"], "pump curve"),
    (["pump", "Test paddock", "--riser", "bamboo 50 mm"], "riser"), (["pump", "Test paddock", "--phases", "2"], "phases"), (["pump", "Test paddock", "--main-length", "9 m"], "main"),
    (["pump", "Test paddock", "--pressure", "3 m"], "pressure"), (["pump", "Test paddock", "--hours", "30"], "hours_a_day"), (["pump", "Test paddock", "--start", "rope"], "start"), (["water"], "analysis"),
    (["water", "{home}/lab.csv", "--job", "Test paddock", "--guidelines", "stock_nsw"], "guidelines"),
])
def test_bad_words_end_with_two_and_one_line(home, capsys, words, field):
    assert main([*(w.replace("{home}", str(home)) for w in words), "--json"]) == 2
    held = capsys.readouterr()
    error = json.loads(held.out)["error"]
    assert error["field"] == field and error["problem"] and error["want"] and len(held.err.strip().splitlines()) == 1
