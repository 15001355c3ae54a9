"""What a hole costs, what to charge, what a promise costs, and when to stop: the quote, the rig card and the season.

The one entry for a quote, and what others call::

    make_quote(prospect: WaterProspect, column: ExpectedColumn, card: RateCard, *, need [m3/s], contract=per_metre(), maximum_depth [m],
               distance [m, one way], form=HoleForm(), time=prior_time_model(), rule=None, holes=10_000, step=1.0 [m], seed=1,
               sensitivities=True) -> Quote
    quote_as_dict(quote) -> dict                                     plain JSON types; money in whole minor units, the rest in SI
    per_metre(...), fixed_price(price_minor, ...), promise(...) -> Contract
    sample_card(), card_from_toml(text), card_from_dict(table) -> RateCard; card_to_toml(card), card_as_dict(card), card_version(card)
    prior_time_model(**changes), learn_penetration(model, [PenetrationRecord(drilling, metres, seconds), ...]) -> TimeModel
    what_now_from_table(quote.table, depth [m], flow [m3/s], strikes) -> WhatNow(action, reason, odds_next_10m)
    quote.table is `policy_table(policy)`: travels to the phone; its docstring gives the look-up, `table_vectors(policy)` the test vectors
    season(policy, tables, *, jobs, seasons, correlation, ruin_allowed, overhead, seed) -> Season
    season_of_quote(prospect, column, card, quote, *, time=None, jobs=30, ...) -> Season
    kept_quote(content) -> what season_of_quote takes in place of a quote; stake_of(content), mean_stake([...]) -> Stake(chance_dry, gain, loss)
    dry_hole_ledger(promised odds, found) -> Ledger
    ruin_chance(jobs, chance_dry, profit, loss, reserve, correlation), reserve_of_promises(...)      for a season of like jobs, exactly
    best_second_spot(model, payoff, *, first_abandoned, correlation, move_cost) -> SecondSpot
    bill_for(card, contract, [WorkDone(...), ...], need_met=bool, distance, variations) -> Bill(lines, total, tax)     the invoice's arithmetic
    cost_of(card, [WorkDone(...), ...], hours, distance) -> minor units       what the same work cost the firm
    show_minor(minor, currency) -> "AUD 12,340.50"; read_minor(text, currency, field=...) -> whole minor units

A simulation is not insurance; the advisories of each result say what else to doubt.
"""

from borewright.pricing.contract import CONTRACTS, Contract, fixed_price, per_metre, promise
from borewright.pricing.due import Bill, Variation, WorkDone, bill_for, cost_of
from borewright.pricing.kept import KeptQuote, Stake, kept_quote, mean_stake, stake_of
from borewright.pricing.money import Money, read_minor, show_minor
from borewright.pricing.optima import customer_best, driller_best, driller_payoff, price_of_promise, reckon
from borewright.pricing.quote import Quote, make_quote, quote_as_dict, season_of_quote
from borewright.pricing.ratecard import (
    CHARGES,
    COSTS,
    RateCard,
    card_as_dict,
    card_from_dict,
    card_from_toml,
    card_to_toml,
    card_version,
    sample_card,
)
from borewright.pricing.rigcard import (
    WhatNow,
    policy_table,
    rig_card_rows,
    table_vectors,
    walk_away_depths,
    what_now,
    what_now_from_table,
)
from borewright.pricing.season import Ledger, Season, dry_hole_ledger, reserve_of_promises, ruin_chance, season
from borewright.pricing.secondspot import SecondSpot, best_second_spot
from borewright.pricing.simulate import price_runs, simulate_holes
from borewright.pricing.stoprule import best_policy, chance_of_need, evaluate
from borewright.pricing.strikes import LEAST_USABLE_FLOW, strike_model
from borewright.pricing.tables import HoleForm, hole_tables, itemised
from borewright.pricing.timing import PenetrationRecord, TimeModel, learn_penetration, prior_time_model

__all__ = [
    "CHARGES", "CONTRACTS", "COSTS", "LEAST_USABLE_FLOW", "Bill", "Contract", "HoleForm", "KeptQuote", "Ledger", "Money", "PenetrationRecord",
    "Quote", "RateCard", "Season", "SecondSpot", "Stake", "TimeModel", "Variation", "WhatNow", "WorkDone", "best_policy", "best_second_spot",
    "bill_for", "card_as_dict", "card_from_dict", "card_from_toml", "card_to_toml", "card_version", "chance_of_need", "cost_of", "customer_best",
    "driller_best", "driller_payoff", "dry_hole_ledger", "evaluate", "fixed_price", "hole_tables", "itemised", "kept_quote", "learn_penetration",
    "make_quote", "mean_stake", "per_metre", "policy_table", "price_of_promise", "price_runs", "prior_time_model", "promise", "quote_as_dict",
    "read_minor", "reckon", "reserve_of_promises", "rig_card_rows", "ruin_chance", "sample_card", "season", "season_of_quote", "show_minor",
    "simulate_holes", "stake_of", "strike_model", "table_vectors", "walk_away_depths", "what_now", "what_now_from_table",
]
