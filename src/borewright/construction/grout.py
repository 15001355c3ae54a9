"""Grout: what a bag makes, what an annulus takes, how hard it presses, how long it sets. Pure functions on SI floats."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, BadInput, require, require_fraction, require_non_negative, require_positive

__all__ = [
    "GRAVITY", "GROUT_CAUTION", "WATER_DENSITY", "GroutJob", "Mix", "Slurry", "TremieFlow", "annulus_volume", "check_slurry", "grout_mix", "grout_mixes",
    "grout_volume", "inside_volume", "longest_lift", "slurry", "tremie_flow",
]

GRAVITY = 9.80665  # m/s2
WATER_DENSITY = 1000.0  # kg/m3, round, for what stands in the bore
MIXING_WATER_DENSITY = 998.2  # kg/m3 at 20 degC, 8.33 lb/US gal as the published slurry examples use
POWDER_DENSITY = {"cement": 3.14 * MIXING_WATER_DENSITY, "bentonite": 2.65 * MIXING_WATER_DENSITY}  # kg/m3; API cement and bentonite
GROUT_CAUTION = Advisory(
    "grouting-collapse", "danger",
    "Grout outside a casing can crush it, and setting cement softens plastic: keep the casing full of water until it has set, place it in the lifts "
    "shown, and do not use quick-setting cement on plastic. Cement burns skin and eyes. Follow the local code.", "annulus",
)


@dataclass(frozen=True, slots=True)
class Mix:
    """One way to mix grout. `water_ratio` is kg of water per kg of powder; times in s, temperature in degC, density in kg/m3."""

    name: str
    powder: str
    water_ratio: float
    most_water_ratio: float
    bentonite_share: float
    least_density: float
    setting_time: float
    setting_temperature: float
    source: tuple[str, ...]


@lru_cache(maxsize=1)
def grout_mixes() -> Mapping[str, Mix]:
    """Return the mixes that come with the program, by name."""
    table = tomllib.loads(resources.files("borewright.construction").joinpath("data/grout_mixes.toml").read_text(encoding="utf-8"))
    return {
        row["name"]: Mix(row["name"], row["powder"], row["water_ratio"], row["most_water_ratio"], row["bentonite_share"], row["least_density"],
                         row["setting_hours"] * 3600.0, row["setting_temperature"], tuple(row["source"]))
        for row in table["mix"]
    }


def grout_mix(name: str) -> Mix:
    """Return a mix by name, or raise BadInput naming the ones there are."""
    mixes = grout_mixes()
    if name not in mixes:
        raise BadInput("mix", name, "is not a mix that is known", "one of " + ", ".join(mixes))
    return mixes[name]


@dataclass(frozen=True, slots=True)
class Slurry:
    """One bag mixed: water [m3], bentonite added [kg], volume made [m3], density [kg/m3], water per kg of powder [-]."""

    water: float
    bentonite: float
    volume: float
    density: float
    water_ratio: float


def slurry(*, bag_mass: float, water_ratio: float, bentonite_share: float = 0.0, powder: str = "cement") -> Slurry:
    """Return what one bag makes, by absolute volumes.

    Parameters
    ----------
    bag_mass : float
        Powder in the bag [kg].
    water_ratio : float
        Water over powder, by mass [-].
    bentonite_share : float
        Bentonite added over cement, by mass [-].
    powder : str
        "cement" or "bentonite".

    References
    ----------
    .. [1] Lapeyrouse, Formulas and Calculations for Drilling, 2nd ed. 2002, cement additive examples; rows of
       tests/reference/construction/cement_slurry.csv.
    """
    require_positive(bag_mass=bag_mass, water_ratio=water_ratio)
    require_fraction(bentonite_share=bentonite_share)
    if powder not in POWDER_DENSITY:
        raise BadInput("powder", powder, "is not a powder that is known", "cement or bentonite")
    require(0.2 <= water_ratio <= 12.0, "water_ratio", water_ratio, "makes no grout that can be pumped and sets", "0.2 to 12 kg of water per kg of powder")
    bentonite, water = bag_mass * bentonite_share, bag_mass * water_ratio
    volume = bag_mass / POWDER_DENSITY[powder] + bentonite / POWDER_DENSITY["bentonite"] + water / MIXING_WATER_DENSITY
    return Slurry(water / MIXING_WATER_DENSITY, bentonite, volume, (bag_mass + bentonite + water) / volume, water_ratio)


def check_slurry(made: Slurry, mix: Mix) -> tuple[Advisory, ...]:
    """Return the doubts about a slurry: too wet or too light for the published rules of its kind."""
    doubts = []
    if made.water_ratio > mix.most_water_ratio * (1 + 1e-9):
        doubts.append(Advisory("wet-grout", "doubt", f"{made.water_ratio:.2f} kg of water per kg is more than the {mix.most_water_ratio:.2f} that "
                               f"{mix.name} should have; it shrinks and stays weak.", "water"))
    if made.density < mix.least_density * (1 - 2e-3):
        doubts.append(Advisory("light-grout", "doubt", f"{made.density:.0f} kg/m3 is lighter than the {mix.least_density:.0f} kg/m3 asked of {mix.name} "
                               f"({'; '.join(mix.source)}).", "density"))
    return tuple(doubts)


def annulus_volume(hole_diameter: ArrayLike, casing_diameter: ArrayLike, length: ArrayLike, *, washout: ArrayLike = 0.0) -> Any:
    """Return the volume between a hole and a casing, pi/4 (D^2 - d^2) L (1 + washout) [m3].

    Parameters
    ----------
    hole_diameter, casing_diameter : float or array_like
        Hole and outside of the casing; 0 for no casing [m].
    length : float or array_like
        Along the hole [m].
    washout : float or array_like
        Extra over the drilled annulus for washed-out ground and loss, as a share of it [-].

    Raises
    ------
    OutOfDomain
        Not finite, negative, or a casing as large as the hole.
    """
    require_positive(hole_diameter=hole_diameter)
    require_non_negative(casing_diameter=casing_diameter, length=length, washout=washout)
    hole, casing = np.asarray(hole_diameter, float), np.asarray(casing_diameter, float)
    require(bool(np.all(casing < hole)), "casing_diameter", float(np.max(casing)), "is as large as the hole", "a casing smaller than the hole [m]")
    volume = np.pi / 4 * (hole**2 - casing**2) * np.asarray(length, float) * (1 + np.asarray(washout, float))
    return float(volume) if np.ndim(volume) == 0 else volume


def inside_volume(inside_diameter: ArrayLike, length: ArrayLike) -> Any:
    """Return the volume inside a pipe or open hole, and so the water that displaces grout out of it [m3]."""
    return annulus_volume(inside_diameter, 0.0, length)


def longest_lift(allowed_pressure: float, *, grout_density: float, inside_density: float = WATER_DENSITY) -> float:
    """Return the longest lift of liquid grout whose net pressure on a water-filled casing stays allowed [m]; infinite if it is not heavier.

    Notes
    -----
    The annulus above the lift is taken as full of the same fluid as the casing, so only the lift presses:
    (grout density - inside density) g L.
    """
    require_positive(allowed_pressure=allowed_pressure, grout_density=grout_density)
    require_non_negative(inside_density=inside_density)
    heavier = grout_density - inside_density
    return allowed_pressure / (heavier * GRAVITY) if heavier > 0 else math.inf


@dataclass(frozen=True, slots=True)
class TremieFlow:
    """Pushing grout down a tremie pipe: friction [Pa], speed [m/s], Reynolds number [-] and whether it flows smoothly."""

    friction: float
    speed: float
    reynolds: float
    smooth: bool


def tremie_flow(
    *, inside_diameter: float, length: float, flow: float, density: float, plastic_viscosity: float = 0.05, yield_stress: float = 15.0,
) -> TremieFlow:
    """Return the friction of grout in a tremie pipe, taken as a Bingham fluid in smooth flow.

    Parameters
    ----------
    inside_diameter, length : float
        Of the tremie pipe [m].
    flow : float
        Pumping rate [m3/s].
    density : float
        Of the grout [kg/m3].
    plastic_viscosity, yield_stress : float
        Bingham constants; the defaults are of plain cement at a water ratio near 0.5 (common practice, no source) [Pa s, Pa].

    Notes
    -----
    dP/L = 32 m v / D^2 + 16 t / (3 D), the Buckingham-Reiner law without its fourth-power term, which errs on the high side.
    `smooth` is False above a Reynolds number of 2100, where friction is higher than told.
    """
    require_positive(inside_diameter=inside_diameter, length=length, flow=flow, density=density, plastic_viscosity=plastic_viscosity)
    require_non_negative(yield_stress=yield_stress)
    speed = flow / (math.pi / 4 * inside_diameter**2)
    gradient = 32 * plastic_viscosity * speed / inside_diameter**2 + 16 * yield_stress / (3 * inside_diameter)
    apparent = plastic_viscosity + yield_stress * inside_diameter / (6 * speed)
    reynolds = density * speed * inside_diameter / apparent
    return TremieFlow(gradient * length, speed, reynolds, reynolds < 2100)


@dataclass(frozen=True, slots=True)
class GroutJob:
    """Grout for one interval: m3, kg/m3, Pa, s; whole bags.

    `volume` is what the washed-out annulus takes, `made` what the whole bags make; `foot_pressure` is the pressure of the full column of liquid grout
    at its foot, `net_pressure` what of it presses inward on a casing full of water.
    """

    volume: float
    drilled_volume: float
    bags: int
    bag_mass: float
    made: float
    water: float
    bentonite: float
    density: float
    volume_per_bag: float
    foot_pressure: float
    net_pressure: float
    displacement: float
    setting_time: float
    advisories: tuple[Advisory, ...]


def grout_volume(
    *, hole_diameter: float, casing_diameter: float, length: float, mix: str = "neat cement", washout: float = 0.2, bag_mass: float = 20.0,
    water_ratio: float | None = None, inside_diameter: float | None = None, inside_density: float = WATER_DENSITY,
) -> GroutJob:
    """Return the grout, bags and water for an annulus (or an open hole, with a casing diameter of 0).

    Parameters
    ----------
    hole_diameter, casing_diameter, length, washout : float
        As in `annulus_volume` [m, m, m, -].
    mix : str
        A key of `grout_mixes`.
    bag_mass : float
        Powder in a bag: 20 or 25 kg, 42.64 kg for a US sack of 94 lb [kg].
    water_ratio : float, optional
        Water over powder by mass; the mix's own when left out [-].
    inside_diameter : float, optional
        Inside of the casing, to reckon the water that displaces grout through it [m].
    inside_density : float
        Density of what fills the casing [kg/m3].

    Raises
    ------
    OutOfDomain, BadInput
        Impossible sizes, an unknown mix, a mix that cannot be pumped.
    """
    recipe = grout_mix(mix)
    require_positive(length=length, bag_mass=bag_mass)
    require_non_negative(washout=washout)
    require(washout <= 5, "washout", washout, "is more than any hole washes out", "a share of the drilled annulus, such as 0.2")
    one = slurry(bag_mass=bag_mass, water_ratio=recipe.water_ratio if water_ratio is None else water_ratio, bentonite_share=recipe.bentonite_share,
                 powder=recipe.powder)
    drilled = annulus_volume(hole_diameter, casing_diameter, length)
    volume = drilled * (1 + washout)
    bags = math.ceil(volume / one.volume - 1e-9)
    doubts = list(check_slurry(one, recipe))
    if casing_diameter > 0:
        gap = 0.5 * (hole_diameter - casing_diameter)
        doubts.append(GROUT_CAUTION)
        if gap < 0.0254:
            doubts.append(Advisory("thin-annulus", "doubt", f"{gap * 1000:.0f} mm of grout round the casing is thin: codes ask 25 to 50 mm (New York 25, "
                                   "Wisconsin 38; read), and a tremie pipe needs more.", "annulus"))
    return GroutJob(
        volume=volume, drilled_volume=drilled, bags=bags, bag_mass=bag_mass, made=bags * one.volume, water=bags * one.water,
        bentonite=bags * one.bentonite, density=one.density, volume_per_bag=one.volume, foot_pressure=one.density * GRAVITY * length,
        net_pressure=max(one.density - inside_density, 0.0) * GRAVITY * length,
        displacement=inside_volume(inside_diameter, length) if inside_diameter else 0.0, setting_time=recipe.setting_time, advisories=tuple(doubts),
    )
