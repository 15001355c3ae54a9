"""Files whose depths or units lie, uploaded at the desk in each format: refused beside the field, and nothing kept."""

from dataclasses import replace

import made_jobs
import pytest

from borewright.exchange import bores_of, write_csv_set, write_geojson, write_geopackage, write_gwml2, write_levels


def theirs(table, row, **values):
    bore = bores_of(made_jobs.built().job())[0]
    rows = list(bore.table(table))
    rows[row] = {**rows[row], **values}
    return replace(bore, id="their-7", rows={**bore.rows, table: tuple(rows)})


LIES = [("intervals", 2, {"from_depth": 1.5}), ("casing", 2, {"to_depth": 90.0}), ("levels", 0, {"depth_to_water": 71.5}), ("strikes", 0, {"depth": 88.0})]


@pytest.mark.parametrize("format", ["csv", "geojson", "gwml2", "gpkg"])
@pytest.mark.parametrize(("table", "row", "values"), LIES)
def test_a_lie_is_refused_beside_its_field(client, book, tmp_path, format, table, row, values):
    bore = theirs(table, row, **values)
    if format == "gpkg":
        write_geopackage([bore], tmp_path / "b.gpkg")
        data = (tmp_path / "b.gpkg").read_bytes()
    else:
        data = {"csv": lambda: write_csv_set([bore]), "geojson": lambda: write_geojson([bore]).encode(), "gwml2": lambda: write_gwml2(bore)}[format]()
    answer = client.post("/import", files={"file": ("theirs.dat", data)})
    assert answer.status_code == 422 and f"{table} row" in answer.text and f"{next(iter(values.values())):g}" in answer.text
    assert book.jobs() == [] and not list((book.folder / "incoming").glob("*"))


def test_levels_come_in_at_the_desk_and_an_unknown_unit_does_not(client, book):
    data = write_levels(theirs("levels", 0))
    wrong = client.post("/import", files={"file": ("levels.xml", data.replace(b'code="m"', b'code="furlong"'))})
    assert wrong.status_code == 422 and "furlong" in wrong.text and book.jobs() == []
    assert client.post("/import", files={"file": ("levels.xml", data)}).status_code == 200
