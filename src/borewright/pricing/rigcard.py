"""The rig card: the stop rule as a table for the cab, and the small look-up that a phone can make with no coverage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from borewright.errors import BadInput, require_non_negative
from borewright.pricing.stoprule import ACTIONS, COMPLETE, DRILL, Policy

__all__ = ["RigCardRow", "WhatNow", "policy_table", "rig_card_rows", "table_vectors", "walk_away_depths", "what_now", "what_now_from_table"]

AHEAD = 10.0  # m: how far ahead the odds look
MOST_AHEAD = 12  # strikes in those metres that are kept apart


@dataclass(frozen=True, slots=True)
class WhatNow:
    """Advice at the rig: action, the reason in a sentence, and the chance that the next ten metres give enough."""

    action: str
    reason: str
    odds_next_10m: float


@dataclass(frozen=True, slots=True)
class RigCardRow:
    """One line of the card: depth [m], flow to stop at, flow below which to leave (None: drill on) [m3/s], odds of the next 10 m.

    `leave_below` is for the likeliest number of strikes with that little water (none at zero flow); `action_dry` is what the rule says with no water
    at all; `odds_dry` and `odds_half` are the chances of enough in the next 10 m with no strike, and with half the need from one strike.
    """

    depth: float
    stop_at: float
    leave_below: float | None
    action_dry: str
    odds_dry: float
    odds_half: float


def _runs(row: np.ndarray) -> list[list[int]]:
    starts = np.concatenate([[0], np.flatnonzero(np.diff(row)) + 1])
    return [[int(s), int(row[s])] for s in starts]


def policy_table(policy: Policy) -> dict[str, Any]:
    """Return the rule as plain data for a phone: everything `what_now_from_table` needs and nothing else.

    Notes
    -----
    The look-up, which any language can repeat (test vectors: `table_vectors`):

    1. ``i = min(floor(depth / step_m + 1e-9), steps)``; ``n = min(strikes, counts - 1)``.
    2. ``level = levels - 1`` if ``flow >= need_m3_per_s``, else ``min(floor(flow * (levels - 1) / need_m3_per_s + 0.5), levels - 2)``.
    3. The action: in ``actions[i][n]``, a list of ``[from_level, code]`` ascending, the code of the last whose from_level <= level;
       ``codes[code]`` is the word.
    4. The odds of the next 10 m: ``d = exposure[min(i + ahead_steps, steps)] - exposure[i]``, ``h = d / (rate + exposure[i] + d)``,
       ``r = shape + strikes`` (not capped), ``p = (1 - h) ** r``, ``odds = p * tails[0][level]``; then for k = 1 .. len(tails) - 1:
       ``p = p * h * (r + k - 1) / k``, ``odds = odds + p * tails[k][level]``.
    """
    model = policy.model
    return {
        "version": 1, "step_m": model.step, "steps": model.steps, "levels": model.levels, "counts": model.counts,
        "need_m3_per_s": model.need, "shape": model.shape, "rate": model.rate, "ahead_steps": int(round(AHEAD / model.step)),
        "exposure": [float(e) for e in model.exposure], "tails": [[round(float(t), 9) for t in row] for row in model.tails(MOST_AHEAD)],
        "codes": list(ACTIONS), "actions": [[_runs(row) for row in depth] for depth in policy.actions],
    }


def _place(table: Mapping[str, Any], depth: float, flow: float, strikes: int) -> tuple[int, int, int]:
    require_non_negative(depth=depth, flow=flow, strikes=strikes)
    if int(strikes) != strikes:
        raise BadInput("strikes", strikes, "is not a whole number", "how many times water came in")
    if flow > 0 and strikes == 0:
        raise BadInput("strikes", strikes, "does not go with water in the hole", "1 or more when there is flow")
    i = min(int(np.floor(depth / table["step_m"] + 1e-9)), table["steps"])
    need, levels = table["need_m3_per_s"], table["levels"]
    level = levels - 1 if flow >= need else min(int(np.floor(flow * (levels - 1) / need + 0.5)), levels - 2)
    return i, min(int(strikes), table["counts"] - 1), level


def _code(table: Mapping[str, Any], i: int, n: int, level: int) -> int:
    found = 0
    for start, code in table["actions"][i][n]:
        if start <= level:
            found = code
    return found


def _odds(table: Mapping[str, Any], i: int, strikes: int, level: int) -> float:
    exposure = table["exposure"]
    passed = exposure[min(i + table["ahead_steps"], table["steps"])] - exposure[i]
    hit = passed / (table["rate"] + exposure[i] + passed)
    shape = table["shape"] + strikes
    chance = (1.0 - hit) ** shape
    odds = chance * table["tails"][0][level]
    for k in range(1, len(table["tails"])):
        chance *= hit * (shape + k - 1) / k
        odds += chance * table["tails"][k][level]
    return min(odds, 1.0)


def what_now_from_table(table: Mapping[str, Any], depth: float, flow: float, strikes: int) -> WhatNow:
    """Return the advice at a depth [m] with a flow [m3/s] from so many strikes, from the plain table alone.

    Raises
    ------
    BadInput
        Negative or not finite; water with no strike.
    """
    i, n, level = _place(table, depth, flow, strikes)
    code, odds = _code(table, i, n, level), _odds(table, i, int(strikes), level)
    action, share = table["codes"][code], f"{odds * 100:.0f} in 100"
    if code == COMPLETE:
        reason = "The need is met: stop and complete the bore."
    elif code == DRILL:
        reason = f"Drill on: the chance that the next 10 m gives enough is {share}."
    elif i >= table["steps"]:
        reason = "The greatest depth of the plan is reached and the need is not met."
    else:
        reason = f"The chance that the next 10 m gives enough is {share}, and going on costs more than it is worth."
    return WhatNow(action, reason, odds)


def what_now(policy: Policy, depth: float, flow: float, strikes: int) -> WhatNow:
    """Return the advice of a rule; the same answer as `what_now_from_table` on its table."""
    return what_now_from_table(policy_table(policy), depth, flow, strikes)


def rig_card_rows(policy: Policy, *, every: float = 6.0) -> tuple[RigCardRow, ...]:
    """Return the lines of the card, one each `every` metres and one at the greatest depth.

    The likeliest number of strikes for a flow below the need is taken as one for any flow above zero and none for none.
    """
    model, table = policy.model, policy_table(policy)
    stride = max(1, int(round(every / model.step)))
    rows = []
    for i in sorted({*range(stride, model.steps + 1, stride), model.steps}):
        with_one = policy.actions[i, min(1, model.counts - 1)]
        going = np.flatnonzero(with_one[1:-1] == DRILL)
        dry = policy.actions[i, 0, 0]
        leave: float | None = None
        if dry != DRILL:
            leave = model.need if not len(going) else float((going[0] + 1) * model.need / (model.levels - 1))
        met = np.flatnonzero(with_one == COMPLETE)
        rows.append(RigCardRow(
            depth=float(model.depth[i]), stop_at=float(met[0] * model.need / (model.levels - 1)), leave_below=leave,
            action_dry=ACTIONS[dry], odds_dry=_odds(table, i, 0, 0), odds_half=_odds(table, i, 1, int(model.level(0.5 * model.need))),
        ))
    return tuple(rows)


def walk_away_depths(policy: Policy) -> dict[str, float | None]:
    """Return the first depth at which the rule leaves: dry, with a quarter, half and three quarters of the need from one strike [m]; None: never
    before the greatest depth."""
    model = policy.model
    out: dict[str, float | None] = {}
    for name, share in (("dry", 0.0), ("quarter", 0.25), ("half", 0.5), ("three quarters", 0.75)):
        actions = policy.actions[:, 0 if share == 0 else min(1, model.counts - 1), int(model.level(share * model.need))]
        leaves = np.flatnonzero((actions != DRILL) & (actions != COMPLETE))
        out[name] = float(model.depth[leaves[0]]) if len(leaves) and leaves[0] < model.steps else None
    return out


def table_vectors(policy: Policy, *, count: int = 60, seed: int = 7) -> list[dict[str, Any]]:
    """Return test vectors for a second implementation of the look-up: inputs, action, odds to 12 digits."""
    model, table = policy.model, policy_table(policy)
    generator = np.random.default_rng(seed)
    vectors = []
    for n in range(count):
        depth = float(np.round(generator.uniform(0, model.depth[-1] * 1.05), 2))
        strikes = int(generator.integers(0, model.counts + 2))
        flow = float(np.round(generator.uniform(0, 1.2) * model.need, 7)) if strikes else 0.0
        if n % 10 == 9 and strikes:
            flow = model.need
        now = what_now_from_table(table, depth, flow, strikes)
        vectors.append({"depth_m": depth, "flow_m3_per_s": flow, "strikes": strikes, "action": now.action, "odds_next_10m": round(now.odds_next_10m, 12)})
    return vectors
