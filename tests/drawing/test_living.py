"""The living section: every state is drawn, to scale, and its words never meet."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import made_jobs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.drawing import living_section, section_of
from borewright.drawing.section import (
    AnnulusPart,
    Band,
    CasingPart,
    Check,
    Expected,
    HolePart,
    OddsRow,
    Section,
    Strike,
)
from borewright.drawing.svg import Sheet, lettered
from borewright.drawing.text import Label, place, width_of
from borewright.drawing.words import Tongue, speaking
from borewright.errors import BadInput
from borewright.ground import GROUND

NS = "{http://www.w3.org/2000/svg}"
STATES = ("nothing", "before", "drilling", "built", "sealed")


def boxes(svg: str) -> list[tuple[float, float, float, float, str]]:
    """Return (left, top, right, bottom, words) of every piece of text, from the SVG alone: capital height up, a little down."""
    found = []
    for text in ET.fromstring(svg).iter(f"{NS}text"):
        x, y, size = (float(text.get(k)) for k in ("x", "y", "font-size"))
        bold = text.get("font-weight") == "600"
        length = width_of(text.text, size, bold=bold)
        if text.get("textLength"):
            assert float(text.get("textLength")) == pytest.approx(length, abs=0.01)
        left = {"start": x, "middle": x - length / 2, "end": x - length}[text.get("text-anchor")]
        found.append((left, y - 0.72 * size, left + length, y + 0.2 * size, text.text))
    return found


def meeting(svg: str) -> list[tuple[str, str]]:
    """Return the pairs of texts whose boxes share area."""
    all_of = sorted(boxes(svg), key=lambda b: b[1])
    found = []
    for i, a in enumerate(all_of):
        for b in all_of[i + 1:]:
            if b[1] >= a[3] - 0.01:
                break
            if a[0] < b[2] - 0.01 and b[0] < a[2] - 0.01:
                found.append((a[4], b[4]))
    return found


def words(svg: str) -> str:
    return " ".join(" ".join(t.text for t in ET.fromstring(svg).iter(f"{NS}text")).split())


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize(("medium", "width", "height"), [("page", 700, 760), ("page", 358, 560), ("paper", 330, 640)])
def test_no_words_meet_or_leave_the_sheet(state, medium, width, height):
    svg = living_section(section_of(getattr(made_jobs, state)().job()), width=width, height=height, medium=medium, margins=True)
    assert meeting(svg) == []
    for left, top, right, bottom, text in boxes(svg):
        assert left >= 0 and right <= width and top >= 0 and bottom <= height, text


depths = st.floats(0, 1)
SAYINGS = st.sampled_from(["clay", "stiff grey-brown silty clay with gravel bands and roots, damp near the base", "granite", "W" * 40, "x", "песок", "地下水 地下水 地下水", "sand & <gravel>"])


@st.composite
def sections(draw) -> Section:
    """Any hole from 6 to 400 m: many thin layers, strikes on one another, everything at once."""
    bottom = draw(st.floats(6, 400))
    edges = sorted({0.0, *(bottom * f for f in draw(st.lists(depths, max_size=60))), bottom})
    ground = tuple(Band(a, b, draw(SAYINGS)) for a, b in zip(edges, edges[1:], strict=False) if b - a > 1e-3)
    at = lambda: bottom * draw(depths)

    def span():
        a, b = sorted((at(), at()))
        return a, max(b, a + 0.05)

    state = draw(st.sampled_from(["before drilling", "drilling", "drilled", "built", "failed", "sealed"]))
    early = state in ("before drilling", "drilling")
    diameter = st.floats(0.09, 0.45)
    return Section(
        title="Any hole", state=state, bottom=bottom, drilled=0.0 if state == "before drilling" else bottom, ground=ground,
        expected=Expected((0.0, bottom / 3, bottom), ("clay", "granite"), ((0.7, 0.3), (0.2, 0.8)), ((0.1, at()), (0.5, at()), (0.9, bottom))) if early else None,
        odds=tuple(OddsRow(bottom * k / 8, k / 9, k / 12, min(1, k / 7)) for k in range(1, 9)) if early and draw(st.booleans()) else (), need=0.00025,
        strikes=tuple(Strike(at(), draw(st.one_of(st.none(), st.floats(0, 0.05)))) for _ in range(draw(st.integers(0, 25)))),
        flows=tuple((at(), draw(st.floats(0, 0.05)), "bucket") for _ in range(draw(st.integers(0, 12)))),
        static_level=draw(st.one_of(st.none(), st.floats(-5, bottom))), pumping_level=draw(st.one_of(st.none(), st.floats(0, bottom))), pumping_flow=0.001,
        hole=(HolePart(0, bottom, draw(diameter), draw(st.booleans())),),
        casings=tuple(CasingPart(draw(st.sampled_from(["conductor", "production"])), *span(), draw(diameter), slotted=draw(st.booleans()), aperture=0.001) for _ in range(draw(st.integers(0, 8)))),
        annulus=tuple(AnnulusPart(draw(st.sampled_from(["grout", "seal", "pack", "backfill"])), *span(), "cement", 3.0, draw(st.booleans())) for _ in range(draw(st.integers(0, 8)))),
        pump_name="pump", intake_depth=draw(st.one_of(st.none(), st.floats(0, bottom))), checks=(Check("grouting", "production", at(), 2.0, 1.5),), planned=early, headworks=state == "built",
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(sections(), st.floats(250, 1000), st.floats(230, 1400), st.sampled_from(["page", "paper"]), st.sampled_from(["metric", "US", "imperial"]))
def test_words_are_disjoint_and_inside_from_6_to_400_metres(section, width, height, medium, units):
    svg = living_section(section, width=width, height=height, medium=medium, units=units, margins=True)
    assert meeting(svg) == []
    for left, top, right, bottom, text in boxes(svg):
        assert left >= -0.01 and right <= width + 0.01 and top >= -0.01 and bottom <= height + 0.01, text


def test_the_box_test_would_notice():
    svg = living_section(section_of(made_jobs.built().job()), width=700, height=760)
    doubled = svg.replace("</svg>", svg[svg.index("<text"):svg.index("</text>") + 7] + "</svg>")
    assert meeting(doubled)


def test_depth_is_to_scale():
    svg = living_section(section_of(made_jobs.built().job()), width=700, height=760)
    root = ET.fromstring(svg)
    ground_y, scale = float(root.get("data-ground-y")), float(root.get("data-scale"))
    shapes = [p for p in root.iter(f"{NS}path") if p.get("class") == "ground"]
    assert len(shapes) == 9
    for shape in shapes:
        ys = [float(v) for v in re.findall(r"[MV][\d.]* ?([\d.]+)", shape.get("d"))]
        tops = sorted((ground_y + scale * float(shape.get("data-depth")), ground_y + scale * float(shape.get("data-to"))))
        first = float(re.match(r"M[\d.]+ ([\d.]+)", shape.get("d"))[1])
        last = float(re.search(r"V([\d.]+)", shape.get("d"))[1])
        assert [first, last] == pytest.approx(tops, abs=0.02), ys


def test_diameters_keep_their_proportions_and_the_exaggeration_is_said():
    section = section_of(made_jobs.built().job())
    svg = living_section(section, width=700, height=760)
    root = ET.fromstring(svg)
    lines = [line for line in root.iter(f"{NS}line") if line.get("stroke-width") == "0.9" and line.get("x1") == line.get("x2")]
    halves = sorted({round(abs(float(a.get("x1")) - float(b.get("x1"))), 1) for a, b in zip(lines[::2], lines[1::2], strict=True)})
    assert halves[1] / halves[0] == pytest.approx(0.254 / 0.165, rel=0.01)
    times = float(re.search(r"diameters drawn ([\d.]+) times", words(svg))[1])
    assert times == pytest.approx(halves[1] / 0.254 / float(root.get("data-scale")), rel=0.03)


def test_what_was_logged_is_said():
    said = words(living_section(section_of(made_jobs.built().job()), width=900, height=1200))
    for part in ("stiff red-brown sandy clay", "strike 38.4 m, +7.2 L/min", "strike 59.1 m, +24.6 L/min", "static level 12.35 m", "pumping level 31.2 m at 22.8 L/min",
                 "pump intake 54 m", "slotted 36.3–42.3 m", "conductor casing to 18.5 m", "cement grout 0–18.5 m, 26 bags", "bottom 66.3 m: enough water"):
        assert part in said
    us = words(living_section(section_of(made_jobs.built().job()), width=900, height=1200, units="us"))
    assert "static level 40.5 ft" in us and "US gpm" in us


@pytest.mark.parametrize("height", [321, 560])
@pytest.mark.parametrize("state", STATES)
def test_on_a_phone_each_word_is_whole_and_large_enough(state, height):
    svg = living_section(section_of(getattr(made_jobs, state)().job()), width=368, height=height)
    assert "…" not in words(svg)
    assert min(float(t.get("font-size")) for t in ET.fromstring(svg).iter(f"{NS}text")) >= 10


def test_on_a_phone_water_is_said_first_and_sizes_where_there_is_room():
    section = section_of(made_jobs.built().job())
    small, tall = (words(living_section(section, width=368, height=h)) for h in (321, 610))
    for said in (small, tall):
        for part in ("static 12.35 m", "strike 38.4 m", "strike 59.1 m", "pump 54 m", "bottom 66.3 m"):
            assert part in said
    assert "hole 254 mm" in tall and "hole 254 mm" not in small and re.search(r"\+ \d+ more", small)


def test_each_state_is_named_and_described():
    expected = {"nothing": ("before drilling", "Nothing is drilled"), "before": ("before drilling", "Rockhead expected"), "drilling": ("drilling", "Drilled to 57.6 m so far"),
                "built": ("built", "A finished bore 66.3 m deep"), "sealed": ("sealed", "sealed")}
    for name, (state, said) in expected.items():
        section = section_of(getattr(made_jobs, name)().job())
        assert section.state == state
        root = ET.fromstring(living_section(section, width=500, height=600))
        assert root.get("role") == "img"
        title, described = root.find(f"{NS}title"), root.find(f"{NS}desc")
        assert root.get("aria-labelledby") == f"{title.get('id')} {described.get('id')}"
        assert said in described.text


def test_a_plan_is_replaced_by_what_was_built():
    plan, made = section_of(made_jobs.before().job()), section_of(made_jobs.built().job())
    assert plan.planned and plan.casings and not made.planned
    assert max(c.to_depth for c in made.casings) == 66.3
    drilling = section_of(made_jobs.drilling().job())
    assert drilling.state == "drilling" and [c.string for c in drilling.casings] == ["conductor"] and drilling.expected is not None


def filled(svg: str, colour: str) -> list[tuple[float, float, float, float]]:
    """Return (x, y, width, height) of every filling of a colour, the squares of the legend left out."""
    found = [tuple(float(r.get(k)) for k in ("x", "y", "width", "height")) for r in ET.fromstring(svg).iter(f"{NS}rect") if r.get("fill") == colour]
    return [f for f in found if f[2] != 10.0]


def test_grout_stays_in_the_hole_it_was_placed_in():
    log = made_jobs.drilling()
    log.write("rig.casing", string="production", from_depth=0.0, to_depth=57.0, outside_diameter=0.125, material="PVC-U")
    log.write("rig.annulus", what="grout", from_depth=0.0, to_depth=40.0, material="neat cement", bags=30)
    log.write("rig.stopped", depth=57.6, reason="enough water")
    svg = living_section(section_of(log.job()), width=700, height=760)
    root = ET.fromstring(svg)
    ground_y, scale = float(root.get("data-ground-y")), float(root.get("data-scale"))
    places = sorted((round((y - ground_y) / scale, 1), round((y - ground_y + h) / scale, 1), round(w, 1)) for _, y, w, h in filled(svg, "#b9b4aa"))
    # Both sides of: the grout of the conductor in the 254 mm hole, the production grout between 200 mm conductor and 125 mm casing, and below it in the 165 mm hole.
    assert [(a, b) for a, b, _ in places] == [(0.0, 18.5)] * 4 + [(18.5, 40.0)] * 2
    across = {round(w, 1) for a, b, w in places if a == 18.5}
    between_strings = max(w for a, b, w in places if a == 0.0 and b == 18.5 and w not in across)
    assert len(across) == 1 and between_strings / across.pop() == pytest.approx(((0.2 - 0.125) / 2) / ((0.165 - 0.125) / 2), rel=0.15)


def test_repeated_flow_readings_have_one_label_between_strikes():
    log = made_jobs.drilling()
    for depth in range(42, 57, 3):
        log.write("rig.flow", depth=float(depth), method="bucket", flow=0.121e-3)
    said = words(living_section(section_of(log.job()), width=700, height=760))
    assert said.count("measured at") == 1 and "measured at 54 m" in said


def test_the_walk_away_depth_is_read_off_the_rule():
    section = section_of(made_jobs.before().job())
    content, _ = made_jobs.quote()
    assert section.walk_away == content["walk_away"]["dry"]


def test_every_ground_class_has_the_pattern_it_names():
    from borewright.drawing.patterns import pattern_of, tile

    for ground in GROUND.values():
        if ground.pattern:
            assert tile(ground.pattern) is not None, ground.name
    assert pattern_of("clay with gravel, damp")[0] == "620"
    assert pattern_of("weathered schist")[0] == "705"
    assert pattern_of("sandy clay")[0] == "619"
    assert pattern_of("something nobody has heard of") == ("", "#efece6")


@pytest.mark.parametrize("given_", [{"width": 0, "height": 500}, {"width": 500, "height": float("nan")}, {"width": 500, "height": 500, "medium": "film"},
                                    {"width": 500, "height": 500, "units": "cubits"}])
def test_bad_input_is_refused(given_):
    with pytest.raises(BadInput):
        living_section(section_of(made_jobs.nothing().job()), **given_)


def test_labels_that_have_no_room_leave_the_depth_evenly_told():
    labels = [Label(depth=float(n), y=float(n), lines=[str(n)], priority=3, kind="ground", size=8.0) for n in range(400)]
    dear = Label(depth=200.5, y=200.5, lines=["water"], priority=1, kind="strike", size=8.0)
    kept, out = place([*labels, dear], 0.0, 400.0)
    depths = [label.depth for label in kept if label.kind == "ground"]
    assert out == 401 - len(kept) and dear in kept and 30 < len(depths) < 45
    mean = 400 / len(depths)
    assert max(b - a for a, b in zip(depths, depths[1:], strict=False)) <= 3 * mean and depths[0] < mean and depths[-1] > 400 - mean


@pytest.mark.parametrize("state", STATES)
def test_the_words_of_a_drawing_for_paper_come_apart_whole(state):
    svg = living_section(section_of(getattr(made_jobs, state)().job()), width=500, height=600, medium="paper", margins=True)
    apart = lettered(svg)
    root, shapes = ET.fromstring(svg), ET.fromstring(apart.shapes)
    assert (apart.width, apart.height) == (500, 600)
    assert not list(shapes.iter(f"{NS}text")) and len(list(shapes.iter())) == len(list(root.iter())) - len(apart.words)
    assert [(x, y, anchor, size, bold, said) for x, y, anchor, size, _, _, bold, _, said in apart.words] == [
        (float(t.get("x")), float(t.get("y")), t.get("text-anchor"), float(t.get("font-size")), t.get("font-weight") == "600", t.text) for t in root.iter(f"{NS}text")]


def test_words_apart_keep_their_letters_and_their_look():
    sheet = Sheet(100, 50, medium="paper", name="n", title="t", described="d")
    sheet.text(10, 20, 'a <b> & "c"\u00a0d\n e', 8, anchor="middle", bold=True, italic=True, narrow=False, colour="#123456")
    sheet.rect(0, 0, 5, 5)
    assert lettered(str(sheet)).words == ((10.0, 20.0, "middle", 8.0, "#123456", False, True, True, 'a <b> & "c"\u00a0d e'),)
    assert "<rect" in lettered(str(sheet)).shapes


def test_a_drawing_is_kept_for_all_it_is_made_of_and_no_more():
    section = section_of(made_jobs.built().job())
    first = living_section(section, width=500, height=600)
    assert living_section(section_of(made_jobs.built().job()), width=500, height=600) is first
    deeper = living_section(replace(section, bottom=80.0), width=500, height=600)
    others = [deeper, living_section(section, width=501, height=600), living_section(section, width=500, height=600, units="us"),
              living_section(section, width=500, height=600, medium="paper")]
    for n, code in enumerate(("", "", "x")):  # two tongues without a code are two tongues
        with speaking(Tongue({"ground": f"ground {n}"}, code=code)):
            others.append(living_section(section, width=500, height=600))
            assert f"ground {n}" in others[-1]
    assert len({first, *others}) == 1 + len(others)


def test_pieces_of_patterns_lie_in_their_boxes_and_make_the_whole():
    from pathlib import Path

    from borewright.drawing import patterns

    for path in Path(patterns.__file__).with_name("patterns").glob("*.svg"):
        found = patterns.tile(path.stem)
        assert len(found.pieces) == path.read_text().count("<path ") and found.within(-1e9, -1e9, 1e9, 1e9) == tuple(range(len(found.pieces)))
        assert found.paths(found.within(-1e9, -1e9, 1e9, 1e9)).count("M") == sum(d.count("M") for *_, d in found.pieces)
        for _, (left, top, right, bottom), d in found.pieces:
            for x, y in re.findall(r"M(-?[\d.]+)[ ,]?(-?[\d.]+)", d):
                assert left <= float(x) <= right and top <= float(y) <= bottom, (path.stem, x, y)


def test_only_what_is_not_seen_of_a_pattern_is_left_out():
    from borewright.drawing.patterns import tile

    found = tile("719")
    box, hidden = (10.0, -60.0, 70.0, -30.0), (15.0, 62.0)
    kept = set(found.within(*box, hidden))
    assert 0 < len(kept) < len(found.within(*box)) < len(found.pieces)
    for n, (_, (left, top, right, bottom), _) in enumerate(found.pieces):
        seen = left < box[2] and right > box[0] and top < box[3] and bottom > box[1] and not (hidden[0] < left and right < hidden[1])
        assert (n in kept) == seen


def test_ground_behind_the_hole_is_hidden_only_where_the_hole_goes_on_through_it():
    section = section_of(made_jobs.built().job())

    def drawn(**changed) -> int:
        root = ET.fromstring(living_section(replace(section, **changed), width=500, height=600, medium="paper"))
        marks = {f"#{g.get('id')}": sum(p.get("d").count("M") for p in g) for g in root.find(f"{NS}defs").iter(f"{NS}g")}
        return sum(marks[use.get("href")] for use in root.iter(f"{NS}use"))

    half = tuple(replace(p, to_depth=min(p.to_depth, 1.0)) for p in section.hole[:1])
    assert drawn() < drawn(hole=half)  # where it stops short, the ground below is drawn whole
