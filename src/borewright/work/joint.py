"""One fit over everything that watched the same pumping: the run, its recovery, and every bore that was read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

import numpy as np

from borewright.errors import Advisory, BadInput, BorewrightError
from borewright.record.entries import Entry
from borewright.record.fold import Hole
from borewright.work.facts import the_hole
from borewright.work.runs import Readings, bore_radius_of, casing_radius_of, readings_together, run_of, runs_together
from borewright.work.testdoubts import doubts_of_run

if TYPE_CHECKING:
    from borewright.hydraulics import PartOpen, TestFit
    from borewright.storage import JobBook

__all__ = ["Together", "fit_together", "keep_fit", "kept_part", "looks_of", "result_for", "si_holds"]

CURVE_POINTS = 80
MOST_DOTS, PAPER_DOTS = 500, 150  # readings drawn on a page, and kept for a paper
PARTS_DIFFER = 1.5  # times in transmissivity, between the runs fitted alone


@dataclass(frozen=True, slots=True)
class Together:
    """A fit over one or more runs: the fit, the readings it rests on, what was held, and what the runs say of each other."""

    fit: TestFit
    readings: Readings
    runs: tuple[str, ...]
    held: Mapping[str, float]
    advisories: tuple[Advisory, ...] = ()


def si_holds(given: Mapping[str, float]) -> dict[str, float]:
    """Return parameters to hold by their name in SI, from keys as a result has them (transmissivity_m2_per_d). Raises BadInput."""
    from borewright.hydraulics import SOLUTIONS

    known = {p.key: p for s in SOLUTIONS.values() for p in s.parameters}
    held = {}
    for key, value in given.items():
        if key not in known:
            raise BadInput(key, value, "is not a parameter of any solution", "one of " + ", ".join(sorted(known)))
        held[known[key].name] = value / known[key].factor
    return held


def fit_together(
    hole: Hole, run: str, *, alone: bool = False, solutions: Sequence[str] | None = None, hold: Mapping[str, float] | None = None, robust: bool = False,
    thickness: float | None = None, intervals: bool = True, part_open: PartOpen | None = None, observed: Mapping[str, tuple[float, float]] | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> Together:
    """Return the fit of a run, together with its recovery and the other bores that watched the same pumping unless `alone`.

    `hold` names parameters in SI that stay at a value while the rest is fitted. `part_open` says how the pumped bore is open to part of a confined
    aquifer, `observed` over which part another bore is, by its name (top and bottom below the aquifer's top [m]; the whole if not said).
    """
    from borewright.hydraulics import fit_test

    tests = [run_of(hole, run)] if alone else runs_together(hole, run)
    readings = readings_together(tests)
    if observed:
        wells = [one.well for one in readings.levels]
        strange = next((name for name in observed if name not in wells), None)
        if strange is not None:
            raise BadInput("observed", strange, "is not a bore that was read", "one of " + ", ".join(wells))
        readings = replace(readings, levels=tuple(replace(one, observed=observed.get(one.well)) for one in readings.levels))
    radius = bore_radius_of(hole)
    fit = fit_test(readings.levels, rate=readings.history, bore_radius=radius, casing_radius=casing_radius_of(hole), solutions=solutions, hold=hold, robust=robust, thickness=thickness, intervals=intervals, part_open=part_open, also=readings.also, progress=progress)
    notes = tuple(note for test in tests for note in doubts_of_run(hole, test.run.body.model_dump()))
    notes = tuple(dict.fromkeys(notes)) + (_agreement(tests, radius) if len(tests) > 1 and not hold and intervals else ())
    return Together(fit, readings, tuple(t.run.body.run for t in tests), dict(hold or {}), notes)


def _agreement(tests: Sequence[Any], radius: float | None) -> tuple[Advisory, ...]:
    """Return a doubt where the runs fitted each alone give transmissivities that do not go together."""
    from borewright.hydraulics import fit_test

    values = {}
    for test in tests:
        try:
            part = readings_together([test])
            fit = fit_test(part.levels, rate=part.history, bore_radius=radius, solutions=["theis"], intervals=False, also=part.also)
        except BorewrightError:
            continue  # too few readings to stand alone say nothing about agreement
        values[test.run.body.run] = fit.fits[0].parameters["transmissivity"].value
    if len(values) < 2:
        return ()
    low, high = min(values, key=values.get), max(values, key=values.get)
    if values[high] < PARTS_DIFFER * values[low]:
        return ()
    return (Advisory("runs-differ", "doubt", f"Fitted alone, {high} gives {values[high] / values[low]:.2g} times the transmissivity of {low}: look at the rate and the "
                     "loss at the bore before the joint fit is trusted.", "run"),)


def _own(together: Together, run: str, place: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a run's own readings in one bore, with times from the run's own start, up to where its recovery takes over."""
    shift = together.readings.shifts[run]
    levels = together.fit.levels[place]
    ends = [together.readings.shifts[r] for r in together.runs if together.readings.shifts[r] > shift]
    use = (levels.time > shift) & (levels.time <= (min(ends) if ends else np.inf))
    return levels.time[use] - shift, levels.drawdown[use]


def looks_of(together: Together, run: str, solution: str, *, place: int = 0, most: int = MOST_DOTS) -> dict[str, Any] | None:
    """Return what the plots of a run hold, beside the curve of a solution; None where fewer than two readings are its own.

    `place` counts the run's bores, its own first. Keys: recovery, time_s, drawdown_m, curve_time_s, curve_m, residual_m; for the log-log plot
    fall_time_s, fall_m, slope_time_s, slope_m with fit_fall_time_s, fit_fall_m, fit_slope_time_s, fit_slope_m (a recovery by Agarwal's equivalent
    time, as the rise since the stop); for a recovery ratio and fit_ratio, time since the start over time since the stop.
    """
    from borewright.hydraulics import diagnostic_derivative, equivalent_time, model_drawdown, thinned

    fit, shift = together.fit, together.readings.shifts[run]
    well = together.readings.wells[run][place]
    since, level = _own(together, run, well)
    if since.size < 2:
        return None
    if since.size > most:
        since, level = thinned(since, level, a_decade=60)
    times = np.geomspace(since[0], since[-1], CURVE_POINTS)
    curve = model_drawdown(fit, solution, times + shift, well=well)
    recovery = shift > 0
    found: dict[str, Any] = {"recovery": recovery, "time_s": since, "drawdown_m": level, "curve_time_s": times, "curve_m": curve,
                             "residual_m": level - model_drawdown(fit, solution, since + shift, well=well)}
    at, fall, along, fitted = since, level, times, curve
    if recovery:
        found |= {"ratio": (since + shift) / since, "fit_ratio": (times + shift) / times}
        top = float(model_drawdown(fit, solution, np.array([shift]), well=well)[0])
        at, fall, along, fitted = equivalent_time(since, pumped_for=shift), top - level, equivalent_time(times, pumped_for=shift), top - curve
    # Under rates that change a slope on the time since the start says nothing of the ground.
    steady = sum(q > 0 for q in together.readings.history.rates) == 1
    if at.size >= 5 and steady:
        slope_at, slopes = diagnostic_derivative(at, fall)
        fit_at, fit_slopes = diagnostic_derivative(along, fitted)
        found |= {"fall_time_s": at, "fall_m": fall, "slope_time_s": slope_at, "slope_m": slopes, "fit_fall_time_s": along, "fit_fall_m": fitted, "fit_slope_time_s": fit_at, "fit_slope_m": fit_slopes}
    return {k: v if isinstance(v, bool) else [float(x) for x in v] for k, v in found.items()}


def kept_part(result: Mapping[str, Any]) -> dict[str, Any]:
    """Return `part_open` and `observed` for `fit_together` as a kept result has them, or nothing where the bore was taken as open to the whole aquifer."""
    from borewright.hydraulics import PartOpen

    told = result.get("part_open")
    if not told:
        return {}
    pairs = zip(result.get("wells", ()), told.get("observed_m", ()), strict=False)
    observed = {well["well"]: (interval[0], interval[1]) for well, interval in pairs if interval and not well["pumped"]}
    return {"part_open": PartOpen(told["thickness_m"], (told["top_m"], told["bottom_m"]), told["anisotropy"]), "observed": observed}


def result_for(together: Together, run: str, *, chosen: str | None = None) -> dict[str, Any]:
    """Return what is kept for one run: every fit, with the curve of the chosen solution through the run's own bore and times.

    Raises
    ------
    BadInput
        `chosen` was not fitted.
    """
    from borewright.hydraulics import SOLUTIONS, fits_as_dict, model_drawdown

    fit = together.fit
    result = fits_as_dict(fit)
    if chosen is not None and chosen not in {f.solution for f in fit.fits}:
        raise BadInput("solution", chosen, "was not fitted to this test", "one of " + ", ".join(f.solution for f in fit.fits))
    if chosen is not None and chosen != fit.best:
        result |= {"best": chosen, "best_by_aicc": fit.best, "sentence": f"Chosen by hand. {next(f.sentence for f in fit.fits if f.solution == chosen)}"}
    well = together.readings.wells[run][0]
    shift = together.readings.shifts[run]
    levels = together.readings.levels[well]
    ends = [t - shift for t in levels.time if t > shift]
    stop = min((together.readings.shifts[r] for r in together.runs if together.readings.shifts[r] > shift), default=None)
    last = max(ends) if stop is None else min(max(ends), stop)
    times = np.geomspace(max(min(ends), 1.0), max(last, 2.0), CURVE_POINTS)
    looks = looks_of(together, run, result["best"], most=PAPER_DOTS)
    if looks:
        # To five figures: a paper draws them, and the readings themselves are kept elsewhere.
        result["looks"] = {k: v if isinstance(v, bool) else [float(f"{x:.5g}") for x in v] for k, v in looks.items()}
    for row in result["fits"]:
        if row["solution"] == result["best"]:
            curve = model_drawdown(fit, row["solution"], times + shift, well=well)
            row["curve"] = {"time_s": [float(t) for t in times], "drawdown_m": [float(s) for s in curve]}
    if len(together.runs) > 1:
        result["together"] = list(together.runs)
    if together.held:
        keys = {p.name: p for s in SOLUTIONS.values() for p in s.parameters}
        result["held"] = {keys[n].key: v * keys[n].factor for n, v in together.held.items()}
    result["advisories"] += [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in together.advisories]
    return result


def keep_fit(
    book: JobBook, job_id: UUID, run: str, *, by: str, hole: int | None = None, alone: bool = False, chosen: str | None = None, hold: Mapping[str, float] | None = None,
    robust: bool = False, part_open: PartOpen | None = None, observed: Mapping[str, tuple[float, float]] | None = None, why: str = "", at: datetime | None = None,
    together: Together | None = None,
) -> list[Entry]:
    """Fit, and write the result down for each run that it rests on, with the solution chosen by hand and what was held.

    `together`: the fit where it is worked out already from the same entries and the same asks.

    Raises
    ------
    BadInput
        As `fit_together`; a solution that was not fitted.
    """
    logged = the_hole(book.job(job_id), hole)
    together = together or fit_together(logged, run, alone=alone, hold=hold, robust=robust, solutions=[chosen] if chosen and hold else None, part_open=part_open, observed=observed)
    entries = []
    for name in together.runs:
        result = result_for(together, name, chosen=chosen)
        if robust:
            result["robust"] = True
        if why:
            result["why"] = why
        entries.append(book.write(job_id, "test.fitted", {"hole": logged.number, "run": name, "result": result}, by=by, at=at))
    return entries
