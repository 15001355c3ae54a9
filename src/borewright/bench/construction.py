"""Single calculations of construction: casing strength, grout, seal, chlorine, screen, pack, sealing a hole."""

from __future__ import annotations

from borewright import construction as build
from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity

GRAVITY = 9.80665
WATER = 1000.0
CATALOGUE = build.standard_catalogue()
PLASTICS = tuple(m.name for m in CATALOGUE.materials.values() if m.family == "plastic")
COLLAPSE_CAUTION = "Theoretical resistance of a sound pipe; the supplier's tested figure and the local code come first. A collapsed casing loses the bore."


class PlasticInputs(BenchModel):
    outside_diameter: float = quantity("diameter", "mm", "Outside diameter of the casing", above=0, at_most=2.0, example="140.2 mm")
    wall: float = quantity("diameter", "mm", "Least wall thickness", above=0, at_most=0.5, example="8.2 mm")
    material: str = choice(PLASTICS, "What the casing is made of", default="PVC-U")
    temperature: float = quantity("temperature", "degC", "Temperature of the casing wall; setting cement warms it", at_least=-10, at_most=80, default=23.0,
                                  example="45 degC")
    ovality: float = quantity("fraction", "%", "Out of round: (mean - least) / mean diameter", at_least=0, at_most=0.3, default=0.0, example="1 %")
    outside_density: float = quantity("density", "kg/m3", "Density of what stands outside: water or grout", above=0, at_most=3000, default=1000.0,
                                      example="1850 kg/m3")
    inside_density: float = quantity("density", "kg/m3", "Density of what stands inside; 0 for empty", at_least=0, at_most=3000, default=0.0,
                                     example="1000 kg/m3")
    factor: float = quantity("number", "", "Factor asked of the casing", at_least=1.0, at_most=10, default=1.5, example="1.5")


class CollapseResults(BenchModel):
    dimension_ratio: float = quantity("number", "", "Outside diameter over wall")
    resistance: float = quantity("pressure", "kPa", "Outside pressure at which it collapses")
    depth_at_collapse: float = quantity("depth", "m", "Depth of those fluids at which it collapses, no factor")
    depth_allowed: float = quantity("depth", "m", "Depth of those fluids with the factor")


def _depths(resistance: float, given: PlasticInputs | SteelInputs) -> tuple[float, float]:
    from borewright.errors import OutOfDomain

    net = (given.outside_density - given.inside_density) * GRAVITY
    if net <= 0:
        raise OutOfDomain("inside_density", given.inside_density, "is not lighter than what stands outside, so nothing presses inward",
                          "an inside density below the outside one")
    return resistance / net, resistance / net / given.factor


def _plastic(given: PlasticInputs) -> Outcome:
    casing = build.casing_of(CATALOGUE, given.material, given.outside_diameter, given.wall)
    resistance = float(build.collapse_resistance(casing, temperature=given.temperature, ovality=given.ovality))
    ultimate, allowed = _depths(resistance, given)
    return Outcome(CollapseResults(dimension_ratio=casing.ratio, resistance=resistance, depth_at_collapse=ultimate, depth_allowed=allowed),
                   build.casing_doubts(casing))


declare(Calculation(
    name="pvc-casing-collapse", title="Collapse of plastic casing", stage="construction",
    about="The outside pressure at which PVC-U, ABS or fibreglass casing collapses, warm or out of round, and the depth of fluid that makes it.",
    inputs=PlasticInputs, results=CollapseResults, compute=_plastic,
    source=("2E / ((1 - v^2) (DR - 1)^3); reproduces COMAR 26.04.04.17 Table 1 within 2 % with E 400,000 psi and v 0.36",
            "Modulus with temperature: Uni-Bell Handbook of PVC Pipe (from memory)", "Ovality: ASTM F1216 Appendix X1 (from memory)"),
    limits=("Short-term load on long thin pipe; a load that stays for years takes about half.",), cautions=(COLLAPSE_CAUTION,),
))


class SteelInputs(BenchModel):
    outside_diameter: float = quantity("diameter", "mm", "Outside diameter of the casing", above=0, at_most=2.0, example="168.3 mm")
    wall: float = quantity("diameter", "mm", "Wall thickness", above=0, at_most=0.2, example="4.8 mm")
    yield_stress: float = quantity("pressure", "MPa", "Least yield stress of the steel", at_least=172.4e6, at_most=1103e6, example="241 MPa")
    axial_stress: float = quantity("pressure", "MPa", "Tension in the wall from what hangs below", at_least=0, default=0.0, example="10 MPa")
    outside_density: float = quantity("density", "kg/m3", "Density of what stands outside", above=0, at_most=3000, default=1000.0, example="1850 kg/m3")
    inside_density: float = quantity("density", "kg/m3", "Density of what stands inside; 0 for empty", at_least=0, at_most=3000, default=0.0,
                                     example="1000 kg/m3")
    factor: float = quantity("number", "", "Factor asked of the casing", at_least=1.0, at_most=10, default=1.125, example="1.125")


class SteelResults(CollapseResults):
    regime: str = choice(("yield", "plastic", "transition", "elastic"), "Which of the four regimes governs")
    burst: float = quantity("pressure", "kPa", "Inside pressure at which 87.5 % of the wall yields")


def _steel(given: SteelInputs) -> Outcome:
    from borewright.errors import Advisory

    pipe = (given.outside_diameter, given.wall)
    stress = float(build.reduced_yield(given.yield_stress, axial_stress=given.axial_stress))
    resistance = build.steel_collapse(*pipe, yield_stress=stress)
    ultimate, allowed = _depths(resistance, given)
    doubts = ()
    if given.yield_stress < 275e6:
        doubts = (Advisory("below-fit", "doubt", "The equations were fitted to casing of 40 ksi (276 MPa) and more; below that they are an extrapolation.",
                           "yield_stress"),)
    return Outcome(SteelResults(
        dimension_ratio=pipe[0] / pipe[1], resistance=resistance, depth_at_collapse=ultimate, depth_allowed=allowed,
        regime=build.steel_collapse_regime(*pipe, yield_stress=stress), burst=build.steel_burst(*pipe, yield_stress=given.yield_stress)), doubts)


declare(Calculation(
    name="steel-casing-collapse", title="Collapse of steel casing", stage="construction",
    about="The outside pressure at which steel casing collapses, by the four regimes of API 5C3 and ISO 10400, with tension if any.",
    inputs=SteelInputs, results=SteelResults, compute=_steel,
    source=("API Bulletin 5C3 (1994) and ISO 10400:2007, historical equations (from memory); agrees with 26 rows of API Bulletin 5C2 within 6 psi",),
    limits=("New pipe of full wall; rust takes wall away.",), cautions=(COLLAPSE_CAUTION,),
))
