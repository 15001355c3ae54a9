"""Words of a register's rows, kept as one block of text: a million names cost neither the time nor the room of a million objects."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

__all__ = ["Texts"]


_FEW = 64


class Texts:
    """A column of words that is read like an array of them; what is picked out with an array or a slice is a column again.

    The words stand as they came; `rows` says which word belongs to each row, so that putting rows in order moves no text.
    """

    __slots__ = ("_rows", "_words")
    dtype = np.dtype(object)

    def __init__(self, words: Any, rows: np.ndarray | None = None):
        import polars as pl

        if isinstance(words, Texts):
            words, rows = words._words, words._rows if rows is None else words._at(rows)
        elif not isinstance(words, pl.Series):
            words = pl.Series([str(word) for word in words], dtype=pl.String)
        self._words, self._rows = words, rows

    @classmethod
    def blank(cls, count: int) -> Texts:
        """Return a column of so many empty words."""
        import polars as pl

        return cls(pl.Series([""], dtype=pl.String), np.zeros(count, np.int32))

    def _at(self, rows: Any) -> np.ndarray:
        return np.arange(len(self._words), dtype=np.int32)[rows] if self._rows is None else self._rows[rows]

    def parts(self) -> tuple[Any, np.ndarray | None]:
        """Return the words as a polars series, and which of them belongs to each row (None: each its own)."""
        return self._words, self._rows

    def __len__(self) -> int:
        return len(self._words) if self._rows is None else len(self._rows)

    def __getitem__(self, at: Any) -> Any:
        if isinstance(at, int | np.integer):
            return self._words[int(at if self._rows is None else self._rows[at])]
        return Texts(self, at)

    def __iter__(self) -> Iterator[str]:
        return iter(self.tolist())

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        return np.array(self.tolist(), dtype=object)

    def __repr__(self) -> str:
        return f"Texts({self[:5].tolist()}{' ...' if len(self) > 5 else ''})"

    def tolist(self) -> list[str]:
        """Return the words as a list."""
        if self._rows is None:
            return self._words.to_list()
        if len(self._rows) <= _FEW:  # quicker one by one
            return [self._words[i] for i in self._rows.tolist()]
        return self._words.gather(self._rows).to_list()
