"""How strikes are spread down the hole: a smooth curve of strikes per metre below a datum (ground, rockhead or fresh rock)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

__all__ = ["DATUMS", "Shape", "cells_below", "fit_shape"]

DATUMS = ("ground", "rockhead", "fresh rock")


@dataclass(frozen=True, slots=True)
class Shape:
    """Strikes per metre at scale 1, constant in cells of depth below the datum.

    Attributes
    ----------
    datum : str
        One of `DATUMS`.
    edges : ndarray, shape (n + 1,)
        Cell edges [m below the datum]; the first and last cells reach on for ever.
    intensity : ndarray, shape (n,)
        Strikes per metre at scale 1 [1/m].
    """

    datum: str
    edges: np.ndarray
    intensity: np.ndarray
    _whole: np.ndarray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_whole", np.concatenate([[0.0], np.cumsum(np.diff(self.edges) * self.intensity)]))

    def running(self, below: np.ndarray) -> np.ndarray:
        """Return the integral of the intensity from the first edge to each level below the datum [-]."""
        inside = np.interp(below, self.edges, self._whole)
        return inside + self.intensity[0] * np.minimum(below - self.edges[0], 0.0) + self.intensity[-1] * np.maximum(below - self.edges[-1], 0.0)

    def at(self, below: np.ndarray) -> np.ndarray:
        """Return the intensity at each level below the datum [1/m]."""
        return self.intensity[np.clip(np.searchsorted(self.edges, below, side="right") - 1, 0, len(self.intensity) - 1)]

    def exposure(self, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
        """Return the expected strikes at scale 1 from the surface to each depth, over a datum at its depth [-]."""
        return self.running(depth - datum_depth) - self.running(-datum_depth)


def cells_below(datum: str, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
    """Return cell edges below a datum, of 3 m or a few times that, from its deepest cover to the deepest bore [m]."""
    low = 0.0 if datum == "ground" else -3.0 * np.ceil(np.quantile(datum_depth, 0.95) / 3.0)
    high = 3.0 * np.ceil(max(np.quantile(depth - (0.0 if datum == "ground" else datum_depth), 0.995), 12.0) / 3.0)
    step = 3.0 * np.ceil((high - low) / 3.0 / 80.0)
    return np.arange(low, high + step, step)


def metres_drilled(edges: np.ndarray, depth: np.ndarray, datum_depth: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """Return the metres drilled in each cell, each bore counted by its scale, shape (cells,) [m]."""
    top, end = -datum_depth, depth - datum_depth
    low, high = edges[:-1].copy(), edges[1:].copy()
    low[0], high[-1] = -np.inf, np.inf
    out = np.empty(len(low))
    for i in range(len(low)):
        out[i] = (scale * np.maximum(np.minimum(end, high[i]) - np.maximum(top, low[i]), 0.0)).sum()
    return out


def _smooth(counts: np.ndarray, exposure: np.ndarray, strength: float, level: float) -> tuple[np.ndarray, float]:
    """Return the smooth log intensity of counts over an exposure, and its log evidence (Laplace)."""
    from scipy.linalg import cho_factor, cho_solve

    n = len(counts)
    second = np.diff(np.eye(n), n=2, axis=0)
    # A little shrinking to the level keeps the prior proper where nobody has drilled.
    prior = strength * second.T @ second + 0.05 * np.eye(n)
    value = np.full(n, level)
    for _ in range(60):
        expected = exposure * np.exp(value)
        factor = cho_factor(prior + np.diag(expected))
        step = cho_solve(factor, counts - expected - prior @ (value - level))
        value = value + np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < 1e-6:
            break
    expected = exposure * np.exp(value)
    factor = cho_factor(prior + np.diag(expected))
    evidence = (counts * value - expected).sum() - 0.5 * (value - level) @ prior @ (value - level)
    evidence += 0.5 * np.linalg.slogdet(prior)[1] - np.log(np.diag(factor[0])).sum()
    return value, float(evidence)


def fit_shape(datum: str, counts_at: np.ndarray, counts: np.ndarray, depth: np.ndarray, datum_depth: np.ndarray, scale: np.ndarray,
              edges: np.ndarray) -> tuple[Shape, float]:
    """Return the smooth shape that explains strikes over the metres drilled, and its log evidence.

    Parameters
    ----------
    counts_at, counts : ndarray, shape (strikes,)
        Level of each (expected) strike below the datum [m] and how much of a strike it is [-].
    depth, datum_depth, scale : ndarray, shape (n,)
        Of each bore: depth drilled, depth of the datum [m], local scale [-].
    edges : ndarray
        Cell edges below the datum [m].
    """
    cell = np.clip(np.searchsorted(edges, counts_at, side="right") - 1, 0, len(edges) - 2)
    number = np.bincount(cell, weights=counts, minlength=len(edges) - 1)
    exposure = metres_drilled(edges, depth, datum_depth, scale)
    level = float(np.log((number.sum() + 0.5) / max(exposure.sum(), 1.0)))
    fits = [_smooth(number, exposure, strength, level) for strength in (1.0, 4.0, 16.0, 64.0, 256.0)]
    value, evidence = max(fits, key=lambda f: f[1])
    return Shape(datum, edges, np.exp(value)), evidence
