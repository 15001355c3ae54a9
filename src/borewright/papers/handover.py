"""The handover pack for the owner: what was built, how to look after it, what to watch, whom to call, cautions."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import Any

from borewright.papers.borerecord import construction_rows, drawing_of, strike_rows, yield_facts
from borewright.papers.wording import Wording, advisories_of, gravest_first, heading, number
from borewright.record.fold import Hole, Job

__all__ = ["code_words", "content"]


def code_words(job: Job, w: Wording) -> str:
    """Return what the square code at the headworks says: the bore in a few lines, readable with no network."""
    hole = job.hole
    spot = job.spot or job.site
    lines = [job.title, job.opened.body.reference if job.opened else ""]
    if spot:
        lines.append(f"geo:{spot.body.latitude:.5f},{spot.body.longitude:.5f}")
    lines.append(f"depth {w.depth(hole.depth)}")
    if hole.sealed_off:
        lines.append("sealed")
    if hole.rated and hole.rated.body.flow is not None:
        lines.append(f"rated {w.flow(hole.rated.body.flow)}")
    if hole.pump and hole.pump.body.intake_depth is not None:
        lines.append(f"pump intake {w.depth(hole.pump.body.intake_depth)}")
    lines.append(" ".join(p for p in (w.settings.firm, w.settings.phone) if p))
    return "\n".join(line for line in lines if line).replace("\u00a0", " ")


@lru_cache(maxsize=64)
def _square(words: str) -> str:
    import segno

    out = io.BytesIO()
    segno.make(words, error="m", micro=False).save(out, kind="svg", border=2, xmldecl=False, svgns=True)
    return out.getvalue().decode()


def _code(job: Job, w: Wording) -> dict[str, Any]:
    words = code_words(job, w)
    return {"kind": "code", "svg": _square(words), "width": 86, "alt": "Square code that holds: " + words.replace("\n", ", "), "text": "The square holds: " + words.replace("\n", " · ")}


def _figures(hole: Hole, w: Wording) -> list[list[str]]:
    rated = hole.rated.body.flow if hole.rated and hole.rated.body.flow is not None else number(hole.rated.body.rating.get("flow")) if hole.rated else None
    static = hole.static_level
    intake = hole.pump.body.intake_depth if hole.pump else None
    return [[w.depth(hole.depth), "deep"], [w.flow(rated) or "not rated", "rated yield" if rated is not None else "no test gives a figure to rely on"],
            [w.depth(static) if static is not None else "not recorded", "static level below ground"], [w.depth(intake) if intake is not None else "none recorded", "pump intake"]]


def _look_after(hole: Hole, w: Wording) -> list[str]:
    word = w.word
    said = [
        f"Keep the cap on and locked. Keep the ground falling away from the {word}, and nothing stored within sight of it that you would not drink: fuel, sprays, manure, bins.",
        "Fence stock out. Keep roots and vehicles off the headworks.",
        "Twice a year: look at the cap, the seal around the casing and the cable; read the level and the flow; write both down.",
        "Once a year: have the water analysed if anybody drinks it, and after any flood, repair or change of taste, smell or colour.",
        f"Nobody opens the {word}, lifts the pump or drills near it without the papers in this pack.",
    ]
    if hole.rated and hole.rated.body.flow:
        said.insert(0, f"Pump no more than {w.flow(hole.rated.body.flow)}. More for a day costs the pump; more for a season costs the {word}.")
    return said


def _watch(hole: Hole, w: Wording) -> list[list[str]]:
    table = hole.rated.body.rating if hole.rated else {}
    duty = hole.pump.body.duty if hole.pump else {}
    level = number(duty.get("pumping_level")) or number(table.get("pumping_level"))
    static = hole.static_level
    return [
        ["Water level, pump off for 12 h", w.level(static), "falls year on year: call before it reaches the pump"],
        ["Water level while pumping", w.level(level), "lower at the same flow: the slots are blocking; have it cleaned"],
        ["Flow at the tap or meter", w.flow(number(duty.get("flow")) or hole.rated.body.flow if hole.rated else None), "less at the same level: the pump wears or the pipe leaks"],
        ["Starts of the pump", "few in an hour", "many short starts: the pressure tank has lost its air"],
        ["Sand, cloud, air in the water", "none", "stop the pump and call: the casing or the pack may have failed"],
        ["Taste, smell, stain", "as today", "have it analysed; do not drink it meanwhile"],
    ]


CAUTIONS = [
    {"severity": "danger", "message": "Electricity and water: only a licensed electrician works on the pump, its cable and its switch. Isolate and lock before the headworks are opened."},
    {"severity": "danger", "message": "Do not lean into, enter or seal yourself in with a shaft, pit or tank: gas and lack of air give no warning."},
    {"severity": "danger", "message": "Chlorine for disinfection burns, gasses with acids, and must be pumped to waste before anybody or any stock drinks. Follow the label and the dose of the driller."},
    {"severity": "doubt", "message": "Clear water is not safe water. Only an analysis by a laboratory, judged by your health authority's guidelines, says that it may be drunk."},
    {"severity": "note", "message": "Licences, metering, setbacks and reporting are the law's where you live; this pack does not replace it."},
]
FLOWING = {"severity": "danger", "message": "It flows by itself. Never take the cap or valve off: the flow can undercut the casing and cannot be stopped by hand. Frost can burst the headworks."}


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the handover pack's data."""
    hole = job.hole
    if hole.sealed_off:
        return _sealed(job, hole, w)
    static = hole.static_level
    cautions = ([FLOWING] if static is not None and static < 0 else []) + CAUTIONS
    results = [hole.rated.body.rating if hole.rated else {}, hole.pump.body.duty if hole.pump else {}, hole.analyses[-1].body.assessment if hole.analyses else {}]
    drawing = drawing_of(job, w, 247.0, 385.0)
    strikes = strike_rows(hole, w)
    built = [{"kind": "facts", "columns": 1, "rows": [["Owner", w.customer()], ["Position", w.place(job.spot or job.site)], ["Drilled", w.drilled_between(hole)], ["By", w.drillers(hole)],
                                                      *yield_facts(hole, w), ["Pump", hole.pump.body.name if hole.pump else ""]]}]
    if strikes:
        built += [heading("Where the water comes in"), {"kind": "table", "head": ["at", "added", "measured after it"], "align": "lll", "rows": strikes[:10]}]
    parts = construction_rows(hole, w)
    blocks: list[dict[str, Any]] = [
        {"kind": "figures", "items": _figures(hole, w)},
        {"kind": "pair", "left": [heading("What was built"), *built], "right": [{"kind": "picture", "svg": drawing["svg"], "alt": drawing["alt"]}]},
        heading("Part by part"), {"kind": "table", "head": ["part", "from–to", "size and material"], "align": "lll", "widths": [1, 1, 3], "rows": parts or [["", "", ""]]},
        *_pump(hole, w),
        heading("How to look after it"), {"kind": "list", "items": _look_after(hole, w)},
        heading("What to watch"), {"kind": "table", "head": ["what", "today", "what a change means"], "align": "lll", "widths": [3, 3, 5], "rows": _watch(hole, w)},
        heading("Cautions"), {"kind": "cautions", "items": gravest_first([*cautions, *advisories_of(*results)])},
        heading("The water"), *_water(hole, w),
        heading("Whom to call"), {"kind": "facts", "rows": _call(w)},
        _code(job, w),
    ]
    return {"title": "Handover pack", "blocks": blocks}


def _pump(hole: Hole, w: Wording) -> list[dict[str, Any]]:
    """Return what was worked out for the pump: duty, motor, cable, cost, and its curve with the duty on it."""
    if not hole.pump:
        return []
    duty = hole.pump.body.duty
    cable = duty.get("cable") or {}
    pipes = "; ".join(f"{p.get('name', '')}, {w.distance(number(p.get('length')))}" for p in duty.get("pipes") or () if isinstance(p, dict))
    cost = number(duty.get("cost_minor_per_kl")) or number(duty.get("running_cost_per_kl_minor"))
    energy = number(duty.get("energy_kwh_per_kl"))
    area = number(cable.get("conductor_area"))
    facts = [["Pump", hole.pump.body.name], ["Intake", w.depth(hole.pump.body.intake_depth)], ["Duty", ", ".join(p for p in (w.flow(number(duty.get("flow"))), f"{w.q(number(duty.get('head')), 'length')} head" if number(duty.get("head")) else "") if p)],
             ["Motor", w.q(number(duty.get("motor_power")) or number(duty.get("power")), "power")], ["Rising main and pipes", pipes],
             ["Cable", f"{area * 1e6:.3g} mm² copper, {w.distance(number(cable.get('length')))}" if area else ""], ["Power for 1000 L", f"{energy:.2g} kWh" if energy else ""],
             ["Cost of 1000 L", w.money(cost) if cost is not None else ""]]
    blocks: list[dict[str, Any]] = [heading("The pump")]
    curve = duty.get("pump") or {}
    flows, heads = curve.get("flow") or (), curve.get("head") or ()
    if len(flows) > 1 and len(flows) == len(heads):
        from borewright.drawing.charts import pump_chart

        svg = pump_chart(flows, heads, (), (), width=247, height=132, duty_flow=number(duty.get("flow")), duty_head=number(duty.get("head")), medium="paper", units=w.system)
        return [*blocks, {"kind": "pair", "left": [{"kind": "facts", "columns": 1, "rows": facts}], "right": [{"kind": "picture", "svg": svg, "alt": "Head of the pump by flow, with the duty", "caption": "The pump's curve, and where it works."}]}]
    return [*blocks, {"kind": "facts", "rows": facts}]


def _call(w: Wording) -> list[list[str]]:
    s = w.settings
    return [["The driller", " ".join(p for p in (s.owner, s.firm) if p)], ["Telephone", s.phone], ["Mail", s.email], ["Address", " ".join(s.address.split())],
            ["Danger to life", "your emergency number"], ["Electricity", "your electrician, or the network's emergency line"]]


def _water(hole: Hole, w: Wording) -> list[dict[str, Any]]:
    if not hole.analyses:
        return [{"kind": "text", "text": "No analysis is recorded. Until a laboratory has analysed the water and it was judged for its use, do not drink it."}]
    from borewright.papers.waterreport import value_table

    body = hole.analyses[-1].body
    said = f"Sampled {w.iso_day(body.sampled_on) or 'on a day not recorded'}, {body.laboratory or 'laboratory not recorded'}; judged for {body.use}. The water report holds the whole."
    return [{"kind": "text", "text": said}, value_table(body, 14)]


def _sealed(job: Job, hole: Hole, w: Wording) -> dict[str, Any]:
    drawing = drawing_of(job, w, 247.0, 380.0)
    parts = construction_rows(hole, w)
    why = hole.sealed_off.body.reason or (hole.stopped.body.words if hole.stopped else "")
    blocks = [
        {"kind": "figures", "items": [[w.depth(hole.depth), "drilled"], [w.flow(hole.last_flow.body.flow) if hole.last_flow else "none measured", "water found"], ["Sealed", w.day(hole.sealed_off.entry.at)]]},
        {"kind": "pair", "left": [heading("What was done"), {"kind": "text", "text": f"The hole did not give the water that was needed. {why}".strip()},
                                  {"kind": "facts", "columns": 1, "rows": [["Owner", w.customer()], ["Position", w.place(job.spot or job.site)], ["Drilled", w.drilled_between(hole)], ["By", w.drillers(hole)],
                                                                           ["Ended", hole.stopped.body.reason if hole.stopped else ""]]},
                                  heading("How it was sealed"), {"kind": "table", "head": ["part", "from–to", "material"], "align": "lll", "rows": parts}],
         "right": [{"kind": "picture", "svg": drawing["svg"], "alt": drawing["alt"]}]},
        heading("What to watch"), {"kind": "list", "items": [
            "The ground over a sealed hole may settle in the first wet season: fill it level with clean soil, mounded so that water runs off.",
            "Do not build, plough deep or drive heavy loads over it for a season. Keep this paper with the papers of the land: who digs or drills there next needs it.",
            "Call the driller if a hollow opens, if water or gas comes up, or if the ground stays wet.",
        ]},
        heading("Cautions"), {"kind": "cautions", "items": [
            {"severity": "danger", "message": "A hollow over an old hole can open without warning. Keep people and stock away and call."},
            {"severity": "note", "message": "Sealing is reported to the authority as the local code asks; this paper does not replace that report."}]},
        heading("Whom to call"), {"kind": "facts", "rows": _call(w)}, _code(job, w),
    ]
    return {"title": "Handover pack: sealed hole", "blocks": blocks}
