"""Spreadsheets that would end the program or fill its memory are refused unread; sound ones pass."""

import zipfile

import pytest

from borewright.errors import BadInput
from borewright.hydraulics.tables import read_table
from borewright.workbooks import check_workbook

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"


def xlsx(path, sheet, shared=()):
    """A workbook of one sheet (ECMA-376 part 1), written by hand; `sheet` and `shared` in pieces."""
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("[Content_Types].xml", f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
                      f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>')
        made.writestr("_rels/.rels", f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="a" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>')
        made.writestr("xl/workbook.xml", f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets><sheet name="levels" sheetId="1" r:id="a"/></sheets></workbook>')
        made.writestr("xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="a" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
                      f'<Relationship Id="b" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/></Relationships>')
        for name, pieces in (("xl/sharedStrings.xml", [f'<sst xmlns="{MAIN}">', *shared, "</sst>"]), ("xl/worksheets/sheet1.xml", [f'<worksheet xmlns="{MAIN}"><sheetData>', *sheet, "</sheetData></worksheet>"])):
            with made.open(name, "w", force_zip64=True) as stream:
                for piece in pieces:
                    stream.write(piece.encode())
    return path


def ods(path, rows):
    oasis = "urn:oasis:names:tc:opendocument:xmlns"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        made.writestr("META-INF/manifest.xml", f'<manifest:manifest xmlns:manifest="{oasis}:manifest:1.0"><manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>')
        made.writestr("content.xml", f'<office:document-content xmlns:office="{oasis}:office:1.0" xmlns:table="{oasis}:table:1.0" xmlns:text="{oasis}:text:1.0"><office:body>'
                      f'<office:spreadsheet><table:table table:name="levels">{rows}</table:table></office:spreadsheet></office:body></office:document-content>')
    return path


def cell(value, more=""):
    return f'<table:table-cell office:value-type="string"{more}><text:p>{value}</text:p></table:table-cell>'


def row(number, *values):
    return f'<row r="{number}">' + "".join(f'<c r="{chr(65 + n)}{number}"><v>{v}</v></c>' for n, v in enumerate(values)) + "</row>"


def text_row(*values):
    return '<row r="1">' + "".join(f'<c t="inlineStr"><is><t>{v}</t></is></c>' for v in values) + "</row>"


def test_sound_workbooks_pass_and_are_read(tmp_path):
    made = xlsx(tmp_path / "a.xlsx", [text_row("time_s", "drawdown_m"), *(row(n + 2, 60 * n, n / 100) for n in range(500))])
    check_workbook(made)
    assert read_table(made, field="file").shape == (500, 2)
    empty = '<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    other = ods(tmp_path / "a.ods", f"<table:table-row>{cell('time_s')}{cell('drawdown_m')}</table:table-row><table:table-row>{cell('60')}{cell('0.5')}</table:table-row>{empty}")
    check_workbook(other)
    assert read_table(other, field="file").shape == (1, 2)
    check_workbook(xlsx(tmp_path / "far.xlsx", [row(5000, 1, 2), row(90_000, 1, 2)]))
    (tmp_path / "b.csv").write_text("time_s,drawdown_m\n1,2\n")
    check_workbook(tmp_path / "b.csv")


@pytest.mark.parametrize("sheet", [
    ['<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'],
    ["<row><c r='A1'><v>1</v></c></row><row r='900000000'><c><v>1</v></c><c><v>1</v></c></row>"],
    ['<row r="1"><c r="A1"><v>1</v></c><c r="ZZZZZ1"><v>1</v></c></row>'],
])
def test_two_cells_far_apart_are_not_a_sheet(tmp_path, sheet):
    made = xlsx(tmp_path / "bomb.xlsx", sheet)
    assert made.stat().st_size < 5000
    for read in (check_workbook, lambda path: read_table(path, field="file")):
        with pytest.raises(BadInput, match="spans"):
            read(made)


def test_repeated_cells_are_counted_as_they_would_be_read(tmp_path):
    wide = cell("x", ' table:number-columns-repeated="16384"')
    with pytest.raises(BadInput, match="spans"):
        check_workbook(ods(tmp_path / "bomb.ods", f'<table:table-row table:number-rows-repeated="1048576">{wide}</table:table-row>'))


@pytest.mark.parametrize("where", ["a shared text", "a cell"])
def test_what_unpacks_to_a_thousand_times_its_size_is_refused(tmp_path, where):
    pieces = ["a" * 2**20] * 100
    text = ["<si><t>", *pieces, "</t></si>"]
    made = xlsx(tmp_path / "bomb.xlsx", [row(1, 1)], text) if where == "a shared text" else xlsx(tmp_path / "bomb.xlsx", ['<row r="1"><c t="inlineStr"><is><t>', *pieces, "</t></is></c></row>"])
    with pytest.raises(BadInput, match="unpacks"):
        check_workbook(made)


def test_a_binary_sheet_is_counted_record_by_record(tmp_path):
    def record(kind, body):
        return bytes([kind, len(body)]) + body

    def sheet(rows, width):
        return b"".join(record(0, n.to_bytes(4, "little") + bytes(13)) + b"".join(record(2, c.to_bytes(4, "little") + bytes(8)) for c in range(width)) for n in rows)

    def book(data):
        with zipfile.ZipFile(tmp_path / "a.xlsb", "w") as made:
            made.writestr("xl/worksheets/sheet1.bin", data)
        return tmp_path / "a.xlsb"

    check_workbook(book(sheet(range(20_000), 4)))
    with pytest.raises(BadInput, match="spans"):
        check_workbook(book(sheet([0], 1) + sheet([1_048_575], 1) + record(0, (9).to_bytes(4, "little") + bytes(13)) + record(2, (16_383).to_bytes(4, "little") + bytes(8))))


def test_what_is_no_zip_or_has_a_password_is_refused(tmp_path):
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04 and no more")
    with pytest.raises(BadInput):
        check_workbook(tmp_path / "a.xlsx")


@pytest.mark.parametrize("data", [b"PK\x03\x04 and no more", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000), b"no workbook"])
@pytest.mark.parametrize("ending", [".xlsx", ".xls", ".ods"])
def test_a_damaged_workbook_of_levels_is_refused_by_name(tmp_path, data, ending):
    (tmp_path / f"a{ending}").write_bytes(data)
    with pytest.raises(BadInput) as caught:
        read_table(tmp_path / f"a{ending}", field="levels")
    assert caught.value.problem


def test_a_workbook_without_its_parts_is_refused_by_name(tmp_path):
    with zipfile.ZipFile(tmp_path / "a.xlsx", "w") as made:
        made.writestr("xl/workbook.xml", "<workbook/>")
    with pytest.raises(BadInput):
        read_table(tmp_path / "a.xlsx", field="levels")
