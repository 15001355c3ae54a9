"""Reading the reference tables, and one set of ground to test with."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent.parent / "reference" / "hydraulics"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a reference table; lines that begin with # say where it comes from."""
    lines = [line for line in (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.fixture(scope="session")
def table():
    return rows
