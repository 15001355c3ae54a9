"""What a fitted test holds: readings, estimates, the solutions fitted, and all of it as plain JSON types."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from borewright.errors import Advisory
from borewright.hydraulics.ratehistory import RateHistory
from borewright.hydraulics.solutions import SOLUTIONS, Place

__all__ = ["AlsoPumped", "Estimate", "FittedSolution", "Levels", "TestFit", "fits_as_dict"]


@dataclass(frozen=True, slots=True)
class Levels:
    """Drawdown read in one bore: radius [m] from the pumped bore (its own radius for the pumped bore), time [s] since the pump started.

    `across` is how far the bore lies from the pumped bore towards the nearer of two parallel edges (away from it negative), where that is known [m].
    `observed` is the part of the aquifer over which the level is read, (top, bottom) below the aquifer's top [m]; the whole if not said. It counts
    only where the pumped bore is open to a part (`part_open` of `fit_test`).
    """

    time: np.ndarray
    drawdown: np.ndarray
    radius: float | None = None
    well: str = "pumped"
    pumped: bool | None = None
    observed: tuple[float, float] | None = None
    across: float = 0.0


@dataclass(frozen=True, slots=True)
class AlsoPumped:
    """Another bore that pumped meanwhile: its rates on the clock of the test (a start before it is negative), and how far it is from each bore read [m].

    `distances` has the name of each bore read, `Levels.well`. Drawdown then counts from the level at rest before any of them pumped.
    """

    name: str
    history: RateHistory
    distances: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A fitted value with its interval, in SI; `open_ends` names the ends ("low", "high") that run into the edge of what was allowed."""

    value: float
    low: float
    high: float
    open_ends: tuple[str, ...] = ()

    @property
    def at_bound(self) -> bool:
        """True where the test does not set an end of the interval."""
        return bool(self.open_ends)


@dataclass(frozen=True, slots=True)
class FittedSolution:
    """One solution fitted: parameters by name in SI, how well it fits, and what to doubt."""

    solution: str
    title: str
    parameters: Mapping[str, Estimate]
    derived: Mapping[str, float]
    aicc: float
    rmse: float
    count: int
    sentence: str
    source: str
    advisories: tuple[Advisory, ...] = ()
    streak: float = 0.0
    carry: float = 1.0
    point: tuple[float, ...] = ()
    covariance: np.ndarray | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class TestFit:
    """Every solution fitted to one test, the best first by AICc."""

    __test__ = False
    fits: tuple[FittedSolution, ...]
    best: str
    sentence: str
    history: RateHistory
    levels: tuple[Levels, ...]
    places: tuple[Place, ...]
    confidence: float
    advisories: tuple[Advisory, ...] = ()
    also: tuple[AlsoPumped, ...] = ()

    @property
    def histories(self) -> tuple[RateHistory, ...]:
        """The rates of the bore of the test, then of the others that pumped."""
        return (self.history, *(one.history for one in self.also))

    @property
    def leading(self) -> FittedSolution:
        """The fit named best."""
        return next(f for f in self.fits if f.solution == self.best)


def fits_as_dict(fit: TestFit) -> dict[str, Any]:
    """Return the fits as plain JSON types, keys as in the command's contract."""
    part = next((place.part for place in fit.places if place.part is not None), None)
    return {
        "fits": [_fit_as_dict(f) for f in fit.fits],
        "best": fit.best,
        "sentence": fit.sentence,
        "confidence": fit.confidence,
        "wells": [{"well": one.well, "radius_m": place.radius, "pumped": place.pumped, "readings": int(one.time.size)}
                  for one, place in zip(fit.levels, fit.places, strict=True)],
        "part_open": None if part is None else {
            "thickness_m": part.thickness, "top_m": part.screen[0], "bottom_m": part.screen[1], "anisotropy": part.anisotropy,
            "observed_m": [None if place.observed is None else list(place.observed) for place in fit.places]},
        "rate": _rates(fit.history),
        "also_pumped": [{"bore": one.name, "rate": _rates(one.history), "distances_m": dict(one.distances)} for one in fit.also],
        "advisories": [_advisory(a) for a in fit.advisories],
    }


def _rates(history: RateHistory) -> list[dict[str, float]]:
    return [{"start_s": a, "rate_m3_per_s": b} for a, b in zip(history.starts, history.rates, strict=True)]


def _fit_as_dict(f: FittedSolution) -> dict[str, Any]:
    known = {p.name: p for p in (SOLUTIONS[f.solution].parameters if f.solution in SOLUTIONS else SOLUTIONS["theis"].parameters)}
    return {
        "solution": f.solution,
        "title": f.title,
        "parameters": {
            known[name].key: {"value": e.value * known[name].factor, "low": e.low * known[name].factor, "high": e.high * known[name].factor}
            for name, e in f.parameters.items()
        },
        "open_ends": {known[name].key: list(e.open_ends) for name, e in f.parameters.items() if e.open_ends},
        "derived": dict(f.derived),
        "aicc": f.aicc if math.isfinite(f.aicc) else None,
        "rmse_m": f.rmse,
        "readings": f.count,
        "sentence": f.sentence,
        "source": f.source,
        "advisories": [_advisory(a) for a in f.advisories],
    }


def _advisory(a: Advisory) -> dict[str, str]:
    return {"code": a.code, "severity": a.severity, "message": a.message, "where": a.where}
