"""A field at one spot from records around it, by one dense factorisation: every covariance worked out once, few calls."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from borewright.siting.fields import Field

__all__ = ["at_spot", "lapack"]

_WHOLE = 128  # rows up to which a system is worked out whole: parts of it cost more in calls than the lower half left out saves
_BORDER = 1e30  # stands where the bordered system's own factor is not wanted: large enough to stay positive


@lru_cache(maxsize=1)
def lapack():
    """Return scipy's LAPACK: imported at the first answer, looked up once."""
    """Return scipy's LAPACK: imported at the first answer, looked up once."""
    from scipy.linalg import lapack

    return lapack


def at_spot(field: Field, value: np.ndarray, noise: np.ndarray, points: np.ndarray) -> tuple[float, float]:
    """Return mean and variance of a field at one spot from records of it.

    Parameters
    ----------
    value, noise : ndarray, shape (n,)
        Of each record, and the variance of it.
    points : ndarray, shape (n, 3)
        Where they stand, seen from the spot [m].

    Notes
    -----
    The system is bordered by the spot and by the records' values, so that one factorisation also solves for both.
    """
    n = len(points)
    if n == 0:
        return field.mean, field.variance
    system = _covariances(points, field)
    diagonal = system.reshape(-1)[:: n + 3]
    np.add(noise, field.sd**2 + field.level_sd**2, out=diagonal[:n])
    diagonal[n:] = _BORDER
    np.subtract(value, field.mean, out=system[:n, n + 1])
    system[n, n + 1] = 0.0
    lower, _ = lapack().dpotrf(system.T, lower=True, clean=False, overwrite_a=True)
    spot, values = lower[n:, :n]
    return field.mean + float(spot @ values), max(field.variance - float(spot @ spot), 1e-9)


def _covariances(points: np.ndarray, field: Field) -> np.ndarray:
    """Return a system whose upper triangle holds the covariances of points about a spot [m]; the spot stands at their origin, last but one."""
    n = len(points)
    left, right = np.zeros((n + 2, 5)), np.zeros((5, n + 2))
    scaled = np.divide(points, field.length, out=left[:n, :3])
    right[:3, :n] = scaled.T
    half = np.einsum("ij,ij->i", scaled, scaled)
    half *= -0.5
    left[:n, 3] = right[4, :n] = half
    left[:, 4] = right[3] = 1.0
    smooth, variance, level = field.family == "smooth", field.sd**2, field.level_sd**2
    if smooth:
        left[:, 3] += math.log(max(variance, 1e-300))
    # One product gives every pair's exponent, -(distance / length)^2 / 2; of a smooth field the variance is in it too.
    system = left @ right
    step = len(system) if len(system) <= _WHOLE else -(-len(system) // 4)
    for top in range(0, len(system), step):
        block = system[top : top + step, top:]
        if smooth:
            np.exp(block, out=block)
        else:
            block *= -6.0
            np.maximum(block, 0.0, out=block)
            np.sqrt(block, out=block)
            fall = np.exp(-block)
            block += 1.0
            block *= fall
            block *= variance
        block += level
    return system
