"""Rate cards beyond the form: as TOML to read, edit and keep, every kept version, and the card that a quote was made with."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response

from borewright.errors import BadInput, NotFound
from borewright.web.jobs import Posted, job_id
from borewright.web.present import desk_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

LONGEST = 100_000  # letters of a card as TOML


@router.get("/rates/toml")
def as_toml(request: Request) -> Response:
    """The card in use as TOML, to be edited."""
    from borewright.pricing import card_to_toml

    return page(request, "rates_toml.html", text=card_to_toml(desk_of(request).card), wrong=None)


@router.post("/rates/toml")
def keep_toml(request: Request, given: Posted) -> Response:
    """Check the TOML and make it the card in use; on trouble show it again as it was typed."""
    from borewright.pricing import card_from_toml
    from borewright.storage import save_rate_card

    text = given.get("text", "")
    try:
        if len(text) > LONGEST:
            raise BadInput("text", f"{len(text)} letters", "is too long for a rate card", f"at most {LONGEST} letters")
        save_rate_card(card_from_toml(text), desk_of(request).folder)
    except BadInput as error:
        return page(request, "rates_toml.html", status=422, text=text, wrong=error)
    return RedirectResponse("/rates?kept", status_code=303)


def _kept(request: Request, version: str) -> Any:
    """Return a kept card; the sample card, which is never saved, by its own version."""
    from borewright.pricing import card_version, sample_card
    from borewright.storage import rate_card

    if version == card_version(sample_card()):
        return sample_card()
    return rate_card(version, desk_of(request).folder)


@router.get("/rates/{version}/card.toml")
def download(request: Request, version: str) -> Response:
    """A kept card as a TOML file."""
    from borewright.pricing import card_to_toml

    return PlainTextResponse(card_to_toml(_kept(request, version)), media_type="application/toml", headers={"Content-Disposition": f'attachment; filename="rates-{version}.toml"'})


@router.get("/rates/{version}")
def version(request: Request, version: str) -> Response:
    """A kept card, to read."""
    from borewright.storage import current_rate_card

    current = current_rate_card(desk_of(request).folder)
    card = _kept(request, version)
    return _card(request, card, version, in_use=current is not None and card == current)


@router.post("/rates/{version}/use")
def use_again(request: Request, version: str) -> Response:
    """Make a kept card the one in use again."""
    from borewright.storage import save_rate_card

    save_rate_card(_kept(request, version), desk_of(request).folder)
    return RedirectResponse("/rates?kept", status_code=303)


@router.get("/jobs/{job}/quote/rates/{revision}")
def of_quote(request: Request, job: str, revision: int) -> Response:
    """The card that a quote was made with, out of the quote itself."""
    from borewright.pricing import card_from_dict

    folded = desk_of(request).book.job(job_id(job))
    fact = next((f for f in folded.quotes if f.body.revision == revision), None)
    if fact is None or not fact.body.content.get("rate_card"):
        raise NotFound("That quote carries no rate card.")
    return _card(request, card_from_dict(fact.body.content["rate_card"]), fact.body.content["card_version"], quote=fact.body, job=folded)


def _card(request: Request, card: Any, version: str, **what: Any) -> Response:
    from borewright.pricing import CHARGES, COSTS, card_to_toml

    return page(request, "rates_kept.html", card=card, version_shown=version, charges=CHARGES, costs=COSTS, text=card_to_toml(card), **({"in_use": None, "quote": None, "job": None} | what))
