"""At the rig: air to clean the hole, the flow of the bore, airlift and development.

Everything is SI; diameters, not radii; options by keyword. What others call::

    flow_from_readings(method, readings: Mapping) -> FlowMeasurement     method of FLOW_METHODS: bucket, V-notch, rectangular weir,
        orifice pipe, pipe trajectory, upright pipe; readings by the argument names of
        bucket_flow(volume, fill_times), v_notch_flow(heads, notch_angle=90), rectangular_weir_flow(heads, crest_width=, channel_width=,
        crest_height=), orifice_pipe_flow(heads, orifice_diameter=, pipe_inside_diameter=), horizontal_trajectory_flow(throws, drop=,
        pipe_inside_diameter=), vertical_trajectory_flow(rises, pipe_inside_diameter=)
    FlowMeasurement: flow, standard_uncertainty, low, high [m3/s, 95 %], components, advisories; flow_as_dict(measurement) -> dict
    uphole_velocity(air_flow, hole_diameter, rod_diameter) [m/s]; check_uphole_velocity(velocity) -> advisories
    air_need(hole_diameter, rod_diameter, velocity=) [m3/s]; altitude_factor(altitude, temperature=); unloading_pressure(water_column)
    cleaning_by_depth(depth, hole_diameter=, rod_diameter=, air_flow=, compressor_pressure=, water_flow=, ...) -> CleaningByDepth
    foam_quality(air_flow, liquid_flow, pressure), check_foam(quality)
    airlift(air_flow, air_depth=, static_level=, specific_capacity=, ...) -> Airlift(flow, low, high, pumping_level, submergence, ...)
    track_development(elapsed, readings, what="turbidity"|"sand") -> Development(clean_by, clean_low, clean_high, clean, ...)
    cleaning_as_dict, airlift_as_dict, development_as_dict -> dict of plain JSON types; flow_vectors() -> cases to hold other arithmetic to

Compressed air kills; each result that touches it carries the caution.
"""

from borewright.rig.air import (
    BAILING_VELOCITY,
    COMPRESSED_AIR_CAUTION,
    MINIMUM_VELOCITY,
    SCOURING_VELOCITY,
    CleaningByDepth,
    air_density,
    air_need,
    altitude_factor,
    atmospheric_pressure,
    check_foam,
    check_uphole_velocity,
    cleaning_by_depth,
    cuttings_mass_rate,
    foam_quality,
    unloading_pressure,
    uphole_velocity,
)
from borewright.rig.development import CRITERIA, Development, track_development, volume_to_remove
from borewright.rig.flow import (
    FLOW_METHODS,
    bucket_flow,
    flow_from_readings,
    horizontal_trajectory_flow,
    orifice_pipe_flow,
    rectangular_weir_flow,
    v_notch_coefficients,
    v_notch_flow,
    vertical_trajectory_flow,
)
from borewright.rig.lifting import Airlift, advised_submergence, air_line_level, air_per_water, airlift, submergence
from borewright.rig.measurement import Component, FlowMeasurement, flow_as_dict
from borewright.rig.telling import airlift_as_dict, cleaning_as_dict, development_as_dict, flow_vectors

__all__ = [
    "BAILING_VELOCITY", "COMPRESSED_AIR_CAUTION", "CRITERIA", "FLOW_METHODS", "MINIMUM_VELOCITY", "SCOURING_VELOCITY", "Airlift", "CleaningByDepth",
    "Component", "Development", "FlowMeasurement", "advised_submergence", "air_density", "air_line_level", "air_need", "air_per_water", "airlift",
    "airlift_as_dict", "cleaning_as_dict", "development_as_dict", "flow_vectors",
    "altitude_factor", "atmospheric_pressure", "bucket_flow", "check_foam", "check_uphole_velocity", "cleaning_by_depth", "cuttings_mass_rate",
    "flow_as_dict", "flow_from_readings", "foam_quality", "horizontal_trajectory_flow", "orifice_pipe_flow", "rectangular_weir_flow", "submergence",
    "track_development", "unloading_pressure", "uphole_velocity", "v_notch_coefficients", "v_notch_flow", "vertical_trajectory_flow", "volume_to_remove",
]
