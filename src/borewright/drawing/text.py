"""How wide a word is in the fonts that the drawings use, and how labels find room beside a depth scale."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

_BREAKS = re.compile(r"[ \t\r\n]+")  # a no-break space holds a figure and its unit together
__all__ = ["Label", "fit", "font_folder", "place", "width_of", "wrap"]

# Letters that the table does not hold (another script) are taken as one em, wider than any that it does.
_UNKNOWN = 1.0


def font_folder() -> Path:
    """Return the folder of the fonts bundled with the program (SIL Open Font License)."""
    return Path(__file__).with_name("fonts")


@lru_cache(maxsize=1)
def _advances() -> dict[str, dict[str, int]]:
    return json.loads((font_folder() / "advances.json").read_text(encoding="utf-8"))


@lru_cache(maxsize=8192)
def width_of(text: str, size: float, *, bold: bool = False, narrow: bool = True) -> float:
    """Return the length of a line of text, in the unit of its size."""
    table = _advances()[("BarlowCondensed-" if narrow else "Barlow-") + ("SemiBold" if bold else "Regular")]
    return sum(table.get(letter, _UNKNOWN * 1000) for letter in text) * size / 1000


def fit(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return the text, or as much of its beginning as there is room for with an ellipsis behind it."""
    if width_of(text, size, bold=bold) <= width:
        return text
    low, high = 0, len(text)  # the most letters whose beginning fits, found by halving
    while low < high:
        middle = (low + high + 1) // 2
        if width_of(text[:middle].rstrip() + "…", size, bold=bold) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def wrap(text: str, width: float, size: float, *, lines: int = 3, bold: bool = False) -> list[str]:
    """Return the text in at most so many lines no wider than `width`; what does not fit ends in an ellipsis."""
    words, rows = _BREAKS.split(text.strip()), [""]
    for index, word in enumerate(words):
        tried = f"{rows[-1]} {word}".strip()
        if not rows[-1] or width_of(tried, size, bold=bold) <= width:
            rows[-1] = tried
        elif len(rows) < lines:
            rows.append(word)
        else:
            rows[-1] = " ".join([rows[-1], *words[index:]])
            break
    return [fit(row, width, size, bold=bold) for row in rows]


@dataclass(slots=True)
class Label:
    """Words that belong to a depth: where they point, how dear they are (1 is dearest), and, once placed, their top."""

    depth: float
    y: float
    lines: list[str]
    priority: int
    kind: str
    size: float
    top: float = 0.0
    brief: str = ""
    bold: bool = False

    @property
    def height(self) -> float:
        """Height of the box with the air below it."""
        return self.size * (1.16 * len(self.lines) + 0.22)


def place(labels: Sequence[Label], top: float, bottom: float) -> tuple[list[Label], int]:
    """Return the labels with room found for each, in order of depth, and how many had to be left out.

    Labels stand as near to their depth as the others let them (least squares under no overlap, by pooling neighbours). Where
    the column is too short, long labels first become one line, then the least dear are left out, those that stand closest first.
    """
    kept = sorted(labels, key=lambda label: (label.y, label.priority))
    room = bottom - top
    tall = sum(label.height for label in kept)
    if tall > room:
        for label in sorted(kept, key=lambda label: (-label.priority, -len(label.lines))):
            if tall <= room:
                break
            if len(label.lines) > 1:
                tall -= label.height
                label.lines = [label.brief or label.lines[0]]
                tall += label.height
    left_out = 0
    tall = sum(label.height for label in kept)
    while kept and tall > room:
        tall -= kept.pop(_most_crowded(kept)).height
        left_out += 1
    blocks: list[list] = []  # [first label, past the last, wanted top, height]
    for index, label in enumerate(kept):
        blocks.append([index, index + 1, label.y - label.height / 2, label.height])
        _settle(blocks[-1], top, bottom)
        while len(blocks) > 1 and blocks[-2][2] + blocks[-2][3] > blocks[-1][2]:
            first, second = blocks[-2], blocks.pop()
            wanted, above = 0.0, 0.0
            for inner in kept[first[0]:second[1]]:
                wanted += inner.y - inner.height / 2 - above
                above += inner.height
            first[1], first[3] = second[1], first[3] + second[3]
            first[2] = wanted / (first[1] - first[0])
            _settle(first, top, bottom)
    for first, past, start, _ in blocks:
        for label in kept[first:past]:
            label.top = start
            start += label.height
    return kept, left_out


def _most_crowded(labels: Sequence[Label]) -> int:
    """Return which of the least dear labels has its neighbours nearest, so that what is left is spread over the depth; the lowest of equals."""
    least_dear = max(label.priority for label in labels)
    last = len(labels) - 1
    return min((n for n, label in enumerate(labels) if label.priority == least_dear), key=lambda n: (round(labels[min(n + 1, last)].y - labels[max(n - 1, 0)].y, 6) if 0 < n < last else float("inf"), -n))


def _settle(block: list, top: float, bottom: float) -> None:
    block[2] = max(top, min(block[2], bottom - block[3]))
