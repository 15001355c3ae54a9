"""A desk with one invented job on it: no real place, person or money."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import UUID

import numpy as np
import pytest

from borewright.record import Entry, entry_to_json, new_id
from borewright.siting.prospect import ExpectedColumn, WaterProspect

EDGES = np.arange(0.0, 121.0, 2.0)
MIDDLE = 0.5 * (EDGES[1:] + EDGES[:-1])
BEGUN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
NEED = 0.25e-3


def prospect():
    intensity = 0.03 * np.exp(-(((MIDDLE - 40.0) / 40.0) ** 2)) + 0.004
    return WaterProspect(EDGES, intensity, 4.0, 4.0, float(np.log(0.25e-3)), 1.2, 25.0)


def column():
    overburden = 1.0 / (1.0 + np.exp((MIDDLE - 12.0) / 3.0))
    return ExpectedColumn(EDGES, ("clay", "granite"), np.column_stack([overburden, 1.0 - overburden]), {0.1: 6.0, 0.5: 12.0, 0.9: 20.0}, 20.0)


def entry(job: UUID, kind: str, body: dict, counter: int, *, device: str = "phone-test", at: datetime | None = None, strikes_out: UUID | None = None) -> dict:
    """Return an entry as JSON, as a phone would send it."""
    moment = at or BEGUN + timedelta(minutes=counter)
    made = Entry(id=new_id(), job=job, kind=kind, at=moment, by="tester", device=device, counter=counter, body=body, strikes_out=strikes_out)
    return entry_to_json(made, stored=False)


def open_test_job(book, *, quoted: bool = True, title: str = "Test paddock (invented)") -> UUID:
    """Open a job with a need and a site; with odds told and a quote issued unless not wanted."""
    from borewright.pricing import sample_card
    from borewright.siting import column_as_dict, prospect_as_dict
    from borewright.work.enquiry import open_job
    from borewright.work.quoting import issue_quote

    job = open_job(book, title, by="tester", customer={"name": "N. Body (invented)"}, need={"flow": NEED, "typed": {"flow": "15 L/min"}},
                   site={"latitude": -38.47, "longitude": -18.22}, at=BEGUN)
    if quoted:
        odds = {"by_depth": [{"depth_m": float(d), "p": float(d) / 200, "low": 0.1, "high": 0.8} for d in range(10, 121, 10)], "effective_records": 25.0, "advisories": []}
        answer = {"odds": odds, "prospect": prospect_as_dict(prospect()), "column": column_as_dict(column())}
        book.write(job, "ground.odds", {"register_name": "invented", "need": NEED, "answer": answer, "sentence": "Invented odds for a test."}, by="tester", at=BEGUN)
        issue_quote(book, job, by="tester", card=sample_card(), maximum_depth=100.0, holes=400)
    return job


def log_hole(book, job: UUID, depth: float = 48.0) -> None:
    """Log a whole hole with ground, strikes, flow, casing and grout."""
    write = lambda kind, body: book.write(job, kind, body, by="tester")
    write("rig.hole_started", {"rod_length": 6.0})
    write("rig.bit", {"diameter": 0.165})
    for bottom in np.arange(6.0, depth + 0.1, 6.0):
        write("rig.advanced", {"to_depth": float(bottom)})
    for top, bottom, words in ((0.0, 9.0, "clay"), (9.0, 20.0, "weathered granite"), (20.0, depth, "granite")):
        write("rig.ground", {"from_depth": top, "to_depth": bottom, "words": words})
    write("rig.struck", {"depth": 31.0})
    write("rig.flow", {"depth": 31.0, "method": "bucket", "readings": {"volume": 0.02, "fill_times": [80.0, 81.0]}, "flow": 0.00025, "standard_uncertainty": 1e-5})
    write("rig.stopped", {"depth": depth, "reason": "enough water"})
    write("rig.casing", {"from_depth": 0.0, "to_depth": depth, "string": "production", "outside_diameter": 0.125, "material": "PVC-U"})
    write("rig.annulus", {"from_depth": 0.0, "to_depth": 9.0, "what": "grout", "material": "neat cement", "bags": 8.0})
    write("rig.level", {"depth_to_water": 8.4})


@pytest.fixture
def book(tmp_path):
    from borewright.storage import open_job_book

    with open_job_book(tmp_path / "home") as opened:
        yield opened


@pytest.fixture
def app(book):
    from borewright.web import create_app

    return create_app(book, book.folder)


@pytest.fixture
def client(app):
    from starlette.testclient import TestClient

    with TestClient(app, base_url="http://localhost", follow_redirects=False, raise_server_exceptions=True) as opened:
        yield opened


@pytest.fixture(scope="session")
def quoted(tmp_path_factory):
    """The entries of a quoted job, worked out once."""
    from borewright.storage import open_job_book

    with open_job_book(tmp_path_factory.mktemp("once")) as once:
        return once.entries(open_test_job(once))


@pytest.fixture
def job(book, quoted):
    book.add(quoted)
    return quoted[0].job


def said(html: str) -> str:
    """Return what a page says, its tags left out."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


@pytest.fixture
def patient(monkeypatch):
    """Pages of a test wait for their first fit; how they look while it runs has its own test."""
    from borewright.web import testing_pages

    monkeypatch.setattr(testing_pages, "PATIENCE", 120.0)
