"""Registers of other bores: what is loaded, loading a CSV with a column map, and the report of refused rows."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError, NotFound
from borewright.web.acts import Desk
from borewright.web.columnmap import kept_upload, maps_folder
from borewright.web.ownregister import keep_up
from borewright.web.present import desk_of, page
from borewright.web.trackrecord import begin_first_record

__all__ = ["known_registers", "router"]

router = APIRouter(include_in_schema=False)


def known_registers(desk: Desk) -> list[dict[str, Any]]:
    """Return what is remembered of each register."""
    from borewright.siting.register import list_registers

    return list_registers(desk.registers)


@router.get("/registers")
def registers(request: Request) -> Response:
    """The registers and the form that loads one."""
    keep_up(request)
    return _show(request)


def _show(request: Request, *, status: int = 200, wrong: BadInput | None = None, given: dict[str, str] | None = None, report: Any = None) -> Response:
    from borewright.siting.columns import saved_column_maps

    desk = desk_of(request)
    return page(request, "registers.html", status=status, registers=known_registers(desk), saved=saved_column_maps(maps_folder(desk)), wrong=wrong, given=given or {}, report=report)


@router.post("/registers")
async def load(request: Request) -> Response:
    """Load a register from uploaded files; rows that cannot be used are listed and the rest is kept."""
    form = await request.form(max_files=4, max_fields=20)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    files = {k: (v.filename, await v.read()) for k, v in form.items() if not isinstance(v, str) and v.filename}
    try:
        report = await run_in_threadpool(_load, desk_of(request), given, files)
    except BadInput as error:
        return _show(request, status=422, wrong=error, given=given)
    except BorewrightError as error:
        return _show(request, status=422, wrong=BadInput("bores", "", str(error), "a CSV file of bores"), given=given)
    begin_first_record(request, report.name)
    return _show(request, report=report)


def _load(desk: Desk, given: dict[str, str], files: dict[str, tuple[str, bytes]]) -> Any:
    from borewright.siting import column_map_from_toml, load_register
    from borewright.siting.register import check_name

    name = given.get("name", "").strip()
    check_name(name)
    if "bores" not in files:
        raise BadInput("bores", "", "is missing", "a CSV file with a line for each bore")
    with tempfile.TemporaryDirectory() as folder:
        paths = {part: kept_upload(Path(folder) / part, name_of_file, data) for part, (name_of_file, data) in files.items() if part in ("bores", "strikes", "intervals")}
        columns = None
        if given.get("saved"):
            columns = maps_folder(desk) / f"{check_name(given['saved'])}.toml"
        if given.get("columns", "").strip():
            columns = column_map_from_toml(given["columns"])
        return load_register(paths["bores"], name=name, strikes=paths.get("strikes"), intervals=paths.get("intervals"), columns=columns, folder=desk.registers)


@router.get("/registers/{name}/refused.csv")
def refused(request: Request, name: str) -> Response:
    """The rows that were refused when the register was loaded, each with its reason."""
    from borewright.siting.register import check_name

    path = desk_of(request).registers / check_name(name) / "refused.csv"
    if not path.is_file():
        raise NotFound(f"No rows of {name} were refused.")
    return FileResponse(path, media_type="text/csv", filename=f"{name}-refused.csv")


@router.get("/registers/{name}")
def one(request: Request, name: str) -> Response:
    """Back to the list, at this register."""
    return RedirectResponse(f"/registers#r-{name}", status_code=303)
