"""There and back with an entry of every kind that a job book can hold, drawn from the kind's own schema."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from borewright.exchange import (
    bores_of,
    entries_of,
    read_any,
    read_csv_set,
    read_geojson,
    read_gwml2,
    write_csv_set,
    write_geojson,
    write_gwml2,
)
from borewright.exchange.archive import entry_line, write_archive
from borewright.record import entry_from_json, entry_to_json, fold
from borewright.record.bodies import CURRENT_VERSION

from .any_body import EVERY_KIND, any_body
from .conftest import book

MADE = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
SPOT = ("ground.spot", {"name": "B", "latitude": -35.3, "longitude": 149.1, "elevation": 600.0, "way_of_picking": "lineament"})


def written(kind, body):
    *before, last = book(("enquiry.opened", {"title": "Homestead bore (invented)"}), SPOT, ("rig.hole_started", {"spot": "B"}), ("rig.note", {"text": "to be struck out"}), ("rig.note", {"text": ""}))
    given = entry_to_json(last) | {"kind": kind, "body": body, "version": CURRENT_VERSION[kind]} | ({"strikes_out": str(before[-1].id)} if kind == "struck_out" else {})
    return [*before, entry_from_json(given)]


@pytest.mark.parametrize("kind", EVERY_KIND)
@settings(max_examples=4, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_it_comes_back_from_an_archive_and_from_every_format_that_can_be_read(tmp_path_factory, kind, data):
    body = data.draw(any_body(kind))
    entries = [replace(e, sequence=n, received=e.at) for n, e in enumerate(written(kind, body), 1)]
    out = io.BytesIO()
    write_archive(entries, {}, out, made=MADE)
    path = tmp_path_factory.mktemp("archive") / "a.zip"
    path.write_bytes(out.getvalue())
    back = read_any(path).archive.entries
    assert [entry_line(e) for e in back] == [entry_line(e) for e in entries] and back[-1].body == entries[-1].body
    for bore in bores_of(fold(entries)):
        assert read_csv_set(write_csv_set([bore])) == [bore]
        assert read_geojson(write_geojson([bore])) == [bore]
        (once,) = read_gwml2(write_gwml2(bore))
        assert read_gwml2(write_gwml2(once)) == [once]
        # What a bore says of itself when it has come in elsewhere is what it said here.
        (elsewhere,) = bores_of(fold(entries_of(bore, by="office", at=MADE)))
        for table in ("strikes", "casing", "annulus", "intervals", "test_levels"):
            assert len(elsewhere.table(table)) == len(bore.table(table))


def test_every_kind_is_drawn():
    from borewright.record.bodies import KINDS

    assert set(EVERY_KIND) == set(KINDS) and len(EVERY_KIND) > 40
