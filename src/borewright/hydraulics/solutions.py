"""The solutions that a test can be fitted with: what each means, its parameters with bounds, and its unit response for many trials at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import exp1

from borewright.errors import BadInput
from borewright.hydraulics import borestorage, doubleporosity, flowdimension, fracture, unconfined
from borewright.hydraulics.leaky import leaky_quick
from borewright.hydraulics.partial import PartOpen, quick_excess
from borewright.hydraulics.strip import strip_response

__all__ = ["MANY_PUMPED", "PART_OPEN", "SOLUTIONS", "Parameter", "Place", "Solution", "solution_named"]

DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Parameter:
    """One fitted parameter: its word, unit, bounds in SI, whether its logarithm is fitted, and its key and factor in JSON."""

    name: str
    unit: str
    low: float
    high: float
    key: str
    factor: float = 1.0
    logarithmic: bool = True


@dataclass(frozen=True, slots=True)
class Place:
    """Where a level is read, and the bore it belongs to: radii [m], and the part of the aquifer that bore and reading are open to, if not all.

    `across` is how far it lies from the pumped bore towards the first of two parallel edges [m]; `others` its distances from other bores that pump [m].
    """

    radius: float
    pumped: bool
    bore_radius: float
    casing_radius: float
    part: PartOpen | None = None
    observed: tuple[float, float] | None = None
    across: float = 0.0
    others: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Solution:
    """One solution.

    `response(time, place, values)` gives the drawdown for each m3/s of steady pumping, shape (m, n), from times (n,) and
    parameters of shape (m, 1) by name. `grid(data)` gives trial values of the parameters beside T and S. `scales` says that T times
    the response depends on T and S only through T/S, so that T follows from the rest. `edges` names the distances of two parallel edges.
    """

    name: str
    title: str
    parameters: tuple[Parameter, ...]
    response: Callable[[np.ndarray, Place, Mapping[str, np.ndarray]], np.ndarray]
    sentence: str
    source: str
    grid: Callable[[GridData], Mapping[str, np.ndarray]]
    scales: bool = True
    where: str = "any"
    edges: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class GridData:
    """What a solution may look at to lay out its trial values."""

    radius: float
    first: float
    last: float
    diffusivities: np.ndarray


TRANSMISSIVITY = Parameter("transmissivity", "m2/s", 1e-12, 1e2, "transmissivity_m2_per_d", DAY)
STORATIVITY = Parameter("storativity", "", 1e-40, 1e3, "storativity")


def _image(distance, values, time):
    return exp1(np.minimum(distance**2 * values["storativity"] / (4.0 * values["transmissivity"] * time), 700.0))


def _own(time, place, values):
    """Return the well function of the bore itself, with what part-opening adds."""
    whole = _image(place.radius, values, time)
    if place.part is None or place.observed is None:
        return whole
    argument = place.radius**2 * values["storativity"] / (4.0 * values["transmissivity"] * time)
    return whole + quick_excess(argument, radius=place.radius, part=place.part, observed=place.observed)


def _theis(time, place, values):
    return _own(time, place, values) / (4.0 * np.pi * values["transmissivity"])


def _barrier(time, place, values):
    return (_own(time, place, values) + _image(values["image_distance"], values, time)) / (4.0 * np.pi * values["transmissivity"])


def _recharge(time, place, values):
    return (_own(time, place, values) - _image(values["image_distance"], values, time)) / (4.0 * np.pi * values["transmissivity"])


def _strip(first, second, *edges):
    def response(time, place, values):
        along = max(place.radius**2 - place.across**2, 0.0) ** 0.5
        return strip_response(time, near=values[first], far=values[second], across=place.across, along=along, transmissivity=values["transmissivity"],
                              storativity=values["storativity"], edges=edges)

    return response


def _edge_grid(*names):
    # An edge shows by how far the cone has come, (T t / S)^1/2: distances to try are shares of that, here without (T/S)^1/2.
    def grid(data: GridData) -> Mapping[str, np.ndarray]:
        return {name: np.geomspace(0.03, 2.0, 6) * 1.4**k * data.last**0.5 for k, name in enumerate(names)}

    return grid


def _edge(name):
    return Parameter(name, "m", 1e-2, 1e7, f"{name}_m")


def _leaky(time, place, values):
    argument = place.radius**2 * values["storativity"] / (4.0 * values["transmissivity"] * time)
    ratio = place.radius / values["leakage_factor"]
    total = leaky_quick(argument, ratio + 0.0 * argument)
    if place.part is not None and place.observed is not None:
        total = total + quick_excess(argument, radius=place.radius, part=place.part, observed=place.observed, leakage=ratio)
    return total / (4.0 * np.pi * values["transmissivity"])


def _bore_storage(time, place, values):
    return borestorage.quick_response(
        time, radius=place.radius, transmissivity=values["transmissivity"], storativity=values["storativity"], bore_radius=place.bore_radius,
        casing_radius=place.casing_radius)


def _double(time, place, values):
    return doubleporosity.quick_response(
        time, radius=place.radius, transmissivity=values["transmissivity"], storativity=values["storativity"],
        block_storativity=values["block_storativity_ratio"] * values["storativity"], interflow=values["interflow"])


def _slabs(time, place, values):
    return doubleporosity.quick_response(
        time, radius=place.radius, transmissivity=values["transmissivity"], storativity=values["storativity"],
        block_storativity=values["block_storativity_ratio"] * values["storativity"], interflow=values["interflow"], blocks="slabs")


def _dimension(time, place, values):
    return flowdimension.unit_response(time, radius=place.radius, transmissivity=values["transmissivity"], storativity=values["storativity"],
                                       dimension=values["flow_dimension"])


def _fracture_of(kind):
    def response(time, place, values):
        scaled = values["transmissivity"] * time / values["fracture_storage"]
        return fracture.quick_fracture(np.maximum(scaled, 1e-12), kind) / (2.0 * np.pi * values["transmissivity"])

    return response


def _unconfined(time, place, values):
    return unconfined.unit_response(
        time, radius=place.radius, transmissivity=values["transmissivity"], storativity=values["storativity"],
        specific_yield=values["yield_ratio"] * values["storativity"], vertical=values["vertical_factor"])


def _none(data: GridData) -> Mapping[str, np.ndarray]:
    return {}


SOLUTIONS: dict[str, Solution] = {
    s.name: s
    for s in (
        Solution(
            "theis", "Confined, without end (Theis)", (TRANSMISSIVITY, STORATIVITY), _theis,
            "The aquifer behaves as one even sheet: no edge, no leak and no storage of the bore's own shows in this test.",
            "Theis (1935) Trans. AGU 16:519-524", _none),
        Solution(
            "hantush-jacob", "Leaky (Hantush & Jacob)",
            (TRANSMISSIVITY, STORATIVITY, Parameter("leakage_factor", "m", 1e-2, 1e7, "leakage_factor_m")), _leaky,
            "The fall slows towards a steady level: water leaks in from above or below. In a long drought that source may fail.",
            "Hantush & Jacob (1955) Trans. AGU 36:95-100",
            lambda d: {"leakage_factor": d.radius * np.geomspace(0.5, 3e3, 9) if d.radius >= 1 else np.geomspace(2.0, 3e4, 9)}),
        Solution(
            "theis-barrier", "Confined with one edge that gives no water",
            (TRANSMISSIVITY, STORATIVITY, Parameter("image_distance", "m", 1e-2, 1e7, "image_distance_m")), _barrier,
            "The fall steepens: the water-bearing ground ends on one side. Long pumping takes more drawdown than the first hours show.",
            "Ferris et al. (1962) USGS WSP 1536-E; image bore by Theis",
            lambda d: {"image_distance": np.geomspace(max(1.05 * d.radius, 0.5), max(3e3, 40 * d.radius), 12)}),
        Solution(
            "theis-recharge", "Confined with a river or lake on one side",
            (TRANSMISSIVITY, STORATIVITY, Parameter("image_distance", "m", 1e-2, 1e7, "image_distance_m")), _recharge,
            "The fall flattens as if a river, lake or wet ground feeds the bore from one side.",
            "Ferris et al. (1962) USGS WSP 1536-E; image bore by Theis",
            lambda d: {"image_distance": np.geomspace(max(1.05 * d.radius, 0.5), max(3e3, 40 * d.radius), 12)}),
        Solution(
            "two-barriers", "A confined strip between two edges that give no water",
            (TRANSMISSIVITY, STORATIVITY, _edge("near_edge"), _edge("far_edge")), _strip("near_edge", "far_edge", "barrier", "barrier"),
            "The fall steepens and goes on steepening: the water-bearing ground is a strip with an end on both sides. Long pumping takes far more drawdown than the first hours show.",
            "Ferris et al. (1962) USGS WSP 1536-E; a row of images of Theis", _edge_grid("near_edge", "far_edge"), edges=("near_edge", "far_edge")),
        Solution(
            "barrier-and-river", "A confined strip between an edge that gives no water and a river or lake",
            (TRANSMISSIVITY, STORATIVITY, _edge("barrier_distance"), _edge("river_distance")), _strip("barrier_distance", "river_distance", "barrier", "river"),
            "On one side the water-bearing ground ends, on the other a river or lake feeds it: the fall steepens or flattens by which is nearer, and settles in the end.",
            "Ferris et al. (1962) USGS WSP 1536-E; a row of images of Theis", _edge_grid("barrier_distance", "river_distance"), edges=("barrier_distance", "river_distance")),
        Solution(
            "two-rivers", "A confined strip between two rivers or lakes",
            (TRANSMISSIVITY, STORATIVITY, _edge("near_edge"), _edge("far_edge")), _strip("near_edge", "far_edge", "river", "river"),
            "Rivers, lakes or wet ground on both sides feed the bore: the fall flattens and settles. In a long drought those sources may fail.",
            "Ferris et al. (1962) USGS WSP 1536-E; a row of images of Theis", _edge_grid("near_edge", "far_edge"), edges=("near_edge", "far_edge")),
        Solution(
            "papadopulos-cooper", "Confined, with the water standing in the bore (Papadopulos & Cooper)", (TRANSMISSIVITY, STORATIVITY), _bore_storage,
            "The first water came out of the casing; the aquifer shows only after that. An even sheet without an edge explains the rest.",
            "Papadopulos & Cooper (1967) Water Resources Research 3:241-244", _none, scales=False),
        Solution(
            "gringarten", "A bore on one long open fracture (Gringarten)",
            (TRANSMISSIVITY, Parameter("fracture_storage", "m2", 1e-12, 1e10, "storativity_times_half_length_squared_m2")), _fracture_of("open"),
            "The bore drinks from one long open fracture: drawdown first grows as the root of time. Early yield flatters such a bore.",
            "Gringarten, Ramey & Raghavan (1974) SPE Journal 14:347-360", _none, where="pumped"),
        Solution(
            "gringarten-even", "A bore on a fracture that takes water evenly (Gringarten)",
            (TRANSMISSIVITY, Parameter("fracture_storage", "m2", 1e-12, 1e10, "storativity_times_half_length_squared_m2")), _fracture_of("even"),
            "The bore drinks from one long fracture: drawdown first grows as the root of time. Early yield flatters such a bore.",
            "Gringarten, Ramey & Raghavan (1974) SPE Journal 14:347-360", _none, where="pumped"),
        Solution(
            "warren-root", "Fractures fed by the rock between them (Warren & Root)",
            (TRANSMISSIVITY, STORATIVITY, Parameter("block_storativity_ratio", "", 1e-3, 1e6, "block_over_fracture_storativity"),
             Parameter("interflow", "1/m2", 1e-14, 1e4, "interflow_per_m2")), _double,
            "Fractures give water at once, the rock between them later: the fall pauses, then goes on as before.",
            "Warren & Root (1963) SPE Journal 3:245-255",
            lambda d: {"block_storativity_ratio": np.array([0.1, 1.5, 12.0, 120.0]), "exchange_time": np.geomspace(d.first, d.last, 6)}),
        Solution(
            "moench", "Fractures fed by slabs of rock (Moench)",
            (TRANSMISSIVITY, STORATIVITY, Parameter("block_storativity_ratio", "", 1e-3, 1e6, "block_over_fracture_storativity"),
             Parameter("interflow", "1/m2", 1e-14, 1e4, "interflow_per_m2")), _slabs,
            "Fractures give water at once, the rock between them slowly: the fall is gentle for a while, then steeper.",
            "Moench (1984) Water Resources Research 20:831-846",
            lambda d: {"block_storativity_ratio": np.array([0.1, 1.5, 12.0, 120.0]), "exchange_time": np.geomspace(d.first, d.last, 6)}),
        Solution(
            "barker", "Flow of any dimension (Barker)",
            (TRANSMISSIVITY, STORATIVITY, Parameter("flow_dimension", "", 1.0, 3.0, "flow_dimension", logarithmic=False)), _dimension,
            "Water comes along a channel or through a volume and not across an even sheet; the dimension of flow says which.",
            "Barker (1988) Water Resources Research 24:1796-1804",
            lambda d: {"flow_dimension": np.array([1.1, 1.4, 1.7, 2.0, 2.3, 2.6, 2.9])}),
        Solution(
            "neuman", "Under a water table that drains late (Neuman)",
            (TRANSMISSIVITY, STORATIVITY, Parameter("yield_ratio", "", 1.0, 1e6, "specific_yield_over_storativity"),
             Parameter("vertical_factor", "1/m2", 1e-12, 1e2, "vertical_factor_per_m2")), _unconfined,
            "The fall pauses while the water table starts to drain, then goes on: the pores at the table give most of the water.",
            "Neuman (1975) Water Resources Research 11:329-342",
            lambda d: {"yield_ratio": np.array([8.0, 60.0, 500.0]), "vertical_factor": np.geomspace(1e-3, 3.0, 4) / d.radius**2},
            where="observed"),
    )
}


# Solutions that take a bore open to part of the aquifer.
PART_OPEN = ("theis", "hantush-jacob", "theis-barrier", "theis-recharge")
# Solutions that hang on the distance from a pumping bore alone, so that several bores add up.
MANY_PUMPED = ("theis", "hantush-jacob", "warren-root", "moench", "neuman")

ALSO_CALLED = {
    "leaky": "hantush-jacob", "barrier": "theis-barrier", "no-flow": "theis-barrier", "recharge": "theis-recharge", "bore-storage": "papadopulos-cooper",
    "unconfined": "neuman", "fracture": "gringarten", "double-porosity": "warren-root", "generalised-radial-flow": "barker", "confined": "theis",
    "strip": "two-barriers", "channel": "two-barriers", "recovery": "theis", "theis-recovery": "theis",
}


def solution_named(name: str) -> Solution:
    """Return a solution by its name, a plain word for it, or a part of its name that fits one only; else raise BadInput naming those there are."""
    key = "-".join(str(name).strip().lower().replace("_", "-").replace("&", " ").split())
    key = ALSO_CALLED.get(key, key)
    if key not in SOLUTIONS:
        like = [one for one in SOLUTIONS if key and key in one]
        if len(like) != 1:
            raise BadInput("solution", name, "is not a solution", "one of " + ", ".join([*SOLUTIONS, "cooper-jacob"]))
        key = like[0]
    return SOLUTIONS[key]
