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
    best_width,
    distances,
    fit_field,
    gaussian_posterior,
    likely_widths,
    normal_score,
    one_thread,
)
from borewright.siting.habits import ROD, Ended, Endings, Habit, at_bottom, fit_habit, share_at_bottom
from borewright.siting.outside import as_the_sample, spread_to_all
from borewright.siting.register import Register
from borewright.siting.samples import BLOCK, blocks, sample
from borewright.siting.shape import Shape, cells_below, dry_top, fit_shape
from borewright.siting.tilted import ScaleLikelihood, counts, log_normal, one_count, said, ways_of_hiding

__all__ = ["FEWEST", "Layer", "OddsModel", "fit_model"]

FEWEST = 8  # bores with a known result below which no figure is given
_SAMPLE = 1600  # bores from which widths and spreads are learned
_LARGE, _LARGE_SAMPLE = 6400, 3200  # bores above which they are learned apart from the rest, and from how many
_OPEN = 800  # bores with a known result up to which the width of a field is an open question
_PART = 100_000  # bores that say their part at once
_NUGGET = 0.08  # of the local mean log yield: what more there is from bore to bore counts as spread between strikes
_NARROWEST = 3.0  # width of the field of the mean log yield, in spacings: narrower, it takes the spread between strikes for its own
_WEIGHED = 20  # evaluations from which smooth and rough fields are weighed against each other
_HELD = ("eta", "eta_variance", "level", "level_variance", "scale_said", "yield_said")


@dataclass(frozen=True)
class Layer:
    """A field and what each bore of the register says of it: a value and its precision (0: nothing).

    `widths` are the lengths that the records allow it, each with its weight, where they leave that open; none: the field's own.
    """

    field: Field
    value: np.ndarray
    precision: np.ndarray
    widths: tuple[tuple[float, float], ...] = ()

    @property
    def fields(self) -> tuple[tuple[Field, float], ...]:
        """The field at each of its widths, and its weight."""
        return tuple((replace(self.field, length=length), weight) for length, weight in self.widths) or ((self.field, 1.0),)

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


class Fitting:
    """The state of a fit: turns of learning what is hidden, the shape with depth, and the fields."""

    def __init__(self, register: Register, water: Water, start: OddsModel | None, *, most: int = _SAMPLE):
        self.register, self.water, self.start = register, water, start
        self.known = water.grade != grade.UNKNOWN
        n = len(register)
        self.points = register.places
        self.depth = np.maximum(register.depth, 0.1)
        self.first_water = register.first_water
        rows = np.flatnonzero(self.known)
        self.sample = sample(self.points, rows, most)
        self.parts = [self.sample[b] for b in blocks(self.points[self.sample], BLOCK)]
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
        # What each bore of the sample says, as a value and its precision, and the ways of those that hide their strikes.
        self.scale_said, self.yield_said, self.ways = np.zeros((2, n)), np.zeros((2, n)), None

    def take(self, small: Fitting, learned: OddsModel) -> None:
        """Take over what was learned from the sample alone, whose rows stand in the same order."""
        self.start = learned
        self.scale_field, self.yield_field, self.sd = small.scale_field, small.yield_field, small.sd
        self.habit, self.endings, self.spacing = small.habit, small.endings, small.spacing
        for name in _HELD:
            getattr(self, name)[..., self.sample] = getattr(small, name)

    def part(self, rows: np.ndarray) -> Fitting:
        """Return the fit cut to some bores, to say what each of them says."""
        if len(rows) == len(self.depth):
            return self
        out = copy(self)
        out.water = self.water.of(rows)
        for name in ("depth", "eta", "level", "exposure", "bottom", "first_share", "gap"):
            setattr(out, name, getattr(self, name)[rows])
        return out

    def branch(self) -> Fitting:
        """Return the fit as it stands, to be tried further without changing this one."""
        out = copy(self)
        for name in (*_HELD, "by_water"):
            setattr(out, name, getattr(self, name).copy())
        return out

    def _spacing(self) -> float:
        if len(self.sample) < 2:
            return self.extent
        from scipy.spatial import cKDTree

        near = np.concatenate([cKDTree(self.points[p]).query(self.points[p], k=min(2, len(p)))[0].reshape(len(p), -1)[:, -1] for p in self.parts])
        return float(max(np.median(near), 1.0))

    @property
    def rod(self) -> float:
        """How far bores go on below the strike that made enough [m]."""
        return ROD if self.habit is None else self.habit.rod

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

    def log_ways(self, tables: LatentStrikes, level: np.ndarray) -> np.ndarray:
        """Return the log weight of each number of strikes behind what a bore shows, apart from its expected number.

        It counts the ways in which k strikes can make the total, and those in which a bore with them can have ended where it did.
        """
        w, out = self.water, self.log_endings()
        hidden = np.flatnonzero(w.grade == grade.HIDDEN)
        if len(hidden):
            x = w.log_total[hidden] - level[hidden]
            out[:, hidden] += np.where(w.capped[hidden], tables.beyond(x)[0], tables.at(x)[0])
        return out

    def log_endings(self, *, stopping: bool = True) -> np.ndarray:
        """Return the log weight of the ways in which a bore with each number of strikes can have ended where it did, shape (most, n).

        Without `stopping`, or before the habit of stopping is known, only the depth of first water tells.
        """
        w = self.water
        out = np.zeros((grade.MOST_HIDDEN, len(w.grade)))
        hidden = np.flatnonzero(w.grade == grade.HIDDEN)
        if len(hidden) == 0:
            return out
        k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
        last, other = at_bottom(k, self.gap[hidden], self.first_share[hidden], self.bottom[hidden], self.rod)
        if stopping and self.habit is not None:
            total = w.log_total[hidden]
            other = last * self.endings.by_water(self.habit, total) + other * (1.0 - self.habit.enough(total)) * self.habit.hazard_at(self.depth[hidden])
        out[:, hidden] = np.log(np.maximum(other, 1e-300))
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
                likelihood.append(counts(self.eta[hidden], self.exposure[hidden], ways)[0])
            slope = (likelihood[2] - likelihood[0]) / (2 * step)
            bend = -(likelihood[2] - 2 * likelihood[1] + likelihood[0]) / step**2
            bend = np.clip(bend, 0.15 / self.sd**2, grade.MOST_HIDDEN / self.sd**2)
            value[hidden], precision[hidden] = self.level[hidden] + slope / bend, bend
        return value, precision

    def shares(self, *, stopping: bool = True) -> np.ndarray:
        """Return the chance of each number of strikes behind each bore of the sample that hides it, shape (most, n)."""
        out = np.zeros((grade.MOST_HIDDEN, len(self.depth)))
        rows = self.ways.rows
        out[:, rows] = self.ways.over(self.log_endings(stopping=stopping)[:, rows])[1]
        return out

    # --- depth --------------------------------------------------------------------------------------------------------

    def set_shape(self, shape: Shape, datum_depth: np.ndarray) -> None:
        self.shape, self.datum_depth = shape, datum_depth
        self.exposure = np.maximum(shape.exposure(self.depth, datum_depth), 1e-9)
        self.bottom = share_at_bottom(shape, self.depth, datum_depth, self.rod)
        first = self.first_water
        ok = (first > 0) & (first <= self.depth + 0.5)
        inside = shape.exposure(np.where(ok, np.minimum(first, self.depth), 0.0), datum_depth)
        self.first_share = np.where(ok, inside / self.exposure, np.nan)
        self.gap = self.depth - np.where(ok, first, 0.0)

    def learn_shape(self, datum: str, datum_depth: np.ndarray) -> tuple[Shape, float]:
        """Return the shape below one datum and its evidence."""
        w, s = self.water, self.sample
        scale = np.exp(np.clip(self.eta + 0.5 * self.eta_variance, -6, 6))
        depths, datums, counts = [], [], []
        strikes = self.register.strikes
        if strikes is not None:
            mine = np.zeros(len(w.grade), bool)
            mine[s] = True
            use = mine[strikes.bore] & np.isfinite(strikes.depth)
            depths.append(strikes.depth[use])
            datums.append(datum_depth[strikes.bore[use]])
            counts.append(np.ones(use.sum()))
        hidden = s[(w.grade[s] == grade.HIDDEN) | (w.grade[s] == grade.WET)]
        edges = cells_below(datum, self.depth[s], datum_depth[s])
        if len(hidden):
            k = np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
            number = (self.shares()[:, hidden] * k).sum(axis=0)
            for at, rows, share in self._placed(hidden, number):
                depths.append(at)
                datums.append(datum_depth[rows])
                counts.append(share)
        at, count = np.concatenate(depths), np.concatenate(counts)
        drilled = self.depth[s], datum_depth[s], scale[s]
        top = (0.0, 1.0) if datum == "ground" else dry_top(self.shape, at, count, *drilled)
        return fit_shape(datum, at - np.concatenate(datums), count, *drilled, edges, top)

    def _placed(self, hidden: np.ndarray, number: np.ndarray) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """Spread the strikes of bores that hide them: one at first water, one at the bottom where water stopped the bore, the rest as the shape says.

        Returns groups of depths [m], the rows of their bores, and how much of a strike each is.
        """
        first, depth = self.first_water[hidden], self.depth[hidden]
        known_first = ~np.isnan(self.first_share[hidden])
        top = np.where(known_first, np.minimum(first, depth), 0.0)
        # Where the first strike is the bottom one, it is not counted twice.
        bottom = self.by_water[hidden] * np.where(known_first & (depth - top <= self.rod + 0.5), 0.0, 1.0)
        bottom = np.where(known_first, np.minimum(bottom, np.maximum(number - 1.0, 0.0)), bottom)
        out = [(top[known_first], hidden[known_first], np.ones(known_first.sum())), (depth - 0.5 * np.minimum(self.rod, depth), hidden, bottom)]
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
            out.append((0.5 * (low + high), hidden, rest / 12))
        return out

    def learn_habit(self) -> None:
        w, s = self.water, self.sample
        total = np.where(w.grade == grade.HIDDEN, w.log_total, np.nan)
        before, gap = np.full(len(total), -np.inf), self.gap.copy()
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
            gap = np.where(seen, self.depth - last_depth, gap)
        self.endings = Endings(self.sd, float(np.median(self.level[s])), most=grade.MOST_HIDDEN)
        rows = s[np.isfinite(total[s])]
        seen = w.grade[rows] == grade.SEEN
        ended = Ended(self.depth[rows], total[rows], seen, before[rows], gap[rows], self.first_share[rows], self.bottom[rows], self.shares(stopping=False)[:, rows])
        self.habit, stopped = fit_habit(ended, self.depth[s[w.grade[s] == grade.DRY]], self.endings, start=self.habit)
        self.by_water[rows] = stopped

    # --- fields -------------------------------------------------------------------------------------------------------

    def likelihood(self, tables: LatentStrikes) -> ScaleLikelihood:
        return ScaleLikelihood(self.water, self.exposure, self.log_ways(tables, self.level))

    def believed(self, said: np.ndarray, field: Field) -> tuple[np.ndarray, np.ndarray, float]:
        """Return mean and variance at every bore of the sample, and the log evidence of what the bores say."""
        mean, variance, log_evidence = np.full(len(self.depth), field.mean), np.full(len(self.depth), field.variance), 0.0
        for p, s in zip(self.parts, self.separations, strict=True):
            found = gaussian_posterior(said[0, p], said[1, p], s, None, field, at_records=True)
            mean[p], variance[p] = found.at_records, found.records_variance
            log_evidence += found.evidence
        return mean, variance, log_evidence

    def listen(self, tables: LatentStrikes, *, times: int = 2) -> None:
        """Let each bore say again what it has to say, given what the fields believe from all the others."""
        for _ in range(times):
            self._listen(tables)
        self.eta, self.eta_variance, scale_evidence = self.believed(self.scale_said, self.scale_field)
        self.level, self.level_variance, _ = self.believed(self.yield_said, self.yield_field)
        self.evidence = self._beyond_said + scale_evidence

    def _listen(self, tables: LatentStrikes) -> None:
        w, s = self.water, self.sample
        kind = w.grade[s]
        others = []
        for heard, field in ((self.scale_said, self.scale_field), (self.yield_said, self.yield_field)):
            mean, variance, _ = self.believed(heard, field)
            # What the bore itself said before is taken out again.
            free = np.maximum(1.0 / variance - heard[1], 0.02 / variance)
            others.append((((mean / variance - heard[1] * heard[0]) / free)[s], (1.0 / free)[s]))
        scale, level = others
        log_chance, mean, variance = one_count(*scale, w.strikes[s], self.exposure[s])
        hides = np.flatnonzero((kind == grade.HIDDEN) | (kind == grade.WET))
        rows = s[hides]
        self.ways = ways_of_hiding(w, rows, self.exposure[rows], (scale[0][hides], scale[1][hides]), (level[0][hides], level[1][hides]), tables)
        log_chance[hides], share = self.ways.over(self.log_endings()[:, rows])
        mean[hides] = (share * self.ways.scale).sum(axis=0)
        variance[hides] = (share * self.ways.scale_square).sum(axis=0) - mean[hides] ** 2
        self.scale_said[:, s] = self._mixed(self.scale_said[:, s], np.array(said(mean, variance, *scale)))
        hidden = kind[hides] == grade.HIDDEN
        mean = (share * self.ways.level).sum(axis=0)[hidden]
        variance = (share * self.ways.level_square).sum(axis=0)[hidden] - mean**2
        level = level[0][hides][hidden], level[1][hides][hidden]
        new = self._mixed(self.yield_said[:, rows[hidden]], np.array(said(mean, variance, *level)))
        self.yield_said[:, s] = np.where(w.yields[s] > 0, w.log_yield[s], 0.0), w.yields[s] / self.sd**2
        self.yield_said[:, rows[hidden]] = new
        # The evidence is that of what is said, and how much more or less likely the records are than that.
        self._beyond_said = float((log_chance - log_normal(self.scale_said[0, s], scale[0], scale[1] + 1.0 / self.scale_said[1, s])).sum()
                                  - log_normal(new[0], level[0], level[1] + 1.0 / new[1]).sum())

    @staticmethod
    def _mixed(before: np.ndarray, new: np.ndarray) -> np.ndarray:
        """Return new sayings with a little of those before in them, without which turns can swing to and fro."""
        share = np.where(before[1] > 0, 0.8, 1.0)
        precision = share * new[1] + (1.0 - share) * before[1]
        return np.array([(share * new[1] * new[0] + (1.0 - share) * before[1] * before[0]) / precision, precision])

    def learn_fields(self, tables: LatentStrikes, *, evaluations: int) -> None:
        """Learn spread and width of both fields, and the spread of yields, from what the bores say."""
        self.listen(tables)
        if evaluations:
            value, precision = self.yield_said
            mean = float((value * precision).sum() / precision.sum())
            self.yield_field = self._learned(self.yield_said, self.yield_field, mean=mean, typical_sd=0.3, evaluations=evaluations, nugget=_NUGGET, shortest=_NARROWEST)
            self.scale_field = self._learned(self.scale_said, self.scale_field, mean=0.0, typical_sd=0.5, evaluations=evaluations)
            self.listen(tables, times=1)
        self.learn_spread()
        # The level belongs to the shape: the field is about 0.
        move = self.scale_field.mean
        self.scale_field = replace(self.scale_field, mean=0.0)
        self.eta[self.sample] -= move
        self.scale_said[0, self.sample] -= move
        self.set_shape(replace(self.shape, intensity=self.shape.intensity * np.exp(move)), self.datum_depth)

    def _learned(self, heard: np.ndarray, start: Field, *, mean: float, typical_sd: float, evaluations: int, nugget: float | None = None, shortest: float = 0.3) -> Field:
        value, precision = heard
        pairs = list(zip(self.parts, self.separations, strict=True))
        found = fit_field(lambda f: sum(gaussian_posterior(value[p], precision[p], s, None, f).evidence for p, s in pairs), mean=mean, extent=self.extent,
                          spacing=self.spacing, typical_sd=typical_sd, level_sd=0.15, start=start, evaluations=evaluations, nugget=nugget,
                          shortest=shortest, weigh=evaluations >= _WEIGHED)
        return best_width(lambda f: sum(normal_score(value[p], precision[p], s, f) for p, s in pairs), found)

    def widths(self, heard: np.ndarray, field: Field) -> tuple[tuple[float, float], ...]:
        """Return the widths that the records allow a field; none where they are enough to tell its own."""
        if self.known.sum() > _OPEN:
            return ()
        value, precision = heard
        pairs = list(zip(self.parts, self.separations, strict=True))
        return likely_widths(lambda f: sum(gaussian_posterior(value[p], precision[p], s, None, f).evidence for p, s in pairs), field, extent=self.extent, spacing=self.spacing)

    def learn_spread(self) -> None:
        w, s = self.water, self.sample
        squares = w.square[s] + w.yields[s] * ((w.log_yield[s] - self.level[s]) ** 2 + self.level_variance[s])
        total, number = float(squares[w.yields[s] > 0].sum()), float(w.yields[s].sum())
        hidden = w.grade[self.ways.rows] == grade.HIDDEN
        expected = self.shares()[:, self.ways.rows[hidden]] * np.arange(1, grade.MOST_HIDDEN + 1)[:, None]
        total += float((expected * self.ways.spread[:, hidden]).sum())
        number += float(expected.sum())
        # Four strikes' worth of a spread of 1 keeps a thin register sane.
        self.sd = float(np.clip(np.sqrt((total + 4.0) / (number + 4.0)), 0.2, 3.0))

    def worth(self) -> float:
        """Return the log likelihood of the records under the shape and the field of the scale: counts and depths of strikes."""
        strikes, w = self.register.strikes, self.water
        if strikes is None:
            return self.evidence
        mine = np.zeros(len(w.grade), bool)
        mine[self.sample] = True
        use = mine[strikes.bore]
        bore, depth = strikes.bore[use], strikes.depth[use]
        at = self.shape.at(depth, self.datum_depth[bore])
        # A strike whose depth is not recorded lies anywhere in its hole.
        return self.evidence + float(np.log(np.maximum(np.where(np.isfinite(depth), at, self.exposure[bore]), 1e-12)).sum())


def _datum_layer(fitting: Fitting, observed: np.ndarray) -> tuple[Layer, np.ndarray]:
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
    What a bore says of the fields is its likelihood averaged over what all the others believe there, put as a normal observation of the same
    mean and variance (expectation propagation, Rasmussen and Williams 2006, section 3.6, from memory). Taken at the belief that counts the bore
    itself, hidden strikes come out too few and the yield of each too large.

    The spread and width of each field are sought by marginal likelihood; its width is then settled among those near by held-out log
    score, each bore told from all the others. By held-out score alone a width wanders: with few bores its peak is flat. There the answer is
    averaged over the widths that the records allow, each by its weight (`Layer.widths`): one width alone is too sure of itself.
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
    whole = Fitting(register, water, None, most=_LARGE_SAMPLE)
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


def _learn(register: Register, water: Water, start: OddsModel | None, turns: int, most: int) -> tuple[Fitting, LatentStrikes, Layer | None]:
    """Return the fit to a register of moderate size, the tables of its yields and the field of its datum, if it has one."""
    known = int((water.grade != grade.UNKNOWN).sum())
    fitting = Fitting(register, water, start, most=most)
    nothing = np.zeros(len(register))
    flat = Shape("ground", np.array([0.0, float(fitting.depth.max())]), np.array([1.0]))
    fitting.set_shape(flat, nothing)
    wet_share = float(np.clip(1.0 - (water.grade == grade.DRY).sum() / known, 0.02, 0.98))
    level = -np.log1p(-wet_share) / float(np.median(fitting.depth[fitting.known]))
    fitting.set_shape(replace(flat, intensity=np.array([level])), nothing)
    fitting.start_yields()
    tables = fitting.tables()
    fitting.listen(tables)
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
            fitting.learn_habit()
        fitting.set_shape(fitting.learn_shape(datum_name, datum_depth)[0], datum_depth)
        effort = 0 if start is not None or turn > 3 else (14, 0, 24, 14)[turn]
        fitting.learn_fields(tables, evaluations=effort)
        tables = fitting.tables()
    fitting.learn_habit()
    return fitting, tables, layer


def _tried(fitting: Fitting, datum: str, datum_depth: np.ndarray, tables: LatentStrikes) -> Fitting:
    """Return a fit taken far enough below one datum to be weighed against another: each with the field of scale that suits it best.

    Weighed with a field learned below another datum, the right one would lose: that field has learned to make up for the wrong one.
    """
    for effort in (10, 8):
        fitting.set_shape(fitting.learn_shape(datum, datum_depth)[0], datum_depth)
        fitting.learn_fields(tables, evaluations=effort)
    return fitting


def _finish(fitting: Fitting, tables: LatentStrikes, datum: Layer | None) -> OddsModel:
    """Fill in what the bores outside the sample say, and hand over."""
    register, water = fitting.register, fitting.water
    spread_to_all(fitting)
    scale_value, weight, value, precision = np.empty((4, len(register)))
    for rows in np.array_split(np.arange(len(register)), max(1, -(-len(register) // _PART))):
        part = fitting.part(rows)
        _, slope, weight[rows] = part.likelihood(tables)(part.eta)
        scale_value[rows] = np.where(weight[rows] > 0, part.eta + np.clip(slope / np.maximum(weight[rows], 1e-9), -4.0, 4.0), 0.0)
        value[rows], precision[rows] = part.yield_records(tables)
    sample = fitting.sample
    as_the_sample(water.grade, sample, scale_value, weight, fitting.scale_said)
    as_the_sample(water.grade, sample, value, precision, fitting.yield_said)
    depths = fitting.depth[fitting.known]
    flows = [water.log_total[water.grade == grade.HIDDEN]]
    if register.strikes is not None:
        total = np.bincount(register.strikes.bore, weights=np.nan_to_num(register.strikes.flow), minlength=len(register))
        flows.append(np.log(total[total > 0]))
    flows = np.concatenate(flows)
    start = fitting.start
    scale_widths, yield_widths = (start.scale.widths, start.water.widths) if start else (
        fitting.widths(fitting.scale_said, fitting.scale_field), fitting.widths(fitting.yield_said, fitting.yield_field))
    return OddsModel(
        fitting.shape, Layer(fitting.scale_field, scale_value, weight, scale_widths), Layer(fitting.yield_field, value, precision, yield_widths), datum, fitting.sd, fitting.habit,
        deepest=float(max(np.quantile(depths, 0.995), 30.0)), highest=float(np.exp(flows.max())), known=int(fitting.known.sum()), spacing=fitting.spacing)
