"""Is this bore enough, and what the sun lifts: two pages of the pump stage, each kept in the job as it was told."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import BadInput, BorewrightError
from borewright.pumping import demand_items
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, place_error, read_fields
from borewright.web.jobs import Posted, job_id
from borewright.web.present import desk_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
SIZE = {"width": 380.0, "height": 260.0}  # as wide as a phone, so that its words can be read there
_UNITS = {"kWh/m2 a day": 3.6e6, "MJ/m2 a day": 1e6}


def _slug(name: str) -> str:
    return "n_" + re.sub(r"\W+", "_", name)


ITEMS = {_slug(name): item for name, item in demand_items().items()}
COUNTS = tuple(Field(key, item.name[:1].upper() + item.name[1:], "number", help=f"{item.low * 1000:,.0f} to {item.high * 1000:,.0f} L a day each") for key, item in ITEMS.items())
SPELL = (
    Field("extra", "Other use a day", "volume", example="200 L"),
    Field("dry_days", "Dry spell, days", "whole", default="90"), Field("outage_days", "Days in it without a pump", "whole", default="3"),
    Field("pumping_hours", "Hours the pump may run in a day", "number", default="18"), Field("dry_yield", "Of the rated yield there is left in it", "fraction", default="100 %"),
    Field("tank", "Tank that stands there", "volume", help="Tried day by day", example="22000 L"),
)
DEMAND = Form("demand", "Water wanted", "Work out and write down", COUNTS + SPELL)
ON_PLANE, ON_FLAT = "on the plane of the panels", "on the flat (horizontal)"
SUN = Form("sun", "Sun", "Work out and write down", (
    Field("of", "The table is of the sun", "choice", help="A weather service gives it on the flat", choices=(ON_PLANE, ON_FLAT), default=ON_FLAT),
    Field("tilt", "Panels' tilt from flat, degrees", "angle", help="With a table of the flat; near the latitude serves the whole year", example="35"),
    Field("azimuth", "Bearing they face, degrees from true north", "angle", help="The equator where empty: 0 in the south, 180 in the north"),
    Field("reflectance", "Sent back by the ground", "fraction", help="20 % bare or grass, 70 % snow", default="20 %"),
    Field("latitude", "Latitude, degrees", "angle", help="Of the bore's place where empty; south below nought"),
    *(Field(f"m_{n}", name, "number") for n, name in enumerate(MONTHS, 1)),
    Field("table", "Or all twelve pasted", "long", help="January first, commas, spaces or lines between; names of months are passed over"),
    Field("unit", "Unit", "choice", choices=tuple(_UNITS), default="kWh/m2 a day"),
    Field("panel_power", "Panels' rated power", "power", help="The least that serves where empty", example="1.2 kW"),
    Field("demand", "Wanted in a day", "volume", help="That of the job where empty", example="4000 L"),
    Field("cloudy_days", "Days without sun for the tank to carry", "whole", default="3"),
    Field("losses", "Lost to heat, dust and wire", "fraction", default="20 %"),
))
SUN_PARTS = (("How the panels stand", SUN.fields[:5]), ("Sun on a mean day of each month", SUN.fields[5:19]), ("Panels and tank", SUN.fields[19:]))


@router.get("/jobs/{job}/pump/demand")
def ask_demand(request: Request, job: str) -> Response:
    """What is wanted in a day, by the dated table; starts with what stands in the book."""
    folded = desk_of(request).book.job(job_id(job))
    given = {f.name: f.default for f in DEMAND.fields if f.default}
    if folded.demand is not None:
        body = folded.demand.body
        given |= {_slug(name): f"{count:g}" for name, count in body.numbers.items()}
        given |= {"dry_days": str(body.dry_days), "outage_days": str(body.outage_days), "pumping_hours": f"{body.pumping_time / 3600:g}", "dry_yield": f"{100 * body.dry_yield:g} %"}
        given |= {k: f"{1000 * v:g} L" for k, v in (("extra", body.extra), ("tank", body.tank)) if v}
    elif folded.need is not None and folded.need.body.people:
        given[_slug("person, all household use")] = str(folded.need.body.people)
    return _show_demand(request, folded, Filled(DEMAND, given))


def _show_demand(request: Request, folded: Any, filled: Filled, status: int = 200) -> Response:
    from borewright.drawing.supply import tank_chart

    answer = folded.demand.body.answer if folded.demand is not None else {}
    figure = Markup("")
    if answer.get("stored"):
        figure = Markup(tank_chart(answer["stored"], tried=(answer.get("tried") or {}).get("stored", ()), units=desk_of(request).settings.unit_system, **SIZE))
    return job_page(request, folded, "pump_demand.html", "pump", status=status, filled=filled, counts=COUNTS, spell=SPELL, answer=answer, figure=figure)


@router.post("/jobs/{job}/pump/demand")
def post_demand(request: Request, job: str, given: Posted) -> Response:
    """Work it out and write it down, or show the form again with what is wrong beside its field."""
    from borewright.work.supply import tell_demand

    desk, which = desk_of(request), job_id(job)
    folded = desk.book.job(which)
    values, wrong = read_fields(DEMAND, given, desk.settings.unit_system)
    other = ""
    for key in ITEMS:
        if values.get(key, 0) < 0:
            wrong[key] = BadInput(key, given[key], "is below nought", "nought or more")
    if not wrong:
        numbers = {item.name: values[key] for key, item in ITEMS.items() if key in values}
        try:
            tell_demand(desk.book, which, numbers, by=desk.by, **{f.name: values[f.name] for f in SPELL if f.name in values})
            return RedirectResponse(f"/jobs/{which}/pump/demand", status_code=303)
        except BadInput as error:
            name = place_error(error, DEMAND.fields, {"days": "dry_days", "outage": "outage_days", **{item.name.replace(" ", "_"): key for key, item in ITEMS.items()}})
            wrong, other = ({name: error}, "") if name else ({}, f"{error.problem[:1].upper()}{error.problem[1:]}. Want {error.want}." if error.field != "numbers" else "Nothing is asked for: put a number beside what the water is for.")
        except BorewrightError as error:
            other = str(error).strip("'\"")
    return _show_demand(request, folded, Filled(DEMAND, given, wrong, other), 422)


@router.get("/jobs/{job}/pump/sun")
def ask_sun(request: Request, job: str) -> Response:
    """The month's sun as a form; starts with what stands in the book."""
    folded = desk_of(request).book.job(job_id(job))
    given = {f.name: f.default for f in SUN.fields if f.default} | {"tilt": "", "of": ON_FLAT}
    sun = folded.hole.sun if folded.hole else None
    if sun is not None:
        flat = sun.body.horizontal
        given |= {f"m_{n}": f"{v / 3.6e6:.4g}" for n, v in enumerate(flat or sun.body.irradiation, 1)} | {"of": ON_FLAT if flat else ON_PLANE}
        if flat:
            given |= {"tilt": f"{sun.body.tilt:g}", "azimuth": f"{sun.body.azimuth:g}", "reflectance": f"{100 * sun.body.answer.get('reflectance', 0.2):g} %"}
        if sun.body.panel_power:
            given["panel_power"] = f"{sun.body.panel_power:g} W"
        given |= {"cloudy_days": str(sun.body.answer.get("cloudy_days", 3)), "losses": f"{100 * sun.body.answer.get('losses', 0.2):g} %"}
    return _show_sun(request, folded, Filled(SUN, given))


def _show_sun(request: Request, folded: Any, filled: Filled, status: int = 200) -> Response:
    from borewright.drawing.supply import month_chart

    sun = folded.hole.sun if folded.hole else None
    answer = sun.body.answer if sun else {}
    figure = Markup(month_chart(answer["daily"], wanted=answer.get("wanted"), units=desk_of(request).settings.unit_system, **SIZE)) if answer.get("daily") else Markup("")
    pump = folded.hole.pump if folded.hole else None
    lacks = "" if pump and pump.body.duty.get("pump") else "No pump is chosen by its curve yet: do that first, since the sun drives that pump."
    return job_page(request, folded, "pump_sun.html", "pump", status=status, filled=filled, answer=answer, sun=sun, figure=figure, lacks=lacks, months=MONTHS, parts=SUN_PARTS)


@router.post("/jobs/{job}/pump/sun")
def post_sun(request: Request, job: str, given: Posted) -> Response:
    """Work out what the panels lift and write it down, or show the form again."""
    from borewright.work.supply import tell_sun

    desk, which = desk_of(request), job_id(job)
    folded = desk.book.job(which)
    values, wrong = read_fields(SUN, given, desk.settings.unit_system)
    other = ""
    try:
        table = _irradiation(values, given)
    except BadInput as error:
        wrong.setdefault(error.field, error)
    flat = values.get("of") == ON_FLAT
    if flat and "tilt" not in values:
        wrong.setdefault("tilt", BadInput("tilt", "", "is missing beside a table of the flat", "degrees from flat, 0 to 90, or choose a table of the plane of the panels"))
    if not wrong:
        try:
            stand = {k: values[k] for k in ("tilt", "azimuth", "reflectance") if k in values} if flat else {}
            tell_sun(desk.book, which, table, by=desk.by, panel_power=values.get("panel_power"), demand=values.get("demand"), cloudy_days=values.get("cloudy_days", 3), losses=values.get("losses", 0.2),
                     latitude=values.get("latitude"), **stand)
            return RedirectResponse(f"/jobs/{which}/pump/sun", status_code=303)
        except BadInput as error:
            name = place_error(error, SUN.fields, {"irradiation": "table", "horizontal": "table"})
            wrong, other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            other = str(error).strip("'\"")
    return _show_sun(request, folded, Filled(SUN, given, wrong, other), 422)


def _irradiation(values: Mapping[str, Any], given: Mapping[str, str]) -> list[float]:
    """Return the twelve months in J/m2 a day, typed or pasted."""
    factor = _UNITS.get(values.get("unit", "kWh/m2 a day"), 3.6e6)
    want = f"0 to {45e6 / factor:.3g} {values.get('unit', 'kWh/m2 a day')}"
    typed = [n for n in range(1, 13) if given.get(f"m_{n}", "").strip()]
    pasted = given.get("table", "").strip()
    if pasted:
        # The months typed before stay in their boxes when a table is pasted over them: the table is the later word.
        parts = [p for p in re.split(r"[,;\s]+", re.sub(r"[A-Za-z/²]+2?", " ", pasted)) if p]
        numbers = []
        for part in parts:
            try:
                numbers.append(float(part))
            except ValueError:
                raise BadInput("table", part, "is not a number", "twelve numbers, January first") from None
        if len(numbers) != 12:
            raise BadInput("table", len(numbers), f"holds {len(numbers)} numbers", "twelve numbers, January first")
        table = {"table": numbers}
    else:
        if len(typed) != 12:
            missing = next(n for n in range(1, 13) if n not in typed)
            raise BadInput(f"m_{missing}", "", "is missing", want)
        table = {f"m_{n}": [values[f"m_{n}"]] if f"m_{n}" in values else [] for n in typed}
    for field, numbers in table.items():
        for number in numbers:
            if not 0 <= number * factor <= 45e6:
                raise BadInput(field, number, "is not a day's sun", want)
    return [number * factor for numbers in table.values() for number in numbers]
