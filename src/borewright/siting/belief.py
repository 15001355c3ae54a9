"""What the fitted model believes at places between the bores, with its doubt: for one spot or for thousands."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from borewright.siting.fields import Field, correlation, covariance, distances, one_thread, place, places
from borewright.siting.gathered import at_cells, at_cells_of_many, gathered_of
from borewright.siting.model import Layer, OddsModel
from borewright.siting.register import Register
from borewright.siting.spot import at_spot

__all__ = ["ALL_SPEAK", "Around", "Belief", "around", "belief_at", "belief_from", "nearest_known"]

ALL_SPEAK = 2000  # bores up to which all of them speak for every spot
_NEAREST = 160  # bores of a larger register that speak for one spot
_HEARD = 16  # bores around a spot that are looked up where cells speak for it
_TILE = 400  # bores that speak for a tile of spots
_FEW = 12  # spots left in a tile that are quicker asked one by one
_NONE = 1e-9
_LAYERS = ((0, "scale"), (2, "water"), (4, "datum"))  # where each stands among the numbers of a belief


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


def around(model: OddsModel, register: Register, longitude: float, latitude: float) -> Around:
    """Return the bores around one spot [deg]: those that speak for it or tell of its ground and water; where cells speak and no bore tells more, only the nearest few."""
    few = len(register) > ALL_SPEAK and not register.tells_more and gathered_of(model, register) is not None
    return _near(register, place(longitude, latitude), _HEARD if few else _NEAREST)


def _near(register: Register, spot: tuple[float, float, float], most: int = _NEAREST) -> Around:
    distance, rows = register.tree.query(spot, k=min(most, len(register)))
    return Around(spot, np.atleast_1d(rows), np.atleast_1d(distance))


def belief_from(model: OddsModel, register: Register, near: Around) -> Belief:
    """Return the belief at one spot from the bores around it."""
    with one_thread():
        return Belief(*_one(model, register, near)[:, None])


def _one(model: OddsModel, register: Register, near: Around) -> np.ndarray:
    """Return the eight numbers of a belief at one spot."""
    if len(register) <= ALL_SPEAK:
        return _from_all(model, register, np.array([near.spot]))[:, 0]
    out = np.zeros(8)
    close = near.distance[model.scale.precision[near.rows] > 0]
    reach = model.scale.field
    cells = gathered_of(model, register)
    if cells is not None:
        out[7] = close[0] if len(close) else nearest_known(model, register, np.array([near.spot]))[0]
        for at, name in _LAYERS:
            if name in cells:
                out[at], out[at + 1], worth = at_cells(getattr(model, name).field, cells[name], near.spot)
                out[6] = worth if name == "scale" else out[6]
        return out
    out[7] = close[0] if len(close) else np.inf
    points = register.places[near.rows] - near.spot
    for at, name in _LAYERS:
        layer = getattr(model, name)
        if layer is not None:
            out[at : at + 2] = _layer_one(layer, near.rows, points)
    weight = correlation(close, reach.length, reach.family)
    out[6] = weight @ weight
    return out


def _layer_one(layer: Layer, rows: np.ndarray, points: np.ndarray) -> tuple[float, float]:
    """Return mean and variance of a layer at one spot from the rows that tell something, `points` being their offsets from it [m]."""
    precision = layer.precision[rows]
    told = precision > 0
    if not told.all():
        rows, precision, points = rows[told], precision[told], points[told]
    return at_spot(layer.field, layer.value[rows], layer.field.nugget**2 + 1.0 / np.maximum(precision, _NONE), points)


def _layer_at(layer: Layer, rows: np.ndarray, separation: np.ndarray, cross: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of a layer at sites from the rows that tell something."""

    field: Field = layer.field
    told = layer.precision[rows] > 0
    if not told.all():
        rows, separation, cross = rows[told], separation[np.ix_(told, told)], cross[told]
    return _at_sites(field, layer.value[rows], field.nugget**2 + 1.0 / np.maximum(layer.precision[rows], _NONE), separation, cross)


def _at_sites(field: Field, value: np.ndarray, noise: np.ndarray, separation: np.ndarray, cross: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance of a field at sites from records of it, each with its noise, and the distances among them and to the sites [m]."""
    from scipy.linalg.lapack import dpotrf, dtrtrs

    if len(value) == 0:
        return np.full(cross.shape[1], field.mean), np.full(cross.shape[1], field.variance)
    system = covariance(separation, field)
    system[np.diag_indices_from(system)] += noise
    lower, _ = dpotrf(system, lower=True, overwrite_a=True)
    right = np.column_stack([value - field.mean, covariance(cross, field)])
    solved, _ = dtrtrs(lower, right, lower=True, overwrite_b=True)
    half = solved[:, 1:]
    return field.mean + half.T @ solved[:, 0], np.maximum(field.variance - (half * half).sum(axis=0), 1e-9)


def nearest_known(model: OddsModel, register: Register, points: np.ndarray) -> np.ndarray:
    """Return the distance from each point in space to the nearest bore with a known result, shape (sites,) [m]."""
    tree, told = register.tree, model.scale.told
    if not told.all():
        from scipy.spatial import cKDTree

        tree = register.__dict__.get("_known_tree")
        if tree is None:
            tree = register.__dict__["_known_tree"] = cKDTree(register.places[told], balanced_tree=False)
    return tree.query(points)[0]


def belief_at(model: OddsModel, register: Register, lon: np.ndarray, lat: np.ndarray) -> Belief:
    """Return the belief at each site.

    Parameters
    ----------
    lon, lat : ndarray, shape (sites,)
        [deg].

    Notes
    -----
    In a register of moderate size every bore speaks for every site. In a large one whose bores stand close together beside the width of the fields they are gathered into cells,
    and the cells around speak. Else sites are taken in tiles so small beside the reach of their nearest bores that those bores serve the whole tile; sites that stand alone take
    their own nearest bores.
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


def _solved(model: OddsModel, register: Register) -> list[list[tuple[_Solved, float]] | None]:
    """Return the scale, the water and the datum solved for all bores, at each of their widths with its weight; kept with the register."""
    kept = register.__dict__.get("_solved")
    if kept is None or kept[0] is not model:
        separation = distances(register.places, register.places)
        kept = register.__dict__["_solved"] = (model, [None if layer is None else [(_solve(replace(layer, field=field), separation), weight) for field, weight in layer.fields] for layer in (model.scale, model.water, model.datum)])
    return kept[1]


def _averaged(solved: list[tuple[_Solved, float]], distance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and variance at sites over the widths of a layer: how far they differ is doubt too."""
    if len(solved) == 1:
        return solved[0][0].at(distance)
    weights = np.array([weight for _, weight in solved])
    means, variances = (np.array(part) for part in zip(*(one.at(distance) for one, _ in solved), strict=True))
    mean = weights @ means
    return mean, weights @ (variances + (means - mean) ** 2)


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
                out[at, sites], out[at + 1, sites] = _averaged(one, distance)
        close = distance[told]
        weight = correlation(close, reach.length, reach.family)
        out[6, sites] = np.einsum("ij,ij->j", weight, weight)
        out[7, sites] = close.min(axis=0) if len(close) else np.inf
    return out


def _many(model: OddsModel, register: Register, points: np.ndarray) -> np.ndarray:
    """Return the eight numbers of a belief at each of many spots, shape (8, sites)."""
    if len(register) <= ALL_SPEAK:
        return _from_all(model, register, points)
    cells = gathered_of(model, register)
    if cells is not None:
        out = np.zeros((8, len(points)))
        for at, name in _LAYERS:
            if name in cells:
                found = at_cells_of_many(getattr(model, name).field, cells[name], points)
                out[at : at + 2] = found[:2]
                out[6] = found[2] if name == "scale" else out[6]
        out[7] = nearest_known(model, register, points)
        return out
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
