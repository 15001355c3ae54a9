"""The pages of docs/ that say what is in a file are held to the program, and what is exported loads as a register."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import made_jobs
import pytest

from borewright.cli.main import main
from borewright.exchange import FORMATS
from borewright.exchange.bore import BORE_COLUMNS, TABLES
from borewright.record.bodies import CURRENT_VERSION, KINDS
from borewright.record.describe import kinds_document
from borewright.siting import open_register
from borewright.storage import open_job_book

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_the_page_of_the_job_book_is_what_the_bodies_say():
    text = (DOCS / "jobbook.md").read_text(encoding="utf-8")
    made = text.split("<!-- kinds -->\n")[1].split("<!-- end of kinds -->")[0]
    assert made == kinds_document(), "print it again: python -m borewright.record.describe"
    assert re.findall(r"^### `([^`]+)`, version (\d+)$", made, re.M) == [(kind, str(CURRENT_VERSION[kind])) for kind in KINDS]
    for kind, body in KINDS.items():
        section = made.split(f"### `{kind}`,")[1].split("\n### ")[0]
        assert re.findall(r"^\| `([^`]+)` \|", section, re.M) == [name for name in body.model_fields if name != "typed"], kind


def test_the_page_of_formats_names_every_format_table_and_column():
    text = (DOCS / "formats.md").read_text(encoding="utf-8")
    for name in FORMATS:
        assert re.search(rf"^\| `{name}` \|", text, re.M), name
    made = text.split("<!-- tables -->\n")[1].split("<!-- end of tables -->")[0]
    sections = {m[1]: m[2] for m in re.finditer(r"^### `(\w+)\.csv`[^\n]*\n(.*?)(?=^### |\Z)", made, re.M | re.S)}
    wanted = {"bores": BORE_COLUMNS} | {t.name: t.columns for t in TABLES}
    assert sections.keys() == wanted.keys()
    for name, columns in wanted.items():
        assert re.findall(r"^\| `([^`]+)` \|", sections[name], re.M) == [c.name for c in columns], name


def test_the_tables_that_are_exported_load_as_a_register(tmp_path, monkeypatch, capsys):
    home = tmp_path / "home"
    monkeypatch.setenv("BOREWRIGHT_HOME", str(home))
    with open_job_book(home) as book:
        book.add(made_jobs.built().entries)
    set_ = tmp_path / "set.zip"
    assert main(["export", "all", "--format", "csv", "--out", str(set_)]) == 0
    with zipfile.ZipFile(set_) as archive:
        for name in ("bores", "strikes", "intervals"):
            (tmp_path / f"{name}.csv").write_bytes(archive.read(f"{name}.csv"))
    assert main(["register", "load", str(tmp_path / "bores.csv"), "--strikes", str(tmp_path / "strikes.csv"), "--intervals", str(tmp_path / "intervals.csv"), "--name", "own"]) == 0
    assert "refused" not in capsys.readouterr().out.replace("0 refused", "").replace("none refused", "")
    found = open_register("own", home / "registers")
    assert list(found.depth) == pytest.approx([66.3]) and list(found.drilled_on) == ["2026-03-02"]
    assert float(found.lon[0]) == pytest.approx(-18.2201) and float(found.lat[0]) == pytest.approx(-38.4702)
    # Of the last flow measured at the collar: 31.8 L/min.
    assert float(found.flow[0]) == pytest.approx(31.8 / 60000, rel=1e-4)
    assert sorted(float(d) for d in found.strikes.depth) == pytest.approx([38.4, 59.1])
