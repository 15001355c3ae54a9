"""The phone in headless Chromium: the firm's units, the air, its own section, the clocks, and who is signed in."""

from __future__ import annotations

import re

import pytest

from borewright.storage import open_job_book, save_settings, settings_from_dict
from tests.web.test_rig_browser import Phone, chromium, phone, served  # noqa: F401  fixtures
from tests.web.waiting import expect

pytestmark = pytest.mark.browser


def test_a_hole_in_feet_by_throw_and_orifice_with_its_air_and_its_own_section(phone, served, quoted):  # noqa: F811
    job, page = quoted[0].job, phone.page
    with open_job_book(served.home) as book:
        save_settings(settings_from_dict({"units": "us", "start_of_day": ["mast clear (invented)"], "rods": ["4 1/2 in"], "compressors": ["900 cfm at 350 psi"]}), book.folder)
    phone.first_opening()
    phone.context.set_offline(True)
    phone.open()
    phone.tap("Start the hole")
    expect(page.get_by_text("does not replace your local rules")).to_have_count(1)
    page.get_by_role("group", name="mast clear (invented)").get_by_role("button", name="yes").click()
    phone.tap("20 ft")
    expect(page.get_by_role("button", name="900 cfm at 350 psi")).to_have_attribute("aria-pressed", "true")
    phone.tap("Start the hole")
    page.get_by_role("button", name="Next rod: to 20 ft").wait_for()
    page.locator(".air").filter(has_text="up the hole").wait_for()
    for _ in range(3):
        phone.rod()
    phone.wait_depth("60 ft")
    phone.tap("Ground")
    phone.tap("clay")
    page.get_by_role("button", name="Next rod").wait_for()
    page.locator("details.drawing summary").click()
    page.locator(".section svg text", has_text="clay").wait_for()  # the phone draws it itself
    expect(page.get_by_text("Drawn on this phone from its log")).to_have_count(1)
    phone.tap("Flow")
    phone.tap("throw of a pipe")
    for inches in ("15", "16", "15.5"):
        page.get_by_label("How far the jet has gone, in").fill(inches)
        phone.tap("One more reading")
    expect(page.locator(".answer")).to_contain_text("the spread of 3 readings")
    phone.tap("orifice pipe")
    page.get_by_label("Height in the tube, above the middle of the pipe, in").fill("16")
    expect(page.locator(".answer")).to_contain_text("one reading")
    expect(page.locator(".answer")).to_contain_text("US gpm")
    phone.tap("Write down")
    page.get_by_role("button", name="Next rod").wait_for()
    phone.tap("Dip")
    page.get_by_label("Water below, ft").fill("21.5")
    phone.tap("Write down")
    page.get_by_role("button", name="Next rod").wait_for()
    phone.tap("Airlift")
    page.get_by_text("Compressed air kills").wait_for()
    expect(page.locator(".answer").first).to_contain_text("Water at 21.5 ft: set the air at about")
    page.get_by_label("Turbidity, NTU").fill("40")
    phone.tap("Write down")
    page.get_by_text("Plain rule: 3 more readings in a row at or under 5 NTU").wait_for()
    phone.context.set_offline(False)
    phone.wait_sent()
    with open_job_book(served.home) as book:
        folded = book.job(job)
        hole = folded.hole
        assert hole.depth == pytest.approx(60 * 0.3048) and hole.started.body.rod_diameter == pytest.approx(0.1143) and hole.started.entry.version == 2
        assert hole.started.body.air_flow == pytest.approx(900 * 0.3048**3 / 60) and folded.days[-1].body.checks == {"mast clear (invented)": True}
        flow = hole.flows[0].body
        assert flow.method == "orifice pipe" and flow.readings == {"heads": [pytest.approx(0.4064)], "orifice_diameter": 0.0762, "pipe_inside_diameter": 0.1016}
        from borewright.rig import flow_from_readings

        wanted = flow_from_readings("orifice pipe", flow.readings)
        assert (flow.flow, flow.standard_uncertainty) == (pytest.approx(wanted.flow), pytest.approx(wanted.standard_uncertainty))
        level = hole.levels[-1].body
        assert level.depth_to_water == pytest.approx(21.5 * 0.3048) and level.typed == {"depth_to_water": "21.5 ft"}
        assert hole.airlift[0].body.turbidity == 40.0
    # Once all is sent and the desk's copy is taken, its drawing stands again.
    page.wait_for_function("() => !document.body.textContent.includes('Drawn on this phone from its log')", timeout=75_000)


def test_a_warning_comes_before_the_hole_stops_cleaning(phone, served, quoted):  # noqa: F811
    with open_job_book(served.home) as book:
        save_settings(settings_from_dict({"rods": ["89 mm"], "compressors": ["9 m3/min at 1000 kPa"]}), book.folder)
    phone.first_opening()
    phone.tap("Start the hole")
    phone.tap("254 mm")  # far too big a bit for this air
    phone.tap("Start the hole")
    air = phone.page.locator(".air")
    air.wait_for()
    expect(air).to_have_class(re.compile(r"\b(near|past)\b"))
    expect(air).to_contain_text("no longer lifts the cuttings")
    expect(air).to_have_attribute("role", "alert")


def test_a_phone_whose_clock_is_wrong_says_so_and_both_times_are_shown(chromium, served, quoted):  # noqa: F811
    one = Phone(chromium, served, quoted[0].job)
    one.page.add_init_script("const real = Date; const late = 3600000; window.Date = class extends real { constructor(...a) { if (a.length) super(...a); else super(real.now() - late); } static now() { return real.now() - late; } };")
    try:
        one.first_opening()
        one.page.get_by_text("clock is 60 min behind the desk's").wait_for()
        one.start_hole()
        one.wait_sent()
        one.page.reload()
        row = one.page.locator("ol.book li").first
        row.filter(has_text="at the desk").wait_for()
        expect(row).to_contain_text("by its device")
        expect(row).to_contain_text("Clock 60 min behind the desk's")
        one.page.goto(f"{served.base}/jobs/{one.job}/history")
        expect(one.page.get_by_text("was 60 min behind").nth(2)).to_be_attached()
    finally:
        one.context.close()
    assert not one.faults
