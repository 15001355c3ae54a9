"""What the forms of pump and water share: text and files of a posted form, and the error of a deeper layer put to its field."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import Request

from borewright.errors import BadInput
from borewright.web.fields import Field, Form
from borewright.web.present import desk_of, page
from borewright.web.section import section_svg
from borewright.web.stages import STAGES

__all__ = ["job_page", "place_error", "posted_with_files", "read_fields"]

LARGEST_TEXT = 2_000_000  # bytes of a pasted or uploaded table


async def posted_with_files(request: Request) -> tuple[dict[str, str], dict[str, str]]:
    """Return the text fields of a posted form, and the text of each file that came with it.

    Raises
    ------
    BadInput
        A file that is too large or is not text.
    """
    form = await request.form(max_fields=600, max_files=4)
    given = {k: v for k, v in form.items() if isinstance(v, str)}
    files: dict[str, str] = {}
    for name, held in form.items():
        if isinstance(held, str) or not held.filename:
            continue
        raw = await held.read(LARGEST_TEXT + 1)
        if len(raw) > LARGEST_TEXT:
            raise BadInput(name, held.filename, "is too large for a table", "a text file under 2 MB")
        try:
            files[name] = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise BadInput(name, held.filename, "is not a text file", "a CSV file saved as UTF-8") from None
        if "\x00" in files[name]:
            raise BadInput(name, held.filename, "is not a text file", "a CSV file saved as UTF-8")
    return given, files


def read_fields(form: Form, given: Mapping[str, str], system: str) -> tuple[dict[str, Any], dict[str, BadInput]]:
    """Return the values of a form in SI without what was left empty, and what is wrong by field."""
    values, wrong = form.read(given, system)
    values.pop("typed", None)
    return {k: v for k, v in values.items() if v != ""}, wrong


def place_error(error: BadInput, fields: tuple[Field, ...], also: Mapping[str, str]) -> str:
    """Return the field of a form that an error belongs to, by its own name or by that of a deeper layer, or nothing."""
    names = {f.name for f in fields}
    if error.field in names:
        return error.field
    return next((to for start, to in also.items() if error.field.startswith(start)), "")


def job_page(request: Request, job: Any, template: str, stage: str, *, status: int = 200, **what: Any) -> Any:
    """Return a page of one job with its living section beside it."""
    desk = desk_of(request)
    return page(request, template, status=status, job=job, stages=STAGES, stage=stage, section=section_svg(request, job), currency=desk.card.currency, **what)
