"""Steps of a scale, depths as they are written, and the name of a system of units: shared by the section, the charts and the papers."""

from __future__ import annotations

import math

from borewright.errors import BadInput
from borewright.quantities import from_si, show, shown_unit

__all__ = ["depth_words", "nice_step", "slot_words", "unit_system"]


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


def slot_words(width: float, units: str) -> str:
    """Return the width of a slot [m] as the trade says it: millimetres, or inches to the thousandth (slot sizes are counted in thousandths)."""
    return show(width, "length", unit="mm", digits=3) if units == "metric" else f"{width / 0.0254:.3f} in"


def unit_system(units: str) -> str:
    """Return the name that `borewright.quantities` gives a system of units, however it is written; raise BadInput for another."""
    for name in ("metric", "US", "imperial"):
        if units.lower() == name.lower():
            return name
    raise BadInput("units", units, "is not a system of units", "metric, US or imperial")
