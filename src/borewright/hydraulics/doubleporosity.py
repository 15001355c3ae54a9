"""Fractured rock whose fractures carry the water and whose blocks hold it: Warren & Root, and Moench's slabs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import kve

from borewright.errors import BadInput, require_finite, require_positive
from borewright.hydraulics.bessel import scaled_k
from borewright.hydraulics.laplace import QUICK, invert

__all__ = ["BLOCK_SHAPES", "double_porosity_drawdown"]

BLOCK_SHAPES = ("settled", "slabs")


def double_porosity_transform(s, *, radius, transmissivity, storativity, block_storativity, interflow, blocks="settled", bessel=kve) -> np.ndarray:
    """Return the Laplace transform of the unit response of a line source [m s2/m3]."""
    exchange = interflow * transmissivity
    if blocks == "settled":
        from_blocks = block_storativity * exchange / (block_storativity * s + exchange)
    else:
        # Slabs with diffusion inside: x tanh x, x2 = 3 S_m s / exchange, agrees with the settled form for slow change.
        inside = np.sqrt(3.0 * block_storativity * s / exchange)
        from_blocks = block_storativity * np.tanh(inside) / inside
    root = radius * np.sqrt(s / transmissivity * (storativity + from_blocks))
    return bessel(0, root) * np.exp(-root) / (2.0 * np.pi * transmissivity * s)


def double_porosity_drawdown(
    time: ArrayLike, *, radius: float, rate: float, transmissivity: float, storativity: float, block_storativity: float, interflow: float,
    blocks: str = "settled",
) -> np.ndarray | float:
    """Return the drawdown in the fractures at one radius.

    Parameters
    ----------
    time : array_like
        Since the pump started [s].
    radius : float
        [m].
    rate, transmissivity : float
        [m3/s], [m2/s].
    storativity, block_storativity : float
        Of the fractures and of the blocks [-].
    interflow : float
        Ease of flow from blocks to fractures, lambda / r2 = shape factor times block over fracture conductivity [1/m2].
    blocks : {"settled", "slabs"}
        Flow inside the blocks taken as settled at every moment (Warren & Root), or diffusing (Moench, no skin on the blocks).

    Returns
    -------
    ndarray or float
        [m]; relative error below 1e-7 where the drawdown is above 1e-6 of Q/(4 pi T), by inversion of the Laplace transform.

    Notes
    -----
    Line source, no storage in the bore. omega = S_f/(S_f + S_m); early and late straight lines run parallel, log10(1/omega) apart.

    References
    ----------
    Warren & Root (1963) SPE Journal 3(3):245-255; Moench (1984) Water Resources Research 20(7):831-846 (from memory).
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, block_storativity=block_storativity, interflow=interflow)
    if blocks not in BLOCK_SHAPES:
        raise BadInput("blocks", blocks, "is not a way that blocks drain", " or ".join(BLOCK_SHAPES))
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    if running.any():
        value[running] = rate * invert(
            lambda s: double_porosity_transform(s, radius=radius, transmissivity=transmissivity, storativity=storativity,
                                                block_storativity=block_storativity, interflow=interflow, blocks=blocks), since[running])
    return float(value) if value.ndim == 0 else value


def quick_response(time: np.ndarray, *, radius, transmissivity, storativity, block_storativity, interflow, blocks="settled") -> np.ndarray:
    """Return unit responses of many parameter sets, shape (m, n), for a fit."""
    return invert(lambda s: double_porosity_transform(s[None, :], radius=radius, transmissivity=transmissivity, storativity=storativity,
                                                      block_storativity=block_storativity, interflow=interflow, blocks=blocks, bessel=scaled_k), time, **QUICK)
