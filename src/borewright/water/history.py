"""What the years say: an honest test for a trend in levels, conductivity, flow or energy, a step, and when a level meets the intake."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, OutOfDomain, require, require_finite, require_positive

__all__ = ["Step", "Trend", "meets", "step_change", "trend"]

YEAR = 365.25 * 86400


@dataclass(frozen=True, slots=True)
class Trend:
    """A trend by rank.

    Attributes
    ----------
    tau, p_value : float
        Kendall's tau with time and its two-sided p-value [-].
    slope, slope_low, slope_high : float
        Median slope and its 95 % interval [unit of the values per second].
    level : float
        Of the line at time zero.
    words : str
    """

    count: int
    tau: float
    p_value: float
    slope: float
    slope_low: float
    slope_high: float
    level: float
    words: str
    advisories: tuple[Advisory, ...]


def _series(time: ArrayLike, values: ArrayLike, least: int) -> tuple[np.ndarray, np.ndarray]:
    when, what = np.atleast_1d(np.asarray(time, float)), np.atleast_1d(np.asarray(values, float))
    require_finite(time=when, values=what)
    if when.shape != what.shape or when.ndim != 1:
        raise OutOfDomain("values", what.size, f"do not pair with {when.size} times", "one value for each time")
    require(when.size >= least, "values", when.size, "are too few to tell a trend from chance", f"at least {least}")
    require(bool(np.all(np.diff(when) > 0)), "time", float(when[0]), "does not ascend", "times from first to last, each once")
    return when, what


def trend(time: ArrayLike, values: ArrayLike, *, level_of_doubt: float = 0.05) -> Trend:
    """Return whether values rise or fall with time beyond chance, and how fast.

    Parameters
    ----------
    time : array_like, shape (n,), n >= 5
        Ascending [s].
    values : array_like, shape (n,)
        Any one unit.

    Notes
    -----
    Mann-Kendall by `scipy.stats.kendalltau`, slope by `scipy.stats.theilslopes`. Readings that follow one another closely are not
    independent and make the test too sure: thin them to one a season.

    References
    ----------
    .. [1] Mann (1945) Econometrica 13:245; Sen (1968) J. American Statistical Association 63:1379.
    """
    from scipy.stats import kendalltau, theilslopes

    when, what = _series(time, values, 5)
    require(0 < level_of_doubt < 0.5, "level_of_doubt", level_of_doubt, "is not a level", "between 0 and 0.5, usually 0.05")
    if np.ptp(what) == 0:
        return Trend(when.size, 0.0, 1.0, 0.0, 0.0, 0.0, float(what[0]), "No trend: every value is the same.", ())
    test = kendalltau(when, what)
    slope, level, low, high = (float(v) for v in theilslopes(what, when, 0.95))
    tau, p_value = float(test.statistic), float(test.pvalue)
    advisories = []
    residual = what - level - slope * when
    if when.size >= 10:
        lagged = float(np.corrcoef(residual[:-1], residual[1:])[0, 1])
        if lagged > 2 / math.sqrt(when.size):
            advisories.append(Advisory("readings-follow-each-other", "doubt", f"Neighbouring readings are alike beyond the trend (correlation {lagged:.2f}): the test is too sure of itself. "
                                       "Take one reading a season.", "values"))
    if when.size < 8:
        advisories.append(Advisory("few-readings", "note", f"{when.size} readings: only a strong trend would show.", "values"))
    yearly = slope * YEAR
    if p_value <= level_of_doubt:
        words = f"{'Rising' if slope > 0 else 'Falling'} by about {abs(yearly):.3g} a year ({low * YEAR:.3g} to {high * YEAR:.3g}); by chance alone less than {p_value:.2g}."
    else:
        words = f"No trend that chance would not give ({p_value:.2f}); the slope lies between {low * YEAR:.3g} and {high * YEAR:.3g} a year."
    return Trend(when.size, tau, p_value, slope, low, high, level, words, tuple(advisories))


@dataclass(frozen=True, slots=True)
class Step:
    """The likeliest step: after which reading, its p-value, and the medians before and after."""

    after: int
    p_value: float
    before: float
    since: float


def step_change(values: ArrayLike) -> Step:
    """Return the likeliest single step in a series of at least eight values.

    References
    ----------
    .. [1] Pettitt, A.N. (1979) Applied Statistics 28:126-135; p = 2 exp(-6 K^2 / (n^3 + n^2)), from memory.
    """
    what = np.atleast_1d(np.asarray(values, float))
    require_finite(values=what)
    require(what.ndim == 1 and what.size >= 8, "values", what.size, "are too few to tell a step", "at least 8")
    n = what.size
    signs = np.sign(what[:, None] - what[None, :])
    heights = np.array([signs[:k, k:].sum() for k in range(1, n)])
    at = int(np.argmax(np.abs(heights)))
    p = min(1.0, 2 * math.exp(-6 * float(heights[at]) ** 2 / (n**3 + n**2)))
    return Step(at, p, float(np.median(what[: at + 1])), float(np.median(what[at + 1 :])))


def meets(found: Trend, limit: float, *, now: float) -> tuple[float | None, float | None]:
    """Return (when the line reaches a limit, the earliest by the steep end of its interval), seconds after `now`; None for never.

    Parameters
    ----------
    found : Trend
        Such as of the depth to water while pumping [m].
    limit : float
        Such as the depth of the intake less its guard, in the same unit.
    now : float
        In the same clock as the trend [s].
    """
    require_finite(limit=limit, now=now)
    require_positive(count=found.count)
    at_now = found.level + found.slope * now
    if at_now >= limit:
        return 0.0, 0.0

    def until(slope: float) -> float | None:
        return (limit - at_now) / slope if slope > 0 else None

    return until(found.slope), until(found.slope_high)
