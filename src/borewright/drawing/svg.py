"""A sheet to draw on: numbers rounded once, words escaped once."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape, unescape

from borewright.drawing.patterns import Tile, tile
from borewright.drawing.text import width_of

__all__ = ["INK", "MUTED", "PAPER", "RULE", "WATER", "Lettered", "Sheet", "lettered", "num"]

INK, MUTED, RULE, WATER, PAPER = "#17262b", "#4a585d", "#93a0a4", "#0b5c8f", "#ffffff"
# What XML cannot hold, whatever a person managed to type.
_CONTROL = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# A page names the condensed cut as a family of its own; a PDF finds it as a width of the one family.
_FONTS = {
    ("page", True): "font-family=\"'Barlow Condensed','Arial Narrow','Roboto Condensed',sans-serif\"", ("page", False): "font-family=\"Barlow,'Segoe UI',Arial,sans-serif\"",
    ("paper", True): 'font-family="Barlow" font-stretch="condensed"', ("paper", False): 'font-family="Barlow"',
}


def num(value: float) -> str:
    """Return a coordinate to a hundredth, without needless zeros."""
    text = f"{value:.2f}"
    if text[-1] == "0":
        text = text[:-1].removesuffix("0").removesuffix(".")
        return "0" if text == "-0" else text
    if not text[-1].isdigit():
        raise ValueError(f"a drawing cannot hold {value}")
    return text


def _attributes(given: dict) -> str:
    return "".join([f' {_NAMES.get(name) or _name(name)}="{num(v) if isinstance(v, float) else escape(str(v))}"' for name, v in given.items() if v is not None])


# Attributes by the name of the argument that gives them.
_NAMES: dict[str, str] = {}


def _name(argument: str) -> str:
    return _NAMES.setdefault(argument, argument.rstrip("_").replace("_", "-"))


class Sheet:
    """Collects shapes and words in order and gives them as one SVG text."""

    def __init__(self, width: float, height: float, *, medium: str, name: str, title: str, described: str):
        self.width, self.height, self.medium, self.name = float(width), float(height), medium, name
        self.title, self.described = _CONTROL.sub(" ", title), _CONTROL.sub(" ", described)
        self.parts: list[str] = []
        self._defs: dict[str, str] = {}
        self._tiles: dict[tuple[str, tuple[int, ...]], str] = {}
        self.root: dict[str, object] = {}

    def add(self, tag: str, **attributes) -> None:
        """Add one shape; an attribute's `_` is written `-`, None is left away."""
        self.parts.append(f"<{tag}{_attributes(attributes)}/>")

    def open(self, **attributes) -> None:
        """Open a group."""
        self.parts.append(f"<g{_attributes(attributes)}>")

    def close(self) -> None:
        """Close the group opened last."""
        self.parts.append("</g>")

    def line(self, x1: float, y1: float, x2: float, y2: float, *, colour: str = INK, weight: float = 0.7, dash: str | None = None, **more) -> None:
        """Add a straight line."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<line x1="{num(x1)}" y1="{num(y1)}" x2="{num(x2)}" y2="{num(y2)}" stroke="{colour}" stroke-width="{num(weight)}"{dashed}{_attributes(more) if more else ""}/>')

    def rect(self, x: float, y: float, width: float, height: float, *, fill: str = "none", colour: str | None = None, weight: float = 0.7, **more) -> None:
        """Add a rectangle; nothing when it has no area."""
        if width > 0 and height > 0:
            self.add("rect", x=float(x), y=float(y), width=float(width), height=float(height), fill=fill, stroke=colour,
                     stroke_width=float(weight) if colour else None, **more)

    def path(self, d: str, *, fill: str = "none", colour: str | None = None, weight: float = 0.7, **more) -> None:
        """Add a path."""
        self.add("path", d=d, fill=fill, stroke=colour, stroke_width=float(weight) if colour else None, **more)

    def curve(self, points: Iterable[tuple[float, float]], *, colour: str = INK, weight: float = 1.2, dash: str | None = None, **more) -> None:
        """Add an open line through points."""
        d = "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points)
        if "L" in d:
            self.path(d, colour=colour, weight=weight, stroke_dasharray=dash, stroke_linejoin="round", **more)

    def text(self, x: float, y: float, words: str, size: float, *, anchor: str = "start", bold: bool = False, colour: str = INK, narrow: bool = True,
             italic: bool = False) -> None:
        """Add one line of words whose foot stands at y; on a page its length is fixed so that another font cannot overrun it."""
        words = _CONTROL.sub(" ", words)
        if not words.strip():
            return
        size = round(size, 2)
        length = width_of(words, size, bold=bold, narrow=narrow)
        tied = f' textLength="{num(length)}" lengthAdjust="spacingAndGlyphs"' if self.medium == "page" else ""
        extra = (' font-weight="600"' if bold else "") + (' font-style="italic"' if italic else "")
        self.parts.append(f'<text x="{num(x)}" y="{num(y)}" {_FONTS[self.medium, narrow]} font-size="{num(size)}" text-anchor="{anchor}" fill="{colour}"{extra}{tied}>'
                          f"{escape(words, quote=False)}</text>")

    def clip(self, d: str) -> str:
        """Return the id of a clip that lets only the inside of a path through."""
        key = f"{self.name}-c{len(self._defs)}"
        self._defs[key] = f'<clipPath id="{key}"><path d="{d}"/></clipPath>'
        return key

    def ground(self, d: str, box: Sequence[float], code: str, tint: str, *, scale: float = 0.85, opacity: float = 1.0,
               hidden: tuple[float, float] | None = None, **more) -> None:
        """Fill a path with a tint and a ground pattern; `box` is (left, top, right, bottom) of the path.

        On paper, what of the pattern lies outside the box or between the two verticals that are `hidden` is left out.

        The tile is repeated by hand rather than by an SVG pattern: printers show seams between the cells of a pattern. It is
        set so that whole tiles fill the width, and from the top of the path where more than one stands above another.
        """
        self.path(d, fill=tint, fill_opacity=None if opacity == 1 else opacity, **more)
        found = tile(code)
        left, top, right, bottom = box
        if found is None or right <= left or bottom <= top:
            return
        columns = max(1, round((right - left) / (found.width * scale)))
        across = (right - left) / (columns * found.width)
        # A width far from whole tiles is not stretched: the marks of a pattern keep their size.
        if not 0.85 <= across / scale <= 1.18:
            across, columns = scale, math.ceil((right - left) / (found.width * scale))
        step_x, step_y = found.width * across, found.height * across
        first = math.floor(top / step_y) * step_y
        if first + step_y < bottom:
            first = top
        self.open(clip_path=f"url(#{self.clip(d)})", opacity=None if opacity == 1 else opacity, pointer_events="none")
        for row in range(math.ceil((bottom - first) / step_y - 1e-9)):
            for column in range(columns):
                x, y = left + column * step_x - found.left * across, first + row * step_y - found.top * across
                chosen = tuple(range(len(found.pieces)))
                if self.medium == "paper":
                    chosen = found.within((left - x) / across, (top - y) / across, (right - x) / across, (bottom - y) / across,
                                          hidden and ((hidden[0] - x) / across, (hidden[1] - x) / across))
                self.parts.append(f'<use href="#{self._tile(found, chosen)}" transform="translate({num(x)} {num(y)}) scale({across:.4g})"/>')
        self.close()

    def _tile(self, found: Tile, chosen: tuple[int, ...]) -> str:
        """Return the id of some pieces of a tile."""
        key = self._tiles.setdefault((found.code, chosen), f"{self.name}-t{found.code}-{len(self._tiles)}")
        if key not in self._defs:
            self._defs[key] = f'<g id="{key}">{found.paths(chosen)}</g>'
        return key

    def __str__(self) -> str:
        """The whole drawing as SVG text, with its title and description for a screen reader."""
        size = f' width="{num(self.width)}" height="{num(self.height)}"' if self.medium == "paper" else ' width="100%"'
        defs = f"<defs>{''.join(self._defs.values())}</defs>" if self._defs else ""
        return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {num(self.width)} {num(self.height)}"{size} role="img" '
                f'aria-labelledby="{self.name}-title {self.name}-desc"{_attributes(self.root)}><title id="{self.name}-title">{escape(self.title, quote=False)}</title>'
                f'<desc id="{self.name}-desc">{escape(self.described, quote=False)}</desc>{defs}{"".join(self.parts)}</svg>')


@dataclass(frozen=True, slots=True)
class Lettered:
    """A drawing for paper taken apart: its shapes as SVG, its size [pt], and its words.

    Each word is (x, y of its foot, anchor, size, colour, narrow, bold, italic, text).
    """

    shapes: str
    width: float
    height: float
    words: tuple[tuple[float, float, str, float, str, bool, bool, bool, str], ...]


# What `Sheet.text` writes on paper.
_WORDS = re.compile(r'<text x="([^"]*)" y="([^"]*)" font-family="Barlow"( font-stretch="condensed")? font-size="([^"]*)" text-anchor="(\w+)" fill="([^"]*)"'
                    r'( font-weight="600")?( font-style="italic")?>([^<]*)</text>')
_WHITE = re.compile("[ \t\r\n]+")  # as a reader of SVG takes it; a no-break space is a letter
_SIZE = re.compile(r'<svg [^>]*? width="([\d.]+)" height="([\d.]+)"')


@lru_cache(maxsize=64)
def lettered(svg: str) -> Lettered:
    """Return a drawing that a `Sheet` made for paper with its words apart, for a setter of type that sets words as words.

    A PDF made of the drawing as it is places each letter on its own, which is most of what such a file says and of the time it takes.
    """
    words = tuple((float(x), float(y), anchor, float(size), colour, bool(narrow), bool(bold), bool(italic), _WHITE.sub(" ", unescape(text)).strip(" "))
                  for x, y, narrow, size, anchor, colour, bold, italic, text in _WORDS.findall(svg))
    width, height = _SIZE.match(svg).groups()
    return Lettered(_WORDS.sub("", svg), float(width), float(height), words)
