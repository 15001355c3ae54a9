"""The firm's own finished holes become bores of a register by themselves."""

import csv
import io

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.demo.district import Recipe, make_district
from borewright.siting import load_register, odds_at, open_register
from borewright.storage import open_job_book
from borewright.work.enquiry import open_job
from borewright.work.ownbores import DEMO_REGISTER, OWN, own_rows, refresh_own_bores, register_with_own


def drill(book, title, latitude, longitude, *, depth=60.0, flow=0.4e-3, strikes=(31.0, 55.0), reference="", stop=True):
    job = open_job(book, title, by="tester", reference=reference, need={"flow": 0.25e-3}, site={"latitude": latitude, "longitude": longitude})
    write = lambda kind, body: book.write(job, kind, body, by="tester")
    write("ground.spot", {"name": "A", "latitude": latitude, "longitude": longitude, "way_of_picking": "lineament", "elevation": 240.0})
    write("rig.hole_started", {"rod_length": 6.0, "spot": "A"})
    write("rig.ground", {"from_depth": 0.0, "to_depth": 9.0, "words": "red sandy clay"})
    write("rig.ground", {"from_depth": 9.0, "to_depth": depth, "words": "grey granite"})
    for i, at in enumerate(strikes):
        write("rig.struck", {"depth": at})
        write("rig.flow", {"depth": at, "method": "bucket", "flow": flow * (i + 1) / len(strikes)})
    write("rig.level", {"depth_to_water": 7.5})
    if stop:
        write("rig.stopped", {"depth": depth, "reason": "enough water" if strikes else "walked away"})
    return job


@pytest.fixture
def book(tmp_path):
    with open_job_book(tmp_path / "home") as opened:
        yield opened


def test_a_finished_hole_is_a_bore_with_its_strikes_and_ground(book):
    drill(book, "One (invented)", -38.47, -18.22)
    drill(book, "Dry (invented)", -38.46, -18.21, strikes=(), depth=90.0)
    drill(book, "Not yet (invented)", -38.45, -18.20, stop=False)
    rows = own_rows(book.job(line.id) for line in book.jobs())
    assert [len(rows[k]) for k in ("bores", "strikes", "intervals")] == [2, 2, 4]
    bores = {row[9]: row for row in rows["bores"]}
    wet = bores["wet"]
    assert (wet[1], wet[2], wet[3], wet[4], wet[5], wet[6], wet[7], wet[10]) == (-18.22, -38.47, 240.0, 60.0, pytest.approx(0.4), 7.5, 31.0, "lineament")
    assert bores["dry"][4:6] == (90.0, "")
    assert [row[1:] for row in rows["strikes"]] == [(31.0, pytest.approx(0.2)), (55.0, pytest.approx(0.2))]


def test_the_register_follows_the_books(book, tmp_path):
    folder = tmp_path / "registers"
    assert refresh_own_bores(book, folder) is None
    drill(book, "One (invented)", -38.47, -18.22)
    report = refresh_own_bores(book, folder)
    assert (report.loaded, report.strikes, report.intervals, report.refused) == (1, 2, 2, ())
    assert refresh_own_bores(book, folder) is None
    drill(book, "Two (invented)", -38.46, -18.21)
    assert refresh_own_bores(book, folder).loaded == 2
    own = open_register(OWN, folder)
    assert sorted(own.depth) == [60.0, 60.0] and len(own.strikes.depth) == 4 and own.picked_by[0] == "lineament"


def test_the_invented_jobs_stay_out_of_real_odds(book, tmp_path):
    folder = tmp_path / "registers"
    drill(book, "Demo (invented)", -38.47, -18.22, reference="DEMO-ONE")
    assert refresh_own_bores(book, folder) is None
    drill(book, "Own (invented)", -38.46, -18.21)
    assert refresh_own_bores(book, folder).loaded == 1
    district = make_district(Recipe(seed=31, bores=120))
    paths = district.write(tmp_path / "csv")
    for name in ("real", DEMO_REGISTER):
        load_register(paths["bores"], name=name, folder=folder)
    assert len(register_with_own(book, "real", folder)) == 121
    with_demo = register_with_own(book, DEMO_REGISTER, folder)
    assert len(with_demo) == 121 and any(b.startswith("DEMO-ONE") for b in with_demo.bore_id)


def test_own_dry_holes_lower_the_odds_around_them(book, tmp_path):
    folder = tmp_path / "registers"
    paths = make_district(Recipe(seed=31, bores=200)).write(tmp_path / "csv")
    load_register(paths["bores"], name="real", strikes=paths["strikes"], intervals=paths["intervals"], folder=folder)
    alone = open_register("real", folder)
    spot = (-38.47, -18.22)
    before = odds_at(alone, *spot, need=0.25e-3, depths=[80.0]).by_depth[0].p
    rng = np.random.default_rng(4)
    for i in range(12):
        drill(book, f"Dry {i} (invented)", spot[0] + float(rng.normal(0, 0.004)), spot[1] + float(rng.normal(0, 0.004)), strikes=(), depth=95.0)
    joined = register_with_own(book, "real", folder)
    after = odds_at(joined, *spot, need=0.25e-3, depths=[80.0])
    assert len(joined) == 212 and len(joined.strikes.depth) == len(alone.strikes.depth) and len(joined.intervals.top) == len(alone.intervals.top) + 24
    assert after.by_depth[0].p < before - 0.1
    assert any("-1" in bore.bore_id for bore in after.nearest[:5])


def test_rows_are_the_canonical_columns(book, tmp_path):
    from borewright.work.ownbores import _HEADS, _as_csv

    drill(book, "One, with a comma (invented)", -38.47, -18.22)
    rows = own_rows(book.job(line.id) for line in book.jobs())
    read = list(csv.DictReader(io.StringIO(_as_csv("bores", rows["bores"]))))
    assert tuple(read[0]) == _HEADS["bores"] and read[0]["depth_m"] == "60.0"


def test_the_command_counts_them_in(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    with open_job_book() as book:
        drill(book, "One (invented)", -38.4700, -18.2200)
    paths = make_district(Recipe(seed=31, bores=120)).write(tmp_path / "csv")
    assert main(["register", "load", str(paths["bores"]), "--name", "real"]) == 0
    capsys.readouterr()
    words = ["odds", "--register", "real", "--at=-38.47,-18.22", "--need", "15 L/min"]
    assert main(words) == 0
    without = capsys.readouterr().out
    assert main([*words, "--own"]) == 0
    counted = capsys.readouterr().out
    assert "0 km" in counted.split("nearest bores")[1].splitlines()[1] and counted != without
