"""Fits: field tests against an independent least-squares fit of the same solution, true values recovered, intervals that hold what they say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares
from scipy.special import exp1

from borewright import hydraulics as h
from borewright.errors import BadInput
from borewright.hydraulics import Levels

DAY = 86400.0


def levels_of(rows, radius, *, name="w"):
    time = np.array([float(r["t_min"]) * 60 for r in rows])
    return Levels(time, np.array([float(r["s_m"]) for r in rows]), radius, name)


def theis_by_scipy(wells, rate):
    """Fit Theis with scipy, written from the formula alone; T [m2/d], S."""
    def off(x):
        T, S = np.exp(x)
        return np.concatenate([rate / (4 * np.pi * T) * exp1(w.radius**2 * S / (4 * T * w.time)) - w.drawdown for w in wells])

    found = min((least_squares(off, np.log([T, S]), xtol=1e-14, ftol=1e-14) for T in (1e-4, 1e-2) for S in (1e-5, 1e-2)), key=lambda f: f.cost)
    return np.exp(found.x[0]) * DAY, np.exp(found.x[1])


def leaky_by_scipy(wells, rate):
    """Fit Hantush & Jacob with scipy and a plain trapezium of the defining integral in ln y."""
    x = np.linspace(0, 1, 3001)

    def drawdown(T, S, B, w):
        u = w.radius**2 * S / (4 * T * w.time)
        top = np.log(60.0)
        y = np.exp(np.log(u)[:, None] + (top - np.log(u))[:, None] * x)
        inside = np.exp(-y - (w.radius / B) ** 2 / (4 * y))
        return rate / (4 * np.pi * T) * np.trapezoid(inside, axis=1, dx=x[1]) * (top - np.log(u))

    def off(p):
        return np.concatenate([drawdown(*np.exp(p), w) - w.drawdown for w in wells])

    found = least_squares(off, np.log([0.02, 2e-3, 800.0]), xtol=1e-12, ftol=1e-12)
    T, S, B = np.exp(found.x)
    return T * DAY, S, B


def test_oude_korendijk_agrees_with_an_independent_fit(table):
    rows = table("oude_korendijk_drawdown")
    wells = {r: levels_of([x for x in rows if x["r_m"] == str(r)], float(r), name=f"{r} m") for r in (30, 90, 215)}
    rate = 788 / DAY
    for chosen, published in (((30,), (480.5, 1.125e-4)), ((90,), (501.1, 2.04e-4)), ((30, 90), (462.6, 1.78e-4)), ((30, 90, 215), None)):
        using = [wells[r] for r in chosen]
        fit = h.fit_test(using, rate=rate, solutions=["theis"])
        got = fit.leading.parameters
        T, S = theis_by_scipy(using, rate)
        assert got["transmissivity"].value * DAY == pytest.approx(T, rel=1e-4)
        assert got["storativity"].value == pytest.approx(S, rel=1e-4)
        if published:
            assert got["transmissivity"].value * DAY == pytest.approx(published[0], rel=2e-3)
            assert got["storativity"].value == pytest.approx(published[1], rel=1e-2)


def test_every_sane_candidate_stays_near_the_published_hand_match(table):
    """Hand match 392 m2/d; least squares differs for known reasons, but within a quarter (a half for the joint shapes)."""
    rows = [x for x in table("oude_korendijk_drawdown") if x["r_m"] == "30"]
    fit = h.fit_test([levels_of(rows, 30.0)], rate=788 / DAY)
    assert fit.leading.parameters["transmissivity"].value * DAY == pytest.approx(392, rel=0.25)
    assert fit.fits[0].aicc == min(f.aicc for f in fit.fits)


def test_dalem_leaky_agrees_with_an_independent_fit(table):
    rows = table("dalem_drawdown")
    for chosen, published in (((90,), (1662, 1.78e-3, 326)), ((60,), (1844, 1.91e-3, 546)), ((30, 60, 90, 120), (1751, 1.52e-3, 416))):
        wells = [levels_of([x for x in rows if x["r_m"] == str(r)], float(r), name=str(r)) for r in chosen]
        fit = h.fit_test(wells, rate=761 / DAY, solutions=["hantush-jacob"]).leading
        T, S, B = leaky_by_scipy(wells, 761 / DAY)
        assert fit.parameters["transmissivity"].value * DAY == pytest.approx(T, rel=2e-3)
        assert fit.parameters["storativity"].value == pytest.approx(S, rel=2e-3)
        assert fit.parameters["leakage_factor"].value == pytest.approx(B, rel=5e-3)
        assert fit.parameters["transmissivity"].value * DAY == pytest.approx(published[0], rel=0.01)
        assert fit.derived["resistance_of_leaking_bed_d"] == pytest.approx(published[2], rel=0.03)


def test_lohman_three_wells(table):
    foot = 0.3048
    wells = [Levels(np.array([float(r["t_min"]) * 60 for r in table("lohman_three_wells")]),
                    np.array([float(r[f"s_{ft}ft"]) * foot for r in table("lohman_three_wells")]), ft * foot, str(ft)) for ft in (200, 400, 800)]
    fit = h.fit_test(wells, rate=96000 * foot**3 / DAY, solutions=["theis"]).leading
    assert fit.parameters["transmissivity"].value * DAY / foot**2 == pytest.approx(13376, rel=1e-3)
    assert fit.parameters["storativity"].value == pytest.approx(2.015e-4, rel=2e-3)
    assert fit.parameters["transmissivity"].value * DAY / foot**2 == pytest.approx(13700, rel=0.05)


def test_todd_drawdown_and_recovery(table):
    rows = table("todd_drawdown_and_recovery")
    pumping = [r for r in rows if r["phase"] == "drawdown"]
    after = [r for r in rows if r["phase"] == "recovery"]
    fit = h.fit_test([levels_of(pumping, 60.0)], rate=2500 / DAY, solutions=["theis", "cooper-jacob"])
    theis = next(f for f in fit.fits if f.solution == "theis").parameters
    assert theis["transmissivity"].value * DAY == pytest.approx(1138, rel=2e-3)
    assert theis["storativity"].value == pytest.approx(1.930e-4, rel=2e-3)
    line = next(f for f in fit.fits if f.solution == "cooper-jacob").parameters
    assert line["transmissivity"].value * DAY == pytest.approx(1090, rel=0.08)
    recovery = h.recovery_line([float(r["t_min"]) * 60 for r in after], [float(r["t_prime_min"]) * 60 for r in after],
                               [float(r["s_m"]) for r in after], rate=2500 / DAY)
    assert recovery.slope == pytest.approx(0.3861, abs=5e-4)
    assert recovery.transmissivity * DAY == pytest.approx(1187, rel=1e-3)
    both = h.fit_test([levels_of(pumping + after, 60.0)], rate=h.steady_rate(2500 / DAY, stopped_at=240 * 60.0), solutions=["theis"]).leading
    assert both.parameters["transmissivity"].value * DAY == pytest.approx(1140, rel=0.05)
    assert both.rmse < 0.02


def test_vennebulten_unconfined(table):
    rows = table("vennebulten")
    fit = h.fit_test([levels_of(rows, 90.0)], rate=873 / DAY, solutions=["neuman"], intervals=False).leading
    assert fit.parameters["transmissivity"].value * DAY == pytest.approx(1340, rel=0.01)
    assert fit.parameters["storativity"].value == pytest.approx(5.6e-4, rel=0.02)
    assert fit.derived["specific_yield"] == pytest.approx(1.13e-2, rel=0.03)
    assert fit.parameters["vertical_factor"].value * 8100 == pytest.approx(0.0127, rel=0.03)
    assert fit.rmse == pytest.approx(0.003, abs=5e-4)


TRUTH = {
    "theis": ({"transmissivity": 3e-3, "storativity": 3e-4}, 40.0, False),
    "hantush-jacob": ({"transmissivity": 3e-3, "storativity": 3e-4, "leakage_factor": 250.0}, 40.0, False),
    "theis-barrier": ({"transmissivity": 3e-3, "storativity": 3e-4, "image_distance": 260.0}, 40.0, False),
    "theis-recharge": ({"transmissivity": 3e-3, "storativity": 3e-4, "image_distance": 260.0}, 40.0, False),
    "papadopulos-cooper": ({"transmissivity": 2e-4, "storativity": 3e-4}, 0.1, True),
    "gringarten": ({"transmissivity": 2e-4, "fracture_storage": 0.9}, 0.1, True),
    "gringarten-even": ({"transmissivity": 2e-4, "fracture_storage": 0.9}, 0.1, True),
    "warren-root": ({"transmissivity": 1e-3, "storativity": 2e-5, "block_storativity_ratio": 30.0, "interflow": 2e-5}, 25.0, False),
    "moench": ({"transmissivity": 1e-3, "storativity": 2e-5, "block_storativity_ratio": 30.0, "interflow": 2e-5}, 25.0, False),
    "barker": ({"transmissivity": 1e-3, "storativity": 2e-4, "flow_dimension": 1.6}, 25.0, False),
    "neuman": ({"transmissivity": 3e-3, "storativity": 3e-4, "yield_ratio": 200.0, "vertical_factor": 1e-4}, 20.0, False),
}


def invented(name, *, noise, seed, count=60, rate=5e-3, last=3 * DAY, stopped=None):
    """Readings invented from one solution with known truth and noise [m]."""
    values, radius, pumped = TRUTH[name]
    rng = np.random.default_rng(seed)
    time = np.geomspace(20.0, last, count)
    history = h.steady_rate(rate, stopped_at=stopped)
    place = h.solutions.Place(radius, pumped, radius if pumped else 0.1, radius if pumped else 0.1)
    columns = {k: np.array([[v]]) for k, v in values.items()}
    exact = h.drawdown_under(lambda t: h.SOLUTIONS[name].response(t, place, columns)[0], time, history)
    return [Levels(time, exact + noise * rng.standard_normal(count), radius, "w", pumped)], history, values


@pytest.mark.parametrize("name", list(TRUTH))
def test_recovers_the_truth_without_noise(name):
    levels, history, values = invented(name, noise=0.0, seed=0)
    fit = h.fit_test(levels, rate=history, solutions=[name], intervals=False).leading
    for key, value in values.items():
        assert fit.parameters[key].value == pytest.approx(value, rel=2e-3), key


@pytest.mark.parametrize("name", [n for n in TRUTH if n not in ("neuman", "moench", "gringarten-even")])
def test_recovers_through_recovery_and_changing_rates(name):
    levels, _, values = invented(name, noise=0.0, seed=0)
    history = h.rate_steps([(0, 3e-3), (7200, 6e-3), (DAY, 4e-3), (2 * DAY, 0.0)])
    radius, pumped = TRUTH[name][1:]
    time = np.sort(np.concatenate([np.geomspace(20, 3 * DAY, 60), 2 * DAY + np.geomspace(30, 0.9 * DAY, 20), 7200 + np.geomspace(30, 4000, 10)]))
    place = h.solutions.Place(radius, pumped, radius if pumped else 0.1, radius if pumped else 0.1)
    columns = {k: np.array([[v]]) for k, v in values.items()}
    exact = h.drawdown_under(lambda t: h.SOLUTIONS[name].response(t, place, columns)[0], time, history)
    fit = h.fit_test([Levels(time, exact, radius, "w", pumped)], rate=history, solutions=[name], intervals=False).leading
    for key, value in values.items():
        assert fit.parameters[key].value == pytest.approx(value, rel=5e-3), key


def covered(name, runs):
    hits = dict.fromkeys(TRUTH[name][0], 0)
    for seed in range(runs):
        levels, history, values = invented(name, noise=0.01, seed=seed + 100)
        fit = h.fit_test(levels, rate=history, solutions=[name]).leading
        for key, value in values.items():
            hits[key] += fit.parameters[key].low <= value <= fit.parameters[key].high
    return hits


# Of 60 runs at a true 90 %, fewer than 46 happens once in some 4,000 and 60 of 60 once in 550.
def test_intervals_hold_nine_times_in_ten():
    for key, count in covered("theis", 60).items():
        assert 46 <= count <= 60, (key, count)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hantush-jacob", "theis-barrier", "theis-recharge", "papadopulos-cooper", "gringarten", "warren-root", "moench", "barker"])
def test_intervals_hold_nine_times_in_ten_for_every_solution(name):
    for key, count in covered(name, 60).items():
        assert 46 <= count <= 60, (key, count)


def test_pressed_readings_give_the_same_fit_as_all_of_them():
    """2,000 readings go through Chebyshev nodes; scipy sees every one."""
    rng = np.random.default_rng(5)
    time = np.geomspace(30, 5 * DAY, 2000)
    drawdown = h.drawdown(time, 30.0, rate=8e-3, transmissivity=4e-3, storativity=2e-4) + 0.02 * rng.standard_normal(2000)
    fit = h.fit_test([Levels(time, drawdown, 30.0, "w")], rate=8e-3, solutions=["theis"]).leading
    T, S = theis_by_scipy([Levels(time, drawdown, 30.0, "w")], 8e-3)
    assert fit.parameters["transmissivity"].value * DAY == pytest.approx(T, rel=1e-6)
    assert fit.parameters["storativity"].value == pytest.approx(S, rel=1e-5)
    off = drawdown - h.drawdown(time, 30.0, rate=8e-3, transmissivity=T / DAY, storativity=S)
    assert fit.rmse == pytest.approx(float(np.sqrt(np.mean(off**2))), rel=1e-8)


def test_interval_is_where_the_profile_rises():
    """The interval's ends, checked by fitting with T held there: the sum of squares rises by t2/(n - p)."""
    from scipy.stats import t as student

    levels, history, _ = invented("theis", noise=0.02, seed=9)
    free = h.fit_test(levels, rate=history, solutions=["theis"]).leading
    n = levels[0].time.size
    rise = 1 + student.ppf(0.95, n - 2) ** 2 / (n - 2)
    for end in (free.parameters["transmissivity"].low, free.parameters["transmissivity"].high):
        held = h.fit_test(levels, rate=history, solutions=["theis"], hold={"transmissivity": end}, intervals=False).leading
        assert held.rmse**2 / free.rmse**2 == pytest.approx(rise, rel=2e-3)


def test_holding_a_typed_value_refits_the_rest():
    levels, history, values = invented("theis", noise=0.0, seed=0)
    held = h.fit_test(levels, rate=history, solutions=["theis"], hold={"storativity": 3e-4}).leading
    assert held.parameters["transmissivity"].value == pytest.approx(values["transmissivity"], rel=1e-4)
    assert held.parameters["storativity"].low == held.parameters["storativity"].high == pytest.approx(3e-4)
    with pytest.raises(BadInput, match="storativity"):
        h.fit_test(levels, rate=history, solutions=["theis"], hold={"storativity": -1.0})


def test_robust_fit_shrugs_off_a_few_wild_readings():
    levels, history, values = invented("theis", noise=0.005, seed=2)
    wild = levels[0].drawdown.copy()
    wild[[5, 20, 41, 50]] += np.array([0.6, -0.5, 0.8, 0.5])
    spoiled = [Levels(levels[0].time, wild, levels[0].radius, "w")]
    plain = h.fit_test(spoiled, rate=history, solutions=["theis"]).leading.parameters["transmissivity"].value
    robust = h.fit_test(spoiled, rate=history, solutions=["theis"], robust=True).leading.parameters["transmissivity"].value
    assert abs(robust / values["transmissivity"] - 1) < 0.02 < abs(plain / values["transmissivity"] - 1)


@pytest.mark.parametrize("name", ["theis", "hantush-jacob", "theis-barrier", "theis-recharge"])
def test_aicc_picks_the_shape_that_made_the_readings(name):
    levels, history, _ = invented(name, noise=0.004, seed=11)
    fit = h.fit_test(levels, rate=history)
    assert fit.best == name


def test_pumped_bore_doubts_its_storage_and_casing_storage_is_seen():
    levels, history, values = invented("papadopulos-cooper", noise=0.01, seed=4)
    fit = h.fit_test(levels, rate=history)
    assert fit.best == "papadopulos-cooper"
    assert "storage-from-pumped-bore" in {a.code for a in fit.leading.advisories}
    assert fit.leading.parameters["transmissivity"].value == pytest.approx(values["transmissivity"], rel=0.05)


def test_edge_that_came_too_late_is_not_called_fixed():
    levels, history, _ = invented("theis", noise=0.01, seed=6)
    barrier = next(f for f in h.fit_test(levels, rate=history).fits if f.solution == "theis-barrier")
    # The nearer end is as near as the image may stand at all: the search set it, not the test.
    assert barrier.parameters["image_distance"].open_ends == ("low",) and barrier.parameters["transmissivity"].open_ends == ()
    kept = next(f for f in h.fits_as_dict(h.fit_test(levels, rate=history))["fits"] if f["solution"] == "theis-barrier")
    assert kept["open_ends"] == {"image_distance_m": ["low"]}
    assert "not-fixed" in {a.code for a in barrier.advisories}


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(-7, -1), st.floats(-6, -0.5), st.floats(0.3, 3.2), st.floats(-5, -1))
def test_automatic_starts_find_theis_anywhere(log_t, log_s, log_r, log_q):
    T, S, r, q = 10**log_t, 10**log_s, 10**log_r, 10**log_q
    centre = r * r * S / (4 * T)
    time = centre * np.geomspace(0.4, 4e4, 30)
    drawdown = h.drawdown(time, r, rate=q, transmissivity=T, storativity=S)
    fit = h.fit_test([Levels(time, drawdown, r, "w", False)], rate=q, solutions=["theis"], intervals=False).leading
    assert fit.parameters["transmissivity"].value == pytest.approx(T, rel=1e-4)
    assert fit.parameters["storativity"].value == pytest.approx(S, rel=1e-3)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(0.01, 100), st.floats(0.01, 100))
def test_fit_follows_a_change_of_units(metre, second):
    """Scale metres and seconds: T scales as metre2/second, S not at all."""
    levels, history, values = invented("theis", noise=0.01, seed=1, count=25)
    one = levels[0]
    plain = h.fit_test(levels, rate=history, solutions=["theis"], intervals=False).leading.parameters
    scaled = h.fit_test([Levels(one.time * second, one.drawdown * metre, one.radius * metre, "w", False)], rate=history.rates[0] * metre**3 / second,
                        solutions=["theis"], intervals=False).leading.parameters
    assert scaled["transmissivity"].value == pytest.approx(plain["transmissivity"].value * metre**2 / second, rel=1e-4)
    assert scaled["storativity"].value == pytest.approx(plain["storativity"].value, rel=1e-4)


def test_model_drawdown_is_the_solution_itself():
    levels, history, _ = invented("hantush-jacob", noise=0.0, seed=0)
    fit = h.fit_test(levels, rate=history, solutions=["hantush-jacob"], intervals=False)
    p = fit.leading.parameters
    time = np.geomspace(50, 2 * DAY, 300)
    exact = h.leaky_drawdown(time, 40.0, rate=5e-3, transmissivity=p["transmissivity"].value, storativity=p["storativity"].value,
                             leakage_factor=p["leakage_factor"].value)
    np.testing.assert_allclose(h.model_drawdown(fit, "hantush-jacob", time), exact, atol=1e-7 * exact.max())


GOOD = (np.geomspace(60, 6e4, 20), h.drawdown(np.geomspace(60, 6e4, 20), 30.0, rate=1e-3, transmissivity=1e-3, storativity=1e-4))


@pytest.mark.parametrize(("time", "drawdown", "rate", "field"), [
    ([60, 120], [0.1, 0.2], 1e-3, "data"),
    ([60, 120, 240, 480, 960], [0.3] * 5, 1e-3, "drawdown"),
    ([60, 120, 240, 480], [-0.1, -0.2, -0.3, -0.4], 1e-3, "drawdown"),
    ([60, 120, math.nan, 480], [0.1, 0.2, 0.3, 0.4], 1e-3, "time"),
    ([60, 120, 240, 480], [0.1, 0.2, math.inf, 0.4], 1e-3, "drawdown"),
    ([60, 120, 240], [0.1, 0.2], 1e-3, "drawdown"),
    (*GOOD, 0.0, "rate"),
    (*GOOD, math.nan, "rate"),
    ([-60, -30, 0], [0.0, 0.1, 0.2], 1e-3, "data"),
])
def test_bad_readings_are_answered_plainly(time, drawdown, rate, field):
    with pytest.raises(BadInput) as caught:
        h.fit_test([Levels(np.array(time, float), np.array(drawdown, float), 30.0, "w")], rate=rate)
    assert caught.value.field == field and caught.value.want


def test_unknown_solution_and_one_for_the_pumped_bore_only():
    with pytest.raises(BadInput, match="theis"):
        h.fit_test([Levels(*GOOD, 30.0, "w")], rate=1e-3, solutions=["magic"])
    with pytest.raises(BadInput, match="pumped bore"):
        h.fit_test([Levels(*GOOD, 30.0, "w")], rate=1e-3, solutions=["gringarten"])


def test_disorder_repeats_and_suspect_units_are_told_not_hidden():
    time, drawdown = GOOD
    turned = Levels(np.append(time[::-1], 60.0), np.append(drawdown[::-1], drawdown[0]), 30.0, "w")
    notes = {a.code for a in h.fit_test([turned], rate=1e-3, solutions=["theis"]).advisories}
    assert {"unsorted", "repeated"} <= notes
    thousandfold = h.fit_test([Levels(time, drawdown * 1000 * 5, 30.0, "w")], rate=5.0, solutions=["theis"])
    assert "unit-suspected" in {a.code for a in thousandfold.advisories}


def test_json_keeps_to_the_contract():
    fit = h.fit_test([Levels(*GOOD, 30.0, "w")], rate=1e-3)
    answer = h.fits_as_dict(fit)
    theis = next(f for f in answer["fits"] if f["solution"] == "theis")
    assert set(theis["parameters"]["transmissivity_m2_per_d"]) == {"value", "low", "high"}
    assert theis["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(86.4, rel=1e-4)
    assert theis["parameters"]["storativity"]["value"] == pytest.approx(1e-4, rel=1e-4)
    assert answer["best"] == "theis" and {"aicc", "rmse_m"} <= set(theis)


@pytest.mark.parametrize(("word", "name"), [("leaky", "hantush-jacob"), ("Hantush", "hantush-jacob"), ("Papadopulos & Cooper", "papadopulos-cooper"),
                                            ("double porosity", "warren-root"), ("warren_root", "warren-root"), ("gringarten", "gringarten")])
def test_a_solution_answers_to_its_plain_words(word, name):
    from borewright.hydraulics.solutions import solution_named

    assert solution_named(word).name == name


def test_bore_storage_is_fitted_in_a_wide_well_and_beside_it():
    """A dug well of 2 m radius is the pumped bore when its radius says so; a bore beside it feels its storage too."""
    given_ = {"rate": 2e-3, "transmissivity": 5e-4, "storativity": 2e-3, "bore_radius": 2.0, "casing_radius": 2.0}
    time = np.geomspace(60, 3 * DAY, 50)
    inside = Levels(time, h.bore_storage_drawdown(time, radius=2.0, **given_), 2.0, "well")
    beside = Levels(time, h.bore_storage_drawdown(time, radius=12.0, **given_), 12.0, "beside")
    for levels in ([inside], [beside], [inside, beside]):
        fit = h.fit_test(levels, rate=2e-3, solutions=["papadopulos-cooper"], bore_radius=2.0, casing_radius=2.0).leading
        assert fit.parameters["transmissivity"].value == pytest.approx(5e-4, rel=1e-3)
        assert fit.parameters["storativity"].value == pytest.approx(2e-3, rel=1e-2)
    with pytest.raises(BadInput, match="bore_radius"):
        h.fit_test([beside], rate=2e-3, solutions=["papadopulos-cooper"])


def test_a_bore_open_to_part_of_the_aquifer_is_fitted_as_such():
    """Readings made from the whole series of Hantush; taken as fully open, the pumped bore's own level would halve the transmissivity."""
    given_ = {"rate": 2e-3, "transmissivity": 1e-3, "storativity": 1e-4, "thickness": 40.0, "screen": (5.0, 15.0), "anisotropy": 0.2}
    part, time = h.PartOpen(40.0, (5.0, 15.0), 0.2), np.geomspace(60, 2e5, 40)
    beside = Levels(time, h.partial_drawdown(time, radius=12.0, observed=(20.0, 30.0), **given_), 12.0, "beside", observed=(20.0, 30.0))
    far = Levels(time, h.partial_drawdown(time, radius=90.0, **given_), 90.0, "far")
    for levels in ([beside], [beside, far]):
        fit = h.fit_test(levels, rate=2e-3, solutions=["theis"], part_open=part).leading
        assert fit.parameters["transmissivity"].value == pytest.approx(1e-3, rel=1e-5)
        assert fit.parameters["storativity"].value == pytest.approx(1e-4, rel=1e-5)
    taken_whole = h.fit_test([beside], rate=2e-3, solutions=["theis"]).leading
    assert abs(taken_whole.parameters["storativity"].value / 1e-4 - 1) > 0.2
    with pytest.raises(BadInput, match="part of the aquifer"):
        h.fit_test([beside], rate=2e-3, solutions=["barker"], part_open=part)
    with pytest.raises(BadInput, match="interval"):
        h.PartOpen(40.0, (15.0, 50.0))


@pytest.mark.parametrize("which", ["lohman_200", "lohman_800"])
def test_no_start_finds_a_better_double_porosity(table, which):
    """Twelve random starts of scipy on a fixed Talbot inversion (Abate & Valko 2004) of the transform, written here from the formula."""
    from scipy.special import kve

    foot, feet = 0.3048, int(which[-3:])
    rows = table("lohman_three_wells")
    time, drawdown = np.array([float(r["t_min"]) * 60 for r in rows]), np.array([float(r[f"s_{feet}ft"]) * foot for r in rows])
    rate, radius = 96000 * foot**3 / DAY, feet * foot
    angle = np.arange(1, 18) * np.pi / 18
    bend = 1 / np.tan(angle)
    node = np.concatenate([[36 / 5], 36 / 5 * angle * (bend + 1j)])
    weight = np.concatenate([[0.5], 1 + 1j * angle * (1 + bend**2) - 1j * bend]) * np.exp(node)

    def off(x):
        T, S, ratio, interflow = np.exp(x)
        s = node / time[:, None]
        root = radius * np.sqrt(s / T * (S + ratio * S * interflow * T / (ratio * S * s + interflow * T)))
        return rate * 0.4 / time * np.real(kve(0, root) * np.exp(-root) / (2 * np.pi * T * s) @ weight) - drawdown

    rng = np.random.default_rng(0)
    starts = np.log(10) * rng.uniform([-2.5, -4.5, -2, -7], [-1.5, -3, 1, -4], (12, 4))
    least = min(least_squares(off, start, max_nfev=150, bounds=(start - 12, start + 12)).cost for start in starts)
    ours = h.fit_test([Levels(time, drawdown, radius, "w")], rate=rate, solutions=["warren-root"], intervals=False).leading
    assert ours.rmse <= np.sqrt(2 * least / time.size) * (1 + 1e-4)


@pytest.mark.parametrize(("time", "drawdown", "rate", "code"), [
    (np.r_[GOOD[0][:10], GOOD[0][10:] - GOOD[0][10] + GOOD[0][4]], GOOD[1], 1e-3, "clock-back"),
    (GOOD[0], GOOD[1][::-1], 1e-3, "drawdown-shrinks"),
    (GOOD[0], GOOD[1], 1e-6, "unit-suspected"),
    (GOOD[0] / 1000, GOOD[1], 1e-3, "unit-suspected"),
    (GOOD[0], GOOD[1] * 1000, 1e-3, "unit-suspected"),
])
def test_what_looks_wrong_is_asked_about(time, drawdown, rate, code):
    fit = h.fit_test([Levels(time, drawdown, 30.0, "w")], rate=rate, solutions=["theis"])
    assert code in {a.code for a in (*fit.advisories, *fit.leading.advisories)}


def test_one_time_only_and_water_put_in_are_refused():
    with pytest.raises(BadInput, match="same for every reading"):
        h.fit_test([Levels(np.full(6, 60.0), np.linspace(0.1, 0.3, 6), 30.0, "w")], rate=1e-3)
    with pytest.raises(BadInput, match="puts water in"):
        h.fit_test([Levels(*GOOD, 30.0, "w")], rate=-1e-3)
