"""GroundWaterML 2.2: valid by the standard's own schema, back again as far as it carries, and hostile XML refused."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, assume, given, settings
from lxml import etree

from borewright.errors import BadInput
from borewright.exchange import bores_of, entries_of, read_gwml2, write_gwml2
from borewright.exchange.gwml2 import ORIGIN_ELEVATION
from borewright.exchange.ogc import NS, tag
from borewright.exchange.xmlsafe import parse_xml
from borewright.record import fold

from .conftest import bores
from .ogc import FOLDER, errors

quick = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
FIELDS = {
    "intervals": ("from_depth", "to_depth", "words", "ground_class", "colour", "grain", "strength", "weathering"), "strikes": ("depth", "note"),
    "casing": ("from_depth", "to_depth", "string", "outside_diameter", "wall", "material", "slotted"), "annulus": ("from_depth", "to_depth", "what", "material"),
    "levels": ("depth_to_water", "state", "measured_from", "stick_up", "at"), "flows": ("depth", "flow", "method", "standard_uncertainty", "at"),
    "samples": ("depth", "conductivity", "ph", "temperature", "bottle", "at"),
    "water": ("values.name", "values.value", "values.unit", "values.below_detection", "values.form", "laboratory", "sampled_on", "use", "at"),
}


def carried(bore):
    """What the standard can carry of a bore, for comparison."""
    rows = {name: [tuple(r[f] for f in fields) for r in bore.table(name)] for name, fields in FIELDS.items()}
    for name in ("casing", "annulus"):
        rows[name].sort(key=repr)
    rows["tests"] = [tuple(sorted((k, v) for k, v in r.items())) for r in bore.table("tests")]
    series = {}
    for r in bore.table("test_levels"):
        series.setdefault((r["run"], r["well"], r["radius"]), []).append((r["time"], r["drawdown"]))
    rows["test_levels"] = series
    apertures = sorted(r["aperture"] for r in bore.table("casing") if r["slotted"] and r["aperture"] is not None)
    bits = [r["diameter"] for r in bore.table("bits")][-1:]
    return (bore.id, bore.name, bore.reference, bore.latitude, bore.longitude, bore.elevation, bore.depth, bore.use, bore.driller, bore.method,
            bore.drilled_on, bore.stopped_reason, bore.yield_, apertures, bits, rows)


@quick
@given(bores())
def test_it_is_valid_and_comes_back(bore):
    assume(bore.latitude is not None)
    data = write_gwml2(bore)
    assert errors("gwml2", data) == []
    (back,) = read_gwml2(data)
    assert carried(back) == carried(bore)


def test_a_whole_bore(bore, dry):
    for one in (bore, dry):
        data = write_gwml2(one)
        assert errors("gwml2", data) == []
        (back,) = read_gwml2(data)
        assert carried(back) == carried(one)
        again = bores_of(fold(entries_of(back, by="office", at=datetime(2026, 5, 1, tzinfo=UTC))))[0]
        # The book keeps the use with the need, which the standard does not carry.
        assert carried(replace(again, id=back.id, use=back.use)) == carried(back)


def test_the_one_diameter_begins_below_the_casing_that_it_would_not_take(bore):
    drilled = [{**bore.table("bits")[0], "diameter": d, "from_depth": top} for d, top in ((0.290, 0.0), (0.191, 24.0))]
    casing = [{**bore.table("casing")[0], "string": string, "from_depth": 0.0, "to_depth": bottom, "outside_diameter": outside, "slotted": False, "aperture": None}
              for string, bottom, outside in (("conductor", 24.0, 0.225), ("production", 51.0, 0.140))]
    made = replace(bore, rows={**bore.rows, "bits": tuple(drilled), "casing": tuple(casing)})
    (back,) = read_gwml2(write_gwml2(made))
    assert [(r["diameter"], r["from_depth"]) for r in back.table("bits")] == [(0.191, 24.0)]


def test_the_schema_would_notice(bore):
    data = write_gwml2(bore)
    assert errors("gwml2", data.replace(b"gwWellTotalLength", b"gwWellTotalDepth"))
    assert errors("gwml2", data.replace(b"<gwml2wc:bholeHeadworks", b"<gwml2wc:bholeDriller"))


def test_rules_beyond_the_schema(bore):
    # gwml2-well.sch, gwml2-well-vertical.sch and gwml2-well-cov.sch of the standard (read), as XPath by lxml.
    root = etree.fromstring(write_gwml2(bore))

    def count(path):
        return len(root.xpath(path, namespaces=NS))

    assert count(f"gwml2w:gwWellReferenceElevation/gwml2w:Elevation/gwml2w:elevationType[@xlink:href='{ORIGIN_ELEVATION}']") == 1
    line = root.xpath("sams:shape/gml:Curve/gml:segments/gml:LineStringSegment/gml:posList/text()", namespaces=NS)[0].split()
    assert len(line) == 6 and line[0:2] == line[3:5] and float(line[2]) - float(line[5]) == 60.0
    assert line[0:2] == ["-35.3", "149.1"]  # latitude first
    assert count("gwml2w:gwWellGeology/gwml2w:GW_GeologyLog/om:result/gwml2w:GW_GeologyLogCoverage") == 2
    for value in root.iter(tag("gwml2w:LogValue")):
        top, bottom = (float(v) for v in value.xpath("*/swe:Quantity/swe:value/text()", namespaces=NS)[:2])
        assert top <= bottom
    ids = root.xpath("//@gml:id", namespaces=NS)
    assert len(ids) == len(set(ids))
    local = [h[1:] for h in root.xpath("//@xlink:href", namespaces=NS) if h.startswith("#")]
    assert local and set(local) <= set(ids)


def test_reference_systems_are_what_they_are_said_to_be(bore):
    import pyproj

    assert pyproj.CRS.from_epsg(9705).name == "WGS 84 + MSL height" and pyproj.CRS.from_epsg(5714).is_vertical
    for crs in (4326, 9705):
        assert pyproj.CRS.from_epsg(crs).axis_info[0].direction == "north"


def test_a_bottle_filled_and_not_measured(bore):
    empty = dict.fromkeys(("conductivity", "ph", "temperature")) | {"depth": 60.0, "bottle": "OV-1", "at": "2026-03-14T15:30:00+10:00"}
    data = write_gwml2(replace(bore, rows=dict(bore.rows) | {"samples": (empty,)}))
    assert errors("gwml2", data) == [] and read_gwml2(data)[0].table("samples") == (empty,)


def test_no_height_is_made_up(dry):
    data = write_gwml2(dry)
    assert b"posList" not in data and b"<gwml2w:elevation " not in data and errors("gwml2", data) == []


def test_a_bore_without_a_place_is_refused(bore):
    with pytest.raises(BadInput) as caught:
        write_gwml2(replace(bore, latitude=None))
    assert caught.value.field == "location"


def test_characters_that_xml_cannot_hold(bore):
    odd = replace(bore, name="a\x00b\x0b\ufffe<&>'\"é井", driller="  ")
    data = write_gwml2(odd)
    assert errors("gwml2", data) == []
    assert read_gwml2(data)[0].name == "a\ufffdb\ufffd\ufffd<&>'\"é井"


def test_an_example_of_the_standard_is_read():
    # GW_Well_FedUni_uc1_v2-2.xml of the standard; figures read off the file by eye. It writes longitude first under a latitude-first system.
    (bore,) = read_gwml2((FOLDER / "GW_Well_FedUni_uc1_v2-2.xml").read_bytes())
    assert (bore.latitude, bore.longitude, bore.depth, bore.static_level) == (-37.85769, 141.79256, 30.0, 10.12)
    assert [(r["from_depth"], r["to_depth"], r["words"], r["ground_class"]) for r in bore.table("intervals")][:3] == [
        (0.0, 2.0, "brown clay", "clay"), (2.0, 6.0, "weathered grey brown basalt", "weathered rock"), (6.0, 19.0, "BLUE BASALT (W)", "basalt")]
    assert bore.elevation is None  # three are given and none is marked as the origin
    assert entries_of(bore, by="office", at=datetime(2026, 5, 1, tzinfo=UTC))


def test_units_and_systems_of_others(bore):
    data = write_gwml2(bore)
    feet = re.sub(rb'(TotalLength>\s*<swe:Quantity>\s*<swe:uom code=)"m" />(\s*)<swe:value>60.0<', rb'\1"[ft_i]" />\2<swe:value>200<', data)
    assert feet != data and read_gwml2(feet)[0].depth == pytest.approx(60.96)
    us = re.sub(rb'code="L/s" />(\s*)<swe:value>1.2<', rb'code="[gal_us]/min" />\1<swe:value>19<', data)
    assert us != data and read_gwml2(us)[0].yield_ == pytest.approx(1.1987e-3, rel=1e-4)
    # MGA zone 55, GDA94 (EPSG 28355): the same spot by pyproj's forward way.
    import pyproj

    east, north = pyproj.Transformer.from_crs(4326, 28355).transform(-35.3, 149.1)
    grid = data.replace(b'EPSG/0/4326">', b'EPSG/0/28355">').replace(b'<gml:pos srsDimension="2">-35.3 149.1<', f'<gml:pos srsDimension="2">{east} {north}<'.encode())
    back = read_gwml2(grid)[0]
    assert (back.latitude, back.longitude) == (pytest.approx(-35.3, abs=1e-5), pytest.approx(149.1, abs=1e-5))


@pytest.mark.parametrize(("problem", "old", "new"), [
    ("not a known unit", b'code="m"', b'code="cubit"'), ("not a number", b">60.0<", b">sixty<"), ("finite", b">60.0<", b">INF<"), ("finite", b">60.0<", b">NaN<"),
    ("ends above", b">8.0<", b">-8.0<"), ("not on the Earth", b"-35.3 149.1<", b"-95.3 249.1<"), ("reference system", b"EPSG/0/4326", b"EPSG/0/99999999"),
    ("neither true nor false", b"<swe:value>true<", b"<swe:value>perhaps<"), ("table", b"<swe:value>samples<", b"<swe:value>secrets<"), ("not a number", b"<swe:value>640.0<", b"<swe:value>brackish<"),
    ("date and time", b"2026-03-14<", b"the ides of March<"), ("no GW_Well", b"gwml-well/2.2", b"gwml-well/1.0"),
    ("a time and a drawdown", b"600.0,2.35", b"600.0;2.35"), ("finite", b"600.0,2.35", b"600.0,NaN"), ("run: is missing", b"parameter:run", b"parameter:course"), ("well-formed", b"</gwml2w:GW_Well>", b""),
])
def test_a_file_that_lies_is_refused(bore, problem, old, new):
    data = write_gwml2(bore)
    assert old in data
    with pytest.raises(BadInput) as caught:
        read_gwml2(data.replace(old, new))
    assert problem in str(caught.value) and caught.value.want


BOMB = b'<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "lol">' + b"".join(
    b'<!ENTITY %c "%s">' % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(9)) + b"]><l>&j;</l>"


@pytest.mark.parametrize(("problem", "data"), [
    ("document type", BOMB), ("document type", b'<!DOCTYPE a SYSTEM "file:///etc/passwd"><a/>'),
    ("document type", b'<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]><a>&x;</a>'),
    ("too deep", b"<a>" * 10_000 + b"</a>" * 10_000), ("well-formed", b""), ("well-formed", b"\x00\xff"), ("no GW_Well", b"<a/>"),
    ("encoding", b'<?xml version="1.0" encoding="no-such"?><a/>'),
])
def test_hostile_xml_is_refused_at_once(problem, data):
    with pytest.raises(BadInput) as caught:
        read_gwml2(data)
    assert problem in str(caught.value)


def test_size_is_bounded():
    with pytest.raises(BadInput, match="too large"):
        read_gwml2(b"<a>" + b" " * (51 * 2**20) + b"</a>")


@pytest.mark.parametrize("data", [b"<r " + b" ".join(b'a%d=""' % n for n in range(500_000)) + b"/>", b"<r>" + b'<a b="" c=""/>' * 400_000 + b"</r>"], ids=["one long tag", "many attributes"])
def test_attributes_are_bounded_too(data):
    with pytest.raises(BadInput, match="too long|too many"):
        parse_xml(data)


def test_xml_is_read_the_same_in_pieces():
    whole = parse_xml(b"<r>" + b"<a b='1'>text &amp; more</a>" * 100_000 + b"<!-- " + b"x" * 900_000 + b" --></r>")
    assert len(whole) == 100_000 and all(e.text == "text & more" and e.get("b") == "1" for e in whole)
