"""The job book on disk: whole or not at all, once and for ever, the same for every reader."""

from __future__ import annotations

import hashlib
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_entries import JOB, entry

from borewright.errors import BadInput, Conflict, NotFound, StoreError
from borewright.record import fold, new_id
from borewright.storage.backup import restore
from borewright.storage.engine import reading, writing
from borewright.storage.jobbook import open_store
from borewright.storage.projection import jobs_behind, row_of
from borewright.storage.tables import jobs as jobs_table


def _opened(book, title="Lot 7 orchard house", **more):
    job = new_id()
    book.write(job, "enquiry.opened", {"title": title, **more}, by="sam", job_new=True)
    return job


def _as_written(entries):
    return sorted((replace(e, received=None, sequence=None) for e in entries), key=lambda e: e.id)


def test_what_is_written_is_read_back(book):
    job = _opened(book)
    at = datetime(2026, 3, 2, 8, 15, 0, 123456, tzinfo=timezone(timedelta(hours=9, minutes=30)))
    kept = book.write(job, "rig.struck", {"depth": 34, "typed": {"depth": "34 m"}}, by="sam", at=at)
    assert book.entry(kept.id) == kept
    assert book.entries(job)[-1] == kept
    assert kept.at.utcoffset() == timedelta(hours=9, minutes=30)
    assert kept.at == at
    assert kept.body == {"depth": 34.0, "typed": {"depth": "34 m"}}
    assert kept.received.tzinfo is not None
    assert abs(kept.received - datetime.now(UTC)) < timedelta(minutes=1)
    assert [e.counter for e in book.entries(job)] == [1, 2]
    assert book.job(job).hole.strikes[0].body.depth == 34.0


def test_writing_twice_changes_nothing(book):
    sent = [entry("enquiry.opened", 1, title="Lot 7"), entry("rig.struck", 2, depth=34.0)]
    first = book.add(sent)
    before = (book.entries(JOB), book.jobs(), book.job(JOB))
    again = book.add(sent)
    assert [r.fresh for r in first] == [True, True]
    assert [r.fresh for r in again] == [False, False]
    assert [(r.id, r.sequence, r.received) for r in again] == [(r.id, r.sequence, r.received) for r in first]
    assert (book.entries(JOB), book.jobs(), book.job(JOB)) == before


def test_an_entry_twice_in_one_batch_is_kept_once(book):
    one = entry("rig.struck", 1, depth=34)
    receipts = book.add([one, one, replace(one, body={"depth": 34.0})])
    assert [r.fresh for r in receipts] == [True, False, False]
    assert len(book.entries(JOB)) == 1


def test_the_same_id_with_other_content_is_a_conflict_and_nothing_of_the_batch_is_kept(book):
    one = entry("rig.struck", 1, depth=34.0)
    book.add([one])
    for change in ({"body": {"depth": 35.0}}, {"by": "kim"}, {"counter": 9}, {"job": new_id()}, {"at": one.at + timedelta(seconds=1)}, {"strikes_out": new_id()}):
        with pytest.raises(Conflict):
            book.add([entry("rig.struck", 2, depth=50.0), replace(one, **change), entry("rig.struck", 3, depth=60.0)])
    assert _as_written(book.entries(JOB)) == [one]
    assert len(book.job(JOB).hole.strikes) == 1


def test_bad_input_in_a_batch_keeps_nothing_of_it(book):
    with pytest.raises(BadInput):
        book.add([entry("enquiry.opened", 1, title="Lot 7"), entry("rig.struck", 2, depth=-1.0)])
    assert book.jobs() == []
    job = _opened(book)
    with pytest.raises(BadInput, match="is not a kind of entry"):
        book.write(job, "rig.strike", {"depth": 3}, by="sam")
    with pytest.raises(BadInput):
        book.write_all(job, [("rig.struck", {"depth": 3}), ("rig.struck", {"depth": -3})], by="sam")
    with pytest.raises(BadInput):
        book.write(job, "rig.struck", {"depth": 3}, by="")
    with pytest.raises(BadInput, match="no offset"):
        book.write(job, "rig.struck", {"depth": 3}, by="sam", at=datetime(2026, 3, 2))
    assert len(book.entries(job)) == 1


def test_an_error_on_the_way_leaves_no_trace(book, monkeypatch):
    job = _opened(book)
    before = (book.entries(job), book.jobs())

    def broken(_):
        raise RuntimeError("the power went")

    monkeypatch.setattr("borewright.storage.jobbook.row_of", broken)
    with pytest.raises(RuntimeError):
        book.write(job, "rig.struck", {"depth": 34}, by="sam")
    monkeypatch.undo()
    assert (book.entries(job), book.jobs()) == before
    assert not book.job(job).holes
    book.write(job, "rig.struck", {"depth": 34}, by="sam")
    assert len(book.job(job).hole.strikes) == 1
    assert book.check().ok


def test_a_batch_is_counted_in_the_list_when_the_list_is_next_read_by_any_program(tmp_path):
    other = new_id()
    with open_store(tmp_path) as book, open_store(tmp_path) as second:
        book.add([entry("enquiry.opened", 1, title="Lot 7"), replace(entry("rig.struck", 2, depth=34.0), job=other)])
        book.add([entry("rig.struck", 3, depth=40.0)])
        assert {line.id: (line.depth, line.entries) for line in second.jobs()} == {JOB: (40.0, 2), other: (34.0, 1)}
        assert second.jobs() == book.jobs()
        with reading(book.engine) as connection:
            assert jobs_behind(connection) == []
        book.add([entry("rig.struck", 4, depth=50.0)])
    with open_store(tmp_path) as book:  # the program ended before anybody read the list
        assert book.check().ok
        assert next(line for line in book.jobs() if line.id == JOB).depth == 50.0
        book.add([entry("rig.struck", 5, depth=60.0)])
        assert book.check(rebuild=True).ok
        with reading(book.engine) as connection:
            assert jobs_behind(connection) == []
        assert next(line for line in book.jobs() if line.id == JOB).depth == 60.0


def test_a_list_that_cannot_be_renewed_stays_behind_and_loses_nothing(book, monkeypatch):
    book.add([entry("enquiry.opened", 1, title="Lot 7")])

    def broken(_):
        raise RuntimeError("the power went")

    monkeypatch.setattr("borewright.storage.jobbook.row_of", broken)
    with pytest.raises(RuntimeError):
        book.jobs()
    monkeypatch.undo()
    with reading(book.engine) as connection:
        assert jobs_behind(connection) == [JOB]
    assert [line.title for line in book.jobs()] == ["Lot 7"]


def test_the_receipts_say_the_numbers_that_the_rows_have(book):
    held = entry("rig.struck", 1, depth=1.0)
    book.add([held])
    batch = [entry("rig.struck", n, depth=float(n)) for n in range(2, 700)]
    receipts = book.add([*batch[:300], held, *batch[300:], batch[5]])
    assert [r.fresh for r in receipts] == [True] * 300 + [False] + [True] * 398 + [False]
    assert {r.id: r.sequence for r in receipts} == {e.id: e.sequence for e in book.entries(JOB)}
    assert {r.id: r.received for r in receipts} == {e.id: e.received for e in book.entries(JOB)}


def test_unknown_jobs_and_entries(book):
    for ask in (book.job, book.entries, book.entry):
        with pytest.raises(NotFound):
            ask(new_id())
    with pytest.raises(NotFound):
        book.write(new_id(), "rig.note", {"text": "x"}, by="sam")
    job, other = _opened(book), _opened(book, "Other")
    elsewhere = book.entries(other)[0].id
    with pytest.raises(NotFound):
        book.write(job, "struck_out", {}, by="sam", strikes_out=elsewhere)


def test_the_database_itself_refuses_to_change_or_remove_an_entry(book):
    _opened(book)
    for statement in ("UPDATE entries SET body = '{}'", "DELETE FROM entries"):
        with pytest.raises(StoreError, match="an entry never changes"), writing(book.engine) as connection:
            connection.execute(sa.text(statement))
    assert book.check().ok


@pytest.mark.parametrize("depth", [0, 1, 50])
def test_the_list_of_jobs_is_the_fold(book, depth):
    job = _opened(book, reference="HR-19")
    book.write(job, "enquiry.customer", {"name": "A. Example"}, by="sam")
    book.write(job, "enquiry.site", {"latitude": -27.5, "longitude": 152.9}, by="sam")
    if depth:
        book.write_all(job, [("rig.advanced", {"to_depth": depth}), ("rig.flow", {"depth": depth, "flow": 4e-4, "method": "bucket"})], by="sam")
    (line,) = book.jobs()
    assert (line.id, line.title, line.reference, line.customer) == (job, "Lot 7 orchard house", "HR-19", "A. Example")
    assert (line.latitude, line.longitude) == (-27.5, 152.9)
    assert (line.depth, line.flow) == ((depth, 4e-4) if depth else (None, None))
    assert (line.stage, line.outcome) == ("rig" if depth else "enquiry", "open")
    with reading(book.engine) as connection:
        row = connection.execute(sa.select(jobs_table)).one()._asdict()
    assert row == row_of(fold(book.entries(job)))


def test_the_job_written_to_last_stands_first(book):
    first, second = _opened(book, "First"), _opened(book, "Second")
    assert [line.id for line in book.jobs()] == [second, first]
    book.write(first, "rig.note", {"text": "x"}, by="sam")
    assert [line.id for line in book.jobs()] == [first, second]


def test_a_kind_from_a_newer_version_is_kept(book):
    newer = entry("moon.landed", 1, version=7, crater="Copernicus", rim=[1, {"a": None}])
    book.add([newer])
    assert _as_written(book.entries(JOB)) == [newer]
    assert [e.id for e in book.job(JOB).unknown] == [newer.id]
    report = book.check()
    assert report.ok
    assert any("newer than this program" in note for note in report.notes)


@given(st.permutations(range(8)), st.lists(st.integers(0, 8), min_size=0, max_size=3))
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_order_and_any_batches_of_arrival_give_the_same_job(tmp_path_factory, order, cuts):
    made = [
        entry("enquiry.opened", 1, title="Lot 7"), entry("rig.struck", 2, minutes=300, depth=34.0), entry("rig.struck", 1, device="phone-b", minutes=-400, depth=43.0),
        entry("rig.flow", 2, device="phone-b", minutes=-390, depth=44.0, flow=3e-4, method="bucket"),
    ]
    made += [entry("struck_out", 3, minutes=310, strikes=made[2]), entry("enquiry.customer", 4, name="Ash")]
    made += [entry("struck_out", 3, device="phone-b", minutes=-300, strikes=made[4]), entry("enquiry.customer", 4, device="phone-b", minutes=-200, name="Birch")]
    expected = fold(made)
    with open_store(tmp_path_factory.mktemp("order")) as book:
        edges = sorted({0, 8, *cuts})
        for start, end in zip(edges, edges[1:], strict=False):
            book.add([made[i] for i in order[start:end]])
        job = book.job(JOB)
        assert _as_written(e for e, _ in job.history) == _as_written(made)
        assert [e.id for e, _ in job.history] == [e.id for e, _ in expected.history]
        assert [s and s.id for _, s in job.history] == [s and s.id for _, s in expected.history]
        assert [f.body for f in job.hole.strikes] == [f.body for f in expected.hole.strikes]
        assert job.customer.body == expected.customer.body
        assert job.title == expected.title
        assert book.check().ok


def test_a_struck_out_entry_stays_readable_after_reopening(tmp_path):
    with open_store(tmp_path) as book:
        job = _opened(book)
        wrong = book.write(job, "rig.struck", {"depth": 43}, by="sam")
        book.write(job, "struck_out", {"why": "wrong rod count"}, by="kim", strikes_out=wrong.id)
    with open_store(tmp_path) as book:
        struck = {e.id: s for e, s in book.job(job).history if s is not None}
        assert struck[wrong.id].by == "kim"
        assert struck[wrong.id].body == {"why": "wrong rod count"}
        assert book.entry(wrong.id).body == {"depth": 43.0}
        assert not book.job(job).holes


def test_finding_a_job_as_a_person_names_it(book):
    orchard = _opened(book, "Lot 7 orchard house", reference="HR-19")
    dairy = _opened(book, "Dairy top paddock", reference="HR-20")
    _opened(book, "Dairy bottom paddock")
    assert book.find(str(orchard)) == orchard
    assert book.find(orchard.hex[-6:]) == orchard
    assert book.find(str(orchard)[:20]) == orchard
    assert book.find("hr-19") == orchard
    assert book.find("  LOT 7   orchard house ") == orchard
    assert book.find("orchard") == orchard
    assert book.find("Dairy top") == dairy
    with pytest.raises(BadInput, match="Dairy bottom paddock"):
        book.find("dairy")
    with pytest.raises(NotFound, match="Lot 7 orchard house"):
        book.find("Lot 7 orchrad hose")
    with pytest.raises(BadInput, match="is empty"):
        book.find(" ")


def test_threads_writing_at_once_lose_nothing_and_count_without_a_gap(book):
    job = _opened(book)
    failed = []

    def work(name):
        try:
            for n in range(15):
                book.write(job, "rig.note", {"text": f"{name} {n}"}, by=name)
                book.job(job)
        except Exception as error:  # noqa: BLE001 - a thread's error must reach the test
            failed.append(error)

    threads = [threading.Thread(target=work, args=(f"hand-{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    assert [e.counter for e in book.entries(job)] == list(range(1, 62))
    assert len(book.job(job).hole.notes) == 60
    assert book.check().ok


def test_two_programs_on_one_folder_see_each_other(tmp_path):
    with open_store(tmp_path) as one, open_store(tmp_path) as two:
        job = _opened(one)
        assert len(two.job(job).history) == 1
        one.write(job, "rig.struck", {"depth": 34}, by="sam")
        assert len(two.job(job).hole.strikes) == 1
        two.write(job, "rig.struck", {"depth": 50}, by="kim")
        assert len(one.job(job).hole.strikes) == 2
        assert one.device == two.device
        assert [e.counter for e in one.entries(job)] == [1, 2, 3]


def test_what_is_new_since(book):
    job = _opened(book)
    last = book.entries(job)[-1].sequence
    kept = book.write_all(job, [("rig.note", {"text": str(n)}) for n in range(5)], by="sam")
    assert book.since(last) == kept
    assert book.since(last, limit=2) == kept[:2]
    assert book.since(last, job=new_id()) == []


def test_attachments_are_named_by_what_they_hold(book):
    name = book.attach(b"a photo")
    assert name == hashlib.sha256(b"a photo").hexdigest()
    path = book.attachment(name)
    assert path.read_bytes() == b"a photo"
    changed = path.stat().st_mtime_ns
    assert book.attach(b"a photo") == name
    assert path.stat().st_mtime_ns == changed
    path.write_bytes(b"a rotto")
    assert book.attach(b"a photo") == name
    assert path.read_bytes() == b"a photo"
    assert not [p for p in path.parent.iterdir() if p.name.endswith(".part")]
    with pytest.raises(NotFound):
        book.attachment("0" * 64)
    for bad in ("../../etc/passwd", "0" * 63, "", "Z" * 64):
        with pytest.raises(BadInput):
            book.attachment(bad)
    with pytest.raises(BadInput, match="is empty"):
        book.attach(b"")


def test_a_busy_or_unwritable_store_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr("borewright.storage.engine.BUSY_SECONDS", 0.2)
    with open_store(tmp_path) as one, open_store(tmp_path) as two:
        job = _opened(one)
        with writing(one.engine), pytest.raises(StoreError, match="busy"):
            two.write(job, "rig.note", {"text": "x"}, by="sam")
        two.write(job, "rig.note", {"text": "x"}, by="sam")
    (tmp_path / "not-a-database").mkdir()
    (tmp_path / "not-a-database" / "job_book.sqlite").write_bytes(b"this is a shopping list, not a database" * 40)
    with pytest.raises(StoreError):
        open_store(tmp_path / "not-a-database")


def test_every_commit_reaches_the_disk(tmp_path):
    with open_store(tmp_path) as book, reading(book.engine) as connection:
        pragmas = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous", "foreign_keys")}
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_a_backup_from_any_engine_comes_back_as_a_file_of_its_own(book, tmp_path):
    job = _opened(book, "Lot 7 \x00 orchard")
    struck = book.write(job, "rig.struck", {"depth": 34}, by="sam")
    book.write(job, "struck_out", {}, by="sam", strikes_out=struck.id)
    book.attach(b"a photo")
    restore(book.backup(tmp_path / "kept.zip"), tmp_path / "new")
    with open_store(tmp_path / "new") as other:
        assert other.entries(job) == book.entries(job)
        assert other.jobs() == book.jobs()
        assert other.check().ok
        assert other.write(job, "rig.note", {"text": "x"}, by="sam").sequence == 4
