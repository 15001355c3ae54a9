"""What each bore says about water: strikes seen, strikes hidden behind a total yield, or only wet or dry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.ground import GROUND
from borewright.siting.register import Register

__all__ = ["DRY", "HIDDEN", "SEEN", "UNKNOWN", "WET", "Water", "datum_depths", "water_of"]

UNKNOWN, DRY, SEEN, HIDDEN, WET = 0, 1, 2, 3, 4
MOST_HIDDEN = 8


@dataclass(frozen=True, slots=True)
class Water:
    """The grade of each bore's record and its numbers.

    Attributes
    ----------
    grade : ndarray of int8, shape (n,)
        UNKNOWN says nothing; DRY no strike; SEEN strikes with depths; HIDDEN a total yield only; WET some water, no figure.
    strikes : ndarray, shape (n,)
        Strikes seen (SEEN and DRY).
    log_yield, yields : ndarray, shape (n,)
        Mean of the logarithm of seen strike yields [ln(m3/s)] and how many it is of.
    square : ndarray, shape (n,)
        Sum of squares about that mean.
    log_total : ndarray, shape (n,)
        Logarithm of the total yield of HIDDEN bores, else 0.
    capped : ndarray of bool, shape (n,)
        Total is a limit of what could be measured: the true yield is that or more.
    """

    grade: np.ndarray
    strikes: np.ndarray
    log_yield: np.ndarray
    yields: np.ndarray
    square: np.ndarray
    log_total: np.ndarray
    capped: np.ndarray

    def of(self, rows: np.ndarray) -> Water:
        """Return what some of the bores say: rows, or a mask."""
        return Water(*(getattr(self, name)[rows] for name in self.__slots__))


def water_of(register: Register) -> Water:
    """Return what each bore of the register says about water."""
    n = len(register)
    grade = np.full(n, UNKNOWN, np.int8)
    count, mean, number, square = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    flow = register.flow
    grade[(register.wet == 0) & np.isnan(flow)] = DRY
    grade[flow == 0] = DRY
    grade[(register.wet == 1) & np.isnan(flow)] = WET
    grade[flow > 0] = HIDDEN
    if register.strikes is not None:
        s = register.strikes
        count = np.bincount(s.bore, minlength=n).astype(float)
        grade[count > 0] = SEEN
        good = s.flow > 0
        logs = np.log(s.flow[good])
        number = np.bincount(s.bore[good], minlength=n).astype(float)
        mean = np.bincount(s.bore[good], weights=logs, minlength=n) / np.maximum(number, 1.0)
        square = np.bincount(s.bore[good], weights=(logs - mean[s.bore[good]]) ** 2, minlength=n)
    hidden = grade == HIDDEN
    log_total = np.where(hidden, np.log(np.where(hidden, flow, 1.0)), 0.0)
    return Water(grade, count, mean, number, square, log_total, _capped(flow, hidden))


def _capped(flow: np.ndarray, hidden: np.ndarray) -> np.ndarray:
    """Return which totals stand at a ceiling: the largest value, shared by at least 5 and by 4 % of the positive yields."""
    if hidden.sum() < 20:
        return np.zeros(len(flow), bool)
    top = flow[hidden].max()
    at_top = hidden & (flow >= top * 0.999)
    return at_top if at_top.sum() >= max(5, 0.04 * hidden.sum()) else np.zeros(len(flow), bool)


def datum_depths(register: Register) -> dict[str, np.ndarray]:
    """Return the depth of rockhead and of fresh rock in each bore [m]: NaN where the log does not reach or does not say.

    Rockhead is the top of the first rock below the last overburden of the uppermost run; fresh rock is the top of the
    first rock that is neither weathered nor broken.
    """
    n = len(register)
    out = {"rockhead": np.full(n, np.nan), "fresh rock": np.full(n, np.nan)}
    if register.intervals is None:
        return out
    kinds = list(GROUND.values())
    rock = np.array([not k.overburden for k in kinds] + [False])
    fresh = np.array([not k.overburden and k.name not in ("weathered rock", "broken rock", "cavity") for k in kinds] + [False])
    i = register.intervals
    for name, flag in (("rockhead", rock), ("fresh rock", fresh)):
        mine = flag[i.ground]
        # Rows are in order of bore and depth, so the first found is the shallowest.
        bores, first = np.unique(i.bore[mine], return_index=True)
        out[name][bores] = i.top[mine][first]
    return out
