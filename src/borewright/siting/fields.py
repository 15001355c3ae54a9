"""Smooth fields over a district: what records tell about a quantity at places between them, with its doubt."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from borewright.threads import one_thread

__all__ = ["EARTH_RADIUS", "Field", "Posterior", "best_width", "covariance", "fit_field", "gaussian_posterior", "left_out", "likely_widths", "normal_score", "one_thread", "place", "places"]

EARTH_RADIUS = 6_371_008.8
FAMILIES = ("smooth", "rough")
_WIDER = {"smooth": 1.0, "rough": 1.6}  # widths at which both look much alike
_PLAINLY = 1.0  # of log evidence, by which a rough field must be better than a smooth one
_UNLIKELY = 0.1  # of the likeliest width's weight: less, and a width is left out


def places(lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    """Return points on the sphere in space [m], shape (n, 3): straight-line distances that no meridian or pole breaks."""
    lon, lat = np.radians(np.asarray(lon, float)), np.radians(np.asarray(lat, float))
    across = np.cos(lat)
    out = np.stack([across * np.cos(lon), across * np.sin(lon), np.sin(lat)], axis=-1)
    out *= EARTH_RADIUS
    return out


def place(lon: float, lat: float) -> tuple[float, float, float]:
    """Return one point in space [m], as `places`."""
    lon, lat = math.radians(lon), math.radians(lat)
    across = EARTH_RADIUS * math.cos(lat)
    return across * math.cos(lon), across * math.sin(lon), EARTH_RADIUS * math.sin(lat)


@dataclass(frozen=True, slots=True)
class Field:
    """How a quantity varies over the ground: mean, spread and width of its local part, spread of its regional level.

    Attributes
    ----------
    mean : float
        Of the whole register.
    sd : float
        Standard deviation of the local part; 0 means that neighbours tell nothing beyond the register's level.
    length : float
        Distance over which the local part keeps its value [m]; infinite when sd is 0.
    nugget : float
        Standard deviation of what changes from one bore to the next.
    level_sd : float
        Doubt about the level of the surroundings.
    family : str
        "smooth" (squared exponential) or "rough" (Matérn 3/2).
    """

    mean: float
    sd: float
    length: float
    nugget: float
    level_sd: float
    family: str = "smooth"

    @property
    def variance(self) -> float:
        """Variance at a place of which nothing is known."""
        return self.sd**2 + self.nugget**2 + self.level_sd**2


def correlation(distance: np.ndarray, length: float, family: str) -> np.ndarray:
    """Return the correlation of the local part at each distance [m]."""
    if not np.isfinite(length):
        return np.ones_like(distance)
    # In place: these arrays are what an answer spends its time on.
    if family == "smooth":
        out = distance / length
        out *= out
        out *= -0.5
        return np.exp(out, out=out)
    scaled = np.sqrt(3.0) * distance / length
    out = np.exp(-scaled)
    scaled += 1.0
    out *= scaled
    return out


def distances(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Return the distances between two sets of points, shape (n, m) [m]."""
    from scipy.spatial.distance import cdist

    return cdist(first, second)


def covariance(distance: np.ndarray, field: Field) -> np.ndarray:
    """Return the covariance between places at each distance, without the nugget."""
    out = correlation(distance, field.length, field.family)
    out *= field.sd**2
    out += field.level_sd**2
    return out


@dataclass(frozen=True, slots=True)
class Posterior:
    """Belief at the records and at the sites: means and variances; `evidence` is the log marginal likelihood."""

    at_records: np.ndarray
    records_variance: np.ndarray | None
    mean: np.ndarray
    variance: np.ndarray
    evidence: float


def _factor(prior: np.ndarray, weight: np.ndarray):
    from scipy.linalg import cholesky

    root = np.sqrt(weight)
    system = prior * root[:, None] * root[None, :]
    system[np.diag_indices_from(system)] += 1.0
    return root, cholesky(system, lower=True, overwrite_a=True, check_finite=False)


def _at_sites(root, lower, cross, field):
    """Return the variance at the sites given the factor, shape (sites,)."""
    from scipy.linalg import solve_triangular

    half = solve_triangular(lower, root[:, None] * cross, lower=True, check_finite=False)
    return np.maximum(field.variance - (half**2).sum(axis=0), 1e-9)


def _at_records(prior: np.ndarray, precision: np.ndarray, root: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """Return the variance at the records given the factor, shape (n,)."""
    from scipy.linalg import solve_triangular
    from scipy.linalg.lapack import dtrtri

    # With the factored system B = 1 + w^1/2 K w^1/2 the posterior covariance is w^-1/2 (1 - B^-1) w^-1/2: the inverse of the factor
    # alone, a third of the work of solving for all of the prior. Where a record says next to nothing that would lose its digits.
    quiet = precision < 1e-6
    inverse, _ = dtrtri(lower, lower=1)
    out = (1.0 - np.einsum("ij,ij->j", inverse, inverse)) / np.where(quiet, 1.0, precision)
    if quiet.any():
        half = solve_triangular(lower, root[:, None] * prior[:, quiet], lower=True, check_finite=False)
        out[quiet] = np.diag(prior)[quiet] - (half**2).sum(axis=0)
    return out


def gaussian_posterior(value, precision, separation, cross_separation, field: Field, *, at_records: bool = False) -> Posterior:
    """Return the belief given values with known precision (1 / variance) at the records.

    Parameters
    ----------
    value, precision : ndarray, shape (n,)
    separation : ndarray, shape (n, n)
        Between records [m].
    cross_separation : ndarray, shape (n, sites) or None
        From records to sites [m].
    """
    from scipy.linalg import cho_solve

    prior = covariance(separation, field)
    prior[np.diag_indices_from(prior)] += field.nugget**2
    root, lower = _factor(prior, precision)
    residual = value - field.mean
    scaled = cho_solve((lower, True), root * residual, check_finite=False)
    dual = root * scaled
    live = precision > 0
    evidence = -0.5 * residual @ dual - np.log(np.diag(lower)).sum() + 0.5 * np.log(precision[live]).sum() - 0.5 * live.sum() * np.log(2 * np.pi)
    records_variance = None
    if at_records:
        records_variance = np.maximum(_at_records(prior, precision, root, lower), 1e-9)
    if cross_separation is None:
        mean = variance = np.empty(0)
    else:
        cross = covariance(cross_separation, field)
        mean, variance = field.mean + cross.T @ dual, _at_sites(root, lower, cross, field)
    return Posterior(field.mean + prior @ dual, records_variance, mean, variance, float(evidence))


def left_out(value: np.ndarray, precision: np.ndarray, separation: np.ndarray, field: Field) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of the belief at each record from all the others, shape (n,): closed, with nothing fitted again.

    References
    ----------
    Rasmussen, C. E. and Williams, C. K. I., 2006, Gaussian Processes for Machine Learning, MIT Press, equations 5.10 to 5.12
    (from memory).
    """
    from scipy.linalg import cho_solve

    prior = covariance(separation, field)
    prior[np.diag_indices_from(prior)] += field.nugget**2
    root, lower = _factor(prior, precision)
    inverse = root[:, None] * cho_solve((lower, True), np.diag(root), check_finite=False)
    # With precision w, the inverse of the records' covariance is w - w S w; left out, a record's own w drops away.
    whole = np.maximum(np.diag(prior) - np.einsum("ij,ij->i", prior, (inverse @ prior).T), 1e-12)
    at = field.mean + prior @ (inverse @ (value - field.mean))
    free = np.maximum(1.0 / whole - precision, 1e-9)
    return (at / whole - precision * value) / free, 1.0 / free


def normal_score(value: np.ndarray, precision: np.ndarray, separation: np.ndarray, field: Field) -> float:
    """Return the log score of each record told from all the others."""
    told = precision > 0
    mean, variance = left_out(value, precision, separation, field)
    spread = variance[told] + 1.0 / precision[told]
    return float(-0.5 * (np.log(spread) + (value - mean)[told] ** 2 / spread).sum())


def best_width(score_of: Callable[[Field], float], field: Field) -> Field:
    """Return the field with the width, about its own, whose held-out log score is best."""
    if field.sd < 0.03 or not np.isfinite(field.length):
        return field
    tried = [replace(field, length=field.length * step) for step in (0.8, 1.0, 1.25)]
    return max(tried, key=score_of)


def likely_widths(evidence_of: Callable[[Field], float], field: Field, *, extent: float, spacing: float) -> tuple[tuple[float, float], ...]:
    """Return the lengths of a field, about its own, that its records allow [m], and the weight of each; none where it has no length.

    Parameters
    ----------
    evidence_of : callable
        Log marginal likelihood of a field.
    extent, spacing : float
        As for `fit_field`, whose prior on the length is taken.
    """
    if field.sd < 0.03 or not np.isfinite(field.length):
        return ()
    lengths = field.length * 2.0 ** (0.5 * np.arange(-3, 4))
    lengths = lengths[(lengths >= 0.3 * spacing) & (lengths <= 2.0 * extent)]
    log_weight = np.array([evidence_of(replace(field, length=float(length))) for length in lengths]) - 0.5 * _surprise(lengths, extent, spacing) ** 2
    weight = np.exp(log_weight - log_weight.max())
    lengths, weight = lengths[weight > _UNLIKELY], weight[weight > _UNLIKELY]
    return tuple(zip(lengths.tolist(), (weight / weight.sum()).tolist(), strict=True))


def _surprise(length: np.ndarray, extent: float, spacing: float) -> np.ndarray:
    """Return how far the logarithm of a length lies from the middle of what is usual, in standard deviations."""
    return (np.log(length) - np.log(np.sqrt(max(spacing, 1.0) * 3 * extent))) / 1.2


def fit_field(evidence_of: Callable[[Field], float], *, mean: float, extent: float, spacing: float, typical_sd: float, level_sd: float,
              start: Field | None = None, evaluations: int = 36, nugget: float | None = None, shortest: float = 0.3, weigh: bool = False) -> Field:
    """Return the field that best explains the records, by their marginal likelihood, with weak priors on spread and width.

    Parameters
    ----------
    evidence_of : callable
        Log marginal likelihood of a field.
    mean : float
        Level of the whole register.
    extent, spacing : float
        Size of the sample and typical distance between neighbours [m]; the width is sought between them.
    typical_sd : float
        Centre of the prior on the spread.
    nugget : float, optional
        Taken as it is; else it is sought with the rest.
    shortest : float
        Least width, in spacings: a field narrower than bores stand apart is what changes from bore to bore by another name.
    weigh : bool
        Weigh both families against each other even where there is a start.
    """
    from scipy.optimize import minimize

    def build(p: np.ndarray, family: str) -> Field:
        length = float(np.clip(np.exp(p[1]), shortest * spacing, 2.0 * extent))
        return Field(float(mean + p[3]), float(np.exp(np.clip(p[0], -5, 1.5))), length, float(np.exp(np.clip(p[2], -6, 1))) if nugget is None else nugget, level_sd, family)

    def penalty(p: np.ndarray) -> float:
        return 0.5 * (((p[0] - np.log(typical_sd)) / 0.8) ** 2 + _surprise(np.exp(p[1]), extent, spacing) ** 2 + ((p[2] - np.log(0.08)) / 0.5) ** 2 + (p[3] / 1.0) ** 2)

    best: tuple[float, Field] | None = None
    for family in FAMILIES if start is None or weigh else (start.family,):
        if start is None:
            first = np.array([np.log(typical_sd), np.log(extent / 6.0), np.log(0.15), 0.0])
        else:
            first = np.array([np.log(max(start.sd, 0.02)), np.log(min(start.length * (_WIDER[family] / _WIDER[start.family]), extent)), np.log(max(start.nugget, 0.02)), start.mean - mean])
        simplex = np.vstack([first, *(first + step * np.eye(4)[i] for i, step in enumerate((0.4, 0.5, 0.6, 0.3)))])
        found = minimize(lambda p, family=family: penalty(p) - evidence_of(build(p, family)), first, method="Nelder-Mead",
                         options={"maxfev": evaluations, "initial_simplex": simplex, "xatol": 0.02, "fatol": 0.02})
        if best is None or -found.fun > best[0] + _PLAINLY:
            best = (-found.fun, build(found.x, family))
    return best[1]
