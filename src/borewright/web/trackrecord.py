"""The track record of a register: how right its odds were at bores held out, and how each way of picking a spot did by them."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from borewright.web.background import Work, background_of
from borewright.web.fields import Field, Filled, Form
from borewright.web.present import desk_of, page

__all__ = ["begin_first_record", "router"]

router = APIRouter(include_in_schema=False)

FORM = Form("record", "What counts as enough", "Hold bores out and see", (Field("need", "How much water is enough", "flow", True, "Say the unit", "15 L/min", default="15 L/min"),))
_FOLDS = 5


def _task(desk: Any, name: str, need: float, tell: Any) -> Any:
    from borewright.siting import open_register, prove

    tell(0.0, "opening the register")
    turn = [0]

    def step(words: str) -> None:
        tell(turn[0] / _FOLDS, words)
        turn[0] += 1

    return prove(open_register(name, desk.registers), need=need, folds=_FOLDS, boosting=True, progress=step)


def begin_first_record(request: Request, name: str) -> None:
    """Begin, in the background, the track record of a register that was just loaded: its odds then say how far to trust them."""
    from borewright.work.trackrecord import first_record

    desk = desk_of(request)
    loaded = (desk.registers / name / "about.json").stat().st_mtime_ns
    background_of(request).work(("first record", name, loaded), lambda tell: first_record(name, desk.registers, progress=lambda words: tell(0.0, words)), patience=0.0)


def _picks(desk: Any, name: str) -> tuple[Any, ...]:
    """Return the record of each way of picking, over the finished jobs whose odds were told from this register."""
    import numpy as np

    from borewright.siting import pick_record
    from borewright.work.learning import told_and_found

    jobs = (desk.book.job(line.id) for line in desk.book.jobs())
    told = [t for t in told_and_found(jobs) if t.job.odds[-1].body.register_name == name]
    return pick_record([t.way_of_picking for t in told], np.array([t.odds for t in told], float), np.array([t.found for t in told], bool)) if told else ()


@router.get("/registers/{name}/record")
def record(request: Request, name: str) -> Response:
    """The form; where a need is given, the scores and the diagram, worked out in the background."""
    from borewright.siting import divining_trials, open_register
    from borewright.siting.register import check_name

    desk = desk_of(request)
    about = desk.registers / check_name(name) / "about.json"
    if not about.is_file():
        open_register(name, desk.registers)  # says what registers there are
    given = {k: v for k, v in request.query_params.items() if v.strip()}
    values, wrong = FORM.read(given, desk.settings.unit_system) if given else ({}, {})
    work: Work | None = None
    if values.get("need") and not wrong:
        key = ("record", name, about.stat().st_mtime_ns, values["need"])
        work = background_of(request).work(key, lambda tell: _task(desk, name, values["need"], tell))
    failed = work is not None and work.over.is_set() and work.answer is None
    if failed and work.wrong:
        wrong = {"need": work.wrong}
    filled = Filled(FORM, given or {f.name: f.default for f in FORM.fields}, wrong, other=work.trouble if failed else "")
    proof = work.answer if work else None
    trials, about_trials = divining_trials()
    return page(request, "register_record.html", status=422 if wrong or failed else 200, name=name, filled=filled, work=work, proof=proof, figure=_figure(proof),
                picks=_picks(desk, name), trials=trials, about_trials=about_trials)


def _figure(proof: Any) -> Markup:
    from borewright.drawing.charts import reliability_chart

    if proof is None:
        return Markup("")
    return Markup(reliability_chart([(b.told, b.found, b.found_low, b.found_high, b.count) for b in proof.reliability], width=370.0, height=300.0))
