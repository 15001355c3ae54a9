"""Well functions at the corners of their stated domains, against mpmath at thirty digits: integrals of their definitions, series and inversion by another rule.

The values were made once with mpmath (Gauss-Legendre panels of the defining integral scaled by its largest value; Talbot inversion of degree 60 for the
transforms; the Fourier series of a part-open bore term by term) and are kept here to twenty digits.
"""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from borewright import hydraulics as h

LEAKY = [
    (1e-12, 1e-8, 27.053780451184265201), (1e-6, 0.01, 9.4424894603216549992), (0.05, 2.0, 0.22778774540530321213), (3.0, 1e-6, 0.013048381094196150585),
    (3.0001, 0.3, 0.01296717023328818948), (20.0, 40.0, 8.3928611000995670337e-19), (400.0, 100.0, 9.3651080246599901536e-180), (50.0, 300.0, 7.4473897097782865265e-132),
    (600.0, 1.0, 4.4081557275432774865e-264), (1e-6, 300.0, 7.4473897097782865265e-132),
]


@pytest.mark.parametrize(("argument", "ratio", "exact"), LEAKY)
def test_leaky(argument, ratio, exact):
    assert h.leaky_well_function(argument, ratio) == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(("argument", "ratio", "exact"), [
    (1e-12, 1.0, 1.7627449172807518604), (1e-9, 1e4, 19.101114565586384273), (0.3, 0.01, 0.0087712617256480402283), (50.0, 1.0, 3.7832640295504590187e-24),
    (500.0, 1e-3, 3.5910658527830212039e-222),
])
def test_hantush_m(argument, ratio, exact):
    assert h.hantush_m(argument, ratio) == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize("argument", [1e-300, 1e-12, 0.3, 1.0, 40.0, 699.0])
def test_theis(argument):
    with mpmath.workdps(30):
        assert h.well_function(argument) == pytest.approx(float(mpmath.e1(argument)), rel=1e-13)


@pytest.mark.parametrize("order", [-0.5, -0.25, -1e-9, 0.0, 1e-9, 0.25, 0.5])
@pytest.mark.parametrize("argument", [1e-12, 1e-3, 1.0, 300.0])
def test_upper_gamma(order, argument):
    with mpmath.workdps(30):
        assert h.upper_gamma(order, argument) == pytest.approx(float(mpmath.gammainc(order, argument)), rel=1e-10)


@pytest.mark.parametrize("time", [1e-10, 1e-3, 0.03, 1.0, 30.0, 1e15])
def test_fracture_that_takes_water_evenly(time):
    with mpmath.workdps(30):
        t = mpmath.mpf(time)
        exact = mpmath.sqrt(mpmath.pi * t) * mpmath.erf(1 / (2 * mpmath.sqrt(t))) + mpmath.e1(1 / (4 * t)) / 2
    assert h.fracture_function(time, kind="even") == pytest.approx(float(exact), rel=1e-12)


@pytest.mark.parametrize(("argument", "radius", "thickness", "anisotropy", "screen", "observed", "exact"), [
    (1e-6, 0.5, 40.0, 0.5, (5.0, 15.0), (5.0, 15.0), 28.906396918100040834), (1e-3, 2.0, 40.0, 1.0, (5.0, 15.0), (20.0, 30.0), 3.0799753106670863413),
    (0.2, 8.0, 40.0, 0.2, (0.0, 20.0), (0.0, 20.0), 2.2643427836441341792), (3.0, 1.0, 10.0, 1.0, (1.0, 2.0), (1.0, 2.0), 0.092372162986919026766),
])
def test_part_open(argument, radius, thickness, anisotropy, screen, observed, exact):
    ours = h.partial_drawdown(radius**2 * 1e-4 / (4e-3 * argument), radius=radius, rate=4e-3 * math.pi, transmissivity=1e-3, storativity=1e-4, thickness=thickness, screen=screen,
                              observed=observed, anisotropy=anisotropy)
    assert ours == pytest.approx(exact, abs=1e-10)


@pytest.mark.parametrize(("radius", "thickness", "anisotropy"), [(0.05, 300.0, 0.01), (0.1, 100.0, 1.0), (0.1, 40.0, 0.1)])
def test_a_thin_bore_in_a_thick_aquifer_settles_to_the_settled_series(radius, thickness, anisotropy):
    """800,000 terms count here: a sum cut short would miss 1e-5."""
    screen, ground = (0.2 * thickness, 0.45 * thickness), {"rate": 1e-3, "transmissivity": 1e-3}
    late = h.partial_drawdown(1e12, radius=radius, storativity=1e-4, thickness=thickness, screen=screen, observed=screen, anisotropy=anisotropy, **ground)
    excess = late - h.drawdown(1e12, radius, storativity=1e-4, **ground)
    assert excess == pytest.approx(h.settled_partial_excess(radius=radius, thickness=thickness, screen=screen, anisotropy=anisotropy, **ground), rel=1e-10)


@pytest.mark.parametrize(("transmissivity", "storativity", "casing", "radius", "time", "exact"), [
    (1e-4, 1e-3, 0.1, 0.1, 10.0, 303.51383924972045798), (1e-3, 1e-4, 1.0, 0.1, 1e3, 274.67920578592064851), (1e-5, 1e-2, 0.08, 5.0, 1e6, 35822.303065914462656),
    (2e-3, 1e-5, 0.5, 50.0, 300.0, 58.486983668750666249),
])
def test_bore_storage(transmissivity, storativity, casing, radius, time, exact):
    ours = h.bore_storage_drawdown(time, radius=radius, rate=1.0, transmissivity=transmissivity, storativity=storativity, bore_radius=0.1, casing_radius=casing)
    assert ours == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(("storativity", "block", "interflow", "radius", "time", "blocks", "exact"), [
    (1e-4, 1e-2, 1e-5, 30.0, 1e3, "settled", 250.77198695167089708), (1e-4, 1e-2, 1e-5, 30.0, 1e6, "settled", 456.44800338915093657),
    (1e-5, 1e-3, 1e-3, 10.0, 100.0, "slabs", 184.47534736677495433), (1e-3, 1e-1, 1e-6, 100.0, 1e5, "slabs", 164.32446475379503578),
])
def test_double_porosity(storativity, block, interflow, radius, time, blocks, exact):
    ours = h.double_porosity_drawdown(time, radius=radius, rate=1.0, transmissivity=1e-3, storativity=storativity, block_storativity=block, interflow=interflow, blocks=blocks)
    assert ours == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(("argument", "ratio", "beta", "exact"), [(1e-3, 1e-3, 0.1, 1.6239302784012), (1.0, 1e-3, 0.1, 0.18760194366888)])
def test_neuman_by_another_pair_of_inversions(argument, ratio, beta, exact):
    """Hankel by mpmath's oscillating quadrature, Laplace by Talbot's rule, twenty digits: to the 1e-7 that the function states."""
    assert h.unconfined_well_function(argument, ratio=ratio, beta=beta) == pytest.approx(exact, abs=1e-7)


def test_arrays_and_numbers_agree():
    argument, ratio, exact = (np.array(column) for column in zip(*LEAKY, strict=True))
    np.testing.assert_allclose(h.leaky_well_function(argument, ratio), exact, rtol=1e-10)
