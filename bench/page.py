"""Time to fetch the page of a job with 500 entries over loopback, against the 100 ms that it is meant to keep within.

Run: python bench/page.py [--pages 60]. Starts a real server on an empty folder, writes one invented job, fetches its pages in turn
over one connection, and prints the median and the ninth decile of each. The first fetch after an entry draws the section anew;
the rest find it kept; both are told.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

ENTRIES, LIMIT = 500, 0.100
STAGES = ("rig", "history", "quote", "papers")


def fill(home: Path) -> str:
    """Write one job with 500 entries and return its id."""
    from borewright.record import Entry, new_id
    from borewright.storage import open_job_book

    job, begun = new_id(), datetime(2026, 3, 2, 8, tzinfo=UTC)
    made: list[Entry] = []

    def write(kind: str, body: dict) -> None:
        made.append(Entry(id=new_id(), job=job, kind=kind, at=begun + timedelta(minutes=len(made)), by="bench", device="bench", counter=len(made), body=body))

    write("enquiry.opened", {"title": "Bench paddock (invented)"})
    write("enquiry.need", {"flow": 0.25e-3})
    write("enquiry.site", {"latitude": -38.4, "longitude": -18.2})
    write("rig.hole_started", {"rod_length": 1.0})
    write("rig.bit", {"diameter": 0.165})
    for metre in range(1, 121):
        write("rig.advanced", {"to_depth": float(metre)})
        if metre % 6 == 0:
            write("rig.ground", {"from_depth": metre - 6.0, "to_depth": float(metre), "words": "granite" if metre > 18 else "clay"})
        if metre % 24 == 0:
            write("rig.struck", {"depth": float(metre)})
            write("rig.flow", {"depth": float(metre), "method": "estimate", "flow": metre / 1e6})
    write("rig.casing", {"from_depth": 0.0, "to_depth": 120.0, "string": "production", "outside_diameter": 0.125})
    write("rig.level", {"depth_to_water": 9.0})
    while len(made) < ENTRIES:
        write("rig.note", {"text": f"note {len(made)}", "depth": float(len(made) % 120)})
    with open_job_book(home) as book:
        book.add(made)
    return str(job)


def fetch(connection: http.client.HTTPConnection, path: str) -> float:
    """Return the seconds that one page took to arrive whole."""
    begun = time.perf_counter()
    connection.request("GET", path)
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 200, (path, answer.status)
    return time.perf_counter() - begun


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pages", type=int, default=60, help="fetches of each page")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        job = fill(Path(folder))
        environment = os.environ | {"BOREWRIGHT_HOME": folder, "PYTHONUNBUFFERED": "1"}
        command = [sys.executable, "-m", "borewright.cli.main", "serve", "--port", "0"]
        server = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)
        try:
            port = int(re.search(r":(\d+)", server.stdout.readline().split("//")[1]).group(1))
            connection = http.client.HTTPConnection("localhost", port, timeout=60)
            slow = False
            for stage in STAGES:
                first = fetch(connection, f"/jobs/{job}/{stage}")
                times = sorted(fetch(connection, f"/jobs/{job}/{stage}") for _ in range(arguments.pages))
                median = statistics.median(times)
                slow = slow or median > LIMIT
                print(f"{stage:8} first {first * 1e3:7.1f} ms   median {median * 1e3:7.1f} ms   ninth decile {times[int(0.9 * len(times))] * 1e3:7.1f} ms   {median / LIMIT:5.2f} of {LIMIT * 1e3:.0f} ms")
        finally:
            server.terminate()
            server.wait()
    return 1 if slow else 0


if __name__ == "__main__":
    raise SystemExit(main())
