"""Beds and fractures as planes: how they lie from three points, and where a hole cuts them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from borewright.errors import OutOfDomain, Refused, require_finite, require_positive

__all__ = ["CollarChoice", "Plane", "apparent_dip", "collars_cutting_two", "cut_depths", "plane_from_points", "plane_from_strike"]


def _bearing(angle: float) -> float:
    """Return an angle as a bearing from 0 to below 360 [deg]: what rounding puts a hair west of north is north."""
    return round(float(angle), 9) % 360.0


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane in the ground: elevation = elevation + east_slope (x - easting) + north_slope (y - northing).

    Attributes
    ----------
    easting, northing, elevation : float
        A point on it [m].
    east_slope, north_slope : float
        Rise per metre to the east and to the north [-].
    """

    easting: float
    northing: float
    elevation: float
    east_slope: float
    north_slope: float

    @property
    def dip(self) -> float:
        """Steepest angle below the horizontal [deg], 0 to 90."""
        return float(np.degrees(np.arctan(np.hypot(self.east_slope, self.north_slope))))

    @property
    def dip_direction(self) -> float:
        """Bearing in which it falls most steeply, clockwise from north [deg]; 0 for a level plane."""
        if self.east_slope == 0 and self.north_slope == 0:
            return 0.0
        return _bearing(np.degrees(np.arctan2(-self.east_slope, -self.north_slope)))

    @property
    def strike(self) -> float:
        """Bearing of the level line, the plane falling to its right hand [deg]."""
        return _bearing(self.dip_direction - 90.0)

    def elevation_at(self, easting: np.ndarray | float, northing: np.ndarray | float) -> np.ndarray:
        """Return the plane's elevation at places [m]."""
        return self.elevation + self.east_slope * (np.asarray(easting, float) - self.easting) + self.north_slope * (np.asarray(northing, float) - self.northing)


def plane_from_points(points: np.ndarray) -> Plane:
    """Return the plane through three points, or nearest in elevation to more.

    Parameters
    ----------
    points : array_like, shape (n, 3), n >= 3
        Easting, northing, elevation [m].

    Raises
    ------
    OutOfDomain
        Fewer than three points, a value that is not finite.
    Refused
        Points on one line as seen from above: they leave the plane free to turn about it.

    References
    ----------
    .. [1] The three-point problem of structural geology: any textbook (from memory); solved here as linear equations.
    """
    points = np.asarray(points, float)
    if points.ndim != 2 or points.shape[1:] != (3,) or len(points) < 3:
        raise OutOfDomain("points", points.shape, "are not three points or more", "three rows of easting, northing, elevation")
    require_finite(points=points)
    middle = points.mean(axis=0)
    across = points[:, :2] - middle[:2]
    spread = np.linalg.svd(across, compute_uv=False)
    if spread[1] < 1e-6 * max(spread[0], 1e-12) or spread[0] == 0:
        raise Refused("the points lie on one line as seen from above: a plane needs a third point to the side")
    slopes, *_ = np.linalg.lstsq(across, points[:, 2] - middle[2], rcond=None)
    return Plane(*(float(v) for v in middle), float(slopes[0]), float(slopes[1]))


def plane_from_strike(easting: float, northing: float, elevation: float, *, strike: float, dip: float) -> Plane:
    """Return the plane through a point with a strike (falling to its right hand) and a dip [deg].

    Raises
    ------
    OutOfDomain
        A dip outside 0 to below 90: an upright plane is not cut by an upright hole.
    """
    require_finite(easting=easting, northing=northing, elevation=elevation, strike=strike, dip=dip)
    if not 0 <= dip < 89.9:
        raise OutOfDomain("dip", dip, "must lie from 0 to below 89.9 degrees", "the angle below the horizontal")
    direction = np.radians(strike + 90.0)
    fall = np.tan(np.radians(dip))
    return Plane(float(easting), float(northing), float(elevation), float(-fall * np.sin(direction)), float(-fall * np.cos(direction)))


def apparent_dip(dip: float, angle_from_strike: float) -> float:
    """Return the dip seen in a section at an angle from the strike: tan(seen) = tan(dip) sin(angle) [deg]."""
    require_finite(dip=dip, angle_from_strike=angle_from_strike)
    return float(np.degrees(np.arctan(np.tan(np.radians(dip)) * np.sin(np.radians(angle_from_strike)))))


def cut_depths(planes: Sequence[Plane], easting: np.ndarray | float, northing: np.ndarray | float, elevation: np.ndarray | float) -> np.ndarray:
    """Return the depths below the collar at which upright holes cut each plane, shape (planes, collars) [m].

    NaN where the plane is above the collar: it has run out at the surface.
    """
    require_finite(easting=easting, northing=northing, elevation=elevation)
    easting, northing, elevation = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in (easting, northing, elevation)))
    depth = np.array([elevation - p.elevation_at(easting, northing) for p in planes]).reshape(len(planes), len(easting))
    return np.where(depth >= 0, depth, np.nan)


@dataclass(frozen=True, slots=True)
class CollarChoice:
    """A collar and the depths at which a hole there cuts two planes [m]."""

    easting: float
    northing: float
    first: float
    second: float


def collars_cutting_two(first: Plane, second: Plane, *, elevation: float, depth: float, bounds: tuple[float, float, float, float], spacing: float) -> tuple[CollarChoice, ...]:
    """Return collars on a grid whose hole cuts both planes within a depth, the shallowest first.

    Parameters
    ----------
    elevation : float
        Of the ground, taken as level [m].
    depth : float
        Deepest that both cuts may be [m].
    bounds : tuple
        West, south, east, north [m].
    spacing : float
        Between collars tried [m].

    Raises
    ------
    OutOfDomain
        Bounds that hold nothing, a depth or spacing not above zero, more than a million collars.
    """
    west, south, east, north = bounds
    require_positive(depth=depth, spacing=spacing)
    require_finite(west=west, south=south, east=east, north=north, elevation=elevation)
    if not (east > west and north > south):
        raise OutOfDomain("bounds", bounds, "hold no ground", "west < east and south < north")
    x, y = np.arange(west, east + 0.5 * spacing, spacing), np.arange(south, north + 0.5 * spacing, spacing)
    if len(x) * len(y) > 1_000_000:
        raise OutOfDomain("spacing", spacing, "asks for more than a million collars", "a wider spacing")
    x, y = (v.ravel() for v in np.meshgrid(x, y))
    cuts = cut_depths((first, second), x, y, elevation)
    deeper = cuts.max(axis=0)
    good = np.flatnonzero(deeper <= depth)
    good = good[np.argsort(deeper[good], kind="stable")]
    return tuple(CollarChoice(float(x[i]), float(y[i]), float(cuts[0, i]), float(cuts[1, i])) for i in good)
