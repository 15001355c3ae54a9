"""A fresh job book in a folder of its own, on SQLite, and on PostgreSQL where BOREWRIGHT_TEST_POSTGRES names a scratch database."""

from __future__ import annotations

import os

import pytest
import sqlalchemy as sa

from borewright.storage.jobbook import open_store

POSTGRES = os.environ.get("BOREWRIGHT_TEST_POSTGRES")


@pytest.fixture(params=["sqlite", *(["postgresql"] if POSTGRES else [])])
def book(request, tmp_path):
    """An empty job book."""
    url = None
    if request.param == "postgresql":
        url = POSTGRES
        engine = sa.create_engine(url)
        with engine.begin() as connection:
            connection.execute(sa.text("DROP SCHEMA public CASCADE"))
            connection.execute(sa.text("CREATE SCHEMA public"))
        engine.dispose()
    with open_store(tmp_path / "home", url) as one:
        yield one
