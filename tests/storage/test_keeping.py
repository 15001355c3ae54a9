"""Check, backup and restore: damage is seen, a backup is whole, and a restore loses nothing."""

from __future__ import annotations

import json
import sqlite3
import zipfile
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest
import sqlalchemy as sa

from borewright.errors import Conflict, NotFound, StoreError
from borewright.pricing import sample_card
from borewright.record import new_id
from borewright.storage import (
    Accounts,
    Settings,
    backup_if_due,
    current_rate_card,
    load_settings,
    open_job_book,
    restore,
    save_rate_card,
    save_settings,
    verify_backup,
)
from borewright.storage.engine import reading, writing
from borewright.storage.tables import jobs, sessions


@pytest.fixture
def home(tmp_path):
    """A data folder with two jobs, a photo, settings and a rate card, its book closed."""
    folder = tmp_path / "home"
    with open_job_book(folder) as book:
        for title in ("Lot 7 orchard house", "Dairy top paddock"):
            job = new_id()
            book.write(job, "enquiry.opened", {"title": title}, by="sam", job_new=True)
            book.write_all(job, [("rig.struck", {"depth": float(d)}) for d in (20, 34, 50)], by="sam")
        book.write(job, "rig.photo", {"attachment": book.attach(b"a photo" * 99)}, by="sam")
    save_settings(Settings(firm="Hollow Reed Bores"), folder)
    save_rate_card(sample_card(), folder)
    return folder


def _everything(folder):
    with open_job_book(folder) as book:
        lines = book.jobs()
        entries = {line.id: book.entries(line.id) for line in lines}
        photos = {p.name: p.read_bytes() for p in (folder / "attachments").glob("*/*")}
    return lines, entries, photos, load_settings(folder), current_rate_card(folder)


def _tamper(folder, *statements):
    connection = sqlite3.connect(folder / "job_book.sqlite")
    for change in ("update", "delete"):
        connection.execute(f"DROP TRIGGER entries_never_{change}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def _problems(folder):
    with open_job_book(folder) as book:
        return book.check().problems


def test_a_sound_store_is_sound(home):
    with open_job_book(home) as book:
        report = book.check()
    assert (report.ok, report.entries, report.jobs, report.attachments, report.notes) == (True, 9, 2, 1, ())


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("""UPDATE entries SET body = '{"depth": 35.0}' WHERE sequence = 3""", "does not match its hash"),
        ("UPDATE entries SET \"by\" = 'kim' WHERE sequence = 3", "does not match its hash"),
        ("UPDATE entries SET at = '2026-03-02T08:15:00+10:00' WHERE sequence = 3", "does not match its hash"),
        ("UPDATE entries SET body = 'not json' WHERE sequence = 3", "cannot be read"),
        ("UPDATE entries SET hash = 'x' WHERE sequence = 3", "does not match its hash"),
        ("DELETE FROM entries WHERE sequence = 3", "was removed, moved or put in"),
        ("UPDATE entries SET sequence = 99 WHERE sequence = 3", "was removed, moved or put in"),
        ("DELETE FROM entries WHERE sequence = 9", "listed wrongly"),
        ("UPDATE jobs SET depth = 12", "listed wrongly (depth)"),
        ("DELETE FROM jobs", "missing from the list"),
        ("UPDATE attachments SET size = 3", "damaged"),
    ],
)
def test_a_change_behind_the_back_of_the_program_is_seen(home, statement, said):
    _tamper(home, statement)
    problems = _problems(home)
    assert any(said in problem for problem in problems), problems


def test_damage_to_files_is_seen(home):
    (photo,) = (home / "attachments").glob("*/*")
    data = photo.read_bytes()
    photo.write_bytes(b"A" + data[1:])
    assert any("damaged" in p for p in _problems(home))
    photo.unlink()
    assert any("missing" in p for p in _problems(home))
    photo.write_bytes(data)
    assert _problems(home) == ()
    (home / "settings.toml").write_text("units = 'cubits'", encoding="utf-8")
    assert any("units" in p for p in _problems(home))
    (home / "settings.toml").unlink()
    (card,) = (home / "rate_cards").glob("*.toml")
    card.write_text(card.read_text(encoding="utf-8").replace("950.00", "960.00"), encoding="utf-8")
    assert any("has been changed since" in p for p in _problems(home))


def test_a_damaged_database_file_is_seen(home):
    path = home / "job_book.sqlite"
    data = bytearray(path.read_bytes())
    at = data.find(b"Dairy top paddock")
    data[at:at + 5] = b"Daisy"
    path.write_bytes(bytes(data))
    assert _problems(home)


def test_what_has_not_arrived_yet_is_a_note_and_no_fault(home):
    with open_job_book(home) as book:
        job = book.find("Lot 7")
        book.write(job, "rig.photo", {"attachment": "0" * 64}, by="sam")
        (home / "attachments" / "stray.txt").write_text("x")
        (home / "attachments" / "ab").mkdir(exist_ok=True)
        (home / "attachments" / "ab" / "stray").write_text("x")
        report = book.check()
    assert report.ok
    assert len(report.notes) == 2


def test_rebuild_makes_the_list_of_jobs_anew_from_the_entries(home):
    with open_job_book(home) as book:
        before = book.jobs()
        with writing(book.engine) as connection:
            connection.execute(sa.delete(jobs).where(jobs.c.title.like("Lot%")))
            connection.execute(sa.update(jobs).values(depth=1.0, title="wrong"))
            connection.execute(sa.insert(jobs).values({**{c.name: "x" for c in jobs.c}, "latitude": 1, "longitude": 1, "depth": 1, "flow": 1, "entries": 1, "last_sequence": 1}))
        assert len(book.check().problems) == 3
        report = book.check(rebuild=True)
        assert (report.problems, report.rebuilt) == ((), 2)
        assert book.jobs() == before


def test_a_backup_brings_everything_back(home, tmp_path):
    before = _everything(home)
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
        assert not list(tmp_path.glob(".*"))
        with pytest.raises(Conflict, match="is there already"):
            book.backup(made)
        assert book.backup(made, replace=True) == made
    manifest = verify_backup(made)
    assert {"job_book.sqlite", "settings.toml"} < set(manifest["files"])
    done = restore(made, tmp_path / "new" / "home")
    assert (done.entries, done.jobs, done.attachments, done.set_aside) == (9, 2, 1, None)
    assert _everything(tmp_path / "new" / "home") == before
    assert _everything(home) == before
    with open_job_book(home) as book, open_job_book(done.folder) as other:
        assert book.device != other.device, "two machines may not count under one name"


def test_what_the_firm_made_its_own_comes_back_too(home, tmp_path):
    own = {"forms/notice/form.toml": "title = 'x'", "forms/notice/form.typ": "x", "design.json": "{}", "casing_supplier.toml": "", "yard.csv": "item,unit,quantity\nsand,bags,2\n", "column-maps/a.json": "{}"}
    for name, text in own.items():
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_text(text)
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
    assert set(own) < set(verify_backup(made)["files"])
    restore(made, tmp_path / "new")
    assert {name: (tmp_path / "new" / name).read_text() for name in own} == own


def test_restore_refuses_a_folder_in_use_and_sets_aside_what_it_replaces(home, tmp_path):
    with open_job_book(home) as book:
        made = book.backup(home / "backups" / "kept.zip")
        book.write(book.find("Lot 7"), "rig.note", {"text": "after the backup"}, by="sam")
    with pytest.raises(Conflict, match="already holds data"):
        restore(made, home)
    with open_job_book(home) as book:
        book.jobs()
        with pytest.raises(Conflict, match="is running"):
            restore(made, home, replace=True)
        assert len(book.entries(book.find("Lot 7"))) == 5
    done = restore(made, home, replace=True)
    with open_job_book(home) as book:
        assert len(book.entries(book.find("Lot 7"))) == 4
        assert book.check().ok
    with open_job_book(done.set_aside) as book:
        assert len(book.entries(book.find("Lot 7"))) == 5
    assert made.is_file(), "the backups stay where they were"
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["home", done.set_aside.name])


def test_restore_into_an_empty_folder_needs_no_force(home, tmp_path):
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
    (tmp_path / "empty").mkdir()
    assert restore(made, tmp_path / "empty").jobs == 2


def _changed(made, path, change):
    """Write a copy of a backup with its members changed by `change(dict)`."""
    with zipfile.ZipFile(made) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def _rename(members, old, new):
    manifest = json.loads(members["manifest.json"])
    manifest["files"][new] = manifest["files"].pop(old)
    members[new] = members.pop(old)
    members["manifest.json"] = json.dumps(manifest).encode()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda m: m.update({"settings.toml": b"firm = 'Other'"}), "not what was written"),
        (lambda m: m.pop("settings.toml"), "not those that its manifest lists"),
        (lambda m: m.update({"extra.txt": b"x"}), "not those that its manifest lists"),
        (lambda m: m.pop("manifest.json"), "no manifest"),
        (lambda m: m.update({"manifest.json": b"[]"}), "no manifest"),
        (lambda m: m.update({"manifest.json": m["manifest.json"].replace(b'"format": 1', b'"format": 2')}), "newer version"),
        (lambda m: _rename(m, "settings.toml", "../outside.toml"), "points outside"),
        (lambda m: _rename(m, "settings.toml", "/outside.toml"), "points outside"),
        (lambda m: _rename(m, "settings.toml", "program.exe"), "no backup holds"),
        (lambda m: _rename(m, "job_book.sqlite", "attachments/x"), "database is missing"),
    ],
)
def test_a_damaged_or_hostile_backup_is_refused_and_nothing_is_switched(home, tmp_path, change, said):
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
    before = _everything(home)
    bad = _changed(made, tmp_path / "bad.zip", change)
    for act in (lambda: verify_backup(bad), lambda: restore(bad, home, replace=True), lambda: restore(bad, tmp_path / "new")):
        with pytest.raises(StoreError, match=said):
            act()
    assert _everything(home) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.zip", "home", "kept.zip"]


def test_a_cut_off_or_missing_backup_is_refused(home, tmp_path):
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
    cut = tmp_path / "cut.zip"
    cut.write_bytes(made.read_bytes()[:-200])
    with pytest.raises(StoreError):
        restore(cut, tmp_path / "new")
    with pytest.raises(NotFound):
        restore(tmp_path / "nowhere.zip", tmp_path / "new")
    with pytest.raises(NotFound):
        verify_backup(tmp_path / "nowhere.zip")
    assert not (tmp_path / "new").exists()


def test_a_backup_whose_manifest_is_right_but_whose_entries_are_not_is_refused(home, tmp_path):
    _tamper(home, """UPDATE entries SET body = '{"depth": 35.0}' WHERE sequence = 3""")
    with open_job_book(home) as book, pytest.raises(StoreError, match="does not match its hash"):
        book.backup(tmp_path / "kept.zip")
    assert not list(tmp_path.glob("*.zip"))
    assert not list(tmp_path.glob(".*"))


def test_a_backup_taken_while_others_write_is_of_one_moment(home, tmp_path):
    import threading

    with open_job_book(home) as book:
        job = book.find("Lot 7")
        stop = threading.Event()

        def work():
            while not stop.is_set():
                book.write_all(job, [("rig.note", {"text": "one"}), ("rig.note", {"text": "two"})], by="sam")

        thread = threading.Thread(target=work)
        thread.start()
        try:
            made = [book.backup(tmp_path / f"{n}.zip") for n in range(3)]
        finally:
            stop.set()
            thread.join()
    for n, path in enumerate(made):
        restore(path, tmp_path / f"back-{n}")
        with open_job_book(tmp_path / f"back-{n}") as book:
            assert book.check().ok
            assert len(book.job(book.find("Lot 7")).hole.notes) % 2 == 0


def test_open_sessions_do_not_travel_in_a_backup(home, tmp_path):
    with open_job_book(home) as book:
        accounts = Accounts(book.engine)
        token = accounts.open_session(accounts.create_user("Sam", "owner", "three wet rods and a hat"))
        made = book.backup(tmp_path / "kept.zip")
        assert accounts.session(token) is not None
    restore(made, tmp_path / "new")
    with open_job_book(tmp_path / "new") as book:
        assert [a.name for a in Accounts(book.engine).users()] == ["Sam"]
        with reading(book.engine) as connection:
            assert connection.execute(sa.select(sa.func.count()).select_from(sessions)).scalar() == 0


def test_an_older_form_in_a_backup_is_brought_up_when_restored(home, tmp_path):
    with open_job_book(home) as book:
        made = book.backup(tmp_path / "kept.zip")
    script = sorted((Path(__file__).parent / "schemas").glob("*.sql"))[0]
    connection = sqlite3.connect(tmp_path / "old.sqlite")
    connection.executescript(script.read_text(encoding="utf-8"))
    connection.execute("DELETE FROM attachments")
    connection.commit()
    connection.close()
    database = (tmp_path / "old.sqlite").read_bytes()

    def change(members):
        manifest = json.loads(members["manifest.json"])
        manifest["files"] = {"job_book.sqlite": {"sha256": sha256(database).hexdigest(), "size": len(database)}}
        members.clear()
        members.update({"job_book.sqlite": database, "manifest.json": json.dumps(manifest).encode()})

    done = restore(_changed(made, tmp_path / "older.zip", change), tmp_path / "new")
    assert (done.jobs, done.entries) == (2, 7)


def test_nightly_backups_are_made_once_a_day_and_kept_so_many_days(home):
    start = datetime(2026, 3, 2, 3, 0)
    with open_job_book(home) as book:
        (home / "backups").mkdir(exist_ok=True)
        (home / "backups" / "by-hand.zip").write_bytes(b"x")
        for day in range(6):
            made = backup_if_due(book, keep_days=3, now=start + timedelta(days=day))
            assert made == home / "backups" / f"nightly-2026-03-{2 + day:02d}.zip"
            assert verify_backup(made)["files"]
            assert backup_if_due(book, keep_days=3, now=start + timedelta(days=day, hours=9)) is None
    assert sorted(p.name for p in (home / "backups").iterdir()) == ["by-hand.zip", *[f"nightly-2026-03-{d:02d}.zip" for d in (5, 6, 7)]]


def test_an_old_backup_is_not_removed_when_the_new_one_fails(home, monkeypatch):
    with open_job_book(home) as book:
        old = backup_if_due(book, keep_days=1, now=datetime(2026, 3, 2))

        def full(*_):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("borewright.storage.backup._write", full)
        with pytest.raises(StoreError, match="No space left"):
            backup_if_due(book, keep_days=1, now=datetime(2026, 4, 2))
        assert [p.name for p in (home / "backups").iterdir()] == [old.name]
