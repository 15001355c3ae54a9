"""What siting hands to pricing and the rig: the belief about water and ground at one spot, as plain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["ExpectedColumn", "WaterProspect"]


@dataclass(frozen=True, slots=True)
class WaterProspect:
    """Belief about the water strikes under one spot: a marked Poisson process whose local scale is gamma distributed.

    Strikes fall as a Poisson process down the hole with intensity ``scale * strike_intensity``; ``scale`` is unknown with a
    gamma belief; each strike's yield is log-normal. Given the belief, the number of strikes by a depth is negative binomial.

    Attributes
    ----------
    depth_edges : ndarray, shape (n + 1,)
        Edges of the depth cells below ground, ascending from 0 [m].
    strike_intensity : ndarray, shape (n,)
        Expected strikes per metre in each cell when the scale is 1 [1/m].
    scale_shape, scale_rate : float
        Gamma belief about the local scale; its mean is scale_shape / scale_rate [-].
    log_yield_mean, log_yield_sd : float
        Mean and standard deviation of the natural logarithm of one strike's yield in m3/s, local mean's doubt included [-].
    effective_records : float
        How many bores' worth of record stand behind the belief [-].
    """

    depth_edges: np.ndarray
    strike_intensity: np.ndarray
    scale_shape: float
    scale_rate: float
    log_yield_mean: float
    log_yield_sd: float
    effective_records: float


@dataclass(frozen=True, slots=True)
class ExpectedColumn:
    """Belief about the ground under one spot.

    Attributes
    ----------
    depth_edges : ndarray, shape (n + 1,)
        Edges of the depth cells below ground, ascending from 0 [m].
    classes : tuple of str, length k
        Names from `borewright.ground.GROUND`.
    probability : ndarray, shape (n, k)
        Probability of each class in each cell; rows sum to 1 [-].
    rockhead_quantiles : dict
        Depth of rockhead below ground at each probability, for example {0.1: 4.0, 0.5: 9.0, 0.9: 17.0} [m].
    effective_records : float
        How many bores' worth of logs stand behind it [-].
    """

    depth_edges: np.ndarray
    classes: tuple[str, ...]
    probability: np.ndarray
    rockhead_quantiles: dict[float, float]
    effective_records: float
