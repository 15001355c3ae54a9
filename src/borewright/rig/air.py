"""Air to clean the hole: up-hole velocity, compressor at altitude, unloading pressure, foam, and where cleaning ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import (
    Advisory,
    require,
    require_finite,
    require_fraction,
    require_non_negative,
    require_positive,
)

__all__ = [
    "CleaningByDepth", "air_density", "air_need", "altitude_factor", "atmospheric_pressure", "cleaning_by_depth", "cuttings_mass_rate",
    "foam_quality", "check_foam", "check_uphole_velocity", "unloading_pressure", "uphole_velocity",
]

GRAVITY = 9.80665
STANDARD_PRESSURE, STANDARD_TEMPERATURE, GAS_CONSTANT = 101325.0, 288.15, 287.05
WATER_DENSITY = 1000.0
MINIMUM_VELOCITY = 3000 * 0.3048 / 60  # 15.24 m/s
BAILING_VELOCITY = 5000 * 0.3048 / 60  # 25.4 m/s
SCOURING_VELOCITY = 9000 * 0.3048 / 60  # 45.7 m/s
_STEPS, _SMOOTH_STEPS = 240, 24  # down the annulus: where its size changes, and where it does not
COMPRESSED_AIR_CAUTION = ("Compressed air kills: restrain every hose, let the pressure off before breaking a joint, keep people clear of the collar "
                          "when unloading, and follow the compressor's and your local rules.")


def _annulus(hole_diameter: ArrayLike, rod_diameter: ArrayLike) -> np.ndarray:
    require_positive(hole_diameter=hole_diameter)
    require_non_negative(rod_diameter=rod_diameter)
    hole, rod = np.asarray(hole_diameter, float), np.asarray(rod_diameter, float)
    require(bool(np.all(rod < hole)), "rod_diameter", float(np.max(rod)), "leaves no room in the hole", "less than the hole's diameter")
    return np.pi / 4 * (hole**2 - rod**2)


def _plain(value: np.ndarray) -> float | np.ndarray:
    return float(value) if np.ndim(value) == 0 else value


def _kelvin(temperature: ArrayLike) -> np.ndarray:
    require_finite(temperature=temperature)
    celsius = np.asarray(temperature, float)
    require(bool(np.all((celsius > -60) & (celsius < 200))), "temperature", float(celsius.flat[0]), "is not a temperature of air at a rig", "-60 to 200 degC")
    return celsius + 273.15


def uphole_velocity(air_flow: ArrayLike, hole_diameter: ArrayLike, rod_diameter: ArrayLike) -> float | np.ndarray:
    """Return the velocity of the free air going up the annulus.

    Parameters
    ----------
    air_flow : float or array_like
        Free air at the site [m3/s].
    hole_diameter, rod_diameter : float or array_like
        Inside diameter of the hole or casing, outside diameter of the rods [m].

    Returns
    -------
    float or ndarray
        Velocity by free-air volume [m/s]; down the hole the air is denser and slower.

    Notes
    -----
    v = Q / (pi/4 (D^2 - d^2)); in field units Q[cfm] = v[ft/min] (D^2 - d^2) / 183.35 with inches.
    """
    require_non_negative(air_flow=air_flow)
    return _plain(np.asarray(air_flow, float) / _annulus(hole_diameter, rod_diameter))


def air_need(hole_diameter: ArrayLike, rod_diameter: ArrayLike, *, velocity: ArrayLike = MINIMUM_VELOCITY) -> float | np.ndarray:
    """Return the free air that gives an up-hole velocity [m3/s]."""
    require_positive(velocity=velocity)
    return _plain(np.asarray(velocity, float) * _annulus(hole_diameter, rod_diameter))


def check_uphole_velocity(velocity: float) -> tuple[Advisory, ...]:
    """Return what is to be said of an up-hole velocity in dry air [m/s]."""
    require_non_negative(velocity=velocity)
    if velocity < MINIMUM_VELOCITY:
        return (Advisory("hole-not-cleaning", "doubt", f"{velocity:.1f} m/s is under the 15.2 m/s (3000 ft/min) that lifts dry cuttings: "
                         "more air, thicker rods, a smaller bit, or foam.", "velocity"),)
    if velocity > SCOURING_VELOCITY:
        return (Advisory("scouring", "doubt", f"{velocity:.1f} m/s is above the 46 m/s (9000 ft/min) at the top of the maker's chart: "
                         "rods and soft walls wear fast.", "velocity"),)
    if velocity < BAILING_VELOCITY:
        return (Advisory("wet-cuttings", "note", f"{velocity:.1f} m/s lifts dry cuttings; wet or heavy ones want 25 m/s (5000 ft/min).", "velocity"),)
    return ()


def atmospheric_pressure(altitude: ArrayLike) -> float | np.ndarray:
    """Return the pressure of the standard atmosphere at an altitude [Pa].

    Parameters
    ----------
    altitude : float or array_like
        Above sea level, -1000 to 6000 [m].

    References
    ----------
    .. [1] US Standard Atmosphere 1976: p = 101325 (1 - 2.25577e-5 h)^5.25588.
    """
    require_finite(altitude=altitude)
    height = np.asarray(altitude, float)
    require(bool(np.all((height >= -1000) & (height <= 6000))), "altitude", float(np.max(np.abs(height))), "is not on dry land where rigs work",
            "metres above sea level, -1000 to 6000")
    return _plain(STANDARD_PRESSURE * (1 - 2.25577e-5 * height) ** 5.25588)


def air_density(pressure: ArrayLike, temperature: ArrayLike) -> float | np.ndarray:
    """Return the density of dry air from absolute pressure [Pa] and temperature [degC], in kg/m3."""
    require_positive(pressure=pressure)
    return _plain(np.asarray(pressure, float) / (GAS_CONSTANT * _kelvin(temperature)))


def altitude_factor(altitude: ArrayLike, *, temperature: ArrayLike = 15.0) -> float | np.ndarray:
    """Return by how much more free air is wanted at a site to carry the same mass as at sea level and 15 degC [-].

    Notes
    -----
    (T / T0)(p0 / p). Divide a compressor's rated volume by it to get its worth in standard air.

    References
    ----------
    .. [1] Down-hole hammer maker's table of altitude and temperature factors (agreement within 0.4 %).
    """
    ratio = _kelvin(temperature) / STANDARD_TEMPERATURE
    return _plain(ratio * STANDARD_PRESSURE / np.asarray(atmospheric_pressure(altitude)))


def unloading_pressure(water_column: ArrayLike, *, margin: float = 0.15) -> float | np.ndarray:
    """Return the gauge pressure that pushes a standing water column out of the hole.

    Parameters
    ----------
    water_column : float or array_like
        Height of water above the bit [m].
    margin : float
        Added for friction and the start, a fraction; 0.10 to 0.20 is published [1]_.

    Returns
    -------
    float or ndarray
        Gauge pressure [Pa].

    References
    ----------
    .. [1] Baski, H. (2008) Aquifer airlift testing, Colorado Water Well Contractors Association.
    """
    require_non_negative(water_column=water_column)
    require_fraction(margin=margin)
    return _plain(WATER_DENSITY * GRAVITY * np.asarray(water_column, float) * (1 + margin))


def cuttings_mass_rate(hole_diameter: float, penetration_rate: float, *, rock_density: float = 2700.0) -> float:
    """Return the mass of rock cut each second [kg/s] from hole diameter [m], penetration [m/s] and density [kg/m3]."""
    require_positive(hole_diameter=hole_diameter, rock_density=rock_density)
    require_non_negative(penetration_rate=penetration_rate)
    return float(np.pi / 4 * hole_diameter**2 * penetration_rate * rock_density)


def foam_quality(air_flow: ArrayLike, liquid_flow: ArrayLike, pressure: ArrayLike, *, altitude: float = 0.0) -> float | np.ndarray:
    """Return the share of gas by volume in foam at an absolute pressure down the hole.

    Parameters
    ----------
    air_flow, liquid_flow : float or array_like
        Free air at the site, and water with foamer injected plus water made by the hole [m3/s].
    pressure : float or array_like
        Absolute, where the foam is [Pa].

    Returns
    -------
    float or ndarray
        Fraction of gas, 0 to 1 [-].
    """
    require_positive(air_flow=air_flow, pressure=pressure)
    require_non_negative(liquid_flow=liquid_flow)
    gas = np.asarray(air_flow, float) * np.asarray(atmospheric_pressure(altitude)) / np.asarray(pressure, float)
    return _plain(gas / (gas + np.asarray(liquid_flow, float)))


def check_foam(quality: float) -> tuple[Advisory, ...]:
    """Return what is to be said of a foam quality; the range 0.55 to 0.97 is common practice, no source opened."""
    require_fraction(quality=quality)
    if quality < 0.55:
        return (Advisory("foam-breaks-wet", "doubt", f"At {quality:.0%} gas it is water with bubbles, not foam: more air or less water.", "quality"),)
    if quality > 0.97:
        return (Advisory("foam-breaks-dry", "doubt", f"At {quality:.0%} gas the foam breaks to mist: more liquid or less air.", "quality"),)
    return ()


@dataclass(frozen=True, slots=True)
class CleaningByDepth:
    """How well the air cleans at each depth of the bit.

    Attributes
    ----------
    depth : ndarray
        Of the bit [m].
    pressure : ndarray
        Absolute at the bit while drilling [Pa].
    collar_velocity, bit_velocity, cleaning_velocity : ndarray
        Up-hole velocity by free air, as it is at the bit, and the sea-level velocity with the same lift as that at the bit [m/s].
    unloading_pressure : ndarray
        Gauge pressure to blow out the water that gathers while a rod is changed [Pa].
    cleaning_ends, unloading_ends : float or None
        First depth at which the bit is no longer cleaned, or the compressor cannot blow the hole out [m].
    """

    depth: np.ndarray
    pressure: np.ndarray
    collar_velocity: np.ndarray
    bit_velocity: np.ndarray
    cleaning_velocity: np.ndarray
    unloading_pressure: np.ndarray
    cleaning_ends: float | None
    unloading_ends: float | None
    advisories: tuple[Advisory, ...]


def cleaning_by_depth(
    depth: ArrayLike, *, hole_diameter: ArrayLike, rod_diameter: float, air_flow: float, compressor_pressure: float,
    water_flow: ArrayLike = 0.0, static_level: float | None = None, rod_change_time: float = 180.0, penetration_rate: float = 15.0 / 3600,
    altitude: float = 0.0, temperature: float = 15.0, rock_density: float = 2700.0, wall_roughness: float = 0.003, required_velocity: float = MINIMUM_VELOCITY,
) -> CleaningByDepth:
    """Return how well the air cleans with the bit at each depth, and the depths at which cleaning and unloading end.

    Parameters
    ----------
    depth : array_like, shape (n,)
        Depths of the bit, ascending [m].
    hole_diameter : float or array_like, shape (n,)
        Diameter of the hole (or of the casing's inside) at each depth [m].
    rod_diameter : float
        Outside [m].
    air_flow, compressor_pressure : float
        Free air at the site [m3/s] and gauge pressure [Pa] that the compressor gives.
    water_flow : float or array_like, shape (n,)
        Water the hole makes with the bit at each depth [m3/s].
    static_level : float, optional
        Depth to which water stands if left [m]; without it water may rise to ground.
    rod_change_time : float
        Time without air at each rod [s].
    wall_roughness : float
        Of the hole's wall [m]; 0 leaves wall friction out. 3 mm for broken rock is common practice, no source.

    Notes
    -----
    The pressure is marched down the annulus for air, water and cuttings moving together from the bit, with wall friction by the
    fully rough law and without slip, so the true pressure is higher and the depths given are on the deep (hopeful) side. Lift is judged by the air's
    momentum at the bit: v sqrt(density / standard density) must reach `required_velocity` (3000 ft/min by default).

    References
    ----------
    .. [1] Equal-kinetic-energy criterion: Lyons, Guo and Seidel, Air and Gas Drilling Manual, ch. 5 (from memory).
    .. [2] 3000 ft/min: US Geological Survey guidance as quoted in a drilling article.
    """
    require_non_negative(depth=depth, water_flow=water_flow, penetration_rate=penetration_rate, rod_change_time=rod_change_time)
    require_non_negative(wall_roughness=wall_roughness)
    require_positive(air_flow=air_flow, compressor_pressure=compressor_pressure, required_velocity=required_velocity, rock_density=rock_density)
    bit = np.atleast_1d(np.asarray(depth, float))
    require(bool(np.all(np.diff(bit) > 0)), "depth", float(bit[0]), "does not ascend", "depths from shallow to deep")
    holes = np.broadcast_to(np.asarray(hole_diameter, float), bit.shape)
    water = np.broadcast_to(np.asarray(water_flow, float), bit.shape)
    area = np.asarray(_annulus(holes, rod_diameter))
    surface = float(atmospheric_pressure(altitude))
    air_mass = air_flow * float(air_density(surface, temperature))
    cuttings = np.array([cuttings_mass_rate(float(d), penetration_rate, rock_density=rock_density) for d in holes])
    pressure = _bit_pressure(bit, holes, rod_diameter, surface, air_mass, water, cuttings, temperature, rock_density, wall_roughness)
    density = np.asarray(air_density(pressure, temperature))
    at_bit = air_mass / density / area
    cleaning = at_bit * np.sqrt(density / (STANDARD_PRESSURE / (GAS_CONSTANT * STANDARD_TEMPERATURE)))
    level = 0.0 if static_level is None else max(0.0, static_level)
    risen = np.minimum(np.maximum(bit - level, 0.0), water * rod_change_time / area)
    unloading = np.asarray(unloading_pressure(risen))
    standing = np.asarray(unloading_pressure(np.maximum(bit - level, 0.0) * (water > 0)))
    ends = _first(bit, cleaning < required_velocity)
    blocked = _first(bit, unloading > compressor_pressure)
    advisories = []
    if ends is not None:
        advisories.append(Advisory("cleaning-ends", "doubt", f"Below about {ends:.0f} m this air no longer lifts the cuttings at the bit: "
                                   "add foam or air, slow down, or blow the hole before then.", "depth"))
    if blocked is not None:
        advisories.append(Advisory("cannot-unload", "doubt", f"From about {blocked:.0f} m the water that gathers during a rod change is more than "
                                   "the compressor can lift.", "compressor_pressure"))
    overnight = _first(bit, standing > compressor_pressure)
    if overnight is not None and overnight != blocked:
        advisories.append(Advisory("cannot-unload-standing", "note", f"From about {overnight:.0f} m a full standing column cannot be blown out in one "
                                   "go: after a stop, unload in stages on the way down.", "compressor_pressure"))
    advisories.append(Advisory("compressed-air", "danger", COMPRESSED_AIR_CAUTION, "air_flow"))
    return CleaningByDepth(bit, pressure, air_flow / area, at_bit, cleaning, unloading, ends, blocked, tuple(advisories))


def _bit_pressure(
    bit: np.ndarray, holes: np.ndarray, rod_diameter: float, surface: float, air_mass: float, water: np.ndarray, cuttings: np.ndarray,
    temperature: float, rock_density: float, roughness: float,
) -> np.ndarray:
    """Return the absolute pressure at each bit depth, marched from the collar down for all depths at once."""
    gas = air_mass * GAS_CONSTANT * (temperature + 273.15)
    mass, heavy_volume = air_mass + water * WATER_DENSITY + cuttings, water + cuttings / rock_density

    def shape(hole: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the weight of the mixture per volume of it, and its friction, each [Pa/m times m3/s]."""
        gap, area = hole - rod_diameter, np.pi / 4 * (hole**2 - rod_diameter**2)
        factor = 0.0 if roughness == 0 else (2 * np.log10(gap / np.minimum(roughness, gap / 4)) + 1.14) ** -2
        return mass * GRAVITY, factor / gap * mass / (2 * area**2)

    pressure = np.full(bit.shape, surface)
    if np.all(holes == holes[0]):
        # One diameter: the gradient is smooth, and a few steps of the fourth order, short where the air is thin, do what many would.
        weight, friction = shape(holes)

        def smooth(at: np.ndarray) -> np.ndarray:
            volume = gas / at + heavy_volume
            return weight / volume + friction * volume

        for share in np.diff(np.linspace(0.0, 1.0, _SMOOTH_STEPS + 1) ** 3):
            step = bit * share
            first = smooth(pressure)
            second = smooth(pressure + first * step / 2)
            third = smooth(pressure + second * step / 2)
            pressure = pressure + (first + 2 * second + 2 * third + smooth(pressure + third * step)) * step / 6
        return pressure

    def gradient(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        weight, friction = shape(holes[np.minimum(np.searchsorted(bit, z - 1e-9), bit.size - 1)])
        volume = gas / at + heavy_volume
        return weight / volume + friction * volume

    step = bit / _STEPS
    for i in range(_STEPS):
        half = pressure + gradient(pressure, step * i) * step / 2
        pressure = pressure + gradient(half, step * (i + 0.5)) * step
    return pressure


def _first(depth: np.ndarray, failing: np.ndarray) -> float | None:
    where = np.flatnonzero(failing)
    return float(depth[where[0]]) if where.size else None
