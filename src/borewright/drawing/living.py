"""The living section: the bore from the headworks to the bottom, to scale in depth, with the ground, the water and what was built."""

from __future__ import annotations

import hashlib
import math
from dataclasses import replace

from borewright.drawing.patterns import pattern_of
from borewright.drawing.section import AnnulusPart, CasingPart, Section
from borewright.drawing.svg import INK, MUTED, PAPER, RULE, WATER, Sheet, num
from borewright.drawing.text import Label, fit, place, width_of, wrap
from borewright.errors import BadInput
from borewright.ground import GROUND
from borewright.quantities import from_si, rounded, show, shown_unit

__all__ = ["depth_words", "living_section", "nice_step", "unit_system"]

GROUT, SEAL, PACK, BACKFILL = "#b9b4aa", "#6d675d", "#efe3bd", "#d9d2c6"
FILLS = {"grout": GROUT, "seal": SEAL, "pack": PACK, "backfill": BACKFILL}
SMALLEST, LARGEST = (240.0, 220.0), (4000.0, 6000.0)


def nice_step(span: float, most: int) -> float:
    """Return the step of 1, 2 or 5 times a power of ten that cuts a span into at most so many parts."""
    raw = max(span / max(most, 1), 1e-9)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * m for m in (1, 2, 5, 10) if power * m >= raw * 0.999999)


def depth_words(depth: float, units: str) -> str:
    """Return a depth as it was recorded, to the centimetre or the tenth of a foot, without its unit."""
    unit = shown_unit("depth", units)
    text = f"{from_si(depth, 'depth', unit):.{2 if unit == 'm' else 1}f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "−")


def unit_system(units: str) -> str:
    """Return the name that `borewright.quantities` gives a system of units, however it is written; raise BadInput for another."""
    for name in ("metric", "US", "imperial"):
        if units.lower() == name.lower():
            return name
    raise BadInput("units", units, "is not a system of units", "metric, US or imperial")


class _Drawing:
    """One drawing being made: the sheet, the scale and the columns."""

    def __init__(self, section: Section, width: float, height: float, medium: str, units: str, margins: bool):
        self.s, self.units, self.unit = section, units, shown_unit("depth", units)
        self.size = 10.5 if medium == "page" else 7.6
        if width < 380:
            self.size = 9.8 if medium == "page" else 7.2
        name = "s" + hashlib.sha256(repr((section, width, height, medium, units, margins)).encode()).hexdigest()[:8]
        self.sheet = Sheet(width, height, medium=medium, name=name, title=f"{section.title}: section of the bore, {section.state}", described=_described(section, units))
        size = self.size
        self.top = size * 5.1
        self.base = height - size * 3.4
        self.scale = (self.base - self.top) / section.bottom
        ticks = self._ticks()
        self.axis = 4 + max(width_of(depth_words(d, units), size) for d in ticks) + 8
        self.ticks = ticks
        wants_lane = bool(section.odds) or (margins and bool(section.checks))
        lane = max(62.0, 0.15 * width) if wants_lane and width >= 330 else 0.0
        free = width - self.axis - lane - 4
        block = max(74.0, 0.29 * free)
        left = (free - block) * 0.47
        self.words_left, self.words_right = self.axis + 2, self.axis + left - 12
        self.block_left, self.block_right = self.axis + left, self.axis + left + block
        self.notes_left, self.notes_right = self.block_right + 13, self.axis + free - 5
        self.lane_left, self.lane_right = width - lane + 3, width - 10
        self.lane = lane
        self.middle = 0.5 * (self.block_left + self.block_right)
        widest = max([p.diameter for p in section.hole] + [c.outside_diameter for c in section.casings] + [0.1])
        self.across = 0.44 * block / widest  # px for each metre of diameter, the same for every diameter of the drawing

    def y(self, depth: float) -> float:
        return self.top + depth * self.scale

    def half(self, diameter: float) -> float:
        return max(0.5 * diameter * self.across, 2.2)

    def said(self, depth: float) -> str:
        return f"{depth_words(depth, self.units)}\u00a0{self.unit}"

    def span(self, a: float, b: float) -> str:
        return f"{depth_words(a, self.units)}–{depth_words(b, self.units)}\u00a0{self.unit}"

    def _ticks(self) -> list[float]:
        per = from_si(1.0, "depth", self.unit)
        step = nice_step(self.s.bottom * per, max(2, int((self.base - self.top) / (self.size * 3.2))))
        return [n * step / per for n in range(int(self.s.bottom * per / step + 1e-9) + 1)]

    # -- parts, from the back to the front

    def depth_scale(self) -> None:
        sheet, size, x = self.sheet, self.size, self.axis
        sheet.text(x - 1, self.top - size * 1.05, self.unit, size, anchor="end", colour=MUTED)
        for depth in self.ticks:
            y = self.y(depth)
            sheet.line(x - 5, y, x - 1, y, colour=MUTED)
            sheet.text(x - 7, y + size * 0.34, depth_words(depth, self.units), size, anchor="end", colour=MUTED)
        sheet.line(x - 1, self.top, x - 1, self.base, colour=MUTED)

    def ground(self) -> None:
        left, right = self.block_left, self.block_right
        logged = 0.0
        for band in self.s.ground:
            code, tint = pattern_of(band.words, band.ground_class)
            y1, y2 = self.y(band.from_depth), self.y(band.to_depth)
            logged = max(logged, band.to_depth)
            d = f"M{num(left)} {num(y1)}H{num(right)}V{num(y2)}H{num(left)}Z"
            more = {"data_depth": num(band.from_depth), "data_to": num(band.to_depth), "class_": "ground"} if self.sheet.medium == "page" else {}
            self.sheet.ground(d, (left, y1, right, y2), code, tint, scale=self.tile_scale, **more)
            self.sheet.line(left, y2, right, y2, colour=INK, weight=0.5)
        if self.s.expected:
            self._expected(logged)
        elif self.s.drilled > logged:
            self._unlogged(logged, self.s.drilled)
        for above, below in zip(self.s.ground, self.s.ground[1:], strict=False):
            if below.from_depth > above.to_depth + 0.01:
                self._unlogged(above.to_depth, below.from_depth)
        for x in (left, right):
            self.sheet.line(x, self.top, x, self.base, colour=INK, weight=0.6)

    @property
    def tile_scale(self) -> float:
        return 0.85 if self.sheet.medium == "paper" else 0.95

    def _unlogged(self, a: float, b: float) -> None:
        y1, y2 = self.y(a), self.y(b)
        self.sheet.rect(self.block_left, y1, self.block_right - self.block_left, y2 - y1, fill="#f4f2ee")
        if y2 - y1 > 3:
            self.sheet.line(self.block_left, y1, self.block_right, y2, colour=RULE, weight=0.5, dash="2 3")

    def _expected(self, logged: float) -> None:
        """Fill below what is logged with the classes expected there, each as wide as it is likely."""
        e, left, width = self.s.expected, self.block_left, self.block_right - self.block_left
        cells = [(max(a, logged), min(b, self.s.bottom), row) for a, b, row in zip(e.depth_edges, e.depth_edges[1:], e.probability, strict=False)
                 if b > logged and a < self.s.bottom]
        if not cells:
            return
        for index, name in enumerate(e.classes):
            if max(row[index] for *_, row in cells) < 0.005:
                continue
            near = [(self.y(a), self.y(b), left + width * sum(row[:index]), left + width * min(1.0, sum(row[:index + 1]))) for a, b, row in cells]
            d = "M" + "L".join(f"{num(x1)} {num(y1)}L{num(x1)} {num(y2)}" for y1, y2, x1, _ in near)
            d += "L" + "L".join(f"{num(x2)} {num(y2)}L{num(x2)} {num(y1)}" for y1, y2, _, x2 in reversed(near)) + "Z"
            ground = GROUND.get(name)
            box = (min(r[2] for r in near), near[0][0], max(r[3] for r in near), near[-1][1])
            self.sheet.ground(d, box, ground.pattern if ground else "", ground.tint if ground else "#efece6", scale=self.tile_scale, opacity=0.62)
            self.sheet.path(d, colour=MUTED, weight=0.35)
        if cells[-1][1] < self.s.bottom:
            self._unlogged(cells[-1][1], self.s.bottom)
        for chance, depth in e.rockhead:
            if logged < depth < self.s.bottom:
                y = self.y(depth)
                self.sheet.line(left, y, self.block_right, y, colour=INK, weight=1.1 if chance == 0.5 else 0.6, dash=None if chance == 0.5 else "4 2")

    def hole(self) -> None:
        for part in self.s.hole:
            half, y1, y2 = self.half(part.diameter), self.y(part.from_depth), self.y(part.to_depth)
            if self.s.state == "before drilling":
                self.sheet.rect(self.middle - half, y1, 2 * half, y2 - y1, fill=PAPER, fill_opacity="0.72", colour=INK, weight=0.8, stroke_dasharray="5 3")
                continue
            self.sheet.rect(self.middle - half, y1, 2 * half, y2 - y1, fill=PAPER)
            dash = None if part.known else "3 2"
            for x in (self.middle - half, self.middle + half):
                self.sheet.line(x, y1, x, y2, weight=0.9, dash=dash)
        if self.s.hole and self.s.state != "before drilling":
            last = self.s.hole[-1]
            half, y = self.half(last.diameter), self.y(last.to_depth)
            if self.s.state == "drilling":
                self.sheet.path(f"M{num(self.middle - half)} {num(y)}L{num(self.middle)} {num(y + 4)}L{num(self.middle + half)} {num(y)}Z", fill=INK)
            else:
                self.sheet.line(self.middle - half, y, self.middle + half, y, weight=0.9)

    def _bore(self, depth: float) -> float:
        """Half the width, at a depth, of what water can stand in: the innermost casing, else the hole."""
        inside = [c.outside_diameter for c in self.s.casings if c.from_depth <= depth <= c.to_depth]
        around = [p.diameter for p in self.s.hole if p.from_depth <= depth <= p.to_depth]
        return self.half(min(inside)) if inside else self.half(min(around)) if around else 0.0

    def water(self) -> None:
        level = self.s.static_level
        if level is None or self.s.state in ("before drilling", "sealed"):
            return
        bottom = self.s.drilled
        marks = sorted({max(level, 0.0), bottom, *(c.to_depth for c in self.s.casings), *(c.from_depth for c in self.s.casings), *(p.to_depth for p in self.s.hole)})
        marks = [m for m in marks if max(level, 0.0) <= m <= bottom]
        for a, b in zip(marks, marks[1:], strict=False):
            half = self._bore(0.5 * (a + b))
            self.sheet.rect(self.middle - half + 0.8, self.y(a), 2 * half - 1.6, self.y(b) - self.y(a), fill="#cfe3f1")

    def annulus(self) -> None:
        """Draw every filling, cut where the hole or a string changes so that it never stands outside the hole it is in."""
        turns = {v for p in self.s.hole for v in (p.from_depth, p.to_depth)} | {v for c in self.s.casings for v in (c.from_depth, c.to_depth)}
        for part in self.s.annulus:
            cuts = sorted({part.from_depth, part.to_depth, *(t for t in turns if part.from_depth < t < part.to_depth)})
            runs: list[list[float]] = []  # [outer, inner, from, to], neighbours of one width joined
            for a, b in zip(cuts, cuts[1:], strict=False):
                outer, inner = self._ring(part, 0.5 * (a + b))
                if runs and runs[-1][:2] == [outer, inner]:
                    runs[-1][3] = b
                else:
                    runs.append([outer, inner, a, b])
            for outer, inner, a, b in runs:
                y1, y2 = self.y(a), self.y(b)
                if inner <= 0 < outer:
                    self._fill(part.what, self.middle - outer, self.middle + outer, y1, y2)
                elif outer > inner + 0.3:
                    self._fill(part.what, self.middle - outer, self.middle - inner, y1, y2)
                    self._fill(part.what, self.middle + inner, self.middle + outer, y1, y2)

    def _ring(self, part: AnnulusPart, at: float) -> tuple[float, float]:
        """Half-widths (outer, inner) of the annulus that a filling stands in at a depth.

        Where two strings stand in the hole, a filling that ends with the outer one was placed around it; one that goes on below was placed
        around the inner one.
        """
        hole = max((p.diameter for p in self.s.hole if p.from_depth <= at <= p.to_depth), default=0.0)
        here = [c for c in self.s.casings if c.from_depth <= at <= c.to_depth]
        if part.plug or not here:
            return (self.half(hole) if hole else 0.0), 0.0
        widest, inmost = max(here, key=lambda c: c.outside_diameter), min(here, key=lambda c: c.outside_diameter)
        foot = max(c.to_depth for c in self.s.casings if c.string == widest.string)
        if widest is inmost or part.to_depth <= foot + 0.5:
            return self.half(max(hole, widest.outside_diameter)), self.half(widest.outside_diameter)
        return self.half(widest.outside_diameter) - 1.2, self.half(inmost.outside_diameter)

    def _fill(self, what: str, x1: float, x2: float, y1: float, y2: float) -> None:
        """Fill a rectangle so that each filling differs in black and white too."""
        sheet = self.sheet
        sheet.rect(x1, y1, x2 - x1, y2 - y1, fill=FILLS.get(what, BACKFILL), colour=INK, weight=0.4)
        d = f"M{num(x1)} {num(y1)}H{num(x2)}V{num(y2)}H{num(x1)}Z"
        marks, step = [], 5.0
        rows = range(int((y2 - y1) / step) + 2)
        if what == "pack":
            marks = [f"M{num(x)} {num(y1 + step * r + 1.5)}h.01" for r in rows for x in _spread(x1, x2, 3.2, 0.5 * (r % 2))]
            style = {"colour": INK, "weight": 1.3, "stroke_linecap": "round"}
        elif what == "seal":
            marks = [f"M{num(x1)} {num(y1 + 0.8 * step * r)}L{num(x2)} {num(y1 + 0.8 * step * r - (x2 - x1))}" for r in range(int((y2 - y1 + x2 - x1) / (0.8 * step)) + 2)]
            style = {"colour": PAPER, "weight": 0.7}
        elif what == "grout":
            marks = [f"M{num(x)} {num(y1 + 4 * r + 2)}h1.2" for r in range(int((y2 - y1) / 4) + 1) for x in _spread(x1, x2, 4.0, 0.5 * (r % 2))]
            style = {"colour": INK, "weight": 0.5}
        else:
            marks = [f"M{num(x1)} {num(y1 + step * r)}H{num(x2)}" for r in rows]
            style = {"colour": MUTED, "weight": 0.4}
        if marks:
            sheet.open(clip_path=f"url(#{sheet.clip(d)})")
            sheet.path("".join(marks), **style)
            sheet.close()

    def casings(self) -> None:
        dash = "4 2.5" if self.s.planned else None
        for casing in self.s.casings:
            half, y1, y2 = self.half(casing.outside_diameter), self.y(casing.from_depth), self.y(casing.to_depth)
            weight = 2.3 if casing.string != "production" else 1.6
            for side in (-1, 1):
                x = self.middle + side * half
                if casing.slotted:
                    self.sheet.rect(x - 1.6, y1, 3.2, y2 - y1, fill=PAPER, colour=INK, weight=0.5)
                    gap = max(2.6, (y2 - y1) / 120)
                    cuts = "".join(f"M{num(x - 1.6)} {num(y1 + gap * (n + 0.5))}h3.2" for n in range(int((y2 - y1) / gap)))
                    if cuts:
                        self.sheet.path(cuts, colour=INK, weight=0.9)
                else:
                    self.sheet.line(x, y1, x, y2, weight=weight, dash=dash)
        for casing in self._feet():
            if casing.string != "production":
                half, y = self.half(casing.outside_diameter), self.y(casing.to_depth)
                for side in (-1, 1):
                    x = self.middle + side * half
                    self.sheet.path(f"M{num(x)} {num(y - 3.5)}l{num(side * 3.0)} 3.5h{num(-side * 3.0)}z", fill=INK)

    def _feet(self) -> list[CasingPart]:
        """The deepest part of each string."""
        deepest: dict[str, CasingPart] = {}
        for casing in self.s.casings:
            if casing.string not in deepest or casing.to_depth > deepest[casing.string].to_depth:
                deepest[casing.string] = casing
        return list(deepest.values())

    def surface(self) -> None:
        """The ground line, and the headworks of a finished bore above it (height not to scale)."""
        sheet, y, left, right = self.sheet, self.top, self.block_left, self.block_right
        sheet.line(left - 9, y, right + 9, y, weight=1.4)
        for n in range(int((right - left + 18) / 6)):
            x = left - 9 + 6 * n
            if abs(x - self.middle) > self._bore(0.0) + 4:
                sheet.line(x + 3, y, x, y + 3, weight=0.5)
        if self.s.headworks and self.s.casings:
            half = self.half(min(c.outside_diameter for c in self.s.casings if c.string == "production") if any(c.string == "production" for c in self.s.casings)
                             else self.s.casings[0].outside_diameter)
            tall = self.size * 1.55
            sheet.path(f"M{num(self.middle - half - 9)} {num(y)}l5 -3.2h{num(2 * half + 8)}l5 3.2z", fill=GROUT, colour=INK, weight=0.6)
            sheet.rect(self.middle - half, y - tall, 2 * half, tall, fill=PAPER, colour=INK, weight=1.3)
            sheet.rect(self.middle - half - 2.5, y - tall - 3, 2 * half + 5, 3.6, fill=INK)

    def strikes(self) -> None:
        for strike in self.s.strikes:
            y, half = self.y(strike.depth), self._bore(strike.depth)
            around = [p.diameter for p in self.s.hole if p.from_depth <= strike.depth <= p.to_depth]
            half = max(half, self.half(max(around)) if around else 0.0)
            more = {"data_depth": num(strike.depth), "class_": "strike"} if self.sheet.medium == "page" else {}
            for side in (-1, 1):
                x = self.middle + side * (half + 1.2)
                out = x + side * 12
                self.sheet.path(f"M{num(out)} {num(y - 1.6)}H{num(x + side * 5)}v-2.4L{num(x)} {num(y)}L{num(x + side * 5)} {num(y + 4)}v-2.4H{num(out)}Z",
                                fill=WATER, colour=PAPER, weight=0.6, **more)

    def pump(self) -> None:
        depth = self.s.intake_depth
        if depth is None:
            return
        y, half = self.y(depth), self._bore(depth)
        wide = max(2.0, half * 0.55)
        tall = max(14.0, min(34.0, self.scale * 1.6))
        head = self.top - (self.size * 1.55 if self.s.headworks else 0)
        self.sheet.rect(self.middle - 1.1, head, 2.2, max(y - tall * 0.5 - head, 0), fill=PAPER, colour=INK, weight=0.6)
        self.sheet.rect(self.middle - wide, y - tall * 0.55, 2 * wide, tall * 0.5, fill="#3b474b", colour=INK, weight=0.5, rx=num(1.2))
        self.sheet.rect(self.middle - wide, y + tall * 0.03, 2 * wide, tall * 0.42, fill="#7b878b", colour=INK, weight=0.5, rx=num(1.2))

    def levels(self) -> None:
        if self.s.state == "sealed":
            return
        for depth, solid in ((self.s.static_level, True), (self.s.pumping_level, False)):
            if depth is None:
                continue
            y = self.y(max(depth, 0.0)) - (self.size * 1.2 if depth < 0 else 0)
            half = max(self._bore(max(depth, 0.01)), 5.0)
            self.sheet.line(self.middle - half, y, self.middle + half, y, colour=WATER, weight=1.3, dash=None if solid else "3 2")
            x = self.middle - half * 0.45
            self.sheet.path(f"M{num(x - 3.4)} {num(y - 5.6)}h6.8L{num(x)} {num(y)}Z", fill=WATER if solid else PAPER, colour=WATER, weight=0.8)

    # -- words

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
        for casing in self._feet():
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
            self._fill(what, at, at + 10, height - size * 1.12, height - size * 0.3)
            self.sheet.text(at + 13, height - size * 0.4, what, size, colour=MUTED)
            at += 13 + width_of(what, size) + 10

    def headings(self) -> None:
        size = self.size
        small = size * 0.92
        y = self.top - size * 2.9
        self.sheet.text(self.words_right, y, fit("ground" if self.s.ground else "expected ground" if self.s.expected else "ground", self.words_right - self.words_left, small), small, anchor="end", colour=MUTED)
        self.sheet.text(self.notes_left, y, fit("planned construction" if self.s.planned and self.s.state == "before drilling" else "water and construction", self.notes_right - self.notes_left, small), small, colour=MUTED)


def _spread(x1: float, x2: float, step: float, shift: float) -> list[float]:
    return [x1 + step * (n + 0.25 + shift) for n in range(int((x2 - x1) / step) + 1)]


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
    drawing = _Drawing(section, float(width), float(height), medium, units, margins)
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
