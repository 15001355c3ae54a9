"""The rig page when the desk is away for a week, with the phone's own clock moved on and an hour wrong, and when the desk's disk is full."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from borewright.storage import open_job_book
from tests.web.serving import Served
from tests.web.test_rig_browser import Phone, chromium, phone, served  # noqa: F401  fixtures
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
SECOND, HOUR = 1000, 3_600_000
WAITS = [5, 10, 20, 40, 80, 160, 300, 300]  # s: what the outbox waits between tries of its own
DAYS = 7
BEHIND = "(5[4-9]|[67][0-9])"  # min: an hour, less what it is moved on at the end, and the time that this test takes itself
MOVED = timedelta(seconds=sum(WAITS), hours=24 * DAYS)


class Tries:
    """Counts the phone's tries to send."""

    def __init__(self, page):
        self.page, self.made = page, 0
        page.on("request", self._one)

    def _one(self, request) -> None:
        self.made += request.url.endswith("/api/entries")

    def one_fails(self, moved: int) -> None:
        """Move the phone's clock on [ms] and wait until the try that comes of it has failed."""
        with self.page.expect_event("requestfailed", lambda request: request.url.endswith("/api/entries")):
            self.page.clock.fast_forward(moved)
        self.settled()

    def settled(self) -> None:
        expect(self.page.locator("#outbox")).to_have_text(re.compile(r"^\d+ not sent$"))


def test_a_week_with_no_desk_and_a_clock_an_hour_wrong(chromium, served, quoted):  # noqa: F811
    job, late = quoted[0].job, timedelta(hours=1)
    one = Phone(chromium, served, job)
    page = one.page
    # When the week is over the phone's clock has run a week, the desk's none: so it begins a week and an hour behind, and ends an hour behind.
    page.clock.install(time=datetime.now(UTC) - MOVED - late)
    tries = Tries(page)
    try:
        one.first_opening()
        one.wait_sent()
        served.kill()
        # From here the phone's clock stands still but for what it is moved on: how slow this machine is plays no part.
        page.clock.pause_at(datetime.fromtimestamp(page.evaluate("Date.now()") / 1000 + 30, UTC))
        one.start_hole()
        tries.settled()
        page.locator("#outbox").click()
        page.get_by_text("3 entries are on this phone only.").wait_for()
        page.get_by_text("It tries again by itself in ").wait_for()
        before = tries.made
        for wait in WAITS:
            page.clock.fast_forward((wait - 2) * SECOND)  # too early: had it tried now, the count at the end would be too large
            tries.settled()
            tries.one_fails(2 * SECOND)
        assert tries.made - before == len(WAITS)
        page.get_by_role("button", name="Back").click()
        for day in range(1, DAYS + 1):
            tries.one_fails(24 * HOUR)  # asleep for a day: one try, not hundreds
            for _ in range(3):
                one.rod()
            if day == 4:  # the battery was flat
                page.reload()
                page.get_by_role("button", name="Next rod").wait_for()
            tries.settled()
        assert tries.made - before <= len(WAITS) + 4 * DAYS + 4
        expect(page.locator(".depth")).to_have_text("63 m")
        one.wait_outbox("24 not sent")

        served.start()
        page.clock.fast_forward(5 * 60 * SECOND)  # the longest that it waits, and no tap
        one.wait_sent()
        with open_job_book(served.home) as book:
            mine = sorted((e for e in book.entries(job) if e.device.startswith("phone-")), key=lambda e: e.counter)
            assert [e.counter for e in mine] == list(range(1, 25))  # none lost, none twice
            hole = book.job(job).hole
            assert hole.depth == 63.0 and [f.body.to_depth for f in hole.advances] == [3.0 * n for n in range(1, 22)]
            assert timedelta(days=DAYS - 1) <= mine[-1].at - mine[3].at <= timedelta(days=DAYS)
            assert book.check().ok
        page.reload()
        page.get_by_text(re.compile(rf"clock is {BEHIND} min behind the desk's")).wait_for()
        page.goto(f"{served.base}/jobs/{job}/history")
        page.get_by_text(re.compile(rf"was {BEHIND} min behind")).first.wait_for(state="attached")
    finally:
        one.context.close()
    assert not one.faults


FULL = """
import os, sqlite3
_connect = sqlite3.connect
def connect(*given, **more):
    base = _connect(*given, **more)
    base.execute("PRAGMA max_page_count = 1")  # no page more than there is: what SQLite then says is what it says of a full disk
    return base
sqlite3.connect = sqlite3.dbapi2.connect = connect
"""


def test_a_full_disk_at_the_desk_is_said_and_all_of_it_goes_once_there_is_room(phone, served, quoted, tmp_path, monkeypatch):  # noqa: F811
    phone.first_opening()
    phone.wait_sent()
    served.kill()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "sitecustomize.py").write_text(FULL)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path / "full"))
    served.start()
    phone.context.set_offline(True)
    phone.start_hole("1.5 m")
    for _ in range(40):
        phone.rod()
    phone.context.set_offline(False)
    phone.page.locator("#outbox").click()
    phone.page.get_by_role("button", name="Send now").click()
    phone.page.get_by_text("Last try: The disk is full. Nothing was written. It tries again by itself").wait_for()
    phone.wait_outbox("43 not sent")
    expect(phone.page.locator("#outbox")).not_to_contain_class("refused")  # no fault of the entries
    served.kill()
    with open_job_book(served.home) as book:
        assert not [e for e in book.entries(quoted[0].job) if e.device.startswith("phone-")]
        assert book.check().ok
    monkeypatch.delenv("PYTHONPATH")
    Served.start(served)
    phone.page.get_by_role("button", name="Send now").click()
    phone.wait_sent()
    with open_job_book(served.home) as book:
        assert sorted(e.counter for e in book.entries(quoted[0].job) if e.device.startswith("phone-")) == list(range(1, 44))
        assert book.job(quoted[0].job).hole.depth == 60.0
