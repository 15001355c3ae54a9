"""A bore open to part of the aquifer only: what that adds to the drawdown, early, late and settled (Hantush)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erf, exp1, k0

from borewright.errors import require, require_finite, require_non_negative, require_positive
from borewright.hydraulics.leaky import leaky_quick

__all__ = ["PartOpen", "hantush_m", "partial_drawdown", "quick_excess", "settled_partial_excess"]

MOST_TERMS = 4_000_000
FIT_TERMS = 4_000


@dataclass(frozen=True, slots=True)
class PartOpen:
    """How a bore is open to part of a confined aquifer.

    `thickness` of the aquifer [m], `screen` (top, bottom) of the pumped bore's opening below the aquifer's top [m], `anisotropy` K_z/K_r [-].
    """

    thickness: float
    screen: tuple[float, float]
    anisotropy: float = 1.0

    def __post_init__(self) -> None:
        require_positive(thickness=self.thickness, anisotropy=self.anisotropy)
        _interval(self.screen, self.thickness, "screen")


def hantush_m(argument: ArrayLike, ratio: ArrayLike) -> np.ndarray | float:
    """Return M(u, beta), the integral of exp(-y) erf(beta sqrt y)/y from u without end.

    Parameters
    ----------
    argument : array_like
        u, zero or more; at zero 2 asinh(beta) [-].
    ratio : array_like
        beta, zero or more [-].

    Returns
    -------
    ndarray or float
        Relative error below 1e-10: Gauss-Legendre on panels of ln y.

    References
    ----------
    Hantush (1961) J. Hydraul. Div. ASCE 87(HY4):83-98.
    """
    require_non_negative(argument=argument, ratio=ratio)
    u, beta = np.broadcast_arrays(np.asarray(argument, dtype=float), np.asarray(ratio, dtype=float))
    flat_u, flat_b = u.ravel(), beta.ravel()
    value = np.array([_m(float(a), float(b)) for a, b in zip(flat_u, flat_b, strict=True)]).reshape(u.shape)
    return float(value) if value.ndim == 0 else value


_ROOTS, _WEIGHTS = np.polynomial.legendre.leggauss(20)


def _m(u: float, beta: float) -> float:
    if beta == 0.0:
        return 0.0
    if u == 0.0:
        return 2.0 * math.asinh(beta)
    low, high = math.log(u), math.log(u + 45.0)
    small = math.log(1e-18 / max(beta, 1.0) ** 2)
    head = 0.0
    if low < small:
        # Below, erf(beta sqrt y) is its first term to rounding.
        head = 4.0 * beta / math.sqrt(math.pi) * (math.exp(small / 2) - math.exp(low / 2))
        low = small
    panels = max(4, int(math.ceil((high - low) / 0.8)))
    edges = np.linspace(low, high, panels + 1)
    middle, half = (edges[1:] + edges[:-1]) / 2, (edges[1:] - edges[:-1]) / 2
    y = np.exp(middle[:, None] + half[:, None] * _ROOTS)
    return head + float(np.sum(half[:, None] * _WEIGHTS * np.exp(-y) * erf(beta * np.sqrt(y))))


def partial_drawdown(
    time: ArrayLike, *, radius: float, rate: float, transmissivity: float, storativity: float, thickness: float, screen: tuple[float, float],
    observed: tuple[float, float] | None = None, anisotropy: float = 1.0,
) -> np.ndarray | float:
    """Return the drawdown where the pumped bore is open to part of a confined aquifer.

    Parameters
    ----------
    time : array_like
        Since the pump started [s].
    radius, rate, transmissivity, storativity : float
        [m], [m3/s], [m2/s] of the whole thickness, [-].
    thickness : float
        Of the aquifer [m].
    screen, observed : (top, bottom)
        Depths below the top of the aquifer over which the pumped bore is open, and over which the level is read (the whole if not said) [m].
    anisotropy : float
        K_z/K_r [-].

    Returns
    -------
    ndarray or float
        [m]. W(u) plus the series in W(u, n pi r/D sqrt(K_z/K_r)); within the pumped bore itself it gives even inflow along the screen. Error below
        1e-10 of the larger of Q/(4 pi T) and what the series adds, for u to 60 (nothing is added beyond) and pi r/D sqrt(K_z/K_r) from 1e-5.

    References
    ----------
    Hantush (1961), (1964) Advances in Hydroscience 1:281-432; Kruseman & de Ridder (1990) section 10.2 (from memory).
    """
    require_finite(time=time, rate=rate)
    require_positive(radius=radius, transmissivity=transmissivity, storativity=storativity, thickness=thickness, anisotropy=anisotropy)
    top, bottom = _interval(screen, thickness, "screen")
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    u = radius**2 * storativity / (4.0 * transmissivity * since[running])
    whole = exp1(u)
    if observed is not None:
        part = PartOpen(thickness, (top, bottom), anisotropy)
        seen = _interval(observed, thickness, "observed")
        whole = whole + quick_excess(u[None, :], radius=radius, part=part, observed=seen, most=MOST_TERMS, block=4096)[0]
    value[running] = rate / (4.0 * math.pi * transmissivity) * whole
    return float(value) if value.ndim == 0 else value


def settled_partial_excess(*, radius: float, rate: float, transmissivity: float, thickness: float, screen: tuple[float, float], anisotropy: float = 1.0) -> float:
    """Return the drawdown that a part-open bore has on top of a fully open one once settled, averaged over its screen [m].

    ds = Q/(2 pi T) 2/(pi2 p2) sum (1/n2)(sin n pi z1/D - sin n pi z2/D)2 K0(n pi r/D). Source: Hantush series as in Kruseman & de Ridder (1990).
    """
    require_positive(radius=radius, rate=rate, transmissivity=transmissivity, thickness=thickness, anisotropy=anisotropy)
    top, bottom = _interval(screen, thickness, "screen")
    spread = math.pi * radius / thickness * math.sqrt(anisotropy)
    n = np.arange(1, min(MOST_TERMS, int(40.0 / spread) + 20), dtype=float)
    shape = (np.sin(n * math.pi * bottom / thickness) - np.sin(n * math.pi * top / thickness)) ** 2 / n**2
    share = (bottom - top) / thickness
    return rate / (2.0 * math.pi * transmissivity) * 2.0 / (math.pi**2 * share**2) * float(np.sum(shape * k0(n * spread)))


def _interval(given: tuple[float, float], thickness: float, field: str) -> tuple[float, float]:
    top, bottom = float(given[0]), float(given[1])
    require_non_negative(**{field: top})
    require(top < bottom <= thickness * (1 + 1e-9), field, [top, bottom], "is not an interval of the aquifer", f"top above bottom, within 0 and {thickness:g} m")
    return top, bottom


def quick_excess(
    argument: np.ndarray, *, radius: float, part: PartOpen, observed: tuple[float, float], leakage: np.ndarray | float = 0.0, most: int = FIT_TERMS, block: int = 64,
) -> np.ndarray:
    """Return what part-opening adds to a well function, of u of shape (m, n): the fit's form of the series in `partial_drawdown`.

    Terms whose W(u, b) has settled to 2 K0(b), b2/(4 u) above 30, are summed once for all. `leakage` r/B goes with each term as sqrt(b2 + (r/B)2)
    (Hantush 1964), shape (m, 1).
    """
    top, bottom = part.screen
    seen_top, seen_bottom = observed
    spread = math.pi * radius / part.thickness * math.sqrt(part.anisotropy)
    n = np.arange(1, min(most, int(40.0 / spread) + 20) + 1, dtype=float)
    step = math.pi / part.thickness
    shape = (np.sin(n * step * bottom) - np.sin(n * step * top)) * (np.sin(n * step * seen_bottom) - np.sin(n * step * seen_top)) / n**2
    shape *= 2.0 * part.thickness**2 / (math.pi**2 * (bottom - top) * (seen_bottom - seen_top))
    leak = np.broadcast_to(np.asarray(leakage, dtype=float), argument.shape)
    b = n * spread
    total = np.zeros(argument.shape)
    for first in range(0, n.size, block):
        at = slice(first, first + block)
        moving = (argument > b[first] ** 2 / 120.0) & (argument < 60.0)
        settled = ~moving & (argument < 60.0)
        felt = leak > 1e-3 * b[first]
        total[settled & ~felt] += float(2.0 * k0(b[at]) @ shape[at])
        for where, tell in ((moving & ~felt, False), (moving & felt, True)):
            if where.any():
                ratio = np.sqrt(b[at] ** 2 + leak[where][:, None] ** 2) if tell else b[None, at]
                total[where] += leaky_quick(argument[where][:, None], ratio) @ shape[at]
        slow = settled & felt
        if slow.any():
            total[slow] += 2.0 * k0(np.sqrt(b[at] ** 2 + leak[slow][:, None] ** 2)) @ shape[at]
    return total
