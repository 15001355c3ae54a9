"""Spreadsheets looked at before they are opened: a few thousand bytes can ask their reader for half a terabyte, and it ends the program when it gets none.

A workbook is a zip. What it unpacks to is counted as it comes, never held; and a sheet's cells are counted beside the rectangle that they span, which is
what a reader sets aside: one cell in the first corner and one in the last span sixteen thousand million.

Formats: ECMA-376 part 1 (rows and cells of a sheet), OASIS OpenDocument 1.2 part 1 (repeated rows and cells), [MS-XLSB] 2.1.4 (records); from memory.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO
from xml.parsers import expat

from borewright.errors import BadInput

__all__ = ["check_workbook"]

MOST_UNPACKED = 400 * 2**20  # bytes: a million rows of ten columns
FREE_UNPACKED, MOST_RATIO = 64 * 2**20, 40  # a sheet packs to a tenth, seldom to a thirtieth
FREE_CELLS, CELLS_TO_ONE = 2_000_000, 50  # that the rectangle may span, and for each cell that is there
MOST_MEMBERS = 2000
_PIECE = 2**18
_WANT = "a workbook whose cells stand together, saved anew by the program that made it"


class _Span:
    """The rectangle that the cells of one sheet span, and how many there are."""

    def __init__(self) -> None:
        self.row = self.column = self.cells = self.repeated = 0
        self.top = self.left = 2**31
        self.bottom = self.right = -1

    def cell(self) -> None:
        self.cells += 1
        self.top, self.bottom = min(self.top, self.row), max(self.bottom, self.row)
        self.left, self.right = min(self.left, self.column), max(self.right, self.column)

    def wide(self) -> int:
        """How many cells a reader sets aside."""
        if self.bottom < 0:
            return self.repeated
        return (self.bottom - self.top + 1) * (self.right - self.left + 1)

    def check(self, field: str, name: str) -> None:
        if self.wide() > max(FREE_CELLS, CELLS_TO_ONE * self.cells):
            raise BadInput(field, name, f"spans {self.wide()} cells with {self.cells} written", _WANT)


def check_workbook(path: Path, *, field: str = "file") -> None:
    """Raise BadInput for a workbook (xlsx, xlsm, xlsb, ods) that unpacks to too much or whose cells span too wide; other files pass unseen."""
    with path.open("rb") as source:
        if source.read(4) != b"PK\x03\x04":
            return
        packed = path.stat().st_size
        most = min(MOST_UNPACKED, max(FREE_UNPACKED, MOST_RATIO * packed))
        try:
            with zipfile.ZipFile(source) as archive:
                members = archive.infolist()
                if len(members) > MOST_MEMBERS:
                    raise BadInput(field, len(members), "holds too many parts", f"at most {MOST_MEMBERS}")
                total = 0
                for info in members:
                    with archive.open(info) as stream:
                        for size in _looked_through(stream, info.filename, field):
                            total += size
                            if total > most:
                                raise BadInput(field, path.name, "unpacks to too much for a spreadsheet", f"at most {most} bytes from {packed}")
        except (zipfile.BadZipFile, zlib.error, OSError, EOFError, NotImplementedError, RuntimeError) as error:
            raise BadInput(field, path.name, f"cannot be unpacked: {error}", "a spreadsheet that is whole and has no password") from None


def _looked_through(stream: IO[bytes], name: str, field: str) -> Iterator[int]:
    """Yield the size of each piece of a member, having looked at its cells where it is a sheet."""
    span = _Span()
    low = name.lower()
    if low.endswith(".bin") and "/worksheets/" in low:
        feed = _records(span)
    elif low.endswith(".xml") and ("/worksheets/" in low or low == "content.xml"):
        feed = _xml(span)
    else:
        feed = None
    while piece := stream.read(_PIECE):
        yield len(piece)
        if feed is not None:
            feed(piece)
            span.check(field, name)


def _xml(span: _Span):
    """Return what reads the pieces of a sheet of either format; where it is no XML, the reader of the sheet will say so."""
    parser, broken, repeat, wide = expat.ParserCreate(), False, 1, 0

    def start(tag: str, given: dict[str, str]) -> None:
        nonlocal repeat, wide
        local = tag.rpartition(":")[2]
        if local == "c":
            letters = given.get("r", "").rstrip("0123456789").upper()
            span.column = _number_of(letters) if letters.isalpha() and letters.isascii() and len(letters) < 6 else span.column + 1
            digits = given.get("r", "")[len(letters):]
            if digits.isdecimal() and len(digits) < 10:
                span.row = int(digits)
            span.cell()
        elif local == "row":
            said = given.get("r", "")
            span.row, span.column = int(said) if said.isdecimal() and len(said) < 10 else span.row + 1, 0
        elif local == "table":
            span.check("file", "content.xml")
            span.repeated, span.cells = 0, 0
        elif local == "table-row":
            repeat, wide, span.column = _times(given, "number-rows-repeated"), 0, 0
        elif local in ("table-cell", "covered-table-cell"):
            span.column += _times(given, "number-columns-repeated")
            if any(key.endswith(":value-type") for key in given):
                span.cells += 1
                wide = span.column

    def end(tag: str) -> None:
        if tag.rpartition(":")[2] == "table-row":
            span.repeated += wide * repeat

    parser.StartElementHandler, parser.EndElementHandler = start, end

    def feed(piece: bytes) -> None:
        nonlocal broken
        if not broken:
            try:
                parser.Parse(piece, False)
            except expat.ExpatError:
                broken = True

    return feed


def _number_of(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def _times(given: dict[str, str], name: str) -> int:
    said = next((v for k, v in given.items() if k.rpartition(":")[2] == name), "1")
    return int(said) if said.isdecimal() and len(said) < 10 else 1


def _records(span: _Span):
    """Return what reads the pieces of a binary sheet: an id, a length and so many bytes, a row's number or a cell's column first."""
    held = bytearray()
    skip = 0

    def number(at: int, most: int) -> tuple[int, int]:
        value = 0
        for n in range(most):
            byte = held[at + n]
            value |= (byte & 0x7F) << 7 * n
            if not byte & 0x80:
                return value, at + n + 1
        return value, at + most

    def feed(piece: bytes) -> None:
        nonlocal skip
        held.extend(piece)
        at = min(skip, len(held))
        skip -= at
        while len(held) - at >= 10:
            kind, body = number(at, 2)
            length, body = number(body, 4)
            if kind == 0:
                span.row = int.from_bytes(held[body:body + 4], "little") if len(held) >= body + 4 else span.row
            elif 1 <= kind <= 11 and len(held) >= body + 4:
                span.column = int.from_bytes(held[body:body + 4], "little")
                span.cell()
            at = body + length
            if at > len(held):
                skip, at = at - len(held), len(held)
        del held[:at]

    return feed
