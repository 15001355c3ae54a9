"""Pressure against resistance for each string at each stage of building and using a bore, at every depth at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from borewright.construction.catalogue import (
    Casing,
    Catalogue,
    burst_resistance,
    casing_of,
    collapse_resistance,
    standard_catalogue,
)
from borewright.construction.design import Annulus, BoreDesign, CasingString, StageCheck
from borewright.construction.grout import GRAVITY, WATER_DENSITY, grout_mix, grout_mixes, slurry
from borewright.construction.seal import FILLS
from borewright.construction.strength import buckling_load, encased_collapse, pipe_area, slotted_share
from borewright.errors import require_positive
from borewright.ground import GROUND

__all__ = ["LARGEST_FACTOR", "STAGES", "StageProfile", "check_stages", "grout_density", "lift_edges", "profiles_as_dict", "shallowest_failure", "stage_profiles"]

STAGES = ("running in", "hanging", "standing", "pumping grout", "placing the seal", "grouting", "setting", "drilling on", "airlifting", "ground load", "service",
          "sealing up")
LARGEST_FACTOR = 99.0
RING_TRUST = 0.5  # grout is never all round; common practice, no source
SEALING_LIFT = 30.0  # m of grout at a time when a bore is sealed up; common practice, no source
CLOSE = 1.1  # a factor within a tenth of the one required is told as close
# kPa per metre of depth against ungrouted casing: Australian drilling contractor guidance reproducing national bore-construction guidance (read).
FILL_LOAD, SWELLING_CLAY_LOAD = 12e3, 23e3
CLAYS = ("clay", "till", "peat")
SOURCES = {
    "running in": "casing filled as it is run, water outside; common practice",
    "hanging": "weight in air above the water and buoyant below it, on the joint; common practice",
    "standing": "buoyant weight on the foot between centralisers taken as hinges, Euler",
    "pumping grout": "burst: the casing full of grout to the top, water outside",
    "placing the seal": "swelling chips as poured, taken as a liquid of their wet density over their own height, water inside; common practice, no source",
    "grouting": "liquid grout outside, water inside: (grout - water) g x lift, and the water over it",
    "setting": "the same pressure with the casing warmed by the setting cement",
    "drilling on": "air drilling empties the casing below the water outside",
    "airlifting": "empty to the air line, the static column outside",
    "ground load": "12 kPa per m of fill, 23 of swelling clay, against ungrouted casing; Australian bore-construction guidance (read)",
    "service": "static column outside, lowest pumping level inside, for decades; set cement holds half a perfect ring (Glock 1977, from memory)",
    "sealing up": "burst: the bore filled with grout from its foot in lifts of 30 m, the water they lift over them; set cement behind the casing carries it; common practice, no source",
}


@dataclass(frozen=True, slots=True)
class StageProfile:
    """One string at one stage down its length: depth [m], net outside pressure (or stress) and resistance [Pa], factor [-]."""

    stage: str
    string: str
    depth: np.ndarray
    pressure: np.ndarray
    resistance: np.ndarray
    factor: np.ndarray
    required: float
    source: str


def grout_density(part: Annulus) -> float:
    """Return the density of the grout in an annulus: as typed where it was, else of its mix [kg/m3]."""
    return part.density if part.density > 0 else _mix_density(part.material)


@lru_cache(maxsize=64)
def _mix_density(name: str) -> float:
    mix = grout_mix(name)
    return slurry(bag_mass=20.0, water_ratio=mix.water_ratio, bentonite_share=mix.bentonite_share, powder=mix.powder).density


def lift_edges(part: Annulus) -> list[float]:
    """Return the tops and bottoms of the lifts of a grouted annulus, from the top down [m]."""
    height = (part.to_depth - part.from_depth) / part.lifts
    return [*(part.from_depth + height * i for i in range(part.lifts)), part.to_depth]


def _column(depth: np.ndarray, level: float | np.ndarray) -> np.ndarray:
    return WATER_DENSITY * GRAVITY * np.maximum(depth - level, 0.0)


def _within(depth: np.ndarray, top: float, bottom: float) -> slice:
    """The part of an ascending grid from one depth to another, ends included."""
    first, last = depth.searchsorted((top, bottom))
    return slice(first, last + 1 if last < len(depth) and depth[last] <= bottom else last)


def _grouting(depth: np.ndarray, parts: list[Annulus], static_level: float, inside_level: float) -> np.ndarray:
    """Net pressure of the lift being placed at each depth; 0 where no grout goes. The water that a lift lifts stands over it."""
    net = np.zeros(len(depth))
    for part in parts:
        here, edges = _within(depth, part.from_depth, part.to_depth), lift_edges(part)
        at = depth[here]
        risen = max(static_level - (edges[1] - edges[0]), 0.0)
        weight = grout_density(part) * GRAVITY
        # Of each lift only its top matters: the water over it, less what its grout would weigh down to there.
        lift = np.searchsorted(edges[1:-1], at, side="left")
        over = np.array([WATER_DENSITY * GRAVITY * max(top - risen, 0.0) - weight * top for top in edges[:-1]])
        net[here] = np.maximum(net[here], over[lift] + weight * at - _column(at, inside_level))
    return net


def _seal_load(depth: np.ndarray, design: BoreDesign, parts: list[Annulus]) -> np.ndarray | None:
    """Net pressure of the chips or pellets of a seal before they have swollen; None without a seal."""
    load = None
    for part in parts:
        if part.what == "seal":
            load = np.zeros(len(depth)) if load is None else load
            fill = FILLS[part.material if part.material in FILLS else design.settings.seal_kind]
            here = _within(depth, part.from_depth, part.to_depth)
            # Wet chips less water: what the grains weigh in water, in the share of the space that they fill.
            load[here] = (fill.grain_density - WATER_DENSITY) * fill.bulk_density / fill.grain_density * GRAVITY * (depth[here] - part.from_depth)
    return load


def _filling(depth: np.ndarray, static: float, density: float) -> np.ndarray:
    """Net inside pressure while a bore is filled with grout for good, each depth."""
    return (density - WATER_DENSITY) * GRAVITY * np.minimum(depth, SEALING_LIFT) + WATER_DENSITY * GRAVITY * np.minimum(depth, min(max(static, 0.0), SEALING_LIFT))


def _where_free(depth: np.ndarray, net: np.ndarray, grouts: list[Annulus], string: CasingString) -> np.ndarray | None:
    """A pressure with 0 where set cement stands behind the casing and carries it; None where cement stands behind all of it."""
    cemented = [part for part in grouts if _sets(part)]
    if any(part.from_depth <= string.from_depth and part.to_depth >= string.to_depth for part in cemented):
        return None
    net = net.copy()
    for part in cemented:
        net[_within(depth, part.from_depth, part.to_depth)] = 0.0
    return net


def _sets(part: Annulus) -> bool:
    return part.material not in grout_mixes() or grout_mix(part.material).powder == "cement"


def _ground_load(depth: np.ndarray, design: BoreDesign, parts: list[Annulus]) -> np.ndarray | None:
    load = None
    for part in parts:
        if part.what in ("grout", "seal"):
            continue
        for ground in design.ground:
            top, bottom = max(part.from_depth, ground.from_depth), min(part.to_depth, ground.to_depth)
            if bottom > top and ground.ground_class in GROUND and ground.overburden:
                load = np.zeros(len(depth)) if load is None else load
                here = _within(depth, top, bottom)
                load[here] = (SWELLING_CLAY_LOAD if ground.ground_class in CLAYS else FILL_LOAD) * depth[here]
    return load


def _grid(design: BoreDesign, step: float) -> np.ndarray:
    """One grid for every string, with each depth where something begins or ends."""
    bottom = max(s.to_depth for s in design.strings)
    count = max(1, math.ceil(bottom / step))
    marks = {design.static_level, design.pumping_level, bottom}
    for rows in (design.strings, design.slots, design.ground):
        for row in rows:
            marks |= {row.from_depth, row.to_depth}
    for part in design.annulus:
        marks |= set(lift_edges(part))
    return np.unique(np.concatenate([np.arange(count) * (bottom / count), [m for m in marks if 0 <= m <= bottom]]))


def stage_profiles(
    design: BoreDesign, *, catalogue: Catalogue | None = None, step: float = 0.5, casings: Mapping[str, Casing] | None = None, only: tuple[str, ...] = STAGES,
) -> tuple[StageProfile, ...]:
    """Return pressure, resistance and factor down each string at each stage.

    Parameters
    ----------
    design : BoreDesign
    catalogue : Catalogue, optional
        Where the materials of the strings are described.
    step : float
        Between depths [m].
    casings : mapping, optional
        Casing by string name, to try another than the design's.
    only : tuple of str
        Stages wanted.

    Notes
    -----
    Gauge pressures. Running in: the water inside lags the water outside. Grouting: each lift presses as liquid over its own length, with the
    water that it lifts standing over it; lifts below have set. A blank string is kept full of water to the top; a slotted one holds it only to
    the static level. Setting: the same with the wall at the mix's setting temperature. Airlifting: empty inside to the foot of the slots.
    Placing the seal: chips not yet swollen, as a liquid. Sealing up: burst by the grout that fills the bore at the end of its life.
    Service: the lowest pumping level inside, the long-term modulus. Behind slots and open annulus below the seal, `slot_relief` of the water
    column is let through. Slots take away from the resistance where they are cut.
    """
    catalogue = catalogue or standard_catalogue()
    require_positive(step=step)
    settings, static, depth = design.settings, design.static_level, _grid(design, step)
    ground = settings.ground_temperature
    outside = _column(depth, static)
    lag = outside if settings.run_empty else np.minimum(outside, WATER_DENSITY * GRAVITY * settings.running_lag)
    drawn = outside - _column(depth, max(design.pumping_level, static))
    deepest = max(s.to_depth for s in design.strings)
    nothing, filling = np.zeros(len(depth)), _filling(depth, static, _mix_density(settings.grout_mix))
    rows: list[_Row] = []
    for string in design.strings:
        casing = (casings or {}).get(string.string) or casing_of(catalogue, string.material, string.outside_diameter, string.wall)
        kind, factors = casing.material, casing.material.factors
        parts = [a for a in design.annulus if a.string == string.string]
        grouts = [a for a in parts if a.what == "grout"]
        slots = design.slots if string.slotted_from is not None else ()
        hot = max((grout_mix(g.material).setting_temperature if g.material in grout_mixes() else 45.0 for g in grouts), default=ground)
        hot = max(hot, ground)
        weight_above, tension = _axial(kind.density, string, depth, static)
        known = _strengths(casing, ground, hot, settings.centraliser_spacing, float(tension[depth.searchsorted(string.from_depth)]))
        lasting = _service_resistance(known, depth, grouts)
        cool, warm, shut = known.cool, known.warm, 1.0
        if slots:
            strong, shut = np.ones(len(depth)), np.ones(len(depth))
            for s in slots:
                strong[_within(depth, s.from_depth, s.to_depth)] = slotted_share(s.open_share)
            for part in parts:
                if part.what in ("open", "pack"):
                    shut[(depth > part.from_depth) & (depth <= part.to_depth)] = 1 - settings.slot_relief
            cool, warm, lasting = cool * strong, warm * strong, lasting * strong

        def add(stage: str, pressure: Any, resistance: Any, required: float, more: str = "", *, string: CasingString = string, asked: str = kind.factor_source) -> None:
            if stage in only:
                rows.append(_Row(stage, string, pressure, resistance, required, f"{SOURCES[stage]}{more}. Factor: {asked}"))

        add("running in", nothing if slots and not settings.run_empty else lag, cool, factors["collapse"])
        add("hanging", tension, kind.strength * casing.joint_share, factors["tension"])
        add("standing", weight_above, known.buckling, factors["buckling"])
        if grouts and not slots and settings.grout_method == "through the casing":
            add("pumping grout", max(grout_density(g) for g in grouts) * GRAVITY * depth - outside, known.burst, factors["burst"])
        seal = _seal_load(depth, design, parts)
        if seal is not None:
            add("placing the seal", seal, cool, factors["collapse"])
        if grouts:
            net = _grouting(depth, grouts, static, static if slots else 0.0)
            add("grouting", net, cool, factors["collapse"])
            add("setting", net, warm, factors["collapse"], f", {hot:g} degC")
        if not slots and (len(design.strings) == 1 or string.to_depth < deepest):
            add("drilling on", outside, cool, factors["collapse"])
        if slots:
            add("airlifting", (outside - _column(depth, max(max(s.to_depth for s in slots), static))) * shut, cool, factors["collapse"])
        load = _ground_load(depth, design, parts)
        if load is not None:
            add("ground load", load, cool, 1.0)
        add("service", drawn * shut, lasting, factors["long_collapse"])
        free = _where_free(depth, filling, grouts, string)
        if free is not None:
            add("sealing up", free, known.burst, factors["burst"])
    return _with_factors(depth, rows)


@dataclass(frozen=True, slots=True)
class _Row:
    stage: str
    string: CasingString
    pressure: np.ndarray
    resistance: np.ndarray | float
    required: float
    source: str


def _with_factors(depth: np.ndarray, rows: list[_Row]) -> tuple[StageProfile, ...]:
    """Divide every row at once, and cut each to the length of its string."""
    pressure, resistance = np.empty((len(rows), len(depth))), np.empty((len(rows), len(depth)))
    for i, row in enumerate(rows):
        pressure[i], resistance[i] = row.pressure, row.resistance
    factor = np.full_like(pressure, LARGEST_FACTOR)
    # A load so small that the factor would pass the largest is no load.
    np.divide(resistance, pressure, out=factor, where=pressure * LARGEST_FACTOR > resistance)
    strings = {row.string.string: row.string for row in rows}
    spans = {name: _within(depth, max(string.from_depth, 0.0), string.to_depth) for name, string in strings.items()}
    return tuple(
        StageProfile(row.stage, row.string.string, depth[here], pressure[i, here], resistance[i, here], factor[i, here], row.required, row.source)
        for i, row in enumerate(rows) for here in (spans[row.string.string],)
    )


@dataclass(frozen=True, slots=True)
class _Strengths:
    """What one casing withstands, before slots take away from it [Pa]; `held` is 0 for steel."""

    cool: float
    warm: float
    lasting: float
    held: float
    burst: float
    buckling: float


def _strengths(casing: Casing, ground: float, hot: float, spacing: float, tension: float) -> _Strengths:
    """Work out what a casing withstands, or recall it: a search tries the same casing many times."""
    kind = casing.material
    key = (casing.outside_diameter, casing.wall, kind.family, kind.modulus, kind.poisson, kind.strength, kind.hoop_stress, kind.long_term_share, kind.ovality,
           kind.modulus_temperature, kind.strength_temperature, ground, hot, spacing, tension if kind.family == "steel" else 0.0)
    found = _RECALLED.get(key)
    if found is None:
        held = 0.0
        if kind.family != "steel":
            lasting = kind.modulus * kind.modulus_share(ground) * kind.long_term_share
            held = RING_TRUST * encased_collapse(casing.outside_diameter, casing.wall, modulus=lasting, poisson=kind.poisson)
        found = _Strengths(
            float(collapse_resistance(casing, temperature=ground, axial_stress=tension)), float(collapse_resistance(casing, temperature=hot)),
            float(collapse_resistance(casing, temperature=ground, long_term=True)), held, float(burst_resistance(casing, temperature=ground)),
            buckling_load(casing.outside_diameter, casing.wall, modulus=kind.modulus, spacing=spacing) / pipe_area(casing.outside_diameter, casing.wall),
        )
        if len(_RECALLED) > 4096:
            _RECALLED.clear()
        _RECALLED[key] = found
    return found


_RECALLED: dict[tuple, _Strengths] = {}


def _service_resistance(known: _Strengths, depth: np.ndarray, grouts: list[Annulus]) -> np.ndarray:
    """Resistance to a load that stays; a plastic held by set cement is trusted with half of what a perfect ring would give it."""
    found = np.full_like(depth, known.lasting)
    for part in grouts:
        if _sets(part):
            found[_within(depth, part.from_depth, part.to_depth)] = max(known.lasting, known.held)
    return found


def _axial(density: float, string: CasingString, depth: np.ndarray, static: float) -> tuple[np.ndarray, np.ndarray]:
    """Compression by the weight above and tension by the weight below, each depth [Pa]; the string stands or hangs, not both."""
    dry, wet = density * GRAVITY, max(density - WATER_DENSITY, 0.0) * GRAVITY  # stress gained in a metre of air and of water

    stress = dry * np.minimum(depth, static) + wet * np.maximum(depth - static, 0.0)
    top, bottom = (dry * min(z, static) + wet * max(z - static, 0.0) for z in (string.from_depth, string.to_depth))
    return stress - top, bottom - stress


def profiles_as_dict(profiles: tuple[StageProfile, ...]) -> list[dict[str, Any]]:
    """Return profiles as plain JSON types, to draw pressure and resistance against depth [m, Pa]."""
    return [
        {"stage": p.stage, "string": p.string, "depth": p.depth.tolist(), "pressure": p.pressure.tolist(), "resistance": p.resistance.tolist(),
         "factor": p.factor.tolist(), "required": float(p.required), "source": p.source}
        for p in profiles
    ]


def check_stages(profiles: tuple[StageProfile, ...]) -> tuple[StageCheck, ...]:
    """Return each profile at its worst depth, in the order of the stages."""
    checks = []
    for p in profiles:
        at = int(np.argmin(p.factor))
        if p.factor[at] >= LARGEST_FACTOR:
            at = int(np.argmax(p.pressure))
        factor = float(p.factor[at])
        verdict = "fails" if factor < p.required * (1 - 1e-9) else "close" if factor < p.required * CLOSE else "holds"
        checks.append(StageCheck(p.stage, p.string, float(p.depth[at]), float(p.pressure[at]), float(p.resistance[at]), factor, float(p.required), verdict, p.source))
    return tuple(sorted(checks, key=lambda c: STAGES.index(c.stage)))


def shallowest_failure(profiles: tuple[StageProfile, ...], string: str) -> tuple[str, float] | None:
    """Return the stage that a string fails first from the top down, and the depth below which it does [m]; None if it holds."""
    failed = []
    for p in profiles:
        under = p.factor < p.required * (1 - 1e-9)
        if p.string == string and under.any():
            failed.append((float(p.depth[int(np.argmax(under))]), p.stage))
    return (min(failed)[1], min(failed)[0]) if failed else None
