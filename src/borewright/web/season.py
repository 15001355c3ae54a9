"""The season page: what to hold in reserve, how the odds told came true, which way of picking does well, and the pace learned."""

from __future__ import annotations

import logging
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from borewright.errors import BadInput, BorewrightError
from borewright.web.fields import Field, Filled, Form
from borewright.web.present import desk_of, page

__all__ = ["SeasonRun", "router"]

router = APIRouter(include_in_schema=False)

FORM = Form("season", "The season", "Work it out", (
    Field("jobs", "Jobs in a season", "whole", True, "1 to 1000", default="30"),
    Field("correlation", "Luck that the jobs share", "number", True, "0: each its own; 1: one luck for all. 0.3 is our own choice", default="0.3"),
    Field("ruin", "Chance that the reserve runs out", "number", True, "A fraction", "0.05", default="0.05"),
))
PATIENCE = 0.8  # s that a page waits for the answer before it shows how far it is


@dataclass(slots=True)
class _Work:
    done: float = 0.0
    doing: str = "the job books"
    answer: Any = None
    trouble: str = ""
    wrong: BadInput | None = None
    over: threading.Event = field(default_factory=threading.Event)


class SeasonRun:
    """One season at a time, in the background; the last answers are kept until an entry is added to any job."""

    KEPT = 8

    def __init__(self) -> None:
        self._works: dict[tuple[Any, ...], _Work] = {}
        self._lock = threading.Lock()
        self._one = threading.Lock()

    def work(self, desk: Any, jobs: int, correlation: float, ruin: float) -> _Work:
        """Return the work for these inputs on the book as it stands, begun if it is new."""
        today = datetime.now(UTC).astimezone().date()
        key = (jobs, correlation, ruin, today, sum(line.entries for line in desk.book.jobs()))
        with self._lock:
            if key not in self._works:
                while len(self._works) >= self.KEPT:
                    self._works.pop(next(iter(self._works)))
                self._works[key] = _Work()
                threading.Thread(target=self._run, args=(self._works[key], desk.book, *key[:4]), daemon=True, name="season").start()
            return self._works[key]

    def _run(self, work: _Work, book: Any, jobs: int, correlation: float, ruin: float, today: Any) -> None:
        from borewright.work.season import outlook

        def tell(done: float, doing: str) -> None:
            work.done, work.doing = done, doing

        try:
            with self._one:
                folded = [book.job(line.id) for line in book.jobs()]
                work.answer = outlook(folded, season_jobs=jobs, correlation=correlation, ruin_allowed=ruin, today=today, progress=tell)
        except BadInput as error:
            work.wrong = error
        except BorewrightError as error:
            work.trouble = str(error)
        except Exception:
            logging.getLogger(__name__).exception("the season stopped")
            work.trouble = "The season stopped on a fault of the program; its log says more."
        finally:
            work.over.set()


_FIELDS = {"jobs": "jobs", "correlation": "correlation", "ruin_allowed": "ruin"}


def _run_of(request: Request) -> SeasonRun:
    state = request.app.state
    if not hasattr(state, "season"):
        state.season = SeasonRun()
    return state.season


@router.get("/season")
def season(request: Request) -> Response:
    """The season with the inputs of the query; how far it is while it is being worked out."""
    desk = desk_of(request)
    given: Mapping[str, str] = {f.name: request.query_params.get(f.name, f.default) for f in FORM.fields}
    values, wrong = FORM.read(given, desk.settings.unit_system)
    if not wrong and not 0 < values["ruin"] < 1:
        wrong = {"ruin": BadInput("ruin", given["ruin"], "is not a chance to run a reserve on", "a fraction between 0 and 1, such as 0.05")}
    if wrong:
        return page(request, "season.html", status=422, filled=Filled(FORM, given, wrong), work=None, o=None)
    work = _run_of(request).work(desk, values["jobs"], values["correlation"], values["ruin"])
    work.over.wait(PATIENCE)
    if work.wrong is not None:
        wrong = {_FIELDS.get(work.wrong.field, "jobs"): work.wrong}
        return page(request, "season.html", status=422, filled=Filled(FORM, given, wrong), work=None, o=None)
    return page(request, "season.html", filled=Filled(FORM, given), work=work, o=work.answer, pace=_pace(work.answer) if work.answer else [])


def _pace(outlook: Any) -> list[dict[str, Any]]:
    """Return the rows of the pace table: prior and posterior median and the band of the next job [m/s]."""
    from math import exp

    return [{"drilling": b.drilling, "prior": exp(b.prior_mean), "posterior": exp(b.mean), "low": b.rate_quantile(0.1), "high": b.rate_quantile(0.9), "metres": b.metres, "jobs": b.jobs}
            for b in outlook.pace.penetration]
