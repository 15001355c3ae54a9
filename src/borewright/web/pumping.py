"""Choosing the pump on the desk: the driller's own curve, pipes and supply against the bore, and the result as it was told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError
from borewright.pumping import FITTINGS, PIPE_MATERIALS, STARTS
from borewright.web.acts import Desk
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, place_error, posted_with_files, read_fields
from borewright.web.jobs import job_id
from borewright.web.present import desk_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
POINTS = 7
_FITTINGS = "name and number, such as check valve 1, elbow 90 2"


def _pipe_fields(name: str, title: str, size: str) -> tuple[Field, ...]:
    return (
        Field(f"{name}_diameter", f"{title}: outside diameter", "diameter", help="Leave empty for polyethylene that keeps under 1.5 m/s", example=size),
        Field(f"{name}_material", f"{title}: material", "choice", choices=tuple(PIPE_MATERIALS), default="polyethylene"),
        Field(f"{name}_class", f"{title}: pressure class", "pressure", help="As printed: PN 16 is 1600 kPa", example="1600 kPa"),
        Field(f"{name}_wall", f"{title}: wall", "diameter", help="Plastic: from the class where empty", example="4.6 mm"),
        Field(f"{name}_length", f"{title}: length", "length", help="To the intake where empty" if name == "riser" else "The site's run of pipe where empty", example="42 m" if name == "riser" else "85 m"),
        Field(f"{name}_fittings", f"{title}: fittings", "word", help=_FITTINGS),
    )


PARTS: tuple[tuple[str, tuple[Field, ...]], ...] = (
    ("What it must do", (
        Field("delivery_pressure", "Pressure at the tank or tap", "pressure", example="250 kPa"),
        Field("tank_height", "Tank's inlet above ground", "level", help="The site's rise to the tank where empty", example="6 m"),
        Field("hours_a_day", "Hours it runs in a day", "number", example="8"),
        Field("further_fall", "Further fall in a drier season", "length", help="Beyond what the rating counts", example="3 m"),
    )),
    ("Riser", _pipe_fields("riser", "Riser", "50 mm")),
    ("Main to the tank", _pipe_fields("main", "Main", "50 mm")),
    ("Pump and motor in the bore", (
        Field("intake_depth", "Intake at", "depth", help="Worked out where empty", example="42 m"),
        Field("motor_diameter", "Motor's outside diameter", "diameter", default="96 mm"),
        Field("minimum_flow", "Least flow the maker allows", "flow", example="8 L/min"),
        Field("water_from_above", "Water enters above the pump", "yes"),
    )),
    ("Supply", (
        Field("voltage", "Voltage at the board", "voltage", default="230 V"),
        Field("phases", "Phases", "choice", choices=("1", "3"), default="1"),
        Field("start", "Start", "choice", choices=tuple(STARTS), default="direct on line"),
        Field("cable_length", "Cable from board to motor", "length", help="The riser and 15 m where empty", example="75 m"),
        Field("price", "Price of a kWh", "number", example="0.285"),
    )),
)
FORM = Form("choose", "Choose the pump", "Work out and write down", (Field("name", "Pump"), *(f for _, fields in PARTS for f in fields)))
_DEEPER = {
    "pump curve": "curve", "efficiency": "curve", "npsh_required": "curve", "pump": "curve", "flow": "curve", "head": "curve", "riser_outside_diameter": "riser_diameter", "riser_pressure_class": "riser_class",
    "riser": "riser_diameter", "main_outside_diameter": "main_diameter", "main_pressure_class": "main_class", "main": "main_diameter", "cable": "cable_length", "lift": "tank_height",
    "price_minor": "price", "bore_depth": "intake_depth", "wanted": "motor_diameter", "inside_diameter": "riser_diameter", "length": "riser_length", "shaft_power": "curve",
}


@router.get("/jobs/{job}/pump/choose")
def ask(request: Request, job: str) -> Response:
    """The form, with what the pump was last chosen by; what was worked out stands above it."""
    folded = desk_of(request).book.job(job_id(job))
    duty = folded.hole.pump.body.duty if folded.hole and folded.hole.pump else {}
    given = {f.name: f.default for f in FORM.fields if f.default} | {k: str(v) for k, v in (duty.get("inputs") or {}).items()}
    return _show(request, folded, Filled(FORM, given))


def _show(request: Request, folded: Any, filled: Filled, status: int = 200) -> Response:
    desk = desk_of(request)
    pump = folded.hole.pump if folded.hole else None
    duty = pump.body.duty if pump else {}
    lacks = "" if folded.hole and folded.hole.rated else "The bore is not rated yet: a pump is chosen against the pumping level that each flow brings. Rate it first (stage: test)."
    return job_page(
        request, folded, "pump_choose.html", "pump", status=status, filled=filled, parts=PARTS, pump=pump, duty=duty, points=range(1, POINTS + 1), fittings=", ".join(FITTINGS),
        figure=duty_figure(duty, desk.settings.unit_system), lacks=lacks,
    )


@router.post("/jobs/{job}/pump/choose")
async def choose(request: Request, job: str) -> Response:
    """Work the duty out and write it down; what is wrong comes back beside its field, an uploaded curve in the box where it can be mended."""
    return await run_in_threadpool(_choose, request, job, *await _taken(request))


async def _taken(request: Request) -> tuple[dict[str, str], dict[str, str], BadInput | None]:
    try:
        return *await posted_with_files(request), None
    except BadInput as error:
        return {}, {}, error


def _choose(request: Request, job: str, given: dict[str, str], files: dict[str, str], trouble: BadInput | None) -> Response:
    desk, which = desk_of(request), job_id(job)
    folded = desk.book.job(which)
    values, wrong = read_fields(FORM, given, desk.settings.unit_system)
    if trouble is not None:
        wrong["curve"] = trouble
    kept = dict(given)
    other = ""
    try:
        curve = _curve(given, files, desk.settings.unit_system)
        if curve:
            kept["curve"] = curve
    except BadInput as error:
        wrong["curve"] = error
    if not wrong:
        try:
            _write(desk, which, values, kept)
            return RedirectResponse(f"/jobs/{which}/pump/choose", status_code=303)
        except BadInput as error:
            name = place_error(error, FORM.fields, _DEEPER)
            if name == "curve" and " line " in error.field:
                error = BadInput("curve", error.value, f"{error.field.partition('curve ')[2]} {error.problem}", error.want)
            wrong, other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            other = str(error).strip("'\"")
    return _show(request, folded, Filled(FORM, kept, wrong, other), 422)


def _curve(given: Mapping[str, str], files: Mapping[str, str], system: str) -> str:
    """Return the one curve that was given, as text with headings; nothing where none was."""
    from borewright.quantities import parse, shown_unit

    rows = [tuple(given.get(f"{part}_{n}", "").strip() for part in ("flow", "head", "efficiency", "npsh")) for n in range(1, POINTS + 1)]
    typed = [row for row in rows if any(row)]
    pasted, loaded = given.get("curve", "").strip(), files.get("curve_file", "").strip()
    ways = [name for name, there in (("points typed", typed), ("points pasted", pasted and not loaded), ("a file", loaded)) if there]
    if len(ways) > 1:
        raise BadInput("curve", " and ".join(ways), "is given twice", "one of them: empty the other")
    if loaded or pasted:
        return loaded or pasted
    if not typed:
        return ""
    lines = []
    extra = [i for i in (2, 3) if any(row[i] for row in typed)]
    for number, row in enumerate(typed, 1):
        for part, text in (("flow", row[0]), ("head", row[1]), *(((("efficiency", "npsh")[i - 2]), row[i]) for i in extra)):
            if not text:
                raise BadInput("curve", "", f"lacks the {part} of point {number}", "a value in each column that is used")
        at = f"curve, point {number}"
        numbers = [parse(row[0], "flow", field=at, default_unit=shown_unit("flow", system)).si * 1000, parse(row[1], "length", field=at, default_unit=shown_unit("length", system)).si]
        numbers += [parse(row[2] if row[2].endswith("%") else f"{row[2]} %", "fraction", field=at).si] if 2 in extra else []
        numbers += [parse(row[3], "length", field=at, default_unit=shown_unit("length", system)).si] if 3 in extra else []
        lines.append(",".join(f"{n:.10g}" for n in numbers))
    return "\n".join([",".join(["flow_lps", "head_m", *(("efficiency", "npsh_m")[i - 2] for i in extra)]), *lines])


def _write(desk: Desk, job: Any, values: Mapping[str, Any], kept: Mapping[str, str]) -> None:
    from borewright.pricing.money import minor_digits
    from borewright.pumping import read_pump_curve
    from borewright.work.pump import choose as work_out

    name = values.get("name") or "pump of the curve given"
    typed = {k: v for k, v in kept.items() if v.strip() and not k.startswith(("flow_", "head_", "efficiency_", "npsh_"))}
    price = values.get("price")
    work_out(
        desk.book, job, by=desk.by, pump=read_pump_curve(kept["curve"], name=name) if kept.get("curve", "").strip() else None, minimum_flow=values.get("minimum_flow"),
        delivery_pressure=values.get("delivery_pressure", 0.0), tank_height=values.get("tank_height"), riser=_run("riser", values), main=_run("main", values),
        intake_depth=values.get("intake_depth"), motor_diameter=values.get("motor_diameter", 0.096), water_from_above=values.get("water_from_above", False),
        voltage=values.get("voltage", 230.0), phases=int(values.get("phases", "1")), cable_length=values.get("cable_length"),
        price_minor=None if price is None else price * 10 ** minor_digits(desk.card.currency), start=values.get("start", "direct on line"), further_fall=values.get("further_fall", 0.0),
        hours_a_day=values.get("hours_a_day"), typed=typed,
    )


def _run(name: str, values: Mapping[str, Any]) -> Any:
    """Return a run of pipe, or None where its size was left empty; raise BadInput for parts without a size."""
    from borewright.pumping import read_fittings
    from borewright.work.pump import PipeRun

    size = values.get(f"{name}_diameter")
    if size is None:
        spare = next((k for k in ("class", "wall", "length", "fittings") if f"{name}_{k}" in values), None)
        if spare:
            raise BadInput(f"{name}_diameter", "", f"is missing beside the {spare}", "the outside diameter of the pipe, such as 50 mm")
        return None
    try:
        fittings = read_fittings(values.get(f"{name}_fittings", ""))
    except BadInput as error:
        raise BadInput(f"{name}_fittings", error.value, error.problem, error.want) from None
    return PipeRun(name, values.get(f"{name}_material", "polyethylene"), size, values.get(f"{name}_class"), values.get(f"{name}_wall"), values.get(f"{name}_length"), fittings)


def duty_figure(duty: Mapping[str, Any], units: str) -> Markup:
    """Return the pump's curve against what bore and pipes ask at the start and the end of the bore's life, with where it runs."""
    from borewright.drawing.charts import pump_chart

    curves = dict(duty.get("curves") or {})
    pump = curves.pop("pump", None)
    if not pump:
        return Markup("")
    highest = 1.25 * max(pump["head"])
    # The book keeps named values by the alphabet; the list of moments keeps them by the years.
    names = [p["moment"] for p in duty.get("moments", ()) if p["moment"] in curves] or list(curves)
    shown = list(dict.fromkeys((names[0], names[-1])))
    moments = []
    for name in shown:
        pairs = [(q, h) for q, h in zip(curves[name]["flow"], curves[name]["head"], strict=True) if h <= highest]
        moments.append((name, [q for q, _ in pairs], [h for _, h in pairs]))
    met = [(p["flow"], p["head"]) for p in duty.get("moments", ()) if p["moment"] in shown]
    return Markup(pump_chart(pump["flow"], pump["head"], (), (), moments=moments, duties=met, width=380.0, height=280.0, units=units))
