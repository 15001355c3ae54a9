"""From the sun that a weather service measures on the flat to the sun on the plane of the panels, month by month."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from borewright.errors import Advisory, BadInput, require, require_finite

__all__ = ["MONTH_MIDDLE", "PlaneOfPanels", "day_length", "declination", "diffuse_share", "extraterrestrial", "on_the_plane"]

MONTH_MIDDLE = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)  # day of the year that stands for each month, Klein 1977
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
SOLAR_CONSTANT = 1367.0  # W/m2, as Duffie and Beckman
STEPS = 480  # of the day from sunrise to sunset


def declination(day_of_year: int) -> float:
    """Return the sun's declination [rad] (Duffie and Beckman eq. 1.6.1a)."""
    return math.radians(23.45 * math.sin(math.radians(360 * (284 + day_of_year) / 365)))


def _sunset(latitude: float, day_of_year: int) -> float:
    """Return the hour angle of sunset [rad], 0 in polar night and pi in polar day (eq. 1.6.10)."""
    require_finite(latitude=latitude)
    require(-90 <= latitude <= 90, "latitude", latitude, "is not a latitude", "-90 to 90 degrees")
    cosine = -math.tan(math.radians(max(-89.999, min(89.999, latitude)))) * math.tan(declination(day_of_year))
    return math.acos(max(-1.0, min(1.0, cosine)))


def day_length(latitude: float, day_of_year: int) -> float:
    """Return the time from sunrise to sunset [s]; 0 or a whole day beyond the polar circles.

    References
    ----------
    .. [1] Duffie and Beckman, Solar engineering of thermal processes, eq. 1.6.1a, 1.6.11; from memory.
    """
    return 86400.0 * _sunset(latitude, day_of_year) / math.pi


def extraterrestrial(latitude: float, day_of_year: int) -> float:
    """Return what falls on the flat outside the atmosphere in a day [J/m2].

    References
    ----------
    .. [1] Duffie and Beckman, eq. 1.10.3; from memory.
    """
    sunset, tilt, phi = _sunset(latitude, day_of_year), declination(day_of_year), math.radians(latitude)
    near = 1 + 0.033 * math.cos(math.radians(360 * day_of_year / 365))
    fallen = 86400 * SOLAR_CONSTANT / math.pi * near * (math.cos(phi) * math.cos(tilt) * math.sin(sunset) + sunset * math.sin(phi) * math.sin(tilt))
    return max(0.0, fallen)


def diffuse_share(clearness: float, sunset: float) -> float:
    """Return the share of a month's sun that comes from the sky and not from the disc.

    Parameters
    ----------
    clearness : float
        Of what falls outside the atmosphere, that which reaches the ground [-]; outside 0.3 to 0.8 the nearer end is taken.
    sunset : float
        Hour angle of sunset [rad].

    References
    ----------
    .. [1] Erbs, Klein and Duffie (1982) Solar Energy 28:293-302; Duffie and Beckman eq. 2.12.1; from memory.
    """
    k = min(0.8, max(0.3, clearness))
    if sunset <= math.radians(81.4):
        return 1.391 - 3.560 * k + 4.189 * k**2 - 2.137 * k**3
    return 1.311 - 3.022 * k + 3.427 * k**2 - 1.821 * k**3


@dataclass(frozen=True, slots=True)
class PlaneOfPanels:
    """The sun on the plane of the panels.

    Attributes
    ----------
    daily : ndarray, shape (12,)
        On a mean day of each month [J/m2].
    clearness, diffuse : ndarray, shape (12,)
        Clearness index and the share from the sky on the flat [-].
    """

    daily: np.ndarray
    clearness: np.ndarray
    diffuse: np.ndarray
    tilt: float
    azimuth: float
    advisories: tuple[Advisory, ...]


def on_the_plane(
    horizontal: Sequence[float], *, latitude: float, tilt: float, azimuth: float | None = None, reflectance: float | Sequence[float] = 0.2,
    beam: Literal["hours", "outside"] = "hours",
) -> PlaneOfPanels:
    """Return the monthly sun on tilted panels from that on the flat.

    Parameters
    ----------
    horizontal : sequence of float, shape (12,)
        Global on the flat on a mean day of each month, January first [J/m2].
    tilt : float
        From flat, 0 to 90 [degrees].
    azimuth : float, optional
        True bearing that the panels face, clockwise from north [degrees]; the equator where not given.
    reflectance : float or twelve
        Of the ground, 0.2 bare or grassed, 0.7 under snow (Duffie and Beckman, from memory).
    beam : {"hours", "outside"}
        How the beam goes over the day: with the air it crosses at each hour (Klein and Theilacker), or as outside the atmosphere (Liu and Jordan,
        Klein), which is some hundredths higher in winter.

    Raises
    ------
    BadInput
        A table that does not hold twelve, or a month with more sun than falls outside the atmosphere at that latitude.

    Notes
    -----
    Isotropic sky. The month's sky share by Erbs; the hours of the mean day by Collares-Pereira and Rabl (global) and Liu and Jordan (sky),
    summed over the day and made whole. For any bearing and either hemisphere that is what Klein and Theilacker work out in closed form.

    References
    ----------
    .. [1] Duffie and Beckman, Solar engineering of thermal processes, sections 2.13, 2.19 and 2.20; from memory.
    """
    table = np.atleast_1d(np.asarray(horizontal, float))
    require(table.shape == (12,), "horizontal", table.size, "does not hold twelve months", "twelve numbers, January first")
    require_finite(horizontal=table, tilt=tilt)
    require(bool(np.all(table >= 0)), "horizontal", float(table.min()), "is below nought", "nought or more")
    require(0 <= tilt <= 90, "tilt", tilt, "is not a tilt", "0 (flat) to 90 degrees (upright)")
    bearing = (0.0 if latitude < 0 else 180.0) if azimuth is None else azimuth
    require_finite(azimuth=bearing)
    require(-360 <= bearing <= 360, "azimuth", bearing, "is not a bearing", "0 to 360 degrees, clockwise from north")
    ground = np.broadcast_to(np.asarray(reflectance, float), (12,)) if np.size(reflectance) in (1, 12) else np.full(12, np.nan)
    require(bool(np.all((ground >= 0) & (ground <= 1))), "reflectance", str(reflectance), "is not the share that the ground sends back", "a fraction from 0 to 1, or twelve")
    daily, clearness, diffuse = np.zeros(12), np.zeros(12), np.zeros(12)
    outside = np.array([extraterrestrial(latitude, day) for day in MONTH_MIDDLE])
    for i, day in enumerate(MONTH_MIDDLE):
        if table[i] > outside[i]:
            raise BadInput("horizontal", float(table[i]), f"is more sun in {MONTHS[i]} than falls outside the atmosphere at latitude {latitude:.1f} ({outside[i] / 3.6e6:.1f} kWh/m2)",
                           "the sun on the flat in the right unit, January first, and the latitude of the bore")
        if table[i] == 0:
            continue
        sunset = _sunset(latitude, day)
        clearness[i] = table[i] / outside[i]
        diffuse[i] = diffuse_share(float(clearness[i]), sunset)
        daily[i] = table[i] * _ratio(latitude, day, sunset, diffuse[i], tilt, bearing, float(ground[i]), beam)
    return PlaneOfPanels(daily, clearness, diffuse, float(tilt), float(bearing % 360), _doubts(table, clearness, latitude, tilt, bearing))


def _ratio(latitude: float, day: int, sunset: float, diffuse: float, tilt: float, bearing: float, ground: float, beam: str) -> float:
    """Return what falls on the plane for each unit that falls on the flat in the mean day."""
    phi, sun, lean, face = math.radians(latitude), declination(day), math.radians(tilt), math.radians(bearing)
    hour = (np.arange(STEPS) + 0.5) / STEPS * 2 * sunset - sunset
    below = math.sin(sunset) - sunset * math.cos(sunset)
    # Shares of the day's sky and of its whole for each radian; cos(zenith) = cos(phi) cos(sun) (cos(hour) - cos(sunset)) cancels in the beam.
    sky = 0.5 * (np.cos(hour) - math.cos(sunset)) / below
    whole = (0.409 + 0.5016 * math.sin(sunset - math.pi / 3) + (0.6609 - 0.4767 * math.sin(sunset - math.pi / 3)) * np.cos(hour)) * sky
    step = 2 * sunset / STEPS
    whole /= np.sum(whole) * step  # the fitted shares miss one by up to a hundredth
    up = math.sin(phi) * math.sin(sun) + math.cos(phi) * math.cos(sun) * np.cos(hour)
    east = -math.cos(sun) * np.sin(hour)
    north = math.cos(phi) * math.sin(sun) - math.sin(phi) * math.cos(sun) * np.cos(hour)
    facing = np.maximum(0.0, math.sin(lean) * (math.sin(face) * east + math.cos(face) * north) + math.cos(lean) * up)
    if beam == "outside":
        straight = (1 - diffuse) * float(np.sum(facing) / np.sum(up))
    else:
        straight = float(np.sum((whole - diffuse * sky) * facing / np.maximum(up, 1e-9)) * step)
    return max(0.0, straight) + diffuse * (1 + math.cos(lean)) / 2 + ground * (1 - math.cos(lean)) / 2


def _doubts(table: np.ndarray, clearness: np.ndarray, latitude: float, tilt: float, bearing: float) -> tuple[Advisory, ...]:
    said = []
    odd = [MONTHS[i] for i in range(12) if clearness[i] and not 0.3 <= clearness[i] <= 0.8]
    if odd:
        said.append(Advisory("sky-outside-the-rule", "doubt", f"The sky of {', '.join(odd)} is clearer or darker than the rule for its diffuse part was made for: look at the figure and its unit.", "horizontal"))
    six = [float(np.sum(table[[4, 5, 6]])), float(np.sum(table[[10, 11, 0]]))]  # May to July, November to January
    if abs(latitude) > 15 and (six[0] < six[1]) != (latitude < 0) and abs(six[0] - six[1]) > 0.1 * sum(six):
        said.append(Advisory("sun-upside-down", "doubt", f"The table has its summer in {'June' if six[0] > six[1] else 'December'}, which is winter at latitude {latitude:.1f}: "
                             "is it of another place, or does it begin with another month than January?", "horizontal"))
    away = abs((bearing - (0.0 if latitude < 0 else 180.0) + 180) % 360 - 180)
    if tilt > 5 and away > 90 and abs(latitude) > 10:
        said.append(Advisory("panels-face-away", "doubt", "The panels face away from the sun of midday.", "azimuth"))
    return tuple(said)
