"""Check rows for construction: each file says where its numbers are from, each row whether they were read, remembered or computed."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "reference" / "construction"


def rows(name):
    """Return the rows of one reference file."""
    lines = [line for line in (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))
