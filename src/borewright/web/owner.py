"""One page for the owner of a bore: what was built, what the years say, who serviced it; and the same page as a file to send."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import BadInput, NotFound
from borewright.quantities import show
from borewright.web.fields import Field, Filled, Form
from borewright.web.jobs import Posted, job_id
from borewright.web.present import STATIC, desk_of, page, zone_of
from borewright.web.section import job_section

__all__ = ["intake_words", "owner_view", "router", "trend_words"]

router = APIRouter(include_in_schema=False)

READING = Form("reading", "Write down a reading", "Write down", (
    Field("date", "Day", "date", help="Empty: today"), Field("hole", "Hole number", "whole", default="1"),
    Field("static_level", "Water at rest, below ground", "level", help="Pump off since the evening before", example="6.2 m"),
    Field("pumping_level", "Water while pumping, below ground", "level", example="14.8 m"), Field("flow", "Flow", "flow", example="25 L/min"),
    Field("conductivity", "Conductivity at 25 °C", "conductivity", example="640 uS/cm"), Field("note", "Note", "long"),
))
SERVICE = Form("service", "Write down a service", "Write down", (
    Field("date", "Day", "date", help="Empty: today"), Field("hole", "Hole number", "whole", default="1"),
    Field("what", "What was done", "long", True, example="pump lifted, impellers renewed"), Field("by", "Who did it"),
), caution="Electrical work on pumps is for a licensed electrician. Isolate and lock before the headworks are opened.")
FORMS = {form.key: form for form in (READING, SERVICE)}
YEAR = 365.25 * 86400.0
CHART = {"width": 360.0, "height": 210.0}  # as wide as a phone, so that its words can be read there


def trend_words(series: Any, system: str) -> str:
    """Return in words what the trend of a series is worth."""
    found = series.trend
    if found is None:
        return f"{len(series.days)} day{'s' if len(series.days) != 1 else ''} read; a trend needs five."
    if found.slope == 0 and found.p_value == 1.0:
        return "No trend: every reading is the same."
    amount = lambda v: show(v * YEAR, series.kind, system=system, digits=2)
    deeper, shallower = ("falling", "rising") if series.kind == "level" else ("rising", "falling")
    if found.p_value <= 0.05:
        what = "The water is" if series.kind == "level" else "It is"
        low, high = sorted((abs(found.slope_low), abs(found.slope_high)))
        return (f"{what} {deeper if found.slope > 0 else shallower} by about {amount(abs(found.slope))} a year ({amount(low)} to {amount(high)}); "
                f"chance alone would show as much in {'fewer than 1' if found.p_value < 0.001 else f'{found.p_value * 1000:.0f}'} of 1000 such records.")
    return f"No trend that chance would not show ({found.p_value * 100:.0f} of 100 such records would); the true change lies between {amount(found.slope_low)} and {amount(found.slope_high)} a year."


def intake_words(intake: Any, system: str) -> str:
    """Return the warning about the intake, or why there is none yet."""
    if intake.limit is None:
        return ""
    level = lambda v: show(v, "depth", system=system, digits=3)
    bar = f"The pump must keep water over its intake: at the lowest the water may stand {level(intake.limit)} below ground while pumping."
    if intake.state == "reached":
        return f"{bar} It was read at {level(intake.last)}. Pump less and call the driller now: a pump that runs dry is lost."
    if intake.state == "near":
        when = "The line of the readings is there already." if not intake.earliest else (
            f"By the line of the readings it gets there in about {intake.likely / YEAR:.0f} years, at the earliest in {intake.earliest / YEAR:.1f}." if intake.likely else
            f"At the steep end of the doubt it gets there in {intake.earliest / YEAR:.1f} years.")
        return f"{bar} {when} Call the driller before the next dry season."
    if intake.state == "unknown":
        return f"{bar} {intake.lacking} more days of readings while pumping are needed before a forecast can be made."
    return f"{bar} The last reading left {level(intake.limit - intake.last)}, and the readings do not foresee its loss within ten years."


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
        "intake_words": intake_words(told.intake, system), "services": told.services,
        "series": [{"s": s, "words": trend_words(s, system), "step": _step_words(s, system), "doubts": s.trend.advisories if s.trend else (), "figure": _figure(s, told.intake.limit, system) if len(s.days) > 1 else "",
                    "rows": [(d.isoformat(), show(v, s.kind, system=system, digits=4)) for d, v in reversed(list(zip(s.days, s.values, strict=True)))]} for s in told.series],
    }


def _standing(svg: str) -> str:
    """Return a drawing without what only the job page's script can use."""
    return re.sub(r' data-(?:ground-y|scale|depth)="[^"]*"', "", svg)


def _step_words(series: Any, system: str) -> str:
    if series.step is None or series.trend is not None and series.trend.p_value <= 0.05:
        return ""  # a steady trend always looks like a step as well
    value = lambda v: show(v, series.kind, system=system, digits=3)
    return f"It seems to have changed at once after {series.days[series.step.after].isoformat()}: {value(series.step.before)} before, {value(series.step.since)} since."


def _shown(request: Request, job: Any, filled: Filled | None = None, status: int = 200) -> Response:
    forms = [filled if filled is not None and filled.form.key == key else Filled(form, {"hole": str(job.hole.number) if job.hole else "1"}) for key, form in FORMS.items()]
    return page(request, "owner.html", status=status, job=job, v=owner_view(job, desk_of(request).settings), forms=forms)


@router.get("/jobs/{job}/owner")
def owner(request: Request, job: str) -> Response:
    """The page that the owner may see, with the forms of the driller below it."""
    return _shown(request, desk_of(request).book.job(job_id(job)))


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

    read = {k: values[k] for k in ("static_level", "pumping_level", "flow", "conductivity", "note", "typed") if k in values}
    write_reading(desk.book, job.id, by=desk.by, on=values.get("date", ""), hole=values.get("hole", 1), zone=zone_of(desk.settings.zone), **read)


def _write_service(desk: Any, job: Any, values: dict[str, Any]) -> None:
    from borewright.work.owner import write_service

    write_service(desk.book, job.id, by=desk.by, what=values["what"], on=values.get("date", ""), who=values.get("by", ""), hole=values.get("hole", 1), zone=zone_of(desk.settings.zone))


_WRITE: dict[str, Callable[[Any, Any, dict[str, Any]], None]] = {"reading": _write_reading, "service": _write_service}


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
