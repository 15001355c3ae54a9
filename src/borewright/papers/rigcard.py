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
        dry = "drill on" if r["action_dry"] == "drill" else r["action_dry"]
        leave = "" if r["leave_below"] is None else w.q(r["leave_below"], "flow", 2)
        table.append([w.depth(r["depth"]), w.flow(r["stop_at"]), dry, leave or "never", w.in_100(r["odds_dry"]), w.in_100(r["odds_half"])])
    names = {"dry": "with no water", "quarter": "with a quarter of the need", "half": "with half the need", "three quarters": "with three quarters"}
    away = [[names.get(k, k), w.depth(v) if v is not None else f"not before {w.depth(c['maximum_depth'])}"] for k, v in c["walk_away"].items()]
    blocks = [
        {"kind": "figures", "items": [
            [w.typed(job.need, "flow", w.flow(c["need"])), "the need: stop and complete at this flow"],
            [w.depth(c["walk_away"]["dry"]) if c["walk_away"].get("dry") is not None else w.depth(c["maximum_depth"]), "walk away here if still dry"],
            [w.depth(c["maximum_depth"]), "deepest of the plan"],
        ]},
        {"kind": "pair", "left_part": 3, "right_part": 2, "left": [
            {"kind": "facts", "columns": 1, "rows": [["Job", job.title], ["Customer", w.customer()], ["Contract", c["contract"]["kind"]], ["Rule", f"the {c['rule']}'s best"]]},
        ], "right": [{"kind": "facts", "columns": 1, "rows": [[f"Leave {name}", depth] for name, depth in away]}]},
        heading("At each depth"),
        {"kind": "table", "head": ["depth", "stop at", "if dry", "leave below", "next 10 m, dry", "next 10 m, half the need"], "align": "rrlrrr", "widths": [0, 0, 1, 0, 0, 0], "rows": table, "size": 10.5,
         "note": "Leave below: with one strike so far and less than this flow, going on costs more than it is worth. The last two columns: chance that the next 10 m gives enough."},
        heading("Where the driller's interest and the customer's differ"), {"kind": "text", "text": c["difference"]},
        heading("As drilled"), {"kind": "pencil", "head": ["depth", "ground", "water", "flow", "time"], "widths": [1, 3, 1, 1, 1], "rows": 7 if len(kept) <= 18 else 3},
        {"kind": "cautions", "items": [{"severity": "danger", "message": "A rule cannot see the ground: gas, loss of air, caving, flowing water that the hole cannot hold back, or a line overhead end the day whatever the card says."}]},
    ]
    return {"title": "Rig card", "blocks": blocks}
