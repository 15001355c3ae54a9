"""Designing the bore before and after drilling, and sealing a hole that failed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Job
from borewright.work.designing import catalogue_of, design_settings
from borewright.work.facts import last_ground_answer, need_of, the_hole

if TYPE_CHECKING:
    from borewright.construction import BoreDesign, DesignSettings
    from borewright.storage import JobBook

__all__ = ["bits_of", "casing_bodies", "design_expected", "design_logged", "keep_design", "place_conductor", "place_design",
           "plan_expected", "plan_logged", "plan_sealing", "seal_failed"]


def _ground_of(hole: Hole) -> list[dict[str, Any]]:
    return [{"from_depth": f.body.from_depth, "to_depth": f.body.to_depth, "ground_class": f.body.ground_class, "words": f.body.words} for f in hole.ground]


def _strikes_of(hole: Hole) -> list[tuple[float, float]]:
    return [(depth, flow if flow is not None else 0.0) for depth, flow in hole.strike_yields()]


def plan_expected(book: JobBook, job: Job, *, settings: DesignSettings | None = None, total_depth: float | None = None) -> BoreDesign:
    """Return the design from the odds and the expected column, before a metre is drilled; nothing is written."""
    from borewright.construction import design_from_expected
    from borewright.siting import column_from_dict, prospect_from_dict

    answer = last_ground_answer(job)
    return design_from_expected(
        prospect_from_dict(answer["prospect"]), column_from_dict(answer["column"]), need=need_of(job).flow, total_depth=total_depth,
        static_level=_told_level(answer), settings=settings or design_settings(book.folder), catalogue=catalogue_of(book.folder),
    )


def design_expected(
    book: JobBook, job_id: UUID, *, by: str, settings: DesignSettings | None = None, total_depth: float | None = None, at: datetime | None = None,
) -> Entry:
    """Design the bore from the odds and the expected column, and write it down."""
    design = plan_expected(book, book.job(job_id), settings=settings, total_depth=total_depth)
    return keep_design(book, job_id, design, basis="expected", by=by, at=at)


def _told_level(answer: dict[str, Any]) -> float | None:
    level = answer.get("odds", {}).get("static_level")
    if isinstance(level, dict):
        level = level.get("p50", level.get("middle", level.get("mean")))
    return float(level) if isinstance(level, (int, float)) else None


def plan_logged(
    book: JobBook, job: Job, *, settings: DesignSettings | None = None, hole: int | None = None, pumping_level: float | None = None,
) -> BoreDesign:
    """Return the design from what was logged in the hole; nothing is written.

    Raises
    ------
    BadInput
        No ground logged, no strike logged, no static level, or no need.
    """
    from borewright.construction import design_from_log

    logged = the_hole(job, hole)
    if not logged.ground:
        raise BadInput("ground", None, "is not logged in this hole", "the ground by depth, from the rig page")
    if not logged.strikes:
        raise BadInput("strikes", None, "are not logged in this hole", "the depth of each strike; a hole with none is sealed, not cased")
    level = logged.static_level
    if level is None:
        raise BadInput("static level", None, "is not dipped in this hole", "the depth to water at rest, from the rig page")
    drilled = {"hole": bits_of(logged)} if logged.bits else {}
    conductor = next((f.body for f in logged.casings if f.body.string == "conductor" and f.body.wall), None)
    if conductor is not None:
        drilled["conductor"] = {key: getattr(conductor, key) for key in ("from_depth", "to_depth", "outside_diameter", "wall", "material")}
    return design_from_log(
        _ground_of(logged), _strikes_of(logged), total_depth=logged.depth,
        static_level=level, pumping_level=pumping_level, need=need_of(job).flow, settings=settings or design_settings(book.folder),
        catalogue=catalogue_of(book.folder), **drilled,
    )


def design_logged(
    book: JobBook, job_id: UUID, *, by: str, settings: DesignSettings | None = None, hole: int | None = None, pumping_level: float | None = None,
    at: datetime | None = None,
) -> Entry:
    """Design the bore from what was logged in the hole, and write it down; BadInput as in `plan_logged`."""
    design = plan_logged(book, book.job(job_id), settings=settings, hole=hole, pumping_level=pumping_level)
    return keep_design(book, job_id, design, basis="logged", by=by, at=at)


def keep_design(book: JobBook, job_id: UUID, design: BoreDesign, *, basis: str, by: str, at: datetime | None = None) -> Entry:
    """Write a design down; `basis` is "expected", "logged" or "by hand"."""
    from borewright.construction import design_as_dict

    return book.write(job_id, "bore.design", {"basis": basis, "design": design_as_dict(design)}, by=by, at=at)


def place_design(
    book: JobBook, job_id: UUID, *, by: str, hole: int = 1, leave_out: Sequence[str] = (), at: datetime | None = None,
) -> list[Entry]:
    """Write into the log that the design last made was built as drawn: each string run, each thing placed in the annulus.

    `leave_out` names strings that were run earlier ("conductor"); their annulus is left out with them.
    """
    job = book.job(job_id)
    if job.design is None:
        raise BadInput("design", None, "is not made on this job", "a design first")
    design = job.design.body.design
    what: list[tuple[str, dict[str, Any]]] = []
    for string in design["strings"]:
        if string["string"] in leave_out:
            continue
        what += [("rig.casing", body | {"hole": hole}) for body in casing_bodies(string, aperture=_aperture_of(design))]
    for piece in design["annulus"]:
        if piece["what"] == "open" or piece.get("string") in leave_out:
            continue
        body = {key: piece[key] for key in ("what", "from_depth", "to_depth", "material", "volume", "bags") if piece.get(key) is not None}
        what.append(("rig.annulus", body | {"hole": hole}))
    return book.write_all(job_id, what, by=by, at=at)


def _aperture_of(design: dict[str, Any]) -> float | None:
    return next((s["aperture"] for s in design["slots"] if s.get("aperture")), None)


def casing_bodies(string: dict[str, Any], *, aperture: float | None = None) -> list[dict[str, Any]]:
    """Return the log's casing bodies of one string of a design: blank above, slotted, blank sump below."""
    top, end = string["from_depth"], string["to_depth"]
    slotted_from, slotted_to = string.get("slotted_from"), string.get("slotted_to")
    common = {"string": string["string"], "outside_diameter": string["outside_diameter"], "wall": string["wall"], "material": string["material"]}
    top = max(top, 0.0)  # the stick-up stands above ground; the log counts from ground level
    if slotted_from is None or slotted_to is None:
        return [common | {"from_depth": top, "to_depth": end}]
    pieces = [(top, slotted_from, False), (slotted_from, slotted_to, True), (slotted_to, end, False)]
    width = {"aperture": aperture} if aperture else {}
    return [common | {"from_depth": a, "to_depth": b} | ({"slotted": True} | width if slotted else {}) for a, b, slotted in pieces if b > a + 1e-6]


def plan_sealing(job: Job, number: int | None = None, **choices: Any) -> dict[str, Any]:
    """Return how to seal a hole of the job: materials by interval, volumes, bags, cautions; `choices` as `construction.seal_hole` takes them."""
    from borewright.construction import seal_hole, sealing_as_dict

    hole = the_hole(job, number)
    if hole.depth <= 0:
        raise BadInput("hole", hole.number, "is not drilled yet", "a hole with a depth")
    foot = max((f.body.to_depth for f in hole.casings), default=None)
    return sealing_as_dict(seal_hole(
        _ground_of(hole), _strikes_of(hole), hole=bits_of(hole) or [(0.0, hole.depth, 0.165)], water_level=hole.static_level, casing_foot=foot, **choices,
    ))


def bits_of(hole: Hole) -> list[tuple[float, float, float]]:
    """Return (from, to, diameter) [m] of the hole as drilled, from the bits that were put on."""
    bits = sorted((f.body for f in hole.bits), key=lambda b: b.from_depth)
    ends = [b.from_depth for b in bits[1:]] + [hole.depth]
    return [(b.from_depth, end, b.diameter) for b, end in zip(bits, ends, strict=True) if end > b.from_depth]


def seal_failed(
    book: JobBook, job_id: UUID, *, by: str, reason: str, hole: int | None = None, at: datetime | None = None, **choices: Any,
) -> Entry:
    """Write into the log that a hole was sealed as planned; `choices` as in `plan_sealing`."""
    job = book.job(job_id)
    plan = plan_sealing(job, hole, **choices)
    intervals = [
        {key: row[key] for key in ("from_depth", "to_depth", "material", "bags", "volume") if row.get(key) is not None} for row in plan["intervals"]
    ]
    return book.write(job_id, "rig.sealed_off", {"hole": the_hole(job, hole).number, "intervals": intervals, "reason": reason}, by=by, at=at)


def place_conductor(book: JobBook, job_id: UUID, *, to_depth: float, by: str, hole: int = 1, at: datetime | None = None) -> list[Entry]:
    """Write into the log that the conductor of the design last made was run and grouted, at the depth that the ground asked for.

    The design gives the pipe and the grout; the rig gives the depth. Grout is scaled by the length that was really grouted.
    """
    job = book.job(job_id)
    strings = [s for s in (job.design.body.design["strings"] if job.design else []) if s["string"] == "conductor"]
    if not strings:
        raise BadInput("design", None, "has no conductor", "a design with a conductor first")
    string = strings[0]
    what = [("rig.casing", body | {"hole": hole}) for body in casing_bodies(string | {"to_depth": to_depth, "slotted_from": None, "slotted_to": None})]
    for piece in job.design.body.design["annulus"]:
        if piece["what"] == "grout" and piece.get("string", "conductor") == "conductor" and piece["from_depth"] < string["to_depth"]:
            share = to_depth / string["to_depth"]
            body = {"what": "grout", "from_depth": max(piece["from_depth"], 0.0), "to_depth": to_depth, "material": piece["material"], "hole": hole}
            if piece.get("volume"):
                body["volume"] = piece["volume"] * share
            if piece.get("bags"):
                body["bags"] = float(int(piece["bags"] * share + 0.999))
            what.append(("rig.annulus", body))
            break
    return book.write_all(job_id, what, by=by, at=at)
