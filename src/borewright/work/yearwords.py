"""What the years of a bore say, in words for its owner."""

from __future__ import annotations

from typing import Any

from borewright.quantities import show

__all__ = ["energy_words", "intake_words", "step_words", "trend_words"]

YEAR = 365.25 * 86400.0


def trend_words(series: Any, system: str) -> str:
    """Return in words what the trend of a series is worth."""
    found = series.trend
    if found is None:
        return f"{len(series.days)} day{'s' if len(series.days) != 1 else ''} read; a trend needs five."
    if found.slope == 0 and found.p_value == 1.0:
        return "No trend: every reading is the same."
    amount = lambda v: show(v * YEAR, series.kind, system=system, digits=2)
    deeper, shallower = ("falling", "rising") if series.kind == "level" else ("rising", "falling")
    if found.p_value <= 0.05:
        what = "The water is" if series.kind == "level" else "It is"
        low, high = sorted((abs(found.slope_low), abs(found.slope_high)))
        return (f"{what} {deeper if found.slope > 0 else shallower} by about {amount(abs(found.slope))} a year ({amount(low)} to {amount(high)}); "
                f"chance alone would show as much in {'fewer than 1' if found.p_value < 0.001 else f'{found.p_value * 1000:.0f}'} of 1000 such records.")
    return f"No trend that chance would not show ({found.p_value * 100:.0f} of 100 such records would); the true change lies between {amount(found.slope_low)} and {amount(found.slope_high)} a year."


def intake_words(intake: Any, system: str) -> str:
    """Return the warning about the intake, or why there is none yet."""
    if intake.limit is None:
        return ""
    level = lambda v: show(v, "depth", system=system, digits=3)
    bar = f"The pump must keep water over its intake: at the lowest the water may stand {level(intake.limit)} below ground while pumping."
    if intake.state == "reached":
        return f"{bar} It was read at {level(intake.last)}. Pump less and call the driller now: a pump that runs dry is lost."
    if intake.state == "near":
        when = "The line of the readings is there already." if not intake.earliest else (
            f"By the line of the readings it gets there in about {_years(intake.likely)}, at the earliest in {_years(intake.earliest)}." if intake.likely else
            f"At the steep end of the doubt it gets there in {intake.earliest / YEAR:.1f} years.")
        return f"{bar} {when} Call the driller before the next dry season."
    if intake.state == "unknown":
        return f"{bar} {intake.lacking} more days of readings while pumping are needed before a forecast can be made."
    return f"{bar} The last reading left {level(intake.limit - intake.last)}, and the readings do not foresee its loss within ten years."


def energy_words(energy: Any, system: str) -> str:
    """Return what the water takes now against what the pump was chosen for; a fifth more is worth looking at (common practice, no source)."""
    if energy is None or energy.over is None:
        return ""
    amount = lambda v: show(v, "energy_per_volume", system=system, digits=2)
    said = f"The pump was chosen to take {amount(energy.chosen)}; by the last readings it takes {amount(energy.last)}"
    if energy.over > 0.2:
        return f"{said}, {energy.over * 100:.0f} % more: worn impellers, deeper water, a leak below ground or scale in the pipe. Call the driller."
    if energy.over < -0.2:
        return f"{said}, {-energy.over * 100:.0f} % less: look whether both meters count this pump and nothing else."
    return f"{said}: as it should be."


def step_words(series: Any, system: str) -> str:
    """Return when a series changed at once and by how much; nothing where it drifts."""
    if series.step is None or series.trend is not None and series.trend.p_value <= 0.05:
        return ""  # a steady trend always looks like a step as well
    value = lambda v: show(v, series.kind, system=system, digits=3)
    return f"It seems to have changed at once after {series.days[series.step.after].isoformat()}: {value(series.step.before)} before, {value(series.step.since)} since."


def _years(time: float) -> str:
    """Return a time ahead as it is worth telling: months below two years."""
    months = round(12 * time / YEAR)
    return "a month" if months <= 1 else f"{months} months" if months < 24 else f"{time / YEAR:.0f} years"
