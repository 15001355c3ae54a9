"""What may go wrong with a pump in a bore: shut-off pressure, least flow, suction, a hot motor, the intake, water hammer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from borewright.errors import Advisory, OutOfDomain, require, require_finite, require_non_negative, require_positive
from borewright.pumping.curve import PumpCurve
from borewright.pumping.pipes import GRAVITY, Pipe, vapour_pressure, water_density
from borewright.quantities import show

__all__ = [
    "IntakeSetting", "MotorCooling", "SuctionMargin", "WaterHammer", "check_minimum_flow", "check_shut_off", "intake_setting",
    "motor_cooling", "suction_margin", "water_hammer",
]


def check_shut_off(pump: PumpCurve, pipes: Sequence[Pipe]) -> tuple[Advisory, ...]:
    """Return the doubts about each pipe's class against the pump's pressure with the valve shut.

    Notes
    -----
    At the pump the riser holds the whole shut-off head more than the water outside; the main, somewhat less. The full head is
    used for both, which errs to the safe side.
    """
    pressure = pump.shut_off_head * 1000.0 * GRAVITY
    found = []
    for pipe in pipes:
        if pipe.pressure_class is None:
            found.append(Advisory("class-not-given", "note", f"The pressure class of the {pipe.name} was not given; with the valve shut the pump makes "
                                  f"{pressure / 1000:.0f} kPa.", pipe.name))
        elif pressure > pipe.pressure_class:
            found.append(Advisory("shut-off-bursts-pipe", "danger", f"With the valve shut the pump makes {pressure / 1000:.0f} kPa and the {pipe.name} is rated "
                                  f"{pipe.pressure_class / 1000:.0f} kPa: a stronger pipe or a relief valve.", pipe.name))
    return tuple(found)


def check_minimum_flow(flow: float, pump: PumpCurve) -> tuple[Advisory, ...]:
    """Return a doubt where the pump runs below the least flow that keeps it cool and its thrust bearing sound."""
    require_non_negative(flow=flow)
    if pump.minimum_flow is not None and flow < pump.minimum_flow:
        return (Advisory("below-minimum-flow", "doubt", f"{show(flow, 'flow')} is below the pump's least flow of {show(pump.minimum_flow, 'flow')}: it heats and wears.",
                         "pump"),)
    return ()


@dataclass(frozen=True, slots=True)
class SuctionMargin:
    """Net positive suction head that there is, that the pump needs, and what is over [m]."""

    available: float
    required: float | None
    margin: float | None
    advisories: tuple[Advisory, ...]


def suction_margin(
    *, submergence: float, required: float | None = None, suction_loss: float = 0.0, temperature: float = 20.0, atmospheric_pressure: float = 101325.0,
) -> SuctionMargin:
    """Return the net positive suction head at the pump's inlet.

    Parameters
    ----------
    submergence : float
        Water above the inlet when pumping, negative for a suction lift [m].
    required : float, optional
        From the pump's curve [m].
    suction_loss : float
        Friction before the inlet [m].
    temperature : float
        Of the water [degC].
    atmospheric_pressure : float
        [Pa].

    Notes
    -----
    Available = (atmosphere - vapour pressure) / (density g) + submergence - suction loss. A margin of 0.5 m is asked (common practice).
    """
    require_finite(submergence=submergence)
    require_non_negative(suction_loss=suction_loss)
    require_positive(atmospheric_pressure=atmospheric_pressure)
    weight = float(water_density(temperature)) * GRAVITY
    available = (atmospheric_pressure - float(vapour_pressure(temperature))) / weight + submergence - suction_loss
    if required is None:
        return SuctionMargin(available, None, None, ())
    require_non_negative(required=required)
    margin = available - required
    advisories = ()
    if margin < 0.5:
        advisories = (Advisory("cavitation", "doubt", f"The inlet has {available:.1f} m of suction head and the pump needs {required:.1f} m: set it deeper or pump less, "
                               "or it will cavitate.", "submergence"),)
    return SuctionMargin(available, required, margin, advisories)


@dataclass(frozen=True, slots=True)
class MotorCooling:
    """Velocity past a submersible motor [m/s], what is wanted, and the inside diameter [m] of a shroud that would give it."""

    velocity: float
    wanted: float
    flow_needed: float
    shroud_inside_diameter: float | None
    advisories: tuple[Advisory, ...]


def motor_cooling(
    flow: float, *, casing_inside_diameter: float, motor_diameter: float, wanted: float | None = None, temperature: float = 20.0,
    water_from_above: bool = False,
) -> MotorCooling:
    """Return the velocity of water past a submersible motor against what keeps it cool.

    Parameters
    ----------
    flow : float
        [m3/s].
    casing_inside_diameter, motor_diameter : float
        [m].
    wanted : float, optional
        [m/s]; by default 0.0762 for motors to 110 mm and 0.1524 above, for water to 30 degC [1]_.
    water_from_above : bool
        True where strikes or slots lie above the pump, so that no water passes the motor without a shroud.

    References
    ----------
    .. [1] Submersible motor maker's application manual, table of minimum flow for cooling (4 in, 3 hp and over: 0.25 ft/s; 6 and 8 in: 0.5 ft/s).
    """
    require_non_negative(flow=flow)
    require_positive(casing_inside_diameter=casing_inside_diameter, motor_diameter=motor_diameter)
    require(motor_diameter < casing_inside_diameter, "motor_diameter", motor_diameter, "does not go into the casing", f"below {casing_inside_diameter} m")
    target = (0.0762 if motor_diameter <= 0.110 else 0.1524) if wanted is None else wanted
    require_positive(wanted=target)
    area = math.pi / 4 * (casing_inside_diameter**2 - motor_diameter**2)
    velocity = 0.0 if water_from_above else flow / area
    shroud = None
    advisories = []
    if velocity < target and flow > 0:
        largest = math.sqrt(motor_diameter**2 + 4 * flow / (math.pi * target))
        shroud = largest if largest < casing_inside_diameter else None
        if water_from_above:
            shroud = min(largest, casing_inside_diameter)
            text = f"Water comes in above the pump, so none passes the motor: fit a shroud of at most {shroud * 1000:.0f} mm inside."
        else:
            text = f"Water passes the motor at {velocity * 100:.1f} cm/s; {target * 100:.1f} cm/s is wanted: fit a shroud of at most {largest * 1000:.0f} mm inside."
        if largest - motor_diameter < 0.006:
            text += " The gap would be under 3 mm each side: take a pump with a larger flow or a smaller motor."
        advisories.append(Advisory("motor-runs-hot", "doubt", text, "motor"))
    if temperature > 30:
        advisories.append(Advisory("warm-water", "doubt", f"Water of {temperature:.0f} degC is above the 30 degC of the cooling table: the motor must be derated by its maker.", "temperature"))
    return MotorCooling(velocity, target, target * area, shroud, tuple(advisories))


@dataclass(frozen=True, slots=True)
class IntakeSetting:
    """Where the pump's inlet may hang [m below ground]: not above `highest`, not below `lowest`; `advised` or None if there is no room."""

    highest: float
    lowest: float
    advised: float | None
    advisories: tuple[Advisory, ...]


def intake_setting(
    *, deepest_pumping_level: float, slots_from: float, bore_depth: float, guard: float = 2.0, reserve: float = 10.0, above_slots: float = 1.0,
    off_bottom: float = 2.0,
) -> IntakeSetting:
    """Return where to hang the pump: drowned at the deepest pumping level, above the slots, off the bottom.

    Parameters
    ----------
    deepest_pumping_level : float
        At the end of life in the dry season [m].
    slots_from : float
        Top of the uppermost slots or open hole [m].
    guard, reserve, above_slots, off_bottom : float
        Water wanted over the inlet, more for falls not foreseen where there is room, clearance over the slots, clearance over the bottom [m];
        common practice, no source.
    """
    require_finite(deepest_pumping_level=deepest_pumping_level)
    require_positive(slots_from=slots_from, bore_depth=bore_depth)
    require_non_negative(guard=guard, reserve=reserve, above_slots=above_slots, off_bottom=off_bottom)
    if slots_from > bore_depth:
        raise OutOfDomain("slots_from", slots_from, "lies below the bottom of the bore", f"less than {bore_depth} m")
    highest = max(deepest_pumping_level, 0.0) + guard
    lowest = min(slots_from - above_slots, bore_depth - off_bottom)
    if highest <= lowest:
        return IntakeSetting(highest, lowest, min(lowest, highest + reserve), ())
    if highest <= bore_depth - off_bottom:
        return IntakeSetting(highest, bore_depth - off_bottom, None, (
            Advisory("intake-among-slots", "doubt", f"To stay drowned the intake must hang at {highest:.1f} m or deeper, among or below the slots that begin at "
                     f"{slots_from:.1f} m: pump less, or hang it in blank casing with a shroud.", "intake"),))
    return IntakeSetting(highest, lowest, None, (
        Advisory("no-room-for-intake", "doubt", f"The pumping level of {deepest_pumping_level:.1f} m leaves no room for a pump in a bore of {bore_depth:.1f} m: pump less.", "intake"),))


@dataclass(frozen=True, slots=True)
class WaterHammer:
    """Wave speed [m/s], surge above running pressure [Pa], and the time in which a valve must not close [s]."""

    wave_speed: float
    surge: float
    critical_time: float
    advisories: tuple[Advisory, ...]


def water_hammer(
    velocity: float, *, length: float, inside_diameter: float, wall: float, modulus: float, running_pressure: float = 0.0, pressure_class: float | None = None,
    closing_time: float = 0.0,
) -> WaterHammer:
    """Return the surge when water in a pipe is stopped.

    Parameters
    ----------
    velocity : float
        Before stopping [m/s].
    length, inside_diameter, wall : float
        Of the pipe [m].
    modulus : float
        Of the pipe's wall [Pa]: steel 2.0e11, PVC 2.8e9, polyethylene 0.8e9 (common practice).
    closing_time : float
        In which the flow stops; 0 for a pump that trips [s].

    Notes
    -----
    Joukowsky: dp = density a v, a = sqrt(K / density / (1 + K D / (E e))), K = 2.2e9 Pa; if the closing takes longer than 2 L / a the
    surge falls as 2 L / (a t). An estimate for one plain pipe, without column separation.

    References
    ----------
    .. [1] Joukowsky, N. (1904); wave speed after Korteweg (1878). From memory.
    """
    require_non_negative(velocity=velocity, running_pressure=running_pressure, closing_time=closing_time)
    require_positive(length=length, inside_diameter=inside_diameter, wall=wall, modulus=modulus)
    density, bulk = 998.2, 2.2e9
    speed = math.sqrt(bulk / density / (1 + bulk * inside_diameter / (modulus * wall)))
    critical = 2 * length / speed
    surge = density * speed * velocity * min(1.0, critical / closing_time if closing_time > 0 else 1.0)
    advisories = []
    if pressure_class is not None:
        require_positive(pressure_class=pressure_class)
        if running_pressure + surge > pressure_class:
            advisories.append(Advisory("surge-above-class", "danger", f"A sudden stop adds {surge / 1000:.0f} kPa and takes the pipe to {(running_pressure + surge) / 1000:.0f} kPa, above "
                                       f"its class of {pressure_class / 1000:.0f} kPa: slow the valve, soft-stop the pump or fit a surge vessel.", "pipe"))
    return WaterHammer(speed, surge, critical, tuple(advisories))
