"""When the drillers of a district stop: the limit they drill to, and the flow they call enough, learned from where bores end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.siting.shape import Shape

__all__ = ["ROD", "Habit", "fit_habit", "stopped_by_water"]

ROD = 3.0  # a strike within this of the bottom may be why the bore ends there [m]


@dataclass(frozen=True, slots=True)
class Habit:
    """How bores of a register come to an end.

    Attributes
    ----------
    edges : ndarray, shape (n + 1,)
        Depth cells [m].
    hazard : ndarray, shape (n,)
        Chance per metre of ending for another reason than enough water (money, rod, plan) [1/m].
    log_need, log_need_spread : float
        Logistic distribution of the logarithm of the flow that was enough [ln(m3/s)]; infinite log_need: nobody stops for water.
    """

    edges: np.ndarray
    hazard: np.ndarray
    log_need: float
    log_need_spread: float

    def enough(self, log_total: np.ndarray) -> np.ndarray:
        """Return the share of owners whom a flow would satisfy [-]."""
        from scipy.special import expit

        if not np.isfinite(self.log_need):
            return np.zeros_like(np.asarray(log_total, float))
        return expit((log_total - self.log_need) / self.log_need_spread)

    def hazard_at(self, depth: np.ndarray) -> np.ndarray:
        """Return the chance per metre of ending for other reasons [1/m]."""
        return self.hazard[np.clip(np.searchsorted(self.edges, depth, side="left") - 1, 0, len(self.hazard) - 1)]


def share_at_bottom(shape: Shape, depth: np.ndarray, datum_depth: np.ndarray) -> np.ndarray:
    """Return strikes per metre in the last rod over expected strikes in the whole hole [1/m]."""
    whole = shape.exposure(depth, datum_depth)
    rod = np.minimum(ROD, depth)
    last = (whole - shape.exposure(depth - rod, datum_depth)) / rod
    return last / np.maximum(whole, 1e-12)


def stopped_by_water(habit: Habit, depth: np.ndarray, log_total: np.ndarray, at_bottom: np.ndarray, last_seen: np.ndarray) -> np.ndarray:
    """Return the chance that each wet bore ended because it had enough [-].

    Parameters
    ----------
    at_bottom : ndarray
        From `share_at_bottom` [1/m].
    last_seen : ndarray
        Depth of the last strike where recorded, else NaN [m].
    """
    enough, hazard = habit.enough(log_total), habit.hazard_at(depth)
    seen = np.isfinite(last_seen)
    near = np.where(seen, (depth - last_seen <= ROD + 0.5) / ROD, at_bottom)
    stop = enough * near
    return stop / np.maximum(stop + (1 - enough) * hazard, 1e-300)


def fit_habit(depth: np.ndarray, wet: np.ndarray, log_total: np.ndarray, at_bottom: np.ndarray, last_seen: np.ndarray, *, rounds: int = 25) -> tuple[Habit, np.ndarray]:
    """Return the habit of a register by expectation-maximisation, and each bore's chance of having been stopped by water.

    Parameters
    ----------
    depth, wet, log_total, at_bottom, last_seen : ndarray, shape (n,)
        Only bores whose total is known; `log_total` and `at_bottom` matter for wet ones only.
    """
    edges = np.unique(np.concatenate([[0.0], np.quantile(depth, np.linspace(0.05, 1.0, 16))])) if len(depth) else np.array([0.0, 100.0])
    edges = edges if len(edges) > 1 else np.array([0.0, max(float(edges[0]), 1.0)])
    at_risk = np.array([(np.minimum(depth, high) - low).clip(min=0).sum() for low, high in zip(edges[:-1], edges[1:], strict=True)])
    cell = np.clip(np.searchsorted(edges, depth, side="left") - 1, 0, len(edges) - 2)
    if wet.sum() < 10:
        ends = np.bincount(cell, minlength=len(edges) - 1)
        return Habit(edges, (ends + 0.1) / np.maximum(at_risk, 1.0), np.inf, 1.0), np.zeros(len(depth))
    middle, spread = float(np.median(log_total[wet])), float(max(0.3, log_total[wet].std() / 2))
    by_water = np.where(wet, 0.5, 0.0)
    habit = None
    for _ in range(rounds):
        ends = np.bincount(cell, weights=1.0 - by_water, minlength=len(edges) - 1)
        hazard = (ends + 0.1) / np.maximum(at_risk, 1.0)
        x = (log_total[wet] - middle) / spread
        slope, shift = _logistic(x, by_water[wet])
        middle, spread = middle - spread * shift / slope, spread / slope
        habit = Habit(edges, hazard, float(middle), float(spread))
        by_water = np.where(wet, stopped_by_water(habit, depth, log_total, at_bottom, last_seen), 0.0)
    return habit, by_water


def _logistic(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """Return slope and shift of a logistic curve, held near slope 1 and shift 0 by a weak prior (slope above 0.2)."""
    from scipy.special import expit

    b = np.array([1.0, 0.0])
    prior = np.array([1.0, 0.1])
    for _ in range(8):
        p = expit(b[0] * x + b[1])
        w = np.maximum(p * (1 - p), 1e-6)
        gradient = np.array([((y - p) * x).sum(), (y - p).sum()]) - prior * (b - [1.0, 0.0])
        hessian = np.array([[(w * x * x).sum() + prior[0], (w * x).sum()], [(w * x).sum(), w.sum() + prior[1]]])
        b = b + np.clip(np.linalg.solve(hessian, gradient), -1, 1)
        b[0] = np.clip(b[0], 0.2, 20.0)
    return float(b[0]), float(b[1])
