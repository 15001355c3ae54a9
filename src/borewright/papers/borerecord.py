"""The bore record: one page with the log, the construction, the strikes, levels and yields to scale; what has no room there stands on the next."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from borewright.drawing import living_section, section_of
from borewright.drawing.words import say
from borewright.papers.photos import photo_blocks
from borewright.papers.wording import Wording, heading, number
from borewright.record.fold import Hole, Job

__all__ = ["construction_rows", "content", "drawing_of", "log_in_full", "strike_rows", "yield_facts"]

_CUT = re.compile(r'text-anchor="end"[^>]*>[^<]*…</text>')  # the words beside the ground end at its edge
MOST_ROWS = 14
MOST_NOTES = 8


def drawing_of(job: Job, w: Wording, width: float, height: float, *, margins: bool = False) -> dict[str, Any]:
    """Return the section as a picture of the data."""
    # A record shows what is there: no plan, no odds.
    section = replace(section_of(job, design=None if margins else {}), odds=(), expected=None, walk_away=None)
    svg = living_section(section, width=width, height=height, medium="paper", units=w.system, margins=margins)
    described = svg[svg.index("<desc"):svg.index("</desc>")].partition(">")[2]
    return {"svg": svg, "width": width, "alt": described[:900]}


def construction_rows(hole: Hole, w: Wording) -> list[list[str]]:
    """Return casing and fillings as (what, from–to, size or material, amount)."""
    rows = []
    strings: dict[tuple, list] = {}
    for fact in hole.casings:
        b = fact.body
        strings.setdefault((b.string, b.outside_diameter, b.wall, b.material), []).append(b)
    for (string, outside, wall, material), parts in strings.items():
        size = w.diameter(outside) + (f" × {w.q(wall, 'diameter')}" if wall else "")
        joints = sum(b.joints or 0 for b in parts)
        reach = w.span(min(b.from_depth for b in parts), max(b.to_depth for b in parts))
        rows.append([w.say("casing", string=w.term(string)), reach, f"{size} {w.material(material)}".strip() + (w.say("joints", joints=joints) if joints else "")])
        for b in sorted((b for b in parts if b.slotted), key=lambda b: b.from_depth):
            rows.append([w.say("slotted"), w.span(b.from_depth, b.to_depth), w.say("slots", slot=w.slot(b.aperture)) if b.aperture else w.say("slot_width_not_recorded")])
    for fact in hole.annulus:
        b = fact.body
        amount = ", ".join(p for p in (w.say("bags", bags=w.n(b.bags)) + (w.say("of", value=w.q(b.bag_mass, 'mass')) if b.bag_mass else "") if b.bags else "", w.q(b.volume, "volume") if b.volume else "",
                                       w.q(b.density, "density", 4) if b.density else "") if p)
        rows.append([w.term(b.what), w.span(b.from_depth, b.to_depth), w.of(w.material(b.material), amount)])
    if hole.sealed_off:
        for i in hole.sealed_off.body.intervals:
            amount = ", ".join(p for p in (w.say("bags", bags=w.n(i.bags)) if i.bags else "", w.q(i.volume, "volume") if i.volume else "") if p)
            rows.append([w.say("sealed"), w.span(i.from_depth, i.to_depth), w.of(w.material(i.material), amount)])
    return rows


def strike_rows(hole: Hole, w: Wording) -> list[list[str]]:
    """Return each strike with its depth, what it added and what was measured at the collar after it."""
    gains = dict(hole.strike_yields())
    depths = [f.body.depth for f in hole.strikes]
    rows = []
    for index, fact in enumerate(hole.strikes):
        below = depths[index + 1] if index + 1 < len(depths) else float("inf")
        after = [f.body for f in hole.flows if fact.body.depth <= f.body.depth < below]
        gain = gains.get(fact.body.depth)
        total = f"{w.flow(after[-1].flow)}, {w.term(after[-1].method)}" if after else ""
        rows.append([w.depth(fact.body.depth), f"+{w.flow(gain)}" if gain is not None else "", total])
    return rows


def yield_facts(hole: Hole, w: Wording) -> list[list[str]]:
    """Return what is known of the yield and the levels, each with how it was found."""
    rows = []
    last = hole.last_flow
    if last:
        u = last.body.standard_uncertainty
        rows.append([w.say("Flow_at_the_rig"), f"{w.flow(last.body.flow)}" + (f" ± {w.q(2 * u, 'flow', 2)}" if u else "") + w.say("at", depth=w.depth(last.body.depth), method=w.term(last.body.method))])
    lifted = [f.body.flow for f in hole.airlift if f.body.flow]
    if lifted:
        rows.append([w.say("Airlift"), w.say("at_the_end_of", flow=w.flow(lifted[-1]), hours=w.hours(hole.airlift[-1].body.elapsed))])
    statics = [f for f in hole.levels if f.body.state == "static"]
    rows.append([w.say("Static_level"), w.level(statics[-1].body.depth_to_water) + f", {w.day(statics[-1].entry.at)}" if statics else ""])
    if hole.rated:
        table = hole.rated.body.rating
        flow = hole.rated.body.flow if hole.rated.body.flow is not None else number(table.get("flow"))
        low, high = number(table.get("low")), number(table.get("high"))
        band = w.say("the_ground_could_give_to_9", flow=w.flow(low), flow_2=w.flow(high)) if low is not None and high is not None else ""
        rows.append([w.say("Rated_yield"), w.flow(flow) + band if flow is not None else ""])
    return rows


def _log_facts(job: Job, hole: Hole, w: Wording) -> list[list[str]]:
    started = hole.started.body if hole.started else None
    spot = job.spot or job.site
    bits = ", ".join(w.say("from", diameter=w.diameter(f.body.diameter), depth=w.depth(f.body.from_depth)) for f in hole.bits)
    elevation = getattr(job.spot.body, "elevation", None) if job.spot else None
    others = [h for h in job.holes.values() if h.number != hole.number]
    rows = [
        [w.say("Owner"), w.customer()], [w.say("Place"), (job.site.body.name if job.site else "") or (job.customer.body.address if job.customer else "")], [w.say("Position"), w.place(spot)],
        [w.say("Elevation"), w.depth(elevation) if elevation is not None else ""], [w.say("Drilled"), w.drilled_between(hole)], [w.say("Driller"), w.drillers(hole)], [w.say("Licence"), w.settings.licence],
        [w.say("Method"), w.term(started.method) if started else ""], [w.say("Bits"), bits], [w.say("Depth"), w.depth(hole.depth) if hole.depth else ""],
        [w.say("Ended"), w.of(w.term(hole.stopped.body.reason), w.material(hole.stopped.body.words)) if hole.stopped else ""],
    ]
    if others:
        rows.append([w.say("Other_holes"), "; ".join(w.say("hole", number=h.number, depth=w.depth(h.depth)) + (w.say("sealed_2") if h.sealed_off else "") for h in others)])
    return rows


def log_in_full(hole: Hole, svg: str, w: Wording) -> list[dict[str, Any]]:
    """Return the log in the driller's words where a drawing had to cut some or leave them out, and every strike where there are more than a record's page has room for."""
    blocks: list[dict[str, Any]] = []
    if _CUT.search(svg) or say("+ {count} layers more in the log").partition("{count}")[2] in svg:
        rows = [[w.span(f.body.from_depth, f.body.to_depth), f.body.words] for f in hole.ground]
        blocks += [heading(w.say("The_log_in_full")), {"kind": "table", "head": [w.say("from_to"), w.say("ground_words")], "align": "ll", "widths": [0, 1], "rows": rows}]
    strikes = strike_rows(hole, w)
    if len(strikes) > MOST_ROWS:
        blocks += [heading(w.say("Every_strike")), {"kind": "table", "head": [w.say("struck_at"), w.say("added"), w.say("at_the_collar_after_it")], "align": "lll", "widths": [1, 1, 3], "rows": strikes}]
    return blocks


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the bore record's data."""
    hole = job.hole
    width, height = (322.0, 694.0) if paper == "A4" else (338.0, 640.0)
    blocks: list[dict[str, Any]] = [{"kind": "facts", "rows": _log_facts(job, hole, w)}]
    strikes = strike_rows(hole, w)
    blocks.append(heading(w.say("Water")))
    if strikes:
        note = w.say("strikes_more_stand_overleaf", count=len(strikes) - MOST_ROWS) if len(strikes) > MOST_ROWS else ""
        blocks.append({"kind": "table", "head": [w.say("struck_at"), w.say("added"), w.say("at_the_collar_after_it")], "align": "lll", "wide": 2, "rows": strikes[:MOST_ROWS], "note": note})
    else:
        blocks.append({"kind": "text", "text": w.say("No_strike_is_recorded")})
    blocks.append({"kind": "facts", "rows": yield_facts(hole, w)})
    rows = construction_rows(hole, w)
    blocks.append(heading(w.say("Construction") if not hole.sealed_off else w.say("Construction_and_sealing")))
    if rows:
        note = w.say("parts_more_stand_overleaf", count=len(rows) - MOST_ROWS) if len(rows) > MOST_ROWS else ""
        blocks.append({"kind": "table", "head": [w.say("part"), w.say("from_to"), w.say("size_material")], "align": "lll", "wide": 2, "rows": rows[:MOST_ROWS], "note": note})
    else:
        blocks.append({"kind": "text", "text": w.say("No_casing_seal_or_grout_is")})
    if hole.pump:
        blocks.append({"kind": "facts", "rows": [[w.say("Pump"), hole.pump.body.name], [w.say("Intake"), w.depth(hole.pump.body.intake_depth)]]})
    sampled = [f.body for f in hole.samples]
    if sampled:
        s = sampled[-1]
        said = ", ".join(p for p in (w.q(s.conductivity, "conductivity") if s.conductivity is not None else "", w.say("ph", ph=w.n(s.ph)) if s.ph is not None else "",
                                     w.q(s.temperature, "temperature") if s.temperature is not None else "") if p)
        blocks.append({"kind": "facts", "rows": [[w.say("Water_at_the_rig"), said]]})
    if hole.notes:
        said = [(f"{w.depth(f.body.depth)}: " if f.body.depth is not None else "") + f.body.text for f in hole.notes]
        more = w.say("notes_more_stand_overleaf", count=len(said) - MOST_NOTES) if len(said) > MOST_NOTES else ""
        blocks += [heading(w.say("Remarks")), {"kind": "text", "text": " · ".join(said[:MOST_NOTES]) + more}]
    blocks.append({"kind": "lines", "items": [w.say("driller_name_and_licence"), w.say("date")]})
    # The patterns are named where they stand; the words beside them are the driller's own.
    drawing = drawing_of(job, w, width, height)
    overleaf = log_in_full(hole, drawing["svg"], w)
    if len(rows) > MOST_ROWS:
        overleaf += [heading(w.say("Every_part")), {"kind": "table", "head": [w.say("part"), w.say("from_to"), w.say("size_material")], "align": "lll", "widths": [1, 1, 3], "rows": rows}]
    if len(hole.notes) > MOST_NOTES:
        overleaf += [heading(w.say("Every_remark")), {"kind": "list", "items": said}]
    return {"layout": "record", "title": w.say("record"), "drawing": drawing,
            "after": [*([{"kind": "break"}, *overleaf] if overleaf else []), *photo_blocks(hole, w, w.album, before="break")],
            "blocks": [*blocks, {"kind": "text", "text": w.say("Ground_in_the_driller_s_words")}]}
