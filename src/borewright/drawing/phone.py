"""The words of the living section where it is as wide as a phone: fewer and shorter, each whole, so that each can be read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from borewright.drawing.text import Label, fit, width_of, wrap
from borewright.drawing.words import figure, say, term
from borewright.quantities import show

if TYPE_CHECKING:
    from borewright.drawing.shapes import Shapes

__all__ = ["NARROW", "SIZE", "ground_labels", "most_dear", "note_labels"]

NARROW = 420.0  # px: a page's drawing below it has the words of this module
SIZE = 11.0  # px of its letters


def _whole(ways: Sequence[str], width: float, size: float, *, lines: int, bold: bool = False) -> list[str]:
    """Return the first way of saying a thing that has room with nothing cut; the last is cut where none has."""
    for words in ways:
        rows = wrap(words, width, size, lines=lines, bold=bold)
        if not any(row.endswith("…") for row in rows):
            return rows
    return [fit(ways[-1], width, size, bold=bold)]


def _label(d: Shapes, depth: float, ways: Sequence[str], priority: int, kind: str, width: float, *, lines: int = 2, bold: bool = False) -> Label:
    y = d.y(min(max(depth, 0.0), d.s.bottom))
    short = [way for way in ways if width_of(way, d.size, bold=bold) <= width]
    return Label(depth, y, _whole(ways, width, d.size, lines=lines, bold=bold), priority, kind, d.size, brief=short[0] if short else fit(ways[-1], width, d.size, bold=bold), bold=bold)


def ground_labels(d: Shapes, width: float) -> list[Label]:
    """Return a label for each layer: the driller's words where they have room, else the class of the ground, else its depths alone."""
    found = []
    for band in d.s.ground:
        span, tall = d.span(band.from_depth, band.to_depth), (band.to_depth - band.from_depth) * d.scale
        kind = term(band.ground_class) if band.ground_class else ""
        ways = [f"{span} {band.words}", band.words, *([f"{span} {kind}", kind] if kind else []), span]
        middle = 0.5 * (band.from_depth + band.to_depth)
        found.append(_label(d, middle, ways, 2 if tall > d.size else 3, "ground", width, lines=max(2, int(tall / (1.16 * d.size)))))
    return found


def note_labels(d: Shapes, width: float) -> list[Label]:
    """Return the labels of water and construction: levels, strikes, pump and foot first; fillings, sizes and readings where there is room."""
    s, said, span = d.s, d.said, d.span
    flow = lambda q: figure(show(q, "flow", system=d.units)).replace(" ", "\u00a0")
    across = lambda v: figure(show(v, "diameter", system=d.units, digits=3)).replace(" ", "\u00a0")
    rows: list[tuple[float, tuple[str, ...], int, str]] = []
    if s.static_level is not None and s.state != "sealed":
        high = s.static_level < 0
        rows.append((s.static_level, (say("flows: head {height}", height=said(-s.static_level)), say("flows")) if high else (say("static {depth}", depth=said(s.static_level)),), 1, "level"))
    if s.pumping_level is not None:
        at = (say("pumping {depth} at {flow}", depth=said(s.pumping_level), flow=flow(s.pumping_flow)),) if s.pumping_flow else ()
        rows.append((s.pumping_level, (*at, say("pumping {depth}", depth=said(s.pumping_level))), 1, "level"))
    for strike in s.strikes:
        plain = say("strike {depth}", depth=said(strike.depth))
        rows.append((strike.depth, (f"{plain}, +{flow(strike.gain)}", plain) if strike.gain is not None else (plain,), 1, "strike"))
    if s.intake_depth is not None:
        rows.append((s.intake_depth, (say("pump {depth}", depth=said(s.intake_depth)),), 1, "pump"))
    for part in s.casings:
        if part.slotted:
            rows.append((0.5 * (part.from_depth + part.to_depth), (say("slots {span}", span=span(part.from_depth, part.to_depth)),), 2, "slots"))
    for part in d.feet():
        rows.append((part.to_depth, (say("{across} casing to {depth}", across=across(part.outside_diameter), depth=said(part.to_depth)), say("casing {depth}", depth=said(part.to_depth))), 2, "casing"))
    for part in s.annulus:
        here = span(part.from_depth, part.to_depth)
        rows.append((0.5 * (part.from_depth + part.to_depth), (say("sealed {span}", span=here) if part.plug else f"{term(part.what)} {here}",), 2 if part.plug else 3, "annulus"))
    for part in s.hole:
        if part.known:
            rows.append((part.from_depth + 0.72 * (part.to_depth - part.from_depth), (say("hole {across} to {depth}", across=across(part.diameter), depth=said(part.to_depth)),), 4, "hole"))
    if s.state == "drilling":
        rows.append((s.drilled, (say("drilled to {depth}", depth=said(s.drilled)),), 1, "bottom"))
    elif s.drilled and s.state != "before drilling":
        rows.append((s.drilled, (say("bottom {depth}", depth=said(s.drilled)),), 2, "bottom"))
    if s.walk_away is not None and s.walk_away <= s.bottom:
        rows.append((s.walk_away, (say("walk away at {depth} if still dry", depth=said(s.walk_away)), say("walk away {depth}", depth=said(s.walk_away))), 2, "rule"))
    strong = lambda kind: kind in ("strike", "level") or (kind == "bottom" and s.state == "drilling")
    return [_label(d, depth, ways, priority, kind, width, bold=strong(kind)) for depth, ways, priority, kind in rows]


def most_dear(labels: Sequence[Label], room: float) -> tuple[list[Label], int]:
    """Return the labels that have room, the details of least worth left out first, and how many were; what is dear is left to `place`."""
    kept = list(labels)
    while kept and sum(label.height for label in kept) > room and max(label.priority for label in kept) > 2:
        kept.remove(max(kept, key=lambda label: (label.priority, label.y)))
    return kept, len(labels) - len(kept)
