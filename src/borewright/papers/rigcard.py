"""The rig card: the stop rule on one page, to be read in the cab."""

from __future__ import annotations

from typing import Any

from borewright.papers.wording import Wording, heading
from borewright.record.fold import Job

__all__ = ["content"]


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the rig card's data."""
    c = job.quote.body.content
    rows = c["rig_card"]
    stride = max(1, -(-len(rows) // 26))
    kept = [r for i, r in enumerate(rows) if (i + 1) % stride == 0 or i == len(rows) - 1]
    table = []
    for r in kept:
        dry = w.say("drill_on") if r["action_dry"] == "drill" else w.term(r["action_dry"])
        leave = "" if r["leave_below"] is None else w.q(r["leave_below"], "flow", 2)
        table.append([w.depth(r["depth"]), w.flow(r["stop_at"]), dry, leave or w.say("never"), w.in_100(r["odds_dry"]), w.in_100(r["odds_half"])])
    step = w.q(10.0, "depth", 2)
    names = {"dry": w.say("with_no_water"), "quarter": w.say("with_a_quarter_of_the_need"), "half": w.say("with_half_the_need"), "three quarters": w.say("with_three_quarters")}
    away = [[names.get(k, k), w.depth(v) if v is not None else w.say("not_before", depth=w.depth(c['maximum_depth']))] for k, v in c["walk_away"].items()]
    blocks = [
        {"kind": "figures", "items": [
            [w.typed(job.need, "flow", w.flow(c["need"])), w.say("the_need_stop_and_complete_at")],
            [w.depth(c["walk_away"]["dry"]) if c["walk_away"].get("dry") is not None else w.depth(c["maximum_depth"]), w.say("walk_away_here_if_still_dry")],
            [w.depth(c["maximum_depth"]), w.say("deepest_of_the_plan")],
        ]},
        {"kind": "pair", "left_part": 3, "right_part": 2, "left": [
            {"kind": "facts", "columns": 1, "rows": [[w.say("Job"), job.title], [w.say("Customer"), w.customer()], [w.say("Contract"), w.term(c["contract"]["kind"])], [w.say("Rule"), w.say("the_s_best", rule=w.term(c['rule']))]]},
        ], "right": [{"kind": "facts", "columns": 1, "rows": [[w.say("Leave", name=name), depth] for name, depth in away]}]},
        heading(w.say("At_each_depth")),
        {"kind": "table", "head": [w.say("depth_2"), w.say("stop_at"), w.say("if_dry"), w.say("leave_below"), w.say("next_10_m_dry", step=step), w.say("next_10_m_half_the_need", step=step)], "align": "rrlrrr", "widths": [0, 0, 1, 0, 0, 0], "rows": table, "size": 10.5,
         "note": w.say("Leave_below_with_one_strike_so", step=step)},
        heading(w.say("Where_the_driller_s_interest_and")), {"kind": "text", "text": w.told(c["difference"])},
        heading(w.say("As_drilled")), {"kind": "pencil", "head": [w.say("depth_2"), w.say("ground"), w.say("water"), w.say("flow"), w.say("time")], "widths": [1, 3, 1, 1, 1], "rows": 7 if len(kept) <= 18 else 3},
        {"kind": "cautions", "items": [{"severity": "danger", "message": w.say("A_rule_cannot_see_the_ground")}]},
    ]
    return {"title": w.say("Rig_card"), "blocks": blocks}
