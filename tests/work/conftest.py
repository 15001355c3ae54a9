"""A job book in a fresh folder with one invented job whose odds are told, without the cost of fitting a register."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import numpy as np
import pytest

from borewright.siting import column_as_dict, prospect_as_dict
from borewright.siting.prospect import ExpectedColumn, WaterProspect
from borewright.storage import open_job_book
from borewright.work.enquiry import open_job

START = datetime(2026, 3, 2, 7, 30, tzinfo=timezone(timedelta(hours=10)))
NEED = 15e-3 / 60


@pytest.fixture
def book(tmp_path):
    with open_job_book(tmp_path) as made:
        yield made


def told() -> dict:
    """Odds with the prospect and column that pricing and design read (invented)."""
    edges = np.linspace(0, 100, 21)
    prospect = WaterProspect(edges, np.full(20, 0.03), 4.0, 4.0, -8.4, 0.9, 30.0)
    middle = 0.5 * (edges[1:] + edges[:-1])
    rock = 1 / (1 + np.exp(-(middle - 12) / 3))
    column = ExpectedColumn(edges, ("clay", "granite"), np.stack([1 - rock, rock], axis=1), {0.1: 8.0, 0.5: 12.0, 0.9: 17.0}, 30.0)
    by_depth = [{"depth_m": d, "p": 1 - 0.99**d, "low": 0.0, "high": 1.0} for d in (20.0, 40.0, 60.0, 80.0)]
    return {"odds": {"by_depth": by_depth, "sentence": "invented"}, "prospect": prospect_as_dict(prospect), "column": column_as_dict(column)}


@pytest.fixture
def job(book):
    made = open_job(book, "Test paddock (invented)", by="office", reference="T-1", customer={"name": "C. Customer (invented)"}, need={"flow": NEED},
                    site={"latitude": -38.47, "longitude": -18.22, "distance_from_yard": 12_000.0}, at=START)
    book.write(made, "ground.odds", {"register_name": "invented", "need": NEED, "answer": told(), "sentence": "invented"}, by="office", at=START)
    return made
