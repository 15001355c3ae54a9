"""Combining the doubts of a measurement: repeat readings (type A) and what is known of the tools (type B)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from borewright.errors import Advisory, OutOfDomain, require_positive

__all__ = ["Component", "FlowMeasurement", "Reading", "combine", "flow_as_dict", "read"]


@dataclass(frozen=True, slots=True)
class Component:
    """One source of doubt about a flow: its standard uncertainty carried into the flow [m3/s] and its degrees of freedom."""

    name: str
    type: Literal["A", "B"]
    contribution: float
    degrees_of_freedom: float


@dataclass(frozen=True, slots=True)
class Reading:
    """The mean of repeat readings, the standard error of that mean, and how many there were."""

    mean: float
    standard_error: float
    count: int
    spread: float  # standard deviation as a fraction of the mean; presumed where there is one reading
    presumed: bool


@dataclass(frozen=True, slots=True)
class FlowMeasurement:
    """A measured flow with its doubt.

    Attributes
    ----------
    flow, standard_uncertainty : float
        [m3/s].
    low, high : float
        Interval that holds the flow with 95 % coverage [m3/s]; `coverage_factor` times the standard uncertainty each way.
    components : tuple of Component
        What the doubt is made of, largest first.
    """

    method: str
    flow: float
    standard_uncertainty: float
    low: float
    high: float
    coverage_factor: float
    readings: int
    components: tuple[Component, ...]
    advisories: tuple[Advisory, ...]


def flow_as_dict(measured: FlowMeasurement) -> dict[str, Any]:
    """Return a measured flow as plain JSON types, flows in m3/s."""
    return {
        "method": measured.method, "flow": measured.flow, "standard_uncertainty": measured.standard_uncertainty, "low": measured.low,
        "high": measured.high, "coverage_factor": measured.coverage_factor, "readings": measured.readings,
        "components": [{"name": c.name, "type": c.type, "contribution": c.contribution} for c in measured.components],
        "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in measured.advisories],
    }


def read(values: float | Sequence[float], field: str, *, presumed_spread: float) -> Reading:
    """Return the mean of repeat readings and its standard error.

    Parameters
    ----------
    values : float or sequence of float
        One or more readings above zero, all of the same thing.
    presumed_spread : float
        Standard deviation, as a fraction of the reading, taken where there is only one reading.

    References
    ----------
    .. [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement, 4.2 (type A), 4.3 (type B).
    """
    array = np.atleast_1d(np.asarray(values, dtype=float)).ravel()
    if array.size == 0:
        raise OutOfDomain(field, "none", "holds no reading", "at least one reading, better three to five")
    require_positive(**{field: array})
    mean = float(array.mean())
    if array.size == 1:
        return Reading(mean, mean * presumed_spread, 1, presumed_spread, True)
    deviation = float(array.std(ddof=1))
    return Reading(mean, deviation / math.sqrt(array.size), array.size, deviation / mean, False)


def repeat_component(name: str, reading: Reading, sensitivity: float) -> Component:
    """Return the component of a set of readings; one reading alone is a presumption, hence type B."""
    size = abs(sensitivity) * reading.standard_error
    if reading.presumed:
        return Component(f"{name}, one reading: spread presumed", "B", size, math.inf)
    return Component(f"{name}, {reading.count} readings", "A", size, reading.count - 1)


def tool_component(name: str, half_width: float, sensitivity: float) -> Component:
    """Return the component of a tool known only to lie within a half width either way (rectangular, JCGM 100 4.3.7)."""
    return Component(name, "B", abs(sensitivity) * half_width / math.sqrt(3), math.inf)


def method_component(name: str, flow: float, fraction: float) -> Component:
    """Return the component of a method or coefficient whose standard uncertainty is a fraction of the flow."""
    return Component(name, "B", flow * fraction, math.inf)


def reading_advisories(reading: Reading, what: str, *, widest: float) -> list[Advisory]:
    """Return the doubts that the readings themselves raise."""
    found = []
    if reading.count == 1:
        found.append(Advisory("one-reading", "doubt", f"One reading of the {what} says nothing of its spread: take three, better five.", what))
    elif reading.count == 2:
        found.append(Advisory("two-readings", "note", f"Two readings of the {what}: three, better five, give an honest spread.", what))
    if reading.count > 1 and reading.spread > widest:
        found.append(Advisory("readings-scatter", "doubt", f"The readings of the {what} differ by {reading.spread:.0%} (standard deviation): "
                              "the flow may not be steady yet.", what))
    return found


def combine(method: str, flow: float, components: Sequence[Component], readings: int, advisories: Sequence[Advisory]) -> FlowMeasurement:
    """Return the flow with its combined standard uncertainty and 95 % interval.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (combination), G.4 (effective degrees of freedom, Welch-Satterthwaite).
    """
    from scipy.stats import t as student

    total = math.sqrt(sum(c.contribution**2 for c in components))
    below = sum(c.contribution**4 / c.degrees_of_freedom for c in components if math.isfinite(c.degrees_of_freedom))
    freedom = total**4 / below if below > 0 else math.inf
    factor = float(student.ppf(0.975, freedom)) if math.isfinite(freedom) else 1.959963984540054
    ordered = tuple(sorted(components, key=lambda c: -c.contribution))
    return FlowMeasurement(method, flow, total, max(0.0, flow - factor * total), flow + factor * total, factor, readings, ordered, tuple(advisories))
