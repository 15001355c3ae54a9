"""Time for the rig page to open on a phone with no network, with the CPU slowed four times, against the second that it must keep within.

Run: python bench/rig_page.py [--opens 15] [--entries 300]. Starts a real server on an empty folder, writes one invented job, opens the page
once in headless Chromium at phone size so that the phone keeps it, cuts the network, slows the CPU by the browser's own throttle,
and opens it again and again. Open means that the button for the next rod can be tapped. Beside it, at the same slow-down, the time for
a page with nothing on it: what the browser itself takes.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
LIMIT, SLOWER = 1.0, 4


def fill(home: Path, entries: int) -> str:
    """Write one job with a hole under way and return its id."""
    from borewright.record import Entry, new_id
    from borewright.storage import open_job_book

    job, begun = new_id(), datetime(2026, 3, 2, 8, tzinfo=UTC)
    what = [("enquiry.opened", {"title": "Bench paddock (invented)"}), ("enquiry.need", {"flow": 0.25e-3}), ("rig.hole_started", {"rod_length": 3.0}), ("rig.bit", {"diameter": 0.165})]
    for metre in range(1, entries - len(what) + 1):
        what.append(("rig.ground", {"from_depth": metre / 3 - 1 / 3, "to_depth": metre / 3, "words": "granite"}) if metre % 5 == 0 else ("rig.advanced", {"to_depth": metre / 3}))
    made = [Entry(id=new_id(), job=job, kind=k, at=begun + timedelta(minutes=n), by="bench", device="bench", counter=n, body=b) for n, (k, b) in enumerate(what)]
    with open_job_book(home) as book:
        book.add(made)
    return str(job)


def opened(page, address: str) -> float:
    """Return the seconds from asking for the page to a button that can be tapped, by the browser's own clock."""
    page.goto("about:blank")
    page.goto(address, wait_until="commit")
    page.get_by_role("button", name="Next rod").wait_for()
    return page.evaluate("performance.getEntriesByName('hole shown')[0].startTime") / 1000


def blank(page) -> float:
    """Return the seconds that an empty page with one button takes in the same browser."""
    page.goto("about:blank")
    page.goto("data:text/html,<button>Next rod</button>", wait_until="load")
    return page.evaluate("performance.timing.domContentLoadedEventEnd - performance.timing.navigationStart") / 1000


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--opens", type=int, default=15)
    parser.add_argument("--entries", type=int, default=300)
    given = parser.parse_args()
    browser_path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser_path is None:
        print("no Chromium on this machine: nothing measured")
        return 1
    from playwright.sync_api import sync_playwright

    from tests.web.serving import Served

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        job = fill(Path(folder), given.entries)
        served = Served(Path(folder)).start()
        try:
            browser = playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
            context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
            page = context.new_page()
            address = f"{served.base}/rig/{job}"
            page.goto(address)
            page.get_by_role("button", name="driller", exact=True).click()
            page.get_by_role("button", name="Next rod").wait_for()
            page.evaluate("async () => { await navigator.serviceWorker.ready; while (!navigator.serviceWorker.controller) await new Promise((go) => setTimeout(go, 50)); }")
            context.set_offline(True)
            told = {}
            for slower in (1, SLOWER):
                context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
                opened(page, address)
                told[slower] = (statistics.median(opened(page, address) for _ in range(given.opens)), statistics.median(blank(page) for _ in range(given.opens)))
            browser.close()
        finally:
            served.stop()
    for slower, (rig, empty) in told.items():
        print(f"CPU slowed {slower} x: offline page {rig * 1000:.0f} ms, empty page {empty * 1000:.0f} ms, ratio {rig / empty:.1f}")
    ratio = told[SLOWER][0] / LIMIT
    print(f"ratio to the limit of {LIMIT:g} s at {SLOWER} x: {ratio:.2f} ({'within' if ratio <= 1 else 'OVER'})")
    return 0 if ratio <= 1 else 1


if __name__ == "__main__":
    sys.exit(main())
