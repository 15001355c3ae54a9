"""Each record told from all the others: in closed form, and by leaving it out."""

import numpy as np
import pytest

from borewright.siting.fields import Field, best_width, distances, gaussian_posterior, left_out


@pytest.mark.parametrize("family", ["smooth", "rough"])
def test_left_out_is_what_the_others_say(family):
    rng = np.random.default_rng(3)
    at = rng.uniform(0, 5000, (30, 3))
    value, precision = rng.normal(0, 1, 30), rng.uniform(0.5, 5, 30)
    precision[4] = 0.0
    field = Field(0.2, 0.6, 1500.0, 0.1, 0.2, family)
    mean, variance = left_out(value, precision, distances(at, at), field)
    for i in (0, 4, 17):
        rest = np.arange(30) != i
        plain = gaussian_posterior(value[rest], precision[rest], distances(at[rest], at[rest]), distances(at[rest], at[i : i + 1]), field)
        assert mean[i] == pytest.approx(plain.mean[0], abs=1e-9)
        assert variance[i] == pytest.approx(plain.variance[0], rel=1e-9)


def test_the_width_with_the_best_score_is_taken():
    field = Field(0.0, 0.5, 1000.0, 0.1, 0.1)
    assert best_width(lambda f: -abs(f.length - 1250.0), field).length == 1250.0
    flat = Field(0.0, 0.0, np.inf, 0.0, 1.0)
    assert best_width(lambda f: 1 / 0, flat) is flat
