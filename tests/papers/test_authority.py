"""An authority's form: a map and a template that the firm adds, refused by name when the map is wrong, filled with what the job book holds."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import made_jobs
import pypdf
import pytest

from borewright.errors import BadInput, NotFound, Refused, StoreError
from borewright.papers.authority import SAMPLES, add_form, form_data, form_pdf, forms, issue_form, load_form
from borewright.papers.facts import PATHS, ROWS
from borewright.quantities import KINDS
from borewright.record.fold import Hole, Job
from borewright.storage import Settings, open_job_book
from tests.made_forms import fillable

FIRM = Settings(firm="Hollow Reed Bores (invented)", licence="INV-0042")
TYPST = '#let data = json(bytes(sys.inputs.data))\n#set document(title: data.title)\n#for (name, value) in data.fields [#text(name): #text(value)\\ ]\n#for (name, rows) in data.tables [#for row in rows [#row.values().join(" | ")\\ ]]\n'


@pytest.fixture(scope="module")
def built():
    return made_jobs.built().job()


def made(folder: Path, map_text: str, template: str | bytes = TYPST, name: str = "office") -> Path:
    place = folder / name
    place.mkdir(parents=True)
    (place / "form.toml").write_text(map_text, encoding="utf-8")
    if isinstance(template, bytes):
        (place / "form.pdf").write_bytes(template)
    else:
        (place / "form.typ").write_text(template, encoding="utf-8")
    return place


def said(pdf: bytes) -> str:
    return " ".join(" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_the_sample_of_an_invented_authority_says_what_the_job_book_says(built, tmp_path):
    form = load_form("orrin-vale", tmp_path)
    assert form.sample and "invented" in form.authority
    text = said(form_pdf(built, form, settings=FIRM).pdf)
    for figure in ("INV-0042", "Mara Ellison-Tay", "-38.47020", "-18.22010", "66.3", "12.35", "0.53", "125", "V-notch", "stiff red-brown sandy clay", "38.4", "0.12", "0.41", "bore in use", "INVENTED"):
        assert figure in text, figure


def test_the_same_job_gives_the_same_bytes(built, tmp_path):
    form = load_form("orrin-vale", tmp_path)
    first, second = form_pdf(built, form, settings=FIRM), form_pdf(built, form, settings=FIRM)
    assert (first.pdf, first.inputs_sha256) == (second.pdf, second.inputs_sha256) and first.document == "form: orrin-vale"


def test_a_firm_adds_its_own_and_units_and_formats_are_those_of_the_map(built, tmp_path):
    source = made(tmp_path / "from", """
title = "Bore return"
[fields]
feet = { path = "hole.depth", unit = "ft", decimals = 1 }
inches = { path = "casing.outside_diameter", unit = "in", digits = 3 }
firm_units = "hole.depth"
code = { path = "hole.reason", words = { "enough water" = "A1" } }
day = { path = "hole.stopped_on", date = "%d/%m/%y" }
kind = { text = "water" }
temperature = { path = "sample.temperature", unit = "degF", decimals = 1 }
nothing = { path = "hole.sealed_off_on", empty = "n/a" }
[tables.rows]
path = "hole.strikes"
columns = { at = { path = "depth", unit = "ft", decimals = 0 }, gain = { path = "flow", unit = "US gpm", digits = 2 } }
""")
    add_form(source, tmp_path)
    assert [f.name for f in forms(tmp_path)] == ["office", "orrin-vale"]
    data = form_data(built, load_form("office", tmp_path), settings=FIRM)
    # By hand: 66.3 / 0.3048 = 217.5 ft; 0.125 / 0.0254 = 4.92 in; 16.4 degC = 61.5 degF; 38.4 m = 126 ft; 7.2 L/min = 1.9 US gal/min.
    assert data["fields"] == {
        "feet": "217.5", "inches": "4.92", "firm_units": "66.3 m", "code": "A1", "day": "02/03/26", "kind": "water", "temperature": "61.5", "nothing": "n/a",
    }
    assert data["tables"]["rows"][0] == {"at": "126", "gain": "1.9"} and data["missing"] == ["nothing"]
    assert "126 | 1.9" in said(form_pdf(built, load_form("office", tmp_path), settings=FIRM).pdf)


def test_a_fillable_pdf_takes_the_same_map(built, tmp_path):
    pdf = fillable("depth", "owner", "rows.1.at", "rows.2.at", "rows.3.at", "untouched")
    source = made(tmp_path / "from", 'template = "form.pdf"\n[fields]\ndepth = { path = "hole.depth", unit = "m", decimals = 1 }\nowner = "customer.name"\n'
                  '[tables.rows]\npath = "hole.strikes"\ncolumns = { at = { path = "depth", unit = "m" } }\n', pdf)
    form = add_form(source, tmp_path)
    filled = pypdf.PdfReader(io.BytesIO(form_pdf(built, form, settings=FIRM).pdf)).get_fields()
    assert {k: v.get("/V") for k, v in filled.items()} == {
        "depth": "66.3", "owner": "Mara Ellison-Tay (invented)", "rows.1.at": "38.4", "rows.2.at": "59.1", "rows.3.at": None, "untouched": None,
    }


def test_more_rows_than_a_fillable_pdf_has_room_for_are_refused_and_not_dropped(built, tmp_path):
    source = made(tmp_path / "from", 'template = "form.pdf"\n[tables.rows]\npath = "hole.strikes"\ncolumns = { at = "depth" }\n', fillable("rows.1.at"))
    with pytest.raises(Refused, match="room for 1 rows"):
        form_pdf(built, add_form(source, tmp_path), settings=FIRM)


@pytest.mark.parametrize(("line", "field"), [
    ('depth = "hole.dpeth"', "fields.depth.path"), ('depth = { path = "hole.depth", unit = "L/s" }', "fields.depth.unit"), ('depth = { path = "customer.name", unit = "m" }', "fields.depth.unit"),
    ('depth = { path = "hole.depth", colour = "red" }', "fields.depth.colour"), ('depth = { path = "hole.depth", decimals = 40 }', "fields.depth.decimals"),
    ('depth = { path = "hole.depth", digits = true }', "fields.depth.digits"), ('depth = { path = "hole.depth", text = "x" }', "fields.depth"), ("depth = 4", "fields.depth"),
    ('depth = { path = "customer.name", decimals = 1 }', "fields.depth.decimals"), ('depth = { path = "hole.depth", date = "%d" }', "fields.depth.date"),
    ('depth = { path = "hole.stopped_on", date = "%s" }', "fields.depth.date"), ('depth = { path = "hole.depth", required = "yes" }', "fields.depth.required"),
    ('depth = { path = "job.__class__" }', "fields.depth.path"), ('depth = { path = "hole.reason", words = { a = 1 } }', "fields.depth.words"),
    ('depth = "hole.depth"\n[tables.t]\npath = "hole.everything"', "tables.t.path"), ('depth = "hole.depth"\n[tables.t]\npath = "hole.ground"', "tables.t.columns"),
    ('depth = "hole.depth"\n[tables.t]\npath = "hole.ground"\ncolumns = { x = "flow" }', "tables.t.columns.x.path"), ('depth = "hole.depth"\n[tables.t]\nrows = 3', "tables.t.rows"),
])
def test_a_bad_map_is_refused_by_name_and_nothing_is_kept(tmp_path, line, field):
    with pytest.raises(BadInput) as caught:
        add_form(made(tmp_path / "from", f"[fields]\n{line}\n"), tmp_path)
    assert caught.value.field == field
    assert not (tmp_path / "forms" / "office").exists()


def test_bad_folders_and_templates_are_refused_by_name(tmp_path):
    def field(map_text: str, template: str | bytes = TYPST) -> str:
        shutil.rmtree(tmp_path / "from", ignore_errors=True)
        with pytest.raises(BadInput) as caught:
            add_form(made(tmp_path / "from", map_text, template), tmp_path)
        return caught.value.field

    good = '[fields]\ndepth = "hole.depth"\n'
    assert field("[fields") == "form.toml" and field("") == "fields" and field("surprise = 1\n" + good) == "surprise"
    assert field('template = "../form.typ"\n' + good) == "template" and field('template = "form.pdf"\n' + good) == "template"
    assert field(good, '#import "@preview/cetz:0.2.0"\n') == "form.typ"
    assert field('template = "form.pdf"\n' + good, b"%PDF-1.4 nonsense") == "form.pdf" and field('template = "form.pdf"\n' + good, fillable("other")) == "fields.depth"
    shutil.rmtree(tmp_path / "from")
    source = made(tmp_path / "from", good)
    for bad in ("../up", "Up", "a/b", "x" * 60):
        with pytest.raises(BadInput, match="name"):
            add_form(source, tmp_path, name=bad)
    add_form(source, tmp_path)
    with pytest.raises(BadInput, match="there already"):
        add_form(source, tmp_path)
    assert add_form(source, tmp_path, replace=True).name == "office"
    with pytest.raises(NotFound):
        load_form("elsewhere", tmp_path)
    with pytest.raises(BadInput):
        load_form("../office", tmp_path)


def test_what_is_required_and_not_recorded_is_named(tmp_path):
    job = made_jobs.nothing().job()
    with pytest.raises(Refused, match=r"owner \(customer\.name\), which is written at the stage enquiry;.*depth \(hole\.depth\), which is written at the stage rig"):
        form_data(job, load_form("orrin-vale", tmp_path), settings=FIRM)


def test_every_path_answers_for_a_full_and_for_an_empty_job(built):
    from borewright.papers.facts import Source

    full, empty = Source.of(built, FIRM), Source.of(Job(id=built.id), FIRM)
    for path, (kind, get) in PATHS.items():
        assert kind in KINDS or kind in ("text", "date", "degrees", "whole"), path
        get(full)
        assert get(empty) in (None, "", FIRM.firm, FIRM.licence, built.id, empty.job.title, 1, "open"), path
    told = {path for path, (_, get) in PATHS.items() if get(full) not in (None, "")}
    assert len(told) > 35
    for path, (columns, get) in ROWS.items():
        for row in get(full):
            assert set(columns) <= set(row), path
        assert list(get(Source(empty.job, Hole(1), FIRM))) == []


def test_issuing_keeps_it_in_the_job_book_once(tmp_path):
    with open_job_book(tmp_path / "home") as book:
        notes = made_jobs.built()
        book.add(notes.entries)
        job = notes.entries[0].job
        path, entry = issue_form(book, job, "orrin-vale", settings=FIRM, folder=tmp_path / "out", by="tester")
        assert path.is_file() and entry.body["document"] == "form: orrin-vale"
        assert issue_form(book, job, "orrin-vale", settings=FIRM, folder=tmp_path / "out", by="tester")[1] is None


def test_what_a_person_typed_is_never_markup(tmp_path):
    notes = made_jobs.built(customer='#panic("x") *bold* $y$')
    form = load_form("orrin-vale", tmp_path)
    assert '#panic("x") *bold* $y$' in said(form_pdf(notes.job(), form, settings=FIRM).pdf)
    assert (SAMPLES / "orrin-vale" / "form.typ").is_file()


@pytest.mark.parametrize(("template", "said"), [
    ('#let s = "x"\n#for i in range(40) { s = s + s }\n#s.len()', "memory"),
    ("#range(3000000000).len()", "memory"),
    ("#while true { }", "condition is always true"),
    ('#read("/etc/passwd")', "not found"),
])
def test_a_template_that_asks_for_too_much_is_refused_and_the_program_goes_on(tmp_path, template, said):
    source = tmp_path / "board"
    source.mkdir()
    (source / "form.toml").write_text('title = "T"\nauthority = "A"\npaper = "A4"\n[fields.name]\npath = "customer.name"\n')
    (source / "form.typ").write_text(template)
    form = add_form(source, tmp_path / "home")
    with pytest.raises(StoreError, match=said):
        form_pdf(made_jobs.built().job(), form, settings=Settings())


def test_a_pdf_whose_pages_go_round_is_refused(tmp_path):
    parts = [b"<</Type/Catalog/Pages 2 0 R/AcroForm<</Fields[3 0 R]>>>>", b"<</Type/Pages/Kids[2 0 R 2 0 R]/Count 1>>", b"<</FT/Tx/T(name)>>"]
    out, places = b"%PDF-1.7\n", []
    for number, part in enumerate(parts, 1):
        places.append(len(out))
        out += b"%d 0 obj\n" % number + part + b"\nendobj\n"
    start = len(out)
    out += b"xref\n0 4\n0000000000 65535 f \n" + b"".join(b"%010d 00000 n \n" % p for p in places) + b"trailer<</Size 4/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF" % start
    source = tmp_path / "board"
    source.mkdir()
    (source / "form.toml").write_text('title = "T"\nauthority = "A"\npaper = "A4"\n[fields.name]\npath = "customer.name"\n')
    (source / "form.pdf").write_bytes(out)
    form = add_form(source, tmp_path / "home")
    with pytest.raises(StoreError, match="could not be filled"):
        form_pdf(made_jobs.built().job(), form, settings=Settings())
