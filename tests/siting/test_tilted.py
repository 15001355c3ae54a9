"""What one bore says beside the others' belief, held to SciPy's quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm, poisson

from borewright.siting.tilted import one_count, said


@pytest.mark.parametrize(("mean", "variance", "count", "exposure"), [(0.0, 0.3, 0, 1.2), (-0.4, 0.6, 3, 0.8), (0.5, 0.1, 1, 2.5)])
def test_a_seen_count_against_quadrature(mean, variance, count, exposure):
    log_total, after, spread = one_count(np.array([mean]), np.array([variance]), np.array([count]), np.array([exposure]))

    def weight(eta):
        return norm.pdf(eta, mean, variance**0.5) * poisson.pmf(count, exposure * np.exp(eta))

    total, first, second = (quad(lambda eta, n=n: weight(eta) * eta**n, -8, 8, epsabs=1e-13)[0] for n in range(3))
    # Chance of the count, but for what does not depend on the scale: exposure^count / count!
    constant = count * np.log(exposure) - sum(np.log(np.arange(1, count + 1)))
    assert log_total[0] + constant == pytest.approx(np.log(total), abs=2e-4)
    assert after[0] == pytest.approx(first / total, abs=2e-3)
    assert spread[0] == pytest.approx(second / total - (first / total) ** 2, rel=1e-2)


def test_the_observation_takes_the_others_belief_to_what_was_asked():
    others, wide, mean, narrow = np.array([0.2, -1.0]), np.array([0.5, 0.9]), np.array([0.6, -1.1]), np.array([0.3, 0.2])
    value, precision = said(mean, narrow, others, wide)
    together = 1.0 / wide + precision
    assert 1.0 / together == pytest.approx(narrow)
    assert (others / wide + value * precision) / together == pytest.approx(mean)
