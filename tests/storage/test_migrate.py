"""Migration: what an earlier version wrote is all there afterwards, and a failed step changes nothing."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from made_entries import JOB

from borewright.errors import StoreError
from borewright.record import new_id
from borewright.storage import migrate, tables
from borewright.storage.engine import make_engine, reading
from borewright.storage.jobbook import open_store

SCHEMAS = sorted((Path(__file__).parent / "schemas").glob("*.sql"))


def _lay(script: Path, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "job_book.sqlite"
    connection = sqlite3.connect(path)
    connection.executescript(script.read_text(encoding="utf-8"))
    connection.close()
    return path


def _rows(path: Path, table: str) -> list[tuple]:
    connection = sqlite3.connect(path)
    rows = connection.execute(f"SELECT * FROM {table}").fetchall()
    connection.close()
    return rows


def test_every_form_before_the_present_is_kept_here():
    assert [script.stem for script in SCHEMAS] == list(migrate.KNOWN[:-1])
    steps = ScriptDirectory(str(Path(migrate.__file__).parent / "migrations"))
    assert steps.get_heads() == [migrate.HEAD]
    assert [step.revision for step in steps.walk_revisions()][::-1] == list(migrate.KNOWN)


@pytest.mark.parametrize("script", SCHEMAS, ids=lambda s: s.stem)
def test_migration_keeps_the_data(script, tmp_path):
    path = _lay(script, tmp_path)
    names = ("entries", "jobs", "attachments") + (("accounts", "sessions") if script.stem >= "0002" else ())
    before = {table: _rows(path, table) for table in names}
    assert all(before.values())
    assert len(before["entries"]) == 7
    with open_store(tmp_path) as book:
        book.attach(b"a photo")  # the file that the old store named
        assert migrate.revision_of(book.engine) == migrate.HEAD
        assert {table: _rows(path, table) for table in before} == before  # this fold lists these jobs as the old one did
        job = book.job(JOB)
        assert job.title == "Lot 7 orchard house (invented)"
        assert [f.body.depth for f in job.hole.strikes] == [34.0]
        assert job.need.body.typed == {"flow": "15 L/min"}
        assert [e.kind for e in job.unknown] == ["moon.landed"]
        report = book.check()
        assert report.problems == ()
        book.write(JOB, "rig.note", {"text": "written after"}, by="sam")
        assert book.check().ok
    (copy,) = (tmp_path / "backups").glob(f"before-{script.stem}-*.sqlite")
    assert {table: _rows(copy, table) for table in before} == before


@pytest.mark.parametrize("script", [None, *SCHEMAS], ids=lambda s: s.stem if s else "fresh")
def test_a_migrated_store_has_the_tables_that_the_program_declares(script, tmp_path):
    if script:
        _lay(script, tmp_path)
    with open_store(tmp_path) as book, reading(book.engine) as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, tables.metadata) == []
        triggers = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name").scalars().all()
    assert triggers == ["entries_never_delete", "entries_never_update"]


def test_a_step_that_fails_leaves_the_store_as_it_was_and_names_the_copy(tmp_path, monkeypatch):
    path = _lay(SCHEMAS[0], tmp_path)

    def dump():
        connection = sqlite3.connect(path)
        lines = list(connection.iterdump())
        connection.close()
        return lines

    before = dump()
    from alembic.operations import Operations

    made = []
    real = Operations.create_table

    def fails(self, name, *rest, **more):
        if name == "marks":
            raise RuntimeError("the power went")
        made.append(name)
        return real(self, name, *rest, **more)

    monkeypatch.setattr(Operations, "create_table", fails)
    with pytest.raises(StoreError, match=r"(?s)Nothing has changed. A copy from before is at .*before-0001"):
        open_store(tmp_path)
    assert made == ["accounts", "sessions", "tries"], "it failed after a step that went well"
    assert dump() == before
    monkeypatch.setattr(Operations, "create_table", real)
    with open_store(tmp_path) as book:
        assert len(book.jobs()) == 2


def test_a_list_of_jobs_made_by_another_fold_is_made_anew_when_opened(tmp_path):
    with open_store(tmp_path) as book:
        job = new_id()
        book.write(job, "enquiry.opened", {"title": "Lot 7"}, by="sam", job_new=True)
    connection = sqlite3.connect(tmp_path / "job_book.sqlite")
    connection.execute("UPDATE jobs SET stage = 'rig'")
    connection.commit()
    with open_store(tmp_path) as book:
        assert book.jobs()[0].stage == "rig", "the same fold does not read everything again at each start"
    connection.execute("UPDATE marks SET value = 'another fold'")
    connection.commit()
    connection.close()
    with open_store(tmp_path) as book:
        assert book.jobs()[0].stage == "enquiry"
        assert book.check().ok


def test_a_store_of_a_newer_version_is_refused_and_not_touched(tmp_path):
    with open_store(tmp_path):
        pass
    connection = sqlite3.connect(tmp_path / "job_book.sqlite")
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    connection.close()
    with pytest.raises(StoreError, match="newer version"):
        open_store(tmp_path)
    assert _rows(tmp_path / "job_book.sqlite", "alembic_version") == [("9999",)]


def test_two_programs_that_open_a_new_store_at_once_both_get_it(tmp_path):
    import threading

    failed = []

    def opens():
        try:
            open_store(tmp_path).close()
        except Exception as error:  # noqa: BLE001 - a thread's error must reach the test
            failed.append(error)

    threads = [threading.Thread(target=opens) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed


def test_opening_a_store_that_is_up_to_date_does_not_load_the_migrations(tmp_path):
    import subprocess
    import sys

    with open_store(tmp_path):
        pass
    program = "import sys; from pathlib import Path; from borewright.storage import open_job_book; open_job_book(Path(sys.argv[1])).close(); print('alembic' in sys.modules)"
    said = subprocess.run([sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"


def test_the_engine_speaks_of_any_database_by_its_url(tmp_path):
    engine = make_engine(f"sqlite:///{tmp_path / 'named.sqlite'}")
    migrate.bring_up_to_date(engine)
    assert "entries" in sa.inspect(engine).get_table_names()
    engine.dispose()
