"""Invented districts with known truth, loaded once."""

import csv
from pathlib import Path

import numpy as np
import pytest

from borewright.demo.district import Recipe, make_district
from borewright.siting import load_register, open_register

REFERENCE = Path(__file__).parents[1] / "reference" / "siting"


def rows_of(name):
    """Return the rows of a reference file, comment lines left out."""
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.reader(line for line in file if not line.startswith("#")))


def load_district(folder, recipe, *, strikes=True, intervals=True):
    """Return an invented district and its register, loaded from its own CSVs."""
    district = make_district(recipe)
    paths = district.write(folder / "csv")
    load_register(paths["bores"], name="invented", strikes=paths["strikes"] if strikes else None, intervals=paths["intervals"] if intervals else None, folder=folder / "registers")
    return district, open_register("invented", folder / "registers")


def questions(district, count=150, seed=77):
    """Return places, depths, needs and true odds."""
    rng = np.random.default_rng(seed)
    lon, lat = district.degrees(*rng.uniform(0, district.recipe.side, (2, count)))
    depth, need = rng.choice([40.0, 60.0, 80.0, 100.0], count), rng.choice([0.25e-3, 1.0e-3], count)
    return lon, lat, depth, need, district.odds(lon, lat, depth, need)


@pytest.fixture(scope="session")
def small(tmp_path_factory):
    """A district of 300 bores with strikes and logs."""
    return load_district(tmp_path_factory.mktemp("small"), Recipe(seed=31, bores=300))
