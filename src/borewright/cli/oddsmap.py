"""`borewright register map` and `borewright register load --preview`: odds over an area into a file; the first rows as they would be read."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from borewright.errors import BadInput, Refused

__all__ = ["add_map", "run_map", "run_preview"]

_KINDS = (".geojson", ".json", ".tif", ".tiff", ".gpkg", ".svg", ".png")


def add_map(verbs: Any) -> argparse.ArgumentParser:
    """Declare the words of `register map`."""
    parser = verbs.add_parser("map", help="odds over an area at one need and depth, as GeoJSON, GeoTIFF, GeoPackage or a picture")
    parser.add_argument("name", metavar="NAME")
    parser.add_argument("--need", required=True, help='flow that counts as enough, such as "0.25 L/s"')
    parser.add_argument("--depth", required=True, help='by this depth, such as "60 m"')
    parser.add_argument("--bounds", metavar="W,S,E,N", help="in degrees, such as --bounds=-18.3,-38.5,-18.2,-38.4; by default all the bores")
    parser.add_argument("--area", metavar="FILE.geojson", help="a polygon instead of bounds")
    parser.add_argument("--cell", default="500 m", help="side of a cell (500 m)")
    parser.add_argument("--out", required=True, metavar="FILE", help="FILE.geojson, FILE.tif, FILE.gpkg, FILE.svg or FILE.png")
    parser.add_argument("--cluster", metavar="N", help="work on N local processes with Dask, or at the address of a running scheduler")
    return parser


def _bounds(text: str) -> tuple[float, ...]:
    try:
        west, south, east, north = (float(v) for v in text.replace(";", ",").split(","))
    except ValueError as error:
        raise BadInput("bounds", text, "is not an area", "west,south,east,north in degrees, such as -18.3,-38.5,-18.2,-38.4") from error
    return west, south, east, north


def _polygon(path: Path) -> list:
    want = "a GeoJSON file with one Polygon"
    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise BadInput("area", str(path), f"cannot be read: {error}", want) from error
    while isinstance(data, dict) and data.get("type") in ("FeatureCollection", "Feature"):
        if data["type"] == "FeatureCollection":
            if len(data.get("features") or ()) != 1:
                raise BadInput("area", str(path), f"holds {len(data.get('features') or ())} features", want)
            data = data["features"][0]
        else:
            data = data.get("geometry")
    if not isinstance(data, dict) or data.get("type") != "Polygon" or not data.get("coordinates"):
        raise BadInput("area", str(path), "holds no Polygon", want)
    return data["coordinates"]


def _client(text: str) -> Any:
    try:
        from dask.distributed import Client, LocalCluster
    except ImportError as error:
        raise Refused("a map over several processes needs Dask, which is not installed: pip install dask distributed") from error
    if not text.isdigit():
        return Client(text)
    if not 1 <= int(text) <= 256:
        raise BadInput("cluster", text, "is not a number of processes", "1 to 256, or the address of a scheduler")
    return Client(LocalCluster(n_workers=int(text), threads_per_worker=1, dashboard_address=None))


def run_map(arguments: argparse.Namespace, folder: Path) -> int:
    """Work out the map and write it."""
    from borewright.cli.output import print_json
    from borewright.quantities import parse
    from borewright.siting import bounds_of, map_of_odds, open_register

    out = Path(arguments.out)
    if out.suffix.lower() not in _KINDS:
        raise BadInput("out", arguments.out, "names no format that is written", "a file ending in .geojson, .tif, .gpkg, .svg or .png")
    if arguments.bounds and arguments.area:
        raise BadInput("area", arguments.area, "does not go with bounds", "--bounds or --area, not both")
    need = parse(arguments.need, "flow", field="need").si
    depth = parse(arguments.depth, "depth", field="depth", default_unit="m").si
    cell = parse(arguments.cell, "length", field="cell", default_unit="m").si
    register = open_register(arguments.name, folder)
    area = _bounds(arguments.bounds) if arguments.bounds else _polygon(Path(arguments.area)) if arguments.area else bounds_of(register)
    client = _client(arguments.cluster) if arguments.cluster else None
    from tqdm import tqdm

    try:
        with tqdm(total=1, unit="tile", leave=False, disable=not sys.stderr.isatty()) as bar:

            def tell(done: int, of: int) -> None:
                bar.total, bar.n = of, done
                bar.refresh()

            told = map_of_odds(register, area, need=need, depth=depth, cell=cell, client=client, progress=tell)
    finally:
        if client is not None:
            client.shutdown() if arguments.cluster.isdigit() else client.close()
    _write(told, register, out)
    rows, columns = told.p.shape
    import numpy as np

    known = told.p[np.isfinite(told.p)]
    if arguments.json:
        print_json({
            "file": str(out), "rows": rows, "columns": columns, "cells_told": len(known), "bounds": [told.west, told.south, told.east, told.north],
            "need_lps": 1000 * need, "depth_m": depth, "cell_m": cell, "p_low": float(known.min()) if len(known) else None,
            "p_high": float(known.max()) if len(known) else None, "advisories": [{"severity": a.severity, "message": a.message} for a in told.advisories],
        })
        return 0
    span = f"odds from {known.min():.2f} to {known.max():.2f}" if len(known) else "no cell has a figure"
    print(f"{out}: {columns} by {rows} cells, {span}")
    for advisory in told.advisories:
        print(f"{advisory.severity}: {advisory.message}")
    return 0


def _write(told: Any, register: Any, out: Path) -> None:
    from borewright.errors import StoreError
    from borewright.exchange import map_as_geojson, map_as_geopackage, map_as_geotiff

    kind = out.suffix.lower()
    if kind in (".geojson", ".json"):
        data = map_as_geojson(told).encode()
    elif kind in (".tif", ".tiff"):
        data = map_as_geotiff(told)
    elif kind == ".gpkg":
        data = map_as_geopackage(told)
    else:
        from borewright.drawing.oddsmap import odds_map, picture
        from borewright.siting import coarser

        shown = coarser(told, 240)
        bores = register.marks() if len(register) <= 20_000 else ()
        svg = odds_map(shown.p.tolist(), west=shown.west, south=shown.south, east=shown.east, north=shown.north, need=told.need, depth=told.depth,
                       register=told.register, bores=bores, medium="paper")
        data = svg.encode() if kind == ".svg" else picture(svg)
    try:
        out.write_bytes(data)
    except OSError as error:
        raise StoreError(f"{out} could not be written: {error}") from error


def run_preview(arguments: argparse.Namespace) -> int:
    """Show the first rows of a file as they would be read; nothing is kept."""
    from dataclasses import asdict

    from borewright.cli.output import print_json
    from borewright.siting import preview, read_column_map
    from borewright.siting.columns import CANONICAL

    found = preview(arguments.bores, read_column_map(arguments.columns) if arguments.columns else CANONICAL)
    if arguments.json:
        print_json({
            "file": found.file, "headings": list(found.headings), "found": found.found, "missing": [m.as_dict() for m in found.missing],
            "rows": [{"row": r.row, **r.values, "refused": None if r.refused is None else asdict(r.refused)} for r in found.rows],
        })
        return 0
    print(f"{found.file}: {', '.join(found.headings)}")
    for error in found.missing:
        print(f"missing: {error.field}: {error.problem}. Want {error.want}.")
    shown = ("bore_id", "lon", "lat", "depth", "flow", "wet", "static_level")
    print(f"{'row':>4} {'bore_id':<14}{'lon':>12}{'lat':>12}{'depth m':>9}{'L/s':>9} {'wet':<5}{'level m':>8}")
    for row in found.rows:
        name, lon, lat, depth, flow, wet, level = (row.values[k] for k in shown)
        number = lambda v, wide, digits, by=1.0: f"{'' if v is None else format(v * by, f'.{digits}f'):>{wide}}"
        print(f"{row.row:>4} {str(name or ''):<14.14}{number(lon, 12, 5)}{number(lat, 12, 5)}{number(depth, 9, 1)}{number(flow, 9, 3, 1e3)} {wet or '':<5}{number(level, 8, 1)}"
              + ("" if row.refused is None else f"  refused: {row.refused.field} {row.refused.value} {row.refused.problem}"))
    for advisory in found.advisories:
        print(f"{advisory.severity}: {advisory.message}")
    return 0
