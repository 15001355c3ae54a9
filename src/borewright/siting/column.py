"""The ground to expect under a spot, and what the bores around say of levels and salt."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from borewright.errors import Advisory
from borewright.ground import GROUND
from borewright.siting.belief import Around, Belief
from borewright.siting.evidence import datum_depths
from borewright.siting.model import OddsModel
from borewright.siting.prospect import ExpectedColumn
from borewright.siting.register import Register

__all__ = ["column_doubts", "expected_column", "weighted_quantiles"]

_LOGS = 40
_QUANTILES = (0.1, 0.25, 0.5, 0.75, 0.9)
_FEWEST_LOGS = 3
# Where no bore has a log: loose ground over rock, so wide that nobody takes it for knowledge. Common practice, no source.
_UNKNOWN_ROCKHEAD = (12.0, 0.9)


def _neighbours(near: Around, told: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the nearest rows that tell something, and weights that halve over the distance of the tenth."""
    distance, rows = near.distance[: 4 * count], near.rows[: 4 * count]
    keep = told[rows]
    distance, rows = distance[keep][:count], rows[keep][:count]
    if len(rows) == 0:
        return rows, distance
    half = max(float(distance[min(9, len(distance) - 1)]), 1.0)
    return rows, np.exp2(-((distance / half) ** 2))


def weighted_quantiles(register: Register, name: str, near: Around) -> dict[float, float]:
    """Return quantiles of static_level or conductivity among the bores around, nearer ones counted more; empty with fewer than 3."""
    told = register.told[name]
    if told is None:
        return {}
    rows, weight = _neighbours(near, told, 25)
    if len(rows) < 3:
        return {}
    return _quantiles(getattr(register, name)[rows], weight)


def _quantiles(values: np.ndarray, weight: np.ndarray) -> dict[float, float]:
    order = np.argsort(values, kind="stable")
    values, weight = values[order], weight[order]
    at = (np.cumsum(weight) - 0.5 * weight) / weight.sum()
    return {q: float(np.interp(q, at, values)) for q in _QUANTILES}


def column_doubts(register: Register, near: Around) -> list[Advisory]:
    """Return what to doubt of the ground expected under a spot, without working the ground out."""
    if register.intervals is None:
        return [Advisory("ground-unknown", "doubt", "No bore of this register has a log: the ground shown is a guess, loose ground over rock.", "column")]
    if len(_neighbours(near, register.logged, _LOGS)[0]) < _FEWEST_LOGS:
        return [Advisory("ground-unknown", "doubt", "Fewer than 3 logs stand near: the ground shown is a guess, loose ground over rock.", "column")]
    return []


def expected_column(register: Register, model: OddsModel, belief: Belief, near: Around, deepest: float) -> ExpectedColumn:
    """Return the belief about the ground under a spot, from the logs around it; what to doubt of it is `column_doubts`.

    Notes
    -----
    Each cell's classes are those of the logs around, weighted by distance, a log being stretched so that its own rockhead
    falls on the rockhead expected here; below the last log the deepest ground known goes on.
    """
    if register.intervals is None:
        return _unknown(deepest)
    edges, middle = _cells(deepest)
    rows, weight = _neighbours(near, register.logged, _LOGS)
    if len(rows) < _FEWEST_LOGS:
        return _unknown(deepest)
    rockheads = register_rockheads(register)[rows]
    quantiles = _rockhead(model, belief, rockheads, weight)
    chance = _stretched_logs(register, rows, weight, rockheads, quantiles, middle)
    total = chance.sum(axis=1)
    for cell in range(len(middle)):
        # Fewer than half a near log's worth: the ground above goes on.
        if total[cell] < 0.5 and cell:
            chance[cell] = chance[cell] + (0.5 - total[cell]) * chance[cell - 1] / max(chance[cell - 1].sum(), 1e-12)
    chance /= np.maximum(chance.sum(axis=1, keepdims=True), 1e-12)
    used = np.flatnonzero(chance.sum(axis=0) > 0)
    names = list(GROUND)
    return ExpectedColumn(edges, tuple(names[i] for i in used), chance[:, used], quantiles, float(weight.sum() ** 2 / (weight**2).sum()))


def _stretched_logs(register: Register, rows: np.ndarray, weight: np.ndarray, rockheads: np.ndarray, quantiles: dict[float, float], middle: np.ndarray) -> np.ndarray:
    """Return the weight of each class in each cell, shape (cells, classes); three rockheads stand for its doubt."""
    logs = register.intervals
    starts, ends = np.searchsorted(logs.bore, rows, side="left"), np.searchsorted(logs.bore, rows, side="right")
    count = ends - starts
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    at = np.repeat(starts - first, count) + np.arange(count.sum())
    # One search for all logs: each log's tops are lifted above those of the log before.
    lift = 1e5 * np.arange(len(rows))
    tops = logs.top[at] + np.repeat(lift, count)
    own, weight = rockheads[:, None], weight[:, None]
    chance = np.zeros(len(middle) * len(GROUND))
    for q, share in ((0.1, 0.3), (0.5, 0.4), (0.9, 0.3)):
        rockhead = max(quantiles[q], 0.1)
        level = np.where(own > 0, np.where(middle < rockhead, middle * own / rockhead, middle + own - rockhead), middle)
        i = np.searchsorted(tops, np.maximum(level, 0.0) + lift[:, None], side="right") - 1
        i = at[np.clip(i, first[:, None], (first + count - 1)[:, None])]
        ground = logs.ground[i]
        inside = (level <= logs.end[i] + 0.5) & (ground >= 0)
        cell = np.broadcast_to(np.arange(len(middle)), ground.shape)
        chance += np.bincount((cell * len(GROUND) + ground)[inside], weights=np.broadcast_to(weight * share, ground.shape)[inside], minlength=len(chance))
    return chance.reshape(len(middle), len(GROUND))


def register_rockheads(register: Register) -> np.ndarray:
    """Return the depth of rockhead in each bore [m], worked out once."""
    if "_rockheads" not in register.__dict__:
        register.__dict__["_rockheads"] = datum_depths(register)["rockhead"]
    return register.__dict__["_rockheads"]


def _rockhead(model: OddsModel, belief: Belief, rockheads: np.ndarray, weight: np.ndarray) -> dict[float, float]:
    if model.datum is not None and model.shape.datum == "rockhead":
        from scipy.special import ndtri

        spread = float(np.sqrt(belief.datum_variance[0]))
        return {q: float(max(np.expm1(belief.datum[0] + spread * ndtri(q)), 0.0)) for q in _QUANTILES}
    found = np.isfinite(rockheads)
    if found.sum() < 3:
        return _guess()
    return _quantiles(rockheads[found], weight[found])


def _guess() -> dict[float, float]:
    from scipy.special import ndtri

    median, spread = _UNKNOWN_ROCKHEAD
    return {q: float(median * np.exp(spread * ndtri(q))) for q in _QUANTILES}


def _cells(deepest: float) -> tuple[np.ndarray, np.ndarray]:
    """Return edges and middles of the cells of a column [m]."""
    edges = np.arange(0.0, np.ceil(deepest / 2.0) * 2.0 + 0.1, 2.0)
    return edges, 0.5 * (edges[1:] + edges[:-1])


@lru_cache(maxsize=8)
def _unknown_parts(deepest: float) -> tuple[np.ndarray, np.ndarray, dict[float, float]]:
    from scipy.special import ndtr

    edges, middle = _cells(deepest)
    median, spread = _UNKNOWN_ROCKHEAD
    rock = ndtr((np.log(middle) - np.log(median)) / spread)
    return edges, np.column_stack([1.0 - rock, rock]), _guess()


def _unknown(deepest: float) -> ExpectedColumn:
    edges, chance, quantiles = _unknown_parts(deepest)
    return ExpectedColumn(edges.copy(), ("clay", "rock"), chance.copy(), dict(quantiles), 0.0)
