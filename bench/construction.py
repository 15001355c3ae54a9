"""Stage checks of a 400 m bore with 6 strings at 0.5 m steps against plain Python loops: want 50x, same factors to 1e-9.

    python bench/construction.py

The bore is invented and absurd on purpose: six strings one inside the next. The loop does the same arithmetic, one depth at a time.
"""

from __future__ import annotations

import math
import time

from borewright.construction import (
    Annulus,
    BoreDesign,
    CasingString,
    DesignSettings,
    HoleInterval,
    casing_of,
    stage_profiles,
    standard_catalogue,
)
from borewright.construction.design import Slots
from borewright.construction.grout import grout_mix
from borewright.construction.stages import grout_density, lift_edges

GRAVITY, WATER, STEP, ROUNDS, REPEATS = 9.80665, 1000.0, 0.5, 20, 20
DIAMETERS = (0.60, 0.50, 0.41, 0.33, 0.25, 0.17)
STAGES = ("running in", "hanging", "standing", "grouting", "setting", "drilling on", "airlifting", "service", "sealing up")


def invented() -> BoreDesign:
    """Return an invented bore of six nested PVC-U strings, each to the bottom, the inmost slotted."""
    strings, annulus = [], []
    for i, diameter in enumerate(DIAMETERS):
        inmost = i == len(DIAMETERS) - 1
        strings.append(CasingString(f"string {i}", 0.0, 400.0, diameter, diameter / 17, "PVC-U", 300.0 if inmost else None, 390.0 if inmost else None))
        annulus.append(Annulus("grout", 0.0, 290.0 if inmost else 400.0, "neat cement", f"string {i}", lifts=8))
    annulus.append(Annulus("open", 290.0, 400.0, "open hole", f"string {len(DIAMETERS) - 1}"))
    return BoreDesign("by hand", 400.0, 20.0, 150.0, 1e-3, None, (), (), (HoleInterval(0.0, 400.0, 0.7),), tuple(strings), (Slots(300.0, 390.0, 0.0015),),
                      tuple(annulus), 160.0, 0.3, (), DesignSettings())


def modulus(kind, temperature: float) -> float:
    """Return the modulus of a material at a temperature, between the rows of its table."""
    table = kind.modulus_temperature
    if temperature <= table[0][0]:
        return kind.modulus
    for (t0, s0), (t1, s1) in zip(table, table[1:], strict=False):
        if temperature <= t1:
            return kind.modulus * (s0 + (s1 - s0) * (temperature - t0) / (t1 - t0))
    raise ValueError(temperature)


def plain(design: BoreDesign, depths: dict[str, list[float]]) -> dict[tuple[str, str], list[float]]:
    """Return every factor by loops: string, stage, depth."""
    catalogue, settings, static = standard_catalogue(), design.settings, design.static_level
    found: dict[tuple[str, str], list[float]] = {}
    for string in design.strings:
        casing = casing_of(catalogue, string.material, string.outside_diameter, string.wall)
        kind = casing.material
        slotted = string.slotted_from is not None
        parts = [a for a in design.annulus if a.string == string.string]
        ratio = string.outside_diameter / string.wall
        oval = ((1 - kind.ovality) / (1 + kind.ovality) ** 2) ** 3
        inertia = math.pi / 64 * (string.outside_diameter**4 - (string.outside_diameter - 2 * string.wall) ** 4)
        area = math.pi * string.wall * (string.outside_diameter - string.wall)
        cool, hot = (modulus(kind, t) for t in (settings.ground_temperature, grout_mix("neat cement").setting_temperature))
        grouts = [(a, lift_edges(a), grout_density(a)) for a in parts if a.what == "grout"]
        for name in STAGES:
            if (name == "airlifting" and not slotted) or (name == "sealing up" and not slotted) or name == "drilling on":
                continue
            factors = []
            for z in depths[string.string]:
                strong, relief = 1.0, 0.0
                if slotted:
                    for s in design.slots:
                        if s.from_depth <= z <= s.to_depth:
                            strong = max(1 - 2 * s.open_share, 0.3)
                    for a in parts:
                        if a.what in ("open", "pack") and a.from_depth < z <= a.to_depth:
                            relief = settings.slot_relief
                outside = WATER * GRAVITY * max(z - static, 0.0)

                resistance = 2 * cool / ((1 - kind.poisson**2) * (ratio - 1) ** 3) * oval * strong
                if name == "running in":
                    pressure = 0.0 if slotted else min(outside, WATER * GRAVITY * settings.running_lag)
                elif name in ("hanging", "standing"):
                    top, bottom = (z, string.to_depth) if name == "hanging" else (string.from_depth, z)
                    wet = max(bottom - max(top, static), 0.0)
                    pressure = kind.density * GRAVITY * (bottom - top - wet) + max(kind.density - WATER, 0.0) * GRAVITY * wet
                    resistance = kind.strength * casing.joint_share if name == "hanging" else math.pi**2 * kind.modulus * inertia / settings.centraliser_spacing**2 / area
                elif name in ("grouting", "setting"):
                    pressure = 0.0
                    for a, edges, density in grouts:
                        if not a.from_depth <= z <= a.to_depth:
                            continue
                        lift = 0
                        while lift < a.lifts - 1 and z > edges[lift + 1]:
                            lift += 1
                        risen = max(static - (edges[1] - edges[0]), 0.0)
                        full = WATER * GRAVITY * max(edges[lift] - risen, 0.0) + density * GRAVITY * (z - edges[lift])
                        pressure = max(pressure, full - WATER * GRAVITY * max(z - (static if slotted else 0.0), 0.0))
                    if name == "setting":
                        resistance = 2 * hot / ((1 - kind.poisson**2) * (ratio - 1) ** 3) * oval * strong
                elif name == "sealing up":
                    cemented = any(a.from_depth <= z <= a.to_depth for a, _, _ in grouts)
                    pressure = 0.0 if cemented else (grouts[0][2] - WATER) * GRAVITY * min(z, 30.0) + WATER * GRAVITY * min(z, static, 30.0)
                    resistance = 2 * kind.hoop_stress / (ratio - 1)
                elif name == "airlifting":
                    pressure = (outside - WATER * GRAVITY * max(z - max(s.to_depth for s in design.slots), 0.0)) * (1 - relief)
                else:
                    pressure = (outside - WATER * GRAVITY * max(z - design.pumping_level, 0.0)) * (1 - relief)
                    resistance *= kind.long_term_share
                    for a, _, _ in grouts:
                        if a.from_depth <= z <= a.to_depth:
                            held = 0.5 * 0.969 * cool * kind.long_term_share / (1 - kind.poisson**2) / ratio**2.2
                            resistance = max(resistance, held * strong)
                factors.append(min(resistance / pressure, 99.0) if pressure > 0 else 99.0)
            found[string.string, name] = factors
    return found


def main() -> None:
    """Print both processor times and their ratio, after holding the factors to one another."""
    design = invented()
    profiles = stage_profiles(design, step=STEP)
    depths = {p.string: p.depth.tolist() for p in profiles}
    looped = plain(design, depths)
    worst = max(abs(a - b) / b for p in profiles for a, b in zip(looped[p.string, p.stage], p.factor.tolist(), strict=True))
    assert worst < 1e-9, worst
    assert len(looped) == len(profiles)
    slow = fast = 0.0
    for _ in range(ROUNDS):  # turn about, so that whatever else the machine does falls on both
        start = time.process_time()
        plain(design, depths)
        middle = time.process_time()
        for _ in range(REPEATS):
            stage_profiles(design, step=STEP)
        slow, fast = slow + (middle - start) / ROUNDS, fast + (time.process_time() - middle) / REPEATS / ROUNDS
    count = sum(len(p.depth) for p in profiles)
    print(f"{len(profiles)} profiles, {count} checks, factors agree to {worst:.1e}")
    print(f"plain Python loops {1000 * slow:8.1f} ms\nborewright         {1000 * fast:8.2f} ms\nratio              {slow / fast:8.1f}  (want >= 50)")


if __name__ == "__main__":
    main()
