"""Design before and after drilling, building it into the log, sealing a hole that failed."""

from __future__ import annotations

from datetime import timedelta

import pytest

from borewright.errors import BadInput
from borewright.work.bore import (
    casing_bodies,
    design_expected,
    design_logged,
    place_conductor,
    place_design,
    seal_failed,
)
from tests.work.conftest import START

GROUND = ((0.0, 6.0, "clay"), (6.0, 14.0, "weathered granite"), (14.0, 48.0, "granite"))


def drilled(book, job, *, strikes=((31.0, 0.2e-3), (43.5, 0.3e-3))):
    book.write_all(job, [
        ("rig.hole_started", {}), ("rig.bit", {"diameter": 0.29}), ("rig.bit", {"diameter": 0.191, "from_depth": 18.0}),
        *(("rig.ground", {"from_depth": a, "to_depth": b, "words": w}) for a, b, w in GROUND), ("rig.advanced", {"to_depth": 48.0}),
    ], by="rig", at=START + timedelta(days=1))
    total = 0.0
    for depth, flow in strikes:
        total += flow
        book.write_all(job, [("rig.struck", {"depth": depth}), ("rig.flow", {"depth": depth + 1, "method": "estimate", "flow": total})], by="rig", at=START + timedelta(days=1))


def test_before_drilling_the_design_says_what_it_rests_on(book, job):
    body = design_expected(book, job, by="office", at=START).body
    assert body["basis"] == "expected"
    codes = {a["code"] for a in body["design"]["advisories"]}
    assert {"depth-assumed", "static-assumed", "rockhead-band"} <= codes
    assert {"grouting-collapse", "chlorine", "local-code"} <= codes  # the cautions travel with it


def test_the_logged_design_slots_every_strike_below_the_seal_and_keys_into_sound_rock(book, job):
    drilled(book, job)
    with pytest.raises(BadInput, match="static level: is not dipped"):
        design_logged(book, job, by="office")
    book.write(job, "rig.level", {"depth_to_water": 9.0, "measured_from": "top of casing", "stick_up": 0.4}, by="rig")
    assert book.job(job).hole.static_level == 9.0
    design = design_logged(book, job, by="office").body["design"]
    strings = {s["string"]: s for s in design["strings"]}
    assert strings["conductor"]["to_depth"] > 14.0
    for depth in (31.0, 43.5):
        assert any(s["from_depth"] <= depth <= s["to_depth"] for s in design["slots"])
    assert all(row["factor"] >= row["required"] for row in design["stages"])
    sealed = [a for a in design["annulus"] if a["what"] in ("seal", "grout") and a["string"] == "production"]
    assert max(a["to_depth"] for a in sealed) <= min(s["from_depth"] for s in design["slots"])


def test_a_dry_or_unlogged_hole_is_not_cased(book, job):
    book.write(job, "rig.hole_started", {}, by="rig")
    with pytest.raises(BadInput, match="ground: is not logged"):
        design_logged(book, job, by="office")
    drilled(book, job, strikes=())
    with pytest.raises(BadInput, match="strikes: are not logged"):
        design_logged(book, job, by="office")


def test_what_was_designed_goes_into_the_log_as_built(book, job):
    drilled(book, job)
    book.write(job, "rig.level", {"depth_to_water": 9.0}, by="rig")
    design_logged(book, job, by="office")
    place_conductor(book, job, to_depth=18.0, by="rig")
    place_design(book, job, by="rig", leave_out=("conductor",))
    hole = book.job(job).hole
    design = book.job(job).design.body.design
    assert [c.body.string for c in hole.casings][0] == "conductor" and hole.casings[0].body.to_depth == 18.0
    slotted = sum(c.body.to_depth - c.body.from_depth for c in hole.casings if c.body.slotted)
    string = next(s for s in design["strings"] if s["string"] == "production")
    assert slotted == pytest.approx(string["slotted_to"] - string["slotted_from"])
    assert {a.body.what for a in hole.annulus} >= {"grout"}


def test_a_string_without_slots_is_one_piece():
    string = {"string": "conductor", "from_depth": -0.3, "to_depth": 12.0, "outside_diameter": 0.2, "wall": 0.008, "material": "PVC-U", "slotted_from": None, "slotted_to": None}
    (piece,) = casing_bodies(string)
    assert (piece["from_depth"], piece["to_depth"]) == (0.0, 12.0)


def test_sealing_fills_the_hole_from_bottom_to_top_without_gaps(book, job):
    drilled(book, job, strikes=((31.0, 0.02e-3),))
    body = seal_failed(book, job, by="rig", reason="dry").body
    rows = sorted(body["intervals"], key=lambda r: r["from_depth"])
    assert rows[0]["from_depth"] == 0.0 and rows[-1]["to_depth"] == pytest.approx(48.0)
    assert all(a["to_depth"] == pytest.approx(b["from_depth"]) for a, b in zip(rows, rows[1:], strict=False))
    assert book.job(job).outcome == "no water"
