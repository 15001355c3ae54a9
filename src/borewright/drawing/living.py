"""The living section: the bore from the headworks to the bottom, to scale in depth, with the ground, the water and what was built."""

from __future__ import annotations

import math
from dataclasses import replace

from borewright.drawing import phone
from borewright.drawing.scales import depth_words, slot_words, unit_system
from borewright.drawing.section import Section
from borewright.drawing.shapes import Shapes
from borewright.drawing.svg import INK, MUTED, PAPER, RULE, WATER, num
from borewright.drawing.text import Label, fit, place, width_of, wrap
from borewright.drawing.words import figure, say, spoken, term
from borewright.errors import BadInput
from borewright.quantities import rounded, show, shown_unit

__all__ = ["living_section"]

SMALLEST, LARGEST = (240.0, 220.0), (4000.0, 6000.0)
# Several papers show the same section, and most entries change nothing of it: the last drawings by all that they are made of.
_KEPT: dict[str, str] = {}
MOST_KEPT = 48


class _Drawing(Shapes):
    """The shapes with their words: labels beside the section, the lane at its right, headings and foot."""

    def ground_labels(self) -> None:
        size, width = self.size, self.words_right - self.words_left
        labels = phone.ground_labels(self, width) if self.narrow else []
        for band in () if self.narrow else self.s.ground:
            thick = band.to_depth - band.from_depth
            whole = f"{self.span(band.from_depth, band.to_depth)}  {band.words}"
            labels.append(Label(0.5 * (band.from_depth + band.to_depth), self.y(0.5 * (band.from_depth + band.to_depth)), wrap(whole, width, size, lines=max(3, int(thick * self.scale / (1.16 * size)) - 1)),
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
            whole = say("{span}  most likely {ground}, {tenths} in 10", span=self.span(a, b), ground=term(e.classes[index]), tenths=round(10 * weight / (b - a)))
            if self.narrow:
                whole = f"{term(e.classes[index])} {round(10 * weight / (b - a))}/10"
            found.append(Label(0.5 * (a + b), self.y(0.5 * (a + b)), wrap(whole, width, size, lines=3), 3, "expected", size, brief=fit(whole, width, size)))
        rockhead = dict(e.rockhead)
        if 0.5 in rockhead and rockhead[0.5] > logged and rockhead[0.5] < self.s.bottom:
            low, high = e.rockhead[0], e.rockhead[-1]
            whole = say("rockhead: as likely above {depth} as below", depth=self.said(rockhead[0.5]))
            if self.narrow:
                whole = say("rockhead near {depth}", depth=self.said(rockhead[0.5]))
            elif low[0] < 0.5 < high[0]:
                whole += say("; {hundredths} in 100 within {span}", hundredths=round(100 * (high[0] - low[0])), span=self.span(low[1], high[1]))
            found.append(Label(rockhead[0.5], self.y(rockhead[0.5]), wrap(whole, width, size, lines=4, bold=True), 1, "rockhead", size,
                               brief=fit(say("rockhead near {depth}", depth=self.said(rockhead[0.5])), width, size, bold=True), bold=True))
        return found

    def note_labels(self) -> None:
        s, size, width = self.s, self.size, self.notes_right - self.notes_left
        if self.narrow:
            self._set(phone.note_labels(self, width), self.notes_left, self.notes_right, self.block_right, "start", "notes")
            return
        rows: list[tuple[float, str, int, str]] = []
        flow = lambda q: figure(show(q, "flow", system=self.units)).replace(" ", "\u00a0")
        if s.static_level is not None and s.state != "sealed":
            words = say("static level {depth}", depth=self.said(s.static_level)) if s.static_level >= 0 else say("flows: head {height} above ground", height=self.said(-s.static_level))
            rows.append((s.static_level, words, 1, "level"))
        if s.pumping_level is not None:
            rows.append((s.pumping_level, say("pumping level {depth}", depth=self.said(s.pumping_level)) + (say(" at {flow}", flow=flow(s.pumping_flow)) if s.pumping_flow else ""), 1, "level"))
        for strike in s.strikes:
            gain = f", +{flow(strike.gain)}" if strike.gain is not None else say(", flow not measured")
            rows.append((strike.depth, say("strike {depth}", depth=self.said(strike.depth)) + gain, 1, "strike"))
        if s.intake_depth is not None:
            rows.append((s.intake_depth, say("pump intake {depth}", depth=self.said(s.intake_depth)) + (f", {s.pump_name}" if s.pump_name else ""), 1, "pump"))
        for casing in s.casings:
            if casing.slotted:
                cut = say(", {width} slots", width=figure(slot_words(casing.aperture, self.units))) if casing.aperture else ""
                rows.append((0.5 * (casing.from_depth + casing.to_depth), say("slotted {span}", span=self.span(casing.from_depth, casing.to_depth)) + cut, 2, "slots"))
        for casing in self.feet():
            across = figure(show(casing.outside_diameter, "diameter", system=self.units, digits=4))
            made = f" {term(casing.material)}" if casing.material else ""
            rows.append((casing.to_depth, say("{string} casing to {depth}, {across}", string=term(casing.string), depth=self.said(casing.to_depth), across=across) + made, 2, "casing"))
        for part in s.annulus:
            bags = say(", {bags} bags", bags=figure(f"{part.bags:g}")) if part.bags else ""
            if part.plug:
                rows.append((0.5 * (part.from_depth + part.to_depth), say("sealed {span}: {material}", span=self.span(part.from_depth, part.to_depth), material=term(part.material)) + bags, 2, "annulus"))
                continue
            what = say("{material} {filling}", material=term(part.material), filling=term(part.what)) if part.material and part.what.lower() not in part.material.lower() else term(part.material) if part.material else term(part.what)
            rows.append((0.5 * (part.from_depth + part.to_depth), f"{what} {self.span(part.from_depth, part.to_depth)}{bags}", 2, "annulus"))
        for part in s.hole:
            said = figure(show(part.diameter, "diameter", system=self.units, digits=4))
            words = say("hole {across} to {depth}", across=said, depth=self.said(part.to_depth)) if part.known else say("hole to {depth}, diameter not recorded", depth=self.said(part.to_depth))
            rows.append((part.from_depth + 0.72 * (part.to_depth - part.from_depth), words, 4, "hole"))
        for depth, q, method in self._telling_flows():
            rows.append((depth, say("{flow} measured at {depth}, {method}", flow=flow(q), depth=self.said(depth), method=term(method)), 3, "flow"))
        if s.state == "drilling":
            rows.append((s.drilled, say("drilled to {depth} so far", depth=self.said(s.drilled)), 1, "bottom"))
        elif s.drilled and s.state != "before drilling":
            rows.append((s.drilled, say("bottom {depth}", depth=self.said(s.drilled)) + (say(": {reason}", reason=term(s.stopped)) if s.stopped and s.stopped != "other" else ""), 2, "bottom"))
        if s.walk_away is not None and s.walk_away <= s.bottom:
            rows.append((s.walk_away, say("walk away at {depth} if still dry", depth=self.said(s.walk_away)), 2, "rule"))
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
        spare = 0
        if self.narrow:
            labels, spare = phone.most_dear(labels, bottom - top - size * 1.5)
        kept, out = place(labels, top, bottom)
        if out or spare:
            kept, more = place(kept, top, bottom - size * 1.5)
            out += more + spare
            note = say("+ {count} more", count=out) if self.narrow else fit(say(f"+ {{count}} {what} more in the log", count=out), right - left, size)
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
        need = figure(show(self.s.need, "flow", system=self.units)) if self.s.need else say("the need")
        self._lane_frame((say("chance of"), need if self.narrow else say("{need} by depth", need=need)), [(0.0, "0"), *(() if self.narrow else ((0.5, "50"),)), (1.0, "100 %")], x)
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
        self._lane_frame((say("casing: strength"), say("÷ what is asked")), [(0.0, "0"), (1.0, "1"), (most, f"{most:g}")], x)
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
        widths = say("Depth to scale; diameters drawn {times} times as wide.", times=figure(rounded(times, 2))) if times >= 1.05 else say("Depth and diameters to scale.")
        kinds = []
        if self.s.expected:
            kinds.append(say("Pale: expected, as wide as likely."))
        if self.s.planned and self.s.casings:
            kinds.append(say("Dashed: planned."))
        fillings = [w for w in ("grout", "seal", "pack", "backfill") if any(a.what == w for a in self.s.annulus)]
        x = self.axis - 1
        room = self.sheet.width - x - 4
        # One line where there is room for it, else what the signs mean stands behind the fillings or is cut.
        whole, after = " ".join([widths, *kinds]), ""
        if kinds and width_of(whole, size) > room:
            whole, after = widths, " ".join(kinds)
        self.sheet.text(x, height - size * 1.7, fit(whole, room, size), size, colour=MUTED)
        at = x
        for what in fillings:
            name = term(what)
            if at + 14 + width_of(name, size) > self.sheet.width - 4:
                break
            self.fill(what, at, at + 10, height - size * 1.12, height - size * 0.3)
            self.sheet.text(at + 13, height - size * 0.4, name, size, colour=MUTED)
            at += 13 + width_of(name, size) + 10
        if after and self.sheet.width - 4 - at > size * 8:
            self.sheet.text(at, height - size * 0.4, fit(after, self.sheet.width - 4 - at, size), size, colour=MUTED)

    def headings(self) -> None:
        size = self.size
        small = size * 0.92
        y = self.top - size * 2.9
        self.sheet.text(self.words_right, y, fit(say("expected ground") if self.s.expected and not self.s.ground else say("ground"), self.words_right - self.words_left, small), small, anchor="end", colour=MUTED)
        self.sheet.text(self.notes_left, y, fit(say("planned construction") if self.s.planned and self.s.state == "before drilling" else say("water") if self.narrow else say("water and construction"), self.notes_right - self.notes_left, small), small, colour=MUTED)


def _described(s: Section, units: str) -> str:
    """Return the drawing in sentences, for a person who hears it."""
    unit = shown_unit("depth", units)
    said = lambda d: f"{figure(depth_words(d, units))} {unit}"
    flow = lambda q: figure(show(q, "flow", system=units))
    state = {"before drilling": "Nothing is drilled yet; drawn to {depth}.", "drilling": "Drilled to {depth} so far.", "drilled": "A hole {depth} deep, not yet cased.",
             "built": "A finished bore {depth} deep.", "failed": "A hole {depth} deep that was given up.", "sealed": "A hole {depth} deep, sealed."}[s.state]
    out = [say(state, depth=said(s.bottom if s.state == "before drilling" else s.drilled))]
    span = lambda a, b, words: say("{top} to {bottom} {words}", top=said(a), bottom=said(b), words=words)
    if s.ground:
        out.append(say("Ground: {list}.", list="; ".join(span(b.from_depth, b.to_depth, b.words) for b in s.ground)))
    if s.expected and s.expected.rockhead:
        out.append(say("Rockhead expected: {list}.", list=", ".join(say("{hundredths} in 100 above {depth}", hundredths=round(q * 100), depth=said(d)) for q, d in s.expected.rockhead)))
    if s.odds:
        out.append(say("Chance of the need by {depth}: {hundredths} in 100.", depth=said(s.odds[-1].depth), hundredths=round(100 * s.odds[-1].chance)))
    if s.strikes:
        found = (say("strike at {depth}", depth=said(k.depth)) + (say(" gaining {flow}", flow=flow(k.gain)) if k.gain is not None else "") for k in s.strikes)
        out.append(say("Water: {list}.", list="; ".join(found)))
    if s.casings:
        parts = (span(c.from_depth, c.to_depth, term(c.string) + (say(", slotted") if c.slotted else "")) for c in s.casings)
        out.append(say("Planned casing: {list}." if s.planned else "Casing: {list}.", list="; ".join(parts)))
    if s.annulus:
        out.append(say("Fillings: {list}.", list="; ".join(span(a.from_depth, a.to_depth, term(a.what)) for a in s.annulus)))
    if s.static_level is not None:
        out.append(say("Static level {depth} below ground.", depth=said(s.static_level)) if s.static_level >= 0 else say("The bore flows."))
    if s.intake_depth is not None:
        out.append(say("Pump intake at {depth}.", depth=said(s.intake_depth)))
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
    width, height, tongue = float(width), float(height), spoken().code
    key = repr((section, width, height, medium, units, margins, tongue))
    svg = _KEPT.get(key) if tongue else None
    if svg is None:
        svg = _drawn(section, width, height, medium, units, margins)
        if tongue:
            while len(_KEPT) >= MOST_KEPT:
                _KEPT.pop(next(iter(_KEPT), ""), None)
            _KEPT[key] = svg
    return svg


def _drawn(section: Section, width: float, height: float, medium: str, units: str, margins: bool) -> str:
    drawing = _Drawing(section, width, height, medium, units, margins, _described(section, units))
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
