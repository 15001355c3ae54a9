"""A register of a million bores: loaded from CSV, opened, asked, mapped; each against a named reference in the same run.

Want: loading at most 3 times polars.read_csv of the same file, by wall clock and by processor time (the whole of `load_register`; a register of
this size is learned from at its first question, which is printed beside it and is not in the ratio);
one site's odds, warm, at most 10 times a scikit-learn BallTree query of the same neighbours; under 1 GB resident.

    python bench/register.py [BORES]
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

NEAREST = 160
DEPTHS = (20.0, 40.0, 60.0, 80.0, 100.0)


def write_bores(path: Path, count: int) -> None:
    """Write an invented register: strikes from a rate that varies over 1,000 km."""
    import polars as pl

    rng = np.random.default_rng(1)
    lon, lat = -20.0 + rng.uniform(0, 11.0, count), -40.0 + rng.uniform(0, 9.0, count)
    scale = np.exp(0.6 * np.sin(8 * lon) * np.cos(9 * lat))
    depth = rng.uniform(30, 110, count).round(1)
    strikes = rng.poisson(scale * depth * 0.018)
    flow = np.bincount(np.repeat(np.arange(count), strikes), weights=np.exp(rng.normal(-1.2, 1.0, strikes.sum())), minlength=count).round(3)
    pl.DataFrame({
        "bore_id": [f"M{i}" for i in range(count)], "lon": lon.round(6), "lat": lat.round(6), "elevation_m": rng.uniform(50, 900, count).round(1), "depth_m": depth,
        "yield_lps": flow, "static_level_m": rng.uniform(2, 25, count).round(1), "drilled_on": ["1999-05-06"] * count, "status": np.where(flow > 0, "wet", "dry"),
    }).write_csv(path)


def resident() -> float:
    """Return the most memory this process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def clocked(call) -> float:
    """Return the wall time of one call [s]."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def load(path: str, folder: str) -> None:
    """Load the file as `borewright register load` does, and say what each step took."""
    import polars as pl

    from borewright.siting import load_register

    marks: list[tuple[str, float]] = []

    def step(words: str) -> None:
        marks.append((words, time.perf_counter()))

    pl.read_csv(path)
    reference, worked, whole, work = [], [], [], []
    for _ in range(9):  # in turn, so that a busy machine slows both
        for call, times, cpu in ((lambda: pl.read_csv(path), reference, worked), (lambda: load_register(path, name="bench", folder=folder, progress=step), whole, work)):
            marks.clear()
            begin = time.process_time()
            times.append(clocked(call))
            cpu.append(time.process_time() - begin)
    middle = statistics.median
    print(f"polars.read_csv              {middle(reference):9.3f} s, of processor time {middle(worked):.3f} s")
    print(f"load: read, check, keep      {middle(whole):9.3f} s, of processor time {middle(work):.3f} s; the first {whole[0]:.3f} s")
    for (words, at), (_, end) in zip(marks, [*marks[1:], ("", time.perf_counter())], strict=True):
        print(f"    {words:<24} {end - at:9.3f} s")
    print(f"peak resident, loading       {resident():9.0f} MB  (want < 1000)")
    print(f"ratio, load to read_csv                {middle(whole) / middle(reference):7.2f}  (want <= 3); of processor time {middle(work) / middle(worked):.2f}  (want <= 3)")


def ask(folder: str) -> None:
    """Open the register in a fresh process, ask it one site at a time, then a map."""
    from borewright.siting import map_of_odds, odds_at, open_register

    opened = time.perf_counter()
    register = open_register("bench", folder)
    opened = time.perf_counter() - opened
    rng = np.random.default_rng(2)
    spots = np.column_stack([rng.uniform(-39.9, -31.1, 60), rng.uniform(-19.9, -9.1, 60)])
    first = clocked(lambda: odds_at(register, *spots[0], need=0.25e-3, depths=DEPTHS))
    register = open_register("bench", folder)
    later = clocked(lambda: odds_at(register, *spots[0], need=0.25e-3, depths=DEPTHS))
    for spot in spots:
        odds_at(register, *spot, need=0.25e-3, depths=DEPTHS)
    print(f"open                         {opened:9.2f} s\nfirst odds ever, learning    {first:9.2f} s\nfirst odds after opening     {later:9.2f} s\npeak resident, asking        {resident():9.0f} MB  (want < 1000)")
    area = (-15.0, -35.9, -14.0, -35.0)
    took = clocked(lambda: map_of_odds(register, area, need=0.25e-3, depth=60.0, cell=500.0))
    cells = round(1.0 * 111195 * np.cos(np.radians(35.45)) / 500) * round(0.9 * 111195 / 500)
    from sklearn.neighbors import BallTree

    tree = BallTree(register.places)
    ours, query, worked, query_worked = [], [], [], []
    for turn in range(120):
        spot = spots[turn % 60]
        for call, times, work in ((lambda spot=spot: odds_at(register, *spot, need=0.25e-3, depths=DEPTHS), ours, worked),
                                  (lambda turn=turn: tree.query(register.places[turn * 7919 : turn * 7919 + 1], k=NEAREST), query, query_worked)):
            begin = time.process_time()
            times.append(clocked(call))
            work.append(time.process_time() - begin)
    middle = statistics.median
    print(f"odds, warm                   {1000 * middle(ours):9.2f} ms\nBallTree query               {1000 * middle(query):9.2f} ms")
    print(f"ratio, odds to BallTree query          {middle(ours) / middle(query):7.2f}  (want <= 10); of processor time {middle(worked) / middle(query_worked):.2f}")
    print(f"map of {cells} cells          {took:9.2f} s; as many single sites would take {cells * middle(ours):.0f} s: {cells * middle(ours) / took:.1f} times as long")


def main() -> None:
    """Write the file, then load and ask in processes of their own, so that each one's memory is its own."""
    if len(sys.argv) == 4:
        (load(sys.argv[2], sys.argv[3]) if sys.argv[1] == "load" else ask(sys.argv[3]))
        return
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bores.csv"
        write_bores(path, count)
        print(f"{count} bores, {path.stat().st_size / 1e6:.0f} MB")
        for part in ("load", "ask"):
            subprocess.run([sys.executable, __file__, part, str(path), folder], check=True)


if __name__ == "__main__":
    main()
