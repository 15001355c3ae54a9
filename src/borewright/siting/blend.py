"""How far each plain way of guessing from the record deserves a say beside the odds, learned from bores that none of them had seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.siting.register import Register
from borewright.siting.trees import forest_guess

__all__ = ["GUESSES", "Blend", "fit_blend", "guesses"]

GUESSES = ("odds", "nearest 8", "nearest 25", "nearest 80", "bores of this depth", "bores of about this depth", "bores near of about this depth",
           "bores as deep beside their neighbours", "trees on place and depth")
_LIMIT = 0.005  # no guess is surer than this
_PULL = 24.0  # strength of the pull of each weight to nothing


def guesses(odds: np.ndarray, register: Register, known: np.ndarray, where: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    """Return each guess at bores from others with a known outcome, shape (bores, guesses).

    Parameters
    ----------
    odds : ndarray
        The model's chance for each bore.
    known, where : ndarray of int
        Rows of the register: those whose outcome is used, and those asked about; no row may stand in both.
    outcome : ndarray
        1 enough, 0 not, of every row.

    Notes
    -----
    Each share but the trees' is drawn to the base rate as if two or three more bores had been found like it.
    """
    from scipy.spatial import cKDTree

    had = outcome[known].astype(float)
    base = had.mean()
    most = min(100, len(known))
    tree = cKDTree(register.places[known])
    distance, near = tree.query(register.places[where], k=most)
    distance, near = distance.reshape(len(where), most), near.reshape(len(where), most)
    out = [odds]
    for count in (8, 25, 80):
        count = min(count, most)
        out.append((had[near[:, :count]].sum(axis=1) + 2.0 * base) / (count + 2.0))
    log_depth, mine = np.log(np.maximum(register.depth[known], 0.1)), np.log(np.maximum(register.depth[where], 0.1))
    for width in (0.15, 0.4):
        out.append(_share_by_depth(log_depth, had, mine, width, base))
    weight = np.exp(-0.5 * ((mine[:, None] - log_depth[near]) / 0.3) ** 2 - 0.5 * (distance / np.maximum(distance[:, [min(40, most - 1)]], 1.0)) ** 2)
    out.append(((weight * had[near]).sum(axis=1) + 2.0 * base) / (weight.sum(axis=1) + 2.0))
    # A bore deeper than those around it went on for want of water, or was meant for more: which, the record tells.
    few = min(26, len(known))
    around = log_depth[tree.query(register.places[known], k=few)[1].reshape(len(known), few)]
    beside = log_depth - (around.sum(axis=1) - log_depth) / max(few - 1, 1)
    out.append(_share_by_depth(beside, had, mine - log_depth[near[:, :25]].mean(axis=1), 0.12, base))
    out.append(forest_guess(register, known, where, outcome))
    return np.stack(out, axis=1)


def _share_by_depth(log_depth: np.ndarray, had: np.ndarray, mine: np.ndarray, width: float, base: float) -> np.ndarray:
    """Return the share among bores of about the same log depth, wherever they stand: by a table, for there may be many."""
    edges = np.arange(log_depth.min() - 0.01, log_depth.max() + 0.03, 0.02)
    middle = 0.5 * (edges[1:] + edges[:-1])
    count, good = np.histogram(log_depth, edges)[0], np.histogram(log_depth, edges, weights=had)[0]
    weight = np.exp(-0.5 * ((middle[:, None] - middle) / width) ** 2)
    return np.interp(mine, middle, (weight @ good + 3.0 * base) / (weight @ count + 3.0))


@dataclass(frozen=True, slots=True)
class Blend:
    """Weight of each guess, none below 0, and a shift: on the logarithm of the odds against the base rate's."""

    weights: np.ndarray
    shift: float

    def __call__(self, told: np.ndarray, base: np.ndarray | float) -> np.ndarray:
        """Return the blended chance, shape (bores,): the base rate where every weight is 0."""
        from scipy.special import expit

        middle = _logit(np.broadcast_to(base, len(told)))
        return expit(middle + self.shift + (_logit(told) - middle[:, None]) @ self.weights)


def _logit(p: np.ndarray) -> np.ndarray:
    p = np.clip(p, _LIMIT, 1.0 - _LIMIT)
    return np.log(p / (1.0 - p))


def fit_blend(told: np.ndarray, base: np.ndarray, outcome: np.ndarray) -> Blend:
    """Return the blend with the best log score at bores that the guesses had not seen, every weight drawn to nothing.

    A guess gets weight only as far as it helped where it was put to the test: with few bores, or none that a guess helps at, what
    is left is the base rate.

    Parameters
    ----------
    told : ndarray, shape (bores, guesses)
    base : ndarray, shape (bores,)
        Base rate of the bores that the guesses were made from.
    outcome : ndarray, shape (bores,)

    References
    ----------
    .. [1] Wolpert, D. H., 1992, Stacked generalization, Neural Networks 5, 241-259; Breiman, L., 1996, Stacked regressions, Machine
       Learning 24, 49-64: weights of no less than zero, learned on held-out guesses (both from memory).
    """
    from scipy.optimize import nnls

    middle = _logit(base)
    count = told.shape[1]
    # The shift may be of either sign: two columns stand for it.
    columns = np.column_stack([_logit(told) - middle[:, None], np.ones(len(told)), -np.ones(len(told))])
    ridge = np.diag(np.sqrt(np.concatenate([np.full(count, _PULL), [4.0, 4.0]])))
    found = np.zeros(count + 2)
    for _ in range(25):
        # Newton's method: each step is a least-squares problem with weights of no less than zero.
        at = middle + columns @ found
        p = 1.0 / (1.0 + np.exp(-np.clip(at, -30, 30)))
        root = np.sqrt(np.maximum(p * (1.0 - p), 1e-4))
        goal = root * (columns @ found) + (outcome - p) / root
        factor = np.linalg.qr(np.column_stack([np.vstack([root[:, None] * columns, ridge]), np.concatenate([goal, np.zeros(count + 2)])]), mode="r")
        new = nnls(factor[: count + 2, : count + 2], factor[: count + 2, -1])[0]
        step = np.abs(new - found).max()
        found = new if step < 1.0 else 0.5 * (found + new)
        if step < 1e-4:
            break
    return Blend(found[:count], float(found[count] - found[count + 1]))
