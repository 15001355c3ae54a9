"""Bad input at the doors of tests: refused with field, value and want, or asked about and then taken; never a fault of the program (invented bore)."""

from __future__ import annotations

import json
import re

import pytest

from borewright.record import new_id
from tests.web.conftest import log_hole, open_test_job, said

TIME, FALL = [60.0, 120.0, 240.0, 480.0, 960.0, 1920.0], [1.0, 1.2, 1.4, 1.6, 1.8, 2.0]

pytestmark = pytest.mark.usefixtures("patient")


@pytest.fixture
def job(book):
    job = open_test_job(book, quoted=False)
    log_hole(book, job)
    book.write(job, "test.run", {"run": "constant 1", "type": "constant rate", "rate": 5e-4, "duration": 7200.0}, by="t")
    return job


def send(client, job, kind, body):
    """Post one entry as JSON text, so that NaN and Infinity reach the door as a careless program would write them."""
    send.counter += 1
    entry = {"id": str(new_id()), "job": str(job), "kind": kind, "at": "2026-03-01T00:00:00+00:00", "by": "t", "device": "bad", "counter": send.counter, "version": 2, "body": body}
    return client.post("/api/entries", content=json.dumps([entry]), headers={"content-type": "application/json"})


send.counter = 0


@pytest.mark.parametrize(("body", "field"), [
    ({"rate": -1e-3}, "entries[0].rate"), ({"rate": float("nan")}, "body"), ({"rate": float("inf")}, "body"), ({"rate": 6.0}, "entries[0].rate"), ({"rate": "fast"}, "entries[0].rate"),
    ({"rate": True}, "entries[0].rate"), ({"duration": -5}, "entries[0].duration"), ({"duration": float("nan")}, "body"), ({"static_level": -200}, "entries[0].static_level"),
    ({"steps": [[0, -1e-3]]}, "entries[0].steps.0.1"), ({"steps": [[0]]}, "entries[0].steps.0.1"), ({"radius": -1}, "entries[0].radius"),
    ({"also_pumped": [{"name": "B2", "steps": []}]}, "entries[0].also_pumped.0.steps"), ({"also_pumped": [{"name": "B2", "steps": [[0, -1.0]]}]}, "entries[0].also_pumped.0.steps.0.1"),
])
def test_a_run_that_cannot_be_is_refused_in_four_words(client, job, body, field):
    answer = send(client, job, "test.run", {"run": "x", "type": "constant rate", "rate": 5e-4} | body)
    assert answer.status_code == 422 and set(answer.json()["error"]) == {"field", "value", "problem", "want"}
    assert answer.json()["error"]["field"] == field and answer.json()["error"]["want"]


@pytest.mark.parametrize(("time", "drawdown", "field"), [
    ([60, 120, float("nan")], [1, 1, 1], "body"), ([60, 120], [1.0], "entries[0].drawdown"), ([-60, 60], [0, 1], "entries[0].time.0"), ([60, 120], [1, float("-inf")], "body"),
    ([60, "soon"], [1, 2], "entries[0].time.1"), ([60, None], [1, 2], "entries[0].time.1"),
])
def test_readings_that_cannot_be_are_refused_in_four_words(client, job, time, drawdown, field):
    answer = send(client, job, "test.levels", {"run": "constant 1", "time": time, "drawdown": drawdown})
    assert answer.status_code == 422 and answer.json()["error"]["field"] == field, answer.text


@pytest.mark.parametrize(("time", "drawdown", "problem"), [
    ([], [], "not recorded"), ([60.0], [1.0], "too few readings"), ([60.0] * 6, FALL, "same for every reading"), (TIME, [-s for s in FALL], "nowhere above zero"), (TIME, [1.0] * 6, "never changes"),
    (TIME, [1e9 * s for s in FALL], "beyond any test"), (TIME, [1e300 * s for s in FALL], "beyond any test"), ([1e-300, 1e-200, 1e-100, 1.0, 2.0, 3.0], FALL, "too few readings"),
    ([1e15 * t for t in TIME], FALL, "beyond any test"), ([0.0] * 6, FALL, "no reading after the pump started"),
])
def test_readings_that_no_fit_can_use_are_told_on_the_page_and_by_json(client, job, time, drawdown, problem):
    assert send(client, job, "test.levels", {"run": "constant 1", "time": time, "drawdown": drawdown}).status_code == 200, "half a truth is kept"
    page = client.get(f"/jobs/{job}/test/constant%201")
    assert page.status_code == 200 and problem in said(page.text), said(page.text)[-600:]
    told = client.post("/api/test/fit", json={"job": str(job), "run": "constant 1", "solution": "theis"})
    assert told.status_code == 422 and problem in told.json()["error"]["problem"] and told.json()["error"]["want"]
    rated = client.post(f"/jobs/{job}/test/rate", data={})
    assert rated.status_code in (303, 422)


def test_a_million_readings_in_one_entry_or_field_are_refused(client, job):
    answer = send(client, job, "test.levels", {"run": "constant 1", "time": list(range(1, 300_001)), "drawdown": [1.25] * 300_000})
    assert answer.status_code == 422 and "attach a file" in answer.json()["error"]["want"]
    posted = client.post(f"/jobs/{job}/test/levels", data={"run": "constant 1", "rows": "\n".join(f"{60 + i}, 1.25" for i in range(300_000))})
    assert posted.status_code == 422 and "from a file" in said(posted.text)


@pytest.mark.parametrize(("given", "asked"), [
    ({"rate": "500 L/s"}, "largest flow measured"), ({"rate": "0.5 L/min", "static_level": "9 m"}, "Is its unit right"), ({"static_level": "-3 m"}, "does the bore flow by itself"),
    ({"static_level": "2900 m"}, "below the bottom"), ({"duration": "24 s"}, "unusual"), ({"duration": "9000 h"}, "unusual"),
])
def test_what_is_unusual_in_a_run_is_asked_and_then_taken(client, book, job, given, asked):
    body = {"run": "odd", "type": "constant rate", "rate": "30 L/min", "duration": "4 h"} | given
    answer = client.post(f"/jobs/{job}/test/run", data=body)
    assert answer.status_code == 422 and asked in said(answer.text) and "odd" not in book.job(job).hole.tests
    assert client.post(f"/jobs/{job}/test/run", data=body | {"sure": "yes"}, follow_redirects=False).status_code == 303
    assert "odd" in book.job(job).hole.tests


def test_what_is_usual_is_not_asked(client, job):
    assert client.post(f"/jobs/{job}/test/run", data={"run": "fine", "type": "constant rate", "rate": "30 L/min", "duration": "4 h", "static_level": "8 m"}, follow_redirects=False).status_code == 303


@pytest.mark.parametrize(("rows", "asked"), [
    ("60, 1.2\n30, 1.3", "do not rise"), ("60, 1.2\n60, 1.3", "do not rise"), ("60, -1.2\n120, -1.3", "No drawdown is above zero"), ("60, 11.5\n120, 12\n180, 12.5", "are these depths to water"),
    ("60, 1.0\n120, 400", "below the bottom of the hole"),
])
def test_what_is_unusual_in_readings_is_asked_and_then_taken(client, book, job, rows, asked):
    book.write(job, "rig.level", {"depth_to_water": 11.4}, by="t")
    answer = client.post(f"/jobs/{job}/test/levels", data={"run": "constant 1", "rows": rows})
    assert answer.status_code == 422 and asked in said(answer.text) and not book.job(job).hole.tests["constant 1"].levels
    assert client.post(f"/jobs/{job}/test/levels", data={"run": "constant 1", "rows": rows, "sure": "yes"}, follow_redirects=False).status_code == 303
    assert book.job(job).hole.tests["constant 1"].levels


@pytest.mark.parametrize("rows", ["60", "60, x", "", "nan, 1", "60, inf", "-60, 1.0", "60, 1, 2", "60 1e999"])
def test_rows_that_cannot_be_read_are_told_beside_them(client, job, rows):
    answer = client.post(f"/jobs/{job}/test/levels", data={"run": "constant 1", "rows": rows})
    assert answer.status_code == 422 and re.search(r'id="[\w-]*rows-wrong"', answer.text)


def test_levels_of_a_run_that_is_not_there_are_refused(client, job):
    answer = client.post(f"/jobs/{job}/test/levels", data={"run": "constant 9", "rows": "60, 1.2"})
    assert answer.status_code == 422 and "is not a test of this hole" in said(answer.text)


def test_a_rate_wrong_by_a_thousand_that_came_by_json_is_doubted_with_the_fit(client, job):
    send(client, job, "test.run", {"run": "wrong unit", "type": "constant rate", "rate": 0.5, "duration": 7200.0})
    send(client, job, "test.levels", {"run": "wrong unit", "time": TIME, "drawdown": FALL})
    assert "times the largest flow measured in this hole" in said(client.get(f"/jobs/{job}/test/wrong%20unit").text)
