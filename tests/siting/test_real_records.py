"""Real records (tests/reference/siting/REAL_RECORDS.md): what is told of them is no worse than the best plain guess, and says so where it is no better."""

import csv

import pytest

from borewright.siting import load_register, odds_at, open_register, prove, standing_of
from borewright.work.trackrecord import first_record

from .conftest import REFERENCE


@pytest.fixture(scope="module")
def registers(tmp_path_factory):
    """The folder of both registers, each with the report of its loading."""
    folder = tmp_path_factory.mktemp("real")
    reports = {}
    for name in ("malawi", "noto"):
        path = folder / f"{name}.csv"
        path.write_bytes((REFERENCE / f"{name}_bores.csv").read_bytes())
        reports[name] = load_register(path, name=name, folder=folder / "registers")
    return folder / "registers", reports


def test_every_row_is_taken_or_refused_with_its_reason(registers):
    _, reports = registers
    with (REFERENCE / "malawi_bores.csv").open(encoding="utf-8") as file:
        without_depth = {row["bore_id"] for row in csv.DictReader(file) if not float(row["depth_m"] or 0) > 0}
    malawi, noto = reports["malawi"], reports["noto"]
    assert {r.bore_id for r in malawi.refused} == without_depth and {r.field for r in malawi.refused} == {"depth"}
    assert (malawi.rows, malawi.loaded) == (337, 337 - len(without_depth)) and (noto.rows, noto.loaded, noto.refused) == (109, 109, ())
    # The two depths that the source keeps though they cannot be, 1.0 and 1.3 m, are pointed at.
    assert {"MW-D084", "MW-D046"} <= {a.where for a in malawi.advisories if a.code == "outlier"}


@pytest.mark.parametrize(("name", "need"), [("malawi", 0.25e-3), ("malawi", 1.0e-3), ("noto", 1.0e-3), ("noto", 5.0e-3)])
def test_no_plain_guess_is_better(registers, name, need):
    proof = prove(open_register(name, registers[0]), need=need, boosting=True)
    assert proof.brier < 0.002 + min(proof.brier_base, proof.brier_neighbours, proof.brier_boosting)
    assert proof.log_score < 0.005 + min(proof.log_score_base, proof.log_score_neighbours, proof.log_score_boosting)


def test_where_neighbours_tell_almost_nothing_the_answer_falls_back_to_the_base_rate_and_says_so(registers):
    folder, _ = registers
    assert not first_record("malawi", folder).better
    register = open_register("malawi", folder)
    standing = standing_of(register, 0.25e-3)
    odds = odds_at(register, -15.7, 35.2, need=0.25e-3, depths=[45.0])
    (told,) = [a for a in odds.advisories if a.code == "record-no-better"]
    assert told.severity == "doubt" and odds.sentence.startswith(f"Of the {standing.bores} bores of this register whose yield is known, about {round(10 * standing.share)} in 10")
