"""What a stage shows of a job: its standing entries, and the results that were told, cut to what a page needs."""

from __future__ import annotations

from typing import Any

from borewright.errors import BorewrightError
from borewright.web.acts import Desk
from borewright.web.figures import odds_figure, rating_figure, run_figure

__all__ = ["stage_view"]

_KINDS = {"enquiry": "enquiry.", "ground": "ground.", "quote": "quote.", "bore": "bore.", "rig": "rig.", "test": "test.", "pump": "pump.",
          "water": "water.", "papers": "papers."}
_SHOWN_AS_RESULTS = {"ground.odds", "quote.issued", "bore.design", "test.fitted", "test.rated", "pump.chosen"}


def stage_view(desk: Desk, job: Any, stage: str) -> dict[str, Any]:
    """Return {"entries", and what the stage's own template names}."""
    standing = [entry for entry, striker in job.history if striker is None and entry.kind.startswith(_KINDS[stage])]
    view: dict[str, Any] = {
        "entries": [e for e in reversed(standing) if e.kind not in _SHOWN_AS_RESULTS or e.kind == "pump.chosen"], "total": len(standing),
    }
    maker = {"ground": _ground, "quote": _quote, "bore": _bore, "rig": _rig, "test": _test, "pump": _pump, "water": _water, "papers": _papers}.get(stage)
    return view | (maker(desk, job) if maker else {})


def _units(desk: Desk) -> str:
    return desk.settings.unit_system


def _ground(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.web.registers import known_registers

    told = job.odds[-1] if job.odds else None
    odds = told.body.answer.get("odds", {}) if told else {}
    rows = [r for r in odds.get("by_depth", []) if isinstance(r, dict)]
    step = max(1, len(rows) // 12)
    drilled = job.hole.depth if job.hole else None
    return {"told": told, "odds": odds, "rows": rows[step - 1::step] if rows else [], "figure": odds_figure(rows, units=_units(desk), drilled=drilled), "registers": [r["name"] for r in known_registers(desk)]}


def _quote(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.web.quotepage import quote_view

    return quote_view(job)


def _bore(desk: Desk, job: Any) -> dict[str, Any]:
    return {"designed": job.design, "design": job.design.body.design if job.design else None}


def _rig(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.record.hours import hours_by_activity
    from borewright.work.onrig import what_now
    from borewright.work.rigpack import air_altitude, air_tables, clearing, kit_of

    hole, advice, trouble = job.hole, None, ""
    kit = kit_of(hole) if hole is not None else None
    air = air_tables([kit], altitude=air_altitude(job)) if kit else None
    if hole is not None:
        try:
            advice = what_now(job)
        except BorewrightError as error:
            trouble = str(error)
    return {"hole": hole, "advice": advice, "trouble": trouble, "holes": sorted(job.holes), "clearing": clearing(job), "air": air, "hours": hours_by_activity(job)}


def _test(desk: Desk, job: Any) -> dict[str, Any]:
    hole, units = job.hole, _units(desk)
    tests = [(test, run_figure(test, units=units)) for test in hole.tests.values()] if hole else []
    rated = hole.rated if hole else None
    return {"tests": tests, "rated": rated, "figure": rating_figure(rated.body.rating, units=units) if rated else ""}


def _pump(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.web.pumping import duty_figure

    pump = job.hole.pump if job.hole else None
    return {"pump": pump, "figure": duty_figure(pump.body.duty, _units(desk)) if pump else "", "currency": desk.card.currency}


def _water(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.web.waterpages import told

    return {"analyses": job.hole.analyses if job.hole else [], "told": lambda fact: told(fact, job.title)}


def _papers(desk: Desk, job: Any) -> dict[str, Any]:
    from borewright.exchange import FORMATS
    from borewright.papers.authority import form_lacks, forms
    from borewright.record.complete import PAPERS, problems

    return {"forms": [(form, form_lacks(job, form, settings=desk.settings)) for form in forms(desk.folder)], "formats": FORMATS, "papers": [(name, problems(job, name)) for name in PAPERS], "issued": list(reversed(job.papers))}
