"""A full disk: it is said in one sentence, what was there stands, and nothing half-written is left."""

from __future__ import annotations

import errno
import json
import os
from datetime import UTC, datetime

import pytest
import sqlalchemy as sa

from borewright.errors import StoreError
from borewright.record import Entry, new_id
from borewright.storage import open_job_book
from borewright.storage.files import write_whole
from borewright.web.clocks import clocks_of, heard


@pytest.fixture
def full(monkeypatch):
    def no_room(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("borewright.storage.files.os.fsync", no_room)


def test_a_file_that_does_not_fit_leaves_the_old_one(tmp_path, full):
    path = tmp_path / "rates.toml"
    path.write_bytes(b"old")
    with pytest.raises(StoreError, match=r"^The disk is full\. Nothing was written\.$"):
        write_whole(path, b"new" * 1000)
    assert path.read_bytes() == b"old" and [p.name for p in tmp_path.iterdir()] == ["rates.toml"]


def test_a_photo_that_does_not_fit_is_not_in_the_book(tmp_path, monkeypatch, request):
    with open_job_book(tmp_path) as book:
        book.write(new_id(), "enquiry.opened", {"title": "Lot 7"}, by="sam", job_new=True)
        request.getfixturevalue("full")
        with pytest.raises(StoreError, match="The disk is full"):
            book.attach(b"a photo" * 99)
        with book.engine.connect() as connection:
            assert connection.execute(sa.text("SELECT count(*) FROM attachments")).scalar() == 0
        assert book.check().ok


def test_a_batch_that_does_not_fit_is_absent_whole_and_is_taken_once_there_is_room(tmp_path):
    job = new_id()
    batch = [Entry(id=new_id(), job=job, kind="rig.note", at=datetime.now(UTC), by="sam", device="phone-a", counter=n, body={"text": "x" * 400}) for n in range(1, 101)]
    with open_job_book(tmp_path) as book:
        sa.event.listen(book.engine, "connect", lambda connection, _: connection.execute("PRAGMA max_page_count = 1"))
        book.engine.dispose()
        with pytest.raises(StoreError, match=r"^The disk is full\. Nothing was written\.$"):
            book.add(batch)
    with open_job_book(tmp_path) as book:
        assert book.jobs() == [] and book.check().ok
        assert all(receipt.fresh for receipt in book.add(batch))
        assert len(book.entries(job)) == 100 and book.check().ok


def test_a_note_of_a_clock_that_does_not_fit_turns_nothing_away(tmp_path, full):
    (tmp_path / "device_clocks.json").write_text(json.dumps({}))
    heard(tmp_path, "phone-a", "2020-01-01T00:00:00+00:00")
    assert clocks_of(tmp_path).heard == {}
