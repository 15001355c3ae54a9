"""Bad input of every kind is refused with field, value, problem and what would be right; good input is kept as it was given."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.quantities import KINDS as QUANTITIES
from borewright.record import KINDS, read_body, validate_body
from borewright.record.typed import QUANTITY_OF_FIELD, body_as_typed

HASH = "a" * 64
INTERVAL = {"from_depth": 3.0, "to_depth": 9.5}

# For each kind: a body that stands, then changes that must each be refused, with the field that is named.
CASES: dict[str, tuple[dict, list[tuple[dict, str]]]] = {
    "enquiry.opened": ({"title": "Lot 7"}, [({"title": None}, "title"), ({"title": "x" * 201}, "title"), ({"titel": "x"}, "titel")]),
    "enquiry.customer": ({"name": "A. Example"}, [({"name": 5}, "name"), ({"phone": ["1"]}, "phone")]),
    "enquiry.need": ({"flow": 2.5e-4, "people": 4}, [({"flow": -1e-9}, "flow"), ({"flow": math.nan}, "flow"), ({"flow": 6}, "flow"), ({"use": "castle"}, "use"), ({"people": 2.5}, "people"), ({"daily_volume": math.inf}, "daily_volume")]),
    "enquiry.site": ({"latitude": -27.5, "longitude": 152.9}, [({"latitude": 90.1}, "latitude"), ({"longitude": -181}, "longitude"), ({"latitude": "north"}, "latitude"), ({"pipe_run": -1}, "pipe_run")]),
    "enquiry.closed": ({"reason": "went elsewhere"}, [({"reason": None}, "reason")]),
    "ground.spot": ({"latitude": 0, "longitude": 0, "hazards": [{"kind": "septic", "distance": 40}]}, [({"way_of_picking": "guess"}, "way_of_picking"), ({"hazards": [{"kind": "septic", "distance": -4}]}, "hazards.0.distance"), ({"elevation": 9999}, "elevation")]),
    "ground.odds": ({"register_name": "vale", "need": 2.5e-4, "answer": {"p": 0.7}}, [({"answer": {"p": math.nan}}, "body"), ({"answer": [1]}, "answer"), ({"need": -1}, "need")]),
    "quote.issued": ({"number": "Q1", "content": {"total": 1}, "content_hash": "x"}, [({"revision": 0}, "revision"), ({"content": None}, "content")]),
    "quote.accepted": ({"number": "Q1", "name": "A. Example", "content_hash": "x"}, [({"name": None}, "name")]),
    "quote.varied": ({"number": "Q1", "reason": "extra casing", "amount_minor": 12300, "currency": "AUD"}, [({"amount_minor": 12.5}, "amount_minor"), ({"amount_minor": True}, "amount_minor"), ({"currency": "AUDS"}, "currency")]),
    "bore.design": ({"basis": "expected", "design": {}}, [({"basis": "dreamt"}, "basis"), ({"design": {"strings": [{"wall": math.inf}]}}, "body")]),
    "rig.day_started": ({"checks": {"mast": True}}, [({"checks": {"mast": 7}}, "checks.mast"), ({"crew": "sam"}, "crew")]),
    "rig.hole_started": ({}, [({"hole": 0}, "hole"), ({"rod_length": 0}, "rod_length"), ({"air_flow": -1}, "air_flow")]),
    "rig.bit": ({"diameter": 0.165}, [({"diameter": 0}, "diameter"), ({"diameter": 3.1}, "diameter"), ({"from_depth": -1}, "from_depth")]),
    "rig.advanced": ({"to_depth": 12}, [({"to_depth": -1}, "to_depth"), ({"to_depth": 3000.1}, "to_depth"), ({"rods": 1.5}, "rods")]),
    "rig.ground": (INTERVAL | {"words": "brown clay"}, [({"to_depth": 3.0}, "to_depth"), ({"to_depth": 1}, "to_depth"), ({"words": None}, "words")]),
    "rig.struck": ({"depth": 34}, [({"depth": True}, "depth"), ({"depth": "deep"}, "depth"), ({"depth": None}, "depth"), ({"depth": [34]}, "depth")]),
    "rig.flow": ({"depth": 34, "method": "bucket", "flow": 1e-3}, [({"method": "spoon"}, "method"), ({"flow": -1e-3}, "flow"), ({"standard_uncertainty": -1}, "standard_uncertainty"), ({"readings": {"seconds": math.nan}}, "body")]),
    "rig.level": ({"depth_to_water": -0.4}, [({"depth_to_water": -101}, "depth_to_water"), ({"state": "wet"}, "state"), ({"stick_up": -0.1}, "stick_up")]),
    "rig.casing": (INTERVAL | {"string": "production", "outside_diameter": 0.14, "wall": 0.0066}, [({"string": "rope"}, "string"), ({"wall": 0.07}, "wall"), ({"outside_diameter": 0}, "outside_diameter"), ({"joints": -1}, "joints"), ({"to_depth": 0}, "to_depth")]),
    "rig.annulus": (INTERVAL | {"what": "grout", "material": "cement"}, [({"what": "hope"}, "what"), ({"bags": -1}, "bags"), ({"density": 0}, "density")]),
    "rig.airlift": ({"elapsed": 600, "flow": 1e-3}, [({"elapsed": -1}, "elapsed"), ({"sand": -1}, "sand"), ({"clear": "muddy"}, "clear")]),
    "rig.sample": ({"ph": 7.1}, [({"ph": 14.1}, "ph"), ({"conductivity": -1}, "conductivity"), ({"temperature": 121}, "temperature")]),
    "rig.stopped": ({"depth": 60, "reason": "walked away"}, [({"reason": "bored"}, "reason"), ({"depth": -1}, "depth")]),
    "rig.sealed_off": ({"intervals": [INTERVAL | {"material": "grout"}]}, [({"intervals": []}, "intervals"), ({"intervals": [{"from_depth": 9, "to_depth": 3, "material": "grout"}]}, "intervals.0.to_depth"), ({"intervals": None}, "intervals")]),
    "rig.used": ({"item": "cement", "quantity": 4, "unit": "bag"}, [({"quantity": -4}, "quantity"), ({"unit": None}, "unit")]),
    "rig.stood_by": ({"reason": "rain"}, [({"duration": -1}, "duration")]),
    "rig.near_miss": ({"what": "hose whipped"}, [({"what": None}, "what")]),
    "rig.photo": ({"attachment": HASH}, [({"attachment": "../../etc/passwd"}, "attachment"), ({"attachment": HASH.upper()}, "attachment"), ({"depth": -2}, "depth"), ({"place_of": "the dog"}, "place_of"), ({"place_within": -1}, "place_within")]),
    "rig.note": ({"text": "gravel"}, [({"text": "x" * 4001}, "text"), ({"text": "\ud800"}, "text")]),
    "test.planned": ({"plan": {"duration": 86400.0}}, [({"plan": None}, "plan"), ({"inputs": {"need": math.nan}}, "body")]),
    "test.run": ({"run": "1", "type": "step", "steps": [[0, 1e-3], [3600, 2e-3]]}, [({"type": "hopeful"}, "type"), ({"steps": [[0, -1]]}, "steps.0.1"), ({"rate": 5.1}, "rate")]),
    "test.levels": ({"run": "1", "time": [60, 120], "drawdown": [0.5, 0.7]}, [({"drawdown": [0.5]}, "drawdown"), ({"time": [60, -1]}, "time.1"), ({"drawdown": [0.5, math.nan]}, "drawdown.1"), ({"drawdown": [0.5, True]}, "drawdown.1")]),
    "test.fitted": ({"run": "1", "result": {"fits": []}}, [({"result": {"rmse": -math.inf}}, "body"), ({"run": None}, "run")]),
    "test.rated": ({"rating": {}}, [({"flow": -1}, "flow")]),
    "pump.chosen": ({"name": "any"}, [({"intake_depth": -1}, "intake_depth"), ({"duty": {"head": math.nan}}, "body")]),
    "pump.demand": ({"numbers": {"horse": 2}, "extra": 0.2, "tank": 22.5}, [({"numbers": {"horse": -1}}, "numbers.horse"), ({"dry_days": 0}, "dry_days"), ({"pumping_time": 90000}, "pumping_time"), ({"dry_yield": 1.01}, "dry_yield"), ({"tank": -1}, "tank")]),
    "pump.sun": ({"irradiation": [2e7] * 12}, [({"irradiation": [2e7] * 11}, "irradiation"), ({"irradiation": [-1] * 12}, "irradiation.0"), ({"panel_power": -1}, "panel_power"), ({"answer": {"daily": [math.nan]}}, "body")]),
    "pump.serviced": ({"date": "2027-05-04", "what": "new impellers"}, [({"date": "soon"}, "date"), ({"date": "2027-13-01"}, "date"), ({"what": ""}, "what"), ({"by": 4}, "by")]),
    "pump.reading": ({"static_level": 6.1, "flow": 4e-4}, [({"static_level": None, "flow": None}, "static_level"), ({"pumping_level": -101}, "pumping_level"), ({"flow": -1e-4}, "flow"), ({"conductivity": math.nan}, "conductivity")]),
    "water.analysis": ({"values": [{"name": "pH", "value": 7.1, "unit": ""}]}, [({"values": []}, "values"), ({"values": [{"name": "pH", "value": math.nan, "unit": ""}]}, "values.0.value")]),
    "papers.issued": ({"document": "quote", "sha256": HASH, "inputs_sha256": HASH}, [({"sha256": "abc"}, "sha256"), ({"paper": "A3"}, "paper")]),
    "struck_out": ({"why": "wrong rod count"}, [({"why": 3}, "why")]),
}
REFUSED = [(kind, good | change, field) for kind, (good, changes) in CASES.items() for change, field in changes]


def test_every_kind_has_its_cases():
    assert set(CASES) == set(KINDS)


@pytest.mark.parametrize("kind", CASES)
def test_a_sound_body_is_kept_and_reading_it_again_changes_nothing(kind):
    good = CASES[kind][0]
    kept = validate_body(kind, 1, good)
    assert set(kept) == set(good)  # nothing assumed is written as if it had been said
    assert validate_body(kind, 1, kept) == kept


@pytest.mark.parametrize(("kind", "body", "field"), REFUSED, ids=[f"{k}-{f}-{n}" for n, (k, _, f) in enumerate(REFUSED)])
def test_a_bad_value_is_refused_by_name(kind, body, field):
    with pytest.raises(BadInput) as caught:
        validate_body(kind, 1, body)
    assert caught.value.field == field
    assert caught.value.problem
    assert caught.value.want
    assert "Annotated" not in str(caught.value)
    assert "typing" not in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_kind_does_not_know_is_refused(kind):
    with pytest.raises(BadInput) as caught:
        validate_body(kind, 1, CASES[kind][0] | {"colour_of_moon": "blue"})
    assert caught.value.field == "colour_of_moon"
    assert caught.value.want.startswith("one of ")


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_kind_cannot_do_without_is_missed(kind):
    needed = [name for name, info in KINDS[kind].model_fields.items() if info.is_required()]
    for name in needed:
        with pytest.raises(BadInput, match="is missing") as caught:
            validate_body(kind, 1, {k: v for k, v in CASES[kind][0].items() if k != name})
        assert caught.value.field == name


def test_limits_are_told_in_words():
    with pytest.raises(BadInput, match=r"depth: is too large \(got 4000; want a number from 0 to 3000\)"):
        validate_body("rig.struck", 1, {"depth": 4000})
    with pytest.raises(BadInput, match=r"want one of conductor, surface, production"):
        validate_body("rig.casing", 1, INTERVAL | {"string": "rope", "outside_diameter": 0.1})


def test_numbers_of_numpy_are_plain_numbers_or_refused_and_never_lost():
    assert validate_body("rig.struck", 1, {"depth": np.float64(34.5)}) == {"depth": 34.5}
    with pytest.raises(BadInput):
        validate_body("bore.design", 1, {"basis": "expected", "design": {"depths": np.array([1.0])}})


def test_a_body_too_large_belongs_in_an_attachment():
    with pytest.raises(BadInput, match="too large"):
        validate_body("bore.design", 1, {"basis": "expected", "design": {"text": "x" * 2_000_001}})


def test_a_kind_from_a_newer_version_is_kept_as_it_is_but_must_be_json():
    assert validate_body("moon.landed", 3, {"crater": "Copernicus", "deep": [1, {"a": None}]}) == {"crater": "Copernicus", "deep": [1, {"a": None}]}
    for bad in ({"x": math.nan}, {"x": "\ud800"}, {"x": object()}):
        with pytest.raises(BadInput):
            validate_body("moon.landed", 3, bad)


_ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8), lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)


@given(st.sampled_from(sorted(KINDS)), st.data())
@settings(max_examples=400, deadline=None, derandomize=True)
def test_any_rubbish_is_either_refused_in_our_words_or_kept_so_that_it_reads_back(kind, data):
    fields = sorted(KINDS[kind].model_fields)
    body = CASES[kind][0] | data.draw(st.dictionaries(st.sampled_from(fields), _ANYTHING, max_size=3))
    try:
        kept = validate_body(kind, 1, body)
    except BadInput as refused:
        assert refused.field
        assert refused.want
    else:
        assert validate_body(kind, 1, kept) == kept


# What a person types


def _numbers(kind):
    """Names of the fields of a kind that hold one number with decimals."""
    for name, info in KINDS[kind].model_fields.items():
        parts, todo = [], [info.annotation]
        while todo:
            part = todo.pop()
            parts.append(part)
            todo += [p for p in get_args(part) if not isinstance(p, str)]
        if float in parts and tuple not in [getattr(p, "__origin__", None) for p in parts]:
            yield name


WITHOUT_UNIT = {"dry_yield", "numbers", "latitude", "longitude", "ph", "turbidity", "bags", "quantity"}


def test_every_number_of_every_kind_has_its_quantity_or_is_known_to_have_none():
    numbers = {name for kind in KINDS for name in _numbers(kind)}
    assert numbers == {name for name in QUANTITY_OF_FIELD if name in numbers} | WITHOUT_UNIT
    assert set(QUANTITY_OF_FIELD.values()) <= set(QUANTITIES)
    assert {"depth", "flow", "wall", "elapsed"} <= numbers


def test_typed_words_become_si_beside_the_text():
    body = body_as_typed("rig.casing", {"from_depth": "0 m", "to_depth": "40 ft", "string": "conductor", "outside_diameter": "6 5/8 in", "slotted": "no"})
    assert body == {
        "from_depth": 0.0, "to_depth": pytest.approx(12.192), "string": "conductor", "outside_diameter": pytest.approx(0.168275), "slotted": "no",
        "typed": {"from_depth": "0 m", "to_depth": "40 ft", "outside_diameter": "6 5/8 in"},
    }
    kept = validate_body("rig.casing", 1, body)
    assert kept["slotted"] is False
    assert kept["typed"]["outside_diameter"] == "6 5/8 in"


def test_json_among_the_typed_words():
    assert body_as_typed("water.analysis", {"values": '[{"name": "pH", "value": 7.1, "unit": ""}]'}) == {"values": [{"name": "pH", "value": 7.1, "unit": ""}]}


@pytest.mark.parametrize(
    ("kind", "given", "field"),
    [("rig.struck", {"depth": "34"}, "depth"), ("rig.struck", {"depth": "deep"}, "depth"), ("rig.flow", {"flow": "5 gal/min"}, "flow"),
     ("rig.flow", {"flow": "5 m"}, "flow"), ("water.analysis", {"values": "[{"}, "values"), ("rig.strike", {"depth": "3 m"}, "kind")],
)
def test_typed_words_that_cannot_be_read(kind, given, field):
    with pytest.raises(BadInput) as caught:
        body_as_typed(kind, given)
    assert caught.value.field == field


@pytest.mark.parametrize(("version", "old"), [(1, {"attachment": HASH, "caption": "chips"}), (2, {"attachment": HASH, "latitude": -38.47, "longitude": -18.225})])
def test_a_photo_of_an_older_format_says_that_its_place_is_the_pictures(version, old):
    kept = validate_body("rig.photo", version, old)
    assert kept == old  # as it was written
    read = read_body("rig.photo", version, kept)
    assert read.place_of == "picture" and read.place_within is None and read.latitude == old.get("latitude")
