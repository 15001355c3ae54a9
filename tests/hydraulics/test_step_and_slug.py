"""Step tests and slug tests: identities, field cases, recovery of known truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from borewright import hydraulics as h
from borewright.errors import BadInput, OutOfDomain

DAY = 86400.0


def step_readings(history, *, at_hour, growth, loss, exponent=2.0, noise=0.0, seed=0):
    """Drawdown invented by superposed straight lines on log time and a loss at the bore."""
    time = np.concatenate([3600.0 * k + np.geomspace(30, 3600, 25) for k in range(len(history.starts))])
    total = loss * history.at(time) ** exponent
    for start, step in zip(*history.changes, strict=True):
        on = time > start
        total[on] += step * (at_hour + growth * np.log((time[on] - start) / 3600.0))
    return time, total + noise * np.random.default_rng(seed).standard_normal(time.size)


STEPS = h.rate_steps([(0, 0.004), (3600, 0.008), (7200, 0.012), (10800, 0.016)])


def test_clark_equation_and_efficiency_as_published(table):
    """B = 3.26e-3 d/m, C = 1.45e-7 d2/m5 (medium-high confidence, from memory): drawdowns and efficiencies follow by arithmetic."""
    rows = table("step_test_clark1977")
    rates = np.array([float(r["Q_m3_d"]) for r in rows]) / DAY
    drawdowns = np.array([float(r["sw_published_eq_m"]) for r in rows])
    fit = h.fit_steps(rates, drawdowns)
    assert fit.aquifer_loss.value / DAY == pytest.approx(3.26e-3, rel=1e-3)
    assert fit.well_loss.value / DAY**2 == pytest.approx(1.45e-7, rel=2e-3)
    for efficiency, row in zip(fit.efficiencies, rows, strict=True):
        assert 100 * efficiency == pytest.approx(float(row["efficiency_pct"]), abs=0.06)


def test_clark_field_readings_give_the_same_size(table):
    """The recalled 100-minute drawdowns freed of earlier steps: an independent line gives B 3.05e-3, C 1.89e-7 (computed, rough check only)."""
    rates = np.array([float(r["Q_m3_d"]) for r in table("step_test_clark1977")]) / DAY
    fit = h.fit_steps(rates, [4.23, 5.84, 8.53, 11.92, 15.63, 20.10])
    slope, level = np.polyfit(rates * DAY, np.array([4.23, 5.84, 8.53, 11.92, 15.63, 20.10]) / (rates * DAY), 1)
    assert fit.aquifer_loss.value / DAY == pytest.approx(level, rel=0.02)
    assert fit.well_loss.value / DAY**2 == pytest.approx(slope, rel=0.05)
    assert fit.well_loss.value / DAY**2 == pytest.approx(1.45e-7, rel=0.4)


def test_every_reading_of_a_step_test_recovers_the_truth():
    time, drawdown = step_readings(STEPS, at_hour=400.0, growth=25.0, loss=9000.0)
    fit = h.fit_step_readings(time, drawdown, STEPS)
    assert fit.aquifer_loss.value == pytest.approx(400.0, rel=1e-9)
    assert fit.well_loss.value == pytest.approx(9000.0, rel=1e-9)
    assert fit.transmissivity == pytest.approx(1 / (4 * math.pi * 25.0), rel=1e-9)
    assert fit.half_flow == pytest.approx(400.0 / 9000.0, rel=1e-9)


def test_steps_pumped_from_a_theis_aquifer_recover_t_and_loss():
    time = np.concatenate([3600.0 * k + np.geomspace(30, 3600, 25) for k in range(4)])
    aquifer = h.drawdown_under(lambda t: h.drawdown(t, 0.1, rate=1.0, transmissivity=1e-3, storativity=1e-4), time, STEPS)
    fit = h.fit_step_readings(time, aquifer + 7000.0 * STEPS.at(time) ** 2, STEPS)
    assert fit.transmissivity == pytest.approx(1e-3, rel=1e-3)
    assert fit.well_loss.value == pytest.approx(7000.0, rel=1e-3)


def test_rorabaugh_finds_the_exponent():
    time, drawdown = step_readings(STEPS, at_hour=400.0, growth=25.0, loss=2e5, exponent=2.6)
    fit = h.fit_step_readings(time, drawdown, STEPS, exponent=None)
    assert fit.exponent.value == pytest.approx(2.6, abs=0.006)
    assert fit.well_loss.value == pytest.approx(2e5, rel=0.05)


def test_step_intervals_hold_nine_times_in_ten():
    hits = [0, 0]
    for seed in range(100):
        time, drawdown = step_readings(STEPS, at_hour=400.0, growth=25.0, loss=9000.0, noise=0.03, seed=seed)
        fit = h.fit_step_readings(time, drawdown, STEPS)
        hits[0] += fit.aquifer_loss.low <= 400.0 <= fit.aquifer_loss.high
        hits[1] += fit.well_loss.low <= 9000.0 <= fit.well_loss.high
    assert all(80 <= n <= 98 for n in hits)


def test_no_loss_is_said_and_not_made_negative():
    fit = h.fit_steps([0.002, 0.004, 0.006], [1.0, 1.98, 2.94])
    assert fit.well_loss.value == 0.0 and {a.code for a in fit.advisories} >= {"no-loss"}


def test_step_test_refuses_one_rate_and_water_that_rises_with_pumping():
    with pytest.raises(BadInput):
        h.fit_steps([0.002, 0.002], [1.0, 1.1])
    with pytest.raises(BadInput):
        h.fit_steps([0.001, 0.01, 0.02], [0.001, 5.0, 30.0])


def test_condition_classes_and_efficiency_refuse_nothing_sensible():
    assert h.condition_class(1000.0) != h.condition_class(5000.0)
    assert h.bore_efficiency(0.01, aquifer_loss=400.0, well_loss=40000.0) == pytest.approx(0.5)


def test_hvorslev_arithmetic(table):
    for row in table("slug_hvorslev"):
        r, R, L, T0 = (float(row[k]) for k in ("r_m", "R_m", "L_m", "T0_s"))
        assert h.hvorslev_conductivity(casing_radius=r, screen_radius=R, screen_length=L, time_lag=T0) == pytest.approx(float(row["K_m_s_computed"]), rel=1e-6)
        time = np.linspace(0, 3 * T0, 30)
        fit = h.fit_slug(time, -0.7 * np.exp(-time / T0), method="hvorslev", casing_radius=r, screen_radius=R, screen_length=L)
        assert fit.time_lag == pytest.approx(T0, rel=1e-9)
        assert fit.conductivity.value == pytest.approx(float(row["K_m_s_computed"]), rel=1e-6)


def test_bouwer_rice_example_and_curves(table):
    """Example of the 1976 paper: K 0.00036 m/s read from the graph; the polynomials give 3.53e-4."""
    values = {r["item"]: r["value"] for r in table("slug_bouwer_rice")}
    geometry = {"screen_radius": 0.12, "screen_length": 4.56, "bottom_below_water": 5.5, "thickness": 80.0}
    time = np.array([0.0, 5.0, 10.0, 15.0, 20.0])
    fit = h.fit_slug(time, 0.29 * (0.0025 / 0.29) ** (time / 20.0), method="bouwer-rice", casing_radius=0.076, **geometry)
    assert fit.conductivity.value == pytest.approx(float(values["K with polynomial A B m/s"]), rel=2e-3)
    assert fit.conductivity.value == pytest.approx(0.00036, rel=0.03)
    full = h.bouwer_rice_shape(screen_length=4.56, screen_radius=0.12, bottom_below_water=5.5, thickness=5.5)
    ratio = 1.1 / math.log(5.5 / 0.12)
    assert 1 / full - ratio == pytest.approx(float(values["C polynomial at 38"]) / 38, rel=1e-3)


def test_dawsonville(table):
    rows = table("slug_dawsonville")
    time = np.array([float(r["t_s"]) for r in rows])
    fit = h.fit_slug(time, [float(r["H_m"]) for r in rows], method="cooper", casing_radius=0.076, screen_radius=0.076, screen_length=98.0)
    assert fit.transmissivity.value * 1e4 == pytest.approx(4.73, rel=0.01)  # independent least squares
    assert fit.transmissivity.value * 1e4 == pytest.approx(5.3, rel=0.25)  # published match
    assert fit.storativity.value == pytest.approx(1.8e-3, rel=0.02)
    assert fit.rmse == pytest.approx(0.007, abs=6e-4)


@pytest.mark.parametrize(("transmissivity", "storativity"), [(1e-5, 1e-3), (3e-4, 1e-5), (2e-6, 5e-2)])
def test_cooper_recovers_the_truth(transmissivity, storativity):
    radius = 0.05
    beta = np.geomspace(0.01, 8, 30)
    change = 1.4 * h.slug_function(beta, storativity)
    fit = h.fit_slug(beta * radius**2 / transmissivity, change, method="cooper", casing_radius=radius, screen_radius=radius, screen_length=6.0, initial=1.4)
    assert fit.transmissivity.value == pytest.approx(transmissivity, rel=1e-3)
    assert fit.storativity.value == pytest.approx(storativity, rel=1e-2)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(0.1, 1.8), st.floats(0.3, 3.0))
def test_underdamped_recovers_the_truth(damping, pace):
    time = np.linspace(0, 12 / pace, 120)
    turn = math.sqrt(1 - damping**2 / 4)
    level = 0.4 * np.exp(-damping / 2 * pace * time) * (np.cos(turn * pace * time) + damping / (2 * turn) * np.sin(turn * pace * time))
    fit = h.fit_slug(time, level, method="underdamped", casing_radius=0.05, screen_radius=0.06, screen_length=3.0)
    half = 3.0 / 0.12
    expected = pace * 0.05**2 * math.log(half + math.sqrt(1 + half**2)) / (2 * 3.0 * damping)
    assert fit.conductivity.value == pytest.approx(expected, rel=1e-3)


def test_swinging_level_is_noticed_by_the_ordinary_methods():
    time = np.linspace(0, 20, 100)
    fit = h.fit_slug(time, 0.3 * np.exp(-0.2 * time) * np.cos(time), method="hvorslev", casing_radius=0.05, screen_radius=0.06, screen_length=3.0)
    assert "swings" in {a.code for a in fit.advisories}


@pytest.mark.parametrize(("time", "level", "options"), [
    ([0, 1], [1.0, 0.5], {}),
    ([0, 1, 2, 3], [1.0, 1.1, 1.2, 1.3], {}),
    ([0, 1, 2, 3], [0.0, 0.0, 0.0, 0.0], {}),
    ([-1, 1, 2, 3], [1.0, 0.5, 0.2, 0.1], {}),
    ([0, 1, 2, 3], [1.0, 0.5, 0.2, 0.1], {"method": "guess"}),
    ([0, 1, 2, 3], [1.0, 0.5, 0.2, 0.1], {"method": "bouwer-rice"}),
    ([0, 1, 2, 3], [1.0, 0.5, 0.2, 0.1], {"casing_radius": -1.0}),
])
def test_bad_slug_tests_are_refused(time, level, options):
    given_ = {"method": "hvorslev", "casing_radius": 0.05, "screen_radius": 0.06, "screen_length": 3.0} | options
    with pytest.raises((BadInput, OutOfDomain)):
        h.fit_slug(time, level, **given_)


SLUG_TIME = np.array([0.0, 2.0, 4.0, 7.0, 11.0, 16.0, 22.0, 30.0, 40.0, 52.0, 66.0, 84.0, 110.0])


@pytest.mark.parametrize("method", ["hvorslev", "bouwer-rice"])
def test_straight_line_slugs_against_another_least_squares(method):
    """The readings between 15 and 85 % of the start, by numpy's polynomial fit and the formulas as printed."""
    level = 0.6 * np.exp(-SLUG_TIME / 35.0) * (1 + 0.02 * np.random.default_rng(5).standard_normal(SLUG_TIME.size))
    level[0] = 0.6
    casing, screen, length, bottom, thickness = 0.05, 0.075, 3.0, 9.0, 14.0
    use = (level < 0.85 * 0.6) & (level > 0.15 * 0.6)
    slope = -np.polyfit(SLUG_TIME[use], np.log(level[use]), 1)[0]
    shape = np.log(length / screen) if method == "hvorslev" else h.bouwer_rice_shape(screen_length=length, screen_radius=screen, bottom_below_water=bottom, thickness=thickness)
    exact = casing**2 * shape * slope / (2 * length)
    fit = h.fit_slug(SLUG_TIME, level, method=method, casing_radius=casing, screen_radius=screen, screen_length=length, bottom_below_water=bottom, thickness=thickness)
    assert fit.conductivity.value == pytest.approx(exact, rel=1e-9)


def test_cooper_slug_against_another_least_squares():
    """scipy.optimize.least_squares from nine starts on the type curve itself."""
    casing, screen, length, true = 0.05, 0.075, 5.0, (3e-5, 2e-4)
    curve = lambda t, s: h.slug_function(t * SLUG_TIME[1:] / casing**2, s * screen**2 / casing**2)
    level = np.concatenate([[0.6], 0.6 * curve(*true) + 0.003 * np.random.default_rng(6).standard_normal(SLUG_TIME.size - 1)])
    fit = h.fit_slug(SLUG_TIME, level, method="cooper", casing_radius=casing, screen_radius=screen, screen_length=length)
    off = lambda x: curve(*np.exp(x)) - level[1:] / 0.6
    starts = [np.log([t, s]) for t in (3e-6, 3e-5, 3e-4) for s in (1e-6, 1e-4, 1e-2)]
    found = min((least_squares(off, x, bounds=(np.log([1e-9, 1e-10]), np.log([1.0, 0.5])), xtol=1e-12, ftol=1e-12) for x in starts), key=lambda f: f.cost)
    assert fit.transmissivity.value == pytest.approx(float(np.exp(found.x[0])), rel=0.01)
    assert fit.storativity.value == pytest.approx(float(np.exp(found.x[1])), rel=0.05)
    assert fit.transmissivity.low < true[0] < fit.transmissivity.high


def test_underdamped_slug_against_another_least_squares():
    """The damped oscillator written out, by scipy.optimize.least_squares from several starts."""
    time = np.linspace(0.0, 25.0, 90)
    pace, damping = 0.9, 0.35  # sqrt(g / L_e), C_D
    swing = lambda w, c: np.exp(-c / 2 * w * time) * (np.cos(w * time * np.sqrt(1 - c * c / 4)) + c / 2 / np.sqrt(1 - c * c / 4) * np.sin(w * time * np.sqrt(1 - c * c / 4)))
    level = 0.5 * swing(pace, damping) + 0.002 * np.random.default_rng(7).standard_normal(time.size)
    level[0] = 0.5
    casing, screen, length = 0.05, 0.075, 3.0
    fit = h.fit_slug(time, level, method="underdamped", casing_radius=casing, screen_radius=screen, screen_length=length)
    starts = [(a, w, c) for a in (0.4, 0.6) for w in (0.6, 0.9, 1.3) for c in (0.1, 0.5, 1.2)]
    found = min((least_squares(lambda x: x[0] * swing(x[1], x[2]) - level, x, bounds=([0.1, 0.1, 0.01], [2, 5, 1.99])) for x in starts), key=lambda f: f.cost)
    # Butler (1998), from memory: K = sqrt(g / L_e) r_c2 asinh(L / 2 r_w) / (2 L C_D).
    exact = found.x[1] * casing**2 * np.arcsinh(length / (2 * screen)) / (2 * length * found.x[2])
    assert fit.conductivity.value == pytest.approx(exact, rel=0.01)
