"""Modified Bessel functions K0 and K1 of complex argument, quick enough for a fit: the library's routine takes two to four times as long."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.special import k0e, k1e

__all__ = ["scaled_k"]

SERIES_TO = 2.0
EULER = 0.57721566490153286061
_HARMONIC = [sum(1.0 / j for j in range(1, k + 1)) for k in range(15)]
# Powers of q = z^2/4, highest first, to rounding at |z| = 2.
_I0 = [1.0 / math.factorial(k) ** 2 for k in range(12, -1, -1)]
_K0 = [_HARMONIC[k] / math.factorial(k) ** 2 for k in range(12, -1, -1)]
_I1 = [1.0 / (math.factorial(k) * math.factorial(k + 1)) for k in range(12, -1, -1)]
_K1 = [(_HARMONIC[k] + _HARMONIC[k + 1]) / (2.0 * math.factorial(k) * math.factorial(k + 1)) for k in range(12, -1, -1)]


@lru_cache(maxsize=2)
def _poles(order: int, count: int = 9) -> tuple[np.ndarray, np.ndarray]:
    """Return poles -x and weights w of sqrt(2 z/pi) e^z K(z) = 1 + sum w/(x + z), a Gauss rule on its cut along the negative axis.

    On the cut the function jumps by sqrt(2 x/pi) e^-x K(x), as K(-x +- i0) says. The rule comes from a fine one by Lanczos steps.
    """
    roots, given = np.polynomial.legendre.leggauss(40)
    edges = np.linspace(-36.0, math.log(24.0), 14)
    logarithm = ((edges[1:] + edges[:-1]) / 2)[:, None] + (edges[1] - edges[0]) / 2 * roots
    x = np.exp(logarithm).ravel()
    kernel = (k0e(x) if order == 0 else k1e(x)) * np.exp(-2.0 * x) * np.sqrt(2.0 * x / math.pi) / math.pi
    weight = (np.tile(given, edges.size - 1) * (edges[1] - edges[0]) / 2) * x * kernel
    total = weight.sum()
    vector, previous = np.sqrt(weight / total), np.zeros_like(x)
    basis, diagonal, beside = [vector], [], []
    for _ in range(count):
        image = x * vector
        diagonal.append(float(vector @ image))
        image = image - diagonal[-1] * vector - (beside[-1] * previous if beside else 0.0)
        for one in basis:
            image -= (one @ image) * one
        beside.append(float(np.linalg.norm(image)))
        previous, vector = vector, image / beside[-1]
        basis.append(vector)
    place, shape = np.linalg.eigh(np.diag(diagonal) + np.diag(beside[:-1], 1) + np.diag(beside[:-1], -1))
    return place, (-1.0 if order == 0 else 1.0) * total * shape[0] ** 2


def scaled_k(order: int, argument: np.ndarray) -> np.ndarray:
    """Return e^z K_order(z).

    Parameters
    ----------
    order : {0, 1}
    argument : ndarray of complex
        z, its real part above zero [-].

    Returns
    -------
    ndarray of complex
        Relative error below 1e-7: the ascending series to |z| = 2 (DLMF 10.31.1, 10.31.2), beyond it a Gauss rule on the cut.
    """
    z = np.asarray(argument)
    value = np.empty(z.shape, complex)
    small = z.real**2 + z.imag**2 <= SERIES_TO**2
    if small.any():
        value[small] = _series(order, z[small])
    if not small.all():
        large = ~small
        value[large] = _cut(order, z[large])
    return value


def _series(order: int, z: np.ndarray) -> np.ndarray:
    q = 0.25 * z * z
    largest = float(np.max(np.abs(q)))
    first = 0
    while first < 9 and _I0[first] * largest ** (12 - first) < 1e-13:
        first += 1
    bessel, rest = (_I0, _K0) if order == 0 else (_I1, _K1)
    one, two = np.full_like(q, bessel[first]), np.full_like(q, rest[first])
    for a, b in zip(bessel[first + 1 :], rest[first + 1 :], strict=True):
        one *= q
        one += a
        two *= q
        two += b
    logarithm = EULER + np.log(0.5 * z)
    if order == 0:
        return np.exp(z) * (two - logarithm * one)
    return np.exp(z) * (1.0 / z + 0.5 * z * (logarithm * one - two))


def _cut(order: int, z: np.ndarray) -> np.ndarray:
    total = np.ones_like(z)
    for x, w in zip(*_poles(order), strict=True):
        total += w / (x + z)
    return total * np.sqrt(0.5 * math.pi / z)
