"""Single calculations of hydraulics."""

from __future__ import annotations

from borewright import hydraulics
from borewright.bench.declare import BenchModel, Calculation, Outcome, declare, quantity
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
