"""A season of jobs: the reserve that keeps ruin unlikely when the whole district shares its luck, and the ledger of promises kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from borewright.errors import Advisory, BadInput, require_fraction, require_non_negative, require_positive
from borewright.pricing.simulate import price_runs, simulate_holes
from borewright.pricing.stoprule import Policy
from borewright.pricing.tables import HoleTables

__all__ = [
    "NOT_INSURANCE", "Ledger", "Season", "dry_hole_ledger", "reserve_for", "reserve_of_promises", "ruin_chance", "ruin_share", "season", "shared_scales",
]

NOT_INSURANCE = Advisory(
    "simulation-is-not-insurance", "note",
    "A reserve from a simulation is not insurance: it is as good as the odds, the rates and the contract it was given. "
    "A promise to a customer may fall under consumer or insurance law where you work; ask someone who knows it.",
)


@dataclass(frozen=True, slots=True)
class Season:
    """A simulated season; money in whole minor units.

    `reserve` keeps ruin under `ruin_allowed`; `reserve_independent` would do if every job had its own luck, so the difference is the price
    of a shared bad year. `profit` holds the 10, 50 and 90 % quantiles of the season's sum, `dry_holes` those of the number of dry holes.
    """

    jobs: int
    seasons: int
    correlation: float
    ruin_allowed: float
    reserve: int
    reserve_independent: int
    profit: tuple[int, int, int]
    profit_mean: float
    dry_holes: tuple[int, int, int]
    chance_of_losing_season: float
    advisories: tuple[Advisory, ...]


def shared_scales(shape: float, rate: float, correlation: float, seasons: int, jobs: int, generator: np.random.Generator) -> np.ndarray:
    """Return local scales of every job, shape (seasons, jobs) [-], each gamma as believed, tied within a season by a Gaussian copula.

    Parameters
    ----------
    correlation : float
        Of the normal scores of two jobs of one season, from 0 (own luck) to 1 (one luck for all).
    """
    from scipy.special import gammaincinv, ndtr

    require_fraction(correlation=correlation)
    common, own = generator.standard_normal((seasons, 1)), generator.standard_normal((seasons, jobs))
    score = np.sqrt(correlation) * common + np.sqrt(1.0 - correlation) * own
    return gammaincinv(shape, np.clip(ndtr(score), 1e-12, 1 - 1e-12)) / rate


def ruin_share(gains: np.ndarray, reserve: float) -> float:
    """Return the share of paths, shape (paths, events), whose running sum of gains ever falls below minus the reserve."""
    return float((np.cumsum(gains, axis=1).min(axis=1) < -reserve).mean())


def reserve_for(gains: np.ndarray, ruin_allowed: float) -> int:
    """Return the least whole reserve with which no more than a share of the paths is ruined [same unit as the gains]."""
    require_fraction(ruin_allowed=ruin_allowed)
    worst = np.sort(np.maximum(-np.cumsum(gains, axis=1).min(axis=1), 0.0))
    allowed = int(np.floor(ruin_allowed * len(worst) + 1e-9))
    return int(np.ceil(worst[len(worst) - 1 - min(allowed, len(worst) - 1)]))


def season(
    policy: Policy, tables: HoleTables, *, jobs: int = 30, seasons: int = 2000, correlation: float = 0.3, ruin_allowed: float = 0.05,
    overhead: int = 0, seed: int = 1,
) -> Season:
    """Return the reserve and the spread of a season of jobs like this one, under its contract and rule.

    Parameters
    ----------
    jobs, seasons : int
        Jobs in a season, seasons simulated.
    correlation : float
        How far the jobs of a season share the district's luck; 0.3 is our own choice, to be replaced by the ledger.
    ruin_allowed : float
        Share of seasons in which the reserve may run out.
    overhead : int
        Fixed cost per job beyond the rate card's [minor units].
    seed : int

    Returns
    -------
    Season
    """
    if not 1 <= jobs <= 1000 or not 100 <= seasons <= 100000 or jobs * seasons > 2_000_000:
        raise BadInput("jobs", jobs, "cannot be simulated", "1 to 1000 jobs, 100 to 100,000 seasons, two million jobs in all")
    require_non_negative(overhead=overhead)
    model = policy.model

    def gains(tie: float) -> tuple[np.ndarray, np.ndarray]:
        generator = np.random.default_rng(seed)
        scales = shared_scales(model.shape, model.rate, tie, seasons, jobs, generator)
        runs = simulate_holes(policy, seasons * jobs, generator, scales=scales.ravel())
        outcomes = price_runs(runs, tables, generator)
        return (outcomes.profit - overhead).reshape(seasons, jobs).astype(float), (~outcomes.found).reshape(seasons, jobs).sum(axis=1)

    shared, dry = gains(correlation)
    alone, _ = gains(0.0)
    sums = shared.sum(axis=1)
    return Season(
        jobs=jobs, seasons=seasons, correlation=correlation, ruin_allowed=ruin_allowed, reserve=reserve_for(shared, ruin_allowed),
        reserve_independent=reserve_for(alone, ruin_allowed), profit=tuple(int(v) for v in np.rint(np.quantile(sums, (0.1, 0.5, 0.9)))),
        profit_mean=float(sums.mean()), dry_holes=tuple(int(v) for v in np.quantile(dry, (0.1, 0.5, 0.9), method="inverted_cdf")),
        chance_of_losing_season=float((sums < 0).mean()), advisories=(NOT_INSURANCE,),
    )


def ruin_chance(*, jobs: int, chance_dry: float, profit: float, loss: float, reserve: float, correlation: float = 0.0) -> float:
    """Return the chance that a season of like jobs, each a profit or a loss, ever takes more than the reserve [-].

    Parameters
    ----------
    jobs : int
        In the season.
    chance_dry : float
        Of a dry hole on each job.
    profit, loss : float
        Of a job that finds water, and of one that does not, both above zero; any one unit of money with the reserve.
    correlation : float
        Of the normal scores of two jobs of the season: one common factor, as in `shared_scales`.

    Notes
    -----
    Given the common factor the running sum is a random walk with an absorbing barrier, followed exactly; the factor is integrated out by
    Gauss-Hermite quadrature with 64 nodes. With correlation 0 and loss equal to profit it is the gambler's ruin.
    """
    from scipy.special import ndtr, ndtri

    require_fraction(chance_dry=chance_dry, correlation=correlation)
    require_positive(profit=profit, loss=loss)
    require_non_negative(reserve=reserve)
    if not 1 <= jobs <= 1000:
        raise BadInput("jobs", jobs, "is not a number of jobs in a season", "1 to 1000")
    nodes, weights = np.polynomial.hermite_e.hermegauss(64)
    if correlation in (0.0, 1.0) or chance_dry in (0.0, 1.0):
        # One luck for all is one throw for the season; none shared needs no factor.
        share = np.array([0.0, 1.0]) if correlation == 1.0 else np.array([chance_dry])
        weights = np.array([1.0 - chance_dry, chance_dry]) if correlation == 1.0 else np.ones(1)
    else:
        share = ndtr((ndtri(chance_dry) - np.sqrt(correlation) * nodes) / np.sqrt(1.0 - correlation))
        weights = weights / weights.sum()
    alive = np.zeros((len(share), jobs + 1))  # by the number of dry holes so far
    alive[:, 0] = 1.0
    dry = np.arange(jobs + 1)
    for done in range(1, jobs + 1):
        alive[:, 1:] = alive[:, 1:] * (1.0 - share[:, None]) + alive[:, :-1] * share[:, None]
        alive[:, 0] *= 1.0 - share
        alive[:, (done - dry) * profit - dry * loss < -reserve * (1 + 1e-12)] = 0.0
    return float(np.clip(1.0 - weights @ alive.sum(axis=1), 0.0, 1.0))


def reserve_of_promises(
    *, jobs: int, chance_dry: float, profit: float, loss: float, correlation: float = 0.3, ruin_allowed: float = 0.05
) -> float:
    """Return the least reserve that keeps `ruin_chance` at or under what is allowed, in the unit of the profit.

    The sum can only stand at whole numbers of profits and losses, so the answer is one of those.
    """
    require_fraction(ruin_allowed=ruin_allowed)
    given = {"jobs": jobs, "chance_dry": chance_dry, "profit": profit, "loss": loss, "correlation": correlation}
    ruin_chance(**given, reserve=0.0)  # refuses what cannot be before the sums are listed
    done, dry = np.meshgrid(np.arange(jobs + 1), np.arange(jobs + 1))
    depths = np.unique(np.maximum(dry * loss - (done - dry) * profit, 0.0)[dry <= done])
    low, high = 0, len(depths) - 1
    while low < high:
        middle = (low + high) // 2
        if ruin_chance(**given, reserve=float(depths[middle])) <= ruin_allowed:
            high = middle
        else:
            low = middle + 1
    return float(depths[low])


@dataclass(frozen=True, slots=True)
class Ledger:
    """Promised odds against what happened.

    `chance_as_many_or_more_dry` is the chance of at least so many dry holes if every promised odd was right; `brier` the mean squared error of
    the odds and `brier_expected` what it would be on average if they were right. `groups` holds (low, high, jobs, promised, happened).
    """

    jobs: int
    dry: int
    dry_expected: float
    chance_as_many_or_more_dry: float
    chance_as_few_or_fewer_dry: float
    brier: float
    brier_expected: float
    groups: tuple[tuple[float, float, int, float, float], ...]
    sentence: str


def dry_hole_ledger(promised: Iterable[float], found: Iterable[bool]) -> Ledger:
    """Return how the odds told beforehand did: number of dry holes against its exact distribution, Brier score, groups.

    Parameters
    ----------
    promised : iterable of float
        Odds of enough water told for each finished job, from 0 to 1 [-].
    found : iterable of bool
        Whether it was met.

    Notes
    -----
    The number of dry holes under the promised odds is Poisson-binomial; its distribution is built by convolution, exactly. It takes jobs as
    independent, so a shared bad year makes the chances here look more alarming than they are.
    """
    odds, met = np.array(list(promised), dtype=float), np.array(list(found), dtype=bool)
    if len(odds) != len(met) or not len(odds):
        raise BadInput("promised", len(odds), f"does not match {len(met)} outcomes", "odds and an outcome for each of one or more finished jobs")
    require_fraction(promised=odds)
    dry_chance = np.array([1.0])
    for p in odds:
        dry_chance = np.convolve(dry_chance, [p, 1.0 - p])
    dry = int((~met).sum())
    expected, many, few = float((1 - odds).sum()), float(dry_chance[dry:].sum()), float(dry_chance[: dry + 1].sum())
    groups = []
    edges = np.linspace(0, 1, 6)
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        inside = (odds >= low) & ((odds < high) | (high == 1.0))
        if inside.any():
            groups.append((float(low), float(high), int(inside.sum()), float(odds[inside].mean()), float(met[inside].mean())))
    verdict = "that is within ordinary luck" if min(many, few) >= 0.05 else (
        "that is more than ordinary luck explains: the odds were told too high" if many < 0.05 else
        "that is fewer than ordinary luck explains: the odds were told too low")
    return Ledger(
        jobs=len(odds), dry=dry, dry_expected=expected, chance_as_many_or_more_dry=min(many, 1.0), chance_as_few_or_fewer_dry=min(few, 1.0),
        brier=float(((odds - met) ** 2).mean()), brier_expected=float((odds * (1 - odds)).mean()), groups=tuple(groups),
        sentence=f"Of {len(odds)} jobs {dry} were dry where {expected:.1f} were expected: {verdict}.",
    )
