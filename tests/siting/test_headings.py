"""Files as they come from other programs: titles above the headings, other separators and letters, several sheets, and files that are no tables."""

import struct
import zlib

import polars as pl
import pytest

from borewright.errors import BadInput
from borewright.siting import preview, read_register
from borewright.siting.headings import beginning_of_text, heading_row

HEADINGS = ("bore_id", "lon", "lat", "depth_m", "yield_lps", "status")
ROWS = [(f"B{i}", 149.0 + i / 100, -33.1 + i / 200, 40.5 + i, 0.1 * i, "wet" if i else "dry") for i in range(12)]


def text_of(separator=",", decimal=".", headings=HEADINGS, rows=ROWS):
    cell = lambda value: f"{value:.4f}".replace(".", decimal) if isinstance(value, float) else value
    return "\n".join(separator.join(map(cell, row)) for row in (headings, *rows)) + "\n"


def picture():
    """Return a PNG of one dot, put together here."""
    part = lambda kind, data: struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)) + part(b"IDAT", zlib.compress(b"\0\xff")) + part(b"IEND", b"")


@pytest.mark.parametrize("data", [
    text_of().encode(), text_of().encode("utf-8-sig"), text_of().encode("utf-16"), text_of().encode("utf-16-le"), text_of().encode("utf-16-be"), text_of().encode("utf-32"),
    text_of(";").encode(), text_of(";", ",").encode("utf-16"), text_of("\t").encode(), text_of("\t", ",").encode(), text_of("|").encode(),
    text_of().replace("\n", "\r").encode(), text_of().replace("\n", "\r\n").encode(), ("Bores of a county, invented\n\n" + text_of()).encode(), ("# made by hand\n# twice\n" + text_of(";", ",")).encode(),
], ids=["plain", "mark", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "semicolons", "semicolons and commas", "tabs", "tabs and commas", "bars", "old lines", "other lines", "title", "notes"])
def test_a_text_is_read_however_it_is_written(tmp_path, data):
    (tmp_path / "b.csv").write_bytes(data)
    register, report = read_register(tmp_path / "b.csv", name="x")
    assert report.loaded == len(ROWS) and register.depth.tolist() == pytest.approx([row[3] for row in ROWS])
    assert [row.values["bore_id"] for row in preview(tmp_path / "b.csv").rows] == [row[0] for row in ROWS]
    assert report.extent == pytest.approx((-33.1, 149.0, -33.1 + 11 / 200, 149.11))


def test_headings_of_no_known_name_are_found_below_a_title():
    rows = [["Bores of a county, invented"], [], ["as of 2020", ""], ["Nr", "Ost", "Nord", "Tiefe"], ["1", "500000", "5538630", "40"], ["2", "500100", "5538630", ""]]
    assert heading_row(rows, {"bore_id", "lon"}) == 3
    assert heading_row([["a"], ["1"], ["2"]], set()) == 0


@pytest.mark.parametrize(("above", "aside", "before"), [(0, 0, False), (4, 0, False), (3, 2, True)])
def test_a_sheet_is_found_wherever_its_table_stands(tmp_path, above, aside, before):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "bores"
    if above:
        sheet.cell(2, 1 + aside, "Bores of a county, invented")
    for i, row in enumerate((HEADINGS, *[(i, *row[1:]) for i, row in enumerate(ROWS)])):
        for j, value in enumerate(row):
            sheet.cell(1 + above + i, 1 + aside + j, value)
    if before:
        book.create_sheet("notes", 0).append(["read me first"])
    book.save(tmp_path / "b.xlsx")
    register, report = read_register(tmp_path / "b.xlsx", name="x")
    assert report.loaded == len(ROWS) and list(register.bore_id) == [str(i) for i in range(len(ROWS))]  # 7, not 7.0
    assert len([a for a in report.advisories if a.code == "found-by-looking"]) == (above > 0) + before


@pytest.mark.parametrize(("name", "data", "says"), [
    ("b.csv", b"", "is empty"), ("b.csv", b"\n \n", "is empty"), ("b.csv", picture(), "is a picture"), ("b.xlsx", picture(), "is a picture"), ("b.png", picture(), "is a picture"), ("b.csv", b"%PDF-1.7\n", "is a PDF"),
    ("b.csv", b"PK\x03\x04" + bytes(80), "spreadsheet"), ("b.csv", bytes(range(256)) * 20, "not text"), ("b.csv", b"<!DOCTYPE html><html>", "web page"), ("b.json", b"[" * 100_000, "is not JSON"),
    ("b.json", b'{"features": [{"geometry": {"coordinates": [' + b"9" * 6000 + b", 1]}}]}", "cannot be read"), ("b.csv", b'bore_id,lon,lat,depth_m\nA,"1,2,3\n', "no row of b.csv can be used"),
    ("b.csv", text_of(headings=("bore_id", "lon", "lat", "depth_m", "Depth_M", "status")).encode(), "more than once"),
    ("b.csv", text_of(headings=("bore_id", "lon", "lat", "depth_m", "lon", "status")).encode(), "more than once"),
    ("b.csv", text_of(headings=("bore_id", "lat", "lon", "depth_m", "yield_lps", "status")).encode(), "look swapped"),
    ("b.csv", text_of(rows=[(row[0], 500_000.0 + i, 5_538_000.0, *row[3:]) for i, row in enumerate(ROWS)]).encode(), "on a grid"),
])
def test_what_is_no_table_of_bores_is_refused_in_four_words(tmp_path, name, data, says):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(BadInput, match=says) as caught:
        read_register(tmp_path / name, name="x")
    assert caught.value.field and caught.value.value not in (None, "") and caught.value.want
    assert len(str(caught.value.value)) <= 80


def test_columns_that_hold_lists_are_not_read(tmp_path):
    pl.DataFrame({"bore_id": [["a"]], "lon": [1.0], "lat": [2.0], "depth_m": [{"a": 3}]}).write_parquet(tmp_path / "b.parquet")
    with pytest.raises(BadInput, match="no column bore_id"):
        read_register(tmp_path / "b.parquet", name="x")


def test_a_huge_cell_and_a_thousand_columns(tmp_path):
    wide = text_of(headings=(*HEADINGS, *(f"c{i}" for i in range(1000))), rows=[(*row, *["1"] * 1000) for row in ROWS])
    (tmp_path / "wide.csv").write_text(wide)
    assert read_register(tmp_path / "wide.csv", name="x")[1].loaded == len(ROWS)
    (tmp_path / "huge.csv").write_text(text_of(rows=[("x" * 1_000_000, *ROWS[0][1:]), *ROWS[1:]]))
    report = read_register(tmp_path / "huge.csv", name="x")[1]
    assert report.loaded == len(ROWS) - 1
    assert (report.refused[0].field, report.refused[0].problem) == ("bore_id", "is too long for a name") and len(report.refused[0].value) <= 80 and len(report.refused[0].bore_id) <= 80


def test_how_a_text_is_written_is_seen_from_its_first_lines(tmp_path):
    (tmp_path / "b.csv").write_text("Kreis, erfunden\nNr;Ost;Nord;Tiefe\n1;500000,5;5538630,2;40,5\n")
    found = beginning_of_text(tmp_path / "b.csv", {"bore_id"})
    assert (found.separator, found.skipped, found.line_end, found.twice) == (";", 1, "\n", frozenset())
    with pytest.raises(BadInput, match="not a known way"):
        beginning_of_text(tmp_path / "b.csv", set(), encoding="klingon")


@pytest.mark.parametrize("mark", ['6" steel', '"left open', 'in the "old yard'])
def test_a_quotation_mark_without_its_pair_spoils_its_own_line_at_most(tmp_path, mark):
    told = [(*row, mark if i == 4 else '"in two, parts"' if i == 6 else "") for i, row in enumerate(ROWS)]
    (tmp_path / "b.csv").write_text(text_of(headings=(*HEADINGS, "driller"), rows=told))
    register, report = read_register(tmp_path / "b.csv", name="x")
    assert report.loaded == len(ROWS) and register.depth.tolist() == pytest.approx([row[3] for row in ROWS]) and not report.refused
    assert any("quotation marks do not pair" in doubt.message for doubt in report.advisories)
    (tmp_path / "c.csv").write_text(text_of().replace("B3,", 'B3,"'))
    register, report = read_register(tmp_path / "c.csv", name="x")
    assert report.loaded == len(ROWS) - 1 and [(row.row, row.bore_id, row.field) for row in report.refused] == [(4, "B3", "lon")]
