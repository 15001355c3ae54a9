"""The board: which job stands at which stage, the season's metres and hours, its dry holes; as a page, a CSV table and a calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from borewright.errors import BadInput
from borewright.web.fields import Field, Filled, Form
from borewright.web.present import desk_of, page, zone_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

FORM = Form("board", "The season", "Show", (
    Field("since", "From", "date", True, "First day of the season", "2026-01-01"), Field("until", "To", "date", True, "Last day", "2026-12-31"),
))


def _days(request: Request) -> tuple[dict[str, str], date, date, dict[str, BadInput]]:
    """Return what was asked, the days of the season (this calendar year where nothing was asked), and what is wrong by field."""
    today = datetime.now(UTC).astimezone(zone_of(desk_of(request).settings.zone)).date()
    given = {"since": request.query_params.get("since") or f"{today.year}-01-01", "until": request.query_params.get("until") or f"{today.year}-12-31"}
    days, wrong = [], {}
    for name, text in given.items():
        try:
            days.append(date.fromisoformat(text.strip()))
        except ValueError:
            wrong[name] = BadInput(name, text, "is not a day", "year-month-day, such as 2026-03-02")
            days.append(today)
    if not wrong and days[1] < days[0]:
        wrong["until"] = BadInput("until", given["until"], "is before the season begins", f"{given['since']} or later")
    return given, days[0], days[1], wrong


def _board(request: Request, since: date, until: date) -> Any:
    from borewright.work.board import board

    desk = desk_of(request)
    return board([desk.book.job(line.id) for line in desk.book.jobs()], since=since, until=until, zone=zone_of(desk.settings.zone))


@router.get("/board")
def show(request: Request) -> Response:
    """The board."""
    given, since, until, wrong = _days(request)
    made = _board(request, since, until) if not wrong else None
    return page(request, "board.html", status=422 if wrong else 200, filled=Filled(FORM, given, wrong), board=made, given=given)


@router.get("/board.csv")
def as_csv(request: Request) -> Response:
    """The board as a table."""
    from borewright.work.board import board_csv

    _, since, until, wrong = _days(request)
    for error in wrong.values():
        raise error
    name = f"board-{since.isoformat()}-{until.isoformat()}.csv"
    return Response(board_csv(_board(request, since, until)), media_type="text/csv; charset=utf-8", headers={"Content-Disposition": f'attachment; filename="{name}"'})


@router.get("/board.ics")
def as_calendar(request: Request) -> Response:
    """Rig days, jobs to drill and quotes that run out, as a calendar."""
    from borewright.exchange import write_calendar

    book = desk_of(request).book
    data = write_calendar([book.job(line.id) for line in book.jobs()], made=datetime.now(UTC))
    return Response(data, media_type="text/calendar; charset=utf-8", headers={"Content-Disposition": 'attachment; filename="season.ics"'})
