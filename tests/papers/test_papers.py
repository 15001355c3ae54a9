"""The papers: they open, they say what the job book says to the digit, and nothing that a person typed can break them."""

from __future__ import annotations

import io
import re
from contextlib import nullcontext
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import made_jobs
import pypdf
import pytest

from borewright.errors import BadInput, Refused
from borewright.papers import PAPERS, make_paper, paper_data, paper_pdf
from borewright.storage import Settings

FIRM = Settings(firm="Hollow Reed Bores (invented)", owner="R. Tester", phone="000 555 0100", email="yard@example.invalid", licence="INV-0042", terms="Payment within 14 days.")
# Points, from the sizes of ISO 216 (210 x 297 mm) and ANSI Letter (8.5 x 11 in).
SIZES = {"A4": (210 / 25.4 * 72, 297 / 25.4 * 72), "Letter": (612.0, 792.0)}


def pages(pdf: bytes) -> list[str]:
    """Return the text of each page, runs of white space as one space."""
    return [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def text(pdf: bytes) -> str:
    return " ".join(pages(pdf))


@lru_cache(maxsize=32)
def of_the_firm(document: str, paper: str = "A4"):
    """The built job's paper, made once for all the tests that read it."""
    return paper_pdf(made_jobs.built().job(), document, settings=FIRM, paper=paper)


@lru_cache(maxsize=32)
def said_by(document: str) -> str:
    return text(of_the_firm(document).pdf)


@pytest.fixture(scope="module")
def built():
    return made_jobs.built().job()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("document", PAPERS)
def test_every_paper_opens_and_has_its_size_and_page_numbers(document, paper):
    made = of_the_firm(document, paper)
    reader = pypdf.PdfReader(io.BytesIO(made.pdf))
    for page in reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.5)
    said = pages(made.pdf)
    for number, page in enumerate(said, 1):
        assert f"page {number} of {len(said)}" in page
        assert " ".join(re.findall("....", made.inputs_sha256[:16])) in page
    assert "Hollow Reed Bores (invented)" in said[0] and "INVENTED" in said[0]
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root and root["/Lang"] == "en", "the PDF is tagged for a screen reader"
    known = root["/Metadata"].get_data().decode()
    assert "pdfaid:part>2<" in known and "pdfuaid:part>1<" in known, "typst vouches for PDF/A-2a and PDF/UA-1"


def test_the_bore_record_holds_the_figures_of_the_log():
    said = said_by("bore record")
    for figure in ("stiff red-brown sandy", "9.2–17.8 m", "38.4 m", "+7.2 L/min", "+24.6 L/min", "31.8 L/min", "12.35 m", "0–18.5 m", "26 bags of 20 kg", "660 L", "1820 kg/m", "36.3–42.3 m", "57.3–63.3 m",
                   "125 mm × 8.3 mm", "66.3 m", "22.8 L/min", "212 m", "38.47020° S", "18.22010° W", "INV-0042", "54 m", "620 µS/cm", "pH 7.1"):
        assert figure in said, figure


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_what_the_page_of_a_bore_record_has_no_room_for_stands_overleaf(paper):
    log = made_jobs.built()
    for n in range(50):
        log.write("rig.ground", hole=2, from_depth=6.0 * n, to_depth=6.0 * n + 6, words=f"layer {n}: grey granite with bands of quartz and schist, iron stained on the joints, damp")
        log.write("rig.struck", hole=2, depth=6.0 * n + 3)
        log.write("rig.flow", hole=2, depth=6.0 * n + 3.5, method="bucket", flow=0.00001 * (n + 1))
        log.write("rig.annulus", hole=2, what="grout", from_depth=6.0 * n, to_depth=6.0 * n + 6, material="cement with four per cent bentonite, tremied", bags=9, bag_mass=20, density=1750)
    log.write("rig.stopped", hole=2, depth=400.0, reason="other", words="Everything at once. " * 20)
    said = pages(paper_pdf(log.job(), "bore record", settings=FIRM, paper=paper).pdf)
    assert "36 strikes more stand overleaf" in said[0] and "in the log" in said[0] and "driller: name and licence" in said[0], "all of the record's own page is on one"
    pack = pages(paper_pdf(log.job(), "handover pack", settings=FIRM, paper=paper).pdf)
    for whole in (" ".join(said[1:]), " ".join(pack)):
        assert all(f"layer {n}: grey granite with bands of quartz and schist, iron stained on the joints, damp" in whole for n in range(50))
        assert all(f"{6 * n + 3} m" in whole.replace("\u00a0", " ") for n in range(50))
    assert " ".join(said[1:]).count("cement with four per cent bentonite, tremied") == 50
    assert len(pages(paper_pdf(made_jobs.built().job(), "bore record", settings=FIRM, paper=paper).pdf)) == 1, "where all has room, one page is all"


def test_the_same_job_gives_the_same_bytes(built):
    first, second = (paper_pdf(built, "handover pack", settings=FIRM) for _ in range(2))
    assert first.pdf == second.pdf and first.sha256 == second.sha256
    other = paper_pdf(made_jobs.built(customer="Somebody else (invented)").job(), "handover pack", settings=FIRM)
    assert other.inputs_sha256 != first.inputs_sha256


NASTY = '#panic("x") $a^2$ *b* _c_ [d] <e> @f \\ // `g` = h #{1+1} "i" — é & </text>'


@pytest.mark.parametrize("document", PAPERS)
def test_markup_in_a_name_stays_text(document):
    log = made_jobs.built(customer=NASTY, title=NASTY)
    log.write("rig.ground", from_depth=66.3, to_depth=67.0, words=NASTY)
    settings = replace(FIRM, firm=NASTY, terms=NASTY, address=NASTY)
    said = text(paper_pdf(log.job(), document, settings=settings).pdf)
    squeezed = said.replace(" ", "")
    # Straight quotes may be set as curly ones and a line may break anywhere; everything else stands as typed.
    for piece in ('#panic(', "$a^2$", "*b*", "_c_", "[d]", "<e>", "@f", "//", "`g`", "#{1+1}", "</text>"):
        assert piece in squeezed, piece


def test_what_is_missing_is_said():
    log = made_jobs.Notebook()
    log.write("enquiry.opened", title="Bare hole")
    log.write("enquiry.site", latitude=0.0, longitude=10.0)
    log.write("rig.ground", from_depth=0.0, to_depth=5.0, words="clay")
    log.write("rig.ground", from_depth=8.0, to_depth=20.0, words="sand")
    job = log.job()
    record = text(paper_pdf(job, "bore record", settings=Settings()).pdf)
    for words in ("not recorded", "No casing, seal or grout is recorded.", "No strike is recorded.", "No ground is logged from 5 to 8 m.", "The hole is not recorded as stopped.", "No customer is named.", "diameter not recorded", "Firm not named"):
        assert words in record, words
    pack = text(paper_pdf(job, "handover pack", settings=Settings()).pdf)
    assert "not rated" in pack and "do not drink it" in pack and "No water analysis is recorded." in pack


def test_a_paper_that_cannot_go_out_is_refused_with_every_reason():
    job = made_jobs.nothing().job()
    with pytest.raises(Refused, match="No hole has been logged"):
        paper_pdf(job, "bore record", settings=FIRM)
    with pytest.raises(Refused, match="No customer is named. .*No quote has been worked out"):
        paper_pdf(job, "quote", settings=FIRM)


@pytest.mark.parametrize(("document", "paper", "field"), [("poem", "A4", "document"), ("quote", "A5", "paper")])
def test_bad_input_is_refused(built, document, paper, field):
    with pytest.raises(BadInput) as caught:
        paper_pdf(built, document, settings=FIRM, paper=paper)
    assert caught.value.field == field


def test_the_firm_chooses_words_and_units(built):
    us = text(paper_pdf(built, "bore record", settings=replace(FIRM, word="well", units="us")).pdf)
    assert "Well record" in us and "217.5 ft" in us and "US gpm" in us and "March 2, 2026" in us and " L/min" not in us
    imperial = text(paper_pdf(built, "handover pack", settings=replace(FIRM, units="imperial")).pdf)
    assert "imp gpm" in imperial and "2 March 2026" in imperial
    # 66.3 m is 217.52 ft and 12.35 m is 40.52 ft (1 ft = 0.3048 m exactly).
    assert "40.5 ft below ground" in imperial


def test_the_quote_says_what_was_worked_out():
    content, content_hash = made_jobs.quote()
    said = said_by("quote")
    assert content_hash in said and "Q-0107, revision 1" in said and "15 L/min" in said
    for scenario in content["scenarios"]:
        major = Decimal(scenario["price_minor"]) / 100
        assert f"AUD {major:,.2f}" in said
        for line in scenario["lines"] if scenario["name"] in ("likely", "no water") else ():
            assert f"AUD {Decimal(line['amount_minor']) / 100:,.2f}".replace("-", "−") in said, line
    assert f"{content['chance_found'] * 100:.0f} in 100" in said
    assert "loses money" not in said and "reserve from a simulation" not in said
    assert "Accepted by Mara Ellison-Tay on 2 March 2026, signed." in said


def test_the_promise_is_said_in_plain_words():
    said = text(paper_pdf(made_jobs.before("promise").job(), "quote", settings=FIRM).pdf)
    content, _ = made_jobs.quote("promise")
    assert "if the need is not met you pay nothing for the hole" in said
    assert f"AUD {Decimal(content['contract']['promise_price']) / 100:,.2f} before tax is added when the need is met" in said


def test_the_rig_card_holds_each_line_of_the_rule(built):
    content, _ = made_jobs.quote()
    pages_ = pages(paper_pdf(built, "rig card", settings=FIRM).pdf)
    assert len(pages_) == 1
    for row in content["rig_card"]:
        assert f"{row['depth']:g} m 15 L/min" in pages_[0]
    assert content["difference"][:60] in pages_[0]


def test_the_handover_of_a_sealed_hole_says_so():
    said = text(paper_pdf(made_jobs.sealed().job(), "handover pack", settings=FIRM).pdf)
    assert "did not give the water that was needed" in said and "30–84 m" in said and "bentonite chips: 46 bags" in said and "cement grout: 28 bags, 620 L" in said
    assert "Pump no more" not in said


def test_the_square_code_is_read_back_as_words(built):
    from borewright.papers.handover import code_words
    from borewright.papers.wording import Wording

    words = code_words(built, Wording(built, FIRM))
    assert words.splitlines()[:4] == ["Lot 7 orchard house", "HR-0107", "geo:-38.47020,-18.22010", "depth 66.3 m"]
    assert words.replace("\n", " · ")[:60] in said_by("handover pack")


def test_the_test_report_holds_readings_and_fit():
    said = said_by("test report")
    time, drawdown = made_jobs.drawdowns()
    assert "drawdown, m" in said
    for t, s in zip(time, drawdown, strict=True):
        assert f" {f'{t / 60:.2f}'.rstrip('0').rstrip('.')} {s:.3f} " in said
    assert "3.41 (3.2 to 3.7)" in said and "0.00021" in said and "−210.4" in said.replace("-210.4", "−210.4")


def test_the_water_report_holds_each_value(built):
    said = said_by("water report")
    for value in built.hole.analyses[-1].body.values:
        assert f"{value.name} {'< ' if value.below_detection else ''}{value.value:g}" in said


def test_only_fonts_shipped_with_the_program_are_used():
    for document in PAPERS:
        reader = pypdf.PdfReader(io.BytesIO(of_the_firm(document).pdf))
        for page in reader.pages:
            for font in (page["/Resources"].get("/Font") or {}).values():
                base = str(font.get_object().get("/BaseFont", ""))
                assert re.search("Barlow|Libertinus", base), base


def test_another_script_is_set_and_not_lost():
    said = text(paper_pdf(made_jobs.built(customer="Ирина Ωmega").job(), "handover pack", settings=FIRM).pdf)
    assert "Ирина" in said


def test_a_logo_is_taken_and_a_broken_one_is_left_away(built, tmp_path):
    import segno

    good, bad = tmp_path / "logo.png", tmp_path / "bad.png"
    segno.make("logo").save(str(good))
    bad.write_bytes(b"not a picture")
    plain = paper_pdf(built, "rig card", settings=FIRM)
    with_logo = paper_pdf(built, "rig card", settings=replace(FIRM, logo=str(good)))
    assert len(with_logo.pdf) > len(plain.pdf)
    assert paper_pdf(built, "rig card", settings=replace(FIRM, logo=str(bad))).pdf == plain.pdf
    broken = tmp_path / "broken.png"
    broken.write_bytes(b"\x89PNG\r\n\x1a\n" + b"0" * 40)
    assert "Rig card" in text(paper_pdf(built, "rig card", settings=replace(FIRM, logo=str(broken))).pdf)


def test_a_paper_is_written_whole(built, tmp_path):
    path = make_paper(built, "bore record", settings=FIRM, folder=tmp_path / "new", paper="Letter")
    assert path.name == "hr-0107-bore-record-letter.pdf" and path.read_bytes().startswith(b"%PDF")
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_the_data_are_plain_strings(built):
    data = paper_data(built, "handover pack", settings=FIRM)
    assert data["title"] == "Handover pack" and len(data["hash"]) == 64


def test_typst_has_nothing_to_warn_of(built, monkeypatch):
    from borewright.papers import make

    seen = []

    class Watched:
        def __init__(self):
            self.real = make._compiler_in(make.TEMPLATES)

        def compile(self, source, **more):
            pdf, warnings = self.real.compile_with_warnings(source, **more)
            seen.extend(str(w) for w in warnings)
            return pdf

    watched = Watched()
    monkeypatch.setattr(make, "_setter", lambda photos: nullcontext(watched))
    for document in PAPERS:
        paper_pdf(built, document, settings=FIRM)
    assert seen == []


def test_issuing_keeps_both_hashes_in_the_job_book_once(tmp_path):
    from borewright.papers import issue
    from borewright.storage import open_job_book

    with open_job_book(tmp_path / "home") as book:
        book.add(made_jobs.built().entries)
        path, entry = issue(book, made_jobs.JOB, "bore record", settings=FIRM, folder=tmp_path / "out", by="R. Tester")
        kept = book.job(made_jobs.JOB).papers[-1].body
        import hashlib

        assert kept.document == "bore record" and kept.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
        assert kept.inputs_sha256 == paper_data(book.job(made_jobs.JOB), "bore record", settings=FIRM)["hash"]
        again, nothing = issue(book, made_jobs.JOB, "bore record", settings=FIRM, folder=tmp_path / "out", by="R. Tester")
        assert again == path and nothing is None and len(book.job(made_jobs.JOB).papers) == 1
        assert entry.kind == "papers.issued"


def test_the_command_makes_what_is_ready_and_says_what_is_not(tmp_path, capsys, monkeypatch):
    import json

    from borewright.cli.main import main
    from borewright.storage import open_job_book

    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    with open_job_book(tmp_path / "home") as book:
        book.add(made_jobs.drilling().entries)
    assert main(["papers", "HR-0107", "--out", str(tmp_path / "out"), "--paper", "Letter", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    made = {row["document"] for row in answer["papers"]}
    assert {"quote", "rig card", "safety sheet", "bore record", "handover pack"} <= made
    assert {row["document"] for row in answer["waiting"]} == {"test report", "water report"}
    assert len(list((tmp_path / "out").glob("*-letter.pdf"))) == len(made)
    assert main(["papers", "HR-0107", "--out", str(tmp_path / "out"), "--document", "test report"]) == 1
    assert "No test is recorded" in capsys.readouterr().err
    assert main(["papers", "HR-0107", "--document", "poem", "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]["field"] == "document"
    assert main(["papers", "nobody", "--out", str(tmp_path / "out")]) in (1, 2)
