"""Development: is the bore clearing, when will it be clean, and when may the crew stop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, OutOfDomain, require, require_non_negative, require_positive

__all__ = ["CRITERIA", "Development", "track_development", "volume_to_remove"]

# Largest reading of a clean bore: turbidity [NTU] UFGS 02521 (read); sand [mg/L] US EPA 570/9-75-001 for homes (from memory).
CRITERIA: dict[str, float] = {"turbidity": 5.0, "sand": 5.0}
_UNIT = {"turbidity": "NTU", "sand": "mg/L"}
IN_A_ROW = 3  # readings under the criterion before the work may stop


@dataclass(frozen=True, slots=True)
class Development:
    """How a bore is clearing.

    Attributes
    ----------
    what : str
        "turbidity" or "sand".
    model : str
        "decay" (to nothing), "decay to a floor", "too few readings" or "not clearing".
    half_life : float or None
        Time in which what is above the floor halves [s].
    floor : float
        Reading that the fit levels off at, in the unit of the readings.
    clean_by, clean_low, clean_high : float or None
        Time since the start at which the fit comes under the criterion, and its 95 % interval [s]. No `clean_by`: never on this
        evidence. No `clean_high`: the readings do not rule out that it never will by this method.
    clean : bool
        The last three readings are at or under the criterion.
    """

    what: str
    criterion: float
    model: str
    half_life: float | None
    floor: float
    clean_by: float | None
    clean_low: float | None
    clean_high: float | None
    clean: bool
    fitted: np.ndarray
    advisories: tuple[Advisory, ...]


def volume_to_remove(standing_water: float, *, water_added: float = 0.0) -> float:
    """Return the least volume to take out [m3]: three times the standing water and three times what was added or lost (UFGS 02521)."""
    require_positive(standing_water=standing_water)
    require_non_negative(water_added=water_added)
    return 3 * (standing_water + water_added)


def track_development(
    elapsed: ArrayLike, readings: ArrayLike, *, what: Literal["turbidity", "sand"] = "turbidity", criterion: float | None = None, resolution: float | None = None,
    confidence: float = 0.95,
) -> Development:
    """Return how the readings fall, when they should be clean, with a band, and whether the criterion is met now.

    Parameters
    ----------
    elapsed : array_like, shape (n,)
        Time of work since development began, ascending [s]. Leave out rests; surging stirs the bore up again.
    readings : array_like, shape (n,)
        Turbidity [NTU] or sand [mg/L].
    criterion : float, optional
        Largest reading of a clean bore; `CRITERIA` where not given.
    resolution : float, optional
        Least that the method can tell; smaller readings stand as half of it. A fiftieth of the criterion where not given.
    confidence : float
        Of the interval, a fraction.

    Notes
    -----
    ln y = ln(floor + a exp(-k t)) + scatter, by least squares. With no floor the interval of the time of being clean is exact (Fieller);
    with one it is by profile of the sum of squares against F. A floor is taken only where AICc is better by 2, and the band then holds plain
    decay's as well until AICc is better by 6.

    References
    ----------
    .. [1] Fieller, E.C. (1954) J. Royal Statistical Society B 16:175-185.
    .. [2] Bates, D.M. and Watts, D.G. (1988) Nonlinear regression analysis and its applications, ch. 6 (profile).
    """
    if what not in CRITERIA:
        raise OutOfDomain("what", what, "is not tracked", "turbidity or sand")
    limit = CRITERIA[what] if criterion is None else criterion
    require_positive(criterion=limit)
    least = limit / 50 if resolution is None else resolution
    require_positive(resolution=least)
    require(0 < confidence < 1, "confidence", confidence, "is not a fraction", "between 0 and 1")
    require(least < limit, "resolution", least, "is too coarse to see the criterion", f"below {limit:g}")
    require_non_negative(elapsed=elapsed, readings=readings)
    time, value = np.atleast_1d(np.asarray(elapsed, float)), np.atleast_1d(np.asarray(readings, float))
    require(time.shape == value.shape and time.ndim == 1 and time.size > 0, "readings", value.size, f"do not pair with {time.size} times", "one reading for each time")
    require(bool(np.all(np.diff(time) > 0)), "elapsed", float(time[0]), "does not ascend", "times from first to last, each once")
    advisories: list[Advisory] = []
    if np.any(value < least):
        advisories.append(Advisory("below-resolution", "note", f"{int(np.sum(value < least))} readings below {least:g} {_UNIT[what]} stand as half of that.", what))
    log = np.log(np.where(value < least, least / 2, value))
    clean = bool(value.size >= IN_A_ROW and np.all(value[-IN_A_ROW:] <= limit))
    if time.size < 4:
        advisories.append(Advisory("too-few-readings", "doubt", f"{time.size} readings do not show how it clears: take at least four, spread over the work.", what))
        return Development(what, limit, "too few readings", None, 0.0, None, None, None, clean, np.full(time.shape, np.nan), tuple(advisories))
    slope, start, residual = _line(time, log)
    if slope >= 0 or not _falls(time, log, slope, residual):
        advisories.append(Advisory("not-clearing", "doubt", "The readings do not fall beyond their scatter: go on, change the method (surge, jet, airlift in stages), or look for "
                                   "a slot or seal that lets the ground in.", what))
        return Development(what, limit, "not clearing", None, 0.0, None, None, None, clean, np.exp(start + slope * time), tuple(advisories))
    result = _floored(time, log, math.log(limit), slope, start, residual, confidence)
    if result is None:
        best, low, high = (start - math.log(limit)) / -slope, *_fieller(time, log, math.log(limit), confidence)
        half, floor, name, fitted = math.log(2) / -slope, 0.0, "decay", np.exp(start + slope * time)
    else:
        best, low, high, half, floor, fitted = result
        name = "decay to a floor"
    best = None if best is None else max(0.0, best)
    low = None if low is None else max(0.0, low)
    if best is None:
        advisories.append(Advisory("floor-above-criterion", "doubt", f"The readings level off near {floor:.3g} {_UNIT[what]}, above the {limit:g} wanted: more of the same will not "
                                   "clean it. Change the method, pump slower, or look for a slot that lets sand in.", what))
    elif high is None:
        advisories.append(Advisory("may-not-clear", "doubt", "The readings do not rule out that it levels off above what is wanted.", what))
    elif best > 3 * time[-1]:
        advisories.append(Advisory("far-ahead", "doubt", "The time of being clean is told from far ahead of the readings: measure again and ask again.", what))
    if clean:
        advisories.append(Advisory("clean-now", "note", f"The last {IN_A_ROW} readings are at or under {limit:g} {_UNIT[what]}: development may stop if surging no longer brings more, "
                                   "and the volume to be removed has been.", what))
    return Development(what, limit, name, half, floor, best, low, high, clean, fitted, tuple(advisories))


def _line(time: np.ndarray, log: np.ndarray) -> tuple[float, float, float]:
    """Return slope, intercept and sum of squares of the straight line."""
    slope, start = np.polyfit(time, log, 1)
    return float(slope), float(start), float(np.sum((log - start - slope * time) ** 2))


def _falls(time: np.ndarray, log: np.ndarray, slope: float, residual: float) -> bool:
    """Is the fall beyond scatter at one-sided 5 %?"""
    from scipy.stats import t as student

    error = math.sqrt(residual / (time.size - 2) / float(np.sum((time - time.mean()) ** 2)))
    return error == 0 or slope / error < -student.ppf(0.95, time.size - 2)


def _fieller(time: np.ndarray, log: np.ndarray, target: float, confidence: float) -> tuple[float | None, float | None]:
    """Return the exact interval of the time at which a fitted line crosses a level; None for an end that is not bounded."""
    from scipy.stats import t as student

    slope, _, residual = _line(time, log)
    n, spread = time.size, float(np.sum((time - time.mean()) ** 2))
    variance = residual / (n - 2)
    quantile = float(student.ppf(0.5 + confidence / 2, n - 2))
    # (target - mean - slope d)^2 <= q^2 s^2 (1/n + d^2 / spread), d = t - mean time
    rise = target - log.mean()
    a = slope**2 - quantile**2 * variance / spread
    b, c = -2 * rise * slope, rise**2 - quantile**2 * variance / n
    root = b * b - 4 * a * c
    if a <= 0:  # the slope is not told from zero at this confidence: one end, or both, is open
        ends = sorted(((-b - math.sqrt(root)) / (2 * a), (-b + math.sqrt(root)) / (2 * a))) if root > 0 and a < 0 else None
        return (0.0 if ends is None else float(time.mean() + ends[1]), None)
    ends = ((-b - math.sqrt(max(root, 0.0))) / (2 * a), (-b + math.sqrt(max(root, 0.0))) / (2 * a))
    return float(time.mean() + ends[0]), float(time.mean() + ends[1])


def _floored(
    time: np.ndarray, log: np.ndarray, target: float, slope: float, start: float, residual: float, confidence: float,
) -> tuple[float | None, float | None, float | None, float, float, np.ndarray] | None:
    """Return (clean by, low, high, half-life, floor, fitted) of a decay to a floor, or None where plain decay serves as well."""
    from scipy.optimize import least_squares
    from scipy.stats import f as fisher

    n = time.size
    if n < 6:
        return None
    span = float(time[-1] - time[0])

    def model(p: np.ndarray) -> np.ndarray:
        return np.logaddexp(p[2], p[1] - np.exp(p[0]) * time)

    def fit(first: np.ndarray) -> tuple[np.ndarray, float]:
        found = least_squares(lambda p: model(p) - log, first, bounds=([math.log(0.05 / span), -30, -30], [math.log(200 / span), 40, 40]), x_scale=1.0)
        return found.x, 2 * float(found.cost)

    level = float(np.median(log[-max(2, n // 4):]))
    best, squares = min((fit(np.array([math.log(-slope * f), max(start, level + 0.5) + s, level - 0.1])) for f in (1.0, 3.0) for s in (0.0, 1.0)), key=lambda r: r[1])

    def score(sum_squares: float, parameters: int) -> float:
        k = parameters + 1
        return n * math.log(max(sum_squares, 1e-12) / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)

    better = score(residual, 2) - score(squares, 3)
    if better < 2:
        return None
    rate, floor = math.exp(best[0]), math.exp(best[2])
    allowed = squares * (1 + float(fisher.ppf(confidence, 1, n - 3)) / (n - 3)) + 1e-12

    def crossing(p: np.ndarray) -> float | None:
        gap = math.exp(target) - math.exp(p[2])
        return None if gap <= 0 else float((p[1] - math.log(gap)) / math.exp(p[0]))

    ends: list[float] = []
    open_above = False
    # Walk the floor across what the readings allow; at each floor the decay is a fit of two numbers, started from the one beside it.
    first = best[:2]
    for fixed in _floors(best[2], log):
        found = _decay_above(fixed, time, log, first)
        first = found.x
        if 2 * found.cost > allowed:
            continue
        at = crossing(np.array([*found.x, fixed]))
        if at is None:
            open_above = True
        else:
            ends += [at, *_ends_at_floor(found, fixed, time, log, target, allowed)]
    centre = crossing(best)
    if better < 6:  # plain decay is nearly as good: its interval stays in the band
        low, high = _fieller(time, log, target, confidence)
        ends += [end for end in (low, high) if end is not None]
        open_above = open_above or high is None
    if centre is None:
        return None, None if not ends else min(ends), None, math.log(2) / rate, floor, np.exp(model(best))
    return centre, min([centre, *ends]), None if open_above else max([centre, *ends]), math.log(2) / rate, floor, np.exp(model(best))


def _decay_above(floor: float, time: np.ndarray, log: np.ndarray, first: np.ndarray):
    """Return the fit of (ln rate, ln height) with the ln of the floor held."""
    from scipy.optimize import least_squares

    fastest = math.log(200 / (time[-1] - time[0]))

    def above(p: np.ndarray) -> np.ndarray:
        return p[1] - np.exp(min(p[0], fastest)) * time

    def slopes(p: np.ndarray) -> np.ndarray:
        share = np.exp(above(p) - np.logaddexp(floor, above(p)))
        return np.column_stack([-share * np.exp(min(p[0], fastest)) * time, share])

    return least_squares(lambda p: np.logaddexp(floor, above(p)) - log, first, jac=slopes, method="lm")


def _floors(best: float, log: np.ndarray) -> np.ndarray:
    low, high = min(best, float(log.min()) - 4.0), float(log.min()) + 2.5
    return np.unique(np.concatenate([np.linspace(low, high, 13), best + np.linspace(-0.4, 0.4, 17)]))


def _ends_at_floor(found, fixed: float, time: np.ndarray, log: np.ndarray, target: float, allowed: float) -> list[float]:
    """Return the extreme crossings with the floor held, along the ellipse where the sum of squares is what is allowed."""
    gap = math.exp(target) - math.exp(fixed)
    room = allowed - 2 * found.cost
    information = found.jac.T @ found.jac
    rate, height = math.exp(found.x[0]), found.x[1]
    crossing = float((height - math.log(gap)) / rate)
    gradient = np.array([-crossing, 1.0 / rate])  # of the crossing by ln rate and by ln height
    try:
        reach = math.sqrt(max(room, 0.0) * float(gradient @ np.linalg.solve(information, gradient)))
    except np.linalg.LinAlgError:
        return []
    return [crossing - reach, crossing + reach]
