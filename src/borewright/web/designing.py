"""A bore's design by hand: its rows as a form, every rule checked beside its row, the strength drawn, two casings compared, materials to buy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import BadInput, BorewrightError
from borewright.web.api import json_of
from borewright.web.designform import NUMBERS, TABLES, form_of, messages, read_cell, read_design, rows_shown
from borewright.web.jobs import Posted, job_id
from borewright.web.present import desk_of, page
from borewright.web.stages import STAGES

__all__ = ["router"]

router = APIRouter()
SIZE = {"width": 380.0, "height": 610.0}
CHART = {"width": 370.0, "height": 260.0}
NO_PAGE = {"include_in_schema": False}


def _start(request: Request, job: str) -> tuple[Any, Any]:
    """Return the folded job and its last design."""
    from borewright.work.designing import last_design

    folded = desk_of(request).book.job(job_id(job))
    return folded, last_design(folded)


@router.get("/jobs/{job}/bore/edit", **NO_PAGE)
def edit(request: Request, job: str) -> Response:
    """The design last kept, as rows to change."""
    desk = desk_of(request)
    try:
        folded, design = _start(request, job)
    except BadInput as error:
        request.app.state.told[str(job_id(job))] = str(error)
        return RedirectResponse(f"/jobs/{job_id(job)}/bore", status_code=303)
    return _edit(request, folded, design, form_of(design, desk.settings.unit_system), kept="kept" in request.query_params)


@router.post("/jobs/{job}/bore/edit", **NO_PAGE)
def change(request: Request, job: str, given: Posted) -> Response:
    """Check what was typed and show it again, or keep it when that was asked."""
    from borewright.work.designing import keep_by_hand

    desk = desk_of(request)
    folded, base = _start(request, job)
    design, wrong = _read(request, base, given)
    if design is not None and given.get("do") == "keep":
        try:
            keep_by_hand(desk.book, folded.id, design, by=desk.by)
            return RedirectResponse(f"/jobs/{folded.id}/bore/edit?kept", status_code=303)
        except BadInput as error:
            wrong = {"": error}
    return _edit(request, folded, design or base, given, wrong)


def _read(request: Request, base: Any, given: Mapping[str, str]) -> tuple[Any, dict[str, BadInput]]:
    from borewright.work.designing import catalogue_of, design_settings

    desk = desk_of(request)
    settings = design_settings(desk.folder) if given.get("firm_settings") else None
    return read_design(given, base, catalogue=catalogue_of(desk.folder), system=desk.settings.unit_system, settings=settings)


def _edit(request: Request, job: Any, design: Any, given: Mapping[str, str], wrong: Mapping[str, BadInput] | None = None, *, kept: bool = False) -> Response:
    from borewright.construction import check_design, recheck
    from borewright.work.designing import catalogue_of

    desk = desk_of(request)
    catalogue, wrong = catalogue_of(desk.folder), dict(wrong or {})
    whole, check = None, None
    try:
        whole = recheck(design, catalogue=catalogue)
        check = check_design(whole, catalogue=catalogue)
    except BorewrightError as error:
        wrong = wrong or {"": error}
    stock = [(kind.name, [c.name for c in catalogue.casings if c.material.name == kind.name]) for kind in catalogue.materials.values()]
    return page(
        request, "design_edit.html", status=422 if wrong else 200, job=job, stages=STAGES, stage="bore", given=given, wrong=wrong, kept=kept, tables=TABLES, numbers=NUMBERS,
        rows={table.name: rows_shown(given, table) for table in TABLES}, notes=messages(given, check) if check and not wrong else {}, check=check, d=whole,
        materials=list(catalogue.materials), stock=[s for s in stock if s[1]], section=_section(job, whole or design, desk.settings.unit_system),
        strength=strength_figures(whole, catalogue, desk.settings.unit_system) if whole else [], compared=_compared(request, job, whole, catalogue) if whole else None,
        fills=_fills(), dose=disinfection_rows(job, whole) if whole else None,
    )


def _fills() -> tuple[str, ...]:
    from borewright.construction import FILLS, grout_mixes

    return (*grout_mixes(), *(name for name in FILLS if name != "sand"))


def _section(job: Any, design: Any, units: str) -> Markup:
    """Return the living section as the design has it, with the strength of the casing at each stage beside it."""
    from borewright.construction import design_as_dict
    from borewright.drawing import living_section, section_of

    return Markup(living_section(section_of(job, design=design_as_dict(design), as_designed=True), **SIZE, medium="page", units=units, margins=True))


def strength_figures(design: Any, catalogue: Any, units: str) -> list[Markup]:
    """Return pressure against resistance by depth, for each string at the stage nearest to failing it."""
    from borewright.construction import profiles_as_dict, stage_profiles
    from borewright.drawing.designcharts import strength_chart

    profiles = profiles_as_dict(stage_profiles(design, catalogue=catalogue))
    found = []
    for string in design.strings:
        try:
            found.append(Markup(strength_chart(profiles, string.string, units=units, **CHART)))
        except BadInput:  # nothing presses on this string at any stage
            continue
    return found


def disinfection_rows(job: Any, design: Any) -> dict[str, Any]:
    """Return the dose for the water of this bore in each product, with the pH last analysed."""
    from borewright.construction import PRODUCTS, disinfection

    ph = None
    for fact in (job.hole.analyses if job.hole else ()):
        for row in fact.body.model_dump().get("values", ()):
            if str(row.get("name", "")).lower() == "ph" and not row.get("below_detection"):
                ph = row.get("value")
    doses = [(words, disinfection(design, product=product, ph=ph)) for product, (_, _, words) in PRODUCTS.items()]
    return {"doses": doses, "advisories": tuple(dict.fromkeys(a for _, dose in doses for a in dose.advisories)), "ph": ph}


def _compared(request: Request, job: Any, design: Any, catalogue: Any) -> dict[str, Any]:
    """Return the casings that the address names side by side; by default the design's own between its neighbours."""
    from borewright.pricing import read_minor
    from borewright.work.designing import compare_offers, near_sizes

    desk = desk_of(request)
    asked = request.query_params
    card = desk.card
    currency, trouble, worth = card.currency, "", None
    names = [asked[k] for k in ("first", "second") if asked.get(k)] or list(near_sizes(design, catalogue))
    offers, rows = [], ()
    try:
        for place, name in enumerate(dict.fromkeys(names)):
            text = asked.get(("first_price", "second_price", "")[min(place, 2)], "") if asked.get("first") else ""
            offers.append((name, read_minor(text, currency, field="price of a metre") if text.strip() else None))
        if asked.get("worth", "").strip():
            worth = read_minor(asked["worth"], currency, field="cost of a lost bore")
        elif job.quote and job.quote.body.content.get("price", {}).get("p50"):
            worth = int(job.quote.body.content["price"]["p50"])
        rows = compare_offers(design, offers, catalogue=catalogue, worth=worth)
    except BorewrightError as error:
        trouble = str(error)
    return {"rows": rows, "trouble": trouble, "names": names, "currency": currency, "worth": worth, "asked": asked}


@router.post("/api/design/check")
def check_api(request: Request, given: Annotated[Any, Depends(json_of)]) -> JSONResponse:
    """Check a design: {"design": {...}} in SI answers rules, stages and the design reckoned anew; {"job", "form"} answers what a page shows."""
    from borewright.construction import check_design, design_as_dict, design_from_dict, recheck
    from borewright.work.designing import catalogue_of

    catalogue = catalogue_of(desk_of(request).folder)
    if not isinstance(given, dict) or not isinstance(given.get("form", given.get("design")), dict):
        raise BadInput("design", str(given)[:80], "is not a design", 'an object with "design", or with "job" and "form"')
    if "form" in given:
        return JSONResponse(_live(request, str(given.get("job", "")), {str(k): str(v) for k, v in given["form"].items()}, catalogue))
    whole = recheck(design_from_dict(given["design"]), catalogue=catalogue)
    check = check_design(whole, catalogue=catalogue)
    return JSONResponse({
        "passes": check.passes, "rules": [asdict(r) for r in check.rules], "stages": [asdict(s) for s in check.stages],
        "advisories": [asdict(a) for a in whole.advisories], "design": design_as_dict(whole),
    })


def _live(request: Request, job: str, form: dict[str, str], catalogue: Any) -> dict[str, Any]:
    """Return what the page changes when a field does: messages by place, the tables as text, the drawing."""
    from borewright.construction import check_design, recheck
    from borewright.quantities import rounded, show
    from borewright.web.present import sentence

    folded, base = _start(request, job)
    units = desk_of(request).settings.unit_system
    design, wrong = _read(request, base, form)
    whole = None
    if design is not None:
        try:
            whole = recheck(design, catalogue=catalogue)
        except BadInput as error:
            wrong = {"": error}
    if whole is None:
        return {"passes": False, "wrong": {key: f"{sentence(e.problem)} Want {e.want}." for key, e in wrong.items()}, "notes": {}}
    check = check_design(whole, catalogue=catalogue)
    return {
        "passes": check.passes, "wrong": {}, "notes": messages(form, check), "section": str(_section(folded, whole, units)),
        "strength": [str(f) for f in strength_figures(whole, catalogue, units)], "differently": list(whole.differently),
        "stages": [
            [s.stage, s.string, show(s.depth, "depth", system=units), show(s.pressure, "pressure", system=units), show(s.resistance, "pressure", system=units),
             f"{s.factor:.2f}", f"{s.required:g}", s.verdict, s.source] for s in whole.stages],
        "materials": [[m.item, f"{rounded(m.quantity, 4)} {m.unit}", m.note] for m in whole.materials],
        "rules": [["holds" if r.holds else r.severity, r.where, r.found, r.asked] for r in check.rules],
    }


@router.get("/jobs/{job}/bore/materials.csv", **NO_PAGE)
def materials_csv(request: Request, job: str) -> Response:
    """The materials of the design last kept, as CSV."""
    from borewright.work.stock import materials_as_csv

    folded, design = _start(request, job)
    name = f"materials-{str(folded.id)[-6:]}.csv"
    return Response(materials_as_csv(design.materials), media_type="text/csv; charset=utf-8", headers={"Content-Disposition": f'attachment; filename="{name}"'})


@router.get("/jobs/{job}/bore/seal", **NO_PAGE)
def seal(request: Request, job: str) -> Response:
    """How to seal the hole: what goes where, how much, in what order, with what care."""
    return _seal(request, job_id(job), request.query_params)


@router.post("/jobs/{job}/bore/seal", **NO_PAGE)
def seal_done(request: Request, job: str, given: Posted) -> Response:
    """Write into the log that the hole was sealed as planned."""
    from borewright.work.bore import seal_failed

    desk, which = desk_of(request), job_id(job)
    try:
        number, choices = _seal_choices(given, desk.settings.unit_system)
        if not given.get("reason", "").strip():
            raise BadInput("reason", "", "is missing", "why the hole is sealed, such as no usable water")
        seal_failed(desk.book, which, by=desk.by, reason=given["reason"].strip()[:4000], hole=number, **choices)
    except BorewrightError as error:
        return _seal(request, which, given, error)
    return RedirectResponse(f"/jobs/{which}/bore", status_code=303)


def _seal_choices(given: Mapping[str, str], system: str) -> tuple[int | None, dict[str, Any]]:
    number = given.get("hole", "").strip()
    if number and not number.isdigit():
        raise BadInput("hole", number, "is not a whole number", "the number of a hole")
    choices: dict[str, Any] = {name: given[name] for name in ("way", "mix", "chips") if given.get(name)}
    for name, kind in (("waste", "fraction"), ("bag_mass", "mass")):
        if given.get(name, "").strip():
            choices[name] = read_cell(given[name], kind, name, system)
    return int(number) if number else None, choices


def _seal(request: Request, job: UUID, given: Mapping[str, str], error: BorewrightError | None = None) -> Response:
    from borewright.construction import FILLS, SEALING_WAYS, grout_mixes
    from borewright.web.section import section_svg
    from borewright.work.bore import plan_sealing

    desk = desk_of(request)
    folded = desk.book.job(job)
    plan = None
    try:
        number, choices = _seal_choices(given, desk.settings.unit_system)
        plan = plan_sealing(folded, number, **({"bag_mass": desk.settings.bag_mass} | choices))
    except BorewrightError as trouble:
        error = error or trouble
    return page(
        request, "seal_plan.html", status=422 if error else 200, job=folded, stages=STAGES, stage="bore", plan=plan, given=given, error=error,
        field=error.field if isinstance(error, BadInput) else "", section=section_svg(request, folded), ways=SEALING_WAYS, mixes=tuple(grout_mixes()),
        chips=tuple(n for n in FILLS if n != "sand"), done=folded.hole.sealed_off if folded.hole else None,
    )


@router.get("/stock", **NO_PAGE)
def stock(request: Request) -> Response:
    """What to order for every accepted job that is designed and not yet built."""
    return _show_stock(request)


def _show_stock(request: Request, typed: Mapping[tuple[str, str], str] | None = None, wrong: Mapping[tuple[str, str], BadInput] | None = None, status: int = 200) -> Response:
    from borewright.work.stock import stock_to_order

    return page(request, "stock.html", status=status, order=stock_to_order(desk_of(request).book), typed=typed or {}, wrong=wrong or {}, kept="kept" in request.query_params)


@router.post("/stock", **NO_PAGE)
def post_yard(request: Request, given: Posted) -> Response:
    """Keep what the yard holds of the things listed: all of the counts, or none and the messages beside them."""
    from borewright.work.stock import keep_yard

    folder, typed, wrong = desk_of(request).folder, {}, {}
    while item := given.get(f"item-{len(typed)}", ""):
        place = len(typed)
        key = (item, given.get(f"unit-{place}", ""))
        if key in typed:
            raise BadInput("item", item, "is counted twice", "each thing once")
        typed[key] = given.get(f"held-{place}", "").strip()
        try:
            keep_yard(folder, {key: typed[key] or 0}, dry_run=True)
        except BadInput as error:
            wrong[key] = error
    if wrong:
        return _show_stock(request, typed, wrong, 422)
    keep_yard(folder, {key: text or 0 for key, text in typed.items()})
    return RedirectResponse("/stock?kept=1", status_code=303)


@router.get("/stock.csv", **NO_PAGE)
def stock_csv(request: Request) -> Response:
    """The same as CSV."""
    from borewright.work.stock import order_as_csv, stock_to_order

    return Response(order_as_csv(stock_to_order(desk_of(request).book).rows), media_type="text/csv; charset=utf-8",
                    headers={"Content-Disposition": 'attachment; filename="stock-to-order.csv"'})
