"""`borewright papers`: languages, and authorities' forms from the command line."""

from __future__ import annotations

import io
import json
import shutil

import made_jobs
import pypdf
import pytest

from borewright.cli.main import main
from borewright.papers.authority import SAMPLES
from borewright.storage import Settings, open_job_book, save_settings
from tests.made_forms import fillable


@pytest.fixture
def home(tmp_path, monkeypatch):
    folder = tmp_path / "home"
    monkeypatch.setenv("BOREWRIGHT_HOME", str(folder))
    with open_job_book(folder) as book:
        book.add(made_jobs.built().entries)
        save_settings(Settings(firm="Hollow Reed Bores (invented)", licence="INV-0042"), folder)
    return folder


def test_a_paper_in_another_language(home, tmp_path, capsys):
    assert main(["papers", "HR-0107", "--document", "bore record", "--language", "fr", "--out", str(tmp_path / "out")]) == 0
    (path,) = (tmp_path / "out").iterdir()
    assert "Fiche du forage" in pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages[0].extract_text()
    assert main(["papers", "HR-0107", "--language", "xx", "--out", str(tmp_path / "none")]) == 2
    assert "language" in capsys.readouterr().err and not (tmp_path / "none").exists()


def test_forms_are_listed_added_and_filled(home, tmp_path, capsys):
    source = tmp_path / "water-board"
    shutil.copytree(SAMPLES / "orrin-vale", source)
    assert main(["papers", "--add-form", str(source)]) == 0
    assert main(["papers", "--add-form", str(source)]) == 2
    assert main(["papers", "--add-form", str(source), "--replace"]) == 0
    capsys.readouterr()
    assert main(["papers", "--forms", "--json"]) == 0
    assert [(f["name"], f["sample"]) for f in json.loads(capsys.readouterr().out)["forms"]] == [("orrin-vale", True), ("water-board", False)]
    assert main(["papers", "HR-0107", "--form", "water-board", "--out", str(tmp_path / "out"), "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["papers"]
    assert row["document"] == "form: water-board" and row["entry"]
    assert main(["papers", "HR-0107", "--form", "nowhere", "--out", str(tmp_path / "out")]) == 1
    assert main(["papers"]) == 2


def test_a_fillable_form_from_the_command_line_says_what_is_missing_then_is_filled(home, tmp_path, capsys):
    source = tmp_path / "notice"
    source.mkdir()
    (source / "form.pdf").write_bytes(fillable("licence", "depth"))
    (source / "form.toml").write_text('title = "Notice"\nauthority = "An office (invented)"\ntemplate = "form.pdf"\n[fields]\nlicence = { path = "firm.licence", required = true }\n'
                                      'depth = { path = "hole.depth", unit = "m", decimals = 1 }\n', encoding="utf-8")
    assert main(["papers", "--add-form", str(source)]) == 0
    save_settings(Settings(firm="Hollow Reed Bores (invented)"), home)
    assert main(["papers", "HR-0107", "--form", "notice", "--out", str(tmp_path / "none")]) == 1
    assert "licence (firm.licence), which is written in the settings" in capsys.readouterr().err and not (tmp_path / "none").exists()
    save_settings(Settings(firm="Hollow Reed Bores (invented)", licence="INV-0042"), home)
    assert main(["papers", "HR-0107", "--form", "notice", "--out", str(tmp_path / "out")]) == 0
    (path,) = (tmp_path / "out").iterdir()
    assert {name: field["/V"] for name, field in pypdf.PdfReader(path).get_fields().items()} == {"licence": "INV-0042", "depth": "66.3"}
