"""The charts of a job's stages, drawn from what the job book holds; nothing where the numbers for one are not there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

__all__ = ["odds_figure", "rating_figure", "run_figure"]

SIZE = {"width": 370.0, "height": 250.0}  # about as wide as a phone, so that its words can be read there


def odds_figure(rows: list[Mapping[str, Any]], *, units: str, drilled: float | None = None) -> Markup:
    """Return the odds by depth with their band."""
    from borewright.drawing.charts import odds_chart

    told = [(r["depth_m"], r["p"], r.get("low"), r.get("high")) for r in rows if "depth_m" in r and "p" in r]
    return Markup(odds_chart(told, units=units, drilled=drilled or None, **SIZE)) if len(told) > 1 else Markup("")


def run_figure(test: Any, *, units: str) -> Markup:
    """Return the readings of the pumped bore with the best fit through them."""
    from borewright.drawing.charts import drawdown_chart

    pairs = sorted((t, s) for f in test.levels if f.body.well == test.run.body.well for t, s in zip(f.body.time, f.body.drawdown, strict=True) if t > 0)
    if len(pairs) < 2 or test.run.body.type == "slug":
        return Markup("")
    best = next((r for r in (test.fitted.body.result.get("fits", []) if test.fitted else []) if r.get("curve")), None)
    curve = best["curve"] if best else {"time_s": (), "drawdown_m": ()}
    title = "Residual drawdown since the pump stopped" if test.run.body.type == "recovery" else "Drawdown while pumping"
    return Markup(drawdown_chart(
        [t for t, _ in pairs], [s for _, s in pairs], fit_time=curve["time_s"], fit_drawdown=curve["drawdown_m"], fit_name=best["solution"] if best else "fit",
        title=title, clock="minutes since the pump stopped" if test.run.body.type == "recovery" else "minutes since pumping began", units=units, **SIZE,
    ))


def rating_figure(rating: Mapping[str, Any], *, units: str) -> Markup:
    """Return the pumping level that each flow brings at the longest horizon, the level to stay above, and the rated flow."""
    from borewright.drawing.charts import rating_chart

    levels = list((rating.get("levels") or {}).values())
    if not levels or len(levels[-1].get("flow", ())) < 2:
        return Markup("")
    last = levels[-1]
    return Markup(rating_chart(
        last["flow"], last["depth"], low=last.get("shallow", ()), high=last.get("deep", ()), guard=rating.get("guard_depth"), rated=rating.get("flow"),
        units=units, **SIZE,
    ))
