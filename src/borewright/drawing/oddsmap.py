"""The map of odds as a drawing: tints that grow darker with the odds, lines between them, a scale bar and a legend that print in black and white."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence

from borewright.drawing.scales import nice_step, unit_system
from borewright.drawing.svg import INK, MUTED, PAPER, RULE, Sheet, num
from borewright.errors import BadInput
from borewright.quantities import show

__all__ = ["odds_map", "picture"]

STEPS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
# Evenly falling lightness: the order holds for any eye and on any printer.
TINTS = ("#ffffff", "#d3dee3", "#9bb6c2", "#5b8399", "#17455c")
_LINES = (0.0, 0.45, 0.8, 1.2, 1.7)  # weight of the line on the upper side of each step
_DEGREE = 111_195.0
MOST_BORES = 400


def _step_of(p: float) -> int:
    return -1 if not math.isfinite(p) else min(int(p * 5 + 1e-9), 4)


def odds_map(p: Sequence[Sequence[float]], *, west: float, south: float, east: float, north: float, need: float, depth: float, register: str = "",
             bores: Sequence[tuple[float, float, bool | None]] = (), width: float = 720.0, medium: str = "page", units: str = "metric") -> str:
    """Return the map as SVG.

    Parameters
    ----------
    p : rows of float, first row northernmost
        Odds of each cell [-]; NaN is left blank.
    west, south, east, north : float
        Edges; east above 180 beyond the antimeridian [deg].
    bores : sequence of (longitude, latitude, wet)
        Drawn as full (wet), open (dry) or small (not said) marks; left out where more than `MOST_BORES` would hide the map.
    """
    if medium not in ("page", "paper"):
        raise BadInput("medium", medium, "is not a medium", "page or paper")
    units = unit_system(units)
    rows, columns = len(p), len(p[0]) if len(p) else 0
    if not rows or not columns or any(len(row) != columns for row in p):
        raise BadInput("p", rows, "is not a grid", "rows of one length")
    if not (north > south and east > west and math.isfinite(west + east + south + north)):
        raise BadInput("bounds", [west, south, east, north], "holds no ground", "west below east, south below north")
    size = 11.0 if medium == "page" else 8.0
    across = (east - west) * math.cos(math.radians(0.5 * (south + north)))
    left, right = size * 4.6, width - size
    top = size * 3.4
    # A very long or very tall area keeps its shape and takes less of the sheet.
    scale = min((right - left) / across, 1.4 * width / (north - south))
    right, bottom = left + across * scale, top + (north - south) * scale
    across_legend = 6 if width >= size * 56 else 3
    height = bottom + size * (8.6 if across_legend == 6 else 10.4)
    need_words, depth_words = show(need, "flow", system=units), show(depth, "depth", system=units)
    title = f"Odds of at least {need_words} by {depth_words}"
    told = [v for row in p for v in row if math.isfinite(v)]
    described = f"{title}, from {min(told):.2f} to {max(told):.2f} over the area; darker is likelier." if told else f"{title}: no cell has a figure."
    name = "m" + hashlib.sha256(repr((west, south, east, north, need, depth, rows, columns, told[:50])).encode()).hexdigest()[:8]
    sheet = Sheet(width, height, medium=medium, name=name, title=title, described=described)
    sheet.text(left, size * 1.5, title, size * 1.25, bold=True)
    if register:
        sheet.text(left, size * 2.8, f"register {register}", size, colour=MUTED)
    dx, dy = (right - left) / columns, (bottom - top) / rows
    grid = [[_step_of(v) for v in row] for row in p]
    _cells(sheet, grid, left, top, dx, dy)
    _edges(sheet, grid, left, top, dx, dy)
    place = lambda lon, lat: (left + (right - left) * (lon - west) / (east - west), bottom - (bottom - top) * (lat - south) / (north - south))
    turned = [(lon + 360.0 if lon < west else lon, lat, wet) for lon, lat, wet in bores]
    inside = [(lon, lat, wet) for lon, lat, wet in turned if west <= lon <= east and south <= lat <= north]
    if len(inside) <= MOST_BORES:
        for lon, lat, wet in inside:
            x, y = place(lon, lat)
            sheet.add("circle", cx=x, cy=y, r=float(size * (0.2 if wet is None else 0.3)), fill=PAPER if wet is False else INK, stroke=PAPER if wet else INK, stroke_width=0.8)
    sheet.rect(left, top, right - left, bottom - top, colour=INK, weight=0.9)
    _frame(sheet, west, south, east, north, left, top, right, bottom, size)
    _bar(sheet, left, bottom + size * 2.7, right, scale, size, units)
    _legend(sheet, left, bottom + size * 6.2, width, size, across_legend, 0 < len(inside) <= MOST_BORES)
    return str(sheet)


def _cells(sheet: Sheet, grid: list[list[int]], left: float, top: float, dx: float, dy: float) -> None:
    """Fill the cells, each run of one step in a row as one piece, all of a step as one path."""
    pieces: dict[int, list[str]] = {}
    for i, row in enumerate(grid):
        j = 0
        while j < len(row):
            end = j
            while end < len(row) and row[end] == row[j]:
                end += 1
            if row[j] != 0:
                # A hair of overlap, so that no seam of paper shows between rows.
                pieces.setdefault(row[j], []).append(f"M{num(left + j * dx)} {num(top + i * dy)}h{num((end - j) * dx)}v{num(dy + 0.15)}h{num(-(end - j) * dx)}z")
            j = end
    for step in sorted(pieces):
        if step < 0:
            sheet.path("".join(pieces[step]), fill="#efe9dc")
        else:
            sheet.path("".join(pieces[step]), fill=TINTS[step])
    if -1 in pieces:
        # Ground without a figure is crossed with lines, so that it cannot be read as poor ground.
        key = sheet.clip("".join(pieces[-1]))
        high, wide = top + dy * len(grid), dx * len(grid[0])
        lines = []
        x = left - (high - top)
        while x < left + wide:
            lines.append(f"M{num(x)} {num(high)}L{num(x + high - top)} {num(top)}")
            x += 9.0
        sheet.path("".join(lines), colour=RULE, weight=0.7, clip_path=f"url(#{key})")


def _edges(sheet: Sheet, grid: list[list[int]], left: float, top: float, dx: float, dy: float) -> None:
    """Draw the lines between steps, heavier the higher the step they bound: the order can be read without any tint."""
    pieces: dict[int, list[str]] = {}
    rows, columns = len(grid), len(grid[0])
    for i in range(rows):
        for j in range(columns):
            here = grid[i][j]
            for di, dj in ((0, 1), (1, 0)):
                if i + di >= rows or j + dj >= columns:
                    continue
                there = grid[i + di][j + dj]
                if here < 0 or there < 0 or here == there:
                    continue
                x, y = left + (j + dj) * dx, top + (i + di) * dy
                pieces.setdefault(max(here, there), []).append(f"M{num(x)} {num(y)}{'v' + num(dy) if dj else 'h' + num(dx)}")
    for step in sorted(pieces):
        sheet.path("".join(pieces[step]), colour=INK, weight=_LINES[step])


def _degrees(value: float, step: float, positive: str, negative: str) -> str:
    value = (value + 180.0) % 360.0 - 180.0 if positive == "E" and abs(value) > 180.0 else value
    digits = max(0, min(4, -math.floor(math.log10(step) + 1e-9)))
    if round(abs(value), digits) == 0:
        return "0°"
    return f"{abs(value):.{digits}f}° {positive if value > 0 else negative}"


def _frame(sheet: Sheet, west: float, south: float, east: float, north: float, left: float, top: float, right: float, bottom: float, size: float) -> None:
    step = nice_step(east - west, max(2, int((right - left) / (size * 8))))
    for k in range(math.ceil(west / step - 1e-9), math.floor(east / step + 1e-9) + 1):
        x = left + (right - left) * (k * step - west) / (east - west)
        sheet.line(x, bottom, x, bottom + 4, colour=INK)
        sheet.text(min(max(x, left + size * 2), right - size), bottom + size * 1.4, _degrees(k * step, step, "E", "W"), size * 0.9, anchor="middle", colour=MUTED)
    step = nice_step(north - south, max(2, int((bottom - top) / (size * 4))))
    for k in range(math.ceil(south / step - 1e-9), math.floor(north / step + 1e-9) + 1):
        y = bottom - (bottom - top) * (k * step - south) / (north - south)
        sheet.line(left - 4, y, left, y, colour=INK)
        sheet.text(left - 6, y + size * 0.3, _degrees(k * step, step, "N", "S"), size * 0.9, anchor="end", colour=MUTED)


def _bar(sheet: Sheet, left: float, y: float, right: float, scale: float, size: float, units: str) -> None:
    """Draw the scale bar, true at the middle latitude, and which way is north."""
    unit, metres = ("km", 1000.0) if units == "metric" else ("mi", 1609.344)
    whole = (right - left) / scale * _DEGREE / metres
    step = nice_step(whole * 0.2, 2)
    length = step * metres / _DEGREE * scale
    for k in range(2):
        sheet.rect(left + k * length, y, length, size * 0.5, fill=INK if k == 0 else PAPER, colour=INK, weight=0.8)
    for k in range(3):
        sheet.text(left + k * length, y + size * 1.5, f"{k * step:g}" + (f" {unit}" if k == 2 else ""), size * 0.9, anchor="middle" if k else "start", colour=INK)
    x = right - size
    sheet.path(f"M{num(x)} {num(y - size * 0.4)}l{num(size * 0.45)} {num(size * 1.5)}h{num(-size * 0.9)}z", fill=INK)
    sheet.text(x - size * 0.9, y + size * 0.9, "north", size * 0.9, anchor="end", colour=MUTED)


def _legend(sheet: Sheet, left: float, y: float, width: float, size: float, across: int, bores: bool) -> None:
    words = ["under 2 in 10", "2 to 4", "4 to 6", "6 to 8", "over 8 in 10"]
    left = min(left, size)
    room = (width - left - size) / across
    wide = size * 2.0
    first = y
    for k, text in enumerate(words):
        x, y = left + k % across * room, first + k // across * size * 1.8
        sheet.rect(x, y - size * 0.9, wide, size * 1.1, fill=TINTS[k], colour=INK, weight=max(_LINES[k], 0.5))
        sheet.text(x + wide + 3, y, text, size * 0.85)
    x = left + 5 % across * room
    sheet.rect(x, y - size * 0.9, wide, size * 1.1, fill="#efe9dc", colour=RULE)
    sheet.path(f"M{num(x)} {num(y + size * 0.2)}l{num(size * 1.1)} {num(-size * 1.1)}", colour=RULE, weight=0.8)
    sheet.text(x + wide + 3, y, "no figure", size * 0.85)
    if bores:
        for x, text, fill in ((left, "bore with water", INK), (left + room, "dry bore", PAPER)):
            sheet.add("circle", cx=float(x + size * 0.4), cy=float(y + size * 1.45), r=float(size * 0.3), fill=fill, stroke=INK, stroke_width=0.8)
            sheet.text(x + size * 1.1, y + size * 1.75, text, size * 0.85)


def picture(svg: str, *, width: float = 1600.0) -> bytes:
    """Return a drawing made for paper as a PNG so many pixels wide."""
    import tempfile
    from pathlib import Path

    import typst

    from borewright.drawing.text import font_folder

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "map.svg").write_text(svg, encoding="utf-8")
        page = Path(folder) / "page.typ"
        page.write_text('#set page(width: 360pt, height: auto, margin: 0pt)\n#image("map.svg", width: 100%)\n', encoding="utf-8")
        fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(font_folder())])
        return typst.compile(str(page), font_paths=fonts, format="png", ppi=72.0 * width / 360.0)
