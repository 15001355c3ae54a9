"""The stop rule: at each depth, with this much flow from this many strikes, complete, drill on, give up or move.

Backward induction over (depth, strikes so far, flow level). The belief about the local scale is gamma; after n strikes over an
exposure E it is gamma(shape + n, rate + E), so the count of strikes is all of the hole's evidence that the rule needs to carry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.errors import BadInput
from borewright.pricing.strikes import STRIKES_PER_STEP, StrikeModel

__all__ = ["ACTIONS", "Payoff", "Policy", "best_policy", "chance_of_need", "evaluate", "fixed_depth_policy", "strike_count_policy"]

ACTIONS = ("drill", "complete", "give up", "move")
DRILL, COMPLETE, GIVE_UP, MOVE = range(4)


@dataclass(frozen=True, slots=True)
class Payoff:
    """What each way of ending is worth to one party at each depth, in any one unit of money.

    Attributes
    ----------
    complete, give_up : ndarray, shape (steps + 1,)
        Worth of a completed bore that meets the need, and of a hole given up and sealed.
    move : ndarray, shape (steps + 1, counts), optional
        Worth of sealing this hole and going on with a second spot, given the strikes seen here.
    least_depth : float
        The hole is not given up above this depth [m].
    """

    complete: np.ndarray
    give_up: np.ndarray
    move: np.ndarray | None = None
    least_depth: float = 0.0


@dataclass(frozen=True, slots=True)
class Policy:
    """A rule for one hole.

    Attributes
    ----------
    model : StrikeModel
    actions : ndarray of int8, shape (steps + 1, counts, levels)
        Index into `ACTIONS`.
    value : float
        Expected payoff from the surface.
    values : ndarray, shape (steps + 1, counts, levels), optional
        Expected payoff from every state, when kept.
    """

    model: StrikeModel
    actions: np.ndarray
    value: float
    values: np.ndarray | None = None

    def next_stop(self) -> np.ndarray:
        """Return the first step index, from each index on, at which the rule ends the hole with strikes and flow unchanged."""
        steps = self.actions.shape[0]
        out = np.where(self.actions != DRILL, np.arange(steps, dtype=np.int32)[:, None, None], np.int32(steps))
        return np.minimum.accumulate(out[::-1], axis=0)[::-1]


class _Ahead:
    """Expected value one step ahead, for a value array of shape (counts, levels)."""

    def __init__(self, model: StrikeModel):
        # 0..STRIKES_PER_STEP strikes stand side by side, so that one gather, one product and one matrix product make the step.
        strikes = np.arange(STRIKES_PER_STEP + 1)
        self.rows = np.minimum(np.arange(model.counts)[:, None] + strikes, model.counts - 1)
        self.weights = np.ascontiguousarray(model.weights[..., None])
        lift = np.concatenate([np.eye(model.levels)[None], model.kernels])
        self.lift = np.ascontiguousarray(lift.transpose(0, 2, 1).reshape(-1, model.levels))
        self.shape = (model.counts, -1)

    def __call__(self, index: int, value: np.ndarray) -> np.ndarray:
        return (value.take(self.rows, axis=0) * self.weights[index]).reshape(self.shape) @ self.lift


def best_policy(model: StrikeModel, payoff: Payoff, *, stop_when_met: bool = True, keep_values: bool = False) -> Policy:
    """Return the rule with the greatest expected payoff.

    Parameters
    ----------
    payoff : Payoff
        Of the party whose optimum is wanted.
    stop_when_met : bool
        True: the hole ends as soon as the need is met, as every contract here says. False lets the rule drill on.
    keep_values : bool
        Keep the value of every state.

    Notes
    -----
    No hole is given up at the surface: a job that is not worth starting shows as a bad expected payoff. On a tie the rule stops.
    """
    steps, counts, levels = model.steps, model.counts, model.levels
    for name in ("complete", "give_up"):
        if getattr(payoff, name).shape != (steps + 1,):
            raise BadInput(name, getattr(payoff, name).shape, "does not match the depths", f"shape ({steps + 1},)")
    actions = np.empty((steps + 1, counts, levels), dtype=np.int8)
    values = np.empty((steps + 1, counts, levels)) if keep_values else None
    least = int(np.ceil(payoff.least_depth / model.step - 1e-9))
    ahead = _Ahead(model)
    give_up, how = payoff.give_up[:, None], np.full((steps + 1, counts), GIVE_UP, dtype=np.int8)
    if payoff.move is not None:
        how = np.where(payoff.move > give_up, MOVE, GIVE_UP).astype(np.int8)
        give_up = np.maximum(payoff.move, give_up)
    leave, how = np.broadcast_to(give_up, (steps + 1, counts))[:, :, None], how[:, :, None]
    value = np.repeat(leave[steps], levels, axis=1)
    actions[:] = how
    actions[: min(max(1, least), steps)] = DRILL
    for index in range(steps, -1, -1):
        if index < steps:
            on = ahead(index, value)
            if index == 0 or index < least:
                value = on
            else:
                np.copyto(actions[index], DRILL, where=on > leave[index])
                value = np.maximum(on, leave[index])
        if index > 0:
            if stop_when_met:
                actions[index, :, -1] = COMPLETE
                value[:, -1] = payoff.complete[index]
            else:
                take = payoff.complete[index] >= value[:, -1]
                actions[index, take, -1] = COMPLETE
                value[take, -1] = payoff.complete[index]
        if values is not None:
            values[index] = value
    return Policy(model, actions, float(value[0, 0]), values)


def evaluate(policy: Policy, complete: np.ndarray, give_up: np.ndarray, move: np.ndarray | None = None) -> float | np.ndarray:
    """Return the expectation, under a rule, of anything that is settled when the hole ends.

    Parameters
    ----------
    complete, give_up : ndarray, shape (steps + 1,) or (things, steps + 1)
        Worth of each ending at each depth: money, metres, or 1 and 0 for the chance of success; several at once are cheaper.
    move : ndarray, shape (steps + 1, counts) or (things, steps + 1, counts), optional
        Worth of moving; `give_up` when not given.

    Returns
    -------
    float, or ndarray of shape (things,)
    """
    model = policy.model
    ahead = _Ahead(model)
    single = complete.ndim == 1
    complete, give_up = np.atleast_2d(complete), np.atleast_2d(give_up)
    moving = np.repeat(give_up[:, :, None], model.counts, axis=2) if move is None else move.reshape(len(complete), model.steps + 1, -1)
    value = np.zeros((len(complete), model.counts, model.levels))
    for index in range(model.steps, -1, -1):
        action = policy.actions[index]
        on = np.stack([ahead(index, v) for v in value]) if index < model.steps and (action == DRILL).any() else value
        ending = np.where(action == COMPLETE, complete[:, index, None, None], give_up[:, index, None, None])
        if (action == MOVE).any():
            ending = np.where(action == MOVE, moving[:, index, :, None], ending)
        value = np.where(action == DRILL, on, ending)
    return float(value[0, 0, 0]) if single else value[:, 0, 0]


def chance_of_need(model: StrikeModel) -> np.ndarray:
    """Return the chance that the hole meets the need by each depth, shape (steps + 1,) [-]."""
    most = 60
    counts = negative_binomial_at(model, most)
    return np.clip(counts @ model.tails(most)[:, 0], 0.0, 1.0)


def negative_binomial_at(model: StrikeModel, most: int) -> np.ndarray:
    """Return the chances of 0..most strikes by each depth, the rest counted with the last."""
    from borewright.pricing.strikes import negative_binomial

    counts = negative_binomial(model.shape, model.rate, model.exposure, most)
    counts[..., -1] = np.maximum(1.0 - counts[..., :-1].sum(axis=-1), 0.0)
    return counts


def fixed_depth_policy(model: StrikeModel, depth: float, *, stop_when_met: bool = False) -> Policy:
    """Return the rule "drill to this depth, then complete if the need is met, else give up" [m]."""
    index = int(round(depth / model.step))
    actions = np.zeros((model.steps + 1, model.counts, model.levels), dtype=np.int8)
    if stop_when_met:
        actions[1:, :, -1] = COMPLETE
    actions[index:, :, :-1] = GIVE_UP
    actions[index:, :, -1] = COMPLETE
    return Policy(model, actions, float("nan"))


def strike_count_policy(model: StrikeModel, strikes: int, depth: float) -> Policy:
    """Return the rule "stop when the need is met, at this many strikes, or at this depth", giving up if the need is not met [m]."""
    policy = fixed_depth_policy(model, depth, stop_when_met=True)
    policy.actions[1:, strikes:, :-1] = GIVE_UP
    policy.actions[1:, strikes:, -1] = COMPLETE
    return policy
