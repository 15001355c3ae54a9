"""Pipe as it is bought: material, outside diameter and class to the bore inside it; fittings as they are typed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from borewright.errors import BadInput, require_positive
from borewright.pumping.pipes import FITTINGS, Pipe

__all__ = ["PIPE_MATERIALS", "PipeMaterial", "pipe_of", "pipe_wall", "read_fittings"]


@dataclass(frozen=True, slots=True)
class PipeMaterial:
    """Roughness [m], Hazen-Williams coefficient [-], modulus of the wall [Pa] and, for plastic, its design stress in small and large sizes [Pa]."""

    roughness: float
    hazen_williams: float
    modulus: float
    stress: float | None = None
    stress_large: float | None = None


# Roughness and moduli: common practice. Design stress: polyethylene 100 8 MPa; PVC-U 10 MPa to 90 mm and 12.5 MPa above (ISO 4427, ISO 1452; from memory).
PIPE_MATERIALS: dict[str, PipeMaterial] = {
    "polyethylene": PipeMaterial(1.5e-6, 150.0, 0.8e9, 8.0e6),
    "PVC-U": PipeMaterial(1.5e-6, 150.0, 2.8e9, 10.0e6, 12.5e6),
    "steel": PipeMaterial(4.5e-5, 135.0, 2.0e11),
    "galvanised steel": PipeMaterial(1.5e-4, 120.0, 2.0e11),
}


def _material(name: str) -> PipeMaterial:
    if name not in PIPE_MATERIALS:
        raise BadInput("material", name, "is not a pipe material in the list", "one of " + ", ".join(PIPE_MATERIALS))
    return PIPE_MATERIALS[name]


def pipe_wall(outside_diameter: float, *, material: str, pressure_class: float | None) -> float:
    """Return the wall of a plastic pipe from its class [m], rounded up to a tenth of a millimetre.

    Parameters
    ----------
    outside_diameter : float
        [m].
    pressure_class : float or None
        Gauge [Pa].

    Raises
    ------
    BadInput
        Steel, whose wall does not follow from a class, or no class.

    Notes
    -----
    e = d / (2 S + 1) with S = design stress / class.

    References
    ----------
    .. [1] ISO 4065, Thermoplastics pipes: universal wall thickness table; from memory.
    """
    require_positive(outside_diameter=outside_diameter)
    what = _material(material)
    if what.stress is None or pressure_class is None:
        raise BadInput("wall", None, "is not known from the size" if what.stress is None else "is not known without the class", "the thickness of the pipe's wall, such as 3.2 mm")
    require_positive(pressure_class=pressure_class)
    stress = what.stress_large if what.stress_large is not None and outside_diameter > 0.0905 else what.stress
    wall = outside_diameter / (2 * stress / pressure_class + 1)
    return math.ceil(round(wall * 1e4, 6)) / 1e4


def pipe_of(
    name: str, *, material: str, outside_diameter: float, length: float, pressure_class: float | None = None, wall: float | None = None,
    fittings: Mapping[str, int] | None = None,
) -> Pipe:
    """Return a run of pipe from what is printed on it; without a wall, that of its class.

    Raises
    ------
    BadInput
        An unknown material or fitting, no wall to be had, or a wall that leaves no bore.
    """
    what = _material(material)
    thick = pipe_wall(outside_diameter, material=material, pressure_class=pressure_class) if wall is None else wall
    require_positive(wall=thick, outside_diameter=outside_diameter)
    inside = outside_diameter - 2 * thick
    if inside <= 0.2 * outside_diameter:
        raise BadInput("wall", thick, "leaves no bore in the pipe", f"well under half of {outside_diameter * 1000:g} mm")
    return Pipe(name, length, inside, roughness=what.roughness, hazen_williams=what.hazen_williams, pressure_class=pressure_class, fittings=dict(fittings or {}))


def read_fittings(text: str) -> dict[str, int]:
    """Return fittings counted by name from words such as "check valve 1, elbow 90 x 2"; a name alone counts one.

    Raises
    ------
    BadInput
        A name that is not in `FITTINGS`, or a count that is not whole.
    """
    found: dict[str, int] = {}
    for part in re.split(r"[,;\n]", text):
        words = " ".join(part.lower().split())
        if not words:
            continue
        name, count = (words, "1")
        if name not in FITTINGS:
            before = re.fullmatch(r"(\d+)\s*x?\s+(.+)", words)
            after = re.fullmatch(r"(.+?)\s*x?\s+(\d+)", words)
            if after and after.group(1) in FITTINGS:
                name, count = after.groups()
            elif before and before.group(2) in FITTINGS:
                count, name = before.groups()
            else:
                raise BadInput("fittings", part.strip(), "is not a fitting in the list", 'such as "check valve 1, elbow 90 2"; one of ' + ", ".join(FITTINGS))
        if int(count) > 200:
            raise BadInput("fittings", part.strip(), "is more than a run of pipe holds", "a count up to 200")
        found[name] = found.get(name, 0) + int(count)
    return found
