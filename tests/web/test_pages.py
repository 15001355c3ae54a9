"""Pages: every one answers, forms write what they say, what is wrong comes back beside its field with nothing lost."""

from __future__ import annotations

import re

import pytest

from borewright.web.stages import STAGES
from tests.web.conftest import log_hole


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_first_run_leads_to_a_register_or_a_job(client):
    page = client.get("/")
    assert page.status_code == 200
    assert "Open the demo job" in page.text and "Start your own" in page.text and "/registers" in page.text


@pytest.mark.parametrize("path", ["/jobs", "/jobs/new", "/start", "/bench", "/registers", "/rates", "/settings", "/phone", "/rig", "/sign-in"])
def test_rooms_open(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    assert re.search(r"<title>[^<]+</title>", answer.text) and 'lang="en"' in answer.text


def test_every_bench_form_and_its_page_open(client):
    names = [c["name"] for c in client.get("/api/bench").json()]
    assert names
    for name in names:
        assert client.get(f"/bench/{name}").status_code == 200
        assert "Source" in client.get(f"/bench/{name}/how").text


@pytest.mark.parametrize("stage", [*STAGES, "history"])
def test_every_stage_of_a_drilled_job_opens_with_the_section_beside_it(client, book, job, stage):
    log_hole(book, job)
    answer = client.get(f"/jobs/{job}/{stage}")
    assert answer.status_code == 200
    assert "<svg" in answer.text and 'aria-current="page"' in answer.text


def test_a_job_is_opened_and_its_customer_written(client, book):
    answer = client.post("/jobs/new", data={"title": "Back block", "where": "38.47 S 18.22 W", "need": "15 L/min"})
    assert answer.status_code == 303
    where = client.get(answer.headers["location"]).headers["location"]
    assert where.endswith("/enquiry")
    (line,) = book.jobs()
    assert (line.latitude, line.longitude) == (-38.47, -18.22)
    client.post(f"/jobs/{line.id}/enquiry/customer", data={"name": "N. Body"})
    folded = book.job(line.id)
    assert folded.customer.body.name == "N. Body"
    assert folded.need.body.flow == pytest.approx(0.25e-3) and folded.need.body.typed["flow"] == "15 L/min"


def test_a_bad_field_comes_back_beside_itself_and_nothing_is_lost_or_written(client, book, job):
    before = len(book.entries(job))
    answer = client.post(f"/jobs/{job}/rig/ground", data={"hole": "1", "from_depth": "6 m", "to_depth": "lots", "words": "sticky clay", "colour": "red"})
    assert answer.status_code == 422
    assert 'value="sticky clay"' in answer.text and 'value="red"' in answer.text and 'value="lots"' in answer.text
    field = answer.text.split('id="ground-to_depth"')[1].split("</div>")[0]
    assert 'aria-invalid="true"' in field and "does not begin with a number" in text_of(field)
    assert len(book.entries(job)) == before


def test_an_error_of_a_deeper_layer_is_shown_too(client, book, job):
    answer = client.post(f"/jobs/{job}/rig/ground", data={"hole": "1", "from_depth": "9 m", "to_depth": "6 m", "words": "clay"})
    assert answer.status_code == 422
    assert "not below" in text_of(answer.text) and 'value="clay"' in answer.text


def test_a_bare_gallon_is_refused_in_a_form(client, job):
    answer = client.post(f"/jobs/{job}/enquiry/need", data={"flow": "4 gal/min"})
    assert answer.status_code == 422 and "which gallon" in text_of(answer.text)


def test_flow_by_bucket_is_worked_out_with_its_doubt(client, book, job):
    log_hole(book, job)
    answer = client.post(f"/jobs/{job}/rig/bucket", data={"hole": "1", "depth": "48 m", "volume": "20 L", "fill_times": "40, 41, 39"})
    assert answer.status_code == 303
    flow = book.job(job).hole.last_flow.body
    assert flow.flow == pytest.approx(0.02 / 40) and flow.standard_uncertainty > 0
    assert flow.readings["fill_times"] == [40.0, 41.0, 39.0]


def test_striking_out_keeps_the_entry_readable(client, book, job):
    log_hole(book, job)
    struck = book.job(job).hole.strikes[0].entry
    assert client.get(f"/jobs/{job}/strike/{struck.id}").status_code == 200
    answer = client.post(f"/jobs/{job}/strike/{struck.id}", data={"why": "wrong tap"})
    assert answer.status_code == 303
    assert not book.job(job).hole.strikes
    page = client.get(f"/jobs/{job}/history").text
    assert "<s class=\"says\">at 31 m" in page and "wrong tap" in page


def test_a_depth_shows_what_is_known_and_fills_the_forms(client, book, job):
    log_hole(book, job)
    page = client.get(f"/jobs/{job}/rig?depth=31").text
    near = page.split('id="near"')[1].split("</section>")[0]
    assert "Water struck" in near and "granite" in near
    assert re.search(r'id="struck-depth"[^>]*value="31 m"', page)


def test_text_from_a_person_never_becomes_markup(client, book, job):
    book.write(job, "rig.note", {"text": "<script>alert(1)</script>"}, by="tester")
    book.write(job, "rig.ground", {"from_depth": 0, "to_depth": 3, "words": "<img src=x onerror=alert(1)>"}, by="tester")
    for stage in ("rig", "history"):
        page = client.get(f"/jobs/{job}/{stage}").text
        assert "<script>alert" not in page and "<img src=x" not in page


def test_settings_are_kept_and_a_bad_one_is_refused(client, book):
    from borewright.storage import load_settings

    good = {"firm": "Test Bores (invented)", "word": "well", "units": "us", "paper": "Letter", "currency": "USD", "zone": "UTC", "bag_mass": "94 lb",
            "colour": "#123456", "quote_valid_days": "30", "keep_backups": "7"}
    assert client.post("/settings", data=good).status_code == 303
    kept = load_settings(book.folder)
    assert kept.word == "well" and kept.bag_mass == pytest.approx(42.637, abs=0.001)
    bad = client.post("/settings", data=good | {"zone": "Nowhere/Town"})
    assert bad.status_code == 422 and "Nowhere/Town" in bad.text and "is not a time zone" in text_of(bad.text)
    assert load_settings(book.folder).zone == "UTC"


def test_rates_are_read_back_as_written_and_bad_ones_refused(client, book):
    from borewright.pricing import card_as_dict, sample_card
    from borewright.storage import current_rate_card
    from borewright.web.firm import flat

    given = {k: str(v) for k, v in flat(card_as_dict(sample_card())).items()} | {"name": "Ours", "invented": ""}
    bad = client.post("/rates", data=given | {"drilling.0.loose": "cheap"})
    assert bad.status_code == 422 and 'value="cheap"' in bad.text and current_rate_card(book.folder) is None
    assert client.post("/rates", data=given | {"drilling.3.diameter_mm": "305", **{f"drilling.3.{c}": "200.00" for c in ("loose", "soft", "medium", "hard")}}).status_code == 303
    card = current_rate_card(book.folder)
    assert card.name == "Ours" and not card.invented and card.drilling[-1] == (305, 20000, 20000, 20000, 20000) and card.charges == sample_card().charges


def test_a_register_with_broken_rows_loads_the_rest_and_lists_the_broken(client):
    rows = ["bore_id,lon,lat,depth_m,yield_lps"]
    rows += [f"B{i},{-18.2 + i / 1000},{-38.4 + (i % 7) / 500},{40 + i % 30},{0.2 + i % 5 / 10}" for i in range(70)]
    rows += [f"X{i},east,-38.4,50,0.1" for i in range(30)]
    answer = client.post("/registers", data={"name": "test-district"}, files={"bores": ("bores.csv", "\n".join(rows).encode(), "text/csv")})
    assert answer.status_code == 200, text_of(answer.text)[-400:]
    said = text_of(answer.text)
    assert "70 of 100" in said and "30 rows refused" in said
    csv = client.get("/registers/test-district/refused.csv").text
    assert csv.count("\n") >= 30 and "X29" in csv
    bad = client.post("/registers", data={"name": "../up"}, files={"bores": ("bores.csv", b"a", "text/csv")})
    assert bad.status_code == 422


def test_three_fields_give_odds_and_a_price_range(client, book):
    rows = ["bore_id,lon,lat,depth_m,yield_lps,status"]
    rows += [f"B{i},{-18.22 + (i % 12 - 6) / 400},{-38.47 + (i // 12 - 6) / 400},{40 + i % 40},{0.1 + i % 9 / 10},good" for i in range(150)]
    client.post("/registers", data={"name": "near"}, files={"bores": ("bores.csv", "\n".join(rows).encode(), "text/csv")})
    bad = client.post("/start", data={"where": "somewhere", "need": "15 L/min", "register": "near"})
    assert bad.status_code == 422 and 'value="somewhere"' in bad.text
    answer = client.post("/start", data={"where": "-38.47, -18.22", "need": "15 L/min", "register": "near"})
    assert answer.status_code == 303 and answer.headers["location"].endswith("/quote")
    said = text_of(client.get(answer.headers["location"]).text)
    assert "in eight holes of ten" in said and "No usable water" in said
    (line,) = book.jobs()
    assert book.job(line.id).odds and book.job(line.id).quote


def test_the_bore_record_is_issued_and_downloaded(client, book, job):
    log_hole(book, job)
    answer = client.post(f"/jobs/{job}/papers/bore-record", data={"paper": "A4"})
    assert answer.status_code == 303, answer.text[:300]
    pdf = client.get(answer.headers["location"])
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    assert [f.body.document for f in book.job(job).papers] == ["bore record"]


def test_a_paper_that_lacks_something_says_what(client, book, job):
    answer = client.post(f"/jobs/{job}/papers/water-report", data={})
    assert answer.status_code == 303
    assert "water analysis" in text_of(client.get(answer.headers["location"]).text).lower()
    assert not book.job(job).papers


def test_what_is_not_there_says_so(client, job):
    assert client.get("/jobs/0192f1a2-0000-7000-8000-000000000000").status_code == 404
    assert client.get("/jobs/nonsense").status_code == 404
    assert client.get(f"/jobs/{job}/lunch").status_code == 404
    assert client.get("/bench/nothing-like-it").status_code == 404
