"""Open formats at the desk: a job or the whole firm out, a file in after a look at what it holds."""

from __future__ import annotations

import re
import secrets
import tempfile
import time
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError
from borewright.web.acts import Desk
from borewright.web.jobs import job_id
from borewright.web.present import allow, desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

MEDIA = {
    "csv": "application/zip", "geojson": "application/geo+json", "gwml2": "application/xml", "gpkg": "application/geopackage+sqlite3", "waterml": "application/xml",
    "ics": "text/calendar; charset=utf-8", "archive": "application/zip",
}
WAITING = 3600.0  # s that a file looked at is held for the yes
_TOKEN = re.compile(r"[0-9a-f]{32}")


@router.get("/jobs/{job}/export/{format}")
def export_job(request: Request, job: str, format: str) -> Response:
    """A job in one of the open formats; the archive, which holds names and money, needs more leave."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    return _sent(request, [folded.id], format, re.sub(r"[^\w.-]+", "-", folded.title, flags=re.ASCII).strip("-.").lower()[:60] or "job")


@router.get("/export/{format}")
def export_all(request: Request, format: str) -> Response:
    """Every job of the firm in one file."""
    desk = desk_of(request)
    jobs = [line.id for line in desk.book.jobs()]
    if not jobs:
        raise BadInput("job", "all", "names no job: the book is empty", "a book with jobs")
    return _sent(request, jobs, format, "all")


def _sent(request: Request, jobs: list[Any], format: str, name: str) -> Response:
    from borewright.exchange import FORMATS, write_jobs

    if format not in FORMATS:
        raise BadInput("format", format, "is not known", "one of " + ", ".join(FORMATS))
    if format == "archive":
        allow(request, "firm")
    folder = tempfile.TemporaryDirectory()
    try:
        path = Path(folder.name) / f"{name}{FORMATS[format][0]}"
        write_jobs(desk_of(request).book, jobs, format, path)
    except BaseException:
        folder.cleanup()
        raise
    return FileResponse(path, media_type=MEDIA[format], filename=path.name, background=BackgroundTask(folder.cleanup))


@router.get("/import")
def ask(request: Request) -> Response:
    """What may come in and what may go out."""
    return _ask(request)


def _ask(request: Request, *, wrong: BadInput | None = None, found: Any = None, token: str = "", name: str = "") -> Response:
    from borewright.exchange import FORMATS

    return page(request, "import.html", status=422 if wrong else 200, wrong=wrong, found=found, token=token, name=name, formats=FORMATS, done=request.query_params.get("read", ""))


@router.post("/import")
async def look(request: Request) -> Response:
    """Read and check a file, write nothing, and say what it holds."""
    allow(request, "write")
    form = await request.form(max_files=1, max_fields=5)
    given = form.get("file")
    desk = desk_of(request)
    if given is None or isinstance(given, str) or not given.filename:
        return _ask(request, wrong=BadInput("file", "", "is missing", "a CSV set, GeoJSON, GeoPackage, GroundWaterML 2.2, WaterML 2.0 or an archive"))
    data = await given.read()
    name = re.sub(r"[^\w. -]+", "", given.filename)[:80]
    token = secrets.token_hex(16)
    try:
        found = await run_in_threadpool(_looked, desk, token, data)
    except BorewrightError as error:
        wrong = error if isinstance(error, BadInput) else BadInput("file", name, str(error), "a file that can come in")
        return _ask(request, wrong=wrong, name=name)
    return _ask(request, found=found, token=token, name=name)


def _looked(desk: Desk, token: str, data: bytes) -> dict[str, Any]:
    """Return what a file holds, in words and numbers; the file waits for the yes."""
    from borewright.exchange import bring_in, read_any

    path = _waiting(desk) / token
    path.write_bytes(data)
    try:
        done = bring_in(desk.book, path, by=desk.by, dry_run=True)
        read = read_any(path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    known = {line.id for line in desk.book.jobs()}
    bores = [{"id": b.id, "name": b.name, "depth": b.depth, "strikes": len(b.table("strikes")), "there": None} for b in read.bores or ()]
    return {"format": done.format, "jobs": len(done.jobs), "entries": done.entries, "attachments": done.attachments, "there": sum(j in known for j in done.jobs), "bores": bores}


def _waiting(desk: Desk) -> Path:
    """Return the folder of files that were looked at, without those that nobody said yes to in time."""
    folder = desk.folder / "incoming"
    folder.mkdir(mode=0o700, exist_ok=True)
    for old in folder.iterdir():
        if old.is_file() and time.time() - old.stat().st_mtime > WAITING:
            old.unlink(missing_ok=True)
    return folder


@router.post("/import/{token}")
def bring(request: Request, token: str) -> Response:
    """Bring a file in that was looked at: all of it, or nothing."""
    from borewright.exchange import bring_in

    allow(request, "write")
    desk = desk_of(request)
    path = _waiting(desk) / token if _TOKEN.fullmatch(token) else None
    if path is None or not path.is_file():
        return _ask(request, wrong=BadInput("file", token[:40], "is not here any more", "the file again: it waits an hour for the yes"))
    try:
        done = bring_in(desk.book, path, by=desk.by)
    except BorewrightError as error:
        return _ask(request, wrong=error if isinstance(error, BadInput) else BadInput("file", "", str(error), "a file that can come in"))
    finally:
        path.unlink(missing_ok=True)
    return RedirectResponse(f"/import?read={len(done.jobs)}-{done.fresh}", status_code=303)
