"""Jobs: the list, the first-run screen, the page of a job with its stages, its history, and ruling an entry out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from borewright.errors import BadInput, BorewrightError, NotFound
from borewright.web.acts import Desk
from borewright.web.fields import Field, Filled, Form
from borewright.web.ownregister import keep_up
from borewright.web.present import allow, desk_of, history_rows, page
from borewright.web.section import job_section, section_svg
from borewright.web.stages import STAGES, forms_of
from borewright.web.view import stage_view

__all__ = ["Posted", "router"]

router = APIRouter(include_in_schema=False)

START = Form("start", "Start your own", "Odds and price range", (
    Field("where", "Where", "place", True, "Latitude, longitude in degrees", "-38.47, -18.22"),
    Field("need", "How much water they must have", "flow", True, "Say the unit", "15 L/min"),
    Field("register", "Register of other bores", "choice", True, "The records that the odds come from"),
))
NEW = Form("new", "New job", "Open the job", (
    Field("title", "Title", required=True, example="Lot 12 stock bore"), Field("reference", "Your reference"), Field("name", "Customer"),
    Field("where", "Where", "place", help="Latitude, longitude in degrees", example="-38.47, -18.22"),
    Field("need", "Flow they must have", "flow", example="15 L/min"),
))


async def form_data(request: Request) -> Mapping[str, str]:
    """Return the text fields of a posted form."""
    try:
        form = await request.form(max_fields=200, max_files=4)
    except HTTPException as error:
        raise BadInput("form", str(error.detail), "is more than a form holds", "at most 1 MB in a field; long tables are loaded from a file") from None
    return {key: value for key, value in form.items() if isinstance(value, str)}


Posted = Annotated[Mapping[str, str], Depends(form_data)]


def _see(path: str) -> RedirectResponse:
    return RedirectResponse(path, status_code=303)


@router.get("/")
def home(request: Request) -> Response:
    """The jobs, or the first-run screen where there is none."""
    desk = desk_of(request)
    lines = desk.book.jobs()
    keep_up(request)
    return page(request, "jobs.html", lines=lines) if lines else _first(request, Filled(START, {}))


@router.get("/start")
def start(request: Request) -> Response:
    """The first-run screen, whenever it is asked for."""
    return _first(request, Filled(START, {}))


def _first(request: Request, filled: Filled, status: int = 200) -> Response:
    from borewright.web.registers import known_registers

    names = tuple(r["name"] for r in known_registers(desk_of(request)))
    return page(request, "first.html", status=status, filled=filled, registers=names, demo=request.app.state.demo.state)


@router.post("/start")
def start_own(request: Request, given: Posted) -> Response:
    """Open a job from three fields and go to its odds and price range."""
    from borewright.web.registers import known_registers

    desk = desk_of(request)
    names = tuple(r["name"] for r in known_registers(desk))
    form = with_choices(START, "register", names)
    values, wrong = form.read(given, desk.settings.unit_system)
    if wrong:
        return _first(request, Filled(form, given, wrong), 422)
    job, trouble = _start(desk, values)
    if trouble is not None:
        request.app.state.told[str(job)] = str(trouble)
    return _see(f"/jobs/{job}/quote" if trouble is None else f"/jobs/{job}/ground")


def _start(desk: Desk, values: dict[str, Any]) -> tuple[UUID, BorewrightError | None]:
    from borewright.siting import open_register
    from borewright.work.enquiry import open_job
    from borewright.work.ground import tell_odds
    from borewright.work.quoting import issue_quote

    latitude, longitude = values["where"]
    job = open_job(
        desk.book, f"{desk.settings.word.capitalize()} at {latitude:.4f}, {longitude:.4f}", by=desk.by,
        need={"flow": values["need"], "typed": {"flow": values["typed"]["need"]}}, site={"latitude": latitude, "longitude": longitude},
    )
    try:
        tell_odds(desk.book, job, open_register(values["register"], desk.registers), by=desk.by)
        issue_quote(desk.book, job, by=desk.by, card=desk.card)
    except BorewrightError as error:
        return job, error
    return job, None


@router.post("/demo")
def open_demo(request: Request) -> Response:
    """Make the demo jobs in this book, in the background, and show how far it is."""
    request.app.state.demo.begin(desk_of(request))
    return _see("/demo")


@router.get("/demo")
def demo(request: Request) -> Response:
    """How far the demo is; goes on to its job when it is there."""
    state = request.app.state.demo.state
    return _see(f"/jobs/{state.job}") if state.job else page(request, "demo.html", demo=state)


@router.get("/jobs")
def jobs_list(request: Request) -> Response:
    """The jobs."""
    keep_up(request)
    return page(request, "jobs.html", lines=desk_of(request).book.jobs())


@router.get("/jobs/new")
def new_job(request: Request) -> Response:
    """The form of a new job."""
    return page(request, "new.html", filled=Filled(NEW, {}))


@router.post("/jobs/new")
def open_new(request: Request, given: Posted) -> Response:
    """Open a job."""
    from borewright.work.enquiry import open_job

    desk = desk_of(request)
    values, wrong = NEW.read(given, desk.settings.unit_system)
    if not wrong:
        site = dict(zip(("latitude", "longitude"), values["where"], strict=True)) if "where" in values else None
        need = {"flow": values["need"], "typed": {"flow": values["typed"]["need"]}} if "need" in values else None
        customer = {"name": values["name"]} if "name" in values else None
        try:
            job = open_job(desk.book, values["title"], by=desk.by, reference=values.get("reference", ""), customer=customer, need=need, site=site)
            return _see(f"/jobs/{job}")
        except BadInput as error:
            wrong = {_near(error.field, NEW): error}
    return page(request, "new.html", status=422, filled=Filled(NEW, given, wrong))


def _near(name: str, form: Form) -> str:
    """Return the form's own field that an error of a deeper layer belongs to, or nothing."""
    names = {f.name for f in form.fields}
    if name in names:
        return name
    outer = {"latitude": "place", "longitude": "place", "fill_times": "fill_times", "heads": "heads", "flow": "need"}.get(name.split(".")[0], "")
    return outer if outer in names else ""


def job_id(text: str) -> UUID:
    """Return the id in a path; raise NotFound when it is none."""
    try:
        return UUID(text)
    except ValueError:
        raise NotFound(f"No job fits {text!r}.") from None


def with_choices(form: Form, name: str, choices: tuple[str, ...]) -> Form:
    """Return the form with the choices of one field, which are known only when it is shown."""
    from dataclasses import replace

    return replace(form, fields=tuple(replace(f, choices=choices) if f.name == name else f for f in form.fields))


def _forms(desk: Desk, stage: str) -> tuple[Form, ...]:
    from borewright.web.registers import known_registers

    forms = forms_of(stage)
    if stage != "ground":
        return forms
    names = tuple(r["name"] for r in known_registers(desk))
    return tuple(with_choices(f, "register_name", names) if f.key == "odds" else f for f in forms)


@router.get("/jobs/{job}")
def job_home(request: Request, job: str) -> Response:
    """The stage that the job stands in."""
    folded = desk_of(request).book.job(job_id(job))
    return _see(f"/jobs/{folded.id}/{folded.stage}")


@router.get("/jobs/{job}/history")
def history(request: Request, job: str) -> Response:
    """Every entry as it was written, struck-out ones with the line through them."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    return page(request, "history.html", job=folded, rows=history_rows(desk, folded), stages=STAGES, stage="history", section=section_svg(request, folded))


@router.get("/jobs/{job}/section")
def section(request: Request, job: str, width: float = 380.0, height: float = 300.0) -> Response:
    """The living section drawn for a box of a size, for a phone."""
    folded = desk_of(request).book.job(job_id(job))
    box = {"width": round(min(max(width, 200.0), 1200.0)), "height": round(min(max(height, 180.0), 1600.0))}
    return Response(job_section(folded, **box, units=desk_of(request).settings.unit_system), media_type="image/svg+xml")


@router.get("/jobs/{job}/strike/{entry}")
def ask_strike(request: Request, job: str, entry: str) -> Response:
    """Ask once before a line is ruled."""
    folded = desk_of(request).book.job(job_id(job))
    return page(request, "strike.html", job=folded, entry=_entry(folded, entry), stages=STAGES, stage="history", section=section_svg(request, folded))


@router.post("/jobs/{job}/strike/{entry}")
def strike(request: Request, job: str, entry: str, given: Posted) -> Response:
    """Rule a line through an entry; it stays readable."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    found = _entry(folded, entry)
    allow(request, "rig" if found.kind.startswith("rig.") else "write")
    desk.book.write(folded.id, "struck_out", {"why": str(given.get("why", ""))[:4000]}, by=desk.by, strikes_out=found.id)
    return _see(f"/jobs/{folded.id}/history#e-{found.id}")


def _entry(folded: Any, text: str) -> Any:
    for entry, _ in folded.history:
        if str(entry.id) == text:
            return entry
    raise NotFound("That entry is not in this job.")


@router.get("/jobs/{job}/{stage}")
def job_stage(request: Request, job: str, stage: str) -> Response:
    """One stage of a job beside its living section; ?depth= asks what is known at a depth and fills it into the forms."""
    return _stage(request, job_id(job), stage)


def _stage(request: Request, job: UUID, stage: str, posted: Filled | None = None, status: int = 200) -> Response:
    if stage not in STAGES:
        raise NotFound(f"A job has no stage named {stage!r}.")
    desk = desk_of(request)
    folded = desk.book.job(job)
    depth = _depth(request.query_params.get("depth"))
    system = desk.settings.unit_system
    filled = []
    for form in _forms(desk, stage):
        if posted is not None and posted.form.key == form.key:
            filled.append(posted)
        else:
            filled.append(Filled(form, _beginning(form, folded, depth, system)))
    return page(
        request, "job.html", status=status, job=folded, stages=STAGES, stage=stage, filled=filled, view=stage_view(desk, folded, stage),
        section=section_svg(request, folded), depth=depth, near=_near_depth(folded, depth), told=request.app.state.told.pop(str(job), ""),
    )


@router.post("/jobs/{job}/{stage}/{key}")
def write_stage(request: Request, job: str, stage: str, key: str, given: Posted) -> Response:
    """Write what a form says; on trouble show it again with the message beside the field and nothing lost."""
    desk, which = desk_of(request), job_id(job)
    desk.book.job(which)
    if stage == "papers":
        return _issue_paper(request, desk, which, key, given)
    form = next((f for f in _forms(desk, stage) if f.key == key), None) if stage in STAGES else None
    if form is None:
        raise NotFound(f"The stage {stage} has no form named {key}.")
    values, wrong = form.read(given, desk.settings.unit_system)
    other = ""
    if not wrong:
        try:
            if form.slow:
                from borewright.web.working import done_or_waiting

                waiting = done_or_waiting(request, which, stage, form.title, lambda: _write(desk, which, form, values))
                if waiting is not None:
                    return waiting
            else:
                _write(desk, which, form, values)
            return _see(f"/jobs/{which}/{stage}")
        except BadInput as error:
            name = _near(error.field, form)
            wrong, other = ({name: error}, "") if name else ({}, str(error))
        except BorewrightError as error:
            other = str(error).strip("'\"")
    return _stage(request, which, stage, Filled(form, given, wrong, other, open=True), 422)


def _write(desk: Desk, job: UUID, form: Form, values: dict[str, Any]) -> None:
    if form.act is not None:
        form.act(desk, job, values)
        return
    body = dict(values)
    if "place" in body:
        body["latitude"], body["longitude"] = body.pop("place")
    if not any(f.kind == "yes" for f in form.fields):
        body = {k: v for k, v in body.items() if v != ""}
    desk.book.write(job, form.entry, body, by=desk.by)


_DEPTHS = ("depth", "to_depth", "from_depth")
_ONES = {"customer": "customer", "need": "need", "site": "site", "spot": "spot"}


def _beginning(form: Form, job: Any, depth: float | None, system: str) -> dict[str, str]:
    """Return what a form starts with: its defaults, what stands in the book already, the depth that was asked for."""
    from borewright.quantities import KINDS, show

    start = {f.name: f.default for f in form.fields if f.default}
    if "hole" in start and job.hole is not None:
        start["hole"] = str(job.hole.number)
    fact = getattr(job, _ONES.get(form.key, ""), None) if form.key in _ONES else None
    if fact is not None:
        typed = fact.body.typed
        for one in form.fields:
            if one.kind == "place":
                start[one.name] = f"{fact.body.latitude:.6f}, {fact.body.longitude:.6f}"
                continue
            value = getattr(fact.body, one.name, None)
            if value in (None, "", ()) or one.kind == "rows":
                continue
            start[one.name] = typed.get(one.name) or (show(value, one.kind, system=system, digits=6) if one.kind in KINDS else str(value))
    if depth is not None:
        for one in form.fields:
            if one.name in _DEPTHS[:2] and one.kind == "depth" and form.key != "issue":
                start[one.name] = show(depth, "depth", system=system, digits=5)
    return start


def _depth(text: str | None) -> float | None:
    from borewright.quantities import parse

    if not text:
        return None
    return parse(text, "depth", field="depth", default_unit="m").si


def _near_depth(job: Any, depth: float | None) -> list[Any]:
    """Return the standing entries that say something of a depth, within a metre."""
    if depth is None:
        return []
    found = []
    for entry, striker in job.history:
        body = entry.body
        if striker is not None or not entry.kind.startswith("rig."):
            continue
        at, top, end = body.get("depth"), body.get("from_depth"), body.get("to_depth")
        if isinstance(at, (int, float)) and abs(at - depth) <= 1.0 or end is not None and top is not None and top - 0.5 <= depth <= end + 0.5:
            found.append(entry)
    return found


def _issue_paper(request: Request, desk: Desk, job: UUID, key: str, given: Mapping[str, str]) -> Response:
    from borewright.web.paperwork import issue_paper

    document = key.replace("-", " ")
    try:
        sha = issue_paper(desk, job, document, given.get("paper") or desk.settings.paper)
    except BorewrightError as error:
        request.app.state.told[str(job)] = str(error).strip("'\"")
        return _see(f"/jobs/{job}/papers")
    return _see(f"/jobs/{job}/paper/{sha}")


@router.get("/jobs/{job}/paper/{sha}")
def paper(request: Request, job: str, sha: str) -> Response:
    """A paper as it was issued, by its hash."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    for fact in folded.papers:
        if fact.body.sha256 == sha:
            name = f"{fact.body.document.replace(' ', '-')}-{sha[:8]}.pdf"
            return FileResponse(desk.book.attachment(sha), media_type="application/pdf", filename=name)
    raise NotFound("That paper was not issued for this job.")


@router.get("/jobs/{job}/photo/{sha}")
def photo(request: Request, job: str, sha: str) -> Response:
    """A photo of the job."""
    desk = desk_of(request)
    folded = desk.book.job(job_id(job))
    for hole in folded.holes.values():
        for fact in hole.photos:
            if fact.body.attachment == sha and fact.body.media_type in ("image/jpeg", "image/png", "image/webp"):
                return FileResponse(desk.book.attachment(sha), media_type=fact.body.media_type)
    raise NotFound("That photo is not in this job.")


