"""Measuring the flow of a bore at the rig: bucket, notch, weir, orifice pipe and the throw of a jet."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from borewright.errors import Advisory, BadInput, OutOfDomain, require, require_non_negative, require_positive
from borewright.rig.measurement import (
    FlowMeasurement,
    combine,
    method_component,
    read,
    reading_advisories,
    repeat_component,
    tool_component,
)

__all__ = [
    "FLOW_METHODS", "bucket_flow", "flow_from_readings", "horizontal_trajectory_flow", "orifice_pipe_flow", "rectangular_weir_flow",
    "vertical_trajectory_flow", "v_notch_coefficients", "v_notch_flow",
]

GRAVITY = 9.80665
FOOT, INCH, US_GPM = 0.3048, 0.0254, 3.785411784e-3 / 60.0
Readings = float | Sequence[float]


def bucket_flow(
    volume: float, fill_times: Readings, *, volume_half_width: float | None = None, timing_half_width: float = 0.3,
) -> FlowMeasurement:
    """Return the flow that fills a bucket or drum of known volume.

    Parameters
    ----------
    volume : float
        Volume to the mark [m3].
    fill_times : float or sequence of float
        Repeat times to fill it [s].
    volume_half_width : float, optional
        How far the volume may be out either way [m3]; 2 % of the volume where not given (common practice, no source).
    timing_half_width : float
        How far hand timing may be out either way [s].

    Notes
    -----
    Q = V / mean(t). Timing and volume are taken as rectangular, readings as type A.

    References
    ----------
    .. [1] Oklahoma State University Extension BAE-1502 (three repeats, better five).

    Examples
    --------
    >>> round(bucket_flow(0.200, [60.0, 60.0, 60.0]).flow, 6)
    0.003333
    """
    require_positive(volume=volume, timing_half_width=timing_half_width)
    doubt = 0.02 * volume if volume_half_width is None else volume_half_width
    require_non_negative(volume_half_width=doubt)
    times = read(fill_times, "fill_times", presumed_spread=0.05)
    flow = volume / times.mean
    components = [
        repeat_component("fill time", times, flow / times.mean),
        tool_component("hand timing", timing_half_width, flow / times.mean),
        tool_component("volume to the mark", doubt, 1.0 / times.mean),
    ]
    advisories = reading_advisories(times, "fill time", widest=0.10)
    if times.mean < 5.0:
        advisories.append(Advisory("fill-too-fast", "doubt", f"The bucket fills in {times.mean:.1f} s: use a bigger one, filling in at least 5 s "
                                   "(common practice, no source).", "fill_times"))
    return combine("bucket", flow, components, times.count, advisories)


def v_notch_coefficients(notch_angle: float) -> tuple[float, float]:
    """Return the discharge coefficient [-] and the head correction [m] of a sharp, fully contracted V-notch.

    Parameters
    ----------
    notch_angle : float
        Angle of the notch, 25 to 100 [deg].

    Notes
    -----
    Curve fits to the Kindsvater-Shen figures; at 90 deg they give 0.578 and 0.88 mm as published [1]_.

    References
    ----------
    .. [1] US Bureau of Reclamation, Water Measurement Manual, 3rd ed., ch. 7 section 7 (figures 7-6a, b); fit from memory.
    """
    require(math.isfinite(notch_angle) and 25.0 <= notch_angle <= 100.0, "notch_angle", notch_angle,
            "is outside the notches that were calibrated", "an angle from 25 to 100 degrees")
    a = notch_angle
    coefficient = 0.607165052 - 0.000874466963 * a + 6.10393334e-6 * a * a
    correction = 0.0144902648 - 0.00033955535 * a + 3.29819003e-6 * a * a - 1.06215442e-8 * a**3
    return coefficient, correction * FOOT


def v_notch_flow(
    heads: Readings, *, notch_angle: float = 90.0, crest_height: float | None = None, channel_width: float | None = None,
    drop_below_notch: float | None = None, head_half_width: float = 0.002, angle_half_width: float = 0.5,
) -> FlowMeasurement:
    """Return the flow over a sharp V-notch.

    Parameters
    ----------
    heads : float or sequence of float
        Repeat heads above the point of the notch, read at least four heads upstream [m].
    notch_angle : float
        25 to 100 [deg].
    crest_height : float, optional
        Point of the notch above the floor of the box [m].
    channel_width : float, optional
        Width of the box [m].
    drop_below_notch : float, optional
        Tail water below the point of the notch [m].
    head_half_width, angle_half_width : float
        How far the rule [m] and the notch [deg] may be out either way.

    Notes
    -----
    Q = 8/15 sqrt(2 g) Ce tan(angle/2) (h + k)^2.5, Kindsvater-Shen; 1 % standard uncertainty for the coefficient (from memory).
    Valid for 0.06 m < h < 0.38 m, crest height over 2 h, head under a fifth of the width.

    References
    ----------
    .. [1] US Bureau of Reclamation, Water Measurement Manual, 3rd ed., ch. 7.
    """
    coefficient, correction = v_notch_coefficients(notch_angle)
    require_positive(head_half_width=head_half_width, angle_half_width=angle_half_width)
    head = read(heads, "heads", presumed_spread=0.02)
    require(head.mean <= 2.0, "heads", head.mean, "is too deep for a notch box", "a head in metres below 2 m")
    half = math.radians(notch_angle) / 2
    flow = 8 / 15 * math.sqrt(2 * GRAVITY) * coefficient * math.tan(half) * (head.mean + correction) ** 2.5
    per_head = 2.5 * flow / (head.mean + correction)
    per_degree = flow / math.sin(2 * half) * math.pi / 180
    components = [
        repeat_component("head", head, per_head),
        tool_component("rule and zero", head_half_width, per_head),
        tool_component("notch angle", angle_half_width, per_degree),
        method_component("discharge coefficient", flow, 0.01),
    ]
    advisories = reading_advisories(head, "head", widest=0.05)
    advisories += _notch_advisories(head.mean, crest_height, channel_width, drop_below_notch)
    return combine("V-notch", flow, components, head.count, advisories)


def _notch_advisories(
    head: float, crest_height: float | None, channel_width: float | None, drop_below_notch: float | None,
) -> list[Advisory]:
    found = []
    if head < 0.2 * FOOT:
        found.append(Advisory("head-too-small", "doubt", f"A head of {head * 1000:.0f} mm is under 60 mm: the sheet may cling to the notch and "
                              "the published tables differ by up to 6 % here. Use a bucket.", "heads"))
    elif head > 1.25 * FOOT:
        found.append(Advisory("head-too-great", "doubt", f"A head of {head * 1000:.0f} mm is above the 380 mm that the notch was rated for.", "heads"))
    if crest_height is not None:
        require_positive(crest_height=crest_height)
        if crest_height < 2 * head:
            found.append(Advisory("notch-too-low", "doubt", "The point of the notch is less than two heads above the floor: flow reads low.", "crest_height"))
    if channel_width is not None:
        require_positive(channel_width=channel_width)
        if head > 0.2 * channel_width:
            found.append(Advisory("box-too-narrow", "doubt", "The head is more than a fifth of the box width: the sides steer the water.", "channel_width"))
    if drop_below_notch is not None:
        require_non_negative(drop_below_notch=drop_below_notch)
        if drop_below_notch < 0.2 * FOOT:
            found.append(Advisory("tail-water", "doubt", "Tail water stands less than 60 mm below the notch: the sheet may be drowned.", "drop_below_notch"))
    return found


# Width ratio b/B, coefficient at h/P = 0, its slope with h/P, width correction [mm]: Kindsvater and Carter, as tabulated by Bos (1989); from memory.
_WIDTH_RATIO = (0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.9, 1.0)
_COEFFICIENT = (0.587, 0.589, 0.591, 0.593, 0.595, 0.597, 0.599, 0.602)
_SLOPE = (-0.0023, -0.0018, 0.0058, 0.018, 0.030, 0.045, 0.064, 0.075)
_WIDTH_CORRECTION = (2.4, 2.4, 2.7, 3.6, 4.1, 4.2, 3.7, -0.9)


def rectangular_weir_flow(
    heads: Readings, *, crest_width: float, channel_width: float, crest_height: float, head_half_width: float = 0.002,
    width_half_width: float = 0.001,
) -> FlowMeasurement:
    """Return the flow over a sharp rectangular weir, contracted or the full width of its channel.

    Parameters
    ----------
    heads : float or sequence of float
        Repeat heads above the crest, read at least four heads upstream [m].
    crest_width, channel_width, crest_height : float
        Width of the opening, width of the channel, crest above its floor [m].

    Notes
    -----
    Kindsvater-Carter: Q = 2/3 sqrt(2 g) Ce (b + kb)(h + 0.9 mm)^1.5 with Ce and kb by b/B and h/P; coefficients from memory,
    1.5 % standard uncertainty. Valid for h > 30 mm, h/P < 2, b > 0.15 m, P > 0.10 m.

    References
    ----------
    .. [1] Bos, M.G. (1989) Discharge measurement structures, ILRI 20, section 5.1.
    """
    from numpy import interp

    require_positive(crest_width=crest_width, channel_width=channel_width, crest_height=crest_height, head_half_width=head_half_width,
                     width_half_width=width_half_width)
    require(crest_width <= channel_width, "crest_width", crest_width, "is wider than the channel", f"at most {channel_width} m")
    head = read(heads, "heads", presumed_spread=0.02)
    ratio, relative = crest_width / channel_width, head.mean / crest_height
    coefficient = float(interp(ratio, _WIDTH_RATIO, _COEFFICIENT) + interp(ratio, _WIDTH_RATIO, _SLOPE) * relative)
    width = crest_width + float(interp(ratio, _WIDTH_RATIO, _WIDTH_CORRECTION)) / 1000
    depth = head.mean + 0.0009
    flow = 2 / 3 * math.sqrt(2 * GRAVITY) * coefficient * width * depth**1.5
    components = [
        repeat_component("head", head, 1.5 * flow / depth),
        tool_component("rule and zero", head_half_width, 1.5 * flow / depth),
        tool_component("crest width", width_half_width, flow / width),
        method_component("discharge coefficient", flow, 0.015),
    ]
    advisories = reading_advisories(head, "head", widest=0.05)
    for bad, code, text in (
        (head.mean < 0.03, "head-too-small", "A head under 30 mm clings to the crest."),
        (relative > 2.0, "crest-too-low", "The head is more than twice the height of the crest above the floor."),
        (crest_width < 0.15, "crest-too-narrow", "The crest is narrower than the 150 mm that the coefficients cover."),
        (crest_height < 0.10, "crest-too-low", "The crest is less than 100 mm above the floor."),
    ):
        if bad:
            advisories.append(Advisory(code, "doubt", text, "heads" if "head" in code else "crest_height"))
    return combine("rectangular weir", flow, components, head.count, advisories)


# Orifice coefficient by ratio of orifice to pipe inside diameter; read back from a discharge table held in memory, no printed chart opened.
_ORIFICE_RATIO = (0.50, 0.625, 0.667, 0.75, 0.833)
_ORIFICE_COEFFICIENT = (0.599, 0.624, 0.643, 0.694, 0.780)


def orifice_pipe_flow(
    heads: Readings, *, orifice_diameter: float, pipe_inside_diameter: float, coefficient: float | None = None, head_half_width: float = 0.006,
) -> FlowMeasurement:
    """Return the flow from a round orifice on the end of a level pipe, by the height in a clear tube.

    Parameters
    ----------
    heads : float or sequence of float
        Repeat heights of water in the tube above the pipe's centre line [m].
    orifice_diameter, pipe_inside_diameter : float
        [m]; ratio 0.50 to 0.833.
    coefficient : float, optional
        From the calibration of this orifice [-]; without it a curve from memory is used and a doubt is told.

    Notes
    -----
    Q = K A sqrt(2 g h), A the orifice's area; K by the ratio of diameters (5 % standard uncertainty from the curve, 1.5 % if given).

    References
    ----------
    .. [1] Form of the equation: ASTM D5716 after Purdue 1949, as in Driscoll (1986); from memory, chart not opened.
    """
    from numpy import interp

    require_positive(orifice_diameter=orifice_diameter, pipe_inside_diameter=pipe_inside_diameter, head_half_width=head_half_width)
    require(orifice_diameter < pipe_inside_diameter, "orifice_diameter", orifice_diameter, "does not fit in the pipe",
            f"smaller than the pipe's inside diameter {pipe_inside_diameter} m")
    ratio = orifice_diameter / pipe_inside_diameter
    head = read(heads, "heads", presumed_spread=0.02)
    advisories = reading_advisories(head, "height in the tube", widest=0.05)
    if coefficient is None:
        require(0.5 <= ratio <= 0.833, "orifice_diameter", orifice_diameter, f"is {ratio:.2f} of the pipe's inside diameter, outside the curve",
                "0.50 to 0.83 of the pipe, or give the coefficient of your orifice")
        coefficient, doubt = float(interp(ratio, _ORIFICE_RATIO, _ORIFICE_COEFFICIENT)), 0.05
        advisories.append(Advisory("coefficient-from-memory", "doubt", "The orifice coefficient comes from memory, not from a printed chart: "
                                   "use the calibration that belongs to your orifice.", "coefficient"))
    else:
        require(math.isfinite(coefficient) and 0.4 < coefficient < 1.2, "coefficient", coefficient, "is not an orifice coefficient", "about 0.55 to 0.85")
        doubt = 0.015
    area = math.pi / 4 * orifice_diameter**2
    flow = coefficient * area * math.sqrt(2 * GRAVITY * head.mean)
    if head.mean < pipe_inside_diameter / 2:
        advisories.append(Advisory("pipe-not-full", "doubt", "The tube stands below the top of the pipe: the pipe may not run full. Use a smaller orifice.", "heads"))
    components = [
        repeat_component("height in the tube", head, flow / (2 * head.mean)),
        tool_component("rule and level", head_half_width, flow / (2 * head.mean)),
        method_component("orifice coefficient", flow, doubt),
    ]
    return combine("orifice pipe", flow, components, head.count, advisories)


def horizontal_trajectory_flow(
    throws: Readings, *, drop: float, pipe_inside_diameter: float, dry_depth: float = 0.0, throw_half_width: float = 0.015,
    drop_half_width: float = 0.005,
) -> FlowMeasurement:
    """Return the flow from a level open pipe, by how far the jet has gone when it has fallen a set drop.

    Parameters
    ----------
    throws : float or sequence of float
        Repeat distances along the pipe from its end to where the jet's top has fallen by `drop` [m].
    drop : float
        Fall of the jet's top, measured square to the throw [m]; 0.33 m (13 in) is usual.
    pipe_inside_diameter : float
        [m].
    dry_depth : float
        From the crown down to the water where the pipe does not run full [m].

    Notes
    -----
    Q = A X / sqrt(2 Y / g), A the wetted area at the end; 5 % standard uncertainty for the method, 10 % when partly full
    (common practice, no source).

    References
    ----------
    .. [1] Hohn, C.H., New Mexico State University Guide A-104, table 1 (full pipe, drop 13 in).
    """
    require_positive(drop=drop, pipe_inside_diameter=pipe_inside_diameter, throw_half_width=throw_half_width, drop_half_width=drop_half_width)
    require_non_negative(dry_depth=dry_depth)
    require(dry_depth < pipe_inside_diameter, "dry_depth", dry_depth, "leaves no water in the pipe", f"below {pipe_inside_diameter} m")
    throw = read(throws, "throws", presumed_spread=0.05)
    radius = pipe_inside_diameter / 2
    angle = math.acos(max(-1.0, min(1.0, 1.0 - dry_depth / radius)))
    area = radius**2 * (math.pi - angle + math.sin(angle) * math.cos(angle))
    flow = area * throw.mean / math.sqrt(2 * drop / GRAVITY)
    advisories = reading_advisories(throw, "throw", widest=0.10)
    if dry_depth > 0:
        advisories.append(Advisory("pipe-part-full", "doubt", "The pipe does not run full: the method is rough here. Turn the end up, or use a bucket or notch.", "dry_depth"))
    if throw.mean < 0.15:
        advisories.append(Advisory("throw-too-short", "doubt", "The jet falls off the lip within 150 mm: use a bucket.", "throws"))
    components = [
        repeat_component("throw", throw, flow / throw.mean),
        tool_component("rule along the throw", throw_half_width, flow / throw.mean),
        tool_component("drop", drop_half_width, flow / (2 * drop)),
        method_component("method", flow, 0.10 if dry_depth > 0 else 0.05),
    ]
    return combine("pipe trajectory", flow, components, throw.count, advisories)


def vertical_trajectory_flow(rises: Readings, *, pipe_inside_diameter: float, rise_half_width: float = 0.01) -> FlowMeasurement:
    """Return the flow from an upright open pipe, by how high the water stands above its lip.

    Parameters
    ----------
    rises : float or sequence of float
        Repeat heights of the water above the lip [m].
    pipe_inside_diameter : float
        [m].

    Notes
    -----
    Jet (rise over 1.4 diameters) and weir (under 0.37) laws of Lawrence and Braunworth; between them the flow is less than either,
    so the lesser is given with a wider doubt. Standard uncertainty 5 %, 7.5 % and 10 % (the sources give 10 to 15 % accuracy).

    References
    ----------
    .. [1] US Bureau of Reclamation, Water Measurement Manual, ch. 14 section 13 (limits read, constants from memory).
    """
    require_positive(pipe_inside_diameter=pipe_inside_diameter, rise_half_width=rise_half_width)
    rise = read(rises, "rises", presumed_spread=0.05)
    diameter, height = pipe_inside_diameter / INCH, rise.mean / INCH
    jet = 5.01 * diameter**1.99 * height**0.53 * US_GPM
    weir = 6.17 * diameter**1.25 * height**1.35 * US_GPM
    ratio = rise.mean / pipe_inside_diameter
    advisories = reading_advisories(rise, "rise", widest=0.10)
    if ratio > 1.4:
        flow, power, doubt = jet, 0.53, 0.05
    elif ratio < 0.37:
        flow, power, doubt = weir, 1.35, 0.075
    else:
        flow, power, doubt = min(jet, weir), (0.53 if jet < weir else 1.35), 0.10
        advisories.append(Advisory("between-jet-and-weir", "doubt", "The rise lies between a jet and a weir, where the true flow is less than either law gives.", "rises"))
    advisories.append(Advisory("rough-method", "note", "An upright pipe is good to 10 to 15 %: confirm with a bucket or notch.", "rises"))
    components = [
        repeat_component("rise", rise, power * flow / rise.mean),
        tool_component("rule", rise_half_width, power * flow / rise.mean),
        method_component("method", flow, doubt),
    ]
    return combine("upright pipe", flow, components, rise.count, advisories)


FLOW_METHODS: dict[str, Callable[..., FlowMeasurement]] = {
    "bucket": bucket_flow,
    "V-notch": v_notch_flow,
    "rectangular weir": rectangular_weir_flow,
    "orifice pipe": orifice_pipe_flow,
    "pipe trajectory": horizontal_trajectory_flow,
    "upright pipe": vertical_trajectory_flow,
}


def flow_from_readings(method: str, readings: Mapping[str, Any]) -> FlowMeasurement:
    """Return the flow by a named method of `FLOW_METHODS` from its readings by name, in SI.

    Raises
    ------
    BadInput
        A method that is not known, or a reading that is missing, unknown or impossible.
    """
    if method not in FLOW_METHODS:
        raise BadInput("method", method, "is not a way of measuring flow", "one of " + ", ".join(FLOW_METHODS))
    from inspect import Parameter, signature

    wanted = signature(FLOW_METHODS[method]).parameters
    for name in readings:
        if name not in wanted:
            raise BadInput(str(name), readings[name], f"is not a reading of the {method}", "one of " + ", ".join(wanted))
    for name, parameter in wanted.items():
        if parameter.default is Parameter.empty and name not in readings:
            raise BadInput(name, None, "is missing", f"the readings of the {method}: " + ", ".join(wanted))
    try:
        return FLOW_METHODS[method](**readings)
    except BadInput:
        raise
    except (TypeError, ValueError):
        raise OutOfDomain("readings", str(dict(readings)), "are not numbers", "numbers in SI") from None
