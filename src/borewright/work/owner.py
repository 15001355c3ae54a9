"""The years after handover: readings and services written down, what their trend says, and a warning before the water falls to the intake."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, tzinfo
from statistics import median
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Job

if TYPE_CHECKING:
    from borewright.errors import Advisory
    from borewright.storage import JobBook
    from borewright.water import Step, Trend

__all__ = ["COVER", "Energy", "History", "Intake", "Series", "history", "reading_of", "write_reading", "write_service"]

COVER = 1.0  # m of water to keep over the intake (common practice, no source)
LEAST_TREND, LEAST_STEP = 5, 8
KWH_PER_KL = 3.6e6  # J/m3
SOON = 10 * 365.25 * 86400.0  # s: what is further off is not foreseen from a line


@dataclass(frozen=True, slots=True)
class Series:
    """One thing over the years: a day's median reading at each day [SI], its trend, its likeliest step if chance would not give it.

    `line` holds the trend's value at the first and the last day.
    """

    name: str
    kind: str
    days: tuple[date, ...]
    values: tuple[float, ...]
    trend: Trend | None = None
    step: Step | None = None
    line: tuple[float, float] | None = None
    advisories: tuple[Advisory, ...] = ()


@dataclass(frozen=True, slots=True)
class Intake:
    """The pumping level against the intake: `state` is "unknown", "clear", "near" (within ten years at the steep end of the doubt) or "reached".

    `limit` is the intake less the cover kept over it, `last` the last pumping level [m]; `likely` and `earliest` seconds from now, None for never.
    """

    state: str
    limit: float | None = None
    last: float | None = None
    likely: float | None = None
    earliest: float | None = None
    lacking: int = 0


@dataclass(frozen=True, slots=True)
class Energy:
    """What a volume takes now against what the pump was chosen for, both [J/m3]; `chosen` is None where that was not worked out."""

    last: float
    chosen: float | None

    @property
    def over(self) -> float | None:
        """By which share it takes more than it was chosen for; below nought for less."""
        return None if not self.chosen else self.last / self.chosen - 1


@dataclass(frozen=True, slots=True)
class History:
    """What the owner's page shows of a hole besides what was built."""

    series: tuple[Series, ...]
    intake: Intake
    services: tuple[Any, ...] = field(default=())
    energy: Energy | None = None


def _seconds(day: date) -> float:
    return float((day - date(2000, 1, 1)).days) * 86400.0


def _series(name: str, kind: str, readings: list[tuple[date, float]], advisories: tuple[Advisory, ...] = ()) -> Series:
    from borewright.water import step_change, trend

    by_day: dict[date, list[float]] = defaultdict(list)
    for day, value in readings:
        by_day[day].append(value)
    days = tuple(sorted(by_day))
    values = tuple(float(median(by_day[day])) for day in days)
    found = trend([_seconds(d) for d in days], values) if len(days) >= LEAST_TREND else None
    step = step_change(values) if len(days) >= LEAST_STEP else None
    line = tuple(found.level + found.slope * _seconds(d) for d in (days[0], days[-1])) if found else None
    return Series(name, kind, days, values, found, step if step and step.p_value <= 0.05 else None, line, advisories)


def _conductivities(hole: Hole) -> list[tuple[date, float]]:
    found = [(f.entry.at.date(), f.body.conductivity) for f in (*hole.samples, *hole.readings) if f.body.conductivity is not None]
    for fact in hole.analyses:
        try:
            day = date.fromisoformat(fact.body.sampled_on)
        except ValueError:
            day = fact.entry.at.date()
        found += [(day, v.value) for v in fact.body.values if v.name.lower() in ("conductivity", "ec") and v.unit in ("uS/cm", "µS/cm") and not v.below_detection]
    return found


def _energies(hole: Hole) -> tuple[list[tuple[date, float]], tuple[Advisory, ...]]:
    """Return the electricity for each volume lifted [J/m3] by day: between meter readings where both meters were read, else power over flow."""
    from borewright.pumping import metered_use

    both = sorted((f for f in hole.readings if f.body.electricity_meter is not None and f.body.water_meter is not None), key=lambda f: f.entry.at)
    uses, advisories = metered_use([f.body.electricity_meter for f in both], [f.body.water_meter for f in both]) if both else ((), ())
    found = {both[use.until].entry.at.date(): use.per_volume for use in uses}
    for fact in hole.readings:
        if fact.body.electric_power and fact.body.flow:
            found.setdefault(fact.entry.at.date(), fact.body.electric_power / fact.body.flow)
    return sorted(found.items()), advisories


def history(job: Job, *, now: date, hole: Hole | None = None) -> History | None:
    """Return the years of a hole, the last by default; None where nothing was drilled.

    Levels at rest are those dipped in the hole and those read since; pumping levels and flows only those read since it was handed over, because
    a log's flows belong to the depth drilled that day.
    """
    hole = hole or job.hole
    if hole is None:
        return None
    day = lambda fact: fact.entry.at.date()
    rest = [(day(f), f.body.depth_to_water) for f in hole.levels if f.body.state == "static"]
    rest += [(day(f), f.body.static_level) for f in hole.readings if f.body.static_level is not None]
    pumping = [(day(f), f.body.pumping_level) for f in hole.readings if f.body.pumping_level is not None]
    flows = [(day(f), f.body.flow) for f in hole.readings if f.body.flow is not None]
    energies, meters = _energies(hole)
    made = (_series("Water at rest, below ground", "level", rest), _series("Water while pumping, below ground", "level", pumping),
            _series("Flow", "flow", flows), _series("Conductivity at 25 °C", "conductivity", _conductivities(hole)),
            _series("Electricity for the water lifted", "energy_per_volume", energies, meters))
    return History(tuple(s for s in made if s.days), _intake(hole, made[1], now), tuple(sorted(hole.services, key=lambda f: f.body.date, reverse=True)), _energy(hole, made[-1]))


def _energy(hole: Hole, read: Series) -> Energy | None:
    if not read.values:
        return None
    chosen = hole.pump.body.duty.get("energy_kwh_per_kl") if hole.pump else None
    return Energy(read.values[-1], chosen * KWH_PER_KL if chosen else None)


def _intake(hole: Hole, pumping: Series, now: date) -> Intake:
    from borewright.water import meets

    depth = hole.pump.body.intake_depth if hole.pump else None
    if depth is None:
        return Intake("unknown")
    limit = depth - COVER
    last = pumping.values[-1] if pumping.values else None
    if last is not None and last >= limit:
        return Intake("reached", limit, last, 0.0, 0.0)
    if pumping.trend is None:
        return Intake("unknown", limit, last, lacking=LEAST_TREND - len(pumping.days))
    # The line may stand above the last reading; what was read last is then where the water starts from.
    behind = max(0.0, last - pumping.line[1])
    likely, earliest = meets(pumping.trend, limit - behind, now=_seconds(now))
    # A slope that chance alone would give is no forecast; its steep end is still told when it is near.
    if pumping.trend.p_value > 0.05:
        likely = None
    near = earliest is not None and earliest <= SOON and (pumping.trend.p_value <= 0.05 or earliest == 0.0)
    return Intake("near" if near else "clear", limit, last, likely, earliest)


def _moment(on: str, zone: tzinfo, now: datetime) -> datetime:
    """Return noon of a day, or this moment for today; raise BadInput for what is no day or is still to come."""
    today = now.astimezone(zone).date()
    if not on.strip():
        return now
    try:
        day = date.fromisoformat(on.strip())
    except ValueError:
        raise BadInput("date", on, "is not a day", "a date such as 2026-03-02") from None
    if day > today:
        raise BadInput("date", on, "is still to come", f"{today.isoformat()} or earlier")
    if day.year < 1900:
        raise BadInput("date", on, "is not in the life of a bore", "a year from 1900")
    return now if day == today else datetime.combine(day, time(12), zone)


def reading_of(
    *, on: str = "", hole: int = 1, static_level: float | None = None, pumping_level: float | None = None, flow: float | None = None, conductivity: float | None = None,
    electricity_meter: float | None = None, water_meter: float | None = None, electric_power: float | None = None, note: str = "", typed: dict[str, str] | None = None,
    zone: tzinfo = UTC, now: datetime | None = None,
) -> tuple[datetime, dict[str, Any]]:
    """Return when a reading was taken and its body; meters are what they stood at [J], [m3], power [W]. Raises as `write_reading`."""
    if static_level is not None and pumping_level is not None and pumping_level < static_level:
        raise BadInput("pumping_level", pumping_level, "lies above the level at rest", f"a depth of {static_level:g} m or more")
    if electric_power is not None and flow is None:
        raise BadInput("electric_power", electric_power, "says nothing without the flow of the same day", "the flow beside it, or both meters")
    body = {"hole": hole, "static_level": static_level, "pumping_level": pumping_level, "flow": flow, "conductivity": conductivity, "electricity_meter": electricity_meter,
            "water_meter": water_meter, "electric_power": electric_power}
    body = {k: v for k, v in body.items() if v is not None} | ({"note": note} if note else {}) | ({"typed": typed} if typed else {})
    return _moment(on, zone, now or datetime.now(UTC)), body


def write_reading(book: JobBook, job_id: UUID, *, by: str, hole: int = 1, **read: Any) -> Entry:
    """Write down what was read off a working bore on a day, today when none is named; what may be read, see `reading_of`.

    Raises
    ------
    BadInput
        No reading at all, a day to come, a hole that was not drilled, a pumping level above the level at rest, or power without a flow.
    """
    _drilled(book, job_id, hole)
    moment, body = reading_of(hole=hole, **read)
    return book.write(job_id, "pump.reading", body, by=by, at=moment)


def write_service(
    book: JobBook, job_id: UUID, *, by: str, what: str, on: str = "", who: str = "", hole: int = 1, zone: tzinfo = UTC, now: datetime | None = None,
) -> Entry:
    """Write down a service; raises as `write_reading`."""
    _drilled(book, job_id, hole)
    if not what.strip():
        raise BadInput("what", what, "is empty", "what was done, such as pump lifted, impellers renewed")
    moment = _moment(on, zone, now or datetime.now(UTC))
    return book.write(job_id, "pump.serviced", {"hole": hole, "date": moment.astimezone(zone).date().isoformat(), "what": what.strip(), "by": who.strip() or by}, by=by, at=moment)


def _drilled(book: JobBook, job_id: UUID, hole: int) -> None:
    known = sorted(book.job(job_id).holes)
    if hole not in known:
        raise BadInput("hole", hole, "was not drilled", "one of " + ", ".join(map(str, known)) if known else "a hole in the log first")
