"""Vertical electrical sounding: what four electrodes read over layered ground, and which layers could have given a reading."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from borewright.errors import Advisory, OutOfDomain, require_positive

__all__ = ["Layers", "SoundingFit", "apparent_resistivity", "invert_sounding"]

Array = Literal["schlumberger", "wenner"]
_STEP = 0.115  # of the filter's abscissae, in the natural logarithm
_SPAN = (-11.5, 9.0)


def _exact_pairs(order: int, distance: np.ndarray) -> list[tuple]:
    """Return functions of the wave number and their exact Hankel transforms of an order at each distance."""
    out = []
    for a in np.exp(np.linspace(-4.5, 4.5, 61)):
        root = np.sqrt(a**2 + distance**2)
        if order == 0:
            out.append((lambda k, a=a: np.exp(-a * k), 1.0 / root))
            out.append((lambda k, a=a: k * np.exp(-a * k), a / root**3))
        else:
            out.append((lambda k, a=a: k * np.exp(-a * k), distance / root**3))
            out.append((lambda k, a=a: np.exp(-a * k), (root - a) / (distance * root)))
    return out


@lru_cache(maxsize=2)
def _filter(order: int) -> tuple[np.ndarray, np.ndarray]:
    """Return abscissae and weights of a digital linear filter for the Hankel transform of order 0 or 1.

    Designed here: the weights that best reproduce exact transform pairs at a distance of 1, scale by scale, by damped
    least squares; no table of coefficients is copied.
    """
    points = np.exp(np.arange(*_SPAN, _STEP))
    rows, right = [], []
    for f, g in _exact_pairs(order, np.ones(1)):
        scale = abs(g[0])
        rows.append(f(points) / scale)
        right.append(g[0] / scale)
    matrix, right = np.array(rows), np.array(right)
    u, s, v = np.linalg.svd(matrix, full_matrices=False)
    keep = s > 1e-13 * s[0]
    return points, v[keep].T @ ((u[:, keep].T @ right) / s[keep])


def _hankel(function, distance: np.ndarray, order: int) -> np.ndarray:
    """Return the integral of function(k) J_order(k r) dk at each distance r."""
    points, weights = _filter(order)
    return (function(points[None, :] / distance[:, None]) * weights).sum(axis=1) / distance


@dataclass(frozen=True, slots=True)
class Layers:
    """Layered ground: resistivities from the top down [ohm m], thicknesses of all but the last [m]."""

    resistivity: tuple[float, ...]
    thickness: tuple[float, ...]


def _transform(wave: np.ndarray, resistivity: np.ndarray, thickness: np.ndarray) -> np.ndarray:
    """Return the resistivity transform at each wave number [ohm m] (Koefoed's recursion, upward from the last layer)."""
    value = np.full_like(wave, resistivity[-1])
    for rho, h in zip(resistivity[-2::-1], thickness[::-1], strict=True):
        t = np.tanh(np.minimum(wave * h, 40.0))
        value = (value + rho * t) / (1.0 + value * t / rho)
    return value


def _checked(resistivity: np.ndarray, thickness: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    resistivity, thickness = np.atleast_1d(np.asarray(resistivity, float)), np.atleast_1d(np.asarray(thickness, float))
    if len(thickness) != len(resistivity) - 1:
        raise OutOfDomain("thickness", len(thickness), "must be one fewer than the resistivities", f"{len(resistivity) - 1} thicknesses: the last layer goes on for ever")
    require_positive(resistivity=resistivity, thickness=thickness)
    return resistivity, thickness


def apparent_resistivity(spacing: np.ndarray, *, resistivity: np.ndarray, thickness: np.ndarray = (), array: Array = "schlumberger",
                         inner: np.ndarray | None = None) -> np.ndarray:
    """Return the apparent resistivity over layered ground.

    Parameters
    ----------
    spacing : array_like, shape (n,)
        Half the distance between the outer electrodes (schlumberger), or the distance between neighbours (wenner) [m].
    resistivity : array_like, shape (layers,)
        From the top down [ohm m].
    thickness : array_like, shape (layers - 1,)
        [m]
    array : {"schlumberger", "wenner"}
    inner : array_like, optional
        Half the distance between the inner electrodes of a schlumberger array [m]; nothing means vanishingly small.

    Returns
    -------
    ndarray, shape (n,)
        [ohm m]

    Raises
    ------
    OutOfDomain
        A value that is not above zero, thicknesses that do not fit, an inner distance not inside the outer one.

    Notes
    -----
    Level, even layers; point electrodes. Schlumberger: rho_a = rho_1 + s^2 integral of (T - rho_1) J1(k s) k dk. Held to the
    image series for two and three layers within 2e-4.

    References
    ----------
    .. [1] Koefoed, O., 1979, Geosounding Principles 1, Elsevier (from memory): the transform and its recursion.
    """
    spacing = np.atleast_1d(np.asarray(spacing, float))
    require_positive(spacing=spacing)
    resistivity, thickness = _checked(resistivity, thickness)
    if array not in ("schlumberger", "wenner"):
        raise OutOfDomain("array", array, "is not one of the two arrays", "schlumberger or wenner")
    first = resistivity[0]
    if array == "schlumberger" and inner is None:
        return first + spacing**2 * _hankel(lambda k: (_transform(k, resistivity, thickness) - first) * k, spacing, 1)
    potential = lambda r: first / r + _hankel(lambda k: _transform(k, resistivity, thickness) - first, r, 0)
    if array == "wenner":
        return 2.0 * spacing * (potential(spacing) - potential(2.0 * spacing))
    inner = np.broadcast_to(np.asarray(inner, float), spacing.shape)
    require_positive(inner=inner)
    if np.any(inner >= spacing):
        raise OutOfDomain("inner", float(inner.max()), "must be less than the outer distance", "MN/2 below AB/2")
    return (spacing**2 - inner**2) / (2.0 * inner) * (potential(spacing - inner) - potential(spacing + inner))


@dataclass(frozen=True)
class SoundingFit:
    """Layers that explain a sounding, and others that do so as well.

    Attributes
    ----------
    best : Layers
    misfit : float
        Root mean square of the difference in the logarithm [-].
    ensemble : tuple of Layers
        Layerings whose misfit is within the readings' doubt: each is as good an answer as the best.
    resistivity_range, thickness_range : tuple of (low, high)
        The middle 80 % of the ensemble, layer by layer [ohm m], [m].
    depth_range : tuple of (low, high)
        Of each boundary [m].
    advisories : tuple of Advisory
    """

    best: Layers
    misfit: float
    ensemble: tuple[Layers, ...]
    resistivity_range: tuple[tuple[float, float], ...]
    thickness_range: tuple[tuple[float, float], ...]
    depth_range: tuple[tuple[float, float], ...]
    advisories: tuple[Advisory, ...]


def invert_sounding(spacing: np.ndarray, reading: np.ndarray, *, layers: int = 3, array: Array = "schlumberger", relative_error: float = 0.05,
                    members: int = 200) -> SoundingFit:
    """Return the layers that best explain a sounding, with an ensemble for equivalence.

    Parameters
    ----------
    spacing, reading : array_like, shape (n,)
        Electrode spacing [m] as in `apparent_resistivity`, and apparent resistivity read [ohm m].
    layers : int
        1 to 6.
    relative_error : float
        Doubt of one reading, as a fraction.
    members : int
        Steps of the ensemble that are kept.

    Raises
    ------
    OutOfDomain
        Fewer readings than unknowns, values not above zero, layers outside 1 to 6.

    Notes
    -----
    Least squares in logarithms from several starts; then a random walk (Metropolis, fixed seed) over layerings, which
    shows what the readings cannot tell apart: a thin layer's thickness and resistivity are known only together.
    """
    from scipy.optimize import least_squares

    spacing, reading = np.atleast_1d(np.asarray(spacing, float)), np.atleast_1d(np.asarray(reading, float))
    require_positive(spacing=spacing, reading=reading, relative_error=relative_error)
    if not 1 <= layers <= 6:
        raise OutOfDomain("layers", layers, "cannot be told from a sounding", "1 to 6")
    if len(spacing) != len(reading) or len(reading) < 2 * layers:
        raise OutOfDomain("reading", len(reading), f"are too few or do not fit the spacings for {layers} layers", f"at least {2 * layers} readings, one for each spacing")
    order = np.argsort(spacing, kind="stable")
    spacing, reading = spacing[order], reading[order]
    log_reading = np.log(reading)
    low = np.concatenate([np.full(layers, log_reading.min() - 4.0), np.full(layers - 1, np.log(spacing[0] / 10.0))])
    high = np.concatenate([np.full(layers, log_reading.max() + 4.0), np.full(layers - 1, np.log(spacing[-1] * 2.0))])

    def residual(p: np.ndarray) -> np.ndarray:
        model = apparent_resistivity(spacing, resistivity=np.exp(p[:layers]), thickness=np.exp(p[layers:]), array=array)
        return (np.log(np.maximum(model, 1e-6)) - log_reading) / relative_error

    best = None
    for share in (0.25, 0.5, 1.0):
        # Boundaries spread over the depths that the spacings reach; each layer reads as its spacings did.
        depths = np.geomspace(spacing[0] * share, spacing[-1] * share / 2.0, layers - 1) if layers > 1 else np.empty(0)
        at = np.interp(np.log(np.concatenate([[spacing[0]], depths * 1.5])), np.log(spacing), log_reading)
        start = np.concatenate([at, np.log(np.maximum(np.diff(np.concatenate([[0.0], depths])), 1e-3))])
        found = least_squares(residual, np.clip(start, low + 1e-6, high - 1e-6), bounds=(low, high), max_nfev=200)
        if best is None or found.cost < best.cost:
            best = found
    walk = _equivalent(residual, best, low, high, members)
    n = layers
    rho, h = np.exp(walk[:, :n]), np.exp(walk[:, n:])
    depth = np.cumsum(h, axis=1)
    ranges = lambda values: tuple((float(a), float(b)) for a, b in np.quantile(values, (0.1, 0.9), axis=0).T) if values.shape[1] else ()
    misfit = float(np.sqrt(np.mean((residual(best.x) * relative_error) ** 2)))
    advisories = [Advisory("layers-not-rock", "note", "A sounding narrows the layers; resistivities of rocks overlap, so it does not name the rock or promise water.", "resistivity")]
    if misfit > 2.0 * relative_error:
        advisories.append(Advisory("poor-fit", "doubt", f"Level layers do not explain the readings ({100 * misfit:.0f} % off): ground that is not level, a pipe or fence, or another number of layers.", "reading"))
    layered = lambda p: Layers(tuple(float(v) for v in np.exp(p[:n])), tuple(float(v) for v in np.exp(p[n:])))
    return SoundingFit(layered(best.x), misfit, tuple(layered(p) for p in walk), ranges(rho), ranges(h), ranges(depth), tuple(advisories))


def _equivalent(residual, best, low: np.ndarray, high: np.ndarray, members: int) -> np.ndarray:
    """Return layerings in proportion to how well they explain the readings, shape (members, parameters)."""
    rng = np.random.default_rng(20)
    u, s, v = np.linalg.svd(best.jac, full_matrices=False)
    # Steps long along what the readings cannot tell, short along what they can.
    steps = v.T / np.maximum(s, 0.7)[None, :]
    at, cost = best.x.copy(), best.cost
    out = []
    for i in range(8 * members):
        trial = at + steps @ rng.standard_normal(len(s)) * 0.7
        if np.all(trial > low) and np.all(trial < high):
            new = 0.5 * float((residual(trial) ** 2).sum())
            if np.log(rng.random()) < cost - new:
                at, cost = trial, new
        if i % 8 == 7:
            out.append(at.copy())
    return np.array(out)
