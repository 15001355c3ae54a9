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
        path = folder / f"{module}.mjs"
        path.write_text((RIG / f"{module}.js").read_text(encoding="utf-8"), encoding="utf-8")
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


def test_flow_by_bucket_and_notch_with_its_doubt(node):
    from borewright.rig.flow import flow_from_readings

    buckets = [(0.02, [31.0, 32.0, 30.5]), (0.2, [60.0]), (0.01, [4.0, 4.4])]
    notches = [([0.080, 0.081, 0.079], 90.0), ([0.120], 60.0), ([0.1, 0.11, 0.105], 45.0), ([0.2, 0.201], 30.0)]
    got = node("flow", "return [...given.buckets.map((b) => m.bucketFlow(...b)), ...given.notches.map((n) => m.notchFlow(...n))];",
               {"buckets": buckets, "notches": notches})
    wanted = [flow_from_readings("bucket", {"volume": v, "fill_times": t}) for v, t in buckets]
    wanted += [flow_from_readings("V-notch", {"heads": h, "notch_angle": a}) for h, a in notches]
    for measured, answer in zip(wanted, got, strict=True):
        assert answer["flow"] == pytest.approx(measured.flow, rel=1e-12)
        assert answer["doubt"] == pytest.approx(measured.standard_uncertainty, rel=1e-9)


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
