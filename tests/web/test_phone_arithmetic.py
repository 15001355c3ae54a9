"""The arithmetic that a phone does with no coverage, run by node and held to the Python core's own figures."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

import borewright.web
from tests.web.conftest import EDGES, NEED, prospect

RIG = Path(borewright.web.__file__).parent / "static" / "rig"


@pytest.fixture(scope="module")
def node(tmp_path_factory):
    """Return a function that runs JavaScript with one of the page's modules as `m` and gives back what it printed as JSON."""
    program = shutil.which("node")
    if program is None:
        pytest.skip("node is not on this machine; tests/web/test_rig_browser.py checks the same in Chromium")
    folder = tmp_path_factory.mktemp("modules")

    def run(module: str, code: str, given: object):
        for source in RIG.glob("*.js"):
            (folder / source.name).write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
        (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
        path = folder / f"{module}.js"
        (folder / "given.json").write_text(json.dumps(given), encoding="utf-8")
        (folder / "run.mjs").write_text(
            f"import * as m from {json.dumps(path.as_uri())};\nimport {{ readFileSync }} from 'node:fs';\n"
            f"const given = JSON.parse(readFileSync({json.dumps(str(folder / 'given.json'))}, 'utf8'));\n"
            f"const answer = (() => {{ {code} }})();\nconsole.log(JSON.stringify(answer));\n", encoding="utf-8")
        done = subprocess.run([program, str(folder / "run.mjs")], capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


@pytest.fixture(scope="module")
def policy():
    import numpy as np

    from borewright.pricing import (
        HoleForm,
        best_policy,
        driller_payoff,
        hole_tables,
        per_metre,
        prior_time_model,
        sample_card,
        strike_model,
    )
    from tests.web.conftest import column

    model = strike_model(prospect(), need=NEED, maximum_depth=100.0, step=1.0)
    tables = hole_tables(column(), sample_card(), per_metre(), depth=model.depth, distance=10_000.0, form=HoleForm(), time=prior_time_model())
    assert np.isfinite(EDGES).all()
    return best_policy(model, driller_payoff(tables))


def test_what_now_on_the_phone_is_what_now_at_the_desk(node, policy):
    from borewright.pricing import policy_table, table_vectors

    vectors = table_vectors(policy, count=400, seed=11)
    assert len({v["action"] for v in vectors}) >= 2
    got = node("whatnow", "return given.vectors.map((v) => m.whatNow(given.table, v.depth_m, v.flow_m3_per_s, v.strikes));",
               {"table": policy_table(policy), "vectors": vectors})
    for vector, answer in zip(vectors, got, strict=True):
        assert answer["action"] == vector["action"], vector
        assert answer["odds"] == pytest.approx(vector["odds_next_10m"], abs=2e-12), vector


def test_the_phone_gives_the_same_reason(node, policy):
    from borewright.pricing import policy_table, what_now_from_table

    table = policy_table(policy)
    places = [(0.0, 0.0, 0), (30.0, 0.0, 0), (60.0, NEED / 2, 1), (60.0, NEED, 2), (100.0, 0.0, 0), (140.0, NEED / 3, 1)]
    got = node("whatnow", "return given.places.map((p) => m.whatNow(given.table, ...p).reason);", {"table": table, "places": places})
    assert got == [what_now_from_table(table, *place).reason for place in places]


def test_the_phone_refuses_what_the_desk_refuses(node, policy):
    from borewright.pricing import policy_table

    code = "return given.bad.map((p) => { try { m.whatNow(given.table, ...p); return 'took it'; } catch (e) { return e.name; } });"
    assert node("whatnow", code, {"table": policy_table(policy), "bad": [[-1, 0, 0], [1, 1e-3, 0], [1, 0, 1.5], [None, 0, 0]]}) == ["RangeError"] * 4


PHONE_METHODS = ("bucket", "V-notch", "orifice pipe", "pipe trajectory")


def test_every_way_of_measuring_flow_with_its_doubt(node):
    from borewright.rig import flow_vectors

    vectors = [v for v in flow_vectors() if v["method"] in PHONE_METHODS]
    assert {v["method"] for v in vectors} == set(PHONE_METHODS) and len(vectors) >= 11
    got = node("flow", "return given.map((v) => m.flowFrom(v.method, v.readings));", vectors)
    for vector, answer in zip(vectors, got, strict=True):
        assert answer["flow"] == pytest.approx(vector["flow"], rel=1e-12), vector
        assert answer["doubt"] == pytest.approx(vector["standard_uncertainty"], rel=1e-9), vector
        assert answer["factor"] == pytest.approx(vector["coverage_factor"], rel=1e-5), vector
        assert (answer["low"], answer["high"]) == pytest.approx((vector["low"], vector["high"]), rel=1e-5), vector


def test_the_doubt_says_what_the_repeats_show(node):
    from borewright.rig.flow import flow_from_readings

    wide = {"throws": [0.30, 0.40, 0.50, 0.45], "drop": 0.33, "pipe_inside_diameter": 0.08}
    answer = node("flow", "return m.flowFrom('pipe trajectory', given);", wide)
    parts = flow_from_readings("pipe trajectory", wide).components
    assert answer["repeat"] == pytest.approx(next(c.contribution for c in parts if c.type == "A")) and answer["count"] == 4
    assert answer["tools"] == pytest.approx(sum(c.contribution**2 for c in parts if c.type == "B") ** 0.5)


def test_student_factor_of_the_phone(node):
    from scipy.stats import t

    freedoms = [1, 1.3, 2, 2.7, 4, 9.5, 29, 30, 200, 5e4, 1e9]
    got = node("flow", "return given.map(m.coverage);", freedoms)
    assert got == pytest.approx([float(t.ppf(0.975, f)) for f in freedoms], rel=2e-5)


@pytest.mark.parametrize(("method", "readings"), [
    ("orifice pipe", {"heads": [0.4], "orifice_diameter": 0.04, "pipe_inside_diameter": 0.1}), ("orifice pipe", {"heads": [0.4], "orifice_diameter": 0.09, "pipe_inside_diameter": 0.1}),
    ("orifice pipe", {"heads": [], "orifice_diameter": 0.07, "pipe_inside_diameter": 0.1}), ("pipe trajectory", {"throws": [0.4], "drop": 0.33, "pipe_inside_diameter": 0.08, "dry_depth": 0.08}),
    ("pipe trajectory", {"throws": [0.4, -1], "drop": 0.33, "pipe_inside_diameter": 0.08}), ("pipe trajectory", {"throws": [0.4], "drop": 0, "pipe_inside_diameter": 0.08}),
    ("bucket", {"volume": 0, "fill_times": [3]}), ("rectangular weir", {"heads": [0.1]}),
])
def test_the_phone_refuses_readings_that_the_desk_refuses(node, method, readings):
    from borewright.errors import BadInput
    from borewright.rig.flow import flow_from_readings

    with pytest.raises(BadInput):
        flow_from_readings(method, readings)
    assert node("flow", "try { m.flowFrom(given[0], given[1]); return 'took it'; } catch (e) { return e.name; }", [method, readings]) == "RangeError"


_UNIT_KINDS = {"depth": "depth", "diameter": "diameter", "head": "level", "volume": "volume", "flow": "flow", "air": "air_flow", "pressure": "pressure",
               "density": "density", "mass": "mass", "temperature": "temperature", "seconds": "time", "velocity": "velocity"}


@pytest.mark.parametrize("system", ["metric", "US", "imperial"])
def test_the_firms_units_on_the_phone_are_the_desks(node, system):
    from borewright.quantities import parse, shown_unit

    code = ("m.use(given.system); return Object.fromEntries(given.kinds.map((k) => [k, { unit: m.unitOf(k), si: [0, 1, 12.5].map((v) => m.toSi(k, v)), "
            "back: [0, 1, 12.5].map((v) => m.fromSi(k, m.toSi(k, v))), none: m.toSi(k, null) }]));")
    got = node("units", code, {"system": system, "kinds": list(_UNIT_KINDS)})
    for kind, answer in got.items():
        wanted = [parse(f"{v} {answer['unit']}", _UNIT_KINDS[kind], field=kind).si for v in (0, 1, 12.5)]
        assert answer["si"] == pytest.approx(wanted, rel=1e-11), (kind, answer)
        assert answer["back"] == pytest.approx([0, 1, 12.5], rel=1e-9, abs=1e-9) and answer["none"] is None
    for kind in ("depth", "diameter", "volume", "flow", "air", "pressure", "mass", "temperature"):
        assert got[kind]["unit"] == shown_unit(_UNIT_KINDS[kind], system)


def _air(now_water: float):
    from borewright.work.rigpack import air_tables

    return air_tables([(0.165, 0.089, 0.35, 1.7e6)]), now_water


@pytest.mark.parametrize(("depth", "water"), [(7.5, 0.0), (60.0, 0.4e-3), (61.0, 2e-3), (299.0, 6e-3), (120.0, 1.0)])
def test_the_air_that_the_phone_looks_up_is_the_desks(node, depth, water):
    import numpy as np

    from borewright.rig import atmospheric_pressure, cleaning_by_depth
    from borewright.work.rigpack import DEPTHS, WATER

    tables, _ = _air(water)
    now = {"started": {"body": {"rod_diameter": 0.089, "air_flow": 0.35, "air_pressure": 1.7e6}}, "bit": {"body": {"diameter": 0.165}}}
    got = node("air", "const k = m.kitOf(given.tables, given.now); return m.airAt(given.tables, k, given.depth, given.water);",
               {"tables": tables, "now": now, "depth": depth, "water": water})
    wetter = next((w for w in WATER if w >= water), WATER[-1])  # never a drier hole than this one, while the table reaches
    wanted = cleaning_by_depth(DEPTHS, hole_diameter=0.165, rod_diameter=0.089, air_flow=0.35, compressor_pressure=1.7e6, water_flow=wetter)
    assert got["lift"] == pytest.approx(float(np.interp(depth, DEPTHS, wanted.cleaning_velocity)), abs=0.01)
    assert got["pressure"] == pytest.approx(float(np.interp(depth, DEPTHS, wanted.pressure)) - atmospheric_pressure(0.0), abs=2)
    assert got["collar"] == pytest.approx(float(wanted.collar_velocity[0]), abs=1e-3)
    over = DEPTHS[wanted.pressure - atmospheric_pressure(0.0) > 1.7e6]
    ends = [e for e in (wanted.cleaning_ends, wanted.unloading_ends, float(over[0]) if over.size else None) if e is not None]
    assert got["end"] == (min(ends) if ends else None) and got["wetter"] == (water > WATER[-1])


def test_no_air_is_told_for_a_kit_that_the_desk_did_not_work_out(node):
    tables, _ = _air(0.0)
    kits = [{"bit": 0.165, "rod": 0.089, "flow": 0.35, "compressor": 1.5e6}, {"bit": 0.2, "rod": 0.089, "flow": 0.35, "compressor": 1.7e6}, {"bit": 0.165}]
    code = ("return given.kits.map((k) => m.kitOf(given.tables, { started: { body: { rod_diameter: k.rod, air_flow: k.flow, air_pressure: k.compressor } }, bit: { body: { diameter: k.bit } } }));")
    assert node("air", code, {"tables": tables, "kits": kits}) == [None, None, None]


def test_airlift_advice_on_the_phone_is_the_desks(node):
    from borewright.rig import advised_submergence, submergence
    from borewright.work.rigpack import lift_table

    rows = lift_table()
    for level, answer in zip((0.0, 8.0, 31.0, 90.0), node("air", "return given.levels.map((l) => m.liftAt(given.rows, l));", {"rows": rows, "levels": [0.0, 8.0, 31.0, 90.0]}), strict=True):
        share = submergence(answer["air_depth"], level)
        assert advised_submergence(answer["air_depth"]) - 0.02 <= share <= 1.0
        assert level == 0.0 or share <= advised_submergence(answer["air_depth"]) + 0.06  # no deeper than the advice needs
        assert answer["starting_pressure"] == pytest.approx(1000 * 9.80665 * 1.15 * (answer["air_depth"] - level), rel=0.02)


@pytest.mark.parametrize(("readings", "left", "clean"), [([], 3, False), ([9, 5, 4], 1, False), ([5, 5, 5], 0, True), ([4, 4, 4, 6], 3, False), ([40, 4, 6, 3, 2, 1], 0, True)])
def test_the_plain_rule_of_clearing_is_the_desks_criterion(node, readings, left, clean):
    from borewright.rig import track_development

    assert node("air", "return m.plainRule(given, 5);", readings) == {"left": left, "clean": clean}
    if readings:
        assert track_development([60.0 * (i + 1) for i in range(len(readings))], readings, what="turbidity").clean is clean


def test_the_phones_own_section_shows_what_was_logged(node):
    import xml.etree.ElementTree as ET

    ground = [{"body": {"from_depth": 0, "to_depth": 6, "words": "clay <wet> & sticky"}}, {"body": {"from_depth": 6, "to_depth": 30, "words": "granite", "colour": "grey"}}]
    now = {"depth": 36, "logged": 30, "ground": ground, "casings": [{"body": {"from_depth": 0, "to_depth": 12, "outside_diameter": 0.168}}], "levels": [{"body": {"depth_to_water": 8}}],
           "strikes": [{"body": {"depth": 21}}, {"body": {"depth": 21.2}}], "flows": [{"body": {"depth": 21.2, "flow": 0.0005}}]}
    drawn = node("section", "return m.drawSection(given);", now)
    root = ET.fromstring(drawn["svg"])
    words = [t.text for t in root.iter("text")]
    assert "clay <wet> & sticky" in words and "granite, grey" in words and "water 21.2 m, 30 L/min" in words and "level 8 m" in words
    bands = [r for r in root.iter("rect") if r.get("width") == "92"]
    assert [float(b.get("height")) for b in bands] == pytest.approx([500 * 6 / 36, 500 * 24 / 36, 500 * 6 / 36])
    labels = sorted(float(t.get("y")) for t in root.iter("text") if t.get("x") == "162")
    assert len(labels) == 5 and all(b - a >= 16.9 for a, b in zip(labels, labels[1:], strict=False)) and labels[-1] <= 540
    assert "casing 168 mm 0 m to 12 m" in drawn["sentence"] and root.get("aria-label") == drawn["sentence"]
    empty = ET.fromstring(node("section", "return m.drawSection(given).svg;", {"depth": 0, "logged": 0, "ground": [], "casings": [], "levels": [], "strikes": [], "flows": []}))
    assert "NaN" not in ET.tostring(empty, "unicode")


def test_both_clocks_of_an_entry_and_the_flag(node):
    made = [
        {"at": "2026-03-02T08:00:00.000+00:00", "received": "2026-03-02T08:04:59Z"}, {"at": "2026-03-02T08:00:00.000+00:00", "received": "2026-03-05T08:00:00Z"},
        {"at": "2026-03-02T09:00:00.000+00:00", "received": "2026-03-02T08:00:00Z"}, {"at": "2026-03-02T07:00:00.000+00:00", "received": "2026-03-02T08:00:00Z", "clock_off": -3600.0},
    ]
    got = node("clock", "return given.map((e) => m.entryClock(e));", made)
    assert [g["flag"] for g in got] == ["", "", "60 min ahead of the desk's", "60 min behind the desk's"]
    assert all("by its device" in g["words"] and "at the desk" in g["words"] for g in got)
    unsent = node("clock", "return m.entryClock(given, { unsent: true, off: -400000, device: 'a' });", {"at": made[0]["at"], "device": "a"})
    assert unsent["words"].endswith("not yet sent") and unsent["flag"] == "7 min behind the desk's"
    assert node("clock", "return [299000, -299000, 301000, 7.3e7].map(m.offWords);", {}) == ["", "", "5 min ahead of the desk's", "20 h ahead of the desk's"]


def test_the_phone_folds_a_hole_as_the_desk_does(node):
    import random
    from datetime import timedelta
    from uuid import UUID

    from borewright.record import entry_from_json, fold, new_id
    from tests.web.conftest import BEGUN, entry

    dice = random.Random(5)
    for _ in range(20):
        job = new_id()
        made = []
        for counter in range(1, 40):
            device = dice.choice(("phone-a", "phone-b"))
            at = BEGUN + timedelta(minutes=counter + (60 if device == "phone-b" else 0))
            kind, body = dice.choice((
                ("rig.advanced", {"to_depth": float(counter)}), ("rig.struck", {"depth": float(counter)}),
                ("rig.flow", {"depth": float(dice.randint(1, 3)), "method": "estimate", "flow": counter / 1e5}),
                ("rig.ground", {"from_depth": float(counter - 1), "to_depth": float(counter), "words": "clay"}), ("struck_out", {}),
            ))
            target = UUID(dice.choice(made)["id"]) if kind == "struck_out" and made else None
            if kind == "struck_out" and target is None:
                continue
            made.append(entry(job, kind, body, counter, device=device, at=at, strikes_out=target))
        desk = fold(entry_from_json(e) for e in made).hole
        dice.shuffle(made)
        phone = node("fold", "const f = m.fold(given); return {depth: f.depth, strikes: f.strikes.length, rods: f.rods, flow: f.flow && f.flow.body.flow, ground: f.ground.length};", made)
        told = {"depth": 0.0, "strikes": 0, "rods": 0, "flow": None, "ground": 0} if desk is None else {
            "depth": desk.depth, "strikes": len(desk.strikes), "rods": len(desk.advances),
            "flow": desk.last_flow.body.flow if desk.last_flow else None, "ground": len(desk.ground),
        }
        assert phone == told
