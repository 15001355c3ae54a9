"""Who entered it: the desk says, not the phone."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from borewright.storage import Accounts
from borewright.web import create_app
from borewright.web.guard import LOOPBACK, Access
from borewright.web.signed import signed_name
from tests.web.conftest import entry

WORDS = "four invented words here"
NAMES = ("Invented Ada", "Invented Ben")


@pytest.fixture
def locked(book):
    accounts = Accounts(book.engine)
    for name in NAMES:
        accounts.create_user(name, "driller", WORDS)
    with TestClient(create_app(book, book.folder, access=Access(hosts=LOOPBACK, sign_in=True)), base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


def _sign_in(client, name):
    assert client.post("/sign-in", data={"name": name, "passphrase": WORDS}).status_code == 303


def test_an_entry_carries_who_is_signed_in_and_the_phones_own_clock_and_count(locked, book, job):
    _sign_in(locked, NAMES[0])
    forged = entry(job, "rig.note", {"text": "by another hand"}, 7) | {"by": "Invented Ben"}
    own = entry(job, "rig.note", {"text": "by me"}, 8) | {"by": "invented ada"}
    assert locked.post("/api/entries", json=[forged, own]).status_code == 200
    kept = {str(e.id): e for e in book.entries(job)}
    assert kept[forged["id"]].by == "Invented Ada (phone: Invented Ben)" and kept[own["id"]].by == "Invented Ada"
    assert (kept[forged["id"]].device, kept[forged["id"]].counter, kept[forged["id"]].at.isoformat()) == (forged["device"], 7, forged["at"])


def test_sent_again_by_another_it_is_the_same_entry_under_the_first_name(locked, book, job):
    sent = [entry(job, "rig.note", {"text": str(n)}, n) for n in (1, 2)]
    _sign_in(locked, NAMES[0])
    assert locked.post("/api/entries", json=sent[:1]).status_code == 200
    _sign_in(locked, NAMES[1])
    receipts = locked.post("/api/entries", json=sent).json()["receipts"]
    assert [r["fresh"] for r in receipts] == [False, True]
    names = {e.counter: e.by for e in book.entries(job) if e.device == "phone-test"}
    assert names == {1: "Invented Ada (phone: tester)", 2: "Invented Ben (phone: tester)"}
    changed = sent[0] | {"body": {"text": "not what it was"}}
    assert locked.post("/api/entries", json=[changed]).status_code == 409


def test_a_long_name_is_cut_and_the_account_stays_whole():
    assert signed_name("Ada", " ada ") == "Ada"
    long = signed_name("Invented Ada", "x" * 120)
    assert long.startswith("Invented Ada (phone: xxx") and len(long) <= 120
