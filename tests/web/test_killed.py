"""The server is killed with SIGKILL while entries are being posted: every acknowledged entry is there afterwards."""

from __future__ import annotations

import http.client
import threading
import time

from borewright.record import new_id
from borewright.storage import open_job_book
from tests.web.conftest import entry
from tests.web.serving import Served


def test_every_acknowledged_entry_survives_sigkill(tmp_path):
    job = new_id()
    home = tmp_path / "home"
    served = Served(home).start()
    try:
        acknowledged: set[str] = set()
        sent: dict[str, dict] = {}
        for round_number in range(3):
            stop = threading.Event()

            def loop(device: str, stop: threading.Event = stop, base: int = round_number * 10_000) -> None:
                counter = base
                while not stop.is_set():
                    batch = []
                    for _ in range(3):
                        counter += 1
                        batch.append(entry(job, "rig.note", {"text": f"{device} {counter}"}, counter, device=device))
                    sent.update({e["id"]: e for e in batch})
                    try:
                        acknowledged.update(r["id"] for r in served.post(batch))
                    except (OSError, http.client.HTTPException):
                        return

            threads = [threading.Thread(target=loop, args=(f"phone-{n}",)) for n in range(2)]
            [t.start() for t in threads]
            before = len(acknowledged)
            until = time.monotonic() + 30
            while len(acknowledged) < before + 60 and time.monotonic() < until:
                time.sleep(0.02)
            served.kill()
            stop.set()
            [t.join() for t in threads]
            assert len(acknowledged) >= before + 60
            served.start()
        with open_job_book(home) as book:
            kept = {str(e.id): e for e in book.entries(job)}
            assert acknowledged <= set(kept)
            assert set(kept) <= set(sent)
            # A batch is kept whole or not at all.
            assert len(kept) % 3 == 0
            assert len({(e.device, e.counter) for e in kept.values()}) == len(kept)
            assert book.check().ok
        # What was not acknowledged is sent again, as a phone does, and is there once.
        everything = list(sent.values())
        for first in range(0, len(everything), 500):
            served.post(everything[first:first + 500])
        with open_job_book(home) as book:
            assert {str(e.id) for e in book.entries(job)} == set(sent)
    finally:
        served.stop()
