"""Bentonite seals of chips and pellets: how much, whether it swells shut, how long it takes to fall and to take up water."""

from __future__ import annotations

import math
from dataclasses import dataclass

from borewright.construction.grout import annulus_volume
from borewright.errors import Advisory, BadInput, require_non_negative, require_positive

__all__ = ["FILLS", "SealJob", "seal_pellets"]

POUND_PER_CUBIC_FOOT = 16.018463


@dataclass(frozen=True, slots=True)
class Fill:
    """A dry fill: bulk density as poured, density of one grain, volume swollen over dry volume, largest grain [kg/m3, kg/m3, -, m]."""

    bulk_density: float
    grain_density: float
    swelling: float
    grain: float
    source: str


FILLS = {
    "coarse chips": Fill(71 * POUND_PER_CUBIC_FOOT, 2150.0, 3.0, 0.019, "71 lb/ft3, supplier bulletin (read); grain and swelling from memory"),
    "medium chips": Fill(74 * POUND_PER_CUBIC_FOOT, 2150.0, 3.0, 0.0095, "74 lb/ft3, supplier bulletin (read); grain and swelling from memory"),
    "pellets": Fill(1150.0, 2000.0, 2.5, 0.0095, "common practice, no source: use the supplier's figures"),
    "sand": Fill(100 * POUND_PER_CUBIC_FOOT, 2650.0, 1.0, 0.002, "100 lb/ft3, supplier bulletin (read)"),
}
FALL_SPEED = 0.3  # m/s in still water; common practice, no source
SALTY = 1500.0  # uS/cm; above it bentonite swells less; common practice, no source
# Minutes to soften through, by grain; common practice, no source.
WETTING = {"coarse chips": 3600.0, "medium chips": 2700.0, "pellets": 3600.0, "sand": 0.0}


@dataclass(frozen=True, slots=True)
class SealJob:
    """A dry seal: volume [m3], mass [kg], whole bags, dry voids [-], swelling needed and offered [-], fall and wetting times [s]."""

    volume: float
    mass: float
    bags: int
    bag_mass: float
    voids: float
    swelling_needed: float
    swelling_offered: float
    swollen_density: float
    fall_time: float
    wetting_time: float
    source: str
    advisories: tuple[Advisory, ...]


def seal_pellets(
    *, hole_diameter: float, casing_diameter: float, length: float, kind: str = "medium chips", extra: float = 0.1, bag_mass: float = 20.0,
    depth: float | None = None, water_level: float | None = None, conductivity: float | None = None,
) -> SealJob:
    """Return the dry bentonite (or sand) for an annulus or hole, and whether it swells shut.

    Parameters
    ----------
    hole_diameter, casing_diameter, length : float
        As in `annulus_volume`; a casing diameter of 0 is an open hole [m].
    kind : str
        A key of `FILLS`.
    extra : float
        Extra over the drilled volume; trade guidance on dry bentonite says 0.1 [-].
    bag_mass : float
        [kg].
    depth : float, optional
        Top of the seal below ground, for the time to fall [m].
    water_level : float, optional
        Depth to water in the annulus; a seal above it must be wetted by hand [m].
    conductivity : float, optional
        Of the water, at 25 degC [uS/cm].

    Notes
    -----
    Volume as `annulus_volume` (1 + extra); mass by the bulk density as poured. The voids between grains are 1 - bulk/grain density; the fill
    shuts when a grain can swell to 1/(1 - voids) of its dry volume in the room it has.
    """
    if kind not in FILLS:
        raise BadInput("kind", kind, "is not a dry fill that is known", "one of " + ", ".join(FILLS))
    require_positive(length=length, bag_mass=bag_mass)
    fill = FILLS[kind]
    volume = annulus_volume(hole_diameter, casing_diameter, length, washout=extra)
    mass = volume * fill.bulk_density
    voids = 1 - fill.bulk_density / fill.grain_density
    needed = 1 / (1 - voids)
    offered = fill.swelling
    doubts = []
    if conductivity is not None:
        require_non_negative(conductivity=conductivity)
        if conductivity > SALTY and kind != "sand":
            offered = 1 + (offered - 1) * SALTY / conductivity
            doubts.append(Advisory("salty-water", "doubt", "Bentonite swells less in salty water: use cement, or soak a sample first.", "seal"))
    if kind != "sand" and offered < needed:
        doubts.append(Advisory("seal-stays-open", "danger", "This fill may not swell shut in this water: water could pass along the casing.", "seal"))
    gap = 0.5 * (hole_diameter - casing_diameter) if casing_diameter > 0 else hole_diameter
    if fill.grain > gap / 3:
        doubts.append(Advisory("bridging", "doubt", f"Grains of {fill.grain * 1000:.0f} mm may bridge in a gap of {gap * 1000:.0f} mm: pour slowly, sound the "
                               "top often, or use smaller ones.", "seal"))
    if length < 0.6 and kind != "sand":
        doubts.append(Advisory("short-seal", "doubt", "Less than 0.6 m of bentonite above the pack or slots (TI 814-01, 2 ft; read).", "seal"))
    if water_level is not None and depth is not None and kind != "sand" and depth < water_level:
        doubts.append(Advisory("dry-seal", "doubt", "Part of this seal stands above the water: wet it with clean water as it is poured, and let it swell.", "seal"))
    under_water = max(depth + length - max(water_level or 0.0, 0.0), 0.0) if depth is not None else 0.0
    return SealJob(
        volume=volume, mass=mass, bags=math.ceil(mass / bag_mass - 1e-9), bag_mass=bag_mass, voids=voids, swelling_needed=needed if kind != "sand" else 1.0,
        swelling_offered=offered, swollen_density=fill.bulk_density, fall_time=under_water / FALL_SPEED, wetting_time=WETTING[kind], source=fill.source,
        advisories=tuple(doubts),
    )
