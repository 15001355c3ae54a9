"""What the fitted model believes at places between the bores, with its doubt: for one spot or for thousands."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from borewright.siting.fields import EARTH_RADIUS, Field, correlation, covariance, distances, one_thread, place, places
from borewright.siting.model import Layer, OddsModel
from borewright.siting.register import Register

__all__ = ["ALL_SPEAK", "Around", "Belief", "around", "belief_at", "belief_from"]

ALL_SPEAK = 2000  # bores up to which all of them speak for every spot
_NEAREST = 160  # bores of a larger register that speak for one spot
_TILE = 400  # bores that speak for a tile of spots
_FEW = 12  # spots left in a tile that are quicker asked one by one
_NONE = 1e-9
_SERIES = 11  # highest degree of a series about the spot
_SERIES_ERROR = 1e-6  # of a correlation
_SERIES_DROP = 3e-3  # widths by which the globe may fall away from its plane at the spot
_BORDER = 1e30  # stands where the bordered system's own factor is not wanted: large enough to stay positive


@dataclass(frozen=True, slots=True)
class Belief:
    """Means and variances at each site, shape (sites,).

    Attributes
    ----------
    scale, scale_variance : ndarray
        Of the logarithm of the local scale [-].
    level, level_variance : ndarray
        Of the local mean of the logarithm of a strike's yield [ln(m3/s)].
    datum, datum_variance : ndarray
        Of the logarithm of the datum's depth plus one metre; zeros where the datum is the ground.
    records : ndarray
        Bores' worth of record behind it: each known bore counted by the square of its correlation with the site [-].
    nearest : ndarray
        Distance of the nearest known bore [m].
    """

    scale: np.ndarray
    scale_variance: np.ndarray
    level: np.ndarray
    level_variance: np.ndarray
    datum: np.ndarray
    datum_variance: np.ndarray
    records: np.ndarray
    nearest: np.ndarray


@dataclass(frozen=True, slots=True)
class Around:
    """The nearest bores of one spot: its point in space [m], rows of the register, ascending in distance [m]."""

    spot: tuple[float, float, float]
    rows: np.ndarray
    distance: np.ndarray


def around(register: Register, longitude: float, latitude: float) -> Around:
    """Return the bores that speak for one spot [deg]."""
    return _near(register, place(longitude, latitude))


def _near(register: Register, spot: tuple[float, float, float]) -> Around:
    distance, rows = register.tree.query(spot, k=min(_NEAREST, len(register)))
    return Around(spot, np.atleast_1d(rows), np.atleast_1d(distance))


def belief_from(model: OddsModel, register: Register, near: Around) -> Belief:
    """Return the belief at one spot from the bores around it."""
    with one_thread():
        return Belief(*_one(model, register, near)[:, None])


def _one(model: OddsModel, register: Register, near: Around) -> np.ndarray:
    """Return the eight numbers of a belief at one spot."""
    if len(register) <= ALL_SPEAK:
        return _from_all(model, register, np.array([near.spot]))[:, 0]
    points = register.places[near.rows] - near.spot
    local = _directions(near.spot) @ points.T
    squared = near.distance * near.distance
    out = np.zeros(8)
    for at, layer in ((0, model.scale), (2, model.water), (4, model.datum)):
        if layer is not None:
            out[at : at + 2] = _layer_one(layer, near.rows, points, local, squared)
    close = near.distance[model.scale.precision[near.rows] > 0]
    reach = model.scale.field
    weight = correlation(close, reach.length, reach.family)
    out[6], out[7] = weight @ weight, close[0] if len(close) else np.inf
    return out


def _directions(spot: tuple[float, float, float]) -> np.ndarray:
    """Return the directions east, north and up at a point in space, shape (3, 3)."""
    x, y, z = spot
    across, out = math.hypot(x, y), math.sqrt(x * x + y * y + z * z)
    cos_lon, sin_lon = (x / across, y / across) if across else (1.0, 0.0)
    cos_lat, sin_lat = across / out, z / out
    return np.array([[-sin_lon, cos_lon, 0.0], [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat], [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat]])


@lru_cache(maxsize=1)
def _widest() -> list[float]:
    """Return, for each degree of the series, how far it holds: distance over width, squared."""

    def error(degree: int, wide: float) -> float:
        return math.exp((degree + 1) * math.log(wide) - wide - math.lgamma(degree + 2)) / (1.0 - wide / (degree + 2))

    out = []
    for degree in range(_SERIES + 1):
        low, high = 0.0, degree + 1.0  # the error grows as far as there
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if error(degree, middle) > _SERIES_ERROR else (middle, high)
        out.append(low)
    return out


@lru_cache(maxsize=_SERIES + 1)
def _terms(degree: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the powers of east and north of each term up to a degree, the spot's own term first, and the divisors that make powers of each degree of the last."""
    east, north = zip(*((whole - j, j) for whole in range(degree + 1) for j in range(whole + 1)), strict=True)
    return np.array(east), np.array(north), 1.0 / np.sqrt(np.arange(1.0, degree + 1.0))[:, None, None]


def _layer_series(layer: Layer, rows: np.ndarray, local: np.ndarray, squared: np.ndarray, degree: int) -> tuple[float, float]:
    """Return mean and variance of a smooth layer at one spot, its covariance written as a series in the offsets from the spot.

    exp(-|x - y|^2 / 2) is exp(-|x|^2 / 2) exp(-|y|^2 / 2) times the power series of exp(x . y): few terms near the spot,
    so that the records are solved for the weights of those terms instead of for one another. Of all terms only the first
    is not nought at the spot. Heights above the plane there are next to nothing: of them the first term does.
    """
    from scipy.linalg.lapack import dposv

    field: Field = layer.field
    east, north, divisor = _terms(degree)
    powers = np.empty((degree + 1, 2, len(rows)))
    np.exp(squared * (-0.5 / field.length**2), out=powers[0, 0])
    powers[0, 0] *= field.sd
    powers[0, 1] = 1.0
    np.multiply(local[:2] / field.length, divisor, out=powers[1:])
    np.multiply.accumulate(powers, axis=0, out=powers)
    precision = layer.precision[rows]
    root = np.sqrt(precision / (1.0 + field.nugget**2 * precision))
    # The doubt about the level is one term more, the same everywhere.
    design = np.empty((len(east) + 2, len(rows)))
    np.multiply(powers[east, 0], powers[north, 1], out=design[:-2])
    np.multiply(powers[0, 0], local[2] / field.length, out=design[-2])
    design[-1] = field.level_sd
    design *= root
    system = design @ design.T
    system.reshape(-1)[:: len(system) + 1] += 1.0
    right = np.zeros((2, len(system)))
    right[0] = design @ (root * (layer.value[rows] - field.mean))
    right[1, 0], right[1, -1] = field.sd, field.level_sd
    _, solved, _ = dposv(system, right.T, lower=True, overwrite_a=True)
    mean, variance = right[1, 0] * solved[0] + right[1, -1] * solved[-1]
    return field.mean + mean, max(variance + field.nugget**2, 1e-9)


def _covariances(system: np.ndarray, points: np.ndarray, field: Field) -> None:
    """Fill the upper triangle of a system with the covariances of points about the spot [m]; the spot stands at their origin, last."""
    n = len(points)
    scaled = points / field.length
    left, right = np.zeros((n + 2, 5)), np.zeros((5, n + 2))
    left[:n, :3], right[:3, :n] = scaled, scaled.T
    left[:, 4] = right[3] = 1.0
    left[:n, 3] = right[4, :n] = -0.5 * np.einsum("ij,ij->i", scaled, scaled)
    # One product gives every pair's exponent, -(distance / length)^2 / 2.
    np.matmul(left, right, out=system)
    step = -(-len(system) // 4)
    for top in range(0, len(system), step):
        block = system[top : top + step, top:]
        if field.family == "smooth":
            np.exp(block, out=block)
        else:
            block *= -6.0
            np.maximum(block, 0.0, out=block)
            np.sqrt(block, out=block)
            fall = np.exp(-block)
            block += 1.0
            block *= fall
        block *= field.sd**2
        block += field.level_sd**2


def _layer_one(layer: Layer, rows: np.ndarray, points: np.ndarray, local: np.ndarray, squared: np.ndarray) -> tuple[float, float]:
    """Return mean and variance of a layer at one spot, by a series where it is shorter than the records, else `_layer_pairs`.

    `points` and `local` are the records' offsets from the spot, in space and east, north and up [m]; `squared` their distances [m2].
    """
    if layer.field.family == "smooth" and squared[-1] < 2.0 * EARTH_RADIUS * _SERIES_DROP * layer.field.length:
        degree = bisect_left(_widest(), squared[-1] / layer.field.length**2)
        if degree <= _SERIES and (degree + 1) * (degree + 2) < len(rows):
            return _layer_series(layer, rows, local, squared, degree)
    return _layer_pairs(layer, rows, points)


def _layer_pairs(layer: Layer, rows: np.ndarray, points: np.ndarray) -> tuple[float, float]:
    """Return mean and variance of a layer at one spot: as `_layer_at`, each pair of points worked out once.

    The system is bordered by the spot and by the records' values, so that one factorisation also solves for both.
    """
    from scipy.linalg.lapack import dpotrf

    field: Field = layer.field
    precision = layer.precision[rows]
    told = precision > 0
    if not told.all():
        rows, precision, points = rows[told], precision[told], points[told]
    n = len(rows)
    if n == 0:
        return field.mean, field.variance
    system = np.empty((n + 2, n + 2))
    _covariances(system, points, field)
    diagonal = system.reshape(-1)[:: n + 3]
    diagonal[:n] = field.sd**2 + field.level_sd**2 + field.nugget**2 + 1.0 / np.maximum(precision, _NONE)
    diagonal[n:] = _BORDER
    system[:n, n + 1] = layer.value[rows] - field.mean
    system[n, n + 1] = 0.0
    lower, _ = dpotrf(system.T, lower=True, clean=False, overwrite_a=True)
    spot, values = lower[n, :n], lower[n + 1, :n]
    return field.mean + spot @ values, max(field.variance - spot @ spot, 1e-9)


def _layer_at(layer: Layer, rows: np.ndarray, separation: np.ndarray, cross: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of a layer at sites from the rows that tell something."""
    from scipy.linalg.lapack import dpotrf, dtrtrs

    field: Field = layer.field
    told = layer.precision[rows] > 0
    if not told.all():
        rows, separation, cross = rows[told], separation[np.ix_(told, told)], cross[told]
    if len(rows) == 0:
        return np.full(cross.shape[1], field.mean), np.full(cross.shape[1], field.variance)
    system = covariance(separation, field)
    system[np.diag_indices_from(system)] += field.nugget**2 + 1.0 / np.maximum(layer.precision[rows], _NONE)
    lower, _ = dpotrf(system, lower=True, overwrite_a=True)
    right = np.column_stack([layer.value[rows] - field.mean, covariance(cross, field)])
    solved, _ = dtrtrs(lower, right, lower=True, overwrite_b=True)
    half = solved[:, 1:]
    return field.mean + half.T @ solved[:, 0], np.maximum(field.variance - (half * half).sum(axis=0), 1e-9)


def belief_at(model: OddsModel, register: Register, lon: np.ndarray, lat: np.ndarray) -> Belief:
    """Return the belief at each site.

    Parameters
    ----------
    lon, lat : ndarray, shape (sites,)
        [deg].

    Notes
    -----
    In a register of moderate size every bore speaks for every site. Else sites are taken in tiles so small beside the reach of their nearest bores that those bores serve the whole tile; sites
    that stand alone take their own nearest bores.
    """
    with one_thread():
        return Belief(*_many(model, register, places(lon, lat)))


@dataclass(frozen=True, slots=True)
class _Solved:
    """A layer solved once for all bores that tell something of it: which they are, the system's factor and the bores' weights."""

    layer: Layer
    told: np.ndarray | slice
    lower: np.ndarray
    dual: np.ndarray

    def at(self, distance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and variance at sites, given their distances from all bores, shape (bores, sites) [m]."""
        from scipy.linalg.lapack import dtrtrs

        field = self.layer.field
        if len(self.dual) == 0:
            return np.full(distance.shape[1], field.mean), np.full(distance.shape[1], field.variance)
        cross = covariance(distance[self.told], field)
        mean = field.mean + self.dual @ cross
        half, _ = dtrtrs(self.lower, cross, lower=True)
        return mean, np.maximum(field.variance - np.einsum("ij,ij->j", half, half), 1e-9)


def _solved(model: OddsModel, register: Register) -> list[_Solved | None]:
    """Return the scale, the water and the datum solved for all bores, kept with the register."""
    kept = register.__dict__.get("_solved")
    if kept is None or kept[0] is not model:
        separation = distances(register.places, register.places)
        kept = register.__dict__["_solved"] = (model, [None if layer is None else _solve(layer, separation) for layer in (model.scale, model.water, model.datum)])
    return kept[1]


def _solve(layer: Layer, separation: np.ndarray) -> _Solved:
    from scipy.linalg.lapack import dpotrf, dpotrs

    told: np.ndarray | slice = layer.told
    if told.all():
        told = slice(None)
    elif not told.any():
        return _Solved(layer, told, np.empty((0, 0)), np.empty(0))
    system = covariance(separation[told][:, told], layer.field)
    system[np.diag_indices_from(system)] += layer.field.nugget**2 + 1.0 / np.maximum(layer.precision[told], _NONE)
    lower, _ = dpotrf(system.T, lower=True, overwrite_a=True)
    dual, _ = dpotrs(lower, layer.value[told] - layer.field.mean, lower=True)
    return _Solved(layer, told, lower, dual)


def _from_all(model: OddsModel, register: Register, points: np.ndarray) -> np.ndarray:
    """Return the eight numbers of a belief at each of many spots, all bores speaking for each, shape (8, sites)."""
    out = np.zeros((8, len(points)))
    reach, told = model.scale.field, model.scale.told
    for sites in np.array_split(np.arange(len(points)), max(1, math.ceil(len(points) / 512))):
        distance = distances(register.places, points[sites])
        for at, one in zip((0, 2, 4), _solved(model, register), strict=True):
            if one is not None:
                out[at, sites], out[at + 1, sites] = one.at(distance)
        close = distance[told]
        weight = correlation(close, reach.length, reach.family)
        out[6, sites] = np.einsum("ij,ij->j", weight, weight)
        out[7, sites] = close.min(axis=0) if len(close) else np.inf
    return out


def _many(model: OddsModel, register: Register, points: np.ndarray) -> np.ndarray:
    """Return the eight numbers of a belief at each of many spots, shape (8, sites)."""
    if len(register) <= ALL_SPEAK:
        return _from_all(model, register, points)
    tree = register.tree
    n = len(register)
    out = np.empty((8, len(points)))
    most = min(_TILE, n)
    stack = [np.arange(len(points))]
    while stack:
        sites = stack.pop()
        mine = points[sites]
        middle = mine.mean(axis=0)
        near, rows = tree.query(middle, k=most)
        near, rows = np.atleast_1d(near), np.atleast_1d(rows)
        radius = float(np.sqrt(((mine - middle) ** 2).sum(axis=1)).max())
        if len(sites) > 512 or (most < n and len(sites) > 1 and radius > 0.35 * near[-1]):
            axis = int(np.argmax(mine.max(axis=0) - mine.min(axis=0)))
            order = sites[np.argsort(mine[:, axis], kind="stable")]
            stack += [order[: len(order) // 2], order[len(order) // 2 :]]
            continue
        if len(sites) <= _FEW:
            for site in sites:
                out[:, site] = _one(model, register, _near(register, tuple(points[site].tolist())))
            continue
        separation = distances(register.places[rows], register.places[rows])
        cross = distances(register.places[rows], mine)
        out[0, sites], out[1, sites] = _layer_at(model.scale, rows, separation, cross)
        out[2, sites], out[3, sites] = _layer_at(model.water, rows, separation, cross)
        if model.datum is None:
            out[4:6, sites] = 0.0
        else:
            out[4, sites], out[5, sites] = _layer_at(model.datum, rows, separation, cross)
        told = model.scale.precision[rows] > 0
        reach = model.scale.field
        close = np.minimum(cross[told], 1e12)
        weight = correlation(close, reach.length, reach.family) ** 2
        out[6, sites] = weight.sum(axis=0)
        out[7, sites] = close.min(axis=0) if told.any() else np.inf
    return out
