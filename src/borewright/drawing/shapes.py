"""The shapes of the living section: scale, ground, hole, water, fillings, casing, headworks, strikes and pump, from the back to the front."""

from __future__ import annotations

import hashlib
from itertools import pairwise

from borewright.drawing.patterns import pattern_of
from borewright.drawing.phone import NARROW, SIZE
from borewright.drawing.scales import depth_words, nice_step
from borewright.drawing.section import AnnulusPart, CasingPart, Section
from borewright.drawing.svg import INK, MUTED, PAPER, RULE, WATER, Sheet, num
from borewright.drawing.text import width_of
from borewright.drawing.words import figure, say, term
from borewright.ground import GROUND
from borewright.quantities import from_si, shown_unit

__all__ = ["Shapes"]

GROUT, SEAL, PACK, BACKFILL = "#b9b4aa", "#6d675d", "#efe3bd", "#d9d2c6"
FILLS = {"grout": GROUT, "seal": SEAL, "pack": PACK, "backfill": BACKFILL}


class Shapes:
    """One section being drawn: the sheet, the scale, the columns, and every shape that stands at a depth."""

    def __init__(self, section: Section, width: float, height: float, medium: str, units: str, margins: bool, described: str):
        self.s, self.units, self.unit = section, units, shown_unit("depth", units)
        self.size = 10.5 if medium == "page" else 7.6
        self.narrow = medium == "page" and width < NARROW
        if self.narrow:
            self.size = SIZE
        elif width < 380:
            self.size = 7.2
        name = "s" + hashlib.sha256(repr((section, width, height, medium, units, margins)).encode()).hexdigest()[:8]
        self.sheet = Sheet(width, height, medium=medium, name=name, title=say("{title}: section of the bore, {state}", title=section.title, state=term(section.state)), described=described)
        size = self.size
        self.top = size * 5.1
        self.base = height - size * 3.4
        self.scale = (self.base - self.top) / section.bottom
        ticks = self._ticks()
        self.axis = 4 + max(width_of(depth_words(d, units), size) for d in ticks) + 8
        self.ticks = ticks
        wants_lane = bool(section.odds) or (margins and bool(section.checks))
        if self.narrow and not margins and section.state not in ("before drilling", "drilling"):
            wants_lane = False  # what was found is worth more there than what was expected
        lane = max(74.0 if self.narrow else 62.0, 0.15 * width) if wants_lane and width >= 330 else 0.0
        free = width - self.axis - lane - 4
        block = max(64.0, 0.22 * free) if self.narrow else max(74.0, 0.29 * free)
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
        return f"{figure(depth_words(depth, self.units))}\u00a0{self.unit}"

    def span(self, a: float, b: float) -> str:
        return f"{figure(depth_words(a, self.units))}–{figure(depth_words(b, self.units))}\u00a0{self.unit}"

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
            sheet.text(x - 7, y + size * 0.34, figure(depth_words(depth, self.units)), size, anchor="end", colour=MUTED)
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
            self.sheet.ground(d, (left, y1, right, y2), code, tint, scale=self.tile_scale, hidden=self._behind(band.from_depth, band.to_depth), **more)
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

    def _behind(self, top: float, bottom: float) -> tuple[float, float] | None:
        """Return the verticals between which the hole hides the ground all the way from one depth to another, or None."""
        parts = [p for p in self.s.hole if p.to_depth > top and p.from_depth < bottom]
        if self.s.state == "before drilling" or not parts or parts[0].from_depth > top or parts[-1].to_depth < bottom or any(b.from_depth > a.to_depth for a, b in pairwise(parts)):
            return None
        half = min(self.half(p.diameter) for p in parts)
        return self.middle - half, self.middle + half

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
                    self.fill(part.what, self.middle - outer, self.middle + outer, y1, y2)
                elif outer > inner + 0.3:
                    self.fill(part.what, self.middle - outer, self.middle - inner, y1, y2)
                    self.fill(part.what, self.middle + inner, self.middle + outer, y1, y2)

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

    def fill(self, what: str, x1: float, x2: float, y1: float, y2: float) -> None:
        """Fill a rectangle so that each filling differs in black and white too."""
        sheet = self.sheet
        sheet.rect(x1, y1, x2 - x1, y2 - y1, fill=FILLS.get(what, BACKFILL), colour=INK, weight=0.4)
        d = f"M{num(x1)} {num(y1)}H{num(x2)}V{num(y2)}H{num(x1)}Z"
        step = 5.0
        if what == "pack":
            marks = _rows(x1, x2, y1 + 1.5, y2, step, 3.2, "h.01", 0.01)
            style = {"colour": INK, "weight": 1.3, "stroke_linecap": "round"}
        elif what == "seal":
            slant = f"l{num(x2 - x1)} {num(x1 - x2)}m{num(x1 - x2)} {num(x2 - x1 + 0.8 * step)}"
            marks = f"M{num(x1)} {num(y1 + 0.8 * step)}" + slant * (int((y2 - y1 + x2 - x1) / (0.8 * step)) + 1)
            style = {"colour": PAPER, "weight": 0.7}
        elif what == "grout":
            marks = _rows(x1, x2, y1 + 2, y2, 4.0, 4.0, "h1.2", 1.2)
            style = {"colour": INK, "weight": 0.5}
        else:
            marks = f"M{num(x1)} {num(y1)}" + f"h{num(x2 - x1)}m{num(x1 - x2)} {num(step)}" * (int((y2 - y1) / step) + 1)
            style = {"colour": MUTED, "weight": 0.4}
        if marks:
            sheet.open(clip_path=f"url(#{sheet.clip(d)})")
            sheet.path(marks, **style)
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
                    if count := int((y2 - y1) / gap):
                        self.sheet.path(f"M{num(x - 1.6)} {num(y1 + gap / 2)}" + f"h3.2m-3.2 {gap:.4g}" * count, colour=INK, weight=0.9)
                else:
                    self.sheet.line(x, y1, x, y2, weight=weight, dash=dash)
        for casing in self.feet():
            if casing.string != "production":
                half, y = self.half(casing.outside_diameter), self.y(casing.to_depth)
                for side in (-1, 1):
                    x = self.middle + side * half
                    self.sheet.path(f"M{num(x)} {num(y - 3.5)}l{num(side * 3.0)} 3.5h{num(-side * 3.0)}z", fill=INK)

    def feet(self) -> list[CasingPart]:
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


def _rows(x1: float, x2: float, y1: float, y2: float, down: float, along: float, mark: str, length: float) -> str:
    """Return rows of a mark from y1 down to y2, every other row half a step along, as one path of relative steps."""
    said = []
    gap = f"m{num(along - length)} 0"
    for row in range(int((y2 - y1) / down) + 1):
        start = x1 + along * (0.25 + 0.5 * (row % 2))
        count = int((x2 - start) / along) + 1
        if start < x2:
            said.append(f"M{num(start)} {num(y1 + down * row)}{gap.join([mark] * count)}")
    return "".join(said)
