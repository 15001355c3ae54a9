"""The map of odds of a register: an area, a need and a depth asked for, the picture with its table, and the files to take away."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from borewright.errors import BadInput, Refused
from borewright.web.background import Work, background_of
from borewright.web.fields import Field, Filled, Form
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

FORM = Form("map", "The area", "Draw the map", (
    Field("need", "How much water is enough", "flow", True, "Say the unit", "15 L/min", default="15 L/min"),
    Field("depth", "By what depth", "depth", True, example="60 m", default="60 m"),
    Field("south_west", "South-west corner", "place", help="Latitude, longitude in degrees; with neither corner, all the bores"),
    Field("north_east", "North-east corner", "place"),
    Field("cell", "Side of a cell", "length", help="With none, about 40 cells across", example="200 m"),
))
MOST_CELLS = 40_000  # that a page waits for; the command line has no such limit
_ACROSS = 40
_FILES = {"geojson": "application/geo+json", "tif": "image/tiff", "gpkg": "application/geopackage+sqlite3", "svg": "image/svg+xml", "png": "image/png"}


@dataclass(frozen=True, slots=True)
class _Drawn:
    told: Any
    figure: str
    nearest: tuple[Any, ...]
    middle: tuple[float, float]


def _given(request: Request) -> dict[str, str]:
    return {k: v for k, v in request.query_params.items() if v.strip()}


def _area(values: Mapping[str, Any], register: Any) -> tuple[tuple[float, float, float, float], float]:
    """Return the bounds and the side of a cell [m]; raise BadInput for half an area or too fine a map."""
    import math

    from borewright.siting import bounds_of

    first, second = values.get("south_west"), values.get("north_east")
    if (first is None) != (second is None):
        missing = "north_east" if second is None else "south_west"
        raise BadInput(missing, "", "is missing", "both corners, or neither for all the bores")
    area = bounds_of(register) if first is None else (first[1], first[0], second[1], second[0])
    west, south, east, north = area
    if north <= south:
        raise BadInput("north_east", f"{north:g}", "lies no further north than the south-west corner", "a latitude above that corner's")
    width = (east - west) % 360.0 * 111_195.0 * math.cos(math.radians(0.5 * (south + north)))
    height = (north - south) * 111_195.0
    cell = values.get("cell") or max(width, height) / _ACROSS
    if width * height / cell**2 > MOST_CELLS:
        raise BadInput("cell", f"{cell:.0f} m", f"makes more than {MOST_CELLS:,} cells", f"at least {math.sqrt(width * height / MOST_CELLS):.0f} m here; `borewright register map` draws finer ones")
    return area, cell


def _task(desk: Any, name: str, values: Mapping[str, Any], tell: Any) -> _Drawn:
    from borewright.drawing.oddsmap import odds_map
    from borewright.siting import coarser, map_of_odds, odds_at, open_register

    tell(0.0, "opening the register")
    register = open_register(name, desk.registers)
    area, cell = _area(values, register)
    told = map_of_odds(register, area, need=values["need"], depth=values["depth"], cell=cell, progress=lambda done, of: tell(0.05 + 0.9 * done / of, f"{done} of {of} tiles"))
    shown = coarser(told, 160)
    figure = odds_map(shown.p.tolist(), west=shown.west, south=shown.south, east=shown.east, north=shown.north, need=told.need, depth=told.depth, register=name,
                      bores=register.marks() if len(register) <= 20_000 else (), width=480.0, units=desk.settings.unit_system)
    middle = 0.5 * (told.south + told.north), (0.5 * (told.west + told.east) + 180.0) % 360.0 - 180.0
    try:
        nearest = odds_at(register, *middle, need=told.need, depths=[told.depth]).nearest
    except Refused:
        nearest = ()  # too far from any bore: the map says so by its blank
    return _Drawn(told, figure, nearest, middle)


def _work(request: Request, name: str, values: Mapping[str, Any]) -> Work:
    desk = desk_of(request)
    about = desk.registers / name / "about.json"
    key = ("map", name, about.stat().st_mtime_ns if about.exists() else 0, desk.settings.unit_system, tuple(sorted((k, str(v)) for k, v in values.items() if k != "typed")))
    return background_of(request).work(key, lambda tell: _task(desk, name, values, tell))


def _page(request: Request, name: str, filled: Filled, *, status: int = 200, work: Work | None = None) -> Response:
    drawn = work.answer if work else None
    figure = Markup(drawn.figure) if drawn else ""
    return page(request, "register_map.html", status=status, name=name, filled=filled, work=work, drawn=drawn, figure=figure, query=request.url.query, files=tuple(_FILES))


@router.get("/registers/{name}/map")
def draw(request: Request, name: str) -> Response:
    """The form, and the map where its questions are answered; the address keeps them, so a map can be kept as a link."""
    from borewright.siting import open_register
    from borewright.siting.register import check_name

    desk = desk_of(request)
    if not (desk.registers / check_name(name) / "about.json").is_file():
        open_register(name, desk.registers)  # says what registers there are
    given = _given(request)
    if not given:
        return _page(request, name, Filled(FORM, {f.name: f.default for f in FORM.fields if f.default}))
    values, wrong = FORM.read(given, desk.settings.unit_system)
    if wrong:
        return _page(request, name, Filled(FORM, given, wrong), status=422)
    work = _work(request, name, values)
    if work.over.is_set() and (work.wrong or work.trouble):
        known = {f.name for f in FORM.fields}
        field = {"bounds": "south_west"}.get(work.wrong.field, work.wrong.field) if work.wrong else ""
        filled = Filled(FORM, given, {field: work.wrong}) if field in known else Filled(FORM, given, other=work.trouble or str(work.wrong))
        return _page(request, name, filled, status=422)
    return _page(request, name, Filled(FORM, given), work=work)


@router.get("/registers/{name}/map.{kind}")
def take(request: Request, name: str, kind: str) -> Response:
    """The same map as a file."""
    from borewright.siting.register import check_name

    check_name(name)
    if kind not in _FILES:
        raise BadInput("kind", kind, "is no format of a map", ", ".join(_FILES))
    desk = desk_of(request)
    values, wrong = FORM.read(_given(request), desk.settings.unit_system)
    if wrong:
        raise next(iter(wrong.values()))
    work = _work(request, name, values)
    work.over.wait(120.0)
    if work.wrong:
        raise work.wrong
    if work.answer is None:
        raise BadInput("map", name, work.trouble or "is not ready yet", "the same again in a moment")
    told = work.answer.told
    data = _as_file(work.answer, told, kind, desk.settings.unit_system)
    return Response(data, media_type=_FILES[kind], headers={"Content-Disposition": f'attachment; filename="{name}-odds.{kind}"'})


def _as_file(drawn: _Drawn, told: Any, kind: str, units: str) -> bytes:
    from borewright.exchange import map_as_geojson, map_as_geopackage, map_as_geotiff

    if kind == "geojson":
        return map_as_geojson(told).encode()
    if kind == "tif":
        return map_as_geotiff(told)
    if kind == "gpkg":
        return map_as_geopackage(told)
    from borewright.drawing.oddsmap import odds_map, picture
    from borewright.siting import coarser

    shown = coarser(told, 240)
    svg = odds_map(shown.p.tolist(), west=shown.west, south=shown.south, east=shown.east, north=shown.north, need=told.need, depth=told.depth, register=told.register,
                   medium="paper", units=units)
    return svg.encode() if kind == "svg" else picture(svg)
