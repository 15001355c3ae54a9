"""Drawdown near a bore pumped from a confined aquifer without end: Theis, its straight-line limit, and steady flow between two bores."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import exp1

from borewright.errors import OutOfDomain, require, require_finite, require_positive

__all__ = [
    "EULER", "JACOB", "StraightLine", "distance_line", "drawdown", "recovery", "recovery_line", "steady_transmissivity", "straight_line_drawdown", "time_line",
    "well_function",
]

EULER = 0.57721566490153286061
# 4 exp(-gamma); books print 2.25.
JACOB = 4.0 * math.exp(-EULER)
STRICT_LIMIT = 0.01
USEFUL_LIMIT = 0.05


def well_function(argument: ArrayLike) -> np.ndarray | float:
    """Return the exponential-integral well function W(u).

    Parameters
    ----------
    argument : array_like
        u = r2 S / (4 T t), above zero [-].

    Returns
    -------
    ndarray or float
        W(u) [-], relative error below 1e-13 for 1e-300 < u < 700; 0 by underflow beyond.

    Raises
    ------
    OutOfDomain
        Any u that is not a number above zero.

    References
    ----------
    Theis (1935) Trans. AGU 16:519-524; tables in Wenzel (1942) USGS WSP 887.
    """
    require_positive(argument=argument)
    value = exp1(np.asarray(argument, dtype=float))
    return float(value) if value.ndim == 0 else value


def drawdown(time: ArrayLike, radius: ArrayLike, *, rate: float, transmissivity: float, storativity: float) -> np.ndarray | float:
    """Return the drawdown at each time and radius, broadcast together (Theis).

    Parameters
    ----------
    time : array_like
        Since the pump started [s]; 0 and less give no drawdown.
    radius : array_like
        From the axis of the pumped bore, above zero [m].
    rate : float
        Steady rate, out of the ground positive [m3/s].
    transmissivity, storativity : float
        Above zero [m2/s], [-].

    Returns
    -------
    ndarray or float
        Drawdown, positive down [m].

    Notes
    -----
    s = Q/(4 pi T) W(r2 S/(4 T t)). Confined, uniform, without end, bore open to the whole aquifer, no water stored in the bore.

    References
    ----------
    Theis (1935) Trans. AGU 16:519-524.

    Examples
    --------
    >>> round(drawdown(86400.0, 50.0, rate=1000 / 86400, transmissivity=500 / 86400, storativity=2e-4), 6)
    1.228212
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity)
    since, distance = np.broadcast_arrays(np.asarray(time, dtype=float), np.asarray(radius, dtype=float))
    running = since > 0
    value = np.zeros(since.shape)
    argument = distance[running] ** 2 * storativity / (4.0 * transmissivity * since[running])
    value[running] = rate / (4.0 * math.pi * transmissivity) * exp1(argument)
    return float(value) if value.ndim == 0 else value


def recovery(time: ArrayLike, radius: ArrayLike, *, stopped_at: float, rate: float, transmissivity: float, storativity: float) -> np.ndarray | float:
    """Return the drawdown while pumping and the residual drawdown after the pump stopped, by superposition [m].

    `time` runs from the start of pumping; the rest as in `drawdown`. Source: Theis (1935), residual drawdown W(u) - W(u').
    """
    require_positive(stopped_at=stopped_at)
    given = {"rate": rate, "transmissivity": transmissivity, "storativity": storativity}
    after = np.asarray(time, dtype=float) - stopped_at
    return drawdown(time, radius, **given) - drawdown(after, radius, **given)


def straight_line_drawdown(time: ArrayLike, radius: ArrayLike, *, rate: float, transmissivity: float, storativity: float) -> np.ndarray | float:
    """Return the late-time straight-line drawdown [m]; within 2 % of Theis for u < 0.05 and 0.25 % for u < 0.01, negative for large u.

    Source: Cooper & Jacob (1946) Trans. AGU 27:526-534.
    """
    require_positive(time=time, radius=radius, transmissivity=transmissivity, storativity=storativity)
    inside = JACOB * transmissivity * np.asarray(time, dtype=float) / (np.asarray(radius, dtype=float) ** 2 * storativity)
    value = rate / (4.0 * math.pi * transmissivity) * np.log(inside)
    return float(value) if np.ndim(value) == 0 else value


@dataclass(frozen=True, slots=True)
class StraightLine:
    """A straight line through drawdown against a logarithm: slope a log cycle [m], where it meets zero, and what follows from it."""

    slope: float
    zero_at: float
    transmissivity: float
    storativity: float | None
    used: int
    rmse: float
    largest_argument: float | None = None


def time_line(time: ArrayLike, observed: ArrayLike, *, radius: float, rate: float) -> StraightLine:
    """Return T and S from drawdown against log time at one radius (Cooper & Jacob 1946).

    Parameters
    ----------
    time, observed : array_like, shape (n,)
        Time since pumping started [s] and drawdown [m]; choose the late straight part yourself.
    radius : float
        [m]; S from the pumped bore itself means little.
    rate : float
        [m3/s].

    Raises
    ------
    OutOfDomain
        Under three readings, times that do not differ, or a line that does not fall with time.
    """
    require_positive(time=time, radius=radius, rate=rate)
    slope, zero, error, used = _line(np.log10(np.asarray(time, dtype=float)), observed)
    transmissivity = math.log(10.0) * rate / (4.0 * math.pi * slope)
    storativity = JACOB * transmissivity * 10.0**zero / radius**2
    first = radius**2 * storativity / (4.0 * transmissivity * float(np.min(time)))
    return StraightLine(slope, 10.0**zero, transmissivity, storativity, used, error, first)


def distance_line(radius: ArrayLike, observed: ArrayLike, *, time: float, rate: float) -> StraightLine:
    """Return T and S from drawdown at one time against log distance (Cooper & Jacob 1946); slope is the fall a log cycle of radius [m]."""
    require_positive(radius=radius, time=time, rate=rate)
    distance = np.asarray(radius, dtype=float)
    slope, zero, error, used = _line(-np.log10(distance), observed, least=2)
    transmissivity = math.log(10.0) * rate / (2.0 * math.pi * slope)
    storativity = JACOB * transmissivity * time / 10.0 ** (-2.0 * zero)
    return StraightLine(slope, 10.0**-zero, transmissivity, storativity, used, error,
                        float(np.max(distance)) ** 2 * storativity / (4.0 * transmissivity * time))


def recovery_line(time_since_start: ArrayLike, time_since_stop: ArrayLike, residual: ArrayLike, *, rate: float) -> StraightLine:
    """Return T from residual drawdown against log10(t / t').

    `zero_at` is t/t' where the line meets no residual: well above 1 hints at recharge, below 1 at a boundary or unfinished recovery.
    Source: Theis (1935); Kruseman & de Ridder (1990) section 15.
    """
    require_positive(time_since_start=time_since_start, time_since_stop=time_since_stop, rate=rate)
    ratio = np.asarray(time_since_start, dtype=float) / np.asarray(time_since_stop, dtype=float)
    slope, zero, error, used = _line(np.log10(ratio), residual)
    return StraightLine(slope, 10.0**zero, math.log(10.0) * rate / (4.0 * math.pi * slope), None, used, error)


def steady_transmissivity(near: tuple[float, float], far: tuple[float, float], *, rate: float) -> float:
    """Return T from the settled drawdowns of two bores, each given as (radius [m], drawdown [m]) [m2/s]. Source: Thiem (1906)."""
    require_positive(rate=rate, near_radius=near[0], far_radius=far[0])
    require(far[0] > near[0], "far", far[0], "is not farther than the near bore", "a radius above the near one")
    require(near[1] > far[1], "near", near[1], "does not draw down more than the far bore", "a drawdown above the far one")
    return rate * math.log(far[0] / near[0]) / (2.0 * math.pi * (near[1] - far[1]))


def _line(logarithm: np.ndarray, observed: ArrayLike, *, least: int = 3) -> tuple[float, float, float, int]:
    values = np.asarray(observed, dtype=float)
    require_finite(observed=values)
    if values.shape != logarithm.shape or values.size < least:
        raise OutOfDomain("observed", int(values.size), "is too few or does not pair with the times", f"at least {least} pairs")
    require(bool(np.ptp(logarithm) > 0), "time", float(logarithm[0]), "does not change", "readings spread along the axis")
    slope, level = np.polyfit(logarithm, values, 1)
    require(bool(slope > 0), "observed", float(slope), "does not grow along the axis, so no line gives a transmissivity", "drawdown that grows")
    error = float(np.sqrt(np.mean((values - level - slope * logarithm) ** 2)))
    return float(slope), float(-level / slope), error, int(values.size)
