"""How sure a least-squares fit is when its readings stray together: the residuals' own likeness in time, and what it does to the spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["Spread", "spread_of_fit", "strays_together", "uneven_ratio"]

NUGGETS = (0.02, 0.3, 0.65)
LENGTHS = 8


@dataclass(frozen=True, slots=True)
class Spread:
    """What likeness of neighbouring residuals does to a fit.

    `ratio` of the true variance of each parameter to the one that independent readings would give, `carry` how many readings carry the
    news of one, `freedom` the degrees of freedom left to the variance.
    """

    ratio: np.ndarray
    carry: float
    freedom: float


def strays_together(residuals: Sequence[np.ndarray], parameters: int) -> bool:
    """True where residuals resemble their neighbours by more than chance has it.

    Sum of autocorrelations at lags 1 to 3, each with a chance spread of n^-1/2, and a fit's pull of about -p/n on each, at 1 in 50.
    """
    seen, chance = 0.0, 0.0
    for off in residuals:
        if off.size < 10:
            continue
        level = off - off.mean()
        power = float(level @ level)
        if power <= 0:
            continue
        likeness = sum(float(level[k:] @ level[:-k]) for k in (1, 2, 3)) / power
        seen += off.size * (likeness + 3.0 * parameters / (len(residuals) * off.size))
        chance += 3.0 * off.size
    return chance > 0 and seen > 2.05 * chance**0.5


def uneven_ratio(residuals: np.ndarray, columns: np.ndarray, *, thinned_by: float, variance: float) -> np.ndarray:
    """Return by how much readings that scatter more in one part than in another widen each parameter's variance, 1 or more, shape (p,).

    Each residual's own square in the middle of (J'J)^-1 J'..J (J'J)^-1, over (1 - leverage)^2, as MacKinnon & White (1985, J. Econometrics
    29:305-325) have it. `residuals` (n,) and `columns` (n, p) as in `spread_of_fit`.
    """
    power = np.sqrt(np.sum(columns**2, axis=0))
    use = power > 1e-9 * max(float(power.max(initial=0.0)), 1e-300)
    ratio = np.ones(power.size)
    if use.any() and variance > 0:
        basis, triangle = np.linalg.qr(columns[:, use] / power[use])
        inverse = np.linalg.pinv(triangle, rcond=1e-9)
        off = residuals / np.maximum(1.0 - np.sum(basis**2, axis=1) / thinned_by, 0.05)
        middle = (basis * off[:, None]).T @ (basis * off[:, None])
        own = np.einsum("ij,jk,ik->i", inverse, middle, inverse)
        plain = np.maximum(np.einsum("ij,ij->i", inverse, inverse), 1e-300) * variance
        ratio[use] = np.maximum(own / plain, 1.0)
    return ratio


def spread_of_fit(
    residuals: Sequence[np.ndarray], columns: Sequence[np.ndarray], times: Sequence[np.ndarray], *, thinned_by: float, variance: float,
) -> Spread:
    """Return what the residuals' likeness does to the spread of the parameters.

    Parameters
    ----------
    residuals, columns, times : sequences of ndarray, shapes (n,), (n, p), (n,)
        For each bore, some 150 readings in all: residual [m], its derivative by each parameter, time [s].
    thinned_by : float
        How many readings stand behind each of these.
    variance : float
        Of a residual, as independent readings have it [m2].

    Notes
    -----
    Residual covariance exp(-lag/length) plus an uncorrelated part, lag in time or in number of readings; restricted likelihood over a
    grid of lengths and shares (Patterson & Thompson 1971, Biometrika 58:545-554), every grid point by its likelihood. The fit stays
    least squares; its variance is (J'J)^-1 J'CJ (J'J)^-1. Degrees of freedom as Satterthwaite (1946, Biometrics Bulletin 2:110-114) has them.
    """
    off, jacobian = np.concatenate(residuals), np.concatenate(columns)
    size = off.size
    power = np.sqrt(np.sum(jacobian**2, axis=0))
    use = power > 1e-9 * max(float(power.max(initial=0.0)), 1e-300)
    ratio = np.ones(power.size)
    if not use.any():
        return Spread(ratio, 1.0, float(max(size - power.size, 1)))
    basis, triangle = np.linalg.qr(jacobian[:, use] / power[use])
    inverse = np.linalg.pinv(triangle, rcond=1e-9)
    spare = size - basis.shape[1]
    kernels, shares = [], []
    for lag in _lags(times):
        lengths = np.geomspace(_shortest(lag), 1.0, LENGTHS)
        for length in lengths:
            kernel = np.exp(-lag / length)
            for nugget in NUGGETS:
                kernels.append(kernel)
                shares.append(nugget)
    kernel, share = np.array(kernels), np.array(shares)[:, None, None]
    covariance = (1.0 - share) * kernel + share * np.eye(size)
    root = np.linalg.cholesky(covariance)
    whitened = np.linalg.solve(root, np.broadcast_to(np.column_stack([basis, off]), (root.shape[0], size, basis.shape[1] + 1)))
    inner, right = whitened[:, :, :-1], whitened[:, :, -1]
    gram = np.swapaxes(inner, 1, 2) @ inner
    pull = np.swapaxes(inner, 1, 2) @ right[:, :, None]
    rest = np.sum(right**2, axis=1) - np.sum(pull * np.linalg.solve(gram, pull), axis=(1, 2))
    scale = np.maximum(rest, 1e-300) / spare
    likelihood = -0.5 * (spare * np.log(scale) + 2.0 * np.sum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1) + np.linalg.slogdet(gram)[1])
    weight = np.exp(likelihood - likelihood.max())
    weight /= weight.sum()
    # Readings left out thin the uncorrelated part only.
    bearing = (1.0 - share) * kernel + share / thinned_by * np.eye(size)
    spread = basis.T @ bearing @ basis
    own = np.einsum("ij,gjk,ik->gi", inverse, spread, inverse)
    plain = np.maximum(np.einsum("ij,ij->i", inverse, inverse), 1e-300) * variance / thinned_by
    ratio[use] = np.maximum((weight * scale) @ own / plain, 1.0)
    maker = covariance - basis @ (basis.T @ covariance)
    freedom = np.trace(maker, axis1=1, axis2=2) ** 2 / np.maximum(np.einsum("gij,gji->g", maker, maker), 1e-300)
    carry = float(np.exp(np.mean(np.log(ratio[use]))))
    ratio[~use] = carry
    return Spread(ratio, carry, float(max(1.0 / (weight @ (1.0 / freedom)), 1.5)))


def _lags(times: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Return how far readings lie apart, in time and in number, as shares of the longest; readings of different bores never resemble each other."""
    bore = np.repeat(np.arange(len(times)), [t.size for t in times])
    apart = np.where(bore[:, None] == bore[None, :], 0.0, np.inf)
    answer = []
    for axis in (np.concatenate(times), np.concatenate([np.arange(t.size, dtype=float) for t in times])):
        lag = np.abs(axis[:, None] - axis[None, :])
        answer.append(lag / lag.max() + apart)
    return answer


def _shortest(lag: np.ndarray) -> float:
    beside = np.diagonal(lag, 1)
    beside = beside[np.isfinite(beside) & (beside > 0)]
    return float(min(max(0.7 * np.median(beside), 2e-3), 0.3)) if beside.size else 0.1
