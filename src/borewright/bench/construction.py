"""Single calculations of construction: casing strength, grout, seal, chlorine, screen, pack, sealing a hole."""

from __future__ import annotations

from borewright import construction as build
from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity, quantity_list

GRAVITY = 9.80665
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


class SlotInputs(BenchModel):
    flow: float = quantity("flow", "L/s", "Flow of the bore", above=0, example="1 L/s")
    outside_diameter: float = quantity("diameter", "mm", "Outside diameter of the slotted casing", above=0, at_most=2.0, example="140 mm")
    length: float = quantity("length", "m", "Slotted length", above=0, at_most=3000, example="12 m")
    aperture: float = quantity("length", "mm", "Width of a slot", above=0, at_most=0.05, example="1.5 mm")
    spacing: float = quantity("length", "mm", "From one slot to the next along the casing", above=0, at_most=1.0, default=0.010, example="10 mm")
    rows: float = quantity("number", "", "Rows of slots round the casing", above=0, at_most=100, default=3.0, example="3")
    slot_length: float = quantity("length", "mm", "Length of a slot round the casing", above=0, at_most=1.0, default=0.06, example="60 mm")
    blocked: float = quantity("fraction", "%", "Share of the open area that gravel or rock stands against", at_least=0, at_most=0.99, default=0.5, example="50 %")


class SlotResults(BenchModel):
    open_area: float = quantity("area", "mm2", "Open area of a metre of casing")
    open_share: float = quantity("fraction", "%", "Open share of the wall")
    slots: int = quantity("number", "", "Slots in the whole length")
    entrance_speed: float = quantity("velocity", "m/s", "Speed through the slots that are not blocked")
    head_loss: float = quantity("length", "mm", "Head lost through the slots")
    least_length: float = quantity("length", "m", "Slotted length that keeps the speed to 0.03 m/s")
    strength_share: float = quantity("fraction", "%", "Share of the plain casing's strength to trust")


def _slots(given: SlotInputs) -> Outcome:
    pipe = build.slotted_pipe(outside_diameter=given.outside_diameter, aperture=given.aperture, spacing=given.spacing, rows=given.rows,
                              slot_length=given.slot_length)
    inflow = build.entrance(flow=given.flow, open_area=pipe.open_area, length=given.length, blocked=given.blocked)
    return Outcome(SlotResults(
        open_area=pipe.open_area, open_share=pipe.open_share, slots=round(pipe.slots_per_length * given.length), entrance_speed=inflow.speed,
        head_loss=inflow.head_loss, least_length=inflow.least_length, strength_share=build.slotted_share(pipe.open_share)), inflow.advisories)


declare(Calculation(
    name="screen-slots", title="Slots: open area and entrance speed", stage="construction",
    about="How much of slotted casing is open, how fast water enters, what head it loses, and how long the slotted part must be.",
    inputs=SlotInputs, results=SlotResults, compute=_slots,
    source=("0.1 ft/s (0.03 m/s): TM 5-813-1 (1987) p. 27 (read)", "Strength left: common practice, no source; use the supplier's figure"),
    limits=("Sawn slots across the casing; other screens have their maker's open area.",),
))


class PackInputs(BenchModel):
    sieves: tuple[float, ...] = quantity_list("length", "mm", "Sieve openings", example="0.075, 0.15, 0.3, 0.6, 1.2 mm")
    passing: tuple[float, ...] = quantity_list("fraction", "%", "Share of the sample finer than each sieve", example="3 %, 15 %, 48 %, 85 %, 99 %")
    pack_uniformity: float = quantity("number", "", "D60/D10 of the pack to be bought", at_least=1.0, at_most=2.5, default=2.0, example="2")


class PackResults(BenchModel):
    formation_d30: float = quantity("length", "mm", "Size that 30 % of the ground is finer than")
    formation_uniformity: float | None = quantity("number", "", "D60/D10 of the ground", default=None)
    ratio: float = quantity("number", "", "Pack D30 over ground D30")
    pack_d10: float = quantity("length", "mm", "10 % of the pack finer")
    pack_d30: float = quantity("length", "mm", "30 % of the pack finer")
    pack_d60: float = quantity("length", "mm", "60 % of the pack finer")
    pack_d90: float = quantity("length", "mm", "90 % of the pack finer")
    aperture: float = quantity("length", "mm", "Slot that keeps 90 % of the pack out")


def _pack(given: PackInputs) -> Outcome:
    pack = build.filter_pack([(given.sieves, given.passing)], pack_uniformity=given.pack_uniformity)
    return Outcome(PackResults(**{name: getattr(pack, name) for name in PackResults.model_fields}), pack.advisories)


declare(Calculation(
    name="filter-pack", title="Filter pack from a sieve curve", stage="construction",
    about="The grading of a filter pack and the slot for it, from the finest ground that the slots stand in.",
    inputs=PackInputs, results=PackResults, compute=_pack,
    source=("US EPA private water systems guide: 4 to 6 times the 70 %-retained size, D60/D10 at most 2.5 (read)", "TM 5-813-1 (1987) p. 27-28 (read)"),
    limits=("One sample; take the finest of several.", "Wash and chlorinate the pack."),
))


class SealHoleInputs(BenchModel):
    diameter: float = quantity("diameter", "mm", "Diameter of the hole, or inside of the casing left in it", above=0, at_most=3.0, example="150 mm")
    total_depth: float = quantity("depth", "m", "Depth of the hole", above=0, at_most=3000, example="60 m")
    rockhead: float = quantity("depth", "m", "Depth of sound rock; the total depth if none", at_least=0, at_most=3000, default=0.0, example="15 m")
    water_level: float | None = quantity("level", "m", "Depth to standing water", default=None, example="14 m")
    way: str = choice(build.SEALING_WAYS, "How it is filled", default="grout throughout")
    mix: str = choice(tuple(build.grout_mixes()), "What is mixed", default="neat cement")
    waste: float = quantity("fraction", "%", "Extra over the hole's volume", at_least=0, at_most=1, default=0.1, example="10 %")
    bag_mass: float = quantity("mass", "kg", "Mass of one bag", above=0, at_most=2000, default=20.0, example="20 kg")


class SealHoleResults(BenchModel):
    hole_volume: float = quantity("volume", "L", "Volume of the hole")
    grout_bags: int = quantity("number", "", "Bags for the grout")
    chip_bags: int = quantity("number", "", "Bags of bentonite chips for the plugs")
    grout_water: float = quantity("volume", "L", "Water for the grout")
    fill_volume: float = quantity("volume", "L", "Clean gravel between the plugs")
    chlorine_mass: float = quantity("mass", "g", "Calcium hypochlorite of 65 % for the standing water")
    waiting_time: float = quantity("time", "h", "Wait before the top is finished")


def _seal_hole(given: SealHoleInputs) -> Outcome:
    ground = []
    if given.rockhead > 0:
        ground.append({"from_depth": 0.0, "to_depth": min(given.rockhead, given.total_depth), "ground_class": "topsoil"})
    if given.rockhead < given.total_depth:
        ground.append({"from_depth": given.rockhead, "to_depth": given.total_depth, "ground_class": "rock"})
    plan = build.seal_hole(ground, hole=[(0.0, given.total_depth, given.diameter)], water_level=given.water_level, way=given.way, mix=given.mix,
                           waste=given.waste, bag_mass=given.bag_mass)
    return Outcome(SealHoleResults(**{name: getattr(plan, name) for name in SealHoleResults.model_fields}), plan.advisories)


declare(Calculation(
    name="seal-hole", title="Sealing a failed or old hole", stage="construction",
    about="What seals a hole for good: grout, plugs and fill, bags and water, from the bottom up.",
    inputs=SealHoleInputs, results=SealHoleResults, compute=_seal_hole,
    source=("Guidelines for Decommissioning Water Wells, New Brunswick (read)", "10 % extra: trade guidance (read)", "100 mg/L first: NRCS Idaho ID-351 (read)"),
    limits=("One diameter; a job page takes each diameter of the hole.",),
))


class TremieInputs(BenchModel):
    inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the tremie pipe", above=0, at_most=0.5, example="32 mm")
    length: float = quantity("length", "m", "Length of the tremie pipe", above=0, at_most=3000, example="60 m")
    flow: float = quantity("flow", "L/min", "Pumping rate", above=0, at_most=1.0, example="30 L/min")
    density: float = quantity("density", "kg/m3", "Density of the grout", above=0, at_most=3000, default=1830.0, example="1830 kg/m3")
    plastic_viscosity: float = quantity("viscosity", "mPa s", "Of the grout", above=0, at_most=10.0, default=0.05, example="50 mPa s")
    yield_stress: float = quantity("pressure", "Pa", "Of the grout, as a Bingham fluid", at_least=0, at_most=1000, default=15.0, example="15 Pa")


class TremieResults(BenchModel):
    friction: float = quantity("pressure", "kPa", "Pressure the pump needs for friction in the pipe")
    speed: float = quantity("velocity", "m/s", "Speed in the pipe")
    foot_pressure: float = quantity("pressure", "kPa", "Pressure of the grout standing over the foot when it reaches the top")


def _tremie(given: TremieInputs) -> Outcome:
    from borewright.errors import Advisory

    found = build.tremie_flow(**given.model_dump())
    doubts = () if found.smooth else (Advisory("rough-flow", "doubt", "The grout no longer flows smoothly: friction is higher than told.", "flow"),)
    return Outcome(TremieResults(friction=found.friction, speed=found.speed, foot_pressure=given.density * GRAVITY * given.length), doubts)


declare(Calculation(
    name="tremie-pressure", title="Pushing grout down a tremie pipe", stage="construction",
    about="The pump pressure that moves grout through a tremie pipe, and the pressure of the grout over its foot.",
    inputs=TremieInputs, results=TremieResults, compute=_tremie,
    source=("Buckingham-Reiner law of a Bingham fluid in a pipe, without its fourth-power term (errs high)", "Grout constants: common practice, no source"),
    limits=("Keep the foot of the pipe in the grout.",), cautions=("Grout hoses under pressure whip when they burst: tie couplings, stand clear.",),
))
