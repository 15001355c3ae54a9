"""The field sheet of a test: what was planned, and empty columns at the planned times to write on beside the bore."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.papers.wording import Wording, advisories_of, heading, number
from borewright.record.fold import Job

__all__ = ["content"]

BLANK = "\u00a0"
ROW = 13.0  # points of the letters, which set how much room a hand has
MOST_STEPS = 5


def content(job: Job, w: Wording, paper: str) -> dict[str, Any]:
    """Return the field sheet's data: the plan where one is kept, else empty rows and a word that none is."""
    hole = job.hole
    plan: Mapping[str, Any] = hole.planned.body.plan if hole.planned else {}
    times = [t for t in (number(t) for t in plan.get("reading_times") or ()) if t]
    steps = [s for s in plan.get("steps") or () if isinstance(s, Mapping) and number(s.get("rate"))][:MOST_STEPS]
    rate, duration = number(plan.get("rate")), number(plan.get("duration"))
    expected = plan.get("expected_drawdown") or {}
    # The sheet's own cautions say these two already.
    rest = [a for a in plan.get("advisories") or () if isinstance(a, Mapping) and a.get("code") not in ("discharge", "electricity")]
    facts = [
        [w.say("Job"), job.title], [w.say("Position"), w.place(job.spot or job.site)], [w.say("Depth"), w.depth(hole.depth)], [w.say("Static_level"), w.level(hole.static_level)],
        [w.say("Rate_of_the_long_part"), w.flow(rate)], [w.say("Pumped_for_and_watched_for"), w.hours(duration)],
        [w.say("Drawdown_to_expect"), w.say("from_low_to_high", low=w.depth(number(expected.get("low"))), high=w.depth(number(expected.get("high")))) if number(expected.get("high")) else ""],
        [w.say("Deepest_pumping_level_to_expect"), w.depth(number(plan.get("lowest_pumping_level")))], [w.say("Water_led_off_at_least"), w.distance(number(plan.get("discharge_distance")))],
    ]
    blocks: list[dict[str, Any]] = [
        {"kind": "facts", "rows": facts}, {"kind": "cautions", "items": [*w.cautions("fieldsheet"), *advisories_of(w, rest)]},
        {"kind": "lines", "items": [w.say("read_by"), w.say("date_and_pump_started_at"), w.say("level_before_and_measured_from")]},
    ]
    if not times:
        return {"title": w.say("Field_sheet"), "blocks": [*blocks, {"kind": "text", "text": w.say("No_test_plan_is_kept")}, _pencil(w)]}
    step_length = number(plan.get("step_length"))
    if steps and step_length:
        head = [w.say("min"), *(w.say("step_at", number=str(n), flow=w.flow(number(s["rate"]))) for n, s in enumerate(steps, 1))]
        rows = [[_minutes(t, w), *([BLANK] * len(steps))] for t in times if t <= step_length]
        blocks += [heading(w.say("Steps_one_after_the_other", length=w.hours(step_length))), _table(head, rows, [0, *([1] * len(steps))])]
    long_head = [w.say("min"), w.say("clock"), w.say("water_level"), w.say("flow"), w.say("remarks")]
    blocks += [
        heading(w.say("The_long_part", flow=w.flow(rate))), _table(long_head, [[_minutes(t, w), *([BLANK] * 4)] for t in times], [0, 1, 1, 1, 2]),
        heading(w.say("After_the_pump_stopped")), _table([w.say("min"), w.say("clock"), w.say("water_level"), w.say("remarks")], [[_minutes(t, w), *([BLANK] * 3)] for t in times], [0, 1, 1, 3]),
    ]
    return {"title": w.say("Field_sheet"), "blocks": blocks}


def _minutes(time: float, w: Wording) -> str:
    return w.figures(f"{time / 60:g}")


def _table(head: Sequence[str], rows: list[list[str]], widths: list[int]) -> dict[str, Any]:
    return {"kind": "table", "head": list(head), "align": "r" + "l" * (len(head) - 1), "widths": widths, "rows": rows, "size": ROW}


def _pencil(w: Wording) -> dict[str, Any]:
    return {"kind": "pencil", "head": [w.say("min"), w.say("clock"), w.say("water_level"), w.say("flow"), w.say("remarks")], "widths": [1, 1, 1, 1, 2], "rows": 20}
