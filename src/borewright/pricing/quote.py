"""A quote: the hole simulated under its rule, priced from the rate card, with the promise, the optima and the rig card."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from borewright.errors import Advisory, BadInput, Refused, require_positive
from borewright.pricing.contract import Contract, per_metre
from borewright.pricing.kept import KeptQuote
from borewright.pricing.optima import (
    Reckoning,
    customer_best,
    difference_in_words,
    driller_best,
    price_of_promise,
    reckon,
)
from borewright.pricing.ratecard import RateCard, card_version
from borewright.pricing.rigcard import RigCardRow, policy_table, rig_card_rows, walk_away_depths
from borewright.pricing.seasons import NOT_INSURANCE, Season, season
from borewright.pricing.simulate import HoleOutcomes, price_runs, simulate_holes
from borewright.pricing.stoprule import Policy, chance_of_need
from borewright.pricing.strikes import LEAST_USABLE_FLOW, StrikeModel, strike_model
from borewright.pricing.tables import FAILED, FOUND, HoleForm, HoleTables, Line, hole_tables, itemised
from borewright.pricing.timing import TimeModel, prior_time_model
from borewright.siting.prospect import ExpectedColumn, WaterProspect

__all__ = ["Promise", "Quantiles", "Quote", "Scenario", "Sensitivity", "make_quote", "quote_as_dict", "season_of_quote"]


@dataclass(frozen=True, slots=True)
class Quantiles:
    """10, 50 and 90 % quantiles and the mean of the simulated holes, in the unit of the field they stand in."""

    p10: float
    p50: float
    p90: float
    mean: float


@dataclass(frozen=True, slots=True)
class Scenario:
    """One way it may go: name, what it stands for, depth [m], time [s], price with tax and its lines [whole minor units]."""

    name: str
    stands_for: str
    depth: float
    seconds: float
    found: bool
    price_minor: int
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What one cause does to the expected price: its low and high setting in words and the price at each [minor units]."""

    cause: str
    low_setting: str
    high_setting: str
    price_low: float
    price_high: float
    chance_low: float
    chance_high: float


@dataclass(frozen=True, slots=True)
class Promise:
    """What "no usable water, no charge" (or the reduced share of the contract) costs on this job [whole minor units].

    `price` is the addition, due when the need is met, at which the promise earns `target_profit` on average, which is what the same job
    earns by the metre; `expected_loss` is the chance of a dry hole times its mean loss.
    """

    price: int
    target_profit: int
    chance_dry: float
    loss_when_dry: int
    expected_loss: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Quote:
    """Everything the quote, the rig card and their pages show. Plain data; `quote_as_dict` gives it as JSON types."""

    currency: str
    card_name: str
    card_version: str
    card_invented: bool
    tax_name: str
    need: float
    maximum_depth: float
    distance: float
    contract: Contract
    form: HoleForm
    rule: str
    seed: int
    holes: int
    effective_records: float
    chance_found: float
    chance_found_band: tuple[float, float]
    chance_no_usable_water: float
    odds_depth: tuple[float, ...]
    odds_by_depth: tuple[float, ...]
    metres: Quantiles
    seconds: Quantiles
    price: Quantiles
    cost: Quantiles
    profit: Quantiles
    scenarios: tuple[Scenario, ...]
    sensitivities: tuple[Sensitivity, ...]
    promise: Promise | None
    driller_optimum: Reckoning
    customer_optimum: Reckoning
    agreed_rule: Reckoning
    difference: str
    rig_card: tuple[RigCardRow, ...]
    walk_away: dict[str, float | None]
    table: dict[str, Any]
    penetration: tuple[dict[str, float | str], ...]
    advisories: tuple[Advisory, ...]
    content_hash: str


def _quantiles(values: np.ndarray, *, whole: bool = False) -> Quantiles:
    low, middle, high = np.quantile(values, (0.1, 0.5, 0.9), method="inverted_cdf" if whole else "linear")
    return Quantiles(float(low), float(middle), float(high), float(values.mean()))


def _scenarios(tables: HoleTables, outcomes: HoleOutcomes) -> tuple[Scenario, ...]:
    middle = tables.columns // 2
    seconds = tables.seconds()
    depths = tables.depth

    def scenario(name: str, stands_for: str, ending: int, depth: float) -> Scenario:
        index = int(np.argmin(np.abs(depths - depth)))
        lines = itemised(tables, ending=ending, column=middle, index=index)
        return Scenario(name, stands_for, float(depths[index]), float(seconds[ending, middle, index]), ending == FOUND,
                        int(tables.gross[ending, middle, index]), lines)

    made = []
    if outcomes.found.any():
        found = outcomes.metres[outcomes.found]
        for name, share, words in (
            ("shallow", 0.1, "one successful hole in ten is as shallow"), ("likely", 0.5, "half of the successful holes are shallower, half deeper"),
            ("deep", 0.9, "one successful hole in ten is deeper"),
        ):
            made.append(scenario(name, words, FOUND, float(np.quantile(found, share, method="inverted_cdf"))))
    if not outcomes.found.all():
        dry = outcomes.metres[~outcomes.found]
        made.append(scenario("no water", "the need is not met and the hole is sealed", FAILED, float(np.quantile(dry, 0.5, method="inverted_cdf"))))
    return tuple(made)


def _solve(model: StrikeModel, tables: HoleTables, rule: str) -> tuple[Policy, Policy, Policy]:
    """Return the driller's best rule, the customer's, and the one that the hole follows."""
    driller, customer = driller_best(model, tables), customer_best(model, tables)[0]
    return driller, customer, driller if rule == "driller" else customer


def _sensitivities(
    prospect: WaterProspect, column: ExpectedColumn, card: RateCard, contract: Contract, *, need: float, maximum_depth: float, distance: float,
    form: HoleForm, time: TimeModel, rule: str, step: float, tables: HoleTables, policy: Policy,
) -> tuple[Sensitivity, ...]:
    """Return the causes in order of how far they move the expected price; each is moved alone and the rule made anew."""
    from scipy.special import gammaincinv

    def expected(use: WaterProspect, want: float, deepest: float, away: float) -> tuple[float, float]:
        model = strike_model(use, need=want, maximum_depth=deepest, step=step, levels=30)
        made = hole_tables(column, card, contract, depth=model.depth, distance=away, form=form, time=time)
        # Only the rule in use is needed here; the other party's is not solved.
        best = driller_best(model, made) if rule == "driller" else customer_best(model, made)[0]
        sums = reckon(best, made)
        return sums.price, sums.chance_found

    def row(cause: str, low_words: str, high_words: str, low: tuple[float, float], high: tuple[float, float]) -> Sensitivity:
        return Sensitivity(cause, low_words, high_words, low[0], high[0], low[1], high[1])

    sure = 1e4
    poor, rich = (gammaincinv(prospect.scale_shape, p) / prospect.scale_rate for p in (0.1, 0.9))
    tight, wide = (replace(prospect, log_yield_mean=prospect.log_yield_mean + shift) for shift in (np.log(0.5), np.log(2.0)))
    rows = [
        row("strikes in this ground", "one spot in ten is poorer", "one spot in ten is richer",
            *(expected(replace(prospect, scale_shape=sure, scale_rate=sure / max(v, 1e-9)), need, maximum_depth, distance) for v in (poor, rich))),
        row("yield of a strike", "half", "double", *(expected(p, need, maximum_depth, distance) for p in (tight, wide))),
        row("the need", "a quarter less", "a quarter more", *(expected(prospect, need * f, maximum_depth, distance) for f in (0.75, 1.25))),
        row("greatest depth", "a fifth less", "as planned", expected(prospect, need, max(step, maximum_depth * 0.8), distance),
            expected(prospect, need, maximum_depth, distance)),
        row("distance", "a quarter less", "a quarter more", *(expected(prospect, need, maximum_depth, distance * f) for f in (0.75, 1.25))),
    ]
    easy, hard = (replace(tables, metres=tables.metres[[c]], other_seconds=tables.other_seconds[:, [c]], due=tables.due[:, [c]],
                          gross=tables.gross[:, [c]], materials=tables.materials[:, [c]]) for c in (0, tables.columns - 1))
    rows.append(row("the ground", "easy", "hard", *((s.price, s.chance_found) for s in (reckon(policy, easy), reckon(policy, hard)))))
    return tuple(sorted(rows, key=lambda s: -abs(s.price_high - s.price_low)))


def _promise(model: StrikeModel, column: ExpectedColumn, card: RateCard, contract: Contract, tables: HoleTables) -> tuple[Contract, Promise]:
    """Return the contract with its price filled in, and what the promise costs."""
    plain = hole_tables(column, card, replace(per_metre(), currency=contract.currency), depth=tables.depth, distance=tables.distance, form=tables.form, time=tables.time)
    target = reckon(customer_best(model, plain)[0], plain).profit
    price = price_of_promise(model, tables, target_profit=target)
    asked = price if contract.promise_price is None else contract.promise_price
    priced = replace(contract, promise_price=asked)
    own = hole_tables(column, card, priced, depth=tables.depth, distance=tables.distance, form=tables.form, time=tables.time)
    sums = reckon(driller_best(model, own), own)
    dry = 1.0 - sums.chance_found
    from borewright.pricing.money import show_minor

    loss = int(round(sums.loss_when_dry))
    sentence = (f"About {dry * 100:.0f} of 100 such holes do not meet the need and each of those loses {show_minor(loss, card.currency)}; "
                f"{show_minor(price, card.currency)} more on each that does makes up for them.")
    return priced, Promise(price, int(round(target)), dry, loss, int(round(dry * sums.loss_when_dry)), sentence)


def _advisories(
    prospect: WaterProspect, card: RateCard, contract: Contract, *, chance: float, agreed: Reckoning, driller: Reckoning, customer: Reckoning,
    promise_cost: Promise | None, cut: bool, deepest: float, rule: str,
) -> tuple[Advisory, ...]:
    out = [NOT_INSURANCE, Advisory(
        "seal-failed-holes", "note",
        "A hole that is given up must be sealed as the local code says, by someone licensed to; an open hole is a danger to people and to the water.",
    )]
    if card.invented:
        out.append(Advisory("invented-money", "note", "The rates are invented: this is no offer by anyone.", "rate card"))
    if prospect.effective_records < 10:
        out.append(Advisory("few-records", "doubt", f"Only {prospect.effective_records:.1f} bores' worth of record stand behind the odds.", "odds"))
    if cut:
        out.append(Advisory("odds-end", "doubt", f"The records reach no deeper than {deepest:g} m, so the plan stops there.", "greatest depth"))
    if chance < 0.02:
        out.append(Advisory("need-out-of-reach", "danger" if chance < 0.005 else "doubt",
                            f"Fewer than {max(1, int(np.ceil(chance * 1000)))} holes in 1000 meet this need here; ask for less water, or for another source.", "need"))
    if agreed.profit < 0:
        out.append(Advisory("below-cost", "danger", "On average this job loses money under this contract.", "contract"))
    if promise_cost is not None and (contract.promise_price or 0) < promise_cost.price:
        out.append(Advisory("promise-below-cost", "doubt", f"The promise is priced below what it costs: {promise_cost.price} minor units would carry it.", "contract"))
    if contract.kind in ("promise", "fixed") and rule == "driller" and contract.least_depth is None and agreed.chance_found < 0.9 * customer.chance_found:
        out.append(Advisory("least-depth", "doubt", "The contract names no least depth (half the greatest is taken) and pays the driller to leave early; agree one.", "contract"))
    if contract.kind == "per metre" and driller.metres > customer.metres + 1:
        out.append(Advisory("metres-pay", "note", "By the metre the driller earns by going on after the customer would stop: agree the rule on the rig card.", "contract"))
    return tuple(out)


def make_quote(
    prospect: WaterProspect, column: ExpectedColumn, card: RateCard, *, need: float = LEAST_USABLE_FLOW, contract: Contract | None = None,
    maximum_depth: float = 120.0, distance: float = 0.0, form: HoleForm | None = None, time: TimeModel | None = None, rule: str | None = None,
    holes: int = 10_000, step: float = 1.0, seed: int = 1, sensitivities: bool = True,
) -> Quote:
    """Return the whole quote for one spot; the same arguments give the same quote.

    Parameters
    ----------
    prospect, column : WaterProspect, ExpectedColumn
        The odds and the ground from siting.
    card : RateCard
    need : float
        Flow that the customer must have; 15 L/min by default (common practice, no source) [m3/s].
    contract : Contract, optional
        By the metre by default. A promise without a price gets the price that makes up for its dry holes.
    maximum_depth : float
        Deepest the rig, the permit or the purse allows; cut to the depth of the records, with a doubt [m].
    distance : float
        Yard to site, one way [m].
    form : HoleForm, optional
    time : TimeModel, optional
        The firm's own, from `learn_penetration`; the prior by default.
    rule : str, optional
        Whose best rule the hole follows, "driller" or "customer"; by default the customer's by the metre (who pays for the metres), the
        driller's at a fixed price or on a promise.
    holes, seed : int
        Simulated holes, and the seed of the simulation.
    step : float
        Depth between decisions [m].

    Returns
    -------
    Quote

    Raises
    ------
    BadInput
        Anything that cannot be used, by field.
    Refused
        A promise or a rule for a need that no hole here is expected to meet.

    Notes
    -----
    Assumptions: strikes and yields as `WaterProspect` says; the ground read at one quantile of its class probabilities all the way
    down, apart from the water; one pace per class and job; the hole measured every step. Money is exact within the lines and tables;
    only averages are floats.
    """
    contract, form, time = contract or per_metre(), form or HoleForm(), time or prior_time_model()
    rule = rule or ("customer" if contract.kind == "per metre" else "driller")
    if rule not in ("driller", "customer"):
        raise BadInput("rule", rule, "is not a party", "driller or customer")
    if not 100 <= holes <= 1_000_000:
        raise BadInput("holes", holes, "is not a number of simulated holes", "100 to 1,000,000")
    require_positive(maximum_depth=maximum_depth)  # before it is cut to the records: infinity is no plan
    deepest = float(np.asarray(prospect.depth_edges)[-1])
    cut = maximum_depth > deepest
    model = strike_model(prospect, need=need, maximum_depth=min(maximum_depth, deepest), step=step)
    if (contract.least_depth or 0.0) > model.depth[-1]:
        raise BadInput("least_depth", contract.least_depth, "lies below the greatest depth", f"at most {model.depth[-1]:g} m")
    odds = chance_of_need(model)
    if odds[-1] < 1e-4:
        raise Refused("No hole here is expected to meet this need: nothing in the records comes near it. Ask for less water, or for another source.")

    def build(terms: Contract) -> HoleTables:
        return hole_tables(column, card, terms, depth=model.depth, distance=distance, form=form, time=time)

    tables, promise_cost = build(contract), None
    if contract.kind == "promise":
        contract, promise_cost = _promise(model, column, card, contract, tables)
        tables = build(contract)
    driller, customer, policy = _solve(model, tables, rule)
    sums = {name: reckon(p, tables) for name, p in (("driller", driller), ("customer", customer))}
    generator = np.random.default_rng(seed)
    outcomes = price_runs(simulate_holes(policy, holes, generator), tables, generator)
    chance = float(outcomes.found.mean())
    noise = 1.96 * float(np.sqrt(max(chance * (1 - chance), 1e-9) / holes))
    moved = _sensitivities(
        prospect, column, card, contract, need=need, maximum_depth=float(model.depth[-1]), distance=distance, form=form, time=time, rule=rule,
        step=step, tables=tables, policy=policy,
    ) if sensitivities else ()
    quote = Quote(
        currency=card.currency, card_name=card.name, card_version=card_version(card), card_invented=card.invented, tax_name=card.tax_name,
        need=float(need), maximum_depth=float(model.depth[-1]), distance=float(distance), contract=contract, form=form, rule=rule, seed=seed, holes=holes,
        effective_records=float(prospect.effective_records), chance_found=chance, chance_found_band=(max(0.0, chance - noise), min(1.0, chance + noise)),
        chance_no_usable_water=1.0 - chance, odds_depth=tuple(float(d) for d in model.depth), odds_by_depth=tuple(float(o) for o in odds),
        metres=_quantiles(outcomes.metres), seconds=_quantiles(outcomes.seconds), price=_quantiles(outcomes.price, whole=True),
        cost=_quantiles(outcomes.cost, whole=True), profit=_quantiles(outcomes.profit, whole=True), scenarios=_scenarios(tables, outcomes),
        sensitivities=moved, promise=promise_cost, driller_optimum=sums["driller"], customer_optimum=sums["customer"], agreed_rule=sums[rule],
        difference=difference_in_words(driller, customer, sums["driller"], sums["customer"], contract), rig_card=rig_card_rows(policy),
        walk_away=walk_away_depths(policy), table=policy_table(policy),
        penetration=tuple({
            "drilling": b.drilling, "prior_m_per_h": float(np.exp(b.prior_mean)) * 3600, "posterior_m_per_h": float(np.exp(b.mean)) * 3600,
            "p10_m_per_h": b.rate_quantile(0.1) * 3600, "p90_m_per_h": b.rate_quantile(0.9) * 3600, "metres": b.metres, "jobs": b.jobs,
        } for b in time.penetration),
        advisories=_advisories(prospect, card, contract, chance=float(odds[-1]), agreed=sums[rule], driller=sums["driller"], customer=sums["customer"],
                               promise_cost=promise_cost, cut=cut, deepest=deepest, rule=rule),
        content_hash="",
    )
    return replace(quote, content_hash=_hash(quote))


def _hash(quote: Quote) -> str:
    content = quote_as_dict(quote)
    content.pop("content_hash")
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def quote_as_dict(quote: Quote) -> dict[str, Any]:
    """Return a quote as plain JSON types: money in whole minor units or as averages in minor units, everything else in SI.

    A `working_bore_cost` that is infinite, because the rule never finds water, is None.
    """
    plain = asdict(quote)
    for name in ("driller_optimum", "customer_optimum", "agreed_rule"):
        if not np.isfinite(plain[name]["working_bore_cost"]):
            plain[name]["working_bore_cost"] = None
    return json.loads(json.dumps(plain, allow_nan=False, default=float))


def season_of_quote(
    prospect: WaterProspect, column: ExpectedColumn, card: RateCard, quote: Quote | KeptQuote, *, time: TimeModel | None = None, jobs: int = 30,
    seasons: int = 2000, correlation: float = 0.3, ruin_allowed: float = 0.05, overhead: int = 0, seed: int | None = None,
) -> Season:
    """Return a season of jobs like a quote's, new or kept, under its contract (the promise's price included) and rule; see `season`."""
    model = strike_model(prospect, need=quote.need, maximum_depth=quote.maximum_depth, step=quote.table["step_m"])
    tables = hole_tables(column, card, quote.contract, depth=model.depth, distance=quote.distance, form=quote.form, time=time or prior_time_model())
    policy = _solve(model, tables, quote.rule)[2]
    return season(policy, tables, jobs=jobs, seasons=seasons, correlation=correlation, ruin_allowed=ruin_allowed, overhead=overhead,
                  seed=quote.seed if seed is None else seed)
