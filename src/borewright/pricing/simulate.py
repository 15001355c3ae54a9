"""Holes drilled on paper under a rule: where each ends, what it found, what it cost and came to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.errors import BadInput
from borewright.pricing.stoprule import COMPLETE, MOVE, Policy
from borewright.pricing.tables import FAILED, FOUND, HoleTables, gross_of

__all__ = ["HoleOutcomes", "HoleRuns", "draw_scales", "price_runs", "simulate_holes"]


@dataclass(frozen=True, slots=True)
class HoleRuns:
    """Simulated holes before money: arrays of shape (holes,).

    `stop` is the step index at which the hole ended, `action` how (index into `stoprule.ACTIONS`), `flow` what it gave [m3/s],
    `strikes` how many, `first_enough` the depth at which the need was met (nan when never) [m], `scale` the true local scale [-].
    """

    stop: np.ndarray
    action: np.ndarray
    flow: np.ndarray
    strikes: np.ndarray
    first_enough: np.ndarray
    scale: np.ndarray


@dataclass(frozen=True, slots=True)
class HoleOutcomes:
    """Simulated holes with money: arrays of shape (holes,); price is what the customer pays [minor units]."""

    metres: np.ndarray
    seconds: np.ndarray
    price: np.ndarray
    cost: np.ndarray
    profit: np.ndarray
    found: np.ndarray
    flow: np.ndarray
    column: np.ndarray


def draw_scales(shape: float, rate: float, count: int, generator: np.random.Generator) -> np.ndarray:
    """Return local scales drawn from the belief, shape (count,) [-]."""
    return generator.gamma(shape, 1.0 / rate, count)


def simulate_holes(policy: Policy, count: int, generator: np.random.Generator, *, scales: np.ndarray | None = None) -> HoleRuns:
    """Return holes drilled under a rule, strikes and yields drawn from the belief and not from the rule's own grid of flows.

    Parameters
    ----------
    policy : Policy
    count : int
        Number of holes.
    generator : numpy.random.Generator
        The same seed gives the same holes.
    scales : ndarray, shape (count,), optional
        Local scale of each hole; drawn from the belief by default.

    Notes
    -----
    Strikes of a hole are drawn together (a Poisson number, placed by the inverse of the exposure). Between strikes the state of the
    rule changes with depth alone, so the stop before the next strike is looked up, not walked to: the loop runs over strikes, not metres.
    """
    if count < 1:
        raise BadInput("count", count, "is not a number of holes", "1 or more")
    model = policy.model
    steps, cap = model.steps, model.counts - 1
    scale = draw_scales(model.shape, model.rate, count, generator) if scales is None else np.asarray(scales, float)
    numbers = generator.poisson(scale * model.exposure[-1])
    owner = np.repeat(np.arange(count), numbers)
    # Owners ascend, so one sort of owner + share orders the strikes within each hole.
    place = (np.sort(owner + generator.random(len(owner))) - owner) * model.exposure[-1]
    index = np.minimum(np.searchsorted(model.exposure, place, side="left"), steps)
    index = np.maximum(index, 1)
    yields = np.exp(model.log_yield_mean + model.log_yield_sd * generator.standard_normal(len(owner)))
    first = np.concatenate([[0], np.cumsum(numbers)[:-1]])

    next_stop = policy.next_stop()
    at = np.zeros(count, dtype=np.int64)
    strikes = np.zeros(count, dtype=np.int64)
    flow = np.zeros(count)
    stop = np.zeros(count, dtype=np.int64)
    first_enough = np.full(count, np.nan)
    active = np.arange(count)
    taken = 0
    while len(active):
        more = numbers[active] > taken
        following = np.where(more, index[np.minimum(first[active] + taken, max(len(index) - 1, 0))] if len(index) else steps + 1, steps + 1)
        halt = next_stop[at[active], np.minimum(strikes[active], cap), model.level(flow[active])]
        ends = halt < following
        stop[active[ends]] = halt[ends]
        active, following = active[~ends], following[~ends]
        if not len(active):
            break
        before = flow[active]
        flow[active] = before + yields[first[active] + taken]
        strikes[active] += 1
        at[active] = following
        met = (before < model.need) & (flow[active] >= model.need)
        first_enough[active[met]] = model.depth[following[met]]
        taken += 1
    action = policy.actions[stop, np.minimum(strikes, cap), model.level(flow)]
    return HoleRuns(stop, action, flow, strikes, first_enough, scale)


def price_runs(runs: HoleRuns, tables: HoleTables, generator: np.random.Generator, *, paces: np.ndarray | None = None) -> HoleOutcomes:
    """Return metres, hours, price, cost and profit of simulated holes; ground and pace of each job are drawn here.

    Parameters
    ----------
    paces : ndarray, shape (holes, 4), optional
        Time per metre by drilling class on each job; drawn from the time model by default [s/m].
    """
    count = len(runs.stop)
    column = generator.integers(0, tables.columns, count)
    pace = tables.time.sample_paces(count, generator) if paces is None else paces
    found = runs.action == COMPLETE
    ending = np.where(found, FOUND, FAILED)
    at = (ending, column, runs.stop)
    seconds = tables.other_seconds[at] + (tables.metres[column, runs.stop] * pace).sum(axis=1)
    cost = tables.materials[at] + np.rint(seconds / 3600.0 * tables.hourly_cost).astype(np.int64)
    price, income = tables.gross[at], tables.income()[at]
    moved = runs.action == MOVE
    if moved.any():
        # Only this hole is settled here; what follows at the second spot is another run.
        where = (column[moved], runs.stop[moved])
        price, income = price.copy(), income.copy()
        price[moved], income[moved] = gross_of(tables.moved, tables.card)[where], tables.moved[where]
    return HoleOutcomes(tables.depth[runs.stop], seconds, price, cost, income - cost, found, runs.flow, column)
