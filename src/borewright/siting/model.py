"""What a register teaches, fitted once: how strikes lie with depth, how they and their yields vary over the ground."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from borewright.errors import Refused
from borewright.siting import evidence as grade
from borewright.siting.compound import LatentStrikes, latent_strikes
from borewright.siting.datum import Ground, datum_field
from borewright.siting.evidence import Water, datum_depths, water_of
from borewright.siting.fields import (
    Field,
    Posterior,
    best_width,
    correlation,
    distances,
    fit_field,
    gaussian_posterior,
    left_out,
    mode,
    normal_score,
    one_thread,
)
from borewright.siting.habits import ROD, Ended, Endings, Habit, fit_habit, share_at_bottom
from borewright.siting.register import Register
from borewright.siting.shape import Shape, cells_below, fit_shape

__all__ = ["FEWEST", "Layer", "OddsModel", "blocks", "fit_model"]

FEWEST = 8  # bores with a known result below which no figure is given
_BLOCK = 400  # bores in one dense solution
_SAMPLE = 1600  # bores from which widths and spreads are learned
_LARGE, _LARGE_SAMPLE = 6400, 3200  # bores above which they are learned apart from the rest, and from how many
_PART = 100_000  # bores that say their part at once
_FLAT = Field(0.0, 0.0, np.inf, 0.0, 1.0)


@dataclass(frozen=True)
class Layer:
    """A field and what each bore of the register says of it: a value and its precision (0: nothing)."""

    field: Field
    value: np.ndarray
    precision: np.ndarray

    @property
    def told(self) -> np.ndarray:
        """Which bores say anything."""
        return self.precision > 0


@dataclass(frozen=True)
class OddsModel:
    """Everything fitted to a register.

    Attributes
    ----------
    shape : Shape
        Strikes per metre at scale 1 below the datum.
    scale : Layer
        Logarithm of the local scale of strikes.
    water : Layer
        Local mean of the logarithm of a strike's yield [ln(m3/s)].
    datum : Layer or None
        Logarithm of the datum's depth plus one metre; None when the datum is the ground.
    log_yield_sd : float
        Spread of the logarithm of yields between strikes of one place.
    habit : Habit
    deepest : float
        Depth to which records reach well enough [m].
    highest : float
        Largest total yield on record [m3/s].
    known : int
        Bores with a known result.
    spacing : float
        Typical distance between neighbours [m].
    """

    shape: Shape
    scale: Layer
    water: Layer
    datum: Layer | None
    log_yield_sd: float
    habit: Habit
    deepest: float
    highest: float
    known: int
    spacing: float


def blocks(points: np.ndarray, most: int) -> list[np.ndarray]:
    """Return rows of points in compact blocks of at most `most`, by halving along the longest side."""
    out, stack = [], [np.arange(len(points))]
    while stack:
        rows = stack.pop()
        if len(rows) <= most:
            out.append(rows)
            continue
        mine = points[rows]
        axis = int(np.argmax(mine.max(axis=0) - mine.min(axis=0)))
        order = rows[np.argsort(mine[:, axis], kind="stable")]
        stack += [order[: len(order) // 2], order[len(order) // 2 :]]
    return [rows for rows in out if len(rows)]


class _Scale:
    """Log likelihood of the logarithm of the local scale, for each bore, with slope and curvature."""

    def __init__(self, water: Water, exposure: np.ndarray, log_ways: np.ndarray):
        self.grade, self.strikes = water.grade, water.strikes
        self.exposure, self.log_ways = exposure, log_ways

    def __call__(self, eta: np.ndarray, rows: np.ndarray | slice = slice(None)) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        kind, exposure = self.grade[rows], self.exposure[rows]
        expected = exposure * np.exp(np.minimum(eta, 12.0))
        seen = (kind == grade.DRY) | (kind == grade.SEEN)
        count = np.where(seen, self.strikes[rows], 0.0)
        value, spread = count * eta, np.zeros_like(eta)
        many = (kind == grade.HIDDEN) | (kind == grade.WET)
        if many.any():
            total, mean, variance = _counts(eta[many], exposure[many], self.log_ways[:, rows][:, many])
            value[many], count[many], spread[many] = total, mean, variance
        told = kind != grade.UNKNOWN
        slope = np.where(told, count - expected, 0.0)
        # A hidden count bends the likelihood the wrong way here and there; a fraction of the plain curvature keeps Newton's step a climb.
        weight = np.where(told, np.maximum(expected - spread, 0.1 * expected), 0.0)
        return np.where(told, value - expected, 0.0), slope, weight


def _counts(eta: np.ndarray, exposure: np.ndarray, log_ways: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return log sum over the number of strikes, and the number's mean and variance."""
    from scipy.special import gammaln, logsumexp

    k = np.arange(1, len(log_ways) + 1)[:, None]
    terms = k * (eta + np.log(np.maximum(exposure, 1e-12))) - gammaln(k + 1) + log_ways
    total = logsumexp(terms, axis=0)
    share = np.exp(terms - total)
    mean = (k * share).sum(axis=0)
    return total, mean, (k**2 * share).sum(axis=0) - mean**2


class _Fitting:
    """The state of a fit: turns of learning what is hidden, the shape with depth, and the fields."""

    def __init__(self, register: Register, water: Water, start: OddsModel | None, *, most: int = _SAMPLE):
        self.register, self.water, self.start = register, water, start
        self.known = water.grade != grade.UNKNOWN
        n = len(register)
        self.points = register.places
        self.depth = np.maximum(register.depth, 0.1)
        self.first_water = register.first_water
        rows = np.flatnonzero(self.known)
        self.sample = _sample(self.points, rows, most)
        self.parts = [self.sample[b] for b in blocks(self.points[self.sample], _BLOCK)]
        self.separations = [distances(self.points[p], self.points[p]) for p in self.parts]
        spread = self.points[self.sample] - self.points[self.sample].mean(axis=0)
        self.extent = float(max(2.0 * np.sqrt((spread**2).sum(axis=1).mean()), 100.0))
        self.spacing = self._spacing()
        self.eta, self.eta_variance = np.zeros(n), np.full(n, 0.1)
        self.level, self.level_variance = np.zeros(n), np.full(n, 0.05)
        self.scale_field = start.scale.field if start else Field(0.0, 0.5, self.extent / 6, 0.15, 0.3)
        self.yield_field = start.water.field if start else None
        self.sd = start.log_yield_sd if start else 1.0
        self.by_water = np.zeros(n)
        self.habit: Habit | None = None

    def take(self, small: _Fitting, learned: OddsModel) -> None:
        """Take over what was learned from the sample alone, whose rows stand in the same order."""
        self.start = learned
        self.scale_field, self.yield_field, self.sd = small.scale_field, small.yield_field, small.sd
        self.habit, self.endings, self.spacing = small.habit, small.endings, small.spacing
        for name in ("eta", "eta_variance", "level", "level_variance"):
            getattr(self, name)[self.sample] = getattr(small, name)

    def part(self, rows: np.ndarray) -> _Fitting:
        """Return the fit cut to some bores, to say what each of them says."""
        if len(rows) == len(self.depth):
            return self
        out = copy(self)
        out.water = self.water.of(rows)
        for name in ("depth", "first_water", "eta", "level", "exposure", "bottom", "first_share"):
            setattr(out, name, getattr(self, name)[rows])
        return out

    def branch(self) -> _Fitting:
        """Return the fit as it stands, to be tried further without changing this one."""
        out = copy(self)
        for name in ("eta", "eta_variance", "level", "level_variance", "by_water"):
            setattr(out, name, getattr(self, name).copy())
        return out

    def _spacing(self) -> float:
        if len(self.sample) < 2:
            return self.extent
        from scipy.spatial import cKDTree

        near = np.concatenate([cKDTree(self.points[p]).query(self.points[p], k=min(2, len(p)))[0].reshape(len(p), -1)[:, -1] for p in self.parts])
        return float(max(np.median(near), 1.0))

    # --- yields -------------------------------------------------------------------------------------------------------

    def start_yields(self) -> None:
        w = self.water
        seen = w.yields > 0
        logs = np.concatenate([w.log_yield[seen], w.log_total[w.grade == grade.HIDDEN] - 0.4])
        if len(logs) < 3:
            raise Refused("too few yields are on record to say how much water a strike gives: load bores with yields, at least 3")
        mean = float(np.median(logs))
        self.level[:] = mean
        if self.yield_field is None:
            self.sd = float(np.clip(1.4826 * np.median(np.abs(logs - mean)), 0.3, 2.5))
            self.yield_field = Field(mean, 0.3, self.extent / 5, 0.1, 0.3)

    def tables(self) -> LatentStrikes:
        return latent_strikes(self.sd, most=grade.MOST_HIDDEN)

    def log_ways(self, tables: LatentStrikes, level: np.ndarray, *, endings: bool = True) -> np.ndarray:
        """Return the log weight of each number of strikes behind what a bore shows, apart from its expected number.

        It counts the ways in which k strikes can make the total, and, once the habit of stopping is known, the ways in
        which a bore with them can have ended where it did.
        """
        w = self.water
        out = np.zeros((grade.MOST_HIDDEN, len(w.grade)))
        hidden = np.flatnonzero(w.grade == grade.HIDDEN)
        if len(hidden) == 0:
            return out
        x = w.log_total[hidden] - level[hidden]
        ways = np.where(w.capped[hidden], tables.beyond(x)[0], tables.at(x)[0])
        k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
        first = self.first_share[hidden]
        told = np.isfinite(first)
        rest = np.clip(1.0 - np.where(told, first, 0.0), 1e-4, 1.0)
        other = np.where(told, k * rest ** (k - 1), 1.0)
        if endings and self.habit is not None:
            total, depth = w.log_total[hidden], self.depth[hidden]
            bottom = self.bottom[hidden]
            near = depth - np.where(told, self.first_water[hidden], 0.0) <= ROD + 0.5
            one_at_bottom = np.where(told, np.where(k == 1, near / ROD, k * (k - 1) * rest ** np.maximum(k - 2, 0) * bottom), k * bottom)
            by_water = one_at_bottom * self.endings.by_water(self.habit, total)
            other = by_water + other * (1.0 - self.habit.enough(total)) * self.habit.hazard_at(depth)
        out[:, hidden] = ways + np.log(np.maximum(other, 1e-300))
        return out

    def yield_records(self, tables: LatentStrikes) -> tuple[np.ndarray, np.ndarray]:
        """Return what each bore says of the local mean log yield: values and precisions."""
        w = self.water
        value, precision = np.where(w.yields > 0, w.log_yield, 0.0), w.yields / self.sd**2
        hidden = np.flatnonzero(w.grade == grade.HIDDEN)
        if len(hidden):
            step = 0.15
            likelihood = []
            for shift in (-step, 0.0, step):
                ways = self.log_ways(tables, self.level + shift)[:, hidden]
                likelihood.append(_counts(self.eta[hidden], self.exposure[hidden], ways)[0])
            slope = (likelihood[2] - likelihood[0]) / (2 * step)
            bend = -(likelihood[2] - 2 * likelihood[1] + likelihood[0]) / step**2
            bend = np.clip(bend, 0.15 / self.sd**2, grade.MOST_HIDDEN / self.sd**2)
            value[hidden], precision[hidden] = self.level[hidden] + slope / bend, bend
        return value, precision

    def learn_yields(self, tables: LatentStrikes, *, evaluations: int) -> None:
        value, precision = self.yield_records(tables)
        told = precision > 0
        mean = float((value * precision)[told].sum() / precision[told].sum())

        def log_evidence(field: Field) -> float:
            return sum(gaussian_posterior(value[p], precision[p], s, None, field).evidence for p, s in zip(self.parts, self.separations, strict=True))

        if evaluations:
            self.yield_field = fit_field(log_evidence, mean=mean, extent=self.extent, spacing=self.spacing, typical_sd=0.3, level_sd=0.15,
                                         start=self.yield_field, evaluations=evaluations)
            self.yield_field = best_width(lambda f: sum(normal_score(value[p], precision[p], s, f) for p, s in zip(self.parts, self.separations, strict=True)),
                                          self.yield_field)
        for p, s in zip(self.parts, self.separations, strict=True):
            found = gaussian_posterior(value[p], precision[p], s, None, self.yield_field, at_records=True)
            self.level[p], self.level_variance[p] = found.at_records, found.records_variance
        self.learn_spread(tables)

    def learn_spread(self, tables: LatentStrikes) -> None:
        w, s = self.water, self.sample
        squares = w.square[s] + w.yields[s] * ((w.log_yield[s] - self.level[s]) ** 2 + self.level_variance[s])
        total, number = float(squares[w.yields[s] > 0].sum()), float(w.yields[s].sum())
        hidden = s[w.grade[s] == grade.HIDDEN]
        if len(hidden):
            share = self.shares(tables)[:, hidden]
            k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
            x = w.log_total[hidden] - self.level[hidden]
            square = np.where(w.capped[hidden], tables.beyond(x)[1], tables.at(x)[2])
            total += float((share * k * (square + self.level_variance[hidden])).sum())
            number += float((share * k).sum())
        # Four strikes' worth of a spread of 1 keeps a thin register sane.
        self.sd = float(np.clip(np.sqrt((total + 4.0) / (number + 4.0)), 0.2, 3.0))

    def shares(self, tables: LatentStrikes, *, endings: bool = True) -> np.ndarray:
        """Return the chance of each number of strikes behind each bore that hides it, shape (most, n)."""
        from scipy.special import gammaln

        k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
        terms = k * (self.eta + np.log(np.maximum(self.exposure, 1e-12))) - gammaln(k + 1) + self.log_ways(tables, self.level, endings=endings)
        terms -= terms.max(axis=0)
        share = np.exp(terms)
        return share / share.sum(axis=0)

    # --- depth --------------------------------------------------------------------------------------------------------

    def set_shape(self, shape: Shape, datum_depth: np.ndarray) -> None:
        self.shape, self.datum_depth = shape, datum_depth
        self.exposure = np.maximum(shape.exposure(self.depth, datum_depth), 1e-9)
        self.bottom = share_at_bottom(shape, self.depth, datum_depth)
        first = self.first_water
        ok = (first > 0) & (first <= self.depth + 0.5)
        inside = shape.exposure(np.where(ok, np.minimum(first, self.depth), 0.0), datum_depth)
        self.first_share = np.where(ok, inside / self.exposure, np.nan)

    def learn_shape(self, datum: str, datum_depth: np.ndarray, tables: LatentStrikes | None) -> tuple[Shape, float]:
        """Return the shape below one datum and its evidence."""
        w, s = self.water, self.sample
        scale = np.exp(np.clip(self.eta + 0.5 * self.eta_variance, -6, 6))
        levels, counts = [], []
        strikes = self.register.strikes
        if strikes is not None:
            mine = np.zeros(len(w.grade), bool)
            mine[s] = True
            use = mine[strikes.bore] & np.isfinite(strikes.depth)
            levels.append(strikes.depth[use] - datum_depth[strikes.bore[use]])
            counts.append(np.ones(use.sum()))
        hidden = s[(w.grade[s] == grade.HIDDEN) | (w.grade[s] == grade.WET)]
        edges = cells_below(datum, self.depth[s], datum_depth[s])
        if len(hidden) and tables is not None:
            k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
            number = (self.shares(tables)[:, hidden] * k).sum(axis=0)
            placed = self._placed(hidden, number, datum_depth)
            levels += placed[0]
            counts += placed[1]
        return fit_shape(datum, np.concatenate(levels), np.concatenate(counts), self.depth[s], datum_depth[s], scale[s], edges)

    def _placed(self, hidden: np.ndarray, number: np.ndarray, datum_depth: np.ndarray) -> tuple[list, list]:
        """Spread the strikes of bores that hide them: one at first water, one at the bottom where water stopped the bore, the rest as the shape says."""
        first, depth, datum = self.first_water[hidden], self.depth[hidden], datum_depth[hidden]
        known_first = ~np.isnan(self.first_share[hidden])
        top = np.where(known_first, np.minimum(first, depth), 0.0)
        # Where the first strike is the bottom one, it is not counted twice.
        bottom = self.by_water[hidden] * np.where(known_first & (depth - top <= ROD + 0.5), 0.0, 1.0)
        bottom = np.where(known_first, np.minimum(bottom, np.maximum(number - 1.0, 0.0)), bottom)
        levels, counts = [np.where(known_first, top - datum, 0.0)[known_first]], [np.ones(known_first.sum())]
        levels.append(depth - 0.5 * np.minimum(ROD, depth) - datum)
        counts.append(bottom)
        rest = np.maximum(number - known_first - bottom, 0.0)
        whole = self.shape.exposure(depth, self.datum_depth[hidden])
        begin = self.shape.exposure(top, self.datum_depth[hidden])
        for part in (np.arange(12) + 0.5) / 12:
            # Invert the running exposure of each bore at equal shares of it.
            want = begin + part * (whole - begin)
            low, high = top.copy(), depth.copy()
            for _ in range(14):
                middle = 0.5 * (low + high)
                below = self.shape.exposure(middle, self.datum_depth[hidden]) < want
                low, high = np.where(below, middle, low), np.where(below, high, middle)
            levels.append(0.5 * (low + high) - datum)
            counts.append(rest / 12)
        return levels, counts

    def learn_habit(self, tables: LatentStrikes) -> None:
        w, s = self.water, self.sample
        total = np.where(w.grade == grade.HIDDEN, w.log_total, np.nan)
        before, near = np.full(len(total), -np.inf), np.zeros(len(total), bool)
        strikes = self.register.strikes
        if strikes is not None:
            flow = np.nan_to_num(strikes.flow)
            whole = np.bincount(strikes.bore, weights=flow, minlength=len(total))
            # Rows are in order of depth: what is kept for a bore is its last strike.
            last_flow, last_depth = np.zeros(len(total)), np.full(len(total), -np.inf)
            last_flow[strikes.bore], last_depth[strikes.bore] = flow, strikes.depth
            seen = (w.grade == grade.SEEN) & (whole > 0)
            total = np.where(seen, np.log(np.maximum(whole, 1e-12)), total)
            first = np.maximum(whole - last_flow, 0.0)
            before = np.where(seen & (first > 1e-9), np.log(np.maximum(first, 1e-12)), before)
            near = seen & (self.depth - last_depth <= ROD + 0.5)
        self.endings = Endings(self.sd, float(np.median(self.level[s])), most=grade.MOST_HIDDEN)
        rows = s[np.isfinite(total[s])]
        seen = w.grade[rows] == grade.SEEN
        ended = Ended(self.depth[rows], total[rows], seen, before[rows], near[rows], self.shares(tables, endings=False)[:, rows], self.bottom[rows])
        self.habit, stopped = fit_habit(ended, self.depth[s[w.grade[s] == grade.DRY]], self.endings, start=self.habit)
        self.by_water[rows] = stopped

    # --- scale --------------------------------------------------------------------------------------------------------

    def likelihood(self, tables: LatentStrikes) -> _Scale:
        return _Scale(self.water, self.exposure, self.log_ways(tables, self.level))

    def learn_scale(self, tables: LatentStrikes, *, evaluations: int) -> None:
        likelihood = self.likelihood(tables)
        starts = [self.eta[p].copy() for p in self.parts]

        def solve(field: Field, *, at_records: bool, steps: int) -> list[Posterior]:
            out = []
            for i, (p, s) in enumerate(zip(self.parts, self.separations, strict=True)):
                found = mode(lambda eta, p=p: likelihood(eta, p), starts[i], s, None, field, steps=steps, at_records=at_records)
                starts[i] = found.at_records
                out.append(found)
            return out

        if evaluations:
            self.scale_field = fit_field(lambda f: sum(x.evidence for x in solve(f, at_records=False, steps=4)), mean=0.0, extent=self.extent,
                                         spacing=self.spacing, typical_sd=0.5, level_sd=0.15, start=self.scale_field, evaluations=evaluations)
            self.scale_field = best_width(lambda f: self.held_out_score(likelihood, solve(f, at_records=False, steps=4), f), self.scale_field)
        fits = solve(self.scale_field, at_records=True, steps=12)
        for p, found in zip(self.parts, fits, strict=True):
            self.eta[p], self.eta_variance[p] = found.at_records, found.records_variance
        # The level belongs to the shape: the field is about 0.
        move = self.scale_field.mean
        self.scale_field = replace(self.scale_field, mean=0.0)
        self.eta[self.sample] -= move
        self.set_shape(replace(self.shape, intensity=self.shape.intensity * np.exp(move)), self.datum_depth)
        self.evidence = sum(f.evidence for f in fits)

    def held_out_score(self, likelihood: _Scale, fits: list[Posterior], field: Field) -> float:
        """Return the log score of every bore of the sample, each told from all the others: its own likelihood over what they believe."""
        nodes, weights = np.polynomial.hermite_e.hermegauss(7)
        score = 0.0
        for p, s, found in zip(self.parts, self.separations, fits, strict=True):
            _, slope, weight = likelihood(found.at_records, p)
            mean, variance = left_out(found.at_records + slope / np.maximum(weight, 1e-9), weight, s, field)
            told = np.stack([likelihood(mean + np.sqrt(variance) * z, p)[0] for z in nodes])
            top = told.max(axis=0)
            score += float((top + np.log(weights @ np.exp(told - top))).sum())
        return score

    def worth(self) -> float:
        """Return the log likelihood of the records under the shape and the field of the scale: counts and depths of strikes."""
        strikes, w = self.register.strikes, self.water
        if strikes is None:
            return self.evidence
        mine = np.zeros(len(w.grade), bool)
        mine[self.sample] = True
        use = mine[strikes.bore]
        bore, depth = strikes.bore[use], strikes.depth[use]
        at = self.shape.at(depth - self.datum_depth[bore])
        # A strike whose depth is not recorded lies anywhere in its hole.
        return self.evidence + float(np.log(np.maximum(np.where(np.isfinite(depth), at, self.exposure[bore]), 1e-12)).sum())


def _sample(points: np.ndarray, rows: np.ndarray, most: int) -> np.ndarray:
    """Return rows to learn from: all, or several whole neighbourhoods of a large register."""
    if len(rows) <= most:
        return rows
    whole = blocks(points[rows], _BLOCK)
    step = len(whole) / (most // _BLOCK)
    chosen = [whole[int((i + 0.5) * step)] for i in range(most // _BLOCK)]
    return rows[np.sort(np.concatenate(chosen))]


def _datum_layer(fitting: _Fitting, observed: np.ndarray) -> tuple[Layer, np.ndarray]:
    """Return the field of a datum's depth, and its depth at every bore [m]."""
    kept = fitting.start.datum.field if fitting.start and fitting.start.datum else None
    ground = Ground(fitting.depth, fitting.register.logged, fitting.parts, fitting.separations, fitting.extent, fitting.spacing)
    field, value, precision, depth = datum_field(ground, observed, kept)
    return Layer(field, value, precision), depth


def fit_model(register: Register, *, start: OddsModel | None = None, turns: int = 4) -> OddsModel:
    """Return what a register teaches.

    Parameters
    ----------
    register : Register
    start : OddsModel, optional
        A model of much the same records, from which widths and spreads are taken as they are.
    turns : int
        Turns of learning what is hidden, the shape and the fields.

    Raises
    ------
    Refused
        Fewer than `FEWEST` bores with a known result, no water at all, or fewer than three yields.

    Notes
    -----
    The spread and width of each field are sought by marginal likelihood; its width is then settled among those near by held-out log
    score, each bore told from all the others. By held-out score alone a width wanders: with few bores its peak is flat.
    """
    with one_thread():
        return _fit(register, start, turns)


def _fit(register: Register, start: OddsModel | None, turns: int) -> OddsModel:
    water = water_of(register)
    known = int((water.grade != grade.UNKNOWN).sum())
    if known < FEWEST:
        raise Refused(f"only {known} bores of {register.name} say whether they found water: too few for a figure (at least {FEWEST})")
    if not np.isin(water.grade, (grade.SEEN, grade.HIDDEN, grade.WET)).any():
        raise Refused(f"every bore of {register.name} is recorded as dry: nothing tells how much water a strike would give")
    if known <= _LARGE:
        return _finish(*_learn(register, water, start, turns, _SAMPLE))
    # What a large register teaches of shapes, widths and habits is learned from whole neighbourhoods of it as a register of
    # their own; then every bore says its part.
    whole = _Fitting(register, water, None, most=_LARGE_SAMPLE)
    mask = np.zeros(len(register), bool)
    mask[whole.sample] = True
    small, tables, layer = _learn(register.subset(mask), water.of(mask), start, turns, _LARGE_SAMPLE)
    whole.take(small, _finish(small, tables, layer))
    observed = datum_depths(register).get(small.shape.datum)
    datum_depth = np.zeros(len(register))
    if layer is not None:
        layer, datum_depth = _datum_layer(whole, observed)
    whole.set_shape(small.shape, datum_depth)
    return _finish(whole, tables, layer)


def _learn(register: Register, water: Water, start: OddsModel | None, turns: int, most: int) -> tuple[_Fitting, LatentStrikes, Layer | None]:
    """Return the fit to a register of moderate size, the tables of its yields and the field of its datum, if it has one."""
    known = int((water.grade != grade.UNKNOWN).sum())
    fitting = _Fitting(register, water, start, most=most)
    nothing = np.zeros(len(register))
    flat = Shape("ground", np.array([0.0, float(fitting.depth.max())]), np.array([1.0]))
    fitting.set_shape(flat, nothing)
    wet_share = float(np.clip(1.0 - (water.grade == grade.DRY).sum() / known, 0.02, 0.98))
    level = -np.log1p(-wet_share) / float(np.median(fitting.depth[fitting.known]))
    fitting.set_shape(replace(flat, intensity=np.array([level])), nothing)
    fitting.start_yields()
    tables = fitting.tables()
    observed = datum_depths(register)
    datum_name = "ground"
    choices = {"ground": (nothing, None)}
    for name, found in observed.items():
        if np.isfinite(found[fitting.sample]).sum() >= max(FEWEST, 0.15 * len(fitting.sample)):
            if start is not None and start.shape.datum != name:
                continue
            one, depth = _datum_layer(fitting, found)
            choices[name] = (depth, one)
    if start is not None:
        datum_name = start.shape.datum if start.shape.datum in choices else datum_name
    elif len(choices) > 1:
        tried = {name: _tried(fitting.branch(), name, depth, tables) for name, (depth, _) in choices.items()}
        datum_name = max(tried, key=lambda name: tried[name].worth())
        fitting = tried[datum_name]
    datum_depth, layer = choices[datum_name]
    for turn in range(turns):
        if (water.grade == grade.HIDDEN).any():
            fitting.learn_habit(tables)
        fitting.set_shape(fitting.learn_shape(datum_name, datum_depth, tables)[0], datum_depth)
        effort = 0 if start is not None or turn > 3 else (14, 0, 24, 14)[turn]
        fitting.learn_yields(tables, evaluations=effort)
        tables = fitting.tables()
        fitting.learn_scale(tables, evaluations=effort)
    fitting.learn_habit(tables)
    return fitting, tables, layer


def _tried(fitting: _Fitting, datum: str, datum_depth: np.ndarray, tables: LatentStrikes) -> _Fitting:
    """Return a fit taken far enough below one datum to be weighed against another: each with the field of scale that suits it best.

    Weighed with a field learned below another datum, the right one would lose: that field has learned to make up for the wrong one.
    """
    for effort in (10, 8):
        fitting.set_shape(fitting.learn_shape(datum, datum_depth, tables)[0], datum_depth)
        fitting.learn_scale(tables, evaluations=effort)
    return fitting


def _finish(fitting: _Fitting, tables: LatentStrikes, datum: Layer | None) -> OddsModel:
    """Fill in what the bores outside the sample say, and hand over."""
    register, water = fitting.register, fitting.water
    _spread_to_all(fitting)
    scale_value, weight, value, precision = np.empty((4, len(register)))
    for rows in np.array_split(np.arange(len(register)), max(1, -(-len(register) // _PART))):
        part = fitting.part(rows)
        _, slope, weight[rows] = part.likelihood(tables)(part.eta)
        scale_value[rows] = np.where(weight[rows] > 0, part.eta + np.clip(slope / np.maximum(weight[rows], 1e-9), -4.0, 4.0), 0.0)
        value[rows], precision[rows] = part.yield_records(tables)
    depths = fitting.depth[fitting.known]
    flows = [water.log_total[water.grade == grade.HIDDEN]]
    if register.strikes is not None:
        total = np.bincount(register.strikes.bore, weights=np.nan_to_num(register.strikes.flow), minlength=len(register))
        flows.append(np.log(total[total > 0]))
    flows = np.concatenate(flows)
    return OddsModel(
        fitting.shape, Layer(fitting.scale_field, scale_value, weight), Layer(fitting.yield_field, value, precision), datum, fitting.sd, fitting.habit,
        deepest=float(max(np.quantile(depths, 0.995), 30.0)), highest=float(np.exp(flows.max())), known=int(fitting.known.sum()), spacing=fitting.spacing)


def _spread_to_all(fitting: _Fitting) -> None:
    """Estimate the local scale and yield at bores outside the sample from the sample's fields and their own neighbours, by a kernel."""
    n = len(fitting.register)
    if len(fitting.sample) == n or fitting.known.sum() == len(fitting.sample):
        return
    tree = fitting.register.tree
    outside = np.ones(n, bool)
    outside[fitting.sample] = False
    rows = np.flatnonzero(outside)
    count = np.where(np.isin(fitting.water.grade, (grade.SEEN, grade.DRY)), fitting.water.strikes, np.isin(fitting.water.grade, (grade.HIDDEN, grade.WET)) * 1.3)
    exposure = np.where(fitting.known, fitting.exposure, 0.0)
    prior = 1.0 / max(np.expm1(fitting.scale_field.variance), 1e-3)
    for part in np.array_split(rows, max(1, len(rows) // 20_000)):
        near, at = tree.query(fitting.points[part], k=min(32, n), workers=-1)
        weight = correlation(near, max(fitting.scale_field.length, 1.0), fitting.scale_field.family) ** 2
        fitting.eta[part] = np.log((prior + (weight * count[at]).sum(axis=1)) / (prior + (weight * exposure[at]).sum(axis=1)))
    fitting.level[rows] = fitting.yield_field.mean
