"""Time of `borewright --help` against `python -c pass` in the same run: want at most 4.

    python bench/help.py
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time


def median_time(command: list[str], runs: int = 21) -> float:
    """Return the median wall time of a command [s], after one run that warms the disk cache."""
    times = []
    for turn in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        if turn:
            times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print both medians and their ratio."""
    plain = median_time([sys.executable, "-c", "pass"])
    ours = median_time([sys.executable, "-m", "borewright.cli.main", "--help"])
    print(f"python -c pass     {1000 * plain:7.1f} ms\nborewright --help  {1000 * ours:7.1f} ms\nratio              {ours / plain:7.2f}  (want <= 4)")


if __name__ == "__main__":
    main()
