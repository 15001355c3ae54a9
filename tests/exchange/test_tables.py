"""CSV and GeoJSON there and back, the entries that an import makes, and what is refused."""

import csv
import io
import json
import zipfile
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.exchange import bores_of, entries_of, read_csv_set, read_geojson, write_csv_set, write_geojson
from borewright.exchange.bore import BORE_COLUMNS, TABLES
from borewright.exchange.csvset import read_bores_csv
from borewright.exchange.zips import zip_of
from borewright.record import fold

from .conftest import FULL, book, bores

NOW = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
quick = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def as_entries(bore):
    return entries_of(bore, by="office", at=NOW)


def settled(bore):
    """The bore after one reading in: what any bore looks like that has once been imported."""
    return bores_of(fold(as_entries(bore)))[0]


@quick
@given(bores())
def test_csv_there_and_back(bore):
    assert read_csv_set(write_csv_set([bore])) == [bore]


@quick
@given(bores())
def test_geojson_there_and_back(bore):
    assert read_geojson(write_geojson([bore])) == [bore]


@quick
@given(bores())
def test_reading_in_keeps_every_row_and_repeats_itself(bore):
    once = settled(bore)
    assert once.rows == bore.rows
    assert (once.name, once.latitude, once.longitude, once.elevation, once.need) == (bore.name or bore.id, bore.latitude, bore.longitude, bore.elevation, bore.need)
    assert once.depth == bore.depth and once.stopped_reason == bore.stopped_reason
    assert [e.id for e in as_entries(bore)] == [e.id for e in as_entries(bore)]
    again = settled(once)
    assert replace(again, id="", reference="") == replace(once, id="", reference="")


def test_a_whole_bore_by_hand(bore):
    assert (bore.depth, bore.yield_, bore.static_level, bore.first_water, bore.drilled_on, bore.status) == (60.0, 1.2e-3, 12.35, 49.0, "2026-03-14", "water")
    assert bore.strike_yields() == [0.7e-3, pytest.approx(0.5e-3)]
    again = settled(bore)
    assert replace(again, id=bore.id) == bore


def test_csv_reads_in_plain_words(bore, dry):
    archive = zipfile.ZipFile(io.BytesIO(write_csv_set([bore, dry])))
    assert archive.testzip() is None
    rows = list(csv.DictReader(io.StringIO(archive.read("bores.csv").decode())))
    first = rows[0]
    assert (first["lat"], first["lon"], first["depth_m"], first["yield_lps"], first["static_level_m"]) == ("-35.3", "149.1", "60.0", "1.2", "12.35")
    assert rows[1]["status"] == "no water" and rows[1]["yield_lps"] == ""
    strikes = list(csv.DictReader(io.StringIO(archive.read("strikes.csv").decode())))
    assert [(s["depth_m"], s["yield_lps"]) for s in strikes][0] == ("49.0", "0.7")
    casing = list(csv.DictReader(io.StringIO(archive.read("casing.csv").decode())))
    assert {c["outside_diameter_mm"] for c in casing} == {"168.3", "140.2"}


def test_a_formula_in_a_cell_stays_text(dry):
    text = zipfile.ZipFile(io.BytesIO(write_csv_set([dry]))).read("intervals.csv").decode()
    assert ",'=hard granite," in text
    assert read_csv_set(write_csv_set([dry])) == [dry]


def test_customer_and_money_stay_out_of_the_open_formats(job):
    for text in (write_geojson(bores_of(job)), write_csv_set(bores_of(job)).decode("latin-1")):
        assert "Invented Customer" not in text and "Q1" not in text


def test_the_descriptor_describes_every_column_of_every_file(bore, dry):
    # Table Schema types and the foreign keys; the shape is checked by hand here for want of a schema of the standard (from memory).
    archive = zipfile.ZipFile(io.BytesIO(write_csv_set([bore, dry])))
    package = json.loads(archive.read("datapackage.json"))
    assert package["profile"] == "tabular-data-package"
    paths = {r["path"] for r in package["resources"]}
    assert paths == set(archive.namelist()) - {"datapackage.json"}
    for resource in package["resources"]:
        rows = list(csv.reader(io.StringIO(archive.read(resource["path"]).decode())))
        fields = resource["schema"]["fields"]
        assert rows[0] == [f["name"] for f in fields]
        for row in rows[1:]:
            for field, cell in zip(fields, row, strict=True):
                if cell and field["type"] in ("number", "integer"):
                    float(cell)
                if cell and field["type"] == "datetime":
                    assert datetime.fromisoformat(cell).utcoffset() is not None


def test_two_holes_are_two_bores():
    more = [(k, {**b, "hole": 2}) for k, b in FULL if k.startswith("rig.") and k not in ("rig.day_started",)]
    two = bores_of(fold(book(*FULL, *more)))
    assert [b.hole for b in two] == [1, 2] and two[0].id != two[1].id and two[1].name.endswith("hole 2")
    assert read_csv_set(write_csv_set(two)) == two and read_geojson(write_geojson(two)) == two


def test_spaces_in_a_text_are_kept(bore):
    spaced = replace(bore, name="  ", stopped_words=" a ", rows={"strikes": ({"depth": 5.0, "note": " ", "at": "2026-03-14T08:00:00+10:00"},)})
    assert read_csv_set(write_csv_set([spaced])) == [spaced] == read_geojson(write_geojson([spaced]))


# RFC 7946


def test_geojson_keeps_the_rules_of_its_standard(bore, dry):
    # RFC 7946 (from memory): section 3 types, 3.1.1 longitude first, 3.2 id and properties, 4 no crs member; schema below is ours for what a bore may be.
    import jsonschema

    schema = {
        "type": "object", "required": ["type", "features"], "not": {"required": ["crs"]},
        "properties": {"type": {"const": "FeatureCollection"}, "features": {"type": "array", "items": {
            "type": "object", "required": ["type", "geometry", "properties"],
            "properties": {"type": {"const": "Feature"}, "id": {"type": ["string", "number"]}, "properties": {"type": ["object", "null"]},
                           "geometry": {"oneOf": [{"type": "null"}, {
                               "type": "object", "required": ["type", "coordinates"], "properties": {"type": {"const": "Point"}, "coordinates": {
                                   "type": "array", "minItems": 2, "maxItems": 3, "prefixItems": [
                                       {"type": "number", "minimum": -180, "maximum": 180}, {"type": "number", "minimum": -90, "maximum": 90}]}}}]}}}}}}
    for made in (write_geojson([bore, dry]), write_geojson([replace(bore, latitude=None, longitude=None)])):
        jsonschema.validate(json.loads(made), schema)
    assert json.loads(write_geojson([bore]))["features"][0]["geometry"]["coordinates"] == [149.1, -35.3]


def test_a_foreign_collection_with_few_properties_is_enough():
    text = json.dumps({"type": "FeatureCollection", "features": [{"type": "Feature", "id": 7, "geometry": {"type": "Point", "coordinates": [149.1, -35.3, 600]},
                       "properties": {"depth_m": 42, "yield_lps": 0.8, "static_level_m": 9.5, "drilled_on": "2019-06-30", "owner_ref": "x"}}]})
    (bore,) = read_geojson(text)
    assert (bore.id, bore.depth, bore.yield_, bore.static_level, bore.drilled_on) == ("7", 42.0, 0.8e-3, 9.5, "2019-06-30")
    assert bore.table("flows")[0]["method"] == "estimate"
    assert settled(bore).yield_ == 0.8e-3


def test_a_bare_table_of_bores_is_enough():
    (bore,) = read_bores_csv(b"bore_id,lon,lat,depth_m,first_water_m,yield_lps\nX1,149.1,-35.3,61.5,40,1.25\n")
    assert (bore.depth, bore.first_water, bore.yield_) == (61.5, 40.0, 1.25e-3)
    made = as_entries(bore)
    assert {e.kind for e in made} >= {"enquiry.opened", "ground.spot", "rig.hole_started", "rig.struck", "rig.flow", "rig.advanced"}
    assert all(e.at == NOW for e in made)


# Files that lie


def table(name, head, *rows):
    return (f"{name}.csv", (head + "\n" + "\n".join(rows) + "\n").encode())


BORES = ("bores", "bore_id,lon,lat,depth_m", "X1,149.1,-35.3,60")


@pytest.mark.parametrize(("field", "tables"), [
    ("bores.csv", [("strikes", "bore_id,depth_m", "X1,5")]),
    ("bores: depth", [("bores", "bore_id,lon,lat,depth", "X1,1,2,3")]),
    ("bores: lat", [("bores", "bore_id,lon,depth_m", "X1,1,3")]),
    ("bores: lon", [("bores", "bore_id,lon,lon,lat,depth_m", "X1,1,1,3,3")]),
    ("bores row 1: depth_m", [("bores", "bore_id,lon,lat,depth_m", "X1,149.1,-35.3,deep")]),
    ("bores row 1: depth_m", [("bores", "bore_id,lon,lat,depth_m", "X1,149.1,-35.3,nan")]),
    ("bores row 1: lon", [("bores", "bore_id,lon,lat,depth_m", "X1,1e999,-35.3,6")]),
    ("bores row 2: bore_id", [("bores", "bore_id,lon,lat,depth_m", "X1,1,2,3", "X1,1,2,3")]),
    ("bores row 1", [("bores", "bore_id,lon,lat,depth_m", "X1,1,2")]),
    ("bores row 1: bore_id", [("bores", "bore_id,lon,lat,depth_m", ",1,2,3")]),
    ("bores row 1: started_at", [("bores", "bore_id,lon,lat,depth_m,started_at", "X1,1,2,3,yesterday")]),
    ("strikes row 1: bore_id", [BORES, ("strikes", "bore_id,depth_m", "X2,5")]),
    ("casing row 1: slotted", [BORES, ("casing", "bore_id,from_m,to_m,string,outside_diameter_mm,slotted", "X1,0,5,production,140,perhaps")]),
    ("casing row 1: joints", [BORES, ("casing", "bore_id,from_m,to_m,string,outside_diameter_mm,joints", "X1,0,5,production,140,1.5")]),
    ("file", [BORES, ("secrets", "a", "b")]),
])
def test_a_bad_set_is_refused_whole_and_by_name(field, tables):
    with pytest.raises(BadInput) as caught:
        read_csv_set(zip_of(table(*t) for t in tables))
    assert caught.value.field == field and caught.value.want


@pytest.mark.parametrize(("field", "tables"), [
    ("intervals row 1: to_m", [BORES, ("intervals", "bore_id,from_m,to_m,lithology", "X1,20,10,clay")]),
    ("intervals row 2: to_m", [BORES, ("intervals", "bore_id,from_m,to_m,lithology", "X1,0,10,clay", "X1,10,90,rock")]),
    ("strikes row 1: depth_m", [BORES, ("strikes", "bore_id,depth_m", "X1,75")]),
    ("strikes row 1: depth_m", [BORES, ("strikes", "bore_id,depth_m", "X1,-5")]),
    ("flows row 1: flow_lps", [BORES, ("flows", "bore_id,depth_m,flow_lps,method", "X1,60,-1,bucket")]),
    ("flows row 1: method", [BORES, ("flows", "bore_id,depth_m,flow_lps,method", "X1,60,1,guess")]),
    ("casing row 1: outside_diameter_mm", [BORES, ("casing", "bore_id,from_m,to_m,string,outside_diameter_mm", "X1,0,5,production,14000")]),
    ("bores: lat", [("bores", "bore_id,lon,lat,depth_m", "X1,149.1,-95,60")]),
    ("bores: depth_m", [("bores", "bore_id,lon,lat,depth_m", "X1,149.1,-35,60000")]),
    ("bores: use", [("bores", "bore_id,lon,lat,depth_m,use,need_lps", "X1,149.1,-35,60,swimming,0.3")]),
])
def test_what_no_bore_can_be_is_refused_by_table_row_and_column(field, tables):
    (bore,) = read_csv_set(zip_of(table(*t) for t in tables))
    with pytest.raises(BadInput) as caught:
        as_entries(bore)
    assert caught.value.field == f"bore X1, {field}" and caught.value.problem and caught.value.want


def test_a_refused_value_is_told_in_the_unit_of_its_column():
    (bore,) = read_csv_set(zip_of(table(*t) for t in (BORES, ("flows", "bore_id,depth_m,flow_lps,method", "X1,60,-1.5,bucket"))))
    with pytest.raises(BadInput, match="flow_lps: .*got -1.5;"):
        as_entries(bore)


def point(**properties):
    return {"type": "Feature", "id": "a", "geometry": {"type": "Point", "coordinates": [1, 2]}, "properties": properties}


@pytest.mark.parametrize(("field", "document"), [
    ("file", []), ("file", "text"), ("type", {"type": "Topology"}), ("type", {"type": "FeatureCollection"}),
    ("crs", {"type": "FeatureCollection", "crs": {}, "features": []}),
    ("feature 1", {"type": "FeatureCollection", "features": [5]}),
    ("feature 1: id", {"type": "Feature", "geometry": None, "properties": {}}),
    ("feature 1: geometry", {**point(), "geometry": {"type": "LineString", "coordinates": [[1, 2], [3, 4]]}}),
    ("feature 1: coordinates", {**point(), "geometry": {"type": "Point", "coordinates": [-35.0, 149.0]}}),
    ("feature 1: coordinates", {**point(), "geometry": {"type": "Point", "coordinates": ["149", "-35"]}}),
    ("feature 1: coordinates", {**point(), "geometry": {"type": "Point", "coordinates": [True, 2]}}),
    ("feature 1: properties", {**point(), "properties": [1]}),
    ("feature 1: depth_m", point(depth_m="deep")), ("feature 1: depth_m", point(depth_m=True)), ("feature 1: depth_m", point(depth_m=[])),
    ("feature 1: strike", point(strike=[])), ("feature 1: strikes", point(strikes={})), ("feature 1, strikes 1", point(strikes=[4])),
    ("feature 1, strikes 1: deepness", point(strikes=[{"deepness": 4}])), ("feature 1: name", point(name=5)),
    ("feature 2: id", {"type": "FeatureCollection", "features": [point(), point()]}),
])
def test_bad_geojson_is_refused_by_name(field, document):
    with pytest.raises(BadInput) as caught:
        read_geojson(json.dumps(document))
    assert caught.value.field == field and caught.value.want


@pytest.mark.parametrize("text", [b"", b"{", b"\xff\xfe", b'{"type": NaN}', b"[" * 100_000, b'{"type": ' + b"9" * 5000 + b"}"])
def test_what_is_no_json_is_refused(text):
    with pytest.raises(BadInput):
        read_geojson(text)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.binary(max_size=300))
def test_noise_is_refused_not_a_crash(data):
    for read in (read_csv_set, read_geojson):
        with pytest.raises(BadInput):
            read(data)


def test_every_column_has_a_name_of_its_own():
    for columns in (BORE_COLUMNS, *(t.columns for t in TABLES)):
        assert len({c.name for c in columns}) == len(columns) and len({c.field for c in columns}) == len(columns)


@pytest.mark.parametrize(("filling", "said"), [(b"a" * 2**20, "has a line that is too long"), (b"A1,149.1,-35.3,60\n" * 2**15, "stands for two bores"), (b"\0" * 2**20, "has a line that is too long")])
def test_a_table_that_unpacks_to_a_thousand_times_its_size_is_never_held_whole(filling, said):
    import tracemalloc

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("bores.csv", "w") as table:
        table.write(b"bore_id,lon,lat,depth_m\n")
        for _ in range(64):
            table.write(filling)
    tracemalloc.start()
    try:
        with pytest.raises(BadInput, match=said):
            read_csv_set(packed.getvalue())
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 16 * 2**20, "of 64 MB and more unpacked"


def test_a_table_is_read_the_same_wherever_its_bytes_are_cut():
    text = "\ufeffbore_id,lon,lat,depth_m,name\r\nA1,149.1,-35.3,60,\"Käthe's\r\nbore\"\r\nA2,149.2,-35.3,61,последняя".encode()
    from borewright.exchange.csvset import _lines

    whole = list(_lines(iter([text]), "bores.csv"))
    assert "".join(whole) == text.decode("utf-8-sig") and whole[0].endswith("\r\n") and len(whole) == 4
    for size in (1, 2, 3, 7, 31):
        assert list(_lines((text[at:at + size] for at in range(0, len(text), size)), "bores.csv")) == whole
    with pytest.raises(BadInput, match="not UTF-8") as refused:
        list(_lines(iter([b"bore_id\n", b"a\xff"]), "bores.csv"))
    assert refused.value.value == 9


def test_geojson_of_more_parts_than_bores_have_is_refused_unread():
    import tracemalloc

    data = b'{"type":"FeatureCollection","features":[' + b"1.5," * 6_000_000 + b"0]}"
    tracemalloc.start()
    with pytest.raises(BadInput, match="too many parts"):
        read_geojson(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2**20
