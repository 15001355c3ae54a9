"""Export and import as a person runs them, on a real book in a folder of its own."""

import io
import json
import sqlite3
import tracemalloc
import zipfile
from contextlib import closing
from hashlib import sha256

import pytest

from borewright.cli.main import main
from borewright.exchange import FORMATS, bores_of, read_geojson
from borewright.exchange.archive import entry_line
from borewright.record import content_hash
from borewright.storage import open_job_book

from .conftest import DRY, FULL, JOB, book

PHOTO = b"an invented photo" * 100
NAME = sha256(PHOTO).hexdigest()


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    with open_job_book() as kept:
        kept.attach(PHOTO)
        kept.add(book(*FULL, ("rig.photo", {"attachment": NAME})))
        kept.add(book(*DRY, job=type(JOB)(int=JOB.int + 1), device="phone-2"))
    return tmp_path


def lines_of(folder=None):
    with open_job_book(folder) as kept:
        return sorted(content_hash(e) for line in kept.jobs() for e in kept.entries(line.id))


@pytest.mark.parametrize("format", FORMATS)
def test_every_format_is_written(home, capsys, format):
    assert main(["export", "Homestead", "--format", format, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    path = home / told["file"]
    assert path.name == "homestead-bore-invented" + FORMATS[format][0] and path.stat().st_size == told["bytes"] > 300
    assert main(["export", "Homestead", "--format", format]) == 2 and "is there already" in capsys.readouterr().err
    assert main(["export", "Homestead", "--format", format, "--replace"]) == 0
    assert not list(home.glob("*.part"))


def test_an_archive_restores_every_entry_in_another_book(home, monkeypatch, capsys):
    assert main(["export", "all", "--format", "archive", "--out", "firm.zip"]) == 0
    before = lines_of()
    monkeypatch.setenv("BOREWRIGHT_HOME", str(home / "other"))
    assert main(["import", "firm.zip", "--dry-run"]) == 0 and lines_of() == []
    assert main(["import", "firm.zip", "--json"]) == 0
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (told["fresh"], told["attachments"], len(told["jobs"])) == (len(before), 1, 2)
    assert lines_of() == before
    with open_job_book() as kept:
        assert kept.attachment(NAME).read_bytes() == PHOTO and kept.check().ok
    assert main(["import", "firm.zip", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["fresh"] == 0 and lines_of() == before
    # Byte for byte, the moments at which the first book took the entries in among them.
    assert main(["export", "all", "--format", "archive", "--out", "again.zip"]) == 0
    with zipfile.ZipFile(home / "firm.zip") as first, zipfile.ZipFile(home / "again.zip") as second:
        assert first.namelist() == second.namelist()
        assert all(first.read(name) == second.read(name) for name in first.namelist() if name != "manifest.json")


def test_the_archive_holds_the_books_own_lines(home):
    main(["export", "all", "--format", "archive", "--out", "firm.zip"])
    with open_job_book() as kept:
        wanted = [entry_line(e) for line in kept.jobs() for e in kept.entries(line.id)]
    with zipfile.ZipFile(home / "firm.zip") as archive:
        assert sorted(archive.read("entries.jsonl").splitlines(keepends=True)) == sorted(wanted)


@pytest.mark.parametrize("format", ["csv", "geojson", "gwml2"])
def test_a_bore_read_in_elsewhere_is_the_same_bore(home, monkeypatch, capsys, format):
    main(["export", "Homestead", "--format", format, "--out", "one.dat"])
    with open_job_book() as kept:
        first = bores_of(kept.job(JOB))[0]
    monkeypatch.setenv("BOREWRIGHT_HOME", str(home / "other"))
    assert main(["import", "one.dat", "--by", "office"]) == 0
    with open_job_book() as kept:
        (line,) = kept.jobs()
        second = bores_of(kept.job(line.id))[0]
    assert (second.name, second.depth, second.yield_, second.static_level, second.latitude) == (first.name, 60.0, 1.2e-3, 12.35, -35.3)
    assert [r["drawdown"] for r in second.table("test_levels")] == [r["drawdown"] for r in first.table("test_levels")]
    if format != "gwml2":  # which has no place for samples and analyses
        assert second.rows == first.rows
    once = lines_of()
    assert main(["import", "one.dat", "--by", "office"]) == 0 and lines_of() == once


def test_a_books_own_bore_does_not_come_in_twice(home, capsys):
    main(["export", "Homestead", "--format", "csv", "--out", "one.zip"])
    before = lines_of()
    assert main(["import", "one.zip"]) == 2
    assert "would come in twice" in capsys.readouterr().err and lines_of() == before


def test_a_fault_in_the_last_bore_writes_nothing(home, capsys):
    before = lines_of()
    (home / "x.csv").write_text("bore_id,lon,lat,depth_m,yield_lps\n" + "".join(f"X{n},149.{n},-35,60,1\n" for n in range(20)) + "X99,149,-35,60,-4\n")
    assert main(["import", "x.csv", "--json"]) == 2
    out, err = capsys.readouterr()
    told = json.loads(out)["error"]
    assert told == json.loads(err)["error"] and told["field"].endswith("flow_lps") and told["value"] == -4.0 and "X99" in told["field"] and told["want"]
    assert lines_of() == before


def test_a_fault_in_an_archive_writes_nothing(home, monkeypatch, capsys):
    main(["export", "all", "--format", "archive", "--out", "firm.zip"])
    data = bytearray((home / "firm.zip").read_bytes())
    data[len(data) // 3] ^= 255
    (home / "bad.zip").write_bytes(bytes(data))
    monkeypatch.setenv("BOREWRIGHT_HOME", str(home / "other"))
    assert main(["import", "bad.zip"]) == 2 and lines_of() == []
    with open_job_book() as kept:
        assert [p for p in kept.folder.rglob("*") if p.is_file() and NAME in p.name] == []


@pytest.mark.parametrize(("words", "problem"), [
    (["export", "nothing like it", "--format", "csv"], "No job fits"), (["export", "Homestead", "--format", "docx"], "invalid choice"),
    (["export", "Homestead", "--format", "csv", "--hole", "7"], "not a hole"), (["export", "all", "--format", "gwml2"], "too many for gwml2"),
    (["export", "North", "--format", "waterml"], "levels"), (["import", "no-such-file"], "is not there"), (["import", "noise.bin"], "none of the formats"),
    (["export", "Homestead", "--format", "csv", "--out", "-", "--json"], "does not go with"),
    (["export", "Homestead", "--format", "csv", "--out", "no/such/folder.zip"], "folder that is not there"),
])
def test_bad_words_are_told_in_one_line(home, capsys, words, problem):
    (home / "noise.bin").write_bytes(b"\x00\x01\x02" * 100)
    assert main(words) in (1, 2)
    err = capsys.readouterr().err
    assert problem in err and err.count("\n") == 1 and not list(home.glob("*.zip"))


@pytest.mark.parametrize("head", [b'{"type": "FeatureCollection", "features": [', b"<a>", b"bore_id,lon,lat,depth_m\n"])
def test_a_file_of_two_gigabytes_is_refused_by_its_size(home, capsys, head):
    path = home / "large"
    with path.open("wb") as file:
        file.write(head)
        file.truncate(2 * 2**30)  # sparse: no such space is taken on the disk
    tracemalloc.start()
    assert main(["import", "large"]) == 2 and "too large" in capsys.readouterr().err
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 50 * 2**20


def test_standard_output_gets_the_bytes(home, capsysbinary):
    assert main(["export", "North", "--format", "geojson", "--out", "-"]) == 0
    (bore,) = read_geojson(capsysbinary.readouterr().out)
    assert bore.status == "no water" and bore.depth == 80.0


def test_all_jobs_in_one_map(home):
    assert main(["export", "all", "--format", "gpkg", "--out", "all.gpkg"]) == 0
    with closing(sqlite3.connect(home / "all.gpkg")) as db:
        assert sorted(r[0] for r in db.execute("SELECT status FROM bores")) == ["no water", "water"]


def test_the_csv_set_is_a_register_too(home):
    # The canonical register columns (bores, strikes, intervals) stand in it under the same names.
    main(["export", "all", "--format", "csv", "--out", "all.zip"])
    with zipfile.ZipFile(io.BytesIO((home / "all.zip").read_bytes())) as archive:
        heads = {n: archive.read(n).decode().splitlines()[0].split(",") for n in archive.namelist() if n.endswith(".csv")}
    assert {"bore_id", "lon", "lat", "elevation_m", "depth_m", "yield_lps", "static_level_m", "first_water_m", "drilled_on", "status"} <= set(heads["bores.csv"])
    assert {"bore_id", "depth_m", "yield_lps"} <= set(heads["strikes.csv"]) and {"bore_id", "from_m", "to_m", "lithology"} <= set(heads["intervals.csv"])
