"""Track record of a register: how right the odds would have been at bores held out in blocks, against plainer ways of guessing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from borewright.errors import BadInput, OutOfDomain, Refused, require_positive
from borewright.siting import evidence as grade
from borewright.siting.belief import belief_at
from borewright.siting.blend import GUESSES, Blend, fit_blend, guesses
from borewright.siting.compound import latent_strikes
from borewright.siting.evidence import water_of
from borewright.siting.habits import Endings, share_at_bottom
from borewright.siting.keep import model_of
from borewright.siting.model import OddsModel, fit_model
from borewright.siting.register import Register
from borewright.siting.samples import blocks
from borewright.siting.standing import keep_standing
from borewright.siting.trees import boosted_guess

__all__ = ["PickRecord", "Proof", "ReliabilityBin", "pick_record", "proof_as_dict", "prove"]

_NEIGHBOURS = 25
_MOST = 3000  # held-out bores that are asked
_TRIED = 1500  # bores that the blend of one fold is learned from
_AGAIN = 2000  # bores up to which the model is fitted anew without each pair of folds


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Bores told odds in one tenth: how many, mean odds told, share that had enough, and its 80 % Jeffreys interval."""

    low: float
    high: float
    count: int
    told: float
    found: float
    found_low: float
    found_high: float


@dataclass(frozen=True)
class Proof:
    """How right the odds were at bores that the model had not seen.

    Attributes
    ----------
    need : float
        [m3/s]
    bores, blocks : int
        Bores asked, and blocks of ground held out in turn.
    share : float
        Share of them that had enough.
    brier, log_score : float
        Of the odds read as the record would show them; smaller is better for both (the log score is the mean of -ln of the chance
        given to what happened).
    brier_alone, log_score_alone : float
        Of the same odds before the record's own shares are blended in.
    weights : dict of str to float
        Mean weight of the odds and of each plain guess in the blend; all 0 would be the base rate.
    brier_base, log_score_base : float
        Of the base rate of the other blocks.
    brier_neighbours, log_score_neighbours : float
        Of the share among the 25 nearest bores of the other blocks.
    reliability : tuple of ReliabilityBin
    brier_boosting, log_score_boosting : float or None
        Of scikit-learn's gradient boosting on place and depth, where it was asked for.
    """

    need: float
    bores: int
    blocks: int
    share: float
    brier: float
    brier_base: float
    brier_neighbours: float
    log_score: float
    log_score_base: float
    log_score_neighbours: float
    reliability: tuple[ReliabilityBin, ...]
    brier_alone: float
    log_score_alone: float
    weights: dict[str, float]
    brier_boosting: float | None = None
    log_score_boosting: float | None = None


def outcomes(register: Register, need: float) -> np.ndarray:
    """Return 1 for bores that gave at least the need, 0 for those that did not, -1 where nothing tells."""
    water = water_of(register)
    flow = register.flow.copy()
    if register.strikes is not None:
        total = np.bincount(register.strikes.bore, weights=np.nan_to_num(register.strikes.flow), minlength=len(register))
        flow = np.where(np.isnan(flow) & (total > 0), total, flow)
    flow = np.where(water.grade == grade.DRY, 0.0, flow)
    out = np.where(np.isfinite(flow), (flow >= need * (1 - 1e-9)).astype(int), -1)
    # A total at the limit of what was measured tells nothing of a need above it.
    return np.where(water.capped & (flow < need), -1, out)


def as_drilled(model: OddsModel, register: Register, need: float, lon: np.ndarray, lat: np.ndarray, depth: np.ndarray) -> np.ndarray:
    """Return the chance that bores which ended at a depth gave the need, the model knowing their place and depth only.

    Notes
    -----
    A bore ends because it had enough or for another reason, so the depth itself tells of the yield: a short bore is
    mostly a lucky one. The chance is therefore taken over the ways in which a bore here could have ended at that depth,
    with the habit of stopping learned from the other bores.
    """
    from scipy.special import gammaln

    belief = belief_at(model, register, lon, lat)
    tables = latent_strikes(model.log_yield_sd, most=grade.MOST_HIDDEN)
    datum = np.maximum(np.expm1(belief.datum), 0.0) if model.datum is not None else np.zeros(len(lon))
    exposure = np.maximum(model.shape.exposure(depth, datum), 1e-9)
    bottom = share_at_bottom(model.shape, depth, datum, model.habit.rod)
    hazard = model.habit.hazard_at(depth)
    grid, k = tables.log_total, np.arange(1, grade.MOST_HIDDEN + 1)
    density = np.exp(tables.log_density)
    step = np.gradient(grid)
    endings = Endings(model.log_yield_sd, float(np.median(belief.level)), most=grade.MOST_HIDDEN)
    nodes, weights = np.polynomial.hermite_e.hermegauss(5)
    weights = weights / weights.sum()
    enough = np.empty(len(lon))
    for part in np.array_split(np.arange(len(lon)), max(1, len(lon) // 500)):
        total = grid[None, :] + belief.level[part, None]
        satisfied = model.habit.enough(total)
        other = (1.0 - satisfied) * hazard[part, None] * step
        by_water = k[:, None, None] * endings.by_water(model.habit, total.ravel()).reshape(len(k), *total.shape) * bottom[part, None] * step
        reached = total >= np.log(need)
        good, all_ways = np.zeros(len(part)), np.zeros(len(part))
        for z, share in zip(nodes, weights, strict=True):
            expected = exposure[part] * np.exp(belief.scale[part] + np.sqrt(belief.scale_variance[part]) * z)
            ways = np.exp(k[None, :] * np.log(expected)[:, None] - expected[:, None] - gammaln(k + 1)[None, :])
            by_total = (ways @ density) * other + np.einsum("nk,kg,kng->ng", ways, density, by_water)
            good += share * (by_total * reached).sum(axis=1)
            all_ways += share * (by_total.sum(axis=1) + np.exp(-expected) * hazard[part])
        enough[part] = good / np.maximum(all_ways, 1e-300)
    return np.clip(enough, 0.0, 1.0)


def _log_score(p: np.ndarray, y: np.ndarray) -> float:
    p = np.clip(p, 0.005, 0.995)
    return float(-(y * np.log(p) + (1 - y) * np.log(1 - p)).mean())


def _reliability(p: np.ndarray, y: np.ndarray) -> tuple[ReliabilityBin, ...]:
    from scipy.special import betaincinv

    out = []
    for i in range(10):
        inside = (p >= i / 10) & ((p < (i + 1) / 10) | (i == 9))
        if inside.any():
            n, good = int(inside.sum()), float(y[inside].sum())
            low, high = (float(betaincinv(good + 0.5, n - good + 0.5, q)) for q in (0.1, 0.9))
            out.append(ReliabilityBin(i / 10, (i + 1) / 10, n, float(p[inside].mean()), good / n, low, high))
    return tuple(out)


def prove(register: Register, *, need: float, folds: int = 5, boosting: bool = False, blended: bool = True, progress: Callable[[str], None] = lambda step: None) -> Proof:
    """Return how right the odds are at bores held out in blocks of ground.

    Parameters
    ----------
    need : float
        Flow that counts as enough [m3/s].
    folds : int
        Parts into which the blocks are dealt; each is held out in turn.
    boosting : bool
        Also score scikit-learn's gradient boosting on the same features: the bore's place and depth.
    blended : bool
        False scores the odds alone, in a fraction of the time: they stand where the blended ones would.
    progress : callable
        Told the name of each step.

    Raises
    ------
    OutOfDomain
        A need that is not above zero.
    Refused
        Too few bores with a known outcome, or all with the same.

    Notes
    -----
    The model is fitted anew without each fold; only the widths and spreads of its fields are kept. The question put is that of
    the record: did this bore, ended where it was, give the need? Three things stand between the odds of a spot and that: drillers
    stop when they have enough, which the model knows; some results are written down more often than others; and no model fits
    every ground. For the last two the odds are blended with plain shares of the record, each weighted only as far as it helped at
    bores held out in their turn from the other folds; nothing of a bore's own fold has a part in what it is told. Where nothing helps,
    what is left is the base rate. The odds without the blend are scored beside it.

    The odds told of a spot are not blended. They answer another question: a hole to a given depth, not one that ended there because it had
    enough; by what bores had at their own depths right odds of the first kind look wrong (invented registers where drillers stop when they have enough).
    Instead the record is kept with the register, and each answer says whether the odds beat the base rate.
    """
    require_positive(need=need)
    if not 2 <= folds <= 20:
        raise OutOfDomain("folds", folds, "cannot divide the ground", "2 to 20")
    outcome = outcomes(register, need)
    asked = np.flatnonzero(outcome >= 0)
    if len(asked) < 30:
        raise Refused(f"only {len(asked)} bores of {register.name} have a known yield: too few for a track record (at least 30)")
    if outcome[asked].min() == outcome[asked].max():
        raise Refused(f"every bore of {register.name} has the same outcome at this need: nothing can be told apart")
    whole = model_of(register)
    groups = blocks(register.places[asked], max(8, min(60, len(asked) // (4 * folds))))
    fold = np.empty(len(asked), int)
    for i, rows in enumerate(groups):
        fold[rows] = (i * 2 + i // folds) % folds
    held = asked if len(asked) <= _MOST else asked[np.sort(np.random.default_rng(0).choice(len(asked), _MOST, replace=False))]
    fold_of = np.full(len(register), -1)
    fold_of[asked] = fold
    p, alone, base, near, trees = np.empty((5, len(held)))
    weights = np.zeros(len(GUESSES)) if blended else np.eye(len(GUESSES))[0]
    again = len(asked) <= _AGAIN
    fitted: dict[tuple[int, int], tuple[OddsModel, Register]] = {}

    def without(f: int, g: int) -> tuple[OddsModel, Register]:
        """Return the model learned from the bores of neither fold, and their register."""
        f, g = min(f, g), max(f, g)
        if (f, g) not in fitted:
            fitted[f, g] = _left_out(register, whole, (fold_of != f) & (fold_of != g), turns=2 if f == g else 1)
        return fitted[f, g]

    def learned_without(f: int) -> Blend:
        """Return the blend that helped most at the bores of every other fold, each guessed at from the rest."""
        told, right, shares = [], [], []
        for g in range(folds):
            if g == f:
                continue
            inner = np.flatnonzero((fold_of != f) & (fold_of != g))
            known = inner[outcome[inner] >= 0]
            tried = asked[fold_of[asked] == g]
            tried = tried if len(tried) <= _TRIED // folds else tried[:: -(-len(tried) * folds // _TRIED)]
            model, others = without(f, g) if again else _masked(*without(f, f), fold_of[fold_of != f] != g)
            odds = as_drilled(model, others, need, register.lon[tried], register.lat[tried], register.depth[tried])
            told.append(guesses(odds, register, known, tried, outcome))
            right.append(outcome[tried])
            shares.append(np.full(len(tried), outcome[known].mean()))
        return fit_blend(np.concatenate(told), np.concatenate(shares), np.concatenate(right).astype(float))

    for f in range(folds):
        progress(f"part {f + 1} of {folds}")
        mine = np.flatnonzero(fold_of[held] == f)
        train, where = asked[fold_of[asked] != f], held[mine]
        model, others = without(f, f)
        base[mine] = outcome[train].mean()
        odds = as_drilled(model, others, need, register.lon[where], register.lat[where], register.depth[where])
        p[mine] = alone[mine] = odds
        if blended:
            blend = learned_without(f)
            p[mine] = blend(guesses(odds, register, train, where, outcome), base[mine])
            weights += blend.weights / folds
        near[mine] = _neighbour_share(register, train, where, outcome)
        if boosting:
            trees[mine] = boosted_guess(register, train, where, outcome)
    y = outcome[held].astype(float)
    brier = lambda guess: float(((guess - y) ** 2).mean())
    proof = Proof(need, len(held), len(groups), float(y.mean()), brier(p), brier(base), brier(near), _log_score(p, y), _log_score(base, y),
                  _log_score(near, y), _reliability(p, y), brier(alone), _log_score(alone, y), dict(zip(GUESSES, weights.tolist(), strict=True)),
                  brier(trees) if boosting else None, _log_score(trees, y) if boosting else None)
    keep_standing(register, proof)
    return proof


def _left_out(register: Register, whole: OddsModel, keep: np.ndarray, *, turns: int) -> tuple[OddsModel, Register]:
    others = register.subset(keep)
    # At one width each: averaging over several moves the bands, hardly the odds, and no band is asked for here.
    one = replace(whole, scale=replace(whole.scale, widths=()), water=replace(whole.water, widths=()))
    return fit_model(others, start=one, turns=turns), others


def _masked(model: OddsModel, register: Register, keep: np.ndarray) -> tuple[OddsModel, Register]:
    """Return a model and its register with what some bores say left out; of a large register they hardly move the rest of it."""
    layer = lambda one: one and replace(one, value=one.value[keep], precision=one.precision[keep])
    return replace(model, scale=layer(model.scale), water=layer(model.water), datum=layer(model.datum)), register.subset(keep)


def _neighbour_share(register: Register, train: np.ndarray, where: np.ndarray, outcome: np.ndarray) -> np.ndarray:
    from scipy.spatial import cKDTree

    _, near = cKDTree(register.places[train]).query(register.places[where], k=min(_NEIGHBOURS, len(train)))
    return outcome[train][near.reshape(len(where), -1)].mean(axis=1)


def proof_as_dict(proof: Proof) -> dict[str, Any]:
    """Return the track record as plain types."""
    return {
        "need_lps": 1000.0 * proof.need, "bores": proof.bores, "blocks": proof.blocks, "share": proof.share, "brier": proof.brier,
        "brier_base": proof.brier_base, "brier_neighbours": proof.brier_neighbours, "log_score": proof.log_score, "log_score_base": proof.log_score_base,
        "log_score_neighbours": proof.log_score_neighbours, "brier_alone": proof.brier_alone, "log_score_alone": proof.log_score_alone,
        "weights": dict(proof.weights),
        "reliability": [{"low": b.low, "high": b.high, "count": b.count, "told": b.told, "found": b.found, "found_low": b.found_low, "found_high": b.found_high}
                        for b in proof.reliability],
    } | ({} if proof.brier_boosting is None else {"brier_boosting": proof.brier_boosting, "log_score_boosting": proof.log_score_boosting})


@dataclass(frozen=True, slots=True)
class PickRecord:
    """How one way of picking a spot did against the odds told beforehand.

    Attributes
    ----------
    way : str
        Such as lineament, sounding, neighbour's bore, divining, customer's choice.
    holes, found : int
    expected : float
        Holes that would have had enough if the odds were right.
    share_low, share_high : float
        80 % Beta-binomial interval of the share found (prior one half of a success and of a failure).
    beats_odds : float
        Chance that holes picked this way do better than their odds said [-].
    """

    way: str
    holes: int
    found: int
    expected: float
    share_low: float
    share_high: float
    beats_odds: float


def pick_record(ways: list[str], odds: np.ndarray, found: np.ndarray) -> tuple[PickRecord, ...]:
    """Return the record of each way of picking, by the same rule for all.

    Parameters
    ----------
    ways : list of str, length n
        How each hole's spot was picked.
    odds, found : array_like, shape (n,)
        Odds told beforehand [-], and whether the hole had enough.

    Raises
    ------
    BadInput
        Lists of different lengths, odds outside 0 to 1.

    Notes
    -----
    The chance of doing better than the odds compares the posterior of the share found with the mean odds told; with few
    holes it stays near one half, whatever was found.
    """
    from scipy.special import betainc, betaincinv

    odds, found = np.asarray(odds, float), np.asarray(found, bool)
    if not len(ways) == len(odds) == len(found):
        raise BadInput("odds", len(odds), "are not as many as the holes", f"{len(ways)} odds and outcomes")
    if len(odds) and not np.all((odds >= 0) & (odds <= 1)):
        raise BadInput("odds", float(odds[~((odds >= 0) & (odds <= 1))][0]), "lie outside 0 to 1", "a fraction from 0 to 1")
    out = []
    for way in sorted(set(ways)):
        mine = np.array([w == way for w in ways])
        n, good, told = int(mine.sum()), int(found[mine].sum()), float(odds[mine].mean())
        a, b = good + 0.5, n - good + 0.5
        out.append(PickRecord(way, n, good, float(odds[mine].sum()), float(betaincinv(a, b, 0.1)), float(betaincinv(a, b, 0.9)), float(1.0 - betainc(a, b, told))))
    return tuple(out)
