"""Killed at any moment: every acknowledged entry is there, nothing half-written, and the check passes."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import pytest

from borewright.record import new_id
from borewright.storage import open_job_book

# Adds batches of three entries for ever, by two threads on one book, and says each id only after its receipt.
WRITER = """
import sys, threading
from pathlib import Path
from uuid import UUID
from borewright.storage import open_job_book

book, job = open_job_book(Path(sys.argv[1])), UUID(sys.argv[2])
talk = threading.Lock()

def work(name):
    count = 0
    while True:
        kept = book.write_all(job, [("rig.note", {"text": f"{name} {count} {part}"}) for part in range(3)], by=name)
        photo = book.attach(f"{name} {count}".encode() * 2000)
        with talk:
            print(*(entry.id for entry in kept), photo, flush=True)
        count += 1

threading.Thread(target=work, args=("one",), daemon=True).start()
work("two")
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGKILL")
@pytest.mark.parametrize("seed", range(2))
def test_every_acknowledged_entry_is_there_after_sigkill(tmp_path, seed):
    job = new_id()
    with open_job_book(tmp_path) as book:
        book.write(job, "enquiry.opened", {"title": "Lot 7"}, by="sam", job_new=True)
    wait = random.Random(seed).uniform(0.15, 0.6)
    child = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), str(job)], stdout=subprocess.PIPE, text=True)
    try:
        first = child.stdout.readline()
        time.sleep(wait)
    finally:
        child.send_signal(signal.SIGKILL)
        rest, _ = child.communicate(timeout=30)
    assert child.returncode == -signal.SIGKILL
    lines = [line.split() for line in (first + rest).splitlines(keepends=True) if line.endswith("\n")]
    said = [word for line in lines for word in line[:3]]
    photos = [line[3] for line in lines]
    assert len(said) >= 3
    with open_job_book(tmp_path) as book:
        kept = book.entries(job)
        assert set(said) <= {str(entry.id) for entry in kept}
        assert (len(kept) - 1) % 3 == 0, "a batch is whole or absent"
        assert all(book.attachment(photo).stat().st_size > 0 for photo in photos)
        report = book.check()
        assert report.problems == ()
        book.write(job, "rig.note", {"text": "after the crash"}, by="sam")
        assert book.check().ok


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGKILL")
@pytest.mark.parametrize("moment", ["begin", "insert", "project", "commit"])
def test_killed_inside_a_transaction_leaves_nothing_of_it(tmp_path, moment):
    job = new_id()
    with open_job_book(tmp_path) as book:
        book.write(job, "enquiry.opened", {"title": "Lot 7"}, by="sam", job_new=True)
        before = book.jobs()
    program = f"""
import os, signal, sys
from pathlib import Path
from uuid import UUID
import sqlalchemy as sa
import borewright.storage.jobbook as j
book = j.open_store(Path(sys.argv[1]))
die = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)
if {moment!r} == "begin":
    j.JobBook._kept = die
elif {moment!r} == "insert":
    sa.event.listen(book.engine, "after_cursor_execute", lambda c, cur, text, *r: die() if text.startswith("INSERT INTO entries") else None)
elif {moment!r} == "project":
    sa.event.listen(book.engine, "after_cursor_execute", lambda c, cur, text, *r: die() if text.startswith("UPDATE jobs") else None)
else:
    sa.event.listen(book.engine, "commit", die)
book.write(UUID(sys.argv[2]), "rig.struck", {{"depth": 34}}, by="sam")
print("acknowledged")
"""
    said = subprocess.run([sys.executable, "-c", program, str(tmp_path), str(job)], capture_output=True, text=True, timeout=60)
    assert said.returncode == -signal.SIGKILL, said.stderr
    assert said.stdout == ""
    with open_job_book(tmp_path) as book:
        assert len(book.entries(job)) == 1
        assert book.jobs() == before
        assert book.check().ok


@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGKILL")
def test_a_file_killed_half_way_is_absent_and_the_old_one_stands(tmp_path):
    program = """
import os, signal, sys
from pathlib import Path
import borewright.storage.files as f
f.os.replace = lambda *a: os.kill(os.getpid(), signal.SIGKILL)
f.write_whole(Path(sys.argv[1]) / "settings.toml", b"new" * 100000)
"""
    (tmp_path / "settings.toml").write_bytes(b"old")
    said = subprocess.run([sys.executable, "-c", program, str(tmp_path)], capture_output=True, timeout=60)
    assert said.returncode == -signal.SIGKILL
    assert (tmp_path / "settings.toml").read_bytes() == b"old"
