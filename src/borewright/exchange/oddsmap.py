"""A map of odds in open formats: GeoJSON (RFC 7946), one polygon a cell, and GeoTIFF, one band a number."""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Callable

import numpy as np

from borewright.errors import Refused
from borewright.siting.oddsmap import OddsMap

__all__ = ["map_as_geojson", "map_as_geotiff"]

LAYERS = ("p", "low", "high", "effective_records")


def _turned(lon: float) -> float:
    """Return a longitude from -180 to 180, the eastern edge of the world kept at 180 [deg]."""
    return lon if -180.0 <= lon <= 180.0 else (lon + 180.0) % 360.0 - 180.0


def _box(west: float, south: float, east: float, north: float) -> list[list[list[float]]]:
    place = lambda x, y: [round(x, 9), round(y, 9)]
    # Counter-clockwise, as section 3.1.6 wants outer rings.
    return [[place(west, south), place(east, south), place(east, north), place(west, north), place(west, south)]]


def _geometry(west: float, south: float, east: float, north: float) -> dict:
    if west < 180.0 < east:
        # Cut at the antimeridian, as section 3.1.9 wants.
        return {"type": "MultiPolygon", "coordinates": [_box(west, south, 180.0, north), _box(-180.0, south, east - 360.0, north)]}
    if west >= 180.0:
        west, east = west - 360.0, east - 360.0
    return {"type": "Polygon", "coordinates": _box(west, south, east, north)}


def map_as_geojson(told: OddsMap, *, progress: Callable[[int, int], None] = lambda done, of: None) -> str:
    """Return a FeatureCollection with a polygon for each cell that has a figure; need and depth stand in each with their units."""
    dx, dy = told.step
    rows, columns = told.p.shape
    features = []
    for i in range(rows):
        north = told.north - i * dy
        for j in range(columns):
            if not math.isfinite(told.p[i, j]):
                continue
            west = told.west + j * dx
            features.append({
                "type": "Feature", "geometry": _geometry(west, north - dy, west + dx, north),
                "properties": {name: round(float(getattr(told, name)[i, j]), 6) for name in LAYERS}
                | {"need_lps": 1000.0 * told.need, "depth_m": told.depth},
            })
        progress(i + 1, rows)
    return json.dumps({
        "type": "FeatureCollection", "features": features, "register": told.register,
        "about": [a.message for a in told.advisories],
    }, allow_nan=False, ensure_ascii=False)


def map_as_geotiff(told: OddsMap) -> bytes:
    """Return an uncompressed GeoTIFF of four 32-bit bands (p, low, high, effective records) on longitude and latitude.

    Where there is no figure the value is not a number, and the file says so.

    Raises
    ------
    Refused
        More than the 4 GB that the format holds.

    References
    ----------
    .. [1] TIFF, revision 6.0, 1992, Adobe, sections 2, 8 and 19 (from memory).
    .. [2] OGC 19-008r4, 2019, OGC GeoTIFF Standard 1.1, requirements class for GeoKeyDirectory, ModelPixelScale and
       ModelTiepoint (from memory); read back with an independent library in the tests.
    """
    rows, columns = told.p.shape
    bands = [np.ascontiguousarray(getattr(told, name), dtype="<f4").tobytes() for name in LAYERS]
    if rows * columns * 4 * len(bands) > 4_000_000_000:
        raise Refused("the map has more cells than a GeoTIFF of this kind can hold: a larger cell or a smaller area")
    dx, dy = told.step
    # A grid over the antimeridian is laid from its own west; longitudes run on above 180 as the pixel scale says.
    geo_keys = [1, 1, 1, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326]  # longitude and latitude; a pixel is an area; WGS 84
    about = f"Odds of at least {1000 * told.need:g} L/s by {told.depth:g} m, register {told.register}; bands: {', '.join(LAYERS)}"
    names = "".join(f'<Item name="DESCRIPTION" sample="{i}" role="description">{name}</Item>' for i, name in enumerate(LAYERS))
    n = len(bands)
    entries = [
        (256, "L", [columns]), (257, "L", [rows]), (258, "H", [32] * n), (259, "H", [1]), (262, "H", [1]), (270, "s", about),
        (273, "L", None), (277, "H", [n]), (278, "L", [rows]), (279, "L", [len(b) for b in bands]), (284, "H", [2]), (338, "H", [0] * (n - 1)),
        (339, "H", [3] * n), (33550, "d", [dx, dy, 0.0]), (33922, "d", [0.0, 0.0, 0.0, told.west, told.north, 0.0]), (34735, "H", geo_keys),
        (42112, "s", f"<GDALMetadata>{names}</GDALMetadata>"), (42113, "s", "nan"),
    ]
    return _tiff(entries, bands)


_TYPES = {"H": (3, 2), "L": (4, 4), "d": (12, 8), "s": (2, 1)}


def _tiff(entries: list[tuple[int, str, object]], strips: list[bytes]) -> bytes:
    """Return one little-endian TIFF: header, directory, what the directory points to, strips."""
    start = 8 + 2 + 12 * len(entries) + 4
    encoded = []
    for tag, kind, values in entries:
        if kind == "s":
            data = str(values).encode("ascii", "replace") + b"\0"
            count = len(data)
        else:
            values = [0] * len(strips) if values is None else values
            data, count = struct.pack(f"<{len(values)}{kind}", *values), len(values)
        encoded.append([tag, kind, count, data])
    extra = sum(len(d) + len(d) % 2 for *_, d in encoded if len(d) > 4)
    at = start + extra
    places = []
    for strip in strips:
        places.append(at)
        at += len(strip)
    directory, outside = [struct.pack("<H", len(encoded))], []
    offset = start
    for tag, kind, count, data in encoded:
        if tag == 273:
            data = struct.pack(f"<{count}L", *places)
        if len(data) <= 4:
            value = data.ljust(4, b"\0")
        else:
            value = struct.pack("<L", offset)
            data += b"\0" * (len(data) % 2)
            outside.append(data)
            offset += len(data)
        directory.append(struct.pack("<HHL", tag, _TYPES[kind][0], count) + value)
    return b"".join([b"II*\0", struct.pack("<L", 8), *directory, struct.pack("<L", 0), *outside, *strips])
