"""The charts: plain numbers in, SVG out, one drawing for the page and for paper. Nothing is computed here but where ink goes.

Every function takes SI, `width` and `height` in pixels or points, `medium` and `units` as `living_section` does, and raises
BadInput for numbers that are not finite or lengths that do not pair.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from typing import Any

from borewright.drawing.scales import nice_step, unit_system
from borewright.drawing.svg import INK, MUTED, RULE, WATER, Sheet, num
from borewright.drawing.text import fit, width_of
from borewright.drawing.words import figure, say
from borewright.errors import BadInput
from borewright.quantities import from_si, shown_unit

__all__ = [
    "derivative_chart", "drawdown_chart", "equivalents_of", "margins_chart", "odds_chart", "parallel_chart", "pump_chart", "radial_chart", "rating_chart", "recovery_chart", "reliability_chart", "trilinear_chart",
]

BAND = "#d5dcde"


def _finite(field: str, values: Sequence[float]) -> list[float]:
    found = []
    for value in values:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise BadInput(field, str(value), "is not a finite number", "a finite number")
        found.append(float(value))
    return found


def _paired(first: str, a: Sequence[float], second: str, b: Sequence[float]) -> list[tuple[float, float]]:
    if len(a) != len(b):
        raise BadInput(second, len(b), f"does not pair with {len(a)} of {first}", "as many of the one as of the other")
    return list(zip(_finite(first, a), _finite(second, b), strict=True))


class _Axis:
    """One scale: values in the unit shown, ticks, and where a value stands on the sheet."""

    def __init__(self, values: Sequence[float], start: float, end: float, *, log: bool = False, zero: bool = False, most: int = 6):
        self.log, self.start, self.end = log, start, end
        positive = [v for v in values if v > 0] if log else list(values)
        low, high = (min(positive, default=1.0), max(positive, default=10.0))
        if log:
            self.low, self.high = 10.0 ** math.floor(math.log10(low) + 1e-9), 10.0 ** math.ceil(math.log10(high) - 1e-9)
            if self.high <= self.low:
                self.high = self.low * 10
            first, last = round(math.log10(self.low)), round(math.log10(self.high))
            step = max(1, -(-(last - first) // most))
            self.ticks = [10.0**k for k in range(first, last + 1, step)]
            return
        if zero:
            low, high = min(low, 0.0), max(high, 0.0)
        if high - low < 1e-12 * max(1.0, abs(high)):
            high = low + (abs(low) or 1.0)
        step = nice_step(high - low, most)
        self.low, self.high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
        self.ticks = [self.low + step * k for k in range(round((self.high - self.low) / step) + 1)]

    def at(self, value: float) -> float:
        """Where a value stands, held inside the frame."""
        if self.log:
            share = math.log(max(value, self.low) / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + (self.end - self.start) * min(max(share, 0.0), 1.0)


def _tick(value: float) -> str:
    if value and (abs(value) >= 1e5 or abs(value) < 1e-3):
        text = f"{value:.0e}".replace("e+0", "e").replace("e-0", "e-")
    else:
        text = f"{value:.6g}"
    return figure(text.replace("-", "−"))


GUARD = "9 3 2 3"  # the level that the water must stay above


class _Chart:
    """A framed plot with named axes."""

    def __init__(self, width: float, height: float, medium: str, title: str, described: str, x_name: str, y_name: str, key: Any):
        if medium not in ("page", "paper"):
            raise BadInput("medium", medium, "is not a medium", "page or paper")
        for field, value, least in (("width", width, 160.0), ("height", height, 60.0)):
            if not (isinstance(value, (int, float)) and math.isfinite(value) and least <= value <= 4000):
                raise BadInput(field, value, "is not a size for a chart", f"{least:g} to 4000")
        name = "g" + hashlib.sha256(repr((title, key, width, height, medium)).encode()).hexdigest()[:8]
        self.sheet = Sheet(width, height, medium=medium, name=name, title=say(title), described=described)
        self.size = 10.5 if medium == "page" else 7.6
        self.x_name, self.y_name = x_name, y_name
        self.top, self.right, self.bottom, self.left = self.size * 2.1, width - self.size * 1.2, height - self.size * 3.0, 0.0
        self.legend: list[tuple[str, str, str]] = []

    def frame(self, xs: Sequence[float], ys: Sequence[float], *, log_x: bool = False, log_y: bool = False, down: bool = False, zero: bool = True, zero_x: bool = False) -> None:
        """Draw the frame with ticks for the values given."""
        size = self.size
        rows = max(2, int((self.bottom - self.top) / (size * 2.2)))
        y = _Axis(ys, self.top if down else self.bottom, self.bottom if down else self.top, log=log_y, zero=zero and not log_y, most=min(8, rows))
        self.left = 6 + max(width_of(_tick(t), size) for t in y.ticks) + 8
        columns = max(2, int((self.right - self.left) / (size * 4.5)))
        x = _Axis(xs, self.left, self.right, log=log_x, zero=zero_x, most=min(8, columns))
        self.x, self.y = x, y
        if self.sheet.medium == "page":
            # A page may turn a place on the drawing back into numbers: corners in drawing units, ends of the scales in the units shown.
            self.sheet.root["data_frame"] = ",".join(num(v) for v in (self.left, self.top, self.right, self.bottom))
            for name, axis in (("data_x", x), ("data_y", y)):
                ends = sorted(((axis.start, axis.low), (axis.end, axis.high)))
                self.sheet.root[name] = f"{'log' if axis.log else 'even'},{ends[0][1]:.10g},{ends[1][1]:.10g}"
        for tick in y.ticks:
            self.sheet.line(self.left, y.at(tick), self.right, y.at(tick), colour=RULE, weight=0.35)
            self.sheet.text(self.left - 5, y.at(tick) + size * 0.34, _tick(tick), size, anchor="end", colour=MUTED)
        for tick in x.ticks:
            at = x.at(tick)
            self.sheet.line(at, self.top, at, self.bottom, colour=RULE, weight=0.35)
            words = _tick(tick)
            half = width_of(words, size) / 2
            self.sheet.text(max(min(at, self.sheet.width - half - 1), self.left - 4 + half), self.bottom + size * 1.25, words, size, anchor="middle", colour=MUTED)
        self.sheet.rect(self.left, self.top, self.right - self.left, self.bottom - self.top, colour=INK, weight=0.7)
        self.sheet.text(2, size * 1.1, fit(self.y_name, self.sheet.width * 0.5, size), size, colour=INK)
        self.sheet.text(self.right, self.sheet.height - size * 0.5, fit(self.x_name, self.right - 4, size), size, anchor="end", colour=INK)

    def line(self, points: Sequence[tuple[float, float]], name: str = "", *, colour: str = INK, weight: float = 1.5, dash: str | None = None, moved: bool = False) -> None:
        """Draw a line and name it in the legend; parts outside the frame of a log scale are left out. A page may move one that is marked as `moved`."""
        shown = [(self.x.at(a), self.y.at(b)) for a, b in points if (a > 0 or not self.x.log) and (b > 0 or not self.y.log)]
        self.sheet.curve(shown, colour=colour, weight=weight, dash=dash, data_moved="yes" if moved and self.sheet.medium == "page" else None)
        if name:
            self.legend.append((name, "line", dash or ""))

    def dots(self, points: Sequence[tuple[float, float]], name: str = "", *, hollow: bool = True) -> None:
        """Draw readings."""
        for a, b in points:
            if (a > 0 or not self.x.log) and (b > 0 or not self.y.log):
                self.sheet.add("circle", cx=self.x.at(a), cy=self.y.at(b), r=2.1, fill="#ffffff" if hollow else INK, stroke=INK, stroke_width=0.9)
        if name:
            self.legend.append((name, "dot" if hollow else "full", ""))

    def band(self, xs: Sequence[float], low: Sequence[float], high: Sequence[float], name: str = "") -> None:
        """Shade between two lines."""
        if len(xs) < 2:
            return
        d = "M" + "L".join(f"{num(self.x.at(a))} {num(self.y.at(b))}" for a, b in zip(xs, low, strict=True))
        d += "L" + "L".join(f"{num(self.x.at(a))} {num(self.y.at(b))}" for a, b in zip(reversed(xs), reversed(high), strict=True)) + "Z"
        self.sheet.path(d, fill=BAND, colour=RULE, weight=0.5)
        if name:
            self.legend.append((name, "band", ""))

    def mark(self, *, x: float | None = None, y: float | None = None, words: str = "", colour: str = WATER) -> None:
        """Draw a line across at a value and name it in the legend."""
        if x is not None:
            self.sheet.line(self.x.at(x), self.top, self.x.at(x), self.bottom, colour=colour, weight=1.1, dash="5 3")
        if y is not None:
            self.sheet.line(self.left, self.y.at(y), self.right, self.y.at(y), colour=colour, weight=1.1, dash="5 3")
        if words:
            self.legend.append((words, "mark", "5 3"))

    def done(self) -> str:
        """Draw the legend along the top, as much as there is room for, and return the SVG."""
        size, x = self.size, self.sheet.width - 2.0
        start = 2 + width_of(fit(self.y_name, self.sheet.width * 0.5, size), size) + 10
        y = size * 1.1
        for name, kind, dash in reversed(self.legend):
            name = say(name)
            length = width_of(name, size)
            if x - length - 17 < start:
                break
            x -= length
            self.sheet.text(x, y, name, size, colour=MUTED)
            x -= 16
            middle = y - size * 0.35
            if kind in ("line", "mark"):
                self.sheet.line(x, middle, x + 12, middle, colour=WATER if kind == "mark" else INK, weight=1.4, dash=dash or None)
            elif kind == "band":
                self.sheet.rect(x, middle - 3, 12, 6, fill=BAND, colour=RULE, weight=0.5)
            else:
                self.sheet.add("circle", cx=float(x + 6), cy=float(middle), r=2.1, fill="#ffffff" if kind == "dot" else INK, stroke=INK, stroke_width=0.9)
            x -= 10
        return str(self.sheet)


def odds_chart(
    rows: Sequence[tuple[float, float, float | None, float | None]], *, width: float, height: float, medium: str = "page", units: str = "metric", drilled: float | None = None,
) -> str:
    """Return odds by depth: rows of (depth [m], chance, low or None, high or None), depth downwards."""
    system = unit_system(units)
    unit = shown_unit("depth", system)
    depth = [from_si(d, "depth", unit) for d in _finite("depth", [r[0] for r in rows])]
    chance = [100 * p for p in _finite("chance", [r[1] for r in rows])]
    last = f"{chance[-1]:.0f} in 100 by {depth[-1]:.4g} {unit}" if rows else "no odds"
    chart = _Chart(width, height, medium, "Chance of enough water by depth", f"The chance rises to {last}.", "chance, in 100", f"depth, {unit}", rows)
    chart.frame([0.0, 100.0], [0.0, *depth], down=True, zero_x=True)
    banded = [(d, 100 * r[2], 100 * r[3]) for d, r in zip(depth, rows, strict=True) if r[2] is not None and r[3] is not None]
    if len(banded) > 1:
        d = "M" + "L".join(f"{num(chart.x.at(low))} {num(chart.y.at(z))}" for z, low, _ in banded)
        d += "L" + "L".join(f"{num(chart.x.at(high))} {num(chart.y.at(z))}" for z, _, high in reversed(banded)) + "Z"
        chart.sheet.path(d, fill=BAND, colour=RULE, weight=0.5)
        chart.legend.append(("band", "band", ""))
    chart.line(list(zip(chance, depth, strict=True)), "chance")
    if drilled is not None:
        chart.mark(y=from_si(drilled, "depth", unit), words="drilled")
    return chart.done()


def drawdown_chart(
    time: Sequence[float], drawdown: Sequence[float], *, width: float, height: float, fit_time: Sequence[float] = (), fit_drawdown: Sequence[float] = (), fit_name: str = "fit",
    log_drawdown: bool = False, medium: str = "page", units: str = "metric", title: str = "Drawdown while pumping",
    clock: str = "minutes since pumping began",
) -> str:
    """Return readings of drawdown [m] against time since pumping began [s], log time, with the fitted curve; drawdown downwards unless log. `clock` names the time."""
    system = unit_system(units)
    unit = shown_unit("depth", system)
    points = [(t / 60, from_si(s, "depth", unit)) for t, s in _paired("time", time, "drawdown", drawdown)]
    curve = [(t / 60, from_si(s, "depth", unit)) for t, s in _paired("fit_time", fit_time, "fit_drawdown", fit_drawdown)]
    said = f"{len(points)} readings; the last is {points[-1][1]:.3g} {unit} after {points[-1][0]:.4g} minutes." if points else "No readings."
    chart = _Chart(width, height, medium, title, said, say(clock), say("drawdown, {unit}", unit=unit), (points, curve))
    both = [*points, *curve] or [(1.0, 1.0)]
    chart.frame([p[0] for p in both], [p[1] for p in both], log_x=True, log_y=log_drawdown, down=not log_drawdown)
    chart.line(curve, fit_name if curve else "", moved=True)
    chart.dots(points, "readings" if points else "")
    return chart.done()


def derivative_chart(
    time: Sequence[float], drawdown: Sequence[float], derivative_time: Sequence[float], derivative: Sequence[float], *, width: float, height: float, medium: str = "page",
    units: str = "metric", fit: Sequence[tuple[float, float]] = (), fit_slope: Sequence[tuple[float, float]] = (), clock: str = "minutes since pumping began",
) -> str:
    """Return drawdown and its logarithmic derivative [m] on log scales: the shape that tells the kind of aquifer.

    `fit` and `fit_slope` are (time [s], drawdown or slope [m]) along the fitted curve.
    """
    system = unit_system(units)
    unit = shown_unit("depth", system)
    points = [(t / 60, from_si(s, "depth", unit)) for t, s in _paired("time", time, "drawdown", drawdown)]
    slope = [(t / 60, from_si(s, "depth", unit)) for t, s in _paired("derivative_time", derivative_time, "derivative", derivative)]
    chart = _Chart(width, height, medium, "Drawdown and its derivative", f"{len(points)} readings and {len(slope)} slopes on log scales.", say(clock), unit, (points, slope, fit))
    both = [*points, *slope] or [(1.0, 1.0)]
    chart.frame([p[0] for p in both], [p[1] for p in both if p[1] > 0] or [0.1, 1.0], log_x=True, log_y=True)
    for drawn, name, dash in ((fit, "fit", None), (fit_slope, "its slope", "5 3")):
        inside = [(t / 60, from_si(s, "depth", unit)) for t, s in drawn]
        chart.line([p for p in inside if chart.y.low <= p[1] <= chart.y.high and chart.x.low <= p[0] <= chart.x.high], name if drawn else "", dash=dash, moved=True)
    chart.dots(points, "drawdown")
    chart.dots(slope, "slope", hollow=False)
    return chart.done()


def reliability_chart(bins: Sequence[tuple[float, float, float, float, int]], *, width: float, height: float, medium: str = "page") -> str:
    """Return what was found against what was told: rows of (odds told, share found, low, high of that share, bores), the line of truth across.

    The whisker is the interval of the share found; the figure above it says how many bores stand behind it.
    """
    told, found, low, high = (_finite(field, [row[k] for row in bins]) for k, field in enumerate(("told", "found", "low", "high")))
    if any(not 0 <= v <= 1 for v in (*told, *found, *low, *high)):
        raise BadInput("bins", None, "lie outside 0 to 1", "fractions")
    said = f"{len(bins)} groups of bores; the line of truth lies within the whisker of {sum(a <= t <= b for t, a, b in zip(told, low, high, strict=True))}."
    chart = _Chart(width, height, medium, "Odds told and what was found", said, "odds told", "share that had enough", bins)
    chart.frame([0.0, 1.0], [0.0, 1.0], zero_x=True)
    chart.line([(0.0, 0.0), (1.0, 1.0)], "as told", dash="6 3", colour=MUTED, weight=1.0)
    for x, a, b, row in zip(told, low, high, bins, strict=True):
        at, top, end = chart.x.at(x), chart.y.at(b), chart.y.at(a)
        chart.sheet.line(at, top, at, end, weight=1.1)
        for y in (top, end):
            chart.sheet.line(at - 3, y, at + 3, y, weight=1.1)
        chart.sheet.text(at, max(top - 3.0, chart.top + chart.size * 0.7), str(row[4]), chart.size * 0.85, anchor="middle", colour=MUTED)
    chart.dots(list(zip(told, found, strict=True)), "found", hollow=False)
    return chart.done()


def recovery_chart(
    ratio: Sequence[float], residual: Sequence[float], *, width: float, height: float, fit_ratio: Sequence[float] = (), fit_residual: Sequence[float] = (), medium: str = "page",
    units: str = "metric",
) -> str:
    """Return residual drawdown [m] against time since pumping began over time since it stopped [-]."""
    system = unit_system(units)
    unit = shown_unit("depth", system)
    points = [(r, from_si(s, "depth", unit)) for r, s in _paired("ratio", ratio, "residual", residual)]
    curve = [(r, from_si(s, "depth", unit)) for r, s in _paired("fit_ratio", fit_ratio, "fit_residual", fit_residual)]
    chart = _Chart(width, height, medium, "Recovery after pumping", f"{len(points)} readings of residual drawdown.", say("time since start ÷ time since stop"), say("residual drawdown, {unit}", unit=unit), (points, curve))
    both = [*points, *curve] or [(1.0, 1.0)]
    chart.frame([p[0] for p in both], [p[1] for p in both], log_x=True, down=True)
    chart.line(curve, "fit" if curve else "")
    chart.dots(points, "readings" if points else "")
    return chart.done()


def rating_chart(
    flow: Sequence[float], level: Sequence[float], *, width: float, height: float, low: Sequence[float] = (), high: Sequence[float] = (), guard: float | None = None,
    rated: float | None = None, medium: str = "page", units: str = "metric",
) -> str:
    """Return the pumping level [m below ground] that each flow [m3/s] brings, with its band, the level to stay above, and the rated flow."""
    system = unit_system(units)
    unit, q_unit = shown_unit("depth", system), shown_unit("flow", system)
    points = [(from_si(q, "flow", q_unit), from_si(z, "depth", unit)) for q, z in _paired("flow", flow, "level", level)]
    lows, highs = ([from_si(z, "depth", unit) for z in _finite(field, values)] for field, values in (("low", low), ("high", high)))
    if len(lows) != len(highs) or (lows and len(lows) != len(points)):
        raise BadInput("band", len(lows), f"does not pair with {len(points)} flows", "a low and a high for each flow, or none")
    chart = _Chart(width, height, medium, "Pumping level by flow", "The level that each flow brings" + (f"; rated {from_si(rated, 'flow', q_unit):.3g} {q_unit}." if rated else "."),
                   say("flow, {unit}", unit=q_unit), say("pumping level below ground, {unit}", unit=unit), (points, lows, highs, guard, rated))
    ys = [p[1] for p in points] + lows + highs + ([from_si(guard, "depth", unit)] if guard is not None else [])
    chart.frame([0.0, *(p[0] for p in points), *([from_si(rated, "flow", q_unit)] if rated else [])], ys or [0.0, 1.0], down=True)
    if lows:
        chart.band([p[0] for p in points], lows, highs, "band")
    chart.line(points, "level")
    if guard is not None:
        chart.sheet.line(chart.left, chart.y.at(from_si(guard, "depth", unit)), chart.right, chart.y.at(from_si(guard, "depth", unit)), weight=1.6, dash=GUARD)
        chart.legend.append(("never below", "line", GUARD))
    if rated is not None:
        chart.mark(x=from_si(rated, "flow", q_unit), words="rated")
    return chart.done()


def pump_chart(
    pump_flow: Sequence[float], pump_head: Sequence[float], system_flow: Sequence[float], system_head: Sequence[float], *, width: float, height: float,
    duty_flow: float | None = None, duty_head: float | None = None, moments: Sequence[tuple[str, Sequence[float], Sequence[float]]] = (),
    duties: Sequence[tuple[float, float]] = (), medium: str = "page", units: str = "metric",
) -> str:
    """Return the pump's head and the head that the bore and pipes ask [m] by flow [m3/s], and where they meet.

    `moments` are more curves of what is asked, (name, flow, head), as the bore ages; `duties` where each meets the pump.
    """
    system = unit_system(units)
    unit, q_unit = shown_unit("depth", system), shown_unit("flow", system)
    pump = [(from_si(q, "flow", q_unit), from_si(h, "depth", unit)) for q, h in _paired("pump_flow", pump_flow, "pump_head", pump_head)]
    asked = [(from_si(q, "flow", q_unit), from_si(h, "depth", unit)) for q, h in _paired("system_flow", system_flow, "system_head", system_head)]
    chart = _Chart(width, height, medium, "Pump and bore", "Head of the pump and head asked for, by flow.", say("flow, {unit}", unit=q_unit), say("head, {unit}", unit=unit), (pump, asked, duty_flow, duty_head, moments, duties))
    aged = [(name, [(from_si(q, "flow", q_unit), from_si(h, "depth", unit)) for q, h in _paired("moments flow", flows, "moments head", heads)]) for name, flows, heads in moments]
    both = [*pump, *asked, *(p for _, points in aged for p in points)] or [(1.0, 1.0)]
    chart.frame([0.0, *(p[0] for p in both)], [p[1] for p in both])
    chart.line(asked, "asked" if asked else "", dash="6 3")
    for (name, points), dash in zip(aged, ("2 3", "7 3", "10 3 2 3", "1 2") * len(aged), strict=False):
        chart.line(points, name, dash=dash, colour=WATER)
    chart.line(pump, "pump" if pump else "")
    if duties:
        met = _paired("duties flow", [d[0] for d in duties], "duties head", [d[1] for d in duties])
        chart.dots([(from_si(q, "flow", q_unit), from_si(h, "depth", unit)) for q, h in met], "runs here", hollow=False)
    if duty_flow is not None and duty_head is not None:
        chart.dots([(from_si(duty_flow, "flow", q_unit), from_si(duty_head, "depth", unit))], "duty", hollow=False)
    return chart.done()


def margins_chart(checks: Sequence[tuple[str, float, float]], *, width: float, height: float, medium: str = "page") -> str:
    """Return the stage checks as bars: rows of (name, strength over load, strength over load asked for)."""
    values = _finite("factor", [c[1] for c in checks]), _finite("required", [c[2] for c in checks])
    holds = sum(f >= r for f, r in zip(*values, strict=True))
    chart = _Chart(width, height, medium, "Strength of the casing at each stage", f"{holds} of {len(checks)} checks hold.", "strength ÷ load", "", checks)
    sheet, size = chart.sheet, chart.size
    names = min(0.45 * width, max((width_of(c[0], size) for c in checks), default=0.0) + 8)
    chart.left, chart.top = names, size * 1.0
    axis = _Axis([0.0, *values[0], *values[1]], chart.left, chart.right, zero=True, most=6)
    for tick in axis.ticks:
        sheet.line(axis.at(tick), chart.top, axis.at(tick), chart.bottom, colour=RULE, weight=0.35)
        half = width_of(_tick(tick), size) / 2
        sheet.text(min(axis.at(tick), sheet.width - half - 1), chart.bottom + size * 1.25, _tick(tick), size, anchor="middle", colour=MUTED)
    sheet.text(chart.right, sheet.height - size * 0.5, "strength ÷ load; the bar across is what is asked", size, anchor="end")
    row = (chart.bottom - chart.top) / max(len(checks), 1)
    if row < size * 1.05:
        raise BadInput("height", height, f"is too low for {len(checks)} checks", f"{size * (1.05 * len(checks) + 4.1):.0f} or more")
    for index, (name, factor, required) in enumerate(checks):
        y, tall = chart.top + row * (index + 0.5), min(row * 0.6, 10.0)
        ok = factor >= required
        sheet.text(chart.left - 6, y + size * 0.34, fit(name, names - 8, size), size, anchor="end")
        sheet.rect(chart.left, y - tall / 2, axis.at(factor) - chart.left, tall, fill="#8fa5a8" if ok else "#ffffff", colour=INK, weight=0.8, stroke_dasharray=None if ok else "3 2")
        sheet.line(axis.at(required), y - row * 0.42, axis.at(required), y + row * 0.42, weight=2.0)
    return str(sheet)


# Molar mass over charge [g per mol of charge], from the standard atomic weights (IUPAC 2021, abridged).
_PER_CHARGE = {
    "calcium": 40.078 / 2, "magnesium": 24.305 / 2, "sodium": 22.990, "potassium": 39.098, "chloride": 35.45, "sulfate": 96.06 / 2, "sulphate": 96.06 / 2, "bicarbonate": 61.017,
    "carbonate": 60.009 / 2, "nitrate": 62.004,
}


def equivalents_of(values: Mapping[str, tuple[float, str]]) -> dict[str, float] | None:
    """Return milliequivalents per litre of the six corners of the trilinear diagram from {name: (value, unit)} in mg/L, or None where a side is empty."""
    found = {name.lower(): value for name, (value, unit) in values.items() if unit.strip().lower() in ("mg/l", "ppm")}
    meq = {name: found[name] / mass for name, mass in _PER_CHARGE.items() if name in found}
    corners = {
        "calcium": meq.get("calcium", 0.0), "magnesium": meq.get("magnesium", 0.0), "sodium and potassium": meq.get("sodium", 0.0) + meq.get("potassium", 0.0),
        "bicarbonate": meq.get("bicarbonate", 0.0) + meq.get("carbonate", 0.0), "sulfate": meq.get("sulfate", meq.get("sulphate", 0.0)), "chloride": meq.get("chloride", 0.0) + meq.get("nitrate", 0.0),
    }
    if corners["calcium"] + corners["magnesium"] + corners["sodium and potassium"] <= 0 or corners["bicarbonate"] + corners["sulfate"] + corners["chloride"] <= 0:
        return None
    return corners


def trilinear_chart(waters: Sequence[tuple[str, Mapping[str, float]]], *, width: float, height: float, medium: str = "paper") -> str:
    """Return waters on the trilinear diagram (Piper 1944): rows of (name, milliequivalents by corner as `equivalents_of` gives them).

    References
    ----------
    Piper, A. M., 1944, A graphic procedure in the geochemical interpretation of water-analyses, Trans. AGU 25, 914-928.
    """
    chart = _Chart(width, height, medium, "Trilinear diagram", f"{len(waters)} waters by their main ions.", "", "", [(n, sorted(w.items())) for n, w in waters])
    sheet, size = chart.sheet, chart.size
    root3 = math.sqrt(3.0)
    side = min((width - 2 * size * 1.5) / 2.3, (height - size * 4.2) / (1.15 * root3))
    gap = 0.3 * side
    x0, base = 0.5 * (width - 2 * side - gap), height - size * 2.4

    def left_tri(ca: float, mg: float, na: float) -> tuple[float, float]:
        return x0 + side * (na + 0.5 * mg), base - side * root3 / 2 * mg

    def right_tri(hco3: float, so4: float, cl: float) -> tuple[float, float]:
        return x0 + side + gap + side * (cl + 0.5 * so4), base - side * root3 / 2 * so4

    def diamond(na: float, strong: float) -> tuple[float, float]:
        # The line up from each triangle: along 60 degrees from the left point, 120 degrees from the right one; only sodium's share and the strong acids' matter.
        left_x, right_x = x0 + side * na, x0 + side + gap + side * strong
        return 0.5 * (left_x + right_x), base - root3 / 2 * (right_x - left_x)

    for corner in (left_tri, right_tri):
        corners = [corner(1, 0, 0), corner(0, 1, 0), corner(0, 0, 1)]
        for k in range(1, 5):
            f = k / 5
            for a, b in (((f, 1 - f, 0), (f, 0, 1 - f)), ((1 - f, f, 0), (0, f, 1 - f)), ((1 - f, 0, f), (0, 1 - f, f))):
                sheet.line(*corner(*a), *corner(*b), colour=RULE, weight=0.3)
        sheet.path("M" + "L".join(f"{num(x)} {num(y)}" for x, y in corners) + "Z", colour=INK, weight=0.8)
    corners = [diamond(0, 0), diamond(1, 0), diamond(1, 1), diamond(0, 1)]
    for k in range(1, 5):
        f = k / 5
        sheet.line(*diamond(f, 0), *diamond(f, 1), colour=RULE, weight=0.3)
        sheet.line(*diamond(0, f), *diamond(1, f), colour=RULE, weight=0.3)
    sheet.path("M" + "L".join(f"{num(x)} {num(y)}" for x, y in corners) + "Z", colour=INK, weight=0.8)
    for place, words, anchor in ((left_tri(1, 0, 0), "calcium", "start"), (left_tri(0, 0, 1), "sodium + potassium", "end"), (right_tri(1, 0, 0), "bicarbonate", "start"), (right_tri(0, 0, 1), "chloride", "end")):
        sheet.text(place[0] + (-size if anchor == "start" else size), base + size * 1.3, fit(say(words), side * 0.62 + size, size), size, anchor=anchor, colour=MUTED)
    sheet.text(left_tri(0, 1, 0)[0] - 4, left_tri(0, 1, 0)[1] - size * 0.5, say("magnesium"), size, anchor="end", colour=MUTED)
    sheet.text(right_tri(0, 1, 0)[0] + 4, right_tri(0, 1, 0)[1] - size * 0.5, say("sulfate"), size, colour=MUTED)
    for index, (_, water) in enumerate(waters):
        ca, mg, na = (max(0.0, water.get(k, 0.0)) for k in ("calcium", "magnesium", "sodium and potassium"))
        hco3, so4, cl = (max(0.0, water.get(k, 0.0)) for k in ("bicarbonate", "sulfate", "chloride"))
        if ca + mg + na <= 0 or hco3 + so4 + cl <= 0:
            raise BadInput("waters", index, "has no ions on one side", "milliequivalents of both metals and acids")
        c, a = ca + mg + na, hco3 + so4 + cl
        for x, y in (left_tri(ca / c, mg / c, na / c), right_tri(hco3 / a, so4 / a, cl / a), diamond(na / c, (so4 + cl) / a)):
            sheet.add("circle", cx=float(x), cy=float(y), r=2.6, fill=INK if index == 0 else "#ffffff", stroke=INK, stroke_width=1.0)
    return str(sheet)


def radial_chart(spokes: Sequence[Mapping[str, Any]], *, width: float, height: float, title: str = "Radial diagram", medium: str = "page") -> str:
    """Return the ions of a water on six spokes: rows of {"group", "angle" (degrees clockwise from the top), "x", "y"} in meq/L, metals right, acids left."""
    chart = _Chart(width, height, medium, title, "Six spokes, each as long as the weight of its ion: " + ", ".join(f"{s['group']} {math.hypot(s['x'], s['y']):.2f}" for s in spokes) + " meq/L.",
                   "", "", [tuple(sorted(s.items())) for s in spokes])
    sheet, size = chart.sheet, chart.size
    reach = [math.hypot(*_finite("spokes", (s["x"], s["y"]))) for s in spokes]
    if len(spokes) < 3 or max(reach) <= 0:
        raise BadInput("spokes", len(spokes), "make no shape", "six spokes, one of them above nought")
    step = nice_step(max(reach), 3)
    rings = math.ceil(max(reach) / step - 1e-9)
    cx, cy = width / 2, height / 2
    radius = min(width / 2 - size * 7.0, height / 2 - size * 2.2)
    scale = radius / (rings * step)
    for k in range(1, rings + 1):
        sheet.add("circle", cx=float(cx), cy=float(cy), r=float(k * step * scale), fill="none", stroke=RULE, stroke_width=0.4)
    points = []
    for spoke in spokes:
        turn = math.radians(spoke["angle"])
        across, up = math.sin(turn), math.cos(turn)
        sheet.line(cx, cy, cx + across * radius, cy - up * radius, colour=RULE, weight=0.5)
        points.append((cx + spoke["x"] * scale, cy - spoke["y"] * scale))
        name = say("sodium + potassium" if spoke["group"] == "sodium and potassium" else str(spoke["group"]))
        anchor = "middle" if abs(across) < 0.2 else "start" if across > 0 else "end"
        at = cx + across * (radius + size * 0.7)
        room = width - at - 2 if anchor == "start" else at - 2 if anchor == "end" else width - 4
        sheet.text(at, cy - up * (radius + size * 0.9) + size * 0.34, fit(name, room, size), size, anchor=anchor)
    sheet.path("M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + "Z", fill=BAND, colour=INK, weight=1.4, fill_opacity=0.75)
    for x, y in points:
        sheet.add("circle", cx=float(x), cy=float(y), r=1.8, fill=INK)
    sheet.text(width - 2, height - size * 0.4, say("rings of {step} meq/L", step=_tick(step)), size, anchor="end", colour=MUTED)
    return str(sheet)


def parallel_chart(waters: Sequence[tuple[str, Sequence[Mapping[str, Any]]]], *, width: float, height: float, medium: str = "page") -> str:
    """Return waters as polygons on three parallel lines (Stiff 1951): rows of (name, corners as {"group", "meq_per_l" with metals below nought, "row"})."""
    if not waters:
        raise BadInput("waters", 0, "holds no water to draw", "one or more")
    chart = _Chart(width, height, medium, "Parallel-line diagram", f"{len(waters)} waters: metals to the left, acids to the right, in meq/L.", "meq/L", "",
                   [(n, [tuple(sorted(c.items())) for c in corners]) for n, corners in waters])
    sheet, size = chart.sheet, chart.size
    largest = max((abs(v) for _, corners in waters for v in _finite("corners", [c["meq_per_l"] for c in corners])), default=0.0)
    if largest <= 0 or any(len(corners) < 3 for _, corners in waters):
        raise BadInput("waters", len(waters), "hold no ions that can be drawn", "six corners, one of them above nought")
    step = nice_step(2 * largest, max(3, int(width / (size * 9))))
    end = math.ceil(largest / step - 1e-9) * step
    side = size * 6.4
    centre, half = width / 2, width / 2 - side
    top, bottom = size * (1.2 if len(waters) == 1 else 0.6), height - size * 2.6
    scale = half / end
    steps = round(end / step)
    for k in range(-steps, steps + 1):
        at = centre + k * step * scale
        sheet.line(at, top, at, bottom, colour=INK if k == 0 else RULE, weight=0.8 if k == 0 else 0.35)
        sheet.text(at, bottom + size * 1.25, _tick(abs(k * step)), size, anchor="middle", colour=MUTED)
    sheet.text(width - 2, height - size * 0.3, "meq/L", size, anchor="end", colour=MUTED)
    tall = (bottom - top) / len(waters)
    for index, (name, corners) in enumerate(waters):
        start = top + index * tall
        head = size * 1.3 if len(waters) > 1 else 0.0
        inner = tall - head - size * 2.0
        if inner < size * 2.4:
            raise BadInput("height", height, f"is too low for {len(waters)} waters", f"{size * (5.0 * len(waters) + 4.0):.0f} or more")
        if head:
            sheet.text(2, start + size * 1.0, fit(name, centre - 6, size), size, bold=True)
        rows = [start + head + size * 0.7 + inner * r / 2 for r in range(3)]
        points = [(centre + c["meq_per_l"] * scale, rows[int(c["row"])]) for c in corners]
        sheet.path("M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + "Z", fill=BAND, colour=INK, weight=1.3, fill_opacity=0.75)
        for corner in corners:
            y, left = rows[int(corner["row"])], corner["meq_per_l"] < 0 or str(corner["group"]) in ("sodium and potassium", "calcium", "magnesium")
            short = {"sodium and potassium": "sodium + pot.", "magnesium": "magnesium"}.get(str(corner["group"]), str(corner["group"]))
            sheet.text(2 if left else width - 2, y + size * 0.34, fit(say(short), side - 6, size), size, anchor="start" if left else "end")
    return str(sheet)
