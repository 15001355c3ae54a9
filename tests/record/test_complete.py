"""What a paper still needs: a half-finished truth is saved, and told what it lacks."""

from __future__ import annotations

import pytest
from made_entries import entry

from borewright.errors import BadInput
from borewright.record import PAPERS, fold, problems

OPENED = entry("enquiry.opened", 1, title="Lot 7")
CUSTOMER = entry("enquiry.customer", 2, name="A. Example")
NEED = entry("enquiry.need", 3, flow=2.5e-4)
SITE = entry("enquiry.site", 4, latitude=-27.5, longitude=152.9)
QUOTE = entry("quote.issued", 5, number="Q1", content={}, content_hash="x")
GROUND = entry("rig.ground", 6, from_depth=0.0, to_depth=60.0, words="granite")
STOPPED = entry("rig.stopped", 7, depth=60.0, reason="enough water")
BUILT = [
    entry("rig.casing", 8, from_depth=0.0, to_depth=60.0, string="production", outside_diameter=0.14),
    entry("rig.annulus", 9, from_depth=0.0, to_depth=6.0, what="grout", material="cement"), entry("rig.level", 10, depth_to_water=8.0),
]
TESTED = [entry("test.run", 11, run="1", type="constant rate"), entry("test.rated", 12, rating={}, flow=3e-4)]
WATER = entry("water.analysis", 13, values=[{"name": "pH", "value": 7.1, "unit": ""}])
WHOLE = [OPENED, CUSTOMER, NEED, SITE, QUOTE, GROUND, STOPPED, *BUILT, *TESTED, WATER]


def _without(*left_out):
    return fold(e for e in WHOLE if e not in left_out)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_whole_job_lacks_nothing(paper):
    assert problems(fold(WHOLE), paper) == []


@pytest.mark.parametrize(
    ("paper", "missing", "blocks"),
    [
        ("quote", CUSTOMER, True), ("quote", NEED, True), ("quote", QUOTE, True), ("rig card", QUOTE, True), ("rig card", CUSTOMER, False), ("invoice", QUOTE, True),
        ("invoice", CUSTOMER, True), ("safety sheet", SITE, False), ("bore record", SITE, True), ("bore record", GROUND, True), ("bore record", STOPPED, False),
        ("bore record", BUILT[0], False), ("bore record", BUILT[1], False), ("bore record", BUILT[2], False), ("handover pack", TESTED[1], False),
        ("handover pack", WATER, False), ("test report", TESTED[0], True), ("water report", WATER, True),
    ],
)
def test_what_is_missing_is_told_and_blocks_or_not(paper, missing, blocks):
    (problem,) = problems(_without(missing), paper)
    assert problem.blocks is blocks
    assert problem.message.endswith(".")


def test_what_blocks_stands_first():
    found = problems(fold([OPENED, SITE, GROUND]), "handover pack")
    assert [p.blocks for p in found] == sorted((p.blocks for p in found), reverse=True)
    bare = problems(fold([OPENED]), "bore record")
    assert [p.blocks for p in bare] == [True, False]


def test_a_job_without_a_hole_blocks_the_papers_of_the_hole():
    for paper in ("bore record", "handover pack", "test report", "water report", "invoice"):
        assert any(p.blocks for p in problems(fold([OPENED, CUSTOMER, QUOTE]), paper))


def test_gaps_and_overlaps_of_the_log_are_told():
    def log(*pairs):
        ground = [entry("rig.ground", 20 + n, from_depth=a, to_depth=b, words="granite") for n, (a, b) in enumerate(pairs)]
        return [p.message for p in problems(fold([e for e in WHOLE if e is not GROUND] + ground), "bore record")]

    assert log((0.0, 30.0), (30.0, 60.0)) == []
    assert log((0.0, 20.0), (30.0, 60.0)) == ["No ground is logged from 20 to 30 m."]
    assert log((2.0, 60.0)) == ["No ground is logged from 0 to 2 m."]
    assert log((0.0, 31.0), (30.0, 60.0)) == ["Two logs of ground overlap above 31 m."]
    assert log((0.0, 40.0)) == ["No ground is logged from 40 m to the bottom at 60 m."]


def test_a_sealed_hole_is_not_asked_for_casing_or_water():
    sealed = entry("rig.sealed_off", 30, intervals=[{"from_depth": 0, "to_depth": 60, "material": "grout"}])
    assert problems(fold([OPENED, CUSTOMER, SITE, QUOTE, GROUND, STOPPED, sealed]), "handover pack") == []


def test_an_unknown_paper_is_refused():
    with pytest.raises(BadInput, match="is not a paper"):
        problems(fold(WHOLE), "love letter")
