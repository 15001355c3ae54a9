"""Where a water lies on the usual diagrams, as plain numbers: trilinear, radial, parallel lines, and the name of its kind. Drawing is elsewhere."""

from __future__ import annotations

import math
from typing import Any

from borewright.errors import OutOfDomain
from borewright.water.analysis import Analysis, _meq, alkalinity
from borewright.water.species import CACO3_EQUIVALENT

__all__ = ["diagram_data", "equivalents", "parallel_points", "radial_points", "trilinear_points", "water_type"]

_CATIONS = ("calcium", "magnesium", "sodium and potassium")
_ANIONS = ("bicarbonate", "sulfate", "chloride")


def equivalents(sample: Analysis) -> dict[str, float] | None:
    """Return the six groups of the diagrams in meq/L; None where a major ion was not tested."""
    if not {"calcium", "magnesium", "sodium", "chloride", "sulfate"} <= set(sample.results):
        return None
    if "bicarbonate" in sample.results:
        bicarbonate = _meq(sample, "bicarbonate") + _meq(sample, "carbonate")
    else:
        base = alkalinity(sample)
        if base is None:
            return None
        bicarbonate = base / CACO3_EQUIVALENT
    return {
        "calcium": _meq(sample, "calcium"), "magnesium": _meq(sample, "magnesium"), "sodium and potassium": _meq(sample, "sodium") + _meq(sample, "potassium"),
        "bicarbonate": bicarbonate, "sulfate": _meq(sample, "sulfate"), "chloride": _meq(sample, "chloride"),
    }


def _shares(groups: dict[str, float], names: tuple[str, ...]) -> tuple[float, ...]:
    total = sum(groups[n] for n in names)
    if total <= 0:
        raise OutOfDomain("analysis", 0.0, "holds no " + " or ".join(names), "concentrations above zero")
    return tuple(groups[n] / total for n in names)


def trilinear_points(groups: dict[str, float], *, side: float = 100.0, gap: float = 20.0) -> dict[str, tuple[float, float]]:
    """Return the points of a water in the cation triangle, the anion triangle and the diamond.

    Parameters
    ----------
    groups : dict
        From `equivalents` [meq/L].
    side, gap : float
        Of each triangle and between them, in any unit; the cation triangle stands at the origin.

    Notes
    -----
    Corners: cations calcium (0, 0), sodium and potassium (side, 0), magnesium above; anions bicarbonate, chloride, sulfate above. The diamond
    point is where the lines at +60 degrees through the one and -60 through the other cross.

    References
    ----------
    .. [1] Piper, A.M. (1944) Trans. American Geophysical Union 25:914-928; geometry from memory.
    """
    _, magnesium, sodium = _shares(groups, _CATIONS)
    _, sulfate, chloride = _shares(groups, _ANIONS)
    height = math.sqrt(3) / 2
    xl, yl = side * (sodium + magnesium / 2), side * height * magnesium
    xr, yr = side + gap + side * (chloride + sulfate / 2), side * height * sulfate
    return {"cations": (xl, yl), "anions": (xr, yr), "diamond": ((xl + xr) / 2 + (yr - yl) / (2 * math.sqrt(3)), (yl + yr) / 2 + (xr - xl) * math.sqrt(3) / 2)}


def radial_points(groups: dict[str, float]) -> list[tuple[str, float, float, float]]:
    """Return (group, angle [deg, clockwise from the top], x, y) of a six-spoked diagram in meq/L, cations right, anions left."""
    spokes = []
    for i, name in enumerate((*_CATIONS, *reversed(_ANIONS))):
        angle = 30.0 + 60.0 * i
        spokes.append((name, angle, groups[name] * math.sin(math.radians(angle)), groups[name] * math.cos(math.radians(angle))))
    return spokes


def parallel_points(groups: dict[str, float]) -> list[tuple[str, float, int]]:
    """Return (group, signed meq/L, row) of a polygon on three rows, cations to the left (minus), anions to the right.

    References
    ----------
    .. [1] Stiff, H.A. (1951) J. Petroleum Technology 3(10):15-17, from memory: left sodium and potassium, calcium, magnesium; right chloride,
       bicarbonate, sulfate, from the top.
    """
    left, right = ("sodium and potassium", "calcium", "magnesium"), ("chloride", "bicarbonate", "sulfate")
    return [(name, -groups[name], row) for row, name in enumerate(left)] + [(name, groups[name], row) for row, name in reversed(list(enumerate(right)))]


def water_type(groups: dict[str, float]) -> str:
    """Return the kind of water by the ion over half of each side, or "mixed" (Back 1961, from memory)."""

    def over_half(names: tuple[str, ...]) -> str:
        shares = _shares(groups, names)
        largest = max(range(3), key=lambda i: shares[i])
        return names[largest] if shares[largest] > 0.5 else "mixed"

    return f"{over_half(_CATIONS)}, {over_half(_ANIONS)}"


def diagram_data(sample: Analysis) -> dict[str, Any] | None:
    """Return all diagrams of an analysis as plain JSON types; None where a major ion was not tested."""
    groups = equivalents(sample)
    if groups is None or sum(groups[n] for n in _CATIONS) <= 0 or sum(groups[n] for n in _ANIONS) <= 0:
        return None
    return {
        "meq_per_l": groups, "type": water_type(groups),
        "trilinear": {name: list(point) for name, point in trilinear_points(groups).items()},
        "radial": [{"group": n, "angle": a, "x": x, "y": y} for n, a, x, y in radial_points(groups)],
        "parallel": [{"group": n, "meq_per_l": v, "row": r} for n, v, r in parallel_points(groups)],
    }
