"""Guesses by trees over place and depth, from a general-purpose library: one to be measured against, one to lean on where it helps."""

from __future__ import annotations

import numpy as np

from borewright.siting.register import Register

__all__ = ["boosted_guess", "forest_guess"]

_MANY = 10_000  # bores from which the binned kind of boosting is as good and far quicker
_TREES = 50
_LEAF = 5  # bores that a leaf of the forest holds at least


def boosted_guess(register: Register, train: np.ndarray, where: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    """Return the chance of enough at some rows by boosted trees fitted to others, as scikit-learn gives them without tuning.

    Parameters
    ----------
    train, where : ndarray of int
        Rows of the register: those that are learned from, those asked about.
    outcome : ndarray
        1 enough, 0 not, of every row.
    """
    from sklearn.ensemble import GradientBoostingClassifier, HistGradientBoostingClassifier

    return _guess((HistGradientBoostingClassifier if len(train) > _MANY else GradientBoostingClassifier)(random_state=0), register, train, where, outcome)


def forest_guess(register: Register, train: np.ndarray, where: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    """Return the chance of enough at some rows by a forest of averaged trees (of many bores: boosted ones) fitted to others; parameters as of `boosted_guess`.

    References
    ----------
    .. [1] Breiman, L., 2001, Random forests, Machine Learning 45, 5-32 (from memory).
    """
    from sklearn.ensemble import HistGradientBoostingClassifier, RandomForestClassifier

    if len(train) > _MANY:
        return _guess(HistGradientBoostingClassifier(random_state=0), register, train, where, outcome)
    return _guess(RandomForestClassifier(_TREES, min_samples_leaf=_LEAF, random_state=0), register, train, where, outcome)


def _guess(trees: object, register: Register, train: np.ndarray, where: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    if outcome[train].min() == outcome[train].max():
        return np.full(len(where), float(outcome[train][0]))
    features = np.column_stack([register.places, register.depth])
    trees.fit(features[train], outcome[train])
    return trees.predict_proba(features[where])[:, 1]
