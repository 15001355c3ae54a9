"""Turning what the program knows into pages: the template engine, its filters, and what every page is given."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from borewright.quantities import rounded, show
from borewright.web.acts import Desk
from borewright.web.clocks import clocks_of
from borewright.web.guard import NotAllowed
from borewright.web.testwords import figure_words, shown_derived, shown_parameters
from borewright.web.wording import KIND_TITLES, says

__all__ = ["STATIC", "TEMPLATES", "account_of", "allow", "desk_of", "history_rows", "name_of", "page", "zone_of"]

HERE = Path(__file__).resolve().parent
TEMPLATES, STATIC = HERE / "templates", HERE / "static"


def account_of(request: Request) -> Any:
    """Return who is signed in, or None where the app is open on this machine only and nobody has to."""
    return request.scope.get("account")


def name_of(request: Request) -> str:
    """Return the name of who is signed in, or nothing."""
    account = account_of(request)
    return account.name if account else ""


def allow(request: Request, what: str) -> None:
    """Raise NotAllowed where the role of who is signed in does not allow "read", "rig", "write" or "firm"."""
    account = account_of(request)
    if account is not None and not account.may(what):
        raise NotAllowed(account.role, what)


def desk_of(request: Request) -> Desk:
    """Return the desk that the app works at, writing in the name of who is signed in."""
    desk, name = request.app.state.desk, name_of(request)
    return replace(desk, by=name) if name else desk


@lru_cache(maxsize=64)
def zone_of(name: str) -> Any:
    """Return a time zone by its IANA name, UTC where there is none of that name."""
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        return UTC


def when(moment: datetime | None, zone: str = "UTC", seconds: bool = False) -> str:
    """Return a moment in a zone as a person reads it: 2 Mar 2026 08:15."""
    if moment is None:
        return "–"
    local = moment.astimezone(zone_of(zone))
    return f"{local.day} {local:%b %Y %H:%M:%S}" if seconds else f"{local.day} {local:%b %Y %H:%M}"


def money(minor: Any, currency: str) -> str:
    """Return an amount, rounded to the minor unit, with its currency."""
    from borewright.pricing import show_minor

    return show_minor(int(round(minor)), currency)


def in_100(chance: float) -> str:
    """Return a chance as so many in a hundred, never 0 or 100 unless it is."""
    if 0 < chance < 0.01:
        return "under 1 in 100"
    if 0.99 < chance < 1:
        return "over 99 in 100"
    return f"{round(100 * chance)} in 100"


_VERBS = ("is ", "are ", "does ", "must ", "has ", "holds ", "divides ", "lies ", "cannot ", "comes ", "was ")


def sentence(problem: str) -> str:
    """Return what is wrong as a sentence that stands below its field."""
    text = f"This {problem}" if problem.startswith(_VERBS) else problem[:1].upper() + problem[1:]
    return text if text.endswith(".") else text + "."


@lru_cache(maxsize=1)
def _engine() -> Environment:
    from borewright.papers.toldunits import in_firms_units

    engine = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=select_autoescape(("html", "svg"), default=True), undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )
    engine.filters["when"] = when
    engine.filters["money"] = money
    engine.filters["in_100"] = in_100
    engine.filters["sentence"] = sentence
    engine.filters["says"] = says
    engine.filters["told"] = in_firms_units
    engine.filters["show"] = show
    engine.filters["shown_parameters"] = shown_parameters
    engine.filters["shown_derived"] = shown_derived
    engine.filters["figure"] = figure_words
    engine.filters["amount"] = lambda value: rounded(value, 4)
    engine.globals["kind_titles"] = KIND_TITLES
    engine.globals["Markup"] = Markup
    return engine


_ROWS: dict[tuple[Any, ...], str] = {}  # an entry never changes, so its row is made once


def history_rows(desk: Desk, job: Any) -> Markup:
    """Return the rows of a job's history; a row is made anew only when its entry is struck out."""
    system, zone = desk.settings.unit_system, desk.settings.zone
    row = _engine().get_template("history_row.html")
    if len(_ROWS) > 50_000:
        _ROWS.clear()
    made = []
    clocks = clocks_of(desk.folder)
    for entry, striker in job.history:
        off = clocks.off(entry)
        key = (entry.id.int, striker.id.int if striker else 0, system, zone, off)
        if key not in _ROWS:
            _ROWS[key] = row.render(e=entry, striker=striker, system=system, zone=zone, off=off)
        made.append(_ROWS[key])
    return Markup("\n".join(made))


def page(request: Request, template: str, *, status: int = 200, **what: Any) -> HTMLResponse:
    """Return a page; every template is given the firm's settings, units and word for a bore."""
    settings = desk_of(request).settings
    html = _engine().get_template(template).render(
        settings=settings, system=settings.unit_system, word=settings.word, zone=settings.zone, path=request.url.path,
        signed=account_of(request), version=request.app.version, **what,
    )
    return HTMLResponse(html, status_code=status)
