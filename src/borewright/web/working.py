"""What a form's act takes longer than a page may wait: done in a thread, a page meanwhile that looks again by itself, trouble told at the end."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from borewright.errors import BorewrightError, NotFound
from borewright.web.background import Background
from borewright.web.formparts import job_page
from borewright.web.jobs import job_id
from borewright.web.present import desk_of

__all__ = ["done_or_waiting", "router"]

router = APIRouter(include_in_schema=False)
PATIENCE = 1.5  # that the answer to a form waits before the page that looks again is shown [s]


def done_or_waiting(request: Request, job: UUID, stage: str, title: str, task: Callable[[], Any]) -> Response | None:
    """Return None once the task is done, or the way to the page that waits for it. Raises what the task raises while it is waited for."""
    state = request.app.state
    if not hasattr(state, "working"):
        state.working, state.working_at = Background(), {}
    number = str(uuid4())
    work = state.working.work(number, lambda tell: task(), patience=PATIENCE)
    if not work.over.is_set():
        state.working_at[number] = (job, stage, title, work)
        while len(state.working_at) > Background.KEPT:
            state.working_at.pop(next(iter(state.working_at)))
        return RedirectResponse(f"/jobs/{job}/working/{number}", status_code=303)
    if work.wrong is not None:
        raise work.wrong
    if work.trouble:
        raise BorewrightError(work.trouble)
    return None


@router.get("/jobs/{job}/working/{number}")
def waiting(request: Request, job: str, number: str) -> Response:
    """The page that waits for an act; from there to the stage, with what went wrong."""
    which, stage, title, work = getattr(request.app.state, "working_at", {}).get(number, (None, "", "", None))
    if which is None or which != job_id(job):
        raise NotFound("That is not being worked out. Look at the job: it may be done.")
    if not work.over.is_set():
        return job_page(request, desk_of(request).book.job(which), "stage_working.html", stage, title=title)
    if work.wrong is not None or work.trouble:
        request.app.state.told[str(which)] = f"{title}: {work.wrong or work.trouble}"
    return RedirectResponse(f"/jobs/{which}/{stage}", status_code=303)
