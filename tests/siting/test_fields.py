"""Each record told from all the others: in closed form, and by leaving it out."""

import numpy as np
import pytest

from borewright.siting.fields import Field, best_width, covariance, distances, fit_field, gaussian_posterior, left_out


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


@pytest.mark.parametrize("family", ["smooth", "rough"])
def test_rough_fields_are_told_from_smooth_ones(family):
    # INVENTED: a field of known roughness with little noise at 400 places.
    rng = np.random.default_rng(8)
    points = rng.uniform(0, 20_000, (400, 2))
    separation = distances(points, points)
    true = Field(0.0, 0.8, 3_000.0 if family == "smooth" else 5_000.0, 0.05, 0.0, family)
    prior = covariance(separation, true) + 1e-6 * np.eye(400)
    value, precision = np.linalg.cholesky(prior) @ rng.standard_normal(400) + 0.15 * rng.standard_normal(400), np.full(400, 1 / 0.15**2)
    found = fit_field(lambda f: gaussian_posterior(value, precision, separation, None, f).evidence, mean=0.0, extent=16_000.0, spacing=500.0, typical_sd=0.5,
                      level_sd=0.15, start=Field(0.0, 0.5, 3_000.0, 0.1, 0.15), evaluations=30, weigh=True)
    assert found.family == family


def test_a_field_is_not_narrower_than_it_may_be():
    # INVENTED: nothing but noise from place to place.
    rng = np.random.default_rng(9)
    points = rng.uniform(0, 20_000, (200, 2))
    separation = distances(points, points)
    value = 0.6 * rng.standard_normal(200)
    found = fit_field(lambda f: gaussian_posterior(value, np.full(200, 100.0), separation, None, f).evidence, mean=0.0, extent=16_000.0, spacing=700.0, typical_sd=0.3,
                      level_sd=0.15, start=Field(0.0, 0.3, 3_000.0, 0.08, 0.15), nugget=0.08, shortest=3.0)
    assert found.length >= 2_100.0
