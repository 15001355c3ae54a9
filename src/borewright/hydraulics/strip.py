"""A bore between two parallel edges, each a barrier or a river: an endless row of image bores, summed so that few terms do."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import erf, erfc, erfcx, exp1

from borewright.errors import BadInput, require, require_finite, require_positive

__all__ = ["EDGES", "strip_drawdown", "strip_response"]

EDGES = ("barrier", "river")
PAIRS = 5  # of images on either side; the first left out is below 1e-17 of the bore's own up to SWITCH
MODES = 5  # the first left out is below 1e-18 of the first from SWITCH on
FAR_MODES = 26
SWITCH = 1.0 / math.pi  # of T t / (S width2): later the modes across the strip do it


def strip_drawdown(
    time: ArrayLike, *, near: float, far: float, across: float = 0.0, along: float, rate: float, transmissivity: float, storativity: float,
    edges: tuple[str, str] = ("barrier", "barrier"),
) -> np.ndarray | float:
    """Return the drawdown in a confined strip between two straight parallel edges.

    Parameters
    ----------
    time : array_like
        Since the pump started [s]; 0 and less give no drawdown.
    near, far : float
        From the pumped bore to the first edge and to the second, on the other side of it [m].
    across, along : float
        Where the level is read: from the pumped bore towards the first edge (away from it negative), and along the strip [m]. Not both zero.
    rate, transmissivity, storativity : float
        [m3/s], [m2/s], [-].
    edges : (str, str)
        What the first and the second edge are: "barrier" gives no water, "river" keeps its level.

    Returns
    -------
    ndarray or float
        [m]. Off by less than 1e-12 of the sum of what every bore and image adds, so next to a river, where these cancel, by more of the drawdown itself.

    Raises
    ------
    OutOfDomain
        A length, T or S that is not above zero; a place outside the strip, or on the bore's axis.

    Notes
    -----
    Every edge mirrors the bore and the other edge's images: discharging behind a barrier, recharging behind a river (Ferris et al. 1962; Stallman 1952).
    The images stand in a row without end. While T t < S width2 / pi five on either side are enough, the rest being below exp(-25 pi). Later the row is
    summed by its modes across the strip (Poisson's formula), each pumped along the strip with a decay of its own; where these have settled their sum is
    a logarithm, and five that have not are counted.

    References
    ----------
    Ferris, Knowles, Brown & Stallman (1962) USGS WSP 1536-E, image wells for two parallel boundaries (from memory).
    """
    require_finite(time=time, rate=rate, across=across, along=along)
    require_positive(near=near, far=far, transmissivity=transmissivity, storativity=storativity)
    for edge in edges:
        if edge not in EDGES or len(edges) != 2:
            raise BadInput("edges", list(edges), "are not two edges", "each " + " or ".join(EDGES))
    require(-far <= across <= near, "across", across, "is outside the strip", f"from {-far:g} to {near:g} m")
    require(math.hypot(across, along) > 0, "along", along, "is on the axis of the pumped bore", "a distance above zero, at the least the bore's radius")
    since = np.asarray(time, dtype=float)
    running, value = since > 0, np.zeros(since.shape)
    column = {name: np.array([[float(one)]]) for name, one in (("near", near), ("far", far), ("t", transmissivity), ("s", storativity))}
    value[running] = rate * strip_response(
        since[running], near=column["near"], far=column["far"], across=across, along=abs(along), transmissivity=column["t"], storativity=column["s"], edges=edges)[0]
    return float(value) if value.ndim == 0 else value


def strip_response(
    time: np.ndarray, *, near: np.ndarray, far: np.ndarray, across: float, along: float, transmissivity: np.ndarray, storativity: np.ndarray, edges: tuple[str, str],
) -> np.ndarray:
    """Return the drawdown for each m3/s, shape (m, n), of times (n,) and edges, T and S of shape (m, 1); arguments as `strip_drawdown` has them."""
    width = near + far
    spread = transmissivity * time / storativity  # T t / S [m2]
    scaled = spread / width**2
    shape = scaled.shape
    near, far, width = (np.broadcast_to(one, shape) for one in (near, far, width))
    value = np.zeros(shape)
    soon, late = scaled <= SWITCH, scaled > SWITCH
    value[soon] = _by_images(spread[soon], near[soon], width[soon], across, along, edges)
    value[late] = _by_modes(spread[late], near[late], width[late], across, along, edges)
    return value / (4.0 * np.pi * transmissivity)


def _sign(edge: str) -> float:
    return 1.0 if edge == "barrier" else -1.0


def _by_images(spread: np.ndarray, near: np.ndarray, width: np.ndarray, across: float, along: float, edges: tuple[str, str]) -> np.ndarray:
    """Return the sum of well functions over the bore and its images (4 pi T times the drawdown for each m3/s)."""
    first, second = (_sign(edge) for edge in edges)
    total = np.zeros(spread.shape)
    for turn in range(-PAIRS, PAIRS + 1):
        weight = (first * second) ** abs(turn)
        for off, strength in ((2.0 * turn * width - across, weight), (2.0 * turn * width + 2.0 * near - across, first * weight)):
            total += strength * exp1(np.clip((off**2 + along**2) / (4.0 * spread), 1e-300, 700.0))
    return total


def _by_modes(spread: np.ndarray, near: np.ndarray, width: np.ndarray, across: float, along: float, edges: tuple[str, str]) -> np.ndarray:
    """Return the same sum by the modes across the strip, for spread above SWITCH width2."""
    if edges[0] == "river" and edges[1] == "barrier":
        # Looked at from the other edge.
        near, across, edges = width - near, -across, ("barrier", "river")
    bore, seen = np.pi * near / width, np.pi * (near - across) / width
    half = 0.5 if edges[0] != edges[1] else 0.0
    both = _sign(edges[0])
    tall = np.pi * along / width
    total = np.zeros(spread.shape)
    if edges == ("barrier", "barrier"):
        reach = along / (2.0 * np.sqrt(spread))
        # The mode that is the same across the strip: flow along it alone.
        total += 4.0 * np.sqrt(np.pi * spread) / width * (np.exp(-(reach**2)) - np.sqrt(np.pi) * reach * erfc(reach))
    aside = tall > np.pi / 2
    total[aside] += _every_mode(spread[aside], width[aside], along, bore[aside], seen[aside], half, both)
    at = ~aside
    if at.any():
        total[at] += _settled(tall[at], bore[at] - seen[at], half) + both * _settled(tall[at], bore[at] + seen[at], half)
        total[at] -= _unsettled(spread[at], width[at], along, bore[at], seen[at], half, both)
    return total


def _modes(count: int, half: float, bore: np.ndarray, seen: np.ndarray, both: float):
    for number in range(1, count + 1):
        order = number - half
        yield order, (np.cos(order * (bore - seen)) + both * np.cos(order * (bore + seen))) / order


def _settled(tall: np.ndarray, angle: np.ndarray, half: float) -> np.ndarray:
    """Return 2 sum cos(k angle) exp(-k tall) / k over k = 1, 2, ... or, with a half, over 1/2, 3/2, ..."""
    if half:
        root = np.exp(0.5 * (-tall + 1j * angle))
        return 2.0 * np.log(np.abs(1.0 + root) / np.abs(1.0 - root))
    # |1 - exp(-tall + i angle)|2 without loss where both are small.
    return -np.log(np.expm1(-tall) ** 2 + 4.0 * np.exp(-tall) * np.sin(0.5 * angle) ** 2)


def _unsettled(spread, width, along, bore, seen, half, both) -> np.ndarray:
    """Return what the modes are still short of."""
    total = np.zeros(spread.shape)
    outward = along**2 / (4.0 * spread)
    for order, shape in _modes(MODES, half, bore, seen, both):
        rate = order * np.pi / width
        decay, reach = rate**2 * spread, rate * np.sqrt(spread)
        away = along / (2.0 * np.sqrt(spread))
        total += shape * np.exp(-decay - outward) * (erfcx(reach - away) + erfcx(reach + away))
    return total


def _every_mode(spread, width, along, bore, seen, half, both) -> np.ndarray:
    """Return the sum of the modes as they are: far along the strip they fall quickly and nothing cancels."""
    total = np.zeros(spread.shape)
    away = along / (2.0 * np.sqrt(spread))
    for order, shape in _modes(FAR_MODES, half, bore, seen, both):
        rate = order * np.pi / width
        reach = rate * np.sqrt(spread)
        gap = away - reach
        # exp(-2 sqrt(A B)) (1 + erf(reach - away)) - exp(2 sqrt(A B)) erfc(reach + away), A = along2 / 4 D t, B = rate2 D t.
        plain = np.where(gap > 0, np.exp(-(away**2) - reach**2) * erfcx(np.maximum(gap, 0.0)), np.exp(-rate * along) * (1.0 + erf(-np.minimum(gap, 0.0))))
        total += shape * (plain - np.exp(-(away**2) - reach**2) * erfcx(reach + away))
    return total
