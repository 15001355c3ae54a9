"""What a casing withstands: collapse, burst, tension and buckling. Pure functions on SI floats and arrays that broadcast.

Collapse here is the theoretical resistance of the pipe; the factor that is asked of it belongs to the stage check.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import require, require_finite, require_fraction, require_non_negative, require_positive

__all__ = [
    "PSI", "STEEL_MODULUS", "buckling_load", "encased_collapse", "pipe_area", "plastic_burst", "plastic_collapse", "ovality_factor", "reduced_yield",
    "self_buckling_length", "slotted_share", "steel_burst", "steel_collapse", "steel_collapse_limits", "steel_collapse_regime",
]

PSI = 6894.757293168361  # Pa; the steel equations are fitted in pounds per square inch
STEEL_MODULUS = 206.8e9  # 30e6 psi
REGIMES = ("yield", "plastic", "transition", "elastic")


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else np.asarray(value)


def _ratio(outside_diameter: ArrayLike, wall: ArrayLike) -> np.ndarray:
    require_positive(outside_diameter=outside_diameter, wall=wall)
    outside, thick = np.asarray(outside_diameter, float), np.asarray(wall, float)
    require(bool(np.all(2 * thick < outside)), "wall", float(np.max(thick)), "is as thick as the radius", "a wall under half the outside diameter [m]")
    return outside / thick


def pipe_area(outside_diameter: ArrayLike, wall: ArrayLike) -> Any:
    """Return the area of metal or plastic across a pipe [m2]."""
    _ratio(outside_diameter, wall)
    outside, thick = np.asarray(outside_diameter, float), np.asarray(wall, float)
    return _plain(np.pi * thick * (outside - thick))


def ovality_factor(ovality: ArrayLike) -> Any:
    """Return the share of a round pipe's collapse resistance that an out-of-round one keeps.

    Parameters
    ----------
    ovality : float or array_like
        (mean diameter - least diameter) / mean diameter, from 0 to 1 [-].

    References
    ----------
    .. [1] ASTM F1216 Appendix X1: C = ((1 - q) / (1 + q)^2)^3 (from memory).
    """
    require_fraction(ovality=ovality)
    q = np.asarray(ovality, float)
    return _plain(((1 - q) / (1 + q) ** 2) ** 3)


def plastic_collapse(outside_diameter: ArrayLike, wall: ArrayLike, *, modulus: ArrayLike, poisson: ArrayLike, ovality: ArrayLike = 0.0) -> Any:
    """Return the outside pressure at which a long elastic pipe collapses [Pa].

    Parameters
    ----------
    outside_diameter, wall : float or array_like
        Outside diameter and least wall [m].
    modulus : float or array_like
        Young's modulus at the temperature and duration of the load [Pa].
    poisson : float or array_like
        Poisson's ratio, from 0 to below 0.5 [-].
    ovality : float or array_like
        See `ovality_factor` [-].

    Raises
    ------
    OutOfDomain
        Not finite, not positive, a wall of at least the radius, a Poisson's ratio of 0.5 or more.

    Notes
    -----
    p = 2E / ((1 - v^2) (DR - 1)^3), DR the outside diameter over the wall. Long, thin, elastic pipe; above DR 10 or so. With
    E 400,000 psi and v 0.36 it gives the published depth limits of COMAR 26.04.04.17 within 2 %.

    References
    ----------
    .. [1] COMAR 26.04.04.17 Table 1 (read); tests/reference/construction/pvc_collapse_depth_limits.csv.
    """
    require_positive(modulus=modulus)
    require_non_negative(poisson=poisson)
    nu = np.asarray(poisson, float)
    require(bool(np.all(nu < 0.5)), "poisson", float(np.max(nu)), "must be below 0.5", "Poisson's ratio of the material")
    ratio = _ratio(outside_diameter, wall)
    return _plain(2 * np.asarray(modulus, float) / ((1 - nu**2) * (ratio - 1) ** 3) * ovality_factor(ovality))


def encased_collapse(outside_diameter: ArrayLike, wall: ArrayLike, *, modulus: ArrayLike, poisson: ArrayLike) -> Any:
    """Return the outside pressure at which a pipe held tight in a rigid ring collapses, 0.969 E/(1 - v^2) (t/D)^2.2 [Pa].

    References
    ----------
    .. [1] Glock, 1977, Überkritisches Verhalten eines starr ummantelten Kreisrohres, Der Stahlbau 7, 212-217 (from memory).
    """
    require_positive(modulus=modulus)
    require_non_negative(poisson=poisson)
    nu = np.asarray(poisson, float)
    require(bool(np.all(nu < 0.5)), "poisson", float(np.max(nu)), "must be below 0.5", "Poisson's ratio of the material")
    return _plain(0.969 * np.asarray(modulus, float) / (1 - nu**2) / _ratio(outside_diameter, wall) ** 2.2)


def plastic_burst(outside_diameter: ArrayLike, wall: ArrayLike, *, hoop_stress: ArrayLike) -> Any:
    """Return the inside pressure at which the hoop stress is reached, P = 2S / (DR - 1) [Pa] (ISO 161-1, ASTM D1785)."""
    require_positive(hoop_stress=hoop_stress)
    return _plain(2 * np.asarray(hoop_stress, float) / (_ratio(outside_diameter, wall) - 1))


def _coefficients(yield_psi: np.ndarray) -> tuple[np.ndarray, ...]:
    y = yield_psi
    a = 2.8762 + 0.10679e-5 * y + 0.21301e-10 * y**2 - 0.53132e-16 * y**3
    b = 0.026233 + 0.50609e-6 * y
    c = -465.93 + 0.030867 * y - 0.10483e-7 * y**2 + 0.36989e-13 * y**3
    q = b / a
    m = 3 * q / (2 + q)
    f = 46.95e6 * m**3 / (y * (m - q) * (1 - m) ** 2)
    return a, b, c, f, f * q


def _yield_psi(yield_stress: ArrayLike) -> np.ndarray:
    require_positive(yield_stress=yield_stress)
    psi = np.asarray(yield_stress, float) / PSI
    require(bool(np.all((psi >= 25e3) & (psi <= 160e3))), "yield_stress", float(np.min(psi) * PSI), "is outside the fit of the collapse equations",
            "a yield stress from 172 to 1103 MPa (25 to 160 ksi)")
    return psi


def steel_collapse_limits(yield_stress: ArrayLike) -> dict[str, Any]:
    """Return the coefficients and the diameter-to-wall ratios at which the collapse regime changes, at a yield stress [Pa].

    Keys: A, B, C (in psi), F, G, and yield_plastic, plastic_transition, transition_elastic [-].

    References
    ----------
    .. [1] API Bulletin 5C3 (1994), equations 2 to 8 and 21 to 26, Tables 1 to 4; ISO 10400:2007 Annex (historical equations). From memory;
       held to 26 rows of API Bulletin 5C2 in tests/reference/construction/steel_casing_collapse_api.csv.
    """
    y = _yield_psi(yield_stress)
    a, b, c, f, g = _coefficients(y)
    q = b / a
    limits = {
        "A": a, "B": b, "C": c, "F": f, "G": g,
        "yield_plastic": (np.sqrt((a - 2) ** 2 + 8 * (b + c / y)) + a - 2) / (2 * (b + c / y)),
        "plastic_transition": y * (a - f) / (c + y * (b - g)),
        "transition_elastic": (2 + q) / (3 * q),
    }
    return {name: _plain(value) for name, value in limits.items()}


def steel_collapse(outside_diameter: ArrayLike, wall: ArrayLike, *, yield_stress: ArrayLike) -> Any:
    """Return the least outside pressure at which steel casing collapses, by the regime that its ratio and grade fall in [Pa].

    Parameters
    ----------
    outside_diameter, wall : float or array_like
        Outside diameter and wall [m].
    yield_stress : float or array_like
        Least yield stress, reduced for axial tension by `reduced_yield` where there is any; 25 to 160 ksi [Pa].

    Raises
    ------
    OutOfDomain
        Outside the fit, or not a pipe.

    Notes
    -----
    The four regimes of API 5C3 with r = D/t and Y the yield stress in psi: yield 2Y(r - 1)/r^2; plastic Y(A/r - B) - C; transition
    Y(F/r - G); elastic 46.95e6/(r (r - 1)^2). The equations are fitted to seamless casing of 40 to 155 ksi; for welded line pipe below
    that they are an extrapolation.
    """
    ratio = _ratio(outside_diameter, wall)
    y = _yield_psi(yield_stress)
    pick = _regime(ratio, y)
    a, b, c, f, g = _coefficients(y)
    pressures = (2 * y * (ratio - 1) / ratio**2, y * (a / ratio - b) - c, y * (f / ratio - g), 46.95e6 / (ratio * (ratio - 1) ** 2))
    return _plain(np.choose(pick, np.broadcast_arrays(*pressures)) * PSI)


def _regime(ratio: np.ndarray, yield_psi: np.ndarray) -> np.ndarray:
    limits = steel_collapse_limits(yield_psi * PSI)
    edges = (limits["yield_plastic"], limits["plastic_transition"], limits["transition_elastic"])
    return sum(np.asarray(ratio > edge, int) for edge in edges)


def steel_collapse_regime(outside_diameter: float, wall: float, *, yield_stress: float) -> str:
    """Return the name of the collapse regime: yield, plastic, transition or elastic."""
    return REGIMES[int(_regime(_ratio(outside_diameter, wall), _yield_psi(yield_stress)))]


def reduced_yield(yield_stress: ArrayLike, *, axial_stress: ArrayLike) -> Any:
    """Return the yield stress left for collapse under an axial tension [Pa]; compression takes nothing off.

    Notes
    -----
    Y (sqrt(1 - 0.75 (S/Y)^2) - 0.5 S/Y), API Bulletin 5C3 (1994) equation 19 (from memory).

    Raises
    ------
    OutOfDomain
        A tension at or above the yield stress.
    """
    require_positive(yield_stress=yield_stress)
    require_finite(axial_stress=axial_stress)
    share = np.maximum(np.asarray(axial_stress, float), 0.0) / np.asarray(yield_stress, float)
    require(bool(np.all(share < 1)), "axial_stress", float(np.max(axial_stress)), "is not below the yield stress", "a tension that the pipe can hang in")
    return _plain(np.asarray(yield_stress, float) * (np.sqrt(1 - 0.75 * share**2) - 0.5 * share))


def steel_burst(outside_diameter: ArrayLike, wall: ArrayLike, *, yield_stress: ArrayLike) -> Any:
    """Return the inside pressure at which steel casing of 87.5 % wall yields: 0.875 x 2Yt/D [Pa] (API Bulletin 5C3, equation 31)."""
    require_positive(yield_stress=yield_stress)
    return _plain(1.75 * np.asarray(yield_stress, float) / _ratio(outside_diameter, wall))


def buckling_load(outside_diameter: ArrayLike, wall: ArrayLike, *, modulus: ArrayLike, spacing: ArrayLike) -> Any:
    """Return the axial load at which a pipe buckles between centralisers taken as hinges, pi^2 E I / L^2 [N] (Euler)."""
    require_positive(modulus=modulus, spacing=spacing)
    return _plain(np.pi**2 * np.asarray(modulus, float) * _inertia(outside_diameter, wall) / np.asarray(spacing, float) ** 2)


def self_buckling_length(outside_diameter: float, wall: float, *, modulus: float, weight_per_length: float) -> float:
    """Return the height at which a pipe standing free on its foot bends under its own weight [m].

    Notes
    -----
    (7.837 E I / w)^(1/3), Timoshenko and Gere, Theory of Elastic Stability, 2nd ed. 1961, section 2.12 (from memory).
    """
    require_positive(modulus=modulus, weight_per_length=weight_per_length)
    return float((7.837 * modulus * _inertia(outside_diameter, wall) / weight_per_length) ** (1 / 3))


def _inertia(outside_diameter: ArrayLike, wall: ArrayLike) -> np.ndarray:
    _ratio(outside_diameter, wall)
    outside = np.asarray(outside_diameter, float)
    return np.pi / 64 * (outside**4 - (outside - 2 * np.asarray(wall, float)) ** 4)


def slotted_share(open_area_share: ArrayLike) -> Any:
    """Return the share of the plain pipe's resistance that a slotted one is trusted with: 1 - 2 x open area, not below 0.3 [-].

    Common practice, no source: a supplier's tested figure for the slotted pipe always comes first.
    """
    require_fraction(open_area_share=open_area_share)
    return _plain(np.maximum(1 - 2 * np.asarray(open_area_share, float), 0.3))
