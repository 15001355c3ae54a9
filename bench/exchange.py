"""Time of 10,000 bores to GeoPackage against GDAL (pyogrio) writing the same table in the same run: want at most 3.

    python bench/exchange.py

The bores are invented. GDAL gets the bores as ready columns, the program gets them as bores; a second line adds three tables of readings,
which have no counterpart on GDAL's side and no bound.
"""

from __future__ import annotations

import statistics
import struct
import tempfile
import time
from pathlib import Path

import numpy as np
import pyogrio

from borewright.exchange import Bore, write_geopackage
from borewright.exchange.bore import BORE_COLUMNS

COUNT = 10_000
AT = "2026-03-14T08:00:00+10:00"


def invented(rich: bool) -> list[Bore]:
    """Return invented bores; rich ones have ground, strikes and flows."""
    chance = np.random.default_rng(1)
    made = []
    for n in range(COUNT):
        depth = float(np.round(chance.uniform(20, 150), 1))
        rows = {}
        if rich:
            blank = {"ground_class": "", "colour": "", "grain": "", "strength": "", "weathering": "", "at": AT}
            rows = {
                "intervals": tuple({"from_depth": depth * k / 5, "to_depth": depth * (k + 1) / 5, "words": "granite", **blank} for k in range(5)),
                "strikes": ({"depth": depth * 0.7, "note": "", "at": AT},),
                "flows": ({"depth": depth, "flow": 0.4e-3, "standard_uncertainty": None, "method": "bucket", "at": AT},),
            }
        made.append(Bore(
            id=f"b{n}", name=f"Invented bore {n}", latitude=float(chance.uniform(-36, -35)), longitude=float(chance.uniform(148, 150)), elevation=600.0,
            depth=depth, use="house", need=0.25e-3, driller="A. Driller", method="air rotary", started_at=AT, stopped_at=AT, stopped_reason="enough water", rows=rows))
    return made


def by_gdal(bores: list[Bore], path: Path) -> None:
    """Write the table of bores by GDAL."""
    columns = [c for c in BORE_COLUMNS if c.name not in ("lon", "lat")]
    kinds = {"number": float, "integer": np.int64}
    data = []
    for column in columns:
        values = [getattr(b, column.field) for b in bores]
        if column.type == "number":
            data.append(np.array([np.nan if v is None else v * 10**column.power for v in values], dtype=float))
        else:
            data.append(np.array(values, dtype=kinds.get(column.type, object)))
    geometry = np.array([struct.pack("<BIdd", 1, 1, b.longitude, b.latitude) for b in bores], dtype=object)
    pyogrio.raw.write(path, geometry, data, np.array([c.name for c in columns]), geometry_type="Point", crs="EPSG:4326", driver="GPKG", layer="bores")


def median(call, runs: int = 5) -> float:
    """Return the median time of a call on a fresh file [s], after one that warms up."""
    times = []
    for turn in range(runs + 1):
        with tempfile.TemporaryDirectory() as folder:
            begun = time.perf_counter()
            call(Path(folder) / "b.gpkg")
            if turn:
                times.append(time.perf_counter() - begun)
    return statistics.median(times)


def main() -> None:
    """Print both medians and their ratio."""
    plain, rich = invented(False), invented(True)
    ours, gdal = median(lambda p: write_geopackage(plain, p)), median(lambda p: by_gdal(plain, p))
    print(f"{COUNT} bores: {1000 * ours:.0f} ms, GDAL {1000 * gdal:.0f} ms, ratio {ours / gdal:.2f} (want <= 3)")
    print(f"with 70,000 readings in three tables: {1000 * median(lambda p: write_geopackage(rich, p), 3):.0f} ms")


if __name__ == "__main__":
    main()
