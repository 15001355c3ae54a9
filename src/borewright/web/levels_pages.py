"""Loading a logger's or a hand-kept file into a test: the file first, then what its columns are and what sets it right, a look, and keeping it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, place_error, read_fields
from borewright.web.jobs import job_id, with_choices
from borewright.web.present import desk_of
from borewright.web.testing_pages import run_path

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
TIME_FORMS = ("date and time", "seconds since the start", "minutes since the start", "hours since the start")
SHAPES = ("depth to water", "drawdown", "height of water over the sensor", "pressure with air in it")
UNITS = ("m", "cm", "mm", "ft", "kPa", "mbar", "psi")

PARTS: tuple[tuple[str, tuple[Field, ...]], ...] = (
    ("What the columns are", (
        Field("run", "Test", "choice", True), Field("well", "Bore read", help="Empty for the pumped bore"), Field("radius", "Its distance from the pumped bore", "length", example="30 m"),
        Field("time_column", "Column of times", "choice", True), Field("clock_column", "Column of the time of day, if apart", "choice", help="Then the date format is of both, with a space between"), Field("value_column", "Column of levels", "choice", True),
        Field("time_form", "Times are", "choice", choices=TIME_FORMS, default="date and time"), Field("shape", "Levels are", "choice", choices=SHAPES, default="depth to water"),
        Field("unit", "Unit of the levels", "choice", choices=UNITS, default="m"),
        Field("decimal_mark", "Decimal mark", "choice", choices=("point", "comma"), help="Asked only where the file leaves it open, such as 1,234"),
    )),
    ("Dates, stated and not guessed", (
        Field("date_format", "Date format", help="%d day, %m month, %Y year (%y of two figures), %H hour (%I with %p for am and pm), %M minute, %S second, .%f its parts: 3/4 is two days. A spreadsheet's own dates are %Y-%m-%d %H:%M:%S", example="%d/%m/%Y %H:%M:%S"),
        Field("zone", "Time zone of the logger's clock", help="An offset for a clock without summer time, or a name", example="+10:00"),
        Field("started_at", "When the pump started", help="In that format and zone; when it stopped, for a recovery"),
        Field("static", "Level at rest", "level", help="In the file's own terms; the hour before the start where empty"),
        Field("until", "Only until, after the start", "time", example="24 h"),
    )),
    ("What sets it right", (
        Field("clock_set", "Clock was right at", help="In the same format"), Field("clock_read", "Clock compared at"), Field("clock_ahead", "Seconds ahead then", "number", help="Behind with a minus"),
        Field("dips", "Dips by hand", "long", help="One a line: moment; depth to water in metres", example="02/03/2026 09:15:00; 11.42"),
        Field("air_time_column", "Air pressure: column of times"), Field("air_clock_column", "Air pressure: column of the time of day", help="If apart from the day"), Field("air_value_column", "Air pressure: column of values"),
        Field("air_unit", "Air pressure: unit", "choice", choices=("kPa", "mbar", "psi", "m"), default="kPa"),
        Field("air_efficiency", "Barometric efficiency", "number", help="0 to 1; found from the rest before the start where empty"),
        Field("keep", "Readings to keep", "whole", help="Evenly in log time; the file itself is kept whole", default="400"),
    )),
)
FORM = Form("levels", "Load levels from a file", "Keep these levels", tuple(f for _, fields in PARTS for f in fields))
_DEEPER = {"read_at": "clock_read", "set_at": "clock_set", "ahead": "clock_ahead", "efficiency": "air_efficiency", "dip": "dips", "clock": "clock_set", "well": "radius"}


@router.get("/jobs/{job}/test/levels")
def ask(request: Request, job: str) -> Response:
    """The first step: the file and the test that it belongs to."""
    folded = desk_of(request).book.job(job_id(job))
    given = {f.name: f.default for f in FORM.fields if f.default} | {k: v for k, v in request.query_params.items() if k == "run"}
    return _show(request, folded, Filled(FORM, given), {})


def _show(request: Request, folded: Any, filled: Filled, files: Mapping[str, str], *, preview: Any = None, status: int = 200) -> Response:
    from borewright.work.loggers import columns_of

    desk = desk_of(request)
    hole = folded.hole
    columns, head, air_columns = [], [], []
    for name in ("file", "air"):
        if files.get(name):
            try:
                found, rows = columns_of(desk.book, files[name])
            except BorewrightError as error:
                filled.wrong = {**filled.wrong, name: error if isinstance(error, BadInput) else BadInput(name, files[name][:12], str(error), "the file again")}
                status, files = 422, {k: v for k, v in files.items() if k != name}
                continue
            columns, head, air_columns = (found, rows, air_columns) if name == "file" else (columns, head, found)
    form = with_choices(FORM, "run", tuple(hole.tests) if hole else ())
    for name in ("time_column", "clock_column", "value_column"):
        form = with_choices(form, name, tuple(columns))
    fields = {f.name: f for f in form.fields}
    return job_page(
        request, folded, "test_levels.html", "test", status=status, filled=Filled(form, filled.given, filled.wrong, filled.other), files=files, columns=columns, head=head, air_columns=air_columns,
        parts=[(title, [fields[f.name] for f in part]) for title, part in PARTS], preview=preview, figure=_figure(preview, desk.settings.unit_system), lacks=not (hole and hole.tests),
    )


def _figure(preview: Any, units: str) -> Markup:
    from borewright.drawing.charts import drawdown_chart

    if preview is None:
        return Markup("")
    return Markup(drawdown_chart([float(t) for t in preview.time], [float(s) for s in preview.drawdown], units=units, title="What would be kept", width=370.0, height=250.0))


@router.post("/jobs/{job}/test/levels/file")
async def post(request: Request, job: str) -> Response:
    """Take the file in, look at what the picks give, or keep it."""
    form = await request.form(max_fields=100, max_files=4)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    raw = {k: await v.read() for k, v in form.items() if not isinstance(v, str) and v.filename}
    return await run_in_threadpool(_post, request, job, given, raw)


def _post(request: Request, job: str, given: dict[str, str], raw: dict[str, bytes]) -> Response:
    from borewright.work.loggers import keep_levels, preview_levels

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    files = {name: given[f"{name}_kept"] for name in ("file", "air") if given.get(f"{name}_kept")}
    files |= {name: desk.book.attach(data) for name, data in raw.items() if name in ("file", "air") and data}
    filled = Filled(FORM, given)
    if "file" not in files:
        filled.wrong = {"file": BadInput("file", "", "is missing", "a CSV file or a spreadsheet")}
        return _show(request, folded, filled, files, status=422)
    if raw or given.get("step") == "read":
        return _show(request, folded, filled, files)
    values, wrong = read_fields(_named(folded, given), given, desk.settings.unit_system)
    if not wrong:
        try:
            picks = _picks(values, files)
            if given.get("step") == "keep":
                keep_levels(desk.book, folded.id, values["run"], files["file"], picks, by=desk.by, hole=folded.hole.number, well=values.get("well", ""), radius=values.get("radius"))
                return RedirectResponse(run_path(folded.id, values["run"]), status_code=303)
            return _show(request, folded, filled, files, preview=preview_levels(desk.book, files["file"], picks))
        except BadInput as error:
            name = place_error(error, (*FORM.fields, Field("file", "File"), Field("air", "Air pressure")), _DEEPER)
            wrong, filled.other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            filled.other = str(error).strip("'\"")
    filled.wrong = wrong
    return _show(request, folded, filled, files, status=422)


def _named(folded: Any, given: Mapping[str, str]) -> Form:
    """Return the form whose choices of column are those named: whether the file has them is for the reading to say."""
    form = with_choices(FORM, "run", tuple(folded.hole.tests) if folded.hole else ())
    for name in ("time_column", "clock_column", "value_column"):
        form = with_choices(form, name, (given.get(name, ""),) if given.get(name) else ())
    return form


def _picks(values: Mapping[str, Any], files: Mapping[str, str]) -> Any:
    from borewright.work.loggers import Picks, dips_from

    clock = [values.get(k) for k in ("clock_set", "clock_read", "clock_ahead")]
    if any(v is not None for v in clock):
        missing = next((k for k, v in zip(("clock_set", "clock_read", "clock_ahead"), clock, strict=True) if v is None), None)
        if missing:
            raise BadInput(missing, "", "is missing beside the rest of the clock's drift", "when it was set right, when compared, and seconds ahead then")
    same = {k: values[k] for k in ("time_column", "clock_column", "decimal_mark", "value_column", "time_form", "date_format", "zone", "unit", "shape", "started_at", "static", "until", "keep", "air_time_column",
                                   "air_clock_column", "air_value_column", "air_unit", "air_efficiency") if k in values}
    if files.get("air") and not values.get("air_value_column"):
        raise BadInput("air_value_column", "", "is missing", "the column of the air pressure file that holds the pressure")
    return Picks(**same, clock=tuple(clock) if clock[0] is not None else None, dips=dips_from(values.get("dips", "").splitlines()), air=files.get("air", ""))
