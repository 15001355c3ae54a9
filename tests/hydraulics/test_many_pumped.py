"""Several bores that pump: drawdowns add up, and one ground is told from all of them together."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright import hydraulics as h
from borewright.cli.main import main
from borewright.errors import BadInput

T, S = 2e-3, 3e-4
PLACES = {"B1": (0.0, 0.0), "B2": (120.0, 30.0), "B3": (-80.0, 200.0), "P1": (40.0, 10.0), "P2": (60.0, -70.0)}
RATES = {"B1": h.rate_steps([(0.0, 4e-3), (30000.0, 0.0)]), "B2": h.rate_steps([(-20000.0, 2e-3), (50000.0, 3e-3)]), "B3": h.rate_steps([(10000.0, 5e-3), (60000.0, 0.0)])}
TIME = np.geomspace(60, 9e4, 90)


def apart(one, other):
    return float(np.hypot(*(a - b for a, b in zip(PLACES[one], PLACES[other], strict=True))))


def summed(time, well, response, bores=tuple(PLACES)[:3]):
    """Return the drawdown of several bores as a sum over rate changes, by hand."""
    total = np.zeros(np.shape(time))
    for bore in bores:
        before = 0.0
        for start, rate in zip(RATES[bore].starts, RATES[bore].rates, strict=True):
            total += (rate - before) * np.array([response(t - start, max(apart(bore, well), 0.1)) if t > start else 0.0 for t in time])
            before = rate
    return total


def theis(time, radius):
    return h.drawdown(time, radius, rate=1.0, transmissivity=T, storativity=S)


def readied(noise=0.0, wells=("P1", "P2"), response=theis, seed=0, time=TIME):
    rng = np.random.default_rng(seed)
    levels = [h.Levels(time, summed(time, w, response) + noise * rng.standard_normal(time.size), None, w) for w in wells]
    return h.placed(levels, PLACES, pumped="B1", also={b: RATES[b] for b in ("B2", "B3")})


def test_exact_readings_give_back_the_ground():
    levels, also = readied()
    fit = h.fit_test(levels, rate=RATES["B1"], also=also, solutions=["theis"])
    found = fit.fits[0].parameters
    assert (found["transmissivity"].value, found["storativity"].value) == (pytest.approx(T, rel=1e-6), pytest.approx(S, rel=1e-6))
    for place, well in enumerate(("P1", "P2")):
        np.testing.assert_allclose(h.model_drawdown(fit, "theis", TIME, well=place), summed(TIME, well, theis), rtol=1e-5)
    alone = h.model_drawdown(fit, "theis", TIME, well=0, history=RATES["B1"])
    np.testing.assert_allclose(alone, summed(TIME, "P1", theis, bores=("B1",)), rtol=1e-5, atol=1e-9)


@pytest.mark.parametrize(("name", "extra", "response"), [
    ("hantush-jacob", {"leakage_factor": 300.0}, lambda t, r: h.leaky_drawdown(t, r, rate=1.0, transmissivity=T, storativity=S, leakage_factor=300.0)),
    ("warren-root", {"block_storativity_ratio": 8.0, "interflow": 2e-4},
     lambda t, r: h.double_porosity_drawdown(t, radius=r, rate=1.0, transmissivity=T, storativity=S, block_storativity=8 * S, interflow=2e-4)),
])
def test_other_shapes_add_up_too(name, extra, response):
    levels, also = readied(response=response)
    found = h.fit_test(levels, rate=RATES["B1"], also=also, solutions=[name]).fits[0].parameters
    for word, true in ({"transmissivity": T, "storativity": S} | extra).items():
        assert found[word].value == pytest.approx(true, rel=2e-3), word


def test_intervals_hold_the_truth_nine_times_in_ten():
    hits = 0
    for seed in range(60):
        levels, also = readied(noise=0.01, seed=seed)
        found = h.fit_test(levels, rate=RATES["B1"], also=also, solutions=["theis"]).fits[0].parameters
        hits += (found["transmissivity"].low < T < found["transmissivity"].high) + (found["storativity"].low < S < found["storativity"].high)
    assert 98 <= hits <= 117  # 108 of 120 expected; three standard deviations of 3.3 either way


@settings(max_examples=15, deadline=None)
@given(share=st.floats(0.05, 0.95), distance=st.floats(10.0, 300.0))
def test_one_bore_split_into_two_on_the_same_spot_is_one(share, distance):
    time = np.geomspace(60, 1e5, 40)
    fall = h.drawdown(time, distance, rate=5e-3, transmissivity=T, storativity=S)
    levels = [h.Levels(time, fall, distance, "P")]
    one = h.fit_test(levels, rate=5e-3, solutions=["theis"], intervals=False).fits[0]
    two = h.fit_test(levels, rate=5e-3 * share, also=[h.AlsoPumped("twin", h.steady_rate(5e-3 * (1 - share)), {"P": distance})], solutions=["theis"], intervals=False).fits[0]
    assert two.parameters["transmissivity"].value == pytest.approx(one.parameters["transmissivity"].value, rel=1e-5)


def test_what_is_left_out_bends_the_fit():
    levels, also = readied(noise=0.002)
    with_all, without = (h.fit_test(levels, rate=RATES["B1"], also=some, solutions=["theis"]).fits[0] for some in (also, ()))
    assert with_all.rmse < 0.003 < 0.03 < without.rmse


def test_a_long_logger_costs_no_more():
    time = np.linspace(60, 9e4, 4000)
    levels, also = readied(noise=0.003, time=time, response=theis)
    found = h.fit_test(levels, rate=RATES["B1"], also=also, solutions=["theis"]).fits[0].parameters["transmissivity"]
    assert found.low < T < found.high
    assert found.high / found.low < 1.01


def test_shapes_and_distances_refused():
    levels, also = readied()
    with pytest.raises(BadInput, match="several pumped bores"):
        h.fit_test(levels, rate=RATES["B1"], also=also, solutions=["theis-barrier"])
    with pytest.raises(BadInput, match="no distance from B9"):
        h.fit_test(levels, rate=RATES["B1"], also=[h.AlsoPumped("B9", RATES["B2"], {"P1": 3.0})])
    with pytest.raises(BadInput, match="not the distance"):
        h.fit_test(levels, rate=RATES["B1"], also=[h.AlsoPumped("B9", RATES["B2"], {"P1": float("nan"), "P2": 1.0})])
    with pytest.raises(BadInput, match="one pumped bore"):
        h.fit_test(levels, rate=RATES["B1"], also=also, part_open=h.PartOpen(40.0, (5.0, 15.0)))
    with pytest.raises(BadInput, match="pumped bore of the test itself"):
        h.placed(levels, PLACES, pumped="B1", also={"B1": RATES["B1"]})
    with pytest.raises(BadInput, match="not among the places"):
        h.placed(levels, {"B1": (0, 0)}, pumped="B1", also={})


@pytest.fixture
def files(tmp_path):
    levels, _ = readied(noise=0.002)
    rows = [f"{one.well},{t:.3f},{s:.5f}" for one in levels for t, s in zip(one.time, one.drawdown, strict=True)]
    (tmp_path / "levels.csv").write_text("well,time_s,drawdown_m\n" + "\n".join(rows))
    (tmp_path / "places.csv").write_text("well,east_m,north_m\n" + "\n".join(f"{n},{x},{y}" for n, (x, y) in PLACES.items()))
    for bore, history in RATES.items():
        (tmp_path / f"{bore}.csv").write_text("time_s,rate_m3/s\n" + "\n".join(f"{a},{q}" for a, q in zip(history.starts, history.rates, strict=True)))
    return tmp_path


def test_by_command(files, capsys):
    words = ["pumptest", str(files / "levels.csv"), "--rates", str(files / "B1.csv"), "--places", str(files / "places.csv"), "--pumped", "B1",
             "--also-pumped", f"B2: {files / 'B2.csv'}", "--also-pumped", f"B3: {files / 'B3.csv'}"]
    assert main([*words, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["best"] == "theis"
    best = next(f for f in answer["fits"] if f["solution"] == "theis")
    assert best["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(T * 86400, rel=0.01)
    assert [one["bore"] for one in answer["also_pumped"]] == ["B2", "B3"]
    assert answer["also_pumped"][0]["distances_m"]["P1"] == pytest.approx(apart("B2", "P1"))
    assert main(words) == 0
    assert "B2 pumped too, 172.8 m3/d at first" in capsys.readouterr().out


@pytest.mark.parametrize(("words", "problem"), [
    (["--also-pumped", "B2: 3 L/s"], "places"),
    (["--places", "places.csv"], "pumped"),
    (["--places", "places.csv", "--pumped", "B1", "--also-pumped", "3 L/s"], "also-pumped"),
    (["--places", "places.csv", "--pumped", "B1", "--also-pumped", "B2: 3 L/s", "--solution", "theis-barrier"], "solution"),
    (["--places", "places.csv", "--pumped", "B9"], "places"),
    (["--across", "P9: 3 m"], "across"),
])
def test_wrong_words_are_refused(files, capsys, words, problem, monkeypatch):
    monkeypatch.chdir(files)
    assert main(["pumptest", "levels.csv", "--rates", "B1.csv", *words]) == 2
    assert capsys.readouterr().err.startswith(f"borewright: {problem}:")
