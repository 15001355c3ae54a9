"""Smooth layers over a grid from values at some of its points: read off between them, and held to values worked out there."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

__all__ = ["fill"]

_CHECKS = 20  # middles at which what is read off is held to what is so
_FEWEST = 4  # points along a side that a cubic needs


def fill(evaluate: Callable[[np.ndarray, np.ndarray], np.ndarray], rows: int, columns: int, *, step: int, tolerance: float, checked: int) -> np.ndarray | None:
    """Return layers on a grid, from their values at every so many of its points, shape (layers, rows, columns).

    Parameters
    ----------
    evaluate : callable
        Gives the layers at places on the grid (rows, columns; each of shape (n,), possibly past the last ones), shape (layers, n).
    step : int
        Cells between points to begin with: a power of two. It is halved until what is read off in the middle between
        points is right.
    tolerance : float
        What it may be wrong by, in the first `checked` layers.

    Returns
    -------
    ndarray or None
        None where no step of two cells or more will do: work out every cell.
    """
    known: dict[tuple[int, int], np.ndarray] = {}

    def at(i: np.ndarray, j: np.ndarray) -> np.ndarray:
        places = list(zip(i.tolist(), j.tolist(), strict=True))
        new = [place for place in places if place not in known]
        if new:
            found = evaluate(*np.array(new).T)
            known.update(zip(new, found.T, strict=True))
        return np.array([known[place] for place in places]).T

    while step >= 2:
        i, j = (np.arange(max(-(-(n - 1) // step) + 1, _FEWEST)) * step for n in (rows, columns))
        if 2 * (len(i) * len(j) + _CHECKS) > rows * columns:
            return None
        down, along = (v.ravel() for v in np.meshgrid(i, j, indexing="ij"))
        layers = at(down, along).reshape(-1, len(i), len(j))
        splines = [_spline(i, j, layer) for layer in layers]
        middles = np.stack(np.meshgrid(i[:-1] + step // 2, j[:-1] + step // 2, indexing="ij"), axis=-1).reshape(-1, 2)
        # The middles of the grid itself, evenly over them, never the same row or column only.
        middles = middles[(middles[:, 0] < rows) & (middles[:, 1] < columns)]
        if len(middles) == 0:
            return None
        some = middles[np.unique(np.linspace(0, len(middles) - 1, _CHECKS).astype(int))]
        true = at(some[:, 0], some[:, 1])
        wrong = max(np.abs(spline(some[:, 0], some[:, 1], grid=False) - found).max() for spline, found in zip(splines[:checked], true[:checked], strict=True))
        if wrong <= tolerance:
            return np.array([spline(np.arange(rows), np.arange(columns)) for spline in splines])
        step //= 2
    return None


def _spline(i: np.ndarray, j: np.ndarray, layer: np.ndarray):
    from scipy.interpolate import RectBivariateSpline

    return RectBivariateSpline(i, j, layer, kx=3, ky=3)
