"""A real headless Chromium at phone size: the rig page with the network cut, and the way from the job to its bore record."""

from __future__ import annotations

import re
import shutil
import time

import pytest

from borewright.storage import open_job_book
from tests.web.serving import Served
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture(scope="module")
def chromium():
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def served(tmp_path, quoted):
    home = tmp_path / "home"
    with open_job_book(home) as book:
        book.add(quoted)
    server = Served(home).start()
    yield server
    server.stop()


class Phone:
    """A phone with the rig page on it; counts taps."""

    def __init__(self, browser, served, job):
        self.served, self.job, self.taps = served, job, 0
        self.context = browser.new_context(**PHONE)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        self.page.set_default_timeout(20_000)

    def first_opening(self, name: str = "driller") -> None:
        self.page.goto(f"{self.served.base}/rig/{self.job}")
        self.page.get_by_role("button", name=name, exact=True).click()
        self.page.get_by_role("button", name="Ground", exact=True).wait_for()
        self.page.evaluate("""async () => {
            await navigator.serviceWorker.ready;
            while (!navigator.serviceWorker.controller) await new Promise((go) => setTimeout(go, 50));
        }""")

    def open(self) -> None:
        self.page.goto(f"{self.served.base}/rig/{self.job}")
        self.page.get_by_role("button", name="Ground", exact=True).wait_for()

    def tap(self, name: str) -> None:
        self.page.locator("button").filter(has_text=re.compile(f"^{re.escape(name)}$")).first.click()
        self.taps += 1

    def rod(self) -> None:
        button = self.page.get_by_role("button", name="Next rod")
        said = button.text_content()
        button.click()
        self.taps += 1
        self.page.get_by_text(said, exact=True).wait_for(state="detached")

    def start_hole(self, rod: str = "3 m") -> None:
        self.tap("Start the hole")
        self.tap(rod)
        self.tap("Start the hole")
        self.page.get_by_role("button", name="Next rod").wait_for()

    def outbox(self) -> str:
        return self.page.locator("#outbox").text_content()

    def wait_sent(self) -> None:
        self.wait_outbox("All sent")

    def wait_outbox(self, words: str) -> None:
        self.page.locator("#outbox").filter(has_text=re.compile(f"^{words}$")).wait_for(timeout=60_000)

    def wait_depth(self, words: str) -> None:
        self.page.locator(".depth").filter(has_text=re.compile(f"^{words}$")).wait_for()


@pytest.fixture
def phone(chromium, served, quoted):
    one = Phone(chromium, served, quoted[0].job)
    yield one
    one.context.close()
    assert not one.faults


def test_a_hole_is_logged_offline_sent_when_coverage_is_back_and_its_record_downloaded(phone, served, quoted):
    job = quoted[0].job
    page = phone.page
    phone.first_opening()
    phone.context.set_offline(True)
    phone.open()  # the second opening, with no network at all
    phone.taps = 0
    phone.start_hole()
    for _ in range(4):
        phone.rod()
    phone.tap("Ground")
    phone.tap("clay")
    page.get_by_role("button", name="Next rod").wait_for()
    for _ in range(4):
        phone.rod()
    phone.tap("Ground")
    phone.tap("granite")
    page.get_by_role("button", name="Next rod").wait_for()
    phone.tap("Water")
    phone.tap("Write down, then measure")
    page.get_by_label("Seconds to fill, s").fill("40")
    phone.tap("Write down")
    page.get_by_text("Flow 30 L/min").first.wait_for()
    expect(page.locator(".now")).to_contain_text("Stop")  # 30 L/min meets the need of 15
    phone.wait_outbox("15 not sent")
    with open_job_book(served.home) as book:
        assert not book.job(job).holes
    page.reload()  # the phone is restarted with no coverage
    page.get_by_role("button", name="Next rod").wait_for()
    expect(page.locator(".depth")).to_have_text("24 m")
    phone.wait_outbox("15 not sent")  # it may be trying to send at this moment

    phone.context.set_offline(False)
    phone.wait_sent()
    with open_job_book(served.home) as book:
        hole = book.job(job).hole
        assert hole.depth == 24.0 and len(hole.advances) == 8 and [f.body.words for f in hole.ground] == ["clay", "granite"]
        assert hole.last_flow.body.flow == pytest.approx(0.0005) and hole.last_flow.body.standard_uncertainty > 0
        assert hole.started.body.rod_length == 3.0 and hole.bits[0].body.diameter == pytest.approx(0.165)
        counters = [e.counter for e in book.entries(job) if e.device.startswith("phone-")]
        assert sorted(counters) == list(range(1, 16))

    page.goto(f"{served.base}/jobs/{job}/papers")
    with page.expect_download() as download:
        page.get_by_role("button", name="Issue the bore record").click()
    data = download.value.path().read_bytes()
    assert data.startswith(b"%PDF") and "bore-record" in download.value.suggested_filename


def test_a_wrong_tap_is_struck_out_with_two_taps_and_stays_readable(phone, served, quoted):
    phone.first_opening()
    phone.start_hole()
    phone.rod()
    phone.rod()
    page = phone.page
    expect(page.locator(".depth")).to_have_text("6 m")
    strike = page.locator("#done button")
    strike.click()
    page.get_by_role("button", name="Sure? Tap again").click()
    phone.wait_depth("3 m")
    expect(page.locator("ol.book s")).to_have_text("Rod to 6 m")
    phone.wait_sent()
    with open_job_book(served.home) as book:
        folded = book.job(quoted[0].job)
        assert folded.hole.depth == 3.0
        assert sum(striker is not None for _, striker in folded.history) == 1


def test_a_server_killed_while_a_phone_sends_loses_and_doubles_nothing(phone, served, quoted):
    phone.first_opening()
    phone.context.set_offline(True)
    phone.start_hole("1.5 m")
    for _ in range(25):
        phone.rod()
    served.kill()
    phone.context.set_offline(False)
    phone.page.locator("#outbox").click()
    phone.page.get_by_role("button", name="Send now").click()
    phone.page.get_by_text("Last try:").wait_for()
    phone.wait_outbox("28 not sent")
    served.start()
    phone.page.get_by_role("button", name="Send now").click()
    time.sleep(0.05)
    served.kill()
    served.start()
    phone.page.goto(f"{served.base}/rig/{phone.job}")
    phone.wait_sent()
    with open_job_book(served.home) as book:
        mine = [e for e in book.entries(quoted[0].job) if e.device.startswith("phone-")]
        assert sorted(e.counter for e in mine) == list(range(1, 29))
        assert book.job(quoted[0].job).hole.depth == 37.5


def test_two_phones_on_one_hole_with_a_clock_an_hour_wrong(chromium, served, quoted):
    job = quoted[0].job
    first, second = Phone(chromium, served, job), Phone(chromium, served, job)
    second.page.add_init_script("const real = Date; const late = 3600000; window.Date = class extends real { constructor(...a) { if (a.length) super(...a); else super(real.now() - late); } static now() { return real.now() - late; } };")
    try:
        first.first_opening("driller")
        second.first_opening("offsider")
        first.context.set_offline(True)
        second.context.set_offline(True)
        first.start_hole()
        first.rod()
        first.rod()
        second.tap("Note, photo")
        second.page.get_by_label("Note", exact=True).fill("chips grey and sharp")
        second.tap("Write down")
        second.page.get_by_text("Note chips grey and sharp").first.wait_for()
        for one in (second, first):
            one.context.set_offline(False)
            one.wait_sent()
        with open_job_book(served.home) as book:
            folded = book.job(job)
            devices = {e.device for e, _ in folded.history if e.device.startswith("phone-")}
            assert len(devices) == 2 and folded.hole.depth == 6.0 and len(folded.hole.notes) == 1
            assert {f.entry.by for f in folded.hole.notes} == {"offsider"}
    finally:
        first.context.close()
        second.context.close()


def test_an_entry_that_the_desk_cannot_take_waits_and_blocks_nothing(phone, served, quoted):
    phone.first_opening()
    phone.context.set_offline(True)
    phone.start_hole()
    phone.page.evaluate("import('/static/rig/store.js').then((s) => s.keep(location.pathname.slice(5), [{kind: 'rig.advanced', body: {to_depth: -4}}], 'driller'))")
    phone.rod()
    phone.context.set_offline(False)
    phone.wait_outbox("1 not sent")
    phone.page.locator("#outbox").click()
    phone.page.get_by_text("The desk cannot take it").wait_for()
    with open_job_book(served.home) as book:
        assert book.job(quoted[0].job).hole.depth == 3.0


def test_what_the_desk_cannot_take_is_counted_until_it_is_struck_out(phone, served, quoted):
    phone.first_opening()
    phone.start_hole()
    phone.page.evaluate("import('/static/rig/store.js').then((s) => s.keep(location.pathname.slice(5), [{kind: 'rig.advanced', body: {to_depth: -4}}], 'driller'))")
    phone.rod()
    phone.wait_outbox("1 not sent")
    expect(phone.page.locator("#outbox")).to_contain_class("refused")
    phone.page.reload()
    phone.page.get_by_role("button", name="Next rod").wait_for()
    row = phone.page.locator("ol.book li").filter(has_text="-4 m")
    row.get_by_role("button", name="Strike out").click()
    phone.page.locator("#outbox").click()
    phone.page.get_by_role("button", name="Back", exact=True).click()
    row.get_by_role("button", name="Sure? Tap again").click()  # the first tap holds, though the page was drawn anew
    phone.wait_sent()
    expect(phone.page.locator("#outbox")).to_contain_class("clear")
    expect(phone.page.locator("ol.book s").filter(has_text="-4 m")).to_have_count(1)
    phone.page.reload()  # the desk's copy now holds the line, the phone the entry
    phone.page.get_by_role("button", name="Next rod").wait_for()
    phone.wait_sent()
    phone.page.locator("#outbox").click()
    phone.page.get_by_text("Nothing waits.").wait_for()
    expect(phone.page.locator("ol.book li").filter(has_text="-4 m")).to_contain_text("Struck out. The desk cannot take it: ")
    with open_job_book(served.home) as book:
        kept = book.job(quoted[0].job)
        assert kept.hole.depth == 3.0
        assert [entry.kind for entry, _ in kept.history].count("struck_out") == 1


def test_a_full_phone_says_that_it_did_not_keep_the_entry(phone):
    phone.first_opening()
    phone.start_hole()
    phone.page.evaluate("() => { IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); }; }")
    phone.page.get_by_role("button", name="Next rod").click()
    phone.page.get_by_text("NOT KEPT: this phone is full").wait_for()
    expect(phone.page.locator(".depth")).to_have_text("0 m")


def test_sixty_metres_in_at_most_sixty_taps_and_no_typed_words(phone, served, quoted):
    page = phone.page
    phone.first_opening()
    phone.context.set_offline(True)
    phone.taps = 0
    phone.start_hole("3 m")
    grounds = {3: "topsoil", 6: "clay", 10: "weathered rock", 15: "granite", 18: "broken rock", 20: "granite"}
    for rod in range(1, 21):
        phone.rod()
        if rod in (13, 17):
            phone.tap("Water")
            phone.tap("Write down, then measure")
            phone.tap("Tap when it starts to fill")
            page.wait_for_timeout(300)
            phone.tap("Tap when it is full")
            phone.tap("Write down")
            page.get_by_role("button", name="Next rod").wait_for()
        if rod in grounds:
            phone.tap("Ground")
            phone.tap(grounds[rod])
            page.get_by_role("button", name="Next rod").wait_for()
    phone.tap("Stop hole")
    phone.tap("enough water")
    phone.tap("Write down")
    page.get_by_role("button", name="Casing", exact=True).wait_for()
    phone.tap("Casing")
    phone.tap("production")
    to = page.get_by_label("To, m")
    for _ in range(2):  # 60 m down to 40 m by steps of ten
        page.locator("section.number", has=to).get_by_role("button", name="−10", exact=True).click()
        phone.taps += 1
    expect(to).to_have_value("40")
    phone.tap("Write down")
    page.get_by_text("Casing 0 m to 40 m").first.wait_for()
    assert phone.taps <= 60, phone.taps
    phone.context.set_offline(False)
    phone.wait_sent()
    with open_job_book(served.home) as book:
        hole = book.job(quoted[0].job).hole
        assert hole.depth == 60.0 and len(hole.advances) == 20 and len(hole.ground) == 6 and len(hole.strikes) == len(hole.flows) == 2
        assert hole.casings[0].body.to_depth == 40.0
        assert all(f.body.flow > 0 for f in hole.flows)


def test_every_target_is_big_enough_and_nothing_runs_over_at_twice_the_text(phone):
    page = phone.page
    phone.first_opening()
    phone.start_hole()
    for double in (False, True):
        if double:
            page.evaluate("document.documentElement.style.setProperty('font-size', '237.5%')")
        for panel in ("", "Ground", "Water", "Flow", "Dip", "Casing", "Grout, seal", "Airlift", "Sample", "Part rod", "Bit", "Fuel, stores", "Stand-by", "Note, photo", "Stop hole"):
            if panel:
                page.get_by_role("button", name=panel, exact=True).click()
            small = page.evaluate("""() => [...document.querySelectorAll('button, a, input, textarea, summary, label.big')]
                .filter((e) => e.offsetParent && !e.classList.contains('unseen')).map((e) => [e.textContent || e.id, e.getBoundingClientRect()])
                .filter(([, r]) => r.height < 56 || r.width < 56).map(([t, r]) => `${t} ${r.width}x${r.height}`)""")
            assert not small, (panel, small)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (panel, double)
            if panel:
                page.get_by_role("button", name="Back without writing").click()


def test_what_now_and_flow_in_chromium_agree_with_the_core(phone, quoted):
    """The same check as by node, for a machine that has Chromium only."""
    from borewright.pricing import what_now_from_table
    from borewright.record import fold
    from borewright.rig.flow import flow_from_readings
    from borewright.work.quoting import policy_of

    table = policy_of(fold(quoted))
    places = [(d, f * 0.25e-3, n) for d in (0.0, 12.5, 40.0, 77.0, 100.0) for f, n in ((0.0, 0), (0.4, 1), (0.9, 2), (1.0, 1))]
    phone.page.goto(f"{phone.served.base}/rig")
    got = phone.page.evaluate("async ([table, places]) => { const m = await import('/static/rig/whatnow.js'); return places.map((p) => m.whatNow(table, ...p)); }", [table, places])
    for place, answer in zip(places, got, strict=True):
        wanted = what_now_from_table(table, *place)
        assert (answer["action"], answer["reason"]) == (wanted.action, wanted.reason) and answer["odds"] == pytest.approx(wanted.odds_next_10m, abs=1e-12)
    flow = phone.page.evaluate("import('/static/rig/flow.js').then((m) => m.notchFlow([0.08, 0.082], 90))")
    assert flow["flow"] == pytest.approx(flow_from_readings("V-notch", {"heads": [0.08, 0.082]}).flow, rel=1e-12)


def test_a_tap_on_the_section_opens_its_depth(chromium, served, quoted):
    with open_job_book(served.home) as book:
        from tests.web.conftest import log_hole

        log_hole(book, quoted[0].job)
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    try:
        page.goto(f"{served.base}/jobs/{quoted[0].job}/quote")
        place = page.evaluate("""() => { const s = document.querySelector('#hole svg'); const p = new DOMPoint(Number(s.viewBox.baseVal.width) / 2, Number(s.dataset.groundY) + 31 * Number(s.dataset.scale)).matrixTransform(s.getScreenCTM()); return [p.x, p.y]; }""")
        page.mouse.click(*place)
        page.wait_for_url("**/rig?depth=*")
        assert abs(float(page.url.split("depth=")[1]) - 31.0) <= 0.6
        expect(page.locator(".near")).to_contain_text("granite")
    finally:
        context.close()


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_no_page_runs_over_its_screen_and_every_field_has_a_name(chromium, served, quoted, size):
    with open_job_book(served.home) as book:
        from tests.web.conftest import log_hole

        log_hole(book, quoted[0].job)
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    problems = []
    page.on("console", lambda m: problems.append(m.text) if m.type == "error" else None)
    try:
        stages = ("enquiry", "ground", "quote", "bore", "rig", "test", "pump", "water", "papers", "history")
        for path in ("/", "/start", "/jobs/new", "/bench", "/bench/v-notch-flow", "/bench/v-notch-flow/how", "/registers", "/rates", "/settings", "/phone", *(f"/jobs/{quoted[0].job}/{s}" for s in stages)):
            page.goto(served.base + path)
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
            nameless = page.evaluate("""() => [...document.querySelectorAll('input:not([type=hidden]), select, textarea')]
                .filter((e) => !(e.labels && e.labels.length) && !e.getAttribute('aria-label')).map((e) => e.name)""")
            assert not nameless, (path, nameless)
            expect(page.locator("h1"), path).to_have_count(1)
            twice = page.evaluate("() => { const ids = [...document.querySelectorAll('[id]')].map((e) => e.id); return ids.filter((id, i) => ids.indexOf(id) !== i); }")
            assert not twice, (path, twice)
        assert not problems
    finally:
        context.close()
