"""Trying a column map in the browser: a file's first rows as they would be read, its columns and units edited, the map kept for the next file."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError, NotFound
from borewright.web.acts import Desk
from borewright.web.present import desk_of, page
from borewright.web.trackrecord import begin_first_record

__all__ = ["kept_upload", "maps_folder", "router"]

router = APIRouter(include_in_schema=False)
# What is asked, in the order of the form: (what a register holds, words, compulsory)
ASKED = (
    ("bore_id", "Name or number", True), ("lon", "Longitude or easting", True), ("lat", "Latitude or northing", True), ("depth", "Depth drilled", True),
    ("flow", "Yield", False), ("status", "Wet or dry", False), ("static_level", "Static level", False), ("first_water", "First water", False),
    ("elevation", "Height above sea", False), ("conductivity", "Conductivity", False), ("drilled_on", "Drilled on", False), ("picked_by", "How the spot was picked", False),
)
_KEPT = 6  # uploaded files that wait for their map


@dataclass(slots=True)
class _Waiting:
    """Uploaded files by their token, oldest first, in a folder that ends with the program."""

    folder: tempfile.TemporaryDirectory = field(default_factory=tempfile.TemporaryDirectory)
    files: dict[str, tuple[Path, str]] = field(default_factory=dict)

    def keep(self, name: str, data: bytes) -> str:
        token = secrets.token_urlsafe(12)
        path = kept_upload(Path(self.folder.name) / token, name, data)
        self.files[token] = (path, path.name)
        while len(self.files) > _KEPT:
            shutil.rmtree(self.files.pop(next(iter(self.files)))[0].parent, ignore_errors=True)
        return token


def kept_upload(folder: Path, name: str, data: bytes) -> Path:
    """Write an uploaded file into a folder of its own, under its own name as far as that is safe: what is said of the file names it so."""
    folder.mkdir(parents=True)
    safe = re.sub(r"[^\w. ()+-]", "_", name.replace("\\", "/").rsplit("/", 1)[-1]).lstrip(".")[-100:].strip() or "bores.csv"
    path = folder / safe
    path.write_bytes(data)
    return path


def _waiting(request: Request) -> _Waiting:
    state = request.app.state
    if not hasattr(state, "column_files"):
        state.column_files = _Waiting()
    return state.column_files


def maps_folder(desk: Desk) -> Path:
    """Return the folder of kept column maps."""
    return desk.folder / "column-maps"


@router.get("/columns")
def columns(request: Request) -> Response:
    """The form that takes a file, and the maps kept."""
    return _page(request)


def _page(request: Request, *, status: int = 200, **more: Any) -> Response:
    from borewright.siting.columns import UNITS, saved_column_maps

    what = {"given": {}, "wrong": None, "found": None, "token": "", "file": "", "text": "", "told": "", "report": None} | more
    return page(request, "columns.html", status=status, asked=ASKED, units=UNITS, saved=saved_column_maps(maps_folder(desk_of(request))), **what)


@router.get("/columns/{name}.toml")
def take(request: Request, name: str) -> Response:
    """A kept map as a file."""
    from borewright.siting.register import check_name

    path = maps_folder(desk_of(request)) / f"{check_name(name)}.toml"
    if not path.is_file():
        raise NotFound(f"There is no column map named {name}.")
    return FileResponse(path, media_type="application/toml", filename=f"{name}.toml")


@router.post("/columns")
async def tried(request: Request) -> Response:
    """Show the first rows under the map as it stands; keep the map, or load the register, where that was asked."""
    form = await request.form(max_files=2, max_fields=60)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    upload = next((v for k, v in form.items() if k == "bores" and not isinstance(v, str) and v.filename), None)
    waiting = _waiting(request)
    token = waiting.keep(upload.filename, await upload.read()) if upload is not None else given.get("token", "")
    if token not in waiting.files:
        wrong = BadInput("bores", "", "is missing", "a CSV, Parquet, GeoJSON or spreadsheet file; one sent long ago is forgotten")
        return _page(request, status=422, given=given, wrong=wrong)
    return await run_in_threadpool(_try, request, given, token, fresh=upload is not None)


def _toml(given: Mapping[str, str]) -> str:
    from borewright.siting.columns import UNITS, column_map_as_toml

    split = lambda text: [w.strip() for w in text.split(",") if w.strip()]
    bores = {what: (given.get(f"column_{what}", "").strip(), given.get(f"unit_{what}", "").strip() if what in UNITS else "") for what, _, _ in ASKED}
    return column_map_as_toml(bores, crs=given.get("crs", "").strip(), decimal=given.get("decimal", "").strip(), wet=split(given.get("wet", "")), dry=split(given.get("dry", "")))


def _from_saved(desk: Desk, name: str) -> dict[str, str]:
    """Return the form's answers from a kept map."""
    import tomllib

    from borewright.siting.columns import ALSO
    from borewright.siting.register import check_name

    path = maps_folder(desk) / f"{check_name(name)}.toml"
    if not path.is_file():
        raise BadInput("saved", name, "is not kept", "one of the maps in the list")
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    out = {key: str(data[key]) for key in ("crs", "decimal") if key in data}
    out |= {key: ", ".join(words) for key, words in data.get("status", {}).items()}
    for what, column in data.get("bores", {}).items():
        what = ALSO.get(what, what)
        out[f"column_{what}"] = column if isinstance(column, str) else column["column"]
        if isinstance(column, dict) and column.get("unit"):
            out[f"unit_{what}"] = column["unit"]
    return out


def _try(request: Request, given: dict[str, str], token: str, *, fresh: bool) -> Response:
    from borewright.siting import column_map_from_toml, load_register, preview
    from borewright.siting.columns import save_column_map

    desk = desk_of(request)
    path, name = _waiting(request).files[token]
    shown: dict[str, Any] = {"token": token, "file": name}
    act = given.get("act", "try")
    try:
        if given.get("saved") and (fresh or act == "use"):
            given = given | _from_saved(desk, given["saved"])
        shown["given"] = given
        text = _toml(given)
        shown["text"] = text
        found = shown["found"] = preview(path, column_map_from_toml(text))
        # What was found under its usual name is shown as chosen.
        given |= {f"column_{what}": heading for what, heading in found.found.items() if not given.get(f"column_{what}")}
        text = shown["text"] = _toml(given)
        if act == "keep":
            save_column_map(given.get("map_name", "").strip(), text, maps_folder(desk))
            shown["told"] = f"The map is kept as {given['map_name'].strip()}."
        elif act == "load":
            shown["report"] = load_register(path, name=given.get("name", "").strip(), columns=column_map_from_toml(text), folder=desk.registers)
            begin_first_record(request, shown["report"].name)
    except BadInput as error:
        where = "map_name" if act == "keep" and error.field == "name" else error.field
        shown["wrong"] = BadInput(_place(where), error.value, error.problem, error.want)
        return _page(request, status=422, **({"given": given} | _bare(path, shown)))
    except BorewrightError as error:
        shown["wrong"] = BadInput("file", name, str(error), "a file of bores")
        return _page(request, status=422, **({"given": given} | shown))
    return _page(request, **shown)


def _bare(path: Path, shown: dict[str, Any]) -> dict[str, Any]:
    """Return what is shown with the file's headings still there to choose from, where the map itself could not be tried."""
    from borewright.siting import preview

    if shown.get("found") is None:
        try:
            shown["found"] = preview(path)
        except BorewrightError:
            shown["token"] = ""
    return shown


def _place(where: str) -> str:
    """Return the form's field for what a column map's error names, such as bores.depth.unit."""
    from borewright.siting.columns import ALSO

    parts = where.split(".")
    if parts[0] == "bores" and len(parts) > 1:
        return ("unit_" if parts[-1] == "unit" else "column_") + ALSO.get(parts[1], parts[1])
    return where
