"""Speed of the hydraulics against named references, all in one run: python bench/hydraulics.py

leaky well function     against scipy.integrate.quad on its definition, each value, at equal accuracy         at least 300 times quicker
Theis well function     against scipy.special.exp1                                                            at most 1.2 times as long
six solutions fitted    with intervals to 2,000 readings, against one scipy.optimize.least_squares Theis fit  at most 40 times as long
1,000,000-row logger    read, thinned and drawn, against polars.read_csv                                      at most 3 times as long
"""

from __future__ import annotations

import math
import tempfile
import time
from pathlib import Path

import numpy as np
import polars
from scipy.integrate import quad
from scipy.optimize import least_squares
from scipy.special import exp1

from borewright import hydraulics as h


def best(call, repeats=7):
    """Return the shortest of several timings [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def leaky() -> None:
    rng = np.random.default_rng(1)
    u, b = np.logspace(-6, 1, 20000), 10 ** rng.uniform(-3, 0.5, 20000)
    ours = best(lambda: h.leaky_well_function(u, b)) / u.size
    pick = slice(None, None, 50)

    def one(x, y):
        quarter = y * y / 4
        return quad(lambda w: math.exp(-w - quarter / w) / w, x, np.inf, epsrel=1e-10, epsabs=0, limit=200)[0]

    theirs = best(lambda: [one(x, y) for x, y in zip(u[pick], b[pick], strict=True)], 3) / u[pick].size
    off = np.max(np.abs(np.array([one(x, y) for x, y in zip(u[pick], b[pick], strict=True)]) / h.leaky_well_function(u[pick], b[pick]) - 1))
    print(f"leaky well function      {ours * 1e9:8.0f} ns a value; quad {theirs * 1e6:.0f} us: {theirs / ours:.0f} times quicker (they differ by {off:.0e})")


def theis() -> None:
    u = np.logspace(-8, 1, 200_000)
    ratios = [best(lambda: h.well_function(u), 5) / best(lambda: exp1(u), 5) for _ in range(3)]
    print(f"Theis well function      {min(ratios):8.2f} times scipy.special.exp1")


def six_fits() -> None:
    rng = np.random.default_rng(0)
    rate, T, S, r = 788 / 86400, 400 / 86400, 2e-4, 30.0
    t = np.geomspace(60, 3 * 86400, 2000)
    s = h.drawdown(t, r, rate=rate, transmissivity=T, storativity=S) + rng.normal(0, 0.005, t.size)

    def reference():
        least_squares(lambda x: rate / (4 * np.pi * np.exp(x[0])) * exp1(r * r * np.exp(x[1] - x[0]) / (4 * t)) - s, [np.log(1e-3), np.log(1e-3)])

    one = best(reference)
    names = ["theis", "hantush-jacob", "theis-barrier", "theis-recharge", "barker", "cooper-jacob"]
    hard = [*names[:-1], "warren-root"]
    inside = h.drawdown(t, 0.08, rate=rate, transmissivity=T, storativity=S) + rng.normal(0, 0.005, t.size)
    for label, level, radius, chosen in (("six solutions", s, r, names), ("six with double porosity", s, r, hard), ("six of a pumped bore", inside, 0.08, None)):
        one = min(one, best(reference, 5))
        took = best(lambda level=level, radius=radius, chosen=chosen: h.fit_test([h.Levels(t, level, radius, "w")], rate=rate, solutions=chosen), 5)
        print(f"{label:<24} {took / one:8.1f} times one least-squares Theis fit ({took * 1e3:.0f} ms, {one * 1e3:.1f} ms)")


def logger() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logger.csv"
        rows = 1_000_000
        stamp = np.datetime64("2026-01-01T00:00:00", "us") + np.arange(rows).astype("timedelta64[s]").astype("timedelta64[us]")
        polars.DataFrame({"stamp": polars.Series(stamp).dt.strftime("%Y-%m-%d %H:%M:%S"), "level_m": 10 + np.log1p(np.arange(rows)) * 0.3}).write_csv(path)

        def ours():
            series = h.read_logger(path, time_column="stamp", value_column="level_m", date_format="%Y-%m-%d %H:%M:%S", zone="+10:00")
            since, fall = h.drawdown_from(series, started_at=float(series.epoch[0]), static=10.0)
            t, s = h.thinned(since, fall)
            try:
                from borewright.drawing.charts import drawdown_chart
            except ImportError:
                return t, s
            return drawdown_chart(t.tolist(), s.tolist(), width=700, height=400)

        # Turn and turn about, so that another program on the machine slows both alike.
        pairs = [(best(lambda: polars.read_csv(path), 1), best(ours, 1)) for _ in range(9)]
        theirs, mine = (min(side) for side in zip(*pairs, strict=True))
        print(f"1,000,000-row logger     {mine / theirs:8.2f} times polars.read_csv ({theirs * 1e3:.0f} ms)")


if __name__ == "__main__":
    leaky()
    theis()
    six_fits()
    logger()
