"""Drawdown in an aquifer that water leaks into through the bed above or below: Hantush & Jacob, no storage in that bed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import k0

from borewright.errors import require_finite, require_non_negative, require_positive
from borewright.hydraulics.confined import EULER

__all__ = ["leaky_drawdown", "leaky_well_function", "settled_leaky_drawdown"]

SERIES_TO = 3.0
TERMS = 30
SLIGHT = 0.1
BLOCK = 16384
_ROOTS, _WEIGHTS = np.polynomial.laguerre.laggauss(20)
_KEEP = _WEIGHTS > 1e-18


def leaky_well_function(argument: ArrayLike, leakage: ArrayLike) -> np.ndarray | float:
    """Return the leaky well function W(u, r/B).

    Parameters
    ----------
    argument : array_like
        u = r2 S / (4 T t), zero or more; at zero the settled value 2 K0(r/B) comes back [-].
    leakage : array_like
        r / B with B = sqrt(T c), c the resistance of the leaking bed; 0 gives the function without leakage [-].

    Returns
    -------
    ndarray or float
        Broadcast [-]; relative error below 1e-10 for u up to 600 and r/B up to 300; to r/B = 600 below 1e-9, 0 by underflow beyond.

    Raises
    ------
    OutOfDomain
        A negative or non-finite argument, or both zero.

    Notes
    -----
    W(u, b) + W(b2/(4u), b) = 2 K0(b) brings every u to at least b/2. There, to u = 3, the series in E_n(u) of Hantush & Jacob;
    beyond, exp(-u) times a Gauss-Laguerre sum of exp(-b2/(4(u + w)))/(u + w).

    References
    ----------
    Hantush & Jacob (1955) Trans. AGU 36:95-100; Hantush (1956) Trans. AGU 37:702-714.
    """
    require_non_negative(argument=argument, leakage=leakage)
    given, ratio = np.broadcast_arrays(np.asarray(argument, dtype=float), np.asarray(leakage, dtype=float))
    if np.any((given == 0) & (ratio == 0)):
        require_positive(argument=0.0)
    value = leaky_quick(given, ratio)
    return float(value) if value.ndim == 0 else value


def leaky_quick(argument: np.ndarray, leakage: np.ndarray) -> np.ndarray:
    """Return W(u, r/B) of arrays that broadcast and are known to be good."""
    given, ratio = np.broadcast_arrays(argument, leakage)
    flat, ratios = given.ravel(), ratio.ravel()
    value = np.empty(flat.size)
    for first in range(0, flat.size, BLOCK):
        part = slice(first, first + BLOCK)
        value[part] = _block(flat[part], ratios[part])
    return value.reshape(given.shape)


def _block(u: np.ndarray, b: np.ndarray) -> np.ndarray:
    quarter = b * b * 0.25
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        turned = u < b * 0.5
        point = np.where(turned, np.minimum(quarter / u, 1e300), u)
        share = np.where(point > 0, quarter / point, 0.0)
    direct = np.empty_like(u)
    # Apart by how many terms they need: most points need a third of those that the worst does.
    small = point <= SERIES_TO
    slight = share <= SLIGHT
    for group in (small & slight, small & ~slight):
        if group.any():
            direct[group] = _series(point[group], share[group])
    if not small.all():
        large = ~small
        direct[large] = _quadrature(point[large], quarter[large])
    if turned.any():
        direct[turned] = 2.0 * _second_kind(b[turned], quarter[turned]) - direct[turned]
    return direct


def _series(point: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return sum over n of (-share)^n / n! E_{n+1}(point), the E_n by their forward recurrence."""
    decay = np.exp(-point)
    order = _first_integral(point)
    total, term = order.copy(), np.ones_like(point)
    largest = float(share.max(initial=0.0))
    size = 1.0
    for n in range(1, TERMS):
        size *= largest / n
        if size < 1e-15:
            break
        term *= share
        term *= -1.0 / n
        order *= point
        np.subtract(decay, order, out=order)
        order *= 1.0 / n
        total += term * order
    return total


# E1(x) + euler + ln x = sum over k of -(-x)^k / (k k!), highest power first: to 1, and to SERIES_TO, where three digits cancel.
_E1, _E1_BEYOND = ([-((-1.0) ** k) / (k * math.factorial(k)) for k in range(most, 0, -1)] for most in (16, 28))


def _first_integral(point: np.ndarray) -> np.ndarray:
    """Return E1 to SERIES_TO by its series, many times as quick as the library's continued fraction; relative error below 1e-12."""
    total = _powers(_E1, np.minimum(point, 1.0))
    beyond = point > 1.0
    total[beyond] = _powers(_E1_BEYOND, point[beyond])
    total -= EULER
    total -= np.log(point)
    return total


def _powers(coefficients: list[float], x: np.ndarray) -> np.ndarray:
    """Return the polynomial without a constant term, by Horner's rule."""
    total = np.full_like(x, coefficients[0])
    for coefficient in coefficients[1:]:
        total *= x
        total += coefficient
    total *= x
    return total


# K0(b) = -(euler + ln(b/2)) I0(b) + sum over k of H_k q^k / k!^2, and I0 = sum of q^k / k!^2, q = b^2/4; highest power first.
_I0 = [1.0 / math.factorial(k) ** 2 for k in range(10, 0, -1)]
_K0 = [sum(1.0 / j for j in range(1, k + 1)) / math.factorial(k) ** 2 for k in range(10, 0, -1)]


def _second_kind(b: np.ndarray, quarter: np.ndarray) -> np.ndarray:
    """Return K0; to 2 by its series, as good there as the library's and quicker."""
    value = np.empty_like(b)
    small = b <= 2.0
    q = quarter[small]
    bessel, rest = 1.0 + _powers(_I0, q), _powers(_K0, q)
    value[small] = rest - (EULER + 0.5 * np.log(q)) * bessel
    value[~small] = k0(b[~small])
    return value


def _quadrature(point: np.ndarray, quarter: np.ndarray) -> np.ndarray:
    total = np.zeros_like(point)
    for root, weight in zip(_ROOTS[_KEEP], _WEIGHTS[_KEEP], strict=True):
        there = 1.0 / (point + root)
        total += weight * there * np.exp(-quarter * there)
    return total * np.exp(-point)


def leaky_drawdown(
    time: ArrayLike, radius: ArrayLike, *, rate: float, transmissivity: float, storativity: float, leakage_factor: float,
) -> np.ndarray | float:
    """Return the drawdown at each time [s] and radius [m], broadcast [m].

    `leakage_factor` B = sqrt(T c) [m], above zero. Confined, without end, leakage in proportion to drawdown, the bed above the leaking
    one never drawn down, no storage in the leaking bed. Source: Hantush & Jacob (1955).
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, leakage_factor=leakage_factor)
    since, distance = np.broadcast_arrays(np.asarray(time, dtype=float), np.asarray(radius, dtype=float))
    running, value = since > 0, np.zeros(since.shape)
    argument = distance[running] ** 2 * storativity / (4.0 * transmissivity * since[running])
    value[running] = rate / (4.0 * math.pi * transmissivity) * leaky_quick(argument, distance[running] / leakage_factor)
    return float(value) if value.ndim == 0 else value


def settled_leaky_drawdown(radius: ArrayLike, *, rate: float, transmissivity: float, leakage_factor: float) -> np.ndarray | float:
    """Return the drawdown that leakage settles to, Q/(2 pi T) K0(r/B) [m]. Source: De Glee (1930); Jacob (1946)."""
    require_positive(radius=radius, transmissivity=transmissivity, leakage_factor=leakage_factor)
    value = rate / (2.0 * math.pi * transmissivity) * k0(np.asarray(radius, dtype=float) / leakage_factor)
    return float(value) if np.ndim(value) == 0 else value
