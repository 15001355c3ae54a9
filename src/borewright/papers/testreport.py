"""The test report: how the bore was tested, the readings, the fit, and the yield to rely on."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from borewright.drawing import charts
from borewright.papers.wording import Wording, advisories_of, heading, number, printed
from borewright.quantities import rounded
from borewright.record.fold import Job, Test

__all__ = ["content"]

MOST_READINGS = 60
CAUTION = {"severity": "doubt", "message": "A test shows the bore on those days. A dry season, a neighbour's pump or a slot that blocks changes what it gives: keep reading the level. "
                                           "Whether water may be taken, and how much, is the law's where you live."}
_UNITS = {"_m2": " [m²]", "_m2_per_d": " [m²/d]", "_m_per_d": " [m/d]", "_m3_per_d": " [m³/d]", "_m": " [m]", "_s": " [s]", "_d": " [d]"}


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the test report's data."""
    hole = job.hole
    spot = job.spot or job.site
    blocks: list[dict[str, Any]] = [{"kind": "facts", "rows": [
        ["For", w.customer()], ["Position", w.place(spot)], ["Depth", w.depth(hole.depth)],
        ["Static level", w.level(hole.static_level)],
    ]}]
    if hole.rated:
        blocks += _rated(hole.rated.body, w)
    results = [hole.rated.body.rating if hole.rated else {}, *(r for t in hole.tests.values() if t.fitted for r in (t.fitted.body.result, _best(t.fitted.body.result)))]
    blocks += [heading("Cautions"), {"kind": "cautions", "items": [CAUTION, *advisories_of(*results)]}]
    for test in hole.tests.values():
        blocks += _test(test, w)
    return {"title": "Test report", "blocks": blocks}


def _rated(body: Any, w: Wording) -> list[dict[str, Any]]:
    table = body.rating
    flow = body.flow if body.flow is not None else number(table.get("flow"))
    low, high = number(table.get("low")), number(table.get("high"))
    items = [[w.flow(flow) or "not given", "rated yield"]]
    if low is not None and high is not None:
        items.append([f"{w.flow(low)} – {w.flow(high)}", "what the ground could give, 9 times in 10"])
    guard = number(table.get("guard_depth")) or number(table.get("intake_guard"))
    if guard is not None:
        items.append([w.depth(guard), "level never to go below"])
    blocks: list[dict[str, Any]] = [{"kind": "figures", "items": items}]
    if isinstance(table.get("sentence"), str):
        blocks.append({"kind": "text", "text": table["sentence"]})
    if isinstance(table.get("basis"), str):
        blocks.append({"kind": "text", "text": f"Rests on: {table['basis']}."})
    horizons = [h for h in table.get("horizons") or () if isinstance(h, Mapping)]
    if horizons:
        rows = [[str(h.get("name", "")), *(w.flow(number(h.get(k))) for k in ("flow", "low", "middle", "high"))] for h in horizons]
        blocks += [heading("For how long"), {"kind": "table", "head": ["pumped for", "to rely on", "low", "middle", "high"], "align": "lrrrr", "rows": rows}]
    name, levels = next(iter((table.get("levels") or {}).items()), ("", {}))
    if isinstance(levels, Mapping) and len(levels.get("flow") or ()) > 1 and len(levels["flow"]) == len(levels.get("depth") or ()):
        low, high = levels.get("shallow") or (), levels.get("deep") or ()
        paired = len(low) == len(high) == len(levels["flow"])
        svg = charts.rating_chart(levels["flow"], levels["depth"], low=low if paired else (), high=high if paired else (), guard=guard, rated=flow, width=500, height=190, medium="paper", units=w.system)
        blocks.append({"kind": "picture", "svg": svg, "alt": "Pumping level by flow with its band", "caption": f"Pumping level by flow, {name}."})
    rules = [r for r in table.get("rules") or () if isinstance(r, Mapping)]
    if rules:
        rows = [[str(r.get("rule", "")), w.flow(number(r.get("flow"))), str(r.get("note") or r.get("source") or "–")] for r in rules]
        blocks += [heading("Rules of thumb beside it"), {"kind": "table", "head": ["rule", "flow", "note"], "align": "lrl", "widths": [2, 1, 4], "rows": rows}]
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
    blocks: list[dict[str, Any]] = [heading(f"{run.type.capitalize()}: {run.run}"), {"kind": "facts", "rows": [
        ["Rate", w.flow(run.rate) if run.rate is not None else "; ".join(f"{w.flow(q)} from {w.q(t, 'time')}" for t, q in run.steps)], ["Duration", w.hours(run.duration)],
        ["Level before", w.level(run.static_level)], ["Date", w.day(test.run.entry.at)],
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
        svg = charts.drawdown_chart([p[0] for p in pairs], [p[1] for p in pairs], fit_time=curve[0], fit_drawdown=curve[1], fit_name=f"fit: {best.get('title') or best.get('solution', '')}", width=500, height=250,
                                    medium="paper", units=w.system, title=f"Drawdown, {well} bore")
        blocks.append({"kind": "picture", "svg": svg, "alt": f"{len(pairs)} readings of drawdown against the logarithm of time", "caption": f"Drawdown in the {well} {w.word}, {len(pairs)} readings."})
    if result.get("sentence") or best.get("sentence"):
        blocks.append({"kind": "text", "text": str(result.get("sentence") or best.get("sentence"))})
    if fits:
        blocks += [heading("What fits"), {"kind": "table", "head": ["solution", "what it says", "misfit", "AICc"], "align": "llrr", "widths": [2, 5, 1, 1], "rows": [_fit_row(f, result, w) for f in fits]}]
    elif not test.fitted:
        blocks.append({"kind": "text", "text": "No fit is recorded for this test."})
    blocks += _readings(wells, w)
    return blocks


def _fit_row(fit: Mapping[str, Any], result: Mapping[str, Any], w: Wording) -> list[str]:
    said = []
    for name, held in (fit.get("parameters") or {}).items():
        value = number(held)
        if value is None:
            continue
        low, high = (number(held.get("low")), number(held.get("high"))) if isinstance(held, Mapping) else (None, None)
        suffix = max((s for s in _UNITS if name.endswith(s)), key=len, default="")
        label = name.removesuffix(suffix).replace("_", " ") + _UNITS.get(suffix, "")
        band = f" ({_three(low)} to {_three(high)})" if low is not None and high is not None else ""
        said.append(f"{label} {_three(value)}{band}")
    rmse = number(fit.get("rmse_m"))
    name = str(fit.get("title") or fit.get("solution", "")).replace("_", " ")
    return [name + (" (best)" if fit.get("solution") == result.get("best") else ""), "; ".join(said) or "–", printed(f"{rmse:.3g} m") if rmse is not None else "–",
            f"{number(fit.get('aicc')):.1f}" if number(fit.get("aicc")) is not None else "–"]


def _three(value: float) -> str:
    """Return a number to three digits, in powers of ten only where plain figures would hide its size."""
    if value == 0 or 1e-4 <= abs(value) < 1e6:
        return rounded(value, 3)
    return re.sub(r"e([+-])0*", lambda m: "e" + m[1].replace("+", ""), f"{value:.3g}")


def _readings(wells: Mapping[str, tuple[list[float], list[float]]], w: Wording) -> list[dict[str, Any]]:
    blocks: list[dict[str, Any]] = []
    for well, (time, drawdown) in wells.items():
        pairs = sorted(zip(time, drawdown, strict=True))
        step = max(1, -(-len(pairs) // MOST_READINGS))
        kept = [p for i, p in enumerate(pairs) if i % step == 0 or i == len(pairs) - 1]
        note = f"One in {step} of {len(pairs)} readings; all stand in the job book." if step > 1 else ""
        third = -(-len(kept) // 3)
        rows = []
        for i in range(third):
            row = []
            for j in (i, i + third, i + 2 * third):
                row += [f"{kept[j][0] / 60:.6g}", w.fine_depth(kept[j][1])] if j < len(kept) else ["–", "–"]
            rows.append(row)
        blocks += [heading(f"Readings, {well} {w.word}"), {"kind": "table", "head": ["min", "drawdown"] * 3, "align": "rrrrrr", "rows": rows, "note": note}]
    return blocks
