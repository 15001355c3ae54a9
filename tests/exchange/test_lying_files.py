"""Files from elsewhere that lie, through every door: refused by field and value, and nothing written."""

import io
import sqlite3
import zipfile
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, assume, given, settings

from borewright.errors import BadInput
from borewright.exchange import (
    bring_in,
    check_depths,
    read_any,
    read_geopackage,
    read_levels,
    write_csv_set,
    write_geojson,
    write_geopackage,
    write_gwml2,
    write_levels,
)
from borewright.storage.jobbook import open_job_book

from .conftest import bores

quick = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


def changed(bore, table, row, **values):
    rows = list(bore.table(table))
    rows[row] = {**rows[row], **values}
    return replace(bore, id="their-7", rows={**bore.rows, table: tuple(rows)})


LIES = {
    "ground given twice": (lambda b: changed(b, "intervals", 1, from_depth=5.0), "intervals row 2: from_m", 5.0),
    "ground upside down": (lambda b: changed(b, "intervals", 0, from_depth=8.0, to_depth=2.0), "", 2.0),
    "ground below the bottom": (lambda b: changed(b, "intervals", 1, to_depth=75.0), "intervals row 2: to_m", 75.0),
    "casing below the hole": (lambda b: changed(b, "casing", 1, to_depth=75.0), "casing row 2: to_m", 75.0),
    "a screen below the hole": (lambda b: changed(b, "casing", 2, from_depth=70.0, to_depth=76.0), "casing row 3: to_m", 76.0),
    "casing upside down": (lambda b: changed(b, "casing", 1, from_depth=40.0, to_depth=10.0), "", 10.0),
    "a seal below the hole": (lambda b: changed(b, "annulus", 2, to_depth=61.0), "annulus row", 61.0),
    "a strike below the hole": (lambda b: changed(b, "strikes", 1, depth=75.0), "strikes row 2: depth_m", 75.0),
    "a flow below the hole": (lambda b: changed(b, "flows", 1, depth=75.0), "flows row 2: depth_m", 75.0),
    "water below the bottom": (lambda b: changed(b, "levels", 0, depth_to_water=72.0), "levels row", 72.0),
    "pumped below the bottom": (lambda b: changed(b, "test_levels", 2, drawdown=50.0), "test_levels row 3: drawdown_m", 50.0),
    "at rest below the bottom": (lambda b: changed(b, "tests", 0, static_level=66.0), "tests row 1: static_level_m", 66.0),
}


def written(bore, format, folder):
    path = folder / "theirs.dat"
    if format == "gpkg":
        write_geopackage([bore], path)
    else:
        path.write_bytes({"csv": lambda: write_csv_set([bore]), "geojson": lambda: write_geojson([bore]).encode(), "gwml2": lambda: write_gwml2(bore)}[format]())
    return path


@pytest.fixture
def kept(tmp_path):
    with open_job_book(tmp_path / "book") as held:
        yield held


@pytest.mark.parametrize("format", ["csv", "geojson", "gwml2", "gpkg"])
@pytest.mark.parametrize("lie", LIES)
def test_depths_that_cross_are_refused_and_nothing_is_written(bore, kept, tmp_path, lie, format):
    change, field, value = LIES[lie]
    path = written(change(bore), format, tmp_path)
    for dry in (True, False):
        with pytest.raises(BadInput) as caught:
            bring_in(kept, path, by="office", dry_run=dry)
        assert caught.value.value == value and caught.value.problem and caught.value.want
        if format != "gwml2" and field:
            assert field in caught.value.field
    assert list(kept.jobs()) == []


@pytest.mark.parametrize("format", ["csv", "geojson", "gwml2", "gpkg"])
def test_the_same_file_without_the_lie_comes_in(bore, kept, tmp_path, format):
    done = bring_in(kept, written(replace(bore, id="their-7"), format, tmp_path), by="office")
    assert done.format == format and done.fresh == done.entries > 15 and len(kept.jobs()) == 1


def test_what_a_bare_table_says_in_short_is_held_against_its_depth_too(kept, tmp_path):
    head = "bore_id,lon,lat,depth_m,static_level_m,first_water_m\n"
    for line, value in (("X1,149.1,-35.3,60,72,20", 72.0), ("X1,149.1,-35.3,60,12,61", 61.0)):
        (tmp_path / "b.csv").write_text(head + line + "\n")
        with pytest.raises(BadInput) as caught:
            bring_in(kept, tmp_path / "b.csv", by="office")
        assert caught.value.value == value
    assert list(kept.jobs()) == []


def test_depths_as_drillers_write_them_stand(bore, dry):
    check_depths(bore)
    check_depths(dry)
    check_depths(changed(bore, "casing", 2, to_depth=60.005))  # carried over from feet
    check_depths(replace(changed(bore, "casing", 2, to_depth=75.0), depth=None))
    check_depths(changed(bore, "test_levels", 4, drawdown=70.0))  # another bore has a bottom of its own


# Units


def test_units_that_are_not_known_are_refused_by_every_door(bore, kept, tmp_path):
    bore = replace(bore, id="their-7")
    bad = {}
    bad["csv"] = write_csv_set([bore])
    with zipfile.ZipFile(io.BytesIO(bad["csv"])) as held:
        members = {i.filename: held.read(i) for i in held.infolist()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in members.items():
            made.writestr(name, data.replace(b"depth_m", b"depth_furlong", 1) if name == "bores.csv" else data)
    bad["csv"] = out.getvalue()
    bad["geojson"] = write_geojson([bore]).replace('"depth_m"', '"depth_ft"', 1).encode()
    bad["gwml2"] = write_gwml2(bore).replace(b'code="m"', b'code="furlong"')
    bad["waterml"] = write_levels(bore).replace(b'code="m"', b'code="furlong"', 1)
    for name, data in bad.items():
        (tmp_path / name).write_bytes(data)
        with pytest.raises(BadInput) as caught:
            bring_in(kept, tmp_path / name, by="office")
        assert "unit" in caught.value.problem or "column" in caught.value.problem, name
        assert "furlong" in str(caught.value) or "depth_ft" in str(caught.value), name
    write_geopackage([bore], tmp_path / "b.gpkg")
    with sqlite3.connect(tmp_path / "b.gpkg") as held:
        held.execute("ALTER TABLE bores RENAME COLUMN depth_m TO depth_ft")
    held.close()
    with pytest.raises(BadInput, match="unit"):
        bring_in(kept, tmp_path / "b.gpkg", by="office")
    assert list(kept.jobs()) == []


def test_a_level_above_a_datum_is_not_read_as_a_depth(bore):
    data = write_levels(bore).decode()
    other = data.replace("depth to water below ground, pumping", "level above sea").replace("urn:borewright:def:observedProperty:depth", "urn:other:level")
    with pytest.raises(BadInput) as caught:
        read_levels(other.encode())
    assert caught.value.field.endswith("observedProperty") and caught.value.value == "level above sea"


@pytest.mark.parametrize(("old", "new", "field"), [
    ("2026-", "20260-", "time"), (">12.35<", ">deep<", "value"), (">12.35<", ">1e999<", "value"), ('"begun"', '"x"', ""),
    ("urn:borewright:def:parameter:begun", "urn:borewright:def:parameter:gone", ""),
])
def test_levels_that_lie_are_refused(bore, old, new, field):
    data = write_levels(bore).decode()
    assert old in data
    if not field:
        (back,) = read_levels(data.replace(old, new).encode())  # the first reading then stands for the beginning
        assert len(back.table("test_levels")) == len(bore.table("test_levels"))
        return
    with pytest.raises(BadInput) as caught:
        read_levels(data.replace(old, new).encode())
    assert caught.value.field.endswith(field)


# There and back


def settled_moments(bore):
    """The bore as a GeoPackage keeps it: moments in UTC to the millisecond, figures as doubles in the column's unit, whose last digit may round."""
    def moment(text):
        if not text:
            return text
        at = datetime.fromisoformat(text).astimezone(UTC)
        return at.replace(microsecond=at.microsecond // 1000 * 1000)

    figure = lambda v: float(f"{v:.14g}") if isinstance(v, float) else v
    rows = {name: tuple({k: moment(v) if k == "at" else figure(v) for k, v in row.items()} for row in made) for name, made in bore.rows.items()}
    return replace(bore, need=figure(bore.need), started_at=moment(bore.started_at), stopped_at=moment(bore.stopped_at), rows=rows)


@quick
@given(bores())
def test_geopackage_there_and_back(tmp_path_factory, bore):
    path = tmp_path_factory.mktemp("gpkg") / "b.gpkg"
    write_geopackage([bore], path)
    (back,) = read_geopackage(path)
    assert settled_moments(back) == settled_moments(bore)


@quick
@given(bores())
def test_levels_there_and_back(bore):
    assume(bore.table("levels") or any(r["run"] in {t["run"] for t in bore.table("tests")} for r in bore.table("test_levels")))
    (back,) = read_levels(write_levels(bore))
    assert (back.id, back.name) == (bore.id, bore.name if bore.name != bore.id else "")
    pairs = lambda b: sorted((r["state"], datetime.fromisoformat(r["at"]), r["depth_to_water"]) for r in b.table("levels"))
    assert pairs(back) == pairs(bore)
    runs = {t["run"]: t for t in bore.table("tests")}
    told = {t["run"]: t for t in back.table("tests")}
    assert all(told[run] == {**runs[run], "at": told[run]["at"]} for run in told)
    readings = lambda b: sorted((r["run"], r["well"], round(r["time"], 5), r["drawdown"]) for r in b.table("test_levels") if r["run"] in runs)
    want, got = readings(bore), readings(back)
    assert len(want) == len(got)
    assert all(a[:2] == b[:2] and abs(a[2] - b[2]) < 2e-5 for a, b in zip(want, got, strict=True))
    assert sorted(w[3] for w in want) == sorted(g[3] for g in got)


def test_a_layer_of_gdal_is_read(bore, tmp_path):
    pyogrio = pytest.importorskip("pyogrio")
    write_geopackage([bore], tmp_path / "ours.gpkg")
    frame = pyogrio.raw.read(tmp_path / "ours.gpkg", layer="bores")
    meta, _, geometry, fields = frame
    kept = [i for i, name in enumerate(meta["fields"]) if name in ("bore_id", "depth_m", "static_level_m")]
    pyogrio.raw.write(tmp_path / "theirs.gpkg", geometry, [fields[i] for i in kept], [meta["fields"][i] for i in kept], layer="wells", driver="GPKG", geometry_type="Point", crs="EPSG:4326")
    found = read_any(tmp_path / "theirs.gpkg")
    (back,) = found.bores
    assert found.format == "gpkg" and (back.id, back.depth, back.static_level, back.longitude, back.latitude) == (bore.id, 60.0, 12.35, bore.longitude, bore.latitude)


# Databases that would do something


def test_sql_in_a_geopackage_never_runs(bore, tmp_path):
    def hostile(name, *statements):
        path = tmp_path / f"{name}.gpkg"
        write_geopackage([bore], path)
        held = sqlite3.connect(path, isolation_level=None)
        for statement in statements:
            held.execute(statement)
        held.close()
        return path

    endless = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT x AS bore_id, x AS geom FROM c"
    refused = [
        hostile("view", "ALTER TABLE bores RENAME TO b2", f"CREATE VIEW bores AS {endless}"),
        hostile("rows", "DROP TABLE strikes", f"CREATE VIEW strikes AS {endless}", "ALTER TABLE bores RENAME COLUMN bore_id TO other"),
        hostile("large", "UPDATE bores SET name = hex(zeroblob(4000000))"),
        hostile("virtual", "ALTER TABLE bores RENAME TO b2", "CREATE VIRTUAL TABLE bores USING fts5(bore_id, geom)"),
        hostile("wrong", "UPDATE bores SET geom = x'00010203'"),
        hostile("line", "UPDATE bores SET geom = x'4750000100000000010200000000000000'"),
        hostile("system", "UPDATE gpkg_geometry_columns SET srs_id = 99999"),
        hostile("blob", "UPDATE strikes SET depth_m = x'ff'"),
        hostile("stray", "UPDATE strikes SET bore_id = 'nobody'"),
        hostile("twice", "INSERT INTO bores SELECT fid + 1, geom, " + ", ".join(n for n in _names(tmp_path, bore) if n not in ("fid", "geom")) + " FROM bores"),
        hostile("none", "DROP TABLE gpkg_geometry_columns"),
    ]
    for path in refused:
        with pytest.raises(BadInput):
            pytest.fail(f"{path.name} was read: {read_any(path)}")
    # What never fires does no harm: map programs put triggers of their own into every file.
    harmless = hostile("trigger", "CREATE TRIGGER t AFTER INSERT ON bores BEGIN DELETE FROM strikes; END")
    before = harmless.read_bytes()
    assert read_any(harmless).bores[0].table("strikes") and harmless.read_bytes() == before
    computed = hostile("computed", "ALTER TABLE bores RENAME COLUMN driller TO old", "ALTER TABLE bores ADD COLUMN driller TEXT AS (hex(zeroblob(100000000)))")
    assert read_any(computed).bores[0].driller == "", "a column that is reckoned when it is read is not asked for"
    assert sorted(p.suffix for p in tmp_path.iterdir()) == [".gpkg"] * len(list(tmp_path.iterdir())), "no journal and no other file beside them"


def _names(folder, bore):
    write_geopackage([bore], folder / "names.gpkg")
    held = sqlite3.connect(folder / "names.gpkg")
    try:
        return [row[1] for row in held.execute("PRAGMA table_info(bores)")]
    finally:
        held.close()


def test_damage_to_a_geopackage_is_read_or_refused(bore, tmp_path):
    import random

    write_geopackage([bore], tmp_path / "b.gpkg")
    whole, chance = (tmp_path / "b.gpkg").read_bytes(), random.Random(7)
    refused = 0
    for n in range(120):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 30)):
            data[chance.randrange(16, len(data))] = chance.randrange(256)
        path = tmp_path / f"d{n}.gpkg"
        path.write_bytes(bytes(data[: chance.randrange(100, len(data))]) if n % 3 == 0 else bytes(data))
        try:
            read_any(path)
        except BadInput:
            refused += 1
    assert refused > 20


# Depth of nesting


def test_json_and_xml_nested_ten_thousand_deep_are_refused(kept, tmp_path):
    deep = {
        "a.json": b'{"type":"FeatureCollection","features":[' + b"[" * 10_000 + b"]" * 10_000 + b"]}",
        "b.json": b'{"a":' * 10_000 + b"1" + b"}" * 10_000,
        "a.xml": b"<a>" * 10_000 + b"</a>" * 10_000,
        "b.xml": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "' + b"x" * 1000 + b'">' + b"".join(b'<!ENTITY b%d "&b%d;&b%d;">' % (n, n - 1, n - 1) for n in range(1, 40)) + b"]><a>&b39;</a>",
        "c.xml": b'<!DOCTYPE a SYSTEM "file:///etc/passwd"><a/>',
    }
    for name, data in deep.items():
        (tmp_path / name).write_bytes(data)
        with pytest.raises(BadInput):
            bring_in(kept, tmp_path / name, by="office")
    assert list(kept.jobs()) == []


def test_links_and_paths_in_zips_are_refused(bore, kept, tmp_path):
    for name, mode in (("../bores.csv", 0o644), ("/etc/bores.csv", 0o644), ("C:\\bores.csv", 0o644), ("bores.csv", 0o120777)):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as made:
            info = zipfile.ZipInfo(name)
            info.create_system, info.external_attr = 3, mode << 16
            made.writestr(info, "/etc/passwd" if mode != 0o644 else "bore_id,lon,lat,depth_m\n")
        (tmp_path / "z.zip").write_bytes(out.getvalue())
        with pytest.raises(BadInput) as caught:
            bring_in(kept, tmp_path / "z.zip", by="office")
        assert "path" in caught.value.problem or "link" in caught.value.problem
    assert list(kept.jobs()) == []


def test_the_moment_is_kept(bore):
    assert datetime.fromisoformat(read_levels(write_levels(bore))[0].table("levels")[0]["at"]).astimezone(UTC) == datetime.fromisoformat(bore.table("levels")[0]["at"]).astimezone(UTC)


def test_a_bore_does_not_come_in_twice_by_two_formats(bore, kept, tmp_path):
    theirs = replace(bore, id="their-7")
    first = written(theirs, "csv", tmp_path)
    assert bring_in(kept, first, by="office").fresh and bring_in(kept, first, by="office").fresh == 0
    (line,) = kept.jobs()
    before = len(kept.entries(line.id))
    for other in (written(theirs, "gpkg", tmp_path), written(changed(bore, "strikes", 1, note="added later"), "geojson", tmp_path)):
        with pytest.raises(BadInput) as caught:
            bring_in(kept, other, by="office")
        assert caught.value.field == "bore_id" and caught.value.value == "their-7"
    assert len(kept.entries(line.id)) == before


def test_a_file_that_gives_no_time_adds_nothing_when_it_is_read_again(kept, tmp_path):
    (tmp_path / "bare.csv").write_text("bore_id,lon,lat,depth_m,static_level_m\nA-1,-18.2,-38.4,48.5,12\n")
    first = bring_in(kept, tmp_path / "bare.csv", by="office", at=datetime(2026, 5, 1, tzinfo=UTC))
    again = bring_in(kept, tmp_path / "bare.csv", by="office", at=datetime(2026, 6, 1, tzinfo=UTC))
    assert first.fresh == first.entries == again.entries and again.fresh == 0 and again.jobs == first.jobs
