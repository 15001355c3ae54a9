"""Electricity to the pump: current, cable by volt drop and by rating, the start, a generator. A licensed electrician does the work."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from borewright.errors import Advisory, BadInput, OutOfDomain, require, require_non_negative, require_positive

__all__ = [
    "ELECTRICITY_CAUTION", "STARTS", "Cable", "Generator", "Start", "cable_for", "conductor_resistance", "conductor_sizes", "generator_for", "longest_cable", "motor_current",
    "motor_size", "start_named", "starting_drop", "volt_drop",
]

ELECTRICITY_CAUTION = ("Electricity and water kill together: a licensed electrician chooses, connects and tests the cable, earth, protection and starter under the "
                       "local wiring rules. These figures are for planning.")
# Standard outputs of motors [W]; IEC 60072 series as used for submersible motors, from memory.
MOTOR_OUTPUTS = (370, 550, 750, 1100, 1500, 2200, 3000, 3700, 4000, 5500, 7500, 9300, 11000, 13000, 15000, 18500, 22000, 26000, 30000, 37000, 45000, 55000)
# 5 % running by a pump maker's chart (read). At the start a submersible motor wants 65 % of its voltage (maker, from memory): 25 % for the
# cable leaves 10 % for the supply.
VOLT_DROP_LIMIT, START_DROP_LIMIT = 0.05, 0.25


@dataclass(frozen=True, slots=True)
class Start:
    """How a motor is started: times the running current drawn, what a generator must give over the running load, and what to mind."""

    name: str
    factor: float
    margin: float
    advisories: tuple[Advisory, ...] = ()


# Times of the running current and margins: common practice, no source; the maker of motor and starter has the last word.
STARTS: dict[str, Start] = {s.name: s for s in (
    Start("direct on line", 5.0, 1.25),
    Start("soft start", 3.0, 1.25, (Advisory("soft-start-time", "note", "A soft starter for a bore motor is set to bring it up to speed within about 3 s and is bridged when it runs, since the thrust bearing "
                                             "has no film at low speed (common practice, no source): follow the motor's maker.", "start"),)),
    Start("variable speed", 1.1, 1.5, (
        Advisory("drive-least-speed", "note", "A drive must reach the motor's least speed, often 30 Hz, within about a second and never run below it (common practice, no source): follow the motor's maker.", "start"),
        Advisory("drive-long-cable", "note", "Over about 30 m of cable a drive needs a filter at its outlet, or the windings see more than their voltage (common practice, no source).", "cable"))),
)}


def start_named(name: str) -> Start:
    """Return a way of starting by its name; raise BadInput for one that is not known."""
    if name not in STARTS:
        raise BadInput("start", name, "is not a way of starting a motor", "one of " + ", ".join(STARTS))
    return STARTS[name]


@cache
def _table() -> dict:
    import tomllib
    from importlib.resources import files

    return tomllib.loads(files("borewright.pumping").joinpath("data/conductors.toml").read_text(encoding="utf-8"))


def conductor_sizes() -> tuple[float, ...]:
    """Return the nominal sizes of the conductor table [m2]."""
    return tuple(round(s * 1e-6, 12) for s in _table()["size_mm2"])


def _row(size: float) -> int:
    for i, known in enumerate(conductor_sizes()):
        if math.isclose(known, size, rel_tol=1e-6):
            return i
    raise BadInput("conductor_area", size, "is not a size in the table", "one of " + ", ".join(f"{s * 1e6:g} mm2" for s in conductor_sizes()))


def conductor_resistance(conductor_area: float, *, temperature: float = 70.0, flexible: bool = True) -> float:
    """Return the largest resistance of one copper conductor for each metre [ohm/m].

    Parameters
    ----------
    conductor_area : float
        A nominal size of `conductor_sizes` [m2].
    temperature : float
        Of the conductor, -40 to 130 [degC].
    flexible : bool
        Class 5, as in pump cable; else class 2.

    Notes
    -----
    R(t) = R20 (230 + t) / 250.

    References
    ----------
    .. [1] IEC 60228:2004, tables 1 to 3 and correction factors.
    """
    require(math.isfinite(temperature) and -40 <= temperature <= 130, "temperature", temperature, "is not a temperature of a working cable", "-40 to 130 degC")
    key = "flexible_ohm_per_km" if flexible else "fixed_ohm_per_km"
    return _table()[key][_row(conductor_area)] / 1000 * (230 + temperature) / 250


def _loop(phases: int) -> float:
    if phases not in (1, 3):
        raise BadInput("phases", phases, "is not a supply", "1 or 3")
    return 2.0 if phases == 1 else math.sqrt(3)


def volt_drop(current: float, runs: Sequence[tuple[float, float]], *, phases: int = 1) -> float:
    """Return the volts lost between the board and the motor [V].

    Parameters
    ----------
    current : float
        [A].
    runs : sequence of (length, resistance per metre)
        One for each size of cable in the line [m], [ohm/m].

    Notes
    -----
    Single phase 2 I R L, three phase sqrt(3) I R L. Reactance is left out and the power factor taken as one, which together err to the
    safe side to 35 mm2.
    """
    factor = _loop(phases)
    require_non_negative(current=current)
    for length, resistance in runs:
        require_non_negative(cable_length=length)
        require_positive(resistance=resistance)
    return factor * current * sum(length * resistance for length, resistance in runs)


def longest_cable(current: float, resistance: float, *, voltage: float, phases: int = 1, allowed: float = VOLT_DROP_LIMIT) -> float:
    """Return the longest cable of one size [m] that loses no more than a fraction of the voltage."""
    require_positive(current=current, resistance=resistance, voltage=voltage)
    require(0 < allowed < 1, "allowed", allowed, "is not a share of the voltage", "a fraction such as 0.05")
    return allowed * voltage / (_loop(phases) * current * resistance)


def motor_size(shaft_power: float, *, margin: float = 0.10) -> float:
    """Return the smallest standard motor [W] that gives a shaft power [W] with a margin (common practice, no source)."""
    require_positive(shaft_power=shaft_power)
    require_non_negative(margin=margin)
    wanted = shaft_power * (1 + margin)
    for output in MOTOR_OUTPUTS:
        if output >= wanted:
            return float(output)
    raise OutOfDomain("shaft_power", shaft_power, "is more than the largest motor in the list gives", f"up to {MOTOR_OUTPUTS[-1] / 1000:g} kW")


def motor_efficiency(output: float, phases: int) -> float:
    """Return a usual efficiency of a submersible motor by output [W]; common practice, no source: use the maker's figure."""
    import numpy as np

    three = float(np.interp(output, (370, 1100, 3000, 7500, 30000), (0.64, 0.72, 0.77, 0.80, 0.86)))
    return three - (0.05 if phases == 1 else 0.0)


def motor_current(output: float, *, voltage: float, phases: int = 1, efficiency: float | None = None, power_factor: float | None = None) -> float:
    """Return the running current of a motor [A].

    Parameters
    ----------
    output : float
        Mechanical power [W].
    efficiency, power_factor : float, optional
        From the nameplate; usual values stand in (common practice, no source).

    Notes
    -----
    I = P / (efficiency x power factor x V), by sqrt(3) V where three phase.
    """
    require_positive(output=output, voltage=voltage)
    _loop(phases)
    share = motor_efficiency(output, phases) if efficiency is None else efficiency
    factor = (0.90 if phases == 1 else 0.83) if power_factor is None else power_factor
    for name, value in (("efficiency", share), ("power_factor", factor)):
        require(math.isfinite(value) and 0 < value <= 1, name, value, "is not a fraction", "above 0 to 1")
    return output / (share * factor * voltage * (1.0 if phases == 1 else math.sqrt(3)))


def starting_drop(running_current: float, runs: Sequence[tuple[float, float]], *, voltage: float, phases: int = 1, start_factor: float = 5.0) -> float:
    """Return the share of the voltage lost in the cable at the start [-]; 5 times the running current direct on line, about 3 by soft start (common practice)."""
    require_positive(voltage=voltage)
    require(math.isfinite(start_factor) and start_factor >= 1, "start_factor", start_factor, "is less than the running current", "1 or more, usually 3 to 7")
    return volt_drop(running_current * start_factor, runs, phases=phases) / voltage


@dataclass(frozen=True, slots=True)
class Cable:
    """A cable that serves.

    Attributes
    ----------
    conductor_area : float
        Of one conductor [m2].
    drop, start_drop : float
        Share of the voltage lost running and starting [-].
    rated_current : float
        By the table in the data file [A].
    chosen_by : str
        "volt drop", "current" or "starting".
    """

    conductor_area: float
    length: float
    current: float
    voltage: float
    phases: int
    drop: float
    start_drop: float
    rated_current: float
    chosen_by: str
    advisories: tuple[Advisory, ...]


def cable_for(
    current: float, *, length: float, voltage: float, phases: int = 1, allowed: float = VOLT_DROP_LIMIT, allowed_at_start: float = START_DROP_LIMIT, start_factor: float = 5.0,
    temperature: float = 70.0, flexible: bool = True,
) -> Cable:
    """Return the smallest cable that keeps the volt drop, carries the current and lets the motor start.

    Parameters
    ----------
    current : float
        Running current [A].
    length : float
        From the board to the motor, one way [m].
    voltage : float
        At the board, between phases where there are three [V].
    allowed, allowed_at_start : float
        Shares of the voltage; 5 % running (pump maker's chart), 25 % starting (motor maker's 65 % less 10 % for the supply, from memory).

    Raises
    ------
    OutOfDomain
        No size in the table serves.
    """
    require_positive(current=current, length=length, voltage=voltage)
    for name, value in (("allowed", allowed), ("allowed_at_start", allowed_at_start)):
        require(math.isfinite(value) and 0 < value < 1, name, value, "is not a share of the voltage", "a fraction such as 0.05")
    ratings = _table()["current_two_A" if phases == 1 else "current_three_A"]
    first: dict[str, int] = {}
    figures = []
    for i, area in enumerate(conductor_sizes()):
        runs = [(length, conductor_resistance(area, temperature=temperature, flexible=flexible))]
        drop = volt_drop(current, runs, phases=phases) / voltage
        start = starting_drop(current, runs, voltage=voltage, phases=phases, start_factor=start_factor)
        figures.append((drop, start))
        for name, serves in (("volt drop", drop <= allowed), ("current", current <= ratings[i]), ("starting", start <= allowed_at_start)):
            if serves:
                first.setdefault(name, i)
    if len(first) < 3:
        raise OutOfDomain("cable", f"{current:.1f} A over {length:g} m", "needs a cable larger than any in the table", "a higher voltage, three phases, or a shorter run")
    chosen_by, row = max(first.items(), key=lambda pair: pair[1])
    area = conductor_sizes()[row]
    advisories = [Advisory("licensed-electrician", "danger", ELECTRICITY_CAUTION, "cable")]
    advisories.append(Advisory("current-rating", "note", f"{ratings[row]:g} A is the rating of the table held from memory for cable on a wall; your wiring rules and how it is laid decide.", "cable"))
    if area > 35e-6:
        advisories.append(Advisory("reactance", "note", "Above 35 mm2 the reactance left out here begins to count: have the volt drop worked in full.", "cable"))
    return Cable(area, length, current, voltage, phases, *figures[row], float(ratings[row]), chosen_by, tuple(advisories))


@dataclass(frozen=True, slots=True)
class Generator:
    """Least rating of a generator [VA], set by the start or by running."""

    rating: float
    running: float
    starting: float
    set_by: str
    advisories: tuple[Advisory, ...]


def generator_for(
    running_current: float, *, voltage: float, phases: int = 1, start_factor: float = 5.0, hold: float = 0.65, transient_reactance: float = 0.20, other_load: float = 0.0, margin: float = 1.25,
) -> Generator:
    """Return the least rating of a generator that starts and runs a pump.

    Parameters
    ----------
    running_current, voltage : float
        [A], [V].
    hold : float
        Share of the voltage that must hold while the motor starts; 0.65 by a submersible motor maker, from memory.
    transient_reactance : float
        Of the generator, per unit of its rating; 0.15 to 0.25 (common practice, no source).
    other_load : float
        That runs at the same time [VA].
    margin : float
        Over the running load; 1.25, and about 1.5 for a drive, whose current is not a sine (common practice, no source).

    Notes
    -----
    Voltage divider: S = S_start x hold / (1 - hold) with S_start the apparent power of the start at full voltage; running with its margin.
    """
    require_positive(running_current=running_current, voltage=voltage, transient_reactance=transient_reactance)
    require_non_negative(other_load=other_load)
    require(0.3 <= hold < 1, "hold", hold, "is not a share of the voltage that a motor starts on", "0.3 to below 1")
    require(math.isfinite(start_factor) and start_factor >= 1, "start_factor", start_factor, "is less than the running current", "1 or more, usually 3 to 7")
    _loop(phases)
    running = running_current * voltage * (1.0 if phases == 1 else math.sqrt(3))
    by_start = transient_reactance * running * start_factor * hold / (1 - hold) + other_load
    require(math.isfinite(margin) and margin >= 1, "margin", margin, "is less than the running load", "1 or more, usually 1.25 to 2")
    by_run = margin * running + other_load
    advisories = (Advisory("generator-derating", "note", "Heat and height take a generator's power: add 3 % for each 300 m above sea level and ask its maker (common practice, no source).", "generator"),
                  Advisory("licensed-electrician", "danger", ELECTRICITY_CAUTION, "generator"))
    return Generator(max(by_start, by_run), running, running * start_factor, "start" if by_start > by_run else "running", advisories)
