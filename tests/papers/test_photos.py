"""Photos: whole in the store and the archive, bare in what a customer gets, placed by depth."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256

import made_jobs
import pypdf
import pytest

from borewright.errors import BadInput
from borewright.exchange import FORMATS, read_archive, write_jobs
from borewright.papers import paper_data, paper_pdf
from borewright.papers.make import issue
from borewright.record.pictures import picture_facts, without_private_data
from borewright.storage import Settings, open_job_book
from borewright.work.photos import attach_photo
from tests.made_photos import LATITUDE, LONGITUDE, PRIVATE, made_jpeg, made_png

FIRM = Settings(firm="Hollow Reed Bores (invented)")


@pytest.fixture
def book(tmp_path):
    with open_job_book(tmp_path / "home") as opened:
        opened.add(made_jobs.built().entries)
        yield opened


@pytest.fixture
def job(book):
    return book.find("HR-0107")


def test_a_photo_is_attached_with_its_place_and_time_and_kept_whole(book, job):
    data = made_jpeg()
    entry = attach_photo(book, job, data, by="tester", depth=38.4, caption="the strike")
    assert entry.at == datetime(2026, 3, 2, 10, 41, 7, tzinfo=timezone(timedelta(hours=10)))
    assert entry.body["latitude"] == pytest.approx(LATITUDE, abs=1e-6) and entry.body["longitude"] == pytest.approx(LONGITUDE, abs=1e-6)
    assert entry.body["hole"] == 1 and entry.body["depth"] == 38.4 and entry.body["media_type"] == "image/jpeg"
    assert book.attachment(entry.body["attachment"]).read_bytes() == data


def test_what_is_no_photo_is_refused_and_nothing_is_written(book, job):
    before = len(book.entries(job))
    for data, more in ((b"not a photo", {}), (made_jpeg(), {"depth": -3.0}), (b"\xff\xd8\xff" + bytes(31 * 2**20), {})):
        with pytest.raises(BadInput):
            attach_photo(book, job, data, by="tester", **more)
    assert len(book.entries(job)) == before
    assert not any((book.folder / "attachments").rglob("*")) if (book.folder / "attachments").exists() else True


def test_a_clock_that_was_never_set_is_not_believed(book, job):
    early = made_jpeg().replace(b"2026:03:02 10:41:07", b"1980:01:01 00:00:00")
    begun = datetime.now(UTC)
    assert attach_photo(book, job, early, by="tester").at >= begun - timedelta(seconds=5)


def test_the_archive_has_all_of_it_and_no_open_format_has_any(book, job, tmp_path):
    data = made_jpeg()
    name = sha256(data).hexdigest()
    attach_photo(book, job, data, by="tester", depth=38.4)
    for format, (ending, _, _) in FORMATS.items():
        path = tmp_path / f"out{ending}"
        write_jobs(book, [job], format, path)
        if format == "archive":
            (kept,) = list(read_archive(path).each_attachment())
            assert kept == (name, data) and picture_facts(kept[1]).latitude == pytest.approx(LATITUDE, abs=1e-6)
            continue
        raw = path.read_bytes()
        texts = [raw] + ([zipfile.ZipFile(path).read(n) for n in zipfile.ZipFile(path).namelist()] if zipfile.is_zipfile(path) else [])
        for text in texts:
            assert not any(private in text for private in PRIVATE) and name.encode() not in text, format


def images_of(pdf: bytes) -> list[bytes]:
    """Return the bytes of every picture in a PDF as they stand in it."""
    found = []
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for image in (page["/Resources"].get("/XObject") or {}).values():
            drawn = image.get_object()
            if drawn["/Subtype"] == "/Image":
                found.append((drawn._data, drawn["/Width"], drawn["/Height"]))
    return found


@pytest.mark.parametrize("document", ["bore record", "handover pack"])
def test_the_customers_paper_shows_the_photos_by_depth_and_tells_nothing_more(book, job, tmp_path, document):
    attach_photo(book, job, made_jpeg(), by="tester", depth=59.1, caption="second strike (invented)")
    attach_photo(book, job, made_png(), by="tester", depth=38.4, caption="first strike (invented)")
    bare = pypdf.PdfReader(io.BytesIO(paper_pdf(book.job(job), document, settings=FIRM).pdf))
    path, _ = issue(book, job, document, settings=FIRM, folder=tmp_path, by="tester")
    pdf = path.read_bytes()
    text = " ".join(" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    assert text.index("38.4 m · first strike (invented)") < text.index("59.1 m · second strike (invented)")
    pictures = images_of(pdf)
    assert len(pictures) == 2 and len(pypdf.PdfReader(io.BytesIO(pdf)).pages) >= len(bare.pages)
    everything = pdf + b"".join(data for data, _, _ in pictures) + b"".join(p.get_contents().get_data() for p in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    for private in PRIVATE:
        assert private not in everything
    for data, _, _ in pictures:
        if data.startswith(b"\xff\xd8"):
            facts = picture_facts(data)
            assert (facts.latitude, facts.taken, facts.device, facts.owner) == (None, None, "", "")
    known = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]["/Metadata"].get_data().decode()
    assert "pdfua" in known, "a paper with photos is still one for a screen reader"


def test_the_same_photos_give_the_same_bytes(book, job):
    attach_photo(book, job, made_jpeg(), by="tester", depth=59.1)
    folded = book.job(job)
    assert paper_pdf(folded, "bore record", settings=FIRM, attachments=book.attachment).pdf == paper_pdf(folded, "bore record", settings=FIRM, attachments=book.attachment).pdf


def test_a_photo_that_has_not_arrived_or_is_broken_leaves_the_paper_whole(book, job):
    book.write(job, "rig.photo", {"attachment": "0" * 64, "depth": 10.0}, by="tester")
    book.write(job, "rig.photo", {"attachment": book.attach(made_jpeg()[:300] + b"rubbish"), "depth": 11.0}, by="tester")
    # A frame that says it is a picture and holds none: only setting it tells.
    empty = without_private_data(made_jpeg())
    at = empty.index(b"\xff\xda")
    book.write(job, "rig.photo", {"attachment": book.attach(empty[:at] + b"\xff\xd9"), "depth": 12.0}, by="tester")
    made = paper_pdf(book.job(job), "bore record", settings=FIRM, attachments=book.attachment)
    assert made.pdf.startswith(b"%PDF")


def test_more_photos_than_a_paper_holds_are_counted(book, job):
    for n in range(11):
        book.write(job, "rig.photo", {"attachment": book.attach(made_jpeg() + bytes([n])), "depth": float(n)}, by="tester")
    data = paper_data(book.job(job), "handover pack", settings=FIRM, attachments=book.attachment)
    (block,) = [b for b in data["blocks"] if b["kind"] == "photos"]
    assert len(block["items"]) == 8
    assert "3 photos more stand in the job book." in str(data["blocks"])
