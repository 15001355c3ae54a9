"""The owner's page: readings become trends only where chance would not, the intake is warned of, and the file needs nothing else."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

import numpy as np
import pytest

from borewright.errors import BadInput
from borewright.work.owner import COVER, history, write_reading, write_service
from tests.web.conftest import log_hole, said

NOW = datetime(2040, 6, 1, 9, 0, tzinfo=UTC)


@pytest.fixture
def built(book, job):
    """A drilled job with a pump at 30 m."""
    log_hole(book, job)
    book.write(job, "pump.chosen", {"name": "Any pump (invented)", "intake_depth": 30.0}, by="tester")
    return job


def years(book, job, levels, *, first=2027, name="pumping_level"):
    for n, level in enumerate(levels):
        write_reading(book, job, by="tester", on=f"{first + n}-05-01", now=NOW, **{name: float(level)})


def test_a_steady_fall_is_told_and_the_day_it_meets_the_intake_is_the_lines_own(book, built):
    years(book, built, 15.0 + 1.0 * np.arange(10))  # one metre a year: 29 m is reached five years after the last of 24 m
    told = history(book.job(built), now=date(2036, 5, 1))
    pumping = next(s for s in told.series if s.name.startswith("Water while"))
    assert pumping.trend.slope * 365.25 * 86400 == pytest.approx(1.0, rel=0.01) and pumping.trend.p_value < 0.001
    assert told.intake.limit == 30.0 - COVER and told.intake.state == "near"
    assert told.intake.likely / (365.25 * 86400) == pytest.approx(5.0, abs=0.05)


def test_a_last_reading_below_the_line_brings_the_day_forward(book, built):
    years(book, built, [*(15.0 + 1.0 * np.arange(9)), 26.0])  # the last stands two metres below the line of the others
    told = history(book.job(built), now=date(2036, 5, 1))
    assert told.intake.likely / (365.25 * 86400) == pytest.approx(3.0, abs=0.1)


def test_trends_are_said_in_the_firms_units(client, book, built):
    years(book, built, 15.0 + 1.0 * np.arange(10))
    assert "The water is falling by about 1 m a year" in said(client.get(f"/jobs/{built}/owner").text)
    from borewright.work.yearwords import trend_words

    (_, pumping) = history(book.job(built), now=date(2036, 5, 1)).series[:2]
    assert "3.3 ft a year" in trend_words(pumping, "US") and "fewer than 1 of 1000" in trend_words(pumping, "US")


def test_chance_is_not_called_a_trend(book, built):
    years(book, built, [15.0, 15.3, 14.8, 15.1, 15.0, 14.9, 15.2, 15.0])
    told = history(book.job(built), now=date(2035, 1, 1))
    assert next(s for s in told.series if s.name.startswith("Water while")).trend.p_value > 0.05 and told.intake.state == "clear"


def test_water_at_the_intake_is_an_alarm_from_the_first_reading(client, book, built):
    assert "5 more days of readings" in said(client.get(f"/jobs/{built}/owner").text)
    years(book, built, [29.5], first=2030)
    page = client.get(f"/jobs/{built}/owner").text
    assert 'role="alert"' in page and "Act now" in page and "29.5 m" in page


def test_readings_of_a_day_count_once_and_logged_flows_do_not_count(book, built):
    for level in (14.0, 15.0, 19.0):
        write_reading(book, built, by="tester", on="2030-05-01", pumping_level=level, now=NOW)
    told = history(book.job(built), now=date(2031, 1, 1))
    assert next(s for s in told.series if s.name.startswith("Water while")).values == (15.0,)
    assert "Flow" not in [s.name for s in told.series]  # the bucket of the drilling day belongs to its depth
    assert book.job(built).hole.last_flow.body.flow == 0.00025 and book.job(built).hole.static_level == 8.4


def test_a_jump_is_told_apart_from_a_drift(client, book, built):
    years(book, built, [6.0, 6.1, 5.9, 6.0, 6.1, 6.0, 9.0, 9.1, 8.9, 9.0, 9.1, 9.0], name="static_level")
    from borewright.work.owner import history as of

    rest = next(s for s in of(book.job(built), now=date(2040, 1, 1)).series if s.name.startswith("Water at rest"))
    assert rest.step is not None and (rest.step.before, rest.step.since) == (pytest.approx(6.0, abs=0.2), pytest.approx(9.0, abs=0.2))


def test_forms_write_a_reading_in_the_units_typed_and_a_service(client, book, built):
    assert client.post(f"/jobs/{built}/owner/reading", data={"hole": "1", "static_level": "20 ft", "flow": "25 L/min", "conductivity": "640"}).status_code == 303
    (reading,) = book.job(built).hole.readings
    assert reading.body.static_level == pytest.approx(6.096) and reading.body.flow == pytest.approx(25e-3 / 60) and reading.body.typed["static_level"] == "20 ft"
    assert client.post(f"/jobs/{built}/owner/service", data={"hole": "1", "date": "2026-03-05", "what": "Impellers renewed", "by": "N. Body"}).status_code == 303
    (service,) = book.job(built).hole.services
    assert (service.body.date, service.body.what, service.body.by) == ("2026-03-05", "Impellers renewed", "N. Body")
    assert "2026-03-05 Impellers renewed, N. Body" in said(client.get(f"/jobs/{built}/owner").text)
    assert "2026-03-05, Impellers renewed, by N. Body" in said(client.get(f"/jobs/{built}/history").text)


@pytest.mark.parametrize(("key", "given", "field"), [
    ("reading", {}, "static_level"), ("reading", {"static_level": "6 m", "pumping_level": "5 m"}, "pumping_level"), ("reading", {"flow": "lots"}, "flow"),
    ("reading", {"date": "2999-01-01", "static_level": "6 m"}, "date"), ("reading", {"hole": "7", "static_level": "6 m"}, "hole"),
    ("service", {}, "what"), ("service", {"what": "x", "date": "spring"}, "date"),
])
def test_bad_readings_and_services_come_back_beside_the_field(client, book, built, key, given, field):
    before = len(book.entries(built))
    answer = client.post(f"/jobs/{built}/owner/{key}", data={"hole": "1"} | given)
    assert answer.status_code == 422 and f'id="{key}-{field}-wrong"' in answer.text
    assert len(book.entries(built)) == before


def test_the_file_stands_by_itself(client, book, built):
    years(book, built, 15.0 + 0.5 * np.arange(8))
    write_service(book, built, by="tester", what="<script>alert(1)</script>", on="2030-01-01", now=NOW)
    answer = client.get(f"/jobs/{built}/owner/file")
    html = answer.text
    assert "attachment" in answer.headers["content-disposition"] and answer.headers["content-disposition"].endswith('.html"')
    assert "<svg" in html and html.count("<svg") >= 2 and "&lt;script&gt;" in html
    for forbidden in ("<script", "<form", "<link", "src=", "href=\"/", "@import", "url(/", "url(http", "data-depth"):
        assert forbidden not in html, forbidden
    assert not [u for u in re.findall(r'https?://[^"\s<)]+', html) if "w3.org" not in u]


def test_a_sealed_hole_has_no_years(client, book, job):
    log_hole(book, job)
    book.write(job, "rig.sealed_off", {"intervals": [{"from_depth": 0, "to_depth": 48, "material": "grout"}]}, by="tester")
    text = said(client.get(f"/jobs/{job}/owner").text)
    assert "must stay closed" in text and "What the years say" not in text
    told = client.get(f"/jobs/{job}/owner").text
    assert "Your sealed hole" in told and "settle in the first wet season" in told
    assert "electrician" not in told and "Service log" not in told and "For the driller" not in told


def test_a_job_without_a_hole_has_no_page_yet(client, job):
    assert client.get(f"/jobs/{job}/owner").status_code == 404
    assert client.post(f"/jobs/{job}/owner/nothing", data={}).status_code == 404


def test_what_cannot_be_written_is_refused_by_the_use_case(book, built):
    with pytest.raises(BadInput, match="to come"):
        write_reading(book, built, by="tester", on="2050-01-01", static_level=4.0, now=NOW)
    with pytest.raises(BadInput, match="no reading"):
        write_reading(book, built, by="tester", now=NOW)
    with pytest.raises(BadInput, match="not drilled"):
        write_service(book, built, by="tester", what="x", hole=3, now=NOW)


def test_readings_load_from_a_file_and_the_electricity_is_on_the_page_and_in_the_file_to_send(client, book, built):
    sheet = "date,electricity_meter (kWh),water_meter (kL)\n" + "\n".join(f"{2015 + n}-05-01,{500 * n + 20 * n * n},{1000 * n}" for n in range(8))
    answer = client.post(f"/jobs/{built}/owner/readings", files={"sheet_file": ("r.csv", sheet.encode(), "text/csv")}, data={})
    assert answer.status_code == 303
    page = said(client.get(answer.headers["location"]).text)
    assert "8 readings written down" in page and "Electricity for the water lifted" in page and "rising by about 0.04 kWh/kL a year" in page
    assert "Electricity for the water lifted" in said(client.get(f"/jobs/{built}/owner/file").text)
    again = client.post(f"/jobs/{built}/owner/readings", data={"sheet": sheet})
    assert "8 stood in the book already" in said(client.get(again.headers["location"]).text)
    assert "electricity meter 500 kWh" not in said(client.get(f"/jobs/{built}/history").text) and "electricity meter 520 kWh" in said(client.get(f"/jobs/{built}/history").text)


def test_a_file_of_readings_that_cannot_be_read_comes_back_with_the_line(client, book, built):
    before = len(book.entries(built))
    answer = client.post(f"/jobs/{built}/owner/readings", data={"sheet": "date,flow (L/s)\n2020-01-01,much"})
    assert answer.status_code == 422 and "line 2, flow: " in said(answer.text).lower() and "want a number" in said(answer.text).lower() and "2020-01-01,much" in answer.text
    assert client.post(f"/jobs/{built}/owner/readings", files={"sheet_file": ("r.png", b"\x89PNG\x00\xff\xfe", "image/png")}, data={}).status_code == 422
    assert len(book.entries(built)) == before


def test_the_owner_reads_what_the_water_was_and_when_to_test_again(client, book, built):
    from borewright.work.water import judge

    assert "Your water" not in client.get(f"/jobs/{built}/owner").text
    judge(book, built, [{"name": "iron", "value": 1.4, "unit": "mg/L"}], by="office", sampled_on="2027-03-02")
    page = said(client.get(f"/jobs/{built}/owner").text)
    assert "Sampled 2027-03-02, for drinking. Past a guideline: iron (taste)" in page and "health authority" in page and "E. coli, from a sterile bottle" in page
