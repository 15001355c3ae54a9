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


class GroutInputs(BenchModel):
    hole_diameter: float = quantity("diameter", "mm", "Diameter of the hole", above=0, at_most=3.0, example="200 mm")
    casing_diameter: float = quantity("diameter", "mm", "Outside diameter of the casing; 0 for an open hole", at_least=0, at_most=3.0, example="140 mm")
    length: float = quantity("length", "m", "Length to grout", above=0, at_most=3000, example="30 m")
    mix: str = choice(tuple(build.grout_mixes()), "What is mixed", default="neat cement")
    water_ratio: float | None = quantity("number", "", "Water over powder by mass; the mix's own if left out", above=0, at_most=12, default=None, example="0.5")
    washout: float = quantity("fraction", "%", "Extra over the drilled annulus for washed-out ground", at_least=0, at_most=5, default=0.2, example="20 %")
    bag_mass: float = quantity("mass", "kg", "Powder in one bag", above=0, at_most=2000, default=20.0, example="20 kg")


class GroutResults(BenchModel):
    volume: float = quantity("volume", "L", "Grout the washed-out annulus takes")
    drilled_volume: float = quantity("volume", "L", "Annulus as drilled, no washout")
    bags: int = quantity("number", "", "Whole bags")
    water: float = quantity("volume", "L", "Water for all the bags")
    bentonite: float = quantity("mass", "kg", "Bentonite to add")
    density: float = quantity("density", "kg/m3", "Density of the grout: weigh it")
    volume_per_bag: float = quantity("volume", "L", "Grout from one bag")
    net_pressure: float = quantity("pressure", "kPa", "Net pressure at the foot on a casing full of water, one lift")
    foot_pressure: float = quantity("pressure", "kPa", "Pressure of the grout at its foot: the tremie must overcome it")
    setting_time: float = quantity("time", "h", "Wait before work goes on")


def _grout(given: GroutInputs) -> Outcome:
    job = build.grout_volume(**given.model_dump())
    return Outcome(GroutResults(**{name: getattr(job, name) for name in GroutResults.model_fields}), job.advisories)


declare(Calculation(
    name="grout-volume", title="Grout, bags and water", stage="construction",
    about="The grout for an annulus or an open hole with washout: bags, water, density, the pressure it puts on the casing, and the wait.",
    inputs=GroutInputs, results=GroutResults, compute=_grout,
    source=("Absolute volumes, cement 3.14 and bentonite 2.65; within 0.6 % of published yields (Lapeyrouse 2002; API 10A)",
            "Setting times: Michigan Rule 133a (read)", "Density and water limits: Wisconsin NR 812.11, TM 5-813-1 (read)"),
    limits=("Washout is a guess until the grout comes to the top: have bags in hand.",),
))


class SealInputs(BenchModel):
    hole_diameter: float = quantity("diameter", "mm", "Diameter of the hole", above=0, at_most=3.0, example="200 mm")
    casing_diameter: float = quantity("diameter", "mm", "Outside diameter of the casing; 0 for an open hole", at_least=0, at_most=3.0, example="140 mm")
    length: float = quantity("length", "m", "Length to seal", above=0, at_most=3000, example="1.5 m")
    kind: str = choice(tuple(build.FILLS), "Dry fill", default="medium chips")
    extra: float = quantity("fraction", "%", "Extra for voids and washout", at_least=0, at_most=5, default=0.1, example="10 %")
    bag_mass: float = quantity("mass", "kg", "Mass of one bag", above=0, at_most=2000, default=20.0, example="20 kg")
    depth: float | None = quantity("depth", "m", "Top of the seal", at_least=0, at_most=3000, default=None, example="30 m")
    water_level: float | None = quantity("level", "m", "Depth to water in the annulus", default=None, example="12 m")
    conductivity: float | None = quantity("conductivity", "uS/cm", "Of the water", at_least=0, default=None, example="900 uS/cm")


class SealResults(BenchModel):
    volume: float = quantity("volume", "L", "Room to fill, extra included")
    mass: float = quantity("mass", "kg", "Dry fill")
    bags: int = quantity("number", "", "Whole bags")
    swelling_needed: float = quantity("number", "", "Times its dry volume a grain must swell to shut the voids")
    swelling_offered: float = quantity("number", "", "Times its dry volume it swells in this water")
    fall_time: float = quantity("time", "min", "Time to fall through the water")
    wetting_time: float = quantity("time", "min", "Wait for it to take up water")


def _seal(given: SealInputs) -> Outcome:
    job = build.seal_pellets(**given.model_dump())
    return Outcome(SealResults(**{name: getattr(job, name) for name in SealResults.model_fields}), job.advisories)


declare(Calculation(
    name="seal-pellets", title="Bentonite chips and pellets", stage="construction",
    about="Dry bentonite (or sand) for an annulus or hole: bags, whether it swells shut, how long it falls and soaks.",
    inputs=SealInputs, results=SealResults, compute=_seal,
    source=("Bulk densities 71, 74 and 100 lb/ft3: supplier bulletin on annular fill (read)", "10 % extra: trade guidance on dry bentonite (read)",
            "Swelling, fall and soaking: common practice, no source"),
    limits=("Tap the top with a weighted line as it goes in; a bridge leaves a gap that nobody sees.",),
))


class ChlorineInputs(BenchModel):
    inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the casing", above=0, at_most=3.0, example="125 mm")
    water_length: float = quantity("length", "m", "Water standing in the bore", above=0, at_most=3000, example="40 m")
    dose: float = quantity("concentration", "mg/L", "Free chlorine wanted", above=0, at_most=2000, default=100.0, example="100 mg/L")
    product: str = choice(tuple(build.PRODUCTS), "What chlorine comes as", default="calcium hypochlorite")
    strength: float | None = quantity("fraction", "%", "Available chlorine; the product's usual one if left out", above=0, at_most=1, default=None,
                                      example="65 %")
    hole_diameter: float | None = quantity("diameter", "mm", "Hole round the casing, when there is pack or open annulus", above=0, default=None,
                                           example="200 mm")
    casing_diameter: float | None = quantity("diameter", "mm", "Outside diameter of the casing", above=0, default=None, example="140 mm")
    pack_length: float = quantity("length", "m", "Length of pack or open annulus under water", at_least=0, default=0.0, example="20 m")
    pack_porosity: float = quantity("fraction", "%", "Water in the pack; 100 % for an open annulus", at_least=0, at_most=1, default=0.35, example="35 %")
    extra_water: float = quantity("volume", "L", "Other water to dose: tank, pipes", at_least=0, default=0.0, example="500 L")
    ph: float | None = quantity("pH", "", "pH of the water", default=None, example="7.2")


class ChlorineResults(BenchModel):
    water_volume: float = quantity("volume", "L", "Water to dose")
    chlorine: float = quantity("mass", "g", "Chlorine in it")
    product_mass: float | None = quantity("mass", "g", "Product, when it is dry", default=None)
    product_volume: float | None = quantity("volume", "mL", "Product, when it is liquid", default=None)
    contact_time: float = quantity("time", "h", "Leave it to stand")


def _chlorine(given: ChlorineInputs) -> Outcome:
    found = build.chlorine_dose(**given.model_dump())
    return Outcome(ChlorineResults(**{name: getattr(found, name) for name in ChlorineResults.model_fields}), found.advisories)


declare(Calculation(
    name="chlorine-dose", title="Chlorine to disinfect a bore", stage="construction",
    about="How much of which chlorine product disinfects the water in a bore and its pack, how long to leave it, and how to handle it.",
    inputs=ChlorineInputs, results=ChlorineResults, compute=_chlorine,
    source=("Dose x volume / available chlorine; 327 IAC 8-3.4-24 Table 24-1 and Alberta Agdex 716 (A10) reproduced (read)",),
    limits=("Trade percent is g in 100 mL; percent by weight of a liquid is 5 to 8 % less for the same bottle.",),
))
