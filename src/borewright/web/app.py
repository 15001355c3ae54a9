"""The app: the guard around it, one error grammar at every door, and the rooms inside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from borewright import __version__
from borewright.drawing import font_folder
from borewright.errors import BadInput, BorewrightError, Conflict, NotFound, Refused
from borewright.storage import Accounts
from borewright.web import (
    api,
    benchpages,
    board,
    cards,
    columnmap,
    customer,
    designing,
    designsettings,
    exchanging,
    firm,
    forming,
    jobs,
    levels_pages,
    oddsmap,
    owner,
    people,
    pumping,
    registers,
    rigpage,
    season,
    signin,
    supply,
    testing_pages,
    testplan_pages,
    trackrecord,
    waterpages,
    working,
)
from borewright.web.acts import Desk
from borewright.web.demorun import DemoRun
from borewright.web.guard import Access, Guard, NotAllowed
from borewright.web.present import STATIC, page

__all__ = ["create_app"]


def create_app(book: Any, settings_folder: Path | str, *, access: Access | None = None) -> FastAPI:
    """Return the web app over a job book.

    Parameters
    ----------
    book : JobBook
        Open; the caller closes it.
    settings_folder : path
        Where settings, rate cards and registers are kept.
    access : Access, optional
        Who may reach it; by default this machine only, with nobody to sign in.
    """
    app = FastAPI(title="Borewright", version=__version__, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json")
    folder = Path(settings_folder)
    app.state.desk = Desk(book, folder)
    app.state.access = access or Access()
    app.state.accounts = Accounts(book.engine)
    app.state.demo = DemoRun()
    app.state.told: dict[str, str] = {}  # what a use-case refused, to be shown once on the job's page
    for room in (levels_pages, testplan_pages, testing_pages, api, designing, designsettings, pumping, supply, waterpages, customer, cards, owner, board, exchanging, forming, jobs, benchpages, oddsmap, trackrecord, columnmap, registers, season, firm, people, rigpage, signin, working):
        app.include_router(room.router)
    app.mount("/static/fonts", StaticFiles(directory=font_folder()), name="fonts")
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_middleware(Guard, access=app.state.access, accounts=app.state.accounts)
    written = app.openapi
    app.openapi = lambda: api.describe_bench(written())  # type: ignore[method-assign]
    app.add_exception_handler(BorewrightError, _told)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _http)
    return app


_STATUS = ((NotAllowed, 403), (BadInput, 422), (NotFound, 404), (Conflict, 409), (Refused, 422))


def _told(request: Request, error: Exception) -> Response:
    status = next((code for kind, code in _STATUS if isinstance(error, kind)), 500)
    if isinstance(error, BadInput):
        body = error.as_dict()
    else:
        body = {"field": None, "value": None, "problem": str(error).strip("'\""), "want": None}
    return _answer(request, status, body)


def _not_valid(request: Request, error: Exception) -> Response:
    first = error.errors()[0]  # type: ignore[attr-defined]
    value = first.get("input")
    value = value if isinstance(value, (str, int, float, bool, type(None))) else str(value)[:80]
    where = ".".join(str(p) for p in first["loc"] if p not in ("body", "query", "path")) or "body"
    return _answer(request, 422, {"field": where, "value": value, "problem": str(first["msg"]).lower(), "want": "what /api/openapi.json says"})


def _http(request: Request, error: Exception) -> Response:
    status = error.status_code  # type: ignore[attr-defined]
    problem = "There is no such page." if status == 404 else str(error.detail)  # type: ignore[attr-defined]
    return _answer(request, status, {"field": "path", "value": request.url.path, "problem": problem, "want": None})


def _answer(request: Request, status: int, body: dict[str, Any]) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": body}, status_code=status)
    return page(request, "trouble.html", status=status, error=body)
