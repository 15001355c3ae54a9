"""Runs of one pumping fitted together, and what that changes; every test is simulated with its truth known (invented)."""

from __future__ import annotations

from uuid import UUID

import numpy as np
import pytest

from borewright.errors import BadInput
from borewright.hydraulics import PartOpen, drawdown, partial_drawdown
from borewright.hydraulics.solutions import MANY_PUMPED
from borewright.record.bodies import read_body
from borewright.storage import open_job_book
from borewright.work.enquiry import open_job
from borewright.work.joint import fit_together, keep_fit, kept_part, si_holds
from borewright.work.runs import runs_together
from borewright.work.testing import fit_run, rate_job

T, S, RATE, PUMPED = 12.0 / 86400.0, 3e-4, 0.6e-3, 6 * 3600.0


def level(time, radius, *, stop=PUMPED):
    at = np.asarray(time, dtype=float)
    on = drawdown(at, radius, rate=RATE, transmissivity=T, storativity=S)
    off = np.zeros_like(at)
    late = at > stop
    off[late] = drawdown(at[late] - stop, radius, rate=RATE, transmissivity=T, storativity=S)
    return on - off


@pytest.fixture
def book(tmp_path):
    with open_job_book(tmp_path / "home") as opened:
        yield opened


@pytest.fixture
def job(book) -> UUID:
    """A bore pumped for six hours and watched for four, read in itself and in a bore 25 m off; 1 cm of noise."""
    rng = np.random.default_rng(4)
    job = open_job(book, "Joint (invented)", by="t", need={"flow": 0.3e-3})
    write = lambda kind, body: book.write(job, kind, body, by="t")
    write("rig.bit", {"diameter": 0.165})
    write("rig.advanced", {"to_depth": 60.0})
    write("rig.level", {"depth_to_water": 8.0})
    during, after = np.geomspace(60, PUMPED, 30), np.geomspace(60, 4 * 3600.0, 26)
    noise = lambda n: 0.01 * rng.standard_normal(n)
    for run, kind, time, shift in (("constant", "constant rate", during, 0.0), ("recovery", "recovery", after, PUMPED)):
        write("test.run", {"run": run, "type": kind, "rate": RATE, "duration": PUMPED})
        write("test.levels", {"run": run, "time": list(time), "drawdown": list(level(time + shift, 0.0825) + noise(time.size))})
    write("test.run", {"run": "far bore", "type": "constant rate", "rate": RATE, "duration": PUMPED, "well": "far", "radius": 25.0})
    write("test.levels", {"run": "far bore", "well": "far", "time": list(during), "drawdown": list(level(during, 25.0) + noise(during.size))})
    return job


def test_the_runs_of_one_pumping_find_each_other_and_a_second_test_stays_apart(book, job):
    hole = book.job(job).hole
    assert [t.run.body.run for t in runs_together(hole, "recovery")] == ["constant", "far bore", "recovery"]
    book.write(job, "test.run", {"run": "constant 2", "type": "constant rate", "rate": RATE, "duration": PUMPED}, by="t")
    book.write(job, "test.levels", {"run": "constant 2", "time": [60, 120], "drawdown": [1.0, 1.1]}, by="t")
    hole = book.job(job).hole
    assert [t.run.body.run for t in runs_together(hole, "constant 2")] == ["constant 2"]
    assert "constant 2" not in [t.run.body.run for t in runs_together(hole, "constant")]


def test_a_joint_fit_holds_the_truth_and_is_narrower_than_either_alone(book, job):
    hole = book.job(job).hole
    joint = fit_together(hole, "constant", solutions=["theis"])
    both = joint.fit.leading.parameters
    assert both["transmissivity"].low < T < both["transmissivity"].high
    assert both["storativity"].low < S < both["storativity"].high, "a second bore gives the storage that the pumped bore cannot"
    assert {one.well for one in joint.fit.levels} == {"pumped", "far"} and joint.runs == ("constant", "far bore", "recovery")
    width = lambda e: e.high / e.low
    for run in ("constant", "recovery"):
        alone = fit_together(hole, run, alone=True, solutions=["theis"]).fit.leading.parameters["transmissivity"]
        assert width(both["transmissivity"]) < width(alone)


def test_the_recovery_alone_is_fitted_by_its_own_clock(book, job):
    fit_run(book, job, "recovery", by="t")
    result = book.job(job).hole.tests["recovery"].fitted.body.result
    value = next(f for f in result["fits"] if f["solution"] == "theis")["parameters"]["transmissivity_m2_per_d"]["value"]
    assert value == pytest.approx(T * 86400, rel=0.03)
    curve = next(f for f in result["fits"] if "curve" in f)["curve"]
    assert curve["time_s"][0] == pytest.approx(60.0) and curve["time_s"][-1] == pytest.approx(4 * 3600.0)
    assert curve["drawdown_m"][-1] == pytest.approx(float(level([PUMPED + 4 * 3600.0], 0.0825)[0]), abs=0.03)


def test_what_is_held_and_chosen_is_kept_for_every_run_and_the_rating_keeps_to_it(book, job):
    before = rate_job(book, job, by="t").body["rating"]
    assert before["rests_on"] == ["constant", "far bore", "recovery"]
    entries = keep_fit(book, job, "constant", by="t", chosen="theis", hold=si_holds({"transmissivity_m2_per_d": 6.0}), why="the neighbour's log")
    assert len(entries) == 3
    for run in ("constant", "recovery", "far bore"):
        result = book.job(job).hole.tests[run].fitted.body.result
        assert result["held"] == {"transmissivity_m2_per_d": pytest.approx(6.0)} and result["best"] == "theis" and result["why"] == "the neighbour's log"
        assert len(result["together"]) == 3
    after = rate_job(book, job, by="t").body["rating"]
    assert any(a["code"] == "by-hand" for a in after["advisories"]) and not any(a["code"] == "by-hand" for a in before["advisories"])
    assert after["horizons"][-1]["middle"] < 0.8 * before["horizons"][-1]["middle"], "half the transmissivity held must lower what lasts"


def test_runs_that_do_not_go_together_are_doubted(book, job):
    rng = np.random.default_rng(1)
    after = np.geomspace(60, 4 * 3600.0, 26)
    entry = next(e for e, _ in book.job(job).history if e.kind == "test.levels" and e.body["run"] == "recovery")
    book.write(job, "struck_out", {"why": "to try"}, by="t", strikes_out=entry.id)
    book.write(job, "test.levels", {"run": "recovery", "time": list(after), "drawdown": list(0.4 * level(after + PUMPED, 0.0825) + 0.005 * rng.standard_normal(26))}, by="t")
    assert [a.code for a in fit_together(book.job(job).hole, "constant").advisories] == ["runs-differ"]


@pytest.mark.parametrize(("change", "field"), [
    ({"run": "constant", "solutions": ["hopeful"]}, "solution"), ({"run": "nowhere"}, "run"), ({"run": "constant", "hold": {"transmissivity": -1.0}}, "transmissivity"),
])
def test_what_cannot_be_is_refused(book, job, change, field):
    with pytest.raises(BadInput) as trouble:
        fit_together(book.job(job).hole, **change)
    assert trouble.value.field == field


def test_a_bore_read_without_its_distance_is_asked_for(book, job):
    book.write(job, "test.levels", {"run": "constant", "well": "shed bore", "time": [60.0, 600.0], "drawdown": [0.1, 0.2]}, by="t")
    with pytest.raises(BadInput, match="distance") as trouble:
        fit_together(book.job(job).hole, "constant")
    assert trouble.value.field == "radius"


def test_a_step_run_tells_losses_efficiency_and_the_critical_flow(book, job):
    """Truth: s = sum of Theis steps + 2.0e6 Q2, well inside what three steps show."""
    loss = 2.0e6
    steps = [(0.0, 0.3e-3), (3600.0, 0.6e-3), (7200.0, 0.9e-3)]
    time = np.concatenate([start + np.geomspace(60, 3600, 15) for start, _ in steps])
    total, before = np.zeros_like(time), 0.0
    for start, rate in steps:
        on = time > start
        total[on] += drawdown(time[on] - start, 0.0825, rate=rate - before, transmissivity=T, storativity=S)
        before = rate
    at = np.searchsorted([s for s, _ in steps], time, side="left") - 1
    total += loss * np.array([steps[i][1] for i in at]) ** 2
    book.write(job, "test.run", {"run": "steps", "type": "step", "steps": steps}, by="t")
    book.write(job, "test.levels", {"run": "steps", "time": list(time), "drawdown": list(total)}, by="t")
    fit_run(book, job, "steps", by="t")
    result = book.job(job).hole.tests["steps"].fitted.body.result
    assert result["steps"]["well_loss_si"]["value"] == pytest.approx(loss, rel=0.02)
    assert [s["efficiency"] for s in result["steps"]["steps"]] == sorted((s["efficiency"] for s in result["steps"]["steps"]), reverse=True)
    aquifer = result["steps"]["aquifer_loss_s_per_m2"]["value"]
    assert result["critical_flow_m3_per_s"] == pytest.approx(aquifer / result["steps"]["well_loss_si"]["value"])
    assert "half of the drawdown is lost at the bore" in result["sentence"]
    rating = rate_job(book, job, by="t").body["rating"]
    assert not any(a["code"] == "loss-guessed" for a in rating["advisories"]), "the step run's loss is taken into the rating"


def test_a_slug_run_is_read_by_every_method_that_its_geometry_allows(book, job):
    """Truth by Hvorslev's own formula: K = r2 ln(L/R) / (2 L T0), which each straight-line method must come near."""
    conductivity, casing, radius, length = 2e-5, 0.05, 0.0825, 6.0
    lag = casing**2 * np.log(length / radius) / (2 * length * conductivity)
    time = np.linspace(1, 3 * lag, 40)
    book.write(job, "test.run", {"run": "slug", "type": "slug"}, by="t")
    book.write(job, "test.levels", {"run": "slug", "time": list(time), "drawdown": list(1.2 * np.exp(-time / lag))}, by="t")
    fit_run(book, job, "slug", by="t", slug={"casing_radius": casing, "screen_length": length})
    result = book.job(job).hole.tests["slug"].fitted.body.result
    by_method = {r["method"]: r for r in result["slug"]}
    assert by_method["hvorslev"]["hydraulic_conductivity_m_per_s"]["value"] == pytest.approx(conductivity, rel=1e-6)
    assert 0.4 < by_method["bouwer-rice"]["hydraulic_conductivity_m_per_s"]["value"] / conductivity < 1.1
    assert result["geometry"]["screen_radius"] == pytest.approx(radius) and result["best"] == "bouwer-rice"


def test_what_a_fit_keeps_for_its_plots_is_the_ground_and_is_drawn_on_the_report(book, job):
    """The slope of radial flow is Q/(4 pi T) while pumping and in equivalent time; the paper draws it from the entries alone."""
    from borewright.papers import paper_data
    from borewright.storage import Settings
    from borewright.work.joint import looks_of

    together = fit_together(book.job(job).hole, "constant")
    for run in ("constant", "recovery"):
        looks = looks_of(together, run, "theis")
        assert looks["recovery"] is (run == "recovery")
        for key in ("slope_m", "fit_slope_m"):
            assert np.median(looks[key]) == pytest.approx(RATE / (4 * np.pi * T), rel=0.08), (run, key)
        assert np.std(looks["residual_m"]) == pytest.approx(0.01, rel=0.5)
    assert looks["ratio"] == pytest.approx([(t + PUMPED) / t for t in looks["time_s"]])
    keep_fit(book, job, "constant", by="t")
    rate_job(book, job, by="t")
    blocks = paper_data(book.job(job), "test report", settings=Settings())["blocks"]
    captions = [b["caption"] for b in blocks if b["kind"] == "picture"]
    for words in ("The flow to rely on by how long it is pumped", "Drawdown and its slope on log scales", "Residual drawdown by time since the start"):
        assert sum(c.startswith(words) for c in captions) >= 1, captions
    assert sum("minutes since the pump stopped" in b["svg"] for b in blocks if b["kind"] == "picture") == 1


def test_a_step_run_keeps_no_slope_and_is_drawn_by_flow(book, job):
    from borewright.papers import paper_data
    from borewright.storage import Settings

    steps = [(k * 3600.0, q) for k, q in enumerate((2e-4, 4e-4, 6e-4))]
    time = np.concatenate([k * 3600.0 + np.geomspace(90, 3590, 12) for k in range(3)])
    rates = np.array([q for _, q in steps])
    fall = sum(np.where(time > a, drawdown(np.maximum(time - a, 1e-6), 0.0825, rate=dq, transmissivity=T, storativity=S), 0.0) for (a, _), dq in zip(steps, np.diff([0, *rates]), strict=True))
    loss = 4e6
    fall = fall + loss * rates[np.minimum(time // 3600, 2).astype(int)] ** 2
    book.write(job, "test.run", {"run": "steps", "type": "step", "steps": steps, "duration": 3 * 3600.0}, by="t")
    book.write(job, "test.levels", {"run": "steps", "time": time.tolist(), "drawdown": fall.tolist()}, by="t")
    result = fit_run(book, job, "steps", by="t").body["result"]
    assert "slope_m" not in result["looks"]
    curve, rows = result["steps"]["curve"], result["steps"]["steps"]
    for row in rows:
        assert row["read_m"] == pytest.approx(row["drawdown_m"], abs=0.03)
        q = row["rate_m3_per_s"]
        lost = np.interp(q, curve["rate_m3_per_s"], curve["drawdown_m"]) - np.interp(q, curve["rate_m3_per_s"], curve["aquifer_m"])
        assert lost == pytest.approx(loss * q**2, rel=0.1), "what lies below the broken line is the loss at the bore"
    blocks = paper_data(book.job(job), "test report", settings=Settings())["blocks"]
    assert sum(b["kind"] == "picture" and b["caption"].startswith("Drawdown by flow") for b in blocks) == 1


PART = {"thickness": 40.0, "screen": (5.0, 15.0), "anisotropy": 0.2}


@pytest.fixture
def partly(book) -> UUID:
    """A bore open to ten of forty metres, read in itself and 8 m off over another part (invented); 5 mm of noise."""
    rng = np.random.default_rng(8)
    job = open_job(book, "Partly (invented)", by="t")
    write = lambda kind, body: book.write(job, kind, body, by="t")
    write("rig.bit", {"diameter": 0.2})
    write("rig.level", {"depth_to_water": 8.0})
    time = np.geomspace(60, 1e5, 50)
    for run, well, radius, seen in (("constant", "pumped", 0.1, PART["screen"]), ("near", "P8", 8.0, (20.0, 30.0))):
        fall = partial_drawdown(time, radius=radius, rate=RATE, transmissivity=T, storativity=S, observed=seen, **PART)
        write("test.run", {"run": run, "type": "constant rate", "rate": RATE, "duration": 1e5, "well": well} | ({} if run == "constant" else {"radius": radius}))
        write("test.levels", {"run": run, "well": well, "time": list(time), "drawdown": list(fall + 0.005 * rng.standard_normal(time.size))})
    return job


def test_a_bore_open_to_part_of_the_aquifer_is_kept_with_its_fit_and_rated_by_it(book, partly):
    hole = book.job(partly).hole
    asked = {"part_open": PartOpen(PART["thickness"], PART["screen"], PART["anisotropy"]), "observed": {"P8": (20.0, 30.0)}}
    told = fit_together(hole, "constant", **asked).fit
    found = told.leading.parameters["transmissivity"]
    assert told.best == "theis" and found.low < T < found.high
    assert next(a for a in told.advisories if a.code == "part-open").severity == "note"
    whole = fit_together(hole, "constant", solutions=["theis"]).fit.leading
    assert whole.rmse > 5 * told.leading.rmse, "open to the whole aquifer does not fit both bores"
    keep_fit(book, partly, "constant", by="t", **asked)
    kept = book.job(partly).hole.tests["constant"].fitted.body.result
    assert kept["part_open"]["thickness_m"] == 40.0
    assert kept_part(kept) == asked
    rated = rate_job(book, partly, by="t", guard_depth=26.0).body["rating"]
    ten_years = partial_drawdown(10 * 365.25 * 86400, radius=0.1, rate=1.0, transmissivity=T, storativity=S, observed=PART["screen"], **PART)
    row = next(r for r in rated["horizons"] if r["name"] == "10 years")
    # The simulated bore has no loss of its own while a rating allows for some: the truth stands at the upper edge.
    assert row["low"] < (26.0 - 8.0) / ten_years < 1.03 * row["high"]
    assert row["low"] > 0.7 * (26.0 - 8.0) / ten_years
    with pytest.raises(BadInput, match="not a bore that was read"):
        fit_together(hole, "constant", part_open=asked["part_open"], observed={"P9": (1.0, 2.0)})


def test_another_bore_that_pumped_is_counted(book):
    """The other bore began before and stops in between; distances to the pumped bore and to the one beside it (invented)."""
    rng = np.random.default_rng(2)
    time = np.geomspace(60, 6e4, 60)
    steps = [(-7200.0, 1.0e-3), (20000.0, 0.0)]

    def with_other(own, other):
        fall = drawdown(time, own, rate=RATE, transmissivity=T, storativity=S)
        for (start, rate), before in zip(steps, (0.0, steps[0][1]), strict=True):
            fall = fall + drawdown(time - start, other, rate=rate - before, transmissivity=T, storativity=S)
        return list(fall + 0.005 * rng.standard_normal(time.size))

    job = open_job(book, "Two pumps (invented)", by="t")
    write = lambda kind, body: book.write(job, kind, body, by="t")
    write("rig.bit", {"diameter": 0.2})
    other = {"name": "House bore", "steps": steps, "distance": 60.0, "distances": {"P20": 45.0}}
    write("test.run", {"run": "constant", "type": "constant rate", "rate": RATE, "duration": 6e4, "also_pumped": [other]})
    write("test.levels", {"run": "constant", "time": list(time), "drawdown": with_other(0.1, 60.0)})
    write("test.levels", {"run": "constant", "well": "P20", "radius": 20.0, "time": list(time), "drawdown": with_other(20.0, 45.0)})
    told = fit_together(book.job(job).hole, "constant")
    theis = next(f for f in told.fit.fits if f.solution == "theis")
    for name, true in (("transmissivity", T), ("storativity", S)):
        assert theis.parameters[name].low < true < theis.parameters[name].high
    assert theis.rmse < 0.007 and {f.solution for f in told.fit.fits} <= set(MANY_PUMPED)
    fit_run(book, job, "constant", by="t")
    assert book.job(job).hole.tests["constant"].fitted.body.result["also_pumped"][0]["bore"] == "House bore"
    book.write(job, "test.levels", {"run": "constant", "well": "P90", "radius": 90.0, "time": [60.0], "drawdown": [0.1]}, by="t")
    with pytest.raises(BadInput, match="no distance from House bore"):
        fit_together(book.job(job).hole, "constant")


def test_a_run_of_the_first_format_still_loads():
    old = {"run": "constant", "type": "constant rate", "rate": 5e-4, "duration": 3600.0, "typed": {"rate": "0.5 L/s"}}
    now = read_body("test.run", 1, old)
    assert now is not None and now.also_pumped == () and now.rate == 5e-4
