"""The rig page as it lies under a glove in the sun: every target of every panel, contrast, very large text, the thumb's reach, the casing tally, the sheet."""

from __future__ import annotations

import re

import pytest

from borewright.storage import open_job_book
from tests.web.test_rig_browser import chromium, phone, served  # noqa: F401  fixtures
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
PANELS = ("Ground", "Water", "Flow", "Dip", "Casing", "Grout, seal", "Airlift", "Sample", "Part rod", "Bit", "Fuel, stores", "Stand-by", "Note, photo", "Near miss", "Day sheet", "Stop hole")
WAYS = ("bucket", "V-notch", "orifice pipe", "throw of a pipe", "by eye")
LOOK = """() => {
  const shown = (e) => e.offsetParent !== null && getComputedStyle(e).visibility !== 'hidden' && !e.classList.contains('unseen');
  const small = [...document.querySelectorAll('button, a, input, textarea, summary, label.big')].filter(shown)
    .map((e) => [e.textContent.trim() || e.id, e.getBoundingClientRect()]).filter(([, r]) => r.width < 56 || r.height < 56).map(([t, r]) => `${t} ${r.width.toFixed(0)}x${r.height.toFixed(0)}`);
  const boxes = [...document.querySelectorAll('main button, main input, main textarea, main summary, main label.big')].filter(shown).map((e) => [e, e.getBoundingClientRect()]);
  const over = [];
  boxes.forEach(([a, r], i) => boxes.slice(i + 1).forEach(([b, s]) => {
    if (!a.contains(b) && !b.contains(a) && Math.min(r.right, s.right) - Math.max(r.left, s.left) > 1 && Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top) > 1) over.push(`${a.textContent} / ${b.textContent}`);
  }));
  const colour = (text) => { const n = text.match(/[\\d.]+/g).map(Number); return n.length > 3 && n[3] === 0 ? null : n.slice(0, 3); };
  const light = (rgb) => { const [r, g, b] = rgb.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const behind = (e) => { for (let at = e; at; at = at.parentElement) { const c = colour(getComputedStyle(at).backgroundColor); if (c) return c; } return [255, 255, 255]; };
  const pale = [...document.querySelectorAll('body *')].filter((e) => shown(e) && !e.closest('svg') && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())).map((e) => {
    const [a, b] = [light(colour(getComputedStyle(e).color)), light(behind(e))];
    return [e.textContent.trim().slice(0, 40), (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), e.closest('s') ? 4.5 : 7];
  }).filter(([, ratio, least]) => ratio < least).map(([t, ratio]) => `${t} ${ratio.toFixed(2)}`);
  return { small, over, pale, wide: document.documentElement.scrollWidth > innerWidth };
}"""
FINE = {"small": [], "over": [], "pale": [], "wide": False}


def _every_screen(phone):  # noqa: F811
    """Open each panel, with what folds out of it, and yield its name."""
    page = phone.page
    yield "job"
    for panel in PANELS:
        page.get_by_role("button", name=panel, exact=True).click()
        page.get_by_role("button", name="Back without writing").wait_for()
        for summary in page.locator("main summary").all():
            summary.click()
        yield panel
        for way in WAYS if panel == "Flow" else ():
            page.get_by_role("button", name=way, exact=True).click()
            yield f"Flow, {way}"
        page.get_by_role("button", name="Back without writing").click()
    page.locator("#outbox").click()
    page.get_by_role("button", name="Back", exact=True).wait_for()
    yield "outbox"
    page.get_by_role("button", name="Back", exact=True).click()


def test_targets_contrast_and_room_on_every_screen(phone):  # noqa: F811
    phone.first_opening()
    phone.tap("Start the hole")
    assert phone.page.evaluate(LOOK) == FINE
    phone.tap("Start the hole")
    phone.page.get_by_role("button", name="Next rod").wait_for()
    phone.rod()
    seen = []
    for name in _every_screen(phone):
        assert phone.page.evaluate(LOOK) == FINE, name
        seen.append(name)
    assert len(seen) == len(PANELS) + len(WAYS) + 2


@pytest.mark.parametrize("way", ["the browser's zoom", "the text alone"])
def test_at_twice_the_size_nothing_runs_over_or_lies_over_another(phone, way):  # noqa: F811
    phone.first_opening()
    phone.start_hole()
    if way == "the text alone":
        phone.page.evaluate("document.documentElement.style.setProperty('font-size', '237.5%')")
    else:  # what a zoom of 200 % makes of this glass: half the CSS pixels
        phone.page.set_viewport_size({"width": 195, "height": 422})
    for name in _every_screen(phone):
        told = phone.page.evaluate(LOOK)
        assert (told["over"], told["wide"], told["small"]) == ([], False, []), name
        foot = phone.page.evaluate("() => { const d = document.getElementById('dock'); return getComputedStyle(d).position === 'fixed' && !d.hidden ? d.offsetHeight / innerHeight : 0; }")
        assert foot <= 0.28, name


def test_the_next_rod_stands_under_the_thumb_and_does_not_move_as_the_page_fills(phone):  # noqa: F811
    phone.first_opening()
    phone.start_hole()
    where = []
    for _ in range(4):
        box = phone.page.get_by_role("button", name="Next rod").bounding_box()
        where.append((box["x"], box["y"], box["width"]))
        phone.rod()
    assert len(set(where)) == 1
    assert box["y"] > 844 * 2 / 3 and box["y"] + box["height"] <= 844 and box["width"] > 300


def test_joints_are_tallied_against_the_programme(phone, served, quoted):  # noqa: F811
    page = phone.page
    with open_job_book(served.home) as book:
        string = {"string": "production", "from_depth": 0.0, "to_depth": 24.0, "outside_diameter": 0.14, "wall": 0.0075, "material": "PVC-U"}
        book.write(quoted[0].job, "bore.design", {"basis": "by hand", "design": {"strings": [string], "annulus": []}}, by="tester")
    phone.first_opening()
    phone.context.set_offline(True)
    phone.start_hole("6 m")
    for _ in range(5):
        phone.rod()
    phone.tap("Casing")
    page.get_by_text("production: 0 m of 24 m run, 24 m to go.").wait_for()
    phone.tap("production")
    expect(page.get_by_role("button", name="140 mm", exact=True)).to_have_attribute("aria-pressed", "true")  # the size of the programme
    for _ in range(3):
        phone.tap("One more joint")
    expect(page.get_by_label("To, m")).to_have_value("18")
    expect(page.get_by_text("With this: production: 18 m of 24 m run in 3 joints, 6 m to go.")).to_have_count(1)
    phone.tap("Write down")
    page.get_by_role("button", name="Next rod").wait_for()
    phone.tap("Casing")
    page.get_by_text("production: 18 m of 24 m run in 3 joints, 6 m to go.").wait_for()
    expect(page.get_by_label("From, m")).to_have_value("18")
    for _ in range(2):
        phone.tap("One more joint")
    expect(page.get_by_text("6 m MORE than the programme")).to_have_count(1)
    phone.tap("Write down")
    phone.context.set_offline(False)
    phone.wait_sent()
    with open_job_book(served.home) as book:
        assert [(f.body.from_depth, f.body.to_depth, f.body.joints) for f in book.job(quoted[0].job).hole.casings] == [(0.0, 18.0, 3), (18.0, 30.0, 2)]


def test_a_sheet_says_what_was_refused_and_what_nobody_answered(phone, served, quoted):  # noqa: F811
    page = phone.page
    phone.first_opening()
    phone.tap("Day sheet")
    page.get_by_label("Who confirms it").fill("Ada (invented), Ben (invented)")
    page.get_by_role("group", name="hoses and whip checks").get_by_role("button", name="yes").click()
    page.get_by_role("group", name="gas looked out for").get_by_role("button", name="no").click()
    page.get_by_text("No to: gas looked out for. Put it right before the first rod.").wait_for()
    phone.tap("Write down")
    page.locator("ol.book").get_by_text(re.compile("1 yes; NO to gas looked out for; 5 not answered; Ada")).wait_for()
    phone.tap("Near miss")
    phone.tap("dropped load")
    phone.tap("Write down")
    page.locator("ol.book").get_by_text("Near miss dropped load").wait_for()
    phone.wait_sent()
    with open_job_book(served.home) as book:
        folded = book.job(quoted[0].job)
        day = folded.days[-1].body
        assert day.checks == {"hoses and whip checks": True, "gas looked out for": False} and day.crew == ("Ada (invented)", "Ben (invented)")
        assert "overhead lines looked for" in day.note and folded.holes[1].near_misses[0].body.what == "dropped load"
    page.reload()
    phone.tap("Day sheet")
    expect(page.get_by_label("Who confirms it")).to_have_value("Ada (invented), Ben (invented)")  # not typed twice


def test_a_book_that_the_phone_let_go_is_opened_again(phone):  # noqa: F811
    """As phones do to pages that were asleep: the connection is dead and nobody said so."""
    page = phone.page
    phone.first_opening()
    phone.start_hole()
    page.evaluate("import('/static/rig/store.js').then((s) => s.open()).then((base) => base.close())")
    phone.rod()
    phone.wait_depth("3 m")
    phone.wait_sent()
    page.locator("#outbox").click()
    page.get_by_text("home screen").or_(page.get_by_text("has promised")).first.wait_for()
