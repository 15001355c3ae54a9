"""Invented districts for pricing: no real place, no real money."""

import csv
from pathlib import Path

import numpy as np
import pytest

from borewright.siting.prospect import ExpectedColumn, WaterProspect

EDGES = np.arange(0.0, 161.0, 2.0)
MIDDLE = 0.5 * (EDGES[1:] + EDGES[:-1])
CHECKS = Path(__file__).parents[1] / "reference" / "pricing_checks.csv"


@pytest.fixture(scope="session")
def checks():
    """Rows of tests/reference/pricing_checks.csv by id."""
    lines = [line for line in CHECKS.read_text().splitlines() if not line.startswith("#")]
    return {row["id"]: row for row in csv.DictReader(lines)}


def make_prospect(peak=0.03, depth=40.0, width=40.0, floor=0.004, shape=4.0, median=0.25e-3, spread=1.2, records=25.0):
    intensity = peak * np.exp(-(((MIDDLE - depth) / width) ** 2)) + floor
    return WaterProspect(EDGES, intensity, shape, shape, float(np.log(median)), spread, records)


def make_column(rockhead=12.0):
    overburden = 1.0 / (1.0 + np.exp((MIDDLE - rockhead) / 3.0))
    not_fresh = 1.0 / (1.0 + np.exp((MIDDLE - 2 * rockhead) / 5.0))
    weathered = np.maximum(not_fresh - overburden, 0.0)
    rest = 1.0 - overburden - weathered
    probability = np.column_stack([overburden, weathered, 0.4 * rest, 0.6 * rest])
    quantiles = {0.1: 0.5 * rockhead, 0.5: rockhead, 0.9: 1.7 * rockhead}
    return ExpectedColumn(EDGES, ("clay", "weathered rock", "schist", "granite"), probability, quantiles, 20.0)


# Five invented districts: ordinary, deep water, shallow and thin, rich, and one that drills badly and hides its luck.
DISTRICTS = {
    "ordinary": (make_prospect(), make_column()),
    "deep": (make_prospect(peak=0.035, depth=85.0, width=25.0, floor=0.001), make_column(20.0)),
    "shallow": (make_prospect(peak=0.06, depth=20.0, width=12.0, floor=0.001, median=0.15e-3), make_column(6.0)),
    "rich": (make_prospect(peak=0.05, depth=50.0, width=50.0, median=0.5e-3), make_column(10.0)),
    "fickle": (make_prospect(peak=0.02, depth=60.0, width=60.0, shape=0.8, median=0.2e-3, spread=1.6), make_column(30.0)),
}


@pytest.fixture(scope="session", params=list(DISTRICTS))
def district(request):
    return DISTRICTS[request.param]


@pytest.fixture(scope="session")
def ordinary():
    return DISTRICTS["ordinary"]
