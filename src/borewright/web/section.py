"""The living section of a job as inline SVG for a page, kept until the job or the size changes."""

from __future__ import annotations

from typing import Any

from fastapi import Request
from markupsafe import Markup

from borewright.web.present import desk_of

__all__ = ["job_section", "section_svg"]

_KEPT: dict[tuple[Any, ...], str] = {}
WIDE, TALL = 380.0, 610.0  # drawn smaller than it is shown on a desk, so that its words are big enough to read


def section_svg(request: Request, job: Any) -> Markup:
    """Return the drawing that a job page keeps in view."""
    return Markup(job_section(job, width=WIDE, height=TALL, units=desk_of(request).settings.unit_system))


def job_section(job: Any, *, width: float, height: float, units: str) -> str:
    """Return the living section with the last told ground, the last design and the last stop rule in it."""
    from borewright.drawing import living_section, section_of

    key = (job.id, len(job.history), width, height, units)
    if key not in _KEPT:
        told = [f.body.answer for f in job.odds if f.body.answer.get("column")]
        rule = job.quote.body.content.get("table") if job.quote else None
        section = section_of(
            job, expected=told[-1]["column"] if told else None, design=dict(job.design.body.design) if job.design else None, policy_table=rule,
        )
        if len(_KEPT) >= 128:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[key] = living_section(section, width=width, height=height, medium="page", units=units)
    return _KEPT[key]
