"""Reading and writing a job of 500 entries, beside what SQLite and JSON alone need for the same rows in the same run.

    python bench/job_book.py
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import tempfile
import time
from pathlib import Path

from borewright.record import new_id
from borewright.storage import open_job_book

ENTRIES, RUNS = 500, 31


def median(act, prepare=lambda: None) -> float:
    """Return the median time of an act in milliseconds."""
    times = []
    for _ in range(RUNS):
        prepare()
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1e3


def main() -> None:
    """Print one line a measurement."""
    with tempfile.TemporaryDirectory() as room, open_job_book(Path(room)) as book:
        job = new_id()
        book.write(job, "enquiry.opened", {"title": "Lot 7 (invented)"}, by="sam", job_new=True)
        kinds = [("rig.advanced", {"to_depth": 0.2 * n}) for n in range(ENTRIES // 2)]
        kinds += [("rig.flow", {"depth": 0.2 * n, "flow": 1e-5 * n, "method": "bucket", "readings": {"litres": 9, "seconds": 20.0}}) for n in range(ENTRIES - 1 - len(kinds))]
        book.write_all(job, kinds, by="sam")
        plain = sqlite3.connect(Path(room) / "job_book.sqlite")

        def alone() -> None:
            rows = plain.execute("SELECT * FROM entries WHERE job = ? ORDER BY sequence", (str(job),)).fetchall()
            assert len([json.loads(row[9]) for row in rows]) == ENTRIES

        floor = median(alone)
        print(f"SQLite and JSON alone, {ENTRIES} entries   {floor:7.2f} ms")
        for name, act, prepare in (
            ("job folded from the disk", lambda: book.job(job), book._folded.clear),
            ("job that nobody wrote to since", lambda: book.job(job), lambda: None),
        ):
            took = median(act, prepare)
            print(f"{name:<36} {took:7.2f} ms  {took / floor:5.1f}x")
        written = median(lambda: book.write(job, "rig.note", {"text": "x"}, by="sam"))
        print(f"{'one entry written and acknowledged':<36} {written:7.2f} ms")
        plain.close()


if __name__ == "__main__":
    main()
