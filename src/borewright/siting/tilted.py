"""What one bore says of the local scale and yield, given what all the others believe: its likelihood averaged over their belief."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.siting import evidence as grade
from borewright.siting.compound import LatentStrikes
from borewright.siting.evidence import Water

__all__ = ["LEAST", "ScaleLikelihood", "Ways", "counts", "log_normal", "one_count", "said", "ways_of_hiding"]

LEAST = 0.02  # precision of the least that a bore can say
_NODES = 11


def _nodes(mean: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return points of normal beliefs and the logarithms of their weights, shapes (nodes, n) and (nodes, 1)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return mean + np.sqrt(variance) * nodes[:, None], np.log(weights / weights.sum())[:, None]


def _moments(log_weight: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the logarithm of the sum of weights over the nodes, and mean and mean square of what lies at them."""
    from scipy.special import logsumexp

    total = logsumexp(log_weight, axis=0)
    share = np.exp(log_weight - total)
    return total, (share * at).sum(axis=0), (share * at**2).sum(axis=0)


def one_count(mean: np.ndarray, variance: np.ndarray, count: np.ndarray, exposure: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return log chance of so many strikes where the log scale is believed normal, and its mean and variance after them, shape (n,)."""
    at, log_weight = _nodes(mean, variance)
    total, first, second = _moments(log_weight + count * at - exposure * np.exp(np.minimum(at, 12.0)), at)
    return total, first, second - first**2


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways in which bores that hide their strikes can have come by what they show, by number of strikes, shape (most, n).

    Attributes
    ----------
    rows : ndarray, shape (n,)
        Rows of the register.
    log_weight : ndarray
        Of each number and its total, apart from how the bore ended.
    scale, scale_square, level, level_square : ndarray
        Mean and mean square of the log scale and of the local mean log yield, given the number.
    spread : ndarray
        Mean square of one strike's log yield about the local mean, given the number; 0 where no total tells.
    """

    rows: np.ndarray
    log_weight: np.ndarray
    scale: np.ndarray
    scale_square: np.ndarray
    level: np.ndarray
    level_square: np.ndarray
    spread: np.ndarray

    def over(self, log_endings: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the log sum over the number of strikes, and each number's share, with the weights of how the bores ended."""
        from scipy.special import logsumexp

        terms = self.log_weight + log_endings
        total = logsumexp(terms, axis=0)
        return total, np.exp(terms - total)


def ways_of_hiding(water: Water, rows: np.ndarray, exposure: np.ndarray, scale: tuple[np.ndarray, np.ndarray], level: tuple[np.ndarray, np.ndarray],
                   tables: LatentStrikes) -> Ways:
    """Return the ways of some bores, given what the others believe of the log scale and local mean log yield there (means, variances)."""
    from scipy.special import gammaln

    most = grade.MOST_HIDDEN
    k = np.arange(1, most + 1)[:, None]
    at, log_weight = _nodes(*scale)
    terms = (log_weight - exposure * np.exp(np.minimum(at, 12.0)))[:, None] + k * (at[:, None] + np.log(np.maximum(exposure, 1e-12))) - gammaln(k + 1)
    weight, mean, square = _moments(terms, at[:, None])
    level_mean = np.broadcast_to(level[0], weight.shape).copy()
    level_square = np.broadcast_to(level[1] + level[0] ** 2, weight.shape).copy()
    spread = np.zeros_like(weight)
    told = np.flatnonzero(water.grade[rows] == grade.HIDDEN)
    if len(told):
        at, log_weight = _nodes(level[0][told], level[1][told])
        x = (water.log_total[rows[told]] - at).ravel()
        density, _, about = tables.at(x)
        capped = np.broadcast_to(water.capped[rows[told]], at.shape).ravel()
        if capped.any():
            beyond = tables.beyond(x[capped])
            density[:, capped], about[:, capped] = beyond
        density, about = (np.moveaxis(part.reshape(most, *at.shape), 1, 0) for part in (density, about))
        terms = density + log_weight[:, None]
        total, level_mean[:, told], level_square[:, told] = _moments(terms, at[:, None])
        weight[:, told] += total
        spread[:, told] = (np.exp(terms - total) * about).sum(axis=0)
    return Ways(rows, weight, mean, square, level_mean, level_square, spread)


def said(mean: np.ndarray, variance: np.ndarray, others_mean: np.ndarray, others_variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return value and precision of the normal observation that takes the others' belief to a mean and, but for `LEAST`, a variance."""
    precision = np.maximum(1.0 / np.maximum(variance, 1e-6) - 1.0 / others_variance, LEAST)
    return (mean * (1.0 / others_variance + precision) - others_mean / others_variance) / precision, precision


def log_normal(value: np.ndarray, mean: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Return the log density of a normal distribution."""
    return -0.5 * (np.log(2.0 * np.pi * variance) + (value - mean) ** 2 / variance)


class ScaleLikelihood:
    """Log likelihood of the logarithm of the local scale, for each bore, with slope and curvature."""

    def __init__(self, water: Water, exposure: np.ndarray, log_ways: np.ndarray):
        self.grade, self.strikes = water.grade, water.strikes
        self.exposure, self.log_ways = exposure, log_ways

    def __call__(self, eta: np.ndarray, rows: np.ndarray | slice = slice(None)) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        kind, exposure = self.grade[rows], self.exposure[rows]
        expected = exposure * np.exp(np.minimum(eta, 12.0))
        seen = (kind == grade.DRY) | (kind == grade.SEEN)
        count = np.where(seen, self.strikes[rows], 0.0)
        value, spread = count * eta, np.zeros_like(eta)
        many = (kind == grade.HIDDEN) | (kind == grade.WET)
        if many.any():
            total, mean, variance = counts(eta[many], exposure[many], self.log_ways[:, rows][:, many])
            value[many], count[many], spread[many] = total, mean, variance
        told = kind != grade.UNKNOWN
        slope = np.where(told, count - expected, 0.0)
        # A hidden count bends the likelihood the wrong way here and there; a fraction of the plain curvature keeps Newton's step a climb.
        weight = np.where(told, np.maximum(expected - spread, 0.1 * expected), 0.0)
        return np.where(told, value - expected, 0.0), slope, weight


def counts(eta: np.ndarray, exposure: np.ndarray, log_ways: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return log sum over the number of strikes, and the number's mean and variance."""
    from scipy.special import gammaln, logsumexp

    k = np.arange(1, len(log_ways) + 1)[:, None]
    terms = k * (eta + np.log(np.maximum(exposure, 1e-12))) - gammaln(k + 1) + log_ways
    total = logsumexp(terms, axis=0)
    share = np.exp(terms - total)
    mean = (k * share).sum(axis=0)
    return total, mean, (k**2 * share).sum(axis=0) - mean**2
