"""One page for the owner of a bore: what was built, what the years say, who serviced it; and the same page as a file to send."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, NotFound
from borewright.quantities import show
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import posted_with_files
from borewright.web.jobs import Posted, job_id
from borewright.web.present import STATIC, desk_of, page, zone_of
from borewright.web.section import job_section
from borewright.work.yearwords import energy_words, intake_words, step_words, trend_words

__all__ = ["owner_view", "router"]

router = APIRouter(include_in_schema=False)

READING = Form("reading", "Write down a reading", "Write down", (
    Field("date", "Day", "date", help="Empty: today"), Field("hole", "Hole number", "whole", default="1"),
    Field("static_level", "Water at rest, below ground", "level", help="Pump off since the evening before", example="6.2 m"),
    Field("pumping_level", "Water while pumping, below ground", "level", example="14.8 m"), Field("flow", "Flow", "flow", example="25 L/min"),
    Field("conductivity", "Conductivity at 25 °C", "conductivity", example="640 uS/cm"),
    Field("electricity_meter", "Electricity meter stands at", "energy", help="Of the pump alone", example="4120 kWh"),
    Field("water_meter", "Water meter stands at", "volume", help="Both meters twice give the electricity for each volume", example="6510 kL"),
    Field("electric_power", "Or power while it pumps", "power", help="With the flow of the same day", example="1.1 kW"), Field("note", "Note", "long"),
))
SERVICE = Form("service", "Write down a service", "Write down", (
    Field("date", "Day", "date", help="Empty: today"), Field("hole", "Hole number", "whole", default="1"),
    Field("what", "What was done", "long", True, example="pump lifted, impellers renewed"), Field("by", "Who did it"),
), caution="Electrical work on pumps is for a licensed electrician. Isolate and lock before the headworks are opened.")
FORMS = {form.key: form for form in (READING, SERVICE)}
CHART = {"width": 360.0, "height": 210.0}  # as wide as a phone, so that its words can be read there


def _when(day: date) -> float:
    return day.year + (day - date(day.year, 1, 1)).days / 365.25


def _figure(series: Any, limit: float | None, system: str) -> Markup:
    from borewright.drawing.years import years_chart

    pumping = series.name.startswith("Water while")
    return Markup(years_chart(
        [_when(d) for d in series.days], series.values, name=series.name, kind=series.kind, line=series.line, down=series.kind == "level",
        limit=limit if pumping else None, limit_name="keep above", units=system, **CHART,
    ))


def owner_view(job: Any, settings: Any, *, now: date | None = None) -> dict[str, Any]:
    """Return what the owner's page shows. Raises NotFound where nothing was drilled."""
    from borewright.work.owner import history

    system, hole = settings.unit_system, job.hole
    today = now or datetime.now(UTC).astimezone().date()
    told = history(job, now=today)
    if told is None:
        raise NotFound("Nothing has been drilled on this job yet, so there is no bore to show.")
    return {
        "hole": hole, "section": Markup(_standing(job_section(job, width=360.0, height=560.0, units=system))), "today": today, "intake": told.intake,
        "intake_words": intake_words(told.intake, system), "energy_words": energy_words(told.energy, system), "services": told.services, "water": hole.analyses[-1].body if hole.analyses else None,
        "series": [{"s": s, "words": trend_words(s, system), "step": step_words(s, system), "doubts": (*(s.trend.advisories if s.trend else ()), *s.advisories), "figure": _figure(s, told.intake.limit, system) if len(s.days) > 1 else "",
                    "rows": [(d.isoformat(), show(v, s.kind, system=system, digits=4)) for d, v in reversed(list(zip(s.days, s.values, strict=True)))]} for s in told.series],
    }


def _standing(svg: str) -> str:
    """Return a drawing without what only the job page's script can use."""
    return re.sub(r' data-(?:ground-y|scale|depth)="[^"]*"', "", svg)


def _shown(request: Request, job: Any, filled: Filled | None = None, status: int = 200, *, sheet: BadInput | None = None, pasted: str = "", loaded: str = "") -> Response:
    forms = [filled if filled is not None and filled.form.key == key else Filled(form, {"hole": str(job.hole.number) if job.hole else "1"}) for key, form in FORMS.items()]
    return page(request, "owner.html", status=status, job=job, v=owner_view(job, desk_of(request).settings), forms=forms, sheet=sheet, pasted=pasted, loaded=loaded)


@router.get("/jobs/{job}/owner")
def owner(request: Request, job: str) -> Response:
    """The page that the owner may see, with the forms of the driller below it."""
    done = request.query_params.get("read", "")
    loaded = f"{done} readings written down." if done.isdigit() else ""
    there = request.query_params.get("there", "")
    if loaded and there.isdigit() and there != "0":
        loaded += f" {there} stood in the book already."
    return _shown(request, desk_of(request).book.job(job_id(job)), loaded=loaded)


@router.get("/jobs/{job}/owner/file")
def as_file(request: Request, job: str) -> Response:
    """The same page as one HTML file: no script, nothing to fetch, readable without the program."""
    folded = desk_of(request).book.job(job_id(job))
    view = owner_view(folded, desk_of(request).settings)
    answer = page(request, "owner_file.html", job=folded, v=view, style=Markup((STATIC / "sent.css").read_text(encoding="utf-8")))
    name = re.sub(r"[^a-z0-9]+", "-", folded.title.lower()).strip("-")[:60] or "bore"
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}-{view["today"].isoformat()}.html"'
    return answer


def _write_reading(desk: Any, job: Any, values: dict[str, Any]) -> None:
    from borewright.work.owner import write_reading

    read = {k: values[k] for k in ("static_level", "pumping_level", "flow", "conductivity", "electricity_meter", "water_meter", "electric_power", "note", "typed") if k in values}
    write_reading(desk.book, job.id, by=desk.by, on=values.get("date", ""), hole=values.get("hole", 1), zone=zone_of(desk.settings.zone), **read)


def _write_service(desk: Any, job: Any, values: dict[str, Any]) -> None:
    from borewright.work.owner import write_service

    write_service(desk.book, job.id, by=desk.by, what=values["what"], on=values.get("date", ""), who=values.get("by", ""), hole=values.get("hole", 1), zone=zone_of(desk.settings.zone))


_WRITE: dict[str, Callable[[Any, Any, dict[str, Any]], None]] = {"reading": _write_reading, "service": _write_service}


@router.post("/jobs/{job}/owner/readings")
async def load(request: Request, job: str) -> Response:
    """Write down the readings of a CSV, loaded or pasted; a line that cannot be read stops the whole of it and says why."""
    trouble = None
    try:
        given, files = await posted_with_files(request)
    except BadInput as error:
        given, files, trouble = {}, {}, error
    return await run_in_threadpool(_load, request, job, given, files, trouble)


def _load(request: Request, job: str, given: dict[str, str], files: dict[str, str], trouble: BadInput | None) -> Response:
    from borewright.work.readings import load_readings

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    text = files.get("sheet_file", "").strip() or given.get("sheet", "").strip()
    try:
        if trouble is not None:
            raise trouble
        written, there = load_readings(desk.book, folded.id, text, by=desk.by, hole=folded.hole.number if folded.hole else 1, zone=zone_of(desk.settings.zone))
    except BadInput as error:
        where = "" if error.field in ("readings", "heading", "sheet_file") else f"{error.field.replace('_', ' ')}: "
        return _shown(request, folded, status=422, sheet=BadInput("sheet", error.value, where + error.problem, error.want), pasted=text)
    return RedirectResponse(f"/jobs/{folded.id}/owner?read={written}&there={there}", status_code=303)


@router.post("/jobs/{job}/owner/{key}")
def write(request: Request, job: str, key: str, given: Posted) -> Response:
    """Write a reading or a service; what is wrong comes back beside its field."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    form = FORMS.get(key)
    if form is None:
        raise NotFound(f"The owner's page has no form named {key}.")
    values, wrong = form.read(given, desk.settings.unit_system)
    other = ""
    if not wrong:
        try:
            _WRITE[key](desk, folded, values)
            return RedirectResponse(f"/jobs/{folded.id}/owner", status_code=303)
        except BadInput as error:
            known = {f.name for f in form.fields}
            wrong, other = ({error.field: error}, "") if error.field in known else ({}, str(error))
    return _shown(request, folded, Filled(form, given, wrong, other, open=True), 422)
