"""A map of odds is its cells asked one by one; its files are read back by libraries of others; a cluster gives the same numbers."""

import json
import re
import sqlite3

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.drawing.oddsmap import TINTS, odds_map, picture
from borewright.errors import BadInput, OutOfDomain
from borewright.exchange import map_as_geojson, map_as_geopackage, map_as_geotiff
from borewright.siting import Register, bounds_of, coarser, map_of_odds, odds_at, odds_at_sites
from borewright.siting.gathered import gathered_of
from borewright.siting.keep import model_of
from borewright.siting.lattice import fill

NEED, DEPTH = 0.25e-3, 60.0
AREA = (-18.30, -38.52, -18.14, -38.40)


@pytest.fixture(scope="module")
def told(small):
    return map_of_odds(small[1], AREA, need=NEED, depth=DEPTH, cell=700.0)


def test_each_cell_is_its_middle_asked_alone(small, told):
    rows, columns = told.p.shape
    assert (rows, columns) == (round(0.12 * 111195 / 700), round(0.16 * 111195 * np.cos(np.radians(38.46)) / 700))
    assert told.lat[0] > told.lat[-1] and told.lon[0] < told.lon[-1]
    lon, lat = (v.ravel() for v in np.meshgrid(told.lon, told.lat))
    together = odds_at_sites(small[1], lat, lon, need=NEED, depth=DEPTH)
    # Read off between every so many cells worked out, right to 0.002.
    for name in ("p", "low", "high"):
        np.testing.assert_allclose(getattr(told, name).ravel(), getattr(together, name), rtol=0, atol=0.002)
    np.testing.assert_allclose(told.effective_records.ravel(), together.effective_records, rtol=0.01)
    for i, j in ((0, 0), (rows // 2, columns // 3), (rows - 1, columns - 1)):
        one = odds_at_sites(small[1], told.lat[i], told.lon[j], need=NEED, depth=DEPTH)
        assert told.p[i, j] == pytest.approx(one.p[0], abs=0.002)
        assert told.low[i, j] <= told.p[i, j] <= told.high[i, j]


def test_a_large_registers_map_is_its_spots_asked_alone_and_near_the_truth():
    """INVENTED: 9,000 bores over 60 km whose rate of strikes is known everywhere; the odds are Poisson's own."""
    rng = np.random.default_rng(8)
    n = 9000
    rate = lambda lon, lat: 0.018 * np.exp(0.6 * np.sin(10 * lon) * np.cos(9 * lat))
    lon, lat, depth = rng.uniform(10, 10.9, n), rng.uniform(-20.5, -20, n), rng.uniform(30, 90, n)
    strikes = rng.poisson(rate(lon, lat) * depth)
    flow = np.where(strikes > 0, 1e-3 * strikes, 0.0)
    register = Register.of("large", lon=lon, lat=lat, depth=depth, flow=flow, wet=(flow > 0).astype(int))
    told = map_of_odds(register, (10.2, -20.4, 10.7, -20.1), need=0.25e-3, depth=60.0, cell=800.0)
    assert gathered_of(model_of(register), register) is not None
    rows, columns = told.p.shape
    alone = [(told.p[i, j], odds_at(register, told.lat[i], told.lon[j], need=0.25e-3, depths=[60.0]).by_depth[0].p) for i in range(3, rows, 11) for j in range(2, columns, 13)]
    assert np.abs(np.diff(alone, axis=1)).max() < 0.004
    truth = 1.0 - np.exp(-60.0 * rate(*np.meshgrid(told.lon, told.lat)))
    assert np.sqrt(((told.p - truth) ** 2).mean()) < 0.4 * truth.std()
    assert ((told.low <= truth) & (truth <= told.high)).mean() > 0.7


def test_odds_over_the_ground_are_near_the_truth(small):
    district, register = small
    told = map_of_odds(register, AREA, need=NEED, depth=DEPTH, cell=1500.0)
    lon, lat = np.meshgrid(told.lon, told.lat)
    n = lon.size
    truth = district.odds(lon.ravel(), lat.ravel(), np.full(n, DEPTH), np.full(n, NEED))
    assert np.sqrt(np.mean((told.p.ravel() - truth) ** 2)) < 0.14
    assert np.mean((truth >= told.low.ravel()) & (truth <= told.high.ravel())) > 0.5


def test_a_polygon_with_a_hole_leaves_the_rest_blank(small):
    outer = [(-18.30, -38.52), (-18.14, -38.52), (-18.14, -38.40), (-18.30, -38.40), (-18.30, -38.52)]
    hole = [(-18.25, -38.48), (-18.25, -38.44), (-18.19, -38.44), (-18.19, -38.48), (-18.25, -38.48)]
    told = map_of_odds(small[1], [outer, hole], need=NEED, depth=DEPTH, cell=700.0)
    lon, lat = np.meshgrid(told.lon, told.lat)
    inside_hole = (lon > -18.25) & (lon < -18.19) & (lat > -38.48) & (lat < -38.44)
    assert np.array_equal(np.isnan(told.p), inside_hole)
    triangle = map_of_odds(small[1], outer[:3], need=NEED, depth=DEPTH, cell=700.0)
    share = np.isfinite(triangle.p).mean()
    assert share == pytest.approx(0.5, abs=0.05)


def test_ground_far_from_any_bore_is_left_blank_and_said(small):
    told = map_of_odds(small[1], (-18.3, -38.5, -14.0, -38.0), need=NEED, depth=DEPTH, cell=20_000.0)
    assert np.isnan(told.p).any() and np.isfinite(told.p).any()
    assert "too-far" in {a.code for a in told.advisories}


def moved(register, shift):
    lon = (register.lon + shift + 180.0) % 360.0 - 180.0
    return Register.of(register.name, lon=lon, lat=register.lat, depth=register.depth, flow=register.flow, wet=register.wet, bore_id=register.bore_id)


def test_the_antimeridian_is_a_place_like_any_other(small):
    district = small[1]
    plain = Register.of("x", lon=district.lon, lat=district.lat, depth=district.depth, flow=district.flow, wet=district.wet)
    across = moved(plain, 198.22)
    west, _, east, _ = bounds_of(across)
    assert west > 170 and east < -170
    there = map_of_odds(across, (179.92, -38.52, -179.92, -38.40), need=NEED, depth=DEPTH, cell=1200.0)
    here = map_of_odds(plain, (-18.30, -38.52, -18.14, -38.40), need=NEED, depth=DEPTH, cell=1200.0)
    np.testing.assert_allclose(there.p, here.p, atol=2e-3)
    data = json.loads(map_as_geojson(there))
    kinds = [f["geometry"]["type"] for f in data["features"]]
    numbers = [x for f in data["features"] for x, _ in points(f["geometry"])]
    assert max(map(abs, numbers)) <= 180.0
    assert kinds.count("MultiPolygon") in (0, there.p.shape[0])
    odd = map_of_odds(across, (179.921, -38.52, -179.92, -38.40), need=NEED, depth=DEPTH, cell=1300.0)
    crossing = any(west < 180 < west + odd.step[0] for west in odd.lon - 0.5 * odd.step[0])
    assert crossing == any(f["geometry"]["type"] == "MultiPolygon" for f in json.loads(map_as_geojson(odd))["features"])


def points(geometry):
    polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
    return [p for polygon in polygons for ring in polygon for p in ring]


def test_geojson_is_read_by_another_library(told, tmp_path):
    pyogrio = pytest.importorskip("pyogrio")
    path = tmp_path / "odds.geojson"
    path.write_text(map_as_geojson(told))
    meta, _, geometry, values = pyogrio.raw.read(path)
    fields = dict(zip(meta["fields"], values, strict=True))
    assert meta["geometry_type"] == "Polygon" and "4326" in meta["crs"]
    assert len(geometry) == np.isfinite(told.p).sum()
    np.testing.assert_allclose(fields["p"], told.p[np.isfinite(told.p)], atol=1e-6)
    ring = json.loads(path.read_text())["features"][0]["geometry"]["coordinates"][0]
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(ring, ring[1:], strict=False))
    assert ring[0] == ring[-1] and area > 0  # closed, counter-clockwise


def test_geotiff_is_read_by_another_library(told, tmp_path):
    rasterio = pytest.importorskip("rasterio")
    path = tmp_path / "odds.tif"
    told.p[0, 0] = np.nan  # what has no figure is read back as such
    path.write_bytes(map_as_geotiff(told))
    with rasterio.open(path) as file:
        assert file.crs.to_epsg() == 4326 and np.isnan(file.nodata)
        assert file.descriptions == ("p", "low", "high", "effective_records")
        assert tuple(file.bounds) == pytest.approx((told.west, told.south, told.east, told.north), abs=1e-12)
        for band, name in enumerate(file.descriptions, 1):
            np.testing.assert_allclose(file.read(band), getattr(told, name), rtol=1e-6)
        row, column = file.index(told.lon[5], told.lat[3])
        assert (row, column) == (3, 5)


def test_the_picture_reads_without_colour(told):
    p = np.linspace(0.01, 0.99, 100).reshape(10, 10)
    p[0, 0] = np.nan
    svg = odds_map(p.tolist(), west=10.0, south=50.0, east=10.2, north=50.1, need=NEED, depth=DEPTH, bores=[(10.05, 50.05, True), (10.1, 50.05, False), (10.1, 50.02, None)])
    lightness = [0.2126 * int(t[1:3], 16) + 0.7152 * int(t[3:5], 16) + 0.0722 * int(t[5:7], 16) for t in TINTS]
    assert all(a - b > 20 for a, b in zip(lightness, lightness[1:], strict=False))
    for words in ("under 2 in 10", "over 8 in 10", "no figure", "bore with water", "dry bore", "km", "north", "15 L/min", "60 m"):
        assert words in svg
    assert all(tint in svg for tint in TINTS) and "clip-path" in svg and "style=" not in svg


def test_the_scale_bar_is_true():
    svg = odds_map([[0.5] * 20] * 20, west=0.0, south=-0.1, east=0.2, north=0.1, need=NEED, depth=DEPTH, width=720.0)
    frame = re.search(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="[\d.]+" fill="none"', svg)
    half = re.search(r'<rect x="[\d.]+" y="[\d.]+" width="([\d.]+)" height="5.5" fill="#17262b"', svg)
    label = re.search(r">([\d.]+) km<", svg)
    metres_a_pixel = 0.2 * 111_195.0 / float(frame[2])
    assert 2 * float(half[1]) * metres_a_pixel == pytest.approx(1000.0 * float(label[1]), rel=0.01)


def test_a_png_is_a_png(told):
    assert picture(odds_map(told.p.tolist(), west=told.west, south=told.south, east=told.east, north=told.north, need=NEED, depth=DEPTH, medium="paper"), width=400.0)[:8] == b"\x89PNG\r\n\x1a\n"


def test_coarser_keeps_the_mean_and_the_corner(told):
    small = coarser(told, 6)
    assert max(small.p.shape) <= 6 and (small.west, small.north) == (told.west, told.north)
    assert np.nanmean(small.p) == pytest.approx(np.nanmean(told.p), abs=0.03)
    assert coarser(told, 1000) is told


@pytest.mark.parametrize(("area", "more", "field"), [
    ((-18.1, -38.5, -18.1, -38.4), {}, "bounds"), ((-18.3, -38.4, -18.1, -38.5), {}, "bounds"), ((-18.3, -98.0, -18.1, -38.5), {}, "bounds"),
    ((-18.3, float("nan"), -18.1, -38.5), {}, "south"), ([(0, 0), (1, 1)], {}, "area"), ("nowhere", {}, "area"),
    (AREA, {"cell": 0.5}, "cell"), (AREA, {"cell": 0.0}, "cell"), (AREA, {"need": 0.0}, "need"), (AREA, {"depth": -1.0}, "depth"), (AREA, {"depth": 5000.0}, "depth"),
])
def test_bad_areas_are_refused(small, area, more, field):
    with pytest.raises((BadInput, OutOfDomain)) as caught:
        map_of_odds(small[1], area, **({"need": NEED, "depth": DEPTH, "cell": 700.0} | more))
    assert caught.value.field == field


def test_progress_is_told(small):
    seen = []
    map_of_odds(small[1], AREA, need=NEED, depth=DEPTH, cell=120.0, progress=lambda done, of: seen.append((done, of)))
    assert seen[-1][0] == seen[-1][1] > 1 and [d for d, _ in seen] == list(range(1, len(seen) + 1))


@pytest.mark.slow
def test_a_cluster_gives_the_same_numbers(small):
    distributed = pytest.importorskip("dask.distributed")
    here = map_of_odds(small[1], AREA, need=NEED, depth=DEPTH, cell=150.0)
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster, distributed.Client(cluster) as client:
        seen = []
        there = map_of_odds(small[1], AREA, need=NEED, depth=DEPTH, cell=150.0, client=client, progress=lambda done, of: seen.append(done))
    assert len(seen) > 1
    for name in ("p", "low", "high", "effective_records"):
        np.testing.assert_array_equal(getattr(there, name), getattr(here, name))


def test_the_command_writes_what_it_says(small, tmp_path, monkeypatch, capsys):
    from borewright.demo.district import Recipe, make_district

    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    make_district(Recipe(seed=31, bores=200)).write(tmp_path / "csv")
    assert main(["register", "load", str(tmp_path / "csv" / "bores.csv"), "--name", "one"]) == 0
    base = ["register", "map", "one", "--need", "0.25 L/s", "--depth", "60 m", "--cell", "2 km"]
    for name, first in (("a.geojson", b"{"), ("a.tif", b"II*\0"), ("a.svg", b"<svg"), ("a.png", b"\x89PNG")):
        capsys.readouterr()
        assert main([*base, "--out", str(tmp_path / name), "--json"]) == 0
        said = json.loads(capsys.readouterr().out)
        assert (tmp_path / name).read_bytes().startswith(first) and said["cells_told"] > 20
    area = tmp_path / "paddock.geojson"
    area.write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [[[-18.3, -38.5], [-18.2, -38.5], [-18.2, -38.4], [-18.3, -38.5]]]}}))
    assert main([*base, "--area", str(area), "--out", str(tmp_path / "b.geojson")]) == 0
    for more, field in ((["--out", "x.doc"], "out"), (["--bounds", "1,2,3", "--out", "x.tif"], "bounds"), (["--area", "none.geojson", "--out", "x.tif"], "area"),
                        (["--bounds", "1,2,3,4", "--area", str(area), "--out", "x.tif"], "area")):
        capsys.readouterr()
        assert main([*base, *more, "--json"]) == 2
        assert json.loads(capsys.readouterr().out)["error"]["field"] == field


@pytest.mark.parametrize("wave", [60.0, 25.0, 9.0])
def test_a_smooth_layer_is_read_off_between_and_a_rough_one_refused(wave):
    asked = []

    def evaluate(i, j):
        asked.append(len(i))
        return np.array([0.5 + 0.4 * np.sin(i / wave) * np.cos(j / wave)])

    found = fill(evaluate, 64, 50, step=16, tolerance=0.002, checked=1)
    i, j = np.meshgrid(np.arange(64), np.arange(50), indexing="ij")
    assert np.abs(found[0] - (0.5 + 0.4 * np.sin(i / wave) * np.cos(j / wave))).max() < 0.004
    assert sum(asked) < 64 * 50 / 2
    noise = np.random.default_rng(1).random((200, 200))
    assert fill(lambda i, j: noise[i, j][None, :], 64, 50, step=16, tolerance=0.002, checked=1) is None


def test_a_geopackage_is_read_by_another_library(small, told, tmp_path):
    path = tmp_path / "odds.gpkg"
    path.write_bytes(map_as_geopackage(told))
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        rows = connection.execute("SELECT p, low, high, effective_records, need_lps, depth_m FROM odds").fetchall()
    np.testing.assert_allclose([r[0] for r in rows], told.p[np.isfinite(told.p)], atol=1e-6)
    assert all(r[4:] == (0.25, 60.0) and r[1] <= r[0] <= r[2] for r in rows)
    pyogrio = pytest.importorskip("pyogrio")
    about, _, shapes, _ = pyogrio.raw.read(path, layer="odds")
    assert about["crs"] == "EPSG:4326" and about["geometry_type"] == "Polygon" and len(shapes) == np.isfinite(told.p).sum()
    assert pyogrio.read_bounds(path)[1].min(axis=1)[:2] == pytest.approx([told.west, told.south], abs=1e-9)
