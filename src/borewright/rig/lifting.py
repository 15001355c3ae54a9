"""Airlift: how deep the air must go in, how much air it takes, and what flow it should give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, BadInput, require, require_finite, require_non_negative, require_positive
from borewright.rig.air import COMPRESSED_AIR_CAUTION, GRAVITY, WATER_DENSITY, unloading_pressure

__all__ = ["Airlift", "advised_submergence", "air_line_level", "air_per_water", "airlift", "submergence"]

FOOT = 0.3048
AIR_COLUMN = 34 * FOOT  # height of water that weighs as much as the atmosphere, as the published formula rounds it
AirLine = Literal["inside", "outside"]

# Submergence as a fraction, and the constant C with the air line outside and inside the rising pipe; makers' formula, from memory.
_SUBMERGENCE = (0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75)
_CONSTANT = {
    "outside": (216, 246, 272, 296, 318, 335, 348, 358, 366),
    "inside": (162, 185, 214, 238, 262, 285, 306, 322, 330),
}
# Depth of the well [ft] and advised share of it under water: MIL-HDBK-1164, table 4.
_ADVISED_DEPTH = (10, 50, 51, 100, 101, 200, 201, 300, 301, 400, 401, 500)
_ADVISED_SHARE = (0.70, 0.66, 0.65, 0.55, 0.54, 0.50, 0.49, 0.43, 0.42, 0.40, 0.39, 0.33)


def submergence(air_depth: ArrayLike, pumping_level: ArrayLike) -> float | np.ndarray:
    """Return the share of the air line that is under water while it pumps.

    Parameters
    ----------
    air_depth, pumping_level : float or array_like
        Depth at which the air goes in, depth to water while pumping, from the same datum [m].

    Returns
    -------
    float or ndarray
        (air depth - pumping level) / air depth [-].

    References
    ----------
    .. [1] Baski, H. (2008) Aquifer airlift testing, Colorado Water Well Contractors Association.
    """
    require_positive(air_depth=air_depth)
    require_finite(pumping_level=pumping_level)
    depth, level = np.asarray(air_depth, float), np.asarray(pumping_level, float)
    require(bool(np.all(level < depth)), "pumping_level", float(np.max(level)), "lies below the end of the air line", "a level above where the air goes in")
    value = (depth - level) / depth
    return float(value) if np.ndim(value) == 0 else value


def advised_submergence(air_depth: float) -> float:
    """Return the submergence advised for an air line ending at a depth [m], as a fraction.

    References
    ----------
    .. [1] MIL-HDBK-1164 (1997) table 4, 10 to 500 ft; held at its ends outside.
    """
    require_positive(air_depth=air_depth)
    return float(np.interp(air_depth / FOOT, _ADVISED_DEPTH, _ADVISED_SHARE))


def air_line_level(line_depth: float, pressure: float) -> float:
    """Return the depth to water [m] from the depth of an air line's end [m] and the gauge pressure that holds it blown out [Pa]."""
    require_positive(line_depth=line_depth)
    require_non_negative(pressure=pressure)
    level = line_depth - pressure / (WATER_DENSITY * GRAVITY)
    require(level >= 0, "pressure", pressure, "is more than the water over the line could hold", f"at most {line_depth * WATER_DENSITY * GRAVITY:.0f} Pa")
    return level


def air_per_water(lift: ArrayLike, depth_under_water: ArrayLike, *, air_line: AirLine = "inside") -> float | np.ndarray:
    """Return the volume of free air that lifts one volume of water.

    Parameters
    ----------
    lift : float or array_like
        From the pumping level to the outlet [m].
    depth_under_water : float or array_like
        From the pumping level down to where the air goes in [m].
    air_line : {"inside", "outside"}
        Of the rising pipe; a line inside takes room and needs more air.

    Returns
    -------
    float or ndarray
        Volume of free air for each volume of water [-].

    Notes
    -----
    V = H / (C log10((S + 34) / 34)) in ft3 for each US gallon, H and S in feet; C by submergence S / (S + H), interpolated and
    held at its ends outside 35 to 75 %. Without losses C would be 584.5: the table stands for an efficiency of 0.28 to 0.63.

    References
    ----------
    .. [1] Air compressor makers' formula, as in Driscoll (1986) Groundwater and Wells; constants from memory.
    """
    if air_line not in _CONSTANT:
        raise BadInput("air_line", air_line, "is not a place for the air line", "inside or outside")
    require_positive(lift=lift, depth_under_water=depth_under_water)
    up, under = np.asarray(lift, float), np.asarray(depth_under_water, float)
    constant = np.interp(under / (under + up), _SUBMERGENCE, _CONSTANT[air_line])
    per_gallon = up / FOOT / (constant * np.log10(1 + under / AIR_COLUMN))  # ft3 for each US gallon
    value = per_gallon * FOOT**3 / 3.785411784e-3
    return float(value) if np.ndim(value) == 0 else value


@dataclass(frozen=True, slots=True)
class Airlift:
    """What an airlift should give.

    Attributes
    ----------
    flow : float
        Expected [m3/s]; `low` and `high` are the flows with a quarter less and more air used well (common practice, no source).
    pumping_level : float
        At that flow [m].
    submergence : float
        At that flow, fraction; `advised` beside it.
    air_per_water : float
        Volumes of free air for each volume of water [-].
    starting_pressure, running_pressure : float
        Gauge [Pa]; the start lifts the static column with 15 % over.
    """

    flow: float
    low: float
    high: float
    pumping_level: float
    submergence: float
    advised: float
    air_per_water: float
    starting_pressure: float
    running_pressure: float
    advisories: tuple[Advisory, ...]


def airlift(
    air_flow: float, *, air_depth: float, static_level: float, specific_capacity: float, outlet_height: float = 0.5, air_line: AirLine = "inside",
    compressor_pressure: float | None = None,
) -> Airlift:
    """Return the flow at which the air that is given is the air that the lift needs, with the level the bore falls to.

    Parameters
    ----------
    air_flow : float
        Free air at the site [m3/s].
    air_depth, static_level : float
        Depth of the end of the air line, depth to water at rest [m].
    specific_capacity : float
        Flow for each metre of drawdown [m2/s].
    outlet_height : float
        Of the discharge above ground [m].
    compressor_pressure : float, optional
        Gauge pressure the compressor gives [Pa].

    Raises
    ------
    OutOfDomain
        The air goes in above the water at rest.

    Notes
    -----
    Solves Q V(level(Q)) = air with level = static + Q / specific capacity; the left side rises with Q, so there is one answer.
    """
    from scipy.optimize import brentq

    require_positive(air_flow=air_flow, air_depth=air_depth, specific_capacity=specific_capacity)
    require_finite(static_level=static_level)
    require_non_negative(outlet_height=outlet_height)
    require(static_level < air_depth, "air_depth", air_depth, "is above the water at rest", f"deeper than {static_level} m")
    require(static_level + outlet_height > 0, "static_level", static_level, "stands above the outlet: this bore flows by itself", "a level below the outlet")
    top = specific_capacity * (air_depth - static_level)  # the flow that would bare the end of the air line

    def ratio(flow: float) -> float:
        level = static_level + flow / specific_capacity
        return float(air_per_water(level + outlet_height, air_depth - level, air_line=air_line))

    def flow_for(air: float) -> float:
        return float(brentq(lambda q: q * ratio(q) - air, 1e-12 * top, top * (1 - 1e-9), xtol=1e-15, rtol=1e-12))

    flow = flow_for(air_flow)
    level = static_level + flow / specific_capacity
    share, advised = float(submergence(air_depth, level)), advised_submergence(air_depth)
    start = float(unloading_pressure(air_depth - static_level))
    advisories = [Advisory("airlift-constants", "note", "The constants of the airlift formula come from memory; real airlifts differ by a quarter either way.", "flow")]
    if share < 0.35:
        advisories.append(Advisory("little-submergence", "doubt", f"Only {share:.0%} of the air line is under water while pumping: under 35 % the formula is not "
                                   "held by its table and the flow comes in slugs. Set the air deeper.", "air_depth"))
    elif share < advised - 0.10:
        advisories.append(Advisory("submergence-low", "note", f"{share:.0%} of the air line is under water; about {advised:.0%} is advised at this depth.", "air_depth"))
    if compressor_pressure is not None:
        require_positive(compressor_pressure=compressor_pressure)
        if start > compressor_pressure:
            advisories.append(Advisory("cannot-start", "doubt", f"The start needs {start / 1000:.0f} kPa and the compressor gives {compressor_pressure / 1000:.0f} kPa: "
                                       "start with the air line higher and lower it as the water is thrown out.", "compressor_pressure"))
    advisories.append(Advisory("compressed-air", "danger", COMPRESSED_AIR_CAUTION, "air_flow"))
    running = float(unloading_pressure(air_depth - level, margin=0.0))
    return Airlift(flow, flow_for(0.75 * air_flow), flow_for(1.25 * air_flow), level, share, advised, ratio(flow), start, running, tuple(advisories))
