"""Photos from the command line, all or none; and a large photo on a paper, small enough for mail."""

from __future__ import annotations

import io
import json
from pathlib import Path

import made_jobs
import numpy as np
import pytest

from borewright.cli.main import main
from borewright.papers import paper_pdf
from borewright.storage import Settings, open_job_book
from tests.made_photos import LATITUDE, LONGITUDE, PRIVATE, made_jpeg, made_png


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path / "home"))
    with open_job_book(tmp_path / "home") as book:
        book.add(made_jobs.built().entries)
    (tmp_path / "strike.jpg").write_bytes(made_jpeg())
    (tmp_path / "cuttings.png").write_bytes(made_png())
    return tmp_path


def answer(capsys, *words) -> dict:
    assert main(["photo", "HR-0107", *map(str, words), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_added_listed_and_written_out_bare_or_whole(home, capsys):
    (added,) = answer(capsys, home / "strike.jpg", "--depth", "38.4 m", "--caption", "the strike", "--by", "R. Tester")["photos"]
    assert (added["depth_m"], added["caption"], added["at"]) == (38.4, "the strike", "2026-03-02T10:41:07+10:00")
    assert added["latitude"] == pytest.approx(LATITUDE, abs=1e-6) and added["longitude"] == pytest.approx(LONGITUDE, abs=1e-6)
    answer(capsys, home / "cuttings.png")
    assert [r["media_type"] for r in answer(capsys)["photos"]] == ["image/jpeg", "image/png"]
    bare = [row["file"] for row in answer(capsys, "--out", home / "bare")["photos"]]
    whole = [row["file"] for row in answer(capsys, "--out", home / "whole", "--whole")["photos"]]
    read = lambda names: [Path(name).read_bytes() for name in names]
    assert not any(mark in data for data in read(bare) for mark in PRIVATE)
    assert read(whole) == [made_jpeg(), made_png()]
    assert main(["photo", "HR-0107"]) == 0 and "38.4 m" in capsys.readouterr().out


def test_one_that_is_no_photo_keeps_all_of_them_out(home, capsys):
    (home / "lies.jpg").write_bytes(b"\xff\xd8\xff but no picture")
    with open(home / "huge.jpg", "wb") as huge:
        huge.truncate(2 * 2**30)
    for words in (["strike.jpg", "lies.jpg"], ["strike.jpg", "huge.jpg"], ["strike.jpg", "nowhere.jpg"], ["strike.jpg", "--depth", "deep"], ["--whole"], ["strike.jpg", "--out", "x"]):
        given = [str(home / w) if w.endswith("jpg") else w for w in words]
        assert main(["photo", "HR-0107", *given]) == 2, words
        assert capsys.readouterr().err.count("\n") == 1
    assert answer(capsys)["photos"] == []


def test_a_large_photo_is_small_on_paper_and_whole_in_the_store(home, capsys):
    image = pytest.importorskip("PIL.Image")
    greys = np.random.default_rng(7).integers(0, 255, (2400, 3200, 3), dtype=np.uint8)
    out = io.BytesIO()
    image.fromarray(greys).save(out, "JPEG", quality=90)
    (home / "large.jpg").write_bytes(out.getvalue())
    (row,) = answer(capsys, home / "large.jpg")["photos"]
    with open_job_book(home / "home") as book:
        job = book.job(book.find("HR-0107"))
        assert book.attachment(row["attachment"]).stat().st_size == len(out.getvalue())
        bare = len(paper_pdf(job, "bore record", settings=Settings()).pdf)
        made = paper_pdf(job, "bore record", settings=Settings(), attachments=book.attachment).pdf
        assert made == paper_pdf(job, "bore record", settings=Settings(), attachments=book.attachment).pdf, "the same bytes again"
    assert bare + 20_000 < len(made) < bare + 0.3 * len(out.getvalue())
