"""Every page of every paper as a picture, against the one that was approved, within a tolerance. How to approve anew: approved/README.md."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from pathlib import Path

import made_jobs
import numpy as np
import pytest
from PIL import Image

from borewright.papers import PAPERS, make, paper_data, paper_pdf
from borewright.storage import Settings

APPROVED = Path(__file__).with_name("approved")
FIRM = Settings(firm="Hollow Reed Bores (invented)")
DPI = 40
# Another machine rounds an edge differently: greys differ by little on average, and only specks differ by much.
MOST_MEAN, MOST_SPECKS = 0.9, 0.004


def pictures(data: dict) -> list[Image.Image]:
    """Return the pages of a paper, set by the same program with the same bundled fonts, in 256 greys."""
    made = make._compiler_in(make.TEMPLATES).compile(make._source(data | {"logo": None}), format="png", ppi=DPI, timestamp=make._noon(data["date"]))
    return [Image.open(io.BytesIO(page)).convert("L") for page in (made if isinstance(made, list) else [made])]


def apart(one: Image.Image, other: Image.Image) -> tuple[float, float]:
    """Return how far two pictures are apart: the mean difference of grey (of 255), and the share of places that differ by more than a quarter."""
    if one.size != other.size:
        return 255.0, 1.0
    difference = np.abs(np.asarray(one, dtype=float) - np.asarray(other, dtype=float))
    return float(difference.mean()), float((difference > 64).mean())


def held(document: str) -> list[Path]:
    return sorted(APPROVED.glob(f"{document.replace(' ', '-')}-*.png"))


@pytest.fixture(scope="module")
def job():
    return made_jobs.built().job()


@pytest.mark.parametrize("document", PAPERS)
def test_pages_are_as_they_were_approved(job, document):
    pages = pictures(paper_data(job, document, settings=FIRM, paper="A4"))
    if os.environ.get("BOREWRIGHT_APPROVE"):
        for path in held(document):
            path.unlink()
        for number, page in enumerate(pages, 1):
            page.quantize(64).save(APPROVED / f"{document.replace(' ', '-')}-{number}.png", optimize=True)
    approved = [Image.open(path).convert("L") for path in held(document)]
    assert len(pages) == len(approved), "look at the paper, then approve anew: tests/papers/approved/README.md"
    for number, (page, before) in enumerate(zip(pages, approved, strict=True), 1):
        mean, specks = apart(page, before)
        assert mean <= MOST_MEAN and specks <= MOST_SPECKS, f"page {number} is {mean:.2f} greys and {specks:.2%} of its places apart: look at it, then approve anew"


@pytest.mark.parametrize("document", ["bore record", "water report"])
def test_a_pdf_reader_shows_the_approved_page(job, document, tmp_path):
    if not shutil.which("pdftoppm"):
        pytest.skip("pdftoppm is not installed: the PDF itself is not drawn")
    (tmp_path / "paper.pdf").write_bytes(paper_pdf(job, document, settings=FIRM, paper="A4").pdf)
    subprocess.run(["pdftoppm", "-r", str(4 * DPI), "-gray", "-png", "-f", "1", "-l", "1", "-singlefile", "paper.pdf", "page"], cwd=tmp_path, check=True, timeout=60)
    approved = Image.open(held(document)[0]).convert("L")
    page = Image.open(tmp_path / "page.png").convert("L")
    assert max(abs(a - 4 * b) for a, b in zip(page.size, approved.size, strict=True)) <= 4
    mean, _ = apart(page.resize(approved.size, Image.Resampling.BOX), approved)
    assert mean <= 6.0, "another program draws thin lines and small letters in other greys, but the same page"
    blank, _ = apart(Image.new("L", approved.size, 255), approved)
    assert blank > 2 * mean, "an empty page would be noticed"


def test_the_tolerance_would_notice(job):
    data = paper_data(job, "bore record", settings=FIRM, paper="A4")
    approved = Image.open(held("bore record")[0]).convert("L")

    def noticed(**changed) -> bool:
        mean, specks = apart(pictures(data | changed)[0], approved)
        return mean > MOST_MEAN or specks > MOST_SPECKS

    assert not noticed()
    assert noticed(blocks=[b for b in data["blocks"] if b["kind"] != "table"]), "tables gone"
    assert noticed(drawing=data["drawing"] | {"svg": data["drawing"]["svg"].replace('viewBox="0 0', 'viewBox="0 -6')}), "the drawing moved by six points"
    assert noticed(drawing=data["drawing"] | {"svg": data["drawing"]["svg"].replace("<use ", '<use opacity="0" ')}), "the patterns gone"
