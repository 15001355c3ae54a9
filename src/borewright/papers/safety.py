"""The safety and set-up sheet: what is known of the site before the rig leaves the yard, and what to look at before it turns."""

from __future__ import annotations

from typing import Any

from borewright.papers.wording import Wording, heading
from borewright.record.fold import Job

__all__ = ["content"]

def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the safety sheet's data."""
    site = job.site.body if job.site else None
    spot = job.spot.body if job.spot else None
    hazards = [[w.term(h.kind), w.distance(h.distance), h.note or "–"] for f in job.spots.values() for h in f.body.hazards]
    day = job.days[-1] if job.days else None
    design = job.design.body.design if job.design else {}
    deepest = job.quote.body.content.get("maximum_depth") if job.quote else None
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": [
            [w.say("Job"), job.title], [w.say("Customer"), w.customer()], [w.say("Site"), site.name if site else ""], [w.say("Telephone"), job.customer.body.phone if job.customer else ""],
            [w.say("Position"), w.place(job.spot or job.site)], [w.say("Spot"), spot.name if spot else ""], [w.say("Access"), site.access if site else ""], [w.say("From_the_yard"), w.distance(site.distance_from_yard) if site else ""],
            [w.say("Deepest_planned"), w.depth(deepest)], [w.say("Crew"), ", ".join(day.body.crew) if day else ""],
        ]},
        heading(w.say("Dangers_to_life")), {"kind": "cautions", "items": w.cautions("safety")},
        heading(w.say("Hazards_recorded_at_the_spot")),
        {"kind": "table", "head": [w.say("what"), w.say("distance"), w.say("note")], "align": "lrl", "widths": [2, 1, 4], "rows": hazards} if hazards else
        {"kind": "text", "text": w.say("None_is_recorded_that_is_not")},
        heading(w.say("Before_the_mast_goes_up")), {"kind": "ticks", "items": [[False, item] for item in w.lines("before_the_mast")]},
    ]
    if day and day.body.checks:
        blocks += [heading(w.say("Checked_on_by", day=w.day(day.entry.at), by=day.entry.by)), {"kind": "ticks", "items": [[bool(done), w.language.phrase(name)] for name, done in day.body.checks.items()]}]
    near = [f for h in job.holes.values() for f in h.near_misses]
    if near:
        blocks += [heading(w.say("Near_misses_on_this_job")), {"kind": "table", "head": [w.say("when"), w.say("what"), w.say("what_was_done")], "align": "lll", "widths": [1, 3, 3], "rows": [[w.day(f.entry.at), f.body.what, f.body.done] for f in near]}]
    failing = [s for s in design.get("stages") or () if isinstance(s, dict) and s.get("factor") is not None and s.get("required") and s["factor"] < s["required"]]
    if failing:
        blocks += [heading(w.say("Stages_of_the_design_that_do")), {"kind": "cautions", "items": [
            {"severity": "danger", "message": w.say("casing_at_holds_times_the_load", stage=w.told(str(s.get('stage', '')).capitalize()), string=w.term(s.get('string', '')), depth=w.depth(s.get('depth')), factor=w.n(s['factor'], decimals=2), required=w.n(s['required']))} for s in failing]}]
    blocks += [heading(w.say("In_an_emergency")), {"kind": "lines", "items": [w.say("emergency_number"), w.say("nearest_hospital"), w.say("network_electricity"), w.say("where_to_meet")]},
               {"kind": "lines", "items": [w.say("person_in_charge"), w.say("signature"), w.say("date_and_time")]}]
    return {"title": w.say("Safety_and_set_up_sheet"), "blocks": blocks}
