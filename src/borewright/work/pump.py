"""Choosing the pump for a rated bore: the driller's own curve, pipes and supply against the bore as it ages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.record.entries import Entry
from borewright.record.fold import Hole, Job
from borewright.work.facts import need_of, the_hole

if TYPE_CHECKING:
    from borewright.pumping import Duty, Pipe, PumpCurve, System
    from borewright.storage import JobBook

__all__ = ["PipeRun", "choose", "kept_pump", "kept_system"]

DRY = "drier season"
GRAVITY = 9.80665


@dataclass(frozen=True, slots=True)
class PipeRun:
    """One run as it is printed on the pipe: "riser" or "main", lengths [m], class [Pa]; without a length, that of the bore or the site."""

    name: str
    material: str
    outside_diameter: float
    pressure_class: float | None = None
    wall: float | None = None
    length: float | None = None
    fittings: Mapping[str, int] | None = None


def choose(
    book: JobBook, job_id: UUID, *, by: str, pump: PumpCurve | None = None, minimum_flow: float | None = None, delivery_pressure: float = 0.0, tank_height: float | None = None,
    riser: PipeRun | None = None, main: PipeRun | None = None, intake_depth: float | None = None, motor_diameter: float = 0.096, water_from_above: bool = False,
    voltage: float = 230.0, phases: int = 1, cable_length: float | None = None, price_minor: float | None = None, start: str = "direct on line", further_fall: float = 0.0, hours_a_day: float | None = None,
    typed: Mapping[str, str] | None = None, hole: int | None = None, at: datetime | None = None,
) -> Entry:
    """Work the duty out over the bore's life and write the pump down; without a curve the best generic (invented) one is taken.

    The pump is sized for the need, or for the rating where the bore cannot give the need.

    Parameters
    ----------
    minimum_flow : float, optional
        Least flow that the pump's maker allows [m3/s].
    tank_height : float, optional
        From ground to the tank's inlet; the site's rise to the tank where not given [m].
    riser, main : PipeRun, optional
        Polyethylene of class 16 that keeps under 1.5 m/s where not given.
    price_minor : float, optional
        Of a kilowatt-hour in minor units of money.
    start : str
        How the motor is started, one of `borewright.pumping.STARTS`.
    further_fall : float
        Of the level in a drier season than the rating counts, told as a moment of its own [m].
    hours_a_day : float, optional
        That the pump runs, for what it lifts and costs in a day.
    typed : mapping, optional
        The form as it was typed, kept beside the result.

    Raises
    ------
    BadInput
        The bore is not rated, no need is stated, or an input that cannot be.
    """
    from borewright.errors import require, require_non_negative
    from borewright.pumping import duty, duty_as_dict, level_from_table

    job = book.job(job_id)
    logged = the_hole(job, hole)
    if logged.rated is None:
        raise BadInput("rating", None, "is not made for this bore", "a rated yield first")
    require_non_negative(further_fall=further_fall)
    if hours_a_day is not None:
        require(0 < hours_a_day <= 24, "hours_a_day", hours_a_day, "are not hours of a day", "above 0 to 24")
    rating = logged.rated.body
    need = need_of(job).flow
    flow = min(need, rating.flow) if rating.flow else need
    site = job.site.body if job.site else None
    lift = tank_height if tank_height is not None else (site.lift_to_tank if site and site.lift_to_tank else 0.0)
    run = site.pipe_run if site and site.pipe_run else 0.0
    levels: dict[str, Any] = _levels(rating.rating)
    if further_fall > 0 and levels:
        levels[DRY] = level_from_table(*max(levels.values(), key=lambda rows: rows[1][-1]), fall=further_fall)
    if pump is not None and minimum_flow is not None:
        require_non_negative(minimum_flow=minimum_flow)
        pump = replace(pump, minimum_flow=minimum_flow)
    common = {
        "levels": levels, "lift": lift, "delivery_pressure": delivery_pressure, "main_length": run, "pump": pump, "rated_flow": rating.flow, "bore_depth": logged.depth,
        "slots_from": _slots_from(logged), "intake_depth": intake_depth, "casing_inside_diameter": _inside_diameter(logged), "motor_diameter": motor_diameter,
        "water_from_above": water_from_above or _below_slots(logged, intake_depth), "voltage": voltage, "phases": phases, "cable_length": cable_length, "price_minor": price_minor, "start": start,
    }
    if riser is None and main is None:
        found = duty(flow, **common)
    else:
        found = duty(flow, **common, pipes=_pipes(flow, common, riser, main, run, None))
        hung = found.setting.advised if found.setting else None
        if hung and intake_depth is None and abs(hung - found.pipes[0].length) > 0.5:
            found = duty(flow, **common, pipes=_pipes(flow, common, riser, main, run, hung))
    table = duty_as_dict(found)
    if intake_depth is not None:
        table["intake_depth"] = intake_depth
    table |= _beside(found, levels, riser, main)
    if hours_a_day is not None:
        table["day"] = _day(found, job, hours_a_day, price_minor)
    table["inputs"] = dict(typed or {})
    table["advisories"] += table.pop("more_advisories")
    if rating.flow and rating.flow < need:
        table["advisories"].append({"code": "need-not-met", "severity": "doubt", "where": "pump",
                                    "message": "The bore is rated below the need: the pump is sized for the rating, and a tank must carry the difference."})
    return book.write(job_id, "pump.chosen", _body(logged, table), by=by, at=at)


def kept_pump(duty_table: Mapping[str, Any]) -> PumpCurve:
    """Return the curve that a pump was chosen by; raise BadInput where the entry holds none."""
    from borewright.pumping import pump_curve

    held = duty_table.get("pump") or {}
    if len(held.get("flow") or ()) < 3:
        raise BadInput("pump", held.get("name"), "was written down without its curve", "a pump chosen by its curve first (stage: pump)")
    return pump_curve(held.get("name") or "pump", held["flow"], held["head"], efficiency=held.get("efficiency"), invented=bool(held.get("invented")), source=held.get("source") or "")


def kept_system(duty_table: Mapping[str, Any], hole: Hole, *, moment: str | None = None) -> System:
    """Return what a chosen pump must overcome at a moment of the bore's life, the deepest by default."""
    from borewright.pumping import Pipe, System, level_from_table

    if hole.rated is None:
        raise BadInput("rating", None, "is not made for this bore", "a rated yield first")
    levels = _levels(hole.rated.body.rating)
    name = moment or duty_table.get("moment")
    flows, depths = levels.get(name) or max(levels.values(), key=lambda rows: rows[1][-1])
    held = duty_table.get("system") or {}
    fall = held.get("further_fall", 0.0) if name == DRY else 0.0
    pipes = tuple(Pipe(**row) for row in held["pipes"]) if held.get("pipes") else tuple(
        Pipe(p["name"], p["length"], p["inside_diameter"], pressure_class=p.get("pressure_class")) for p in duty_table.get("pipes") or ())
    return System(level_from_table(flows, depths, fall=fall), duty_table.get("lift") or 0.0, duty_table.get("delivery_pressure") or 0.0, pipes)


def _pipes(flow: float, common: Mapping[str, Any], riser: PipeRun | None, main: PipeRun | None, run: float, hung: float | None) -> list[Pipe]:
    """Return the pipes, the driller's own where they were named and polyethylene of class 16 where not; the riser goes to where the intake hangs."""
    from borewright.pumping import duty, pipe_of, standard_pipe

    def made(one: PipeRun, length: float) -> Pipe:
        try:
            return pipe_of(one.name, material=one.material, outside_diameter=one.outside_diameter, pressure_class=one.pressure_class, wall=one.wall,
                           length=length if one.length is None else one.length, fittings=one.fittings)
        except BadInput as error:
            raise BadInput(f"{one.name}_{error.field}", error.value, error.problem, error.want) from None

    length = riser.length if riser is not None and riser.length is not None else hung
    if length is None:
        # A pump with little to overcome hangs where any other would: only the level and the slots say where.
        length = common["intake_depth"] if common["intake_depth"] is not None else duty(flow, **(dict(common) | {"pump": None})).pipes[0].length
    pipes = [made(riser, length) if riser is not None else standard_pipe("riser", flow=flow, length=length, fittings={"check valve": 1, "elbow 90": 2})]
    if main is not None:
        if main.length is None and run <= 0:
            raise BadInput("main_length", None, "is not known from the site", "the length of the main, such as 85 m")
        pipes.append(made(main, run))
    elif run > 0:
        pipes.append(standard_pipe("main", flow=flow, length=run, fittings={"elbow 90": 2, "gate valve open": 1, "water meter": 1}))
    return pipes


def _below_slots(hole: Hole, intake_depth: float | None) -> bool:
    """Return whether an intake hangs below where water comes in, so that none passes the motor on its way up."""
    slots = _slots_from(hole)
    return intake_depth is not None and slots is not None and intake_depth > slots


def _beside(found: Duty, levels: Mapping[str, Any], riser: PipeRun | None, main: PipeRun | None) -> dict[str, Any]:
    """Return what stands beside the duty: the curves drawn, pressures against class, the least flow, and the pipes as they were reckoned."""
    import numpy as np

    from borewright.pumping import (
        PIPE_MATERIALS,
        System,
        check_minimum_flow,
        level_from_table,
        speed_for,
        system_head,
        water_hammer,
    )

    last = float(found.pump.flow[-1])
    grid = np.linspace(0.0, last, 41)
    systems = {name: System(given if callable(given) else level_from_table(*given), found.lift, found.delivery_pressure, found.pipes) for name, given in levels.items()}
    curves = {name: {"flow": grid.tolist(), "head": system_head(grid, one).total.tolist()} for name, one in systems.items()}
    on = np.linspace(float(found.pump.flow[0]), last, 41)
    curves["pump"] = {"flow": on.tolist(), "head": np.asarray(found.pump.head_at(on)).tolist()}
    pressures, advisories = [], []
    materials = {"riser": riser.material if riser else "polyethylene", "main": main.material if main else "polyethylene"}
    walls = {"riser": riser.wall if riser else None, "main": main.wall if main else None}
    shut_off = found.pump.shut_off_head * 1000.0 * GRAVITY
    for place, pipe in enumerate(found.pipes):
        # At the pump the riser holds all of the head; the main begins at the ground, with the lift of the water to there spent.
        running = max(0.0, found.head - (found.pumping_level if place else 0.0)) * 1000.0 * GRAVITY
        row: dict[str, Any] = {"pipe": pipe.name, "material": materials.get(pipe.name, ""), "shut_off": shut_off, "running": running, "class": pipe.pressure_class, "surge": None}
        wall = walls.get(pipe.name) or _wall(pipe, materials.get(pipe.name, ""))
        if wall and pipe.length > 0:
            hammer = water_hammer(
                found.flow / (np.pi / 4 * pipe.inside_diameter**2), length=pipe.length, inside_diameter=pipe.inside_diameter, wall=wall,
                modulus=PIPE_MATERIALS[materials[pipe.name]].modulus, running_pressure=running, pressure_class=pipe.pressure_class,
            )
            row |= {"surge": hammer.surge, "wave_speed": hammer.wave_speed, "critical_time": hammer.critical_time}
            advisories += [{"code": a.code, "severity": a.severity, "message": f"{pipe.name}: {a.message}", "where": pipe.name} for a in hammer.advisories]
        row["holds"] = None if pipe.pressure_class is None else bool(max(shut_off, running + (row["surge"] or 0.0)) <= pipe.pressure_class)
        pressures.append(row)
    slowest = min(p.flow for p in found.life.points.values())
    told: dict[str, Any] = {
        "curves": curves, "pressures": pressures, "least_flow": found.pump.minimum_flow, "slowest": slowest, "runs_above_least": not check_minimum_flow(slowest, found.pump),
        "system": {
            "further_fall": _fall(levels), "pipes": [
                {"name": p.name, "length": p.length, "inside_diameter": p.inside_diameter, "roughness": p.roughness, "hazen_williams": p.hazen_williams,
                 "pressure_class": p.pressure_class, "fittings": dict(p.fittings or {})} for p in found.pipes],
        },
        "more_advisories": advisories,
    }
    if found.start == "variable speed":
        told["speeds"] = {name: speed_for(found.pump, one, flow=found.need) for name, one in systems.items()}
    return told


def _day(found: Duty, job: Job, hours: float, price_minor: float | None) -> dict[str, Any]:
    """Return what the pump lifts and costs in a day of so many hours at the slowest moment [m3], [kWh], minor units."""
    volume = min(p.flow for p in found.life.points.values()) * hours * 3600
    energy = None if found.energy is None else found.energy * volume / 3.6e6
    wanted = job.need.body.daily_volume if job.need else None
    return {"hours": hours, "volume": volume, "wanted": wanted, "energy_kwh": energy, "cost_minor": None if energy is None or price_minor is None else round(energy * price_minor)}


def _fall(levels: Mapping[str, Any]) -> float:
    """Return how much deeper the drier season stands than the last moment of the rating [m]."""
    import numpy as np

    if DRY not in levels:
        return 0.0
    flows, depths = max((value for name, value in levels.items() if name != DRY), key=lambda rows: rows[1][-1])
    return float(np.ravel(levels[DRY](np.array([flows[0]])))[0] - depths[0])


def _wall(pipe: Pipe, material: str) -> float | None:
    """Return the wall of a plastic pipe of a class from its inside diameter [m], or None where it does not follow."""
    from borewright.pumping import PIPE_MATERIALS

    what = PIPE_MATERIALS.get(material)
    if what is None or what.stress is None or pipe.pressure_class is None:
        return None
    # e = d / (2 S + 1) and inside = d - 2 e, so e = inside / (2 S - 1).
    return pipe.inside_diameter / (2 * what.stress / pipe.pressure_class - 1)


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
