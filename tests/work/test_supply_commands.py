"""The commands `demand` and `sun`: the answers of the pages, one line and exit code 2 for bad input."""

from __future__ import annotations

import json

import pytest

from borewright.cli.main import main
from borewright.pumping import demand_items
from tests.work.test_supply import CURVE, rate

HOUSE = "person, all household use"
FLAT = "6.8, 6.2, 5.4, 4.2, 3.2, 2.8, 3.0, 3.9, 4.9, 5.8, 6.4, 6.8"


@pytest.fixture
def home(book, job, tmp_path, monkeypatch):
    rate(book, job)
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    (tmp_path / "pump.csv").write_text(CURVE, encoding="utf-8")
    return tmp_path


def test_demand_is_the_answer_that_is_kept(home, book, job, capsys):
    words = ["demand", "Test paddock", "--of", f"{HOUSE}=4", "--of", "horse=2", "--extra", "200 L", "--dry-yield", "70 %", "--tank", "22 kL", "--by", "me"]
    assert main([*words, "--json"]) == 0
    told, kept = json.loads(capsys.readouterr().out), book.job(job).demand.body
    assert told == kept.answer and kept.numbers == {HOUSE: 4.0, "horse": 2.0} and (kept.extra, kept.tank, kept.dry_yield) == pytest.approx((0.2, 22.0, 0.7))
    items = demand_items()
    assert told["high"] == pytest.approx(4 * items[HOUSE].high + 2 * items["horse"].high + 0.2)
    assert told["daily_yield"] == pytest.approx(0.6e-3 * 18 * 3600 * 0.7)  # the invented rating, 18 hours, the share left
    assert main(words) == 0
    out = capsys.readouterr().out
    assert out.startswith(told["sentence"]) and "A tank of 22,000 L goes through the 90 days" in out and "fire" in out


def test_the_lines_of_the_table_are_listed(capsys):
    assert main(["demand", "list", "--json"]) == 0
    assert {row["name"]: (row["low"], row["high"]) for row in json.loads(capsys.readouterr().out)} == {n: (i.low, i.high) for n, i in demand_items().items()}


def test_sun_is_the_answer_that_is_kept(home, book, job, capsys):
    assert main(["sun", "Test paddock", FLAT]) == 2  # no pump is chosen yet
    assert "pump: is not chosen" in capsys.readouterr().err
    assert main(["pump", "Test paddock", "--curve", str(home / "pump.csv"), "--by", "me"]) == 0
    assert main(["demand", "Test paddock", "--of", f"{HOUSE}=4", "--by", "me"]) == 0
    capsys.readouterr()
    assert main(["sun", "Test paddock", FLAT, "--tilt", "35", "--cloudy-days", "5", "--by", "me", "--json"]) == 0
    told, kept = json.loads(capsys.readouterr().out), book.job(job).hole.sun.body
    assert told == kept.answer and kept.tilt == 35.0 and kept.horizontal[0] == pytest.approx(6.8 * 3.6e6)
    assert told["wanted"] == pytest.approx(1.2) and told["tank"] == pytest.approx(6.0) and min(told["daily"]) >= told["wanted"] * (1 - 1e-9)
    megajoules = ", ".join(f"{3.6 * float(v):.4g}" for v in FLAT.split(","))
    assert main(["sun", "Test paddock", megajoules, "--unit", "MJ/m2", "--tilt", "35 deg", "--panel-power", f"{told['panel_power']} W", "--by", "me"]) == 0
    out = capsys.readouterr().out
    assert out.count(" L a day\n") == 12 and "licensed electrician" in out
    assert book.job(job).hole.sun.body.answer["daily"] == pytest.approx(told["daily"], rel=1e-3)


@pytest.mark.parametrize(("words", "field"), [
    (["demand"], "job"), (["demand", "Test paddock"], "numbers"), (["demand", "Test paddock", "--of", "dragon=3"], "numbers"), (["demand", "Test paddock", "--of", "horse"], "of"),
    (["demand", "Test paddock", "--of", "horse=1", "--of", "horse=2"], "of"), (["demand", "Test paddock", "--of", "horse=-1"], "horse"), (["demand", "Test paddock", "--of", "horse=x"], "of"),
    (["demand", "Test paddock", "--of", "horse=1", "--dry-days", "0"], "dry_days"), (["demand", "Test paddock", "--of", "horse=1", "--dry-days", "9.5"], "dry-days"),
    (["demand", "Test paddock", "--of", "horse=1", "--outage-days", "91"], "outage_days"), (["demand", "Test paddock", "--of", "horse=1", "--pumping-hours", "30"], "pumping_hours"),
    (["demand", "Test paddock", "--of", "horse=1", "--tank", "22000"], "tank"), (["demand", "Test paddock", "--of", "horse=1", "--dry-yield", "200 %"], "dry_yield"),
    (["sun", "Test paddock", "6 6 6"], "table"), (["sun", "Test paddock", FLAT.replace("6.8", "99")], "table"), (["sun", "Test paddock", FLAT.replace("3.9", "x")], "table"),
    (["sun", "Test paddock", FLAT, "--unit", "suns"], "unit"), (["sun", "Test paddock", FLAT, "--tilt", "120"], "tilt"), (["sun", "Test paddock", FLAT, "--azimuth", "90"], "tilt"),
    (["sun", "Test paddock", FLAT, "--demand", "1 kL", "--losses", "150 %"], "losses"), (["sun", "Test paddock", FLAT, "--cloudy-days", "99"], "cloudy_days"), (["sun", "Test paddock", FLAT, "--panel-power", "0 W"], "panel_power"),
])
def test_bad_input_is_one_line_and_nothing_is_written(home, book, job, capsys, words, field):
    if words[0] == "sun":
        assert main(["pump", "Test paddock", "--curve", str(home / "pump.csv"), "--by", "me"]) == 0
        capsys.readouterr()
    before = len(book.entries(job))
    assert main(words) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"borewright: {field}: ") and said.count("\n") == 1
    assert len(book.entries(job)) == before
