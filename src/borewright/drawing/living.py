"""The living section: the bore from the headworks to the bottom, to scale in depth, with the ground, the water and what was built."""

from __future__ import annotations

import math
from dataclasses import replace

from borewright.drawing.scales import depth_words, unit_system
from borewright.drawing.section import Section
from borewright.drawing.shapes import Shapes
from borewright.drawing.svg import INK, MUTED, PAPER, RULE, WATER, num
from borewright.drawing.text import Label, fit, place, width_of, wrap
from borewright.errors import BadInput
from borewright.quantities import rounded, show, shown_unit

__all__ = ["living_section"]

SMALLEST, LARGEST = (240.0, 220.0), (4000.0, 6000.0)


class _Drawing(Shapes):
    """The shapes with their words: labels beside the section, the lane at its right, headings and foot."""

    def ground_labels(self) -> None:
        size, width = self.size, self.words_right - self.words_left
        labels = []
        for band in self.s.ground:
            thick = band.to_depth - band.from_depth
            whole = f"{self.span(band.from_depth, band.to_depth)}  {band.words}"
            labels.append(Label(0.5 * (band.from_depth + band.to_depth), self.y(0.5 * (band.from_depth + band.to_depth)), wrap(whole, width, size, lines=3),
                                2 if thick * self.scale > size else 3, "ground", size, brief=fit(whole, width, size)))
        if self.s.expected:
            labels += self._expected_labels(width)
        self._set(labels, self.words_left, self.words_right, self.block_left, "end", "layers")

    def _expected_labels(self, width: float) -> list[Label]:
        e, size, found = self.s.expected, self.size, []
        logged = max((b.to_depth for b in self.s.ground), default=0.0)
        runs: list[list] = []  # [from, to, class, probability times thickness]
        for a, b, row in zip(e.depth_edges, e.depth_edges[1:], e.probability, strict=False):
            a, b = max(a, logged), min(b, self.s.bottom)
            if b <= a:
                continue
            likeliest = max(range(len(row)), key=lambda i: row[i])
            if runs and runs[-1][2] == likeliest:
                runs[-1][1], runs[-1][3] = b, runs[-1][3] + row[likeliest] * (b - a)
            else:
                runs.append([a, b, likeliest, row[likeliest] * (b - a)])
        for a, b, index, weight in runs:
            whole = f"{self.span(a, b)}  most likely {e.classes[index]}, {round(10 * weight / (b - a))} in 10"
            found.append(Label(0.5 * (a + b), self.y(0.5 * (a + b)), wrap(whole, width, size, lines=3), 3, "expected", size, brief=fit(whole, width, size)))
        rockhead = dict(e.rockhead)
        if 0.5 in rockhead and rockhead[0.5] > logged and rockhead[0.5] < self.s.bottom:
            low, high = e.rockhead[0], e.rockhead[-1]
            whole = f"rockhead: as likely above {self.said(rockhead[0.5])} as below"
            if low[0] < 0.5 < high[0]:
                whole += f"; {round(100 * (high[0] - low[0]))} in 100 within {self.span(low[1], high[1])}"
            found.append(Label(rockhead[0.5], self.y(rockhead[0.5]), wrap(whole, width, size, lines=4, bold=True), 1, "rockhead", size,
                               brief=fit(f"rockhead near {self.said(rockhead[0.5])}", width, size, bold=True), bold=True))
        return found

    def note_labels(self) -> None:
        s, size, width = self.s, self.size, self.notes_right - self.notes_left
        rows: list[tuple[float, str, int, str]] = []
        flow = lambda q: show(q, "flow", system=self.units).replace(" ", "\u00a0")
        if s.static_level is not None and s.state != "sealed":
            words = f"static level {self.said(s.static_level)}" if s.static_level >= 0 else f"flows: head {self.said(-s.static_level)} above ground"
            rows.append((s.static_level, words, 1, "level"))
        if s.pumping_level is not None:
            rows.append((s.pumping_level, f"pumping level {self.said(s.pumping_level)}" + (f" at {flow(s.pumping_flow)}" if s.pumping_flow else ""), 1, "level"))
        for strike in s.strikes:
            gain = f", +{flow(strike.gain)}" if strike.gain is not None else ", flow not measured"
            rows.append((strike.depth, f"strike {self.said(strike.depth)}{gain}", 1, "strike"))
        if s.intake_depth is not None:
            rows.append((s.intake_depth, f"pump intake {self.said(s.intake_depth)}" + (f", {s.pump_name}" if s.pump_name else ""), 1, "pump"))
        for casing in s.casings:
            if casing.slotted:
                cut = f", {show(casing.aperture, 'length', unit='mm', digits=2)} slots" if casing.aperture else ""
                rows.append((0.5 * (casing.from_depth + casing.to_depth), f"slotted {self.span(casing.from_depth, casing.to_depth)}{cut}", 2, "slots"))
        for casing in self.feet():
            across = show(casing.outside_diameter, "diameter", system=self.units, digits=4)
            made = f" {casing.material}" if casing.material else ""
            rows.append((casing.to_depth, f"{casing.string} casing to {self.said(casing.to_depth)}, {across}{made}", 2, "casing"))
        for part in s.annulus:
            bags = f", {part.bags:g} bags" if part.bags else ""
            if part.plug:
                rows.append((0.5 * (part.from_depth + part.to_depth), f"sealed {self.span(part.from_depth, part.to_depth)}: {part.material}{bags}", 2, "annulus"))
                continue
            what = f"{part.material} {part.what}" if part.material and part.what.lower() not in part.material.lower() else part.material or part.what
            rows.append((0.5 * (part.from_depth + part.to_depth), f"{what} {self.span(part.from_depth, part.to_depth)}{bags}", 2, "annulus"))
        for part in s.hole:
            said = show(part.diameter, "diameter", system=self.units, digits=4)
            words = f"hole {said} to {self.said(part.to_depth)}" if part.known else f"hole to {self.said(part.to_depth)}, diameter not recorded"
            rows.append((part.from_depth + 0.72 * (part.to_depth - part.from_depth), words, 4, "hole"))
        for depth, q, method in self._telling_flows():
            rows.append((depth, f"{flow(q)} measured at {self.said(depth)}, {method}", 3, "flow"))
        if s.state == "drilling":
            rows.append((s.drilled, f"drilled to {self.said(s.drilled)} so far", 1, "bottom"))
        elif s.drilled and s.state != "before drilling":
            rows.append((s.drilled, f"bottom {self.said(s.drilled)}" + (f": {s.stopped}" if s.stopped and s.stopped != "other" else ""), 2, "bottom"))
        if s.walk_away is not None and s.walk_away <= s.bottom:
            rows.append((s.walk_away, f"walk away at {self.said(s.walk_away)} if still dry", 2, "rule"))
        labels = []
        for depth, words, priority, kind in rows:
            strong = kind in ("strike", "level") or (kind == "bottom" and s.state == "drilling")
            labels.append(Label(depth, self.y(min(max(depth, 0.0), s.bottom)), wrap(words, width, size, lines=2, bold=strong), priority, kind, size,
                                brief=fit(words, width, size, bold=strong), bold=strong))
        self._set(labels, self.notes_left, self.notes_right, self.block_right, "start", "notes")

    def _telling_flows(self) -> list[tuple[float, float, str]]:
        """The last reading before each next strike: rods between strikes repeat it, and a label at each would hide it."""
        strikes = sorted(k.depth for k in self.s.strikes)
        last: dict[int, tuple[float, float, str]] = {}
        for reading in sorted(self.s.flows, key=lambda f: f[0]):
            last[sum(d <= reading[0] for d in strikes)] = reading
        return list(last.values())

    def _set(self, labels: list[Label], left: float, right: float, edge: float, anchor: str, what: str) -> None:
        """Place the labels of one side and draw them, each with a leader from its depth."""
        size = self.size
        top, bottom = self.top - size * 0.45, self.base + size * 0.3
        if not labels:
            return
        kept, out = place(labels, top, bottom)
        if out:
            kept, more = place(kept, top, bottom - size * 1.5)
            out += more
            note = fit(f"+ {out} {what} more in the log", right - left, size)
            self.sheet.text(right if anchor == "end" else left, bottom - size * 0.1, note, size, anchor=anchor, colour=MUTED)
        for label in kept:
            middle = label.top + label.height / 2
            wet = label.kind in ("strike", "level", "flow")
            near = right + 2 if anchor == "end" else left - 2
            bend = edge + (near - edge) * 0.55
            self.sheet.path(f"M{num(edge)} {num(label.y)}L{num(bend)} {num(middle)}H{num(near)}", colour=WATER if wet else MUTED, weight=0.55)
            if self.sheet.medium == "page":
                self.sheet.open(class_=f"label {label.kind}", data_depth=num(label.depth))
            for row, line in enumerate(label.lines):
                y = label.top + size * (1.16 * row + 0.98)
                self.sheet.text(right if anchor == "end" else left, y, line, size, anchor=anchor, bold=label.bold, colour=WATER if wet else INK)
            if self.sheet.medium == "page":
                self.sheet.close()

    def odds_lane(self) -> None:
        """Odds by depth on the depth scale of the section: the line, its band, and how deep the hole stands."""
        sheet, _size, left, right = self.sheet, self.size, self.lane_left + 6, self.lane_right
        x = lambda p: left + (right - left) * min(max(p, 0.0), 1.0)
        rows = [r for r in self.s.odds if r.depth <= self.s.bottom * 1.0001]
        need = show(self.s.need, "flow", system=self.units) if self.s.need else "the need"
        self._lane_frame(("chance of", f"{need} by depth"), [(0.0, "0"), (0.5, "50"), (1.0, "100 %")], x)
        banded = [r for r in rows if r.low is not None and r.high is not None]
        if banded:
            d = "M" + "L".join(f"{num(x(r.low))} {num(self.y(r.depth))}" for r in banded)
            d += "L" + "L".join(f"{num(x(r.high))} {num(self.y(r.depth))}" for r in reversed(banded)) + "Z"
            sheet.path(d, fill="#d5dcde", colour=RULE, weight=0.5)
        points = [(x(r.chance), self.y(r.depth)) for r in rows]
        if rows and rows[0].depth > 0:
            points.insert(0, (x(0.0), self.y(0.0)))
        sheet.curve(points, colour=INK, weight=1.5)
        if self.s.state == "drilling":
            sheet.line(left, self.y(self.s.drilled), right, self.y(self.s.drilled), colour=WATER, weight=1.0, dash="3 2")

    def margins_lane(self) -> None:
        """The strength of the casing over the load at each stage, on the depth scale; 1 is what the check asks."""
        left, right = self.lane_left + 6, self.lane_right
        most = float(max(2, min(4, math.ceil(max(c.factor / c.required for c in self.s.checks)))))
        x = lambda v: left + (right - left) * min(max(v / most, 0.0), 1.0)
        self._lane_frame(("casing: strength", "÷ what is asked"), [(0.0, "0"), (1.0, "1"), (most, f"{most:g}")], x)
        self.sheet.line(x(1.0), self.top, x(1.0), self.base, weight=1.1)
        for check in self.s.checks:
            y, at, holds = self.y(min(check.depth, self.s.bottom)), x(check.factor / check.required), check.factor >= check.required
            self.sheet.line(left, y, at, y, colour=MUTED, weight=0.8, dash=None if holds else "2 2")
            self.sheet.add("circle", cx=float(at), cy=float(y), r=2.6, fill=INK if holds else PAPER, stroke=INK, stroke_width=1.1)

    def _lane_frame(self, heading: tuple[str, str], ticks: list[tuple[float, str]], x) -> None:
        sheet, size, left, right = self.sheet, self.size, self.lane_left + 6, self.lane_right
        small = size * 0.92
        for row, words in enumerate(heading):
            sheet.text(right + 6, self.top - size * (3.35 - 1.08 * row), fit(words, right - left + 12, small), small, anchor="end", colour=MUTED)
        for value, words in ticks:
            at = x(value)
            sheet.line(at, self.top, at, self.base, colour=RULE, weight=0.4)
            anchor = "start" if value == ticks[0][0] else "end" if value == ticks[-1][0] else "middle"
            sheet.text(at + (6 if anchor == "end" else 0), self.top - size * 0.6, words, small, anchor=anchor, colour=MUTED)
        sheet.rect(left, self.top, right - left, self.base - self.top, colour=MUTED, weight=0.6)

    def footer(self) -> None:
        size, height = self.size * 0.92, self.sheet.height
        times = self.across / self.scale
        widths = f"Depth to scale; diameters drawn {rounded(times, 2)} times as wide." if times >= 1.05 else "Depth and diameters to scale."
        kinds = []
        if self.s.expected:
            kinds.append("Pale: expected, as wide as likely.")
        if self.s.planned and self.s.casings:
            kinds.append("Dashed: planned.")
        fillings = [w for w in ("grout", "seal", "pack", "backfill") if any(a.what == w for a in self.s.annulus)]
        x = self.axis - 1
        room = self.sheet.width - x - 4
        self.sheet.text(x, height - size * 1.7, fit(" ".join([widths, *kinds]), room, size), size, colour=MUTED)
        at = x
        for what in fillings:
            if at + 14 + width_of(what, size) > self.sheet.width - 4:
                break
            self.fill(what, at, at + 10, height - size * 1.12, height - size * 0.3)
            self.sheet.text(at + 13, height - size * 0.4, what, size, colour=MUTED)
            at += 13 + width_of(what, size) + 10

    def headings(self) -> None:
        size = self.size
        small = size * 0.92
        y = self.top - size * 2.9
        self.sheet.text(self.words_right, y, fit("ground" if self.s.ground else "expected ground" if self.s.expected else "ground", self.words_right - self.words_left, small), small, anchor="end", colour=MUTED)
        self.sheet.text(self.notes_left, y, fit("planned construction" if self.s.planned and self.s.state == "before drilling" else "water and construction", self.notes_right - self.notes_left, small), small, colour=MUTED)


def _described(s: Section, units: str) -> str:
    """Return the drawing in sentences, for a person who hears it."""
    unit = shown_unit("depth", units)
    said = lambda d: f"{depth_words(d, units)} {unit}"
    flow = lambda q: show(q, "flow", system=units)
    out = [{"before drilling": f"Nothing is drilled yet; drawn to {said(s.bottom)}.", "drilling": f"Drilled to {said(s.drilled)} so far.",
            "drilled": f"A hole {said(s.drilled)} deep, not yet cased.",
            "built": f"A finished bore {said(s.drilled)} deep.", "failed": f"A hole {said(s.drilled)} deep that was given up.",
            "sealed": f"A hole {said(s.drilled)} deep, sealed."}[s.state]]
    if s.ground:
        out.append("Ground: " + "; ".join(f"{said(b.from_depth)} to {said(b.to_depth)} {b.words}" for b in s.ground) + ".")
    if s.expected and s.expected.rockhead:
        out.append("Rockhead expected: " + ", ".join(f"{round(q * 100)} in 100 above {said(d)}" for q, d in s.expected.rockhead) + ".")
    if s.odds:
        out.append(f"Chance of the need by {said(s.odds[-1].depth)}: {round(100 * s.odds[-1].chance)} in 100.")
    if s.strikes:
        out.append("Water: " + "; ".join(f"strike at {said(k.depth)}" + (f" gaining {flow(k.gain)}" if k.gain is not None else "") for k in s.strikes) + ".")
    kind = "Planned casing" if s.planned else "Casing"
    if s.casings:
        out.append(f"{kind}: " + "; ".join(f"{c.string} {'slotted ' if c.slotted else ''}{said(c.from_depth)} to {said(c.to_depth)}" for c in s.casings) + ".")
    if s.annulus:
        out.append("Fillings: " + "; ".join(f"{a.what} {said(a.from_depth)} to {said(a.to_depth)}" for a in s.annulus) + ".")
    if s.static_level is not None:
        out.append(f"Static level {said(s.static_level)} below ground." if s.static_level >= 0 else "The bore flows.")
    if s.intake_depth is not None:
        out.append(f"Pump intake at {said(s.intake_depth)}.")
    return " ".join(out)


def living_section(section: Section, *, width: float, height: float, medium: str = "page", units: str = "metric", margins: bool = False) -> str:
    """Return the living section as SVG text.

    Parameters
    ----------
    section : Section
        From `section_of`.
    width, height : float
        Size of the drawing: pixels on a page, points on paper.
    medium : str
        "page" carries data-depth for taps; "paper" has fixed size and smaller words.
    units : str
        metric, US or imperial.
    margins : bool
        Draw the stage checks of the casing beside the depth scale, where the odds stand before drilling.

    Raises
    ------
    BadInput
        A size that no drawing can have, an unknown medium or system of units.
    """
    units = unit_system(units)
    if medium not in ("page", "paper"):
        raise BadInput("medium", medium, "is not a medium", "page or paper")
    for field, value, low, high in (("width", width, SMALLEST[0], LARGEST[0]), ("height", height, SMALLEST[1], LARGEST[1])):
        if not (isinstance(value, (int, float)) and math.isfinite(value) and low <= value <= high):
            raise BadInput(field, value, "is not a size for a drawing", f"{low:g} to {high:g}")
    if section.bottom <= 0 or not math.isfinite(section.bottom):
        section = replace(section, bottom=30.0)
    drawing = _Drawing(section, float(width), float(height), medium, units, margins, _described(section, units))
    drawing.depth_scale()
    drawing.ground()
    drawing.hole()
    drawing.water()
    drawing.annulus()
    drawing.casings()
    drawing.surface()
    drawing.pump()
    drawing.strikes()
    drawing.levels()
    drawing.headings()
    drawing.ground_labels()
    drawing.note_labels()
    if drawing.lane:
        if section.odds:
            drawing.odds_lane()
        else:
            drawing.margins_lane()
    drawing.footer()
    if medium == "page":
        drawing.sheet.root.update({"class": "living-section", "data-ground-y": float(drawing.top), "data-scale": f"{drawing.scale:.6g}", "data-bottom": float(section.bottom),
                                   "data-state": section.state})
    return str(drawing.sheet)
