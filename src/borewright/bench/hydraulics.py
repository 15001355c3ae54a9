"""Single calculations of hydraulics."""

from __future__ import annotations

from borewright import hydraulics
from borewright.bench.declare import BenchModel, Calculation, Outcome, declare, quantity, quantity_list
from borewright.errors import Advisory

CONFINED = "Confined, uniform, without end, bore open to the whole aquifer, no water stored in the bore."


class TheisInputs(BenchModel):
    rate: float = quantity("flow", "m3/d", "Steady pumping rate", above=0, at_most=10, example="1000 m3/d")
    transmissivity: float = quantity("transmissivity", "m2/d", "Transmissivity", above=0, at_most=10, example="500 m2/d")
    storativity: float = quantity("fraction", "", "Storativity, as a plain number", above=0, at_most=0.5, example="0.0002")
    radius: float = quantity("length", "m", "Distance from the pumped bore", above=0, at_most=1e6, example="50 m")
    time: float = quantity("time", "d", "Time since pumping started", above=0, example="1 d")
    stopped_at: float | None = quantity("time", "d", "When the pump stopped, if it has", above=0, default=None, example="0.5 d")


class DrawdownResults(BenchModel):
    drawdown: float = quantity("level", "m", "Drawdown there and then")
    argument: float = quantity("number", "", "u = r2 S / (4 T t)")
    cone: float = quantity("length", "m", "How far the cone has spread, sqrt(2.25 T t / S)")


def _theis(given: TheisInputs) -> Outcome:
    values = {"rate": given.rate, "transmissivity": given.transmissivity, "storativity": given.storativity}
    if given.stopped_at is None:
        fall = hydraulics.drawdown(given.time, given.radius, **values)
    else:
        fall = hydraulics.recovery(given.time, given.radius, stopped_at=given.stopped_at, **values)
    argument = given.radius**2 * given.storativity / (4 * given.transmissivity * given.time)
    doubts = ()
    if given.radius < 1.0:
        doubts = (Advisory("own-bore", "doubt", "Inside the pumped bore losses at the bore come on top of this.", "radius"),)
    return Outcome(DrawdownResults(drawdown=fall, argument=argument,
                                   cone=hydraulics.radius_seen(given.time, given.transmissivity, given.storativity)), doubts)


declare(Calculation(
    name="theis-drawdown", title="Drawdown at a distance (Theis)", stage="hydraulics",
    about="How far the water falls at a distance from a pumped bore, while it pumps and after it stops.",
    inputs=TheisInputs, results=DrawdownResults, compute=_theis,
    source=("Theis (1935) Trans. AGU 16:519-524; W(u) agrees with Wenzel (1942) USGS WSP 887",),
    limits=(CONFINED,),
))


class LeakyInputs(BenchModel):
    rate: float = quantity("flow", "m3/d", "Steady pumping rate", above=0, at_most=10, example="761 m3/d")
    transmissivity: float = quantity("transmissivity", "m2/d", "Transmissivity", above=0, at_most=10, example="1731 m2/d")
    storativity: float = quantity("fraction", "", "Storativity, as a plain number", above=0, at_most=0.5, example="0.0019")
    resistance: float = quantity("time", "d", "Resistance of the leaking bed: its thickness over its vertical conductivity", above=0, example="468 d")
    radius: float = quantity("length", "m", "Distance from the pumped bore", above=0, at_most=1e6, example="90 m")
    time: float = quantity("time", "h", "Time since pumping started", above=0, example="8 h")


class LeakyResults(BenchModel):
    drawdown: float = quantity("level", "m", "Drawdown there and then")
    settled: float = quantity("level", "m", "Drawdown that leakage settles it to")
    leakage_factor: float = quantity("length", "m", "Leakage factor B, the root of T times the resistance")


def _leaky(given: LeakyInputs) -> Outcome:
    factor = (given.transmissivity * given.resistance) ** 0.5
    common = {"rate": given.rate, "transmissivity": given.transmissivity, "leakage_factor": factor}
    return Outcome(LeakyResults(
        drawdown=hydraulics.leaky_drawdown(given.time, given.radius, storativity=given.storativity, **common),
        settled=hydraulics.settled_leaky_drawdown(given.radius, **common), leakage_factor=factor))


declare(Calculation(
    name="leaky-drawdown", title="Drawdown where a bed leaks (Hantush & Jacob)", stage="hydraulics",
    about="How far the water falls at a distance when water leaks in through the bed above or below, and where it settles.",
    inputs=LeakyInputs, results=LeakyResults, compute=_leaky,
    source=("Hantush & Jacob (1955) Trans. AGU 36:95-100; W(u, r/B) agrees with Hantush (1956)",),
    limits=("No storage in the leaking bed; the bed beyond it is never drawn down. In a long drought the source may fail.",),
))


class CapacityInputs(BenchModel):
    rate: float = quantity("flow", "L/s", "Pumping rate", above=0, at_most=10, example="2 L/s")
    drawdown: float = quantity("level", "m", "Drawdown in the bore after that time", above=0, at_most=1000, example="8 m")
    time: float = quantity("time", "h", "How long it was pumped", above=0, example="24 h")
    bore_radius: float = quantity("length", "m", "Radius of the bore", above=0, at_most=2, default=0.08, example="0.08 m")
    storativity: float = quantity("fraction", "", "A guess of storativity; ten times wrong moves little", above=0, at_most=0.5, default=5e-4, example="0.0005")


class CapacityResults(BenchModel):
    specific_capacity: float = quantity("specific_capacity", "L/s/m", "Flow for each metre of drawdown")
    transmissivity: float = quantity("transmissivity", "m2/d", "Transmissivity that radial flow without loss at the bore needs")
    logan: float = quantity("transmissivity", "m2/d", "Logan's rule, 1.22 Q/s")


def _capacity(given: CapacityInputs) -> Outcome:
    return Outcome(
        CapacityResults(
            specific_capacity=hydraulics.specific_capacity(given.rate, given.drawdown),
            transmissivity=hydraulics.specific_capacity_transmissivity(given.rate, given.drawdown, time=given.time, bore_radius=given.bore_radius,
                                                                       storativity=given.storativity),
            logan=hydraulics.logan_transmissivity(given.rate, given.drawdown)),
        (Advisory("loss-ignored", "doubt", "Loss at the bore makes the true transmissivity higher than this; a step test tells it apart.", "drawdown"),))


declare(Calculation(
    name="specific-capacity", title="Transmissivity from specific capacity", stage="hydraulics",
    about="Flow for each metre of drawdown, and the transmissivity that goes with it.",
    inputs=CapacityInputs, results=CapacityResults, compute=_capacity,
    source=("Theis, Brown & Meyer (1963) USGS WSP 1536-I", "Logan (1964) Ground Water 2(1):35-37 (from memory)"),
    limits=("Confined, one pumping level, no loss at the bore.",),
))


class StreamInputs(BenchModel):
    rate: float = quantity("flow", "L/s", "Pumping rate", above=0, at_most=10, example="5 L/s")
    distance: float = quantity("length", "m", "From the bore to the stream", above=0, at_most=1e5, example="300 m")
    transmissivity: float = quantity("transmissivity", "m2/d", "Transmissivity", above=0, at_most=10, example="200 m2/d")
    storativity: float = quantity("fraction", "", "Storativity or specific yield, as a plain number", above=0, at_most=0.5, example="0.1")
    time: float = quantity("time", "d", "Since pumping started", above=0, example="100 d")
    stopped_at: float | None = quantity("time", "d", "When the pump stopped, if it has", above=0, default=None, example="60 d")


class StreamResults(BenchModel):
    depletion: float = quantity("flow", "L/s", "Flow the stream loses then")
    share: float = quantity("fraction", "%", "Share of the pumping rate")
    volume: float = quantity("volume", "m3", "Water the stream has lost until then")
    depletion_factor: float = quantity("time", "d", "Stream depletion factor a2 S/T")


def _stream(given: StreamInputs) -> Outcome:
    ground = {"distance": given.distance, "transmissivity": given.transmissivity, "storativity": given.storativity}
    history = hydraulics.steady_rate(given.rate, stopped_at=given.stopped_at)
    lost = hydraulics.stream_depletion(given.time, rate=history, **ground)
    return Outcome(StreamResults(depletion=lost, share=lost / given.rate, volume=hydraulics.stream_depletion_volume(given.time, rate=history, **ground),
                                 depletion_factor=hydraulics.depletion_factor(**ground)))


declare(Calculation(
    name="stream-depletion", title="Water taken from a stream", stage="hydraulics",
    about="The flow that a stream loses to a bore beside it, while it pumps and after it stops.",
    inputs=StreamInputs, results=StreamResults, compute=_stream,
    source=("Glover & Balmer (1954) Trans. AGU 35:468-470; Jenkins (1968) USGS TWRI 4-D1, whose table it reproduces",),
    limits=("A straight stream that cuts the whole aquifer, with a bed that does not clog: a real stream loses less.",),
    cautions=("Taking water from a stream through a bore may need a licence: ask the local authority.",),
))


class EfficiencyInputs(BenchModel):
    rates: tuple[float, ...] = quantity_list("flow", "L/s", "Rates of the steps", example="2, 4, 6, 8 L/s")
    drawdowns: tuple[float, ...] = quantity_list("level", "m", "Drawdown at the end of each step, freed of earlier steps", example="1.04, 2.16, 3.36, 4.64 m")


class EfficiencyResults(BenchModel):
    aquifer_loss: float = quantity("number", "", "B of B Q + C Q2 [s/m2]")
    well_loss: float = quantity("number", "", "C of B Q + C Q2 [s2/m5]")
    efficiency: float = quantity("fraction", "%", "Share of drawdown that the aquifer takes, at the highest rate")


def _efficiency(given: EfficiencyInputs) -> Outcome:
    fit = hydraulics.fit_steps(given.rates, given.drawdowns)
    return Outcome(EfficiencyResults(aquifer_loss=fit.aquifer_loss.value, well_loss=fit.well_loss.value, efficiency=fit.efficiencies[-1]), fit.advisories)


declare(Calculation(
    name="step-losses", title="Losses of a bore from step drawdowns (Jacob)", stage="hydraulics",
    about="How much drawdown the aquifer takes and how much is lost at the bore, from one drawdown for each rate.",
    inputs=EfficiencyInputs, results=EfficiencyResults, compute=_efficiency,
    source=("Jacob (1947) Trans. ASCE 112:1047-1064", "Hantush (1964), Bierschenk (1963): increments of each step"),
    limits=("Every drawdown read the same time after its step began, with the fall of earlier steps taken off.",),
))


class SlugInputs(BenchModel):
    casing_radius: float = quantity("length", "mm", "Radius of the pipe in which the level moves", above=0, at_most=2, example="25 mm")
    screen_radius: float = quantity("length", "mm", "Radius of the screen or hole", above=0, at_most=2, example="50 mm")
    screen_length: float = quantity("length", "m", "Length of the screen or open hole", above=0, at_most=1000, example="1 m")
    time_lag: float = quantity("time", "s", "Time until 37 % of the change is left", above=0, example="60 s")


class SlugResults(BenchModel):
    conductivity: float = quantity("hydraulic_conductivity", "m/d", "Hydraulic conductivity beside the screen")


def _slug(given: SlugInputs) -> Outcome:
    ratio = given.screen_length / given.screen_radius
    doubts = () if ratio > 8 else (Advisory("stubby-screen", "doubt", f"Length over radius is {ratio:.1f}; the formula is for more than 8.", "screen_length"),)
    return Outcome(SlugResults(conductivity=hydraulics.hvorslev_conductivity(
        casing_radius=given.casing_radius, screen_radius=given.screen_radius, screen_length=given.screen_length, time_lag=given.time_lag)), doubts)


declare(Calculation(
    name="slug-hvorslev", title="Conductivity from a slug test (Hvorslev)", stage="hydraulics",
    about="Hydraulic conductivity from how long a sudden change of level takes to fade.",
    inputs=SlugInputs, results=SlugResults, compute=_slug,
    source=("Hvorslev (1951) US Army WES Bull. 36; Freeze & Cherry (1979) ch. 8",),
    limits=("Length over radius above 8; a test of the ground close to the screen only.",),
))


class SustainInputs(BenchModel):
    transmissivity: float = quantity("transmissivity", "m2/d", "Transmissivity", above=0, at_most=10, example="5 m2/d")
    available: float = quantity("level", "m", "Available drawdown: level at rest to the guard, less the dry-season fall", above=0, at_most=1000, example="30 m")


class SustainResults(BenchModel):
    q20: float = quantity("flow", "L/s", "Q20 by Farvolden's rule")


def _sustain(given: SustainInputs) -> Outcome:
    return Outcome(SustainResults(q20=hydraulics.q20_flow(given.transmissivity, given.available)))


declare(Calculation(
    name="q20", title="Twenty-year flow by rule of thumb (Q20)", stage="hydraulics",
    about="A rule of thumb beside a rating: radial flow for 20 years with 30 % of the drawdown held back.",
    inputs=SustainInputs, results=SustainResults, compute=_sustain,
    source=("Farvolden (1959), from memory; 0.68 = 4 pi / (2.303 x 8 log cycles), checked",),
    limits=("No edges, no loss at the bore, no neighbours: `borewright rate` counts them.",),
))
