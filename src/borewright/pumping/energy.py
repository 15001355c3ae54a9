"""What the water costs to lift, and what the sun lifts in a day."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from borewright.errors import Advisory, Refused, require, require_finite, require_non_negative, require_positive
from borewright.pumping.curve import PumpCurve
from borewright.pumping.electrics import ELECTRICITY_CAUTION, motor_efficiency
from borewright.pumping.operating import System, system_head, water_power
from borewright.pumping.sun import MONTH_MIDDLE, day_length

__all__ = ["MeteredUse", "SolarYield", "cost_per_kilolitre", "energy_per_volume", "metered_use", "panel_for", "solar_yield"]

KWH = 3.6e6


def energy_per_volume(head: float, *, pump_efficiency: float, motor_efficiency: float, density: float = 998.2) -> float:
    """Return the electricity that lifts a volume of water [J/m3]: density g H / (pump efficiency x motor efficiency)."""
    require_positive(head=head, density=density)
    for name, value in (("pump_efficiency", pump_efficiency), ("motor_efficiency", motor_efficiency)):
        require(math.isfinite(value) and 0 < value <= 1, name, value, "is not a fraction", "above 0 to 1 (60 % is 0.6)")
    return density * 9.80665 * head / (pump_efficiency * motor_efficiency)


def cost_per_kilolitre(energy: float, price_minor: float) -> int:
    """Return the cost of a kilolitre in whole minor units from energy [J/m3] and the price of a kilowatt-hour in minor units."""
    require_positive(energy_per_volume=energy, price_minor=price_minor)
    return round(energy / KWH * price_minor)


@dataclass(frozen=True, slots=True)
class SolarYield:
    """What panels and a pump lift on a mean day of each month.

    Attributes
    ----------
    daily : ndarray, shape (12,)
        Volume on a mean day of each month [m3].
    worst_month : int
        1 for January.
    full_flow : float
        At full speed [m3/s].
    """

    daily: np.ndarray
    worst_month: int
    full_flow: float
    panel_power: float
    advisories: tuple[Advisory, ...]


def _flow_by_power(pump: PumpCurve, system: System, motor: float, controller: float) -> tuple[np.ndarray, np.ndarray]:
    """Return (electric power [W], flow [m3/s]) along the speeds at which the pump lifts at all, on a fine grid of flow."""
    grid = np.linspace(0.0, pump.flow[-1], 400)
    asked = system_head(grid, system).total
    power, flow = [], []
    for ratio in np.linspace(0.4, 1.0, 61):
        slow = pump.at_speed(float(ratio))
        on = (grid >= slow.flow[0]) & (grid <= slow.flow[-1])
        spare = np.asarray(slow.head_at(grid[on])) - asked[on]
        if spare[0] <= 0 or spare[-1] > 0:
            continue
        last = int(np.flatnonzero(spare > 0)[-1])
        share = spare[last] / (spare[last] - spare[last + 1])
        at = float(grid[on][last] + share * (grid[1] - grid[0]))
        efficiency = slow.efficiency_at(at)
        if efficiency:
            power.append(float(water_power(at, float(slow.head_at(at)))) / (efficiency * motor * controller))
            flow.append(at)
    if len(power) < 2:
        raise Refused("the pump does not lift water on this system at any speed up to its rated one")
    order = np.argsort(power)
    return np.array(power)[order], np.maximum.accumulate(np.array(flow)[order])


def _daily(lifted: tuple[np.ndarray, np.ndarray], panel_power: float, table: np.ndarray, latitude: float, losses: float) -> np.ndarray:
    """Return the volume lifted on the mean day of each month [m3]."""
    power, flow = lifted
    daily = np.zeros(12)
    for month in range(12):
        length = day_length(latitude, MONTH_MIDDLE[month])
        if length <= 0 or table[month] == 0:
            continue
        clock = (np.arange(96) + 0.5) / 96
        sun = table[month] * math.pi / (2 * length) * np.sin(math.pi * clock)
        electric = panel_power * sun / 1000 * (1 - losses)
        daily[month] = float(np.sum(np.where(electric < power[0], 0.0, np.interp(electric, power, flow))) * length / 96)
    return daily


def solar_yield(
    pump: PumpCurve, system: System, *, panel_power: float, irradiation: Sequence[float], latitude: float, motor: float | None = None, controller: float = 0.95,
    losses: float = 0.20,
) -> SolarYield:
    """Return the water that a sun pump lifts on a mean day of each month, its speed following the sun.

    Parameters
    ----------
    pump, system : PumpCurve, System
        The curve must hold efficiency.
    panel_power : float
        Rated at 1000 W/m2 [W].
    irradiation : sequence of float, shape (12,)
        On the plane of the panels on a mean day of each month, January first [J/m2]; 1 kWh/m2 is 3.6e6 J/m2.
    motor, controller : float, optional
        Efficiencies; a usual motor where not given.
    losses : float
        Heat, dirt, wires, as a share of the panels' power; 0.20 is common practice, no source.

    Raises
    ------
    Refused
        The curve holds no efficiency, or the pump lifts nothing on this system at any speed.

    Notes
    -----
    The sun is a half sine between sunrise and sunset with the day's irradiation under it; flow at each power by the affinity laws
    on the system's curve. Cloud that comes and goes is not counted.
    """
    require_positive(panel_power=panel_power)
    lifted, table = _prepared(pump, system, irradiation, motor, controller, losses)
    return _told(pump, lifted, panel_power, table, latitude, losses)


def _prepared(
    pump: PumpCurve, system: System, irradiation: Sequence[float], motor: float | None, controller: float, losses: float,
) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray]:
    share = motor_efficiency(1500.0, 3) if motor is None else motor
    for name, value in (("motor", share), ("controller", controller)):
        require(math.isfinite(value) and 0 < value <= 1, name, value, "is not an efficiency", "a fraction above 0 to 1")
    require(math.isfinite(losses) and 0 <= losses < 1, "losses", losses, "is not a share", "a fraction from 0 to below 1")
    table = np.asarray(irradiation, float)
    require(table.shape == (12,), "irradiation", table.size, "does not hold twelve months", "twelve numbers, January first")
    require_finite(irradiation=table)
    require(bool(np.all((table >= 0) & (table <= 45e6))), "irradiation", float(table.max()), "is not a day's sun", "0 to 12.5 kWh/m2 (4.5e7 J/m2) in a day")
    if pump.efficiency is None:
        raise Refused("the pump curve holds no efficiency, so its power is not known: add the efficiency column")
    return _flow_by_power(pump, system, share, controller), table


def _told(pump: PumpCurve, lifted: tuple[np.ndarray, np.ndarray], panel_power: float, table: np.ndarray, latitude: float, losses: float) -> SolarYield:
    daily = _daily(lifted, panel_power, table, latitude, losses)
    advisories = [Advisory("sun-is-a-mean", "doubt", "A mean day of each month: a run of cloudy days gives less, which the tank must carry.", "irradiation"),
                  Advisory("licensed-electrician", "danger", ELECTRICITY_CAUTION, "panel_power")]
    if pump.invented:
        advisories.append(Advisory("invented-curve", "doubt", "The pump curve is invented, for planning: type in the maker's curve before buying.", "pump"))
    return SolarYield(daily, int(np.argmin(daily)) + 1, float(lifted[1][-1]), panel_power, tuple(advisories))


def panel_for(
    pump: PumpCurve, system: System, *, demand: float, irradiation: Sequence[float], latitude: float, motor: float | None = None, controller: float = 0.95, losses: float = 0.20,
) -> SolarYield:
    """Return the yield with the least panel power, to 10 W, that lifts a daily demand [m3] in the worst month; options as `solar_yield`.

    Raises
    ------
    Refused
        No panel is large enough: the pump at full speed all day does not lift the demand.
    """
    require_positive(demand=demand)
    lifted, table = _prepared(pump, system, irradiation, motor, controller, losses)

    def least(tens: int) -> float:
        return float(_daily(lifted, 10.0 * tens, table, latitude, losses).min())

    low, high = 0, 1
    while least(high) < demand:
        low, high = high, 2 * high
        if high > 20000:
            raise Refused(f"no panel lifts {demand * 1000:.0f} L a day with this pump in the worst month: a larger pump, or less water")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if least(middle) >= demand else (middle, high)
    return _told(pump, lifted, 10.0 * high, table, latitude, losses)


@dataclass(frozen=True, slots=True)
class MeteredUse:
    """What two readings of the meters tell: electricity used [J] and water lifted [m3] between the reading `since` and the reading `until` (places)."""

    since: int
    until: int
    energy: float
    volume: float

    @property
    def per_volume(self) -> float:
        """Electricity for each volume lifted [J/m3]."""
        return self.energy / self.volume


def metered_use(electricity: Sequence[float], water: Sequence[float]) -> tuple[tuple[MeteredUse, ...], tuple[Advisory, ...]]:
    """Return the electricity for each volume lifted between each two readings of an electricity and a water meter, in order of time.

    Parameters
    ----------
    electricity, water : sequence of float, shape (n,)
        What the meters stood at [J], [m3].

    Notes
    -----
    Where a meter stands lower than before it was changed or read wrongly, and where no water went through there is nothing to divide by:
    nothing is told of that time, and the first is said.
    """
    joules, volumes = np.atleast_1d(np.asarray(electricity, float)), np.atleast_1d(np.asarray(water, float))
    require_non_negative(electricity=joules, water=volumes)
    require(joules.shape == volumes.shape and joules.ndim == 1, "water", volumes.size, f"does not pair with {joules.size} readings of the electricity meter", "one for each")
    found, advisories = [], []
    for i in range(1, joules.size):
        energy, volume = float(joules[i] - joules[i - 1]), float(volumes[i] - volumes[i - 1])
        if energy < 0 or volume < 0:
            which = "electricity" if energy < 0 else "water"
            advisories.append(Advisory("meter-went-back", "doubt", f"The {which} meter stands lower at reading {i + 1} than at the one before: a new meter or a wrong figure. That time is left out.", which))
        elif volume > 0:
            found.append(MeteredUse(i - 1, i, energy, volume))
    return tuple(found), tuple(advisories)
