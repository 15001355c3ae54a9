"""What every design of the firm starts from: clearances, sealing, pipe and grout, and the supplier's own casing figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from borewright.errors import BadInput
from borewright.quantities import KINDS, show
from borewright.web.fields import Field, Filled, Form
from borewright.web.jobs import Posted
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_BITS = "bits"


def _form(materials: tuple[str, ...], mixes: tuple[str, ...], chips: tuple[str, ...]) -> Form:
    return Form("design", "Design settings", "Keep", (
        Field("material", "Production casing of", "choice", choices=materials), Field("series", "Series of it", help="As in the catalogue", example="metric"),
        Field("conductor_material", "Conductor of", "choice", choices=materials), Field("conductor_series", "Series of it", example="metric"),
        Field("completion", "In sound rock", "choice", choices=("cased", "open hole")),
        Field("annulus", "Grout all round, at least", "diameter", True, "2 in over the casing, New York 10 NYCRR 5-B Table 2", "25.4 mm"),
        Field("bit_clearance", "Bit to casing above, on diameter", "diameter", True, example="6 mm"),
        Field("into_rock", "Conductor into sound rock", "length", True, example="1.5 m"),
        Field("least_sealed", "Sealed below ground, at least", "length", True, "19 ft, 10 NYCRR 5-B.3", "6 m"),
        Field("seal_length", "Length of the seal", "length", True, example="1.5 m"), Field("seal_kind", "Seal of", "choice", choices=chips),
        Field("pack", "Filter pack", "choice", choices=("auto", "yes", "no")), Field("pack_cover", "Pack above the slots", "length", True, example="1 m"),
        Field("slot_layout", "Slots over", "choice", choices=("whole", "by strike")), Field("slot_margin", "Slots past each strike", "length", True, example="1.5 m"),
        Field("aperture", "Slot width in rock", "diameter", True, example="1.5 mm"), Field("open_share", "Open share of slotted pipe", "fraction", True, example="5 %"),
        Field("sump", "Sump", "length", True, example="3 m"), Field("stick_up", "Stick-up", "length", True, "12 in above the slab, TM 5-813-1", "0.3 m"),
        Field("grout_mix", "Grout", "choice", choices=mixes), Field("washout", "Washout of a bare hole", "fraction", True, example="20 %"),
        Field("bag_mass", "A bag holds", "mass", True, example="20 kg"), Field("most_lifts", "Lifts of grout, at most", "whole", True, example="3"),
        Field("grout_method", "Grout placed by", "choice", choices=("tremie", "through the casing")),
        Field("ground_temperature", "Temperature of the ground", "temperature", True, example="20 degC"),
        Field("centraliser_spacing", "Centralisers, at most apart", "length", True, example="6 m"),
        Field("pump_diameter", "Pump diameter", "diameter", True, example="98 mm"), Field("pump_clearance", "Room round the pump, on diameter", "diameter", True, example="12 mm"),
        Field("pump_submergence", "Pump below the pumping level", "length", True, example="5 m"),
        Field("chlorine_dose", "Chlorine to disinfect", "concentration", True, "50 to 200 mg/L are the published doses", "100 mg/L"),
        Field(_BITS, "Your bits, mm with commas", required=True, example="115, 152, 165, 200, 254, 305"),
    ))


def _show(request: Request, given: Mapping[str, str] | None = None, wrong: Mapping[str, BadInput] | None = None, *, trouble: BadInput | None = None) -> Response:
    from borewright.construction import FILLS, grout_mixes
    from borewright.work.designing import catalogue_of, design_settings, supplier_file

    desk = desk_of(request)
    catalogue = catalogue_of(desk.folder)
    form = _form(tuple(catalogue.materials), tuple(grout_mixes()), tuple(n for n in FILLS if n != "sand"))
    if given is None:
        given = _texts(form, design_settings(desk.folder), desk.settings.unit_system)
    return page(
        request, "design_settings.html", status=422 if wrong or trouble else 200, filled=Filled(form, given, wrong or {}), trouble=trouble,
        kept="kept" in request.query_params, own=supplier_file(desk.folder).is_file(),
        materials=[(kind, sum(c.material.name == kind.name for c in catalogue.casings)) for kind in catalogue.materials.values()],
    )


def _texts(form: Form, settings: Any, system: str) -> dict[str, str]:
    texts = {one.name: show(getattr(settings, one.name), one.kind, system=system, digits=6) if one.kind in KINDS else str(getattr(settings, one.name))
             for one in form.fields if one.name != _BITS}
    return texts | {_BITS: ", ".join(f"{1000 * bit:g}" for bit in settings.bits)}


@router.get("/settings/design")
def settings(request: Request) -> Response:
    """The design settings."""
    return _show(request)


@router.post("/settings/design")
def keep(request: Request, given: Posted) -> Response:
    """Check and keep the design settings; designs already made keep their own."""
    from borewright.construction import FILLS, grout_mixes
    from borewright.quantities import parse
    from borewright.work.designing import catalogue_of, keep_design_settings

    desk = desk_of(request)
    catalogue = catalogue_of(desk.folder)
    form = _form(tuple(catalogue.materials), tuple(grout_mixes()), tuple(n for n in FILLS if n != "sand"))
    values, wrong = form.read(given, desk.settings.unit_system)
    values.pop("typed", None)
    try:
        if _BITS in values:
            values[_BITS] = sorted(parse(part, "diameter", field=_BITS, default_unit="mm").si for part in values[_BITS].split(",") if part.strip())
        if not wrong:
            for material, series in (("material", "series"), ("conductor_material", "conductor_series")):
                _known(catalogue, values, material, series)
            keep_design_settings(desk.folder, values)
            return RedirectResponse("/settings/design?kept", status_code=303)
    except BadInput as error:
        wrong = {**wrong, error.field.removeprefix("settings."): error}
    return _show(request, given, wrong)


def _known(catalogue: Any, values: Mapping[str, Any], material: str, series: str) -> None:
    try:
        catalogue.of(values[material], values.get(series) or None)
    except BadInput as error:
        raise BadInput(series, values.get(series), error.problem, error.want) from error


@router.post("/settings/design/casing")
async def supplier(request: Request) -> Response:
    """Keep the supplier's casing file, or go back to the catalogue that comes with the program."""
    from starlette.concurrency import run_in_threadpool

    from borewright.work.designing import drop_supplier_file, keep_supplier_file

    desk = desk_of(request)
    given = await request.form(max_fields=20, max_files=2)
    if given.get("do") == "drop":
        await run_in_threadpool(drop_supplier_file, desk.folder)
        return RedirectResponse("/settings/design?kept", status_code=303)
    file = given.get("supplier_file")
    try:
        if isinstance(file, str) or file is None or not (data := await _bytes(file)):
            raise BadInput("supplier_file", "", "is missing", "a TOML file")
        await run_in_threadpool(keep_supplier_file, desk.folder, data)
        return RedirectResponse("/settings/design?kept", status_code=303)
    except BadInput as error:
        refused = error
    return await run_in_threadpool(lambda: _show(request, trouble=refused))


async def _bytes(file: UploadFile) -> bytes:
    return await file.read((1 << 20) + 1)
