"""Hours: the trade's four hours for 24 m, conjugate updates against textbook examples, recovery of a known rate."""

import numpy as np
import pytest

from borewright.errors import BadInput
from borewright.pricing.timing import (
    JOB_SPREAD,
    METRE_SPREAD,
    PenetrationRecord,
    learn_penetration,
    normal_update,
    prior_time_model,
)


def test_a_24_m_hole_in_soft_to_medium_rock_takes_about_four_hours():
    # T-01: common practice, no source.
    hours = prior_time_model().making_hole(np.array([0.0, 12.0, 12.0, 0.0]), 24.0) / 3600
    assert 3.0 < hours < 5.0


def test_normal_update_against_the_midge_example(checks):
    wings = np.array([1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08])
    mean, sd = normal_update(1.9, 0.95, wings, np.full(9, 0.017))
    assert round(mean, 3) == float(checks["N-01"]["expected"])
    assert round(sd**2, 3) == float(checks["N-02"]["expected"])


def test_updating_one_by_one_or_at_once_is_the_same():
    values, variances = np.array([0.3, -0.2, 1.0]), np.array([0.1, 0.5, 0.2])
    mean, sd = 0.0, 1.0
    for v, s in zip(values, variances, strict=True):
        mean, sd = normal_update(mean, sd, np.array([v]), np.array([s]))
    assert (mean, sd) == pytest.approx(normal_update(0.0, 1.0, values, variances), rel=1e-12)


def test_learning_recovers_a_known_rate_and_says_what_stands_behind_it():
    generator = np.random.default_rng(5)
    true, inside = np.log(6.5 / 3600), 0
    for _ in range(200):
        metres = generator.uniform(10, 60, 12)
        logs = true + generator.normal(0, np.sqrt(JOB_SPREAD**2 + METRE_SPREAD**2 / metres))
        learned = learn_penetration(prior_time_model(), [PenetrationRecord("hard", m, m / np.exp(v)) for m, v in zip(metres, logs, strict=True)])
        belief = learned.penetration[3]
        inside += abs(belief.mean - true) < 1.645 * belief.sd
    assert 0.84 < inside / 200 < 0.97  # nine in ten, the prior pulling a little
    assert belief.jobs == 12 and belief.metres == pytest.approx(metres.sum())
    assert belief.sd < belief.prior_sd and learned.penetration[0].sd == learned.penetration[0].prior_sd


def test_learning_starts_from_the_prior_each_time():
    record = PenetrationRecord("soft", 20.0, 7200.0)
    once = learn_penetration(prior_time_model(), [record])
    assert learn_penetration(once, [record]) == once


def test_mean_time_is_the_mean_of_the_sampled_times():
    model = prior_time_model()
    paces = model.sample_paces(400_000, np.random.default_rng(1))
    assert paces.mean(axis=0) == pytest.approx(model.paces(), rel=0.01)


@pytest.mark.parametrize("record", [("hard", 0.0, 60.0), ("hard", 10.0, 0.0), ("hard", -1.0, 60.0), ("hard", float("nan"), 60.0),
                                    ("jelly", 1.0, 60.0), ("hard", 100.0, 60.0)])
def test_records_that_no_rig_made_are_refused(record):
    with pytest.raises(BadInput):
        learn_penetration(prior_time_model(), [PenetrationRecord(*record)])


def test_times_that_cannot_be_are_refused():
    with pytest.raises(BadInput) as caught:
        prior_time_model(rod_length=0.0)
    assert caught.value.field == "rod_length"
    with pytest.raises(BadInput):
        prior_time_model(grout_wait=-1.0)
