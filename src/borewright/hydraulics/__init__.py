"""What levels against time say of the ground, and what flow a bore can give for years.

SI throughout: times s since the pump started, drawdown m positive down, rates m3/s, T m2/s, radii m. What others call::

    Levels(time, drawdown, radius=None, well="pumped", pumped=None)          readings of one bore; radius under 1 m or None means the pumped bore
    steady_rate(rate, stopped_at=None), rate_steps([(start, rate), ...]) -> RateHistory
    fit_test([Levels, ...], rate=float | RateHistory, solutions=None, bore_radius=None, casing_radius=None, thickness=None, robust=False,
             confidence=0.9, hold=None) -> TestFit       .fits (best AICc first), .best, .leading, .sentence, .advisories
    fits_as_dict(fit) -> dict                            {"fits": [{"solution", "parameters": {"transmissivity_m2_per_d": {"value", "low", "high"}}, ...}], "best"}
    model_drawdown(fit, solution, times, well=0, history=None) -> ndarray     the curve to draw, or a forecast under another history
    read_levels(path, radius=None) -> [Levels]; read_rates(path) -> RateHistory
"""

from borewright.hydraulics.borestorage import bore_storage_drawdown, bore_storage_function, storage_ends_at
from borewright.hydraulics.confined import (
    StraightLine,
    distance_line,
    drawdown,
    recovery,
    recovery_line,
    steady_transmissivity,
    straight_line_drawdown,
    time_line,
    well_function,
)
from borewright.hydraulics.doubleporosity import double_porosity_drawdown
from borewright.hydraulics.doubts import radius_seen
from borewright.hydraulics.fits import Estimate, FittedSolution, Levels, TestFit, fit_test, fits_as_dict, model_drawdown
from borewright.hydraulics.flowdimension import flow_dimension_drawdown, upper_gamma
from borewright.hydraulics.fracture import fracture_drawdown, fracture_function
from borewright.hydraulics.leaky import leaky_drawdown, leaky_well_function, settled_leaky_drawdown
from borewright.hydraulics.ratehistory import (
    RateHistory,
    drawdown_under,
    pulse_train,
    rate_steps,
    steady_rate,
    with_images,
)
from borewright.hydraulics.readings import read_levels, read_rates
from borewright.hydraulics.solutions import SOLUTIONS
from borewright.hydraulics.unconfined import thinning_corrected, unconfined_drawdown, unconfined_well_function

__all__ = [
    "SOLUTIONS", "Estimate", "FittedSolution", "Levels", "RateHistory", "StraightLine", "TestFit", "bore_storage_drawdown", "bore_storage_function",
    "distance_line", "double_porosity_drawdown", "drawdown", "drawdown_under", "fit_test", "fits_as_dict", "flow_dimension_drawdown",
    "fracture_drawdown", "fracture_function", "leaky_drawdown", "leaky_well_function", "model_drawdown", "pulse_train", "radius_seen", "rate_steps",
    "read_levels", "read_rates", "recovery", "recovery_line", "settled_leaky_drawdown", "steady_rate", "steady_transmissivity", "storage_ends_at",
    "straight_line_drawdown", "thinning_corrected", "time_line", "unconfined_drawdown", "unconfined_well_function", "upper_gamma", "well_function",
    "with_images",
]
