"""Pump curves: points that a person types, pastes or loads, and generic ones supplied as invented data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike

from borewright.errors import BadInput, require, require_finite, require_non_negative, require_positive

__all__ = ["PumpCurve", "generic_classes", "generic_curve", "pump_curve", "read_pump_curve"]

_HEADINGS = {"flow_lps": 1e-3, "flow_lpm": 1e-3 / 60, "flow_m3h": 1 / 3600, "flow_m3s": 1.0}


@dataclass(frozen=True, slots=True)
class PumpCurve:
    """A pump's head against flow at one speed, falling all the way.

    Attributes
    ----------
    flow, head : ndarray, shape (n,)
        [m3/s], [m]; flow ascends from the first point, usually 0.
    efficiency, npsh_required : ndarray or None
        Hydraulic efficiency [-]; net positive suction head [m].
    invented : bool
        True for the generic curves supplied with the program: shapes for planning, no maker's pump.
    """

    name: str
    flow: np.ndarray
    head: np.ndarray
    efficiency: np.ndarray | None = None
    npsh_required: np.ndarray | None = None
    minimum_flow: float | None = None
    invented: bool = False
    source: str = ""

    def head_at(self, flow: ArrayLike) -> float | np.ndarray:
        """Return the head by shape-keeping cubic through the points [m]; not a number off the curve."""
        return _between(self.flow, self.head, flow)

    def efficiency_at(self, flow: float) -> float | None:
        """Return the efficiency at a flow on the curve [-], or None where the curve has none."""
        return None if self.efficiency is None else float(_between(self.flow, self.efficiency, flow))

    def npsh_required_at(self, flow: float) -> float | None:
        """Return the net positive suction head the pump needs at a flow on the curve [m], or None."""
        return None if self.npsh_required is None else float(_between(self.flow, self.npsh_required, flow))

    @property
    def shut_off_head(self) -> float:
        """Head at no flow [m]; carried back along the first leg where the curve begins above zero flow."""
        if self.flow[0] == 0:
            return float(self.head[0])
        slope = (self.head[1] - self.head[0]) / (self.flow[1] - self.flow[0])
        return float(self.head[0] - slope * self.flow[0])

    @property
    def best_flow(self) -> float | None:
        """Flow of best efficiency [m3/s], or None where the curve has no efficiency."""
        if self.efficiency is None:
            return None
        fine = np.linspace(self.flow[0], self.flow[-1], 401)
        return float(fine[int(np.argmax(_between(self.flow, self.efficiency, fine)))])

    def at_speed(self, ratio: float) -> PumpCurve:
        """Return the curve at another speed by the affinity laws (flow as speed, head as its square)."""
        require_positive(ratio=ratio)
        require(ratio <= 1.3, "ratio", ratio, "is beyond what the affinity laws may be trusted for", "up to 1.3 times the rated speed")
        return replace(
            self, name=f"{self.name} at {ratio:.0%} speed", flow=self.flow * ratio, head=self.head * ratio**2,
            npsh_required=None if self.npsh_required is None else self.npsh_required * ratio**2,
            minimum_flow=None if self.minimum_flow is None else self.minimum_flow * ratio,
        )


def _between(x: np.ndarray, y: np.ndarray, at: ArrayLike) -> float | np.ndarray:
    value = _through(x.tobytes(), y.tobytes())(np.asarray(at, float))
    return float(value) if np.ndim(value) == 0 else value


@lru_cache(maxsize=512)
def _through(x: bytes, y: bytes) -> Callable[[np.ndarray], np.ndarray]:
    from scipy.interpolate import PchipInterpolator

    return PchipInterpolator(np.frombuffer(x), np.frombuffer(y), extrapolate=False)


def pump_curve(
    name: str, flow: Sequence[float], head: Sequence[float], *, efficiency: Sequence[float] | None = None,
    npsh_required: Sequence[float] | None = None, minimum_flow: float | None = None, invented: bool = False, source: str = "",
) -> PumpCurve:
    """Return a pump curve from points, or say which point cannot stand.

    Raises
    ------
    BadInput
        Fewer than three points, flows that do not ascend, a head that does not fall, an efficiency outside 0 to 1.
    """
    flows, heads = np.asarray(flow, float), np.asarray(head, float)
    if flows.ndim != 1 or flows.shape != heads.shape or flows.size < 3:
        raise BadInput("pump curve", f"{flows.size} flows, {heads.size} heads", "does not hold three or more pairs", "at least three points of flow and head")
    require_non_negative(flow=flows, head=heads)
    for i in range(1, flows.size):
        if flows[i] <= flows[i - 1]:
            raise BadInput("pump curve", float(flows[i]), f"flow of point {i + 1} does not rise above point {i}", "flows in ascending order, each once")
        if heads[i] >= heads[i - 1]:
            raise BadInput("pump curve", float(heads[i]), f"head of point {i + 1} does not fall below the {heads[i - 1]:g} m of point {i}",
                           "a head that falls as the flow rises")
    extras: dict[str, np.ndarray | None] = {}
    for label, values in (("efficiency", efficiency), ("npsh_required", npsh_required)):
        if values is None:
            extras[label] = None
            continue
        array = np.asarray(values, float)
        require_finite(**{label: array})
        if array.shape != flows.shape:
            raise BadInput(label, array.size, "does not pair with the flows", f"{flows.size} values")
        extras[label] = array
    if extras["efficiency"] is not None:
        bad = extras["efficiency"][(extras["efficiency"] < 0) | (extras["efficiency"] > 0.95)]
        if bad.size:
            raise BadInput("efficiency", float(bad[0]), "is not a pump's efficiency", "a fraction from 0 to 0.95 (60 % is 0.6)")
    if extras["npsh_required"] is not None:
        require_non_negative(npsh_required=extras["npsh_required"])
    if minimum_flow is not None:
        require_non_negative(minimum_flow=minimum_flow)
    return PumpCurve(name, flows, heads, extras["efficiency"], extras["npsh_required"], minimum_flow, invented, source)


def read_pump_curve(text: str, *, name: str = "pump") -> PumpCurve:
    """Return a pump curve from pasted or loaded text.

    Parameters
    ----------
    text : str
        A heading line and points, split by commas, semicolons, tabs or spaces. Headings: one of flow_lps, flow_lpm, flow_m3h, flow_m3s;
        head_m; and, if wished, efficiency (fraction) and npsh_m.

    Raises
    ------
    BadInput
        Unknown headings, a line that does not hold a number for each, or points that make no curve.
    """
    import re

    lines = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise BadInput("pump curve", text, "is empty", "a heading such as flow_lps,head_m and three or more lines of points")
    split = re.compile(r"[,;\t ]+")
    headings = [h.strip().lower() for h in split.split(lines[0])]
    flow_heading = next((h for h in headings if h in _HEADINGS), None)
    known = {*_HEADINGS, "head_m", "efficiency", "npsh_m"}
    strange = [h for h in headings if h not in known]
    if flow_heading is None or "head_m" not in headings or strange or len(set(headings)) != len(headings):
        raise BadInput("pump curve", lines[0], "has headings that are not understood", "a heading such as flow_lps,head_m,efficiency,npsh_m")
    rows = []
    for number, line in enumerate(lines[1:], start=2):
        parts = split.split(line)
        try:
            row = [float(p) for p in parts]
        except ValueError:
            row = []
        if len(row) != len(headings):
            raise BadInput(f"pump curve line {number}", line, "does not hold a number for each heading", ",".join(headings))
        rows.append(row)
    columns = {h: [row[i] for row in rows] for i, h in enumerate(headings)}
    return pump_curve(
        name, [q * _HEADINGS[flow_heading] for q in columns[flow_heading]], columns["head_m"],
        efficiency=columns.get("efficiency"), npsh_required=columns.get("npsh_m"), source="typed or loaded",
    )


@cache
def _generic_data() -> dict:
    import tomllib
    from importlib.resources import files

    return tomllib.loads(files("borewright.pumping").joinpath("data/generic_curves.toml").read_text(encoding="utf-8"))


def generic_classes() -> tuple[str, ...]:
    """Return the names of the generic flow classes; their curves are invented."""
    return tuple(_generic_data()["class"])


def generic_curve(flow_class: str, *, stages: int) -> PumpCurve:
    """Return the invented curve of a flow class with a number of stages; for planning until a maker's curve is typed in."""
    classes = _generic_data()["class"]
    if flow_class not in classes:
        raise BadInput("flow_class", flow_class, "is not a generic class", "one of " + ", ".join(classes))
    require(isinstance(stages, int) and 1 <= stages <= 120, "stages", stages, "is not a number of stages", "1 to 120")
    one = classes[flow_class]
    return pump_curve(
        f"generic {flow_class}, {stages} stages (invented)", [q * 1e-3 for q in one["flow_lps"]], [h * stages for h in one["stage_head_m"]],
        efficiency=one["efficiency"], npsh_required=one["npsh_m"], minimum_flow=one["minimum_flow_lps"] * 1e-3, invented=True,
        source=_generic_data()["note"],
    )
