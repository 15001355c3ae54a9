"""Looking at a test before fitting it: derivative, time for recovery, thinning in log time, and what stretches of the curve look like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import OutOfDomain, require_finite, require_positive

__all__ = ["Stretch", "diagnostic_derivative", "equivalent_time", "stretches", "thinned"]


def diagnostic_derivative(time: ArrayLike, drawdown: ArrayLike, *, window: float = 0.2) -> tuple[np.ndarray, np.ndarray]:
    """Return the slope of drawdown on the natural logarithm of time.

    Parameters
    ----------
    time, drawdown : array_like, shape (n,)
        Rising times above zero [s]; drawdown [m].
    window : float
        Least distance in ln(time) to the neighbours used, as a share of a log cycle (0.1 to 0.5); 0 takes the next reading.

    Returns
    -------
    times, slopes : ndarray
        Where both neighbours exist [s], ds/d ln t [m]. A level stretch means radial flow: T = Q/(4 pi slope).

    References
    ----------
    Bourdet, Ayoub & Pirard (1989) SPE Formation Evaluation 4(2):293-302.
    """
    require_positive(time=time)
    require_finite(drawdown=drawdown)
    t, s = np.asarray(time, dtype=float), np.asarray(drawdown, dtype=float)
    if t.shape != s.shape or t.size < 3:
        raise OutOfDomain("drawdown", int(s.size), "is too short or does not pair with the times", "at least three readings")
    keep = np.append(True, np.diff(t) > 0)
    t, s = t[keep], s[keep]
    x = np.log(t)
    reach = window * np.log(10.0)
    left = np.searchsorted(x, x - reach, side="right") - 1
    right = np.searchsorted(x, x + reach, side="left")
    index = np.arange(x.size)
    left, right = np.minimum(left, index - 1), np.maximum(right, index + 1)
    good = (left >= 0) & (right < x.size)
    i, a, b = index[good], left[good], right[good]
    before, after = x[i] - x[a], x[b] - x[i]
    slope = ((s[i] - s[a]) / before * after + (s[b] - s[i]) / after * before) / (before + after)
    return t[i], slope


def equivalent_time(since_stop: ArrayLike, *, pumped_for: float) -> np.ndarray:
    """Return the time at which recovery plots as a drawdown, t_p t'/(t_p + t') [s]. Source: Agarwal (1980) SPE 9289."""
    require_positive(since_stop=since_stop, pumped_for=pumped_for)
    after = np.asarray(since_stop, dtype=float)
    return pumped_for * after / (pumped_for + after)


def thinned(time: ArrayLike, values: ArrayLike, *, a_decade: int = 30) -> tuple[np.ndarray, np.ndarray]:
    """Return readings thinned in log time: in each of `a_decade` bins a decade, the geometric mean time and the median value.

    Times must be above zero; single readings pass unchanged, so sparse hand dips are never lost.
    """
    require_positive(a_decade=a_decade)
    t, v = np.asarray(time, dtype=float), np.asarray(values, dtype=float)
    if t.size == 0:
        return t, v
    # Ends alone are looked at where they suffice: a value that is no number shows in the least and the greatest.
    if not (t.min() > 0 and np.isfinite(t.max())):
        require_positive(time=t)
    if not (np.isfinite(v.min()) and np.isfinite(v.max())):
        require_finite(values=v)
    if np.any(t[1:] < t[:-1]):
        order = np.argsort(t, kind="stable")
        t, v = t[order], v[order]
    # Edges looked up in the sorted times: no array as long as the file is made.
    first, last = np.log10(t[0]), np.log10(t[-1])
    edges = 10.0 ** (first + np.arange(int((last - first) * a_decade) + 2) / a_decade)
    starts = np.unique(np.searchsorted(t, edges[edges <= t[-1]] * (1 - 1e-12)))
    ends = np.append(starts[1:], t.size)
    out_t, out_v = np.empty(starts.size), np.empty(starts.size)
    for row, (a, b) in enumerate(zip(starts, ends, strict=True)):
        if b - a == 1:
            out_t[row], out_v[row] = t[a], v[a]
        else:
            step = max(1, (b - a) // 4001)
            out_t[row] = np.sqrt(t[a] * t[b - 1])
            out_v[row] = np.median(v[a:b:step])
    return out_t, out_v


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the curve with one slope of the log-log derivative: from, to [s], that slope, and what it may mean."""

    start: float
    end: float
    slope: float
    meaning: str


_MEANINGS = (
    (0.85, 1.3, "water from the casing, or a closed box of ground: drawdown grows with time itself"),
    (0.35, 0.65, "flow along a line: a long fracture, a channel or a dyke"),
    (-0.15, 0.15, "radial flow: the stretch that gives the transmissivity"),
    (-3.0, -0.35, "water coming in from outside: leakage, a river, or a table starting to drain"),
)


def stretches(time: ArrayLike, drawdown: ArrayLike, *, window: float = 0.2, least_cycles: float = 0.4) -> tuple[Stretch, ...]:
    """Return stretches of at least `least_cycles` log cycles over which the derivative keeps one slope that means something."""
    at, slope = diagnostic_derivative(time, drawdown, window=window)
    good = slope > 0
    at, slope = at[good], slope[good]
    if at.size < 5:
        return ()
    x, y = np.log10(at), np.log10(slope)
    grid = np.arange(x[0], x[-1], 0.1)
    if grid.size < 3:
        return ()
    smooth = np.interp(grid, x, y)
    half = max(1, int(least_cycles / 0.1 / 2))
    labels, local = [], []
    for k in range(grid.size):
        a, b = max(0, k - half), min(grid.size, k + half + 1)
        local.append(float(np.polyfit(grid[a:b], smooth[a:b], 1)[0]))
        labels.append(next((n for n, (low, high, _) in enumerate(_MEANINGS) if low <= local[-1] <= high), -1))
    found, first = [], 0
    for k in range(1, grid.size + 1):
        if k == grid.size or labels[k] != labels[first]:
            if labels[first] >= 0 and grid[k - 1] - grid[first] >= least_cycles:
                found.append(Stretch(10 ** grid[first], 10 ** grid[k - 1], float(np.mean(local[first:k])), _MEANINGS[labels[first]][2]))
            first = k
    return tuple(found)
