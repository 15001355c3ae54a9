"""Drawdown when the water standing in the bore counts: Papadopulos & Cooper, in the bore and beside it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import kve

from borewright.errors import require, require_finite, require_positive
from borewright.hydraulics.bessel import scaled_k
from borewright.hydraulics.laplace import QUICK, invert

__all__ = ["bore_storage_drawdown", "bore_storage_function", "storage_ends_at"]


def bore_storage_transform(s: np.ndarray, *, radius, transmissivity, storativity, bore_radius, casing_radius, bessel=kve) -> np.ndarray:
    """Return the Laplace transform of the unit response [m s2/m3]; arguments broadcast against s."""
    root = np.sqrt(s * storativity / transmissivity)
    inner = root * bore_radius
    at_bore = bessel(0, inner)
    below = np.pi * casing_radius**2 * s * at_bore + 2 * np.pi * transmissivity * inner * bessel(1, inner)
    outer = root * radius
    above = at_bore if np.all(np.asarray(radius) == np.asarray(bore_radius)) else bessel(0, outer) * np.exp(inner - outer)
    return above / (s * below)


def bore_storage_drawdown(
    time: ArrayLike, *, radius: float, rate: float, transmissivity: float, storativity: float, bore_radius: float, casing_radius: float,
) -> np.ndarray | float:
    """Return the drawdown at one radius while pumping from a bore that stores water.

    Parameters
    ----------
    time : array_like
        Since the pump started [s]; 0 and less give none.
    radius : float
        Where the level is read; the bore's own radius for the level in the bore [m].
    rate, transmissivity, storativity : float
        [m3/s], [m2/s], [-].
    bore_radius, casing_radius : float
        Radius of the open hole or screen, and of the casing in which the level moves (less what the rising main takes) [m].

    Returns
    -------
    ndarray or float
        [m]; relative error below 1e-7 where the drawdown is above 1e-6 of Q/(4 pi T), by inversion of the Laplace transform.

    References
    ----------
    Papadopulos & Cooper (1967) Water Resources Research 3(1):241-244.
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, bore_radius=bore_radius, casing_radius=casing_radius)
    require(radius >= bore_radius, "radius", radius, "is inside the bore", f"at least the bore radius, {bore_radius:g} m")
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    if running.any():
        value[running] = rate * invert(
            lambda s: bore_storage_transform(s, radius=radius, transmissivity=transmissivity, storativity=storativity,
                                             bore_radius=bore_radius, casing_radius=casing_radius),
            since[running])
    return float(value) if value.ndim == 0 else value


def bore_storage_function(argument: ArrayLike, storage: ArrayLike) -> np.ndarray | float:
    """Return F(u_w, alpha) with drawdown in the bore Q/(4 pi T) F.

    `argument` u_w = r_w2 S/(4 T t), above zero; `storage` alpha = r_w2 S/r_c2, one value [-]. Relative error below 1e-7 where F > 1e-6.
    """
    require_positive(argument=argument, storage=storage)
    time = 1.0 / (4.0 * np.asarray(argument, dtype=float))
    return bore_storage_drawdown(time, radius=1.0, rate=4.0 * math.pi, transmissivity=1.0, storativity=1.0, bore_radius=1.0,
                                 casing_radius=float(np.asarray(storage)) ** -0.5)


def storage_ends_at(*, casing_radius: float, transmissivity: float) -> float:
    """Return the time after which water from the casing no longer counts, 25 r_c2 / T [s].

    There the drawdown in the bore is about 2.3 % short of Theis (recomputed). Source: Papadopulos & Cooper (1967).
    """
    require_positive(casing_radius=casing_radius, transmissivity=transmissivity)
    return 25.0 * casing_radius**2 / transmissivity


def quick_response(time: np.ndarray, *, radius, transmissivity, storativity, bore_radius, casing_radius) -> np.ndarray:
    """Return unit responses of many parameter sets, shape (m, n), for a fit."""
    return invert(lambda s: bore_storage_transform(s[None, :], radius=radius, transmissivity=transmissivity, storativity=storativity,
                                                   bore_radius=bore_radius, casing_radius=casing_radius, bessel=scaled_k), time, **QUICK)
