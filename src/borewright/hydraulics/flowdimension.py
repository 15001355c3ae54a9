"""Flow that is neither along a line, nor radial, nor spherical: Barker's generalised radial flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln, zeta

from borewright.errors import require, require_finite, require_positive

__all__ = ["flow_dimension_drawdown", "upper_gamma"]

# ln gamma(1 + a) = -euler a + sum zeta(k)/k (-a)^k
_EULER = 0.57721566490153286061
_LOG_GAMMA = np.array([zeta(k) / k * (-1) ** k for k in range(2, 12)])


def upper_gamma(order: ArrayLike, argument: ArrayLike) -> np.ndarray | float:
    """Return the upper incomplete gamma function, also for orders of zero and below.

    Parameters
    ----------
    order : array_like
        From -0.5 to 0.5 [-].
    argument : array_like
        Above zero [-].

    Returns
    -------
    ndarray or float
        Broadcast [-]; relative error below 1e-11, no step at order 0, where it is the Theis well function.

    Notes
    -----
    To 1.5 the series with the pole of the first two terms taken out by expm1; beyond, the continued fraction (DLMF 8.9.2) by Lentz's rule.
    """
    require_positive(argument=argument)
    a, x = np.broadcast_arrays(np.asarray(order, dtype=float), np.asarray(argument, dtype=float))
    require(bool(np.all(np.abs(a) <= 0.5)), "order", float(np.max(np.abs(a))) if a.size else 0.0, "is outside the series", "-0.5 to 0.5")
    value = quick_gamma(a, x)
    return float(value) if value.ndim == 0 else value


def quick_gamma(order: np.ndarray, argument: np.ndarray) -> np.ndarray:
    """Return the upper incomplete gamma function of arrays known to be good."""
    a, x = np.broadcast_arrays(order, argument)
    value = np.empty(x.shape)
    near = x <= 1.5
    value[near] = _near(a[near], x[near])
    value[~near] = _far(a[~near], x[~near])
    return value


def _near(a: np.ndarray, x: np.ndarray) -> np.ndarray:
    # ln gamma(1 + a): by its series near zero, where rounding of 1 + a would show after the division by a.
    series = np.zeros_like(a)
    for coefficient in _LOG_GAMMA[::-1]:
        series = (series + coefficient) * a
    log_gamma = np.where(np.abs(a) < 0.02, (series - _EULER) * a, gammaln(1.0 + a))
    logarithm = np.log(x)
    exponent = a * logarithm
    with np.errstate(divide="ignore", invalid="ignore"):
        head = np.where(np.abs(a) < 1e-300, -_EULER - logarithm, (np.expm1(log_gamma) - np.expm1(exponent)) / np.where(a == 0, 1.0, a))
    total, term = np.zeros_like(x), np.ones_like(x)
    for k in range(1, 30):
        term = term * (-x / k)
        total += term / (a + k)
    return head - np.exp(exponent) * total


def _far(a: np.ndarray, x: np.ndarray) -> np.ndarray:
    b = x + 1.0 - a
    c = np.full_like(x, 1e300)
    d = 1.0 / b
    value = d.copy()
    for k in range(1, 90):
        factor = -k * (k - a)
        b = b + 2.0
        d = 1.0 / (factor * d + b)
        c = b + factor / c
        change = c * d
        value *= change
        if value.size == 0 or np.max(np.abs(change - 1.0)) < 1e-15:
            break
    return value * np.exp(-x + a * np.log(x))


def unit_response(time, *, radius, transmissivity, storativity, dimension) -> np.ndarray:
    """Return the drawdown for each m3/s [m / (m3/s)]; arrays that broadcast."""
    half = dimension / 2.0
    argument = radius**2 * storativity / (4.0 * transmissivity * time)
    return radius ** (2.0 - dimension) / (4.0 * np.pi**half * transmissivity) * quick_gamma(half - 1.0 + 0 * argument, argument)


def flow_dimension_drawdown(
    time: ArrayLike, radius: ArrayLike, *, rate: float, transmissivity: float, storativity: float, dimension: float,
) -> np.ndarray | float:
    """Return the drawdown in a network where flow fills a space of any dimension from 1 to 3.

    Parameters
    ----------
    time, radius : array_like
        Broadcast [s], [m].
    rate : float
        [m3/s].
    transmissivity, storativity : float
        K b^(3-n) and S_s b^(3-n), with lengths in metres; T and S themselves at n = 2.
    dimension : float
        n: 1 along a line (a dyke, a channel), 2 radial, 3 spherical; from 1 to 3 [-].

    Returns
    -------
    ndarray or float
        Q r^(2-n) / (4 pi^(n/2) K b^(3-n)) Gamma(n/2 - 1, u), u = r2 S/(4 T t) [m]. Line or point source, no storage in the bore.

    References
    ----------
    Barker (1988) Water Resources Research 24(10):1796-1804 (from memory).
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, dimension=dimension)
    require(1.0 <= dimension <= 3.0, "dimension", dimension, "is not a dimension of flow", "1 to 3")
    since, distance = np.broadcast_arrays(np.asarray(time, dtype=float), np.asarray(radius, dtype=float))
    running, value = since > 0, np.zeros(since.shape)
    value[running] = rate * unit_response(since[running], radius=distance[running], transmissivity=transmissivity, storativity=storativity,
                                          dimension=dimension)
    return float(value) if value.ndim == 0 else value


