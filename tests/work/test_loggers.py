"""A logger's file into a test: each correction undone against a record made with that fault (all invented)."""

from __future__ import annotations

import zipfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from borewright.errors import BadInput
from borewright.hydraulics import drawdown
from borewright.storage import open_job_book
from borewright.work.enquiry import open_job
from borewright.work.loggers import Picks, columns_of, dips_from, keep_levels, preview_levels
from borewright.work.planning import keep_plan, settling

FORMAT = "%d/%m/%Y %H:%M:%S"
BEGUN = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)  # local 16:00 at +10:00
STARTED = BEGUN + timedelta(hours=3)
ZONE = timedelta(hours=10)
PICKS = Picks("time", "level", date_format=FORMAT, zone="+10:00", started_at=(STARTED + ZONE).strftime(FORMAT))


def fall(seconds):
    at = np.maximum(np.asarray(seconds, dtype=float), 1e-3)
    return np.where(np.asarray(seconds) > 0, drawdown(at, 0.08, rate=0.5e-3, transmissivity=1e-4, storativity=1e-4), 0.0)


SECONDS = np.arange(0, 9 * 3600.0, 30.0)
TRUE = 8.0 + fall(SECONDS - 3 * 3600.0)  # depth to water


def written(values, *, seconds=SECONDS, head="time,level") -> bytes:
    rows = [f"{(BEGUN + ZONE + timedelta(seconds=float(s))).strftime(FORMAT)},{v:.4f}" for s, v in zip(seconds, values, strict=True)]
    return "\n".join([head, *rows]).encode()


@pytest.fixture
def book(tmp_path):
    with open_job_book(tmp_path / "home") as opened:
        yield opened


def test_a_plain_record_is_read_thinned_and_agrees_with_the_truth(book):
    found = preview_levels(book, book.attach(written(TRUE)), PICKS)
    assert found.rows == SECONDS.size and found.time.size <= 400 < SECONDS.size - 360
    assert np.max(np.abs(found.drawdown - fall(found.time))) < 0.02
    assert "thinned" in {a.code for a in found.advisories} and found.source["kept"] == found.time.size


def test_height_in_kilopascals_and_the_zone_come_to_the_same(book):
    height = (30.0 - TRUE) * 9.80665
    found = preview_levels(book, book.attach(written(height)), replace(PICKS, unit="kPa", shape="height of water over the sensor"))
    assert np.max(np.abs(found.drawdown - fall(found.time))) < 0.02
    wrong = replace(PICKS, zone="+09:00", started_at=(STARTED + timedelta(hours=9)).strftime(FORMAT))
    with pytest.raises(BadInput, match="hour before the pump started"):
        preview_levels(book, book.attach(written(TRUE)), replace(wrong, started_at=(BEGUN + timedelta(hours=9)).strftime(FORMAT)))


def test_a_clock_that_gains_is_put_right(book):
    gained = SECONDS * (1 + 40.0 / SECONDS[-1])  # 40 s ahead at the end
    read_at = BEGUN + ZONE + timedelta(seconds=float(SECONDS[-1]) + 40.0)
    sha = book.attach(written(TRUE, seconds=np.round(gained)))
    right = replace(PICKS, keep=5000, clock=((BEGUN + ZONE).strftime(FORMAT), read_at.strftime(FORMAT), 40.0))
    off, on = preview_levels(book, sha, replace(PICKS, keep=5000)), preview_levels(book, sha, right)
    error = lambda p: np.max(np.abs(p.drawdown - fall(p.time))[p.time < 600])
    assert error(on) < 0.5 * error(off) and "clock-drift" in {a.code for a in on.advisories}


def test_dips_take_out_an_offset_and_a_drift(book):
    drifted = TRUE + 0.7 + 0.4 * SECONDS / SECONDS[-1]
    moments = [0, 400, 1079]
    lines = [f"{(BEGUN + ZONE + timedelta(seconds=float(SECONDS[i]))).strftime(FORMAT)}; {TRUE[i]:.3f}" for i in moments]
    found = preview_levels(book, book.attach(written(drifted)), replace(PICKS, dips=dips_from(lines), static=8.0))
    assert np.max(np.abs(found.drawdown - fall(found.time))) < 0.02
    with pytest.raises(BadInput, match="none within"):
        preview_levels(book, book.attach(written(drifted)), replace(PICKS, dips=(("02/03/2027 16:00:00", 8.0),)))


def test_a_sealed_logger_is_freed_of_the_air(book):
    air = 10.2 + 0.15 * np.sin(2 * np.pi * SECONDS / (5 * 3600.0))
    sealed = (30.0 - TRUE) + air  # water over the sensor and the air on it; the rock carries none of it
    picks = replace(PICKS, shape="pressure with air in it")
    with pytest.raises(BadInput) as trouble:
        preview_levels(book, book.attach(written(sealed)), picks)
    assert trouble.value.field == "air"
    barometer = book.attach(written(air, head="time,air"))
    found = preview_levels(book, book.attach(written(sealed)), replace(picks, air=barometer, air_value_column="air", air_unit="m", air_efficiency=0.0))
    assert np.max(np.abs(found.drawdown - fall(found.time))) < 0.02


def test_a_spreadsheet_is_read_as_a_file_of_text_is(book, tmp_path):
    """A workbook written by hand, cells as inline strings, as the open standard has them (ECMA-376)."""
    cells = [["minutes", "drawdown"], *[[f"{m}", f"{0.5 + 0.1 * m:.2f}"] for m in (1, 2, 5, 10, 30)]]
    rows = "".join(f'<row r="{r}">' + "".join(f'<c r="{"AB"[c]}{r}" t="inlineStr"><is><t>{v}</t></is></c>' for c, v in enumerate(row)) + "</row>" for r, row in enumerate(cells, 1))
    base = "http://schemas.openxmlformats.org/"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{base}package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
                               '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
                               '<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{base}package/2006/relationships"><Relationship Id="r1" Type="{base}officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{base}spreadsheetml/2006/main" xmlns:r="{base}officeDocument/2006/relationships"><sheets><sheet name="a" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{base}package/2006/relationships"><Relationship Id="r1" Type="{base}officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{base}spreadsheetml/2006/main"><sheetData>{rows}</sheetData></worksheet>',
    }
    with zipfile.ZipFile(tmp_path / "hand.xlsx", "w") as book_file:
        for name, text in parts.items():
            book_file.writestr(name, text)
    sha = book.attach((tmp_path / "hand.xlsx").read_bytes())
    assert columns_of(book, sha)[0] == ["minutes", "drawdown"]
    found = preview_levels(book, sha, Picks("minutes", "drawdown", time_form="minutes since the start", shape="drawdown"))
    assert list(found.time) == [60.0, 120.0, 300.0, 600.0, 1800.0] and found.drawdown[-1] == pytest.approx(3.5)


@pytest.mark.parametrize(("change", "field"), [
    ({"date_format": ""}, "date_format"), ({"zone": ""}, "zone"), ({"zone": "Nowhere/At_All"}, "zone"), ({"started_at": "yesterday"}, "started_at"), ({"time_column": "when"}, "time_column"),
    ({"value_column": "how deep"}, "value_column"), ({"date_format": "%m/%d/%Y %H:%M"}, "date_format"), ({"unit": "fathoms"}, "unit"), ({"shape": "a guess"}, "shape"), ({"keep": 3}, "keep"),
    ({"clock": ("02/03/2026 16:00:00", "02/03/2026 15:00:00", 3.0)}, "read_at"), ({"time_form": "minutes since the start", "dips": (("x", 1.0),)}, "dips"),
])
def test_what_cannot_be_read_is_named(book, change, field):
    sha = book.attach(written(TRUE))
    with pytest.raises(BadInput) as trouble:
        preview_levels(book, sha, replace(PICKS, **change))
    assert trouble.value.field == field


def test_what_is_kept_names_its_file_and_how_it_was_read(book):
    job = open_job(book, "Logger (invented)", by="t")
    book.write(job, "rig.bit", {"diameter": 0.16}, by="t")
    book.write(job, "test.run", {"run": "constant", "type": "constant rate", "rate": 0.5e-3, "duration": 6 * 3600.0}, by="t")
    sha = book.attach(written(TRUE))
    entry = keep_levels(book, job, "constant", sha, PICKS, by="t")
    assert entry.body["attachment"] == sha and entry.body["source"]["zone"] == "+10:00" and entry.body["source"]["rows"] == SECONDS.size
    assert book.check().ok
    found = settling(book.job(job).hole, "constant")
    assert found.enough and found.estimates[-1] == pytest.approx(1e-4, rel=0.02)


def test_a_test_that_is_still_bending_is_not_enough(book):
    """An edge doubles the slope half-way: an image bore of the same rate felt from an hour on."""
    job = open_job(book, "Edge (invented)", by="t")
    book.write(job, "rig.bit", {"diameter": 0.16}, by="t")
    book.write(job, "test.run", {"run": "constant", "type": "constant rate", "rate": 0.5e-3}, by="t")
    time = np.geomspace(60, 6 * 3600.0, 60)
    both = fall(time) + drawdown(time, 120.0, rate=0.5e-3, transmissivity=1e-4, storativity=1e-4)
    book.write(job, "test.levels", {"run": "constant", "time": list(time), "drawdown": list(both)}, by="t")
    found = settling(book.job(job).hole, "constant")
    assert not found.enough and "read on" in found.sentence


def test_a_plan_takes_what_the_job_knows_and_says_what_it_lacks(book):
    job = open_job(book, "Plan (invented)", by="t", need={"flow": 0.3e-3})
    book.write(job, "rig.bit", {"diameter": 0.165}, by="t")
    book.write(job, "rig.advanced", {"to_depth": 60.0}, by="t")
    with pytest.raises(BadInput) as trouble:
        keep_plan(book, job, {}, by="t")
    assert trouble.value.field == "flow"
    book.write(job, "rig.airlift", {"elapsed": 3600.0, "flow": 0.5e-3}, by="t")
    book.write(job, "rig.level", {"depth_to_water": 10.0}, by="t")
    book.write(job, "rig.casing", {"string": "production", "from_depth": 0.0, "to_depth": 60.0, "outside_diameter": 0.125, "wall": 0.008}, by="t")
    plan = keep_plan(book, job, {"boundary_distance": 100.0}, by="t").body["plan"]
    kept = book.job(job).hole.planned.body
    assert kept.inputs["available"] == pytest.approx(48.0) and kept.inputs["casing_radius"] == pytest.approx(0.0545)
    assert plan["duration"] >= 86400 and plan["rate"] == pytest.approx(1.2 * 0.3e-3) and len({s["rate"] for s in plan["steps"]}) == 4
    assert plan["reading_times"] == sorted(plan["reading_times"]) and plan["reading_times"][-1] == plan["duration"]
