"""Ten thousand entries of a rig log into the job book, against sqlite3 executemany of the same rows in one transaction for each batch.

Run: python bench/rig_sync.py [--entries 10000] [--batch 200] [--runs 5]. Both write the same finished rows in the same batches to a file
with the same settings (WAL, the same syncing), with the same indexes; the job book also checks each entry, hashes and chains it. The job is folded and its
line in the list renewed when they are next read: that time is printed apart. What the two take is measured in turn, run by run; the median of the ratios of processor time counts, and the time by the clock stands beside it.
"""

from __future__ import annotations

import argparse
import gc
import sqlite3
import statistics
import sys
import tempfile
import time
from datetime import datetime, timedelta, timezone
from pathlib import Path

from borewright.record import Entry, entry_from_json, entry_to_json, new_id
from borewright.storage import open_job_book

LIMIT = 3.0


def made(count: int) -> list[dict]:
    """Return the entries of one invented job as a phone sends them: holes of rods, ground, strikes, flows and notes."""
    job, begun, sent = new_id(), datetime(2026, 3, 2, 8, tzinfo=timezone(timedelta(hours=10))), []  # a phone writes its own offset
    for n in range(1, count + 1):
        hole, place = 1 + n // 150, n % 150
        depth = 3.0 * (1 + place)
        kind, body = "rig.advanced", {"hole": hole, "to_depth": depth, "rods": place + 1}
        if place % 7 == 3:
            kind, body = "rig.ground", {"hole": hole, "from_depth": depth - 20.0 if depth > 20 else 0.0, "to_depth": depth, "words": "granite", "colour": "grey"}
        elif place % 29 == 5:
            kind, body = "rig.flow", {"hole": hole, "depth": depth, "method": "bucket", "readings": {"volume": 0.02, "fill_times": [39.5, 40.0]}, "flow": 5e-4, "standard_uncertainty": 1e-5}
        elif place % 11 == 8:
            kind, body = "rig.note", {"hole": hole, "text": f"returns as before, {n}"}
        entry = Entry(id=new_id(), job=job, kind=kind, at=begun + timedelta(minutes=n), by="bench", device="phone-bench", counter=n, body=body)
        sent.append(entry_to_json(entry, stored=False))
    return sent


def through_the_book(folder: Path, batches: list[list[dict]]) -> tuple[float, float, float]:
    """Return (processor, clock) seconds to take the batches as the desk does, from JSON already read to receipts, and processor seconds of the first reading after."""
    with open_job_book(folder) as book:
        book.jobs()
        gc.collect()  # what opening the book left lying about is not the sync's to tidy; while it runs the collector is on, as ever
        cpu, clock = time.process_time(), time.perf_counter()
        for batch in batches:
            receipts = book.add([entry_from_json(one) for one in batch], checked=True)
            assert len(receipts) == len(batch) and all(r.fresh for r in receipts)
        took = time.process_time() - cpu, time.perf_counter() - clock
        cpu = time.process_time()
        assert book.jobs()[0].entries == sum(map(len, batches))
        return *took, time.process_time() - cpu


def alone(path: Path, tables: list[str], settings: dict[str, int | str], columns: list[str], rows: list[list[tuple]]) -> tuple[float, float]:
    """Return (processor, clock) seconds of executemany over the same rows in the same batches."""
    base = sqlite3.connect(path, isolation_level=None)
    for name, value in settings.items():
        base.execute(f"PRAGMA {name}={value}")
    for statement in tables:
        base.execute(statement)
    gc.collect()
    insert = f"INSERT INTO entries ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    cpu, clock = time.process_time(), time.perf_counter()
    for batch in rows:
        base.execute("BEGIN IMMEDIATE")
        base.executemany(insert, batch)
        base.execute("COMMIT")
    took = time.process_time() - cpu, time.perf_counter() - clock
    base.close()
    return took


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--entries", type=int, default=10_000)
    parser.add_argument("--batch", type=int, default=200)
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    sent = made(given.entries)
    batches = [sent[i:i + given.batch] for i in range(0, len(sent), given.batch)]
    with tempfile.TemporaryDirectory() as room:  # what a program does once in its life (models, statements) is done before the clock runs
        through_the_book(Path(room), batches[:2])
    ratios, ours, theirs, clocks, reads = [], [], [], [], []
    for _ in range(given.runs):
        with tempfile.TemporaryDirectory() as room:
            home = Path(room) / "home"
            cpu, clock, read = through_the_book(home, batches)
            kept = sqlite3.connect(home / "job_book.sqlite")
            tables = [s for (s,) in kept.execute("SELECT sql FROM sqlite_master WHERE tbl_name = 'entries' AND sql IS NOT NULL ORDER BY CASE type WHEN 'table' THEN 0 WHEN 'index' THEN 1 ELSE 2 END")]
            columns = [row[1] for row in kept.execute("PRAGMA table_info(entries)") if row[1] != "sequence"]
            rows = kept.execute(f"SELECT {', '.join(chr(34) + c + chr(34) for c in columns)} FROM entries ORDER BY sequence").fetchall()
            settings = {"journal_mode": kept.execute("PRAGMA journal_mode").fetchone()[0], "synchronous": "FULL"}
            kept.close()
            assert len(rows) == given.entries
            plain_cpu, plain_clock = alone(Path(room) / "plain.sqlite", tables, settings, [f'"{c}"' for c in columns], [rows[i:i + given.batch] for i in range(0, len(rows), given.batch)])
        ratios.append(cpu / plain_cpu)
        clocks.append(clock / plain_clock)
        ours.append(cpu)
        reads.append(read)
        theirs.append(plain_cpu)
    print(f"{given.entries} entries in batches of {given.batch}: job book {statistics.median(ours):.2f} s, executemany {statistics.median(theirs):.2f} s of processor time")
    ratio = statistics.median(ratios)
    print(f"ratio {ratio:.1f} by processor time, {statistics.median(clocks):.1f} by the clock; limit {LIMIT:g} ({'within' if ratio <= LIMIT else 'OVER'})")
    print(f"the first reading of the list and the job afterwards takes {statistics.median(reads):.2f} s of processor time, once")
    return 0 if ratio <= LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())
