"""The track record against boosted trees, its diagram, and the published trials of divining."""

import numpy as np
import pytest

from borewright.cli.main import main
from borewright.drawing.charts import reliability_chart
from borewright.errors import BadInput
from borewright.siting import divining_trials, proof_as_dict, prove


def test_boosted_trees_are_scored_on_the_same_bores(small):
    proof = prove(small[1], need=0.25e-3, boosting=True)
    assert proof.brier < proof.brier_boosting and proof.log_score < proof.log_score_boosting
    assert proof.brier_boosting < proof.brier_base  # place and depth do tell something
    assert {"brier_boosting", "log_score_boosting"} <= proof_as_dict(proof).keys()
    plain = prove(small[1], need=0.25e-3)
    assert plain.brier == proof.brier and plain.brier_boosting is None and "brier_boosting" not in proof_as_dict(plain)


def test_the_odds_alone_are_scored_as_beside_the_blend(small):
    whole, alone = prove(small[1], need=0.25e-3), prove(small[1], need=0.25e-3, blended=False)
    assert alone.brier == alone.brier_alone == whole.brier_alone and alone.log_score == whole.log_score_alone
    assert (alone.brier_base, alone.brier_neighbours) == (whole.brier_base, whole.brier_neighbours)
    assert alone.weights["odds"] == 1.0 and sum(alone.weights.values()) == 1.0


def test_the_command_prints_the_row(small, tmp_path, monkeypatch, capsys):
    from borewright.demo.district import Recipe, make_district

    monkeypatch.setenv("BOREWRIGHT_HOME", str(tmp_path))
    paths = make_district(Recipe(seed=31, bores=120)).write(tmp_path / "csv")
    assert main(["register", "load", str(paths["bores"]), "--name", "one"]) == 0
    assert main(["register", "prove", "one", "--need", "0.25 L/s", "--against-boosting"]) == 0
    assert "gradient boosting" in capsys.readouterr().out


def test_the_diagram_holds_its_numbers():
    import re

    svg = reliability_chart([(0.1, 0.2, 0.1, 0.3, 40), (0.9, 0.8, 0.7, 0.95, 77)], width=460.0, height=320.0)
    left, top, right, bottom = map(float, re.search(r'data-frame="([^"]+)"', svg)[1].split(","))
    dots = [tuple(map(float, d)) for d in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="2.1"', svg)][:2]
    back = [((x - left) / (right - left), (bottom - y) / (bottom - top)) for x, y in dots]
    np.testing.assert_allclose(back, [(0.1, 0.2), (0.9, 0.8)], atol=2e-3)
    assert ">40<" in svg and ">77<" in svg and "as told" in svg and "line of truth lies within the whisker of 2" in svg
    with pytest.raises(BadInput):
        reliability_chart([(0.1, 1.2, 0.1, 0.3, 40)], width=460.0, height=320.0)


def test_every_trial_says_how_far_it_was_checked():
    trials, about = divining_trials()
    assert len(trials) == 17 and "were not seen" in about
    assert all(t.trial and t.status.split()[0].rstrip(";") in ("read", "computed", "from") for t in trials)
    field = next(t for t in trials if t.measure == "z" and "ample" in t.design)
    # The one computed figure that can be worked again here: two proportions, pooled.
    a, n, b, m = 1290, 1832, 1559, 1858
    pooled = (a + b) / (n + m)
    z = (a / n - b / m) / np.sqrt(pooled * (1 - pooled) * (1 / n + 1 / m))
    assert float(field.result) == pytest.approx(z, abs=0.01)
