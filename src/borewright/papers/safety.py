"""The safety and set-up sheet: what is known of the site before the rig leaves the yard, and what to look at before it turns."""

from __future__ import annotations

from typing import Any

from borewright.papers.wording import Wording, heading
from borewright.record.fold import Job

__all__ = ["content"]

# Common practice, no source; the local code and the firm's own rules decide.
BEFORE = [
    "Overhead lines found, their height and distance known, the mast kept off by the distance the network and the law ask, raised and lowered",
    "Buried services asked for at the locating service, marked, and dug by hand where they may lie",
    "Ground carries the rig: level, drained, clear of old wells, tanks, trenches and slopes; jacks on pads",
    "Access, turning and the way out are clear; somebody off the site knows where the crew is and when it is due back",
    "Emergency address and position told to the crew; telephone or radio tried from the spot",
    "First aid, extinguisher, eye wash and spill kit at hand",
    "Guards, stops and lanyards tried; hoses, whip checks, hoist and wire looked over",
    "Helmet, eyes, ears, gloves, boots; dust kept down; nothing loose near what turns",
    "Children, visitors and stock kept out of reach; a line put around the site",
    "Cuttings and water led where they do no harm; nothing into a stream or a neighbour's land",
]
CAUTIONS = [
    {"severity": "danger", "message": "Overhead lines kill without touch. If the distance is not known, the mast stays down. If the rig touches a line: stay on it, keep others away, call the network."},
    {"severity": "danger", "message": "Compressed air: never point a hose, never open a joint under pressure, stand clear of the blow line and of the collar when air is turned on."},
    {"severity": "danger", "message": "Gas, bad air or water that flows under pressure end the day: stop, move away up wind, close in only if that is safe, call."},
    {"severity": "danger", "message": "Cement burns eyes and skin. Casing can collapse when grouted or emptied too fast: keep to the checks of the design."},
    {"severity": "note", "message": "This sheet reminds; it replaces neither the law where you work nor the firm's own risk assessment, nor the judgement of the person in charge."},
]


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the safety sheet's data."""
    site = job.site.body if job.site else None
    spot = job.spot.body if job.spot else None
    hazards = [[h.kind, w.distance(h.distance), h.note or "–"] for f in job.spots.values() for h in f.body.hazards]
    day = job.days[-1] if job.days else None
    design = job.design.body.design if job.design else {}
    deepest = job.quote.body.content.get("maximum_depth") if job.quote else None
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": [
            ["Job", job.title], ["Customer", w.customer()], ["Site", site.name if site else ""], ["Telephone", job.customer.body.phone if job.customer else ""],
            ["Position", w.place(job.spot or job.site)], ["Spot", spot.name if spot else ""], ["Access", site.access if site else ""], ["From the yard", w.distance(site.distance_from_yard) if site else ""],
            ["Deepest planned", w.depth(deepest)], ["Crew", ", ".join(day.body.crew) if day else ""],
        ]},
        heading("Dangers to life"), {"kind": "cautions", "items": CAUTIONS},
        heading("Hazards recorded at the spot"),
        {"kind": "table", "head": ["what", "distance", "note"], "align": "lrl", "widths": [2, 1, 4], "rows": hazards} if hazards else
        {"kind": "text", "text": "None is recorded. That is not the same as none being there: look before the rig is set up."},
        heading("Before the mast goes up"), {"kind": "ticks", "items": [[False, item] for item in BEFORE]},
    ]
    if day and day.body.checks:
        blocks += [heading(f"Checked on {w.day(day.entry.at)} by {day.entry.by}"), {"kind": "ticks", "items": [[bool(done), name] for name, done in day.body.checks.items()]}]
    near = [f for h in job.holes.values() for f in h.near_misses]
    if near:
        blocks += [heading("Near misses on this job"), {"kind": "table", "head": ["when", "what", "what was done"], "align": "lll", "widths": [1, 3, 3], "rows": [[w.day(f.entry.at), f.body.what, f.body.done] for f in near]}]
    failing = [s for s in design.get("stages") or () if isinstance(s, dict) and s.get("factor") is not None and s.get("required") and s["factor"] < s["required"]]
    if failing:
        blocks += [heading("Stages of the design that do not hold"), {"kind": "cautions", "items": [
            {"severity": "danger", "message": f"{str(s.get('stage', '')).capitalize()}, {s.get('string', '')} casing at {w.depth(s.get('depth'))}: holds {s['factor']:.2f} times the load where {s['required']:g} is asked."} for s in failing]}]
    blocks += [heading("In an emergency"), {"kind": "lines", "items": ["emergency number", "nearest hospital", "network (electricity)", "where to meet"]},
               {"kind": "lines", "items": ["person in charge", "signature", "date and time"]}]
    return {"title": "Safety and set-up sheet", "blocks": blocks}
