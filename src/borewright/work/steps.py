"""What a step run of a job tells: the losses, the bore's efficiency at each step, and the flow above which pumping harder costs most."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from borewright.errors import Advisory, BadInput, BorewrightError
from borewright.record.fold import Hole, Test
from borewright.work.runs import readings_of, run_of

if TYPE_CHECKING:
    from borewright.hydraulics import StepFit

__all__ = ["fit_step_test", "step_result", "well_loss_of"]


def fit_step_test(test: Test, *, exponent: float | None = 2.0) -> StepFit:
    """Return the losses of a step run from its pumped bore. Raises BadInput where no steps are recorded, or too few readings."""
    from borewright.hydraulics import fit_step_readings

    if not test.run.body.steps:
        raise BadInput("steps", None, "are not recorded for this test", "when each step began and its rate")
    readings = readings_of(test)
    pumped = next((one for one in readings.levels if one.pumped), readings.levels[0])
    return fit_step_readings(pumped.time, pumped.drawdown, readings.history, exponent=exponent)


def step_result(hole: Hole, run: str, *, exponent: float | None = 2.0) -> dict[str, Any]:
    """Return what is kept for a step run: the losses, and the fits of the aquifer where the readings give them."""
    from borewright.hydraulics import steps_as_dict
    from borewright.work.joint import fit_together, result_for

    losses = fit_step_test(run_of(hole, run), exponent=exponent)
    told = steps_as_dict(losses)
    try:
        result = result_for(fit_together(hole, run, alone=True), run)
    except BorewrightError as error:
        note = Advisory("no-aquifer-fit", "doubt", f"No aquifer fit beside the losses: {error}", "time")
        result = {"fits": [], "best": "", "advisories": [{"code": note.code, "severity": note.severity, "message": note.message, "where": note.where}]}
    else:
        result["aquifer_sentence"] = result.pop("sentence")
    result["advisories"] += told.pop("advisories")
    return result | ({"exponent_found": True} if exponent is None else {}) | {"steps": told, "critical_flow_m3_per_s": told["half_loss_flow_m3_per_s"], "sentence": _sentence(losses)}


def _sentence(fit: StepFit) -> str:
    from borewright.quantities import show

    first, last = fit.efficiencies[0], fit.efficiencies[-1]
    said = f"The aquifer takes {first:.0%} of the drawdown at {show(fit.rates[0], 'flow')} and {last:.0%} at {show(fit.rates[-1], 'flow')}."
    if fit.half_flow is None:
        return said + " No loss at the bore shows that grows faster than the flow."
    where = "beyond the steps pumped, so reckoned only" if fit.half_flow > fit.rates[-1] else "within the steps pumped"
    return said + f" From {show(fit.half_flow, 'flow')} more than half of the drawdown is lost at the bore ({where}): pumping harder than that costs lift for little water."


def well_loss_of(hole: Hole) -> Any:
    """Return C of the step run last made on the hole, where its readings give one, else None."""
    for test in reversed(list(hole.tests.values())):
        if test.run.body.type == "step" and test.levels and test.run.body.steps:
            try:
                return fit_step_test(test).well_loss
            except BorewrightError:
                return None  # steps too few or too alike say nothing about well loss; the rating then carries its own doubt of it
    return None
