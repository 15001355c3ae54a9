"""Authorities' forms at the desk: which there are, adding one as a zip, filling one for a job. Photos of a job: all of them, and adding one."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError
from borewright.web.acts import Desk
from borewright.web.jobs import job_id
from borewright.web.present import allow, desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/forms")
def show(request: Request) -> Response:
    """The forms there are, and the form that adds one."""
    return _forms(request)


def _forms(request: Request, *, wrong: BadInput | None = None, given: dict[str, str] | None = None) -> Response:
    from borewright.papers.authority import forms
    from borewright.papers.facts import PATHS, ROWS

    desk = desk_of(request)
    return page(request, "forms.html", status=422 if wrong else 200, forms=forms(desk.folder), paths=PATHS, rows=ROWS, wrong=wrong, given=given or {}, added=request.query_params.get("added", ""))


@router.post("/forms")
async def add(request: Request) -> Response:
    """Add a form from a zip of its folder."""
    allow(request, "firm")
    form = await request.form(max_files=1, max_fields=5)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    upload = form.get("file")
    try:
        if upload is None or isinstance(upload, str) or not upload.filename:
            raise BadInput("file", "", "is missing", "a zip with form.toml and form.typ or form.pdf")
        added = await run_in_threadpool(_add, desk_of(request), given, upload.filename, await upload.read())
    except BadInput as error:
        return _forms(request, wrong=error, given=given)
    except BorewrightError as error:
        return _forms(request, wrong=BadInput("file", "", str(error), "a form that can be filled"), given=given)
    return RedirectResponse(f"/forms?added={added}", status_code=303)


def _add(desk: Desk, given: dict[str, str], file_name: str, data: bytes) -> str:
    import io

    from borewright.exchange.zips import member_bytes, open_zip
    from borewright.papers.authority import LARGEST, MOST_FILES, add_form

    with tempfile.TemporaryDirectory() as folder, open_zip(io.BytesIO(data), most_members=MOST_FILES, most_bytes=LARGEST) as archive:
        for info in archive.infolist():
            # A folder zipped whole has its name before each file; a form has no folders inside.
            name = info.filename.rsplit("/", 1)[-1]
            if (Path(folder) / name).exists():
                raise BadInput("file", info.filename, "stands twice in the form", "one folder with each file once")
            (Path(folder) / name).write_bytes(member_bytes(archive, info.filename, most=LARGEST))
        name = given.get("name", "").strip() or re.sub(r"[^a-z0-9]+", "-", Path(file_name).stem.lower()).strip("-")
        return add_form(Path(folder), desk.folder, name=name, replace=given.get("replace") == "yes").name


@router.post("/jobs/{job}/form/{name}")
def fill(request: Request, job: str, name: str) -> Response:
    """Fill a form for a job, keep it, and show it; what is missing is said on the job's page."""
    from borewright.papers.authority import issue_form

    desk, which = desk_of(request), job_id(job)
    try:
        with tempfile.TemporaryDirectory() as folder:
            path, _ = issue_form(desk.book, which, name, settings=desk.settings, folder=Path(folder), by=desk.by)
            sha = desk.book.attach(path.read_bytes())
    except BorewrightError as error:
        request.app.state.told[str(which)] = str(error).strip("'\"")
        return RedirectResponse(f"/jobs/{which}/papers", status_code=303)
    return RedirectResponse(f"/jobs/{which}/paper/{sha}", status_code=303)


@router.get("/jobs/{job}/photos")
def photos(request: Request, job: str) -> Response:
    """The photos of a job with what each file says of place and time."""
    return _photos(request, job)


def _photos(request: Request, job: str, *, wrong: BadInput | None = None, given: dict[str, str] | None = None) -> Response:
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    rows = [{"fact": f, "hole": hole.number, **_file_says(desk, f.body.attachment)} for hole in folded.holes.values() for f in hole.photos]
    rows.sort(key=lambda r: (r["hole"], r["fact"].body.depth is None, r["fact"].body.depth or 0.0))
    return page(request, "photos.html", status=422 if wrong else 200, job=folded, photos=rows, wrong=wrong, given=given or {})


def _file_says(desk: Desk, sha: str) -> dict[str, Any]:
    from borewright.record.pictures import picture_facts

    try:
        facts = picture_facts(desk.book.attachment(sha).read_bytes())
    except (BorewrightError, OSError):
        return {"facts": None}
    return {"facts": facts}


@router.post("/jobs/{job}/photos")
async def add_photo(request: Request, job: str) -> Response:
    """Keep a photo, whole, with the place and time in it."""
    allow(request, "rig")
    form = await request.form(max_files=1, max_fields=8)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    upload = form.get("photo")
    try:
        if upload is None or isinstance(upload, str) or not upload.filename:
            raise BadInput("photo", "", "is missing", "a JPEG, PNG or WebP file")
        await run_in_threadpool(_attach, desk_of(request), job, given, await upload.read())
    except BadInput as error:
        return await run_in_threadpool(_photos, request, job, wrong=error, given=given)
    return RedirectResponse(f"/jobs/{job_id(job)}/photos", status_code=303)


def _attach(desk: Desk, job: str, given: dict[str, str], data: bytes) -> None:
    from borewright.quantities import parse, shown_unit
    from borewright.work.photos import attach_photo

    depth = given.get("depth", "").strip()
    si = parse(depth, "depth", field="depth", default_unit=shown_unit("depth", desk.settings.unit_system)).si if depth else None
    attach_photo(desk.book, job_id(job), data, by=desk.by, depth=si, caption=given.get("caption", "").strip()[:4000], zone=desk.settings.zone)
