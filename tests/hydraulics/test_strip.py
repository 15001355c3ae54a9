"""Two parallel edges: the row of images against a numeric model, against itself at thirty digits, and told from readings."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.sparse import coo_matrix

from borewright import hydraulics as h
from borewright.errors import BadInput

T, S, Q = 1e-3, 1e-4, 2e-3
NEAR, FAR = 40.0, 90.0
KINDS = [("barrier", "barrier"), ("barrier", "river"), ("river", "barrier"), ("river", "river")]


def _spacing(*, reach, first=1.0, growth=1.12, largest=30.0):
    steps = [first]
    while sum(steps) < reach:
        steps.append(min(steps[-1] * growth, largest))
    return np.array(steps) * reach / sum(steps)


def strip_model(times, places, edges):
    """Return drawdown at times and (across, along) places by finite volumes over half of the strip, along positive; SciPy alone."""
    faces = np.concatenate([-np.cumsum(_spacing(reach=FAR - 0.5, largest=8.0))[::-1] - 0.5, [-0.5, 0.5], np.cumsum(_spacing(reach=NEAR - 0.5, largest=8.0)) + 0.5])
    rows = np.concatenate([[0.0, 0.5], 0.5 + np.cumsum(_spacing(reach=2000.0))])
    x, y = (faces[1:] + faces[:-1]) / 2, (rows[1:] + rows[:-1]) / 2
    dx, dy = np.diff(faces), np.diff(rows)
    number = np.arange(x.size * y.size).reshape(x.size, y.size)
    source, entries = np.zeros(number.size), []

    def join(one, other, link):
        entries.extend([(one, one, -link), (other, other, -link), (one, other, link), (other, one, link)])

    for i in range(x.size - 1):
        for j in range(y.size):
            join(number[i, j], number[i + 1, j], T * dy[j] / (x[i + 1] - x[i]))
    for i in range(x.size):
        for j in range(y.size - 1):
            join(number[i, j], number[i, j + 1], T * dx[i] / (y[j + 1] - y[j]))
    for kind, i in zip(edges, (x.size - 1, 0), strict=True):
        if kind == "river":
            entries.extend((number[i, j], number[i, j], -T * dy[j] / (dx[i] / 2)) for j in range(y.size))
    source[number[np.argmin(np.abs(x)), 0]] = Q / 2
    store = S * (dx[:, None] * dy[None, :]).ravel()
    a, b, value = (np.array(column) for column in zip(*entries, strict=True))
    matrix = coo_matrix((value / store[a.astype(int)], (a.astype(int), b.astype(int)))).tocsc()
    found = solve_ivp(lambda _, s: matrix @ s + source / store, (0, times[-1]), np.zeros(store.size), method="BDF", t_eval=times, jac=matrix, rtol=1e-6, atol=1e-8)
    from scipy.interpolate import RegularGridInterpolator

    return np.array([RegularGridInterpolator((x, y), found.y[:, k].reshape(number.shape), bounds_error=False, fill_value=None)(places) for k in range(len(times))])


@pytest.mark.parametrize("edges", KINDS)
def test_numeric_model(edges):
    times = np.array([300.0, 3e3, 2e4])
    places = [(0.0, 20.0), (25.0, 10.0), (-60.0, 30.0), (10.0, 150.0)]
    model = strip_model(times, places, edges)
    exact = np.array([h.strip_drawdown(times, near=NEAR, far=FAR, across=x, along=y, rate=Q, transmissivity=T, storativity=S, edges=edges) for x, y in places]).T
    np.testing.assert_allclose(model, exact, atol=6e-3 * exact.max())


def images(time, *, near, far, across, along, edges):
    """Return the sum of images at thirty digits until they no longer count, and what they would come to if none cancelled."""
    with mpmath.workdps(30):
        first, second = (1 if edge == "barrier" else -1 for edge in edges)
        spread, width = mpmath.mpf(T) * time / mpmath.mpf(S), mpmath.mpf(near) + mpmath.mpf(far)
        turns = int(mpmath.sqrt(300 * spread) / (2 * width)) + 2
        total = mass = mpmath.mpf(0)
        for turn in range(-turns, turns + 1):
            weight = (first * second) ** abs(turn)
            for off, strength in ((2 * turn * width - across, weight), (2 * turn * width + 2 * mpmath.mpf(near) - across, first * weight)):
                one = mpmath.e1((off**2 + mpmath.mpf(along) ** 2) / (4 * spread))
                total, mass = total + strength * one, mass + one
        return total / (4 * mpmath.pi * T), mass / (4 * mpmath.pi * T)


@settings(max_examples=60, deadline=None)
@given(
    edges=st.sampled_from(KINDS), near=st.floats(1.0, 2e3), far=st.floats(1.0, 2e3), where=st.floats(-0.999, 0.999), along=st.floats(1e-3, 6.0), late=st.floats(-3.0, 2.5),
)
def test_thirty_digits(edges, near, far, where, along, late):
    width = near + far
    across, time = where * (near if where > 0 else far), 10.0**late * width**2 * S / T
    exact, mass = images(time, near=near, far=far, across=across, along=along * width, edges=edges)
    ours = h.strip_drawdown(time, near=near, far=far, across=across, along=along * width, rate=1.0, transmissivity=T, storativity=S, edges=edges)
    assert abs(ours - exact) <= 1e-12 * mass + 1e-280


@pytest.mark.parametrize("edges", KINDS)
def test_images_hand_over_to_modes(edges):
    seam = (NEAR + FAR) ** 2 * S / T / np.pi
    both = h.strip_drawdown(seam * np.array([1 - 1e-13, 1 + 1e-13]), near=NEAR, far=FAR, across=7.0, along=12.0, rate=Q, transmissivity=T, storativity=S, edges=edges)
    assert both[0] == pytest.approx(both[1], rel=1e-11)


@given(time=st.floats(1.0, 1e8), along=st.floats(0.1, 500.0))
@settings(max_examples=40, deadline=None)
def test_a_river_keeps_its_level_and_nothing_crosses_a_barrier(time, along):
    common = {"near": NEAR, "far": FAR, "along": along, "rate": Q, "transmissivity": T, "storativity": S, "edges": ("river", "barrier")}
    assert abs(h.strip_drawdown(time, across=NEAR, **common)) < 1e-12
    edge, beside = (h.strip_drawdown(time, across=-FAR + step, **common) for step in (0.0, 1e-3))
    assert abs(edge - beside) < 1e-8 * max(edge, 1e-3)


def test_one_edge_alone_is_one_image():
    time = np.geomspace(60, 1e5, 9)
    ground = {"rate": Q, "transmissivity": T, "storativity": S}
    ours = h.strip_drawdown(time, near=NEAR, far=1e6, across=5.0, along=12.0, **ground)
    np.testing.assert_allclose(ours, h.drawdown(time, 13.0, **ground) + h.drawdown(time, np.hypot(2 * NEAR - 5.0, 12.0), **ground), rtol=1e-12)


@pytest.mark.parametrize("asked", [{"near": 0.0}, {"across": 41.0}, {"across": 0.0, "along": 0.0}, {"edges": ("barrier", "fence")}, {"transmissivity": float("nan")}])
def test_bad_input(asked):
    given_ = {"near": NEAR, "far": FAR, "along": 10.0, "rate": Q, "transmissivity": T, "storativity": S} | asked
    with pytest.raises(BadInput):
        h.strip_drawdown(60.0, **given_)


TOLD = [("two-barriers", ("barrier", "barrier"), ("near_edge", "far_edge")), ("barrier-and-river", ("barrier", "river"), ("barrier_distance", "river_distance")),
        ("two-rivers", ("river", "river"), ("near_edge", "far_edge"))]


@pytest.mark.parametrize(("name", "edges", "words"), TOLD)
def test_distances_told_from_readings(name, edges, words):
    time = np.geomspace(60, 1e5, 80)
    fall = h.strip_drawdown(time, near=NEAR, far=FAR, across=0.0, along=15.0, rate=Q, transmissivity=T, storativity=S, edges=edges)
    fit = h.fit_test([h.Levels(time, fall + 0.0005 * np.random.default_rng(3).standard_normal(time.size), 15.0, "P15")], rate=Q, solutions=[name])
    one = fit.fits[0]
    for word, true in zip((*words, "transmissivity"), (NEAR, FAR, T), strict=True):
        estimate = one.parameters[word]
        assert estimate.low < true < estimate.high
        assert estimate.value == pytest.approx(true, rel=0.1)
    assert one.derived["width_of_strip_m"] == pytest.approx(NEAR + FAR, rel=0.1)


def test_a_bore_off_the_middle_tells_the_sides_apart():
    time = np.geomspace(60, 1e5, 50)
    places = [("A", 20.0, 12.0), ("B", 30.0, -24.0)]
    levels = [h.Levels(time, h.strip_drawdown(time, near=NEAR, far=FAR, across=x, along=(r * r - x * x) ** 0.5, rate=Q, transmissivity=T, storativity=S), r, w, across=x) for w, r, x in places]
    found = h.fit_test(levels, rate=Q, solutions=["two-barriers"]).fits[0].parameters
    assert (found["near_edge"].value, found["far_edge"].value) == (pytest.approx(NEAR, rel=1e-4), pytest.approx(FAR, rel=1e-4))
    with pytest.raises(BadInput, match="across"):
        h.fit_test([h.Levels(time, levels[0].drawdown, 20.0, "A", across=25.0)], rate=Q)


def test_two_edges_are_looked_for_where_one_shows():
    time = np.geomspace(60, 2e5, 120)
    fall = h.strip_drawdown(time, near=NEAR, far=FAR, along=15.0, rate=Q, transmissivity=T, storativity=S)
    fit = h.fit_test([h.Levels(time, fall + 0.003 * np.random.default_rng(5).standard_normal(time.size), 15.0, "P15")], rate=Q)
    assert fit.best == "two-barriers"
    plain = h.drawdown(time, 15.0, rate=Q, transmissivity=T, storativity=S)
    assert "two-barriers" not in {f.solution for f in h.fit_test([h.Levels(time, plain + 0.003 * np.random.default_rng(5).standard_normal(time.size), 15.0, "P15")], rate=Q).fits}


def test_a_rating_does_not_trust_rivers_for_ever():
    time = np.geomspace(60, 2e5, 60)
    fall = h.strip_drawdown(time, near=NEAR, far=FAR, along=0.1, rate=Q, transmissivity=T, storativity=S, edges=("barrier", "river"))
    fit = h.fit_test([h.Levels(time, fall + 0.002 * np.random.default_rng(5).standard_normal(time.size), 0.1, "bore")], rate=Q, solutions=["barrier-and-river"], bore_radius=0.1)
    sure = h.rate_bore(fit, static_level=5.0, guard_depth=25.0, bore_radius=0.1, belief=h.RatingBelief(source_fails=0.0))
    doubtful = h.rate_bore(fit, static_level=5.0, guard_depth=25.0, bore_radius=0.1, belief=h.RatingBelief(source_fails=1.0))
    assert doubtful.horizons[-1].flow < 0.7 * sure.horizons[-1].flow
