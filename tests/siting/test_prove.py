"""The track record: better than the base rate where the ground tells something, no worse where it tells nothing."""

import numpy as np
import pytest

from borewright.errors import BadInput, OutOfDomain, Refused
from borewright.siting import Register, pick_record, proof_as_dict, prove
from borewright.siting.blend import fit_blend, guesses
from borewright.siting.prove import outcomes

from .conftest import rows_of
from .government import Government, make_government
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


@pytest.mark.parametrize(("kind", "seed"), [("nothing told", 11), ("stopped when enough", 12)])
def test_on_a_register_like_a_government_s_no_plain_guess_is_better(kind, seed):
    """Yields half blank and heaped, other bores among them, drawn by no process that the model assumes."""
    proof = prove(make_government(Government(kind, seed)), need=0.25e-3, boosting=True)
    assert proof.brier < 1.01 * min(proof.brier_base, proof.brier_neighbours, proof.brier_boosting)
    assert proof.log_score < 0.005 + min(proof.log_score_base, proof.log_score_neighbours, proof.log_score_boosting)
    assert proof.log_score < proof.log_score_alone  # what the blend is for
    assert all(w >= 0 for w in proof.weights.values())


def test_a_blend_leans_on_what_helped_and_else_on_the_base_rate():
    rng = np.random.default_rng(5)
    truth = rng.uniform(0.05, 0.95, 800)
    found = (rng.random(800) < truth).astype(float)
    told = np.column_stack([truth, rng.uniform(0.05, 0.95, 800)])
    blend = fit_blend(told, np.full(800, 0.5), found)
    assert 0.6 < blend.weights[0] < 1.1 and blend.weights[1] < 0.1
    idle = fit_blend(told[:, 1:], np.full(800, 0.3), (rng.random(800) < 0.3).astype(float))
    assert idle(told[:, 1:], 0.3) == pytest.approx(0.3, abs=0.05)


def test_no_bore_has_a_part_in_what_it_is_told(small):
    """Turn the outcomes of one bore round: what the plain guesses say of it stays as it was."""
    _, register = small
    outcome = outcomes(register, 0.25e-3)
    where, known = np.arange(0, 300, 7), np.setdiff1d(np.arange(300), np.arange(0, 300, 7))
    turned = outcome.copy()
    turned[where] = 1 - turned[where]
    nothing = np.full(len(where), 0.5)
    np.testing.assert_array_equal(guesses(nothing, register, known, where, outcome), guesses(nothing, register, known, where, turned))
