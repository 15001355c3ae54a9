"""The rating: the flow that keeps the pumping level above the intake guard for a day, a season, a year and ten years, with its band.

By simulation: fitted parameters as far as the test fixes them, the shapes that the test cannot tell apart, loss at the bore, edges of the
aquifer that the test was too short to show, the dry season and the neighbours. What a pumping test cannot know is put in as a stated belief,
`RatingBelief`, that the driller may change; it is judgement, not measurement.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.special import exp1

from borewright.errors import Advisory, require, require_finite, require_non_negative, require_positive
from borewright.hydraulics.fitted import Estimate, TestFit
from borewright.hydraulics.rules import Rule, rules_beside
from borewright.hydraulics.sampling import Draws, draws_from_airlift, draws_from_fit
from borewright.quantities import show

__all__ = ["HORIZONS", "Airlift", "Horizon", "Neighbour", "Rating", "RatingBelief", "rate_bore", "rating_as_dict"]

DAY, YEAR = 86400.0, 365.25 * 86400.0
HORIZONS = (("1 day", DAY), ("100 days", 100 * DAY), ("1 year", YEAR), ("10 years", 10 * YEAR))
CURVE_TIMES = np.geomspace(3600.0, 10 * YEAR, 41)


@dataclass(frozen=True, slots=True)
class RatingBelief:
    """What no short test can know, as chances and spreads that may be changed.

    `boundaries`: chance of 0, 1, 2 no-flow edges beyond what the test saw, each felt at a log-uniform time between its end and 30 years.
    `source_fails`: chance that a leak or river which held the level up in the test fails in a long drought.
    `loss_share`: where no step test was made, the share of the test's drawdown lost at the bore, from 0 to this.
    `storativity`: median and ln spread, used where readings from the pumped bore alone cannot give it.
    """

    boundaries: tuple[float, float, float] = (0.55, 0.30, 0.15)
    source_fails: float = 0.3
    loss_share: float = 0.3
    storativity: tuple[float, float] = (5e-4, 1.5)
    fall_spread: float = 0.25

    def __post_init__(self) -> None:
        require(min(self.boundaries) >= 0 and abs(sum(self.boundaries) - 1) < 1e-9, "boundaries", list(self.boundaries), "are not chances",
                "three chances that sum to 1")
        require(0 <= self.source_fails <= 1 and 0 <= self.loss_share < 1, "belief", self.source_fails, "is not a share", "0 to 1")


@dataclass(frozen=True, slots=True)
class Airlift:
    """A short airlift, all that many bores ever get: flow [m3/s], how long [s], level while lifting if dipped, else depth of the air line [m]."""

    flow: float
    duration: float
    level: float | None = None
    air_line: float | None = None


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another bore that pumps: distance [m] and mean rate [m3/s]."""

    distance: float
    rate: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Horizon:
    """Flow [m3/s] that lasts to a time: `flow` with the rating's confidence, and the band (5 %, 50 %, 95 %)."""

    name: str
    time: float
    flow: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True)
class Rating:
    """What the bore can give. `flow` is held to what was tested; depths [m] below ground, flows [m3/s]."""

    flow: float
    low: float
    high: float
    confidence: float
    horizons: tuple[Horizon, ...]
    static_level: float
    guard_depth: float
    available: float
    pumping_level: float
    curve_time: np.ndarray = field(repr=False)
    curve_flow: np.ndarray = field(repr=False)
    level_flows: np.ndarray = field(repr=False)
    levels: dict[str, np.ndarray] = field(repr=False)
    rules: tuple[Rule, ...]
    basis: str
    sentence: str
    chance_of_need: float | None
    hours_per_day: float
    advisories: tuple[Advisory, ...]


def rate_bore(
    test: TestFit | Airlift, *, static_level: float, guard_depth: float, dry_season_fall: float | None = None, neighbours: Sequence[Neighbour] = (),
    well_loss: Estimate | None = None, hours_per_day: float = 24.0, need: float | None = None, bore_radius: float = 0.08,
    belief: RatingBelief | None = None, confidence: float = 0.9, samples: int = 4000, seed: int = 1,
) -> Rating:
    """Return the flow that keeps the pumping level above the guard, for a day, 100 days, a year and ten years.

    Parameters
    ----------
    test : TestFit or Airlift
        A fitted pumping test (its solutions are weighed by AICc), or a short airlift.
    static_level, guard_depth : float
        Level at rest and the deepest pumping level allowed: intake less its cover, main strike or top of the slots [m below ground].
    dry_season_fall : float, optional
        How far the level at rest falls in a dry season [m]; unknown counts as a tenth of the available drawdown, give or take half.
    neighbours : sequence of Neighbour
        Bores that pump meanwhile.
    well_loss : Estimate, optional
        C of C Q2 from a step test [s2/m5].
    hours_per_day : float
        Pumping hours; less than 24 lets the level recover between.
    need : float, optional
        Flow whose chance of lasting ten years is told [m3/s].
    belief : RatingBelief, optional
    confidence : float
        Of `flow`: the chance that the bore can give at least this.
    samples, seed : int

    Returns
    -------
    Rating

    Raises
    ------
    BadInput
        A guard above the level at rest, or values with no meaning.
    """
    belief = belief or RatingBelief()
    require_finite(static_level=static_level, guard_depth=guard_depth)
    require(guard_depth > static_level, "guard_depth", guard_depth, f"is not below the level at rest ({static_level:g} m)", "a deeper intake guard")
    require(0 < hours_per_day <= 24, "hours_per_day", hours_per_day, "is not a part of a day", "above 0 and at most 24")
    require(0.5 <= confidence < 1, "confidence", confidence, "is not a confidence", "0.5 to 0.99")
    require(samples >= 200, "samples", samples, "is too few for a band", "at least 200")
    require_positive(bore_radius=bore_radius)
    for one in neighbours:
        require_positive(distance=one.distance)
        require_non_negative(rate=one.rate)
    rng = np.random.default_rng(seed)
    head = guard_depth - static_level
    notes: list[Advisory] = []
    if isinstance(test, Airlift):
        draws = draws_from_airlift(test, head=head, static_level=static_level, bore_radius=bore_radius, belief=belief, samples=samples, rng=rng)
    else:
        draws = draws_from_fit(test, well_loss=well_loss, bore_radius=bore_radius, belief=belief, samples=samples, rng=rng)
    notes += draws.advisories
    if dry_season_fall is None:
        fall = 0.1 * head * np.clip(1.0 + 0.5 * rng.standard_normal(samples), 0.0, None)
        notes.append(Advisory("fall-guessed", "doubt", f"The dry-season fall is not known; {0.1 * head:.1f} m, give or take half, was taken.", "dry_season_fall"))
    else:
        require_non_negative(dry_season_fall=dry_season_fall)
        fall = dry_season_fall * np.clip(1.0 + belief.fall_spread * rng.standard_normal(samples), 0.0, None)
    edges = _edges(draws, belief, rng)
    on = hours_per_day / 24.0

    def unit(time: float) -> np.ndarray:
        whole = draws.unit(time) + _edge_terms(edges, draws, time)
        if on == 1.0 or time <= hours_per_day * 3600.0:
            return whole
        # The mean rate all along, and the day's own swing on top.
        return on * whole + (1.0 - on) * draws.unit(hours_per_day * 3600.0)

    def left(time: float) -> np.ndarray:
        taken = np.zeros(samples)
        for one in neighbours:
            argument = one.distance**2 * draws.storativity / (4.0 * draws.transmissivity * time)
            taken += one.rate / (4.0 * np.pi * draws.transmissivity) * exp1(np.minimum(argument, 700.0))
        # The first days may fall in any season; a year and more meets a dry one.
        return head - taken - (fall if time > 30 * DAY else 0.0)

    def flows(time: float) -> np.ndarray:
        linear, room, loss = unit(time), np.maximum(left(time), 0.0), draws.well_loss
        root = np.sqrt(linear**2 + 4.0 * loss * room)
        return 2.0 * room / (linear + root)

    horizons = []
    for name, time in HORIZONS:
        q = flows(time)
        low, middle, high = np.quantile(q, [0.05, 0.5, 0.95])
        horizons.append(Horizon(name, time, float(np.quantile(q, 1 - confidence)), float(low), float(middle), float(high)))
    last = horizons[-1]
    tested = draws.tested_rate
    flow = last.flow
    if flow > tested:
        flow = tested
        notes.append(Advisory("tested-rate", "doubt", f"The sums allow more ({show(last.flow, 'flow')}), but the bore was never pumped harder than "
                              f"{show(tested, 'flow')}: the rating stops there.", "flow"))
    if last.flow <= 0:
        notes.append(Advisory("no-room", "danger", "In a bad year the level at rest may fall to the guard: the pump would run dry.", "guard_depth"))
    if last.low > 0 and last.high / last.low > 10:
        notes.append(Advisory("wide", "doubt", "The band is wide because little is known: a longer test at a steady rate narrows it.", "test"))
    curve = np.array([np.quantile(flows(float(t)), [0.05, 1 - confidence, 0.5, 0.95]) for t in CURVE_TIMES]).T
    level_flows = np.linspace(0.0, max(1.6 * flow, min(1.2 * tested, 2 * last.middle), 1e-6), 25)
    levels = {}
    for name, time, rested in (("new", DAY, 0.0), ("tenth dry season", 10 * YEAR, 1.0)):
        linear, room = unit(time), left(time)
        depth = static_level + (head - room)[:, None] * rested + linear[:, None] * level_flows + draws.well_loss[:, None] * level_flows**2
        levels[name] = np.quantile(depth, [0.1, 0.5, 0.9], axis=0)
    pumping = float(np.interp(flow, level_flows, levels["tenth dry season"][1]))
    chance = None
    if need is not None:
        require_positive(need=need)
        chance = float(np.mean(flows(HORIZONS[-1][1]) >= need))
        if need > tested:
            notes.append(Advisory("need-above-test", "doubt", "The need is more than the bore was ever pumped; the chance told for it rests on a sum alone.", "need"))
    notes.append(Advisory("belief", "note", f"Edges not yet felt are put in as a belief: chance of none {belief.boundaries[0]:.0%}, one {belief.boundaries[1]:.0%}, "
                          f"two {belief.boundaries[2]:.0%}. Rain that refills the ground over the years is not counted.", "boundaries"))
    how = "day and night" if on == 1 else f"{hours_per_day:g} hours a day"
    capped = ", the most it was pumped in the test," if last.flow > tested else ""
    sentence = (f"{show(flow, 'flow')}{capped} can be pumped {how} for ten years with at least {confidence:.0%} confidence; what the ground could give "
                f"lies 9 times in 10 between {show(last.low, 'flow')} and {show(last.high, 'flow')}.")
    return Rating(
        flow, last.low, last.high, confidence, tuple(horizons), static_level, guard_depth, float(np.median(left(HORIZONS[-1][1]))), pumping, CURVE_TIMES.copy(),
        curve, level_flows, levels, _rules(draws, test, float(np.median(left(HORIZONS[-1][1])))), draws.basis, sentence, chance, hours_per_day, tuple(notes))


def _edges(draws: Draws, belief: RatingBelief, rng: np.random.Generator) -> np.ndarray:
    """Return when each unseen edge is felt, shape (samples, 2) [s]; without end where there is none."""
    count = rng.choice(3, size=draws.transmissivity.size, p=np.array(belief.boundaries) / sum(belief.boundaries))
    first = max(draws.seen_until, 600.0)
    felt = np.exp(rng.uniform(math.log(first), math.log(max(30 * YEAR, 2 * first)), (count.size, 2)))
    felt[count < 1, 0] = np.inf
    felt[count < 2, 1] = np.inf
    return felt


def _edge_terms(edges: np.ndarray, draws: Draws, time: float) -> np.ndarray:
    # An image bore whose W(u) reaches 0.56 (u = 0.5) at the time that the edge is felt; by then it bends the curve plainly.
    with np.errstate(over="ignore"):
        return exp1(np.minimum(0.5 * edges / time, 700.0)).sum(axis=1) / (4.0 * np.pi * draws.transmissivity)


def _rules(draws: Draws, test: TestFit | Airlift, available: float) -> tuple[Rule, ...]:
    if isinstance(test, Airlift) or available <= 0 or draws.curve is None:
        return ()
    hundred, day, end, next_decade = draws.curve
    return rules_beside(rate=draws.tested_rate, transmissivity=draws.plain_transmissivity, at_hundred_minutes=hundred, at_one_day=day,
                        growth=next_decade - end, available=available)


def rating_as_dict(rating: Rating) -> dict[str, Any]:
    """Return the rating as plain JSON types, SI; `levels` holds depth of the pumping level as a curve of flow, for the pump."""
    return {
        "flow": rating.flow, "low": rating.low, "high": rating.high, "confidence": rating.confidence, "hours_per_day": rating.hours_per_day,
        "static_level": rating.static_level, "guard_depth": rating.guard_depth, "available_drawdown": rating.available, "pumping_level": rating.pumping_level,
        "horizons": [{"name": h.name, "time_s": h.time, "flow": h.flow, "low": h.low, "middle": h.middle, "high": h.high} for h in rating.horizons],
        "curve": {"time_s": rating.curve_time.tolist(), "low": rating.curve_flow[0].tolist(), "flow": rating.curve_flow[1].tolist(),
                  "middle": rating.curve_flow[2].tolist(), "high": rating.curve_flow[3].tolist()},
        "levels": {name: {"flow": rating.level_flows.tolist(), "shallow": q[0].tolist(), "depth": q[1].tolist(), "deep": q[2].tolist()}
                   for name, q in rating.levels.items()},
        "rules": [{"rule": r.rule, "flow": r.flow, "source": r.source, "note": r.note} for r in rating.rules],
        "chance_of_need": rating.chance_of_need,
        "basis": rating.basis, "sentence": rating.sentence,
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in rating.advisories],
    }
