"""What pumping does elsewhere: drawdown at the neighbours' bores, and water taken from a stream."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erfc

from borewright.errors import require_non_negative, require_positive
from borewright.hydraulics.confined import drawdown
from borewright.hydraulics.ratehistory import RateHistory, drawdown_under

__all__ = ["Interference", "depletion_factor", "drawdown_from_bores", "neighbour_interference", "stream_depletion", "stream_depletion_volume"]


def drawdown_from_bores(
    time: float, bores: Iterable[tuple[float, float]], *, transmissivity: float, storativity: float,
) -> float:
    """Return the drawdown at one place from several bores, each (distance [m], rate [m3/s]; negative recharges) [m]. Theis, summed."""
    return sum(drawdown(time, distance, rate=rate, transmissivity=transmissivity, storativity=storativity) for distance, rate in bores)


@dataclass(frozen=True, slots=True)
class Interference:
    """Drawdown caused at a neighbour's bore at each time asked for [m], and whether it is within what may be caused."""

    name: str
    distance: float
    drawdown: tuple[float, ...]
    allowed: float | None
    within: bool | None


def neighbour_interference(
    neighbours: Iterable[tuple[str, float]], *, rate: float, transmissivity: float, storativity: float, times: Iterable[float],
    allowed: float | None = None,
) -> tuple[Interference, ...]:
    """Return the drawdown caused at each neighbour, given as (name, distance [m]), at each time [s]; `allowed` [m] where a code sets it."""
    at = np.asarray(list(times), dtype=float)
    require_positive(times=at, rate=rate)
    found = []
    for name, distance in neighbours:
        falls = np.atleast_1d(drawdown(at, distance, rate=rate, transmissivity=transmissivity, storativity=storativity))
        found.append(Interference(name, distance, tuple(map(float, falls)), allowed, None if allowed is None else bool(falls.max() <= allowed)))
    return tuple(found)


def depletion_factor(*, distance: float, transmissivity: float, storativity: float) -> float:
    """Return a2 S/T [s], the stream depletion factor: at that time the stream gives 48 % of the rate, and has given 28 % of the volume pumped.

    Source: Jenkins (1968) USGS TWRI 4-D1.
    """
    require_positive(distance=distance, transmissivity=transmissivity, storativity=storativity)
    return distance**2 * storativity / transmissivity


def _share(time: np.ndarray, factor: float) -> np.ndarray:
    value = np.zeros(time.shape)
    on = time > 0
    value[on] = erfc(np.sqrt(factor / (4.0 * time[on])))
    return value


def stream_depletion(
    time: ArrayLike, *, distance: float, transmissivity: float, storativity: float, rate: float | RateHistory,
) -> np.ndarray | float:
    """Return the flow that a straight stream loses to a bore [m3/s].

    `distance` from bore to stream [m]; a rate history superposes, so the loss that goes on after pumping stops is there.
    The stream cuts the whole aquifer and its bed does not clog: a real stream loses less. Source: Glover & Balmer (1954); Jenkins (1968).
    """
    factor = depletion_factor(distance=distance, transmissivity=transmissivity, storativity=storativity)
    at = np.asarray(time, dtype=float)
    require_non_negative(time=at)
    if isinstance(rate, RateHistory):
        value = drawdown_under(lambda t: _share(t, factor), at, rate)
    else:
        require_positive(rate=rate)
        value = rate * _share(at, factor)
    return float(value) if value.ndim == 0 else value


def stream_depletion_volume(
    time: ArrayLike, *, distance: float, transmissivity: float, storativity: float, rate: float | RateHistory,
) -> np.ndarray | float:
    """Return the volume that the stream has lost until then [m3]; v/(Qt) = (1 + 2 z2) erfc z - 2 z exp(-z2)/sqrt(pi). Jenkins (1968)."""
    factor = depletion_factor(distance=distance, transmissivity=transmissivity, storativity=storativity)
    at = np.asarray(time, dtype=float)
    require_non_negative(time=at)

    def lost(t: np.ndarray) -> np.ndarray:
        value = np.zeros(t.shape)
        on = t > 0
        z = np.sqrt(factor / (4.0 * t[on]))
        value[on] = t[on] * ((1.0 + 2.0 * z**2) * erfc(z) - 2.0 * z * np.exp(-(z**2)) / math.sqrt(math.pi))
        return np.maximum(value, 0.0)

    if isinstance(rate, RateHistory):
        value = drawdown_under(lost, at, rate)
    else:
        require_positive(rate=rate)
        value = rate * lost(at)
    return float(value) if value.ndim == 0 else value


