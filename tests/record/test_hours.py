"""Hours by activity from invented taps: a day at a rig whose truth is known."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.record import Entry, fold, new_id
from borewright.record.hours import UNTOLD, hours_by_activity, time_spans
from borewright.work.learning import penetration_records

BEGUN = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


def _job(taps):
    """Return a job from (minute, kind, body) of one phone."""
    return fold([
        Entry(id=new_id(), job=UUID(int=5), kind=kind, at=BEGUN + timedelta(minutes=minute), by="x", device="a", counter=n, body=body)
        for n, (minute, kind, body) in enumerate(taps, 1)
    ])


DAY = [
    (0, "rig.hole_started", {}), (20, "rig.advanced", {"to_depth": 6.0}), (30, "rig.note", {"text": "in the midst of it"}), (38, "rig.advanced", {"to_depth": 12.0}),
    (45, "rig.struck", {"depth": 14.0}), (60, "rig.flow", {"depth": 14.0, "method": "bucket", "flow": 2e-4}), (70, "rig.advanced", {"to_depth": 18.0}),
    (115, "rig.stood_by", {"reason": "breakdown", "duration": 2700.0}), (125, "rig.advanced", {"to_depth": 24.0}),
    (126, "rig.ground", {"from_depth": 0.0, "to_depth": 24.0, "words": "granite"}), (166, "rig.casing", {"from_depth": 0.0, "to_depth": 24.0, "string": "production", "outside_diameter": 0.14}),
    (196, "rig.annulus", {"from_depth": 0.0, "to_depth": 6.0, "what": "grout", "material": "neat cement"}), (256, "rig.airlift", {"elapsed": 3600.0, "clear": True}),
    (1500, "rig.level", {"depth_to_water": 8.0}), (1510, "rig.sample", {"ph": 7.0}),
]


def test_the_hours_are_what_they_were():
    told = {row["activity"]: row["seconds"] / 60 for row in hours_by_activity(_job(DAY))}
    assert told == {"drilling": 20 + 18 + 7 + 10 + 10 + 1, "measuring water": 15 + 10, "standing by": 45, "casing": 40, "grout and seal": 30, "developing": 60}
    assert sum(row["share"] for row in hours_by_activity(_job(DAY))) == pytest.approx(1.0)


def test_the_pace_is_learned_from_drilling_alone():
    from borewright.pricing import prior_time_model

    (record,) = penetration_records(_job(DAY))
    handling = prior_time_model().add_rod
    # Rods to 12, 18 and 24 m: 18, 7 + 10 and 10 minutes; neither the flow nor the breakdown is in them.
    assert record.metres == 18.0 and record.seconds == pytest.approx(60 * (18 + 17 + 10) - 3 * handling)


def test_a_stand_by_written_down_late_takes_its_time_from_what_came_before():
    told = {s.activity: s.seconds for s in time_spans(_job([(0, "rig.hole_started", {}), (100, "rig.advanced", {"to_depth": 6.0}), (105, "rig.stood_by", {"reason": "weather", "duration": 3600.0})]))}
    assert told == {"drilling": 45 * 60.0, "standing by": 60 * 60.0}


def test_a_gap_that_nobody_explains_is_laid_on_nothing():
    (row,) = hours_by_activity(_job([(0, "rig.hole_started", {}), (300, "rig.advanced", {"to_depth": 3.0})]))
    assert row["activity"] == UNTOLD and hours_by_activity(_job([(0, "rig.hole_started", {})])) == []


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.integers(0, 600), st.sampled_from(("rig.advanced", "rig.stood_by", "rig.flow", "rig.note")), st.integers(0, 200)), min_size=1, max_size=15))
def test_no_span_is_below_zero_and_no_time_is_made(taps):
    bodies = {"rig.advanced": {"to_depth": 3.0}, "rig.flow": {"depth": 3.0, "method": "bucket", "flow": 1e-4}, "rig.note": {"text": "x"}}
    job = _job(sorted(((m, k, bodies.get(k) or {"reason": "meal", "duration": 60.0 * d}) for m, k, d in taps), key=lambda t: t[0]))
    spans = time_spans(job)
    telling = [m for m, k, _ in taps if k != "rig.note"]
    assert all(s.seconds >= 0 for s in spans)
    assert sum(s.seconds for s in spans) == pytest.approx(60.0 * (max(telling) - min(telling)) if telling else 0.0, abs=1e-6)
