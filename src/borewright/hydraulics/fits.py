"""Fitting a pumping test: which solutions, from where they start, how sure the parameters are, and which shape the test supports."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import stdtrit

from borewright.errors import Advisory, BadInput
from borewright.hydraulics.confined import JACOB, straight_line_drawdown
from borewright.hydraulics.doubts import doubts_of_data, doubts_of_fit
from borewright.hydraulics.engine import Pressed, bounded_least_squares, node_map, press, profile_intervals, response_at
from borewright.hydraulics.fitted import AlsoPumped, Estimate, FittedSolution, Levels, TestFit
from borewright.hydraulics.partial import PartOpen
from borewright.hydraulics.problem import Problem, largest_streak, raced, spread_of
from borewright.hydraulics.ratehistory import RateHistory, steady_rate
from borewright.hydraulics.solutions import (
    DAY,
    MANY_PUMPED,
    PART_OPEN,
    SOLUTIONS,
    GridData,
    Place,
    Solution,
    solution_named,
)
from borewright.threads import one_thread

__all__ = ["fit_test", "model_drawdown"]

PUMPED_RADIUS = 1.0
ASSUMED_RADIUS = 0.1
STARTS = 5
APART = 0.3  # of a logarithm, between two optima that are not one
EDGE_SHOWS = 10.0  # units of AICc that one edge must win before two are looked for


def fit_test(
    levels: Sequence[Levels], *, rate: float | RateHistory, solutions: Sequence[str] | None = None, bore_radius: float | None = None,
    casing_radius: float | None = None, thickness: float | None = None, robust: bool = False, confidence: float = 0.9,
    hold: Mapping[str, float] | None = None, intervals: bool = True, part_open: PartOpen | None = None, also: Sequence[AlsoPumped] = (),
    progress: Callable[[str, int, int], None] | None = None,
) -> TestFit:
    """Return a pumping or recovery test fitted with each solution asked for.

    Parameters
    ----------
    levels : sequence of Levels
        One for each bore read; all are fitted together.
    rate : float or RateHistory
        Steady rate, or the history with its changes and stops [m3/s].
    solutions : sequence of str, optional
        Names from `SOLUTIONS`, or "cooper-jacob"; by default those that suit the bores read.
    bore_radius, casing_radius : float, optional
        Of the pumped bore [m]; used where the water standing in it counts.
    thickness : float, optional
        Saturated thickness of a water-table aquifer [m]: drawdowns are corrected for thinning (Jacob) before the fit.
    robust : bool
        Readings far off the curve count less (Huber weights).
    confidence : float
        Of the profile-likelihood intervals.
    hold : mapping, optional
        Parameter values in SI to hold while the rest is fitted (a value typed or a curve dragged).
    intervals : bool
        False leaves the intervals at the value, for speed.
    part_open : PartOpen, optional
        How the pumped bore is open to part of the aquifer; the pumped bore's own level is read over its screen. For Theis, leaky, and one edge.
    also : sequence of AlsoPumped
        Other bores that pumped meanwhile: their drawdowns add up. For solutions that hang on the distance from a pumping bore alone (`MANY_PUMPED`).
    progress : callable, optional
        Told the title of each solution before it is fitted, how many are done, and how many there are.

    Returns
    -------
    TestFit

    Raises
    ------
    BadInput
        Too few readings, no drawdown, drawdown that does not change, an unknown solution.
    """
    # The matrices are small: threads that wait for one another on a busy machine would cost many times the work.
    with one_thread():
        return _fit_test(levels, rate, solutions, bore_radius, casing_radius, thickness, robust, confidence, hold, intervals, part_open, also, progress)


def _fit_test(levels, rate, solutions, bore_radius, casing_radius, thickness, robust, confidence, hold, intervals, part_open, also, progress) -> TestFit:
    history = rate if isinstance(rate, RateHistory) else steady_rate(float(rate))
    if not 0.5 <= confidence < 1:
        raise BadInput("confidence", confidence, "is not a confidence", "0.5 to 0.999")
    for name, value in (("bore_radius", bore_radius), ("casing_radius", casing_radius), ("thickness", thickness)):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise BadInput(name, value, "must be above zero", "a length in metres")
    for name, value in (hold or {}).items():
        if not (math.isfinite(value) and value > 0):
            raise BadInput(name, value, "cannot be held at that value", "a number above zero, in SI")
    clean, notes = doubts_of_data(levels, history, also)
    if thickness is not None:
        from borewright.hydraulics.unconfined import thinning_corrected

        clean = tuple(replace(one, drawdown=thinning_corrected(one.drawdown, thickness=thickness)) for one in clean)
    places = tuple(_place(one, bore_radius, casing_radius, part_open, also) for one in clean)
    readied = tuple(replace(one, radius=place.radius, pumped=place.pumped) for one, place in zip(clean, places, strict=True))
    histories = (history, *(one.history for one in also))
    pressed = [press(one.time, one.drawdown, histories) for one in readied]
    wanted = _wanted(solutions, places, bore_radius)
    if part_open is not None:
        wanted = _kept_to(wanted, PART_OPEN, "does not take a bore open to part of the aquifer", asked=solutions is not None)
    if also:
        if part_open is not None:
            raise BadInput("part_open", len(also) + 1, "bores pumped: the part that a bore is open to is known for one only", "one pumped bore, or bores open to the whole aquifer")
        wanted = _kept_to(wanted, MANY_PUMPED, "does not take several pumped bores", asked=solutions is not None)
    if solutions is None and thickness is not None and part_open is None and not any(p.pumped for p in places):
        wanted.append("neuman")
    fits, refused = [], []

    def fit_one(solution: Solution) -> FittedSolution | None:
        return _fit_one(solution, pressed, places, readied, histories, confidence=confidence, robust=robust, hold=hold or {}, intervals=intervals)

    for done, name in enumerate(wanted):
        if progress is not None:
            progress(SOLUTIONS[name].title if name in SOLUTIONS else "straight line", done, len(wanted))
        if name == "cooper-jacob":
            fits.append(_straight_line(readied, history, confidence))
            continue
        solution = SOLUTIONS[name]
        if sum(p.count for p in pressed) < len(solution.parameters) + 2:
            refused.append(name)
            continue
        fitted = fit_one(solution)
        if fitted is None:
            refused.append(name)
        else:
            fits.append(fitted)
    if solutions is None and part_open is None:
        for solution in (SOLUTIONS[name] for name in _second_look(fits, many=bool(also))):
            if sum(p.count for p in pressed) >= len(solution.parameters) + 8:
                if progress is not None:
                    progress(solution.title, len(fits), len(fits) + 1)
                fitted = fit_one(solution)
                fits += [fitted] if fitted is not None else []
    if not fits:
        total = sum(p.count for p in pressed)
        raise BadInput("data", total, "holds too few usable readings for " + ", ".join(refused), "at least four readings of drawdown after the pump started")
    fits.sort(key=lambda f: (f.solution == "cooper-jacob", f.aicc))
    carry = _carried(fits)
    best = _best(fits, carry)
    notes += _doubts_of_set_up(fits, places, casing_radius, clean)
    return TestFit(tuple(fits), best.solution, _compare(fits, best, carry), history, readied, places, confidence, notes, tuple(also))


def _doubts_of_set_up(fits: Sequence[FittedSolution], places: Sequence[Place], casing_radius: float | None, levels: Sequence[Levels]) -> tuple[Advisory, ...]:
    notes = []
    if casing_radius is None and any(f.solution == "papadopulos-cooper" for f in fits):
        notes.append(Advisory("casing-assumed", "doubt", f"The casing's radius is not said; {places[0].casing_radius:g} m was taken for the water standing in the bore.",
                              "casing_radius"))
    if any(p.pumped and one.radius is None for p, one in zip(places, levels, strict=True)):
        notes.append(Advisory("radius-assumed", "note", f"No radius is given: read as the pumped bore, radius {places[0].radius:g} m. Only storativity leans on it.", "radius"))
    if any(p.pumped for p in places) and not all(p.pumped for p in places):
        notes.append(Advisory("joint-with-pumped", "doubt", "The pumped bore is fitted together with the others; losses at the bore bend such a fit. "
                              "Compare with a fit without it.", "well"))
    part = places[0].part
    if part is not None:
        gone = 1.5 * part.thickness / math.sqrt(part.anisotropy)
        notes.append(Advisory("part-open", "note", f"The bore is open to {part.screen[1] - part.screen[0]:g} m of {part.thickness:g} m: a confined aquifer of even thickness is taken, water that enters "
                              f"evenly along the opening, and a vertical over level conductivity of {part.anisotropy:g} that is given, not fitted. Beyond about {gone:.0f} m nothing of it is seen.", "part_open"))
    return tuple(notes)


def _wanted(solutions: Sequence[str] | None, places: Sequence[Place], bore_radius: float | None) -> list[str]:
    pumped = any(p.pumped for p in places)
    if solutions is not None:
        names = []
        for name in solutions:
            key = "cooper-jacob" if str(name).strip().lower().replace("_", "-") in ("cooper-jacob", "jacob") else solution_named(name).name
            if key != "cooper-jacob" and SOLUTIONS[key].where == "pumped" and not all(p.pumped for p in places):
                raise BadInput("solution", name, "holds in the pumped bore only", "readings from the pumped bore, or another solution")
            if key == "papadopulos-cooper" and bore_radius is None and not all(p.pumped for p in places):
                raise BadInput("bore_radius", None, "is needed for the water standing in the bore", "the radius of the pumped bore [m]")
            names.append(key)
        return list(dict.fromkeys(names))
    only_pumped = all(p.pumped for p in places)
    names = ["theis", "hantush-jacob", "theis-barrier", "theis-recharge"]
    if pumped:
        names += ["papadopulos-cooper", "gringarten"] if only_pumped else []
    return names


def _kept_to(names: Sequence[str], able: Sequence[str], problem: str, *, asked: bool) -> list[str]:
    unfit = [name for name in names if name not in able]
    if unfit and asked:
        raise BadInput("solution", unfit[0], problem, ", ".join(able))
    return [name for name in names if name in able]


def _second_look(fits: Sequence[FittedSolution], *, many: bool) -> list[str]:
    """Return what else to fit: blocks beside fractures where the simple shapes leave residuals in streaks, two edges where one edge shows."""
    if not fits:
        return []
    value = {f.solution: f.aicc for f in fits}
    names = ["warren-root"] if min(fits, key=lambda f: f.aicc).streak > 0.5 else []
    for edge, both in (("theis-barrier", "two-barriers"), ("theis-recharge", "two-rivers")):
        if not many and edge in value and value[edge] <= min(value.values()) + 10.0 and value[edge] < value["theis"] - EDGE_SHOWS:
            names += [both, "barrier-and-river"]
    return list(dict.fromkeys(names))


def _place(one: Levels, bore_radius: float | None, casing_radius: float | None, part: PartOpen | None, also: Sequence[AlsoPumped]) -> Place:
    radius = one.radius
    near = radius is None or radius < PUMPED_RADIUS or (bore_radius is not None and radius <= bore_radius * 1.001)
    pumped = one.pumped if one.pumped is not None else near
    if radius is None or radius == 0:
        radius = bore_radius or ASSUMED_RADIUS
    elif pumped and bore_radius is not None:
        radius = bore_radius
    own = bore_radius or (radius if pumped else ASSUMED_RADIUS)
    # A level averaged over the whole thickness does not feel the part-opening.
    observed = None if part is None else (part.screen if pumped else one.observed)
    if part is not None and observed is not None and not 0 <= observed[0] < observed[1] <= part.thickness * (1 + 1e-9):
        raise BadInput("observed", list(observed), f"is not an interval of the aquifer, for {one.well}", f"top above bottom, within 0 and {part.thickness:g} m")
    across = 0.0 if pumped else one.across
    if not (math.isfinite(across) and abs(across) <= radius * (1 + 1e-9)):
        raise BadInput("across", one.across, f"is not a distance across the strip for {one.well}", f"at most its distance from the pumped bore, {radius:g} m, either way")
    others = tuple(_distance(other, one.well, own) for other in also)
    return Place(float(radius), bool(pumped), float(min(own, radius)), float(casing_radius or own), part, observed, float(across), others)


def _distance(other: AlsoPumped, well: str, own: float) -> float:
    """Return how far a bore read is from another that pumped; in that bore itself, its radius [m]."""
    distance = other.distances.get(well)
    if distance is None:
        raise BadInput("distances", well, f"has no distance from {other.name}, which pumped too", "its distance in metres from each bore that pumped")
    if not (math.isfinite(distance) and distance >= 0):
        raise BadInput("distances", distance, f"is not the distance of {well} from {other.name}", "metres, zero or more")
    return float(max(distance, own))


def _grid(problem: Problem) -> tuple[np.ndarray, int]:
    """Return trial points to start from, and how many settings of what stands beside T and S they hold, running fastest."""
    solution = problem.solution
    radius = float(np.exp(np.mean([math.log(p.radius) for p in problem.places])))
    middle = float(np.median(np.concatenate([one.nodes for one in problem.pressed])))
    first = min(float(one.nodes.min()) for one in problem.pressed)
    last = max(float(one.nodes.max()) for one in problem.pressed)
    argument = np.geomspace(1e-9, 4.0, 20) if radius >= PUMPED_RADIUS else np.geomspace(1e-16, 0.5, 20)
    diffusivity = radius**2 / (4.0 * argument * middle)
    extra = solution.grid(GridData(radius, first, last, diffusivity))
    names = [p.name for p in solution.parameters]
    if "storativity" in names:
        if solution.scales:
            axes = {"transmissivity": np.array([1e-3]), "storativity": 1e-3 / diffusivity}
        else:
            axes = {"transmissivity": np.geomspace(1e-7, 1e-1, 13), "storativity": np.geomspace(1e-14, 0.3, 12)}
    else:
        # The fracture: one scale of time in place of storativity.
        axes = {"transmissivity": np.array([1e-3]), "fracture_storage": 1e-3 * middle / np.geomspace(1e-3, 1e4, 22)}
    axes |= {{"exchange_time": "interflow"}.get(name, name): values for name, values in extra.items()}
    mesh = np.meshgrid(*(np.log(axes[p.name]) if p.logarithmic else axes[p.name] for p in solution.parameters), indexing="ij")
    grid = np.stack([m.ravel() for m in mesh], axis=1)
    for j, p in enumerate(solution.parameters):
        if p.name in (solution.edges or ()):
            grid[:, j] += 0.5 * (grid[:, 0] - grid[:, 1])
    if "exchange_time" in extra:
        # Blocks give within the test or not to be seen at all: interflow from the time that they take, S_m / (interflow T).
        grid[:, 3] = grid[:, 2] + grid[:, 1] - grid[:, 0] - grid[:, 3]
    return grid, int(np.prod(mesh[0].shape[2:]))


def _fit_one(
    solution: Solution, pressed: Sequence[Pressed], places: Sequence[Place], levels: Sequence[Levels], histories: Sequence[RateHistory], *,
    confidence: float,
    robust: bool, hold: Mapping[str, float], intervals: bool,
) -> FittedSolution | None:
    problem = Problem(solution, pressed, places)
    names = [p.name for p in solution.parameters]
    free = np.array([n not in hold for n in names])
    grid, settings = _grid(problem)
    for j, p in enumerate(solution.parameters):
        if p.name in hold:
            grid[:, j] = math.log(hold[p.name]) if p.logarithmic else hold[p.name]
    starts = problem.starts(grid, STARTS, settings=settings) if free.all() else _held_starts(problem, grid, free)
    found = raced(problem, starts, free)
    if not found:
        return None
    if solution.edges is not None and _alike(solution, places) and free.all():
        found = [_near_first(solution, one) for one in found]
    # Of optima that the readings cannot tell apart, one inside the bounds.
    least = min(f[1] for f in found) + problem.floor
    near = [f for f in found if f[1] + problem.floor <= least * 1.001]
    best = min(near, key=lambda f: (bool(np.any((f[0] <= problem.low) | (f[0] >= problem.high))), f[1]))
    if robust:
        best, problem = _reweighted(problem, best, levels, histories, free)
    point, least, jacobian = best
    parameters = int(free.sum())
    total = least + problem.floor
    spare = max(problem.count - parameters, 1)
    # Below rounding of the readings a perfect fit has no spread of its own.
    tiny = 1e-16 * sum(float(one.target @ one.target) + one.floor for one in problem.pressed)
    variance = max(total, tiny) / spare
    index = np.flatnonzero(free)
    ratio, carry = np.ones(point.size), 1.0
    if intervals:
        spread, streak = spread_of(problem, point, index, max(total, tiny) / spare, spare)
        ratio[index], carry, spare = spread.ratio, spread.carry, spread.freedom
    else:
        streak = largest_streak(problem.kept_residuals(point[None, :]))
    rise = variance * ratio * float(stdtrit(spare, 0.5 + confidence / 2.0)) ** 2
    normal = jacobian[:, index].T @ jacobian[:, index]
    wider = np.sqrt(ratio[index])
    covariance = np.linalg.pinv(normal, rcond=1e-14, hermitian=True) * variance * wider[:, None] * wider
    estimates = {}
    full = np.zeros((point.size, point.size))
    full[np.ix_(index, index)] = covariance
    asked = free & intervals
    sides = profile_intervals(problem.residuals, point, least, rise, problem.low, problem.high, jacobian=jacobian, free=free) if intervals else []
    if intervals and not robust and solution.edges is not None:
        # Two edges fit in more than one way, far apart, where one edge fits in one.
        sides = _joined(problem, sides, found, best, rise, free)
    for j, p in enumerate(solution.parameters):
        value = math.exp(point[j]) if p.logarithmic else float(point[j])
        if not asked[j]:
            estimates[p.name] = Estimate(value, value, value)
            continue
        low, high = sides[j]
        ends = tuple(end for end, there in (("low", low <= problem.low[j] + 1e-9), ("high", high >= problem.high[j] - 1e-9)) if there)
        pair = (math.exp(low), math.exp(high)) if p.logarithmic else (low, high)
        estimates[p.name] = Estimate(value, *pair, open_ends=ends)
    advisories = doubts_of_fit(solution, estimates, levels, places, histories[0], streak)
    return FittedSolution(
        solution.name, solution.title, estimates, _derived(solution.name, estimates), _aicc(total, tiny, problem.count, parameters),
        math.sqrt(total / problem.count), problem.count, solution.sentence, solution.source, advisories, streak,
        carry, tuple(map(float, point)), full)


def _joined(problem: Problem, sides, found, best, rise: np.ndarray, free: np.ndarray):
    """Return the intervals widened to those around another optimum where the readings allow it too."""
    for point, value, jacobian in found:
        left = rise - (value - best[1])
        if value <= best[1] or np.max(np.abs(point - best[0])) < APART or np.any(left[free] <= 0):
            continue
        beside = profile_intervals(problem.residuals, point, value, left, problem.low, problem.high, jacobian=jacobian, free=free)
        sides = [(min(a, c), max(b, d)) for (a, b), (c, d) in zip(sides, beside, strict=True)]
    return sides


def _alike(solution: Solution, places: Sequence[Place]) -> bool:
    """True where two edges can change places and nothing is seen of it."""
    return solution.edges[0] == "near_edge" and all(place.across == 0 for place in places)


def _near_first(solution: Solution, best):
    """Return an optimum with the nearer of two edges first."""
    at = [next(j for j, p in enumerate(solution.parameters) if p.name == name) for name in solution.edges]
    point, value, jacobian = best
    if point[at[0]] <= point[at[1]]:
        return best
    order = np.arange(point.size)
    order[at] = at[::-1]
    return point[order], value, jacobian[:, order]


def _held_starts(problem: Problem, grid: np.ndarray, free: np.ndarray) -> list[np.ndarray]:
    if free[0]:
        scan = np.log(np.geomspace(1e-8, 1.0, 17))
        grid = np.repeat(grid, scan.size, axis=0)
        shift = np.tile(scan, grid.shape[0] // scan.size) - grid[:, 0]
        grid[:, 0] += shift
        if free[1]:
            grid[:, 1] += shift
    residual = problem.residuals(grid)
    error = np.where(np.all(np.isfinite(residual), axis=1), np.sum(residual**2, axis=1), np.inf)
    return [np.clip(grid[row], problem.low, problem.high) for row in np.argsort(error)[:3] if np.isfinite(error[row])]


def _reweighted(problem: Problem, best, levels, histories, free):
    """Refit with Huber weights until they settle; the spread is the median absolute residual."""
    weights = None
    for _ in range(12):
        off = [one.drawdown - _at(problem.solution, place, best[0], one.time, histories)
               for one, place in zip(levels, problem.places, strict=True)]
        spread = 1.4826 * float(np.median(np.abs(np.concatenate(off)))) or 1e-12
        new = [np.minimum(1.0, 1.345 * spread / np.maximum(np.abs(o), 1e-300)) for o in off]
        if weights is not None and max(float(np.max(np.abs(a - b))) for a, b in zip(new, weights, strict=True)) < 1e-4:
            break
        weights = new
        pressed = [press(one.time, one.drawdown, histories, weights=w) for one, w in zip(levels, weights, strict=True)]
        problem = Problem(problem.solution, pressed, problem.places)
        best = bounded_least_squares(problem.residuals, best[0], problem.low, problem.high, free=free)
    return best, problem


def _at(solution: Solution, place: Place, point: np.ndarray, time: np.ndarray, histories: Sequence[RateHistory]) -> np.ndarray:
    """Return the drawdown of one solution at one place, through the same nodes as the fit."""
    nodes, parts, rows = node_map(time, histories)
    values = {p.name: np.array([[math.exp(v) if p.logarithmic else v]]) for p, v in zip(solution.parameters, point, strict=True)}
    with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
        return rows @ response_at(nodes, parts, solution, place, values)[0]


def model_drawdown(fit: TestFit, solution: str, time: np.ndarray, *, well: int = 0, history: RateHistory | None = None) -> np.ndarray:
    """Return the fitted drawdown at any times [m]: the curve to draw, or the forecast under another rate history of the test's bore alone."""
    one = next((f for f in fit.fits if f.solution == solution), None)
    if one is None:
        raise BadInput("solution", solution, "was not fitted", ", ".join(f.solution for f in fit.fits))
    at = np.asarray(time, dtype=float)
    if solution == "cooper-jacob":
        values = {k: one.parameters[k].value for k in ("transmissivity", "storativity")}
        return np.asarray(straight_line_drawdown(at, fit.places[well].radius, rate=fit.history.largest, **values))
    return _at(SOLUTIONS[solution], fit.places[well], np.array(one.point), at, fit.histories if history is None else (history,))


def _aicc(total: float, tiny: float, count: int, parameters: int) -> float:
    k = parameters + 1
    value = count * math.log(max(total, tiny, 1e-300) / count) + 2 * k
    return value + 2 * k * (k + 1) / (count - k - 1) if count > k + 1 else math.inf


def _derived(name: str, estimates: Mapping[str, Estimate]) -> dict[str, float]:
    value = {k: v.value for k, v in estimates.items()}
    if name == "hantush-jacob":
        return {"resistance_of_leaking_bed_d": value["leakage_factor"] ** 2 / value["transmissivity"] / DAY}
    if name in ("theis-barrier", "theis-recharge"):
        return {"boundary_from_pumped_bore_about_m": value["image_distance"] / 2.0}
    if SOLUTIONS[name].edges is not None:
        return {"width_of_strip_m": sum(value[edge] for edge in SOLUTIONS[name].edges)}
    if name in ("warren-root", "moench"):
        return {"fracture_share_of_storage": 1.0 / (1.0 + value["block_storativity_ratio"])}
    if name == "neuman":
        return {"specific_yield": value["yield_ratio"] * value["storativity"]}
    return {}


def _straight_line(levels: Sequence[Levels], history: RateHistory, confidence: float) -> FittedSolution:
    """Return Cooper & Jacob by least squares on the readings where the line holds, u below 0.05, found by its own T and S."""
    changes, steps = history.changes
    if changes.size != 1 or changes[0] != 0:
        raise BadInput("rate", list(history.rates), "changes during the test", "one steady rate for the straight line; Theis takes any history")
    time = np.concatenate([one.time for one in levels])
    radius = np.concatenate([np.full(one.time.size, one.radius) for one in levels])
    drawdown = np.concatenate([one.drawdown for one in levels])
    axis = np.log(time / radius**2)
    use = np.ones(time.size, bool)
    notes: list[Advisory] = []
    for _ in range(20):
        slope, level = np.polyfit(axis[use], drawdown[use], 1)
        if slope <= 0:
            raise BadInput("drawdown", float(slope), "does not grow with time, so no straight line gives a transmissivity", "drawdown that grows")
        transmissivity = float(steps[0]) / (4.0 * math.pi * slope)
        zero = math.exp(-level / slope)
        storativity = JACOB * transmissivity * zero
        valid = storativity / (4.0 * transmissivity) < 0.05 * np.exp(axis)
        if valid.sum() < 4:
            notes.append(Advisory("line-too-early", "doubt", "Too few readings are late enough for the straight line (u < 0.05); all were used.", "time"))
            use = np.ones(time.size, bool)
            break
        if np.array_equal(valid, use):
            break
        use = valid
    slope, level = np.polyfit(axis[use], drawdown[use], 1)
    transmissivity = float(steps[0]) / (4.0 * math.pi * slope)
    storativity = JACOB * transmissivity * math.exp(-level / slope)
    off = drawdown[use] - level - slope * axis[use]
    count = int(use.sum())
    spare = max(count - 2, 1)
    variance = float(off @ off) / spare
    spread = axis[use] - axis[use].mean()
    reach = float(stdtrit(spare, 0.5 + confidence / 2.0)) * math.sqrt(variance / max(float(spread @ spread), 1e-300))
    low, high = slope + reach, max(slope - reach, 1e-12)
    # The line's value at zero drawdown moves with its slope; hold the centre of the readings.
    centre = float(drawdown[use].mean())
    stored = [float(steps[0]) / (4 * math.pi * b) * JACOB * math.exp(axis[use].mean() - centre / b) for b in (low, high)]
    estimates = {
        "transmissivity": Estimate(transmissivity, float(steps[0]) / (4 * math.pi * low), float(steps[0]) / (4 * math.pi * high)),
        "storativity": Estimate(storativity, min(stored), max(stored)),
    }
    notes.append(Advisory("line-readings", "note", f"The straight line used {count} of {time.size} readings; its AICc is not comparable.", "time"))
    total = float(off @ off)
    return FittedSolution(
        "cooper-jacob", "Straight line on log time (Cooper & Jacob)", estimates, {}, _aicc(total, 1e-300, count, 2), math.sqrt(total / count), count,
        "Late drawdown follows a straight line on log time.", "Cooper & Jacob (1946) Trans. AGU 27:526-534", tuple(notes))


def _carried(fits: Sequence[FittedSolution]) -> float:
    """Return how many readings carry the news of one, by the residuals of the fit of least AICc; 1 where residuals are free of each other."""
    usable = [f for f in fits if f.solution != "cooper-jacob" and math.isfinite(f.aicc)]
    return min(usable, key=lambda f: f.aicc).carry if usable else 1.0


def _weighed(fit: FittedSolution, carry: float) -> float:
    """Return AICc with the readings counted for what they carry: the misfit's part shrinks, the price of a parameter stays."""
    price = 2.0 * (len(fit.parameters) + 1)
    return (fit.aicc - price) / carry + price if math.isfinite(fit.aicc) else math.inf


def _best(fits: Sequence[FittedSolution], carry: float) -> FittedSolution:
    """Return the fit of least AICc among those whose parameters the test fixes; two units of AICc do not pay for a parameter.

    A shape that the readings speak clearly against, 10 units of AICc, is not chosen because they leave a parameter of the others open.

    Among shapes that the test cannot tell apart and that have as many parameters, the plain aquifer without end stands first. Readings close in
    time whose residuals run in streaks count for what they carry, or a logger's thousands would buy any shape.
    """
    usable = [f for f in fits if f.solution != "cooper-jacob"] or list(fits)
    value = {f.solution: _weighed(f, carry) for f in usable}
    borne = min(value.values()) + 10.0
    fixed = [f for f in usable if value[f.solution] <= borne and not any(e.at_bound for e in f.parameters.values())] or usable
    least = min(value[f.solution] for f in fixed)
    near = [f for f in fixed if value[f.solution] <= least + 2.0]
    return min(near, key=lambda f: (len(f.parameters), f.solution != "theis", value[f.solution]))


def _compare(fits: Sequence[FittedSolution], best: FittedSolution, carry: float) -> str:
    others = [f for f in fits if f is not best and f.solution != "cooper-jacob"]
    if not others:
        return best.sentence
    rival = min(others, key=lambda f: _weighed(f, carry))
    gap = _weighed(rival, carry) - _weighed(best, carry)
    if gap < 2:
        how = f"The test cannot tell this from: {rival.title[0].lower()}{rival.title[1:]}."
    elif gap < 10:
        how = f"It is better supported than the next shape, {rival.title}, but not beyond doubt."
    else:
        how = f"The next shape, {rival.title}, fits clearly worse."
    return f"{best.sentence} {how}"
