"""Planning a test: how hard, how long, when to read, where the water goes, and when more pumping would change nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import Advisory, require, require_fraction, require_positive
from borewright.hydraulics.borestorage import storage_ends_at
from borewright.hydraulics.confined import JACOB
from borewright.hydraulics.rules import logan_transmissivity

__all__ = ["TestPlan", "enough_readings", "plan_as_dict", "plan_test", "reading_times"]

# Minutes; common practice, no one source.
_HAND = (0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 90, 120, 150, 180, 240, 300, 360, 480, 600, 720, 960, 1200, 1440)


@dataclass(frozen=True, slots=True)
class TestPlan:
    """A planned test: rates of the steps and of the long part [m3/s], how long [s], what level to expect, the sheet to write on."""

    __test__ = False
    steps: tuple[tuple[float, float], ...]
    step_length: float
    rate: float
    duration: float
    recovery: float
    expected_drawdown: tuple[float, float, float]
    storage_until: float
    discharge_distance: float
    pump_head: float
    times: tuple[float, ...]
    reasons: tuple[str, ...]
    advisories: tuple[Advisory, ...]


def reading_times(duration: float) -> tuple[float, ...]:
    """Return when to dip by hand, close together at first, until a duration [s]; the same again after the pump stops."""
    require_positive(duration=duration)
    minutes = list(_HAND)
    while minutes[-1] * 60.0 < duration:
        minutes.append(minutes[-1] + 360)
    times = [m * 60.0 for m in minutes if m * 60.0 < duration]
    return (*times, duration)


def plan_test(
    *, flow: float, drawdown_then: float, available: float, need: float, static_level: float, casing_radius: float, bore_radius: float,
    storativity: float = 5e-4, boundary_distance: float | None = None, step_length: float = 3600.0, headroom: float = 0.6,
) -> TestPlan:
    """Return a plan from a first guess such as an airlift.

    Parameters
    ----------
    flow, drawdown_then : float
        A flow pumped or lifted and the drawdown it made [m3/s], [m].
    available : float
        From the level at rest to the guard [m].
    need : float
        Flow wanted [m3/s].
    static_level, casing_radius, bore_radius : float
        [m].
    storativity : float
        A guess [-].
    boundary_distance : float, optional
        An edge or stream that the test should reach [m].
    step_length : float
        [s].
    headroom : float
        Share of the available drawdown to use.
    """
    require_positive(flow=flow, drawdown_then=drawdown_then, available=available, need=need, casing_radius=casing_radius, bore_radius=bore_radius,
                     storativity=storativity, step_length=step_length)
    require_fraction(headroom=headroom)
    transmissivity = logan_transmissivity(flow, drawdown_then)
    ceiling = headroom * available * flow / drawdown_then
    rate = min(1.2 * need, ceiling)
    reasons, notes = [], []
    if rate < need:
        notes.append(Advisory("below-need", "doubt", "By the first guess the bore cannot be pumped at the need without using up the drawdown: the test shows what it can give.", "need"))
    reasons.append("The long part is pumped a fifth above the need where the bore allows: a rating never goes beyond what was tested.")
    storage = storage_ends_at(casing_radius=casing_radius, transmissivity=transmissivity)
    duration = max(86400.0, 20.0 * storage)
    reasons.append("A day at least, and twenty times as long as water from the casing counts.")
    if boundary_distance is not None:
        require_positive(boundary_distance=boundary_distance)
        felt = (2.0 * boundary_distance) ** 2 * storativity / (4.0 * transmissivity * 0.5)
        duration = max(duration, 3.0 * felt)
        reasons.append(f"An edge {boundary_distance:g} m off is felt after about {felt / 3600:.1f} h; three times that shows it.")
    if duration > 7 * 86400:
        notes.append(Advisory("long", "doubt", f"{duration / 86400:.0f} days would be needed; a week is planned, and the edge stays unseen.", "duration"))
        duration = 7 * 86400.0
    duration = math.ceil(duration / 3600.0) * 3600.0
    expected = tuple(float(v) for v in np.array([0.4, 1.0, 2.5]) * rate * drawdown_then / flow)
    cone = math.sqrt(JACOB * transmissivity * duration / storativity)
    away = min(max(0.25 * cone, 50.0), 500.0)
    reasons.append(f"The water is led {away:.0f} m off, downhill, so that it does not soak back.")
    notes.append(Advisory("discharge", "doubt", "Letting test water go may need leave, and can wash out a bank or flood a neighbour. Ask first.", "discharge"))
    notes.append(Advisory("electricity", "danger", "Pump, cable and generator are connected by a licensed person; keep people clear of the headworks while lifting.", "pump"))
    # Where the bore will not bear a step a quarter above the rate, all four are drawn in: two alike would tell nothing.
    top = min(1.25 * rate, max(ceiling, 0.5 * rate))
    steps = tuple((k * step_length, share / 1.25 * top) for k, share in enumerate((0.4, 0.7, 1.0, 1.25)))
    return TestPlan(steps, step_length, rate, duration, duration, expected, storage, away, static_level + min(expected[2], available), reading_times(duration),
                    tuple(reasons), tuple(notes))


def plan_as_dict(plan: TestPlan) -> dict[str, Any]:
    """Return the plan as plain JSON types, SI."""
    return {
        "steps": [{"start": a, "rate": q} for a, q in plan.steps], "step_length": plan.step_length, "rate": plan.rate, "duration": plan.duration,
        "recovery": plan.recovery, "expected_drawdown": dict(zip(("low", "middle", "high"), plan.expected_drawdown, strict=True)),
        "casing_storage_until": plan.storage_until, "discharge_distance": plan.discharge_distance, "lowest_pumping_level": plan.pump_head,
        "reading_times": list(plan.times), "reasons": list(plan.reasons),
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in plan.advisories],
    }


def enough_readings(durations: Sequence[float], estimates: ArrayLike, *, tolerance: float = 0.05) -> bool:
    """Return whether a test may stop early: the estimate (a rated flow, or T) has moved less than `tolerance` while its time doubled.

    Parameters
    ----------
    durations : sequence, shape (n,)
        How long the test had run at each estimate, rising [s].
    estimates : array_like, shape (n,)
        Above zero.
    """
    time, value = np.asarray(durations, dtype=float), np.asarray(estimates, dtype=float)
    require(time.shape == value.shape and time.size > 0, "estimates", int(value.size), "do not pair with the durations", "one estimate for each duration")
    require_positive(durations=time, estimates=value)
    recent = time >= time[-1] / 2.0
    if recent.sum() < 3 or time[0] > time[-1] / 2.0:
        return False
    return bool(np.ptp(value[recent]) <= tolerance * value[-1])


