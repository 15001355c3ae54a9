"""The stop rule: proved against brute force, closed forms, and every simple rule in five invented districts."""

import itertools
import math

import numpy as np
import pytest
from scipy import integrate, stats

from borewright.errors import BadInput
from borewright.pricing.contract import fixed_price, per_metre, promise
from borewright.pricing.optima import customer_best, driller_best, driller_payoff, price_of_promise, reckon
from borewright.pricing.ratecard import sample_card
from borewright.pricing.secondspot import best_second_spot
from borewright.pricing.simulate import simulate_holes
from borewright.pricing.stoprule import (
    DRILL,
    GIVE_UP,
    Payoff,
    Policy,
    best_policy,
    evaluate,
    fixed_depth_policy,
    strike_count_policy,
)
from borewright.pricing.strikes import strike_model
from borewright.pricing.tables import FAILED, FOUND, HoleForm, hole_tables
from borewright.pricing.timing import prior_time_model
from borewright.siting.prospect import WaterProspect

from .conftest import DISTRICTS, make_prospect

NEED = 0.25e-3


def small_model(steps=3, levels=4, counts=10, intensity=(0.5, 0.9, 0.4), shape=1.5, rate=1.2):
    prospect = WaterProspect(np.arange(steps + 1.0), np.array(intensity[:steps]), shape, rate, float(np.log(0.1e-3)), 0.9, 10.0)
    return strike_model(prospect, need=NEED, maximum_depth=float(steps), step=1.0, levels=levels, counts=counts)


def path_chance(model, history):
    """Chance of a history of strikes per step (3 standing for 3 or more), by quadrature over the unknown scale."""
    steps = [(float(passed), k) for passed, k in zip(np.diff(model.exposure), history, strict=False)]
    constant = model.rate**model.shape / math.gamma(model.shape)

    def integrand(scale):
        out = constant * scale ** (model.shape - 1) * math.exp(-model.rate * scale)
        for passed, k in steps:
            mean = scale * passed
            few = [math.exp(-mean) * mean**j / math.factorial(j) for j in range(3)]
            out *= few[k] if k < 3 else 1.0 - sum(few)
        return out

    return integrate.quad(integrand, 0, np.inf, epsabs=1e-13, epsrel=1e-12)[0]


def lumped_strikes(history):
    """Chances are exact for fewer than three strikes in a step; three or more update the belief as three."""
    return all(k < 3 for k in history)


def test_weights_are_what_quadrature_over_the_scale_gives():
    # By another road: Bayes' theorem with the scale integrated out numerically, not the conjugate update.
    model = small_model()
    for history in itertools.product(range(3), repeat=2):
        chance = path_chance(model, history)
        for k in range(3):
            direct = path_chance(model, (*history, k)) / chance
            assert model.weights[2, sum(history), k] == pytest.approx(direct, rel=1e-7)


def test_no_rule_whatever_beats_it_on_a_small_case():
    # Two steps: seven states in which to choose, every one of the 128 rules valued by summing over all outcomes in plain Python.
    model = small_model(steps=2, levels=3, counts=8, intensity=(0.5, 0.9))
    # The second step is dear (3 out of a reward of about 9): worth it with some water or some strikes, not with none.
    complete, give_up = np.array([0.0, 9.0, 7.5]), np.array([0.0, -1.0, -4.0])
    states = [(n, q) for n in range(4) for q in range(2) if n or not q]

    def value(rule):
        total = 0.0
        for n1 in range(4):
            for q1 in range(3):
                reach = float(model.weights[0, 0, n1]) * (float(model.kernels[n1 - 1, 0, q1]) if n1 else float(q1 == 0))
                if q1 == 2:
                    total += reach * complete[1]
                elif not rule[n1, q1]:
                    total += reach * give_up[1]
                else:
                    for k in range(4):
                        for q2 in range(3):
                            go = float(model.weights[1, n1, k]) * (float(model.kernels[k - 1, q1, q2]) if k else float(q1 == q2))
                            total += reach * go * (complete[2] if q2 == 2 else give_up[2])
        return total

    rules = [dict(zip(((n, q) for n in range(4) for q in range(2)), bits, strict=True)) for bits in itertools.product((0, 1), repeat=8)]
    values = [value(rule) for rule in rules]
    best = best_policy(model, Payoff(complete, give_up))
    assert best.value == pytest.approx(max(values), abs=1e-12)
    assert max(values) - min(values) > 0.1  # the choice matters here
    chosen = {(n, q): int(best.actions[1, n, q] == DRILL) for n in range(4) for q in range(2)}
    assert value(chosen) == pytest.approx(best.value, abs=1e-12)
    assert {chosen[s] for s in states} == {0, 1}  # and the best rule is not a constant


def test_optimum_against_search_over_whole_histories():
    # Nothing summed up in a state: the tree of all histories, probabilities by quadrature.
    model = small_model(steps=3, levels=4, counts=10, intensity=(0.3, 0.5, 0.4))
    complete, give_up = np.array([0.0, 6.0, 5.0, 4.0]), np.array([0.0, -0.5, -1.2, -2.0])
    cache = {}

    def chance(history):
        if history not in cache:
            cache[history] = path_chance(model, history)
        return cache[history]

    def best(history, level):
        depth = len(history)
        if level == 3 and depth:
            return complete[depth]
        stop = give_up[depth] if depth else -math.inf
        if depth == 3:
            return stop
        on, here = 0.0, chance(history) if depth else 1.0
        # Three or more in a step is rare here; its branch is given the rule's own chance so that both sum to one.
        for k in range(4):
            share = chance((*history, k)) / here if lumped_strikes(history) else float(model.weights[depth, min(sum(history), 9), k])
            for to in range(level, 4):
                move = float(model.kernels[k - 1, level, to]) if k else float(to == level)
                if move:
                    on += share * move * best((*history, k), to)
        return max(stop, on)

    assert best_policy(model, Payoff(complete, give_up)).value == pytest.approx(best((), 0), abs=1e-9)


def test_plain_loops_give_the_same_values_everywhere():
    model = strike_model(make_prospect(), need=NEED, maximum_depth=30.0, step=3.0, levels=9, counts=5)
    generator = np.random.default_rng(2)
    complete, give_up = 5000 - 40 * model.depth, -900 - 30 * model.depth + generator.normal(0, 20, 11)
    policy = best_policy(model, Payoff(complete, give_up), keep_values=True)
    value = [[0.0] * 9 for _ in range(5)]
    for i in range(10, -1, -1):
        now = [[0.0] * 9 for _ in range(5)]
        for n in range(5):
            for q in range(9):
                on = -math.inf
                if i < 10:
                    on = float(model.weights[i, n, 0]) * value[n][q]
                    for k in range(1, 4):
                        row = value[min(n + k, 4)]
                        on += float(model.weights[i, n, k]) * sum(float(model.kernels[k - 1, q, to]) * row[to] for to in range(9))
                if i and q == 8:
                    now[n][q] = complete[i]
                else:
                    now[n][q] = max(on, give_up[i]) if i else on
                if i:
                    assert policy.values[i, n, q] == pytest.approx(now[n][q], abs=1e-9)
        value = now
    assert policy.value == pytest.approx(value[0][0], abs=1e-9)


def test_geometric_search_has_its_closed_form(checks):
    # One look per hole that succeeds with chance 0.7: the mean cost of a working bore is c_ok + c_dry (1 - p) / p.
    chance, success, failure = 0.7, 10_000.0, 7_000.0
    sure = 1e9  # a scale known for certain, one strike in the only step with chance 0.7, any strike enough
    prospect = WaterProspect(np.array([0.0, 1.0]), np.array([-math.log(1 - chance)]), sure, sure, 0.0, 0.1, 10.0)
    model = strike_model(prospect, need=1e-9, maximum_depth=1.0, levels=3)

    class Flat:
        depth, gross = model.depth, np.array([[[failure] * 2], [[success] * 2]])
        contract, least_depth = per_metre(), 0.0

    policy, cost = customer_best(model, Flat)
    assert cost == pytest.approx(float(checks["G-01"]["expected"]), rel=1e-7)


def test_search_by_the_metre_leaves_where_the_next_metre_stops_paying():
    # Known scale, any strike enough, constant cost per metre c and reward r: go on while the chance of a strike times r exceeds c
    # (a monotone problem, so looking one step ahead is optimal: Chow, Robbins and Siegmund 1971, from memory).
    edges, sure = np.arange(0.0, 61.0), 1e9
    intensity = 0.08 * np.exp(-edges[:-1] / 20)
    model = strike_model(WaterProspect(edges, intensity, sure, sure, 0.0, 0.1, 10.0), need=1e-9, maximum_depth=60, levels=3)
    reward, per_metre_cost = 1000.0, 30.0
    policy = best_policy(model, Payoff(reward - per_metre_cost * model.depth, -per_metre_cost * model.depth))
    expected = next(i for i in range(1, 60) if reward * (1 - math.exp(-intensity[i])) <= per_metre_cost)
    leaves = np.flatnonzero(policy.actions[:, 0, 0] != DRILL)
    assert leaves[0] == expected
    # The mean payoff in closed form: a sum over the metre of the first strike.
    survive = np.exp(-np.concatenate([[0], np.cumsum(intensity)]))
    mean = sum((survive[i] - survive[i + 1]) * (reward - per_metre_cost * (i + 1)) for i in range(expected)) - survive[expected] * per_metre_cost * expected
    assert policy.value == pytest.approx(mean, abs=1e-5)


def tables_of(column, model, contract):
    return hole_tables(column, sample_card(), contract, depth=model.depth, distance=40e3, form=HoleForm(), time=prior_time_model())


@pytest.mark.parametrize("terms", [promise(promise_price=600_000, least_depth=0.0), fixed_price(1_600_000, dry_hole_share=0.3, least_depth=0.0), per_metre(least_depth=0.0)],
                         ids=lambda c: c.kind)
def test_it_beats_every_simple_rule_by_simulation(district, terms):
    """Every fixed depth (with and without an early stop) and every stop at a strike, within the noise of the simulation.

    A rule that drills past the need is outside every contract here, and can earn more where metres are paid: such rivals are held
    against the best rule that may drill on as well.
    """
    prospect, column = district
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    tables = tables_of(column, model, terms)
    if terms.kind == "per metre":  # the customer's optimum: what is paid, a failure costing another search
        policy, failure = customer_best(model, tables)
        gross = tables.gross.mean(axis=1)
        payoff = Payoff(-gross[FOUND], -gross[FAILED] - failure)
    else:
        policy, payoff = driller_best(model, tables), driller_payoff(tables)
    holes = 8000

    def worth(rule, seed):
        runs = simulate_holes(rule, holes, np.random.default_rng(seed))
        return np.where(runs.action == 1, payoff.complete[runs.stop], payoff.give_up[runs.stop])

    free = best_policy(model, payoff, stop_when_met=False)
    assert free.value >= policy.value - 1e-9 * abs(policy.value)
    stops = [fixed_depth_policy(model, d, stop_when_met=True) for d in range(10, 121, 10)]
    stops += [strike_count_policy(model, n, d) for n in (1, 2, 3) for d in (40, 80, 120)]
    passes = [fixed_depth_policy(model, d) for d in range(10, 121, 10)]
    for champion, rivals, first in ((policy, stops, 1), (free, passes, 1000)):
        best = worth(champion, first)
        assert best.mean() == pytest.approx(champion.value, abs=4.5 * best.std() / np.sqrt(holes))
        for number, rival in enumerate(rivals, first + 1):
            other = worth(rival, number)
            assert best.mean() >= other.mean() - 3.5 * np.sqrt((best.var() + other.var()) / holes)
            exact = evaluate(rival, payoff.complete, payoff.give_up)
            assert champion.value >= exact - 1e-9 * abs(exact)


def test_more_odds_never_make_the_best_worse(ordinary):
    prospect, column = ordinary
    values = []
    for factor in (0.5, 1.0, 1.5, 2.0):
        from dataclasses import replace

        model = strike_model(replace(prospect, strike_intensity=prospect.strike_intensity * factor), need=NEED, maximum_depth=100, counts=12)
        values.append(driller_best(model, tables_of(column, model, promise(promise_price=500_000))).value)
    assert values == sorted(values)


def test_least_depth_is_kept(ordinary):
    prospect, column = ordinary
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    policy = driller_best(model, tables_of(column, model, promise(promise_price=0, least_depth=70.0)))
    assert (policy.actions[:70] != GIVE_UP).all() and (policy.actions[70:120] == GIVE_UP).any()


def test_price_of_promise_earns_its_target_and_no_less_would():
    prospect, column = DISTRICTS["ordinary"]
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    target = 150_000.0
    price = price_of_promise(model, tables_of(column, model, promise()), target_profit=target)

    def best(extra):
        payoff = driller_payoff(tables_of(column, model, promise(promise_price=price + extra)))
        return best_policy(model, payoff).value

    assert best(0) == pytest.approx(target, abs=150.0)  # tax and whole-dollar totals round within a hundred minor units
    assert best(-2000) < target < best(2000)


def test_reckoning_agrees_with_the_identity_of_its_parts(ordinary):
    prospect, column = ordinary
    model = strike_model(prospect, need=NEED, maximum_depth=120.0)
    tables = tables_of(column, model, promise(promise_price=400_000))
    policy = driller_best(model, tables)
    sums = reckon(policy, tables)
    assert sums.profit == pytest.approx(policy.value, rel=1e-9)
    assert sums.working_bore_cost == pytest.approx(sums.price / sums.chance_found)
    assert sums.loss_when_dry > 0


def test_second_spot_is_worth_what_search_over_both_holes_gives():
    model = small_model(steps=3, levels=3, counts=10, intensity=(0.3, 0.5, 0.4))
    complete, give_up, left = np.array([0.0, 9.0, 8.0, 7.0]), np.array([0.0, -1.0, -2.0, -3.0]), np.array([0.0, -1.1, -2.1, -3.1])
    share, cost = 0.6, 0.2

    def hole(shape, rate, depth, n, level, more):
        if depth and level == 2:
            return complete[depth]
        stop = give_up[depth] if depth else -math.inf
        if depth and more:
            stop = max(stop, left[depth] - cost + hole(model.shape + share * n, model.rate + share * model.exposure[depth], 0, 0, 0, False))
        if depth == 3:
            return stop
        r, m, passed = shape + n, rate + model.exposure[depth], model.exposure[depth + 1] - model.exposure[depth]
        chances = [float(stats.nbinom.pmf(k, r, m / (m + passed))) for k in range(3)]
        chances.append(1 - sum(chances))
        on = 0.0
        for k, chance in enumerate(chances):
            for to in range(level, 3):
                move = float(model.kernels[k - 1, level, to]) if k else float(to == level)
                if move:
                    on += chance * move * hole(shape, rate, depth + 1, min(n + k, 9), to, more)
        return max(stop, on)

    got = best_second_spot(model, Payoff(complete, give_up), first_abandoned=left, correlation=share, move_cost=cost, stride=1)
    assert got.value == pytest.approx(hole(model.shape, model.rate, 0, 0, 0, True), abs=1e-9)
    assert got.value_alone == pytest.approx(hole(model.shape, model.rate, 0, 0, 0, False), abs=1e-9)
    assert got.value > got.value_alone and 0 < got.chance_move < 1


def test_the_more_the_spots_share_the_less_a_second_is_worth(ordinary):
    prospect, column = ordinary
    model = strike_model(prospect, need=NEED, maximum_depth=80.0, step=4.0, levels=15, counts=6)
    tables = tables_of(column, model, promise(promise_price=600_000, least_depth=0.0))
    payoff = driller_payoff(tables)
    spots = [best_second_spot(model, payoff, first_abandoned=payoff.give_up, correlation=c, move_cost=0.0, stride=5) for c in (0.0, 0.5, 1.0)]
    assert spots[0].value > spots[1].value > spots[2].value >= spots[2].value_alone - 1e-6
    assert spots[0].chance_found > reckon(driller_best(model, tables), tables).chance_found


def test_payoffs_of_the_wrong_length_are_refused():
    model = small_model()
    with pytest.raises(BadInput):
        best_policy(model, Payoff(np.zeros(3), np.zeros(4)))


def test_evaluate_of_a_constant_is_the_constant(ordinary):
    model = strike_model(ordinary[0], need=NEED, maximum_depth=60.0)
    policy = Policy(model, fixed_depth_policy(model, 37.0).actions, 0.0)
    assert evaluate(policy, np.full(61, 3.0), np.full(61, 3.0)) == pytest.approx(3.0, abs=1e-12)
    assert evaluate(policy, model.depth, model.depth) == pytest.approx(37.0, abs=1e-9)
