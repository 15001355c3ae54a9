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

from borewright.faces import loaded_when_asked

# Imported when first asked for: a paper shows money and needs nothing that simulates.
_WHERE = {
    "contract": ("CONTRACTS", "Contract", "fixed_price", "per_metre", "promise"),
    "due": ("Bill", "Variation", "WorkDone", "bill_for", "cost_of"),
    "kept": ("KeptQuote", "Stake", "kept_quote", "mean_stake", "stake_of"),
    "money": ("Money", "read_minor", "show_minor"),
    "optima": ("customer_best", "driller_best", "driller_payoff", "price_of_promise", "reckon"),
    "quote": ("Quote", "make_quote", "quote_as_dict", "season_of_quote"),
    "ratecard": ("CHARGES", "COSTS", "RateCard", "card_as_dict", "card_from_dict", "card_from_toml", "card_to_toml", "card_version", "sample_card"),
    "rigcard": ("WhatNow", "policy_table", "rig_card_rows", "table_vectors", "walk_away_depths", "what_now", "what_now_from_table"),
    "seasons": ("Ledger", "Season", "dry_hole_ledger", "reserve_of_promises", "ruin_chance", "season"),
    "secondspot": ("SecondSpot", "best_second_spot"),
    "simulate": ("price_runs", "simulate_holes"),
    "stoprule": ("best_policy", "chance_of_need", "evaluate"),
    "strikes": ("LEAST_USABLE_FLOW", "strike_model"),
    "tables": ("HoleForm", "hole_tables", "itemised"),
    "timing": ("PenetrationRecord", "TimeModel", "learn_penetration", "prior_time_model"),
}
__all__ = sorted(name for names in _WHERE.values() for name in names)  # noqa: PLE0605

__getattr__ = loaded_when_asked(__name__, _WHERE)
