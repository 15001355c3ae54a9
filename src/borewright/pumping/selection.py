"""The whole duty of a pump in a bore: pump, pipe, setting, cable, cost, and what may go wrong, over the bore's life."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from borewright.errors import (
    Advisory,
    BadInput,
    OutOfDomain,
    Refused,
    require_finite,
    require_non_negative,
    require_positive,
)
from borewright.pumping.checks import (
    IntakeSetting,
    MotorCooling,
    SuctionMargin,
    intake_setting,
    motor_cooling,
    suction_margin,
)
from borewright.pumping.curve import PumpCurve, generic_classes, generic_curve
from borewright.pumping.electrics import (
    Cable,
    Generator,
    cable_for,
    generator_for,
    motor_current,
    motor_efficiency,
    motor_size,
    start_named,
)
from borewright.pumping.energy import KWH, cost_per_kilolitre, energy_per_volume
from borewright.pumping.operating import LifeOfDuty, System, duty_over_life, level_from_table, system_head, water_power
from borewright.pumping.pipes import GRAVITY, Pipe, pipe_velocity
from borewright.quantities import show

__all__ = ["Duty", "duty", "duty_as_dict", "generic_pump", "standard_pipe"]

DRIVE_EFFICIENCY = 0.96  # common practice, no source
# Polyethylene PE100 SDR 11 (PN 16): outside diameter and wall [mm]; ISO 4427 series, from memory.
_PIPES = ((32, 3.0), (40, 3.7), (50, 4.6), (63, 5.8), (75, 6.8), (90, 8.2), (110, 10.0), (125, 11.4), (160, 14.6), (200, 18.2), (250, 22.7))
Level = Callable[[np.ndarray], np.ndarray]
LevelGiven = Level | float | tuple[Sequence[float], Sequence[float]]


def standard_pipe(name: str, *, flow: float, length: float, fittings: Mapping[str, int] | None = None, most: float = 1.5) -> Pipe:
    """Return the smallest polyethylene pipe that carries a flow [m3/s] under a velocity [m/s], PN 16, of a length [m].

    Raises
    ------
    OutOfDomain
        The flow is more than the largest pipe in the list carries.
    """
    require_positive(flow=flow, most=most)
    for outside, wall in _PIPES:
        inside = (outside - 2 * wall) / 1000
        if float(pipe_velocity(flow, inside)) <= most:
            return Pipe(name, length, inside, pressure_class=1.6e6, fittings=fittings)
    raise OutOfDomain("flow", flow, "is more than the largest pipe in the list carries", "a pipe of your own")


def generic_pump(need: float, worst: System, *, moments: Mapping[str, System] | None = None) -> PumpCurve:
    """Return the invented curve that gives a flow on the worst system with the best efficiency at that flow, on as few stages as give the head.

    Raises
    ------
    Refused
        No generic curve serves.
    """
    require_positive(need=need)
    head = float(system_head(need, worst).total[0])
    found: list[tuple[float, PumpCurve]] = []
    for name in generic_classes():
        one = generic_curve(name, stages=1)
        if not one.flow[0] < need < 0.97 * one.flow[-1]:
            continue
        stages = max(1, math.ceil(head / float(one.head_at(need)) - 1e-9))
        if stages > 120:
            continue
        pump = generic_curve(name, stages=stages)
        found.append((pump.efficiency_at(need) or 0.0, pump))
    for _, pump in sorted(found, key=lambda pair: -pair[0]):
        if not duty_over_life(pump, moments or {"worst": worst}, need=need).refused:
            return pump
    raise Refused(f"no generic curve gives {show(need, 'flow')} at {head:.0f} m in every season: type in a maker's curve")


@dataclass(frozen=True, slots=True)
class Duty:
    """What pump, where, on what pipe and cable, at what cost.

    Attributes
    ----------
    pump : PumpCurve
    life : LifeOfDuty
        The operating point at each moment of the bore's life.
    moment : str
        The deepest moment, which the figures below stand for.
    flow, head, pumping_level : float
        At that moment [m3/s], [m], depth below ground [m].
    setting, cooling, suction, cable, generator : or None where what they need was not given.
    motor : float or None
        Standard motor [W].
    electric_power : float or None
        Drawn while running [W].
    energy : float or None
        For each volume lifted [J/m3]; `cost_minor` for each kilolitre in whole minor units.
    sentence : str
        The duty in words.
    """

    need: float
    pump: PumpCurve
    life: LifeOfDuty
    pipes: tuple[Pipe, ...]
    moment: str
    flow: float
    head: float
    pumping_level: float
    lift: float
    delivery_pressure: float
    friction: float
    friction_by_rule: float
    efficiency: float | None
    motor: float | None
    electric_power: float | None
    energy: float | None
    cost_minor: int | None
    setting: IntakeSetting | None
    cooling: MotorCooling | None
    suction: SuctionMargin | None
    cable: Cable | None
    generator: Generator | None
    start: str
    sentence: str
    advisories: tuple[Advisory, ...]


def _level(given: LevelGiven, name: str) -> Level:
    if callable(given):
        return given
    if isinstance(given, (int, float)):
        require_finite(**{f"level {name}": given})
        return lambda flow, depth=float(given): np.full(np.shape(flow), depth)
    return level_from_table(*given)


def _chosen_pipes(need: float, depth: float, main_length: float) -> tuple[Pipe, ...]:
    pipes = [standard_pipe("riser", flow=need, length=depth, fittings={"check valve": 1, "elbow 90": 2})]
    if main_length > 0:
        pipes.append(standard_pipe("main", flow=need, length=main_length, fittings={"elbow 90": 2, "gate valve open": 1, "water meter": 1}))
    return tuple(pipes)


def duty(
    need: float, *, levels: Mapping[str, LevelGiven], lift: float, delivery_pressure: float = 0.0, pipes: Sequence[Pipe] | None = None, main_length: float = 0.0,
    pump: PumpCurve | None = None, rated_flow: float | None = None, bore_depth: float | None = None, slots_from: float | None = None, intake_depth: float | None = None,
    casing_inside_diameter: float | None = None, motor_diameter: float = 0.096, water_from_above: bool = False, temperature: float = 20.0,
    atmospheric_pressure: float = 101325.0, voltage: float = 230.0, phases: int = 1, cable_length: float | None = None, price_minor: float | None = None, start: str = "direct on line",
    guard: float = 2.0,
) -> Duty:
    """Return the duty of a pump over the life of a bore.

    Parameters
    ----------
    need : float
        Flow that the customer must have [m3/s].
    levels : mapping of moment to level
        In order of time. A level is a function of flow, a pair (flows [m3/s], depths to water [m]) from a rating, or one depth [m].
    lift : float
        From ground to the tank's inlet [m].
    delivery_pressure : float
        Gauge, at the outlet [Pa].
    pipes : sequence of Pipe, optional
        Riser first. Without them polyethylene is chosen for under 1.5 m/s: a riser to the intake, and a main of `main_length` [m].
    pump : PumpCurve, optional
        Without it the best generic curve, which is invented.
    rated_flow : float, optional
        The rating of the bore [m3/s]; a pump that takes more is told.
    bore_depth, slots_from, intake_depth : float, optional
        For the setting [m].
    casing_inside_diameter, motor_diameter : float
        For cooling [m]; 96 mm is a 4 inch motor.
    cable_length : float, optional
        From the board to the headworks and down [m]; the riser and 15 m where not given (common practice).
    price_minor : float, optional
        Of a kilowatt-hour in minor units of money.
    start : str
        One of `STARTS`. Variable speed on one phase drives a three-phase motor of the same voltage.

    Raises
    ------
    OutOfDomain, BadInput
        A value that cannot be, or a pump whose duty is off its curve at every moment.
    Refused
        No generic curve serves.
    """
    require_positive(need=need)
    begun = start_named(start)
    require_non_negative(main_length=main_length, delivery_pressure=delivery_pressure)
    if not levels:
        raise BadInput("levels", "none", "hold no moment of the bore's life", "at least one pumping level by name")
    curves = {name: _level(given, name) for name, given in levels.items()}
    at_need = {name: float(np.ravel(curve(np.array([need])))[0]) for name, curve in curves.items()}
    require_finite(pumping_level=list(at_need.values()))
    worst = max(at_need, key=lambda name: at_need[name])
    top = bore_depth if slots_from is None else slots_from

    def setting_for(level: float) -> IntakeSetting | None:
        if bore_depth is None or top is None:
            return None
        return intake_setting(deepest_pumping_level=level, slots_from=top, bore_depth=bore_depth, guard=guard, above_slots=0.0 if slots_from is None else 1.0)

    planned = setting_for(at_need[worst])
    depth = intake_depth if intake_depth is not None else (planned.advised if planned and planned.advised else max(at_need[worst], 0.0) + guard)
    for _ in range(4):  # the riser goes to the intake, and the intake to where this pump draws the water
        fitted = tuple(pipes) if pipes is not None else _chosen_pipes(need, depth, main_length)
        systems = {name: System(curve, lift, delivery_pressure, fitted, temperature) for name, curve in curves.items()}
        chosen = generic_pump(need, systems[worst], moments=systems) if pump is None else pump
        life = duty_over_life(chosen, systems, need=need, intake_depth=intake_depth, guard=guard)
        deepest = max((p.pumping_level for p in life.points.values()), default=at_need[worst])
        setting = setting_for(deepest)
        hangs = intake_depth if intake_depth is not None else (setting.advised if setting and setting.advised else depth)
        if pipes is not None or abs(hangs - depth) < 0.1:
            break
        depth = hangs
    if not life.points:
        raise OutOfDomain("pump", chosen.name, "; ".join(f"{name}: {why}" for name, why in life.refused.items()), "another pump, or other pipes")
    moment = max(life.points, key=lambda name: life.points[name].pumping_level)
    point = life.points[moment]
    advisories = list(life.advisories)
    advisories += _against_rating(life, rated_flow)
    cooling = suction = None
    if setting is not None:
        advisories += setting.advisories
    hung = intake_depth if intake_depth is not None else (setting.advised if setting else None)
    if hung is not None:
        suction = suction_margin(submergence=hung - deepest, required=chosen.npsh_required_at(point.flow), temperature=temperature, atmospheric_pressure=atmospheric_pressure)
        advisories += suction.advisories
    if casing_inside_diameter is not None:
        require_positive(casing_inside_diameter=casing_inside_diameter, motor_diameter=motor_diameter)
        if motor_diameter >= casing_inside_diameter:
            advisories.append(Advisory("motor-does-not-fit", "doubt", f"A motor of {motor_diameter * 1000:.0f} mm does not go into casing of "
                                       f"{casing_inside_diameter * 1000:.0f} mm inside: a slimmer motor, or another kind of pump.", "motor"))
        else:
            slowest = min(p.flow for p in life.points.values())
            cooling = motor_cooling(
                slowest, casing_inside_diameter=casing_inside_diameter, motor_diameter=motor_diameter, temperature=temperature,
                water_from_above=water_from_above,
            )
            advisories += cooling.advisories
    motor = power = energy = cost = cable = generator = None
    peak = _largest_shaft_power(chosen)
    if peak is not None and point.efficiency and point.shaft_power:
        motor = motor_size(peak)
        # A drive makes three phases of one: the motor, its efficiency and its cable are then of three.
        below = 3 if begun.name == "variable speed" else phases
        share = motor_efficiency(motor, below)
        power = point.shaft_power / share
        energy = energy_per_volume(point.head, pump_efficiency=point.efficiency, motor_efficiency=share)
        cost = None if price_minor is None else cost_per_kilolitre(energy, price_minor)
        current = motor_current(motor, voltage=voltage, phases=below)
        drawn = current if below == phases else motor_current(motor, voltage=voltage, phases=phases, efficiency=share * DRIVE_EFFICIENCY)
        cable = cable_for(current, length=(fitted[0].length + 15.0 if fitted else 15.0) if cable_length is None else cable_length, voltage=voltage, phases=below, start_factor=begun.factor)
        generator = generator_for(drawn, voltage=voltage, phases=phases, start_factor=begun.factor, margin=begun.margin)
        advisories += [*cable.advisories, *generator.advisories, *begun.advisories, *_of_drive(below, phases)]
    unique = tuple({(a.code, a.message): a for a in advisories}.values())
    return Duty(
        need=need, pump=chosen, life=life, pipes=fitted, moment=moment, flow=point.flow, head=point.head, pumping_level=point.pumping_level, lift=lift,
        delivery_pressure=delivery_pressure, friction=point.friction, friction_by_rule=point.friction_by_rule, efficiency=point.efficiency, motor=motor, electric_power=power,
        energy=energy, cost_minor=cost, setting=setting, cooling=cooling, suction=suction, cable=cable, generator=generator, start=begun.name,
        sentence=_sentence(need, chosen, life, hung, setting), advisories=unique,
    )


def _against_rating(life: LifeOfDuty, rated_flow: float | None) -> list[Advisory]:
    if rated_flow is None:
        return []
    require_positive(rated_flow=rated_flow)
    most = max(p.flow for p in life.points.values())
    if most <= rated_flow * 1.02:
        return []
    return [Advisory("above-rated-yield", "doubt", f"Let run free the pump takes up to {show(most, 'flow')} where the bore is rated {show(rated_flow, 'flow')}: throttle it, fit a "
                     "low-level cut-out, or take a smaller pump.", "pump")]


def _of_drive(below: int, phases: int) -> list[Advisory]:
    if below == phases:
        return []
    return [Advisory("drive-three-phase", "note", "A drive on one phase takes a three-phase motor of the same voltage in the bore: the cable here is of three cores to that motor.", "start")]


def _largest_shaft_power(pump: PumpCurve) -> float | None:
    """Return the largest power on the curve, so that a motor chosen by it cannot be overloaded [W]."""
    if pump.efficiency is None:
        return None
    flow = np.linspace(pump.flow[0], pump.flow[-1], 60)
    efficiency = np.array([pump.efficiency_at(float(q)) for q in flow])
    sound = efficiency > 0.05
    return float(np.max(np.asarray(water_power(flow[sound], np.asarray(pump.head_at(flow[sound])))) / efficiency[sound])) if sound.any() else None


def _sentence(need: float, pump: PumpCurve, life: LifeOfDuty, hung: float | None, setting: IntakeSetting | None) -> str:
    parts = [f"{name} {show(p.flow, 'flow')} at {p.head:.0f} m with the water at {p.pumping_level:.1f} m" for name, p in life.points.items()]
    text = f"{pump.name}: " + "; ".join(parts) + f". {show(need, 'flow')} is needed"
    least = min(p.flow for p in life.points.values())
    text += "." if least >= need * 0.995 and not life.refused else ", which it does not give at every moment."
    if hung is not None:
        text += f" Intake at {hung:.1f} m."
    elif setting is not None:
        text += " There is no good place for the intake: see the doubts."
    return text


def duty_as_dict(found: Duty) -> dict[str, Any]:
    """Return a duty as plain JSON types, SI, for keeping in the job book; money in whole minor units."""
    setting, cooling, suction, cable, generator = found.setting, found.cooling, found.suction, found.cable, found.generator
    return {
        "sentence": found.sentence, "need": found.need, "flow": found.flow, "head": found.head, "pumping_level": found.pumping_level, "lift": found.lift,
        "delivery_pressure": found.delivery_pressure, "friction": found.friction, "friction_hazen_williams": found.friction_by_rule, "efficiency": found.efficiency,
        "moment": found.moment, "motor_power": found.motor, "electric_power": found.electric_power,
        "energy_kwh_per_kl": None if found.energy is None else found.energy / KWH, "cost_minor_per_kl": found.cost_minor,
        "shut_off_pressure": found.pump.shut_off_head * 1000.0 * GRAVITY, "intake_depth": None if setting is None else setting.advised,
        "moments": [
            {"moment": name, "flow": p.flow, "head": p.head, "pumping_level": p.pumping_level, "friction": p.friction, "efficiency": p.efficiency, "shaft_power": p.shaft_power}
            for name, p in found.life.points.items()
        ],
        "refused": dict(found.life.refused),
        "pump": {
            "name": found.pump.name, "invented": found.pump.invented, "source": found.pump.source, "flow": found.pump.flow.tolist(), "head": found.pump.head.tolist(),
            "efficiency": None if found.pump.efficiency is None else found.pump.efficiency.tolist(),
        },
        "pipes": [
            {"name": p.name, "length": p.length, "inside_diameter": p.inside_diameter, "pressure_class": p.pressure_class, "velocity": float(pipe_velocity(found.flow, p.inside_diameter))}
            for p in found.pipes
        ],
        "intake": None if setting is None else {"highest": setting.highest, "lowest": setting.lowest, "advised": setting.advised},
        "cooling": None if cooling is None else {"velocity": cooling.velocity, "wanted": cooling.wanted, "shroud_inside_diameter": cooling.shroud_inside_diameter},
        "suction": None if suction is None else {"available": suction.available, "required": suction.required, "margin": suction.margin},
        "cable": None if cable is None else {
            "conductor_area": cable.conductor_area, "length": cable.length, "current": cable.current, "voltage": cable.voltage, "phases": cable.phases, "drop": cable.drop,
            "start_drop": cable.start_drop, "chosen_by": cable.chosen_by},
        "start": found.start,
        "generator": None if generator is None else {"rating": generator.rating, "running": generator.running, "set_by": generator.set_by},
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in found.advisories],
    }
