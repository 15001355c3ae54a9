"""What levels against time say of the ground, and what flow a bore can give for years.

SI throughout: times s since the pump started, drawdown m positive down, rates m3/s, T m2/s, radii m. What others call::

    Levels(time, drawdown, radius=None, well="pumped", pumped=None)          readings of one bore; radius under 1 m or None means the pumped bore
    steady_rate(rate, stopped_at=None), rate_steps([(start, rate), ...]) -> RateHistory
    fit_test([Levels, ...], rate=float | RateHistory, solutions=None, bore_radius=None, casing_radius=None, thickness=None, robust=False,
             confidence=0.9, hold=None, also=()) -> TestFit       .fits (best AICc first), .best, .leading, .sentence, .advisories
    FittedSolution: solution, title, parameters {name: Estimate(value, low, high, open_ends)}, derived, aicc, rmse, count, sentence, source, advisories,
             streak (how far a residual resembles the one before it, 0 to 1), carry (how many readings carry the news of one), point, covariance
    AlsoPumped(name, history, distances={well: m}): fit_test(..., also=[...])       other bores that pumped meanwhile; theirs and the test's add up;
             placed(levels, read_places(path), pumped=, also={name: RateHistory}) -> levels and AlsoPumped with their distances
    fits_as_dict(fit) -> dict                            {"fits": [{"solution", "parameters": {"transmissivity_m2_per_d": {"value", "low", "high"}}, ...}], "best"}
    model_drawdown(fit, solution, times, well=0, history=None) -> ndarray     the curve to draw, or a forecast under another history
    read_levels(path, radius=None) -> [Levels]; read_rates(path) -> RateHistory; read_steps(path), read_slug(path) -> two arrays
    read_logger(path, time_column=, value_column=, date_format=, zone=, clock_column="", decimal_comma=None) -> LoggerSeries; clock_corrected,
    anchored_to_dips, pressure_corrected, barometric_efficiency, drawdown_from(series, started_at=) -> (time, drawdown); thinned(time, values)
    pump_stops(time, drawdown) -> ((stopped, started again or None), ...)
    diagnostic_derivative(time, drawdown, window=0.2) -> (times, slopes); stretches(...); equivalent_time(since_stop, pumped_for=)
    fit_step_readings(time, drawdown, history, exponent=2|None) / fit_steps(rates, drawdowns) -> StepFit; steps_as_dict(fit)
    fit_slug(time, displacement, method=, casing_radius=, screen_radius=, screen_length=, ...) -> SlugFit; slug_as_dict(fit)
    rate_bore(TestFit | Airlift(flow, duration, level=None, air_line=None), static_level=, guard_depth=, dry_season_fall=None, neighbours=(),
              well_loss=None (Estimate, e.g. StepFit.well_loss), hours_per_day=24, need=None, bore_radius=0.08, belief=RatingBelief(),
              confidence=0.9) -> Rating
    rating_as_dict(rating) -> dict       flow low high confidence static_level guard_depth available_drawdown pumping_level chance_of_need basis sentence,
                                         horizons [{name time_s flow low middle high}], curve {time_s low flow middle high}, rules, advisories,
                                         levels {"new" | "tenth dry season": {flow, shallow, depth, deep}}: pumping level as a curve of flow
    neighbour_interference([(name, distance)], rate=, transmissivity=, storativity=, times=, allowed=None), drawdown_from_bores(...)
    stream_depletion(time, distance=, transmissivity=, storativity=, rate=), stream_depletion_volume(...)
    plan_test(flow=, drawdown_then=, available=, need=, ...) -> TestPlan; plan_as_dict; reading_times(duration); enough_readings(...)
    PartOpen(thickness, (top, bottom), anisotropy=1.0): fit_test(..., part_open=PartOpen(...)), Levels(..., observed=(top, bottom))
    strip_drawdown(time, near=, far=, across=, along=, edges=("barrier" | "river", ...), ...)   two parallel edges; Levels(..., across=m towards the first)
    partial_drawdown, settled_partial_excess, hantush_m; rules: q20_flow, moell_flow, hundred_day_flow, taylor_flow, logan_transmissivity, ...

A rating is a sum over what a test cannot exclude, not a warrant; its advisories say what else to doubt.
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
from borewright.hydraulics.diagnostic import Stretch, diagnostic_derivative, equivalent_time, stretches, thinned
from borewright.hydraulics.doubleporosity import double_porosity_drawdown
from borewright.hydraulics.doubts import radius_seen
from borewright.hydraulics.fits import fit_test, model_drawdown
from borewright.hydraulics.fitted import AlsoPumped, Estimate, FittedSolution, Levels, TestFit, fits_as_dict
from borewright.hydraulics.flowdimension import flow_dimension_drawdown, upper_gamma
from borewright.hydraulics.fracture import fracture_drawdown, fracture_function
from borewright.hydraulics.interference import (
    Interference,
    depletion_factor,
    drawdown_from_bores,
    neighbour_interference,
    stream_depletion,
    stream_depletion_volume,
)
from borewright.hydraulics.leaky import leaky_drawdown, leaky_well_function, settled_leaky_drawdown
from borewright.hydraulics.logger import (
    LoggerSeries,
    anchored_to_dips,
    barometric_efficiency,
    clock_corrected,
    drawdown_from,
    pressure_corrected,
    pump_stops,
    read_logger,
)
from borewright.hydraulics.partial import PartOpen, hantush_m, partial_drawdown, settled_partial_excess
from borewright.hydraulics.planning import TestPlan, enough_readings, plan_as_dict, plan_test, reading_times
from borewright.hydraulics.ratehistory import (
    RateHistory,
    drawdown_under,
    pulse_train,
    rate_steps,
    steady_rate,
    with_images,
)
from borewright.hydraulics.rating import (
    HORIZONS,
    Airlift,
    Horizon,
    Neighbour,
    Rating,
    RatingBelief,
    rate_bore,
    rating_as_dict,
)
from borewright.hydraulics.readings import placed, read_levels, read_places, read_rates, read_slug, read_steps
from borewright.hydraulics.rules import (
    Rule,
    hundred_day_flow,
    logan_transmissivity,
    moell_flow,
    q20_flow,
    rules_beside,
    specific_capacity,
    specific_capacity_transmissivity,
    taylor_flow,
)
from borewright.hydraulics.slug import (
    SLUG_METHODS,
    SlugFit,
    bouwer_rice_shape,
    fit_slug,
    hvorslev_conductivity,
    slug_as_dict,
    slug_function,
)
from borewright.hydraulics.solutions import SOLUTIONS
from borewright.hydraulics.steptest import (
    StepFit,
    bore_efficiency,
    condition_class,
    fit_step_readings,
    fit_steps,
    steps_as_dict,
)
from borewright.hydraulics.strip import strip_drawdown
from borewright.hydraulics.unconfined import thinning_corrected, unconfined_drawdown, unconfined_well_function

__all__ = [
    "Airlift", "AlsoPumped", "Estimate", "FittedSolution", "HORIZONS", "Horizon", "Interference", "Levels", "LoggerSeries",
    "Neighbour", "PartOpen", "RateHistory", "Rating", "RatingBelief", "Rule", "SLUG_METHODS", "SOLUTIONS", "SlugFit", "StepFit",
    "StraightLine", "Stretch", "TestFit", "TestPlan", "anchored_to_dips", "barometric_efficiency", "bore_efficiency",
    "bore_storage_drawdown", "bore_storage_function", "bouwer_rice_shape", "clock_corrected", "condition_class",
    "depletion_factor", "diagnostic_derivative", "distance_line", "double_porosity_drawdown", "drawdown",
    "drawdown_from", "drawdown_from_bores", "drawdown_under", "enough_readings", "equivalent_time", "fit_slug",
    "fit_step_readings", "fit_steps", "fit_test", "fits_as_dict", "flow_dimension_drawdown", "fracture_drawdown",
    "fracture_function", "hantush_m", "hundred_day_flow", "hvorslev_conductivity", "leaky_drawdown",
    "leaky_well_function", "logan_transmissivity", "model_drawdown", "moell_flow", "neighbour_interference",
    "partial_drawdown", "placed", "plan_as_dict", "plan_test", "pressure_corrected", "pulse_train", "pump_stops", "q20_flow", "radius_seen",
    "rate_bore", "rate_steps", "rating_as_dict", "read_levels", "read_logger", "read_places", "read_rates", "read_slug",
    "read_steps", "reading_times", "recovery", "recovery_line", "rules_beside", "settled_leaky_drawdown",
    "settled_partial_excess", "slug_as_dict", "slug_function", "specific_capacity",
    "specific_capacity_transmissivity", "steady_rate", "steady_transmissivity", "steps_as_dict", "storage_ends_at",
    "straight_line_drawdown", "stream_depletion", "stream_depletion_volume", "stretches", "strip_drawdown", "taylor_flow", "thinned",
    "thinning_corrected", "time_line", "unconfined_drawdown", "unconfined_well_function", "upper_gamma",
    "well_function", "with_images",
]
