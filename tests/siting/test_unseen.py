"""Districts that differ from the usual in one way each: the odds beat the neighbours' share, and their bands are honest."""

import pytest

from borewright.siting import load_register, open_register

from .test_odds import scores
from .unseen import VARIANTS, Unseen


@pytest.mark.slow
@pytest.mark.parametrize("variant", VARIANTS)
def test_fifteen_hundred_bores_of_each_kind(tmp_path, variant):
    district = Unseen(variant, seed=701, bores=1500)
    paths = district.write(tmp_path / "csv")
    load_register(paths["bores"], name="unseen", strikes=paths["strikes"], intervals=paths["intervals"], folder=tmp_path)
    error, bias, inside, plain = scores(district, open_register("unseen", tmp_path))
    assert error < 0.85 * plain and abs(bias) < 0.06
    assert 0.65 <= inside <= 0.99
