"""The track record: better than the base rate where the ground tells something, no worse where it tells nothing."""

import numpy as np
import pytest

from borewright.errors import BadInput, OutOfDomain, Refused
from borewright.siting import Register, pick_record, proof_as_dict, prove

from .conftest import rows_of
from .test_odds import arrays


def test_odds_beat_base_rate_and_neighbours(small):
    _, register = small
    proof = prove(register, need=0.25e-3)
    assert proof.bores == 300
    assert proof.brier < proof.brier_base and proof.brier < proof.brier_neighbours
    assert proof.log_score < proof.log_score_base
    assert sum(b.count for b in proof.reliability) == proof.bores
    # Told and found agree within what so few bores can show.
    gap = sum(b.count * abs(b.told - b.found) for b in proof.reliability) / proof.bores
    assert gap < 0.12
    plain = proof_as_dict(proof)
    assert {"brier", "brier_base", "brier_neighbours", "log_score", "log_score_base", "reliability"} <= plain.keys()


def test_where_nothing_can_be_told_it_is_no_worse_than_the_base_rate():
    columns = arrays(240, seed=12)
    proof = prove(Register.of("x", **{**columns, "depth": np.full(240, 60.0)}), need=0.25e-3)
    assert proof.brier < 1.05 * proof.brier_base


def test_too_few_or_all_alike_is_refused():
    with pytest.raises(Refused):
        prove(Register.of("x", **arrays(20)), need=0.25e-3)
    with pytest.raises(Refused):
        prove(Register.of("x", **arrays(60)), need=5.0)
    with pytest.raises(OutOfDomain):
        prove(Register.of("x", **arrays(60)), need=0.0)


def test_ways_of_picking_are_scored_by_one_rule():
    ways = ["divining"] * 40 + ["lineament"] * 10
    found = np.array([True] * 20 + [False] * 20 + [True] * 7 + [False] * 3)
    divining, lineament = pick_record(ways, np.full(50, 0.5), found)
    assert (divining.way, divining.holes, divining.found) == ("divining", 40, 20)
    assert divining.beats_odds == pytest.approx(0.5, abs=0.01)
    assert lineament.share_low < 0.7 < lineament.share_high and 0.8 < lineament.beats_odds < 0.95
    with pytest.raises(BadInput):
        pick_record(["x"], np.array([1.5]), np.array([True]))
    with pytest.raises(BadInput):
        pick_record(["x", "y"], np.array([0.5]), np.array([True]))


@pytest.mark.parametrize(("label", "found", "holes"), [("7 of 10", 7, 10), ("0 of 5", 0, 5)])
def test_the_interval_is_jeffreys(label, found, holes):
    """tests/reference/siting/statistics_checks.csv, Jeffreys 95 % interval (computed): the same rule at 80 % lies inside it."""
    row = next(r for r in rows_of("statistics_checks.csv") if r[0].startswith("Jeffreys") and r[1] == label)
    low, high = (float(v) for v in row[2].split(" to "))
    record = pick_record(["a"] * holes, np.full(holes, 0.5), np.arange(holes) < found)[0]
    assert low < record.share_low < record.share_high < high
    from scipy.special import betaincinv

    if found:
        assert betaincinv(found + 0.5, holes - found + 0.5, 0.025) == pytest.approx(low, abs=5e-5)
    assert betaincinv(found + 0.5, holes - found + 0.5, 0.975) == pytest.approx(high, abs=5e-5)
