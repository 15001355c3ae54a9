"""Bores as a GeoPackage: one SQLite file that any map program opens, with the bores as points and every table beside them.

References
----------
OGC 12-128r18, GeoPackage Encoding Standard 1.3.1 (from memory): clause 1.1.1 the file, 1.1.2-1.1.3 reference systems and contents, 2.1 features and the
geometry blob, 2.4 attributes.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from borewright.exchange.bore import BORE_COLUMNS, TABLES, Bore, Column
from borewright.exchange.files import whole_file

__all__ = ["begin_geopackage", "write_geopackage"]

APPLICATION_ID, USER_VERSION = 0x47504B47, 10301  # "GPKG", version 1.3.1
_TYPES = {"number": "DOUBLE", "integer": "INTEGER", "boolean": "BOOLEAN", "string": "TEXT", "date": "DATE", "datetime": "DATETIME"}
_WGS84 = ('GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],'
          'PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]')
_SCHEMA = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
"""
# GeoPackage header (magic, version 0, flags: little endian and no envelope, reference system), then well-known binary of a point.
_POINT = struct.Struct("<2sBBiBIdd")


def write_geopackage(bores: Iterable[Bore], path: Path | str, *, made: datetime | None = None) -> None:
    """Write the file whole: it stands under its name only when it is finished, in place of one that stood there.

    Parameters
    ----------
    made : datetime, optional
        Moment of `last_change`; now by default.
    """
    bores = list(bores)
    with whole_file(Path(path)) as part:
        connection = sqlite3.connect(part, isolation_level=None)
        try:
            _fill(connection, bores, made or datetime.now(UTC))
        finally:
            connection.close()


def begin_geopackage(connection: sqlite3.Connection) -> None:
    """Make an empty database a GeoPackage without layers, in a transaction that stays open."""
    run = connection.execute
    run(f"PRAGMA application_id = {APPLICATION_ID}")
    run(f"PRAGMA user_version = {USER_VERSION}")
    # The file is not yet under its name, so a crash leaves nothing half done and a journal would only cost time.
    run("PRAGMA journal_mode = OFF")
    run("PRAGMA synchronous = OFF")
    run("BEGIN")
    for statement in _SCHEMA.split(";\n"):
        if statement.strip():
            run(statement)
    connection.executemany("INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)", [
        ("WGS 84 geodetic", 4326, "EPSG", 4326, _WGS84, "longitude and latitude in degrees"),
        ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "undefined Cartesian coordinate reference system"),
        ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic coordinate reference system"),
    ])


def _fill(connection: sqlite3.Connection, bores: list[Bore], made: datetime) -> None:
    begin_geopackage(connection)
    run = connection.execute
    moment = utc_moment(made)
    placed = [b for b in bores if b.longitude is not None and b.latitude is not None]
    box = tuple(f(getattr(b, n) for b in placed) if placed else None for f, n in ((min, "longitude"), (min, "latitude"), (max, "longitude"), (max, "latitude")))
    columns = [c for c in BORE_COLUMNS if c.name not in ("lon", "lat")]
    cells = [(c.field, _kept(c)) for c in columns]
    run("INSERT INTO gpkg_contents VALUES (?,?,?,?,?,?,?,?,?,?)",
        ("bores", "features", "bores", "Depths in metres below ground level; the unit of a number ends its name.", moment, *box, 4326))
    run(f'CREATE TABLE bores (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom POINT, {_declared(columns)})')
    run("INSERT INTO gpkg_geometry_columns VALUES ('bores', 'geom', 'POINT', 4326, 0, 0)")
    connection.executemany(
        f"INSERT INTO bores VALUES (NULL,?{',?' * len(columns)})",
        ((_blob(b), *(keep(getattr(b, field)) for field, keep in cells)) for b in bores))
    for table in TABLES:
        if not any(b.table(table.name) for b in bores):
            continue
        run("INSERT INTO gpkg_contents VALUES (?,?,?,?,?,NULL,NULL,NULL,NULL,0)", (table.name, "attributes", table.name, table.title, moment))
        run(f'CREATE TABLE "{table.name}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, bore_id TEXT NOT NULL, {_declared(table.columns)})')
        connection.executemany(f'INSERT INTO "{table.name}" VALUES (NULL,?{",?" * len(table.columns)})', _rows(bores, table))
    run("COMMIT")


def _declared(columns: Iterable[Column]) -> str:
    return ", ".join(f'"{c.name}" {_TYPES[c.type]}' for c in columns)


def _rows(bores: list[Bore], table) -> Iterator[tuple[Any, ...]]:
    cells = [(c.field, _kept(c)) for c in table.columns]
    for bore in bores:
        rows = bore.table(table.name)
        if rows and table.name == "strikes":
            rows = [{**row, "yield_": gain} for row, gain in zip(rows, bore.strike_yields(), strict=True)]
        for row in rows:
            yield (bore.id, *(keep(row[field]) for field, keep in cells))


def _blob(bore: Bore) -> bytes | None:
    if bore.longitude is None or bore.latitude is None:
        return None
    return _POINT.pack(b"GP", 0, 0b00000001, 4326, 1, 1, bore.longitude, bore.latitude)


def _kept(column: Column) -> Callable[[Any], Any]:
    """Return what turns a column's value into what the file keeps."""
    if column.type == "boolean":
        return lambda value: None if value is None else int(value)
    if column.type == "datetime":
        return _utc
    if column.type == "number" and column.power:
        return lambda value: None if value is None else _scaled(value, column.power)
    return lambda value: None if value == "" else value


@lru_cache(maxsize=4096)
def _utc(text: str | None) -> str | None:
    """Return a moment in UTC with a Z, as the standard wants it (table 1, DATETIME)."""
    return utc_moment(datetime.fromisoformat(text)) if text else None


def utc_moment(moment: datetime) -> str:
    """Return a moment in UTC as the standard writes it."""
    moment = moment.astimezone(UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


def _scaled(value: float, power: int) -> float:
    """Return the float nearest to the shortest decimal of a value times ten to a power: 0.0007 m3/s is 0.7 L/s and not 0.7000000000000001."""
    text = repr(float(value))
    return float(f"{text}e{power}") if "e" not in text else float(Decimal(text).scaleb(power))
