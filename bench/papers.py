"""Time of a full set of papers for a job against one empty typst compile in the same run: want at most 20.

    python bench/papers.py

The job is the invented one of the tests, with every stage filled in. The papers are measured one by one and warm, so that typst
remembers what it laid out before, as it does in a running program. Below them stands the set:
warm, with subtitle and hash new as after one more entry, and with every text and drawing new, which is
more than any job asks for (the program's own words are the same on all). The empty compile is measured before and after each set, in a
process of its own.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))


EMPTY = """import statistics, time, typst
from borewright.drawing import font_folder
def empty():
    wall, busy = time.perf_counter(), time.process_time()
    typst.compile(b"", font_paths=[str(font_folder())], ignore_system_fonts=True, format="pdf")
    return time.perf_counter() - wall, time.process_time() - busy
times = [empty() for _ in range(25)][4:]
print(*(statistics.median(column) for column in zip(*times)))
"""


def empty_compile() -> tuple[float, float]:
    """Return the median wall and processor time [s] of an empty compile with the same fonts, in a process that set nothing else.

    Beside a cache full of papers an empty compile is slower too: it would flatter what is measured against it.
    """
    wall, busy = subprocess.run([sys.executable, "-c", EMPTY], check=True, capture_output=True, text=True).stdout.split()
    return float(wall), float(busy)


def median_of(work: Callable[[], object], runs: int = 9) -> tuple[float, float]:
    """Return the median wall and processor time [s] of a work, after two rounds that warm caches."""
    times = []
    for turn in range(runs + 2):
        wall, busy = time.perf_counter(), time.process_time()
        work()
        if turn > 1:
            times.append((time.perf_counter() - wall, time.process_time() - busy))
    return tuple(statistics.median(column) for column in zip(*times, strict=True))


def main() -> None:
    """Print each paper's medians, and those of the sets with their ratio to an empty compile."""
    import made_jobs

    from borewright.papers import PAPERS, paper_pdf
    from borewright.storage import Settings

    job, settings = made_jobs.built().job(), Settings(firm="Hollow Reed Bores (invented)")
    print(f"{'':<22}{'wall':>10}{'processor':>13}")
    for name in PAPERS:
        wall, busy = median_of(lambda name=name: paper_pdf(job, name, settings=settings), runs=5)
        print(f"{name:<22}{1000 * wall:7.1f} ms {1000 * busy:9.1f} ms")
    rounds = iter(range(1000))
    sets = {
        "set, warm": lambda: made_anew(job, settings, 0), "set, one entry more": lambda: made_anew(job, settings, next(rounds)),
        "set, all new": lambda: made_anew(job, settings, next(rounds), every=True),
    }
    for name, work in sets.items():
        before = empty_compile()
        wall, busy = median_of(work)
        empty, empty_busy = (statistics.mean(pair) for pair in zip(before, empty_compile(), strict=True))
        print(f"{'empty typst compile':<22}{1000 * empty:7.1f} ms {1000 * empty_busy:9.1f} ms")
        print(f"{name:<22}{1000 * wall:7.1f} ms {1000 * busy:9.1f} ms   ratio {wall / empty:6.1f}, by the processor {busy / empty_busy:6.1f}" + ("  (want <= 20)" if name == "set, warm" else ""))


def made_anew(job: object, settings: object, turn: int, *, every: bool = False) -> None:
    """Make the set with a mark in its subtitle and hash, or in every text and drawing, so that what was laid out before cannot serve again."""
    from borewright.papers import PAPERS, make, paper_pdf

    mark = "".join(chr(97 + turn // 26**place % 26) for place in (1, 0))
    told = make._data
    try:
        make._data = lambda *given: (lambda data: marked(data, mark) if every else data | {k: data[k] + mark for k in ("subtitle", "hash", "hash_shown")})(told(*given))
        for name in PAPERS:
            paper_pdf(job, name, settings=settings)
    finally:
        make._data = told


def marked(value: object, mark: str, key: str = "") -> object:
    """Return data with a mark behind every text that a reader sees."""
    if isinstance(value, dict):
        return {k: marked(v, mark, k) for k, v in value.items()}
    if isinstance(value, list):
        return [marked(v, mark, key) for v in value]
    if key == "svg":
        return value.replace("</desc>", f"{mark}</desc>", 1)
    return value + mark if isinstance(value, str) and value and key in ("text", "rows", "items", "head", "message", "caption", "title", "subtitle", "foot") else value


if __name__ == "__main__":
    main()
