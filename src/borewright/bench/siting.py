"""The single calculations of siting."""

from __future__ import annotations

import numpy as np

from borewright.bench.declare import BenchModel, Calculation, Outcome, choice, declare, quantity, quantity_list
from borewright.errors import Advisory, OutOfDomain
from borewright.siting.planes import cut_depths, plane_from_points
from borewright.siting.rate import rate_from_counts
from borewright.siting.sounding import apparent_resistivity, invert_sounding
from borewright.siting.spots import LOCAL_CODE, expected_cost_to_success


class ThreePointInputs(BenchModel):
    eastings: tuple[float, ...] = quantity_list("level", "m", "Eastings of three points or more on the plane", example="0, 400, 100 m")
    northings: tuple[float, ...] = quantity_list("level", "m", "Northings of the points", example="0, 0, 300 m")
    elevations: tuple[float, ...] = quantity_list("level", "m", "Elevations of the points", example="120, 80, 130 m")
    collar_easting: float = quantity("level", "m", "Easting of the hole", default=0.0, example="200 m")
    collar_northing: float = quantity("level", "m", "Northing of the hole", default=0.0, example="100 m")
    collar_elevation: float = quantity("level", "m", "Elevation of the ground at the hole", example="150 m")


class ThreePointResults(BenchModel):
    strike: float = quantity("angle", "deg", "Bearing of the level line, the plane falling to its right hand")
    dip: float = quantity("angle", "deg", "Steepest angle below the horizontal")
    dip_direction: float = quantity("angle", "deg", "Bearing in which it falls")
    depth: float | None = quantity("depth", "m", "Depth at which the hole cuts the plane", default=None)


def _three_points(given: ThreePointInputs) -> Outcome:
    if not len(given.eastings) == len(given.northings) == len(given.elevations):
        raise OutOfDomain("elevations", len(given.elevations), "are not as many as the places", f"{len(given.eastings)} of each")
    plane = plane_from_points(np.column_stack([given.eastings, given.northings, given.elevations]))
    depth = float(cut_depths([plane], given.collar_easting, given.collar_northing, given.collar_elevation)[0, 0])
    missed = not np.isfinite(depth)
    notes = (Advisory("plane-above", "note", "The plane is above the ground at the hole: the hole does not cut it.", "depth"),) if missed else ()
    return Outcome(ThreePointResults(strike=plane.strike, dip=plane.dip, dip_direction=plane.dip_direction, depth=None if missed else depth), notes)


declare(Calculation(
    name="three-points", title="Plane through three points", stage="siting", about="Strike and dip of a bed or fracture from three points, and where a hole cuts it.",
    inputs=ThreePointInputs, results=ThreePointResults, compute=_three_points,
    source=("The three-point problem: any textbook of structural geology (from memory); solved as linear equations",),
    limits=("A plane: real beds bend and fractures end.", "Three points cannot show how wrong they are; more can."),
))


class SoundingInputs(BenchModel):
    spacings: tuple[float, ...] = quantity_list("length", "m", "AB/2 (schlumberger) or a (wenner)", example="1, 3, 10, 30, 100 m")
    resistivities: tuple[float, ...] = quantity_list("resistivity", "ohm m", "Layers from the top down", example="100, 20, 500 ohm m")
    thicknesses: tuple[float, ...] = quantity_list("length", "m", "Thickness of all layers but the last", example="2, 10 m")
    array: str = choice(("schlumberger", "wenner"), "How the electrodes stand", default="schlumberger")


class SoundingResults(BenchModel):
    apparent: tuple[float, ...] = quantity_list("resistivity", "ohm m", "Apparent resistivity at each spacing")


def _sounding(given: SoundingInputs) -> Outcome:
    values = apparent_resistivity(np.array(given.spacings), resistivity=given.resistivities, thickness=given.thicknesses, array=given.array)
    return Outcome(SoundingResults(apparent=tuple(float(v) for v in values)))


_KOEFOED = "Koefoed, O., 1979, Geosounding Principles 1, Elsevier (from memory): resistivity transform and recursion"

declare(Calculation(
    name="sounding-curve", title="Sounding curve of layered ground", stage="siting", about="What four electrodes would read over given layers.",
    inputs=SoundingInputs, results=SoundingResults, compute=_sounding, source=(_KOEFOED,),
    limits=("Level, even layers; schlumberger with a vanishingly small inner distance.", "Good to 2 parts in 10 000 for layers that differ less than a factor of 100."),
    cautions=("A sounding set can give a dangerous shock: nobody touches an electrode or cable while current flows.",),
))


class LayersInputs(BenchModel):
    spacings: tuple[float, ...] = quantity_list("length", "m", "AB/2 (schlumberger) or a (wenner)", example="1, 2, 5, 10, 20, 50, 100 m")
    readings: tuple[float, ...] = quantity_list("resistivity", "ohm m", "Apparent resistivity read at each spacing", example="98, 89, 48, 28, 37, 82, 144 ohm m")
    layers: float = quantity("number", "", "How many layers to look for", at_least=1, at_most=6, default=3.0, example="3")
    array: str = choice(("schlumberger", "wenner"), "How the electrodes stand", default="schlumberger")
    reading_error: float = quantity("fraction", "%", "Doubt of one reading", above=0, at_most=0.5, default=0.05, example="5 %")


class LayersResults(BenchModel):
    resistivities: tuple[float, ...] = quantity_list("resistivity", "ohm m", "Best layers from the top down")
    resistivities_low: tuple[float, ...] = quantity_list("resistivity", "ohm m", "Low end of the layers that fit as well (middle 80 %)")
    resistivities_high: tuple[float, ...] = quantity_list("resistivity", "ohm m", "High end")
    depths: tuple[float, ...] = quantity_list("depth", "m", "Depth of each boundary")
    depths_low: tuple[float, ...] = quantity_list("depth", "m", "Low end of the boundaries that fit as well")
    depths_high: tuple[float, ...] = quantity_list("depth", "m", "High end")
    misfit: float = quantity("fraction", "%", "Root mean square difference from the readings")


def _layers(given: LayersInputs) -> Outcome:
    if given.layers != int(given.layers):
        raise OutOfDomain("layers", given.layers, "must be a whole number", "1 to 6")
    fit = invert_sounding(np.array(given.spacings), np.array(given.readings), layers=int(given.layers), array=given.array, relative_error=given.reading_error)
    return Outcome(LayersResults(
        resistivities=fit.best.resistivity, resistivities_low=tuple(a for a, _ in fit.resistivity_range), resistivities_high=tuple(b for _, b in fit.resistivity_range),
        depths=tuple(float(v) for v in np.cumsum(fit.best.thickness)), depths_low=tuple(a for a, _ in fit.depth_range),
        depths_high=tuple(b for _, b in fit.depth_range), misfit=fit.misfit), fit.advisories)


declare(Calculation(
    name="sounding-layers", title="Layers from a sounding", stage="siting", about="Layers that explain a sounding, and how far others would do as well.",
    inputs=LayersInputs, results=LayersResults, compute=_layers, source=(_KOEFOED, "Least squares in logarithms; the range by a random walk over layerings"),
    limits=("Level, even layers.", "A thin layer's thickness and resistivity are known only together.", "It narrows the layers; it does not name rock or promise water."),
    cautions=("A sounding set can give a dangerous shock: nobody touches an electrode or cable while current flows.",),
))


class RateInputs(BenchModel):
    strikes: float = quantity("number", "", "Strikes found", at_least=0, example="3")
    metres: float = quantity("depth", "m", "Metres drilled, dry ones counted", at_least=0, example="180 m")
    prior_strikes: float = quantity("number", "", "Strikes expected beforehand", above=0, default=2.0, example="2")
    prior_metres: float = quantity("depth", "m", "over so many metres", above=0, default=100.0, example="100 m")
    next_metres: float = quantity("depth", "m", "Metres still to drill", at_least=0, example="60 m")


class RateResults(BenchModel):
    rate: float = quantity("intensity", "1/m", "Strikes per metre")
    low: float = quantity("intensity", "1/m", "Low end of the 95 % interval")
    high: float = quantity("intensity", "1/m", "High end of the 95 % interval")
    none_next: float = quantity("fraction", "%", "Chance of no strike in the next metres")


def _rate(given: RateInputs) -> Outcome:
    belief = rate_from_counts(given.strikes, given.metres, prior_shape=given.prior_strikes, prior_metres=given.prior_metres, next_metres=given.next_metres)
    return Outcome(RateResults(rate=belief.mean, low=belief.low, high=belief.high, none_next=belief.none_next))


declare(Calculation(
    name="strike-rate", title="Strikes per metre from a few holes", stage="siting", about="How often water is struck, and the chance of none in the next metres.",
    inputs=RateInputs, results=RateResults, compute=_rate,
    source=("Gelman and others, Bayesian Data Analysis, section 2.6: the gamma-Poisson pair (from memory)",),
    limits=("One rate for all depths: strikes thin out with depth in hard rock.", "A strike is not enough water: yields differ a hundredfold."),
))


class FirstSuccessInputs(BenchModel):
    chance: float = quantity("fraction", "%", "Chance that one hole succeeds", above=0, at_most=1, example="70 %")
    cost_success: float = quantity("number", "", "Cost of a hole that succeeds", at_least=0, example="10000")
    cost_failure: float = quantity("number", "", "Cost of a hole that fails, sealing included", at_least=0, example="7000")


class FirstSuccessResults(BenchModel):
    expected_cost: float = quantity("number", "", "Expected cost until one succeeds")
    expected_holes: float = quantity("number", "", "Expected number of holes")


def _first_success(given: FirstSuccessInputs) -> Outcome:
    cost = float(expected_cost_to_success(given.cost_success, given.cost_failure, given.chance))
    return Outcome(FirstSuccessResults(expected_cost=cost, expected_holes=1.0 / given.chance))


declare(Calculation(
    name="first-success", title="Cost until a hole succeeds", stage="siting", about="Expected cost and number of holes when each has the same chance.",
    inputs=FirstSuccessInputs, results=FirstSuccessResults, compute=_first_success,
    source=("E = c_ok + c_dry (1 - p)/p: mean of the geometric distribution",),
    limits=("Holes on one property share their luck: after a failure the chance of the next is less.",), cautions=(LOCAL_CODE,),
))
