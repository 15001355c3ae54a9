"""The charts of a bore's design: the grading of ground and pack, and pressure against resistance down a string. Plain numbers in, SVG out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.drawing.charts import BAND, _Chart, _finite, _paired
from borewright.drawing.scales import unit_system
from borewright.drawing.svg import INK, RULE, num
from borewright.errors import BadInput
from borewright.quantities import from_si, shown_unit

__all__ = ["grading_chart", "strength_chart"]


def grading_chart(
    samples: Sequence[tuple[Sequence[float], Sequence[float]]], envelope: Sequence[tuple[float, float, float]] = (), *, width: float, height: float,
    aperture: float | None = None, medium: str = "page",
) -> str:
    """Return the sieve curves of the ground with the envelope of its filter pack.

    Parameters
    ----------
    samples : sequence of (sizes, passing)
        Sieve openings [m] and the share by mass that passes each [-].
    envelope : sequence of (share finer, finest size, coarsest size)
        Between which the pack must lie [-, m, m].
    width, height : float
        Pixels on a page, points on paper.
    aperture : float, optional
        Width of the slot [m].

    Raises
    ------
    BadInput
        No curve, a size that is not above zero, a share outside 0 to 1, a number that is not finite.
    """
    curves = [sorted(_paired("sizes", sizes, "passing", passing)) for sizes, passing in samples]
    if not any(curves):
        raise BadInput("samples", len(samples), "hold no sieve curve", "at least one")
    rows = sorted((share, *sorted((fine, coarse))) for share, fine, coarse in zip(*(_finite("envelope", v) for v in zip(*envelope, strict=True)), strict=True)) if envelope else []
    spread = [*(p for curve in curves for p in curve), *((size, share) for share, *sizes in rows for size in sizes), *([(aperture, 0.0)] if aperture is not None else [])]
    for size, share in spread:
        if size <= 0 or not 0 <= share <= 1:
            raise BadInput("samples", (size, share), "is not a grain size and a share finer", "a size above zero [m] and a share from 0 to 1")
    chart = _Chart(width, height, medium, "Grading", "Share finer by grain size: the ground and its filter pack.", "grain size, mm", "finer, %", (curves, rows, aperture))
    chart.frame([1000 * size for size, _ in spread], [0.0, 100.0], log_x=True)
    if rows:
        edge = [(fine, share) for share, fine, _ in rows] + [(coarse, share) for share, _, coarse in reversed(rows)]
        chart.sheet.path("M" + "L".join(f"{num(chart.x.at(1000 * size))} {num(chart.y.at(100 * share))}" for size, share in edge) + "Z", fill=BAND, colour=RULE, weight=0.8)
        chart.legend.append(("filter pack", "band", ""))
    for place, curve in enumerate(curves):
        points = [(1000 * size, 100 * share) for size, share in curve]
        chart.line(points, "" if place else "ground", dash=(None, "6 3", "2 3", "9 3 2 3")[place % 4])
        chart.dots(points)
    if aperture is not None:
        chart.mark(x=1000 * aperture, words="slot")
    return chart.done()


STRESSES = ("hanging", "standing")  # along the pipe and not across it: another scale


def strength_chart(profiles: Sequence[Mapping[str, Any]], string: str, *, width: float, height: float, medium: str = "page", units: str = "metric") -> str:
    """Return pressure and resistance against depth for one string, at the stage that comes nearest to failing it.

    Parameters
    ----------
    profiles : sequence of mapping
        From `construction.profiles_as_dict`.
    string : str
        Which string.

    Raises
    ------
    BadInput
        No profile of the string.
    """
    mine = [p for p in profiles if p["string"] == string and p["stage"] not in STRESSES and any(q > 0 for q in p["pressure"])]
    if not mine:
        raise BadInput("string", string, "has no stage that presses on it", "a string of the design")
    worst = min(mine, key=lambda p: min(p["factor"]) / p["required"])
    units = unit_system(units)
    deep, press = shown_unit("depth", units), shown_unit("pressure", units)
    depth = [from_si(d, "depth", deep) for d in _finite("depth", worst["depth"])]
    pressure = [from_si(p, "pressure", press) for p in _finite("pressure", worst["pressure"])]
    resistance = [from_si(p, "pressure", press) for p in _finite("resistance", worst["resistance"])]
    asked = [p * worst["required"] for p in pressure]
    chart = _Chart(width, height, medium, f"{string}: {worst['stage']}", f"Pressure and resistance by depth while {worst['stage']}, the {string}.",
                   f"{string}, {worst['stage']}: pressure, {press}", f"depth, {deep}", worst)
    chart.frame([0.0, *asked, *resistance], depth, down=True, zero_x=True)
    chart.line(list(zip(resistance, depth, strict=True)), "resists", weight=2.4)
    chart.line(list(zip(asked, depth, strict=True)), f"pressure × {worst['required']:g}", dash="6 3")
    chart.line(list(zip(pressure, depth, strict=True)), "pressure", colour=INK, weight=1.0)
    return chart.done()
