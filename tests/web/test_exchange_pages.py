"""The board, open formats in and out, authorities' forms and photos at the desk."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from datetime import UTC, date

import icalendar
import made_jobs
import pypdf
import pytest

from borewright.errors import BadInput
from borewright.exchange import FORMATS, read_csv_set
from borewright.papers.authority import SAMPLES
from borewright.storage import Settings, open_job_book, save_settings
from borewright.work.board import board, board_csv
from tests.made_forms import fillable
from tests.made_photos import made_jpeg
from tests.web.test_pages import text_of


@pytest.fixture
def built(book):
    book.add(made_jobs.built().entries)
    return book.find("HR-0107")


def test_the_board_counts_metres_hours_and_dry_holes_by_hand():
    made, dry = made_jobs.built().job(), made_jobs.sealed().job()
    found = board([made, dry], since=date(2026, 1, 1), until=date(2026, 12, 31), zone=UTC)
    assert found.metres == pytest.approx(made.hole.depth + dry.hole.depth) and found.holes == 2
    assert (found.dry_holes, found.dry_metres) == (1, pytest.approx(dry.hole.depth))
    assert sum(len(rows) for _, rows in found.stages) == 2
    rig = [e.at for e, struck in made.history if struck is None and e.kind.startswith("rig.")]
    by_day: dict = {}
    for at in rig:
        by_day.setdefault(at.astimezone(UTC).date(), []).append(at)
    assert found.rows[0].time_at_rig == sum((max(v) - min(v)).total_seconds() for v in by_day.values()) > 0
    assert board([made], since=date(2027, 1, 1), until=date(2027, 2, 1), zone=UTC).metres == 0
    assert len(list(csv.reader(io.StringIO(board_csv(found).decode())))) == 3
    with pytest.raises(BadInput, match="until"):
        board([made], since=date(2026, 2, 1), until=date(2026, 1, 1), zone=UTC)


def test_the_board_page_its_table_and_its_calendar(client, book, built):
    page = client.get("/board?since=2026-01-01&until=2026-12-31")
    assert page.status_code == 200 and "66.3 m" in page.text and "Lot 7 orchard house" in page.text and 'href="/stock"' in page.text
    rows = list(csv.DictReader(io.StringIO(client.get("/board.csv?since=2026-01-01&until=2026-12-31").text)))
    assert rows[0]["reference"] == "HR-0107" and float(rows[0]["metres"]) == pytest.approx(66.3)
    calendar = icalendar.Calendar.from_ical(client.get("/board.ics").content)
    assert any(c.name == "VEVENT" for c in calendar.walk())
    assert client.get("/board?since=2026-05-01&until=2026-01-01").status_code == 422
    assert "is not a day" in client.get("/board?since=yesterday").text and client.get("/board.csv?since=x").status_code == 422


@pytest.mark.parametrize("format", FORMATS)
def test_a_job_goes_out_in_every_format(client, built, format):
    answer = client.get(f"/jobs/{built}/export/{format}")
    assert answer.status_code == 200 and FORMATS[format][0] in answer.headers["content-disposition"]
    assert len(answer.content) > 200
    if format == "csv":
        (bore,) = read_csv_set(answer.content)
        assert bore.depth == pytest.approx(66.3)
    if format == "geojson":
        assert json.loads(answer.text)["type"] == "FeatureCollection"


def test_bad_exports_are_refused(client, book):
    assert client.get("/export/csv").status_code == 422
    book.add(made_jobs.built().entries)
    assert client.get("/export/csv").status_code == 200 and client.get("/export/pdf").status_code == 422
    assert client.get(f"/jobs/{'0' * 8}-0000-7000-8000-{'0' * 12}/export/csv").status_code == 404


def bring(client, data: bytes, name: str = "records.bin"):
    return client.post("/import", files={"file": (name, data)})


def test_a_file_is_looked_at_before_it_comes_in(client, book, tmp_path):
    with open_job_book(tmp_path / "other") as other:
        other.add(made_jobs.built().entries)
        from borewright.exchange import write_jobs

        write_jobs(other, [other.find("HR-0107")], "archive", tmp_path / "all.zip")
        kept = len(other.entries(other.find("HR-0107")))
    looked = bring(client, (tmp_path / "all.zip").read_bytes())
    assert looked.status_code == 200 and f"1 job, {kept} entries" in text_of(looked.text) and "nothing has been written" in looked.text
    assert book.jobs() == []
    (token,) = re.findall(r'action="/import/([0-9a-f]{32})"', looked.text)
    answer = client.post(f"/import/{token}")
    assert answer.status_code == 303 and len(book.entries(book.find("HR-0107"))) == kept
    assert f"{kept} new entries" in client.get(answer.headers["location"]).text
    assert client.post(f"/import/{token}").status_code == 422, "a file comes in once"
    again = bring(client, (tmp_path / "all.zip").read_bytes())
    assert "here already" in again.text
    assert list((book.folder / "incoming").iterdir())


def test_a_table_of_bores_shows_its_rows(client):
    looked = bring(client, b"bore_id,lon,lat,depth_m\r\nA-1,-18.2,-38.4,48.5\r\n", "odd name.xls")
    assert looked.status_code == 200 and "A-1" in looked.text and "48.5" in looked.text


@pytest.mark.parametrize("data", [b"", b"nonsense", b"bore_id,lon,lat,depth_m\r\nA-1,-18.2,-98.4,48.5\r\n", b"PK\x03\x04broken"])
def test_a_file_that_cannot_stand_is_refused_beside_its_field_and_nothing_stays(client, book, data):
    answer = bring(client, data)
    assert answer.status_code == 422 and "wrong" in answer.text
    assert book.jobs() == [] and not list((book.folder / "incoming").glob("*"))
    assert client.post("/import/../../etc").status_code in (404, 405, 422) and client.post("/import/zz").status_code == 422


def form_zip(map_text: str | None = None) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("board/form.toml", map_text or (SAMPLES / "orrin-vale" / "form.toml").read_text())
        archive.writestr("board/form.typ", (SAMPLES / "orrin-vale" / "form.typ").read_text())
    return out.getvalue()


def test_a_form_is_added_as_a_zip_and_filled_from_a_job(client, book, built):
    assert client.post("/forms", files={"file": ("Water board.zip", form_zip())}).headers["location"] == "/forms?added=water-board"
    before = client.get(f"/jobs/{built}/papers").text
    assert "water-board" in client.get("/forms").text and f"/jobs/{built}/form/water-board" not in before
    assert "licence (firm.licence)" in before and '<a href="/settings">settings</a>' in before
    told = client.post(f"/jobs/{built}/form/water-board")
    assert told.headers["location"].endswith("/papers") and "licence (firm.licence)" in client.get(told.headers["location"]).text
    save_settings(Settings(firm="Hollow Reed (invented)", licence="INV-0042"), book.folder)
    assert f"/jobs/{built}/form/water-board" in client.get(f"/jobs/{built}/papers").text
    made = client.post(f"/jobs/{built}/form/water-board")
    assert client.get(made.headers["location"]).content.startswith(b"%PDF")


def test_an_authoritys_own_fillable_pdf_is_added_and_filled_at_the_desk_with_no_code(client, book, built):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("form.pdf", fillable("licence", "depth", "water.1.at", "water.2.at"))
        archive.writestr("form.toml", 'title = "Notice"\nauthority = "An office (invented)"\ntemplate = "form.pdf"\n[fields]\nlicence = { path = "firm.licence", required = true }\n'
                         'depth = { path = "hole.depth", unit = "ft", decimals = 1 }\n[tables.water]\npath = "hole.strikes"\ncolumns = { at = { path = "depth", unit = "m" } }\n')
    assert client.post("/forms", files={"file": ("Notice of a bore.zip", out.getvalue())}).headers["location"] == "/forms?added=notice-of-a-bore"
    save_settings(Settings(firm="Hollow Reed (invented)", licence="INV-0042"), book.folder)
    made = client.post(f"/jobs/{built}/form/notice-of-a-bore")
    filled = pypdf.PdfReader(io.BytesIO(client.get(made.headers["location"]).content)).get_fields()
    assert {name: field.get("/V") for name, field in filled.items()} == {"licence": "INV-0042", "depth": "217.5", "water.1.at": "38.4", "water.2.at": "59.1"}
    assert book.job(built).papers[-1].body.document == "form: notice-of-a-bore"


def test_a_bad_form_is_refused_by_name(client, book):
    answer = client.post("/forms", files={"file": ("x.zip", form_zip('[fields]\ndepth = "hole.dpeth"\n'))})
    assert answer.status_code == 422 and "fields.depth.path" in answer.text
    assert client.post("/forms", files={"file": ("x.zip", b"junk")}).status_code == 422 and client.post("/forms").status_code == 422
    assert not (book.folder / "forms").exists()


def test_a_photo_is_kept_whole_and_shown_with_place_and_time(client, book, built):
    data = made_jpeg()
    assert client.post(f"/jobs/{built}/photos", files={"photo": ("a.jpg", data)}, data={"depth": "38.4 m", "caption": "strike"}).status_code == 303
    page = client.get(f"/jobs/{built}/photos")
    assert "-38.47020, -18.22010" in page.text and "Inventcam" in page.text and "38.4 m" in page.text
    (fact,) = book.job(built).hole.photos
    assert client.get(f"/jobs/{built}/photo/{fact.body.attachment}").content == data
    for files, given, field in (({"photo": ("a.jpg", b"junk")}, {}, "photo"), ({"photo": ("a.jpg", data)}, {"depth": "deep"}, "depth"), ({}, {}, "photo")):
        answer = client.post(f"/jobs/{built}/photos", files=files or None, data=given)
        assert answer.status_code == 422 and f'id="{field}-wrong"' in answer.text
    assert len(book.job(built).hole.photos) == 1


def test_settings_offer_the_language_and_the_owners_page(client, book):
    page = client.get("/settings")
    assert '<option value="fr">français</option>' in page.text and '<option value="en" selected>English</option>' in page.text
    assert 'name="language"' in page.text and 'name="owner_page"' in page.text and 'href="/forms"' in page.text
