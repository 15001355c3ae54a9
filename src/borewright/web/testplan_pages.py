"""Before a test and after it: the plan with its field sheet, the rating with what it was asked, and what pumping does to neighbours and streams."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import BadInput, BorewrightError
from borewright.quantities import show
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, place_error, read_fields
from borewright.web.jobs import Posted, job_id
from borewright.web.present import desk_of
from borewright.work.effects import TIMES

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
PLAN = Form("plan", "Plan a test", "Work out and write down", (
    Field("flow", "Flow pumped or lifted before", "flow", help="From the air-lift where it was measured", example="20 L/min"),
    Field("drawdown_then", "Drawdown that it made", "length", help="Not dipped: two thirds of the water above the bottom is taken", example="12 m"),
    Field("available", "From the level at rest to the guard", "length", help="A metre above the slots"), Field("need", "Flow wanted", "flow"), Field("static_level", "Level at rest", "level"),
    Field("bore_radius", "Radius of the hole", "length", example="82 mm"), Field("casing_radius", "Inside radius of the casing", "length", example="58 mm"),
    Field("storativity", "Storativity, a guess", "number", default="0.0005"), Field("boundary_distance", "An edge or stream that the test should reach", "length", example="150 m"),
    Field("step_length", "Length of a step", "time", default="1 h"),
))
RATE = Form("rating", "Rate it again", "Work out and write down", (
    Field("dry_season_fall", "Fall of the level in a dry season", "length", help="A tenth of the room, give or take half, where empty", example="3 m"),
    Field("hours_per_day", "Hours pumped in a day", "number", default="24"), Field("guard_depth", "Level never to go below", "depth", help="From the slots where empty"),
    Field("neighbours", "Bores that pump meanwhile", "rows", help="One a line: name, distance in metres, mean flow in L/s", example="Lot 9, 400, 0.2", columns=("name", "distance:length", "rate:number")),
))
EFFECTS = Form("neighbours", "What pumping does elsewhere", "Work out", (
    Field("rate", "Mean flow pumped", "flow", help="The rated flow where empty"), Field("transmissivity", "Transmissivity", "number", help="m²/d; from the fit where empty"),
    Field("storativity", "Storativity", "number", help="From the fit of another bore where there is one, else 0.0005: a guess that moves the answer"),
    Field("neighbours", "Bores nearby", "rows", help="One a line: name, distance in metres", example="Lot 9, 400", columns=("name", "distance:length")),
    Field("allowed", "Drawdown that they can bear", "length", example="2 m"), Field("stream_distance", "Distance of a stream", "length", example="600 m"),
    Field("pumped_for", "Pumped in a year, if not all of it", "time", help="Then at rest until the year is out", example="120 d"),
))
_KINDS = {"flow": "flow", "need": "flow", "drawdown_then": "length", "available": "length", "static_level": "level", "bore_radius": "length", "casing_radius": "length"}


@router.get("/jobs/{job}/test/plan")
def ask_plan(request: Request, job: str) -> Response:
    """The plan as it was told last, and the form with what the job knows."""
    from borewright.work.planning import plan_inputs

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    given = {f.name: f.default for f in PLAN.fields if f.default}
    if folded.hole is not None:
        system = desk.settings.unit_system
        given |= {k: show(v, _KINDS[k], system=system, digits=4) for k, v in plan_inputs(folded, folded.hole).items()}
        if folded.hole.planned:
            given |= (folded.hole.planned.body.inputs.get("typed") or {})
    return _show_plan(request, folded, Filled(PLAN, given))


def _show_plan(request: Request, folded: Any, filled: Filled, status: int = 200) -> Response:
    planned = folded.hole.planned if folded.hole else None
    lacks = "" if folded.hole else "No hole is logged yet: a test is planned on a bore that is there. Start the hole on the rig page."
    return job_page(request, folded, "test_plan.html", "test", status=status, filled=filled, planned=planned, plan=planned.body.plan if planned else None, lacks=lacks)


@router.post("/jobs/{job}/test/plan")
def make_plan(request: Request, job: str, given: Posted) -> Response:
    """Plan the test and write it down."""
    from borewright.work.planning import keep_plan

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    values, wrong = read_fields(PLAN, given, desk.settings.unit_system)
    filled = Filled(PLAN, given, wrong)
    if not wrong:
        try:
            typed = {k: v for k, v in given.items() if k in {f.name for f in PLAN.fields} and v.strip()}
            keep_plan(desk.book, folded.id, values, by=desk.by, typed=typed)
            return RedirectResponse(f"/jobs/{folded.id}/test/plan", status_code=303)
        except BadInput as error:
            name = place_error(error, PLAN.fields, {})
            filled.wrong, filled.other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            filled.other = str(error).strip("'\"")
    return _show_plan(request, folded, filled, 422)


@router.get("/jobs/{job}/test/rating")
def ask_rating(request: Request, job: str) -> Response:
    """The rating as it was told last: flow against time, levels against flow, rules of thumb, and the form to ask again."""
    folded = desk_of(request).book.job(job_id(job))
    rated = folded.hole.rated if folded.hole else None
    asked = (rated.body.rating.get("asked") or {}) if rated else {}
    system = desk_of(request).settings.unit_system
    given = {f.name: f.default for f in RATE.fields if f.default}
    if "hours_per_day" in asked:
        given["hours_per_day"] = f"{asked['hours_per_day']:g}"
    if "dry_season_fall" in asked:
        given["dry_season_fall"] = show(asked["dry_season_fall"], "length", system=system, digits=4)
    if "neighbours" in asked:
        given["neighbours"] = "\n".join(f"{n['name']}, {n['distance']:g}, {n['rate'] * 1000:g}" for n in asked["neighbours"])
    return _show_rating(request, folded, Filled(RATE, given))


def _show_rating(request: Request, folded: Any, filled: Filled, status: int = 200) -> Response:
    from borewright.drawing.testcharts import yield_chart
    from borewright.web.figures import rating_figure

    units = desk_of(request).settings.unit_system
    rated = folded.hole.rated if folded.hole else None
    rating = rated.body.rating if rated else {}
    curve = rating.get("curve") or {}
    figure = Markup("")
    if len(curve.get("time_s") or ()) > 1:
        figure = Markup(yield_chart(curve["time_s"], curve["flow"], low=curve.get("low", ()), middle=curve.get("middle", ()), high=curve.get("high", ()), tested=rating.get("flow"), width=370.0, height=250.0, units=units))
    return job_page(request, folded, "test_rating.html", "test", status=status, filled=filled, rated=rated, r=rating, figure=figure, levels=rating_figure(rating, units=units) if rating else "", rows=_levels_at(rating))


def _levels_at(rating: Mapping[str, Any]) -> list[tuple[str, list[tuple[str, float]]]]:
    """Return the pumping level at the rated flow for each moment that the rating holds, with its band."""
    flow = rating.get("flow")
    found = []
    for name, held in (rating.get("levels") or {}).items():
        flows = held.get("flow") or ()
        if flow is None or len(flows) < 2:
            continue
        right = next((i for i, q in enumerate(flows) if q >= flow), len(flows) - 1) or 1
        share = (flow - flows[right - 1]) / (flows[right] - flows[right - 1])
        found.append((name, [(part, held[part][right - 1] + share * (held[part][right] - held[part][right - 1])) for part in ("shallow", "depth", "deep")]))
    return found


@router.post("/jobs/{job}/test/rating")
def rate_again(request: Request, job: str, given: Posted) -> Response:
    """Rate the bore under what was asked and write it down."""
    from borewright.hydraulics import Neighbour
    from borewright.work.testing import rate_job

    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    values, wrong = read_fields(RATE, given, desk.settings.unit_system)
    filled = Filled(RATE, given, wrong)
    if not wrong:
        try:
            near = tuple(Neighbour(row["distance"], row["rate"] / 1000.0, row["name"]) for row in values.pop("neighbours", ()))
            rate_job(desk.book, folded.id, by=desk.by, neighbours=near, **values)
            return RedirectResponse(f"/jobs/{folded.id}/test/rating", status_code=303)
        except BadInput as error:
            name = place_error(error, RATE.fields, {"distance": "neighbours", "rate": "neighbours"})
            filled.wrong, filled.other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            filled.other = str(error).strip("'\"")
    return _show_rating(request, folded, filled, 422)


@router.get("/jobs/{job}/test/neighbours")
def effects(request: Request, job: str) -> Response:
    """What pumping does to bores nearby and to a stream; worked out from the address alone, and kept nowhere."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    given = {f.name: f.default for f in EFFECTS.fields if f.default} | dict(request.query_params)
    filled = Filled(EFFECTS, given)
    answer: dict[str, Any] | None = None
    if request.query_params:
        values, filled.wrong = read_fields(EFFECTS, given, desk.settings.unit_system)
        if not filled.wrong:
            try:
                from borewright.work.effects import effects_of

                answer = effects_of(folded, values, TIMES)
            except BadInput as error:
                name = place_error(error, EFFECTS.fields, {"distance": "neighbours", "stream": "stream_distance"})
                filled.wrong, filled.other = ({name: error}, "") if name else ({}, str(error))
            except BorewrightError as error:
                filled.other = str(error).strip("'\"")
    return job_page(request, folded, "test_effects.html", "test", status=422 if filled.wrong or filled.other else 200, filled=filled, answer=answer, times=TIMES)
