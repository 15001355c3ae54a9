"""Water as the stop rule sees it: strikes down the hole, flow in levels up to the need, belief updated by this hole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.errors import BadInput, OutOfDomain, require_finite, require_non_negative, require_positive
from borewright.siting.prospect import WaterProspect

__all__ = ["STRIKES_PER_STEP", "StrikeModel", "check_prospect", "negative_binomial", "panjer", "strike_model", "yield_kernel"]

STRIKES_PER_STEP = 3  # a step of a metre holds this many or more with vanishing chance; the rest is counted as this many
LEAST_USABLE_FLOW = 15e-3 / 60  # m3/s: 15 L/min, common practice, no source


@dataclass(frozen=True, slots=True)
class StrikeModel:
    """The prospect on a grid of depth steps, strike counts and flow levels.

    Attributes
    ----------
    depth : ndarray, shape (steps + 1,)
        Depths at which the driller may decide [m].
    exposure : ndarray, shape (steps + 1,)
        Expected strikes from the surface to each depth when the scale is 1 [-].
    shape, rate : float
        Gamma belief about the scale before the hole [-].
    need : float
        Flow that counts as enough [m3/s]; flow level j stands for j * need / (levels - 1), the last for the need or more.
    levels, counts : int
        Number of flow levels, and of strike counts kept apart (the last stands for that many or more).
    weights : ndarray, shape (steps, counts, STRIKES_PER_STEP + 1)
        Chance of 0, 1, 2, ... strikes in the next step given the strikes so far [-].
    kernels : ndarray, shape (STRIKES_PER_STEP, levels, levels)
        kernels[k - 1, j, l]: chance that k strikes lift the flow from level j to level l [-].
    log_yield_mean, log_yield_sd : float
        Of one strike's yield [ln(m3/s)].
    """

    depth: np.ndarray
    exposure: np.ndarray
    shape: float
    rate: float
    need: float
    levels: int
    counts: int
    weights: np.ndarray
    kernels: np.ndarray
    log_yield_mean: float
    log_yield_sd: float

    @property
    def step(self) -> float:
        """Length of one step [m]."""
        return float(self.depth[1] - self.depth[0])

    @property
    def steps(self) -> int:
        """Number of steps to the greatest depth."""
        return len(self.depth) - 1

    def level(self, flow: np.ndarray | float) -> np.ndarray:
        """Return the flow level of a flow [m3/s]: the nearest, but the last only when the need is met."""
        flow = np.asarray(flow, dtype=float)
        nearest = np.floor(flow * ((self.levels - 1) / self.need) + 0.5).astype(np.int64)
        return np.where(flow >= self.need, self.levels - 1, np.minimum(nearest, self.levels - 2))

    def tails(self, most: int) -> np.ndarray:
        """Return the chance that k more strikes lift each level to the need, shape (most + 1, levels) [-]."""
        out = np.zeros((most + 1, self.levels))
        out[0, -1] = 1.0
        for k in range(1, most + 1):
            out[k] = self.kernels[0] @ out[k - 1]
        return out


def check_prospect(prospect: WaterProspect) -> None:
    """Raise OutOfDomain for a prospect that no hole could have."""
    edges, intensity = np.asarray(prospect.depth_edges, float), np.asarray(prospect.strike_intensity, float)
    if edges.ndim != 1 or len(edges) < 2 or len(intensity) != len(edges) - 1 or edges[0] != 0 or not np.all(np.diff(edges) > 0):
        raise BadInput("depth_edges", len(edges), "are not ascending from 0 with one intensity between each two", "n + 1 edges for n intensities")
    require_finite(depth_edges=edges)
    require_non_negative(strike_intensity=intensity)
    require_positive(scale_shape=prospect.scale_shape, scale_rate=prospect.scale_rate, log_yield_sd=prospect.log_yield_sd)
    require_finite(log_yield_mean=prospect.log_yield_mean)


def negative_binomial(shape: np.ndarray | float, rate: np.ndarray | float, exposure: np.ndarray | float, most: int) -> np.ndarray:
    """Return the chances of 0..most strikes over an exposure when the scale is gamma(shape, rate) [-].

    Returns
    -------
    ndarray, shape broadcast + (most + 1,)
        The last term holds only its own chance; what is missing to 1 lies beyond it.

    References
    ----------
    Gelman and others, Bayesian Data Analysis, section 2.6 (from memory): the Poisson-gamma mixture is negative binomial.
    """
    shape, rate, exposure = np.broadcast_arrays(np.asarray(shape, float), np.asarray(rate, float), np.asarray(exposure, float))
    hit = exposure / (rate + exposure)
    out = np.empty((*shape.shape, most + 1))
    out[..., 0] = np.exp(shape * np.log1p(-hit))
    for k in range(1, most + 1):
        out[..., k] = out[..., k - 1] * hit * (shape + k - 1) / k
    return out


def yield_kernel(levels: int, need: float, log_yield_mean: float, log_yield_sd: float) -> np.ndarray:
    """Return the chance that one strike lifts flow level j to level l, shape (levels, levels) [-].

    The chance of reaching the need is exact from each level; below it a yield goes to the nearest level.
    """
    from scipy.special import ndtr

    width = need / (levels - 1)

    def below(flow: np.ndarray) -> np.ndarray:
        with np.errstate(divide="ignore"):
            return np.where(flow > 0, ndtr((np.log(np.maximum(flow, 1e-300)) - log_yield_mean) / log_yield_sd), 0.0)

    start, end = np.arange(levels)[:, None], np.arange(levels)[None, :]
    upper = np.where(end == levels - 2, (levels - 1 - start) * width, (end - start + 0.5) * width)
    kernel = np.where(end >= start, below(upper) - below((end - start - 0.5) * width), 0.0)
    kernel[:, -1] = 1.0 - below((levels - 1 - np.arange(levels)) * width)
    kernel[-1] = 0.0
    kernel[-1, -1] = 1.0
    return kernel


def step_weights(shape: float | np.ndarray, rate: float | np.ndarray, exposure: np.ndarray, counts: int) -> np.ndarray:
    """Return the chances of 0..STRIKES_PER_STEP strikes in each step, the last taking all the rest.

    `shape` and `rate` may carry leading batch axes; the result has shape batch + (steps, counts, STRIKES_PER_STEP + 1).
    """
    shape, rate = np.asarray(shape, float)[..., None, None], np.asarray(rate, float)[..., None, None]
    weights = negative_binomial(
        shape + np.arange(counts), rate + exposure[:-1, None], np.diff(exposure)[:, None] + np.zeros(counts), STRIKES_PER_STEP
    )
    weights[..., -1] = np.maximum(1.0 - weights[..., :-1].sum(axis=-1), 0.0)
    return weights


def strike_model(
    prospect: WaterProspect, *, need: float, maximum_depth: float, step: float = 1.0, levels: int = 60, counts: int | None = None
) -> StrikeModel:
    """Return the prospect on the grid of the stop rule.

    Parameters
    ----------
    need : float
        Flow that counts as enough [m3/s].
    maximum_depth : float
        Deepest the rig or the permit allows; rounded down to whole steps [m].
    step : float
        Depth between decisions [m].
    levels : int
        Flow levels from nothing to the need.
    counts : int, optional
        Strike counts kept apart; by default enough for all but one hole in a thousand, from 6 to 24.

    Raises
    ------
    OutOfDomain
        A need, step or depth that is not above zero, a depth below the deepest cell of the prospect, or a prospect no hole could have.
    """
    check_prospect(prospect)
    require_positive(need=need, maximum_depth=maximum_depth, step=step)
    edges = np.asarray(prospect.depth_edges, float)
    steps = int(np.floor(maximum_depth / step + 1e-9))
    if steps < 1 or steps > 2000:
        raise OutOfDomain("maximum_depth", maximum_depth, "does not hold from 1 to 2000 steps", f"a depth from {step:g} m")
    if steps * step > edges[-1] + 1e-6:
        raise OutOfDomain("maximum_depth", maximum_depth, "lies below the deepest the odds reach", f"at most {edges[-1]:g} m")
    if levels < 3:
        raise OutOfDomain("levels", levels, "are too few", "at least 3 flow levels")
    depth = np.arange(steps + 1) * step
    exposure = np.interp(depth, edges, np.concatenate([[0.0], np.cumsum(np.diff(edges) * prospect.strike_intensity)]))
    if counts is None:
        chances = negative_binomial(prospect.scale_shape, prospect.scale_rate, exposure[-1], 23)
        counts = int(np.clip(np.searchsorted(np.cumsum(chances), 0.999) + 1, 6, 24))
    kernel = yield_kernel(levels, need, prospect.log_yield_mean, prospect.log_yield_sd)
    kernels = np.stack([np.linalg.matrix_power(kernel, k) for k in range(1, STRIKES_PER_STEP + 1)])
    return StrikeModel(
        depth=depth, exposure=exposure, shape=float(prospect.scale_shape), rate=float(prospect.scale_rate), need=float(need), levels=levels,
        counts=counts, weights=step_weights(prospect.scale_shape, prospect.scale_rate, exposure, counts), kernels=kernels,
        log_yield_mean=float(prospect.log_yield_mean), log_yield_sd=float(prospect.log_yield_sd),
    )


def panjer(severity: np.ndarray, *, a: float, b: float, start: float, most: int) -> np.ndarray:
    """Return the chances of a random sum of whole-numbered severities, by Panjer's recursion, shape (most + 1,) [-].

    Parameters
    ----------
    severity : ndarray, shape (m + 1,)
        Chance of severity 0, 1, ..., m.
    a, b : float
        Of the count's class: chance(k) = (a + b / k) chance(k - 1). Poisson: 0, mean. Binomial(n, p): -p / (1 - p), (n + 1) p / (1 - p).
    start : float
        Chance that the sum is 0, that is the count's generating function at severity[0].

    References
    ----------
    Panjer, H. H., 1981, Recursive evaluation of a family of compound distributions, ASTIN Bulletin 12(1), 22-26 (from memory).
    """
    severity = np.asarray(severity, dtype=float)
    out = np.zeros(most + 1)
    out[0] = start
    for total in range(1, most + 1):
        j = np.arange(1, min(total, len(severity) - 1) + 1)
        out[total] = ((a + b * j / total) * severity[j] * out[total - j]).sum() / (1.0 - a * severity[0])
    return out
