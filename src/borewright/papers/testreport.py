"""The test report: how the bore was tested, the readings, the fit, and the yield to rely on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.drawing import charts
from borewright.drawing.testcharts import looks_chart, step_chart, yield_chart
from borewright.papers.wording import Wording, advisories_of, heading, number
from borewright.quantities import FOOT, rounded, shown_unit
from borewright.record.fold import Job, Test

__all__ = ["content"]

MOST_READINGS = 60
SIDE_BY_SIDE = 5  # pairs of time and drawdown across the page
# A name in a result ends with its unit: as it is written, as it is written in feet, and the power of a foot in it.
_RAISED = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")
_UNITS = {"_m2": ("m²", "ft²", 2), "_m2_per_d": ("m²/d", "ft²/d", 2), "_m_per_d": ("m/d", "ft/d", 1), "_m3_per_d": ("m³/d", "ft³/d", 3), "_m": ("m", "ft", 1), "_s": ("s", "s", 0), "_d": ("d", "d", 0)}


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the test report's data."""
    hole = job.hole
    spot = job.spot or job.site
    blocks: list[dict[str, Any]] = [{"kind": "facts", "rows": [
        [w.say("For"), w.customer()], [w.say("Position"), w.place(spot)], [w.say("Depth"), w.depth(hole.depth)],
        [w.say("Static_level"), w.level(hole.static_level)],
    ]}]
    if hole.rated:
        blocks += _rated(hole.rated.body, w)
    results = [hole.rated.body.rating if hole.rated else {}, *(r for t in hole.tests.values() if t.fitted for r in (t.fitted.body.result, _best(t.fitted.body.result)))]
    blocks += [heading(w.say("Cautions")), {"kind": "cautions", "items": [*w.cautions("test"), *advisories_of(w, *results)]}]
    for test in hole.tests.values():
        blocks += _test(test, w)
    return {"title": w.say("Test_report"), "blocks": blocks}


def _rated(body: Any, w: Wording) -> list[dict[str, Any]]:
    table = body.rating
    flow = body.flow if body.flow is not None else number(table.get("flow"))
    low, high = number(table.get("low")), number(table.get("high"))
    items = [[w.flow(flow) or w.say("not_given"), w.say("rated_yield")]]
    if low is not None and high is not None:
        items.append([w.flows(low, high), w.say("what_the_ground_could_give_9")])
    guard = number(table.get("guard_depth")) or number(table.get("intake_guard"))
    if guard is not None:
        items.append([w.depth(guard), w.say("level_never_to_go_below")])
    blocks: list[dict[str, Any]] = [{"kind": "figures", "items": items}]
    if isinstance(table.get("sentence"), str):
        blocks.append({"kind": "text", "text": w.told(table["sentence"])})
    if isinstance(table.get("basis"), str):
        blocks.append({"kind": "text", "text": w.say("Rests_on", basis=w.told(table['basis']))})
    horizons = [h for h in table.get("horizons") or () if isinstance(h, Mapping)]
    if horizons:
        rows = [[w.told(str(h.get("name", ""))), *(w.flow(number(h.get(k))) for k in ("flow", "low", "middle", "high"))] for h in horizons]
        blocks += [heading(w.say("For_how_long")), {"kind": "table", "head": [w.say("pumped_for"), w.say("to_rely_on"), w.say("low"), w.say("middle"), w.say("high")], "align": "lrrrr", "rows": rows}]
    curve = table.get("curve")
    if isinstance(curve, Mapping) and len(curve.get("time_s") or ()) > 1 and all(len(curve.get(k) or ()) == len(curve["time_s"]) for k in ("flow", "low", "middle", "high")):
        svg = yield_chart(curve["time_s"], curve["flow"], low=curve["low"], middle=curve["middle"], high=curve["high"], tested=flow, width=500, height=190, medium="paper", units=w.system)
        blocks.append({"kind": "picture", "svg": svg, "alt": w.say("Flow_by_time"), "caption": w.say("Flow_by_time")})
    name, levels = next(iter((table.get("levels") or {}).items()), ("", {}))
    if isinstance(levels, Mapping) and len(levels.get("flow") or ()) > 1 and len(levels["flow"]) == len(levels.get("depth") or ()):
        low, high = levels.get("shallow") or (), levels.get("deep") or ()
        paired = len(low) == len(high) == len(levels["flow"])
        svg = charts.rating_chart(levels["flow"], levels["depth"], low=low if paired else (), high=high if paired else (), guard=guard, rated=flow, width=500, height=190, medium="paper", units=w.system)
        blocks.append({"kind": "picture", "svg": svg, "alt": w.say("Pumping_level_by_flow_with_its"), "caption": w.say("Pumping_level_by_flow", name=w.told(name))})
    rules = [r for r in table.get("rules") or () if isinstance(r, Mapping)]
    if rules:
        rows = [[w.told(str(r.get("rule", ""))), w.flow(number(r.get("flow"))), w.told(str(r.get("note") or r.get("source") or "–"))] for r in rules]
        blocks += [heading(w.say("Rules_of_thumb_beside_it")), {"kind": "table", "head": [w.say("rule"), w.say("flow"), w.say("note")], "align": "lrl", "widths": [2, 1, 4], "rows": rows}]
    return blocks


def _best(result: Mapping[str, Any]) -> Mapping[str, Any]:
    fits = [f for f in result.get("fits") or () if isinstance(f, Mapping)]
    return next((f for f in fits if f.get("solution") == result.get("best")), fits[0] if fits else {})


def _curve(fit: Mapping[str, Any], result: Mapping[str, Any]) -> tuple[list[float], list[float]]:
    """Return the fitted curve that a fit or its whole result carries, or nothing: a paper draws what was kept and fits nothing itself."""
    for held in (fit.get("curve"), result.get("curve")):
        if isinstance(held, Mapping):
            time = next((held[k] for k in ("time_s", "time") if held.get(k)), None)
            drawdown = next((held[k] for k in ("drawdown_m", "drawdown") if held.get(k)), None)
            if time and drawdown and len(time) == len(drawdown):
                return [float(t) for t in time], [float(s) for s in drawdown]
    return [], []


def _test(test: Test, w: Wording) -> list[dict[str, Any]]:
    run = test.run.body
    blocks: list[dict[str, Any]] = [heading(w.say("about_and_words", about=w.term(run.type).capitalize(), words=run.run)), {"kind": "facts", "sticky": True, "rows": [
        [w.say("Rate"), w.flow(run.rate) if run.rate is not None else "; ".join(w.say("from_2", flow=w.flow(q), value=w.q(t, 'time')) for t, q in run.steps)], [w.say("Duration"), w.hours(run.duration)],
        [w.say("Level_before"), w.level(run.static_level)], [w.say("Date"), w.day(test.run.entry.at)],
    ]}]
    result = test.fitted.body.result if test.fitted else {}
    fits, best = [f for f in result.get("fits") or () if isinstance(f, Mapping)], _best(result)
    wells: dict[str, tuple[list[float], list[float]]] = {}
    for fact in test.levels:
        time, drawdown = wells.setdefault(fact.body.well, ([], []))
        time.extend(fact.body.time)
        drawdown.extend(fact.body.drawdown)
    for well, (time, drawdown) in wells.items():
        order = sorted(range(len(time)), key=time.__getitem__)
        pairs = [(time[i], drawdown[i]) for i in order if time[i] > 0]
        if len(pairs) < 2:
            continue
        curve = _curve(best, result) if well == run.well else ([], [])
        svg = charts.drawdown_chart([p[0] for p in pairs], [p[1] for p in pairs], fit_time=curve[0], fit_drawdown=curve[1], fit_name=w.say("fit", name=w.told(str(best.get('title') or best.get('solution', '')))), width=500, height=225,
                                    medium="paper", units=w.system, title=w.say("Drawdown", well=w.term(well)), clock="minutes since the pump stopped" if run.type == "recovery" else "minutes since pumping began")
        blocks.append({"kind": "picture", "svg": svg, "alt": w.say("readings_of_drawdown_against_the_logarithm", count=len(pairs)), "caption": w.say("Drawdown_in_the_readings", well=w.term(well), count=len(pairs))})
    blocks += _looks(result.get("looks"), w)
    if result.get("together"):
        blocks.append({"kind": "text", "text": w.say("Fitted_together", runs=", ".join(map(str, result["together"])))})
    part = result.get("part_open")
    if isinstance(part, Mapping):
        blocks.append({"kind": "text", "text": w.say("Open_in_part", top=w.q(part["top_m"], "length"), bottom=w.q(part["bottom_m"], "length"), thickness=w.q(part["thickness_m"], "length"), ratio=w.figures(_three(part["anisotropy"])))})
    for other in result.get("also_pumped") or ():
        blocks.append({"kind": "text", "text": w.say("Also_pumped", name=str(other["bore"]))})
    if isinstance(result.get("held"), Mapping):
        blocks.append({"kind": "text", "text": w.say("Held_by_hand", values="; ".join(f"{_label(k, w)} {_in_unit(v, k, w)}" for k, v in result["held"].items() if (number(v)) is not None))})
    if result.get("best_by_aicc"):
        blocks.append({"kind": "text", "text": w.say("Chosen_by_hand", name=w.told(str(result["best_by_aicc"])))})
    blocks += _steps(result.get("steps"), w) + _slug(result.get("slug"), w)
    if result.get("steps") or result.get("slug"):
        told = result.get("aquifer_sentence")
        if told:
            blocks.append({"kind": "text", "text": w.told(str(told))})
    elif result.get("sentence") or best.get("sentence"):
        blocks.append({"kind": "text", "text": w.told(str(result.get("sentence") or best.get("sentence")))})
    if fits:
        blocks += [heading(w.say("What_fits")), {"kind": "table", "head": [w.say("solution"), w.say("what_it_says"), w.say("misfit"), "AICc"], "align": "llrr", "widths": [2, 5, 1, 1], "rows": [_fit_row(f, result, w) for f in fits]}]
    elif not test.fitted:
        blocks.append({"kind": "text", "text": w.say("No_fit_is_recorded_for_this")})
    blocks += _readings(wells, w)
    return blocks


def _looks(looks: Any, w: Wording) -> list[dict[str, Any]]:
    """Return the log-log plot with its slope, and the recovery plot where it is one, as the fit kept them."""
    if not isinstance(looks, Mapping):
        return []
    blocks, size = [], {"width": 500, "height": 210, "medium": "paper", "units": w.system}
    if looks.get("recovery") and len(looks.get("ratio") or ()) > 1:
        svg = charts.recovery_chart(looks["ratio"], looks["drawdown_m"], fit_ratio=looks.get("fit_ratio") or (), fit_residual=looks.get("curve_m") or (), **size)
        blocks.append({"kind": "picture", "svg": svg, "alt": w.say("Recovery_by_ratio"), "caption": w.say("Recovery_by_ratio")})
    if len(looks.get("slope_m") or ()) > 1:
        blocks.append({"kind": "picture", "svg": looks_chart(looks, **size), "alt": w.say("Log_log_with_slope"), "caption": w.say("Log_log_with_slope")})
    return blocks


def _step_picture(steps: Mapping[str, Any], rows: list[Any], half: float | None, w: Wording) -> list[dict[str, Any]]:
    curve = steps.get("curve")
    points = [(number(s.get("rate_m3_per_s")), number(s.get("read_m"))) for s in rows]
    if not isinstance(curve, Mapping) or len(points) < 2 or any(q is None or s is None for q, s in points):
        return []
    svg = step_chart([q for q, _ in points], [s for _, s in points], curve_rate=curve["rate_m3_per_s"], curve=curve["drawdown_m"], aquifer=curve["aquifer_m"], half=half,
                     width=500, height=200, medium="paper", units=w.system)
    return [{"kind": "picture", "svg": svg, "alt": w.say("Steps_by_flow"), "caption": w.say("Steps_by_flow")}]


def _steps(steps: Any, w: Wording) -> list[dict[str, Any]]:
    """Return what a step run told of the losses at the bore, as far as it was kept."""
    if not isinstance(steps, Mapping):
        return []
    rows = []
    for step in steps.get("steps") or ():
        share, fall = number(step.get("efficiency")), number(step.get("drawdown_m"))
        rows.append([w.flow(number(step.get("rate_m3_per_s"))), w.fine_depth(fall) if fall is not None else "–", w.percent(share) if share is not None else "–"])
    critical, aquifer, loss, power = (number(steps.get(k)) for k in ("half_loss_flow_m3_per_s", "aquifer_loss_s_per_m2", "well_loss_si", "exponent"))
    facts = [[w.say("Critical_flow"), w.flow(critical) if critical is not None else w.say("none_shows")]]
    if aquifer is not None:
        facts.append([w.say("Aquifer_loss"), w.figures(f"{_three(aquifer)} s/m²")])
    if loss is not None and power is not None:
        facts.append([w.say("Bore_loss", power=w.n(power)), w.figures(_three(loss))])
    table = {"kind": "table", "head": [w.say("Rate"), w.say("drawdown"), w.say("efficiency")], "align": "rrr", "widths": [1, 1, 1], "rows": rows}
    picture = _step_picture(steps, list(steps.get("steps") or ()), critical, w)
    return [heading(w.say("What_the_steps_lost")), *picture, *([table] if rows else []), {"kind": "facts", "columns": 1, "rows": facts}]


def _slug(slug: Any, w: Wording) -> list[dict[str, Any]]:
    """Return what each method read from a slug run."""
    rows = []
    for one in slug if isinstance(slug, (list, tuple)) else ():
        held = one.get("hydraulic_conductivity_m_per_d") if isinstance(one, Mapping) else None
        if number(held) is None:
            continue
        low, high = number(held.get("low")), number(held.get("high"))
        name = "_m_per_d"
        band = " " + w.say("to", low=_in_unit(low, name, w), high=_in_unit(high, name, w)) if low is not None and high is not None else ""
        rows.append([w.term(str(one.get("method", ""))), _in_unit(number(held), name, w) + band])
    if not rows:
        return []
    return [heading(w.say("What_the_slug_test_says")), {"kind": "table", "head": [w.say("method"), _label("conductivity_m_per_d", w)], "align": "lr", "widths": [1, 1], "rows": rows}]


def _label(name: str, w: Wording) -> str:
    suffix = max((s for s in _UNITS if name.endswith(s)), key=len, default="")
    unit = _UNITS[suffix][0 if w.system == "metric" else 1] if suffix else ""
    return w.told(name.removesuffix(suffix).replace("_", " ")) + (f" [{w.told(unit)}]" if unit else "")


def _in_unit(value: float, name: str, w: Wording) -> str:
    """Return a figure to three digits in the unit that `_label` names."""
    suffix = max((s for s in _UNITS if name.endswith(s)), key=len, default="")
    power = _UNITS[suffix][2] if suffix and w.system != "metric" else 0
    return w.figures(_three(value / FOOT**power))


def _band(low: float, high: float, unset: Sequence[str], name: str, w: Wording) -> str:
    """Return an interval in words; an end that only the search set is not the test's to tell."""
    if "low" in unset and "high" in unset:
        return w.say("not_told")
    if "low" in unset:
        return w.say("at_most", high=_in_unit(high, name, w))
    if "high" in unset:
        return w.say("at_least", low=_in_unit(low, name, w))
    return w.say("to", low=_in_unit(low, name, w), high=_in_unit(high, name, w))


def _fit_row(fit: Mapping[str, Any], result: Mapping[str, Any], w: Wording) -> list[str]:
    said = []
    for name, held in (fit.get("parameters") or {}).items():
        value = number(held)
        if value is None:
            continue
        low, high = (number(held.get("low")), number(held.get("high"))) if isinstance(held, Mapping) else (None, None)
        band = " " + _band(low, high, (fit.get("open_ends") or {}).get(name, ()), name, w) if low is not None and high is not None else ""
        said.append(f"{_label(name, w)} {_in_unit(value, name, w)}{band}")
    rmse = number(fit.get("rmse_m"))
    name = w.told(str(fit.get("title") or fit.get("solution", "")).replace("_", " "))
    return [name + (" " + w.say("best") if fit.get("solution") == result.get("best") else ""), "; ".join(said) or "–", f"{w.figures(rounded(rmse if w.system == 'metric' else rmse / FOOT, 3))} {shown_unit('depth', w.system)}" if rmse is not None else "–",
            w.figures(f"{number(fit.get('aicc')):.1f}") if number(fit.get("aicc")) is not None else "–"]


def _three(value: float) -> str:
    """Return a number to three digits, in powers of ten only where plain figures would hide its size."""
    if value == 0 or 1e-4 <= abs(value) < 1e6:
        return rounded(float(f"{value:.3g}"), 3)
    digits, _, power = f"{value:.3g}".partition("e")
    return f"{digits}\u202f×\u202f10{str(int(power)).translate(_RAISED)}"


def _minutes(seconds: float) -> str:
    """Return a time in minutes, to the second."""
    return f"{seconds / 60:.2f}".rstrip("0").rstrip(".")


def _readings(wells: Mapping[str, tuple[list[float], list[float]]], w: Wording) -> list[dict[str, Any]]:
    blocks: list[dict[str, Any]] = []
    for well, (time, drawdown) in wells.items():
        pairs = sorted(zip(time, drawdown, strict=True))
        step = max(1, -(-len(pairs) // MOST_READINGS))
        kept = [p for i, p in enumerate(pairs) if i % step == 0 or i == len(pairs) - 1]
        note = w.say("One_in_of_readings_all_stand", step=step, count=len(pairs)) if step > 1 else ""
        tall = -(-len(kept) // SIDE_BY_SIDE)
        unit = shown_unit("depth", w.system)
        rows = []
        for i in range(tall):
            row = []
            for j in range(i, tall * SIDE_BY_SIDE, tall):
                row += [w.figures(_minutes(kept[j][0])), w.fine_depth(kept[j][1]).removesuffix(f" {unit}")] if j < len(kept) else ["–", "–"]
            rows.append(row)
        blocks += [heading(w.say("Readings", well=w.term(well))), {"kind": "table", "head": [w.say("min"), f"{w.say('drawdown')}, {unit}"] * SIDE_BY_SIDE, "align": "rr" * SIDE_BY_SIDE,
                                                                  "widths": [4, 7] * SIDE_BY_SIDE, "rows": rows, "note": note}]
    return blocks
