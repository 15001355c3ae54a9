"""The beginning of a file, looked at before it is read: what it is, how its text is written, and which row holds the headings."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from borewright.errors import BadInput

__all__ = ["Beginning", "beginning_of_text", "heading_row", "known_headings", "refuse_what_is_no_table", "repeated"]

WANT = "a CSV, Parquet, GeoJSON or spreadsheet file, with the ending of its name to say which"
_SEEN = 65_536  # bytes that are looked at
_LINES = 40  # rows among which the headings are looked for
_SEPARATORS = (",", ";", "\t", "|")
# The longest mark first: that of UTF-32 begins as one of UTF-16 does.
_MARKS = ((b"\xff\xfe\0\0", "utf-32"), (b"\0\0\xfe\xff", "utf-32"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
# First bytes of files that are no tables, from the formats' own definitions (from memory).
_OTHERS = ((b"\x89PNG", "a picture"), (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"), (b"II*\0", "a picture"), (b"MM\0*", "a picture"), (b"RIFF", "a picture or a recording"),
           (b"%PDF", "a PDF"), (b"{\\rtf", "a document"), (b"\x1f\x8b", "packed: unpack it first"), (b"7z\xbc\xaf", "packed: unpack it first"), (b"Rar!", "packed: unpack it first"))
_PACKED = ((b"PK\x03\x04", "a spreadsheet, or packed"), (b"\xd0\xcf\x11\xe0", "a spreadsheet of an old kind, or a document"), (b"PAR1", "a Parquet file"))


@dataclass(frozen=True, slots=True)
class Beginning:
    """How a text is written: encoding, separator, what ends a line, lines above the headings, and headings that stand there more than once."""

    encoding: str
    separator: str
    line_end: str
    skipped: int
    twice: frozenset[str]


def refuse_what_is_no_table(path: Path) -> None:
    """Raise BadInput for a picture, a PDF or the like, whatever its name ends in."""
    with path.open("rb") as file:
        head = file.read(512)
    for sign, what in _OTHERS:
        if head.startswith(sign):
            raise BadInput("file", path.name, f"is {what}", WANT)


def known_headings(headings: Sequence[str], wanted: set[str]) -> int:
    """Return how many of a row's headings are wanted ones, these in lower case."""
    return len({cell.strip().lower() for cell in headings} & wanted)


def repeated(headings: Sequence[str]) -> frozenset[str]:
    """Return the headings that stand in a row more than once, in lower case."""
    times = Counter(cell.strip().lower() for cell in headings)
    return frozenset(cell for cell, count in times.items() if cell and count > 1)


def heading_row(rows: Sequence[Sequence[str]], wanted: set[str]) -> int:
    """Return which of the first rows holds the headings: the one with most of the wanted; else the first that is about as full as the rest."""
    known = [known_headings(row, wanted) for row in rows]
    if max(known, default=0) >= 2:
        return int(np.argmax(known))
    return _first_full([sum(1 for cell in row if cell.strip()) for row in rows])


def _first_full(filled: Sequence[int]) -> int:
    several = [count for count in filled if count > 1]
    if not several:
        return 0
    return next(i for i, count in enumerate(filled) if count >= max(0.5 * float(np.median(several)), 2.0))


def beginning_of_text(path: Path, wanted: set[str], *, encoding: str = "", separator: str = "") -> Beginning:
    """Return how a text file is written.

    Parameters
    ----------
    wanted : set of str
        Headings that are looked for, in lower case.
    encoding, separator : str
        Taken as they are where they are given.

    Raises
    ------
    BadInput
        An empty file, or one that is not text.
    """
    with path.open("rb") as file:
        head = file.read(_SEEN)
    if not head.strip():
        raise BadInput("file", path.name, "is empty", "a heading row and one row per bore")
    for sign, what in _PACKED:
        if head.startswith(sign):
            raise BadInput("file", path.name, f"is {what}, not text", WANT)
    encoding = encoding or next((name for mark, name in _MARKS if head.startswith(mark)), "") or _without_mark(head)
    if not encoding.startswith(("utf-16", "utf-32", "utf_16", "utf_32")) and (b"\0" in head.split(b"\n", 1)[0] or head.count(b"\0") > len(head) / 1000):
        raise BadInput("file", path.name, "is not text", WANT)
    try:
        text = head.decode(encoding or "utf-8", errors="replace")
    except LookupError as error:
        raise BadInput("encoding", encoding, "is not a known way of writing text", "such as utf-8, utf-16 or cp1252") from error
    if text.lstrip("\ufeff \r\n\t")[:14].lower().startswith(("<!doctype html", "<html")):
        raise BadInput("file", path.name, "is a web page, perhaps one that asks to sign in", WANT)
    line_end = "\n" if "\n" in text or "\r" not in text else "\r"
    lines = [line.rstrip("\r") for line in text.lstrip("\ufeff").split(line_end)[:_LINES]]
    separator, skipped = _parted(lines, wanted, (separator,) if separator else _SEPARATORS)
    return Beginning(encoding or "utf8", separator, line_end, skipped, repeated(_cells(lines[skipped], separator)))


def _without_mark(head: bytes) -> str:
    """Return the encoding of a text of two bytes a letter that has no mark, else nothing."""
    half = max(len(head) // 2, 1)
    if head[1::2].count(0) > 0.7 * half and head[::2].count(0) == 0:
        return "utf-16-le"
    if head[::2].count(0) > 0.7 * half and head[1::2].count(0) == 0:
        return "utf-16-be"
    return ""


def _cells(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except (csv.Error, TypeError):  # a cell without an end, or a separator that is no single letter
        return line.split(separator)


def _parted(lines: Sequence[str], wanted: set[str], separators: Sequence[str]) -> tuple[str, int]:
    """Return the separator that parts the lines, and how many stand above the headings."""
    tried = []
    for separator in separators:
        rows = [_cells(line, separator) for line in lines]
        at = heading_row(rows, wanted)
        full = sum(1 for cell in rows[at] if cell.strip()) if rows else 0
        alike = sum(1 for row in rows[at:] if len(row) == len(rows[at]))
        # The one with most known headings; else the one that parts most lines as it parts the headings, and into most cells.
        tried.append((-known_headings(rows[at], wanted), full < 2, -alike, -full, len(tried), at, separator))
    best = min(tried)
    return best[-1], 0 if best[1] else best[-2]
