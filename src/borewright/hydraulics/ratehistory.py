"""Pumping that changes at will: a rate history, and any unit response summed over it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import BadInput, require_finite

__all__ = ["RateHistory", "drawdown_under", "pulse_train", "rate_steps", "steady_rate", "with_images"]


@dataclass(frozen=True, slots=True)
class RateHistory:
    """A pumping rate that holds from each start until the next.

    `starts` [s] since time zero, rising; `rates` [m3/s], out of the ground positive, 0 for a stop, negative for injection.
    """

    starts: tuple[float, ...]
    rates: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.starts or len(self.starts) != len(self.rates):
            raise BadInput("rate", len(self.rates), "does not pair one rate with each start", "as many rates as starts, at least one")
        require_finite(starts=self.starts, rates=self.rates)
        if np.any(np.diff(self.starts) <= 0):
            raise BadInput("rate", list(self.starts), "has starts that do not rise", "each start later than the one before")
        if not any(self.rates):
            raise BadInput("rate", 0.0, "is zero throughout", "a rate above zero")

    @property
    def changes(self) -> tuple[np.ndarray, np.ndarray]:
        """When the rate changes [s] and by how much [m3/s]; a start that changes nothing is left out."""
        starts, steps = np.asarray(self.starts), np.diff(np.asarray(self.rates), prepend=0.0)
        return starts[steps != 0], steps[steps != 0]

    @property
    def largest(self) -> float:
        """The largest rate [m3/s]."""
        return max(self.rates)

    def at(self, time: ArrayLike) -> np.ndarray:
        """Return the rate in force up to each time [m3/s]: a reading at the moment of a change belongs to the rate before it."""
        index = np.searchsorted(self.starts, np.asarray(time, dtype=float), side="left")
        return np.concatenate([[0.0], self.rates])[index]

    def mean_until(self, time: float) -> float:
        """Return the mean rate from the first start until a time [m3/s]."""
        ends = np.clip(np.append(self.starts[1:], np.inf), None, time)
        volume = float(np.sum(np.clip(ends - np.asarray(self.starts), 0.0, None) * np.asarray(self.rates)))
        return volume / max(time - self.starts[0], 1e-12)


def steady_rate(rate: float, *, stopped_at: float | None = None) -> RateHistory:
    """Return one steady rate from time zero [m3/s], until a stop [s] if given."""
    if not np.isfinite(rate) or rate == 0:
        raise BadInput("rate", rate, "is not a pumping rate", "a rate above zero, such as 788 m3/d")
    if stopped_at is None:
        return RateHistory((0.0,), (float(rate),))
    if not np.isfinite(stopped_at) or stopped_at <= 0:
        raise BadInput("stopped_at", stopped_at, "must be above zero", "time since the pump started")
    return RateHistory((0.0, float(stopped_at)), (float(rate), 0.0))


def rate_steps(steps: Iterable[tuple[float, float]]) -> RateHistory:
    """Return a rate history from (start [s], rate [m3/s]) pairs in any order."""
    ordered = sorted((float(start), float(rate)) for start, rate in steps)
    return RateHistory(tuple(start for start, _ in ordered), tuple(rate for _, rate in ordered))


def pulse_train(rate: float, *, hours_on: float, days: int) -> RateHistory:
    """Return a rate pumped for some hours at the start of each day [m3/s]."""
    if not 0 < hours_on <= 24:
        raise BadInput("hours_on", hours_on, "is not a part of a day", "above 0 and at most 24 hours")
    if hours_on == 24:
        return steady_rate(rate)
    starts = np.repeat(np.arange(days) * 86400.0, 2) + np.tile([0.0, hours_on * 3600.0], days)
    return RateHistory(tuple(starts), tuple(np.tile([rate, 0.0], days)))


def drawdown_under(response: Callable[[np.ndarray], np.ndarray], time: ArrayLike, history: RateHistory) -> np.ndarray:
    """Return the drawdown under a rate history from a unit response.

    Parameters
    ----------
    response : callable
        Drawdown for each m3/s pumped since time zero, of an array of times above zero [m / (m3/s)].
    time : array_like
        [s].
    history : RateHistory

    Notes
    -----
    Duhamel's sum over rate changes; holds for every linear solution.
    """
    since = np.asarray(time, dtype=float)
    require_finite(time=since)
    total = np.zeros(since.shape)
    for start, step in zip(*history.changes, strict=True):
        running = since > start
        if np.any(running):
            total[running] += step * np.asarray(response(since[running] - start))
    return total


def with_images(response: Callable[[np.ndarray, float], np.ndarray], images: Iterable[tuple[float, float]]) -> Callable[[np.ndarray], np.ndarray]:
    """Return the unit response summed over bores real and imagined.

    `images` are (distance from the observed place [m], strength): +1 a discharging image (no-flow boundary), -1 a recharging one (river, lake),
    the real bore being (radius, 1). Source: Ferris et al. (1962) USGS WSP 1536-E.
    """
    places = tuple(images)

    def total(time: np.ndarray) -> np.ndarray:
        return sum(strength * np.asarray(response(time, distance)) for distance, strength in places)

    return total
