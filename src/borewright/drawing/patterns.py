"""The ground patterns of the public FGDC standard, as tiles that a drawing repeats; the driller's own words choose among them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from borewright.ground import GROUND, classify, head_of

__all__ = ["Tile", "pattern_of", "tile"]

# Words that call for a more particular pattern than their class has. Last word found wins, as in `ground.classify`.
_FINER = {
    "sandy clay": "619", "silty clay": "619", "loess": "684", "clayey sand": "612", "silty sand": "612", "till": "681", "hardpan": "681",
    "boulder clay": "681", "marl": "623", "sandy limestone": "636", "chalk": "626", "dolomite": "642", "dolostone": "642", "chert": "649",
    "flint": "649", "gypsum": "667", "salt": "668", "greywacke": "654", "serpentinite": "710", "andesite": "722", "rhyolite": "722",
    "agglomerate": "715", "porphyry": "729", "quartz": "732", "quartzite": "702", "bentonite": "662",
}


_PIECE = re.compile(r'<path ([^>]*?) data-box="([^"]*)" d="([^"]*)"/>')


@dataclass(frozen=True, slots=True)
class Tile:
    """One repeating tile: its code in the standard, its size and origin in points, and the pieces it is cut into.

    Each piece is (style, (left, top, right, bottom) of all that it draws, path).
    """

    code: str
    width: float
    height: float
    left: float
    top: float
    pieces: tuple[tuple[str, tuple[float, ...], str], ...]

    def within(self, left: float, top: float, right: float, bottom: float, hidden: tuple[float, float] | None = None) -> tuple[int, ...]:
        """Return which pieces draw something inside a box of the tile, but for those that lie between two verticals."""
        return tuple(n for n, (_, (a, b, c, d), _) in enumerate(self.pieces)
                     if a < right and c > left and b < bottom and d > top and not (hidden and a > hidden[0] and c < hidden[1]))

    def paths(self, chosen: Sequence[int]) -> str:
        """Return pieces as SVG, one path for each style."""
        styles: dict[str, list[str]] = {}
        for n in chosen:
            style, _, d = self.pieces[n]
            styles.setdefault(style, []).append(d)
        return "".join(f'<path {style} d="{"".join(parts)}"/>' for style, parts in styles.items())


@lru_cache(maxsize=64)
def tile(code: str) -> Tile | None:
    """Return the tile of a code, or None where the set holds none."""
    path = Path(__file__).with_name("patterns") / f"{code}.svg"
    if not code.isdigit() or not path.is_file():
        return None
    text = path.read_text(encoding="ascii")
    left, top, width, height = map(float, re.search(r'viewBox="([^"]+)"', text)[1].split())
    return Tile(code, width, height, left, top, tuple((style, tuple(map(float, box.split())), d) for style, box, d in _PIECE.findall(text)))


@lru_cache(maxsize=1024)
def pattern_of(words: str, ground_class: str = "") -> tuple[str, str]:
    """Return (pattern code or "", tint) for a driller's words; a class that was chosen by hand decides when the words say nothing.

    A weathered or broken rock keeps the pattern of the rock it was, where the words name one, under its own tint.
    """
    ground = GROUND.get(ground_class) or classify(words)
    if ground is None:
        return "", "#efece6"
    text = f" {head_of(words)} "
    code = ground.pattern
    if ground.name == "weathered rock":
        parent = classify(re.sub(r"\b(saprolite|saprock|decomposed|rotten|weathered|regolith|gruss?)\b", " ", text))
        if parent and parent.name != "rock" and not parent.overburden:
            code = parent.pattern
    found = [(m.start(), name) for name in _FINER for m in re.finditer(rf"\b{re.escape(name)}\b", text)]
    if found and ground.name not in ("broken rock", "cavity"):
        finer = _FINER[max(found, key=lambda at: (at[0] + len(at[1]), len(at[1])))[1]]
        named = classify(max(found, key=lambda at: (at[0] + len(at[1]), len(at[1])))[1])
        if named is None or named.name == ground.name or ground.name == "weathered rock":
            code = finer
    return code, ground.tint
