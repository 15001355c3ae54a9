"""The owner's page on a phone in a real Chromium: nothing is wider than the card it stands in."""

from __future__ import annotations

from datetime import UTC, datetime

import made_jobs
import pytest

from borewright.storage import open_job_book
from borewright.work.owner import write_reading
from tests.web.serving import Served
from tests.web.test_rig_browser import chromium  # noqa: F401
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
WIDER = """() => [...document.querySelectorAll('main table, main svg, main p')].filter(e => {
  const it = e.getBoundingClientRect(), card = e.parentElement.getBoundingClientRect();
  return it.width > 0 && (it.right > card.right + 0.5 || it.right > document.documentElement.clientWidth + 0.5);
}).map(e => e.textContent.trim().slice(0, 60))"""


def test_the_readings_fit_their_card(chromium, tmp_path):  # noqa: F811
    home = tmp_path / "home"
    with open_job_book(home) as book:
        book.add(made_jobs.built().entries)
        job = book.find("HR-0107")
        for year in range(2018, 2026):
            write_reading(book, job, by="tester", on=f"{year}-05-01", now=datetime(2026, 6, 1, tzinfo=UTC), static_level=12.0 + 0.1 * year % 3, pumping_level=30.0 + 0.2 * (year - 2018))
    served = Served(home).start()
    try:
        context = chromium.new_context(viewport={"width": 390, "height": 844})
        page = context.new_page()
        page.goto(f"{served.base}/jobs/{job}/owner")
        first = page.locator("details", has_text="Readings").first
        first.locator("summary").click()
        expect(first.locator("table")).to_be_visible()
        assert page.evaluate(WIDER) == []
        context.close()
    finally:
        served.stop()
