"""Time of a full set of papers for a job against one empty typst compile in the same run: want at most 20.

    python bench/papers.py

The job is the invented one of the tests, with every stage filled in.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))


def median_time(work: Callable[[], object], runs: int = 7) -> float:
    """Return the median wall time of some work [s], after one run that warms caches."""
    times = []
    for turn in range(runs + 1):
        start = time.perf_counter()
        work()
        if turn:
            times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print each paper's median, the sum, and the ratio to an empty compile with the same fonts."""
    import made_jobs
    import typst

    from borewright.drawing import font_folder
    from borewright.papers import PAPERS, paper_pdf
    from borewright.storage import Settings

    job, settings = made_jobs.built().job(), Settings(firm="Hollow Reed Bores (invented)")
    empty = median_time(lambda: typst.compile(b"", font_paths=[str(font_folder())], ignore_system_fonts=True, format="pdf"))
    print(f"empty typst compile {1000 * empty:8.1f} ms")
    total = 0.0
    for name in PAPERS:
        took = median_time(lambda name=name: paper_pdf(job, name, settings=settings))
        total += took
        print(f"{name:<19} {1000 * took:8.1f} ms")
    print(f"{'all':<19} {1000 * total:8.1f} ms\nratio               {total / empty:8.2f}  (want <= 20)")


if __name__ == "__main__":
    main()
