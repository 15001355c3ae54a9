"""The single calculations of the rig."""

from __future__ import annotations

from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity, quantity_list
from borewright.rig import (
    COMPRESSED_AIR_CAUTION,
    FlowMeasurement,
    air_need,
    airlift,
    altitude_factor,
    bucket_flow,
    check_uphole_velocity,
    cleaning_by_depth,
    horizontal_trajectory_flow,
    orifice_pipe_flow,
    rectangular_weir_flow,
    track_development,
    unloading_pressure,
    uphole_velocity,
    v_notch_flow,
    vertical_trajectory_flow,
)

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement"
_FLOWING = ("Water thrown from a bore can carry stones and gas: stand clear of the discharge.",)


class FlowResults(BenchModel):
    flow: float = quantity("flow", "L/s", "Flow")
    low: float = quantity("flow", "L/s", "Low end of the 95 % interval")
    high: float = quantity("flow", "L/s", "High end of the 95 % interval")
    standard_uncertainty: float = quantity("flow", "L/s", "Standard uncertainty")


def _told(measured: FlowMeasurement) -> Outcome:
    results = FlowResults(flow=measured.flow, low=measured.low, high=measured.high, standard_uncertainty=measured.standard_uncertainty)
    return Outcome(results, measured.advisories)


class UpholeInputs(BenchModel):
    air_flow: float = quantity("air_flow", "m3/min", "Free air that the compressor gives at the site", above=0, example="21 m3/min")
    hole_diameter: float = quantity("diameter", "mm", "Diameter of the hole", above=0, at_most=2.0, example="165 mm")
    rod_diameter: float = quantity("diameter", "mm", "Outside diameter of the rods", at_least=0, at_most=2.0, example="114 mm")


class UpholeResults(BenchModel):
    velocity: float = quantity("velocity", "m/s", "Up-hole velocity of the free air")
    air_for_minimum: float = quantity("air_flow", "m3/min", "Free air that gives the least velocity for dry cuttings")


def _uphole(given: UpholeInputs) -> Outcome:
    velocity = float(uphole_velocity(given.air_flow, given.hole_diameter, given.rod_diameter))
    results = UpholeResults(velocity=velocity, air_for_minimum=float(air_need(given.hole_diameter, given.rod_diameter)))
    return Outcome(results, check_uphole_velocity(velocity))


declare(Calculation(
    name="uphole-velocity", title="Up-hole air velocity", stage="rig", about="How fast the air goes up the annulus, and whether it lifts the cuttings.",
    inputs=UpholeInputs, results=UpholeResults, compute=_uphole,
    source=("Q = v pi/4 (D^2 - d^2); 183.35 in cfm, ft/min and inches: blasthole tool maker's technical note",
            "3000 ft/min least in dry air: USGS drilling guidance; 5000 ft/min for normal cuttings: tool maker's note"),
    limits=("By free-air volume: down the hole the air is denser and slower.", "For dry air; mist and foam lift at less."), cautions=(COMPRESSED_AIR_CAUTION,),
))


class AltitudeInputs(BenchModel):
    altitude: float = quantity("level", "m", "Height above sea level", at_least=-1000, at_most=6000, example="900 m")
    temperature: float = quantity("temperature", "degC", "Of the air", at_least=-50, at_most=60, default=15.0, example="30 degC")
    rated_air: float = quantity("air_flow", "m3/min", "Free air on the compressor's plate", above=0, example="25 m3/min")


class AltitudeResults(BenchModel):
    factor: float = quantity("number", "", "Volumes of air here that carry what one does at sea level and 15 degC")
    worth: float = quantity("air_flow", "m3/min", "What the rated air is worth as air at sea level and 15 degC")


def _altitude(given: AltitudeInputs) -> Outcome:
    factor = float(altitude_factor(given.altitude, temperature=given.temperature))
    return Outcome(AltitudeResults(factor=factor, worth=given.rated_air / factor))


declare(Calculation(
    name="air-at-altitude", title="Compressor at altitude", stage="rig", about="What a compressor's air is worth in thin or hot air.",
    inputs=AltitudeInputs, results=AltitudeResults, compute=_altitude,
    source=("US Standard Atmosphere 1976", "Down-hole hammer maker's table of altitude and temperature factors (within 0.4 %)"),
    limits=("The compressor is taken to swallow the same volume everywhere; engines lose power besides.",), cautions=(COMPRESSED_AIR_CAUTION,),
))


class CleaningInputs(BenchModel):
    depth: float = quantity("depth", "m", "Depth to drill to", above=0, at_most=1000, example="150 m")
    hole_diameter: float = quantity("diameter", "mm", "Diameter of the hole", above=0, at_most=2.0, example="165 mm")
    rod_diameter: float = quantity("diameter", "mm", "Outside diameter of the rods", at_least=0, at_most=2.0, example="114 mm")
    air_flow: float = quantity("air_flow", "m3/min", "Free air at the site", above=0, example="21 m3/min")
    compressor_pressure: float = quantity("pressure", "kPa", "Gauge pressure that the compressor gives", above=0, example="2400 kPa")
    water_flow: float = quantity("flow", "L/s", "Water that the hole makes", at_least=0, default=0.0, example="1 L/s")
    static_level: float = quantity("level", "m", "Depth to which water stands if left", at_least=0, default=0.0, example="12 m")
    altitude: float = quantity("level", "m", "Height above sea level", at_least=-1000, at_most=6000, default=0.0, example="600 m")


class CleaningResults(BenchModel):
    cleaning_ends: float | None = quantity("depth", "m", "Depth at which the bit is no longer cleaned; none if not before the depth given")
    unloading_ends: float | None = quantity("depth", "m", "Depth at which the compressor cannot blow out what gathers in a rod change")
    bit_pressure: float = quantity("pressure", "kPa", "Absolute, at the bit, at the depth given")
    collar_velocity: float = quantity("velocity", "m/s", "Up-hole velocity by free air")
    cleaning_velocity: float = quantity("velocity", "m/s", "Sea-level velocity with the lift there is at the bit")


def _cleaning(given: CleaningInputs) -> Outcome:
    import numpy as np

    depths = np.linspace(0, given.depth, 101)[1:]
    found = cleaning_by_depth(
        depths, hole_diameter=given.hole_diameter, rod_diameter=given.rod_diameter, air_flow=given.air_flow, compressor_pressure=given.compressor_pressure,
        water_flow=given.water_flow, static_level=given.static_level, altitude=given.altitude,
    )
    results = CleaningResults(
        cleaning_ends=found.cleaning_ends, unloading_ends=found.unloading_ends, bit_pressure=float(found.pressure[-1]), collar_velocity=float(found.collar_velocity[-1]),
        cleaning_velocity=float(found.cleaning_velocity[-1]),
    )
    return Outcome(results, found.advisories)


declare(Calculation(
    name="cleaning-depth", title="Where the air stops cleaning", stage="rig", about="How deep this air cleans the hole with the water it makes, and how deep the compressor can unload it.",
    inputs=CleaningInputs, results=CleaningResults, compute=_cleaning,
    source=("Equal kinetic energy: Lyons, Guo and Seidel, Air and Gas Drilling Manual, ch. 5, from memory", "3000 ft/min least in dry air: USGS drilling guidance"),
    limits=("Air, water and cuttings are taken to move together, which is hopeful: the true depths are shallower.", "15 m/h, three minutes for a rod, 3 mm of wall roughness (common practice, no source)."),
))


class UnloadInputs(BenchModel):
    water_column: float = quantity("length", "m", "Water standing above the bit", at_least=0, example="80 m")
    margin: float = quantity("fraction", "%", "Added for friction and the start", at_least=0, at_most=1, default=0.15, example="15 %")


class UnloadResults(BenchModel):
    pressure: float = quantity("pressure", "kPa", "Gauge pressure wanted of the compressor")


declare(Calculation(
    name="unloading-pressure", title="Pressure to unload the hole", stage="rig", about="The pressure that pushes a standing column of water out of the hole.",
    inputs=UnloadInputs, results=UnloadResults,
    compute=lambda given: Outcome(UnloadResults(pressure=float(unloading_pressure(given.water_column, margin=given.margin)))),
    source=("Weight of the water, with 10 to 20 % over: Baski (2008) Aquifer airlift testing",), cautions=(COMPRESSED_AIR_CAUTION,),
))


class BucketInputs(BenchModel):
    volume: float = quantity("volume", "L", "What the bucket holds to its mark", above=0, at_most=100, example="20 L")
    fill_times: tuple[float, ...] = quantity_list("time", "s", "Repeat times to fill it", example="31, 32, 30.5 s")


declare(Calculation(
    name="bucket-flow", title="Flow by bucket", stage="rig", about="The flow that fills a bucket or drum, with its uncertainty.", inputs=BucketInputs, results=FlowResults,
    compute=lambda given: _told(bucket_flow(given.volume, given.fill_times)),
    source=("Q = V / mean(t); three repeats, better five: Oklahoma State University Extension BAE-1502", _GUM),
    limits=("The bucket is taken as known to 2 % and hand timing to 0.3 s either way (common practice, no source).",), cautions=_FLOWING,
))


class NotchInputs(BenchModel):
    heads: tuple[float, ...] = quantity_list("length", "mm", "Heads above the point of the notch, read four heads upstream", example="152, 150, 151 mm")
    notch_angle: float = quantity("angle", "deg", "Angle of the notch", at_least=25, at_most=100, default=90.0, example="90 deg")
    crest_height: float | None = quantity("length", "mm", "Point of the notch above the floor of the box", above=0, default=None, example="400 mm")
    channel_width: float | None = quantity("length", "mm", "Width of the box", above=0, default=None, example="900 mm")


declare(Calculation(
    name="v-notch-flow", title="Flow over a V-notch", stage="rig", about="The flow over a sharp V-notch by Kindsvater and Shen, with its uncertainty.",
    inputs=NotchInputs, results=FlowResults,
    compute=lambda given: _told(v_notch_flow(given.heads, notch_angle=given.notch_angle, crest_height=given.crest_height, channel_width=given.channel_width)),
    source=("US Bureau of Reclamation, Water Measurement Manual, 3rd ed., ch. 7 (Kindsvater-Shen); fit of its figures from memory", _GUM),
    limits=("Head 60 to 380 mm, angle 25 to 100 degrees, point of the notch two heads above the floor, head under a fifth of the width.",), cautions=_FLOWING,
))


class WeirInputs(BenchModel):
    heads: tuple[float, ...] = quantity_list("length", "mm", "Heads above the crest, read four heads upstream", example="82, 80 mm")
    crest_width: float = quantity("length", "mm", "Width of the opening", above=0, example="300 mm")
    channel_width: float = quantity("length", "mm", "Width of the channel", above=0, example="900 mm")
    crest_height: float = quantity("length", "mm", "Crest above the floor", above=0, example="300 mm")


declare(Calculation(
    name="rectangular-weir-flow", title="Flow over a rectangular weir", stage="rig", about="The flow over a sharp rectangular weir by Kindsvater and Carter, with its uncertainty.",
    inputs=WeirInputs, results=FlowResults,
    compute=lambda given: _told(rectangular_weir_flow(given.heads, crest_width=given.crest_width, channel_width=given.channel_width, crest_height=given.crest_height)),
    source=("Bos (1989) Discharge measurement structures, ILRI 20, section 5.1; coefficients from memory", _GUM),
    limits=("Head over 30 mm and under twice the crest height; opening over 150 mm.",), cautions=_FLOWING,
))


class OrificeInputs(BenchModel):
    heads: tuple[float, ...] = quantity_list("length", "mm", "Water in the tube above the pipe's centre line", example="412, 415 mm")
    orifice_diameter: float = quantity("diameter", "mm", "Diameter of the orifice", above=0, example="75 mm")
    pipe_inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the pipe", above=0, example="100 mm")
    coefficient: float | None = quantity("number", "", "From the calibration of this orifice; a curve from memory if left out", above=0.4, below=1.2, default=None, example="0.69")


declare(Calculation(
    name="orifice-pipe-flow", title="Flow by orifice pipe", stage="rig", about="The flow from a round orifice at the end of a level pipe, with its uncertainty.",
    inputs=OrificeInputs, results=FlowResults,
    compute=lambda given: _told(orifice_pipe_flow(
        given.heads, orifice_diameter=given.orifice_diameter, pipe_inside_diameter=given.pipe_inside_diameter, coefficient=given.coefficient)),
    source=("ASTM D5716 form of the equation, Q = K A sqrt(2 g h); coefficients from memory", _GUM), limits=("Orifice 0.50 to 0.83 of the pipe; the pipe runs full.",), cautions=_FLOWING,
))


class ThrowInputs(BenchModel):
    throws: tuple[float, ...] = quantity_list("length", "mm", "Along the pipe from its end to where the jet's top has fallen by the drop", example="410, 405, 400 mm")
    drop: float = quantity("length", "mm", "Fall of the jet's top", above=0, default=0.33, example="330 mm")
    pipe_inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the pipe", above=0, example="80 mm")
    dry_depth: float = quantity("length", "mm", "From the crown down to the water where the pipe is not full", at_least=0, default=0.0, example="0 mm")


declare(Calculation(
    name="pipe-trajectory-flow", title="Flow by the throw of a level pipe", stage="rig", about="The flow from a level open pipe by how far its jet goes, with its uncertainty.",
    inputs=ThrowInputs, results=FlowResults,
    compute=lambda given: _told(horizontal_trajectory_flow(given.throws, drop=given.drop, pipe_inside_diameter=given.pipe_inside_diameter, dry_depth=given.dry_depth)),
    source=("Hohn, New Mexico State University Guide A-104, table 1", _GUM), limits=("A level pipe, straight for six diameters; rough where not full.",), cautions=_FLOWING,
))


class RiseInputs(BenchModel):
    rises: tuple[float, ...] = quantity_list("length", "mm", "Height of the water above the lip", example="120, 125 mm")
    pipe_inside_diameter: float = quantity("diameter", "mm", "Inside diameter of the pipe", above=0, example="100 mm")


declare(Calculation(
    name="upright-pipe-flow", title="Flow from an upright pipe", stage="rig", about="The flow from an upright open pipe by how high the water stands, with its uncertainty.",
    inputs=RiseInputs, results=FlowResults, compute=lambda given: _told(vertical_trajectory_flow(given.rises, pipe_inside_diameter=given.pipe_inside_diameter)),
    source=("US Bureau of Reclamation, Water Measurement Manual, ch. 14 section 13 (Lawrence and Braunworth 1906); constants from memory", _GUM),
    limits=("Good to 10 to 15 %.",), cautions=_FLOWING,
))


class AirliftInputs(BenchModel):
    air_flow: float = quantity("air_flow", "m3/min", "Free air", above=0, example="6 m3/min")
    air_depth: float = quantity("depth", "m", "Depth at which the air goes in", above=0, example="60 m")
    static_level: float = quantity("level", "m", "Depth to water at rest", example="10 m")
    specific_capacity: float = quantity("specific_capacity", "L/s/m", "Flow for each metre of drawdown", above=0, example="0.3 L/s/m")
    air_line: str = choice(("inside", "outside"), "Air line inside or outside the rising pipe", default="inside")


class AirliftResults(BenchModel):
    flow: float = quantity("flow", "L/s", "Expected flow")
    low: float = quantity("flow", "L/s", "Flow if a quarter of the air is lost")
    high: float = quantity("flow", "L/s", "Flow if a quarter more air did the work")
    pumping_level: float = quantity("level", "m", "Depth to water at that flow")
    submergence: float = quantity("fraction", "%", "Share of the air line under water")
    starting_pressure: float = quantity("pressure", "kPa", "Gauge pressure to start")
    running_pressure: float = quantity("pressure", "kPa", "Gauge pressure while running")


def _airlift(given: AirliftInputs) -> Outcome:
    found = airlift(given.air_flow, air_depth=given.air_depth, static_level=given.static_level, specific_capacity=given.specific_capacity, air_line=given.air_line)
    results = AirliftResults(**{name: getattr(found, name) for name in AirliftResults.model_fields})
    return Outcome(results, found.advisories)


declare(Calculation(
    name="airlift", title="Airlift", stage="rig", about="The flow that an airlift should give, with the level the bore falls to.", inputs=AirliftInputs, results=AirliftResults,
    compute=_airlift,
    source=("Air compressor makers' formula V = H / (C log10((S + 34) / 34)); constants from memory", "MIL-HDBK-1164, table 4 (advised submergence)",
            "Baski (2008) Aquifer airlift testing"),
    limits=("Submergence 35 to 75 %.", "Specific capacity taken as the same at every flow."),
))


class DevelopmentInputs(BenchModel):
    elapsed: tuple[float, ...] = quantity_list("time", "min", "Time of work at each reading", example="0, 15, 30, 45, 60, 75 min")
    readings: tuple[float, ...] = quantity_list("number", "", "Turbidity in NTU, or sand in mg/L", example="300, 160, 90, 46, 27, 14")
    what: str = choice(("turbidity", "sand"), "What was read", default="turbidity")


class DevelopmentResults(BenchModel):
    clean_by: float | None = quantity("time", "min", "Time of work at which it should be clean")
    clean_low: float | None = quantity("time", "min", "Low end of the 95 % interval")
    clean_high: float | None = quantity("time", "min", "High end of the 95 % interval; none if it may never be")
    half_life: float | None = quantity("time", "min", "Time in which it halves")
    floor: float = quantity("number", "", "Reading that it levels off at")


def _development(given: DevelopmentInputs) -> Outcome:
    found = track_development(given.elapsed, given.readings, what=given.what)
    return Outcome(DevelopmentResults(**{name: getattr(found, name) for name in DevelopmentResults.model_fields}), found.advisories)


declare(Calculation(
    name="development", title="When the bore will be clean", stage="rig", about="Readings of turbidity or sand fitted to a decay: clean by when, with a band.",
    inputs=DevelopmentInputs, results=DevelopmentResults, compute=_development,
    source=("5 NTU: UFGS 02521 well development criteria", "5 mg/L sand for homes: US EPA 570/9-75-001, from memory", "Fieller (1954) for the interval"),
    limits=("At least four readings; rests left out.",), cautions=(COMPRESSED_AIR_CAUTION,),
))
