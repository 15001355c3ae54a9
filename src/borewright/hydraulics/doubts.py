"""What to refuse and what to doubt in test readings and in a fit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from borewright.errors import Advisory, BadInput
from borewright.hydraulics.confined import JACOB
from borewright.hydraulics.ratehistory import RateHistory

if TYPE_CHECKING:
    from borewright.hydraulics.fitted import AlsoPumped, Estimate, Levels
    from borewright.hydraulics.solutions import Place, Solution

__all__ = ["doubts_of_data", "doubts_of_fit", "radius_seen"]


MOST = {"time": 1e15, "drawdown": 1e8}  # s, m: beyond any test and any slip of the unit, which is doubted and not refused
SOONEST = 1e-6  # s after the start: nothing is read sooner


def doubts_of_data(levels: Sequence[Levels], history: RateHistory, also: Sequence[AlsoPumped] = ()) -> tuple[tuple[Levels, ...], tuple[Advisory, ...]]:
    """Return readings in order of time with those before the pump left out, and what was noticed.

    Raises
    ------
    BadInput
        No reading, a value that is not finite, times and drawdowns that do not pair, drawdown that is nowhere above zero or never changes.
    """
    from borewright.hydraulics.fitted import Levels

    notes: list[Advisory] = []
    if not levels:
        raise BadInput("data", None, "holds no readings", "rows of time and drawdown")
    clean = []
    begins = min(h.starts[0] for h in (history, *(one.history for one in also)))
    for one in levels:
        time, drawdown = np.asarray(one.time, dtype=float).ravel(), np.asarray(one.drawdown, dtype=float).ravel()
        if time.size != drawdown.size:
            raise BadInput("drawdown", int(drawdown.size), f"does not pair with {time.size} times", "one drawdown for each time")
        for name, values in (("time", time), ("drawdown", drawdown)):
            bad = ~np.isfinite(values)
            if bad.any():
                raise BadInput(name, float(values[bad][0]), f"is not a finite number in {one.well}, reading {int(np.flatnonzero(bad)[0]) + 1}", "a number")
            far = np.abs(values) > MOST[name]
            if far.any():
                raise BadInput(name, float(values[far][0]), f"is beyond any test in {one.well}, reading {int(np.flatnonzero(far)[0]) + 1}", f"at most {MOST[name]:g} {'s' if name == 'time' else 'm'}")
        if one.radius is not None and not (math.isfinite(one.radius) and one.radius >= 0):
            raise BadInput("radius", one.radius, f"is not a distance for {one.well}", "metres from the pumped bore, zero or more")
        before = time <= begins + SOONEST
        if before.any():
            notes.append(Advisory("before-pumping", "note", f"{int(before.sum())} readings of {one.well} from before the pump started were left out.", one.well))
            time, drawdown = time[~before], drawdown[~before]
        if time.size == 0:
            continue
        back = np.flatnonzero(np.diff(time) < 0)
        if 0 < back.size <= 2 and time.size > 4 * back.size:
            at = int(back[0])
            notes.append(Advisory("clock-back", "doubt", f"The clock of {one.well} goes back, from {time[at]:g} s to {time[at + 1]:g} s at reading {at + 2}. The readings were "
                                  "put in order of time; if a clock was set back there, correct the times first.", one.well))
        if back.size:
            notes.append(Advisory("unsorted", "note", f"The readings of {one.well} were not in order of time; they were put in order.", one.well))
            order = np.argsort(time, kind="stable")
            time, drawdown = time[order], drawdown[order]
        repeated = int(np.sum(np.diff(time) == 0))
        if repeated:
            notes.append(Advisory("repeated", "note", f"{repeated} times of {one.well} are written twice; every reading counts.", one.well))
        risen = int(np.sum(drawdown <= 0))
        if risen == drawdown.size:
            raise BadInput("drawdown", float(drawdown.max()), f"is nowhere above zero in {one.well}",
                           "drawdown positive down from the level at rest, above ground or below; turn the sign if the file holds water levels")
        if risen:
            notes.append(Advisory("no-drawdown", "doubt" if 4 * risen > drawdown.size else "note", f"{risen} readings of {one.well} show no drawdown or a rise; they count as read.", one.well))
        if drawdown.max() > 500 or (drawdown.max() < 5e-4 and drawdown.size > 3):
            notes.append(Advisory("unit-suspected", "doubt", f"The largest drawdown of {one.well} is {drawdown.max():g} m. Is the unit right?", one.well))
        if time[-1] > 400 * 86400 or time[-1] < 30:
            notes.append(Advisory("unit-suspected", "doubt", f"The readings of {one.well} end {time[-1]:g} s after the start. Is the time in seconds?", one.well))
        if not also and _shrinks(time, drawdown, history):
            notes.append(Advisory("drawdown-shrinks", "doubt", f"The drawdown of {one.well} shrinks while the pump runs at one rate. Was it read as a level, did the rate "
                                  "fall, or did another pump stop?", one.well))
        clean.append(Levels(time, drawdown, one.radius, one.well, one.pumped, one.observed, one.across))
    if not clean:
        raise BadInput("data", 0, "holds no reading after the pump started", "times above zero")
    everything = np.concatenate([one.drawdown for one in clean])
    if everything.size < 4:
        raise BadInput("data", int(everything.size), "holds too few readings for a fit", "at least four readings after the pump started")
    if all(np.ptp(one.drawdown) == 0 for one in clean):
        raise BadInput("drawdown", float(everything[0]), "never changes, so the test says nothing of the aquifer",
                       "readings from before the level settled, or a look at the sensor")
    if all(np.ptp(one.time) == 0 for one in clean):
        raise BadInput("time", float(clean[0].time[0]), "is the same for every reading", "readings at different times after the pump started")
    largest = history.largest
    if largest <= 0:
        raise BadInput("rate", min(history.rates), "puts water in, yet the levels fell", "the rate out of the ground, above zero")
    if largest > 2.0 or 0 < largest < 1e-7:
        notes.append(Advisory("unit-suspected", "doubt", f"A rate of {largest:g} m3/s is unusual for a bore. Is the unit right?", "rate"))
    return tuple(clean), tuple(notes)


def _shrinks(time: np.ndarray, drawdown: np.ndarray, history: RateHistory) -> bool:
    if len(history.rates) > 1 or time.size < 6:
        return False
    third = time.size // 3
    return float(np.mean(drawdown[-third:])) < 0.9 * float(np.mean(drawdown[:third]))


def radius_seen(time: float, transmissivity: float, storativity: float) -> float:
    """Return how far the cone has spread, sqrt(2.25 T t / S) [m]. Source: Cooper & Jacob (1946)."""
    return math.sqrt(JACOB * transmissivity * time / storativity)


def doubts_of_fit(
    solution: Solution, estimates: Mapping[str, Estimate], levels: Sequence[Levels], places: Sequence[Place], history: RateHistory, streak: float,
) -> tuple[Advisory, ...]:
    """Return what to doubt in a fit."""
    notes: list[Advisory] = []
    last = max(float(one.time[-1]) for one in levels)
    transmissivity = estimates["transmissivity"].value
    if all(p.pumped for p in places) and "storativity" in estimates:
        notes.append(Advisory("storage-from-pumped-bore", "doubt",
                              "Storativity from the pumped bore alone is mixed up with losses at the bore; use the transmissivity only.", "storativity"))
    for name, e in estimates.items():
        if e.at_bound:
            notes.append(Advisory("not-fixed", "doubt", f"The test does not fix the {name.replace('_', ' ')}: its interval has no end on one side.", name))
        elif e.low > 0 and e.high / e.low > 30:
            notes.append(Advisory("loose", "doubt", f"The {name.replace('_', ' ')} is known to no better than a factor of {math.sqrt(e.high / e.low):.0f} "
                                  "either way.", name))
    if solution.name == "theis" and not all(p.pumped for p in places):
        far = radius_seen(last, transmissivity, estimates["storativity"].value)
        notes.append(Advisory("boundary-not-seen", "note", f"The cone had spread about {far:.0f} m when the readings end; an edge farther out has not shown.",
                              "time"))
    if solution.name == "theis" and all(p.pumped for p in places):
        notes.append(Advisory("boundary-not-seen", "note", f"An edge that shows only after {last / 3600:.1f} h of pumping has not been tested for.", "time"))
    if streak > 0.5:
        notes.append(Advisory("streaks", "doubt", "The readings stray from the curve in runs and not at random: the shape is not quite right, or "
                              "the readings are closer than independent. The true uncertainty is wider than the interval.", "fit"))
    if transmissivity * 86400 > 50_000 or transmissivity * 86400 < 1e-4:
        notes.append(Advisory("unit-suspected", "doubt", f"A transmissivity of {transmissivity * 86400:g} m2/d is unusual. Are rate, time and drawdown in "
                              "the units named?", "transmissivity"))
    if not all(p.pumped for p in places) and "storativity" in estimates and estimates["storativity"].value > 0.5:
        notes.append(Advisory("storage-impossible", "doubt", "A storativity above one half is not possible: radius, unit or shape is wrong.", "storativity"))
    if solution.name != "barker" and not all(p.pumped for p in places) and "storativity" in estimates and estimates["storativity"].value < 2e-6:
        notes.append(Advisory("unit-suspected", "doubt", f"A storativity of {estimates['storativity'].value:.1g} is less than ground gives by squeezing. Are rate, time, "
                              "drawdown and distance in the units named?", "storativity"))
    return tuple(notes)
