"""A map of odds as a GeoPackage: each cell that has a figure a polygon, with its odds, band and records as attributes.

References
----------
OGC 12-128r18, GeoPackage Encoding Standard 1.3.1 (from memory): clause 2.1, features; read back with an independent library in the tests.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from borewright.exchange.geopackage import begin_geopackage, utc_moment

if TYPE_CHECKING:
    from borewright.siting import OddsMap

__all__ = ["map_as_geopackage"]

# GeoPackage header (magic, version 0, flags: little endian and no envelope, reference system), then well-known binary of a polygon of one ring.
_CELL = struct.Struct("<2sBBiBIII10d")


def map_as_geopackage(told: OddsMap, *, made: datetime | None = None) -> bytes:
    """Return the file, with the layer `odds`; need and depth stand in each row with their units.

    Parameters
    ----------
    made : datetime, optional
        Moment of `last_change`; now by default.
    """
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        begin_geopackage(connection)
        connection.execute("INSERT INTO gpkg_contents VALUES (?,?,?,?,?,?,?,?,?,?)", (
            "odds", "features", f"odds of {told.register}", "\n".join(a.message for a in told.advisories), utc_moment(made or datetime.now(UTC)),
            told.west, told.south, told.east, told.north, 4326))
        connection.execute("CREATE TABLE odds (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom POLYGON, p DOUBLE, low DOUBLE, high DOUBLE, effective_records DOUBLE, "
                           "need_lps DOUBLE, depth_m DOUBLE)")
        connection.execute("INSERT INTO gpkg_geometry_columns VALUES ('odds', 'geom', 'POLYGON', 4326, 0, 0)")
        connection.executemany("INSERT INTO odds VALUES (NULL,?,?,?,?,?,?,?)", _rows(told))
        connection.execute("COMMIT")
        return connection.serialize()
    finally:
        connection.close()


def _rows(told: OddsMap) -> Iterator[tuple]:
    dx, dy = told.step
    for i, j in zip(*(v.tolist() for v in np.nonzero(np.isfinite(told.p))), strict=True):
        west, north = told.west + j * dx, told.north - i * dy
        west -= 360.0 if west >= 180.0 else 0.0
        east, south = west + dx, north - dy
        ring = (west, south, east, south, east, north, west, north, west, south)
        yield (_CELL.pack(b"GP", 0, 0b00000001, 4326, 1, 3, 1, 5, *ring), *(round(float(getattr(told, name)[i, j]), 6) for name in ("p", "low", "high", "effective_records")),
               1000.0 * told.need, told.depth)
