"""Records of a dense register gathered into cells much narrower than its fields are wide: each cell speaks as one record."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from borewright.siting.fields import EARTH_RADIUS, Field, correlation, covariance, distances
from borewright.siting.spot import at_spot, lapack

if TYPE_CHECKING:
    from borewright.siting.model import OddsModel
    from borewright.siting.register import Register

__all__ = ["Gathered", "at_cells", "at_cells_of_many", "gather", "gathered_of"]

# Widths of a field along a cell's side. A mean over a cell then stands for the field at its middle to about 1 % of the
# field's spread, for a rough field to about 1 % of its variance.
_SIDE = {"smooth": 0.4, "rough": 0.2}
_MISFIT = 0.015  # of the field's spread
_SPEAKING = 100  # cells that speak for one spot
_ALL_SPEAK = 200  # cells up to which all of them speak for every spot: solved once, and quicker than any of them anew
_FAINTEST = 1e-9  # of a cell's word at the very edge
_DENSE = 2.0  # bores to a cell from which gathering them is worth while: fewer, and the nearest bores reach as far by themselves


@dataclass(frozen=True)
class Gathered:
    """What the bores of each cell say together, as one record.

    Attributes
    ----------
    points : ndarray, shape (cells, 3)
        Middle of the cell's bores, weighted as they count [m].
    value, precision : ndarray, shape (cells,)
        As a layer's, what changes from bore to bore counted in the precision already.
    bores : ndarray, shape (cells,)
        How many bores say anything there.
    """

    points: np.ndarray
    value: np.ndarray
    precision: np.ndarray
    bores: np.ndarray

    @cached_property
    def tree(self):
        """Index of the cells by place."""
        from scipy.spatial import cKDTree

        return cKDTree(self.points)

    def solved(self, field: Field) -> tuple[np.ndarray, np.ndarray]:
        """Return the factor of the system of all cells, shape (cells, cells), and their weights, shape (cells,); worked out once."""
        kept = self.__dict__.get("_solved")
        if kept is None or kept[0] is not field:
            system = covariance(distances(self.points, self.points), field)
            system[np.diag_indices_from(system)] += 1.0 / self.precision
            lower, _ = lapack().dpotrf(system.T, lower=True, overwrite_a=True)
            weights, _ = lapack().dpotrs(lower, self.value - field.mean, lower=True)
            kept = self.__dict__["_solved"] = (field, lower, weights)
        return kept[1:]

    def as_table(self) -> np.ndarray:
        """Return all of it as one array, shape (cells, 6)."""
        return np.column_stack([self.points, self.value, self.precision, self.bores])

    @classmethod
    def of_table(cls, table: np.ndarray) -> Gathered:
        """Return what `as_table` gave."""
        return cls(np.ascontiguousarray(table[:, :3]), table[:, 3].copy(), table[:, 4].copy(), table[:, 5].copy())


def gather(field: Field, value: np.ndarray, precision: np.ndarray, lon: np.ndarray, lat: np.ndarray, places: np.ndarray) -> Gathered:
    """Return the records of a layer by cells.

    Parameters
    ----------
    value, precision : ndarray, shape (n,)
        Of each bore's record; precision 0 says nothing.
    lon, lat, places : ndarray, shapes (n,), (n,), (n, 3)
        Where the bores stand [deg], [deg], [m].
    """
    told = precision > 0
    if not told.all():
        value, precision, lon, lat, places = value[told], precision[told], lon[told], lat[told], places[told]
    weight = precision / (1.0 + field.nugget**2 * precision)
    of, count = _cells(lon, lat, _SIDE[field.family] * field.length)
    total = np.bincount(of, weight, count)
    mean = lambda v: np.bincount(of, weight * v, count) / total
    precision = 1.0 / (1.0 / total + (_MISFIT * field.sd) ** 2)
    return Gathered(np.column_stack([mean(places[:, i]) for i in range(3)]), mean(value), precision, np.bincount(of, minlength=count))


def at_cells(field: Field, cells: Gathered, spot: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return mean, variance and bores' worth of record of a field at one spot, from the cells around it.

    Towards the edge of those that speak their word fades, so that no answer steps where one comes or goes. Bores beyond them are not counted in the record.
    """
    if len(cells.points) <= _ALL_SPEAK:
        mean, variance, records = _from_all(field, cells, np.array([spot]))
        return float(mean[0]), float(variance[0]), float(records[0])
    distance, rows = cells.tree.query(spot, k=_SPEAKING + 1)
    weight = correlation(distance, field.length, field.family)
    weight *= weight
    records = float(weight @ cells.bores[rows])
    fade = distance[:-1] / distance[-1]
    fade *= fade
    np.subtract(1.0, fade, out=fade)
    fade *= fade
    np.maximum(fade, _FAINTEST, out=fade)
    rows = rows[:-1]
    fade *= cells.precision[rows]
    return *at_spot(field, cells.value[rows], 1.0 / fade, cells.points[rows] - spot), records


def at_cells_of_many(field: Field, cells: Gathered, spots: np.ndarray) -> np.ndarray:
    """Return mean, variance and bores' worth of record at many spots, shape (3, spots): those of each alone."""
    if len(cells.points) > _ALL_SPEAK:
        return np.array([at_cells(field, cells, spot) for spot in spots]).reshape(-1, 3).T
    parts = np.array_split(spots, max(1, len(spots) // 1024))
    return np.concatenate([_from_all(field, cells, part) for part in parts], axis=1)


def _from_all(field: Field, cells: Gathered, spots: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return mean, variance and bores' worth of record at spots, every cell speaking for each; each of shape (spots,)."""
    lower, weights = cells.solved(field)
    cross = correlation(distances(cells.points, spots), field.length, field.family)
    records = cells.bores @ (cross * cross)
    cross *= field.sd**2
    cross += field.level_sd**2
    mean = weights @ cross
    mean += field.mean
    half, _ = lapack().dtrtrs(lower, cross, lower=True)
    half *= half
    return mean, np.maximum(field.variance - half.sum(axis=0), 1e-9), records


def gathered_of(model: OddsModel, register: Register) -> dict[str, Gathered] | None:
    """Return the scale, the water and the datum of a model by cells, kept with it; None where its bores stand too far apart to be gathered."""
    kept = model.__dict__.get("_gathered", False)
    if kept is False:
        layers = {name: layer for name in ("scale", "water", "datum") if (layer := getattr(model, name)) is not None}
        kept = {name: gather(layer.field, layer.value, layer.precision, register.lon, register.lat, register.places) for name, layer in layers.items()}
        if not any(cells.bores.sum() > _DENSE * len(cells.bores) for cells in kept.values()):
            kept = None
        model.__dict__["_gathered"] = kept
    return kept


def _cells(lon: np.ndarray, lat: np.ndarray, side: float) -> tuple[np.ndarray, int]:
    """Return the cell of each place, numbered without gaps, and how many there are: bands of latitude, each cut into cells about as long."""
    if not np.isfinite(side):
        return np.zeros(len(lon), np.int64), min(len(lon), 1)
    height = np.degrees(side / EARTH_RADIUS)
    band = np.floor((lat + 90.0) / height)
    # As many cells around the globe as fit, so that none is cut by a meridian.
    around = np.maximum(np.floor(360.0 / height * np.cos(np.radians(np.clip((band + 0.5) * height - 90.0, -90.0, 90.0)))), 1.0)
    cell = np.floor((lon % 360.0) * (around / 360.0))
    key = (band * np.ceil(360.0 / height) + cell).astype(np.int64)
    keys, of = np.unique(key, return_inverse=True)
    return of, len(keys)
