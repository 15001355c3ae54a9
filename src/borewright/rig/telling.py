"""Results of the rig as plain JSON types, and the vectors that another language's arithmetic is held to."""

from __future__ import annotations

from typing import Any

import numpy as np

from borewright.errors import Advisory
from borewright.rig.air import CleaningByDepth
from borewright.rig.development import Development
from borewright.rig.flow import flow_from_readings
from borewright.rig.lifting import Airlift
from borewright.rig.measurement import flow_as_dict

__all__ = ["airlift_as_dict", "cleaning_as_dict", "development_as_dict", "flow_vectors"]


def _advisories(found: tuple[Advisory, ...]) -> list[dict[str, str]]:
    return [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in found]


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [None if not np.isfinite(v) else float(v) for v in value]
    return value


def _told(result: Any, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: _plain(getattr(result, name)) for name in names} | {"advisories": _advisories(result.advisories)}


def cleaning_as_dict(found: CleaningByDepth) -> dict[str, Any]:
    """Return cleaning by depth as plain JSON types, SI."""
    return _told(found, ("depth", "pressure", "collar_velocity", "bit_velocity", "cleaning_velocity", "unloading_pressure", "cleaning_ends", "unloading_ends"))


def airlift_as_dict(found: Airlift) -> dict[str, Any]:
    """Return an airlift as plain JSON types, SI."""
    return _told(found, ("flow", "low", "high", "pumping_level", "submergence", "advised", "air_per_water", "starting_pressure", "running_pressure"))


def development_as_dict(found: Development) -> dict[str, Any]:
    """Return how a bore is clearing as plain JSON types; times in seconds of work."""
    return _told(found, ("what", "criterion", "model", "half_life", "floor", "clean_by", "clean_low", "clean_high", "clean", "fitted"))


# Readings that reach each method and each of its branches, in SI; invented.
_CASES: tuple[tuple[str, dict[str, Any]], ...] = (
    ("bucket", {"volume": 0.02, "fill_times": [31.0, 32.0, 30.5]}),
    ("bucket", {"volume": 0.2, "fill_times": [60.0]}),
    ("bucket", {"volume": 0.01, "fill_times": [4.1, 3.9, 4.4, 4.0, 4.2]}),
    ("V-notch", {"heads": [0.062, 0.063], "notch_angle": 90.0}),
    ("V-notch", {"heads": [0.152, 0.150, 0.151], "notch_angle": 90.0}),
    ("V-notch", {"heads": [0.1], "notch_angle": 60.0}),
    ("V-notch", {"heads": [0.12, 0.121, 0.119], "notch_angle": 45.0}),
    ("rectangular weir", {"heads": [0.082, 0.080], "crest_width": 0.3, "channel_width": 0.9, "crest_height": 0.3}),
    ("orifice pipe", {"heads": [0.412, 0.415], "orifice_diameter": 0.075, "pipe_inside_diameter": 0.1}),
    ("orifice pipe", {"heads": [0.412], "orifice_diameter": 0.075, "pipe_inside_diameter": 0.1, "coefficient": 0.7}),
    ("pipe trajectory", {"throws": [0.41, 0.405, 0.40], "drop": 0.33, "pipe_inside_diameter": 0.08}),
    ("pipe trajectory", {"throws": [0.41], "drop": 0.33, "pipe_inside_diameter": 0.08, "dry_depth": 0.02}),
    ("upright pipe", {"rises": [0.2, 0.21], "pipe_inside_diameter": 0.1}),
    ("upright pipe", {"rises": [0.02], "pipe_inside_diameter": 0.1}),
    ("upright pipe", {"rises": [0.08], "pipe_inside_diameter": 0.1}),
)


def flow_vectors() -> list[dict[str, Any]]:
    """Return cases of each way of measuring flow with their answers, for arithmetic done where there is no coverage."""
    told = []
    for method, readings in _CASES:
        answer = flow_as_dict(flow_from_readings(method, readings))
        told.append({"method": method, "readings": readings, **{k: answer[k] for k in ("flow", "standard_uncertainty", "low", "high", "coverage_factor")},
                     "advisories": [a["code"] for a in answer["advisories"]]})
    return told
