"""The design page in a real Chromium: a changed row is checked at once, and with scripts off the button does the same."""

from __future__ import annotations

import pytest

from borewright.storage import open_job_book
from borewright.work.bore import design_expected
from tests.web.serving import Served
from tests.web.test_rig_browser import chromium  # noqa: F401
from tests.web.waiting import expect

pytestmark = pytest.mark.browser


@pytest.fixture
def served(tmp_path, quoted):
    home = tmp_path / "home"
    with open_job_book(home) as book:
        book.add(quoted)
        design_expected(book, quoted[0].job, by="tester")
    server = Served(home).start()
    yield server
    server.stop()


@pytest.mark.parametrize("scripts", [True, False])
def test_a_thin_wall_is_told_beside_its_row(chromium, served, quoted, scripts):  # noqa: F811
    context = chromium.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=scripts)
    page = context.new_page()
    faults: list[str] = []
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" and "422" not in said.text else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"{served.base}/jobs/{quoted[0].job}/bore/edit")
    expect(page.locator("#verdict")).to_contain_text("Every stage holds")
    row = next(n for n in (0, 1) if page.input_value(f"[name=strings-{n}-string]") == "production")
    page.select_option(f"[name=strings-{row}-casing]", "")
    page.fill(f"[name=strings-{row}-wall]", "2.6")
    if not scripts:
        page.click("button[value=check]")
    page.wait_for_selector(f'[data-notes="strings-{row}"] li.danger')
    expect(page.locator(f'[data-notes="strings-{row}"]')).to_contain_text("Fails")
    expect(page.locator("#verdict")).to_contain_text("It does not pass")
    expect(page.locator("#stage-rows")).to_contain_text("fails")
    # What cannot be built is told beside the row too, and the last good drawing stays.
    page.fill(f"[name=strings-{row}-wall]", "900")
    if not scripts:
        page.click("button[value=check]")
    page.wait_for_selector(f"[name=strings-{row}-wall][aria-invalid=true]")
    expect(page.locator(f'[data-notes="strings-{row}"]')).to_contain_text("as thick as the radius")
    expect(page.locator("#hole svg")).to_have_count(1)
    if scripts:  # measuring the page needs them
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert faults == []
    context.close()
