"""Charts of a pumping test beside its curve: what the fit leaves over, and the flow that a bore can give against time. Numbers in, SVG out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.drawing.charts import _Chart, _finite, _paired, derivative_chart
from borewright.drawing.scales import unit_system
from borewright.drawing.words import say
from borewright.errors import BadInput
from borewright.quantities import from_si, shown_unit

__all__ = ["looks_chart", "residual_chart", "settling_chart", "step_chart", "yield_chart"]

DAY = 86400.0


def residual_chart(time: Sequence[float], residual: Sequence[float], *, width: float, height: float, medium: str = "page", units: str = "metric") -> str:
    """Return what each reading lies below the fitted curve [m] against time [s], log time: a good fit scatters about nought without a pattern."""
    unit = shown_unit("depth", unit_system(units))
    points = [(t / 60, from_si(r, "depth", unit)) for t, r in _paired("time", time, "residual", residual)]
    largest = max((abs(r) for _, r in points), default=0.0)
    chart = _Chart(width, height, medium, "What the fit leaves over", f"{len(points)} readings; the largest departure is {largest:.2g} {unit}.", "minutes", f"reading less curve, {unit}", points)
    chart.frame([p[0] for p in points] or [1.0], [-largest, largest] if largest else [-0.01, 0.01], log_x=True, down=True)
    chart.sheet.line(chart.left, chart.y.at(0.0), chart.right, chart.y.at(0.0), weight=1.0)
    chart.dots(points)
    return chart.done()


def looks_chart(looks: Mapping[str, Any], *, width: float, height: float, medium: str = "page", units: str = "metric") -> str:
    """Return drawdown and slope with their curves on log scales, from what a fit keeps of a run's plots."""
    clock = "equivalent minutes since the stop (Agarwal)" if looks.get("recovery") else "minutes since pumping began"
    pairs = {name: list(zip(looks.get(f"{name}_time_s") or (), looks.get(f"{name}_m") or (), strict=True)) for name in ("fit_fall", "fit_slope")}
    return derivative_chart(looks["fall_time_s"], looks["fall_m"], looks["slope_time_s"], looks["slope_m"], fit=pairs["fit_fall"], fit_slope=pairs["fit_slope"], clock=clock,
                            width=width, height=height, medium=medium, units=units)


def step_chart(
    rate: Sequence[float], drawdown: Sequence[float], *, curve_rate: Sequence[float] = (), curve: Sequence[float] = (), aquifer: Sequence[float] = (), half: float | None = None,
    width: float, height: float, medium: str = "page", units: str = "metric",
) -> str:
    """Return the drawdown read under each rate [m], [m3/s], with the fitted curve and the aquifer's part of it, and the flow at which half is lost at the bore."""
    system = unit_system(units)
    unit, q_unit = shown_unit("depth", system), shown_unit("flow", system)
    points = [(from_si(q, "flow", q_unit), from_si(s, "depth", unit)) for q, s in _paired("rate", rate, "drawdown", drawdown)]
    whole, part = ([(from_si(q, "flow", q_unit), from_si(s, "depth", unit)) for q, s in _paired("curve_rate", curve_rate, name, values)] for name, values in (("curve", curve), ("aquifer", aquifer)))
    line = from_si(half, "flow", q_unit) if half is not None else None
    said = f"{len(points)} rates; the most drew the level down {max(s for _, s in points):.3g} {unit}." if points else "No steps."
    chart = _Chart(width, height, medium, "Drawdown by flow", said, say("flow, {unit}", unit=q_unit), say("drawdown, {unit}", unit=unit), (points, whole, line))
    shown = [*points, *whole] or [(1.0, 1.0)]
    chart.frame([p[0] for p in shown], [p[1] for p in shown], down=True, zero_x=True)
    chart.line(part, "the aquifer's part" if part else "", dash="6 3", weight=1.0)
    chart.line(whole, "fit" if whole else "")
    if line is not None and line <= chart.x.high:
        chart.mark(x=line, words="half lost at the bore")
    chart.dots(points, "read" if points else "", hollow=False)
    return chart.done()


def settling_chart(duration: Sequence[float], transmissivity: Sequence[float], *, width: float, height: float, medium: str = "page", units: str = "metric") -> str:
    """Return the transmissivity [m2/s] that a test gave after each time it had run [s]: level at the end, and more readings would not change it."""
    points = [(t / 60, v * DAY) for t, v in _paired("duration", duration, "transmissivity", transmissivity)]
    said = f"It ends at {points[-1][1]:.3g} m²/d after {points[-1][0]:.4g} minutes." if points else "Nothing yet."
    chart = _Chart(width, height, medium, "How the answer settled", said, "minutes read", "transmissivity, m²/d", points)
    chart.frame([p[0] for p in points] or [1.0], [p[1] for p in points] or [1.0], log_x=True)
    chart.line(points)
    chart.dots(points, hollow=False)
    return chart.done()


def yield_chart(
    time: Sequence[float], flow: Sequence[float], *, low: Sequence[float] = (), middle: Sequence[float] = (), high: Sequence[float] = (), tested: float | None = None, width: float,
    height: float, medium: str = "page", units: str = "metric",
) -> str:
    """Return the flow to rely on [m3/s] against how long it is pumped [s], log time in days, with its middle, its band, and the flow that was tested."""
    unit = shown_unit("flow", unit_system(units))
    points = [(t / DAY, from_si(q, "flow", unit)) for t, q in _paired("time", time, "flow", flow)]
    others = {name: [from_si(q, "flow", unit) for q in _finite(name, values)] for name, values in (("low", low), ("middle", middle), ("high", high))}
    if any(values and len(values) != len(points) for values in others.values()) or bool(low) != bool(high):
        raise BadInput("band", len(low), f"does not pair with {len(points)} times", "a low and a high for each time, or none")
    said = f"From {points[0][1]:.3g} to {points[-1][1]:.3g} {unit} to rely on." if points else "Nothing is rated."
    line = from_si(tested, "flow", unit) if tested is not None else None
    chart = _Chart(width, height, medium, "Flow by how long it is pumped", said, say("days of pumping"), say("flow, {unit}", unit=unit), (points, others, line))
    chart.frame([p[0] for p in points] or [1.0], [0.0, *(p[1] for p in points), *(q for values in others.values() for q in values), *([line] if line else [])], log_x=True)
    days = [p[0] for p in points]
    if low:
        chart.band(days, others["low"], others["high"], "9 times in 10")
    if middle:
        chart.line(list(zip(days, others["middle"], strict=True)), "middle", dash="6 3", weight=1.0)
    chart.line(points, "to rely on", weight=2.0)
    if line is not None:
        chart.mark(y=line, words="rated")
    return chart.done()
