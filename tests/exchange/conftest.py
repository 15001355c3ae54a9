"""Invented bores for exchange: one written by hand with everything in it, and a strategy for any."""

from datetime import UTC, datetime, timedelta, timezone
from uuid import UUID

import pytest
from hypothesis import strategies as st

from borewright.exchange import bores_of
from borewright.record import Entry, entry_from_json, fold, new_id

JOB = UUID("0192f1a2-0000-7000-8000-00000000a001")
AEST = timezone(timedelta(hours=10))


def book(*written, job=JOB, by="A. Driller", device="phone-1", begun=datetime(2026, 3, 14, 8, 0, tzinfo=AEST)) -> list[Entry]:
    """Entries of (kind, body), a quarter of an hour apart."""
    return [
        entry_from_json({"id": str(new_id()), "job": str(job), "kind": kind, "at": (begun + timedelta(minutes=15 * n)).isoformat(), "by": by,
                         "device": device, "counter": n, "body": body})
        for n, (kind, body) in enumerate(written)
    ]


FULL = (
    ("enquiry.opened", {"title": "Homestead bore (invented)", "reference": "HR-017"}),
    ("enquiry.customer", {"name": "Invented Customer", "phone": "000"}),
    ("enquiry.need", {"flow": 0.25e-3, "use": "house"}),
    ("ground.spot", {"name": "B", "latitude": -35.3, "longitude": 149.1, "elevation": 600.0, "way_of_picking": "lineament"}),
    ("quote.issued", {"number": "Q1", "revision": 1, "valid_until": "2026-04-30", "content": {}, "content_hash": "0" * 64}),
    ("quote.accepted", {"number": "Q1", "revision": 1, "name": "Invented Customer", "content_hash": "0" * 64}),
    ("rig.day_started", {"crew": ["A. Driller"]}),
    ("rig.hole_started", {"spot": "B", "rig": "Rig 1"}),
    ("rig.bit", {"diameter": 0.216, "kind": "blade"}),
    ("rig.ground", {"from_depth": 0.0, "to_depth": 8.0, "words": "red brown sandy clay", "ground_class": "clay", "colour": "red brown"}),
    ("rig.casing", {"from_depth": 0.0, "to_depth": 11.0, "string": "conductor", "outside_diameter": 0.1683, "wall": 0.0048, "material": "steel"}),
    ("rig.annulus", {"from_depth": 0.0, "to_depth": 11.0, "what": "grout", "material": "cement", "bags": 9.0, "bag_mass": 20.0, "density": 1820.0}),
    ("rig.bit", {"diameter": 0.165, "kind": "hammer", "from_depth": 11.0}),
    ("rig.ground", {"from_depth": 8.0, "to_depth": 60.0, "words": "grey granite, fractured 49-56 m, \"water\"", "ground_class": "granite"}),
    ("rig.struck", {"depth": 49.0}), ("rig.flow", {"depth": 50.0, "flow": 0.7e-3, "method": "V-notch", "standard_uncertainty": 0.02e-3}),
    ("rig.struck", {"depth": 55.5, "note": "good"}), ("rig.flow", {"depth": 60.0, "flow": 1.2e-3, "method": "bucket"}),
    ("rig.advanced", {"to_depth": 60.0}),
    ("rig.casing", {"from_depth": 0.0, "to_depth": 48.0, "string": "production", "outside_diameter": 0.1402, "wall": 0.0082, "material": "PVC-U"}),
    ("rig.casing", {"from_depth": 48.0, "to_depth": 57.0, "string": "production", "outside_diameter": 0.1402, "wall": 0.0082, "material": "PVC-U",
                    "slotted": True, "aperture": 0.001}),
    ("rig.annulus", {"from_depth": 45.0, "to_depth": 60.0, "what": "pack", "material": "gravel 3-5 mm", "volume": 0.12}),
    ("rig.annulus", {"from_depth": 42.0, "to_depth": 45.0, "what": "seal", "material": "bentonite pellets"}),
    ("rig.sample", {"depth": 60.0, "conductivity": 640.0, "ph": 7.1, "temperature": 18.5}),
    ("rig.stopped", {"depth": 60.0, "reason": "enough water"}),
    ("rig.level", {"depth_to_water": 12.35}), ("rig.level", {"depth_to_water": 30.2, "state": "pumping", "measured_from": "top of casing", "stick_up": 0.4}),
    ("test.run", {"run": "1", "type": "constant rate", "rate": 1.0e-3, "duration": 7200.0, "static_level": 12.4}),
    ("test.levels", {"run": "1", "time": [60.0, 600.0, 7200.0], "drawdown": [1.1, 2.35, 4.0]}),
    ("test.levels", {"run": "1", "well": "windmill", "radius": 40.0, "time": [600.0, 7200.0], "drawdown": [0.02, 0.31]}),
    ("water.analysis", {"laboratory": "Invented Labs", "sampled_on": "2026-03-16", "values": [
        {"name": "chloride", "value": 85.0, "unit": "mg/L"}, {"name": "arsenic", "value": 0.001, "unit": "mg/L", "below_detection": True}]}),
)
DRY = (
    ("enquiry.opened", {"title": "North paddock (invented)"}),
    ("ground.spot", {"latitude": -35.31, "longitude": 149.12}),
    ("rig.hole_started", {}), ("rig.ground", {"from_depth": 0.0, "to_depth": 80.0, "words": "=hard granite"}),
    ("rig.stopped", {"depth": 80.0, "reason": "walked away", "words": "no water"}),
    ("rig.sealed_off", {"intervals": [{"from_depth": 0.0, "to_depth": 3.0, "material": "cement", "bags": 4.0},
                                      {"from_depth": 3.0, "to_depth": 80.0, "material": "bentonite chips"}], "reason": "dry"}),
)


@pytest.fixture
def job():
    return fold(book(*FULL))


@pytest.fixture
def bore(job):
    return bores_of(job)[0]


@pytest.fixture
def dry():
    return bores_of(fold(book(*DRY, job=UUID(int=JOB.int + 1))))[0]


def numbers(low, high, *, above=False):
    return st.floats(low, high, allow_nan=False, exclude_min=above)


words = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=30)
# XML cannot hold every character, and a reader of tables trims nothing: so texts without space at the ends in names.
maybe = st.none


def _optional(strategies):
    return st.fixed_dictionaries({}, optional=strategies)


def _interval(extra, optional):
    return st.tuples(numbers(0, 300), numbers(0.1, 50), extra, _optional(optional)).map(
        lambda t: {"from_depth": t[0], "to_depth": t[0] + t[1], **t[2], **t[3]})


BODIES = {
    "rig.bit": st.tuples(numbers(0.05, 1.0), _optional({"kind": words, "from_depth": numbers(0, 300)})).map(lambda t: {"diameter": t[0], **t[1]}),
    "rig.ground": _interval(st.fixed_dictionaries({"words": words}), {"ground_class": words, "colour": words, "strength": words, "grain": words, "weathering": words}),
    "rig.struck": st.tuples(numbers(0, 300), _optional({"note": words})).map(lambda t: {"depth": t[0], **t[1]}),
    "rig.flow": st.tuples(numbers(0, 300), numbers(0, 5), st.sampled_from(("bucket", "V-notch", "estimate")), _optional({"standard_uncertainty": numbers(0, 1)})).map(
        lambda t: {"depth": t[0], "flow": t[1], "method": t[2], **t[3]}),
    "rig.level": st.tuples(numbers(-100, 300), st.sampled_from(("static", "pumping", "recovering"))).map(lambda t: {"depth_to_water": t[0], "state": t[1]}),
    "rig.casing": _interval(st.fixed_dictionaries({"string": st.sampled_from(("conductor", "production")), "outside_diameter": numbers(0.02, 1)}),
                            {"wall": numbers(0.0005, 0.009), "material": words, "slotted": st.booleans(), "aperture": numbers(0.0001, 0.04), "joints": st.integers(0, 50)}),
    "rig.annulus": _interval(st.fixed_dictionaries({"what": st.sampled_from(("seal", "grout", "pack", "backfill")), "material": words}),
                             {"bags": numbers(0, 1e4), "bag_mass": numbers(0.1, 100), "density": numbers(500, 2500), "volume": numbers(0, 100)}),
    "rig.sample": _optional({"depth": numbers(0, 300), "conductivity": numbers(0, 1e5), "ph": numbers(0, 14), "temperature": numbers(-5, 100), "bottle": words}),
    "rig.sealed_off": st.lists(st.tuples(numbers(0, 300), numbers(0.1, 50), words).map(lambda t: {"from_depth": t[0], "to_depth": t[0] + t[1], "material": t[2]}), min_size=1, max_size=3).map(
        lambda i: {"intervals": i}),
    "test.run": st.tuples(st.sampled_from("123"), st.sampled_from(("constant rate", "step", "recovery")), _optional({"rate": numbers(0, 5), "duration": numbers(0, 1e6)})).map(
        lambda t: {"run": t[0], "type": t[1], **t[2]}),
    "test.levels": st.tuples(st.sampled_from("123"), st.lists(st.tuples(numbers(0, 1e6), numbers(-50, 300)), min_size=1, max_size=4), _optional({"well": words.filter(bool), "radius": numbers(0, 1e4)})).map(
        lambda t: {"run": t[0], "time": [p[0] for p in t[1]], "drawdown": [p[1] for p in t[1]], **t[2]}),
    "water.analysis": st.tuples(st.lists(st.tuples(words, numbers(-1e6, 1e6), st.booleans()).map(
        lambda t: {"name": t[0], "value": t[1], "unit": "mg/L", "below_detection": t[2]}), min_size=1, max_size=3), words).map(lambda t: {"values": t[0], "laboratory": t[1]}),
    "rig.stopped": st.tuples(numbers(0, 300), st.sampled_from(("enough water", "walked away", "hole lost")), words).map(lambda t: {"depth": t[0], "reason": t[1], "words": t[2]}),
    "rig.hole_started": _optional({"rig": words, "spot": st.sampled_from("AB"), "method": words}),
}


@st.composite
def books(draw):
    """Entries of one job from two devices, in any order of kinds."""
    head = [("enquiry.opened", {"title": draw(words), "reference": draw(words)})]
    if draw(st.booleans()):
        head.append(("enquiry.need", {"flow": draw(numbers(0, 5)), "use": draw(st.sampled_from(("house", "stock")))}))
    for name in draw(st.lists(st.sampled_from("AB"), max_size=2)):
        head.append(("ground.spot", {"name": name, "latitude": draw(numbers(-90, 90)), "longitude": draw(numbers(-180, 180)),
                                     **draw(_optional({"elevation": numbers(-400, 8000)}))}))
    kinds = draw(st.lists(st.sampled_from(sorted(BODIES)), max_size=12))
    made = [(kind, draw(BODIES[kind])) for kind in kinds]
    cut = draw(st.integers(0, len(made)))
    return book(*head, *made[:cut]) + book(*made[cut:], device="phone-2", by="B. Offsider", begun=datetime(2026, 3, 14, 1, 3, tzinfo=UTC))


@st.composite
def bores(draw):
    return bores_of(fold(draw(books())))[0]
