"""Fitting and rating from the stage page: an answer at once where it is quick, a page that looks again where it is not."""

from __future__ import annotations

from threading import Event
from time import sleep

import numpy as np
import pytest

from borewright.hydraulics import drawdown
from borewright.web import stages, working
from tests.web.conftest import log_hole, open_test_job, said


@pytest.fixture
def tested(book):
    job = open_test_job(book, quoted=False)
    log_hole(book, job)
    time = np.geomspace(60, 3e4, 24)
    fall = drawdown(time, 0.0825, rate=5e-4, transmissivity=1e-4, storativity=2e-4) + 0.005 * np.random.default_rng(3).standard_normal(24)
    book.write(job, "test.run", {"run": "constant 1", "type": "constant rate", "rate": 5e-4, "duration": 3e4}, by="t")
    book.write(job, "test.levels", {"run": "constant 1", "time": list(time), "drawdown": list(fall)}, by="t")
    return job


def test_both_are_acts_that_may_take_long():
    assert {form.key for form in stages.forms_of("test") if form.slow} == {"fit", "rate"}


def test_a_fit_that_takes_long_is_waited_for_on_a_page_and_written_once(client, book, tested, monkeypatch):
    from borewright.work import testing

    monkeypatch.setattr(working, "PATIENCE", 0.05)
    go, real = Event(), testing.fit_run
    monkeypatch.setattr(testing, "fit_run", lambda *given, **words: (go.wait(30), real(*given, **words))[1])
    posted = client.post(f"/jobs/{tested}/test/fit", data={"run": "constant 1"}, follow_redirects=False)
    assert posted.status_code == 303 and "/working/" in posted.headers["location"]
    at = posted.headers["location"]
    page = client.get(at)
    assert page.status_code == 200 and "<progress>" in page.text and 'http-equiv="refresh"' in page.text and "Fit a test" in said(page.text)
    go.set()
    for _ in range(600):
        page = client.get(at, follow_redirects=False)
        if page.status_code == 303:
            break
        sleep(0.05)
    assert page.headers["location"] == f"/jobs/{tested}/test"
    assert sum(e.kind == "test.fitted" for e, _ in book.job(tested).history) == 1
    assert client.get(f"/jobs/{tested}/working/nothing").status_code == 404


def test_trouble_after_the_wait_is_told_on_the_stage(client, tested, monkeypatch):
    from borewright.work import testing

    monkeypatch.setattr(working, "PATIENCE", 0.0)
    real = testing.fit_run
    monkeypatch.setattr(testing, "fit_run", lambda *given, **words: (sleep(0.2), real(*given, **words))[1])
    at = client.post(f"/jobs/{tested}/test/fit", data={"run": "constant 9"}, follow_redirects=False).headers["location"]
    for _ in range(200):
        page = client.get(at, follow_redirects=False)
        if page.status_code == 303:
            break
        sleep(0.05)
    assert "is not a test of this hole" in said(client.get(page.headers["location"]).text)


def test_what_is_quick_answers_at_once(client, tested, monkeypatch):
    monkeypatch.setattr(working, "PATIENCE", 120.0)
    wrong = client.post(f"/jobs/{tested}/test/fit", data={"run": "constant 9"})
    assert wrong.status_code == 422 and "is not a test of this hole" in said(wrong.text)
    assert client.post(f"/jobs/{tested}/test/fit", data={"run": "constant 1"}, follow_redirects=False).headers["location"] == f"/jobs/{tested}/test"
