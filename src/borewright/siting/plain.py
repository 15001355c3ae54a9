"""Odds, prospects and columns as plain JSON types, and back: for the job book, the command line and the pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from borewright.errors import BadInput
from borewright.siting.odds import Odds
from borewright.siting.prospect import ExpectedColumn, WaterProspect

__all__ = ["column_as_dict", "column_from_dict", "odds_as_dict", "prospect_as_dict", "prospect_from_dict"]


def prospect_as_dict(prospect: WaterProspect) -> dict[str, Any]:
    """Return a prospect as plain types; numbers are kept to the last bit."""
    return {
        "depth_edges": [float(v) for v in prospect.depth_edges], "strike_intensity": [float(v) for v in prospect.strike_intensity],
        "scale_shape": prospect.scale_shape, "scale_rate": prospect.scale_rate, "log_yield_mean": prospect.log_yield_mean,
        "log_yield_sd": prospect.log_yield_sd, "effective_records": prospect.effective_records,
    }


def prospect_from_dict(data: Mapping[str, Any]) -> WaterProspect:
    """Return the prospect that was kept; raise BadInput for what is none."""
    try:
        return WaterProspect(
            np.asarray(data["depth_edges"], float), np.asarray(data["strike_intensity"], float),
            *(float(data[k]) for k in ("scale_shape", "scale_rate", "log_yield_mean", "log_yield_sd", "effective_records")))
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput("prospect", None, f"is not a prospect: {error}", "what prospect_as_dict gives") from error


def column_as_dict(column: ExpectedColumn) -> dict[str, Any]:
    """Return an expected column as plain types; quantiles are keyed by their probability as text."""
    return {
        "depth_edges": [float(v) for v in column.depth_edges], "classes": list(column.classes),
        "probability": [[float(v) for v in row] for row in column.probability],
        "rockhead_quantiles": {f"{k:g}": float(v) for k, v in column.rockhead_quantiles.items()}, "effective_records": column.effective_records,
    }


def column_from_dict(data: Mapping[str, Any]) -> ExpectedColumn:
    """Return the expected column that was kept; raise BadInput for what is none."""
    try:
        return ExpectedColumn(
            np.asarray(data["depth_edges"], float), tuple(data["classes"]), np.asarray(data["probability"], float),
            {float(k): float(v) for k, v in data["rockhead_quantiles"].items()}, float(data["effective_records"]))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadInput("column", None, f"is not an expected column: {error}", "what column_as_dict gives") from error


def _quantiles(values: Mapping[float, float | None]) -> dict[str, float | None]:
    return {f"{k:g}": v for k, v in values.items()}


def odds_as_dict(odds: Odds) -> dict[str, Any]:
    """Return the odds as plain types; the unit is in each name."""
    told = lambda rows: [{"depth_m": r.depth, "p": r.p, "low": r.low, "high": r.high} for r in rows]
    out = {
        "register": odds.register, "lat": odds.latitude, "lon": odds.longitude, "need_lps": 1000.0 * odds.need, "by_depth": told(odds.by_depth),
        "effective_records": odds.effective_records, "enough_depth_m": _quantiles(odds.enough_depth), "first_water_m": _quantiles(odds.first_water),
        "static_level_m": _quantiles(odds.static_level), "conductivity_us_cm": _quantiles(odds.conductivity),
        "rockhead_m": _quantiles(odds.column.rockhead_quantiles),
        "nearest": [{"bore_id": n.bore_id, "distance_m": n.distance, "depth_m": n.depth, "yield_lps": None if n.flow is None else 1000.0 * n.flow,
                     "wet": n.wet, "lat": n.latitude, "lon": n.longitude} for n in odds.nearest],
        "sentence": odds.sentence, "advisories": [asdict(a) for a in odds.advisories],
    }
    if odds.opinion is not None:
        out["opinion"] = {"chance": odds.opinion.chance, "bores": odds.opinion.bores, "depth_m": odds.opinion.depth}
        out["from_records"] = told(odds.from_records)
    return out
