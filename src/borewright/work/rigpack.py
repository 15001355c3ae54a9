"""What a phone carries to the rig and cannot work out there: the air by depth for the firm's kit, airlift advice, and how the bore clears."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from borewright.record.fold import Hole, Job

__all__ = ["air_altitude", "air_tables", "bits_of", "clearing", "kit_of", "lift_table"]

# Bits that the phone offers: in mm, and where inches are read.
_BITS_MM, _BITS_INCH = (115, 127, 140, 152, 165, 200, 216, 254), (4.5, 5, 5.5, 6, 6.5, 8, 8.5, 10)
WATER = (0.0, 0.5e-3, 2e-3, 6e-3)  # m3/s: dry, a house bore, a good bore, a river of a bore
DEPTHS = np.arange(5.0, 301.0, 5.0)
_LEVELS = np.arange(0.0, 121.0, 2.0)


def bits_of(unit_system: str) -> tuple[float, ...]:
    """Return the bits that a phone offers under a system of units [m]."""
    return tuple(b / 1000 for b in _BITS_MM) if unit_system == "metric" else tuple(round(b * 0.0254, 9) for b in _BITS_INCH)


def air_altitude(job: Job) -> float:
    """Return the height of the site above the sea to the nearest 250 m; 0 where nobody said [m]."""
    height = job.spot.body.elevation if job.spot else None
    return 250.0 * round((height or 0.0) / 250.0)


def kit_of(hole: Hole) -> tuple[float, float, float, float] | None:
    """Return (bit, rod diameter, free air, compressor pressure) in SI that a hole is drilled with, or None where not all was said."""
    started = hole.started.body if hole.started else None
    if started is None or not hole.bits or not (started.rod_diameter and started.air_flow and started.air_pressure):
        return None
    return hole.bits[-1].body.diameter, started.rod_diameter, started.air_flow, started.air_pressure


@lru_cache(maxsize=512)
def _curves(bit: float, rod: float, flow: float, pressure: float, altitude: float) -> dict[str, Any]:
    from borewright.rig import atmospheric_pressure, cleaning_by_depth

    curves = []
    surface = float(atmospheric_pressure(altitude))
    for water in WATER:
        found = cleaning_by_depth(
            DEPTHS, hole_diameter=bit, rod_diameter=rod, air_flow=flow, compressor_pressure=pressure, water_flow=water, altitude=altitude,
        )
        gauge = found.pressure - surface
        over = np.flatnonzero(gauge > pressure)
        curves.append({
            "water": water, "lift": [round(float(v), 2) for v in found.cleaning_velocity], "pressure": [round(float(p)) for p in gauge],
            "cleaning_ends": found.cleaning_ends, "unloading_ends": found.unloading_ends,
            "pressure_ends": float(DEPTHS[over[0]]) if over.size else None,
        })
    return {"bit": bit, "rod": rod, "flow": flow, "compressor": pressure, "collar": round(float(found.collar_velocity[0]), 3), "curves": curves}


def air_tables(
    kits: Sequence[tuple[float, float, float, float]], *, altitude: float = 0.0,
) -> dict[str, Any]:
    """Return how well each kit cleans at each depth, dry and with water, for a phone to look up.

    Parameters
    ----------
    kits : sequence of (bit, rod diameter, free air, compressor pressure)
        [m, m, m3/s, Pa]; a rod that leaves no room beside the bit is left out.
    altitude : float
        Of the site [m].

    Returns
    -------
    dict
        "depth" [m], "required" [m/s], "caution", and "kits", each with a curve for each flow of water in `WATER`: lift at the bit as
        sea-level velocity [m/s], gauge pressure there [Pa], and the first depths at which cleaning, unloading and pressure run out [m].
    """
    from borewright.rig import COMPRESSED_AIR_CAUTION, MINIMUM_VELOCITY

    found = [_curves(*kit, altitude) for kit in dict.fromkeys(kits) if kit[1] < kit[0] - 0.005]
    return {"depth": DEPTHS.tolist(), "altitude": altitude, "required": MINIMUM_VELOCITY, "caution": COMPRESSED_AIR_CAUTION, "kits": found}


@lru_cache(maxsize=1)
def lift_table() -> list[dict[str, float]]:
    """Return, by depth to water while pumping [m], how deep the air should go in, what the start takes [Pa], and the free air for a volume of water."""
    from borewright.rig import advised_submergence, air_per_water, unloading_pressure

    rows = []
    for level in _LEVELS:
        depths = np.arange(max(5.0, level + 2.0), level * 4 + 12.0, 0.5)
        enough = [d for d in depths if (d - level) / d >= advised_submergence(float(d))]
        depth = float(enough[0])
        rows.append({
            "level": float(level), "air_depth": depth, "starting_pressure": float(unloading_pressure(depth - level)),
            "air_per_water": float(air_per_water(level + 0.5, depth - level)),
        })
    return rows


def clearing(job: Job, number: int | None = None) -> list[dict[str, Any]]:
    """Return how a hole is clearing by each thing that was read while air-lifting, with the sentence that says it; nothing where none was.

    Each: "what", "readings" (how many), "sentence", and the fields of `borewright.rig.development_as_dict`.
    """
    from borewright.rig import development_as_dict, track_development

    hole = job.hole if number is None else job.holes.get(number)
    told = []
    for what in ("turbidity", "sand"):
        by_time = {f.body.elapsed: getattr(f.body, what) for f in (hole.airlift if hole else []) if getattr(f.body, what) is not None}
        if not by_time:
            continue
        times = sorted(by_time)
        found = track_development(times, [by_time[t] for t in times], what=what)
        answer = development_as_dict(found)
        told.append({**answer, "readings": len(times), "worked": times[-1], "sentence": _clean_sentence(answer, times[-1])})
    return told


def _hours(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"


def _clean_sentence(answer: dict[str, Any], worked: float) -> str:
    unit = "NTU" if answer["what"] == "turbidity" else "mg/L"
    aim = f"{answer['what']} of {answer['criterion']:g} {unit}"
    if answer["clean"]:
        return f"Clean now: the last three readings are at or under the {aim}."
    if answer["clean_by"] is None:
        doubt = next((a["message"] for a in answer["advisories"] if a["severity"] == "doubt"), "")
        return doubt or "The readings do not show when it will be clean."
    low, high = answer["clean_low"], answer["clean_high"]
    upper = _hours(high) if high is not None else "no end that the readings show"
    return f"Clean by about {_hours(answer['clean_by'])} of air-lifting (between {_hours(low)} and {upper}, 95 in 100) to the {aim}; {_hours(worked)} done."
