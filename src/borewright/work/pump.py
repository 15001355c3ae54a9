"""Choosing the pump for a rated bore."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole
from borewright.work.facts import need_of, the_hole

if TYPE_CHECKING:
    from borewright.pumping import PumpCurve
    from borewright.storage import JobBook

__all__ = ["choose"]


def choose(
    book: JobBook, job_id: UUID, *, by: str, pump: PumpCurve | None = None, delivery_pressure: float = 0.0, price_minor: float | None = None,
    hole: int | None = None, at: datetime | None = None,
) -> Entry:
    """Work the duty out over the bore's life and write the pump down; without a curve the best generic (invented) one is taken.

    The pump is sized for the need, or for the rating where the bore cannot give the need.

    Raises
    ------
    BadInput
        The bore is not rated, or no need is stated.
    """
    from borewright.pumping import duty, duty_as_dict

    job = book.job(job_id)
    logged = the_hole(job, hole)
    if logged.rated is None:
        raise BadInput("rating", None, "is not made for this bore", "a rated yield first")
    rating = logged.rated.body
    need = need_of(job).flow
    flow = min(need, rating.flow) if rating.flow else need
    site = job.site.body if job.site else None
    found = duty(
        flow, levels=_levels(rating.rating), lift=(site.lift_to_tank if site and site.lift_to_tank else 0.0), delivery_pressure=delivery_pressure,
        main_length=(site.pipe_run if site and site.pipe_run else 0.0), pump=pump, rated_flow=rating.flow, bore_depth=logged.depth,
        slots_from=_slots_from(logged), casing_inside_diameter=_inside_diameter(logged), price_minor=price_minor,
    )
    table = duty_as_dict(found)
    if rating.flow and rating.flow < need:
        table["advisories"].append({"code": "need-not-met", "severity": "doubt", "where": "pump",
                                    "message": "The bore is rated below the need: the pump is sized for the rating, and a tank must carry the difference."})
    return book.write(job_id, "pump.chosen", _body(logged, table), by=by, at=at)


def _levels(rating: dict[str, Any]) -> dict[str, tuple[list[float], list[float]]]:
    """Return the pumping level as a curve of flow at each moment of the bore's life, as the rating gives it."""
    return {name: (rows["flow"], rows["depth"]) for name, rows in rating["levels"].items()}


def _body(hole: Hole, table: dict[str, Any]) -> dict[str, Any]:
    body = {"hole": hole.number, "name": table["pump"]["name"], "duty": table}
    return body | {"intake_depth": table["intake_depth"]} if table["intake_depth"] is not None else body


def _slots_from(hole: Hole) -> float | None:
    return min((f.body.from_depth for f in hole.casings if f.body.slotted), default=None)


def _inside_diameter(hole: Hole) -> float | None:
    """Return the inside diameter of the production casing where its wall is recorded [m]."""
    runs = [f.body for f in hole.casings if f.body.string == "production" and f.body.wall]
    return min((r.outside_diameter - 2 * r.wall for r in runs), default=None)
