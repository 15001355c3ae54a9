"""The pages of a test: fits side by side, the curve set by hand, files of levels, plan, rating, neighbours (invented bore, truth known)."""

from __future__ import annotations

import re
import shutil
import threading
from datetime import datetime, timedelta
from time import sleep
from urllib.parse import quote

import numpy as np
import pytest

from borewright.hydraulics import drawdown
from borewright.web import testing_pages
from borewright.web.testing_pages import nudged, run_path
from borewright.web.testwords import shown_parameters
from tests.web.conftest import log_hole, open_test_job, said
from tests.web.waiting import expect

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
T, S, RATE, PUMPED = 9.0 / 86400, 2e-4, 0.5e-3, 8 * 3600.0

pytestmark = pytest.mark.usefixtures("patient")


def pump(book, job) -> None:
    rng = np.random.default_rng(3)
    log_hole(book, job)
    during, after = np.geomspace(60, PUMPED, 26), np.geomspace(60, 3 * 3600.0, 20)
    fall = lambda t: drawdown(t, 0.0825, rate=RATE, transmissivity=T, storativity=S)
    for run, kind, time, level in (("constant 1", "constant rate", during, fall(during)), ("recovery 1", "recovery", after, fall(after + PUMPED) - fall(after))):
        book.write(job, "test.run", {"run": run, "type": kind, "rate": RATE, "duration": PUMPED}, by="t")
        book.write(job, "test.levels", {"run": run, "time": list(time), "drawdown": list(level + 0.005 * rng.standard_normal(time.size))}, by="t")


@pytest.fixture
def tested(book):
    job = open_test_job(book, quoted=False)
    pump(book, job)
    return job


def test_the_page_shows_every_solution_with_its_interval_and_the_charts(client, tested):
    answer = client.get(f"/jobs/{tested}/test/constant%201")
    text = said(answer.text)
    assert answer.status_code == 200
    assert "Fitted together: constant 1, recovery 1." in text
    for title in ("Confined, without end (Theis)", "Leaky (Hantush & Jacob)", "AICc", "What is left over", "Drawdown and its slope", "Storativity from the pumped bore alone"):
        assert title in text, title
    assert answer.text.count("<svg") >= 5 and 'data-frame="' in answer.text
    shown = re.search(r"Transmissivity ([\d.]+) m²/d ([\d.]+) to ([\d.]+)", text)
    assert float(shown[2]) < 9.0 < float(shown[3])


def test_a_first_fit_that_takes_long_says_how_far_it_is_and_then_stands(client, tested, monkeypatch):
    looked, fit = threading.Semaphore(0), testing_pages._fit

    def in_step(*given, progress=None, **more):
        """Fit, but wait after each step until a page has shown it: however quick the machine is, none is missed."""
        def told(*words):
            progress(*words)
            assert looked.acquire(timeout=60)

        return fit(*given, progress=told if progress else None, **more)

    monkeypatch.setattr(testing_pages, "PATIENCE", 0.0)
    monkeypatch.setattr(testing_pages, "_fit", in_step)
    testing_pages._KEPT.clear()
    seen = []
    for _ in range(1200):
        answer = client.get(f"/jobs/{tested}/test/constant%201")
        assert answer.status_code == 200
        if 'http-equiv="refresh"' not in answer.text:
            break
        assert '<progress max="1" value="' in answer.text
        step = re.search(r"(\d) of (\d) solutions done", answer.text)
        if step and step.groups() not in seen:
            seen.append(step.groups())
            looked.release()
        sleep(0.05)
    assert "Every solution" in answer.text
    assert len(seen) >= 4 and seen == [(str(n), str(len(seen))) for n in range(len(seen))], "told before each solution"


def test_readings_that_cannot_be_fitted_end_the_wait_with_the_reason(client, book, tested, monkeypatch):
    book.write(tested, "test.run", {"run": "flat", "type": "constant rate", "rate": RATE, "duration": 100.0}, by="t")
    book.write(tested, "test.levels", {"run": "flat", "time": [60.0, 120.0, 240.0, 480.0, 960.0], "drawdown": [1.0] * 5}, by="t")
    text = said(client.get(f"/jobs/{tested}/test/flat").text)
    assert "does not change" in text or "never changes" in text, text[-600:]


def test_a_run_of_a_name_that_a_page_has_taken_or_with_a_slash_is_reached(client, book, tested):
    for name in ("plan", "a/b", "50 % & more?"):
        book.write(tested, "test.run", {"run": name, "type": "constant rate", "rate": RATE}, by="t")
        answer = client.get(run_path(tested, name))
        assert answer.status_code == 200 and f"{name}: constant rate" in said(answer.text), name
    assert client.get(f"/jobs/{tested}/test/nothing").status_code == 404


def test_a_value_typed_is_held_and_the_rest_follows_without_script(client, tested):
    at = f"/jobs/{tested}/test/constant%201?solution=theis&alone=yes"
    free = said(client.get(at).text)
    held = said(client.get(at + "&hold_transmissivity_m2_per_d=12").text)
    assert "Transmissivity 12 m²/d held" in held
    number = lambda text: float(re.search(r"Storativity ([\d.e-]+)", text)[1])
    assert number(held) != number(free), "storativity is fitted anew"
    moved = client.get(at + "&nudge=deeper").text
    value = float(re.search(r'name="hold_transmissivity_m2_per_d" value="([\d.e-]+)"', moved)[1])
    assert value == pytest.approx(float(re.search(r"Transmissivity ([\d.]+) m²/d [\d.]+ to", free)[1]) / 1.1, rel=2e-3)


@pytest.mark.parametrize("text", ["x", "-3", "0", "nan", "inf"])
def test_a_value_that_cannot_be_held_is_told_beside_its_field(client, tested, text):
    answer = client.get(f"/jobs/{tested}/test/constant%201?solution=theis&hold_transmissivity_m2_per_d={text}")
    assert answer.status_code == 422 and 'id="hold_transmissivity_m2_per_d-wrong"' in answer.text
    assert 'value="' + text in answer.text, "what was typed stands"


def test_a_nudge_moves_the_curve_as_it_says():
    """The drawdown of Theis after a nudge against its own scaling, by the function itself."""
    held = {"transmissivity_m2_per_d": {"value": 9.0}, "storativity": {"value": 2e-4}}
    fall = lambda t, p: drawdown(t, 5.0, rate=RATE, transmissivity=p["transmissivity_m2_per_d"] / 86400, storativity=p["storativity"])
    before = {k: v["value"] for k, v in held.items()}
    time = np.geomspace(100, 1e5, 5)
    assert fall(time, nudged(held, "deeper")) == pytest.approx(1.1 * fall(time, before))
    assert fall(time * 10**0.1, nudged(held, "later")) == pytest.approx(fall(time, before))
    fracture = {"transmissivity_m2_per_d": {"value": 9.0}, "storativity_times_half_length_squared_m2": {"value": 2.0}}
    assert nudged(fracture, "later")["storativity_times_half_length_squared_m2"] == pytest.approx(2.0 * 10**0.1), "a fracture's storage moves its curve in time"
    assert fall(time * 3, nudged(held, "", amount=1.5, later=3.0)) == pytest.approx(1.5 * fall(time, before))


def test_the_fit_that_is_kept_names_what_was_held(client, book, tested):
    answer = client.post(f"/jobs/{tested}/test/constant%201/keep", data={"solution": "theis", "hold_transmissivity_m2_per_d": "8.5", "why": "the shed bore"})
    assert answer.status_code == 303
    for run in ("constant 1", "recovery 1"):
        result = book.job(tested).hole.tests[run].fitted.body.result
        assert result["held"] == {"transmissivity_m2_per_d": pytest.approx(8.5)} and result["together"] == ["constant 1", "recovery 1"] and result["why"] == "the shed bore"
    again = said(client.get(answer.headers["location"]).text)
    assert "Kept with Transmissivity, m²/d held at 8.5" in again
    bad = client.post(f"/jobs/{tested}/test/constant%201/keep", data={"solution": "theis", "hold_storativity": "much"})
    assert bad.status_code == 422 and 'id="hold_storativity-wrong"' in bad.text


def test_the_interface_fits_again_and_refuses_in_its_own_grammar(client, tested):
    ask = {"job": str(tested), "run": "constant 1", "solution": "theis"}
    told = client.post("/api/test/fit", json=ask | {"hold": {"transmissivity_m2_per_d": 12}}).json()
    assert told["held"] == {"transmissivity_m2_per_d": 12.0} and told["fit"]["parameters"]["transmissivity_m2_per_d"]["value"] == pytest.approx(12.0)
    assert told["figures"]["drawdown"].startswith("<svg") and told["runs"] == ["constant 1", "recovery 1"]
    free = client.post("/api/test/fit", json=ask).json()["fit"]
    moved = client.post("/api/test/fit", json=ask | {"move": {"deeper": 1.2, "later": 1.0}}).json()
    assert moved["held"]["transmissivity_m2_per_d"] == pytest.approx(free["parameters"]["transmissivity_m2_per_d"]["value"] / 1.2, rel=1e-6) and moved["fit"]["rmse_m"] > free["rmse_m"]
    for change, field in (({"solution": "hopeful"}, "solution"), ({"hold": {"transmissivity_m2_per_d": -1}}, "hold_transmissivity_m2_per_d"), ({"move": {"deeper": 0}}, "move.deeper"), ({"hold": [1]}, "hold"),
                          ({"hold": {"leakage_factor_m": 3}}, "hold_leakage_factor_m")):
        refused = client.post("/api/test/fit", json=ask | change)
        assert refused.status_code == 422 and refused.json()["error"]["field"] == field, change
    assert client.post("/api/test/fit", json=ask | {"run": "none"}).status_code == 404


def test_a_file_goes_in_is_looked_at_and_is_kept(client, book, tested):
    begun = datetime(2026, 3, 2, 6, 0)
    rows = ["when,depth"] + [f"{(begun + timedelta(minutes=m)).strftime('%d/%m/%Y %H:%M')},{8.0 + (0.1 * m if m > 60 else 0):.3f}" for m in range(0, 240)]
    book.write(tested, "test.run", {"run": "constant 2", "type": "constant rate", "rate": RATE}, by="t")
    at = f"/jobs/{tested}/test/levels/file"
    assert "is missing" in client.post(at, data={"run": "constant 2", "step": "read"}).text
    read = client.post(at, data={"run": "constant 2", "step": "read"}, files={"file": ("logger.csv", "\n".join(rows).encode())})
    assert read.status_code == 200 and "02/03/2026 06:00" in read.text
    sha = re.search(r'name="file_kept" value="([0-9a-f]{64})"', read.text)[1]
    picks = {"file_kept": sha, "run": "constant 2", "time_column": "when", "value_column": "depth", "time_form": "date and time", "shape": "depth to water", "unit": "m",
             "date_format": "%d/%m/%Y %H:%M", "zone": "+10:00", "started_at": "02/03/2026 07:00", "air_unit": "kPa", "keep": "200"}
    look = client.post(at, data=picks | {"step": "look"})
    assert look.status_code == 200 and "What would be kept" in look.text and not book.job(tested).hole.tests["constant 2"].levels
    for change, field in (({"date_format": ""}, "date_format"), ({"zone": "Here"}, "zone"), ({"started_at": "noon"}, "started_at"), ({"clock_ahead": "3"}, "clock_set"), ({"dips": "02/03/2026 06:00; deep"}, "dips"), ({"keep": "2"}, "keep")):
        wrong = client.post(at, data=picks | change | {"step": "look"})
        assert wrong.status_code == 422 and f'id="{field}-wrong"' in wrong.text, change
        assert sha in wrong.text, "the file need not be sent again"
    kept = client.post(at, data=picks | {"step": "keep"})
    assert kept.status_code == 303 and kept.headers["location"] == run_path(tested, "constant 2")
    levels = book.job(tested).hole.tests["constant 2"].levels[0].body
    assert levels.attachment == sha and levels.source["date_format"] == "%d/%m/%Y %H:%M" and max(levels.time) == pytest.approx(179 * 60.0, rel=0.05)


def test_a_file_with_title_lines_a_clock_apart_and_decimal_commas_goes_in_by_the_page(client, book, tested):
    begun = datetime(2026, 3, 2, 6, 0)
    fall = [8.0 + (0.1 * (m - 60) if m > 60 else 0) - (9.0 if 150 < m < 165 else 0) for m in range(240)]
    rows = ["Gerät;Pegel 7", "Nummer;12345", "Datum;Uhrzeit;Stand [m];Wärme [°C]"] + [
        f"{begun + timedelta(minutes=m):%d.%m.%Y;%H:%M};" + f"{fall[m]:.3f}".replace(".", ",") + ";15,0" for m in range(240)]
    book.write(tested, "test.run", {"run": "constant 2", "type": "constant rate", "rate": RATE}, by="t")
    at = f"/jobs/{tested}/test/levels/file"
    read = client.post(at, data={"run": "constant 2", "step": "read"}, files={"file": ("logger.csv", "\n".join(rows).encode("cp1252"))})
    assert read.status_code == 200 and "Wärme [°C]" in read.text and "02.03.2026" in read.text
    picks = {"file_kept": re.search(r'name="file_kept" value="([0-9a-f]{64})"', read.text)[1], "run": "constant 2", "time_column": "Datum", "clock_column": "Uhrzeit", "value_column": "Stand [m]",
             "time_form": "date and time", "shape": "depth to water", "unit": "m", "date_format": "%d.%m.%Y %H:%M", "zone": "+01:00", "started_at": "02.03.2026 07:00", "keep": "200"}
    asked = client.post(at, data=picks | {"step": "look"})
    assert asked.status_code == 422 and "decimal comma stated" in asked.text and 'id="value_column-wrong"' in asked.text
    look = client.post(at, data=picks | {"step": "look", "decimal_mark": "comma"})
    assert look.status_code == 200 and "The level came back between" in said(look.text), "a stop of the pump is asked about"
    assert client.post(at, data=picks | {"step": "keep", "decimal_mark": "comma"}).status_code == 303
    levels = book.job(tested).hole.tests["constant 2"].levels[0].body
    assert levels.source["columns"] == ["Datum", "Uhrzeit", "Stand [m]"] and max(levels.drawdown) == pytest.approx(17.9, abs=0.3)


def test_a_file_that_is_no_table_is_refused_beside_its_field(client, tested):
    answer = client.post(f"/jobs/{tested}/test/levels/file", data={"step": "read"}, files={"file": ("x.csv", b"a,a\n1,2\n")})
    assert answer.status_code == 422 and 'id="file-wrong"' in answer.text


def test_a_plan_is_kept_and_its_sheet_has_the_times(client, book, tested):
    from borewright.papers import paper_data
    from borewright.storage import Settings

    lacking = client.post(f"/jobs/{tested}/test/plan", data={"need": "15 L/min"})
    assert lacking.status_code == 422 and "-wrong" in lacking.text
    given = {"flow": "30 L/min", "drawdown_then": "20 m", "available": "30 m", "casing_radius": "58 mm", "step_length": "1 h"}
    assert client.post(f"/jobs/{tested}/test/plan", data=given).status_code == 303
    text = said(client.get(f"/jobs/{tested}/test/plan").text)
    assert "Water led off" in text and "connected by a licensed person" in text
    plan = book.job(tested).hole.planned.body.plan
    blocks = paper_data(book.job(tested), "field sheet", settings=Settings())["blocks"]
    tables = [b for b in blocks if b["kind"] == "table"]
    assert len(tables) == 3 and [r[0] for r in tables[1]["rows"]] == [f"{t / 60:g}" for t in plan["reading_times"]]
    assert all(not cell.strip() for r in tables[1]["rows"] for cell in r[1:]), "the rest is for the hand"


def test_the_rating_is_asked_again_with_neighbours_and_hours(client, book, tested):
    assert client.post(f"/jobs/{tested}/test/rating", data={"hours_per_day": "24"}).status_code == 303
    alone = book.job(tested).hole.rated.body.rating
    assert client.post(f"/jobs/{tested}/test/rating", data={"hours_per_day": "24", "neighbours": "Lot 9, 300, 0.2"}).status_code == 303
    near = book.job(tested).hole.rated.body.rating
    assert near["horizons"][-1]["middle"] < alone["horizons"][-1]["middle"] and near["asked"]["neighbours"][0]["distance"] == 300.0
    text = said(client.get(f"/jobs/{tested}/test/rating").text)
    for words in ("Q20 (Farvolden)", "Pumping level at the rated flow", "Flow by how long it is pumped", "constant 1, recovery 1"):
        assert words in text, words
    wrong = client.post(f"/jobs/{tested}/test/rating", data={"hours_per_day": "30"})
    assert wrong.status_code == 422 and 'id="hours_per_day-wrong"' in wrong.text


def test_falls_at_neighbours_are_those_of_theis_and_a_stream_gives_what_jenkins_has(client, tested):
    """Glover & Balmer by the complementary error function, Jenkins (1968): half of the pumping at t = 1.1 sdf (his table gives 0.5 near there)."""
    from scipy.special import erfc

    client.post(f"/jobs/{tested}/test/constant%201/keep", data={"solution": "theis"})
    at = f"/jobs/{tested}/test/neighbours?rate=20+L/min&storativity=0.0002&transmissivity=9&neighbours=Lot+9,400&allowed=1+m&stream_distance=600+m"
    text = said(client.get(at).text)
    fall = drawdown(86400.0 * 100, 400.0, rate=20e-3 / 60, transmissivity=T, storativity=S)
    assert f"{fall:.2g} m" in text
    share = erfc(np.sqrt(600.0**2 * S / T / (4 * 30 * 86400.0)))
    assert f"{100 * share:.0f} in 100" in text
    assert "to look at" not in text and "Lot 9 400 m" in text
    nothing = client.get(f"/jobs/{tested}/test/neighbours?rate=20+L/min&transmissivity=9")
    assert nothing.status_code == 422 and 'id="neighbours-wrong"' in nothing.text


def test_a_step_and_a_slug_run_are_kept_through_the_page_and_stand_in_the_report(client, book, tested):
    from borewright.papers import paper_data
    from borewright.storage import Settings

    steps = [(0.0, 0.2e-3), (3600.0, 0.4e-3), (7200.0, 0.6e-3)]
    time = np.concatenate([start + np.geomspace(60, 3600, 12) for start, _ in steps])
    level = np.zeros_like(time)
    for (start, rate), before in zip(steps, (0.0, 0.2e-3, 0.4e-3), strict=True):
        level[time > start] += drawdown(time[time > start] - start, 0.0825, rate=rate - before, transmissivity=T, storativity=S)
    level += 3e6 * np.array([steps[int((t - 1e-6) // 3600)][1] for t in time]) ** 2
    book.write(tested, "test.run", {"run": "steps", "type": "step", "steps": steps}, by="t")
    book.write(tested, "test.levels", {"run": "steps", "time": list(time), "drawdown": list(level)}, by="t")
    text = said(client.get(f"/jobs/{tested}/test/steps").text)
    assert "Critical flow" in text and "Efficiency" in text
    assert client.post(f"/jobs/{tested}/test/steps/keep", data={"what": "steps", "exponent": "2"}).status_code == 303
    book.write(tested, "test.run", {"run": "slug", "type": "slug"}, by="t")
    book.write(tested, "test.levels", {"run": "slug", "time": list(np.linspace(1, 120, 30)), "drawdown": list(np.exp(-np.linspace(1, 120, 30) / 40))}, by="t")
    assert client.post(f"/jobs/{tested}/test/slug/keep", data={"casing_radius": "none"}).status_code == 422
    assert client.post(f"/jobs/{tested}/test/slug/keep", data={"casing_radius": "58 mm", "screen_radius": "82 mm", "screen_length": "6 m"}).status_code == 303
    assert "bouwer-rice" in said(client.get(f"/jobs/{tested}/test/slug").text)
    told = str(paper_data(book.job(tested), "test report", settings=Settings(language="fr"))["blocks"])
    for words in ("Débit critique", "efficacité", "Ce que dit l'essai par choc", "hvorslev"):
        assert words in told, words


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="needs Chromium, which is not on this machine")
def test_at_the_desk_the_fit_follows_a_button_a_value_and_a_drag(tmp_path):
    from playwright.sync_api import sync_playwright

    from borewright.storage import open_job_book
    from tests.web.serving import Served

    with open_job_book(tmp_path / "home") as book:
        job = open_test_job(book, quoted=False)
        pump(book, job)
    server = Served(tmp_path / "home").start()
    try:
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            trouble = []
            page.on("pageerror", lambda e: trouble.append(str(e)))
            page.on("console", lambda m: trouble.append(m.text) if m.type == "error" else None)
            page.goto(f"{server.base}/jobs/{job}/test/{quote('constant 1')}?solution=theis", timeout=60_000)
            page.wait_for_selector("#byhand", timeout=60_000)
            assert page.evaluate("document.documentElement.scrollWidth") <= 1280
            value = lambda: float(page.input_value("#hold_transmissivity_m2_per_d"))
            follow = lambda words: page.wait_for_function("w => document.getElementById('status').textContent.includes(w)", arg=words, timeout=30_000)
            page.fill("#hold_transmissivity_m2_per_d", "9")
            page.keyboard.press("Tab")
            follow("1 held")
            page.click("button[value=deeper]")
            follow("2 held")
            assert value() == pytest.approx(9 / 1.1, rel=1e-3)
            page.locator("#fig-drawdown svg").scroll_into_view_if_needed()
            box = page.locator("#fig-drawdown svg").bounding_box()
            before = page.inner_html("#fig-drawdown svg")
            x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
            page.mouse.move(x, y)
            page.mouse.down()
            asked = []
            page.on("request", lambda r: asked.append(r.url) if "/api/test/fit" in r.url else None)
            page.mouse.move(x, y - 0.1 * box["height"], steps=4)
            expect(page.locator("#moving")).to_contain_text("when you let go")
            during = value()
            assert page.inner_html("#fig-drawdown svg") != before, "the curve follows the pointer"
            assert during > 9 / 1.1 * 1.05 and asked == [], "the values follow with no word from the program"
            page.mouse.up()
            page.wait_for_function("() => document.getElementById('moving').hidden", timeout=30_000)
            assert value() == pytest.approx(during, rel=1e-3) and len(asked) == 1, "what was shown while dragging is what is fitted"
            page.focus("#fig-drawdown")
            page.keyboard.press("ArrowDown")
            assert value() == pytest.approx(during / 1.02, rel=1e-3), "the arrow keys move it too"
            page.keyboard.press("Escape")
            expect(page.locator("#moving")).to_be_hidden()
            assert value() == pytest.approx(during, rel=1e-3)
            assert value() > 9 / 1.1 * 1.05, "dragged shallower: more transmissivity"
            kept = value()
            with page.expect_navigation(timeout=60_000):
                page.click("text=Keep this fit")
            expect(page.locator("main")).to_contain_text("Kept with")
            browser.close()
            assert trouble == []
        with open_job_book(tmp_path / "home") as book:
            held = book.job(job).hole.tests["constant 1"].fitted.body.result["held"]
        assert held["transmissivity_m2_per_d"] == pytest.approx(kept, rel=1e-3) and set(held) == {"transmissivity_m2_per_d", "storativity"}
    finally:
        server.stop()


def test_a_parameter_is_said_in_words_and_an_end_that_the_test_does_not_set_is_open():
    told = shown_parameters({"parameters": {
        "transmissivity_m2_per_d": {"value": 9.0311, "low": 8.99, "high": 9.06}, "image_distance_m": {"value": 1938.7, "low": 1667.7, "high": 1e7},
        "storativity": {"value": 5.97e-14, "low": 1e-40, "high": 0.000346}, "leakage_factor_m": {"value": 50.0, "low": 1e-9, "high": 1e9}, "skin": {"value": 2.0, "low": 2.0, "high": 2.0}},
        "open_ends": {"image_distance_m": ["high"], "storativity": ["low"], "leakage_factor_m": ["low", "high"]}})
    assert [row[1:] for row in told] == [
        ("Transmissivity", "9.03 m²/d", "8.99 to 9.06"), ("Image distance", "1939 m", "at least 1668"), ("Storativity", "5.97 × 10⁻¹⁴", "at most 0.000346"),
        ("Leakage factor", "50 m", "the test does not tell"), ("Skin", "2", "")]
