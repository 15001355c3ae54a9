"""The column map: which column of a file holds what, in which unit, on which grid. Kept as TOML and used again."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from borewright.errors import BadInput, StoreError
from borewright.quantities import parse
from borewright.siting.register import check_name

__all__ = ["ALSO", "CANONICAL", "UNITS", "Column", "ColumnMap", "column_map_as_toml", "column_map_from_toml", "read_column_map", "save_column_map", "saved_column_maps"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its names in the file (the first found is taken), and the factor that makes it SI."""

    names: tuple[str, ...]
    factor: float = 1.0


@dataclass(frozen=True)
class ColumnMap:
    """Where everything stands in the files.

    Attributes
    ----------
    crs : str
        Grid of the coordinates, such as "EPSG:4326".
    separator, encoding, decimal : str
        Of text files; empty means found by looking.
    wet, dry : tuple of str
        Words of the status column, in lower case.
    bores, strikes, intervals : dict of str to Column
        By what the column holds.
    """

    crs: str = "EPSG:4326"
    separator: str = ""
    encoding: str = ""
    decimal: str = "."
    wet: tuple[str, ...] = ("wet", "water", "good", "producing", "productive", "successful", "success", "yes", "equipped", "in use")
    dry: tuple[str, ...] = ("dry", "no water", "failed", "unsuccessful", "abandoned dry", "no")
    bores: dict[str, Column] = field(default_factory=dict)
    strikes: dict[str, Column] = field(default_factory=dict)
    intervals: dict[str, Column] = field(default_factory=dict)


_BORES = {
    "bore_id": Column(("bore_id",)), "lon": Column(("lon", "longitude")), "lat": Column(("lat", "latitude")), "elevation": Column(("elevation_m",)),
    "depth": Column(("depth_m",)), "flow": Column(("yield_lps",), 1e-3), "static_level": Column(("static_level_m",)),
    "first_water": Column(("first_water_m",)), "conductivity": Column(("ec_us_cm", "conductivity_us_cm")), "drilled_on": Column(("drilled_on",)),
    "status": Column(("status",)), "picked_by": Column(("picked_by",)),
}
_STRIKES = {"bore_id": Column(("bore_id",)), "depth": Column(("depth_m",)), "flow": Column(("yield_lps",), 1e-3)}
_INTERVALS = {"bore_id": Column(("bore_id",)), "top": Column(("from_m",)), "end": Column(("to_m",)), "lithology": Column(("lithology",))}
_KIND = {"elevation": "depth", "depth": "depth", "flow": "flow", "static_level": "depth", "first_water": "depth", "top": "depth", "end": "depth",
         "conductivity": "conductivity"}
_DEFAULT_UNIT = {"depth": "m", "flow": "L/s", "conductivity": "uS/cm"}
ALSO = {"yield": "flow", "from": "top", "to": "end", "ground": "lithology", "easting": "lon", "northing": "lat", "id": "bore_id"}

UNITS = {name: _DEFAULT_UNIT[kind] for name, kind in _KIND.items()}  # what has a unit, and the one taken when none is named

CANONICAL = ColumnMap(bores=_BORES, strikes=_STRIKES, intervals=_INTERVALS)


def _column(table: str, key: str, given: object) -> tuple[str, Column]:
    name = ALSO.get(key, key)
    known = {"bores": _BORES, "strikes": _STRIKES, "intervals": _INTERVALS}[table]
    if name not in known:
        raise BadInput(f"{table}.{key}", key, "is nothing that a register holds", "one of " + ", ".join(known))
    if isinstance(given, str):
        given = {"column": given}
    if not isinstance(given, dict) or not isinstance(given.get("column"), str) or set(given) - {"column", "unit"}:
        raise BadInput(f"{table}.{key}", given, "does not name a column", 'the column\'s name, or { column = "Depth", unit = "ft" }')
    factor = 1.0
    if name in _KIND:
        kind = _KIND[name]
        unit = str(given.get("unit", _DEFAULT_UNIT[kind]))
        factor = parse(f"1 {unit}", kind, field=f"{table}.{key}.unit").si
    elif "unit" in given:
        raise BadInput(f"{table}.{key}.unit", given["unit"], "this column has no unit", "the column's name only")
    return name, Column((given["column"],), factor)


def column_map_from_toml(text: str) -> ColumnMap:
    """Return the column map that a TOML text describes; what it does not name keeps the canonical columns.

    Raises
    ------
    BadInput
        Not TOML, an unknown key or unit, a column without a name.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput("columns", None, f"is not TOML: {error}", "a column map: [bores] and, for each column, what it is called") from error
    tables = {}
    for table, known in (("bores", _BORES), ("strikes", _STRIKES), ("intervals", _INTERVALS)):
        given = data.pop(table, {})
        if not isinstance(given, dict):
            raise BadInput(table, given, "is not a table", f"[{table}] and its columns")
        tables[table] = {**known, **dict(_column(table, key, value) for key, value in given.items())}
    words = data.pop("status", {})
    options = {key: str(data.pop(key)) for key in ("crs", "separator", "encoding", "decimal") if key in data}
    for key in ("wet", "dry"):
        if key in words:
            options[key] = tuple(str(w).strip().lower() for w in words[key])
    if data:
        raise BadInput("columns", next(iter(data)), "is not a key of a column map", "crs, separator, encoding, decimal, [status], [bores], [strikes], [intervals]")
    return ColumnMap(**options, **tables)


def read_column_map(path: Path | str) -> ColumnMap:
    """Return the column map kept in a TOML file."""
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("columns", str(path), f"cannot be read: {error}", "a TOML file") from error
    return column_map_from_toml(text)


def column_map_as_toml(bores: Mapping[str, tuple[str, str]], *, crs: str = "", decimal: str = "", wet: Sequence[str] = (), dry: Sequence[str] = ()) -> str:
    """Return a column map of bores as TOML: for each thing that a register holds, its column and unit ("" for none or the usual one).

    Raises
    ------
    BadInput
        What `column_map_from_toml` would not read back.
    """
    import tomli_w

    data: dict[str, object] = {key: value for key, value in (("crs", crs), ("decimal", decimal)) if value}
    words = {key: list(value) for key, value in (("wet", wet), ("dry", dry)) if value}
    if words:
        data["status"] = words
    data["bores"] = {what: {"column": column, "unit": unit} if unit else column for what, (column, unit) in bores.items() if column}
    text = tomli_w.dumps(data)
    column_map_from_toml(text)
    return text


def save_column_map(name: str, text: str, folder: Path) -> Path:
    """Keep a column map under a name, for the next file of the same kind; one of that name is replaced."""
    column_map_from_toml(text)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{check_name(name)}.toml"
    try:
        new = path.with_suffix(".new")
        new.write_text(text, encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise StoreError(f"the column map {name} could not be kept: {error}") from error
    return path


def saved_column_maps(folder: Path) -> list[str]:
    """Return the names of the column maps kept in a folder."""
    return sorted(path.stem for path in folder.glob("*.toml"))
