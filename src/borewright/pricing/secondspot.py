"""A second spot near by: what the first hole's luck says about it, and when moving beats going on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from borewright.errors import require_fraction
from borewright.pricing.stoprule import Payoff, Policy, best_policy, evaluate
from borewright.pricing.strikes import StrikeModel, step_weights

__all__ = ["SecondSpot", "best_second_spot", "second_belief", "second_model"]


@dataclass(frozen=True, slots=True)
class SecondSpot:
    """The best rule when a failed hole may be followed by one other.

    `policy` is the rule of the first hole, with "move" among its actions; `value` its expected payoff, `value_alone` what the best rule with
    one hole earns; `chance_found` of enough water from either hole; `chance_move` that the rig moves.
    """

    policy: Policy
    value: float
    value_alone: float
    chance_found: float
    chance_move: float


def second_belief(model: StrikeModel, *, index: int, strikes: int, correlation: float) -> tuple[float, float]:
    """Return the gamma belief (shape, rate) about a second spot after so many strikes in the first down to a depth index.

    The first hole's evidence counts for a share `correlation` of itself: 0, the spots have nothing to do with each other; 1, they share one
    scale. A power prior (Ibrahim and Chen 2000, from memory); conjugate, so the belief stays gamma.
    """
    return model.shape + correlation * strikes, model.rate + correlation * float(model.exposure[index])


def second_model(model: StrikeModel, *, index: int, strikes: int, correlation: float) -> StrikeModel:
    """Return the strike model of the second spot seen from a state of the first."""
    shape, rate = second_belief(model, index=index, strikes=strikes, correlation=correlation)
    return replace(model, shape=shape, rate=rate, weights=step_weights(shape, rate, model.exposure, model.counts))


def best_second_spot(
    model: StrikeModel, payoff: Payoff, *, first_abandoned: np.ndarray, correlation: float = 0.5, move_cost: float = 0.0, stride: int = 10,
) -> SecondSpot:
    """Return the best rule for a first hole that may be followed by a second, drilled by its own best rule.

    Parameters
    ----------
    payoff : Payoff
        Of the party, for a job that ends with the hole; used for the second hole, and for the first when it is the last.
    first_abandoned : ndarray, shape (steps + 1,)
        Worth of sealing the first hole when a second follows (what the contract pays for it, less its cost) at each depth.
    correlation : float
        Share of the first hole's evidence that holds for the second spot, from 0 to 1; 0.5 is our own choice.
    move_cost : float
        Of moving the rig, beyond what the payoff of the second hole holds (which counts a whole set-up and trip: a negative cost gives those back).
    stride : int
        Depth steps between the states for which the second hole is solved; between them its worth is interpolated. 1 is exact.
    """
    require_fraction(correlation=correlation)
    nodes = np.unique(np.concatenate([np.arange(0, model.steps, max(1, stride)), [model.steps]]))
    worth, found = np.empty((len(nodes), model.counts)), np.empty((len(nodes), model.counts))
    one, none = np.ones(model.steps + 1), np.zeros(model.steps + 1)
    solved: dict[tuple[float, float], tuple[float, float]] = {}
    for r, index in enumerate(nodes):
        for n in range(model.counts):
            key = second_belief(model, index=int(index), strikes=n, correlation=correlation)
            if key not in solved:
                policy = best_policy(second_model(model, index=int(index), strikes=n, correlation=correlation), payoff)
                solved[key] = (policy.value, float(evaluate(policy, one, none)))
            worth[r, n], found[r, n] = solved[key]
    every = np.arange(model.steps + 1)

    def between(at_nodes: np.ndarray) -> np.ndarray:
        return np.stack([np.interp(every, nodes, at_nodes[:, n]) for n in range(model.counts)], axis=1)

    moving = between(worth) - move_cost + first_abandoned[:, None]
    policy = best_policy(model, replace(payoff, move=moving))
    chance, moves = evaluate(policy, np.stack([one, none]), np.stack([none, none]),
                             np.stack([between(found), np.ones((model.steps + 1, model.counts))]))
    return SecondSpot(policy, policy.value, best_policy(model, replace(payoff, move=None)).value, float(chance), float(moves))
