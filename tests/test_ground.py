"""Words of drillers put into classes: what stands first is the ground, what is mixed in does not decide."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.drawing import pattern_of
from borewright.ground import GROUND, classify, head_of

JOINED = ("with", "some", "and", "minor", "traces of", "trace of", "trace", "with some", "with minor", "w/", "&")


@pytest.mark.parametrize(("words", "name"), [
    ("clay with gravel", "clay"), ("schist, some quartz", "schist"), ("sand and gravel", "sand"), ("Granite, minor schist", "granite"),
    ("mudstone with traces of coal", "mudstone"), ("gravel (some clay)", "gravel"), ("clay w/ boulders", "clay"), ("sandy clay", "clay"),
    ("weathered granite with clay", "weathered rock"), ("granite, weathered", "weathered rock"), ("red and brown clay with gravel", "clay"),
    ("hard and fresh granite", "granite"), ("hard rock with quartz", "quartzite"), ("some gravel", "gravel"), ("broken schist and quartz", "broken rock"),
    ("granite with broken zones", "granite"), ("unweathered granite", "granite"), ("hard", "rock"),
])
def test_what_is_mixed_in_does_not_decide(words, name):
    found = classify(words)
    assert found is not None and found.name == name


@pytest.mark.parametrize("words", ["", "with", "and some", "something nobody has heard of", "standing in sandals"])
def test_words_that_name_no_ground_name_none(words):
    assert classify(words) is None


@settings(max_examples=200, deadline=None, derandomize=True)
@given(first=st.sampled_from([g.words[0] for g in GROUND.values() if g.name != "rock"]), join=st.sampled_from(JOINED), other=st.sampled_from([g.words[0] for g in GROUND.values()]))
def test_any_first_ground_stands_whatever_is_joined_to_it(first, join, other):
    assert classify(f"{first} {join} {other}") is classify(first)
    assert head_of(f"{first} {join} {other}") == first
    # The drawing follows the same words.
    assert pattern_of(f"{first} {join} {other}") == pattern_of(first)
