"""Draws of what the ground and the bore may be, given a test: the raw stuff of a rating."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import Advisory, BadInput, require_positive
from borewright.hydraulics.confined import JACOB
from borewright.hydraulics.engine import press
from borewright.hydraulics.fits import model_drawdown
from borewright.hydraulics.fitted import Estimate, FittedSolution, TestFit
from borewright.hydraulics.solutions import SOLUTIONS, Place, Solution

if TYPE_CHECKING:
    from borewright.hydraulics.rating import Airlift, RatingBelief

__all__ = ["Draws", "draws_from_airlift", "draws_from_fit"]

# Solutions that lean on a source that may fail, and what is left of them then.
GROUND_SOURCES = {"hantush-jacob": "theis", "theis-recharge": "theis", "two-rivers": "theis", "barrier-and-river": "theis-barrier"}
# An airlift's flow against what a test later showed: ln spread. Told cases run from 30 times too much to 15 times too little
# (Weaver 2017); that they are told because they are extreme keeps this below what they alone would give.
AIRLIFT_SPREAD = 0.9


@dataclass(frozen=True, slots=True)
class Draws:
    """Samples of the drawdown for each m3/s in the pumped bore as a function of time, and of what goes with it."""

    unit: Callable[[float], np.ndarray]
    transmissivity: np.ndarray
    storativity: np.ndarray
    well_loss: np.ndarray
    tested_rate: float
    seen_until: float
    basis: str
    advisories: tuple[Advisory, ...]
    plain_transmissivity: float
    curve: tuple[float, float, float, float] | None


def draws_from_fit(
    test: TestFit, *, well_loss: Estimate | None, bore_radius: float, belief: RatingBelief, samples: int, rng: np.random.Generator,
) -> Draws:
    """Return draws from every fitted solution that the test leaves standing, in proportion to its weight."""
    standing = [f for f in test.fits if f.solution in SOLUTIONS and math.isfinite(f.aicc)] or [f for f in test.fits if f.solution in SOLUTIONS]
    if not standing:
        raise BadInput("test", test.best, "has no fit that can be carried on in time", "a fit of Theis or another solution beside the straight line")
    notes: list[Advisory] = []
    # Readings that stray together carry less than their number: evidence between shapes is deflated by what the residuals of the fit of
    # least AICc show, and each fit's spread (already in its covariance) by what its own show.
    inflation = min(standing, key=lambda f: f.aicc).carry
    least = min(f.aicc for f in standing)
    weights = np.array([math.exp(-0.5 * (f.aicc - least) / inflation) if math.isfinite(f.aicc) else 1.0 for f in standing])
    weights = np.where(weights < 1e-3, 0.0, weights)
    counts = rng.multinomial(samples, weights / weights.sum())
    pumped = next((i for i, p in enumerate(test.places) if p.pumped), None)
    if pumped is None:
        part = test.places[0].part
        place = Place(bore_radius, True, bore_radius, bore_radius, part, None if part is None else part.screen)
        notes.append(Advisory("pumped-bore-not-read", "doubt", "The pumped bore itself was not read: its own loss is a guess (it takes 0 to half of the drawdown).", "test"))
    else:
        place = test.places[pumped]
    parts: list[tuple[Solution, dict[str, np.ndarray], np.ndarray]] = []
    for fitted, count in zip(standing, counts, strict=True):
        if count == 0:
            continue
        points = _posterior(fitted, test, int(count), rng)
        solution = SOLUTIONS[fitted.solution]
        values = {p.name: (np.exp(points[:, j : j + 1]) if p.logarithmic else points[:, j : j + 1]) for j, p in enumerate(solution.parameters)}
        fails = (rng.random(count) < belief.source_fails) & (fitted.solution in GROUND_SOURCES)
        parts.append((solution, values, fails))
    transmissivity = np.concatenate([v["transmissivity"][:, 0] for _, v, _ in parts])
    last = max(float(one.time[-1]) for one in test.levels)
    tested = test.history.largest
    efficiency = np.ones(samples) if pumped is not None else 1.0 / rng.uniform(0.5, 1.0, samples)

    def raw(time: float) -> np.ndarray:
        at = np.array([time])
        answers = []
        with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
            for solution, values, fails in parts:
                one = solution.response(at, place, values)[:, 0]
                if fails.any():
                    left = values | {"image_distance": 2.0 * values["barrier_distance"]} if "barrier_distance" in values else values
                    one = np.where(fails, SOLUTIONS[GROUND_SOURCES[solution.name]].response(at, place, left)[:, 0], one)
                answers.append(one)
        return np.concatenate(answers) * efficiency

    at_end = raw(min(last, _pumping_ends(test)))
    if well_loss is not None:
        spread = max((well_loss.high - well_loss.low) / 3.29, 0.0)
        loss = np.maximum(rng.normal(well_loss.value, spread, samples), 0.0)
    else:
        share = rng.uniform(0.0, belief.loss_share, samples)
        loss = share * at_end / tested
        notes.append(Advisory("loss-guessed", "doubt", f"No step test: the loss at the bore that grows faster than the flow is taken as 0 to {belief.loss_share:.0%} "
                              "of the test's drawdown.", "well_loss"))
    # The fitted drawdown holds the loss at the tested rate already.
    already = np.minimum(loss * tested, 0.9 * at_end) if pumped is not None else np.zeros(samples)
    loss = already / tested if pumped is not None else loss
    if "storativity" in parts[0][1] and pumped is None:
        storativity = np.concatenate([v["storativity"][:, 0] if "storativity" in v else np.full(v["transmissivity"].shape[0], belief.storativity[0])
                                      for _, v, _ in parts])
    else:
        storativity = belief.storativity[0] * np.exp(belief.storativity[1] * rng.standard_normal(samples))
    hours = last / 3600.0
    if hours < 20:
        notes.append(Advisory("short-test", "doubt", f"The readings end after {hours:.1f} h; most edges show later than that.", "test"))
    best = test.leading if test.best in SOLUTIONS else standing[0]
    well = pumped if pumped is not None else 0
    curve = None
    if pumped is not None:
        times = np.array([6000.0, 86400.0, last, 10 * last])
        from borewright.hydraulics.ratehistory import steady_rate

        curve = tuple(float(v) for v in model_drawdown(test, best.solution, times, well=well, history=steady_rate(tested)))
    names = ", ".join(f"{f.title} {c / samples:.0%}" for f, c in zip(standing, counts, strict=True) if c)
    return Draws(
        lambda time: np.maximum(raw(time) - already, 1e-12), transmissivity, storativity, loss, tested, last,
        f"a test of {hours:.3g} h, {sum(one.time.size for one in test.levels)} readings: {names}", tuple(notes),
        best.parameters["transmissivity"].value, curve)


def _pumping_ends(test: TestFit) -> float:
    stops = [start for start, rate in zip(test.history.starts, test.history.rates, strict=True) if rate <= 0 and start > test.history.starts[0]]
    return min(stops) if stops else math.inf


def _posterior(fitted: FittedSolution, test: TestFit, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return parameter points by importance resampling from a widened normal at the best fit."""
    solution = SOLUTIONS[fitted.solution]
    point = np.array(fitted.point)
    low = np.array([math.log(p.low) if p.logarithmic else p.low for p in solution.parameters])
    high = np.array([math.log(p.high) if p.logarithmic else p.high for p in solution.parameters])
    covariance = np.asarray(fitted.covariance)
    scale, directions = np.linalg.eigh((covariance + covariance.T) / 2)
    # A direction that the test does not fix at all is held to a factor of about twenty either way.
    scale = np.sqrt(np.clip(scale, 1e-14, 1.0))
    tries = 4 * count
    normal = rng.standard_normal((tries, point.size))
    wide = 1.3
    points = np.clip(point + wide * (normal * scale) @ directions.T, low, high)
    variance = max(fitted.rmse**2 * fitted.count / max(fitted.count - point.size, 1), 1e-16) * fitted.carry
    total = np.zeros(tries)
    for one, place in zip(test.levels, test.places, strict=True):
        pressed = press(one.time, one.drawdown, test.histories)
        for first in range(0, tries, 2000):
            part = points[first : first + 2000]
            values = {p.name: (np.exp(part[:, j : j + 1]) if p.logarithmic else part[:, j : j + 1]) for j, p in enumerate(solution.parameters)}
            with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
                off = pressed.target - pressed.response(solution, place, values) @ pressed.factor.T
            total[first : first + 2000] += np.sum(off**2, axis=1)
    log_weight = -0.5 * total / variance + 0.5 * np.sum(normal**2, axis=1)
    log_weight = np.where(np.isfinite(log_weight), log_weight, -np.inf)
    weight = np.exp(log_weight - log_weight.max())
    return points[rng.choice(tries, size=count, p=weight / weight.sum())]


def draws_from_airlift(
    test: Airlift, *, head: float, static_level: float, bore_radius: float, belief: RatingBelief, samples: int, rng: np.random.Generator,
) -> Draws:
    """Return draws from a short airlift: one flow, one time, a drawdown that is mostly a guess, and how wrong airlifts have been."""
    require_positive(flow=test.flow, duration=test.duration)
    notes = [Advisory("airlift-only", "doubt", "An airlift gives an indication and no more: it has been found thirty times too high and fifteen times too low "
                      "against a later test. Pump-test before money rests on this figure.", "test")]
    if test.level is not None:
        fall = test.level - static_level
        if not (math.isfinite(fall) and fall > 0):
            raise BadInput("level", test.level, "is not below the level at rest", "the depth to water while lifting")
        drawdown = fall * np.clip(1.0 + 0.15 * rng.standard_normal(samples), 0.3, None)
        how = "with the level dipped while lifting"
    else:
        column = head if test.air_line is None else test.air_line - static_level
        if not (math.isfinite(column) and column > 0):
            raise BadInput("air_line", test.air_line, "is not below the level at rest", "the depth of the air line")
        drawdown = column * rng.uniform(0.35, 0.95, samples)
        how = "the level while lifting not known"
        notes.append(Advisory("level-unknown", "doubt", "The level while lifting was not dipped; a third to nearly all of the water above the air line was taken.", "test"))
    flow = test.flow * np.exp(AIRLIFT_SPREAD * rng.standard_normal(samples))
    unit_then = drawdown / flow
    storativity = belief.storativity[0] * np.exp(belief.storativity[1] * rng.standard_normal(samples))
    skin = rng.uniform(-1.0, 6.0, samples)
    inner = JACOB * test.duration / (bore_radius**2 * storativity)
    transmissivity = 30.0 / (4.0 * np.pi * unit_then)
    for _ in range(80):
        transmissivity = np.maximum(np.log(np.maximum(inner * transmissivity, math.e)) + 2.0 * skin, 1.0) / (4.0 * np.pi * unit_then)

    def unit(time: float) -> np.ndarray:
        return unit_then + (np.log(time / test.duration) if time > test.duration else 0.0) / (4.0 * np.pi * transmissivity)

    loss = rng.uniform(0.0, belief.loss_share, samples) * unit_then / test.flow
    return Draws(
        lambda time: np.maximum(unit(time) - loss * test.flow, 1e-12), transmissivity, storativity, loss, test.flow, test.duration,
        f"an airlift of {test.duration / 3600:.2g} h, {how}", tuple(notes), float(np.median(transmissivity)), None)


