"""Quotation marks that pair and yet take in whole lines: one opened on one line and closed by another's, with the rows between them lost in one field."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import polars as pl

__all__ = ["lines_swallowed", "rows_that_swallow"]

_SHORT = 10  # bytes of a field that holds no more than a date: too few for the rest of a row and the beginning of the next
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")


def lines_swallowed(text: str, column: int, *, width: int, numbers: Collection[int], separator: str, line_end: str = "\n") -> int:
    """Return how many line ends a field took in if it reads as the rest of its row and more rows; 0 where it reads as a note of several lines.

    Cells are put under the headings they would stand under. What reads as rows has nothing but numbers, or nothing, where numbers belong: two of them
    at least, or one where the first line is as long as the rest of a row.

    Parameters
    ----------
    text : str
        The field, without its quotation marks.
    column : int
        Where it stands.
    width : int
        How many columns the file has.
    numbers : collection of int
        The columns that hold numbers.
    """
    lines = [line.rstrip("\r").split(separator) for line in text.split(line_end)]
    last = len(lines) - 1
    told = 0
    for i, cells in enumerate(lines):
        begin = 0 if i else column
        # The field's own beginning is no cell of another column, nor is the piece before the mark that closed it.
        for at in range(begin + (0 if i else 1), begin + len(cells) - (1 if i == last else 0)):
            cell = cells[at - begin]
            if at in numbers and cell:
                if not _NUMBER.fullmatch(cell):
                    return 0
                told += 1
    whole = 1 < len(lines[0]) == width - column
    return last if told >= 2 or (told and whole) else 0


def rows_that_swallow(frame: pl.DataFrame, *, numbers: Collection[int], separator: str, line_end: str) -> list[tuple[str, Sequence[int], int]]:
    """Return the columns whose quotation marks take in whole lines: name, the rows in which they do, and how many lines."""
    import polars as pl

    out = []
    longest = frame.select(pl.col(pl.String).str.len_bytes().max()).to_dicts()  # all columns at once
    for name in [name for name, length in (longest[0] if longest else {}).items() if (length or 0) > _SHORT]:
        column = frame.columns.index(name)
        rows = np.flatnonzero((frame[name].str.len_bytes() > _SHORT).fill_null(False).to_numpy())
        for sign in (line_end, separator):
            rows = rows[frame[name].gather(rows).str.contains(sign, literal=True).to_numpy()]
        lines = [lines_swallowed(text, column, width=frame.width, numbers=numbers, separator=separator, line_end=line_end) for text in frame[name].gather(rows)]
        if any(lines):
            out.append((name, [row for row, count in zip(rows.tolist(), lines, strict=True) if count], sum(lines)))
    return out
