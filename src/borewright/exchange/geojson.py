"""Bores as GeoJSON (RFC 7946): points in WGS 84, longitude first, with every table in the properties."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import (
    BORE_COLUMNS,
    MOST_BORES,
    TABLES,
    Bore,
    Column,
    bore_from,
    foreign_unit,
    from_text,
    to_text,
)
from borewright.exchange.jsonsafe import few_parts

__all__ = ["read_geojson", "write_geojson"]

MOST_BYTES = 200 * 2**20
MOST_PARTS = 5_000_000  # a hundred thousand bores of fifty values

_NOTE = "Depths in metres below ground level, positive down; the unit of a number ends its name."


def write_geojson(bores: Iterable[Bore]) -> str:
    """Return a FeatureCollection; a bore whose place is not known has a null geometry, as RFC 7946 section 3.2 allows."""
    features = []
    for bore in bores:
        geometry = None
        if bore.latitude is not None and bore.longitude is not None:
            # The third number would be a height above the ellipsoid (section 4), which a driller's elevation is not: it stays in the properties.
            geometry = {"type": "Point", "coordinates": [bore.longitude, bore.latitude]}
        properties = {c.name: _value(getattr(bore, c.field), c) for c in BORE_COLUMNS if c.name not in ("lon", "lat", "bore_id")}
        properties = {k: v for k, v in properties.items() if v not in (None, "")}
        for table in TABLES:
            if bore.table(table.name):
                yields = bore.strike_yields() if table.name == "strikes" else None
                properties[table.name] = [
                    {c.name: _value(v, c) for c in table.columns if (v := yields[n] if c.derived and yields else row.get(c.field)) not in (None, "")}
                    for n, row in enumerate(bore.table(table.name))]
        features.append({"type": "Feature", "id": bore.id, "geometry": geometry, "properties": properties})
    lines = ",\n".join(_json(feature) for feature in features)
    return f'{{"type": "FeatureCollection", "description": {_json(_NOTE)}, "features": [\n{lines}\n]}}\n'


def _value(value: Any, column: Column) -> Any:
    return value if value is None or column.type != "number" else Decimal(to_text(value, column))


def _json(value: Any) -> str:
    """Return JSON text in which a decimal stands exactly; the library's writer would pass it through a float and lose a digit."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)}: {_json(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_json, value)) + "]"
    return f"{value:f}" if isinstance(value, Decimal) else json.dumps(value, ensure_ascii=False, allow_nan=False)


def read_geojson(data: bytes | str) -> list[Bore]:
    """Return the bores of a FeatureCollection of points, or of one Feature.

    Raises
    ------
    BadInput
        The first thing that cannot be read, named by feature and property.
    """
    if len(data) > MOST_BYTES:
        raise BadInput("file", len(data), "is too large", f"at most {MOST_BYTES} bytes")
    few_parts(data, most=MOST_PARTS)
    document = _parsed(data)
    if not isinstance(document, dict):
        raise BadInput("file", type(document).__name__, "is not GeoJSON", "an object of type FeatureCollection")
    features = [document] if document.get("type") == "Feature" else document.get("features")
    if document.get("type") not in ("Feature", "FeatureCollection") or not isinstance(features, list):
        raise BadInput("type", document.get("type"), "is not a collection of features", "FeatureCollection with features, or Feature")
    if "crs" in document:
        raise BadInput("crs", str(document["crs"])[:80], "names another reference system", "WGS 84, longitude first, and no crs (RFC 7946 section 4)")
    if len(features) > MOST_BORES:
        raise BadInput("features", len(features), "are too many", f"at most {MOST_BORES}")
    bores = [_bore(feature, number) for number, feature in enumerate(features, 1)]
    seen: set[str] = set()
    for number, bore in enumerate(bores, 1):
        if bore.id in seen:
            raise BadInput(f"feature {number}: id", bore.id, "stands for two bores", "each id once")
        seen.add(bore.id)
    return bores


def _parsed(data: bytes | str) -> Any:
    def constant(name: str) -> Any:
        raise BadInput("file", name, "is not a number of JSON", "finite numbers")

    try:
        return json.loads(data, parse_constant=constant, parse_float=Decimal)
    except BadInput:
        raise
    except ValueError as error:  # bad JSON, bad UTF-8, an integer of many thousand digits
        raise BadInput("file", str(error), "is not JSON", "GeoJSON text in UTF-8") from None
    except RecursionError:
        raise BadInput("file", None, "is nested too deep", "GeoJSON of bores") from None


def _bore(feature: Any, number: int) -> Bore:
    where = f"feature {number}"
    if not isinstance(feature, dict) or feature.get("type") != "Feature":
        raise BadInput(where, str(feature)[:80], "is not a Feature", "an object of type Feature")
    properties = feature.get("properties") or {}
    if not isinstance(properties, dict):
        raise BadInput(f"{where}: properties", str(properties)[:80], "is not an object", "named values")
    identity = feature.get("id", properties.get("bore_id"))
    if isinstance(identity, bool) or not isinstance(identity, (str, int)) or identity == "":
        raise BadInput(f"{where}: id", identity, "is missing", "an id for each bore")
    values: dict[str, Any] = {"id": str(identity)}
    values["longitude"], values["latitude"] = _point(feature.get("geometry"), where)
    derived: dict[str, Any] = {}
    known = {c.name: c for c in BORE_COLUMNS}
    tables = {t.name: t for t in TABLES}
    for name in properties:
        foreign_unit(name, where)
        # A foreign property is no harm and no reading of ours; a misspelt table would be lost in silence.
        if isinstance(properties[name], list) and name not in tables:
            raise BadInput(f"{where}: {name}", name, "is not a table of readings", "one of " + ", ".join(tables))
    for name, column in known.items():
        if name in ("lon", "lat", "bore_id"):
            continue
        value = from_text(properties.get(name), column, where=where)
        (derived if column.derived else values)[column.field] = value
    rows: dict[str, list[dict[str, Any]]] = {}
    for name, table in tables.items():
        given = properties.get(name)
        if given is None:
            continue
        if not isinstance(given, list):
            raise BadInput(f"{where}: {name}", str(given)[:80], "is not a list of readings", "a list of objects")
        rows[name] = [_row(one, table, f"{where}, {name} {place}") for place, one in enumerate(given, 1)]
    return bore_from(values, rows, derived)


def _row(one: Any, table, where: str) -> dict[str, Any]:
    if not isinstance(one, dict):
        raise BadInput(where, str(one)[:80], "is not an object", "named values")
    names = {c.name for c in table.columns}
    for name in one:
        if name not in names:
            raise BadInput(f"{where}: {name}", str(one[name])[:80], "is not a value of this reading", "one of " + ", ".join(sorted(names)))
    return {c.field: from_text(one.get(c.name), c, where=where) for c in table.columns if not c.derived}


def _point(geometry: Any, where: str) -> tuple[float | None, float | None]:
    if geometry is None:
        return None, None
    want = "a Point with longitude and latitude"
    if not isinstance(geometry, dict) or geometry.get("type") != "Point" or not isinstance(geometry.get("coordinates"), list):
        raise BadInput(f"{where}: geometry", str(geometry)[:80], "is not a point", want)
    place = geometry["coordinates"]
    if not 2 <= len(place) <= 4 or any(isinstance(v, bool) or not isinstance(v, (int, Decimal)) for v in place):
        raise BadInput(f"{where}: coordinates", str(place)[:80], "are not two or three numbers", want)
    try:
        longitude, latitude = float(place[0]), float(place[1])
    except OverflowError:
        longitude = latitude = math.inf
    if abs(longitude) > 180 or abs(latitude) > 90:
        raise BadInput(f"{where}: coordinates", str(place)[:80], "are not on the Earth", "longitude first, -180 to 180, then latitude, -90 to 90")
    return longitude, latitude
