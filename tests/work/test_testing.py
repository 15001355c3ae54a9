"""Fitting and rating over a job book: what a recovery's times mean, what an airlift alone is worth, what is missing is said."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from scipy.special import exp1

from borewright.errors import BadInput
from borewright.work.pump import choose
from borewright.work.testing import fit_run, intake_guard_of, rate_job
from borewright.work.water import judge
from tests.work.conftest import START

RATE, T, S, RADIUS = 0.4e-3, 6.0 / 86400, 3e-4, 0.08
LATER = START + timedelta(days=2)


def theis(time):
    """Theis by SciPy's exponential integral, apart from the program's own well function."""
    return RATE / (4 * np.pi * T) * exp1(RADIUS**2 * S / (4 * T * np.maximum(time, 1e-9)))


def bore(book, job):
    book.write_all(job, [
        ("rig.hole_started", {}), ("rig.bit", {"diameter": 2 * RADIUS}), ("rig.ground", {"from_depth": 0.0, "to_depth": 60.0, "words": "granite"}),
        ("rig.advanced", {"to_depth": 60.0}), ("rig.struck", {"depth": 48.0}), ("rig.level", {"depth_to_water": 8.0}),
        ("rig.casing", {"string": "production", "from_depth": 45.0, "to_depth": 57.0, "outside_diameter": 0.125, "wall": 0.007, "slotted": True}),
    ], by="rig", at=START)


def pumped(book, job, *, recovery=False, duration=6 * 3600.0):
    time = np.geomspace(60.0, duration, 30)
    drawdown = theis(duration + time) - theis(time) if recovery else theis(time)
    kind = "recovery" if recovery else "constant rate"
    book.write(job, "test.run", {"run": kind, "type": kind, "rate": RATE, "duration": duration, "static_level": 8.0, "radius": RADIUS}, by="rig", at=LATER)
    book.write(job, "test.levels", {"run": kind, "time": [float(t) for t in time], "drawdown": [float(s) for s in drawdown]}, by="rig", at=LATER)
    return kind


@pytest.mark.parametrize("recovery", [False, True])
def test_a_run_gives_back_the_transmissivity_it_was_drawn_from(book, job, recovery):
    bore(book, job)
    run = pumped(book, job, recovery=recovery)
    result = fit_run(book, job, run, by="office", at=LATER).body["result"]
    best = next(f for f in result["fits"] if f["solution"] == result["best"])
    assert best["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(6.0, rel=0.01)
    curve = best["curve"]
    # The curve kept for the report counts time as the readings do: from the start of the run, or from the stop for a recovery.
    truth = theis(6 * 3600.0 + np.array(curve["time_s"])) - theis(np.array(curve["time_s"])) if recovery else theis(np.array(curve["time_s"]))
    assert np.allclose(curve["drawdown_m"], truth, rtol=0.01, atol=0.01)


def test_a_recovery_without_its_pumping_time_is_refused_by_name(book, job):
    bore(book, job)
    book.write(job, "test.run", {"run": "r", "type": "recovery", "rate": RATE}, by="rig", at=LATER)
    book.write(job, "test.levels", {"run": "r", "time": [60.0, 120.0, 300.0, 600.0], "drawdown": [3.0, 2.0, 1.5, 1.0]}, by="rig", at=LATER)
    with pytest.raises(BadInput) as caught:
        fit_run(book, job, "r", by="office")
    assert caught.value.field == "duration"
    with pytest.raises(BadInput, match="run: is not a test of this hole"):
        fit_run(book, job, "nowhere", by="office")


def test_an_airlift_alone_gives_a_wide_band_and_says_so(book, job):
    bore(book, job)
    with pytest.raises(BadInput, match="test: with levels is not recorded"):
        rate_job(book, job, by="office")
    for minutes in (20, 40, 60):
        book.write(job, "rig.airlift", {"elapsed": 60.0 * minutes, "flow": RATE}, by="rig", at=LATER)
    airlifted = rate_job(book, job, by="office", at=LATER).body["rating"]
    assert airlifted["high"] / max(airlifted["low"], 1e-9) > 10
    assert "airlift-only" in {a["code"] for a in airlifted["advisories"]}
    pumped(book, job)
    tested = rate_job(book, job, by="office", at=LATER).body["rating"]
    assert tested["high"] / tested["low"] < airlifted["high"] / max(airlifted["low"], 1e-9)
    assert tested["guard_depth"] == intake_guard_of(book.job(job).hole) == 44.0


def test_the_pump_needs_a_rating_and_serves_the_need(book, job):
    bore(book, job)
    with pytest.raises(BadInput, match="rating: is not made"):
        choose(book, job, by="office")
    pumped(book, job)
    rate_job(book, job, by="office", at=LATER)
    body = choose(book, job, by="office", at=LATER).body
    assert body["duty"]["flow"] >= book.job(job).need.body.flow * 0.99
    assert body["intake_depth"] <= 45.0  # above the slots
    assert any("electrician" in a["message"] for a in body["duty"]["advisories"])


def test_water_is_judged_and_the_laboratorys_figures_stay_as_they_came(book, job):
    bore(book, job)
    rows = [{"name": "arsenic", "value": 0.02, "unit": "mg/L"}, {"name": "iron", "value": 0.05, "unit": "mg/L", "below_detection": True}]
    body = judge(book, job, rows, use="drinking", by="office").body
    assert [v["name"] for v in body["values"]] == ["arsenic", "iron"]
    assert any("rsenic" in sentence and "above" in sentence for sentence in body["assessment"]["exceedances"])
    assert not any("iron" in sentence.lower() for sentence in body["assessment"]["exceedances"])
    with pytest.raises(BadInput, match="nitrate form"):
        judge(book, job, [{"name": "nitrate", "value": 10, "unit": "mg/L"}], use="drinking", by="office")
