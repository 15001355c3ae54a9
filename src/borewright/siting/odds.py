"""The odds of enough water at a spot, by depth, with their band and everything else that the bores around tell."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from borewright.errors import (
    Advisory,
    BadInput,
    OutOfDomain,
    Refused,
    require_finite,
    require_positive,
)
from borewright.quantities import show
from borewright.siting.belief import Around, Belief, around, belief_at, belief_from
from borewright.siting.column import column_doubts, expected_column, weighted_quantiles
from borewright.siting.compound import EnoughTable, NeedBelow, chance_each, enough_table, strikes_by_depth
from borewright.siting.keep import model_of, table_of
from borewright.siting.model import OddsModel
from borewright.siting.prospect import ExpectedColumn, WaterProspect
from borewright.siting.register import Register
from borewright.siting.standing import Standing, standing_advisory, standing_of

__all__ = ["DepthOdds", "NearBore", "Odds", "Opinion", "SiteOdds", "odds_at", "odds_at_sites", "opinion_from_text"]

BAND = 0.8  # the share of truths that a band is meant to hold
_CELL = 2.0  # depth cells of a prospect [m]
_DRAWS = 96
_KNOTS = 6  # points at which the chance is worked out for the depth of enough, and read off between
_SURE = 0.999  # chance beyond which no more of the curve is wanted
_QUANTILES = (0.1, 0.25, 0.5, 0.75, 0.9)


@dataclass(frozen=True, slots=True)
class Opinion:
    """What the driller thinks, in his own terms: the chance of the need by a depth, counted as so many bores."""

    chance: float
    bores: float
    depth: float | None = None


class DepthOdds(NamedTuple):
    """Chance of enough by one depth [m], with the band that holds the truth about 8 times in 10."""

    depth: float
    p: float
    low: float
    high: float


class NearBore(NamedTuple):
    """One of the nearest bores: distance [m], depth [m], total yield [m3/s] (None where not recorded), place."""

    bore_id: str
    distance: float
    depth: float
    flow: float | None
    wet: bool | None
    latitude: float
    longitude: float


@dataclass(frozen=True)
class Odds:
    """What a register says of one spot.

    Attributes
    ----------
    register : str
    latitude, longitude : float
    need : float
        [m3/s]
    by_depth : tuple of DepthOdds
    enough_depth : dict of float to float or None
        Depth by which the chance of enough reaches 0.1, 0.25, 0.5, 0.75, 0.9 [m]; None: not within reach.
    first_water : dict of float to float or None
        The same for the first strike of any size.
    static_level, conductivity : dict of float to float
        Quantiles among the bores around [m], [uS/cm]; empty where not recorded.
    effective_records : float
        Bores' worth of record behind the figure: each counted by the square of its correlation with this spot [-].
    prospect : WaterProspect
    column_of : callable
        Gives the expected column, worked out when it is first asked for: the odds alone do not need it.
    nearest : tuple of NearBore
    opinion : Opinion or None
    from_records : tuple of DepthOdds
        The odds of the records alone, where an opinion was counted.
    sentence : str
        For the customer.
    advisories : tuple of Advisory
    """

    register: str
    latitude: float
    longitude: float
    need: float
    by_depth: tuple[DepthOdds, ...]
    enough_depth: dict[float, float | None]
    first_water: dict[float, float | None]
    static_level: dict[float, float]
    conductivity: dict[float, float]
    effective_records: float
    prospect: WaterProspect
    column_of: Callable[[], ExpectedColumn] = dataclasses.field(repr=False, compare=False)
    nearest: tuple[NearBore, ...]
    opinion: Opinion | None
    from_records: tuple[DepthOdds, ...]
    sentence: str
    advisories: tuple[Advisory, ...]

    @property
    def column(self) -> ExpectedColumn:
        """The ground expected under the spot."""
        return self.column_of()


class _Once:
    """What a function gives, worked out when it is first asked for."""

    __slots__ = ("_found", "_work")

    def __init__(self, work: Callable[[], ExpectedColumn]):
        self._work, self._found = work, None

    def __call__(self) -> ExpectedColumn:
        if self._found is None:
            self._found = self._work()
        return self._found


@dataclass(frozen=True, slots=True)
class SiteOdds:
    """Odds at many sites, shape (sites,); NaN where the register is too far away to speak."""

    p: np.ndarray
    low: np.ndarray
    high: np.ndarray
    effective_records: np.ndarray


def opinion_from_text(text: str) -> Opinion:
    """Return the opinion in words such as "0.5 as 5 bores" or "60 % by 70 m as 3 bores"."""
    found = re.fullmatch(r"\s*([0-9.]+)\s*(%?)\s*(?:(?:by|at)\s+([0-9.]+)\s*m)?\s*as\s+([0-9.]+)\s+(?:bores?|wells?|holes?)\s*", text)
    want = 'words such as "0.5 as 5 bores" or "0.6 by 70 m as 3 bores"'
    if not found:
        raise BadInput("opinion", text, "is not an opinion that can be counted", want)
    try:
        chance, bores = float(found[1]) / (100.0 if found[2] else 1.0), float(found[4])
        depth = float(found[3]) if found[3] else None
    except ValueError as error:
        raise BadInput("opinion", text, "holds no number", want) from error
    return _checked_opinion(Opinion(chance, bores, depth))


def _checked_opinion(opinion: Opinion) -> Opinion:
    if not 0 < opinion.chance < 1:
        raise OutOfDomain("opinion", opinion.chance, "nothing is certain below ground", "a chance between 0 and 1, such as 0.5")
    if not 0 < opinion.bores <= 1000:
        raise OutOfDomain("opinion", opinion.bores, "cannot be counted as so many bores", "above 0 and at most 1000")
    if opinion.depth is not None:
        require_positive(opinion_depth=opinion.depth)
    return opinion


@lru_cache(maxsize=8)
def _table(log_yield_sd: float) -> EnoughTable:
    return enough_table(log_yield_sd)


@lru_cache(maxsize=1)
def _normals() -> np.ndarray:
    """Return evenly spread points of three independent standard normals, shape (3, draws, 1): always the same."""
    from scipy.special import ndtri

    # Powers of the plastic constant's cousin in three dimensions: a lattice without a seed.
    base = 1.2207440846057596
    steps = (np.arange(1, _DRAWS + 1)[:, None] * base ** -np.arange(1.0, 4.0)[None, :] + 0.5) % 1.0
    return ndtri(steps).T[:, :, None]


def _gamma(mean_log: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return shape and rate of the gamma belief with the mean and the relative spread of a log-normal one."""
    shape = 1.0 / np.expm1(np.minimum(variance, 6.0))
    return shape, shape / np.exp(mean_log + 0.5 * variance)


def _datum_depths(belief: Belief, z: np.ndarray) -> np.ndarray:
    return np.maximum(np.expm1(belief.datum + np.sqrt(belief.datum_variance) * z), 0.0)


def _expected(model: OddsModel, belief: Belief, depth: np.ndarray) -> np.ndarray:
    """Return expected strikes at scale 1 by each site's depth, the datum's doubt averaged over, shape of depth."""
    if model.datum is None:
        return model.shape.exposure(depth, np.zeros_like(depth))
    nodes, weights = _nodes()
    return sum(w * model.shape.exposure(depth, _datum_depths(belief, z)) for z, w in zip(nodes, weights, strict=True))


@lru_cache(maxsize=1)
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    """Return five points of a standard normal and their weights, for an average over it."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(5)
    return nodes, weights / weights.sum()


def _band(model: OddsModel, belief: Belief, log_need: np.ndarray, depth: np.ndarray, expected: np.ndarray,
          tilt: tuple[np.ndarray, np.ndarray] | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Return the band of the chance, over the doubt in scale, yield and datum; shapes broadcast from (sites,).

    `expected` strikes at scale 1 by each depth are used as they are where no datum moves them.
    """
    z = _normals()
    if tilt is None:
        eta = np.sqrt(belief.scale_variance) * z[0] + belief.scale
    else:
        from scipy.special import gammaincinv, ndtr

        eta = np.log(np.maximum(gammaincinv(tilt[0], ndtr(z[0])) / tilt[1], 1e-12))
    level = belief.level + np.sqrt(belief.level_variance) * z[1]
    if model.datum is None:
        expected = expected[None, :]
    else:
        expected = model.shape.exposure(np.broadcast_to(depth, (_DRAWS, depth.shape[-1])), np.broadcast_to(_datum_depths(belief, z[2]), (_DRAWS, depth.shape[-1])))
    draws = table_of(model).at(np.log(np.maximum(expected, 1e-12)) + eta, log_need - level)
    draws.sort(axis=0)
    return _between(draws, 0.5 - BAND / 2), _between(draws, 0.5 + BAND / 2)


def _between(ordered: np.ndarray, share: float) -> np.ndarray:
    """Return a quantile of each column of ordered draws, straight between the two that it falls between."""
    at = share * (len(ordered) - 1)
    below = int(at)
    return ordered[below] + (at - below) * (ordered[min(below + 1, len(ordered) - 1)] - ordered[below])


def reach_of(model: OddsModel) -> float:
    """Return how far from its nearest known bore a spot may lie [m]."""
    length = model.scale.field.length if model.scale.field.sd > 0.05 else 0.0
    return max(3.0 * length, 6.0 * model.spacing, 3_000.0)


def _check_depths(model: OddsModel, depths: np.ndarray) -> None:
    deepest = 1.5 * model.deepest
    if depths.size and depths.min() > 0 and depths.max() <= deepest:
        return
    require_positive(depth=depths)
    if depths.size and depths.max() > deepest:
        raise OutOfDomain("depth", float(depths.max()), "is far below where any bore of the register has been", f"at most {deepest:.0f} m")


def check_place(latitude: np.ndarray | float, longitude: np.ndarray | float) -> None:
    """Raise OutOfDomain unless the place is on the globe."""
    if isinstance(latitude, float) and isinstance(longitude, float) and abs(latitude) <= 90 and abs(longitude) <= 180:
        return
    require_finite(latitude=latitude, longitude=longitude)
    for field, value, limit in (("latitude", latitude, 90), ("longitude", longitude, 180)):
        outside = np.abs(np.asarray(value, float)) > limit
        if np.any(outside):
            raise OutOfDomain(field, float(np.asarray(value, float)[outside].flat[0]) if np.ndim(value) else float(value), "is not on the globe", f"-{limit} to {limit} degrees")


def odds_at_sites(register: Register, latitude: np.ndarray, longitude: np.ndarray, *, need: np.ndarray | float, depth: np.ndarray | float) -> SiteOdds:
    """Return the odds at many sites, each with its own need [m3/s] and depth [m]; arrays of shape (sites,).

    Raises
    ------
    OutOfDomain
        A place off the globe, a need or depth that is not above zero or too deep for the register.
    Refused
        Too few records in the whole register.
    """
    p, low, high, records, far = worked_at_sites(register, latitude, longitude, need=need, depth=depth)
    return SiteOdds(*(np.where(far, np.nan, values) for values in (p, low, high)), records)


def worked_at_sites(register: Register, latitude: np.ndarray, longitude: np.ndarray, *, need: np.ndarray | float, depth: np.ndarray | float) -> tuple[np.ndarray, ...]:
    """Return p, low, high, effective records and whether the register is too far away to speak, as `odds_at_sites` with nothing blanked."""
    latitude, longitude, need, depth = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in (latitude, longitude, need, depth)))
    check_place(latitude, longitude)
    require_positive(need=need)
    model = model_of(register)
    _check_depths(model, depth)
    belief = belief_at(model, register, longitude, latitude)
    shape, rate = _gamma(belief.scale, belief.scale_variance)
    expected = _expected(model, belief, depth)
    p = chance_each(need, expected, shape, rate, belief.level, np.sqrt(model.log_yield_sd**2 + belief.level_variance))
    low, high = np.empty(len(p)), np.empty(len(p))
    for rows in np.array_split(np.arange(len(p)), max(1, len(p) // 4000)):
        part = Belief(*(getattr(belief, name)[rows] for name in Belief.__slots__))
        low[rows], high[rows] = _band(model, part, np.log(need[rows]), depth[rows], expected[rows])
    return p, np.minimum(low, p), np.maximum(high, p), belief.records, belief.nearest > reach_of(model)


def _with_opinion(prospect: WaterProspect, opinion: Opinion, need: float, depth: float) -> WaterProspect:
    """Return the prospect with the opinion counted as bores drilled to a depth that found what the opinion expects."""
    from dataclasses import replace

    from scipy.optimize import brentq

    expected = float(strikes_by_depth(prospect, np.array([depth]))[0])
    table = _table(round(prospect.log_yield_sd, 3))
    h = np.array(np.log(need) - prospect.log_yield_mean)
    gap = lambda x: float(table(np.array(np.exp(x)), h)) - opinion.chance
    low, high = np.log(1e-6), np.log(60.0)
    strikes = 60.0 if gap(high) < 0 else 1e-6 if gap(low) > 0 else float(np.exp(brentq(gap, low, high)))
    return replace(prospect, scale_shape=prospect.scale_shape + opinion.bores * strikes, scale_rate=prospect.scale_rate + opinion.bores * expected,
                   effective_records=prospect.effective_records + opinion.bores)


def odds_at(register: Register, latitude: float, longitude: float, *, need: float, depths: Sequence[float] | None = None,
            opinion: Opinion | str | None = None) -> Odds:
    """Return what a register says of one spot.

    Parameters
    ----------
    latitude, longitude : float
        [deg]
    need : float
        Flow that counts as enough [m3/s].
    depths : sequence of float, optional
        Depths to tell the odds for [m]; by default every 10 m as far as the records reach.
    opinion : Opinion or str, optional
        The driller's own, counted as bores.

    Raises
    ------
    OutOfDomain, BadInput
        A place off the globe, a need or a depth that is not above zero or beyond the register, an opinion that cannot be counted.
    Refused
        Too few records to give a figure: in the register, or around the spot.

    References
    ----------
    .. [1] Gelman, A. and others, 2013, Bayesian Data Analysis, 3rd ed., section 2.6: the gamma-Poisson pair (from memory).
    """
    latitude, longitude, need = (float(v) for v in (latitude, longitude, need))
    check_place(latitude, longitude)
    require_positive(need=need)
    if isinstance(opinion, str):
        opinion = opinion_from_text(opinion)
    elif opinion is not None:
        _checked_opinion(opinion)
    model = model_of(register)
    chosen = np.arange(10.0, model.deepest + 0.1, 10.0) if depths is None else np.array(sorted(set(np.asarray(depths, float).ravel().tolist())))
    _check_depths(model, chosen)
    around_it = around(model, register, longitude, latitude)
    belief = belief_from(model, register, around_it)
    reach = reach_of(model)
    if belief.nearest[0] > reach:
        raise Refused(f"the nearest bore of {register.name} that says anything is {belief.nearest[0] / 1000:.1f} km away: too far for a figure (at most {reach / 1000:.1f} km)")
    prospect, expected = _prospect(model, belief, max(model.deepest, float(chosen[-1]) if len(chosen) else 0.0))
    records, enough_depth = _told(model, belief, prospect, need, chosen, expected, None)
    told = records
    if opinion is not None:
        prospect = _with_opinion(prospect, opinion, need, min(opinion.depth or float(chosen[-1]), float(prospect.depth_edges[-1])))
        told, enough_depth = _told(model, belief, prospect, need, chosen, expected, (prospect.scale_shape, prospect.scale_rate))
    deepest = float(prospect.depth_edges[-1])
    column = _Once(lambda: expected_column(register, model, belief, around_it, deepest))
    notes = [*column_doubts(register, around_it), *_doubts(model, belief, need, chosen)]
    standing = standing_of(register, need)
    if standing is not None:
        notes.append(standing_advisory(standing))
    return Odds(
        register.name, latitude, longitude, need, told, enough_depth, _first_strike(prospect, expected),
        weighted_quantiles(register, "static_level", around_it), weighted_quantiles(register, "conductivity", around_it),
        float(prospect.effective_records), prospect, column, _nearest(register, around_it), opinion, records if opinion is not None else (), _sentence(told, standing), tuple(notes))


def _prospect(model: OddsModel, belief: Belief, deepest: float) -> tuple[WaterProspect, np.ndarray]:
    """Return the prospect of one spot and the expected strikes at scale 1 by each of its edges."""
    edges, strikes, expected = _cells(model, belief, deepest)
    shape, rate = _gamma(belief.scale[0], belief.scale_variance[0])
    return WaterProspect(edges, strikes, float(shape), float(rate), float(belief.level[0]),
                         float(np.sqrt(model.log_yield_sd**2 + belief.level_variance[0])), float(belief.records[0])), expected


def _cells(model: OddsModel, belief: Belief, deepest: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the edges of a prospect's cells, strikes per metre at scale 1 in each and their sum by each edge; kept with the model where no spot moves them."""
    kept = model.__dict__.setdefault("_cells", {}) if model.datum is None else {}
    if deepest not in kept:
        edges = np.arange(0.0, np.ceil(deepest / _CELL) * _CELL + 0.1, _CELL)
        strikes = np.maximum(np.diff(_expected(model, belief, edges)), 0.0)
        if len(kept) > 8:
            kept.clear()
        kept[deepest] = (edges, strikes / _CELL, np.concatenate([[0.0], np.cumsum(strikes)]))
    edges, strikes, expected = kept[deepest]
    return edges.copy(), strikes.copy(), expected


def _told(model: OddsModel, belief: Belief, prospect: WaterProspect, need: float, depths: np.ndarray, expected: np.ndarray,
          gamma: tuple[float, float] | None) -> tuple[tuple[DepthOdds, ...], dict[float, float | None]]:
    """Return the odds by depth, and the depth by which the chance of enough reaches each quantile."""
    by_depth = np.interp(depths, prospect.depth_edges, expected)
    below, count, most = NeedBelow(prospect, need), len(depths), _thinned(prospect, expected[-1])
    knots, grid, between = _knots()
    p = below.enough(np.concatenate([by_depth, _strikes_of(prospect, most * knots)]))
    at_knots = p[count:]
    while at_knots[-2] > _SURE:
        most *= knots[np.argmax(at_knots > _SURE)]
        at_knots = below.enough(_strikes_of(prospect, most * knots))
    chance = np.maximum.accumulate(-np.expm1(between @ np.log1p(-np.minimum(at_knots, 1.0 - 1e-12))))
    enough_depth = _depths_of(prospect, expected, most * np.interp(_QUANTILES, chance, grid), [chance[-1] >= q for q in _QUANTILES])
    low, high = _band(model, belief, np.log(need), depths, by_depth, gamma)
    # Odds never fall with depth; what is left of rounding is taken away.
    p, low, high = np.maximum.accumulate(np.minimum(np.maximum((p[:count], low, high), 0.0), 1.0), axis=1).tolist()
    return tuple(DepthOdds(d, a, min(a, b), max(a, c)) for d, a, b, c in zip(depths.tolist(), p, low, high, strict=True)), enough_depth


@lru_cache(maxsize=1)
def _knots() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return shares of a range at which a chance is worked out, those at which it is read off, and the matrix from one to the other.

    Against `_thinned` strikes the logarithm of the chance of too little is smooth, and 0 at none (where one strike is always enough it
    is a straight line): the polynomial through Chebyshev's points is right to some 0.001 (test_shortcuts).
    """
    knots = 0.5 - 0.5 * np.cos(np.pi * np.arange(1, _KNOTS + 1) / _KNOTS)
    grid = np.linspace(0.0, 1.0, 201)
    powers = lambda x: np.vander(x, _KNOTS, increasing=True) * x[:, None]
    return knots, grid, powers(grid) @ np.linalg.inv(powers(knots))


def _thinned(prospect: WaterProspect, expected: np.ndarray | float) -> np.ndarray | float:
    """Return minus the logarithm of the chance of no strike at all, of expected strikes at scale 1."""
    return prospect.scale_shape * np.log1p(expected / prospect.scale_rate)


def _strikes_of(prospect: WaterProspect, thinned: np.ndarray) -> np.ndarray:
    """Return the expected strikes at scale 1, undoing `_thinned`."""
    return prospect.scale_rate * np.expm1(thinned / prospect.scale_shape)


def _first_strike(prospect: WaterProspect, expected: np.ndarray) -> dict[float, float | None]:
    needed = -np.log1p(-np.array(_QUANTILES))
    return _depths_of(prospect, expected, needed, (needed <= _thinned(prospect, expected[-1])).tolist())


def _depths_of(prospect: WaterProspect, expected: np.ndarray, thinned: np.ndarray, reached: list[bool]) -> dict[float, float | None]:
    """Return the depth that goes with each quantile's `_thinned` strikes, None where it is not reached."""
    depth = np.interp(_strikes_of(prospect, thinned), expected, prospect.depth_edges).tolist()
    return {q: at if there else None for q, at, there in zip(_QUANTILES, depth, reached, strict=True)}


def _nearest(register: Register, around_it: Around, count: int = 12) -> tuple[NearBore, ...]:
    out = []
    rows = around_it.rows[:count]
    told = (getattr(register, name)[rows].tolist() for name in ("bore_id", "depth", "flow", "wet", "lat", "lon"))
    for d, name, depth, flow, wet, lat, lon in zip(around_it.distance[:count].tolist(), *told, strict=True):
        known = flow == flow
        out.append(NearBore(name, d, depth, flow if known else None, None if wet < 0 and not known else wet == 1 or flow > 0, lat, lon))
    return tuple(out)


def _doubts(model: OddsModel, belief: Belief, need: float, depths: np.ndarray) -> list[Advisory]:
    out = [Advisory("odds-not-promise", "note", "Odds are what other bores found; no figure here is a promise of water, and water found is not yet safe to drink: have it tested.", "odds")]
    if belief.records[0] < 3:
        out.append(Advisory("few-records", "doubt", f"Hardly any bore stands near ({belief.records[0]:.1f} bores' worth): the figure is the district's, not this spot's.", "effective_records"))
    if need > model.highest:
        out.append(Advisory("need-above-records", "doubt", f"The need is more than any bore of this register is recorded to give ({show(model.highest, 'flow')}).", "need"))
    if depths.size and depths.max() > model.deepest:
        out.append(Advisory("below-records", "doubt", f"Hardly any bore went below {model.deepest:.0f} m: odds below it are drawn on from above.", "depth"))
    if model.scale.field.sd < 0.1:
        out.append(Advisory("neighbours-say-little", "note", "In this register neighbouring bores tell almost nothing about one another: the odds are near the district's.", "odds"))
    return out


def _sentence(told: tuple[DepthOdds, ...], standing: Standing | None) -> str:
    """Return the answer for the customer; where the odds did no better than the register's plain share, that share leads."""
    if not told:
        return ""
    last = told[-1]
    low, high = int(np.floor(10 * last.low)), int(np.ceil(10 * last.high))
    like_this = f"f bores like this one, {_tenths(last.p)} enough by {last.depth:.0f} m (it may be {low} to {high} in 10)"
    if standing is None or standing.better:
        return f"O{like_this}."
    return (f"Of the {standing.bores} bores of this register whose yield is known, {_tenths(standing.share, past=True)} enough. "
            f"Worked out for this spot: o{like_this}; held against the register's own bores, such figures have come no closer than the plain share.")


def _tenths(share: float, *, past: bool = False) -> str:
    """Return a share in words that go before "enough"."""
    tenths = round(10 * share)
    verb = "had" if past else "has" if tenths == 1 else "have"
    return {0: f"fewer than 1 in 10 {'had' if past else 'have'}", 10: f"more than 9 in 10 {'had' if past else 'have'}"}.get(tenths, f"about {tenths} in 10 {verb}")
