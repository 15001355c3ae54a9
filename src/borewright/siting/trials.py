"""Published trials of divining, each with the word for how far its numbers were checked; nothing is predicted from them."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

__all__ = ["Trial", "divining_trials"]


@dataclass(frozen=True, slots=True)
class Trial:
    """One row: the trial, how it was made, how many, what was measured and found, what luck gives, a note, and "read", "computed" or "from memory"."""

    trial: str
    design: str
    count: str
    measure: str
    result: str
    chance: str
    note: str
    status: str


@lru_cache(maxsize=1)
def divining_trials() -> tuple[tuple[Trial, ...], str]:
    """Return the trials in order, and what is to be said of their sources."""
    lines = Path(__file__).with_name("divining_trials.csv").read_text(encoding="utf-8").splitlines()
    about = " ".join(line[1:].strip() for line in lines if line.startswith("#"))
    rows = list(csv.reader(line for line in lines if line and not line.startswith("#")))[1:]
    out: list[Trial] = []
    for row in rows:
        row = [part.strip() for part in row]
        if row[0] == "same" and out:
            row[0] = out[-1].trial
        out.append(Trial(*row))
    return tuple(out), about
