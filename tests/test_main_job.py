"""The main job end to end at the command line: both demo jobs on a fresh home, their papers, and what must hold between them."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from pypdf import PdfReader
from scipy.special import exp1

pytestmark = pytest.mark.slow


def borewright(home, *words, code=0):
    ran = subprocess.run(
        [sys.executable, "-m", "borewright.cli.main", *map(str, words)], capture_output=True, text=True, encoding="utf-8",
        env={**os.environ, "BOREWRIGHT_HOME": str(home), "PYTHONUTF8": "1"}, timeout=600,
    )
    assert ran.returncode == code, ran.stderr
    return ran


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    home, out = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("papers")
    summary = json.loads(borewright(home, "demo", "--out", out, "--json").stdout)
    return home, out, summary


def job(home, reference):
    from borewright.storage import open_job_book

    with open_job_book(home) as book:
        return book.job(book.find(reference))


def test_one_job_finds_water_and_one_is_sealed(demo):
    home, _, summary = demo
    assert [j["reference"] for j in summary["jobs"]] == ["DEMO-LOT-7", "DEMO-SCHOOL-ROAD"]
    found, failed = job(home, "DEMO-LOT-7"), job(home, "DEMO-SCHOOL-ROAD")
    assert (found.outcome, failed.outcome) == ("water", "no water")
    assert found.hole.last_flow.body.flow >= found.need.body.flow > failed.hole.last_flow.body.flow
    assert found.hole.rated and found.hole.pump and found.hole.analyses and failed.hole.sealed_off
    assert all("invented" in j["title"] for j in summary["jobs"])


def test_the_crew_stopped_where_the_rig_card_said(demo):
    from borewright.pricing import what_now_from_table

    for reference, action in (("DEMO-LOT-7", "complete"), ("DEMO-SCHOOL-ROAD", "give up")):
        it = job(demo[0], reference)
        hole, table = it.hole, it.quote.body.content["table"]
        assert what_now_from_table(table, hole.depth, hole.last_flow.body.flow, len(hole.strikes)).action == action
        flows = [(f.body.depth, f.body.flow) for f in hole.flows]
        for depth, flow in flows[:-1]:
            strikes = sum(s.body.depth <= depth for s in hole.strikes)
            if depth > max(c.body.to_depth for c in hole.casings if c.body.string == "conductor"):
                assert what_now_from_table(table, depth, flow, strikes).action == "drill"


def test_the_promise_is_priced_at_what_dry_holes_cost(demo):
    for reference in ("DEMO-LOT-7", "DEMO-SCHOOL-ROAD"):
        content = job(demo[0], reference).quote.body.content
        promise = content["promise"]
        assert promise["expected_loss"] == pytest.approx(promise["chance_dry"] * promise["loss_when_dry"], abs=1.0)
        assert promise["price"] * (1 - promise["chance_dry"]) >= 0.5 * promise["expected_loss"]
        assert content["chance_no_usable_water"] == pytest.approx(promise["chance_dry"], abs=0.03)


def test_every_string_holds_at_every_stage_and_the_slots_take_the_main_strike(demo):
    it = job(demo[0], "DEMO-LOT-7")
    design = it.design.body.design
    assert it.design.body.basis == "logged"
    assert all(row["factor"] >= row["required"] for row in design["stages"])
    main = max(it.hole.strike_yields(), key=lambda s: s[1] or 0)[0]
    assert any(c.body.slotted and c.body.from_depth <= main <= c.body.to_depth for c in it.hole.casings)


def test_the_fit_finds_the_hidden_aquifer_and_the_rating_lasts_in_it(demo):
    """The test was drawn from T = 9 m2/d, S = 2e-4, a loss of 1.5/(2 pi T) Q at the bore, and noise of 1 cm (demo/jobs.py; invented)."""
    hole = job(demo[0], "DEMO-LOT-7").hole
    for run in ("constant 1", "recovery 1"):
        result = hole.tests[run].fitted.body.result
        best = next(f for f in result["fits"] if f["solution"] == result["best"])
        assert best["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(9.0, rel=0.01)
    # Ten years at the rated yield in the true aquifer, by SciPy's exponential integral: the level stays above the guard.
    rating = hole.rated.body.rating
    transmissivity, storativity, radius, skin = 9.0 / 86400, 2.0e-4, 0.0825, 1.5
    drawdown = rating["flow"] / (4 * np.pi * transmissivity) * (exp1(radius**2 * storativity / (4 * transmissivity * 3.156e8)) + 2 * skin)
    assert rating["static_level"] + drawdown < rating["guard_depth"]


def test_the_papers_are_there_and_carry_the_figures(demo):
    home, out, summary = demo
    assert len(summary["papers"]) == 12
    texts = {}
    for name in summary["papers"]:
        reader = PdfReader(out / name)
        width, height = (float(v) for v in reader.pages[0].mediabox[2:])
        assert (round(width), round(height)) == (595, 842)
        texts[name] = " ".join(page.extract_text() for page in reader.pages).replace("\xa0", " ")
        assert "INVENTED" in texts[name].upper()
    record = next(t for n, t in texts.items() if "lot-7-bore-record" in n)
    hole = job(home, "DEMO-LOT-7").hole
    for strike in hole.strikes:
        assert f"{strike.body.depth:g} m" in record
    assert len(PdfReader(out / "demo-lot-7" / "demo-lot-7-bore-record-a4.pdf").pages) == 1
    sealed = next(t for n, t in texts.items() if "school-road-bore-record" in n)
    assert "sealed" in sealed.lower()


def test_a_second_run_adds_nothing_to_the_jobs_and_the_book_checks_out(demo):
    home, out, _ = demo
    before = len(job(home, "DEMO-LOT-7").history)
    borewright(home, "demo", "--out", out, "--paper", "Letter")
    assert len(job(home, "DEMO-LOT-7").history) == before
    assert borewright(home, "check").returncode == 0


def test_bad_input_at_the_command_line_is_one_line_and_exit_code_two(demo):
    home = demo[0]
    for words in (
        ("odds", "--register", "orrin-vale", "--at", "-38.46,-18.22", "--need", "15 gal/min"),
        ("odds", "--register", "orrin-vale", "--at", "north", "--need", "15 L/min"),
        ("quote", "DEMO-LOT-7", "--contract", "per-metre", "--price", "10"),
        ("bench", "v-notch-flow", "heads=-52 mm"),
        ("nonsense",),
    ):
        ran = borewright(home, *words, code=2)
        assert len(ran.stderr.strip().splitlines()) == 1 and "want" in ran.stderr
