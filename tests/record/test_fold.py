"""The fold: no order of arrival changes a job, a struck-out entry stays readable, what is newer is kept."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_entries import JOB, NOON, entry

from borewright.record import Entry, bodies, fold, new_id

DEVICES = ("phone-a", "phone-b", "desk")
_BODIES = st.one_of(
    st.tuples(st.just("rig.struck"), st.fixed_dictionaries({"depth": st.integers(1, 60).map(float)})),
    st.tuples(st.just("rig.flow"), st.fixed_dictionaries(
        {"depth": st.integers(1, 60).map(float), "flow": st.integers(0, 9).map(lambda n: n / 1000), "method": st.just("bucket")})),
    st.tuples(st.just("rig.advanced"), st.fixed_dictionaries({"to_depth": st.integers(1, 60).map(float), "hole": st.integers(1, 2)})),
    st.tuples(st.just("enquiry.customer"), st.fixed_dictionaries({"name": st.sampled_from(["Ash", "Birch", "Cedar"])})),
    st.tuples(st.just("ground.spot"), st.fixed_dictionaries(
        {"name": st.sampled_from(["A", "B"]), "latitude": st.just(-27.0), "longitude": st.integers(150, 153).map(float)})),
    st.tuples(st.just("test.run"), st.fixed_dictionaries({"run": st.sampled_from(["1", "2"]), "type": st.just("constant rate")})),
    st.tuples(st.just("test.levels"), st.fixed_dictionaries(
        {"run": st.sampled_from(["1", "2"]), "time": st.just([60.0]), "drawdown": st.just([0.5])})),
    st.tuples(st.just("later.kind"), st.fixed_dictionaries({"anything": st.integers()})),
)


@st.composite
def streams(draw) -> list[Entry]:
    """Entries of one job by several devices whose clocks are hours wrong, jump, and stand still; some strike out others."""
    skew = {d: draw(st.integers(-600, 600)) for d in DEVICES}
    counters = dict.fromkeys(DEVICES, 0)
    made: list[Entry] = []
    for place in range(draw(st.integers(1, 25))):
        device = draw(st.sampled_from(DEVICES))
        counters[device] += 1
        minutes = skew[device] + draw(st.sampled_from([place, 0, -place]))
        strikes = draw(st.sampled_from([None, None, *made])) if made else None
        kind, body = ("struck_out", {}) if strikes and draw(st.booleans()) else draw(_BODIES)
        made.append(Entry(
            id=UUID(int=draw(st.integers(0, 2**128 - 1).filter(lambda n: n not in {e.id.int for e in made}))), job=JOB, kind=kind,
            at=NOON + timedelta(minutes=minutes), by="sam", device=device, counter=counters[device], body=body,
            strikes_out=strikes.id if strikes else None,
        ))
    return made


@given(streams(), st.randoms(use_true_random=False))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_no_order_of_arrival_and_no_repetition_changes_the_job(stream, random):
    expected = fold(stream)
    shuffled = stream + random.choices(stream, k=3)
    random.shuffle(shuffled)
    assert fold(shuffled) == expected


@given(streams())
@settings(max_examples=100, deadline=None, derandomize=True)
def test_every_entry_stays_in_the_history_and_only_standing_ones_count(stream):
    job = fold(stream)
    assert sorted(e.id for e, _ in job.history) == sorted(e.id for e in stream)
    # By another road: an entry stands when no correction and no bare strike-out that stands strikes it. Later entries
    # strike earlier ones here, so walking back from the last settles every question before it is asked.
    standing: dict[UUID, bool] = {}
    for one in reversed(stream):
        standing[one.id] = not any(standing[s.id] or s.kind != "struck_out" for s in stream if s.strikes_out == one.id)
    assert {e.id: striker is None for e, striker in job.history} == standing
    counted = [f.entry.id for hole in job.holes.values() for f in (*hole.strikes, *hole.flows, *hole.advances)]
    kinds = ("rig.struck", "rig.flow", "rig.advanced")
    assert sorted(counted) == sorted(e.id for e in stream if e.kind in kinds and standing[e.id])
    assert {e.id for e in job.unknown} == {e.id for e in stream if e.kind == "later.kind" and standing[e.id]}


@given(streams())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_the_order_of_one_device_is_its_own_counter(stream):
    order = [e for e, _ in fold(stream).history]
    for device in DEVICES:
        counters = [e.counter for e in order if e.device == device]
        assert counters == sorted(counters)


def test_a_correction_replaces_and_the_old_reading_stays_readable_with_who_struck_it():
    wrong = entry("rig.struck", 1, depth=43.0)
    right = entry("rig.struck", 2, minutes=5, strikes=wrong, depth=34.0)
    job = fold([right, wrong])
    assert [f.body.depth for f in job.hole.strikes] == [34.0]
    assert [(e.body["depth"], s and s.id) for e, s in job.history] == [(43.0, right.id), (34.0, None)]


def test_striking_out_a_strike_out_brings_the_reading_back():
    reading = entry("rig.struck", 1, depth=34.0)
    first = entry("struck_out", 2, strikes=reading)
    second = entry("struck_out", 3, strikes=first)
    third = entry("struck_out", 4, strikes=second)
    assert [len(fold(stream).holes) for stream in ([reading], [reading, first], [reading, first, second], [reading, first, second, third])] == [1, 0, 1, 0]


def test_correcting_a_correction_does_not_bring_the_first_mistake_back():
    first = entry("rig.struck", 1, depth=43.0)
    second = entry("rig.struck", 2, strikes=first, depth=34.0)
    third = entry("rig.struck", 3, strikes=second, depth=35.0)
    assert [f.body.depth for f in fold([third, first, second]).hole.strikes] == [35.0]
    gone = entry("struck_out", 4, strikes=third)
    assert not fold([first, second, third, gone]).holes
    back = entry("struck_out", 5, strikes=gone)
    assert [f.body.depth for f in fold([back, gone, third, second, first]).hole.strikes] == [35.0]


def test_one_standing_strike_out_of_two_is_enough():
    reading = entry("rig.struck", 1, depth=34.0)
    one, two = entry("struck_out", 2, strikes=reading), entry("struck_out", 3, device="phone-b", strikes=reading)
    undone = entry("struck_out", 4, strikes=one)
    job = fold([undone, two, one, reading])
    assert not job.holes
    assert next(s for e, s in job.history if e.id == reading.id).id == two.id


def test_a_ring_of_strike_outs_loses_nothing_and_an_outside_one_settles_it():
    one, two = new_id(), new_id()
    a = Entry(one, JOB, "rig.struck", NOON, "sam", "phone-a", 1, {"depth": 30.0}, strikes_out=two)
    b = Entry(two, JOB, "rig.struck", NOON, "sam", "phone-b", 1, {"depth": 40.0}, strikes_out=one)
    assert [f.body.depth for f in fold([b, a]).hole.strikes] == [30.0, 40.0]
    outside = entry("struck_out", 2, strikes=a)
    assert [f.body.depth for f in fold([outside, b, a]).hole.strikes] == [40.0]


def test_a_chain_of_thousands_of_strike_outs_is_read():
    chain = [entry("rig.struck", 1, depth=10.0)]
    for counter in range(2, 5003):
        chain.append(entry("struck_out", counter, strikes=chain[-1]))
    assert len(chain) == 5002
    assert not fold(chain).holes  # an odd number of lines through it
    assert fold(chain[:-1]).hole.strikes


def test_a_strike_out_of_an_entry_that_has_not_arrived_waits_for_it():
    reading = entry("rig.struck", 1, depth=34.0)
    strike = entry("struck_out", 2, strikes=reading)
    assert fold([strike]).history == [(strike, None)]
    assert not fold([strike, reading]).holes


def test_a_clock_set_back_on_one_device_does_not_reorder_its_entries():
    first = entry("enquiry.customer", 1, minutes=60, name="Ash")
    second = entry("enquiry.customer", 2, minutes=-600, name="Birch")
    assert fold([second, first]).customer.body.name == "Birch"


def test_a_kind_or_format_from_a_newer_version_is_kept_and_shown():
    kind = entry("moon.landed", 1, crater="Copernicus")
    newer = entry("rig.struck", 2, version=bodies.CURRENT_VERSION["rig.struck"] + 1, depth={"value": 3})
    known = entry("rig.struck", 3, depth=20.0)
    job = fold([kind, newer, known])
    assert [e.id for e in job.unknown] == [kind.id, newer.id]
    assert job.unknown[0].body == {"crater": "Copernicus"}
    assert len(job.hole.strikes) == 1


def test_a_body_that_the_bounds_no_longer_allow_does_not_hide_the_rest_of_the_job():
    job = fold([entry("rig.struck", 1, depth=9000.0), entry("rig.struck", 2, depth=20.0)])
    assert [e.body["depth"] for e in job.unknown] == [9000.0]
    assert len(job.hole.strikes) == 1


def test_an_older_format_is_brought_up_when_read_and_stays_as_it_was(monkeypatch):
    monkeypatch.setitem(bodies._UPCASTERS, "rig.struck", {1: lambda body: {"depth": body["depth_ft"] * 0.3048}})
    monkeypatch.setitem(bodies.CURRENT_VERSION, "rig.struck", 2)
    old = entry("rig.struck", 1, depth_ft=100.0)
    job = fold([old])
    assert job.hole.strikes[0].body.depth == pytest.approx(30.48)
    assert job.history[0][0].body == {"depth_ft": 100.0}
    assert bodies.validate_body("rig.struck", 1, {"depth_ft": 100.0}) == {"depth_ft": 100.0}


def test_entries_of_two_jobs_do_not_fold():
    with pytest.raises(ValueError, match="one job"):
        fold([entry("rig.struck", depth=1.0), entry("rig.struck", job=new_id(), depth=1.0)])
    with pytest.raises(ValueError, match="one job"):
        fold([])


def _hole(*entries):
    return fold(entries).hole


def _flow(depth, flow, counter=1):
    return entry("rig.flow", counter, depth=float(depth), flow=flow, method="bucket")


def test_a_strike_yields_the_rise_of_the_flow_measured_at_the_collar():
    hole = _hole(
        entry("rig.struck", 1, depth=20.0), entry("rig.struck", 2, depth=35.0), entry("rig.struck", 3, depth=50.0),
        _flow(10, 0.0001, 4), _flow(22, 0.0004, 5), _flow(38, 0.0010, 6), _flow(44, 0.0011, 7),
    )
    (first, a), (second, b), (third, c) = hole.strike_yields()
    assert (first, second, third) == (20.0, 35.0, 50.0)
    assert a == pytest.approx(0.0003)  # seepage above the first strike is not the strike's
    assert b == pytest.approx(0.0007)  # the last reading before the next strike, less the one above
    assert c is None  # never measured


def test_a_strike_without_a_reading_is_counted_with_the_next_and_a_falling_flow_yields_nothing():
    hole = _hole(entry("rig.struck", 1, depth=20.0), entry("rig.struck", 2, depth=30.0), entry("rig.struck", 3, depth=40.0), _flow(31, 0.0005, 4), _flow(41, 0.0004, 5))
    assert hole.strike_yields() == [(20.0, None), (30.0, 0.0005), (40.0, 0.0)]


def test_of_two_flows_at_one_depth_the_later_counts():
    hole = _hole(entry("rig.struck", 1, depth=20.0), _flow(21, 0.0009, 2), _flow(21, 0.0006, 3))
    assert hole.strike_yields() == [(20.0, 0.0006)]
    assert hole.last_flow.body.flow == 0.0006


def test_strike_yields_do_not_depend_on_the_order_of_writing():
    entries = [entry("rig.struck", n, depth=d) for n, d in enumerate((50.0, 20.0, 35.0), 1)]
    flows = [_flow(d, f, n) for n, (d, f) in enumerate(((52, 0.002), (21, 0.0005), (36, 0.001)), 4)]
    assert [y for _, y in _hole(*flows, *entries).strike_yields()] == pytest.approx([0.0005, 0.0005, 0.001])


def test_depth_is_the_deepest_thing_logged():
    assert _hole(entry("rig.note", 1, text="set up")).depth == 0
    assert _hole(entry("rig.advanced", 1, to_depth=12.0), entry("rig.ground", 2, from_depth=0.0, to_depth=15.0, words="clay")).depth == 15
    assert _hole(entry("rig.advanced", 1, to_depth=12.0), entry("rig.stopped", 2, depth=60.0, reason="walked away")).depth == 60


def _casing(counter, string):
    return entry("rig.casing", counter, from_depth=0.0, to_depth=12.0, string=string, outside_diameter=0.219)


@pytest.mark.parametrize(
    ("entries", "outcome"),
    [
        ([entry("enquiry.opened", title="Lot 7")], "open"),
        ([entry("enquiry.opened", title="Lot 7"), entry("enquiry.closed", 2, reason="went elsewhere")], "closed"),
        ([entry("rig.stopped", depth=60.0, reason="enough water")], "water"),
        ([_casing(1, "conductor"), entry("rig.stopped", 2, depth=60.0, reason="walked away")], "no water"),
        ([_casing(1, "conductor"), entry("rig.stopped", 2, depth=60.0, reason="depth agreed")], "no water"),
        ([_casing(1, "production"), entry("rig.stopped", 2, depth=60.0, reason="depth agreed")], "water"),
        ([entry("rig.stopped", depth=60.0, reason="enough water"), entry("rig.sealed_off", 2, intervals=[{"from_depth": 0, "to_depth": 60, "material": "grout"}])], "no water"),
        ([entry("rig.stopped", depth=60.0, reason="walked away"), entry("rig.hole_started", 2, hole=2)], "open"),
    ],
)
def test_outcome(entries, outcome):
    assert fold(entries).outcome == outcome


def test_stages_in_turn():
    life = [
        ("enquiry", entry("enquiry.opened", 1, title="Lot 7")), ("ground", entry("ground.spot", 2, latitude=-27.0, longitude=152.0)),
        ("quote", entry("quote.issued", 3, number="Q1", content={}, content_hash="x")), ("bore", entry("bore.design", 4, basis="expected", design={})),
        ("bore", entry("papers.issued", 5, document="quote", sha256="0" * 64, inputs_sha256="0" * 64)),
        ("rig", entry("rig.hole_started", 6)), ("rig", _casing(7, "conductor")), ("test", entry("test.run", 8, run="1", type="step")),
        ("pump", entry("pump.chosen", 9, name="any")), ("water", entry("water.analysis", 10, values=[{"name": "pH", "value": 7.1, "unit": ""}])),
        ("papers", entry("papers.issued", 11, document="handover pack", sha256="0" * 64, inputs_sha256="0" * 64)),
    ]
    for end in range(1, len(life) + 1):
        assert fold([e for _, e in life[:end]]).stage == life[end - 1][0]


def test_levels_that_arrive_before_their_run_are_held_for_it():
    levels = entry("test.levels", 1, device="phone-b", minutes=-90, run="1", time=[60.0, 120.0], drawdown=[0.4, 0.7])
    run = entry("test.run", 1, run="1", type="step", steps=[[0, 0.001]])
    assert fold([levels]).hole.tests["1"].levels[0].body.drawdown == (0.4, 0.7)
    test = fold([levels, run]).hole.tests["1"]
    assert (test.run.body.type, len(test.levels)) == ("step", 1)
