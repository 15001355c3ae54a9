"""Night colours on the rig page: only by a tap, kept on the phone, and every word of every screen as easy to read as by day."""

from __future__ import annotations

import pytest

from tests.web.test_rig_browser import chromium, phone, served  # noqa: F401  fixtures
from tests.web.test_rig_glass import FINE, LOOK, PANELS, WAYS, _every_screen
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
LIGHT = "rgb(255, 255, 255)"


def test_every_screen_by_night_and_back_to_day(phone):  # noqa: F811
    page = phone.page
    page.emulate_media(color_scheme="dark")  # a phone that is set dark for ever is light in the sun all the same
    phone.first_opening()
    expect(page.locator("body")).to_have_css("background-color", LIGHT)
    phone.start_hole()
    phone.rod()
    page.locator("#outbox").click()
    phone.tap("Night colours")
    expect(page.locator("body")).not_to_have_css("background-color", LIGHT)
    page.get_by_role("button", name="Back", exact=True).click()
    page.reload()
    page.get_by_role("button", name="Next rod").wait_for()
    expect(page.locator("body")).not_to_have_css("background-color", LIGHT)
    page.locator("#done").wait_for(state="hidden")
    seen = []
    for name in _every_screen(phone):
        assert page.evaluate(LOOK) == FINE, name
        seen.append(name)
    assert len(seen) == len(PANELS) + len(WAYS) + 2
    page.goto(f"{phone.served.base}/rig")
    phone.tap("Day colours")
    expect(page.locator("body")).to_have_css("background-color", LIGHT)


def test_the_height_of_the_casing_is_asked_for_only_when_the_level_is_read_from_it(phone):  # noqa: F811
    phone.first_opening()
    phone.start_hole()
    phone.tap("Dip")
    up = phone.page.get_by_label("Casing above ground, m")
    expect(up).to_be_hidden()
    phone.tap("top of casing")
    expect(up).to_be_visible()
    phone.tap("ground")
    expect(up).to_be_hidden()
