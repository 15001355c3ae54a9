"""When the drillers of a district stop: the limit they drill to, and the flow they call enough, learned from where bores end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from borewright.siting.compound import LatentStrikes, latent_strikes, read_between
from borewright.siting.shape import Shape

__all__ = ["ROD", "Ended", "Endings", "Habit", "at_bottom", "fit_habit", "share_at_bottom"]

ROD = 3.0  # how far a driller usually goes on below the strike that made enough: to the end of the rod [m]
_RODS = (1.5, 3.0, 4.5, 6.0, 9.0, 12.0)  # what is tried instead
_PLAINLY = 3.0  # of log likelihood, by which another rod must be better
_SLACK = 0.5  # by which depths are rounded or off [m]
_STRAY = 5e-4  # the same for a strike noted too far up to be the one, which was it all the same [1/m]


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
    rod : float
        How far below the strike that made enough a bore may go on [m].
    """

    edges: np.ndarray
    hazard: np.ndarray
    log_need: float
    log_need_spread: float
    rod: float = ROD

    def enough(self, log_total: np.ndarray) -> np.ndarray:
        """Return the share of owners whom a flow would satisfy [-]."""
        from scipy.special import expit

        if not np.isfinite(self.log_need):
            return np.zeros_like(np.asarray(log_total, float))
        return expit((log_total - self.log_need) / self.log_need_spread)

    def hazard_at(self, depth: np.ndarray) -> np.ndarray:
        """Return the chance per metre of ending for other reasons [1/m]."""
        return self.hazard[np.clip(np.searchsorted(self.edges, depth, side="left") - 1, 0, len(self.hazard) - 1)]


def share_at_bottom(shape: Shape, depth: np.ndarray, datum_depth: np.ndarray, rod: float = ROD) -> np.ndarray:
    """Return strikes per metre in the last rod over expected strikes in the whole hole [1/m]."""
    whole = shape.exposure(depth, datum_depth)
    rod = np.minimum(rod, depth)
    last = (whole - shape.exposure(depth - rod, datum_depth)) / rod
    return last / np.maximum(whole, 1e-12)


def _reached(gap: np.ndarray, rod: float) -> np.ndarray:
    """Return the chance per metre that a bore goes on so far below the strike that made enough [1/m]."""
    return np.where(gap <= rod + _SLACK, 1.0 / rod, _STRAY)


def at_bottom(k: np.ndarray, gap: np.ndarray, first_share: np.ndarray, bottom: np.ndarray, rod: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the ways in which k hidden strikes lie with the last at the bottom, per metre, and those in which they lie anyhow, shape (most, n).

    Parameters
    ----------
    k : ndarray, shape (most, 1)
        Number of strikes.
    gap, first_share : ndarray, shape (n,)
        From the first strike to the bottom [m], and the share of the hole's expected strikes above it; NaN where it is not recorded.
    bottom : ndarray, shape (n,)
        Share of the hole's expected strikes in each of its last metres [1/m].
    rod : float
        How far below the strike that made enough a bore may go on [m].
    """
    told = np.isfinite(first_share)
    rest = np.clip(1.0 - np.where(told, first_share, 0.0), 1e-4, 1.0)
    last = np.where(told, np.where(k == 1, _reached(gap, rod), k * (k - 1) * rest ** np.maximum(k - 2, 0) * bottom), k * bottom)
    return last, np.where(told, k * rest ** (k - 1), 1.0)


@lru_cache(maxsize=8)
def _sums(log_yield_sd: float, most: int) -> tuple[LatentStrikes, Callable]:
    # A share of owners is a blunt thing: coarse cells do, and a spread to two figures.
    tables = latent_strikes(log_yield_sd, most=most, count=2**12)
    return tables, tables.before_last()


class Endings:
    """The ways in which a bore with k strikes can have come to its end, for one spread of yields.

    A bore ends with its last strike because that strike, and not those before it, made enough; or it ends for another
    reason with less than enough.
    """

    def __init__(self, log_yield_sd: float, level: float, *, most: int = 8):
        self.level = level
        self.tables, self._before = _sums(round(log_yield_sd, 2), most)
        self._last: tuple[Habit, np.ndarray] | None = None

    def satisfied_before(self, habit: Habit) -> np.ndarray:
        """Return the share of owners satisfied before the last strike, given k and the total, shape (most, t)."""
        if self._last is None or self._last[0] is not habit:
            self._last = (habit, self._before(lambda log_flow: habit.enough(log_flow + self.level)))
        return self._last[1]

    def by_water(self, habit: Habit, log_total: np.ndarray) -> np.ndarray:
        """Return the chance that the last of k strikes was the one that made enough, shape (most, n)."""
        before = read_between(self.satisfied_before(habit), *self.tables.cells(log_total - self.level))
        return np.maximum(habit.enough(log_total) - before, 0.0)


@dataclass(frozen=True)
class Ended:
    """What is known of the wet bores' ends, shape (n,) or (most, n).

    Attributes
    ----------
    depth, log_total : ndarray
        Depth [m] and logarithm of the total yield [ln(m3/s)].
    seen : ndarray of bool
        Whether strikes are seen.
    log_before : ndarray
        Logarithm of the flow before the last strike seen; -inf: none.
    gap : ndarray
        From the last strike seen, or the first where the rest are hidden, to the bottom [m].
    first_share, bottom : ndarray
        As `at_bottom` takes them.
    shares : ndarray, shape (most, n)
        Weight of each number of hidden strikes, whatever ended the bore.
    """

    depth: np.ndarray
    log_total: np.ndarray
    seen: np.ndarray
    log_before: np.ndarray
    gap: np.ndarray
    first_share: np.ndarray
    bottom: np.ndarray
    shares: np.ndarray


def _ways(habit: Habit, ended: Ended, endings: Endings) -> tuple[np.ndarray, np.ndarray]:
    """Return the weight of having ended for water, and for another reason, shape (n,)."""
    enough = habit.enough(ended.log_total)
    k = np.arange(1, len(ended.shares) + 1)[:, None]
    last, anyhow = at_bottom(k, ended.gap, ended.first_share, ended.bottom, habit.rod)
    hidden = (ended.shares * last / anyhow * endings.by_water(habit, ended.log_total)).sum(axis=0)
    with np.errstate(invalid="ignore"):
        before = np.where(np.isfinite(ended.log_before), habit.enough(ended.log_before), 0.0)
    seen = _reached(ended.gap, habit.rod) * np.maximum(enough - before, 0.0)
    return np.where(ended.seen, seen, hidden), (1.0 - enough) * habit.hazard_at(ended.depth)


def _rod(habit: Habit, ended: Ended, endings: Endings) -> Habit:
    """Return the habit with the rod under which the bores' ends are likeliest; the usual one unless another is plainly better."""
    worth = {}
    for rod in _RODS:
        water, other = _ways(replace(habit, rod=rod), ended, endings)
        worth[rod] = np.log(np.maximum(water + other, 1e-300)).sum() + (_PLAINLY if rod == ROD else 0.0)
    return replace(habit, rod=max(worth, key=worth.get))


def fit_habit(ended: Ended, dry_depth: np.ndarray, endings: Endings, *, start: Habit | None = None, rounds: int = 2) -> tuple[Habit, np.ndarray]:
    """Return the habit of a register, and each wet bore's chance of having been stopped by water.

    Parameters
    ----------
    ended : Ended
        Of the wet bores whose total is known.
    dry_depth : ndarray
        Depths of the dry bores [m].
    rounds : int
        Turns between the hazard (expectation-maximisation), the rod and the flow that is enough (maximum likelihood).
    """
    from scipy.optimize import minimize

    depth = np.concatenate([ended.depth, dry_depth])
    # Depths that many bores share are plans, not chance: each gets a cell of one rod, so that its hazard stands out.
    common, times = np.unique(depth, return_counts=True)
    plans = common[times >= max(5, 0.03 * len(depth))]
    edges = np.unique(np.concatenate([[0.0], np.quantile(depth, np.linspace(0.05, 1.0, 16)), plans, plans[plans > ROD] - ROD]))
    edges = edges if len(edges) > 1 else np.array([0.0, max(float(edges[0]), 1.0)])
    at_risk = np.array([(np.minimum(depth, high) - low).clip(min=0).sum() for low, high in zip(edges[:-1], edges[1:], strict=True)])
    cell = np.clip(np.searchsorted(edges, depth, side="left") - 1, 0, len(edges) - 2)

    def hazard(stopped: np.ndarray) -> np.ndarray:
        ends = np.bincount(cell, weights=np.concatenate([1.0 - stopped, np.ones(len(dry_depth))]), minlength=len(edges) - 1)
        return (ends + 0.1) / np.maximum(at_risk, 1.0)

    n = len(ended.depth)
    if n < 10:
        return Habit(edges, hazard(np.zeros(n)), np.inf, 1.0), np.zeros(n)
    middle = float(np.median(ended.log_total))
    stopped = np.full(n, 0.5)
    habit = start if start is not None and np.isfinite(start.log_need) else Habit(edges, hazard(stopped), middle - 0.5, 0.6)
    for _ in range(rounds):
        for _ in range(5):
            habit = replace(habit, edges=edges, hazard=hazard(stopped))
            water, other = _ways(habit, ended, endings)
            stopped = water / np.maximum(water + other, 1e-300)
        # Before the flow that is enough: sought with a wrong rod it runs far off to make up for it.
        habit = _rod(habit, ended, endings)

        def cost(p: np.ndarray, held: Habit = habit) -> float:
            trial = replace(held, log_need=float(p[0]), log_need_spread=float(np.exp(np.clip(p[1], -3.0, 2.0))))
            water, other = _ways(trial, ended, endings)
            # A weak prior: needs are of the size of yields and differ by a factor of some three.
            return -np.log(np.maximum(water + other, 1e-300)).sum() + 0.5 * ((p[0] - middle) / 1.5) ** 2 + 0.5 * ((p[1] - np.log(0.6)) / 0.7) ** 2

        first = np.array([habit.log_need, np.log(habit.log_need_spread)])
        found = minimize(cost, first, method="Nelder-Mead", options={"maxfev": 16, "xatol": 0.02, "fatol": 0.05,
                                                                     "initial_simplex": first + np.array([[0, 0], [0.3, 0], [0, 0.3]])})
        habit = replace(habit, log_need=float(found.x[0]), log_need_spread=float(np.exp(np.clip(found.x[1], -3.0, 2.0))))
    water, other = _ways(habit, ended, endings)
    return habit, water / np.maximum(water + other, 1e-300)
