"""Water wanted in a day against what the bore gives, the tank between, and a pump that the sun drives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Job
from borewright.work.facts import the_hole
from borewright.work.pump import kept_pump, kept_system

if TYPE_CHECKING:
    from borewright.errors import Advisory
    from borewright.storage import JobBook

__all__ = ["tell_demand", "tell_sun"]

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
LITRES = 1000.0


def tell_demand(
    book: JobBook, job_id: UUID, numbers: Mapping[str, float], *, by: str, extra: float = 0.0, dry_days: int = 90, outage_days: int = 3, pumping_hours: float = 18.0,
    dry_yield: float = 1.0, tank: float | None = None, at: datetime | None = None,
) -> Entry:
    """Work out what is wanted in a day, hold it against the rated yield through a dry spell, and write it down.

    Parameters
    ----------
    numbers : mapping
        Of each line of the demand table (`borewright.pumping.demand_items`).
    extra : float
        Other use [m3 a day].
    dry_yield : float
        Share of the rating that is left in the spell.
    tank : float, optional
        The tank that stands there or is thought of, tried day by day [m3].

    Raises
    ------
    BadInput
        Nothing asked for, a line that is not in the table, or a spell that cannot be.
    """
    from borewright.pumping import bore_enough, daily_demand, dry_spell

    job = book.job(job_id)
    demand = daily_demand(numbers, extra=extra)
    if not 1 <= dry_days <= 3660:
        raise BadInput("dry_days", dry_days, "is not a length of a dry spell", "1 to 3660 whole days")
    if outage_days > dry_days:
        raise BadInput("outage_days", outage_days, "is longer than the spell", f"0 to {dry_days} whole days")
    flow = _rated(job)
    lines = [{"name": n, "number": c, "low": low, "high": high} for n, c, low, high in demand.lines if c > 0]
    answer: dict[str, Any] = {"low": demand.low, "high": demand.high, "lines": lines, "sources": list(demand.sources), "dated": demand.dated, "rated_flow": flow}
    wanted = f"{demand.low * LITRES:,.0f} to {demand.high * LITRES:,.0f} L a day"
    if not flow:
        answer |= {"enough": None, "sentence": f"{wanted} are wanted. Whether this bore is enough cannot be said until it is rated."}
        answer["advisories"] = _plain(demand.advisories)
    else:
        found = bore_enough(flow, demand, pumping_hours=pumping_hours, dry_days=dry_days, dry_yield=dry_yield, outage_days=outage_days)
        given = flow * pumping_hours * 3600 * dry_yield
        spell = dry_spell(found.tank, inflow=given, demand=demand.high, days=dry_days, outage=outage_days)
        answer |= {"enough": found.enough, "sentence": found.words, "daily_yield": found.daily_yield, "tank": found.tank, "days_of_demand": found.days_of_demand,
                   "stored": spell.stored.tolist(), "advisories": _plain(found.advisories)}
        if tank is not None:
            tried = dry_spell(tank, inflow=given, demand=demand.high, days=dry_days, outage=outage_days)
            answer["tried"] = {"tank": tank, "stored": tried.stored.tolist(), "days_short": tried.days_short, "lasts": tried.lasts, "short": float(tried.short.sum()),
                               "sentence": _of_tank(tank, tried.days_short, tried.lasts, dry_days)}
    body = {"numbers": {n: float(v) for n, v in numbers.items() if v > 0}, "extra": extra, "dry_days": dry_days, "outage_days": outage_days, "pumping_time": 3600.0 * pumping_hours,
            "dry_yield": dry_yield, "answer": answer}
    return book.write(job_id, "pump.demand", body | ({} if tank is None else {"tank": tank}), by=by, at=at)


def _rated(job: Job) -> float | None:
    """Return the rated flow of the bore [m3/s], or None where it has none yet."""
    rated = job.hole.rated if job.hole else None
    return rated.body.flow if rated and rated.body.flow else None


def _of_tank(tank: float, short: int, lasts: int, days: int) -> str:
    if not short:
        return f"A tank of {tank * LITRES:,.0f} L goes through the {days} days at the highest use."
    return f"A tank of {tank * LITRES:,.0f} L is short on {short} of the {days} days at the highest use, first after {lasts}."


def _plain(advisories: Sequence[Advisory]) -> list[dict[str, str]]:
    return [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in advisories]


def tell_sun(
    book: JobBook, job_id: UUID, irradiation: Sequence[float], *, by: str, panel_power: float | None = None, demand: float | None = None, cloudy_days: int = 3,
    losses: float = 0.20, tilt: float | None = None, azimuth: float | None = None, reflectance: float = 0.2, latitude: float | None = None, hole: int | None = None,
    at: datetime | None = None,
) -> Entry:
    """Work out what the chosen pump lifts by the sun in a day of each month, and write it down.

    Parameters
    ----------
    irradiation : twelve floats
        In a mean day of each month, January first [J/m2]: on the plane of the panels, or on the flat where a tilt is given.
    panel_power : float, optional
        Rated [W]; without it the least that lifts the demand in the worst month.
    demand : float, optional
        In a day [m3]; that of the job where not given: the high figure of what is wanted, or the need's volume.
    cloudy_days : int
        That the tank is to carry with no sun.
    tilt, azimuth : float, optional
        How the panels stand: from flat, and the true bearing that they face, the equator where not given [degrees]; the table is then of the flat.
    reflectance : float
        Of the ground before the panels, used with a tilt.
    latitude : float, optional
        Of the bore's place where not given [degrees].

    Raises
    ------
    BadInput
        No pump was chosen by its curve, no place is known, no demand to size panels by, or a table that cannot be.
    Refused
        The curve has no efficiency, or no panel is large enough.
    """
    from borewright.pumping import on_the_plane, panel_for, solar_yield
    from borewright.work.facts import place_of

    job = book.job(job_id)
    logged = the_hole(job, hole)
    if logged.pump is None or not logged.pump.body.duty:
        raise BadInput("pump", None, "is not chosen for this bore", "a pump chosen by its curve first (stage: pump)")
    if not 0 <= cloudy_days <= 60:
        raise BadInput("cloudy_days", cloudy_days, "are not days that a tank carries", "0 to 60 whole days")
    duty = logged.pump.body.duty
    pump, system = kept_pump(duty), kept_system(duty, logged)
    if latitude is None:
        latitude, _ = place_of(job)
    flat, plane = None, None
    if tilt is not None:
        flat = [float(v) for v in irradiation]
        plane = on_the_plane(flat, latitude=latitude, tilt=tilt, azimuth=azimuth, reflectance=reflectance)
        irradiation = [float(v) for v in plane.daily]
    elif azimuth is not None:
        raise BadInput("tilt", None, "is missing beside the bearing", "how far from flat the panels stand, in degrees, with the sun on the flat")
    wanted = demand if demand is not None else _wanted(job)
    if panel_power is None:
        if not wanted:
            raise BadInput("demand", None, "is not known, so panels cannot be sized", "litres a day, or the panels' power")
        found = panel_for(pump, system, demand=wanted, irradiation=irradiation, latitude=latitude, losses=losses)
    else:
        found = solar_yield(pump, system, panel_power=panel_power, irradiation=irradiation, latitude=latitude, losses=losses)
    daily = [float(v) for v in found.daily]
    worst = MONTHS[found.worst_month - 1]
    least = min(daily)
    said = f"Panels of {found.panel_power:,.0f} W lift {least * LITRES:,.0f} L on a mean day of {worst}, the worst month, and {max(daily) * LITRES:,.0f} L in the best."
    short = [MONTHS[i] for i, v in enumerate(daily) if wanted and v < wanted * (1 - 1e-9)]
    if wanted:
        said += f" {wanted * LITRES:,.0f} L a day are wanted" + (f", which they do not lift in {', '.join(short)}." if short else ", which they lift in every month.")
        if cloudy_days:
            said += f" A tank of {wanted * cloudy_days * LITRES:,.0f} L carries {cloudy_days} days without sun."
    rated = logged.rated.body.flow if logged.rated else None
    advisories = _plain((*(plane.advisories if plane else ()), *found.advisories))
    if rated and found.full_flow > rated * 1.02:
        advisories.append({"code": "above-rated-yield", "severity": "doubt", "where": "pump", "message": f"In full sun the pump takes {found.full_flow * LITRES:.2f} L/s where the bore is rated "
                           f"{rated * LITRES:.2f} L/s: hold it back, or fit a low-level cut-out."})
    answer = {"sentence": said, "daily": daily, "worst_month": found.worst_month, "panel_power": found.panel_power, "full_flow": found.full_flow, "wanted": wanted, "short_months": short,
              "cloudy_days": cloudy_days, "tank": wanted * cloudy_days if wanted else None, "latitude": latitude, "losses": losses, "advisories": advisories}
    if plane is not None:
        answer |= {"plane": f"{plane.tilt:g}° from flat, facing {plane.azimuth:g}°", "reflectance": reflectance, "clearness": plane.clearness.tolist(), "diffuse": plane.diffuse.tolist()}
    body = {"hole": logged.number, "irradiation": [float(v) for v in irradiation], "answer": answer}
    if plane is not None:
        body |= {"horizontal": flat, "tilt": plane.tilt, "azimuth": plane.azimuth}
    return book.write(job_id, "pump.sun", body | ({} if panel_power is None else {"panel_power": panel_power}), by=by, at=at)


def _wanted(job: Job) -> float | None:
    """Return the water wanted in a day [m3]: by the lines of the demand table where they were asked, else as the need says."""
    if job.demand is not None and job.demand.body.answer.get("high"):
        return float(job.demand.body.answer["high"])
    return job.need.body.daily_volume if job.need else None
