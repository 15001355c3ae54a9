"""What the bores outside the sample say, when widths and habits have been learned from the sample of a large register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from borewright.siting import evidence as grade
from borewright.siting.fields import correlation

if TYPE_CHECKING:
    from borewright.siting.model import Fitting

__all__ = ["as_the_sample", "spread_to_all"]


def as_the_sample(kind: np.ndarray, sample: np.ndarray, value: np.ndarray, precision: np.ndarray, said: np.ndarray) -> None:
    """Put what the bores of the sample say in its place, and move what the others say as far as the quick way to it went wrong in the sample.

    What a bore says is taken the quick way at a belief that counts the bore itself: with hidden strikes that is too low a scale and too high a yield.
    """
    outside = np.ones(len(kind), bool)
    outside[sample] = False
    for grade_of in np.unique(kind[sample]) if outside.any() else ():
        rows, mine = sample[(kind[sample] == grade_of) & (said[1, sample] > 0)], outside & (kind == grade_of) & (precision > 0)
        quick = precision[rows].sum()
        if len(rows) < 50 or quick <= 0:
            continue
        value[mine] += np.average(said[0, rows], weights=said[1, rows]) - (value[rows] * precision[rows]).sum() / quick
        precision[mine] *= said[1, rows].sum() / quick
    value[sample], precision[sample] = said[:, sample]


def spread_to_all(fitting: Fitting) -> None:
    """Estimate the local scale and yield at bores outside the sample from the sample's fields and their own neighbours, by a kernel."""
    n = len(fitting.register)
    if len(fitting.sample) == n or fitting.known.sum() == len(fitting.sample):
        return
    tree = fitting.register.tree
    outside = np.ones(n, bool)
    outside[fitting.sample] = False
    rows = np.flatnonzero(outside)
    count = np.where(np.isin(fitting.water.grade, (grade.SEEN, grade.DRY)), fitting.water.strikes, np.isin(fitting.water.grade, (grade.HIDDEN, grade.WET)) * 1.3)
    exposure = np.where(fitting.known, fitting.exposure, 0.0)
    prior = 1.0 / max(np.expm1(fitting.scale_field.variance), 1e-3)
    for part in np.array_split(rows, max(1, len(rows) // 20_000)):
        near, at = tree.query(fitting.points[part], k=min(32, n), workers=-1)
        weight = correlation(near, max(fitting.scale_field.length, 1.0), fitting.scale_field.family) ** 2
        fitting.eta[part] = np.log((prior + (weight * count[at]).sum(axis=1)) / (prior + (weight * exposure[at]).sum(axis=1)))
    fitting.level[rows] = fitting.yield_field.mean
