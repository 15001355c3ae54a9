"""The fitting engine: readings pressed onto a few time nodes once, then bounded least squares and profile likelihood on those.

A linear solution enters the readings only through its unit response at (reading time - rate change). That response is smooth in log
time, so its values on Chebyshev nodes fix it to about 1e-7 of the drawdown; the map from nodes to readings is one matrix, and its QR
factor leaves the sum of squares exactly as it was with as many rows as nodes. So 2,000 or 200,000 readings cost the same to fit, and
one map serves every solution.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from borewright.hydraulics.ratehistory import RateHistory

__all__ = ["Pressed", "bounded_least_squares", "node_map", "press", "profile_interval"]

NODES_A_DECADE = 12
BLOCK = 20_000


@dataclass(frozen=True, slots=True)
class Pressed:
    """One well's readings pressed onto nodes: residual sum of squares = |target - factor @ response(nodes)|2 + floor."""

    nodes: np.ndarray
    factor: np.ndarray
    target: np.ndarray
    floor: float
    count: int


def press(time: np.ndarray, observed: np.ndarray, history: RateHistory, *, weights: np.ndarray | None = None) -> Pressed:
    """Return the readings of one well pressed onto nodes; `weights` multiply the squares."""
    starts, steps = history.changes
    lags = time[:, None] - starts[None, :]
    running = lags > 0
    nodes, direct = _nodes(lags[running])
    root = None if weights is None else np.sqrt(weights)
    factor, target, floor = np.zeros((0, nodes.size)), np.zeros(0), 0.0
    for first in range(0, time.size, BLOCK):
        part = slice(first, first + BLOCK)
        rows, values = _rows(lags[part], running[part], steps, nodes, direct), observed[part]
        if root is not None:
            rows, values = rows * root[part, None], values * root[part]
        rows, values = np.vstack([factor, rows]), np.concatenate([target, values])
        if rows.shape[0] > nodes.size:
            orthogonal, factor = np.linalg.qr(rows)
            target = orthogonal.T @ values
            floor += max(float(values @ values - target @ target), 0.0)
        else:
            factor, target = rows, values
    return Pressed(nodes, factor, target, floor, time.size)


def node_map(time: np.ndarray, history: RateHistory) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes, and the map from a unit response there to the drawdown at each time."""
    starts, steps = history.changes
    lags = time[:, None] - starts[None, :]
    running = lags > 0
    nodes, direct = _nodes(lags[running])
    return nodes, _rows(lags, running, steps, nodes, direct)


def _nodes(lags: np.ndarray) -> tuple[np.ndarray, bool]:
    """Return the times themselves where they are few, else Chebyshev nodes of log time."""
    every = np.unique(lags)
    if every.size == 0:
        return np.ones(1), True
    low, high = np.log(every[0]), np.log(every[-1])
    wanted = int(np.ceil(24 + NODES_A_DECADE * (high - low) / np.log(10.0)))
    if every.size <= wanted:
        return every, True
    angle = (2 * np.arange(wanted) + 1) * np.pi / (2 * wanted)
    return np.exp((low + high) / 2 + (high - low) / 2 * np.cos(angle)), False


def _rows(lags: np.ndarray, running: np.ndarray, steps: np.ndarray, nodes: np.ndarray, direct: bool) -> np.ndarray:
    rows = np.zeros((lags.shape[0], nodes.size))
    for change, step in enumerate(steps):
        on = np.flatnonzero(running[:, change])
        if on.size == 0:
            continue
        if direct:
            np.add.at(rows, (on, np.searchsorted(nodes, lags[on, change])), step)
        else:
            rows[on] += step * _interpolation(lags[on, change], nodes)
    return rows


def _interpolation(at: np.ndarray, nodes: np.ndarray) -> np.ndarray:
    """Return the barycentric map from Chebyshev nodes of log time to other times."""
    count = nodes.size
    angle = (2 * np.arange(count) + 1) * np.pi / (2 * count)
    weight = np.sin(angle) * (-1.0) ** np.arange(count)
    gap = np.log(at)[:, None] - np.log(nodes)[None, :]
    exact = np.abs(gap) < 1e-14
    gap[exact] = 1.0
    part = weight / gap
    hit = exact.any(axis=1)
    part[hit] = exact[hit]
    return part / part.sum(axis=1, keepdims=True)


def bounded_least_squares(
    residuals: Callable[[np.ndarray], np.ndarray], start: np.ndarray, low: np.ndarray, high: np.ndarray, *, free: np.ndarray | None = None,
    most: int = 60, tolerance: float = 1e-10,
) -> tuple[np.ndarray, float, np.ndarray]:
    """Return where the sum of squares is least, that sum, and the Jacobian there.

    `residuals` takes points of shape (m, p) and gives (m, rows), so a whole Jacobian is one call. Levenberg-Marquardt with the
    damping scaled by the columns (Marquardt 1963), steps cut at the bounds, parameters at a bound with the gradient outward held.
    """
    point = np.clip(np.array(start, dtype=float), low, high)
    moving = np.ones(point.size, bool) if free is None else free
    damping, step = 1e-3, 1e-4
    best, value, jacobian = None, np.inf, np.zeros((0, point.size))
    index = np.flatnonzero(moving)
    for _ in range(most):
        trial = np.repeat(point[None, :], 1 + 2 * index.size, axis=0)
        for row, j in enumerate(index):
            trial[1 + 2 * row, j] += step
            trial[2 + 2 * row, j] -= step
        batch = residuals(trial)
        if not np.all(np.isfinite(batch[0])):
            return point, np.inf, jacobian
        best, value = batch[0], float(batch[0] @ batch[0])
        jacobian = np.zeros((best.size, point.size))
        jacobian[:, index] = ((batch[1::2] - batch[2::2]) / (2 * step)).T
        gradient = jacobian.T @ best
        held = ((point <= low) & (gradient > 0)) | ((point >= high) & (gradient < 0)) | ~moving
        on = np.flatnonzero(~held)
        if on.size == 0:
            break
        normal = jacobian[:, on].T @ jacobian[:, on]
        scale = np.maximum(np.diag(normal), 1e-30)
        done = False
        for _ in range(12):
            try:
                change = np.linalg.solve(normal + damping * np.diag(scale), -gradient[on])
            except np.linalg.LinAlgError:
                damping *= 10
                continue
            # Nothing left to gain, by the straight-line forecast: the trial itself can be spared.
            if -(2.0 * gradient[on] @ change + change @ normal @ change) < 0.1 * tolerance * value:
                done = True
                break
            change = np.clip(change, -3.0, 3.0)
            new = point.copy()
            new[on] = np.clip(point[on] + change, low[on], high[on])
            out = residuals(new[None, :])[0]
            new_value = float(out @ out) if np.all(np.isfinite(out)) else np.inf
            if new_value < value:
                gained = value - new_value
                done = gained <= tolerance * value and (float(np.max(np.abs(new - point))) < 1e-3 or gained <= 1e-2 * tolerance * value)
                point, value = new, new_value
                damping = max(damping / 10, 1e-12)
                break
            damping *= 8
        else:
            done = True
        if done or value == 0.0:
            break
    return point, value, jacobian


def profile_interval(
    residuals: Callable[[np.ndarray], np.ndarray], best: np.ndarray, least: float, rise: float, which: int, low: np.ndarray, high: np.ndarray,
    *, deviation: float, bend: np.ndarray,
) -> tuple[float, float]:
    """Return where the sum of squares, least over all other parameters, has risen by `rise` on either side of the best point.

    `deviation` is a first guess of where that is (t standard deviations), `bend` how the other parameters move with this one [per unit].
    A side that never rises that far ends at the bound.
    """
    free = np.ones(best.size, bool)
    free[which] = False
    sides = []
    for sign in (-1.0, 1.0):
        edge = low[which] if sign < 0 else high[which]
        sides.append(_crossing(residuals, best, least, rise, which, edge, sign, low, high, free, deviation, bend))
    return sides[0], sides[1]


def _crossing(residuals, best, least, rise, which, edge, sign, low, high, free, deviation, bend) -> float:
    reach = abs(edge - best[which])
    if reach == 0.0:
        return float(edge)

    def root_rise(distance: float, start: np.ndarray) -> tuple[float, np.ndarray]:
        start = np.clip(start, low, high)
        start[which] = best[which] + sign * distance
        if free.any():
            point, value, _ = bounded_least_squares(residuals, start, low, high, free=free, most=8, tolerance=1e-6)
        else:
            out = residuals(start[None, :])[0]
            point, value = start, float(out @ out)
        return float(np.sqrt(max(value - least, 0.0) / rise)) if np.isfinite(value) else np.inf, point

    inner, inner_rise, point = 0.0, 0.0, best
    distance = min(max(deviation, 1e-9), reach)
    outer = None
    for _ in range(25):
        start = point + bend * sign * (distance - inner) if outer is None else point.copy()
        height, here = root_rise(distance, start)
        if abs(height - 1.0) < 1e-2:
            return float(best[which] + sign * distance)
        if height < 1.0:
            inner, inner_rise, point = distance, height, here
            if distance >= reach:
                return float(edge)
        else:
            outer, outer_rise = distance, height
        if outer is None:
            distance = min(distance * (min(4.0, max(1.2, 1.0 / height)) if height > 1e-6 else 4.0), reach)
        elif not np.isfinite(outer_rise):
            distance = (inner + outer) / 2
        else:
            slope = (1.0 - inner_rise) / (outer_rise - inner_rise)
            distance = inner + (outer - inner) * min(max(slope, 0.02), 0.98)
    return float(best[which] + sign * distance)
