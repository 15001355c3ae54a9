"""Readings of a bore over the years, with the line of their trend and a level not to cross."""

from __future__ import annotations

from collections.abc import Sequence

from borewright.drawing.charts import _Chart, _paired
from borewright.drawing.scales import unit_system
from borewright.errors import BadInput
from borewright.quantities import from_si, shown_unit

__all__ = ["years_chart"]


def years_chart(
    years: Sequence[float], values: Sequence[float], *, name: str, kind: str, width: float, height: float, line: tuple[float, float] | None = None,
    limit: float | None = None, limit_name: str = "limit", down: bool = False, medium: str = "page", units: str = "metric",
) -> str:
    """Return readings against the year as SVG.

    Parameters
    ----------
    years : sequence of float
        When, as 2026.5 for the middle of 2026.
    values : sequence of float
        Readings in SI of a quantity `kind`.
    line : tuple of two floats, optional
        The trend's value at the first and at the last reading.
    limit : float, optional
        Drawn across, in the same unit.
    down : bool
        Whether larger values stand lower, as depths do.
    """
    if not len(years):
        raise BadInput("years", 0, "holds no reading to draw", "one or more")
    unit = shown_unit(kind, unit_system(units))
    points = sorted((t, from_si(v, kind, unit)) for t, v in _paired("years", years, "values", values))
    ends = [from_si(v, kind, unit) for v in line] if line else []
    bar = from_si(limit, kind, unit) if limit is not None else None
    chart = _Chart(width, height, medium, name, f"{len(points)} readings from {points[0][0]:.1f} to {points[-1][0]:.1f}.", "year", f"{name}, {unit}", (points, ends, bar))
    first, last = points[0][0], points[-1][0]
    pad = max(0.1, 0.05 * (last - first))
    chart.frame([first - pad, last + pad], [p[1] for p in points] + ends + ([bar] if bar is not None else []), down=down, zero=False)
    if ends and last > first:
        chart.line([(first, ends[0]), (last, ends[1])], "trend", dash="6 3")
    chart.dots(points, "read")
    if bar is not None:
        chart.mark(y=bar, words=limit_name)
    return chart.done()
