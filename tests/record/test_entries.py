"""The entry as it travels: strict at the border, the same hash however it arrives."""

from __future__ import annotations

import hashlib
import json
import math
from datetime import UTC, datetime, timedelta, timezone
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_entries import JOB, entry

from borewright.errors import BadInput
from borewright.record import Entry, checked_entry, content_hash, entry_from_json, entry_to_json, new_id
from borewright.record.entries import as_texts

GOOD = {
    "id": "0192f1a2-0000-7000-8000-000000000001", "job": str(JOB), "kind": "rig.struck", "at": "2026-03-02T08:15:00+10:00", "by": "sam",
    "device": "phone-a", "counter": 3, "body": {"depth": 34},
}


def test_an_entry_goes_out_and_comes_back():
    one = entry_from_json(GOOD)
    assert one.at.utcoffset() == timedelta(hours=10)
    assert one.body == {"depth": 34.0}
    assert entry_from_json(entry_to_json(one)) == one
    assert checked_entry(one) == one


def test_the_hash_is_of_what_the_device_wrote():
    one = entry_from_json(GOOD)
    assert content_hash(one) == content_hash(entry_from_json(GOOD | {"received": "2026-03-02T00:00:00+00:00", "sequence": 9}))
    assert content_hash(one) == content_hash(entry_from_json(GOOD | {"body": {"depth": 34.0}, "strikes_out": None, "version": 1}))
    for change in ({"by": "kim"}, {"counter": 4}, {"body": {"depth": 34.1}}, {"device": "b"}, {"at": "2026-03-02T08:15:01+10:00"}, {"kind": "rig.note", "body": {"text": "x"}}):
        assert content_hash(entry_from_json(GOOD | change)) != content_hash(one)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"id": "seven"}, "id"), ({"id": 7}, "id"), ({"job": ""}, "job"), ({"kind": "Rig Struck"}, "kind"), ({"kind": "a." * 40}, "kind"), ({"kind": None}, "kind"),
        ({"at": "noon"}, "at"), ({"at": "2026-03-02T08:15:00"}, "at"), ({"at": "0001-01-01T00:00:00+14:00"}, "at"), ({"at": 1772403300}, "at"),
        ({"by": " "}, "by"), ({"by": "x" * 121}, "by"), ({"by": "a\x00b"}, "by"), ({"device": "\ud800"}, "device"), ({"device": None}, "device"),
        ({"counter": -1}, "counter"), ({"counter": 1.0}, "counter"), ({"counter": True}, "counter"), ({"counter": 2**53}, "counter"), ({"counter": "3"}, "counter"),
        ({"version": 0}, "version"), ({"version": "1"}, "version"), ({"body": [1]}, "body"), ({"body": None}, "body"), ({"body": {"depth": math.nan}}, "depth"),
        ({"body": {"depth": -1}}, "depth"), ({"strikes_out": "that one"}, "strikes_out"), ({"strikes_out": GOOD["id"]}, "strikes_out"),
        ({"kind": "struck_out", "body": {}}, "strikes_out"), ({"colour": "blue"}, "colour"), ({"received": "yesterday"}, "received"),
    ],
)
def test_an_entry_that_cannot_stand_is_refused_by_name(change, field):
    with pytest.raises(BadInput) as caught:
        entry_from_json(GOOD | change)
    assert caught.value.field == field


@pytest.mark.parametrize("name", ["id", "job", "kind", "at", "by", "device", "counter"])
def test_what_every_entry_carries(name):
    with pytest.raises(BadInput, match="is missing") as caught:
        entry_from_json({k: v for k, v in GOOD.items() if k != name})
    assert caught.value.field == name


def test_a_new_id_is_a_version_7_uuid_of_its_moment():
    # RFC 9562, section 5.7: 48 bits of milliseconds since 1970, version 7, variant 10.
    at = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)  # the moment of the example in appendix A.6: 017F22E2-79B0-7…
    one = new_id(at)
    assert str(one).startswith("017f22e2-79b0-7")
    assert (one.version, one.variant) == (7, "specified in RFC 4122")
    assert len({new_id(at) for _ in range(1000)}) == 1000
    assert new_id(at + timedelta(milliseconds=1)) > one


def test_ids_and_moments_of_any_writing_are_the_same_entry():
    one = entry_from_json(GOOD)
    other = entry_from_json(GOOD | {"id": GOOD["id"].upper(), "at": "2026-03-01T22:15:00Z"})
    assert other.id == one.id == UUID(GOOD["id"])
    assert content_hash(other) == content_hash(one)
    assert other.at == one.at


def test_an_entry_made_here_is_checked_like_one_that_arrived():
    with pytest.raises(BadInput):
        checked_entry(entry("rig.struck", depth=-3.0))
    with pytest.raises(BadInput):
        checked_entry(entry("struck_out"))
    naive = entry("rig.struck", depth=3.0)
    object.__setattr__(naive, "at", datetime(2026, 3, 2, 8, 15))
    with pytest.raises(BadInput, match="no offset"):
        checked_entry(naive)


_LETTERS = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-2**53, 2**53) | st.floats(allow_nan=False, allow_infinity=False) | _LETTERS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_LETTERS, inner, max_size=3), max_leaves=8,
)


@settings(max_examples=400, deadline=None, derandomize=True)
@given(
    st.dictionaries(_LETTERS, _VALUES, max_size=4), _LETTERS, _LETTERS, st.datetimes(datetime(1900, 1, 3), datetime(2200, 12, 28)),
    st.integers(-14 * 60, 14 * 60).map(lambda minutes: 60 * minutes) | st.sampled_from([0, 1, -1, 3600, 34200, 5555, -86399, 86399]), st.booleans(),
)
def test_the_hash_is_over_the_canonical_json_of_the_whole_entry(body, by, device, moment, offset, strikes):
    entry = Entry(
        id=new_id(), job=new_id(), kind="moon.landed", at=moment.replace(tzinfo=timezone(timedelta(seconds=offset))),
        by=by, device=device, counter=7, body=body, version=3, strikes_out=new_id() if strikes else None,
    )
    plain = entry_to_json(entry, stored=False) | {"at": entry.at.astimezone(UTC).isoformat()}
    whole = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    written = next(as_texts([entry]))
    assert json.loads(written.body) == body
    assert (written.id, written.job, written.at) == (plain["id"], plain["job"], entry.at.isoformat())
    assert written.hash == content_hash(entry) == hashlib.sha256(whole.encode()).hexdigest()
