"""The quick door makes of an entry what the full checks make of it, or does not take it."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.record import KINDS, Entry, entry_from_json
from borewright.record.bodies import CURRENT_VERSION
from borewright.record.entries import _looked_at
from borewright.record.quick import quick_door
from tests.record.test_bodies import CASES

DOORS = {kind: quick_door(kind, Entry) for kind in KINDS}
TAKEN = [kind for kind, door in DOORS.items() if door is not None]


def sent(kind: str, body: dict) -> dict:
    """Return an entry as a phone sends it."""
    return {
        "id": "0192f1a2-0000-7000-8000-000000000001", "job": "0192f1a2-0000-7000-8000-00000000000a", "kind": kind, "at": "2026-03-02T08:15:00.120+10:00",
        "by": "sam", "device": "phone-a", "counter": 3, "version": CURRENT_VERSION[kind], "body": body, "strikes_out": None,
    }


def same(one: Entry, other: Entry) -> bool:
    """Whether two entries are equal to the type of each value: 5 is not 5.0, and True is not 1."""
    return one == other and json.dumps(dict(one.body), sort_keys=True) == json.dumps(dict(other.body), sort_keys=True) and type(one.body) is type(other.body)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_that_a_phone_sends_goes_through_the_quick_door(kind):
    if kind == "struck_out":
        assert DOORS[kind] is None
        return
    one = sent(kind, CASES[kind][0])
    assert same(DOORS[kind](one), _looked_at(one))


@pytest.mark.parametrize(("kind", "change"), [(kind, change) for kind, (_, changes) in CASES.items() for change, _ in changes])
def test_what_the_full_checks_refuse_does_not_come_in_by_the_quick_door(kind, change):
    bad = sent(kind, CASES[kind][0] | change)
    if DOORS[kind] is not None:
        with pytest.raises((ValueError, TypeError, RecursionError)):
            DOORS[kind](bad)
    with pytest.raises(BadInput):
        entry_from_json(bad)


_ODD = st.sampled_from([
    None, True, False, 0, 1, -1, 5, 2**53, 2**70, 0.0, -0.0, 1.0, 1e-5, 0.25, 2999.9999, 3000.0001, 1e16, math.nan, math.inf, "", " ", "5", "5.5", "true", "sam", "brown clay", "static",
    "x" * 201, "x" * 4001, "\ud800", "a\x00b", "a" * 64, "2026-03-02", b"5", [], [1], [1.5, None], [[0, 1e-3]], (1, 2), {}, {"a": 1}, {"b": 2, "a": {"z": [1, math.nan]}}, {"x": "y" * 60_000},
    {1: 2}, np.float64(3.5), np.int64(3), datetime(2026, 3, 2, tzinfo=UTC), object(),
])
_ENVELOPE = st.sampled_from([
    {}, {"id": "0192F1A2-0000-7000-8000-00000000000B"}, {"id": "{0192f1a2-0000-7000-8000-000000000001}"}, {"id": "urn:uuid:0192f1a2-0000-7000-8000-000000000001"}, {"id": "0192f1a2000070008000000000000001"},
    {"id": 7}, {"id": b"0123456789abcdef"}, {"id": ""}, {"job": None}, {"at": "2026-03-02T08:15:00Z"}, {"at": "20260302T081500+10"}, {"at": "2026-03-02"}, {"at": "2026-03-02T08:15:00"}, {"at": 1772403300},
    {"at": "1899-12-31T23:59:59+00:00"}, {"at": datetime(2026, 3, 2, tzinfo=UTC)}, {"by": " sam "}, {"by": 5}, {"by": "x" * 121}, {"by": "a\u2028b"}, {"by": "\ud800"}, {"device": "ǿ 電話"}, {"device": "\x1fphone\x1f"},
    {"counter": 2**53}, {"counter": 2**53 - 1}, {"counter": True}, {"counter": 3.0}, {"counter": -1}, {"counter": np.int64(3)}, {"version": True}, {"version": 1.0}, {"version": 99}, {"version": "1"}, {"version": None},
    {"strikes_out": "0192f1a2-0000-7000-8000-000000000002"}, {"strikes_out": ""}, {"strikes_out": "0192f1a2-0000-7000-8000-000000000001"}, {"received": "2026-03-02T00:00:00+00:00"}, {"received": ""},
    {"sequence": 7}, {"sequence": None}, {"colour": "blue"}, {"body": None}, {"body": []}, {3: 4},
])


@settings(max_examples=1500, deadline=None, derandomize=True)
@given(st.sampled_from(TAKEN), st.data(), _ENVELOPE, st.integers(0, 2))
def test_the_quick_door_makes_what_the_full_checks_make(kind, data, envelope, changes):
    body = dict(CASES[kind][0])
    fields = sorted(KINDS[kind].model_fields)
    for _ in range(changes):
        body[data.draw(st.sampled_from(fields))] = data.draw(_ODD)
    _compare(kind, sent(kind, body) | envelope)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(st.dictionaries(st.text(max_size=3), st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4), lambda i: st.lists(i, max_size=3) | st.dictionaries(st.text(max_size=3), i, max_size=3), max_leaves=8), max_size=4))
@example({"volume": 0.02, "fill_times": [39.5, 40]})
@example({"a": [[[[1e300]]]], "": "\ud800"})
def test_named_values_come_through_the_quick_door_as_json_gives_them_back(readings):
    _compare("rig.flow", sent("rig.flow", {"depth": 34, "method": "bucket", "flow": 1e-3, "readings": readings}))


def _compare(kind: str, one: dict) -> None:
    try:
        quick = DOORS[kind](one)
    except (ValueError, TypeError, RecursionError):
        quick = None
    try:
        full = _looked_at(one)
    except BadInput:
        full = None
    if quick is not None:
        assert full is not None and same(quick, full), one
    if full is None:
        with pytest.raises(BadInput):
            entry_from_json(one)
    else:
        assert same(entry_from_json(one), full)


def test_a_very_deep_or_very_large_body_is_told_of_in_the_same_words():
    deep: list = []
    for _ in range(5000):
        deep = [deep]
    for readings in ({"a": deep}, {"a": "x" * 2_000_001}):
        with pytest.raises(BadInput) as caught:
            entry_from_json(sent("rig.flow", {"depth": 34, "method": "bucket", "flow": 1e-3, "readings": readings}))
        assert caught.value.field == "body"
