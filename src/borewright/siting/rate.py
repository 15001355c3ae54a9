"""How often water is struck, from a few holes: counts over metres, with the honest width of small numbers."""

from __future__ import annotations

from dataclasses import dataclass

from borewright.errors import require_non_negative, require_positive

__all__ = ["RateBelief", "rate_from_counts"]


@dataclass(frozen=True, slots=True)
class RateBelief:
    """Gamma belief about strikes per metre: shape [-], rate [m], mean and 95 % interval [1/m], chance of none in the next metres [-]."""

    shape: float
    rate: float
    mean: float
    low: float
    high: float
    none_next: float


def rate_from_counts(strikes: float, metres: float, *, prior_shape: float, prior_metres: float, next_metres: float) -> RateBelief:
    """Return the belief about strikes per metre after some strikes over the metres drilled.

    Parameters
    ----------
    strikes, metres : float
        Found, over the metres drilled [m].
    prior_shape, prior_metres : float
        What was believed before, as so many strikes over so many metres.
    next_metres : float
        For the chance of none in them [m].

    Notes
    -----
    Posterior Gamma(a + y, b + L); P(none in x) = ((b + L) / (b + L + x))^(a + y).

    References
    ----------
    .. [1] Gelman, A. and others, Bayesian Data Analysis, section 2.6 (from memory).
    """
    from scipy.stats import gamma

    require_non_negative(strikes=strikes, metres=metres, next_metres=next_metres)
    require_positive(prior_shape=prior_shape, prior_metres=prior_metres)
    shape, rate = prior_shape + strikes, prior_metres + metres
    low, high = gamma.ppf((0.025, 0.975), shape, scale=1.0 / rate)
    return RateBelief(shape, rate, shape / rate, float(low), float(high), float((rate / (rate + next_metres)) ** shape))
