"""Candidate spots: distances to keep, and which spot costs least in the end, pipe and power run and dry holes counted."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np

from borewright.errors import Advisory, BadInput, OutOfDomain, require_finite, require_non_negative, require_positive

__all__ = ["Breach", "Hazard", "RankedSpot", "Setback", "Spot", "expected_cost_to_success", "rank_spots", "sample_setbacks", "setback_breaches", "setbacks_from_toml"]

LOCAL_CODE = "Setbacks are set by the local code: check it and the site before drilling. Overhead lines and buried services are found on site, not here."


@dataclass(frozen=True, slots=True)
class Setback:
    """A distance to keep from a kind of hazard [m], and where the rule stands."""

    hazard: str
    distance: float
    source: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """Something to keep away from: its kind, and its place on the local grid [m]."""

    kind: str
    easting: float
    northing: float


@dataclass(frozen=True, slots=True)
class Breach:
    """A hazard that stands nearer than its rule allows [m]."""

    hazard: str
    distance: float
    required: float
    source: str


def setbacks_from_toml(text: str) -> tuple[Setback, ...]:
    """Return the rules of a TOML text: a list of [[setback]] with hazard, distance (m) and source.

    Raises
    ------
    BadInput
        Not TOML, a rule that lacks a word, a distance that is not above zero.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInput("setbacks", None, f"is not TOML: {error}", "[[setback]] with hazard, distance, source") from error
    out = []
    for row in data.get("setback", []):
        if not isinstance(row, dict) or not {"hazard", "distance", "source"} <= set(row):
            raise BadInput("setbacks", row, "lacks a word", "hazard, distance (m) and source in each [[setback]]")
        if isinstance(row["distance"], bool) or not isinstance(row["distance"], (int, float)):
            raise BadInput("setbacks", row["distance"], "is not a distance", "metres above zero")
        require_positive(distance=float(row["distance"]))
        out.append(Setback(str(row["hazard"]).strip().lower(), float(row["distance"]), str(row["source"])))
    if not out:
        raise BadInput("setbacks", None, "hold no rule", "at least one [[setback]]")
    return tuple(out)


def sample_setbacks(path: Path | str | None = None) -> tuple[Setback, ...]:
    """Return the rules of a file, or the sample that is kept with the program: a start to edit, not anyone's law."""
    if path is not None:
        return setbacks_from_toml(Path(path).read_text(encoding="utf-8"))
    return setbacks_from_toml(files("borewright.siting").joinpath("data", "setbacks_sample.toml").read_text(encoding="utf-8"))


def setback_breaches(easting: float, northing: float, hazards: Sequence[Hazard], rules: Sequence[Setback]) -> tuple[Breach, ...]:
    """Return the hazards that stand too near a spot, the worst first; raise BadInput for a hazard that no rule names."""
    require_finite(easting=easting, northing=northing)
    known = {rule.hazard: rule for rule in rules}
    out = []
    for hazard in hazards:
        rule = known.get(hazard.kind.strip().lower())
        if rule is None:
            raise BadInput("hazard", hazard.kind, "has no rule in the setback file", "one of " + ", ".join(sorted(known)))
        distance = float(np.hypot(hazard.easting - easting, hazard.northing - northing))
        if distance < rule.distance:
            out.append(Breach(rule.hazard, distance, rule.distance, rule.source))
    return tuple(sorted(out, key=lambda b: b.distance - b.required))


def expected_cost_to_success(cost_success: np.ndarray | float, cost_failure: np.ndarray | float, chance: np.ndarray | float) -> np.ndarray:
    """Return the expected cost of drilling until one hole succeeds, each with the same independent chance, in the unit of the costs.

    E = cost_success + cost_failure (1 - p) / p: one success, and on average (1 - p) / p failures before it.
    """
    require_non_negative(cost_success=cost_success, cost_failure=cost_failure)
    chance = np.asarray(chance, float)
    if np.any(~(chance > 0)) or np.any(chance > 1):
        raise OutOfDomain("chance", float(chance.flat[0]), "must be above 0 and at most 1", "a chance of success")
    return np.asarray(cost_success, float) + np.asarray(cost_failure, float) * (1.0 - chance) / chance


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot that could be drilled.

    Attributes
    ----------
    name : str
    easting, northing : float
        On a local grid [m].
    chance : float
        Of enough water [-].
    cost_success, cost_failure : float
        Of a hole that succeeds (completed), and of one that fails (sealed) [money].
    harm_to_neighbours : float
        What making good at neighbours' bores may cost [money].
    """

    name: str
    easting: float
    northing: float
    chance: float
    cost_success: float
    cost_failure: float
    harm_to_neighbours: float = 0.0


@dataclass(frozen=True, slots=True)
class RankedSpot:
    """A spot with its expected whole cost [money] and its parts; breaches put it behind every spot without any."""

    spot: Spot
    whole_cost: float
    drilling: float
    run: float
    run_length: float
    breaches: tuple[Breach, ...]
    advisories: tuple[Advisory, ...]


def rank_spots(spots: Sequence[Spot], *, house: tuple[float, float], run_cost_per_metre: float, hazards: Sequence[Hazard] = (), rules: Sequence[Setback] = ()) -> tuple[RankedSpot, ...]:
    """Return the spots ranked by expected whole cost, those too near a hazard last.

    Parameters
    ----------
    spots : sequence of Spot
    house : tuple
        Easting and northing of where the water is wanted [m].
    run_cost_per_metre : float
        Of pipe, cable and trench together [money/m].
    hazards, rules : sequence
        What to keep away from, and how far.

    Notes
    -----
    A failed hole is followed by another like it, so the drilling counts (1 - p) / p failures before the success.
    """
    require_non_negative(run_cost_per_metre=run_cost_per_metre)
    out = []
    for spot in spots:
        drilling = float(expected_cost_to_success(spot.cost_success, spot.cost_failure, spot.chance))
        length = float(np.hypot(spot.easting - house[0], spot.northing - house[1]))
        run = length * run_cost_per_metre
        breaches = setback_breaches(spot.easting, spot.northing, hazards, rules) if hazards else ()
        notes = [Advisory("local-code", "note", LOCAL_CODE, spot.name)]
        notes += [Advisory("too-near", "danger", f"{spot.name} is {b.distance:.0f} m from a {b.hazard}; the rule asks {b.required:.0f} m ({b.source}).", spot.name) for b in breaches]
        out.append(RankedSpot(spot, drilling + run + spot.harm_to_neighbours, drilling, run, length, breaches, tuple(notes)))
    return tuple(sorted(out, key=lambda r: (bool(r.breaches), r.whole_cost, r.spot.name)))
