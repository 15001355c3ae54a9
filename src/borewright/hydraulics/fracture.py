"""Drawdown in a bore on a vertical fracture: Gringarten, Ramey & Raghavan, flow spread evenly or a fracture without loss."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erf, exp1

from borewright.errors import BadInput, require_finite, require_positive

__all__ = ["FRACTURE_KINDS", "fracture_drawdown", "fracture_function"]

FRACTURE_KINDS = ("open", "even")


def fracture_function(time: ArrayLike, *, kind: str = "open") -> np.ndarray | float:
    """Return the dimensionless drawdown in a bore on a vertical fracture.

    Parameters
    ----------
    time : array_like
        t_D = T t/(S x_f2), above zero, x_f half the length of the fracture [-].
    kind : {"open", "even"}
        "open": no head lost along the fracture (read at 0.732 x_f of the even one); "even": water enters evenly along it.

    Returns
    -------
    ndarray or float
        p_D with drawdown Q/(2 pi T) p_D [-]. The printed coefficients 0.134, 0.866, 0.067, 0.018, 0.433, 0.750 are kept for "open"; they
        sit within 0.5 % of the exact value at 0.732 x_f.

    References
    ----------
    Gringarten, Ramey & Raghavan (1974) SPE Journal 14(4):347-360 (from memory).
    """
    require_positive(time=time)
    if kind not in FRACTURE_KINDS:
        raise BadInput("kind", kind, "is not a kind of fracture", " or ".join(FRACTURE_KINDS))
    value = quick_fracture(np.asarray(time, dtype=float), kind)
    return float(value) if value.ndim == 0 else value


def quick_fracture(time: np.ndarray, kind: str) -> np.ndarray:
    """Return the dimensionless drawdown of an array known to be good."""
    root = np.sqrt(time)
    if kind == "even":
        return np.sqrt(np.pi) * root * erf(0.5 / root) + 0.5 * exp1(0.25 / time)
    return (0.5 * np.sqrt(np.pi) * root * (erf(0.134 / root) + erf(0.866 / root))
            + 0.067 * exp1(0.018 / time) + 0.433 * exp1(0.750 / time))


def fracture_drawdown(
    time: ArrayLike, *, rate: float, transmissivity: float, storativity: float, half_length: float, kind: str = "open",
) -> np.ndarray | float:
    """Return the drawdown in the pumped bore [m] at times since the start [s].

    Only S x_f2 shows in a test; `half_length` x_f [m] needs S from elsewhere. Half slope early, straight line late.
    """
    require_finite(time=time, rate=rate)
    require_positive(transmissivity=transmissivity, storativity=storativity, half_length=half_length)
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    if running.any():
        scaled = transmissivity * since[running] / (storativity * half_length**2)
        value[running] = rate / (2.0 * math.pi * transmissivity) * fracture_function(scaled, kind=kind)
    return float(value) if value.ndim == 0 else value
