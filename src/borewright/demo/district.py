"""The invented Orrin Vale district, and others like it: bores drilled over ground whose true odds are known.

Everything here is INVENTED: no real place, bore or person. Orrin Vale is set in the empty South Atlantic so that no map can
mistake it for a real district.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

__all__ = ["GEOLOGIES", "ORRIN_VALE", "District", "Recipe", "make_district", "orrin_vale", "truth_odds", "write_district"]

BORE_COLUMNS = ("bore_id", "lon", "lat", "elevation_m", "depth_m", "yield_lps", "static_level_m", "first_water_m", "drilled_on", "status")
STRIKE_COLUMNS = ("bore_id", "depth_m", "yield_lps")
INTERVAL_COLUMNS = ("bore_id", "from_m", "to_m", "lithology")
GEOLOGIES = ("weathered rock", "layered sandstone", "basalt flows", "alluvium over bedrock")
_METRES_PER_DEGREE = 111_320.0


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a district is made.

    Attributes
    ----------
    name : str
        Name shown; always followed by "(invented)" in what is written.
    seed, bores : int
        Random seed and number of bores.
    geology : str
        One of `GEOLOGIES`.
    lon, lat : float
        South-west corner [deg].
    side : float
        Side of the square [m].
    scale_sd, scale_length : float
        Standard deviation of the log of the local strike scale [-] and its correlation length [m].
    yield_median, yield_sd, yield_local_sd, yield_length : float
        Median strike yield [L/s], log spread between strikes [-], log spread between places [-], its length [m].
    strikes_to_80 : float
        Expected strikes in 80 m at a middling place [-].
    rockhead_median, rockhead_sd, rockhead_length : float
        Depth of rockhead [m], its log spread [-] and length [m].
    lineaments : int
        Straight broken zones along which strikes are up to three times as many.
    """

    name: str = "Orrin Vale"
    seed: int = 1200
    bores: int = 1200
    geology: str = "weathered rock"
    lon: float = -18.40
    lat: float = -38.60
    side: float = 30_000.0
    scale_sd: float = 0.7
    scale_length: float = 4_500.0
    yield_median: float = 0.30
    yield_sd: float = 1.0
    yield_local_sd: float = 0.4
    yield_length: float = 7_000.0
    strikes_to_80: float = 1.6
    rockhead_median: float = 14.0
    rockhead_sd: float = 0.5
    rockhead_length: float = 6_000.0
    lineaments: int = 0


ORRIN_VALE = Recipe()


def _smooth_field(rng: np.random.Generator, length: float, terms: int = 160) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Return a random smooth function of the plane with unit variance: a sum of cosines (squared-exponential covariance)."""
    waves = rng.standard_normal((terms, 2)) / length
    phase = rng.uniform(0, 2 * np.pi, terms)

    def field(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.sqrt(2.0 / terms) * np.cos(np.multiply.outer(x, waves[:, 0]) + np.multiply.outer(y, waves[:, 1]) + phase).sum(axis=-1)

    return field


class District:
    """One invented district: its true fields, its bores, strikes and intervals."""

    def __init__(self, recipe: Recipe):
        self.recipe = recipe
        rng = np.random.default_rng(recipe.seed)
        self._scale = _smooth_field(rng, recipe.scale_length)
        self._yield = _smooth_field(rng, recipe.yield_length)
        self._rockhead = _smooth_field(rng, recipe.rockhead_length)
        self._unit = _smooth_field(rng, 0.35 * recipe.side)
        self._surface = _smooth_field(rng, 0.2 * recipe.side)
        self._beds = np.sort(rng.uniform(15, 140, 6))
        self._lines = [(rng.uniform(0, recipe.side, 2), rng.uniform(0, np.pi)) for _ in range(recipe.lineaments)]
        self._normal = 1.0
        self._cells = np.arange(0.0, 200.5, 0.5)
        middle = np.full(1, 0.5 * recipe.side)
        typical = self._profile(np.full(1, recipe.rockhead_median), middle, middle)
        self._normal = recipe.strikes_to_80 / float(np.interp(80.0, self._cells[1:], np.cumsum(typical[0]) * 0.5))
        self.bores, self.strikes, self.intervals = self._drill(np.random.default_rng(recipe.seed + 1))

    def metres(self, lon: np.ndarray, lat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return easting and northing from the south-west corner [m]."""
        recipe = self.recipe
        shrink = np.cos(np.radians(recipe.lat + 0.5 * recipe.side / _METRES_PER_DEGREE))
        return (np.asarray(lon, float) - recipe.lon) * _METRES_PER_DEGREE * shrink, (np.asarray(lat, float) - recipe.lat) * _METRES_PER_DEGREE

    def degrees(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return longitude and latitude of points given from the south-west corner [deg]."""
        recipe = self.recipe
        shrink = np.cos(np.radians(recipe.lat + 0.5 * recipe.side / _METRES_PER_DEGREE))
        return recipe.lon + np.asarray(x) / (_METRES_PER_DEGREE * shrink), recipe.lat + np.asarray(y) / _METRES_PER_DEGREE

    def rockhead(self, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        """Return the true depth of rockhead [m]."""
        x, y = self.metres(lon, lat)
        return self.recipe.rockhead_median * np.exp(self.recipe.rockhead_sd * self._rockhead(x, y))

    def scale(self, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        """Return the true local strike scale, 1 at a middling place [-]."""
        x, y = self.metres(lon, lat)
        scale = np.exp(self.recipe.scale_sd * self._scale(x, y))
        for (x0, y0), strike in self._lines:
            across = (x - x0) * np.cos(strike) - (y - y0) * np.sin(strike)
            scale = scale * (1.0 + 2.0 * np.exp(-0.5 * (across / 250.0) ** 2))
        return scale

    def log_yield_mean(self, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        """Return the true mean of the log of a strike's yield in L/s."""
        x, y = self.metres(lon, lat)
        return np.log(self.recipe.yield_median) + self.recipe.yield_local_sd * self._yield(x, y)

    def _profile(self, rockhead: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return true strikes per metre at scale 1 in half-metre cells, shape (sites, cells)."""
        middle = 0.5 * (self._cells[1:] + self._cells[:-1])
        below = middle[None, :] - rockhead[:, None]
        kind = self.recipe.geology
        if kind == "weathered rock":
            shape = np.where(below < 0, 0.10, np.exp(-np.maximum(below, 0) / 45.0)) + 0.9 * np.exp(-0.5 * ((below - 6.0) / 6.0) ** 2)
        elif kind == "layered sandstone":
            shape = np.where(middle[None, :] < 8, 0.02, 0.25) + 0.0 * below
            dip = (x * 0.0006 + y * 0.0003)[:, None]
            for bed in self._beds:
                shape = shape + np.exp(-0.5 * ((middle[None, :] - bed - dip) / 3.0) ** 2)
        elif kind == "basalt flows":
            shape = np.where(below < 0, 0.05, 0.25 + np.exp(-(np.maximum(below, 0) % 22.0) / 4.0))
        else:
            shape = np.where(below < 0, np.where(middle[None, :] < 5, 0.05, 1.0), 0.15 * np.exp(-np.maximum(below, 0) / 30.0))
        return self._normal * shape

    def expected_strikes(self, lon: np.ndarray, lat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return depth edges [m] and the true expected strikes in each cell between them, shape (sites, cells)."""
        x, y = self.metres(lon, lat)
        return self._cells, self.scale(lon, lat)[:, None] * self._profile(self.rockhead(lon, lat), x, y) * np.diff(self._cells)

    def ground_log(self, lon: float, lat: float, depth: float, rng: np.random.Generator) -> tuple[tuple[float, float, str], ...]:
        """Return (from, to [m], words) as a driller would log a hole at one place."""
        x, y = self.metres(np.array([lon]), np.array([lat]))
        rows = self._log("", depth, float(self.rockhead(np.array([lon]), np.array([lat]))[0]), float(self._unit(x, y)[0]), rng)
        return tuple((float(top), float(end), words) for _, top, end, words in rows)

    def odds(self, lon: np.ndarray, lat: np.ndarray, depth: np.ndarray | float, need: np.ndarray | float) -> np.ndarray:
        """Return the true chance that a hole gives at least the need [m3/s] by the depth [m], at each site."""
        from borewright.siting.compound import chance_of_enough
        from borewright.siting.prospect import WaterProspect

        lon, lat, depth, need = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in (lon, lat, depth, need)))
        x, y = self.metres(lon, lat)
        intensity = self.scale(lon, lat)[:, None] * self._profile(self.rockhead(lon, lat), x, y)
        mean = self.log_yield_mean(lon, lat) + np.log(1e-3)
        # The truth has no doubt about its scale: a gamma belief so narrow that it is a number.
        return np.array([
            chance_of_enough(WaterProspect(self._cells, intensity[i], 1e7, 1e7, float(mean[i]), self.recipe.yield_sd, np.inf), need[i], depth[i])[0, 0]
            for i in range(len(lon))
        ])

    def _drill(self, rng: np.random.Generator):
        """Drill every bore until it has what its owner asked for, or the money is gone."""
        recipe = self.recipe
        x, y = rng.uniform(0, recipe.side, (2, recipe.bores))
        lon, lat = (np.round(v, 6) for v in self.degrees(x, y))
        rockhead, scale, mean = self.rockhead(lon, lat), self.scale(lon, lat), self.log_yield_mean(lon, lat)
        xs, ys = self.metres(lon, lat)
        cumulative = np.cumsum(scale[:, None] * self._profile(rockhead, xs, ys), axis=1) * 0.5
        elevation = 240.0 + 45.0 * self._surface(xs, ys)
        wanted = rng.choice([0.15, 0.25, 0.4, 0.6, 1.0, 2.0], recipe.bores, p=[0.15, 0.3, 0.2, 0.15, 0.12, 0.08])
        limit = np.clip(np.round(rng.normal(82, 20, recipe.bores) / 6.0) * 6.0, 36, 150)
        bores, strikes, intervals = [], [], []
        for i in range(recipe.bores):
            name = f"OV{i + 1:05d}"
            count = rng.poisson(cumulative[i, -1])
            at = np.sort(np.interp(rng.uniform(0, cumulative[i, -1], count), cumulative[i], self._cells[1:]))
            size = np.exp(mean[i] + recipe.yield_sd * rng.standard_normal(count))
            total, depth, found = 0.0, float(limit[i]), []
            for where, flow in zip(at, size, strict=True):
                if where > limit[i]:
                    break
                total += flow
                found.append((where, flow))
                if total >= wanted[i]:
                    # The rod is finished, never past the limit.
                    depth = float(min(limit[i], np.ceil((where + 0.5) / 3.0) * 3.0))
                    break
            later = [(w, f) for w, f in zip(at, size, strict=True) if found and found[-1][0] < w <= depth]
            found += later
            total = sum(f for _, f in found)
            water = bool(found)
            level = min(found[0][0] - 0.5, max(1.0, rng.normal(9, 3))) if water else None
            month = rng.integers(0, 12 * 24)
            bores.append((name, lon[i], lat[i], round(float(elevation[i]), 1), round(depth, 1), round(total, 3), None if level is None else round(level, 1),
                          round(found[0][0], 1) if water else None, f"{1999 + month // 12}-{month % 12 + 1:02d}-{rng.integers(1, 29):02d}",
                          "dry" if not water else "wet"))
            strikes += [(name, round(w, 1), max(0.001, round(f, 3))) for w, f in found]
            intervals += self._log(name, depth, float(rockhead[i]), float(self._unit(xs[i], ys[i])), rng)
        return bores, strikes, intervals

    def _log(self, name: str, depth: float, rockhead: float, unit: float, rng: np.random.Generator) -> list[tuple]:
        """Return the ground as a driller would write it down."""
        rock = {"weathered rock": "granite" if unit > -0.2 else "schist", "layered sandstone": "sandstone", "basalt flows": "basalt",
                "alluvium over bedrock": "granite"}[self.recipe.geology]
        tops = [(0.0, "topsoil"), (min(0.6, 0.3 * rockhead), "clay" if rng.random() < 0.7 else "sandy clay"),
                (rockhead * rng.uniform(0.45, 0.8), "gravel" if rng.random() < 0.6 else "clayey gravel"), (rockhead, f"weathered {rock}"),
                (rockhead + rng.uniform(4, 14), f"{'hard ' if rng.random() < 0.4 else ''}{rock}")]
        tops = [(round(t, 1), words) for t, words in tops if t < depth - 0.05]
        ends = [t for t, _ in tops[1:]] + [round(depth, 1)]
        return [(name, top, end, words) for (top, words), end in zip(tops, ends, strict=True) if end > top]

    def write(self, folder: Path | str) -> dict[str, Path]:
        """Write the three canonical CSVs and a note that they are invented; return their paths."""
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        paths = {}
        for kind, columns, rows in (("bores", BORE_COLUMNS, self.bores), ("strikes", STRIKE_COLUMNS, self.strikes), ("intervals", INTERVAL_COLUMNS, self.intervals)):
            paths[kind] = folder / f"{kind}.csv"
            with paths[kind].open("w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file)
                writer.writerow(columns)
                writer.writerows(rows)
        (folder / "INVENTED.txt").write_text(f"{self.recipe.name}: an invented district for demonstration. No real place, bore or person.\n", encoding="utf-8")
        return paths


def make_district(recipe: Recipe) -> District:
    """Return the district of a recipe; the same recipe always gives the same district."""
    return District(recipe)


@lru_cache(maxsize=1)
def orrin_vale() -> District:
    """Return the invented Orrin Vale district."""
    return District(ORRIN_VALE)


def truth_odds(lon: np.ndarray | float, lat: np.ndarray | float, depth: np.ndarray | float, need: np.ndarray | float) -> np.ndarray:
    """Return the true chances in Orrin Vale of at least the need [m3/s] by the depth [m]."""
    return orrin_vale().odds(lon, lat, depth, need)


def write_district(folder: Path | str) -> dict[str, Path]:
    """Write the bores, strikes and intervals of Orrin Vale as canonical CSVs; return their paths."""
    return orrin_vale().write(folder)
