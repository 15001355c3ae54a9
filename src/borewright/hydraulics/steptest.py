"""A step test: how much of the drawdown is the aquifer's, how much is lost at the bore, and what that says of pumping harder."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from borewright.errors import Advisory, BadInput, require_finite, require_positive
from borewright.hydraulics.fitted import Estimate
from borewright.hydraulics.ratehistory import RateHistory

__all__ = ["StepFit", "bore_efficiency", "condition_class", "fit_step_readings", "fit_steps", "steps_as_dict"]

LEAST_EXPONENT, MOST_EXPONENT = 1.5, 3.5
CURVE_POINTS = 41
# Walton (1962) Illinois State Water Survey Bull. 49, in s2/m5 (from memory; 5, 10, 40 s2/ft5).
_CLASSES = ((1900.0, "properly designed and developed"), (3800.0, "mildly deteriorated or not fully developed"), (15200.0, "severely clogged"),
            (math.inf, "hard to bring back"))


@dataclass(frozen=True, slots=True)
class StepFit:
    """Losses found from a step test: drawdown = B Q + C Q^P after `reference_time` [s] of each step; B [s/m2], C in SI for its P.

    `drawdowns` are the curve's at `rates`; `read` are what the readings under each rate say on the mean, freed of earlier steps alike.
    """

    aquifer_loss: Estimate
    well_loss: Estimate
    exponent: Estimate
    reference_time: float
    growth: float
    rmse: float
    count: int
    rates: tuple[float, ...]
    drawdowns: tuple[float, ...]
    read: tuple[float, ...]
    efficiencies: tuple[float, ...]
    half_flow: float | None
    transmissivity: float | None
    advisories: tuple[Advisory, ...]


def bore_efficiency(rate: ArrayLike, *, aquifer_loss: float, well_loss: float, exponent: float = 2.0) -> np.ndarray | float:
    """Return the share of drawdown that the aquifer takes, B Q/(B Q + C Q^P) [-]."""
    require_positive(rate=rate, aquifer_loss=aquifer_loss, exponent=exponent)
    flow = np.asarray(rate, dtype=float)
    value = aquifer_loss / (aquifer_loss + well_loss * flow ** (exponent - 1.0))
    return float(value) if value.ndim == 0 else value


def condition_class(well_loss: float) -> str:
    """Return Walton's word for a bore from C [s2/m5] (1962, from memory)."""
    return next(word for limit, word in _CLASSES if well_loss < limit)


def fit_step_readings(
    time: ArrayLike, drawdown: ArrayLike, history: RateHistory, *, exponent: float | None = 2.0, settle: float = 60.0, reference_time: float | None = None,
    confidence: float = 0.9,
) -> StepFit:
    """Return losses from every reading of a step test.

    Parameters
    ----------
    time, drawdown : array_like, shape (n,)
        [s], [m]; only readings while pumping count.
    history : RateHistory
        The steps.
    exponent : float or None
        2 for Jacob; None finds it between 1.5 and 3.5 (Rorabaugh).
    settle : float
        Readings this soon after a change of rate are left out [s].
    reference_time : float, optional
        For which B is given; the shortest step if not said [s].

    Notes
    -----
    s = sum of dQ_i (a + b ln(t - t_i)) + C Q^P: late-time radial flow for the aquifer, superposed, so each step carries the fall that
    earlier steps still cause (Eden & Hazel 1973, Civil Eng. Trans. Inst. Eng. Aust. CE15:5-10, from memory). Linear but for P.

    References
    ----------
    Jacob (1947) Trans. ASCE 112:1047-1064; Rorabaugh (1953) Proc. ASCE 79, sep. 362.
    """
    t, s = np.asarray(time, dtype=float), np.asarray(drawdown, dtype=float)
    require_finite(time=t, drawdown=s)
    if t.shape != s.shape:
        raise BadInput("drawdown", int(s.size), f"does not pair with {t.size} times", "one drawdown for each time")
    starts, steps = history.changes
    rate = history.at(t)
    last_change = np.array([starts[starts < x].max() if np.any(starts < x) else np.inf for x in t])
    use = (rate > 0) & (t - last_change >= settle)
    t, s, rate = t[use], s[use], rate[use]
    used = np.unique(rate)
    if used.size < 2 or t.size < 5:
        raise BadInput("data", int(t.size), f"holds readings under {used.size} pumping rates", "at least two rates, better three or more, and five readings")
    lags = t[:, None] - starts[None, :]
    on = lags > 0
    level = np.where(on, steps, 0.0).sum(axis=1)
    growth = np.where(on, steps * np.log(np.where(on, lags, 1.0)), 0.0).sum(axis=1)
    lengths = np.diff(np.append(starts, t.max()))
    reference = float(reference_time or lengths[lengths > settle].min(initial=np.inf))
    if not math.isfinite(reference):
        raise BadInput("settle", settle, "is longer than every step", "a time shorter than the steps")
    columns = np.stack([level, growth - level * math.log(reference)], axis=1)
    return _solve(columns, s, rate, exponent, confidence, reference=reference, growing=True)


def fit_steps(rate: ArrayLike, drawdown: ArrayLike, *, exponent: float | None = 2.0, confidence: float = 0.9, reference_time: float = math.nan) -> StepFit:
    """Return losses from one drawdown for each rate, each read the same time after rest or already freed of earlier steps (Hantush-Bierschenk)."""
    q, s = np.asarray(rate, dtype=float), np.asarray(drawdown, dtype=float)
    require_positive(rate=q, drawdown=s)
    if q.shape != s.shape or np.unique(q).size < 2:
        raise BadInput("rate", int(q.size), "is too few, or does not pair with the drawdowns", "at least two rates, better three or more")
    return _solve(q[:, None], s, q, exponent, confidence, reference=reference_time, growing=False)


def _solve(linear: np.ndarray, s: np.ndarray, rate: np.ndarray, exponent: float | None, confidence: float, *, reference: float, growing: bool) -> StepFit:
    scale = float(rate.max())

    def at(power: float) -> tuple[float, np.ndarray, np.ndarray]:
        matrix = np.column_stack([linear, scale * (rate / scale) ** power])
        solved, *_ = np.linalg.lstsq(matrix, s, rcond=None)
        if solved[-1] < 0:
            # A loss below zero is no loss: the rest without it.
            rest, *_ = np.linalg.lstsq(matrix[:, :-1], s, rcond=None)
            solved = np.append(rest, 0.0)
        off = s - matrix @ solved
        return float(off @ off), solved, matrix

    advisories: list[Advisory] = []
    low_power = high_power = power = 2.0 if exponent is None else float(exponent)
    if exponent is None:
        powers = np.linspace(LEAST_EXPONENT, MOST_EXPONENT, 401)
        sums = np.array([at(p)[0] for p in powers])
        power = float(powers[int(np.argmin(sums))])
        spare = max(s.size - linear.shape[1] - 2, 1)
        limit = sums.min() * (1 + stdtrit(spare, 0.5 + confidence / 2) ** 2 / spare) + 1e-18
        inside = powers[sums <= limit]
        low_power, high_power = float(inside.min()), float(inside.max())
        if np.unique(rate).size < 4:
            advisories.append(Advisory("few-steps", "doubt", "Fewer than four rates do not fix the exponent well.", "exponent"))
    total, solved, matrix = at(power)
    spare = max(s.size - matrix.shape[1] - (exponent is None), 1)
    variance = total / spare
    covariance = np.linalg.pinv(matrix.T @ matrix) * variance
    reach = float(stdtrit(spare, 0.5 + confidence / 2))
    aquifer, loss = float(solved[0]), float(solved[-1])
    if aquifer <= 0:
        raise BadInput("drawdown", aquifer, "falls so fast with the rate that nothing is left for the aquifer", "steps read in the order pumped, rates in the right unit")
    half = reach * math.sqrt(covariance[0, 0])
    factor = scale ** (1.0 - power)
    half_loss = reach * math.sqrt(covariance[-1, -1])
    if loss == 0.0:
        advisories.append(Advisory("no-loss", "note", "No loss that grows faster than the rate shows in this test.", "well_loss"))
    elif loss - half_loss <= 0:
        advisories.append(Advisory("loss-uncertain", "doubt", "The loss at the bore is not told apart from none.", "well_loss"))
    rates = np.unique(rate)
    well_loss = loss * factor
    efficiencies = tuple(float(bore_efficiency(q, aquifer_loss=aquifer, well_loss=well_loss, exponent=power)) for q in rates)
    drawdowns = tuple(float(aquifer * q + well_loss * q**power) for q in rates)
    off = s - matrix @ solved
    read = tuple(d + float(off[rate == q].mean()) for q, d in zip(rates, drawdowns, strict=True))
    half_flow = float((aquifer / well_loss) ** (1.0 / (power - 1.0))) if well_loss > 0 else None
    growth = float(solved[1]) if growing else math.nan
    transmissivity = 1.0 / (4.0 * math.pi * growth) if growing and growth > 0 else None
    if growing and growth <= 0:
        advisories.append(Advisory("no-growth", "doubt", "The drawdown does not grow within the steps; the aquifer part is settled or the readings too few.", "time"))
    return StepFit(
        Estimate(aquifer, max(aquifer - half, 0.0), aquifer + half), Estimate(well_loss, max(loss - half_loss, 0.0) * factor, (loss + half_loss) * factor),
        Estimate(power, low_power, high_power), reference, growth, math.sqrt(total / s.size), int(s.size), tuple(map(float, rates)), drawdowns, read,
        efficiencies, half_flow, transmissivity, tuple(advisories))


def steps_as_dict(fit: StepFit) -> dict[str, Any]:
    """Return the losses as plain JSON types, SI units in the names."""
    def pair(e: Estimate) -> Mapping[str, float]:
        return {"value": e.value, "low": e.low, "high": e.high}

    power = fit.exponent.value
    flows = np.linspace(0.0, 1.2 * max(fit.rates), CURVE_POINTS)
    aquifer = fit.aquifer_loss.value * flows
    return {
        "aquifer_loss_s_per_m2": pair(fit.aquifer_loss),
        "well_loss_si": pair(fit.well_loss),
        "exponent": pair(fit.exponent),
        "reference_time_s": fit.reference_time if math.isfinite(fit.reference_time) else None,
        "transmissivity_m2_per_d": None if fit.transmissivity is None else fit.transmissivity * 86400.0,
        "half_loss_flow_m3_per_s": fit.half_flow,
        "condition": condition_class(fit.well_loss.value) if power == 2.0 else None,
        "steps": [{"rate_m3_per_s": q, "drawdown_m": s, "read_m": r, "efficiency": e} for q, s, r, e in zip(fit.rates, fit.drawdowns, fit.read, fit.efficiencies, strict=True)],
        "curve": {"rate_m3_per_s": flows.tolist(), "drawdown_m": (aquifer + fit.well_loss.value * flows**power).tolist(), "aquifer_m": aquifer.tolist()},
        "rmse_m": fit.rmse,
        "readings": fit.count,
        "source": ["Jacob (1947) Trans. ASCE 112:1047", "Rorabaugh (1953) Proc. ASCE 79 sep. 362", "Eden & Hazel (1973), from memory"],
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in fit.advisories],
    }
