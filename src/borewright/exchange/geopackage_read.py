"""Reading bores from a GeoPackage that anybody may have made: the file is opened as data, so that no SQL of its own ever runs.

Views, triggers, virtual tables, functions and attached files are refused by the engine itself (an authorizer that knows reading of plain tables and no
more); values are bounded in size, rows in number, and the engine's steps counted.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

from borewright.errors import BadInput
from borewright.exchange.bore import BORE_COLUMNS, MOST_BORES, TABLES, Bore, Column, bore_from, foreign_unit, from_text

__all__ = ["read_geopackage"]

MOST_ROWS = 2_000_000  # of all tables together
MOST_VALUE = 2**20  # bytes of one value
MOST_STEPS = 50_000  # of ten thousand of the engine's: more than reading the largest file takes
MOST_COLUMNS = 200
_WGS84 = (0, -1, 4326)  # 0 and -1: not said, and the standard's readers take degrees


def read_geopackage(path: Path) -> list[Bore]:
    """Return the bores of a GeoPackage that this program wrote, or whose point layer has a bore_id and our columns.

    Raises
    ------
    BadInput
        Not a GeoPackage or damaged; no layer of bores; more than reading asked of the engine; a value that cannot be read, by layer, row and column.
    """
    connection = sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro&immutable=1", uri=True)
    try:
        _disarm(connection)
        return list(_bores(connection))
    except (sqlite3.Error, UnicodeDecodeError) as error:  # the engine quotes damaged names as they are
        said = str(error) if isinstance(error, sqlite3.Error) else "it holds text that is not UTF-8"
        if "interrupted" in said:
            raise BadInput("file", path.name, "asks for more work than reading bores takes", "a GeoPackage of plain tables") from None
        if "not authorized" in said or "prohibited" in said:
            raise BadInput("file", path.name, f"holds SQL that would run when it is read ({said})", "a GeoPackage of plain tables") from None
        raise BadInput("file", path.name, f"cannot be read as a GeoPackage: {said}", "a GeoPackage that is whole") from None
    finally:
        connection.close()


def _disarm(connection: sqlite3.Connection) -> None:
    for pragma in ("trusted_schema = OFF", "cell_size_check = ON", "mmap_size = 0", "query_only = ON", "temp_store = MEMORY", "cache_size = -8000"):
        connection.execute(f"PRAGMA {pragma}")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_VALUE)
    connection.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    connection.setlimit(sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 0)
    steps = 0

    def step() -> int:
        nonlocal steps
        steps += 1
        return steps > MOST_STEPS

    def may(action: int, first: str | None, second: str | None, *_: object) -> int:
        plain = action in (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ) or (action == sqlite3.SQLITE_PRAGMA and first == "table_info")
        return sqlite3.SQLITE_OK if plain else sqlite3.SQLITE_DENY

    connection.set_progress_handler(step, 10_000)
    connection.set_authorizer(may)


def _plain_tables(connection: sqlite3.Connection) -> set[str]:
    made = connection.execute("SELECT name, type, sql FROM sqlite_master").fetchmany(10_000)
    return {name for name, kind, sql in made if kind == "table" and isinstance(name, str) and not str(sql).lstrip().upper().startswith("CREATE VIRTUAL")}


def _named(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    found = [str(row[1]) for row in connection.execute(f"PRAGMA table_info({_named(table)})").fetchmany(MOST_COLUMNS + 1)]
    if len(found) > MOST_COLUMNS:
        raise BadInput(table, len(found), "has too many columns", f"at most {MOST_COLUMNS}")
    return found


def _bores(connection: sqlite3.Connection) -> Iterator[Bore]:
    tables = _plain_tables(connection)
    if not {"gpkg_contents", "gpkg_geometry_columns"} <= tables:
        raise BadInput("file", ", ".join(sorted(tables))[:80], "is a database and no GeoPackage", "gpkg_contents and gpkg_geometry_columns (OGC 12-128)")
    layers = [row for row in connection.execute("SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns").fetchmany(1000) if isinstance(row[0], str) and row[0] in tables]
    layer = next((one for one in layers if one[0] == "bores"), layers[0] if len(layers) == 1 else None)
    if layer is None:
        raise BadInput("file", ", ".join(str(one[0]) for one in layers)[:80] or None, "holds no layer of bores", 'a point layer named "bores", or one layer')
    name, geometry, system = layer
    head = _columns(connection, name)
    if "bore_id" not in head or geometry not in head:
        raise BadInput(f"{name}: bore_id", ", ".join(head)[:80], "is not among the columns", "a column bore_id and the layer's geometry")
    for column in head:
        foreign_unit(column, name)
    rows: dict[str, dict[str, list[dict[str, Any]]]] = {}
    count = 0
    readings: dict[str, tuple[str, list[str]]] = {}
    for table in TABLES:
        if table.name in tables and table.name != name:
            readings[table.name] = (table.name, _columns(connection, table.name))
    for table in TABLES:
        if table.name not in readings:
            continue
        for number, row in enumerate(_rows(connection, table.name, readings[table.name][1], table.columns), 1):
            count += 1
            if count > MOST_ROWS:
                raise BadInput("file", count, "holds too many rows", f"at most {MOST_ROWS}")
            where = f"{table.name} row {number}"
            key = str(row.get("bore_id") or "")
            if not key:
                raise BadInput(f"{where}: bore_id", row.get("bore_id"), "is missing", "the id of a bore")
            rows.setdefault(key, {}).setdefault(table.name, []).append({c.field: from_text(row.get(c.name), c, where=where) for c in table.columns if not c.derived})
    move = _mover(system, connection)
    seen: set[str] = set()
    wanted = [c for c in BORE_COLUMNS if c.name in head and c.name not in ("lon", "lat", "bore_id")]
    shown = ", ".join(_named(c) for c in ("bore_id", geometry, *(c.name for c in wanted)))
    for number, cells in enumerate(connection.execute(f"SELECT {shown} FROM {_named(name)}"), 1):
        where = f"{name} row {number}"
        key = str(cells[0]) if isinstance(cells[0], (str, int)) else ""
        if not key:
            raise BadInput(f"{where}: bore_id", cells[0], "is missing", "an id for each bore")
        if key in seen:
            raise BadInput(f"{where}: bore_id", key, "stands for two bores", "each id once")
        seen.add(key)
        if number > MOST_BORES:
            raise BadInput(name, number, "are too many", f"at most {MOST_BORES}")
        values: dict[str, Any] = {"id": key}
        derived: dict[str, Any] = {}
        values["longitude"], values["latitude"] = move(_point(cells[1], where), where)
        told = dict(zip((c.name for c in wanted), cells[2:], strict=True))
        for column in BORE_COLUMNS:
            if column.name not in ("lon", "lat", "bore_id"):
                (derived if column.derived else values)[column.field] = from_text(told.get(column.name), column, where=where)
        yield bore_from(values, rows.pop(key, {}), derived)
    if rows:
        raise BadInput("bore_id", next(iter(rows)), "has readings and is not in the layer of bores", "the id of a bore")


def _rows(connection: sqlite3.Connection, table: str, head: list[str], columns: tuple[Column, ...]) -> Iterator[dict[str, Any]]:
    known = {c.name for c in columns} | {"bore_id"}
    for name in head:
        if name not in known and name != "fid":
            raise BadInput(f"{table}: {name}", name, "is not a column of this table", "one of " + ", ".join(sorted(known)))
    if "bore_id" not in head:
        raise BadInput(f"{table}: bore_id", None, "is missing", "the id of a bore in each row")
    kept = [name for name in head if name in known]
    for cells in connection.execute(f"SELECT {', '.join(map(_named, kept))} FROM {_named(table)}"):
        # The layer keeps a truth value as 0 or 1.
        yield dict(zip(kept, cells, strict=True))


def _point(blob: Any, where: str) -> tuple[float, float] | None:
    """Return the place in a geometry of the standard (clause 2.1.3): a header, an envelope or none, and a point in well-known binary."""
    if blob is None:
        return None
    want = "a point as the GeoPackage standard has it"
    try:
        magic, _, flags, _ = struct.unpack_from("<2sBBi", blob)
        start = 8 + (0, 32, 48, 48, 64)[(flags >> 1) & 7]
        if magic != b"GP":
            raise BadInput(f"{where}: geom", blob[:4].hex(), "is not a geometry of a GeoPackage", want)
        if flags & 0b10000:
            return None
        sign = "<" if blob[start] == 1 else ">"
        (kind,) = struct.unpack_from(sign + "I", blob, start + 1)
        if kind not in (1, 1001, 2001, 3001):
            raise BadInput(f"{where}: geom", kind, "is not a point", want)
        x, y = struct.unpack_from(sign + "dd", blob, start + 5)
    except (struct.error, IndexError, TypeError, AttributeError):
        raise BadInput(f"{where}: geom", None, "is not a geometry of a GeoPackage", want) from None
    return (x, y) if x == x and y == y else None


def _mover(system: Any, connection: sqlite3.Connection):
    """Return what turns a place of a layer into longitude and latitude of WGS 84."""
    transform = None
    if system not in _WGS84:
        row = connection.execute("SELECT organization, organization_coordsys_id FROM gpkg_spatial_ref_sys WHERE srs_id = ?", (system,)).fetchone()
        if row is None or str(row[0]).upper() != "EPSG":
            raise BadInput("gpkg_spatial_ref_sys", str(row and row[0]), "names a reference system that is not known", "an EPSG code")
        from pyproj import CRS, Transformer
        from pyproj.exceptions import CRSError

        try:
            transform = Transformer.from_crs(CRS.from_epsg(int(row[1])), CRS.from_epsg(4326), always_xy=True).transform
        except (CRSError, ValueError, TypeError):
            raise BadInput("gpkg_spatial_ref_sys", row[1], "is not a known reference system", "an EPSG code, such as 4326") from None

    def moved(place: tuple[float, float] | None, where: str) -> tuple[float | None, float | None]:
        if place is None:
            return None, None
        longitude, latitude = transform(*place) if transform else place
        if not (abs(longitude) <= 180 and abs(latitude) <= 90):
            raise BadInput(f"{where}: geom", f"{place[0]:g} {place[1]:g}", "is not on the Earth", "longitude, then latitude")
        return longitude, latitude

    return moved
