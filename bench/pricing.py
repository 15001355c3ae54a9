"""Pricing against plain Python: the stop rule (want 100x, same answer to 1e-9), simulated holes (want 50x), a quote (want < 3 s).

    python bench/pricing.py

The prospect is invented. Each ratio is taken in one run on one machine.
"""

from __future__ import annotations

import math
import random
import statistics
import time

import numpy as np

from borewright.pricing import (
    best_policy,
    hole_tables,
    make_quote,
    per_metre,
    prior_time_model,
    promise,
    sample_card,
    simulate_holes,
    strike_model,
)
from borewright.pricing.optima import driller_payoff
from borewright.pricing.stoprule import DRILL
from borewright.pricing.tables import HoleForm
from borewright.siting.prospect import ExpectedColumn, WaterProspect

NEED = 0.25e-3


def invented() -> tuple[WaterProspect, ExpectedColumn]:
    """Return an invented prospect and column to 160 m."""
    edges = np.arange(0.0, 161.0, 2.0)
    middle = 0.5 * (edges[1:] + edges[:-1])
    intensity = 0.03 * np.exp(-(((middle - 40.0) / 40.0) ** 2)) + 0.004
    clay = 1.0 / (1.0 + np.exp((middle - 12.0) / 3.0))
    column = ExpectedColumn(edges, ("clay", "granite"), np.column_stack([clay, 1.0 - clay]), {0.1: 6.0, 0.5: 12.0, 0.9: 20.0}, 20.0)
    return WaterProspect(edges, intensity, 4.0, 4.0, math.log(NEED), 1.2, 25.0), column


def plain_stop_rule(model, payoff) -> float:
    """Return the value of the best rule by loops over lists."""
    weights, kernels = model.weights.tolist(), model.kernels.tolist()
    complete, give_up = payoff.complete.tolist(), payoff.give_up.tolist()
    steps, counts, levels = model.steps, model.counts, model.levels
    least = math.ceil(payoff.least_depth / model.step - 1e-9)
    value = [[0.0] * levels for _ in range(counts)]
    for i in range(steps, -1, -1):
        # What k more strikes from each level are worth, once for each count that they may lead to.
        lifted = [[[sum(row[to] * ahead[to] for to in range(q, levels)) for q, row in enumerate(kernel)] for kernel in kernels] for ahead in value]
        now = []
        for n in range(counts):
            line = []
            for q in range(levels):
                if i and q == levels - 1:
                    line.append(complete[i])
                    continue
                if i == steps:
                    line.append(give_up[i])
                    continue
                w = weights[i][n]
                on = w[0] * value[n][q] + sum(w[k] * lifted[min(n + k, counts - 1)][k - 1][q] for k in range(1, len(w)))
                line.append(on if i == 0 or i < least else max(on, give_up[i]))
            now.append(line)
        value = now
    return value[0][0]


def plain_holes(policy, holes: int, seed: int) -> float:
    """Return the mean depth of holes drilled metre by metre in plain Python."""
    model, chance = policy.model, random.Random(seed)
    actions, exposure = policy.actions.tolist(), model.exposure.tolist()
    total = 0.0
    for _ in range(holes):
        scale = chance.gammavariate(model.shape, 1.0 / model.rate)
        flow, strikes, i = 0.0, 0, 0
        while True:
            level = model.levels - 1 if flow >= model.need else min(int(flow * (model.levels - 1) / model.need + 0.5), model.levels - 2)
            if actions[i][min(strikes, model.counts - 1)][level] != DRILL:
                break
            mean, i = scale * (exposure[i + 1] - exposure[i]), i + 1
            # A Poisson number by counting exponential waits.
            wait = chance.expovariate(1.0)
            while wait < mean:
                flow += math.exp(chance.gauss(model.log_yield_mean, model.log_yield_sd))
                strikes += 1
                wait += chance.expovariate(1.0)
        total += model.depth[i]
    return total / holes


def timed(call, runs: int):
    """Return the median time of a call [s] and its last answer."""
    times, answer = [], None
    for _ in range(runs):
        start = time.perf_counter()
        answer = call()
        times.append(time.perf_counter() - start)
    return statistics.median(times), answer


def main() -> None:
    """Print the three comparisons."""
    prospect, column = invented()
    card = sample_card()
    model = strike_model(prospect, need=NEED, maximum_depth=150.0, levels=60)
    terms = promise(promise_price=600_000, least_depth=0.0)
    payoff = driller_payoff(hole_tables(column, card, terms, depth=model.depth, distance=4e4, form=HoleForm(), time=prior_time_model()))
    ours, policy = timed(lambda: best_policy(model, payoff), 11)
    plain, value = timed(lambda: plain_stop_rule(model, payoff), 1)
    gap = abs(policy.value - value) / abs(value)
    print(f"stop rule, 150 m, 60 levels, {model.counts} counts: {1000 * ours:8.1f} ms, plain {1000 * plain:9.0f} ms, "
          f"ratio {plain / ours:6.0f} (want >= 100), relative gap {gap:.1e} (want <= 1e-9)")
    ours, runs = timed(lambda: simulate_holes(policy, 10_000, np.random.default_rng(1)), 11)
    plain, mean = timed(lambda: plain_holes(policy, 10_000, 1), 1)
    print(f"10,000 holes under it: {1000 * ours:8.1f} ms, plain {1000 * plain:9.0f} ms, ratio {plain / ours:6.0f} (want >= 50); "
          f"mean depth {model.depth[runs.stop].mean():.1f} m and {mean:.1f} m")
    for name, contract in (("per metre", per_metre()), ("promise", promise())):
        whole, _ = timed(lambda c=contract: make_quote(prospect, column, card, need=NEED, contract=c, maximum_depth=120.0, distance=4e4), 5)
        quick, _ = timed(lambda c=contract: make_quote(prospect, column, card, need=NEED, contract=c, maximum_depth=120.0, distance=4e4, sensitivities=False), 5)
        print(f"quote to 120 m, {name}: {whole:.2f} s whole (want < 3), {quick:.2f} s without sensitivities")


if __name__ == "__main__":
    main()
