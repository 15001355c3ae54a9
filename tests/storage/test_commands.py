"""The commands that keep and show the job book: words in, one line or one JSON document out, 2 for bad input."""

from __future__ import annotations

import json

import pytest

from borewright.cli.main import main
from borewright.quantities import show
from borewright.storage import open_job_book


@pytest.fixture
def run(tmp_path, capsys, monkeypatch):
    """Run a command on a home of its own; return (exit code, standard output, standard error)."""
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("BOREWRIGHT_DATABASE", raising=False)

    def act(*words):
        code = main([str(word) for word in words])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return act


@pytest.fixture
def started(run):
    """A home with one job."""
    words = ("--customer", "A. Example", "--need", "15 L/min", "--daily", "4 kL", "--at", "-27.5,152.9", "--reference", "HR-19", "--by", "sam")
    code, out, _ = run("jobs", "start", "Lot 7 orchard house", *words, "--json")
    assert code == 0
    return json.loads(out)["id"]


def test_a_job_is_started_and_shown(run, started):
    code, out, _ = run("jobs", "show", "lot 7", "--json")
    job = json.loads(out)
    assert code == 0
    assert job["id"] == started
    assert job["need"]["flow"] == pytest.approx(0.25e-3)
    assert job["need"]["daily_volume"] == pytest.approx(4.0)
    assert job["need"]["typed"] == {"flow": "15 L/min", "daily_volume": "4 kL"}
    assert (job["site"]["latitude"], job["site"]["longitude"]) == (-27.5, 152.9)
    assert job["customer"]["name"] == "A. Example"
    (line,) = json.loads(run("jobs", "list", "--json")[1])
    assert run("jobs", "--json")[1] == run("jobs", "list", "--json")[1]
    assert (line["title"], line["reference"], line["stage"], line["entries"]) == ("Lot 7 orchard house", "HR-19", "enquiry", 4)
    assert "Lot 7 orchard house" in run("jobs")[1]


def test_the_life_of_a_reading_on_the_command_line(run, started):
    assert run("jobs", "write", "HR-19", "rig.struck", "depth=112 ft", "--by", "sam")[0] == 0
    (strike,) = [e for e in json.loads(run("jobs", "history", "HR-19", "--json")[1]) if e["kind"] == "rig.struck"]
    assert strike["body"] == {"depth": pytest.approx(34.1376), "typed": {"depth": "112 ft"}}
    assert strike["struck_out_by"] is None
    code, out, _ = run("jobs", "write", "HR-19", "rig.struck", "depth=34 m", "--strikes-out", strike["id"][-8:], "--by", "sam", "--json")
    assert code == 0
    right = json.loads(out)
    assert right["strikes_out"] == strike["id"]
    assert run("jobs", "strike", "HR-19", right["id"], "--why", "not here", "--by", "kim")[0] == 0
    _, history, _ = run("jobs", "history", "HR-19")
    assert [line[:1] for line in history.splitlines() if "rig.struck" in line] == ["×", "×"]
    assert "struck out by kim" in history
    assert "not here" in history
    assert "depth=112 ft" in history
    assert json.loads(run("jobs", "show", "HR-19", "--json")[1])["holes"] == []


def test_a_job_shown_in_words_uses_the_units_of_the_firm(run, started, tmp_path):
    from borewright.storage import Settings, save_settings

    for kind, *values in (
        ("rig.ground", "from_depth=0 m", "to_depth=12 m", "words=red clay"), ("rig.struck", "depth=34 m"), ("rig.flow", "depth=36 m", "flow=0.5 L/s", "method=bucket"),
        ("rig.casing", "from_depth=0 m", "to_depth=30 m", "string=production", "outside_diameter=140 mm"), ("rig.stopped", "depth=60 m", "reason=enough water"),
    ):
        assert run("jobs", "write", "lot", kind, *values, "--by", "sam")[0] == 0
    shown = run("jobs", "show", "lot")[1]
    flow = show(0.5e-3, "flow")
    for words in (f"60 m deep, {flow}", "red clay", f"water struck at 34 m, {flow}", "production casing 140 mm", "stopped at 60 m: enough water", "rig, water"):
        assert words in shown
    save_settings(Settings(units="us"), tmp_path / "home")
    assert "197 ft deep" in run("jobs", "show", "lot")[1]


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (("jobs", "start", "x", "--need", "5 gal/min"), "need"), (("jobs", "start", "x", "--need", "plenty"), "need"), (("jobs", "start", "x", "--daily", "4 kL"), "need"),
        (("jobs", "start", "x", "--at", "-97,0"), "latitude"), (("jobs", "start", "x", "--at", "-27"), "at"), (("jobs", "start", "x", "--need", "1 L/s", "--use", "moat"), "use"),
        (("jobs", "start", "y" * 201), "title"), (("jobs", "start", "x", "--by", " "), "by"),
        (("jobs", "write", "lot", "rig.struck", "depth=34"), "depth"), (("jobs", "write", "lot", "rig.struck", "34 m"), "values"),
        (("jobs", "write", "lot", "rig.struck"), "depth"), (("jobs", "write", "lot", "rig.strike", "depth=3 m"), "kind"),
        (("jobs", "write", "lot", "rig.struck", "depth=3 m", "--strikes-out", "0000"), "entry"), (("jobs", "write", "lot", "rig.photo", "attachment=@/no/such.jpg"), "attachment"),
        (("jobs", "strike", "lot", "ff"), "entry"), (("jobs", "juggle"), "command line"), (("jobs", "show", " "), "job"),
    ],
)
def test_bad_input_names_the_field_exits_2_and_writes_nothing(run, started, words, field):
    before = run("jobs", "history", "HR-19", "--json")[1]
    code, out, err = run(*words, "--json")
    assert code == 2
    assert json.loads(out)["error"]["field"] == field
    assert set(json.loads(err)["error"]) == {"field", "value", "problem", "want"}
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert err.startswith(f"borewright: {field}: ")
    assert err.count("\n") == 1
    assert run("jobs", "history", "HR-19", "--json")[1] == before
    assert len(json.loads(run("jobs", "list", "--json")[1])) == 1


def test_a_photo_is_attached(run, started, tmp_path):
    (tmp_path / "hole.jpg").write_bytes(b"a photo")
    assert run("jobs", "write", "lot", "rig.photo", f"attachment=@{tmp_path / 'hole.jpg'}", "caption=strike", "--by", "sam")[0] == 0
    with open_job_book(tmp_path / "home") as book:
        (photo,) = book.job(book.find("lot")).hole.photos
        assert book.attachment(photo.body.attachment).read_bytes() == b"a photo"


def test_what_is_not_there_exits_1(run, started):
    code, out, err = run("jobs", "show", "lot 8 orchard")
    assert (code, out) == (1, "")
    assert "Lot 7 orchard house" in err
    assert run("restore", "nowhere.zip")[0] == 1


def test_backup_check_and_restore(run, started, tmp_path):
    code, out, _ = run("backup", tmp_path / "kept.zip", "--json")
    assert code == 0
    assert json.loads(out)["file"] == str(tmp_path / "kept.zip")
    assert run("backup", tmp_path / "kept.zip")[0] == 1
    assert run("backup", tmp_path / "kept.zip", "--replace")[0] == 0
    assert run("backup")[0] == 0
    assert len(list((tmp_path / "home" / "backups").glob("borewright-*.zip"))) == 1
    assert json.loads(run("backup", "--if-due", "--json")[1])["file"].endswith(".zip")
    assert json.loads(run("backup", "--if-due", "--json")[1])["file"] is None
    assert run("backup", "x.zip", "--if-due")[0] == 2
    assert run("restore", tmp_path / "kept.zip", "--verify")[0] == 0
    code, _, err = run("restore", tmp_path / "kept.zip")
    assert code == 1
    assert "--replace" in err
    code, out, _ = run("restore", tmp_path / "kept.zip", "--replace", "--json")
    assert (code, json.loads(out)["jobs"]) == (0, 1)
    report = json.loads(run("check", "--json")[1])
    assert (report["ok"], report["entries"], report["problems"]) == (True, 4, [])


def test_check_ends_with_1_at_a_fault_and_rebuild_mends_the_list(run, started, tmp_path):
    import sqlite3

    connection = sqlite3.connect(tmp_path / "home" / "job_book.sqlite")
    connection.execute("UPDATE jobs SET title = 'wrong'")
    connection.commit()
    connection.close()
    code, out, _ = run("check")
    assert code == 1
    assert "listed wrongly (title)" in out
    code, out, _ = run("check", "--rebuild")
    assert code == 0
    assert "Everything is as it was written." in out
    assert run("check")[0] == 0


def test_where_names_the_folder_and_no_secret(run, tmp_path, monkeypatch):
    assert run("where")[1].strip() == str(tmp_path / "home")
    monkeypatch.setenv("BOREWRIGHT_DATABASE", "postgresql://sam:hunter2@db/borewright")
    code, out, _ = run("where")
    assert code == 0
    assert "hunter2" not in out
