"""Records of a dense register gathered into cells much narrower than its fields are wide: each cell speaks as one record."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from borewright.siting.fields import EARTH_RADIUS, Field

if TYPE_CHECKING:
    from borewright.siting.model import OddsModel
    from borewright.siting.register import Register

__all__ = ["Gathered", "SPEAKING", "gather", "gathered_of"]

# Widths of a field along a cell's side. A mean over a cell then stands for the field at its middle to about 1 % of the
# field's spread, for a rough field to about 1 % of its variance.
_SIDE = {"smooth": 0.4, "rough": 0.2}
_MISFIT = 0.015  # of the field's spread
SPEAKING = 100  # cells that speak for one spot
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
