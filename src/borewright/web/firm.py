"""What the firm says once: its settings and its rate card."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from borewright.errors import BadInput
from borewright.storage.settings import LANGUAGE_NAMES, LANGUAGES
from borewright.web.fields import Field, Filled, Form
from borewright.web.jobs import Posted
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

SETTINGS = Form("settings", "Settings", "Keep", (
    Field("firm", "Firm"), Field("owner", "Who drills"), Field("address", "Address", "long"), Field("phone", "Phone"), Field("email", "Email"),
    Field("licence", "Licence"), Field("language", "Language of your papers", "choice", choices=LANGUAGES, names=tuple(LANGUAGE_NAMES[code] for code in LANGUAGES)), Field("word", "You call it a", "choice", choices=("bore", "well")),
    Field("units", "Units", "choice", choices=("metric", "us", "imperial")), Field("paper", "Paper", "choice", choices=("A4", "Letter")),
    Field("currency", "Currency", help="Three letters", example="AUD"), Field("zone", "Time zone", help="IANA name", example="Australia/Brisbane"),
    Field("bag_mass", "Mass of a bag of cement", "mass", example="20 kg"), Field("colour", "Colour on your papers", help="As #rrggbb"),
    Field("quote_valid_days", "Days that a quote stands", "whole"), Field("keep_backups", "Days that backups are kept", "whole"),
    Field("terms", "Terms on a quote", "long"),
    Field("owner_page", "Page that the code on a handover pack opens", help="An address with {job} for the job's id. Empty: the code holds the bore in words", example="https://example.org/bores/{job}"),
    Field("start_of_day", "Start-of-day sheet", "long", False, "What the crew confirms before the first rod, one line each. It does not replace your local rules."),
    Field("rods", "Outside diameters of your rods", "long", False, "One line each", "89 mm"),
    Field("compressors", "Your compressors", "long", False, "Free air and pressure, one line each", "25 m3/min at 2400 kPa"),
))
_LINES = ("start_of_day", "rods", "compressors")


@router.get("/settings")
def settings(request: Request) -> Response:
    """The settings."""
    given = {k: "\n".join(v) if k in _LINES else str(v) for k, v in asdict(desk_of(request).settings).items()}
    given["bag_mass"] += " kg"
    return page(request, "settings.html", filled=Filled(SETTINGS, given), kept="kept" in request.query_params)


@router.post("/settings")
def keep_settings(request: Request, given: Posted) -> Response:
    """Check and keep the settings."""
    from borewright.storage import save_settings, settings_from_dict

    desk = desk_of(request)
    # A list that was not sent keeps what it holds; one that was sent empty is refused or emptied as its field says.
    given = {k: "\n".join(getattr(desk.settings, k)) for k in _LINES} | dict(given)
    values, wrong = SETTINGS.read(given, desk.settings.unit_system)
    values.pop("typed", None)
    if not wrong:
        try:
            lines = {k: tuple(dict.fromkeys(" ".join(line.split()) for line in given[k].splitlines() if line.strip())) for k in _LINES if k in given}
            values |= {k: lines.get(k, getattr(desk.settings, k)) for k in _LINES}
            now = {k: v for k, v in asdict(desk.settings).items() if k not in {f.name for f in SETTINGS.fields}}
            save_settings(settings_from_dict(now | values), desk.folder)
            return RedirectResponse("/settings?kept", status_code=303)
        except BadInput as error:
            wrong = {error.field: error}
    return page(request, "settings.html", status=422, filled=Filled(SETTINGS, given, wrong), kept=False)


def flat(table: Any, before: str = "") -> dict[str, Any]:
    """Return a nested table as {"drilling.0.loose": value}, the names that the form's fields carry."""
    if isinstance(table, Mapping):
        pairs = table.items()
    elif isinstance(table, list):
        pairs = enumerate(table)
    else:
        return {before: table}
    out: dict[str, Any] = {}
    for key, value in pairs:
        out |= flat(value, f"{before}.{key}" if before else str(key))
    return out


def nested(given: Mapping[str, str], like: Any) -> Any:
    """Return the table of the shape of `like` with the values of a flat form in it; lists take the lines that are there."""
    def walk(shape: Any, before: str) -> Any:
        if isinstance(shape, Mapping):
            return {k: walk(v, f"{before}.{k}" if before else str(k)) for k, v in shape.items()}
        if isinstance(shape, list):
            rows = []
            for place in range(20):
                at = f"{before}.{place}"
                mine = {k: v for k, v in given.items() if k.startswith(at + ".") and v.strip()}
                if mine:
                    rows.append(walk(shape[0], at))
            return rows
        text = given.get(before, "")
        if isinstance(shape, bool):
            return text in ("yes", "on", "True", "true")
        if isinstance(shape, int):
            return int(text) if text.strip().isdigit() else text
        return text

    return walk(like, "")


@router.get("/rates")
def rates(request: Request) -> Response:
    """The rate card in use, as a form."""
    from borewright.pricing import card_as_dict

    return _rates(request, {k: str(v) for k, v in flat(card_as_dict(desk_of(request).card)).items()}, kept="kept" in request.query_params)


def _rates(request: Request, given: Mapping[str, str], *, wrong: BadInput | None = None, kept: bool = False) -> Response:
    from borewright.pricing import CHARGES, COSTS
    from borewright.storage import current_rate_card, rate_card_versions

    desk = desk_of(request)
    lines = {name: sorted({int(k.split(".")[1]) for k in given if k.startswith(f"{name}.")}) for name in ("drilling", "casing")}
    return page(
        request, "rates.html", status=422 if wrong else 200, given=given, wrong=wrong, wrong_field=_field(wrong), kept=kept, charges=CHARGES, costs=COSTS,
        lines=lines, versions=rate_card_versions(desk.folder), own=current_rate_card(desk.folder) is not None,
    )


def _field(wrong: BadInput | None) -> str:
    """Return the form's name of the field that the card refused: drilling[0].loose is drilling.0.loose."""
    return wrong.field.replace("[", ".").replace("]", "") if wrong else ""


@router.post("/rates")
def keep_rates(request: Request, given: Posted) -> Response:
    """Check the card and make it the one in use; earlier ones are kept for the quotes that name them."""
    from borewright.pricing import card_as_dict, card_from_dict, sample_card
    from borewright.storage import save_rate_card

    try:
        table = nested(given, card_as_dict(sample_card())) | {"format": 1}
        save_rate_card(card_from_dict(table), desk_of(request).folder)
    except BadInput as error:
        return _rates(request, given, wrong=error)
    return RedirectResponse("/rates?kept", status_code=303)
