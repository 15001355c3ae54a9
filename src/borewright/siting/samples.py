"""Bores in compact blocks, and whole neighbourhoods of a large register to learn from."""

from __future__ import annotations

import numpy as np

__all__ = ["BLOCK", "blocks", "sample"]

BLOCK = 400  # bores in one dense solution


def blocks(points: np.ndarray, most: int) -> list[np.ndarray]:
    """Return rows of points in compact blocks of at most `most`, by halving along the longest side."""
    out, stack = [], [np.arange(len(points))]
    while stack:
        rows = stack.pop()
        if len(rows) <= most:
            out.append(rows)
            continue
        mine = points[rows]
        axis = int(np.argmax(mine.max(axis=0) - mine.min(axis=0)))
        order = rows[np.argsort(mine[:, axis], kind="stable")]
        stack += [order[: len(order) // 2], order[len(order) // 2 :]]
    return [rows for rows in out if len(rows)]


def sample(points: np.ndarray, rows: np.ndarray, most: int) -> np.ndarray:
    """Return rows to learn from: all, or several whole neighbourhoods of a large register."""
    if len(rows) <= most:
        return rows
    whole = blocks(points[rows], BLOCK)
    step = len(whole) / (most // BLOCK)
    chosen = [whole[int((i + 0.5) * step)] for i in range(most // BLOCK)]
    return rows[np.sort(np.concatenate(chosen))]
