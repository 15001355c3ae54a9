"""Two charts of supply: what is lifted month by month, and a tank through a dry spell. Numbers in, SVG out."""

from __future__ import annotations

from collections.abc import Sequence

from borewright.drawing.charts import _Chart, _finite
from borewright.drawing.scales import unit_system
from borewright.drawing.svg import INK, MUTED, WATER
from borewright.errors import BadInput
from borewright.quantities import from_si, shown_unit

__all__ = ["month_chart", "tank_chart"]

_SHORT = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")


def month_chart(daily: Sequence[float], *, width: float, height: float, wanted: float | None = None, medium: str = "page", units: str = "metric") -> str:
    """Return twelve bars, the volume of a mean day of each month [m3], January first, and the volume wanted across them; a month that falls short is hollow."""
    if len(daily) != 12:
        raise BadInput("daily", len(daily), "does not hold twelve months", "twelve volumes, January first")
    unit = shown_unit("volume", unit_system(units))
    held = [from_si(v, "volume", unit) for v in _finite("daily", daily)]
    line = from_si(_finite("wanted", [wanted])[0], "volume", unit) if wanted is not None else None
    chart = _Chart(width, height, medium, "Water lifted in a day of each month", f"From {min(held):.4g} to {max(held):.4g} {unit} a day.", "month", f"{unit} a day", (held, line))
    chart.frame([0.0, 12.0], [0.0, *held, *([line] if line else [])])
    sheet, size = chart.sheet, chart.size
    # The months stand under their bars; the numbers of the scale beneath are covered by them.
    sheet.rect(chart.left - 3.0, chart.bottom + size * 0.42, chart.right - chart.left + size, size * 1.1, fill="#ffffff")
    step = (chart.right - chart.left) / 12
    for month, value in enumerate(held):
        x, top = chart.left + month * step, chart.y.at(value)
        short = line is not None and value < line * (1 - 1e-9)
        sheet.rect(x + step * 0.16, top, step * 0.68, chart.bottom - top, fill="#ffffff" if short else "#8fa5a8", colour=INK, weight=0.8, stroke_dasharray="3 2" if short else None)
        sheet.text(x + step / 2, chart.bottom + size * 1.25, _SHORT[month], size, anchor="middle", colour=MUTED)
    if line:
        chart.mark(y=line, words="wanted")
    return chart.done()


def tank_chart(stored: Sequence[float], *, width: float, height: float, tried: Sequence[float] = (), medium: str = "page", units: str = "metric") -> str:
    """Return the water in a tank [m3] at the end of each day of a dry spell, the first at its start, and in another tank beside it."""
    if len(stored) < 2 or (tried and len(tried) != len(stored)):
        raise BadInput("stored", len(stored), "is not a spell of days", "a volume for the start and for the end of each day, the same number for each tank")
    unit = shown_unit("volume", unit_system(units))
    first, other = ([from_si(v, "volume", unit) for v in _finite(field, values)] for field, values in (("stored", stored), ("tried", tried)))
    chart = _Chart(width, height, medium, "The tank through the dry spell", f"It holds {min(first):.4g} {unit} at the least.", "days of the spell", f"{unit} in the tank", (first, other))
    chart.frame([0.0, float(len(first) - 1)], [0.0, *first, *other], zero_x=True)
    chart.line(list(enumerate(first)), "tank advised")
    if other:
        chart.line(list(enumerate(other)), "tank tried", dash="5 3", colour=WATER)
    return chart.done()
