"""The odds over an area at one need and depth: a grid of cells, worked in tiles here or on many machines, the same numbers either way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from borewright.errors import Advisory, BadInput, OutOfDomain, require_finite, require_positive
from borewright.siting.belief import ALL_SPEAK, nearest_known
from borewright.siting.fields import EARTH_RADIUS, places
from borewright.siting.gathered import gathered_of
from borewright.siting.keep import model_of
from borewright.siting.lattice import fill
from borewright.siting.odds import odds_at_sites, reach_of, worked_at_sites
from borewright.siting.register import Register

__all__ = ["OddsMap", "bounds_of", "coarser", "map_of_odds", "tile_odds"]

MOST_CELLS = 4_000_000
_TILE = 64  # cells along a tile's side
_WIDEST_STEP = 16  # cells
_RIGHT_TO = 0.002
_DEGREE = EARTH_RADIUS * np.pi / 180.0


@dataclass(frozen=True)
class OddsMap:
    """Odds over an area, north at the top.

    Attributes
    ----------
    register : str
    west, south, east, north : float
        Outer edges of the grid; east is above 180 where the area runs over the antimeridian [deg].
    p, low, high, effective_records : ndarray, shape (rows, columns)
        Of each cell's middle, first row northernmost; NaN outside the area and where the register is too far away to speak.
    need, depth, cell : float
        [m3/s], [m], and the cell side asked for [m].
    advisories : tuple of Advisory
    """

    register: str
    west: float
    south: float
    east: float
    north: float
    p: np.ndarray
    low: np.ndarray
    high: np.ndarray
    effective_records: np.ndarray
    need: float
    depth: float
    cell: float
    advisories: tuple[Advisory, ...] = ()

    @property
    def step(self) -> tuple[float, float]:
        """Width and height of a cell [deg]."""
        rows, columns = self.p.shape
        return (self.east - self.west) / columns, (self.north - self.south) / rows

    @property
    def lon(self) -> np.ndarray:
        """Middles of the columns [deg]; above 180 beyond the antimeridian."""
        return self.west + (np.arange(self.p.shape[1]) + 0.5) * self.step[0]

    @property
    def lat(self) -> np.ndarray:
        """Middles of the rows, from north to south [deg]."""
        return self.north - (np.arange(self.p.shape[0]) + 0.5) * self.step[1]


def bounds_of(register: Register, *, margin: float = 0.02) -> tuple[float, float, float, float]:
    """Return (west, south, east, north) of the bores with a margin, as a share of the sides; west above east: over the antimeridian [deg]."""
    lon = np.sort(register.lon % 360.0)
    # The widest empty stretch of longitude lies outside.
    gaps = np.diff(np.append(lon, lon[0] + 360.0))
    widest = int(np.argmax(gaps))
    west, width = float(lon[(widest + 1) % len(lon)]), float(360.0 - gaps[widest])
    south, north = float(register.lat.min()), float(register.lat.max())
    spare = max(margin * width, margin * (north - south), 0.005)
    west, east = west - spare, west + width + spare
    turn = lambda x: (x + 180.0) % 360.0 - 180.0
    return turn(west), max(south - spare, -90.0), turn(east), min(north + spare, 90.0)


def tile_odds(register: Register, lon: np.ndarray, lat: np.ndarray, inside: np.ndarray, need: float, depth: float) -> np.ndarray:
    """Return p, low, high and effective records of one tile, shape (4, rows, columns): a pure function of its arguments.

    Notes
    -----
    The odds change little within a fraction of the width of the fields behind them. They are worked out at every so many
    cells and read off between by cubic splines, as long as that is right to 0.002 in the middles between; where it is not,
    or few cells are asked for, every cell is worked out.
    """
    out = np.full((4, len(lat), len(lon)), np.nan)
    if not inside.any():
        return out
    row, column = np.nonzero(inside)
    filled = _from_lattice(register, lon, lat, need, depth) if inside.mean() > 0.25 else None
    if filled is None:
        odds = odds_at_sites(register, lat[row], _turned(lon[column]), need=need, depth=depth)
        values = np.array([odds.p, odds.low, odds.high, odds.effective_records])
    else:
        values = filled[:, row, column]
        far = _far(register, lat[row], _turned(lon[column]))
        values[:, far] = np.nan
    out[:, row, column] = np.where(np.isfinite(values[0]), values, np.nan)
    return out


def _from_lattice(register: Register, lon: np.ndarray, lat: np.ndarray, need: float, depth: float) -> np.ndarray | None:
    """Return the layers of a tile from some of its cells, or None where that will not do."""
    model = model_of(register)
    # Where each spot hears its own nearest bores, the odds step a little from one to the next.
    if min(len(lon), len(lat)) < 8 or (len(register) > ALL_SPEAK and gathered_of(model, register) is None):
        return None
    lengths = [field.length for layer in (model.scale, model.water, model.datum) if layer is not None and layer.field.sd > 0.02 for field, _ in layer.fields]
    dx, dy = lon[1] - lon[0], lat[1] - lat[0]
    cell = _DEGREE * max(abs(dy), abs(dx) * np.cos(np.radians(0.5 * (lat[0] + lat[-1]))))
    cells = min(0.5 * min(lengths, default=np.inf) / cell, _WIDEST_STEP)
    if cells < 2:
        return None

    def evaluate(i: np.ndarray, j: np.ndarray) -> np.ndarray:
        return np.array(worked_at_sites(register, np.clip(lat[0] + i * dy, -90.0, 90.0), _turned(lon[0] + j * dx), need=need, depth=depth)[:4])

    filled = fill(evaluate, len(lat), len(lon), step=2 ** int(np.log2(cells)), tolerance=_RIGHT_TO, checked=3)
    if filled is None:
        return None
    p = np.clip(filled[0], 0.0, 1.0)
    return np.array([p, np.clip(filled[1], 0.0, p), np.clip(filled[2], p, 1.0), np.maximum(filled[3], 0.0)])


def _far(register: Register, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    """Return where the register is too far away to speak."""
    model = model_of(register)
    points, reach = places(lon, lat), reach_of(model)
    middle = points.mean(axis=0)
    radius = float(np.sqrt(((points - middle) ** 2).sum(axis=1)).max())
    if nearest_known(model, register, middle[None, :])[0] + radius < reach:
        return np.zeros(len(points), bool)
    return nearest_known(model, register, points) > reach


def _turned(lon: np.ndarray) -> np.ndarray:
    return (lon + 180.0) % 360.0 - 180.0


def _rings(area: Any) -> list[np.ndarray]:
    """Return the rings of a polygon: one ring of (lon, lat), or the coordinates of a GeoJSON Polygon."""
    want = "a ring of at least 3 longitude, latitude pairs, or the coordinates of a GeoJSON Polygon"
    try:
        given = [area] if np.ndim(area[0][0]) == 0 else list(area)
        rings = [np.array([[p[0], p[1]] for p in ring], float) for ring in given]
    except (TypeError, ValueError, IndexError, KeyError) as error:
        raise BadInput("area", str(area)[:60], "is not a polygon", want) from error
    for ring in rings:
        if len(ring) < 3 or not np.isfinite(ring).all() or np.abs(ring[:, 1]).max() > 90 or np.abs(ring[:, 0]).max() > 360:
            raise BadInput("area", str(area)[:60], "is not a polygon on the globe", want)
        # A step of more than half the globe is one over the antimeridian.
        ring[:, 0] = np.degrees(np.unwrap(np.radians(ring[:, 0])))
    first = rings[0][:, 0].mean()
    return [ring + [360.0 * np.round((first - ring[:, 0].mean()) / 360.0), 0.0] for ring in rings]


def _within(rings: list[np.ndarray], lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    """Return which cell middles lie inside by the even-odd rule, shape (rows, columns)."""
    inside = np.zeros((len(lat), len(lon)), bool)
    for ring in rings:
        for (x1, y1), (x2, y2) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            crosses = (y1 > lat) != (y2 > lat)
            if crosses.any():
                at = x1 + (lat[crosses] - y1) / (y2 - y1) * (x2 - x1)
                inside[crosses] ^= lon[None, :] < at[:, None]
    return inside


def _grid(area: Any, cell: float) -> tuple[float, float, float, float, int, int, list[np.ndarray] | None]:
    """Return west, south, east, north, rows, columns and the rings, if any."""
    rings = None
    if len(area) == 4 and np.ndim(area[0]) == 0:
        west, south, east, north = (float(v) for v in area)
        require_finite(west=west, south=south, east=east, north=north)
        if max(abs(west), abs(east)) > 180 or max(abs(south), abs(north)) > 90:
            raise OutOfDomain("bounds", [west, south, east, north], "is not on the globe", "west, south, east, north in degrees")
        east = east + 360.0 if east < west else east
    else:
        rings = _rings(area)
        (west, south), (east, north) = rings[0].min(axis=0), rings[0].max(axis=0)
    if not (north > south and east > west):
        raise BadInput("bounds", [west, south, east, north], "holds no ground", "west, south, east, north, with the north above the south")
    across = _DEGREE * np.cos(np.radians(0.5 * (south + north)))
    rows, columns = max(1, round((north - south) * _DEGREE / cell)), max(1, round((east - west) * across / cell))
    if rows * columns > MOST_CELLS:
        raise OutOfDomain("cell", cell, f"makes {rows * columns:,} cells of this area", f"at most {MOST_CELLS:,}: a larger cell or a smaller area")
    return float(west), float(south), float(east), float(north), rows, columns, rings


def map_of_odds(register: Register, area: Sequence[Any], *, need: float, depth: float, cell: float = 500.0, client: Any = None,
                progress: Callable[[int, int], None] = lambda done, of: None) -> OddsMap:
    """Return the odds over an area at one need and depth.

    Parameters
    ----------
    area : sequence
        Bounds (west, south, east, north), west above east where they run over the antimeridian; or a polygon: a ring of
        (longitude, latitude), or the coordinates of a GeoJSON Polygon with its holes [deg].
    need, depth : float
        Flow that counts as enough [m3/s], by a depth [m].
    cell : float
        Side of a cell [m].
    client : dask.distributed.Client, optional
        Where the tiles are worked out, for a state; by default here, one after another. The numbers are the same.
    progress : callable
        Told the tiles done and how many there are.

    Raises
    ------
    BadInput, OutOfDomain
        An area without ground or off the globe, too many cells, a need or depth that is not above zero.
    Refused
        Too few records in the whole register.
    """
    require_positive(need=need, depth=depth, cell=cell)
    west, south, east, north, rows, columns, rings = _grid(area, cell)
    blank = np.full((rows, columns), np.nan)
    out = OddsMap(register.name, west, south, east, north, blank, blank, blank, blank, float(need), float(depth), float(cell))
    lon, lat = out.lon, out.lat
    inside = np.ones((rows, columns), bool) if rings is None else _within(rings, lon, lat)
    tiles = [(slice(i, min(i + _TILE, rows)), slice(j, min(j + _TILE, columns))) for i in range(0, rows, _TILE) for j in range(0, columns, _TILE)]
    layers = np.full((4, rows, columns), np.nan)
    work = [(lon[c], lat[r], inside[r, c], float(need), float(depth)) for r, c in tiles]
    for done, (i, found) in enumerate(_worked(register, work, client), 1):
        layers[:, tiles[i][0], tiles[i][1]] = found
        progress(done, len(tiles))
    return replace(out, p=layers[0], low=layers[1], high=layers[2], effective_records=layers[3], advisories=_doubts(layers[0], layers[3], inside))


def _worked(register: Register, work: list[tuple], client: Any):
    """Yield (number, layers) of each tile as it is done."""
    if client is None:
        for i, one in enumerate(work):
            yield i, tile_odds(register, *one)
        return
    from dask.distributed import as_completed

    model_of(register)  # fitted once, here, and sent along
    held = client.scatter(register, broadcast=True)
    futures = {client.submit(tile_odds, held, *one, pure=False): i for i, one in enumerate(work)}
    for future, found in as_completed(futures, with_results=True):
        yield futures[future], found


def _doubts(p: np.ndarray, records: np.ndarray, inside: np.ndarray) -> tuple[Advisory, ...]:
    out = [Advisory("odds-not-promise", "note", "Odds are what other bores found; no colour here is a promise of water, and water found is not yet safe to drink: have it tested.", "map")]
    told = np.isfinite(p)
    silent = float((inside & ~told).sum() / max(inside.sum(), 1))
    if silent > 0:
        out.append(Advisory("too-far", "note", f"{100 * silent:.0f} % of the area is too far from any bore for a figure and is left blank.", "map"))
    thin = told & (np.nan_to_num(records) < 3)
    if thin.sum() > 0.05 * max(told.sum(), 1):
        out.append(Advisory("few-records", "doubt", f"On {100 * thin.sum() / told.sum():.0f} % of the area with a figure hardly any bore stands near: it is the district's, not the spot's.", "map"))
    return tuple(out)


def coarser(told: OddsMap, most: int) -> OddsMap:
    """Return the map with at most so many cells along a side, neighbours averaged: for a picture, never for a decision."""
    if not most >= 1:
        raise OutOfDomain("most", most, "leaves no cell", "at least 1")
    factor = -(-max(told.p.shape) // int(most))
    if factor == 1:
        return told
    rows, columns = (-(-n // factor) for n in told.p.shape)
    dx, dy = told.step

    def average(values: np.ndarray) -> np.ndarray:
        padded = np.full((rows * factor, columns * factor), np.nan)
        padded[: values.shape[0], : values.shape[1]] = values
        blocks = padded.reshape(rows, factor, columns, factor)
        known = np.isfinite(blocks)
        count = known.sum(axis=(1, 3))
        return np.where(count > 0, np.where(known, blocks, 0.0).sum(axis=(1, 3)) / np.maximum(count, 1), np.nan)

    layers = {name: average(getattr(told, name)) for name in ("p", "low", "high", "effective_records")}
    return replace(told, east=told.west + columns * factor * dx, south=told.north - rows * factor * dy, cell=told.cell * factor, **layers)
