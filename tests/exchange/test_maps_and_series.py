"""GeoPackage read by GDAL and by plain SQLite, WaterML against its schema, the calendar by an independent library."""

import sqlite3
import struct
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from borewright.errors import BadInput
from borewright.exchange import write_calendar, write_geopackage, write_levels
from borewright.exchange.bore import TABLES
from borewright.exchange.ics import _folded
from borewright.exchange.ogc import NS
from borewright.exchange.waterml import level_series
from borewright.record import fold

from .conftest import FULL, JOB, book, bores
from .ogc import errors

MADE = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
quick = settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


# GeoPackage


@quick
@given(st.lists(bores(), max_size=3, unique_by=lambda b: b.id))
def test_geopackage_by_plain_sqlite(tmp_path_factory, made):
    path = tmp_path_factory.mktemp("gpkg") / "b.gpkg"
    write_geopackage(made, path, made=MADE)
    with closing(sqlite3.connect(path)) as db:
        # OGC 12-128r18 requirements 2, 3, 6, 7 (from memory).
        assert db.execute("PRAGMA application_id").fetchone() == (0x47504B47,) and db.execute("PRAGMA user_version").fetchone()[0] == 10301
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",) and db.execute("PRAGMA foreign_key_check").fetchall() == []
        assert {-1, 0, 4326} <= {r[0] for r in db.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
        tables = dict(db.execute("SELECT table_name, data_type FROM gpkg_contents"))
        assert tables["bores"] == "features" and all(kind == "attributes" for name, kind in tables.items() if name != "bores")
        for bore, (blob, name, depth) in zip(made, db.execute("SELECT geom, name, depth_m FROM bores ORDER BY fid"), strict=True):
            assert (name or "", depth) == (bore.name, bore.depth)
            if bore.latitude is None:
                assert blob is None
            else:
                magic, version, flags, srs = struct.unpack_from("<2sBBi", blob)
                assert (magic, version, flags & 1, flags >> 1 & 7, srs) == (b"GP", 0, 1, 0, 4326)
                assert struct.unpack_from("<BIdd", blob, 8) == (1, 1, bore.longitude, bore.latitude)
        for table in TABLES:
            count = sum(len(b.table(table.name)) for b in made)
            assert (table.name in tables) == (count > 0)
            if count:
                assert db.execute(f'SELECT count(*) FROM "{table.name}"').fetchone() == (count,)


def test_geopackage_by_gdal(tmp_path, bore, dry):
    pyogrio = pytest.importorskip("pyogrio", reason="GDAL's reader is a test dependency of its own")
    path = tmp_path / "b.gpkg"
    write_geopackage([bore, dry, replace(dry, id="x", latitude=None, longitude=None)], path, made=MADE)
    layers = dict(pyogrio.list_layers(path))
    assert layers["bores"] == "Point" and layers["intervals"] is None and "casing" in layers
    info = pyogrio.read_info(path, layer="bores")
    assert info["crs"] == "EPSG:4326" and info["features"] == 3
    meta, _, geometry, fields = pyogrio.raw.read(path, layer="bores", force_2d=True)
    columns = dict(zip(meta["fields"], fields, strict=True))
    assert struct.unpack("<BIdd", geometry[0]) == (1, 1, 149.1, -35.3) and geometry[2] is None
    assert (columns["depth_m"][0], columns["yield_lps"][0], columns["static_level_m"][0], columns["name"][0]) == (60.0, 1.2, 12.35, bore.name)
    assert str(columns["drilled_on"][0]) == "2026-03-14" and columns["status"].tolist() == ["water", "no water", "no water"]
    meta, _, _, fields = pyogrio.raw.read(path, layer="casing")
    casing = dict(zip(meta["fields"], fields, strict=True))
    assert casing["outside_diameter_mm"].tolist() == [168.3, 140.2, 140.2] and casing["slotted"].tolist() == [False, False, True]


def test_a_geopackage_is_whole_or_not_there(tmp_path, bore, monkeypatch):
    path = tmp_path / "b.gpkg"
    path.write_bytes(b"what stood here before")
    import borewright.exchange.geopackage as module

    def broken(*_):
        raise RuntimeError("power cut")

    monkeypatch.setattr(module, "_rows", broken)
    with pytest.raises(RuntimeError):
        write_geopackage([bore], path)
    assert path.read_bytes() == b"what stood here before" and list(tmp_path.iterdir()) == [path]


# WaterML


@quick
@given(bores())
def test_levels_are_valid_and_complete(bore):
    series = level_series(bore)
    if not series:
        with pytest.raises(BadInput):
            write_levels(bore)
        return
    data = write_levels(bore, made=MADE)
    assert errors("waterml", data) == []
    root = etree.fromstring(data)
    values = [float(v) for v in root.xpath("//wml2:MeasurementTVP/wml2:value/text()", namespaces=NS)]
    assert values == [v for _, _, points in series for _, v in points]


def test_levels_of_a_whole_bore(bore):
    data = write_levels(bore)
    assert data == write_levels(bore) and errors("waterml", data) == []
    root = etree.fromstring(data)
    titles = root.xpath("//om:observedProperty/@xlink:title", namespaces=NS)
    assert titles == ["depth to water below ground, static", "depth to water below ground, pumping", "drawdown in test 1, pumped bore",
                      "drawdown in test 1, windmill bore"]
    # The test began at 14:45 (+10:00), the 28th quarter of an hour after eight: its reading at 600 s stands ten minutes later.
    begun = datetime.fromisoformat(bore.table("tests")[0]["at"])
    times = root.xpath("//wml2:MeasurementTVP[wml2:value='2.35']/wml2:time/text()", namespaces=NS)
    assert [(datetime.fromisoformat(t) - begun).total_seconds() for t in times] == [600.0]
    assert errors("waterml", data.replace(b"wml2:value>", b"wml2:worth>"))


# Calendar


def waiting(*more, n=5):
    return fold(book(*FULL[:5], *more, job=UUID(int=JOB.int + n)))


def test_the_calendar_by_an_independent_reader(job):
    icalendar = pytest.importorskip("icalendar", reason="an independent reader is a test dependency of its own")
    jobs = [job, waiting(), waiting(FULL[5], n=6)]
    data = write_calendar(jobs, made=MADE)
    calendar = icalendar.Calendar.from_ical(data)
    assert calendar["VERSION"] == "2.0" and not calendar.errors
    events = list(calendar.walk("VEVENT"))
    assert [(str(e["SUMMARY"]), e["DTSTART"].dt, e["DTEND"].dt) for e in events] == [("Rig: Homestead bore (invented)", date(2026, 3, 14), date(2026, 3, 15))]
    assert (events[0]["GEO"].latitude, events[0]["GEO"].longitude) == (-35.3, 149.1)
    todos = {str(c["SUMMARY"]): c for c in calendar.walk("VTODO")}
    assert set(todos) == {"Quote runs out: Homestead bore (invented)", "To drill: Homestead bore (invented)"}
    assert todos["Quote runs out: Homestead bore (invented)"]["DUE"].dt == date(2026, 4, 30)
    assert len({str(c["UID"]) for c in calendar.subcomponents}) == 3
    assert b"Invented Customer" not in data


@quick
@given(st.text(max_size=120))
def test_any_title_comes_back(title):
    icalendar = pytest.importorskip("icalendar", reason="an independent reader is a test dependency of its own")
    from borewright.exchange.ics import _text

    line = "SUMMARY:" + _text("Rig: " + title)
    text = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nBEGIN:VTODO\r\nUID:1\r\nDTSTAMP:20260501T090000Z\r\n" + _folded(line) + "END:VTODO\r\nEND:VCALENDAR\r\n"
    back = str(icalendar.Calendar.from_ical(text).walk("VTODO")[0]["SUMMARY"])
    expected = "".join(c for c in ("Rig: " + title).replace("\r\n", "\n") if c in "\t\n" or ord(c) >= 32 and ord(c) != 127)
    assert back == expected


@quick
@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=300))
def test_lines_are_folded_at_75_octets(text):
    # RFC 5545 section 3.1.
    folded = _folded(text.replace("\r", "").replace("\n", ""))
    assert folded.endswith("\r\n") and all(len(part.encode()) <= 75 for part in folded.split("\r\n"))
    assert folded[:-2].replace("\r\n ", "") == text.replace("\r", "").replace("\n", "")
