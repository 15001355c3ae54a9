"""Drawdown under a water table that drains late: Neuman, bore open to the whole aquifer, level averaged over the depth."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import exp1, j0, jn_zeros

from borewright.errors import require_finite, require_positive
from borewright.hydraulics.laplace import QUICK, invert

__all__ = ["thinning_corrected", "unconfined_drawdown", "unconfined_well_function"]


@lru_cache(maxsize=4)
def _rule(lobes: int, order: int, smallest: float) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes and weights, J0 included, of the integral of f(a) J0(a) from 0 without end.

    Panels growing by 4 from `smallest` to the first zero of J0; then lobe by lobe, the last fourteen weighted as an alternating
    series (Cohen, Rodriguez Villegas & Zagier 2000, Experimental Mathematics 9:3-12).
    """
    roots, weights = np.polynomial.legendre.leggauss(order)
    zeros = jn_zeros(0, lobes)
    edges = [0.0, *np.geomspace(smallest, zeros[0], max(2, int(np.log(zeros[0] / smallest) / np.log(4.0)))), *zeros[1:]]
    tail = 14
    # Weights that sum an alternating series of positive terms.
    sum_d = (3.0 + math.sqrt(8.0)) ** tail
    sum_d = (sum_d + 1.0 / sum_d) / 2.0
    b, c, shares = -1.0, -sum_d, []
    for k in range(tail):
        c = b - c
        shares.append(abs(c) / sum_d)
        b *= (k + tail) * (k - tail) / ((k + 0.5) * (k + 1.0))
    panels = len(edges) - 1
    scale = np.ones(panels)
    scale[panels - tail :] = shares
    nodes, total = [], []
    for left, right, share in zip(edges[:-1], edges[1:], scale, strict=True):
        at = (left + right) / 2 + (right - left) / 2 * roots
        nodes.append(at)
        total.append(share * (right - left) / 2 * weights * j0(at))
    return np.concatenate(nodes), np.concatenate(total)


def _correction(s, *, radius, transmissivity, storativity, specific_yield, vertical, rule) -> np.ndarray:
    """Return what the water table takes off the confined drawdown, transformed, in units of Q/(4 pi T); shape of s."""
    nodes, weights = rule
    beta = vertical * radius**2
    p = (s * radius**2 / transmissivity)[..., None]
    square = nodes**2 + p * storativity
    e = np.sqrt(square * (1.0 / beta))
    # tanh of a large array by one exponential; the real part of e is positive.
    decay = np.exp(-2.0 * e)
    slope = (1.0 - decay) / ((1.0 + decay) * e)
    drained = specific_yield * p
    inner = slope / (square * (square * slope + drained))
    return 2.0 * specific_yield * p[..., 0] * (inner @ (weights * nodes)) / s


def unit_response(time: np.ndarray, *, radius, transmissivity, storativity, specific_yield, vertical, quick: bool = True) -> np.ndarray:
    """Return unit responses of parameter sets, shape (m, n) from arguments of shape (m, 1) [m / (m3/s)]."""
    rule = _rule(16, 10, 1e-4) if quick else _rule(26, 12, 1e-7)
    options = QUICK if quick else {}
    transmissivity, storativity, specific_yield, vertical = np.broadcast_arrays(
        *(np.atleast_2d(np.asarray(v, dtype=float)) for v in (transmissivity, storativity, specific_yield, vertical)))
    taken = np.empty((transmissivity.shape[0], time.size))
    for row in range(taken.shape[0]):
        given = {"transmissivity": float(transmissivity[row, 0]), "storativity": float(storativity[row, 0]),
                 "specific_yield": float(specific_yield[row, 0]), "vertical": float(vertical[row, 0])}
        taken[row] = invert(lambda s, given=given: _correction(s, radius=radius, rule=rule, **given), time, **options)
    elastic = exp1(radius**2 * storativity / (4.0 * transmissivity * time))
    return (elastic - taken) / (4.0 * math.pi * transmissivity)


def unconfined_drawdown(
    time: ArrayLike, *, radius: float, rate: float, transmissivity: float, storativity: float, specific_yield: float, vertical: float,
) -> np.ndarray | float:
    """Return the drawdown at one radius under a water table, averaged over the depth.

    Parameters
    ----------
    time : array_like
        Since the pump started [s].
    radius : float
        [m].
    rate, transmissivity : float
        [m3/s], [m2/s].
    storativity, specific_yield : float
        Elastic, and of the draining table [-].
    vertical : float
        K_z/(K_r b2): vertical over horizontal conductivity, over the saturated thickness squared [1/m2]; beta = r2 times this.

    Returns
    -------
    ndarray or float
        [m]; error below 1e-7 of Q/(4 pi T) for S_y/S from 1 to 1e5 and beta from 1e-4 to 10 (Hankel and Laplace inversion).

    Notes
    -----
    Small drawdown against the thickness; bore and observation bore open to the whole aquifer. Early it is Theis with S, late Theis with S + S_y.

    References
    ----------
    Neuman (1972) Water Resources Research 8(4):1031-1045; (1975) 11(2):329-342.
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, specific_yield=specific_yield, vertical=vertical)
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    if running.any():
        value[running] = rate * unit_response(since[running], radius=radius, transmissivity=transmissivity, storativity=storativity,
                                              specific_yield=specific_yield, vertical=vertical, quick=False)[0]
    return float(value) if value.ndim == 0 else value


def unconfined_well_function(argument: ArrayLike, *, ratio: float, beta: float) -> np.ndarray | float:
    """Return W(u_A, sigma, beta): `argument` u_A = r2 S/(4 T t), `ratio` sigma = S/S_y, `beta` = r2 K_z/(b2 K_r) [-]."""
    require_positive(argument=argument, ratio=ratio, beta=beta)
    return unconfined_drawdown(1.0 / (4.0 * np.asarray(argument, dtype=float)), radius=1.0, rate=4.0 * math.pi, transmissivity=1.0,
                               storativity=1.0, specific_yield=1.0 / ratio, vertical=beta)


def thinning_corrected(observed: ArrayLike, *, thickness: float) -> np.ndarray:
    """Return what the drawdown would be had the aquifer not thinned, s - s2/(2 D) [m]. Source: Jacob (1944)."""
    require_positive(thickness=thickness)
    value = np.asarray(observed, dtype=float)
    require_finite(observed=value)
    return value - value**2 / (2.0 * thickness)
