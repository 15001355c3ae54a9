"""Ten thousand entries from two phones over HTTP, with batches sent twice and the server killed twice on the way: none lost, none doubled."""

from __future__ import annotations

import http.client
import random
import threading
import time

import pytest

from borewright.record import new_id
from borewright.storage import open_job_book
from tests.web.conftest import entry
from tests.web.serving import Served

TOTAL, BATCH = 10_000, 200  # the batch is the phone's own


@pytest.mark.slow
def test_ten_thousand_entries_are_there_once(tmp_path):
    job, home = new_id(), tmp_path / "home"
    served = Served(home).start()
    try:
        dice = random.Random(7)
        sent = {d: [entry(job, "rig.note", {"text": f"{d} {n}"}, n, device=d) for n in range(1, TOTAL // 2 + 1)] for d in ("phone-a", "phone-b")}
        twice = {(d, first) for d in sent for first in range(0, TOTAL // 2, BATCH) if dice.random() < 0.2}
        assert len(twice) >= 5
        receipts: dict[str, list[bool]] = {}
        failures, troubles = [], []

        def send(device: str) -> None:
            for first in range(0, TOTAL // 2, BATCH):
                batch = sent[device][first:first + BATCH]
                for _ in range(2 if (device, first) in twice else 1):
                    until = time.monotonic() + 120
                    while True:
                        try:
                            for receipt in served.post(batch):
                                receipts.setdefault(receipt["id"], []).append(receipt["fresh"])
                            break
                        except (OSError, http.client.HTTPException) as error:
                            failures.append(error)
                            if time.monotonic() > until:
                                troubles.append(error)
                                return
                            time.sleep(0.1)

        threads = [threading.Thread(target=send, args=(d,)) for d in sent]
        [t.start() for t in threads]
        for share in (0.25, 0.6):
            until = time.monotonic() + 240
            while len(receipts) < share * TOTAL and time.monotonic() < until and any(t.is_alive() for t in threads):
                time.sleep(0.02)
            served.kill()
            served.start()
        [t.join() for t in threads]
        assert not troubles
        everything = {e["id"]: e for entries in sent.values() for e in entries}
        assert set(receipts) == set(everything) and len(everything) == TOTAL
        assert all(fresh.count(True) <= 1 for fresh in receipts.values())
        assert sum(len(fresh) > 1 for fresh in receipts.values()) >= len(twice) * BATCH
        assert failures  # the kills were felt
        with open_job_book(home) as book:
            kept = book.entries(job)
            assert len(kept) == TOTAL and {str(e.id) for e in kept} == set(everything)
            assert {(e.device, e.counter) for e in kept} == {(e["device"], e["counter"]) for e in everything.values()}
            assert all(e.body["text"] == everything[str(e.id)]["body"]["text"] for e in kept)
            assert len(book.job(job).hole.notes) == TOTAL
            assert book.check().ok
    finally:
        served.stop()
