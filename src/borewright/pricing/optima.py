"""Whose optimum: the driller's expected profit under the contract, the customer's expected cost of a working bore, the price of a promise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from borewright.errors import Refused, require_non_negative
from borewright.pricing.contract import Contract
from borewright.pricing.stoprule import Payoff, Policy, best_policy, chance_of_need, evaluate
from borewright.pricing.strikes import StrikeModel
from borewright.pricing.tables import FAILED, FOUND, HoleTables

__all__ = [
    "Reckoning", "customer_best", "difference_in_words", "driller_best", "driller_payoff", "price_of_promise", "reckon", "working_bore_cost",
]


@dataclass(frozen=True, slots=True)
class Reckoning:
    """Exact expectations of one rule under one contract, ground averaged over its columns; money in minor units.

    `working_bore_cost` is what the customer pays on average until a bore meets the need, if each failure is followed by another
    spot as good as this one was beforehand: expected payment over the chance of success (infinite when the rule never succeeds).
    """

    chance_found: float
    metres: float
    price: float
    cost: float
    profit: float
    loss_when_dry: float
    working_bore_cost: float


def driller_payoff(tables: HoleTables) -> Payoff:
    """Return the driller's profit at each ending and depth, averaged over the ground."""
    profit = (tables.income() - tables.cost()).mean(axis=1)
    return Payoff(profit[FOUND], profit[FAILED], least_depth=tables.least_depth)


def driller_best(model: StrikeModel, tables: HoleTables) -> Policy:
    """Return the rule that maximises the driller's expected profit under the contract."""
    return best_policy(model, driller_payoff(tables))


def working_bore_cost(policy: Policy, tables: HoleTables) -> float:
    """Return the customer's expected payment over the chance of a bore that meets the need [minor units]."""
    paid, chance = _paid_and_chance(policy, tables)
    return paid / chance if chance > 0 else float("inf")


def _paid_and_chance(policy: Policy, tables: HoleTables) -> tuple[float, float]:
    gross = tables.gross.mean(axis=1)
    one, none = np.ones(len(tables.depth)), np.zeros(len(tables.depth))
    paid, chance = evaluate(policy, np.stack([gross[FOUND], one]), np.stack([gross[FAILED], none]))
    return float(paid), float(chance)


def customer_best(model: StrikeModel, tables: HoleTables, *, worth: float | None = None) -> tuple[Policy, float]:
    """Return the customer's best rule and what it counts a failure as costing beyond its own charge [minor units].

    Parameters
    ----------
    worth : float, optional
        What a bore that meets the need is worth to the customer (the price of the alternative). By default the failure is followed
        by another spot, as good as this one was beforehand, drilled by the same rule, until a bore works.

    Notes
    -----
    The default is a renewal: W = min over rules of E[payment] + (1 - P[success]) W, solved by Dinkelbach's iteration on
    E[payment] - W P[success], which falls to the least W in few steps. With one look at a fixed cost it is the geometric search
    c_success + c_failure (1 - p) / p.
    """
    gross = tables.gross.mean(axis=1)
    # By the metre the customer pays for the metres and may call it off at any depth.
    least = 0.0 if tables.contract.kind == "per metre" else tables.least_depth

    def best(failure: float) -> tuple[Policy, float, float]:
        policy = best_policy(model, Payoff(-gross[FOUND], -gross[FAILED] - failure, least_depth=least))
        return policy, *_paid_and_chance(policy, tables)

    if worth is not None:
        require_non_negative(worth=worth)
        return best(worth)[0], float(worth)
    chance = float(chance_of_need(model)[-1])
    if chance <= 1e-9:
        raise Refused("No hole to this depth is expected to meet the need, so no rule can be best; ask for less water or look elsewhere.")
    failure = float(gross.max()) / chance * 10.0
    for _ in range(60):
        policy, paid, success = best(failure)
        following = paid / success
        if abs(following - failure) <= 1e-9 * max(1.0, failure):
            break
        failure = following
    return policy, failure


def reckon(policy: Policy, tables: HoleTables) -> Reckoning:
    """Return the exact expectations of a rule under the contract of the tables."""
    one, none = np.ones(len(tables.depth)), np.zeros(len(tables.depth))
    gross, income, cost = tables.gross.mean(axis=1), tables.income().mean(axis=1), tables.cost().mean(axis=1)
    chance, metres, price, earned, spent, dry = (float(v) for v in evaluate(
        policy, np.stack([one, tables.depth, gross[FOUND], income[FOUND], cost[FOUND], none]),
        np.stack([none, tables.depth, gross[FAILED], income[FAILED], cost[FAILED], cost[FAILED] - income[FAILED]])))
    return Reckoning(
        chance_found=chance, metres=metres, price=price, cost=spent, profit=earned - spent,
        loss_when_dry=dry / (1 - chance) if chance < 1 else 0.0, working_bore_cost=price / chance if chance > 0 else float("inf"),
    )


def price_of_promise(model: StrikeModel, tables: HoleTables, *, target_profit: float) -> int:
    """Return the addition, due when the need is met, at which the promise earns a target profit on average [whole minor units].

    Parameters
    ----------
    tables : HoleTables
        Under the promise; a price it already has is left out of account.
    target_profit : float
        Expected profit wanted from the job [minor units], for instance what the same job earns by the metre.

    Notes
    -----
    The best expected profit is convex and piecewise linear in the addition, with the chance of success as its slope, so Newton's
    iteration from above ends at the root after finitely many steps. Negative answers (the terms already earn more) return 0.

    Raises
    ------
    Refused
        No hole to this depth is expected to meet the need.
    """
    payoff = driller_payoff(tables)
    bare = payoff.complete - (tables.contract.promise_price or 0)
    chance = float(chance_of_need(model)[-1])
    if chance < 1e-3:
        raise Refused("The need is met in fewer than one hole in a thousand here: no price makes that promise worth giving.")
    low = min(float(bare.min()), float(payoff.give_up.min()))
    price = max(0.0, (target_profit - low) / chance)
    one, none = np.ones(len(bare)), np.zeros(len(bare))
    for _ in range(60):
        policy = best_policy(model, replace(payoff, complete=bare + price))
        success = evaluate(policy, one, none)
        following = price + (target_profit - policy.value) / success
        if following >= price - 0.5:
            break
        price = following
    return max(0, int(np.ceil(price - 1e-6)))


def difference_in_words(driller: Policy, customer: Policy, driller_sums: Reckoning, customer_sums: Reckoning, contract: Contract) -> str:
    """Return what the driller's and the customer's best rules differ in, and why, in a sentence or two for the card."""
    model = driller.model
    reachable = np.arange(1, model.steps + 1)
    d, c = driller.actions[reachable, 0, 0], customer.actions[reachable, 0, 0]
    depth_d = float(model.depth[reachable[np.argmax(d != 0)]]) if (d != 0).any() else float(model.depth[-1])
    depth_c = float(model.depth[reachable[np.argmax(c != 0)]]) if (c != 0).any() else float(model.depth[-1])
    same = depth_d == depth_c and abs(driller_sums.metres - customer_sums.metres) < 0.5
    if same:
        return f"Driller and customer want the same: with no water, leave at {depth_d:.0f} m; stop as soon as the need is met."
    first = (f"With no water the driller does best to leave at {depth_d:.0f} m, the customer would have it drilled to {depth_c:.0f} m"
             if depth_d < depth_c else
             f"With no water the customer does best to leave at {depth_c:.0f} m, the driller earns by going on to {depth_d:.0f} m"
             if depth_d > depth_c else
             f"Both leave a hole with no water at {depth_d:.0f} m, but differ where some water has come")
    why = {
        "per metre": "by the metre every metre is paid, so its cost falls on the customer",
        "fixed": "at a fixed price every metre more is the driller's cost",
        "promise": "under a promise a dry hole is the driller's loss, and costs the customer little or nothing",
    }[contract.kind]
    return (f"{first}: {why}. The driller's rule finds enough in {driller_sums.chance_found * 100:.0f} of 100 holes, "
            f"the customer's in {customer_sums.chance_found * 100:.0f}.")
