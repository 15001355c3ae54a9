"""Where the pump and the bore agree: the system's head against the pump's, new and at the end of the bore's life."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, OutOfDomain, require_finite, require_non_negative, require_positive
from borewright.pumping.checks import check_minimum_flow, check_shut_off
from borewright.pumping.curve import PumpCurve
from borewright.pumping.pipes import GRAVITY, Pipe, check_velocity, pipe_velocity, water_density
from borewright.quantities import show

__all__ = [
    "HeadAtFlow", "LifeOfDuty", "OperatingPoint", "System", "duty_over_life", "level_from_losses", "level_from_table", "operating_point",
    "speed_for", "system_head", "water_power",
]

Level = Callable[[np.ndarray], np.ndarray]


def level_from_losses(static_level: float, *, linear_loss: float, turbulent_loss: float = 0.0, fall: float = 0.0) -> Level:
    """Return the pumping level as a function of flow, from the losses of a step test.

    Parameters
    ----------
    static_level : float
        Depth to water at rest below ground, negative when the bore flows [m].
    linear_loss, turbulent_loss : float
        Drawdown B Q + C Q^2 [s/m2], [s2/m5].
    fall : float
        What the static level falls by: dry season, neighbours, years [m].
    """
    require_finite(static_level=static_level)
    require_non_negative(linear_loss=linear_loss, turbulent_loss=turbulent_loss, fall=fall)
    return lambda flow: static_level + fall + linear_loss * np.asarray(flow, float) + turbulent_loss * np.asarray(flow, float) ** 2


def level_from_table(flow: Sequence[float], level: Sequence[float], *, fall: float = 0.0) -> Level:
    """Return the pumping level as a function of flow, from a table of a rating: flows ascending [m3/s], depths [m].

    Past the last flow the last slope is carried on, since a pump may ask for more than was rated.
    """
    flows, levels = np.asarray(flow, float), np.asarray(level, float)
    require_finite(flow=flows, level=levels)
    require_non_negative(fall=fall)
    if flows.size < 2 or flows.shape != levels.shape or np.any(np.diff(flows) <= 0) or np.any(np.diff(levels) < 0):
        raise OutOfDomain("level", f"{flows.size} flows, {levels.size} depths", "is not a pumping level that deepens with flow",
                          "two or more pairs, flow ascending, depth to water not rising")

    def at(asked: np.ndarray) -> np.ndarray:
        wanted = np.asarray(asked, float)
        slope = (levels[-1] - levels[-2]) / (flows[-1] - flows[-2])
        beyond = np.maximum(wanted - flows[-1], 0.0) * slope
        return np.interp(wanted, flows, levels) + beyond + fall

    return at


@dataclass(frozen=True, slots=True)
class System:
    """What the pump must overcome.

    Attributes
    ----------
    pumping_level : callable
        Depth to water below ground as a function of flow, array in, array out [m].
    lift : float
        Height of the tank's inlet or the pressure gauge above ground [m].
    delivery_pressure : float
        Gauge pressure wanted there [Pa].
    pipes : tuple of Pipe
        Riser first, then the main.
    """

    pumping_level: Level
    lift: float
    delivery_pressure: float
    pipes: tuple[Pipe, ...]
    temperature: float = 20.0

    def __post_init__(self) -> None:
        require_finite(lift=self.lift)
        require_non_negative(delivery_pressure=self.delivery_pressure)


@dataclass(frozen=True, slots=True)
class HeadAtFlow:
    """The head that a system asks for at each flow, and what it is made of [m]."""

    flow: np.ndarray
    total: np.ndarray
    pumping_level: np.ndarray
    lift: float
    pressure: float
    friction: np.ndarray
    friction_by_rule: np.ndarray
    velocity_head: np.ndarray


def system_head(flow: ArrayLike, system: System) -> HeadAtFlow:
    """Return the head that the system asks for at each flow, in its parts.

    Notes
    -----
    Total = pumping level + lift + pressure / (density g) + friction and fittings of each pipe + velocity head at the outlet [1]_.
    Friction is Darcy-Weisbach with Colebrook; Hazen-Williams stands beside it for comparison and is not used.

    References
    ----------
    .. [1] US Army TM 5-813-1 (1987) p. 33.
    """
    require_non_negative(flow=flow)
    flows = np.atleast_1d(np.asarray(flow, float))
    level = np.broadcast_to(np.asarray(system.pumping_level(flows), float), flows.shape)
    require_finite(pumping_level=level)
    friction = np.zeros(flows.shape) + sum((p.loss(flows, temperature=system.temperature) for p in system.pipes), start=0.0)
    rule = np.zeros(flows.shape) + sum((p.loss_by_rule(flows) for p in system.pipes), start=0.0)
    speed = np.asarray(pipe_velocity(flows, system.pipes[-1].inside_diameter)) if system.pipes else np.zeros(flows.shape)
    velocity = speed**2 / (2 * GRAVITY)
    pressure = system.delivery_pressure / (float(water_density(system.temperature)) * GRAVITY)
    return HeadAtFlow(flows, level + system.lift + pressure + friction + velocity, level, system.lift, pressure, friction, rule, velocity)


def water_power(flow: ArrayLike, head: ArrayLike, *, density: float = 998.2) -> float | np.ndarray:
    """Return the power given to the water, density g Q H [W]."""
    require_non_negative(flow=flow, head=head)
    value = density * GRAVITY * np.asarray(flow, float) * np.asarray(head, float)
    return float(value) if np.ndim(value) == 0 else value


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where pump and system agree.

    Attributes
    ----------
    flow, head, pumping_level, friction, friction_by_rule : float
        [m3/s], [m], depth below ground [m], [m], [m].
    efficiency : float or None
        Of the pump end [-].
    shaft_power : float or None
        Water power over efficiency [W].
    """

    flow: float
    head: float
    pumping_level: float
    friction: float
    friction_by_rule: float
    efficiency: float | None
    shaft_power: float | None
    advisories: tuple[Advisory, ...]


def operating_point(pump: PumpCurve, system: System) -> OperatingPoint:
    """Return the flow and head at which a pump runs on a system.

    Raises
    ------
    OutOfDomain
        The duty is off the curve: the pump cannot lift the water at all, or runs out past its last point.
    """
    from scipy.optimize import brentq

    def spare(flow: float) -> float:
        return float(pump.head_at(flow)) - float(system_head(flow, system).total[0])

    first, last = float(pump.flow[0]), float(pump.flow[-1])
    if spare(first) <= 0:
        need = float(system_head(first, system).total[0])
        raise OutOfDomain("pump", pump.name, f"duty off the curve: gives {pump.head_at(first):.0f} m at its least flow where the system asks {need:.0f} m",
                          "a pump with more head, or less lift")
    if spare(last) > 0:
        need = float(system_head(last, system).total[0])
        raise OutOfDomain("pump", pump.name, f"duty off the curve: at its greatest flow it still gives {pump.head_at(last):.0f} m where the system asks "
                          f"only {need:.0f} m, so it runs out past the end and may overload", "a pump with less head, a throttle valve, or more points of the curve")
    flow = float(brentq(spare, first, last, xtol=1e-12, rtol=1e-12))
    at = system_head(flow, system)
    head, efficiency = float(at.total[0]), pump.efficiency_at(flow)
    shaft = None if not efficiency else float(water_power(flow, head, density=float(water_density(system.temperature)))) / efficiency
    advisories: list[Advisory] = []
    for pipe in system.pipes:
        advisories.extend(check_velocity(flow, pipe))
    advisories.extend(check_minimum_flow(flow, pump))
    best = pump.best_flow
    if best and not 0.7 <= flow / best <= 1.2:
        advisories.append(Advisory("far-from-best", "doubt", f"The pump runs at {flow / best:.0%} of its flow of best efficiency; 70 to 120 % wears it least "
                                   "(common practice, no source).", "pump"))
    if pump.invented:
        advisories.append(Advisory("invented-curve", "doubt", "The pump curve is invented, for planning: type in the maker's curve before buying.", "pump"))
    return OperatingPoint(flow, head, float(at.pumping_level[0]), float(at.friction[0]), float(at.friction_by_rule[0]), efficiency, shaft, tuple(advisories))


def speed_for(pump: PumpCurve, system: System, *, flow: float) -> float | None:
    """Return the share of its rated speed at which a pump gives a flow [m3/s] on a system; None where full speed does not give it.

    Notes
    -----
    Affinity laws: at a share s the head at a flow Q is s^2 times that of the rated curve at Q / s.
    """
    require_positive(flow=flow)
    asked = float(system_head(flow, system).total[0])

    def spare(share: float) -> float:
        return share**2 * float(pump.head_at(flow / share)) - asked

    low, high = flow / float(pump.flow[-1]), min(1.0, flow / float(pump.flow[0])) if pump.flow[0] > 0 else 1.0
    if low >= high or spare(high) < 0:
        return None
    if spare(low) > 0:
        return low  # the last point of the curve: slower than that it is not known
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if spare(middle) < 0 else (low, middle)
    return high


@dataclass(frozen=True, slots=True)
class LifeOfDuty:
    """One pump on one bore as the years pass: the operating point at each moment of its life by name, or why there is none."""

    pump: PumpCurve
    points: Mapping[str, OperatingPoint]
    refused: Mapping[str, str]
    advisories: tuple[Advisory, ...]


def duty_over_life(
    pump: PumpCurve, moments: Mapping[str, System], *, need: float | None = None, intake_depth: float | None = None, guard: float = 2.0,
) -> LifeOfDuty:
    """Return how a pump runs at each moment of the bore's life ("new", "tenth dry season").

    Parameters
    ----------
    pump : PumpCurve
    moments : mapping of name to System
        In order of time; usually the same pipes with a deeper pumping level.
    need : float, optional
        Flow that the customer must have [m3/s].
    intake_depth : float, optional
        Depth of the pump's inlet [m].
    guard : float
        Water wanted above the inlet [m].
    """
    require_non_negative(guard=guard)
    if need is not None:
        require_positive(need=need)
    if intake_depth is not None:
        require_positive(intake_depth=intake_depth)
    if not moments:
        raise OutOfDomain("moments", "none", "holds no moment of the bore's life", "at least one System by name")
    points: dict[str, OperatingPoint] = {}
    refused: dict[str, str] = {}
    advisories: list[Advisory] = []
    for name, system in moments.items():
        try:
            points[name] = operating_point(pump, system)
        except OutOfDomain as error:
            refused[name] = error.problem
            advisories.append(Advisory("duty-off-curve", "doubt", f"{name}: {error.problem}. Want: {error.want}.", name))
            continue
        point = points[name]
        advisories.extend(Advisory(a.code, a.severity, f"{name}: {a.message}", a.where) for a in point.advisories if a.code != "invented-curve")
        if need is not None and point.flow < need:
            advisories.append(Advisory("below-need", "doubt", f"{name}: the pump gives {show(point.flow, 'flow')} where {show(need, 'flow')} is needed.", name))
        if intake_depth is not None and point.pumping_level > intake_depth - guard:
            advisories.append(Advisory("pumps-to-intake", "doubt", f"{name}: at {show(point.flow, 'flow')} the water is drawn to {point.pumping_level:.1f} m, "
                                       f"less than {guard:.1f} m above the intake at {intake_depth:.1f} m: a smaller pump, a throttle or a low-level cut-out.", name))
    if pump.invented:
        advisories.append(Advisory("invented-curve", "doubt", "The pump curve is invented, for planning: type in the maker's curve before buying.", "pump"))
    advisories.extend(check_shut_off(pump, next(iter(moments.values())).pipes))
    return LifeOfDuty(pump, points, refused, tuple(advisories))
