"""A test on the desk: readings with their fit, slope and residuals, every solution beside the others, and the fit set by hand."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Annotated, Any
from urllib.parse import quote

import numpy as np
from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool

from borewright.errors import BadInput, BorewrightError, NotFound
from borewright.web.api import json_of
from borewright.web.background import Background, Work
from borewright.web.fields import Field, Filled, Form
from borewright.web.formparts import job_page, place_error, read_fields
from borewright.web.jobs import Posted, job_id
from borewright.web.partform import PART, part_of, part_query, part_text
from borewright.web.present import desk_of
from borewright.web.testwords import face, shown_parameters

__all__ = ["router", "run_path"]

router = APIRouter(include_in_schema=False)
RESERVED = ("plan", "levels", "rating", "neighbours", "run", "of")
SIZE = {"width": 370.0, "height": 250.0}  # small, so that its words can be read on a phone
NUDGES = {"deeper": "Curve deeper", "shallower": "Curve shallower", "later": "Curve later", "earlier": "Curve earlier"}
STORAGES = ("storativity", "storativity_times_half_length_squared_m2")  # what moves a curve in time, by the key of a result
STEP, SHIFT = 1.1, 10**0.1  # of a nudge, in drawdown and in time
PATIENCE = 0.7  # that a page waits for a first fit before it shows how far it is [s]
SLUG = Form("slug", "Read it with", "Work out and write down", (
    Field("casing_radius", "Radius where the level moves", "length", help="Half the inside diameter of the casing", example="58 mm"),
    Field("screen_radius", "Radius of the hole along the slots", "length", example="82 mm"), Field("screen_length", "Length of slots or open hole", "length", example="6 m"),
    Field("bottom_below_water", "Foot of the slots below the water", "length", help="For Bouwer & Rice", example="30 m"), Field("thickness", "Saturated thickness", "length", help="For Bouwer & Rice"),
    Field("initial", "Change of level at the start", "length", help="The first reading where empty"), Field("drainable", "Share of the pack that drains", "number", help="Where the level falls through a pack", example="0.3"),
))


def run_path(job: Any, run: str) -> str:
    """Return where a run's page stands; a name that another page has taken goes by a longer way."""
    way = "of/" if run.partition("/")[0] in RESERVED else ""
    return f"/jobs/{job}/test/{way}{quote(run)}"


@dataclass(slots=True)
class Ask:
    """What the page is asked to show: the solution, which runs, what is held, by the keys of a result, and how the bore is open to part of the aquifer."""

    solution: str = ""
    alone: bool = False
    robust: bool = False
    hold: dict[str, float] = field(default_factory=dict)
    part: dict[str, Any] = field(default_factory=dict)
    given: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, BadInput] = field(default_factory=dict)


def ask_of(given: Mapping[str, str], system: str, wells: tuple[str, ...]) -> Ask:
    """Return what was asked, with what cannot be read named by its field."""
    ask = Ask(given.get("solution", ""), given.get("alone") == "yes", given.get("robust") == "yes", given=dict(given))
    ask.part, ask.wrong = part_of(given, system, wells)
    for name, text in given.items():
        if name.startswith("hold_") and text.strip():
            try:
                value = float(text.replace(",", "."))
                if not (np.isfinite(value) and value > 0):
                    raise ValueError
                ask.hold[name.removeprefix("hold_")] = value
            except ValueError:
                ask.wrong[name] = BadInput(name, text, "is not a value to hold", "a number above zero, or nothing to leave it to the fit")
    return ask


_KEPT: dict[tuple[Any, ...], Any] = {}
_LOCK = threading.Lock()


def _key(hole: Any, run: str, alone: bool, robust: bool, part: Mapping[str, Any], solution: str = "", hold: Mapping[str, float] | None = None) -> tuple[Any, ...]:
    from borewright.work.runs import bore_radius_of, casing_radius_of, runs_together

    tests = [hole.tests[run]] if alone else runs_together(hole, run)
    return (tuple((t.run.entry.id, *(f.entry.id for f in t.levels)) for t in tests), bore_radius_of(hole), casing_radius_of(hole), alone, robust, part.get("part_open"), tuple(sorted(part.get("observed", {}).items())), solution, tuple(sorted((hold or {}).items())))


def _fit(hole: Any, run: str, *, alone: bool, robust: bool, part: Mapping[str, Any], solution: str = "", hold: Mapping[str, float] | None = None, intervals: bool = True, progress: Any = None) -> Any:
    """Return a fit, worked out once for the same entries: those of a run never change."""
    from borewright.work.joint import fit_together, si_holds

    key = (*_key(hole, run, alone, robust, part, solution, hold), intervals)
    with _LOCK:
        found = _KEPT.get(key)
    if found is None:
        held = si_holds(hold) if hold else None
        found = fit_together(hole, run, alone=alone, robust=robust, solutions=[solution] if solution else None, hold=held, intervals=intervals, progress=progress, **part)
        with _LOCK:
            if len(_KEPT) >= 64:
                _KEPT.pop(next(iter(_KEPT)))
            _KEPT[key] = found
    return found


def _first_fit(request: Request, hole: Any, run: str, ask: Ask) -> Work | None:
    """Return the first fit of a run while it is being worked out, or None once it is there. Raises BadInput for readings that cannot be fitted."""
    key = _key(hole, run, ask.alone, ask.robust, ask.part)
    with _LOCK:
        if (*key, True) in _KEPT and _settled_key(hole, run) in _SETTLED:
            return None
    state = request.app.state
    if not hasattr(state, "fitting"):
        state.fitting = Background()  # its own: a fit does not wait behind a season or a map

    def task(tell: Any) -> Any:
        tell(0.0, "A first look")
        with suppress(BorewrightError):
            _fit(hole, run, alone=ask.alone, robust=ask.robust, part=ask.part, solution="theis", intervals=False)
        found = _fit(hole, run, alone=ask.alone, robust=ask.robust, part=ask.part, progress=lambda title, done, of: tell(0.9 * done / of, f"{title}: {done} of {of} solutions done"))
        tell(0.9, "How the answer settled as the readings came in")
        _settled(hole, run)
        return found

    work = state.fitting.work(key, task, patience=PATIENCE)
    if not work.over.is_set():
        return work
    if work.wrong is not None:
        raise work.wrong
    if work.trouble:
        raise BorewrightError(work.trouble)
    return None


def _shown(hole: Any, run: str, ask: Ask) -> tuple[Any, Any, str]:
    """Return the fit of every solution, the fit that is drawn, and the solution drawn. Raises BadInput for what was asked."""
    every = _fit(hole, run, alone=ask.alone, robust=ask.robust, part=ask.part)
    names = [f.solution for f in every.fit.fits]
    drawn = ask.solution or every.fit.best
    if ask.part and drawn not in names and not ask.hold:
        drawn = every.fit.best  # few solutions take a bore open to part of the aquifer
    if drawn not in names:
        raise BadInput("solution", drawn, "was not fitted to this test", "one of " + ", ".join(names))
    if not ask.hold:
        return every, every, drawn
    keys = {k for row in _rows(every, drawn) if row["solution"] == drawn for k in row["parameters"]}
    strange = next((k for k in ask.hold if k not in keys), None)
    if strange:
        raise BadInput(f"hold_{strange}", ask.hold[strange], f"is not a parameter of {drawn}", "one of " + ", ".join(sorted(keys)))
    if drawn == "cooper-jacob":
        raise BadInput("solution", drawn, "is a straight line and holds no parameter", "Theis, which it is the late part of")
    return every, _fit(hole, run, alone=ask.alone, robust=ask.robust, part=ask.part, solution=drawn, hold=ask.hold), drawn


def _rows(together: Any, drawn: str) -> list[dict[str, Any]]:
    from borewright.hydraulics import fits_as_dict

    return fits_as_dict(together.fit)["fits"]


def nudged(parameters: Mapping[str, Mapping[str, float]], nudge: str, *, amount: float = 0.0, later: float = 0.0) -> dict[str, float]:
    """Return transmissivity and storage that move the curve by a nudge, or by `amount` times in drawdown and `later` times in time.

    Drawdown is a scale over T of a function of t T/S: deeper by g divides both by g; later by f multiplies S by f.
    """
    deeper, shift = {"deeper": (STEP, 1.0), "shallower": (1 / STEP, 1.0), "later": (1.0, SHIFT), "earlier": (1.0, 1 / SHIFT)}.get(nudge, (amount or 1.0, later or 1.0))
    storage = next((k for k in STORAGES if k in parameters), None)
    held = {"transmissivity_m2_per_d": parameters["transmissivity_m2_per_d"]["value"] / deeper}
    if storage:
        held[storage] = parameters[storage]["value"] / deeper * shift
    return held


def figures_of(together: Any, run: str, solution: str, units: str, *, recovery: bool) -> dict[str, Any]:
    """Return the drawings of a run: the readings with the curve, the residuals, the slope, the recovery where it is one, and each other bore."""
    from borewright.drawing import charts
    from borewright.drawing.testcharts import looks_chart, residual_chart
    from borewright.work.joint import looks_of

    made: dict[str, Any] = {"other": []}
    for number, place in enumerate(together.readings.wells[run]):
        held = looks_of(together, run, solution, place=number)
        if held is None:
            continue
        words, well = "Residual drawdown since the pump stopped" if recovery else "Drawdown while pumping", together.fit.levels[place].well
        svg = charts.drawdown_chart(
            held["time_s"], held["drawdown_m"], fit_time=held["curve_time_s"], fit_drawdown=held["curve_m"], fit_name=solution, title=words if number == 0 else f"{words}, {well}",
            clock="minutes since the pump stopped" if recovery else "minutes since pumping began", units=units, **SIZE)
        if number:
            made["other"].append((well, Markup(svg)))
            continue
        made["drawdown"] = Markup(svg)
        made["residuals"] = Markup(residual_chart(held["time_s"], held["residual_m"], units=units, width=SIZE["width"], height=190.0))
        if held["recovery"]:
            made["recovery"] = Markup(charts.recovery_chart(held["ratio"], held["drawdown_m"], fit_ratio=held["fit_ratio"], fit_residual=held["curve_m"], units=units, **SIZE))
        if held.get("slope_m"):
            made["derivative"] = Markup(looks_chart(held, units=units, **SIZE))
    return made


def _run_of(request: Request, job: str, run: str, hole: str) -> tuple[Any, Any, Any]:
    folded = desk_of(request).book.job(job_id(job))
    logged = folded.holes.get(int(hole)) if hole.isdigit() else folded.hole
    if logged is None or run not in logged.tests:
        raise NotFound("That test is not in this job.")
    return folded, logged, logged.tests[run]


def _show(request: Request, job: str, run: str, given: Mapping[str, str], *, status: int = 200, other: str = "") -> Response:
    from borewright.work.joint import kept_part
    from borewright.work.runs import wells_read

    folded, hole, test = _run_of(request, job, run, given.get("hole", ""))
    if test.run.body.type == "slug":
        return _show_slug(request, folded, hole, test, Filled(SLUG, {}, {}, other), status)
    kept = test.fitted.body.result if test.fitted else {}
    asked = {k: v for k, v in given.items() if k != "hole"}
    if not asked and kept.get("fits"):
        asked = {"solution": str(kept.get("best") or ""), **{f"hold_{k}": f"{v:.6g}" for k, v in (kept.get("held") or {}).items()}}
        asked |= ({"robust": "yes"} if kept.get("robust") else {}) | ({"alone": "yes"} if "together" not in kept else {}) | part_text(kept_part(kept))
    ask = ask_of(asked, desk_of(request).settings.unit_system, wells_read(hole, run))
    what: dict[str, Any] = {"part_fields": PART.fields, "part_tail": part_query(ask.given), "part_said": bool(ask.part), "rows": [], "figures": {}, "drawn": ask.solution, "leading": None, "held": ask.hold, "runs": (run,), "advisories": [], "sentence": "", "given": ask.given, "wrong": ask.wrong, "other": other}
    try:
        if ask.wrong:
            ask.hold = {}
        what["work"] = _first_fit(request, hole, run, ask)
        if what["work"] is not None:
            return _waiting(request, folded, hole, test, ask, what["work"])
        every, together, drawn = _shown(hole, run, ask)
        nudge = given.get("nudge", "")
        if nudge in NUDGES and drawn != "cooper-jacob":
            now = next(r for r in _rows(together, drawn) if r["solution"] == drawn)["parameters"]
            ask.hold = {**ask.hold, **nudged(now, nudge)}
            every, together, drawn = _shown(hole, run, ask)
        rows = _rows(every, drawn)
        leading = next(r for r in _rows(together, drawn) if r["solution"] == drawn)
        rows = [leading if r["solution"] == drawn else r for r in rows]
        what |= {
            "rows": rows, "drawn": drawn, "leading": leading, "held": ask.hold, "runs": together.runs, "best": every.fit.best, "confidence": every.fit.confidence, "sentence": every.fit.sentence if drawn == every.fit.best and not ask.hold else leading["sentence"],
            "advisories": _advisories(every), "figures": figures_of(together, run, drawn, desk_of(request).settings.unit_system, recovery=test.run.body.type == "recovery"),
            "given": ask.given | {"solution": drawn} | {f"hold_{k}": f"{v:.6g}" for k, v in ask.hold.items()},
        }
    except BadInput as error:
        name = place_error(error, tuple(Field(n, n) for n in ("solution", *(k for k in given if k.startswith("hold_")))) , {})
        if not name and error.field in {k.removeprefix("hold_").split("_m2")[0] for k in ask.given}:
            name = next(k for k in ask.given if k.startswith(f"hold_{error.field}"))
        what["wrong"], what["other"], status = ({name: error}, what["other"], 422) if name else ({}, str(error), 422 if given else status)
    except BorewrightError as error:
        what["other"] = str(error)
    what["fields"] = [Field(f"hold_{k}", face(k), "number") for k in (what["leading"]["parameters"] if what["leading"] else {})]
    return job_page(request, folded, "test_fit.html", "test", status=422 if what["wrong"] else status, hole=hole, test=test, run=run, at=run_path(folded.id, run), face=face, nudges=NUDGES, kept=kept, settled=_settled(hole, run),
                    settling=_settling_figure(hole, run, desk_of(request).settings.unit_system), steps=_steps(hole, test, desk_of(request).settings.unit_system), **what)


def _waiting(request: Request, folded: Any, hole: Any, test: Any, ask: Ask, work: Work) -> Response:
    """Return the page while every solution is being fitted: how far it is, and the readings with the plainest curve meanwhile."""
    run = test.run.body.run
    figure, told = Markup(""), None
    with _LOCK:
        first = _KEPT.get((*_key(hole, run, ask.alone, ask.robust, ask.part, "theis"), False))
    if first is not None:
        figure = figures_of(first, run, "theis", desk_of(request).settings.unit_system, recovery=test.run.body.type == "recovery").get("drawdown", "")
        told = _rows(first, "theis")[0]
    return job_page(request, folded, "test_wait.html", "test", hole=hole, test=test, run=run, work=work, figure=figure, told=told)


def _advisories(together: Any) -> list[dict[str, str]]:
    rows = [*together.fit.advisories, *together.advisories, *together.fit.leading.advisories]
    return [{"severity": a.severity, "message": a.message} for a in dict.fromkeys(rows)]


_SETTLED: dict[tuple[Any, ...], Any] = {}


def _settled_key(hole: Any, run: str) -> tuple[Any, ...]:
    test = hole.tests[run]
    return (test.run.entry.id, *(f.entry.id for f in test.levels))


def _settled(hole: Any, run: str) -> Any:
    """Return how the answer settled as the readings came in, worked out once for the same readings."""
    from borewright.work.planning import settling

    key = _settled_key(hole, run)
    if key not in _SETTLED:
        if len(_SETTLED) > 256:
            _SETTLED.clear()
        _SETTLED[key] = settling(hole, run)
    return _SETTLED[key]


def _settling_figure(hole: Any, run: str, units: str) -> Markup:
    from borewright.drawing.testcharts import settling_chart

    found = _settled(hole, run)
    return Markup(settling_chart(found.durations, found.estimates, width=SIZE["width"], height=190.0, units=units)) if found else Markup("")


def _step_figure(told: Mapping[str, Any], units: str) -> Markup:
    from borewright.drawing.testcharts import step_chart

    rows, curve = told["steps"], told["curve"]
    return Markup(step_chart([s["rate_m3_per_s"] for s in rows], [s["read_m"] for s in rows], curve_rate=curve["rate_m3_per_s"], curve=curve["drawdown_m"], aquifer=curve["aquifer_m"],
                             half=told["half_loss_flow_m3_per_s"], units=units, **SIZE))


def _steps(hole: Any, test: Any, units: str) -> dict[str, Any] | None:
    """Return the losses of a step run as they would be kept, or the reason why they cannot be told."""
    from borewright.hydraulics import steps_as_dict
    from borewright.work.steps import fit_step_test

    if test.run.body.type != "step":
        return None
    kept = test.fitted.body.result if test.fitted else {}
    try:
        exponent = None if kept.get("exponent_found") else 2.0
        told = steps_as_dict(fit_step_test(test, exponent=exponent))
        return told | {"sentence": kept.get("sentence", "") if kept.get("steps") else "", "figure": _step_figure(told, units)}
    except BorewrightError as error:
        return {"trouble": str(error)}


def _show_slug(request: Request, folded: Any, hole: Any, test: Any, filled: Filled, status: int = 200) -> Response:
    from borewright.quantities import show
    from borewright.work.slugs import slug_geometry

    system = desk_of(request).settings.unit_system
    result = test.fitted.body.result if test.fitted else {}
    if not filled.given:
        taken = {**slug_geometry(hole), **(result.get("geometry") or {})}
        filled.given = {k: f"{v:g}" if k == "drainable" else show(v, "length", system=system, digits=4) for k, v in taken.items()}
    return job_page(request, folded, "test_slug.html", "test", status=status, hole=hole, test=test, run=test.run.body.run, at=run_path(folded.id, test.run.body.run), filled=filled, result=result,
                    figure=_slug_figure(test, system))


def _slug_figure(test: Any, units: str) -> Markup:
    from borewright.drawing.charts import drawdown_chart

    pairs = sorted((t, s) for f in test.levels for t, s in zip(f.body.time, f.body.drawdown, strict=True) if t > 0)
    if len(pairs) < 2:
        return Markup("")
    return Markup(drawdown_chart([t for t, _ in pairs], [s for _, s in pairs], units=units, title="Change of level after the slug", **SIZE))


@router.get("/jobs/{job}/test/of/{run:path}")
def show_named(request: Request, job: str, run: str) -> Response:
    """A run whose name another page has taken."""
    return _show(request, job, run, dict(request.query_params))


@router.get("/jobs/{job}/test/{run:path}")
def show_run(request: Request, job: str, run: str) -> Response:
    """One run: its readings, its fits, and the fit set by hand."""
    return _show(request, job, run, dict(request.query_params))


@router.post("/jobs/{job}/test/of/{run:path}/keep")
def keep_named(request: Request, job: str, run: str, given: Posted) -> Response:
    """Keep the fit of a run whose name another page has taken."""
    return _keep(request, job, run, given)


@router.post("/jobs/{job}/test/{run:path}/keep")
def keep_run(request: Request, job: str, run: str, given: Posted) -> Response:
    """Keep the fit as it stands: the solution chosen, what was held, and why."""
    return _keep(request, job, run, given)


def _keep(request: Request, job: str, run: str, given: Mapping[str, str]) -> Response:
    from borewright.work.joint import keep_fit, si_holds
    from borewright.work.runs import wells_read
    from borewright.work.testing import fit_run

    desk = desk_of(request)
    folded, hole, test = _run_of(request, job, run, given.get("hole", ""))
    back = run_path(folded.id, run) + (f"?hole={hole.number}" if given.get("hole") else "")
    if test.run.body.type == "slug":
        values, wrong = read_fields(SLUG, given, desk.settings.unit_system)
        filled = Filled(SLUG, given, wrong)
        if not wrong:
            try:
                fit_run(desk.book, folded.id, run, by=desk.by, hole=hole.number, slug=values)
                return RedirectResponse(back, status_code=303)
            except BadInput as error:
                name = place_error(error, SLUG.fields, {"displacement": "initial"})
                filled.wrong, filled.other = ({name: error}, "") if name else ({}, str(error))
        return _show_slug(request, folded, hole, test, filled, 422)
    ask = ask_of(given, desk.settings.unit_system, wells_read(hole, run))
    if ask.wrong:
        return _show(request, job, run, given, status=422)
    try:
        if test.run.body.type == "step" and given.get("what") == "steps":
            fit_run(desk.book, folded.id, run, by=desk.by, hole=hole.number, exponent=None if given.get("exponent") == "found" else 2.0)
        else:
            _, together, _ = _shown(hole, run, ask)
            keep_fit(desk.book, folded.id, run, by=desk.by, hole=hole.number, alone=ask.alone, robust=ask.robust, chosen=ask.solution or None, hold=si_holds(ask.hold), why=given.get("why", "")[:2000], together=together, **ask.part)
    except BorewrightError as error:
        return _show(request, job, run, given, status=422, other=str(error).strip("'\""))
    return RedirectResponse(back, status_code=303)


@router.post("/api/test/fit")
async def fit_again(request: Request, given: Annotated[Any, Depends(json_of)]) -> JSONResponse:
    """Fit one solution of a run with what is held, or with its curve moved, and answer with the parameters, the misfit and the drawings.

    {"job", "run", "solution", "alone", "robust", "hold": {key: value}, "part": {field of the folded section: text}, "nudge": "deeper" or "move": {"deeper": times, "later": times}}
    """
    if not isinstance(given, dict):
        raise BadInput("body", str(given)[:80], "is not an object", "job, run, solution and what is held")
    return JSONResponse(await run_in_threadpool(_fit_again, request, given))


def _fit_again(request: Request, given: dict[str, Any]) -> dict[str, Any]:
    from borewright.work.runs import wells_read

    folded, hole, test = _run_of(request, str(given.get("job", "")), str(given.get("run", "")), str(given.get("hole", "")))
    if test.run.body.type == "slug":
        raise BadInput("run", given.get("run"), "is a slug test, which has no such curve", "a pumping test or a recovery")
    run = test.run.body.run
    hold = given.get("hold") or {}
    if not isinstance(hold, dict):
        raise BadInput("hold", str(hold)[:80], "is not an object", "values by parameter")
    part = given.get("part") or {}
    if not isinstance(part, dict):
        raise BadInput("part", str(part)[:80], "is not an object", "open_thickness, open_top, open_bottom and the like, each with its unit")
    ask = ask_of({**{f.name: str(part.get(f.name) or "") for f in PART.fields}, "solution": str(given.get("solution", "")), "alone": "yes" if given.get("alone") else "", "robust": "yes" if given.get("robust") else "", **{f"hold_{k}": str(v) for k, v in hold.items()}}, desk_of(request).settings.unit_system, wells_read(hole, run))
    if ask.wrong:
        raise next(iter(ask.wrong.values()))
    _, together, drawn = _shown(hole, run, ask)
    move = given.get("move")
    if given.get("nudge") or move:
        if drawn == "cooper-jacob":
            raise BadInput("solution", drawn, "is a straight line and cannot be moved", "Theis, which it is the late part of")
        now = next(r for r in _rows(together, drawn) if r["solution"] == drawn)["parameters"]
        ask.hold |= nudged(now, str(given.get("nudge", "")), **(_moved(move) if move else {}))
        _, together, drawn = _shown(hole, run, ask)
    row = next(r for r in _rows(together, drawn) if r["solution"] == drawn)
    figures = figures_of(together, run, drawn, desk_of(request).settings.unit_system, recovery=test.run.body.type == "recovery")
    return {"solution": drawn, "fit": row, "shown": {key: [value, between] for key, _, value, between in shown_parameters(row)}, "held": ask.hold, "runs": list(together.runs), "figures": {k: str(v) for k, v in figures.items() if k != "other"} | {f"other-{n}": str(v) for n, (_, v) in enumerate(figures["other"], 1)}}


def _moved(move: Any) -> dict[str, float]:
    found = {}
    for name, to in (("deeper", "amount"), ("later", "later")):
        value = move.get(name, 1.0) if isinstance(move, dict) else None
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 1e-6 < value < 1e6:
            raise BadInput(f"move.{name}", str(value)[:40], "is not a number of times", "a number above zero, 1 to leave it")
        found[to] = float(value)
    return found
