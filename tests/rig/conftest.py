"""Published tables beside the tests of the rig."""

import csv
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parents[1] / "reference" / "rig"


def table(name):
    """Rows of a reference table without its comment lines."""
    lines = [line for line in (REFERENCE / f"{name}.csv").read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.fixture(scope="session")
def examples():
    return {row["id"]: float(row["expected"]) for row in table("air_examples")}
