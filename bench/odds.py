"""Odds for one site on a 100,000-bore register, against a nearest-neighbour query and a transform of the same size.

Want: at most 1.5 times (scikit-learn NearestNeighbors fitted once, one query, and one NumPy FFT of the same size), in under
400 MB. Both readings of "fitted once" are printed: the fit inside the reference, and the fit left out (query and FFT only).

    python bench/odds.py
"""

from __future__ import annotations

import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

BORES = 100_000
NEAREST = 160
DEPTHS = (20.0, 40.0, 60.0, 80.0, 100.0)


def write_bores(path: Path, count: int) -> None:
    """Write an invented register: strikes from a rate that varies over 300 km."""
    rng = np.random.default_rng(1)
    lon, lat = -20.0 + rng.uniform(0, 3.5, count), -40.0 + rng.uniform(0, 2.7, count)
    scale = np.exp(0.6 * np.sin(8 * lon) * np.cos(9 * lat))
    depth = rng.uniform(30, 110, count).round(1)
    strikes = rng.poisson(scale * depth * 0.018)
    flow = np.array([np.exp(rng.normal(-1.2, 1.0, k)).sum() for k in strikes]).round(3)
    with path.open("w", encoding="utf-8") as file:
        file.write("bore_id,lon,lat,depth_m,yield_lps,status\n")
        file.writelines(f"V{i},{a:.6f},{b:.6f},{d},{q},{'wet' if q > 0 else 'dry'}\n" for i, (a, b, d, q) in enumerate(zip(lon, lat, depth, flow, strict=True)))


def median_times(*calls, runs: int = 121) -> list[tuple[float, float]]:
    """Return the median wall and processor time of each call [s], after one warm run; they take turns, so a busy machine slows all alike."""
    times = [[] for _ in calls]
    for turn in range(runs + 1):
        for mine, call in zip(times, calls, strict=True):
            start, worked = time.perf_counter(), time.process_time()
            call(turn)
            if turn:
                mine.append((time.perf_counter() - start, time.process_time() - worked))
    return [tuple(statistics.median(one) for one in zip(*mine, strict=True)) for mine in times]


def resident() -> float:
    """Return the most memory this process has held [MB]."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def ask(folder: Path) -> None:
    """Answer as one process that opens the register would; print our time and memory, then the reference's."""
    import polars  # noqa: F401
    import scipy.linalg
    import scipy.spatial.distance
    import scipy.special  # noqa: F401

    from borewright.siting import odds_at, open_register

    # What is imported is imported on both sides before the clock starts.
    start = time.perf_counter()
    register = open_register("bench", folder)
    opened = time.perf_counter() - start
    start = time.perf_counter()
    odds_at(register, -38.6, -18.2, need=0.25e-3, depths=DEPTHS)
    first = time.perf_counter() - start
    rng = np.random.default_rng(2)
    spots = np.column_stack([rng.uniform(-39.9, -37.4, 40), rng.uniform(-19.9, -16.6, 40)])

    def ours(turn: int):
        return odds_at(register, *spots[turn % 40], need=0.25e-3, depths=DEPTHS)

    for turn in range(40):
        ours(turn)
    print(f"open the register            {1000 * opened:9.1f} ms\nfirst odds (index built)     {1000 * first:9.1f} ms")
    print(f"peak resident                {resident():9.0f} MB  (want < 400)")
    from sklearn.neighbors import NearestNeighbors

    points = register.places
    signal = np.random.default_rng(3).random((len(DEPTHS), 1024))
    start = time.perf_counter()
    nearest = NearestNeighbors(n_neighbors=NEAREST).fit(points)
    fit = time.perf_counter() - start
    some = points[:: max(1, len(points) // 40)][:40]
    (warm, warm_work), (query, query_work) = median_times(ours, lambda turn: (nearest.kneighbors(some[turn % 40][None, :]), np.fft.irfft(np.fft.rfft(signal))))
    print(f"odds, warm                   {1000 * warm:9.2f} ms\nreference fit                {1000 * fit:9.1f} ms\nreference query and FFT      {1000 * query:9.2f} ms")
    print(f"ratio, first odds to fit, query and FFT    {first / (fit + query):7.2f}  (want <= 1.5)")
    print(f"ratio, warm odds to query and FFT          {warm / query:7.2f}  (want <= 1.5); of processor time {warm_work / query_work:.2f}")


def main() -> None:
    """Load a register in another process, then measure in a fresh one."""
    import subprocess

    if len(sys.argv) > 1:
        ask(Path(sys.argv[1]))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bores.csv"
        write_bores(path, BORES)
        code = "import sys; from borewright.siting import load_register; load_register(sys.argv[1], name='bench', folder=sys.argv[2])"
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code, str(path), folder], check=True)
        print(f"load and learn from {BORES} bores   {time.perf_counter() - start:6.1f} s")
        subprocess.run([sys.executable, __file__, folder], check=True)


if __name__ == "__main__":
    main()
