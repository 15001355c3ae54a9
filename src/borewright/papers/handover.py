"""The handover pack for the owner: what was built, how to look after it, what to watch, whom to call, cautions."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import Any

from borewright.papers.borerecord import construction_rows, drawing_of, log_in_full, strike_rows, yield_facts
from borewright.papers.photos import photo_blocks
from borewright.papers.wording import NO_BREAK, Wording, advisories_of, gravest_first, heading, number
from borewright.quantities import from_si
from borewright.record.fold import Hole, Job

__all__ = ["code_words", "content"]


def code_words(job: Job, w: Wording) -> str:
    """Return what the square code at the headworks says: the bore in a few lines, readable with no network."""
    hole = job.hole
    spot = job.spot or job.site
    lines = [job.title, job.opened.body.reference if job.opened else ""]
    if spot:
        lines.append(f"geo:{spot.body.latitude:.5f},{spot.body.longitude:.5f}")
    lines.append(w.say("depth", depth=w.depth(hole.depth)))
    if hole.sealed_off:
        lines.append(w.say("sealed"))
    if hole.rated and hole.rated.body.flow is not None:
        lines.append(w.say("rated", flow=w.flow(hole.rated.body.flow)))
    if hole.pump and hole.pump.body.intake_depth is not None:
        lines.append(w.say("pump_intake", depth=w.depth(hole.pump.body.intake_depth)))
    lines.append(" ".join(p for p in (w.settings.firm, w.settings.phone) if p))
    return "\n".join(line for line in lines if line).replace("\u00a0", " ")


@lru_cache(maxsize=64)
def _square(words: str) -> str:
    import segno

    out = io.BytesIO()
    segno.make(words, error="m", micro=False).save(out, kind="svg", border=2, xmldecl=False, svgns=True)
    return out.getvalue().decode()


def _code(job: Job, w: Wording) -> dict[str, Any]:
    address = w.settings.owner_page.replace("{job}", str(job.id))
    if address:
        return {"kind": "code", "svg": _square(address), "width": 86, "alt": w.say("Square_code_that_opens", address=address), "text": w.say("The_square_opens", address=address)}
    words = code_words(job, w)
    return {"kind": "code", "svg": _square(words), "width": 86, "alt": w.say("Square_code_that_holds", words=words.replace(chr(10), ', ')), "text": w.say("The_square_holds", words=words.replace(chr(10), ' · '))}


def _figures(hole: Hole, w: Wording) -> list[list[str]]:
    rated = hole.rated.body.flow if hole.rated and hole.rated.body.flow is not None else number(hole.rated.body.rating.get("flow")) if hole.rated else None
    static = hole.static_level
    intake = hole.pump.body.intake_depth if hole.pump else None
    return [[w.depth(hole.depth), w.say("deep")], [w.flow(rated) or w.say("not_rated"), w.say("rated_yield") if rated is not None else w.say("no_test_gives_a_figure_to")],
            [w.depth(static) if static is not None else w.say("not_recorded"), w.say("static_level_below_ground")], [w.depth(intake) if intake is not None else w.say("none_recorded"), w.say("pump_intake_2")]]


def _look_after(hole: Hole, w: Wording) -> list[str]:
    said = list(w.lines("look_after"))
    if hole.rated and hole.rated.body.flow:
        said.insert(0, w.say("Pump_no_more_than_more_for", flow=w.flow(hole.rated.body.flow)))
    return said


def _watch(hole: Hole, w: Wording) -> list[list[str]]:
    table = hole.rated.body.rating if hole.rated else {}
    duty = hole.pump.body.duty if hole.pump else {}
    level = number(duty.get("pumping_level")) or number(table.get("pumping_level"))
    static = hole.static_level
    return [
        [w.say("Water_level_pump_off_for_12"), w.level(static), w.say("falls_year_on_year_call_before")],
        [w.say("Water_level_while_pumping"), w.level(level), w.say("lower_at_the_same_flow_the")],
        [w.say("Flow_at_the_tap_or_meter"), w.flow(number(duty.get("flow")) or hole.rated.body.flow if hole.rated else None), w.say("less_at_the_same_level_the")],
        [w.say("Starts_of_the_pump"), w.say("few_in_an_hour"), w.say("many_short_starts_the_pressure_tank")],
        [w.say("Sand_cloud_air_in_the_water"), w.say("none"), w.say("stop_the_pump_and_call_the")],
        [w.say("Taste_smell_stain"), w.say("as_today"), w.say("have_it_analysed_do_not_drink")],
    ]


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the handover pack's data."""
    hole = job.hole
    if hole.sealed_off:
        return _sealed(job, hole, w)
    static = hole.static_level
    cautions = (w.cautions("flowing") if static is not None and static < 0 else []) + w.cautions("handover")
    results = [hole.rated.body.rating if hole.rated else {}, hole.pump.body.duty if hole.pump else {}, hole.analyses[-1].body.assessment if hole.analyses else {}]
    drawing = drawing_of(job, w, 247.0, 385.0)
    strikes = strike_rows(hole, w)
    built = [{"kind": "facts", "columns": 1, "rows": [[w.say("Owner"), w.customer()], [w.say("Position"), w.place(job.spot or job.site)], [w.say("Drilled"), w.drilled_between(hole)], [w.say("By"), w.drillers(hole)],
                                                      *yield_facts(hole, w), [w.say("Pump"), hole.pump.body.name if hole.pump else ""]]}]
    if strikes:
        built += [heading(w.say("Where_the_water_comes_in")), {"kind": "table", "head": [w.say("at_2"), w.say("added"), w.say("measured_after_it")], "align": "lll", "rows": strikes[:10]}]
    built.append(_code(job, w))
    parts = construction_rows(hole, w)
    blocks: list[dict[str, Any]] = [
        {"kind": "figures", "items": _figures(hole, w)},
        {"kind": "pair", "left": [heading(w.say("What_was_built")), *built], "right": [{"kind": "picture", "svg": drawing["svg"], "alt": drawing["alt"]}]},
        heading(w.say("Part_by_part")), {"kind": "table", "head": [w.say("part"), w.say("from_to"), w.say("size_and_material")], "align": "lll", "widths": [1, 1, 3], "rows": parts or [["", "", ""]]},
        *_pump(hole, w),
        heading(w.say("How_to_look_after_it")), {"kind": "list", "items": _look_after(hole, w)},
        heading(w.say("What_to_watch")), {"kind": "table", "head": [w.say("what"), w.say("today"), w.say("what_a_change_means")], "align": "lll", "widths": [3, 3, 5], "rows": _watch(hole, w)},
        heading(w.say("Cautions")), {"kind": "cautions", "items": gravest_first([*cautions, *advisories_of(w, *results)])},
        heading(w.say("The_water")), *_water(hole, w),
        heading(w.say("Whom_to_call")), {"kind": "facts", "rows": _call(w)},
        *log_in_full(hole, drawing["svg"], w),
        *photo_blocks(hole, w, w.album),
    ]
    return {"title": w.say("Handover_pack"), "blocks": blocks}


def _pump(hole: Hole, w: Wording) -> list[dict[str, Any]]:
    """Return what was worked out for the pump: duty, motor, cable, cost, and its curve with the duty on it."""
    if not hole.pump:
        return []
    duty = hole.pump.body.duty
    cable = duty.get("cable") or {}
    pipes = "; ".join(f"{w.material(str(p.get('name', '')))}, {w.distance(number(p.get('length')))}" for p in duty.get("pipes") or () if isinstance(p, dict))
    cost = number(duty.get("cost_minor_per_kl")) or number(duty.get("running_cost_per_kl_minor"))
    energy = number(duty.get("energy_kwh_per_kl"))
    # A thousand of what the firm counts water in: litres or its own gallons.
    unit = {"metric": "L", "US": "US gal", "imperial": "imp gal"}[w.system]
    thousand, kilolitres = f"1000{NO_BREAK}{unit}", 1000.0 / from_si(1.0, "volume", unit)
    area = number(cable.get("conductor_area"))
    facts = [[w.say("Pump"), hole.pump.body.name], [w.say("Intake"), w.depth(hole.pump.body.intake_depth)], [w.say("Duty"), ", ".join(p for p in (w.flow(number(duty.get("flow"))), w.say("head", value=w.q(number(duty.get('head')), 'length')) if number(duty.get("head")) else "") if p)],
             [w.say("Motor"), w.q(number(duty.get("motor_power")) or number(duty.get("power")), "power")], [w.say("Rising_main_and_pipes"), pipes],
             [w.say("Cable"), w.say("mm_copper", count=w.n(area * 1e6), distance=w.distance(number(cable.get('length')))) if area else ""], [w.say("Power_for", amount=thousand), w.n(energy * kilolitres, 2) + " kWh" if energy else ""],
             [w.say("Cost_of", amount=thousand), w.money(cost * kilolitres) if cost is not None else ""]]
    blocks: list[dict[str, Any]] = [heading(w.say("The_pump"))]
    curve = duty.get("pump") or {}
    flows, heads = curve.get("flow") or (), curve.get("head") or ()
    if len(flows) > 1 and len(flows) == len(heads):
        from borewright.drawing.charts import pump_chart

        svg = pump_chart(flows, heads, (), (), width=247, height=132, duty_flow=number(duty.get("flow")), duty_head=number(duty.get("head")), medium="paper", units=w.system)
        return [*blocks, {"kind": "pair", "left": [{"kind": "facts", "columns": 1, "rows": facts}], "right": [{"kind": "picture", "svg": svg, "alt": w.say("Head_of_the_pump_by_flow"), "caption": w.say("The_pump_s_curve_and_where")}]}]
    return [*blocks, {"kind": "facts", "rows": facts}]


def _call(w: Wording) -> list[list[str]]:
    s = w.settings
    return [[w.say("The_driller"), " ".join(p for p in (s.owner, s.firm) if p)], [w.say("Telephone"), s.phone], [w.say("Mail"), s.email], [w.say("Address"), " ".join(s.address.split())],
            [w.say("Danger_to_life"), w.say("your_emergency_number")], [w.say("Electricity"), w.say("your_electrician_or_the_network_s")]]


def _water(hole: Hole, w: Wording) -> list[dict[str, Any]]:
    if not hole.analyses:
        return [{"kind": "text", "text": w.say("No_analysis_is_recorded_until_a")}]
    from borewright.papers.waterreport import value_table

    body = hole.analyses[-1].body
    day, laboratory, use = w.iso_day(body.sampled_on) or w.say("on_a_day_not_recorded"), body.laboratory or w.say("laboratory_not_recorded"), w.term(body.use)
    said = w.say("Sampled_judged_for_the_water_report", day=day, laboratory=laboratory, use=use)
    return [{"kind": "text", "text": said}, value_table(body, w, 14)]


def _sealed(job: Job, hole: Hole, w: Wording) -> dict[str, Any]:
    drawing = drawing_of(job, w, 247.0, 380.0)
    parts = construction_rows(hole, w)
    why = hole.sealed_off.body.reason or (hole.stopped.body.words if hole.stopped else "")
    blocks = [
        {"kind": "figures", "items": [[w.depth(hole.depth), w.say("drilled")], [w.flow(hole.last_flow.body.flow) if hole.last_flow else w.say("none_measured"), w.say("water_found")], [w.say("Sealed"), w.day(hole.sealed_off.entry.at)]]},
        {"kind": "pair", "left": [heading(w.say("What_was_done")), {"kind": "text", "text": " ".join(p for p in (w.say("The_hole_did_not_give_the"), why) if p)},
                                  {"kind": "facts", "columns": 1, "rows": [[w.say("Owner"), w.customer()], [w.say("Position"), w.place(job.spot or job.site)], [w.say("Drilled"), w.drilled_between(hole)], [w.say("By"), w.drillers(hole)],
                                                                           [w.say("Ended"), w.term(hole.stopped.body.reason) if hole.stopped else ""]]},
                                  heading(w.say("How_it_was_sealed")), {"kind": "table", "head": [w.say("part"), w.say("from_to"), w.say("material")], "align": "lll", "rows": parts}, _code(job, w)],
         "right": [{"kind": "picture", "svg": drawing["svg"], "alt": drawing["alt"]}]},
        heading(w.say("What_to_watch")), {"kind": "list", "items": w.lines("watch_sealed")},
        heading(w.say("Cautions")), {"kind": "cautions", "items": w.cautions("sealed")},
        heading(w.say("Whom_to_call")), {"kind": "facts", "rows": _call(w)}, *log_in_full(hole, drawing["svg"], w),
    ]
    return {"title": w.say("Handover_pack_sealed_hole"), "blocks": blocks}
