"""One solution against the readings of one test: its residuals for many trials at once, its optima, and what its residuals say of the noise."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from borewright.hydraulics.engine import STEP, Pressed, least_squares_of_many
from borewright.hydraulics.noise import Spread, spread_of_fit, strays_together, uneven_ratio
from borewright.hydraulics.solutions import Place, Solution

__all__ = ["Problem", "largest_streak", "raced", "spread_of"]

NOISE_SAMPLE = 110  # residuals whose likeness is worked out


class Problem:
    """Residuals of one solution against pressed readings, for many trial points at once."""

    def __init__(self, solution: Solution, pressed: Sequence[Pressed], places: Sequence[Place]):
        self.solution, self.pressed, self.places = solution, pressed, places
        self.low = np.array([math.log(p.low) if p.logarithmic else p.low for p in solution.parameters])
        self.high = np.array([math.log(p.high) if p.logarithmic else p.high for p in solution.parameters])
        for j, p in enumerate(solution.parameters):
            if p.name == "image_distance":
                # An image as near as the bore itself only doubles the transmissivity; a place on our side of the edge is farther from it.
                self.low[j] = math.log(1.2 * max(place.radius for place in places))
            elif p.name in (solution.edges or ()):
                towards = 1.0 if p.name == solution.edges[0] else -1.0
                self.low[j] = math.log(max(max(0.6 * place.radius, 1.01 * towards * place.across) for place in places))
        self.floor = sum(p.floor for p in pressed)
        self.count = sum(p.count for p in pressed)

    def values(self, points: np.ndarray) -> dict[str, np.ndarray]:
        return {
            p.name: np.exp(points[:, j : j + 1]) if p.logarithmic else points[:, j : j + 1]
            for j, p in enumerate(self.solution.parameters)
        }

    def predictions(self, points: np.ndarray) -> list[np.ndarray]:
        values = self.values(points)
        with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
            return [one.response(self.solution, place, values) @ one.factor.T for one, place in zip(self.pressed, self.places, strict=True)]

    def kept_residuals(self, points: np.ndarray) -> list[np.ndarray]:
        """Return the residuals of the readings kept, shape (m, n) for each bore."""
        values = self.values(points)
        with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
            return [one.seen - one.response(self.solution, place, values) @ one.rows.T
                    for one, place in zip(self.pressed, self.places, strict=True)]

    def residuals(self, points: np.ndarray) -> np.ndarray:
        parts = [one.target - guess for one, guess in zip(self.pressed, self.predictions(points), strict=True)]
        return np.concatenate(parts, axis=1)

    def _settled(self, points: np.ndarray, error: np.ndarray, settings: int) -> tuple[np.ndarray, np.ndarray]:
        """Return the best trial for each setting of what stands beside T and S, with T and S settled first: a coarse S hides what the rest can do."""
        if settings == 1:
            return points, error
        first = np.argmin(error.reshape(-1, settings), axis=0) * settings + np.arange(settings)
        first = first[np.isfinite(error[first])]
        if first.size == 0:
            return points, error
        free = np.arange(points.shape[1]) < 2
        points, error, _ = least_squares_of_many(self.residuals, points[first], self.low, self.high, free=free, most=3, tolerance=1e-3)
        return points, error

    def starts(self, grid: np.ndarray, most: int, *, settings: int) -> list[np.ndarray]:
        """Return the best trial points, T set by least squares where it only scales the response.

        `settings`: of what stands beside T and S the grid holds so many, running fastest.
        """
        target = np.concatenate([one.target for one in self.pressed])
        guess = np.concatenate(self.predictions(grid), axis=1)
        good = np.all(np.isfinite(guess), axis=1)
        points = grid.copy()
        if self.solution.scales:
            power = np.sum(guess**2, axis=1)
            scale = np.where(good & (power > 0), guess @ target / np.where(power > 0, power, 1.0), 0.0)
            good &= scale > 0
            scale = np.where(good, scale, 1.0)
            points[:, 0] -= np.log(scale)
            points[:, 1] -= np.log(scale)
            guess = guess * scale[:, None]
        error = np.where(good, np.sum((target - guess) ** 2, axis=1), np.inf)
        points, error = self._settled(points, error, settings)
        chosen: list[np.ndarray] = []
        for row in np.argsort(error):
            if not np.isfinite(error[row]) or len(chosen) == most:
                break
            if all(np.max(np.abs(points[row] - c)) > 0.8 for c in chosen):
                chosen.append(np.clip(points[row], self.low, self.high))
        return chosen


def raced(problem: Problem, starts: Sequence[np.ndarray], free: np.ndarray) -> list[tuple[np.ndarray, float, np.ndarray]]:
    """Return the optima from several starts; only the two that are ahead are run to the end."""
    if not starts:
        return []
    points, values, _ = least_squares_of_many(problem.residuals, np.array(starts), problem.low, problem.high, free=free, most=8)
    running = np.isfinite(values)
    if not running.any():
        return []
    running &= values + problem.floor <= (values.min() + problem.floor) * 1.5
    on = np.flatnonzero(running)
    apart = [i for k, i in enumerate(on) if all(np.max(np.abs(points[i] - points[j])) > 0.02 or values[i] < values[j] for j in on[:k])]
    points, values, _ = least_squares_of_many(problem.residuals, points[apart], problem.low, problem.high, free=free, most=12)
    ahead = np.argsort(values)[:2]
    points, values, jacobians = least_squares_of_many(problem.residuals, points[ahead], problem.low, problem.high, free=free, most=40)
    return [(p, float(v), j) for p, v, j in zip(points, values, jacobians, strict=True) if np.isfinite(v)]


def spread_of(problem: Problem, point: np.ndarray, index: np.ndarray, variance: float, spare: int) -> tuple[Spread, float]:
    """Return what uneven scatter and the likeness of neighbouring residuals do to the spread; and the largest streak of a bore."""
    points = np.repeat(point[None, :], 1 + index.size, axis=0)
    points[1 + np.arange(index.size), index] += STEP
    kept = problem.kept_residuals(points)
    off = [one[0] for one in kept]
    streak = largest_streak(kept)
    columns = [((one[1:] - one[0]) / STEP).T for one in kept]
    uneven = uneven_ratio(np.concatenate(off), np.concatenate(columns), thinned_by=problem.count / sum(o.size for o in off), variance=variance)
    if not strays_together(off, index.size):
        return Spread(uneven, 1.0, float(spare)), streak
    share = max(NOISE_SAMPLE // len(kept), 8)
    pick = [np.unique(np.linspace(0, one.size - 1, min(one.size, share)).astype(int)) for one in off]
    found = spread_of_fit([one[at] for one, at in zip(off, pick, strict=True)], [one[at] for one, at in zip(columns, pick, strict=True)],
                          [one.when[at] for one, at in zip(problem.pressed, pick, strict=True)],
                          thinned_by=problem.count / sum(at.size for at in pick), variance=variance)
    return Spread(np.maximum(found.ratio, uneven), found.carry, min(found.freedom, float(spare))), streak


def largest_streak(kept: Sequence[np.ndarray]) -> float:
    """Return how far each residual resembles the one before it, from 0 for none to 1; the largest of the bores."""
    most = 0.0
    for one in kept:
        off = one[0] - one[0].mean()
        power = float(off @ off)
        if off.size >= 8 and power > 0:
            most = max(most, float(off[1:] @ off[:-1]) / power)
    return most
