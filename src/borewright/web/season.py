"""The season page: what to hold in reserve, how the odds told came true, which way of picking does well, and the pace learned."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from borewright.errors import BadInput
from borewright.web.background import background_of
from borewright.web.fields import Field, Filled, Form
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

FORM = Form("season", "The season", "Work it out", (
    Field("jobs", "Jobs in a season", "whole", True, "1 to 1000", default="30"),
    Field("correlation", "Luck that the jobs share", "number", True, "0: each its own; 1: one luck for all. 0.3 is our own choice", default="0.3"),
    Field("ruin", "Chance that the reserve runs out", "number", True, "A fraction", "0.05", default="0.05"),
))

def _task(desk: Any, jobs: int, correlation: float, ruin: float, today: date, tell: Callable[[float, str], None]) -> Any:
    from borewright.work.season import outlook

    tell(0.0, "the job books")
    folded = [desk.book.job(line.id) for line in desk.book.jobs()]
    return outlook(folded, season_jobs=jobs, correlation=correlation, ruin_allowed=ruin, today=today, progress=tell)


_FIELDS = {"jobs": "jobs", "correlation": "correlation", "ruin_allowed": "ruin"}


@router.get("/season")
def season(request: Request) -> Response:
    """The season with the inputs of the query; how far it is while it is being worked out."""
    desk = desk_of(request)
    given: Mapping[str, str] = {f.name: request.query_params.get(f.name, f.default) for f in FORM.fields}
    values, wrong = FORM.read(given, desk.settings.unit_system)
    if not wrong and not 0 < values["ruin"] < 1:
        wrong = {"ruin": BadInput("ruin", given["ruin"], "is not a chance to run a reserve on", "a fraction between 0 and 1, such as 0.05")}
    if wrong:
        return page(request, "season.html", status=422, filled=Filled(FORM, given, wrong), work=None, o=None)
    asked = (values["jobs"], values["correlation"], values["ruin"], datetime.now(UTC).astimezone().date())
    # An entry added to any job makes a new question.
    key = ("season", *asked, sum(line.entries for line in desk.book.jobs()))
    work = background_of(request).work(key, lambda tell: _task(desk, *asked, tell))
    if work.wrong is not None:
        wrong = {_FIELDS.get(work.wrong.field, "jobs"): work.wrong}
        return page(request, "season.html", status=422, filled=Filled(FORM, given, wrong), work=None, o=None)
    return page(request, "season.html", filled=Filled(FORM, given), work=work, o=work.answer, pace=_pace(work.answer) if work.answer else [])


def _pace(outlook: Any) -> list[dict[str, Any]]:
    """Return the rows of the pace table: prior and posterior median and the band of the next job [m/s]."""
    from math import exp

    return [{"drilling": b.drilling, "prior": exp(b.prior_mean), "posterior": exp(b.mean), "low": b.rate_quantile(0.1), "high": b.rate_quantile(0.9), "metres": b.metres, "jobs": b.jobs}
            for b in outlook.pace.penetration]
