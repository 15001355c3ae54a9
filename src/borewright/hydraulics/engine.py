"""The fitting engine: readings pressed onto a few time nodes once, then bounded least squares and profile likelihood on those.

A linear solution enters the readings only through its unit response at (reading time - rate change). That response is smooth in log
time, so its values on Chebyshev nodes fix it to about 1e-7 of the drawdown; the map from nodes to readings is one matrix, and its QR
factor leaves the sum of squares exactly as it was with as many rows as nodes. So 2,000 or 200,000 readings cost the same to fit, and
one map serves every solution.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from borewright.hydraulics.ratehistory import RateHistory
from borewright.hydraulics.solutions import Place, Solution

__all__ = ["Pressed", "bounded_least_squares", "least_squares_of_many", "node_map", "press", "profile_interval", "profile_intervals", "response_at"]

NODES_A_DECADE = 7
BLOCK = 20_000
KEPT = 2048
STEP = 1e-5  # of a logarithm, for differences
CREEP = 300.0  # times the tolerance
STEEP = 3.0  # the most that another parameter is sent ahead for each unit of the one searched
OUTSIDE = 1.02  # of the level's root; what is higher is looked at again
LOOSE = 1.2  # an interval of a factor of e^1.2 either way may have no end


@dataclass(frozen=True, slots=True)
class Pressed:
    """One well's readings pressed onto nodes: residual sum of squares = |target - factor @ response(nodes)|2 + floor.

    Where several bores pump, each has nodes of its own, `parts` of them. Of the readings themselves at most `KEPT` are kept, evenly taken: `seen` at
    `when`, and `rows` that map the nodes to them.
    """

    nodes: np.ndarray
    parts: tuple[int, ...]
    factor: np.ndarray
    target: np.ndarray
    floor: float
    count: int
    rows: np.ndarray
    seen: np.ndarray
    when: np.ndarray

    def response(self, solution: Solution, place: Place, values: Mapping[str, np.ndarray]) -> np.ndarray:
        """Return the unit response at the nodes, shape (m, nodes)."""
        return response_at(self.nodes, self.parts, solution, place, values)


def response_at(nodes: np.ndarray, parts: tuple[int, ...], solution: Solution, place: Place, values: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return the unit response at the nodes of each bore that pumps, side by side: the bore of the test, then the others by their distance."""
    if len(parts) == 1:
        return solution.response(nodes, place, values)
    ends = np.cumsum(parts)
    places = (place, *(replace(place, radius=distance, pumped=False, others=()) for distance in place.others))
    return np.concatenate([solution.response(nodes[end - size : end], one, values) for end, size, one in zip(ends, parts, places, strict=True)], axis=1)


class _Map:
    """The map from the nodes of each bore that pumps to the drawdown at each time."""

    def __init__(self, time: np.ndarray, histories: Sequence[RateHistory]):
        self.sources = []
        for history in histories:
            starts, steps = history.changes
            lags = time[:, None] - starts[None, :]
            running = lags > 0
            self.sources.append((lags, running, steps, *_nodes(lags[running])))
        self.nodes = np.concatenate([nodes for *_, nodes, _ in self.sources])
        self.parts = tuple(nodes.size for *_, nodes, _ in self.sources)

    def rows(self, pick: slice | np.ndarray = slice(None)) -> np.ndarray:
        return np.hstack([_rows(lags[pick], running[pick], steps, nodes, direct) for lags, running, steps, nodes, direct in self.sources])


def press(time: np.ndarray, observed: np.ndarray, histories: Sequence[RateHistory], *, weights: np.ndarray | None = None) -> Pressed:
    """Return the readings of one well pressed onto nodes, those of each bore that pumps; `weights` multiply the squares."""
    mapped = _Map(time, histories)
    nodes = mapped.nodes
    root = None if weights is None else np.sqrt(weights)
    factor, target, floor, kept = np.zeros((0, nodes.size)), np.zeros(0), 0.0, None
    for first in range(0, time.size, BLOCK):
        part = slice(first, first + BLOCK)
        rows, values = mapped.rows(part), observed[part]
        if time.size <= KEPT:
            kept = rows
        if root is not None:
            rows, values = rows * root[part, None], values * root[part]
        rows, values = np.vstack([factor, rows]), np.concatenate([target, values])
        if rows.shape[0] > nodes.size:
            orthogonal, factor = np.linalg.qr(rows)
            target = orthogonal.T @ values
            floor += max(float(values @ values - target @ target), 0.0)
        else:
            factor, target = rows, values
    pick = np.arange(time.size) if kept is not None else np.unique(np.linspace(0, time.size - 1, KEPT).astype(int))
    if kept is None:
        kept = mapped.rows(pick)
    return Pressed(nodes, mapped.parts, factor, target, floor, time.size, kept, observed[pick], time[pick])


def node_map(time: np.ndarray, histories: Sequence[RateHistory]) -> tuple[np.ndarray, tuple[int, ...], np.ndarray]:
    """Return nodes, how many belong to each bore that pumps, and the map from a unit response there to the drawdown at each time."""
    mapped = _Map(time, histories)
    return mapped.nodes, mapped.parts, mapped.rows()


def _nodes(lags: np.ndarray) -> tuple[np.ndarray, bool]:
    """Return the times themselves where they are few, else Chebyshev nodes of log time."""
    every = np.unique(lags)
    if every.size == 0:
        return np.ones(1), True
    low, high = np.log(every[0]), np.log(every[-1])
    wanted = int(np.ceil(16 + NODES_A_DECADE * (high - low) / np.log(10.0)))
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


def least_squares_of_many(
    residuals: Callable[[np.ndarray], np.ndarray], starts: np.ndarray, low: np.ndarray, high: np.ndarray, *, free: np.ndarray | None = None,
    most: int = 60, tolerance: float = 1e-10,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return where the sum of squares is least from each of several starts, those sums, and the Jacobians there.

    Parameters
    ----------
    residuals : callable
        Takes points of shape (m, p) and gives (m, rows): the trials of every start, with their Jacobians, are one call.
    starts : ndarray, shape (k, p)
    low, high : ndarray, shape (p,)
    free : ndarray of bool, shape (p,) or (k, p), optional
        Which parameters move.

    Returns
    -------
    points (k, p), values (k,), jacobians (k, rows, p)
        The value is infinite where a start has no finite residuals.

    Notes
    -----
    Levenberg-Marquardt with the damping scaled by the columns (Marquardt 1963), steps cut at the bounds, parameters at a bound with
    the gradient outward held. Differences are one-sided: they err by 1e-5 of a column, which moves the optimum by far less than its spread.
    """
    points = np.clip(np.array(starts, dtype=float), low, high)
    count, size = points.shape
    moving = np.broadcast_to(np.ones(size, bool) if free is None else free, (count, size))
    values, residual, jacobians = _with_jacobian(residuals, points, moving, high)
    values = np.where(np.isfinite(values), values, np.inf)
    damping = np.full(count, 1e-3)
    running = np.isfinite(values) & (values > 0)
    creeping = np.zeros(count, int)
    for _ in range(most):
        on = np.flatnonzero(running)
        if on.size == 0:
            break
        here, jacobian = points[on], jacobians[on]
        turned = np.swapaxes(jacobian, 1, 2)
        gradient = (turned @ residual[on][:, :, None])[:, :, 0]
        held = ((here <= low) & (gradient > 0)) | ((here >= high) & (gradient < 0)) | ~moving[on]
        gradient[held] = 0.0
        normal = turned @ jacobian
        normal[held] = 0.0
        np.swapaxes(normal, 1, 2)[held] = 0.0
        scale = np.maximum(np.diagonal(normal, axis1=1, axis2=2), 1e-30)
        damped = normal.copy()
        damped[:, np.arange(size), np.arange(size)] += damping[on][:, None] * scale + held
        change = np.linalg.solve(damped, -gradient[:, :, None])[:, :, 0]
        # Nothing left to gain, by the straight-line forecast: the trial itself can be spared.
        hope = -(2.0 * np.sum(gradient * change, axis=1) + np.einsum("ki,kij,kj->k", change, normal, change))
        spent = ~(hope >= tolerance * values[on])
        running[on[spent]] = False
        on, here, change = on[~spent], here[~spent], change[~spent]
        if on.size == 0:
            break
        trial = np.clip(here + np.clip(change, -3.0, 3.0), low, high)
        new_values, new_residual, new_jacobians = _with_jacobian(residuals, trial, moving[on], high)
        better = new_values < values[on]
        worse = on[~better]
        damping[worse] *= 8.0
        running[worse[damping[worse] > 1e9]] = False
        won = on[better]
        gained = values[won] - new_values[better]
        least = tolerance * values[won]
        step = np.max(np.abs(trial[better] - here[better]), axis=1)
        running[won[(gained <= least) & ((step < 1e-3) | (gained <= 1e-2 * least))]] = False
        # Along a valley without a floor there is always a little more to gain.
        creeping[won] = np.where(gained <= CREEP * tolerance * values[won], creeping[won] + 1, 0)
        running[creeping >= 2] = False
        points[won], values[won], residual[won], jacobians[won] = trial[better], new_values[better], new_residual[better], new_jacobians[better]
        damping[won] = np.maximum(damping[won] / 10.0, 1e-12)
        running &= values > 0
    return points, values, jacobians


def _with_jacobian(residuals, points, moving, high) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return sums of squares, residuals and Jacobians at several points from one call."""
    count, size = points.shape
    columns = np.flatnonzero(moving.any(axis=0))
    trial = np.repeat(points[:, None, :], 1 + columns.size, axis=1)
    step = np.where(points[:, columns] + STEP > high[columns], -STEP, STEP)
    trial[:, 1 + np.arange(columns.size), columns] += step
    batch = residuals(trial.reshape(-1, size)).reshape(count, 1 + columns.size, -1)
    base = batch[:, 0]
    jacobians = np.zeros((count, base.shape[1], size))
    jacobians[:, :, columns] = np.swapaxes((batch[:, 1:] - base[:, None, :]) / step[:, :, None], 1, 2)
    good = np.all(np.isfinite(batch), axis=(1, 2))
    if not good.all():
        base, jacobians = np.where(good[:, None], base, 0.0), np.where(good[:, None, None], jacobians, 0.0)
    return np.where(good, np.sum(base**2, axis=1), np.inf), base, jacobians


def bounded_least_squares(
    residuals: Callable[[np.ndarray], np.ndarray], start: np.ndarray, low: np.ndarray, high: np.ndarray, *, free: np.ndarray | None = None,
    most: int = 60, tolerance: float = 1e-10,
) -> tuple[np.ndarray, float, np.ndarray]:
    """Return where the sum of squares is least from one start, that sum, and the Jacobian there."""
    points, values, jacobians = least_squares_of_many(residuals, np.asarray(start)[None, :], low, high, free=free, most=most, tolerance=tolerance)
    return points[0], float(values[0]), jacobians[0]


def profile_intervals(
    residuals: Callable[[np.ndarray], np.ndarray], best: np.ndarray, least: float, rise: np.ndarray, low: np.ndarray, high: np.ndarray, *,
    jacobian: np.ndarray, free: np.ndarray,
) -> list[tuple[float, float]]:
    """Return for each parameter where the sum of squares, least over all others, has risen by its `rise` on either side of the best point.

    All sides at once: each trial moves to the farthest point of its parameter on the level that the straight-line model of the
    residuals forecasts (the constrained form of Venzon & Moolgavkar 1988, Applied Statistics 37:87-94). A side that is still below the level
    at the bound ends there; what does not settle is searched step by step. A parameter that is not free has no width.
    """
    index = np.flatnonzero(free)
    ends = np.repeat(best[:, None], 2, axis=1)
    if index.size == 0:
        return [(float(a), float(b)) for a, b in ends]
    which, sign = np.repeat(index, 2), np.tile([-1.0, 1.0], index.size)
    level = least + rise[which]
    edge = np.where(sign < 0, low[which], high[which])
    others = np.repeat(free[None, :], which.size, axis=0)
    others[np.arange(which.size), which] = False
    normal = jacobian[:, index].T @ jacobian[:, index]
    spread = np.sqrt(np.maximum(np.diag(np.linalg.pinv(normal, rcond=1e-14, hermitian=True)), 0.0))
    guess = np.repeat(spread, 2) * np.sqrt(rise[which])
    found = np.full(which.size, np.nan)
    points = np.repeat(best[None, :], which.size, axis=0)
    below = np.zeros(which.size, bool)

    def to_the_bound(rows: np.ndarray) -> None:
        if rows.size:
            far = points[rows]
            far[np.arange(rows.size), which[rows]] = edge[rows]
            _, value, _ = least_squares_of_many(residuals, far, low, high, free=others[rows], most=10, tolerance=1e-4)
            found[rows] = np.where(value < level[rows], edge[rows], np.nan)
            below[rows] = True

    # Loose sides are first asked at the bound; so are those that go on and on.
    to_the_bound(np.flatnonzero((guess > LOOSE) | (guess > np.abs(edge - best[which]))))
    far = np.where(below, np.inf, LOOSE + 3.0 * guess)
    _to_level(residuals, best, which, sign, level, rise[which], low, high, free, np.flatnonzero(np.isnan(found)), found, points, far)
    asked = np.flatnonzero(np.isnan(found) & ~below & (np.abs(points[np.arange(which.size), which] - best[which]) > LOOSE))
    to_the_bound(asked)
    again = asked[np.isnan(found[asked])]
    _to_level(residuals, best, which, sign, level, rise[which], low, high, free, again, found, points, np.full(which.size, np.inf))
    for row in np.flatnonzero(np.isnan(found)):
        j = which[row]
        found[row] = _crossing(residuals, best, least, rise[j], j, edge[row], sign[row], low, high, others[row], min(max(guess[row], 1e-3), 1.0),
                               _valley(jacobian, j, others[row]), points[row])
    ends[which, np.tile([0, 1], index.size)] = found
    return [(float(a), float(b)) for a, b in ends]


def _valley(jacobian: np.ndarray, which: int, others: np.ndarray) -> np.ndarray:
    """Return how the other parameters move with one at the best point, so that the residuals change least [per unit]."""
    bend = np.zeros(others.size)
    bend[which] = 1.0
    if others.any():
        bend[others] = np.clip(-np.linalg.lstsq(jacobian[:, others], jacobian[:, which], rcond=1e-8)[0], -STEEP, STEEP)
    return bend


def _to_level(residuals, best, which, sign, level, rise, low, high, free, rows, found, points, far) -> None:
    """Write into `found` the farthest value of each parameter on its level, for the rows that settle; the rest stop where they got to."""
    size = best.size
    for _ in range(16):
        if rows.size == 0:
            return
        here, j = points[rows], which[rows]
        value, residual, jacobian = _with_jacobian(residuals, here, np.broadcast_to(free, here.shape), high)
        turned = np.swapaxes(jacobian, 1, 2)
        gradient = (turned @ residual[:, :, None])[:, :, 0]
        held = (((here <= low) & (gradient > 0)) | ((here >= high) & (gradient < 0)) | ~free)
        held[np.arange(rows.size), j] = False
        normal = turned @ jacobian
        gradient[held] = 0.0
        normal[held] = 0.0
        np.swapaxes(normal, 1, 2)[held] = 0.0
        scale = np.sqrt(np.maximum(np.diagonal(normal, axis1=1, axis2=2), 1e-30))
        normal = normal / scale[:, :, None] / scale[:, None, :]
        normal[:, np.arange(size), np.arange(size)] += 1e-11 + held
        with np.errstate(all="ignore"):
            inverse = np.linalg.inv(normal)
            inverse = inverse / scale[:, :, None] / scale[:, None, :]
            lowest = -(inverse @ gradient[:, :, None])[:, :, 0]
            bottom = value + np.sum(gradient * lowest, axis=1)
            column = inverse[np.arange(rows.size), :, j]
            own = column[np.arange(rows.size), j]
            room = level[rows] - bottom
            change = lowest + (sign[rows] * np.sqrt(np.maximum(room, 0.0) / own))[:, None] * column
        change[held] = 0.0
        bad = ~np.all(np.isfinite(change), axis=1) | ~np.isfinite(value) | (room <= 0)
        longest = np.max(np.abs(np.where(np.isfinite(change), change, 0.0)), axis=1)
        change *= np.minimum(1.0, 1.5 / np.maximum(longest, 1e-300))[:, None]
        moved = np.abs(change[np.arange(rows.size), j])
        reach = np.abs(here[np.arange(rows.size), j] - best[j])
        settled = ~bad & (np.abs(value - level[rows]) < 0.02 * rise[rows]) & (moved < 5e-3 * reach)
        found[rows[settled]] = here[settled, j[settled]] + change[settled, j[settled]]
        new = np.clip(here + np.where(np.isfinite(change), change, 0.0), low, high)
        crossed = (new[np.arange(rows.size), j] - best[j]) * sign[rows] <= 0
        points[rows] = new
        rows = rows[~(settled | bad | crossed | (reach > far[rows]))]


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


def _crossing(residuals, best, least, rise, which, edge, sign, low, high, free, deviation, bend, reached=None) -> float:
    """Return where one side ends, found step by step; `reached` is a point on this side that a quicker search got to."""
    reach = abs(edge - best[which])
    if reach == 0.0:
        return float(edge)

    def root_rise(distance: float, *starts: np.ndarray) -> tuple[float, np.ndarray]:
        points = np.clip(np.array(starts), low, high)
        points[:, which] = best[which] + sign * distance
        if not free.any():
            out = residuals(points[:1])[0]
            return _root(float(out @ out), least, rise), points[0]
        # That a trial lies inside is proved by any point below the level; that it lies outside, only by the lowest there is.
        for most, tolerance in ((5, 1e-4), (40, 1e-7)):
            points, values, _ = least_squares_of_many(residuals, points, low, high, free=free, most=most, tolerance=tolerance)
            first = int(np.argmin(values))
            height = _root(float(values[first]), least, rise)
            if height <= OUTSIDE:
                break
        return height, points[first]

    inner, inner_rise, point = 0.0, 0.0, best
    if reached is not None and (reached[which] - best[which]) * sign > deviation:
        distance = min(abs(reached[which] - best[which]), reach)
        height, here = root_rise(distance, reached)
        if height < 1.0:
            inner, inner_rise, point = distance, height, here
            bend = np.clip(sign * (point - best) / inner, -STEEP, STEEP)
    distance = min(max(deviation, 1e-9) if inner == 0.0 else 2.0 * inner, reach)
    if inner >= reach:
        return float(edge)
    outer, beyond = None, best
    for _ in range(25):
        ahead = point + bend * sign * (distance - inner)
        between = point if outer is None else point + (beyond - point) * (distance - inner) / (outer - inner)
        height, here = root_rise(distance, ahead, between)
        if abs(height - 1.0) < 2e-2:
            return float(best[which] + sign * distance)
        if height < 1.0:
            bend = np.clip(sign * (here - point) / (distance - inner), -STEEP, STEEP)
            inner, inner_rise, point = distance, height, here
            if distance >= reach:
                return float(edge)
        else:
            outer, outer_rise, beyond = distance, height, here
        if outer is None:
            distance = min(distance * (min(4.0, max(1.2, 1.0 / height)) if height > 1e-6 else 4.0), reach)
        elif not np.isfinite(outer_rise):
            distance = (inner + outer) / 2
        else:
            slope = (1.0 - inner_rise) / (outer_rise - inner_rise)
            distance = inner + (outer - inner) * min(max(slope, 0.02), 0.98)
        if outer is not None and outer - inner <= 1e-9 * outer:
            break
    return float(best[which] + sign * distance)


def _root(value: float, least: float, rise: float) -> float:
    return float(np.sqrt(max(value - least, 0.0) / rise)) if np.isfinite(value) else np.inf
