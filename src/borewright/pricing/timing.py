"""Hours: how fast each class of ground drills, learned from the firm's own metres, and what the rest of the job takes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from borewright.errors import BadInput, require_non_negative, require_positive
from borewright.ground import DRILLING_CLASSES

__all__ = ["PRIOR_RATES", "PenetrationBelief", "PenetrationRecord", "TimeModel", "learn_penetration", "normal_update", "prior_time_model"]

# Metres per hour while drilling, rods apart: placeholders from memory, wide on purpose, to be replaced by the firm's own metres.
PRIOR_RATES = {"loose": 14.0, "soft": 12.0, "medium": 8.0, "hard": 5.0}
PRIOR_SPREAD = 0.5  # standard deviation of the logarithm of the firm's true rate, before any record
JOB_SPREAD = 0.35  # from job to job, same firm and class
METRE_SPREAD = 1.5  # of a single metre, so that a job of m metres adds METRE_SPREAD**2 / m


@dataclass(frozen=True, slots=True)
class PenetrationBelief:
    """Belief about one drilling class: natural log of metres per second, prior and posterior, and what stands behind it."""

    drilling: str
    prior_mean: float
    prior_sd: float
    mean: float
    sd: float
    metres: float = 0.0
    jobs: int = 0

    def rate_quantile(self, probability: float, *, next_job: bool = True) -> float:
        """Return a quantile of the rate [m/s], of the next job or (next_job False) of the firm's long-run rate."""
        from scipy.special import ndtri

        spread = math.hypot(self.sd, JOB_SPREAD) if next_job else self.sd
        return math.exp(self.mean + float(ndtri(probability)) * spread)

    @property
    def seconds_per_metre(self) -> float:
        """Mean time per metre on the next job [s/m]: the mean of 1 / rate for a log-normal rate."""
        return math.exp(-self.mean + 0.5 * (self.sd**2 + JOB_SPREAD**2))


@dataclass(frozen=True, slots=True)
class PenetrationRecord:
    """Metres drilled in one class on one job and the time the bit was turning [m], [s]."""

    drilling: str
    metres: float
    seconds: float


@dataclass(frozen=True, slots=True)
class TimeModel:
    """All the times of a job [s] unless said; the defaults are common practice, no source, and every one can be set."""

    penetration: tuple[PenetrationBelief, ...]
    rod_length: float = 3.0  # m
    add_rod: float = 300.0  # per rod on the way down
    pull_rod: float = 180.0  # per rod on the way out
    run_casing_per_metre: float = 150.0
    grout_mixing: float = 3600.0
    grout_wait: float = 7200.0  # the crew's part of the wait; the full set is often overnight
    development: float = 7200.0
    test: float = 3600.0
    set_up: float = 7200.0
    sealing_per_metre: float = 60.0
    travel_speed: float = 65.0 / 3.6  # m/s
    source: str = field(default="common practice, no source")

    def __post_init__(self) -> None:
        if tuple(p.drilling for p in self.penetration) != DRILLING_CLASSES:
            raise BadInput("penetration", [p.drilling for p in self.penetration], "does not name every drilling class in order", ", ".join(DRILLING_CLASSES))
        require_positive(rod_length=self.rod_length, travel_speed=self.travel_speed)
        require_non_negative(
            add_rod=self.add_rod, pull_rod=self.pull_rod, run_casing_per_metre=self.run_casing_per_metre, grout_mixing=self.grout_mixing,
            grout_wait=self.grout_wait, development=self.development, test=self.test, set_up=self.set_up,
            sealing_per_metre=self.sealing_per_metre,
        )

    def rods(self, depth: np.ndarray | float) -> np.ndarray:
        """Return how many rods are down at a depth [m]."""
        return np.ceil(np.asarray(depth, dtype=float) / self.rod_length - 1e-9)

    def making_hole(self, metres_by_class: np.ndarray, depth: np.ndarray | float, *, seconds_per_metre: np.ndarray | None = None) -> np.ndarray:
        """Return the time to drill and handle rods, in and out [s].

        Parameters
        ----------
        metres_by_class : ndarray, shape (..., 4)
            Metres in each drilling class, loose to hard [m].
        depth : ndarray, shape (...)
            Depth of the hole [m].
        seconds_per_metre : ndarray, shape (4,) or (..., 4), optional
            Times to use in place of the means [s/m].
        """
        pace = self.paces() if seconds_per_metre is None else seconds_per_metre
        return (np.asarray(metres_by_class) * pace).sum(axis=-1) + self.rods(depth) * (self.add_rod + self.pull_rod)

    def paces(self) -> np.ndarray:
        """Return the mean time per metre by class, shape (4,) [s/m]."""
        return np.array([p.seconds_per_metre for p in self.penetration])

    def sample_paces(self, count: int, generator: np.random.Generator) -> np.ndarray:
        """Return times per metre for `count` jobs, shape (count, 4) [s/m]; one draw of the class's rate per job."""
        mean = np.array([p.mean for p in self.penetration])
        spread = np.array([math.hypot(p.sd, JOB_SPREAD) for p in self.penetration])
        return np.exp(-(mean + spread * generator.standard_normal((count, len(mean)))))


def prior_time_model(**changes: float) -> TimeModel:
    """Return the time model before any record of the firm's own; keyword arguments replace single times."""
    beliefs = []
    for name in DRILLING_CLASSES:
        mean = math.log(PRIOR_RATES[name] / 3600.0)
        beliefs.append(PenetrationBelief(name, mean, PRIOR_SPREAD, mean, PRIOR_SPREAD))
    return TimeModel(tuple(beliefs), **changes)


def normal_update(prior_mean: float, prior_sd: float, values: np.ndarray, variances: np.ndarray) -> tuple[float, float]:
    """Return the mean and standard deviation of a normal mean after observations of known variance.

    References
    ----------
    Gelman, Carlin, Stern, Dunson, Vehtari and Rubin, Bayesian Data Analysis, 3rd ed., 2013, section 2.5, equations 2.9-2.12
    (from memory): precisions add, the mean is the precision-weighted mean.
    """
    require_positive(prior_sd=prior_sd)
    values, variances = np.asarray(values, dtype=float), np.asarray(variances, dtype=float)
    if values.size:
        require_positive(variances=variances)
    precision = 1.0 / prior_sd**2 + (1.0 / variances).sum()
    return float((prior_mean / prior_sd**2 + (values / variances).sum()) / precision), float(precision**-0.5)


def learn_penetration(model: TimeModel, records: Iterable[PenetrationRecord]) -> TimeModel:
    """Return the time model after the firm's own metres and hours, from the model's prior (so order and repeats of calling do not matter).

    Notes
    -----
    The log of metres over time of one job is normal about the firm's log rate with variance JOB_SPREAD**2 + METRE_SPREAD**2 / metres:
    two metres say little, forty say much, and no single job says more than its own luck allows.

    Raises
    ------
    BadInput
        A class that is not known; zero or negative metres or time (a rate of zero is refused, as is a rate above 200 m/h).
    """
    by_class: dict[str, list[PenetrationRecord]] = {name: [] for name in DRILLING_CLASSES}
    for record in records:
        if record.drilling not in by_class:
            raise BadInput("drilling", record.drilling, "is not a drilling class", "one of " + ", ".join(DRILLING_CLASSES))
        require_positive(metres=record.metres, seconds=record.seconds)
        if record.metres / record.seconds * 3600 > 200:
            raise BadInput("penetration", record.metres / record.seconds * 3600, "is faster than any rig drills", "at most 200 m/h; check metres and hours")
        by_class[record.drilling].append(record)
    beliefs = []
    for belief in model.penetration:
        own = by_class[belief.drilling]
        metres = np.array([r.metres for r in own])
        logs = np.log(metres / np.array([r.seconds for r in own])) if own else np.empty(0)
        mean, sd = normal_update(belief.prior_mean, belief.prior_sd, logs, JOB_SPREAD**2 + METRE_SPREAD**2 / metres if own else np.empty(0))
        beliefs.append(replace(belief, mean=mean, sd=sd, metres=float(metres.sum()), jobs=len(own)))
    return replace(model, penetration=tuple(beliefs))
