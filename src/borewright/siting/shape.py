"""How strikes are spread down the hole: a smooth curve of strikes per metre below a datum (ground, rockhead or fresh rock)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

__all__ = ["DATUMS", "Shape", "cells_below", "dry_top", "fit_shape"]

DATUMS = ("ground", "rockhead", "fresh rock")
_TOPS = np.arange(1.0, 21.0)  # depths to which the ground below the surface may be drier than the shape says [m]
_LEAST_GAIN = 6.0  # of log likelihood, from which a dry top is believed: some three and a half standard errors


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
    top, top_share : float
        Down to this depth below ground only so much of them is struck [m], [-]: the ground above the water table, wherever the datum lies.
    """

    datum: str
    edges: np.ndarray
    intensity: np.ndarray
    top: float = 0.0
    top_share: float = 1.0
    _whole: np.ndarray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_whole", np.concatenate([[0.0], np.cumsum(np.diff(self.edges) * self.intensity)]))

    def running(self, below: np.ndarray) -> np.ndarray:
        """Return the integral of the intensity from the first edge to each level below the datum [-]."""
        inside = np.interp(below, self.edges, self._whole)
        return inside + self.intensity[0] * np.minimum(below - self.edges[0], 0.0) + self.intensity[-1] * np.maximum(below - self.edges[-1], 0.0)

    def at(self, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
        """Return the intensity at each depth, over a datum at its depth [1/m]."""
        cell = np.clip(np.searchsorted(self.edges, depth - datum_depth, side="right") - 1, 0, len(self.intensity) - 1)
        return self.intensity[cell] * np.where(depth < self.top, self.top_share, 1.0)

    def exposure(self, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
        """Return the expected strikes at scale 1 from the surface to each depth, over a datum at its depth [-]."""
        begin = self.running(-datum_depth)
        out = self.running(depth - datum_depth) - begin
        if self.top_share < 1.0:
            out -= (1.0 - self.top_share) * (self.running(np.minimum(depth, self.top) - datum_depth) - begin)
        return out


def cells_below(datum: str, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
    """Return cell edges below a datum, of 3 m or a few times that, from its deepest cover to the deepest bore [m]."""
    low = 0.0 if datum == "ground" else -3.0 * np.ceil(np.quantile(datum_depth, 0.95) / 3.0)
    high = 3.0 * np.ceil(max(np.quantile(depth - (0.0 if datum == "ground" else datum_depth), 0.995), 12.0) / 3.0)
    step = 3.0 * np.ceil((high - low) / 3.0 / 80.0)
    return np.arange(low, high + step, step)


def metres_drilled(edges: np.ndarray, depth: np.ndarray, datum_depth: np.ndarray, scale: np.ndarray, top: float = 0.0, top_share: float = 1.0) -> np.ndarray:
    """Return the metres drilled in each cell, each bore counted by its scale and those of a dry top by their share, shape (cells,) [m]."""
    low, high = edges[:-1].copy(), edges[1:].copy()
    low[0], high[-1] = -np.inf, np.inf

    def between(begin: np.ndarray, end: np.ndarray) -> np.ndarray:
        return np.array([(scale * np.maximum(np.minimum(end, high[i]) - np.maximum(begin, low[i]), 0.0)).sum() for i in range(len(low))])

    out = between(-datum_depth, depth - datum_depth)
    return out if top_share == 1.0 else out - (1.0 - top_share) * between(-datum_depth, np.minimum(depth, top) - datum_depth)


def dry_top(shape: Shape, at: np.ndarray, counts: np.ndarray, depth: np.ndarray, datum_depth: np.ndarray, scale: np.ndarray) -> tuple[float, float]:
    """Return the depth below ground down to which strikes are fewer than a shape says [m], and the share of them there; 0 and 1 where nothing tells.

    Parameters
    ----------
    shape : Shape
        Its own dry top is not counted.
    at, counts : ndarray, shape (strikes,)
        Depth of each (expected) strike below ground [m] and how much of a strike it is [-].
    depth, datum_depth, scale : ndarray, shape (n,)
        Of each bore: depth drilled, depth of the datum [m], local scale [-].

    Notes
    -----
    A shape told from rockhead cannot know that nothing is struck above the water table: where cover is deep that is a small part of it, where it is thin all of it.
    """
    best, most = (0.0, 1.0), _LEAST_GAIN
    begin = shape.running(-datum_depth)
    for top in _TOPS:
        expected = float((scale * (shape.running(np.minimum(depth, top) - datum_depth) - begin)).sum())
        found = float(counts[at < top].sum())
        share = (found + 1.0) / (expected + 1.0)
        gain = found * np.log(share) + (1.0 - share) * expected
        if share < 1.0 and gain > most:
            best, most = (float(top), share), gain
    return best


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
              edges: np.ndarray, top: tuple[float, float] = (0.0, 1.0)) -> tuple[Shape, float]:
    """Return the smooth shape that explains strikes over the metres drilled, and its log evidence.

    Parameters
    ----------
    counts_at, counts : ndarray, shape (strikes,)
        Level of each (expected) strike below the datum [m] and how much of a strike it is [-].
    depth, datum_depth, scale : ndarray, shape (n,)
        Of each bore: depth drilled, depth of the datum [m], local scale [-].
    edges : ndarray
        Cell edges below the datum [m].
    top : tuple of float
        Depth of a dry top below ground [m] and the share of strikes there.
    """
    cell = np.clip(np.searchsorted(edges, counts_at, side="right") - 1, 0, len(edges) - 2)
    number = np.bincount(cell, weights=counts, minlength=len(edges) - 1)
    exposure = metres_drilled(edges, depth, datum_depth, scale, *top)
    level = float(np.log((number.sum() + 0.5) / max(exposure.sum(), 1.0)))
    fits = [_smooth(number, exposure, strength, level) for strength in (1.0, 4.0, 16.0, 64.0, 256.0)]
    value, evidence = max(fits, key=lambda f: f[1])
    return Shape(datum, edges, np.exp(value), *top), evidence
