"""Slug and bail tests: hydraulic conductivity from how fast a sudden change of level dies away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import kve, stdtrit

from borewright.errors import Advisory, BadInput, require, require_finite, require_positive
from borewright.hydraulics.engine import bounded_least_squares, profile_interval
from borewright.hydraulics.fitted import Estimate
from borewright.hydraulics.laplace import invert

__all__ = [
    "SLUG_METHODS", "SlugFit", "bouwer_rice_shape", "fit_slug", "hvorslev_conductivity", "slug_as_dict", "slug_function",
]

SLUG_METHODS = ("hvorslev", "bouwer-rice", "cooper", "underdamped")
GRAVITY = 9.80665
# Van Rooy (1988) in Butler (1998), ch. 6, from memory; reproduce the read-offs of Bouwer & Rice (1976) within reading error.
_A = (1.4720, 3.537e-2, -8.148e-5, 1.028e-7, -6.484e-11, 1.573e-14)
_B = (0.2372, 5.151e-3, -2.682e-6, -3.491e-10, 4.738e-13)
_C = (0.7290, 3.993e-2, -5.743e-5, 3.858e-8, -9.659e-12)


@dataclass(frozen=True, slots=True)
class SlugFit:
    """A slug test fitted: conductivity [m/s] or transmissivity [m2/s], storativity where the method gives it, how well, what to doubt."""

    method: str
    conductivity: Estimate | None
    transmissivity: Estimate | None
    storativity: Estimate | None
    time_lag: float | None
    rmse: float
    count: int
    source: str
    advisories: tuple[Advisory, ...]


def hvorslev_conductivity(*, casing_radius: float, screen_radius: float, screen_length: float, time_lag: float) -> float:
    """Return K from the basic time lag, when 37 % of the change is left [m/s].

    K = r2 ln(L/R) / (2 L T0), for L/R above 8. Source: Hvorslev (1951) WES Bull. 36; Freeze & Cherry (1979) ch. 8.
    """
    require_positive(casing_radius=casing_radius, screen_radius=screen_radius, screen_length=screen_length, time_lag=time_lag)
    require(screen_length > screen_radius, "screen_length", screen_length, "is not longer than the radius of the screen", "a long thin screen")
    return casing_radius**2 * math.log(screen_length / screen_radius) / (2.0 * screen_length * time_lag)


def bouwer_rice_shape(*, screen_length: float, screen_radius: float, bottom_below_water: float, thickness: float) -> float:
    """Return ln(R_e / r_w) of Bouwer & Rice (1976) [-].

    `bottom_below_water`: the foot of the screen below the water level; `thickness`: saturated thickness of the aquifer [m]. Curves A, B, C by
    the polynomials of Van Rooy (1988), for L/r_w from about 4 to 1000.
    """
    require_positive(screen_length=screen_length, screen_radius=screen_radius, bottom_below_water=bottom_below_water, thickness=thickness)
    require(thickness >= bottom_below_water * (1 - 1e-9), "thickness", thickness, "is less than the depth of the screen below water", "at least that depth")
    require(bottom_below_water > screen_radius, "bottom_below_water", bottom_below_water, "is not below the water by more than the radius", "a deeper screen")
    ratio = screen_length / screen_radius
    first = 1.1 / math.log(bottom_below_water / screen_radius)
    gap = thickness - bottom_below_water
    if gap <= 1e-9 * thickness:
        return 1.0 / (first + _polynomial(_C, ratio) / ratio)
    capped = min(math.log(max(gap / screen_radius, 1e-300)), 6.0)
    return 1.0 / (first + (_polynomial(_A, ratio) + _polynomial(_B, ratio) * capped) / ratio)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    return float(np.polynomial.polynomial.polyval(x, coefficients))


def slug_function(time: ArrayLike, storage: float) -> np.ndarray | float:
    """Return H/H0 of Cooper, Bredehoeft & Papadopulos (1967): `time` beta = T t/r_c2, `storage` alpha = r_s2 S/r_c2 [-].

    Relative error below 1e-7 where the value is above 1e-6, by inversion of the Laplace transform.
    """
    require_positive(time=time, storage=storage)
    beta = np.asarray(time, dtype=float)

    def transform(p: np.ndarray) -> np.ndarray:
        q = np.sqrt(storage * p)
        return kve(0, q) / (p * kve(0, q) + 2.0 * q * kve(1, q))

    value = invert(transform, beta.ravel()).reshape(beta.shape)
    return float(value) if value.ndim == 0 else value


def fit_slug(
    time: ArrayLike, displacement: ArrayLike, *, method: str, casing_radius: float, screen_radius: float, screen_length: float,
    bottom_below_water: float | None = None, thickness: float | None = None, initial: float | None = None, drainable: float | None = None,
    confidence: float = 0.9,
) -> SlugFit:
    """Return hydraulic conductivity or transmissivity from a slug or bail test.

    Parameters
    ----------
    time, displacement : array_like, shape (n,)
        Since the slug [s]; level from rest, either sign [m].
    method : {"hvorslev", "bouwer-rice", "cooper", "underdamped"}
    casing_radius, screen_radius, screen_length : float
        Where the level moves, of the hole or screen, and its length [m].
    bottom_below_water, thickness : float
        Needed by Bouwer & Rice.
    initial : float, optional
        Displacement at the start [m]; the first reading if not said. Hvorslev and Bouwer & Rice find their own.
    drainable : float, optional
        Drainable share of a pack that the level falls through: the casing radius becomes sqrt(r_c2 + n (r_w2 - r_c2)).
    confidence : float

    Notes
    -----
    Hvorslev and Bouwer & Rice: least squares of ln|y| on time while the change is above 15 % and below 85 % where at least four readings
    fall there, as its late part bends. Underdamped: w'' + C_D w' + w = 0 in t_d = t sqrt(g/L_e) (Butler 1998, from memory).
    """
    require_positive(casing_radius=casing_radius, screen_radius=screen_radius, screen_length=screen_length)
    if method not in SLUG_METHODS:
        raise BadInput("method", method, "is not a way to read a slug test", ", ".join(SLUG_METHODS))
    t, y = np.asarray(time, dtype=float), np.asarray(displacement, dtype=float)
    require_finite(time=t, displacement=y)
    if t.shape != y.shape or t.size < 4:
        raise BadInput("data", int(t.size), "holds too few readings or unpaired ones", "at least four times with a displacement each")
    if np.any(np.diff(t) < 0):
        order = np.argsort(t, kind="stable")
        t, y = t[order], y[order]
    if t[0] < 0:
        raise BadInput("time", float(t[0]), "is before the slug", "times from zero up")
    advisories: list[Advisory] = []
    radius = casing_radius
    if drainable is not None:
        require(0 <= drainable < 0.6, "drainable", drainable, "is not a drainable share", "0 to 0.5")
        radius = math.sqrt(casing_radius**2 + drainable * (screen_radius**2 - casing_radius**2))
    y = y * (1.0 if y[np.argmax(np.abs(y))] > 0 else -1.0)
    start = float(initial) if initial is not None else float(y[0])
    if not math.isfinite(start) or start <= 0:
        raise BadInput("initial", start, "is not a change of level", "metres above zero")
    if method in ("hvorslev", "bouwer-rice"):
        return _straight(t, y, start, method, radius, screen_radius, screen_length, bottom_below_water, thickness, confidence, advisories)
    if method == "cooper":
        return _cooper(t, y / start, radius, screen_radius, screen_length, confidence, advisories)
    return _underdamped(t, y, radius, screen_radius, screen_length, bottom_below_water, thickness, confidence, advisories)


def _straight(t, y, start, method, radius, screen_radius, length, bottom, thickness, confidence, advisories) -> SlugFit:
    ratio = length / screen_radius
    if method == "hvorslev":
        require(ratio > 1.0, "screen_length", length, "is not longer than the radius of the screen", "a long thin screen")
        if ratio <= 8:
            advisories.append(Advisory("stubby-screen", "doubt", f"L/R is {ratio:.1f}; the formula is for more than 8.", "screen_length"))
        shape, source = math.log(ratio), "Hvorslev (1951) US Army WES Bull. 36"
    else:
        if bottom is None or thickness is None:
            raise BadInput("bottom_below_water" if bottom is None else "thickness", None, "is needed by Bouwer & Rice",
                           "the foot of the screen below water, and the saturated thickness [m]")
        shape = bouwer_rice_shape(screen_length=length, screen_radius=screen_radius, bottom_below_water=bottom, thickness=thickness)
        if not 4 <= ratio <= 1000:
            advisories.append(Advisory("outside-curves", "doubt", f"L/r_w is {ratio:.0f}; the curves run from about 4 to 1000.", "screen_length"))
        source = "Bouwer & Rice (1976) Water Resources Research 12:423-428"
    above = y > 0
    middle = above & (y <= 0.85 * start) & (y >= 0.15 * start)
    use = middle if middle.sum() >= 4 else above
    if use.sum() < 3:
        raise BadInput("displacement", int(use.sum()), "is above zero in too few readings", "at least three")
    slope, level = np.polyfit(t[use], np.log(y[use]), 1)
    if slope >= 0:
        raise BadInput("displacement", float(slope), "does not die away", "a change of level that fades")
    off = np.log(y[use]) - level - slope * t[use]
    spare = max(int(use.sum()) - 2, 1)
    spread = t[use] - t[use].mean()
    half = float(stdtrit(spare, 0.5 + confidence / 2)) * math.sqrt(float(off @ off) / spare / float(spread @ spread))
    factor = radius**2 * shape / (2.0 * length)
    fitted = np.exp(level + slope * t[use])
    _oscillates(y, advisories)
    return SlugFit(method, Estimate(-slope * factor, max(-slope - half, 0.0) * factor, (-slope + half) * factor), None, None, -1.0 / slope,
                   float(np.sqrt(np.mean((y[use] - fitted) ** 2))), int(use.sum()), source, tuple(advisories))


def _oscillates(y: np.ndarray, advisories: list[Advisory]) -> None:
    if y.min() < -0.05 * y.max():
        advisories.append(Advisory("swings", "doubt", "The level swings past rest: read this test with the underdamped method.", "displacement"))


def _fit(residuals, starts, low, high, count, confidence):
    best = None
    for start in starts:
        found = bounded_least_squares(residuals, np.array(start), low, high)
        if np.isfinite(found[1]) and (best is None or found[1] < best[1]):
            best = found
    if best is None:
        raise BadInput("data", count, "cannot be fitted", "readings of a change of level that dies away")
    point, least, jacobian = best
    spare = max(count - point.size, 1)
    variance = max(least, 1e-20) / spare
    covariance = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-14) * variance
    rise = variance * float(stdtrit(spare, 0.5 + confidence / 2)) ** 2
    sides = []
    for j in range(point.size):
        bend = covariance[:, j] / max(covariance[j, j], 1e-300)
        bend[j] = 1.0
        sides.append(profile_interval(residuals, point, least, rise, j, low, high, deviation=math.sqrt(max(covariance[j, j], 1e-24)),
                                      bend=np.clip(bend, -50, 50)))
    return point, least, sides


def _cooper(t, share, radius, screen_radius, length, confidence, advisories) -> SlugFit:
    use = t > 0
    t, share = t[use], share[use]
    if t.size < 4:
        raise BadInput("data", int(t.size), "holds too few readings after the slug", "at least four")

    def residuals(points: np.ndarray) -> np.ndarray:
        rows = []
        for log_t, log_alpha in points:
            alpha = math.exp(log_alpha)

            def transform(p: np.ndarray, alpha: float = alpha) -> np.ndarray:
                q = np.sqrt(alpha * p)
                return kve(0, q) / (p * kve(0, q) + 2.0 * q * kve(1, q))

            rows.append(share - invert(transform, math.exp(log_t) * t / radius**2))
        return np.array(rows)

    low, high = np.log([1e-12, 1e-12]), np.log([1e2, 10.0])
    half = float(np.interp(0.5, share[::-1], t[::-1])) if share.min() < 0.5 < share.max() else float(np.median(t))
    starts = [(math.log(c * radius**2 / half), math.log(a)) for a, c in ((1e-1, 0.45), (1e-3, 1.2), (1e-6, 2.6))]
    point, least, sides = _fit(residuals, starts, low, high, t.size, confidence)
    conductivity = Estimate(*(math.exp(v) / length for v in (point[0], *sides[0])))
    storativity = [math.exp(v) * radius**2 / screen_radius**2 for v in (point[1], *sides[1])]
    if storativity[2] / max(storativity[1], 1e-300) > 10:
        advisories.append(Advisory("storage-loose", "note", "A slug test gives storativity to an order of magnitude at best.", "storativity"))
    if sides[1][0] <= low[1] + 1e-9 or point[1] <= low[1] + 1e-6:
        advisories.append(Advisory("not-fixed", "doubt", "Storativity is not fixed by this test; transmissivity leans on it.", "storativity"))
    return SlugFit("cooper", conductivity, Estimate(*(math.exp(v) for v in (point[0], *sides[0]))), Estimate(*storativity), None,
                   math.sqrt(least / t.size), int(t.size), "Cooper, Bredehoeft & Papadopulos (1967) Water Resources Research 3:263-269", tuple(advisories))


def _underdamped(t, y, radius, screen_radius, length, bottom, thickness, confidence, advisories) -> SlugFit:
    def shape_of(time: np.ndarray, damping: float, pace: float) -> np.ndarray:
        td = time * pace
        if damping < 2.0 - 1e-9:
            turn = math.sqrt(1.0 - damping**2 / 4.0)
            return np.exp(-damping / 2.0 * td) * (np.cos(turn * td) + damping / (2.0 * turn) * np.sin(turn * td))
        if damping > 2.0 + 1e-9:
            root = math.sqrt(damping**2 / 4.0 - 1.0)
            fast, slow = -damping / 2.0 - root, -damping / 2.0 + root
            return (fast * np.exp(slow * td) - slow * np.exp(fast * td)) / (fast - slow)
        return np.exp(-td) * (1.0 + td)

    def residuals(points: np.ndarray) -> np.ndarray:
        return np.array([y - h * shape_of(t, math.exp(c), math.exp(p)) for h, c, p in points])

    top = float(np.max(np.abs(y)))
    low, high = np.array([0.0, math.log(1e-4), math.log(1e-3)]), np.array([3.0 * top, math.log(50.0), math.log(1e3)])
    # The sum of squares has a valley for every swing: try paces from a quarter swing in the whole record to one between two readings.
    gaps = np.diff(t)[np.diff(t) > 0]
    trials = []
    for pace in np.geomspace(0.3 / max(float(t[-1]), 1e-6), 3.0 / float(np.median(gaps)), 60):
        for damping in (0.05, 0.2, 0.6, 1.2, 2.5, 6.0):
            form = shape_of(t, damping, pace)
            height = float(form @ y) / max(float(form @ form), 1e-300)
            off = y - height * form
            if height > 0:
                trials.append((float(off @ off), (height, math.log(damping), math.log(pace))))
    if not trials:
        raise BadInput("displacement", top, "cannot be fitted by a swing that dies away", "a change of level from the moment of the slug")
    starts = [start for _, start in sorted(trials)[:6]]
    point, least, sides = _fit(residuals, starts, low, high, t.size, confidence)
    damping, pace = math.exp(point[1]), math.exp(point[2])
    if bottom is not None and thickness is not None:
        shape = bouwer_rice_shape(screen_length=length, screen_radius=screen_radius, bottom_below_water=bottom, thickness=thickness)
    else:
        half = length / (2.0 * screen_radius)
        shape = math.log(half + math.sqrt(1.0 + half**2))
    factor = radius**2 * shape / (2.0 * length)
    value = pace * factor / damping
    # The damping carries nearly all the doubt; the pace is fixed by the swings.
    estimate = Estimate(value, pace * factor / math.exp(sides[1][1]), pace * factor / math.exp(sides[1][0]))
    if damping >= 2.0:
        advisories.append(Advisory("no-swing", "note", "The level does not swing past rest; the ordinary methods read this test as well.", "displacement"))
    return SlugFit("underdamped", estimate, None, None, None, math.sqrt(least / t.size), int(t.size),
                   "Butler (1998) The Design, Performance, and Analysis of Slug Tests, high-K forms (from memory)", tuple(advisories))


def slug_as_dict(fit: SlugFit) -> dict[str, Any]:
    """Return the fit as plain JSON types."""
    def pair(e: Estimate | None, factor: float = 1.0) -> dict[str, float] | None:
        return None if e is None else {"value": e.value * factor, "low": e.low * factor, "high": e.high * factor}

    return {
        "method": fit.method,
        "hydraulic_conductivity_m_per_s": pair(fit.conductivity),
        "hydraulic_conductivity_m_per_d": pair(fit.conductivity, 86400.0),
        "transmissivity_m2_per_d": pair(fit.transmissivity, 86400.0),
        "storativity": pair(fit.storativity),
        "time_lag_s": fit.time_lag,
        "rmse": fit.rmse,
        "readings": fit.count,
        "source": [fit.source],
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in fit.advisories],
    }
