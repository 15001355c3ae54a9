"""Total yield of a random number of strikes: compound Poisson and compound negative binomial sums of log-normal yields, by FFT."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from borewright.errors import OutOfDomain, require_finite, require_non_negative, require_positive
from borewright.siting.prospect import WaterProspect

__all__ = ["EnoughTable", "LatentStrikes", "NeedBelow", "chance_each", "chance_of_enough", "enough_table", "latent_strikes", "read_between", "strikes_by_depth"]

_CELLS = 256  # cells from nothing to the need; halving them moves a chance by less than 2e-4 (test_compound)

_LENGTH = 2  # of the transform, in needs
_TILT = 20.0  # what wraps round is e^-20 of itself (2e-9), and rounding grows by e^10
_NODES = 96  # at which a function of the flow before the last strike is taken
_TABLE_CELLS = 64  # the same for the table behind the bands, within 2e-3


def _severity(log_need: np.ndarray, log_yield_sd: np.ndarray | float, cells: int) -> np.ndarray:
    """Return the chance that one yield falls in each cell up to the need, shape needs + (cells + 1,); the last straddles the need.

    `log_need` is the logarithm of the need over the median yield, `log_yield_sd` one spread or one for each need.
    """
    from scipy.special import ndtr

    chance = ndtr((_log_edges(cells) + log_need[..., None]) / np.asarray(log_yield_sd)[..., None])
    return chance[..., 1:] - chance[..., :-1]


@lru_cache(maxsize=8)
def _log_edges(cells: int) -> np.ndarray:
    """Return the logarithms of the cells' edges over the need."""
    edges = (np.arange(cells + 2) - 0.5) / cells
    edges[0] = 1e-300
    return np.log(edges)


@lru_cache(maxsize=8)
def _tilted(cells: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the tilt of each cell, and size and angle of the weights that add up the untilted cells below the need."""
    length = _LENGTH * cells
    powers = np.exp(-_TILT / length * np.arange(cells + 1))
    # The sum wanted is linear in the transform, so one product stands for transforming back and adding; half of the cell
    # that straddles the need lies below it.
    wanted = np.zeros(length)
    wanted[: cells + 1] = 1.0 / powers
    wanted[cells] *= 0.5
    weights = np.fft.rfft(wanted).conj() / length
    weights[1:-1] *= 2.0
    return powers, np.abs(weights), np.angle(weights)


class _Below:
    """Chance that a random number of yields sums to less than the need, for one yield's chances in the cells up to it.

    Sums of several yields run past the end of the transform and would wrap round; the exponential tilt makes what
    wraps vanish (Grübel and Hermesmeier 1999). Sizes and angles are real arrays: quicker than complex functions.
    """

    def __init__(self, severity: np.ndarray, cells: int):
        powers, self.size, self.turn = _tilted(cells)
        transform = np.fft.rfft(severity * powers, n=_LENGTH * cells, axis=-1)
        self.real, self.imaginary = 1.0 - transform.real, -transform.imag  # of one minus the transform

    def negative_binomial(self, ratio: np.ndarray, power: np.ndarray | float) -> np.ndarray:
        """Return the chance when the number is Poisson with a gamma mean: generating function (1 + ratio (1 - t))^-power."""
        # A transform never exceeds 1 in size, so the real part is at least 1 and the angle has one branch.
        real, imaginary = ratio * self.real, ratio * self.imaginary
        angle = np.arctan(imaginary / (1.0 + real))
        angle *= -power
        # The size squared less 1, so that a great power of nearly 1 keeps its digits.
        imaginary *= imaginary
        real *= real + 2.0
        real += imaginary
        log_size = np.log1p(real, out=real)
        log_size *= -0.5 * power
        return self._sum(log_size, angle)

    def poisson(self, expected: np.ndarray) -> np.ndarray:
        """Return the chance when the number is Poisson: generating function exp(-expected (1 - t))."""
        return self._sum(-expected * self.real, -expected * self.imaginary)

    def _sum(self, log_size: np.ndarray, angle: np.ndarray) -> np.ndarray:
        angle += self.turn
        value = np.cos(angle, out=angle)
        value *= np.exp(log_size, out=log_size)
        return np.minimum(np.maximum(value @ self.size, 0.0), 1.0)


def strikes_by_depth(prospect: WaterProspect, depths: np.ndarray) -> np.ndarray:
    """Return the expected strikes from the surface to each depth when the scale is 1 [-]."""
    edges = np.asarray(prospect.depth_edges, float)
    return np.interp(depths, edges, np.concatenate([[0.0], np.cumsum(np.diff(edges) * prospect.strike_intensity)]))


def chance_of_enough(prospect: WaterProspect, needs: np.ndarray | float, depths: np.ndarray | float, *, cells: int | None = None) -> np.ndarray:
    """Return the chance that the total yield by each depth is at least each need, all at once.

    Parameters
    ----------
    prospect : WaterProspect
        Belief about the spot.
    needs : float or array_like, shape (g,)
        Flows that count as enough [m3/s].
    depths : float or array_like, shape (z,)
        Depths below ground, within the prospect [m].
    cells : int, optional
        Cells from nothing to the need; fewer are quicker and blunter.

    Returns
    -------
    ndarray, shape (g, z)
        Chances [-]; a need of 0 is met at any depth.

    Raises
    ------
    OutOfDomain
        A need below zero, a depth outside the prospect, a value that is not finite.

    Notes
    -----
    The number of strikes is negative binomial (a Poisson whose mean is gamma distributed); its generating function is
    applied to the discrete Fourier transform of one strike's yield. The sum of log-normals is thereby exact to the cell width.

    References
    ----------
    .. [1] Grübel, R. and Hermesmeier, R., 1999, Computation of compound distributions I: aliasing errors and exponential
       tilting, ASTIN Bulletin 29(2), 197-214 (from memory).
    """
    needs, depths = np.atleast_1d(np.asarray(needs, float)), np.atleast_1d(np.asarray(depths, float))
    require_non_negative(need=needs, depth=depths)
    require_positive(scale_shape=prospect.scale_shape, scale_rate=prospect.scale_rate, log_yield_sd=prospect.log_yield_sd)
    deepest = float(prospect.depth_edges[-1])
    if depths.size and depths.max() > deepest + 1e-9:
        raise OutOfDomain("depth", float(depths.max()), "lies below the deepest the odds reach", f"at most {deepest:g} m")
    expected = strikes_by_depth(prospect, depths)
    chance = np.ones((len(needs), len(depths)))
    positive = needs > 0
    if positive.any():
        cells = cells or _CELLS
        severity = _severity(np.log(needs[positive]) - prospect.log_yield_mean, prospect.log_yield_sd, cells)
        chance[positive] = 1.0 - _Below(severity[:, None, :], cells).negative_binomial((expected / prospect.scale_rate)[:, None], prospect.scale_shape)
    return chance


class NeedBelow:
    """The chance of one need by any depth at one spot, asked several times over, with nothing checked again.

    Its numbers are those of `chance_of_enough`.
    """

    def __init__(self, prospect: WaterProspect, need: float, *, cells: int | None = None):
        cells = cells or _CELLS
        self._below = _Below(_severity(np.array([np.log(need) - prospect.log_yield_mean]), prospect.log_yield_sd, cells), cells)
        self._rate, self._shape = prospect.scale_rate, prospect.scale_shape

    def enough(self, expected: np.ndarray) -> np.ndarray:
        """Return the chance of enough where so many strikes are expected at scale 1, shape (depths,) [-]."""
        return 1.0 - self._below.negative_binomial((expected / self._rate)[:, None], self._shape)


def chance_each(need: np.ndarray, expected: np.ndarray, scale_shape: np.ndarray, scale_rate: np.ndarray, log_yield_mean: np.ndarray,
                log_yield_sd: np.ndarray) -> np.ndarray:
    """Return the chance of enough for many spots, each with its own belief, need and expected strikes at scale 1; all of shape (n,)."""
    chance = np.ones(len(need))
    positive = np.flatnonzero(need > 0)
    for rows in np.array_split(positive, max(1, len(positive) // 1024)):
        severity = _severity(np.log(need[rows]) - log_yield_mean[rows], log_yield_sd[rows], _CELLS)
        chance[rows] = 1.0 - _Below(severity, _CELLS).negative_binomial((expected[rows] / scale_rate[rows])[:, None], scale_shape[rows][:, None])
    return chance


@dataclass(frozen=True, slots=True)
class EnoughTable:
    """Chance that a Poisson number of log-normal yields sums to at least a need, tabled once for a register.

    With the spread of yields fixed it depends on two numbers only: the expected strikes, and the need over the median yield.
    """

    log_expected: np.ndarray
    log_need: np.ndarray
    chance: np.ndarray

    def __call__(self, expected: np.ndarray, log_need: np.ndarray) -> np.ndarray:
        """Return the chance at each pair (bilinear in the logarithms, broadcast together) [-]."""
        with np.errstate(divide="ignore"):
            return self.at(np.log(expected), np.asarray(log_need, float))

    def at(self, log_expected: np.ndarray, log_need: np.ndarray) -> np.ndarray:
        """Return the chance at each pair, the expected strikes given by their logarithm [-]."""
        first_x, step_x = self.log_expected[0], self.log_expected[1] - self.log_expected[0]
        first_h, step_h = self.log_need[0], self.log_need[1] - self.log_need[0]
        i, u = _cell((log_expected - first_x) / step_x, len(self.log_expected))
        j, v = _cell((log_need - first_h) / step_h, len(self.log_need))
        flat, width = self.chance.ravel(), self.chance.shape[1]
        at = i * width + j
        near, far = flat.take(at), flat.take(at + width)
        near += v * (flat.take(at + 1) - near)
        far += v * (flat.take(at + (width + 1)) - far)
        far -= near
        far *= u
        near += far
        below = log_expected < first_x
        if below.any():
            # Below the table the chance is proportional to the expected strikes: one strike, or none.
            near *= np.exp(np.where(below, log_expected - first_x, 0.0))
        return near


def read_between(rows: np.ndarray, cell: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Return the values of tables between their points, shape (rows, n)."""
    low = rows[:, cell]
    return low + share * (rows[:, cell + 1] - low)


def _cell(at: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the cell of each position on a grid of so many points, and how far into it."""
    at = np.minimum(np.maximum(at, 0.0), count - 1.000001)
    cell = at.astype(np.intp)
    return cell, at - cell


def enough_table(log_yield_sd: float) -> EnoughTable:
    """Return the table for one spread of the logarithm of yields [-]."""
    require_positive(log_yield_sd=log_yield_sd)
    log_expected = np.linspace(np.log(1e-3), np.log(60.0), 111)
    log_need = np.linspace(-7.0 * log_yield_sd - 1.0, 6.0 * log_yield_sd + 5.0, 161)
    expected = np.exp(log_expected)[:, None]
    chance = np.empty((len(log_expected), len(log_need)))
    for j, h in enumerate(log_need):
        severity = _severity(np.array([h]), log_yield_sd, _TABLE_CELLS)
        chance[:, j] = 1.0 - _Below(severity, _TABLE_CELLS).poisson(expected)
    # Interpolation keeps order only if the table does; rounding in the transform is some 1e-12.
    chance = np.maximum.accumulate(chance, axis=0)
    chance = np.minimum.accumulate(chance, axis=1)
    return EnoughTable(log_expected, log_need, chance)


@dataclass(frozen=True, slots=True)
class LatentStrikes:
    """What a total yield says about the strikes behind it, by their number k = 1..most, tabled on log(total / median yield).

    Attributes
    ----------
    log_total : ndarray, shape (t,)
        Logarithm of the total over the median strike yield.
    log_density : ndarray, shape (most, t)
        Log density of log total, given k strikes.
    mean_log, square_log : ndarray, shape (most, t)
        Expected logarithm of one strike's yield over the median, and its square, given the total and k.
    width : float
        Cell width of the sums behind the tables, in median yields.
    transform : ndarray
        Discrete Fourier transform of one strike's yield on those cells.
    """

    log_total: np.ndarray
    log_density: np.ndarray
    mean_log: np.ndarray
    square_log: np.ndarray
    width: float
    transform: np.ndarray

    def at(self, log_total: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return log density, mean log and mean square log for each record, each of shape (most, n)."""
        cell, share = self.cells(log_total)
        return read_between(self.log_density, cell, share), read_between(self.mean_log, cell, share), read_between(self.square_log, cell, share)

    def cells(self, log_total: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the cell of the tables in which each record falls, and how far into it."""
        first, last = self.log_total[0], self.log_total[-1]
        return _cell((np.clip(log_total, first, last) - first) * ((len(self.log_total) - 1) / (last - first)), len(self.log_total))

    def before_last(self) -> Callable[[Callable[[np.ndarray], np.ndarray]], np.ndarray]:
        """Return a function that gives the expected value of any function of the log of the flow before the last strike.

        What it returns has shape (most, t): given k strikes and their total; 0 for k = 1, where there was no flow before.
        """
        size = 2 * (len(self.transform) - 1)
        most, half = len(self.log_density), size // 2
        cells = np.arange(half)
        # A function is known by its values at nodes and straight between them, so that each is transformed once for all functions.
        nodes = np.linspace(np.log(0.4 * self.width), np.log(1.1 * half * self.width), _NODES)
        power = np.ones_like(self.transform)
        given = np.zeros((most, len(self.log_total), _NODES))
        for k in range(2, most + 1):
            power = power * self.transform
            before = np.maximum(np.fft.irfft(power, n=size)[:half], 0.0)
            at = np.log((cells + 0.5 * (k - 1)) * self.width)
            hats = np.maximum(1.0 - np.abs(at - nodes[:, None]) / (nodes[1] - nodes[0]), 0.0)
            joint = np.fft.irfft(np.fft.rfft(hats * before, n=size) * self.transform, n=size)[:, :half]
            grid = np.log((cells + 0.5 * k) * self.width)
            whole = np.maximum(np.fft.irfft(power * self.transform, n=size)[:half], 1e-30)
            given[k - 1] = np.stack([np.interp(self.log_total, grid, np.maximum(row, 0.0) / whole) for row in joint], axis=1)

        def expected(value: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
            return given @ value(nodes)

        return expected

    def beyond(self, log_total: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the log chance that the total is at least each record's, and the mean square log of one strike then, each (most, n)."""
        x = np.clip(log_total, self.log_total[0], self.log_total[-1])
        density = np.exp(self.log_density)

        def above(rows: np.ndarray) -> np.ndarray:
            pieces = 0.5 * (rows[:, 1:] + rows[:, :-1]) * np.diff(self.log_total)
            after = np.concatenate([np.cumsum(pieces[:, ::-1], axis=1)[:, ::-1], np.zeros((len(rows), 1))], axis=1)
            return np.stack([np.interp(x, self.log_total, row) for row in after])

        chance = np.maximum(above(density), 1e-12)
        return np.log(chance), above(density * self.square_log) / chance


@lru_cache(maxsize=32)
def latent_strikes(log_yield_sd: float, *, most: int = 8, count: int = 2**14) -> LatentStrikes:
    """Return the tables for one spread of the logarithm of yields, for up to `most` strikes in a bore, summed on `count` cells."""
    require_positive(log_yield_sd=log_yield_sd)
    require_finite(most=most)
    # A linear grid for the sums; its top leaves out one yield in some ten thousand.
    top = np.exp(3.7 * log_yield_sd) * 3.0
    width = top / count
    middles = (np.arange(count) + 0.5) * width
    log_middle = np.log(middles)
    density = np.exp(-0.5 * (log_middle / log_yield_sd) ** 2) / (middles * log_yield_sd * np.sqrt(2 * np.pi)) * width
    density /= max(density.sum(), 1.0)
    one = np.fft.rfft(density, n=2 * count)
    first = np.fft.rfft(density * log_middle, n=2 * count)
    second = np.fft.rfft(density * log_middle**2, n=2 * count)
    log_total = np.linspace(log_middle[0] + 2.5, log_middle[-1], 240)
    rows_density, rows_mean, rows_square = [], [], []
    rest = np.ones_like(one)
    for k in range(1, most + 1):
        if k == 1:
            rows_density.append(-0.5 * (log_total / log_yield_sd) ** 2 - np.log(log_yield_sd * np.sqrt(2 * np.pi)))
            rows_mean.append(log_total)
            rows_square.append(log_total**2)
        else:
            total, mean, square = (np.fft.irfft(t * rest, n=2 * count)[:count] for t in (one, first, second))
            # Cell middles add up to half a cell more for each further strike.
            grid = np.log((np.arange(count) + 0.5 * k) * width)
            total = np.maximum(total, 1e-30)
            rows_density.append(np.interp(log_total, grid, np.log(total / width) + grid))
            rows_mean.append(np.interp(log_total, grid, mean / total))
            rows_square.append(np.interp(log_total, grid, np.maximum(square, 0.0) / total))
        rest = rest * one
    return LatentStrikes(log_total, np.stack(rows_density), np.stack(rows_mean), np.stack(rows_square), float(width), one)
