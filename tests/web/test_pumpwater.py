"""The pages of pump and water: what is typed, pasted or loaded is worked out and kept; what is wrong comes back beside itself."""

from __future__ import annotations

import re
import shutil

import pytest

from borewright.storage import open_job_book
from tests.web.serving import Served
from tests.web.test_pages import text_of
from tests.web.waiting import expect
from tests.work.test_supply import CURVE, SHEET, SUN, rate

POINTS = {f"{part}_{n}": v for n, row in enumerate((("0", "80", "0"), ("18", "75", "40"), ("36", "62", "55"), ("54", "40", "50"), ("72", "10", "20")), 1)
          for part, v in zip(("flow", "head", "efficiency"), row, strict=True)}


@pytest.fixture
def rated(book, job):
    return rate(book, job)


def duty_of(book, job):
    return book.job(job).hole.pump.body.duty


def test_a_curve_typed_pasted_or_loaded_gives_the_same_duty(client, book, rated):
    where = f"/jobs/{rated}/pump/choose"
    assert client.get(where).status_code == 200
    pasted = "\n".join(line.rsplit(",", 1)[0] for line in CURVE.splitlines())
    flows = []
    for given, files in ((POINTS, None), ({"curve": pasted}, None), ({}, {"curve_file": ("pump.csv", pasted.encode(), "text/csv")})):
        answer = client.post(where, data={"name": "own", "price": "0.285", "hours_a_day": "6", **given}, files=files)
        assert answer.status_code == 303, text_of(answer.text)[:2000]
        duty = duty_of(book, rated)
        assert not duty["pump"]["invented"] and duty["cost_minor_per_kl"] > 0
        flows.append(duty["flow"])
    assert flows == pytest.approx([flows[0]] * 3, rel=1e-9)
    page = client.get(where).text
    for words in ("Where it runs as the bore ages", "Pressure in the pipes against their class", "Suction head", "Water past the motor", "licensed electrician", "Volt drop running, starting", "Generator", "Surge"):
        assert words in page
    assert page.count("<svg") == 2 and re.search(r"<text[^>]*>(<tspan[^>]*>)?pump [0-9.]+\sm<", page)  # the chart, and the section with the intake hung in it
    assert client.get(f"/jobs/{rated}/pump").status_code == 200


def test_the_pump_that_went_in_keeps_what_was_worked_out_and_for_which_pump(client, book, rated):
    client.post(f"/jobs/{rated}/pump/choose", data={"name": "as planned", "curve": CURVE})
    worked = duty_of(book, rated)
    assert client.post(f"/jobs/{rated}/pump/chosen", data={"hole": "1", "name": "another", "intake_depth": "44 m"}).status_code == 303
    pump = book.job(rated).hole.pump.body
    assert (pump.name, pump.intake_depth, pump.duty) == ("another", 44.0, worked)
    assert "worked out for as planned" in client.get(f"/jobs/{rated}/pump").text


def test_without_a_curve_a_generic_one_is_taken_and_called_invented(client, book, rated):
    assert client.post(f"/jobs/{rated}/pump/choose", data={}).status_code == 303
    assert "generic one, invented" in client.get(f"/jobs/{rated}/pump/choose").text


def test_the_way_of_starting_changes_drop_and_generator_and_tells_the_speed(client, book, rated):
    kva = {}
    for start in ("direct on line", "soft start", "variable speed"):
        assert client.post(f"/jobs/{rated}/pump/choose", data={"curve": CURVE, "start": start, "phases": "3", "voltage": "400 V"}).status_code == 303
        duty = duty_of(book, rated)
        assert duty["start"] == start
        kva[start] = (duty["generator"]["rating"], duty["cable"]["start_drop"])
    assert kva["direct on line"] > kva["soft start"] and kva["soft start"][1] > kva["variable speed"][1]
    page = text_of(client.get(f"/jobs/{rated}/pump/choose").text)
    assert "Speed that gives the need, new" in page and "starting by variable speed" in page


@pytest.mark.parametrize(("given", "field", "says"), [
    ({"curve": "flow_lps,head_m\n0,50\n1,60\n2,20"}, "curve", "does not fall"), ({**POINTS, "curve": CURVE}, "curve", "given twice"), ({"flow_1": "0", "flow_2": "10"}, "curve", "lacks the head"),
    ({"curve": "flow_lps,head_m\n0,5\n0.5,4\n1,2"}, "curve", "duty off the curve"), ({"voltage": "0 V"}, "voltage", "above zero"), ({"hours_a_day": "30"}, "hours_a_day", "hours of a day"),
    ({"riser_diameter": "50 mm", "riser_material": "steel"}, "riser_wall", "not known from the size"), ({"riser_class": "1600 kPa"}, "riser_diameter", "missing beside the class"),
    ({"main_diameter": "50 mm", "main_class": "900 kPa", "main_fittings": "kink 3"}, "main_fittings", "not a fitting"), ({"price": "cheap"}, "price", "number"), ({"motor_diameter": "-4 mm"}, "motor_diameter", "below"),
    ({"further_fall": "-3 m"}, "further_fall", "below"), ({"curve": "flow_lps,head_m\n0,50\n1,lots\n2,20"}, "curve", "line 3"), ({"intake_depth": "0 m"}, "intake_depth", "above zero"), ({"phases": "2"}, "phases", "one of the choices"),
])
def test_what_is_wrong_with_a_pump_stands_beside_its_field_and_nothing_is_lost_or_written(client, book, rated, given, field, says):
    before = len(book.entries(rated))
    answer = client.post(f"/jobs/{rated}/pump/choose", data={"name": "kept words", **given})
    assert answer.status_code == 422 and 'value="kept words"' in answer.text
    said = re.search(rf'id="{field}-wrong">([^<]*)<', answer.text)
    assert said and says in said.group(1).lower() and "Want" in said.group(1)
    assert len(book.entries(rated)) == before


def test_a_file_that_is_no_text_is_refused_beside_the_curve(client, rated):
    answer = client.post(f"/jobs/{rated}/pump/choose", data={"name": "x"}, files={"curve_file": ("p.png", b"\x89PNG\x00\xff\xfe", "image/png")})
    assert answer.status_code == 422 and "not a text file" in answer.text


def test_a_job_without_a_rating_is_told_what_comes_first(client, job):
    assert "not rated yet" in client.get(f"/jobs/{job}/pump/choose").text
    assert client.post(f"/jobs/{job}/pump/choose", data={}).status_code == 422


def test_is_this_bore_enough_in_words_with_the_tank_drawn(client, book, rated):
    where = f"/jobs/{rated}/pump/demand"
    assert client.post(where, data={"n_person_all_household_use": "4", "n_dry_cattle": "30", "tank": "5000 L"}).status_code == 303
    page = client.get(where).text
    assert "Yes" in page and "short on" in page and "Agriculture Victoria" in page and page.count("<svg") == 2
    assert 'value="30"' in page and book.job(rated).demand.body.tank == pytest.approx(5.0)


@pytest.mark.parametrize(("given", "beside"), [({}, "Nothing is asked for"), ({"n_horse": "-1"}, "n_horse-wrong"), ({"n_horse": "two"}, "n_horse-wrong"), ({"n_horse": "2", "dry_days": "0"}, "dry_days-wrong"),
                                               ({"n_horse": "2", "outage_days": "99"}, "outage_days-wrong"), ({"n_horse": "2", "dry_yield": "140 %"}, "dry_yield-wrong"), ({"n_horse": "2", "pumping_hours": "0"}, "pumping_hours-wrong")])
def test_a_demand_that_cannot_be_comes_back(client, book, rated, given, beside):
    before = len(book.entries(rated))
    answer = client.post(f"/jobs/{rated}/pump/demand", data=given)
    assert answer.status_code == 422 and beside in answer.text and len(book.entries(rated)) == before


def test_the_sun_typed_or_pasted_is_drawn_by_month(client, book, rated):
    client.post(f"/jobs/{rated}/pump/choose", data={"curve": CURVE})
    where = f"/jobs/{rated}/pump/sun"
    typed = {f"m_{n}": f"{v / 3.6e6:g}" for n, v in enumerate(SUN, 1)}
    assert client.post(where, data={**typed, "demand": "3000 L"}).status_code == 303
    first = book.job(rated).hole.sun.body
    pasted = "January 24.48, 22.32 19.44; 15.12\n11.52 10.08 10.8 14.04 17.64 20.88 23.04 24.48 MJ/m2"
    assert client.post(where, data={"table": pasted, "unit": "MJ/m2 a day", "demand": "3000 L"}).status_code == 303
    second = book.job(rated).hole.sun.body
    assert second.irradiation == pytest.approx(first.irradiation) and second.answer["daily"] == pytest.approx(first.answer["daily"])
    page = client.get(where).text
    assert "June, the worst month" in page and "A tank of 9,000 L carries 3 days" in page and page.count("<svg") == 2


def test_the_sun_on_the_flat_is_turned_to_the_panels_and_both_are_shown(client, book, rated):
    client.post(f"/jobs/{rated}/pump/choose", data={"curve": CURVE})
    where = f"/jobs/{rated}/pump/sun"
    flat = {"of": "on the flat (horizontal)", "table": " ".join(f"{v / 3.6e6:g}" for v in SUN), "demand": "3000 L"}
    assert client.post(where, data={**flat, "tilt": "38"}).status_code == 303
    body = book.job(rated).hole.sun.body
    assert body.horizontal == pytest.approx(tuple(SUN)) and (body.tilt, body.azimuth) == (38.0, 0.0)  # the invented district lies south
    assert body.irradiation[5] > 1.2 * body.horizontal[5] and body.irradiation[0] < body.horizontal[0]
    page = client.get(where).text
    assert "On the flat" in page and "38° from flat, facing 0°" in page and "Erbs" in page and 'value="38"' in page
    assert client.post(where, data={**flat, "of": "on the plane of the panels"}).status_code == 303
    assert book.job(rated).hole.sun.body.horizontal is None


@pytest.mark.parametrize(("given", "field"), [({}, "tilt"), ({"tilt": "95"}, "tilt"), ({"tilt": "30", "reflectance": "140 %"}, "reflectance"), ({"tilt": "30", "latitude": "-95"}, "latitude"),
                                              ({"tilt": "30", "latitude": "60"}, "table"), ({"tilt": "30", "azimuth": "900"}, "azimuth")])
def test_panels_that_cannot_stand_so_come_back_beside_the_field(client, book, rated, given, field):
    client.post(f"/jobs/{rated}/pump/choose", data={"curve": CURVE})
    before = len(book.entries(rated))
    answer = client.post(f"/jobs/{rated}/pump/sun", data={"of": "on the flat (horizontal)", "table": " ".join(f"{v / 3.6e6:g}" for v in SUN), "demand": "3000 L", **given})
    assert answer.status_code == 422 and f'id="{field}-wrong"' in answer.text and len(book.entries(rated)) == before


@pytest.mark.parametrize(("given", "field"), [({"m_1": "6"}, "m_2"), ({"table": "1 2 3"}, "table"), ({"table": "1 2 3 4 5 6 7 8 9 10 11 99"}, "table"), ({"table": " ".join(["4"] * 12), "losses": "120 %", "demand": "3 m3"}, "losses"),
                                              ({"table": " ".join(["4"] * 12), "cloudy_days": "90"}, "cloudy_days"), ({"table": " ".join(["4"] * 12)}, "demand")])
def test_a_sun_that_cannot_be_comes_back_beside_its_field(client, book, rated, given, field):
    client.post(f"/jobs/{rated}/pump/choose", data={"curve": CURVE})
    answer = client.post(f"/jobs/{rated}/pump/sun", data=given)
    assert answer.status_code == 422 and f'id="{field}-wrong"' in answer.text


def row(n, name, value, unit="mg/L", form=""):
    return {f"name_{n}": name, f"value_{n}": value, f"unit_{n}": unit, f"form_{n}": form}


def test_an_analysis_by_hand_is_judged_and_its_page_says_what_is_past_first(client, book, rated):
    page = client.get(f"/jobs/{rated}/water/analysis").text
    assert 'value="16.2"' in page and 'value="7.1"' in page  # as read at the rig
    given = {"use": "drinking", "hole": "1", "laboratory": "Invented", "step": "judge", **row(0, "Fe", "1.4"), **row(1, "nitrate", "14.5", "mg/L", "as nitrogen"), **row(2, "As", "<0.001"), **row(3, "calcium", "")}
    answer = client.post(f"/jobs/{rated}/water/analysis", data=given)
    assert answer.status_code == 303
    told = text_of(client.get(answer.headers["location"]).text)
    assert told.index("Nitrate is above") < told.index("Iron is above") < told.index("Guideline by guideline")
    for words in ("World Health Organization", "health", "taste", "Not tested, and it matters for health", "Test again", "Treatment", "Cannot be struck"):
        assert words in told
    assert "is safe" not in told
    kept = book.job(rated).hole.analyses[-1].body
    assert [v.name for v in kept.values] == ["Fe", "nitrate", "As"] and kept.values[2].below_detection


def test_a_sheet_is_read_into_rows_first_and_judged_with_its_diagrams(client, book, rated):
    where = f"/jobs/{rated}/water/analysis"
    before = len(book.entries(rated))
    preview = client.post(where, data={"use": "drinking", "hole": "1", "step": "read"}, files={"sheet_file": ("lab.csv", SHEET.encode(), "text/csv")})
    assert preview.status_code == 200 and "12 results read" in preview.text and "Wombatium" in preview.text and len(book.entries(rated)) == before
    assert "temperature added from the rig" in preview.text
    given = {"use": "drinking", "hole": "1", "step": "judge", "keep_strange": "yes"}
    for n, line in enumerate(SHEET.splitlines()[1:]):
        name, value, unit, form = line.split(",")
        given |= row(n, name, value, unit, form)
    answer = client.post(where, data=given)
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert page.count("<svg") == 4 and "Trilinear" in page and "Radial" in page and "Parallel lines" in page
    assert "the limit is 5.0 %" in page
    client.post(where, data={**given, "sampled_on": "2027-03-02"})
    compare = client.get(f"/jobs/{rated}/water/compare")
    assert compare.status_code == 200 and "2 analyses" in compare.text and "2027-03-02" in compare.text
    stage = client.get(f"/jobs/{rated}/water")
    assert stage.status_code == 200 and "Compare 2 analyses" in stage.text


@pytest.mark.parametrize(("given", "says"), [
    (row(0, "iron", "rusty"), "is not a result"), (row(0, "nitrate", "3"), "must be chosen"), (row(0, "iron", "3", "NTU"), "is not a unit"), (row(0, "choride", "3"), "chloride"), (row(0, "", "3"), "is missing"),
    ({**row(0, "iron", "3"), **row(1, "Fe", "4")}, "stands twice"), (row(0, "zinc", ""), "has no value"), ({}, "There is no value yet"), ({**row(0, "iron", "3"), "use": "beer"}, "one of the choices"),
])
def test_a_row_that_cannot_be_read_comes_back_beside_itself(client, book, rated, given, says):
    before = len(book.entries(rated))
    answer = client.post(f"/jobs/{rated}/water/analysis", data={"use": "drinking", "hole": "1", "step": "judge", "laboratory": "kept words", **row(9, "", ""), **given})
    assert answer.status_code == 422 and says.lower() in text_of(answer.text).lower() and 'value="kept words"' in answer.text and len(book.entries(rated)) == before


def test_millimoles_typed_as_milligrams_are_asked_about_before_anything_is_written(client, book, rated):
    # Water B of the worked waters in mmol/L, typed as mg/L
    mmol = (("calcium", "2.445"), ("magnesium", "0.576"), ("sodium", "0.870"), ("bicarbonate", "5.572"), ("sulfate", "0.260"), ("chloride", "0.987"))
    given = {"use": "drinking", "hole": "1", "step": "judge"}
    for n, (name, value) in enumerate(mmol):
        given |= row(n, name, value)
    before = len(book.entries(rated))
    asked = client.post(f"/jobs/{rated}/water/analysis", data=given)
    assert asked.status_code == 422 and "Are the units right?" in asked.text and "mmol/L" in asked.text and len(book.entries(rated)) == before
    assert client.post(f"/jobs/{rated}/water/analysis", data={**given, "units_sure": "yes"}).status_code == 303
    mended = given | {f"unit_{n}": "mmol/L" for n in range(len(mmol))}
    assert client.post(f"/jobs/{rated}/water/analysis", data=mended).status_code == 303
    conflict = {"use": "drinking", "hole": "1", "step": "judge", **row(0, "conductivity", "500", "uS/cm"), **row(1, "total dissolved solids", "3000")}
    assert "do not go with a conductivity" in client.post(f"/jobs/{rated}/water/analysis", data=conflict).text


def test_the_guidelines_are_chosen_by_use_and_publisher_and_kept_with_their_date(client, book, rated):
    page = text_of(client.get(f"/jobs/{rated}/water/analysis").text)
    for words in ("WHO guideline of 2022", "Australian guideline of 2024", "FAO irrigation guideline of 1985", "New South Wales stock guide of 2014", "table of 2026"):
        assert words in page
    given = {"use": "drinking", "hole": "1", "step": "judge", "sets": "chosen", **row(0, "iron", "3"), **row(1, "pH", "6", "")}
    answer = client.post(f"/jobs/{rated}/water/analysis", data={**given, "set_drinking_nhmrc": "yes", "set_stock_nsw": "yes"})
    assert answer.status_code == 303
    assert [g["key"] for g in book.job(rated).hole.analyses[-1].body.assessment["guidelines"]] == ["drinking_nhmrc"]
    assert "World Health Organization" not in client.get(answer.headers["location"]).text
    before = len(book.entries(rated))
    none = client.post(f"/jobs/{rated}/water/analysis", data={**given, "set_stock_nsw": "yes"})
    assert none.status_code == 422 and 'id="sets-wrong"' in none.text and "no guideline for drinking" in none.text and len(book.entries(rated)) == before
    more = client.post(f"/jobs/{rated}/water/analysis", data={**given, "step": "more", "set_stock_nsw": "yes"}).text
    assert re.search(r'name="set_stock_nsw" value="yes" checked', more) and not re.search(r'name="set_drinking_who" value="yes" checked', more)


@pytest.mark.parametrize(("sheet", "says"), [("what,ever\n1,2", "lacks its columns"), ("name,value,unit\niron,lots,mg/L", "line 2"), ("", "is missing")])
def test_a_sheet_that_cannot_be_read_says_where(client, rated, sheet, says):
    answer = client.post(f"/jobs/{rated}/water/analysis", data={"step": "read", "sheet": sheet, "use": "drinking"})
    assert answer.status_code == 422 and says in text_of(answer.text).lower()


def test_more_rows_keep_what_was_typed(client, rated):
    answer = client.post(f"/jobs/{rated}/water/analysis", data={"step": "more", "use": "stock", **row(0, "boron", "0.4")})
    assert answer.status_code == 200 and 'value="boron"' in answer.text and 'name="name_8"' in answer.text


def test_an_analysis_of_an_older_program_still_has_its_pages(client, book, rated):
    entry = book.write(rated, "water.analysis", {"values": [{"name": "pH", "value": 7.1, "unit": ""}], "assessment": {"sentence": "As it was told then."}}, by="office")
    assert "As it was told then." in client.get(f"/jobs/{rated}/water/analysis/{entry.id}").text
    assert client.get(f"/jobs/{rated}/water").status_code == 200 and client.get(f"/jobs/{rated}/water/compare").status_code == 200
    assert client.get(f"/jobs/{rated}/water/analysis/nothing").status_code == 404


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
def test_an_analysis_is_filled_in_on_a_phone(tmp_path, quoted):
    from playwright.sync_api import sync_playwright

    home = tmp_path / "home"
    with open_job_book(home) as book:
        book.add(quoted)
        rate(book, quoted[0].job)
    server = Served(home).start()
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
            page = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True).new_page()
            faults: list[str] = []
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.on("console", lambda message: faults.append(message.text) if message.type == "error" and "422" not in message.text else None)
            page.goto(f"{server.base}/jobs/{quoted[0].job}/water/analysis")
            wide = "document.documentElement.scrollWidth"
            assert page.evaluate(wide) == 390
            page.get_by_label("Value of nitrate", exact=True).fill("14.5")
            page.get_by_label("Value of iron", exact=True).fill("rusty")
            spare = page.locator("input[name^=name_]").last
            number = spare.get_attribute("name").removeprefix("name_")
            spare.fill("Ca2+")
            spare.blur()
            page.locator(f"[name=value_{number}]").fill("88")
            assert page.locator(f"[name=unit_{number}]").evaluate("e => [...e.options].map(o => o.value)") == ["mg/L", "ug/L", "g/L", "ppm", "ppb", "mmol/L", "meq/L", "mg/L as CaCO3"]
            expect(page.locator(f"[name=form_{number}]")).to_be_hidden()  # calcium comes in one form only
            page.get_by_role("button", name="Judge and write down").click()
            page.get_by_text("to put right below").wait_for()
            expect(page.locator(".rows .wrong")).to_have_count(2)  # iron is no number, nitrate lacks its form
            expect(page.get_by_label("Value of iron", exact=True)).to_have_attribute("aria-invalid", "true")
            assert page.evaluate(wide) == 390
            page.get_by_label("Value of iron", exact=True).fill("1.4")
            page.get_by_label("Form of nitrate", exact=True).select_option("as nitrogen")
            page.get_by_role("button", name="Judge and write down").click()
            page.get_by_role("heading", name="Past a guideline").wait_for()
            first = page.locator(".past").first.text_content()
            assert "Nitrate is above" in first and page.evaluate(wide) == 390
            low = page.evaluate("[...document.querySelectorAll('.work button, .work a.button, .work input, .work select')].filter(e => e.offsetParent && e.getBoundingClientRect().height < 24).length")
            assert low == 0 and not faults
            browser.close()
    finally:
        server.stop()
