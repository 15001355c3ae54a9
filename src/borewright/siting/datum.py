"""How deep the datum of strikes lies everywhere: from the logs that reach it, and from those that only say that it is deeper."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.siting.fields import Field, fit_field, gaussian_posterior

__all__ = ["Ground", "datum_field"]

_NOISE = 0.05  # of the logarithm of a logged depth


@dataclass(frozen=True, slots=True)
class Ground:
    """What is needed of a register: depth of each bore [m], whether it has a log, the rows of each block and the distances in it,
    size of the sample and spacing [m]."""

    depth: np.ndarray
    logged: np.ndarray
    parts: list[np.ndarray]
    separations: list[np.ndarray]
    extent: float
    spacing: float


def datum_field(ground: Ground, observed: np.ndarray, kept: Field | None) -> tuple[Field, np.ndarray, np.ndarray, np.ndarray]:
    """Return the field of the logarithm of a datum's depth plus one metre, each bore's value and precision of it, and its depth at every bore [m].

    Parameters
    ----------
    observed : ndarray, shape (n,)
        Depth of the datum in each bore [m]; NaN where its log does not reach it.
    kept : Field or None
        A field learned before, taken as it is.
    """
    n = len(observed)
    told = np.isfinite(observed)
    value = np.where(told, np.log1p(np.where(told, observed, 0.0)), 0.0)
    precision = np.where(told, 1.0 / _NOISE**2, 0.0)
    mean, sd = float(value[told].mean()), float(max(value[told].std(), 0.05))

    def log_evidence(field: Field) -> float:
        return sum(gaussian_posterior(value[p], precision[p], s, None, field).evidence for p, s in zip(ground.parts, ground.separations, strict=True))

    field = kept
    if field is None:
        start = Field(mean, sd, ground.extent / 6, max(0.3 * sd, 0.03), 0.1)
        field = fit_field(log_evidence, mean=mean, extent=ground.extent, spacing=ground.spacing, typical_sd=sd, level_sd=0.1, start=start, evaluations=24)
    short = ground.logged & ~told
    at = np.full(n, mean)
    for p, s in zip(ground.parts, ground.separations, strict=True):
        at[p] = _with_least(value, precision, np.log1p(ground.depth), short, p, s, field)
    # A bore that ends above the datum says that the datum is deeper.
    depth = np.where(told, observed, np.maximum(np.expm1(at), np.where(short, ground.depth, 0.0)))
    return field, value, precision, np.maximum(np.nan_to_num(depth), 0.0)


def _with_least(value: np.ndarray, precision: np.ndarray, least: np.ndarray, reached: np.ndarray, rows: np.ndarray, separation: np.ndarray, field: Field) -> np.ndarray:
    """Return the expected datum at some bores, those counted that only say "deeper than I went"; their say is filled into value and precision.

    Each such bore's belief, cut off at its depth, is put back as the normal observation that makes the same mean and variance.
    """
    from scipy.special import log_ndtr

    which = np.flatnonzero(reached[rows])
    at = rows[which]
    for _ in range(3 if len(at) else 0):
        found = gaussian_posterior(value[rows], precision[rows], separation, None, field, at_records=True)
        variance = found.records_variance[which]
        # What the bore itself said before is taken out again.
        free = np.maximum(1.0 / variance - precision[at], 0.02 / variance)
        mean = (found.at_records[which] / variance - precision[at] * value[at]) / free
        sd = 1.0 / np.sqrt(free)
        a = (least[at] - mean) / sd
        ratio = np.exp(-0.5 * a**2 - 0.5 * np.log(2 * np.pi) - log_ndtr(-a))
        cut_mean, cut = mean + sd * ratio, np.clip(1.0 - ratio * (ratio - a), 1e-3, 1.0)
        new = np.maximum(free / cut - free, 0.0)
        value[at] = np.where(new > 0, (cut_mean * free / cut - mean * free) / np.maximum(new, 1e-12), 0.0)
        precision[at] = new
    return gaussian_posterior(value[rows], precision[rows], separation, None, field).at_records
