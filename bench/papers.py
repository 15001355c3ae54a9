"""Time of a full set of papers for a job against one empty typst compile in the same run: want at most 20, warm and after one more entry.

    python bench/papers.py

The job is the invented one of the tests, with every stage filled in. The papers are measured one by one and warm, so that typst
remembers what it laid out before, as it does in a running program. Below them stands the set:
warm, with subtitle and hash new as after one more entry, and with every text and drawing new, which is
more than any job asks for (the program's own words are the same on all). The empty compile is measured before and after each set, in a
process of its own.

Last comes the first set that a program makes: each time in a fresh process that has read the job, from the import of what makes papers
to the last paper, against the import of typst and its first empty compile in a fresh process, with the same fonts and as typst comes
(with the fonts of the system). Bytecode is there already, as it is once a program ran before.
"""

from __future__ import annotations

import os
import pickle
import statistics
import subprocess
import sys
import tempfile
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


FIRST_SET = """import pickle, sys, time
job, settings = pickle.load(open(sys.argv[1], "rb"))
wall, busy = time.perf_counter(), time.process_time()
from borewright.papers import PAPERS, paper_pdf
for name in PAPERS:
    paper_pdf(job, name, settings=settings)
print(time.perf_counter() - wall, time.process_time() - busy)
"""
FIRST_EMPTY = """import sys, time
from borewright.drawing import font_folder
wall, busy = time.perf_counter(), time.process_time()
import typst
typst.compile(b"", **({"font_paths": [str(font_folder())], "ignore_system_fonts": True} if sys.argv[1] else {}), format="pdf")
print(time.perf_counter() - wall, time.process_time() - busy)
"""


def first_time(code: str, argument: str, bytecode: str, runs: int = 9) -> tuple[float, float]:
    """Return the median wall and processor time [s] that a script tells of itself in as many fresh processes, after one that writes the bytecode."""
    given = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"} | {"PYTHONPYCACHEPREFIX": bytecode}
    told = [subprocess.run([sys.executable, "-c", code, argument], check=True, capture_output=True, text=True, env=given).stdout.split() for _ in range(runs + 1)]
    return tuple(statistics.median(map(float, column)) for column in zip(*told[1:], strict=True))


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
        print(f"{name:<22}{1000 * wall:7.1f} ms {1000 * busy:9.1f} ms   ratio {wall / empty:6.1f}, by the processor {busy / empty_busy:6.1f}" + ("" if name == "set, all new" else "  (want <= 20)"))
    print_first(job, settings)


def print_first(job: object, settings: object) -> None:
    """Print the first set of a fresh process beside its first empty compile."""
    with tempfile.TemporaryDirectory() as made:
        kept = Path(made) / "job"
        kept.write_bytes(pickle.dumps((job, settings)))
        times = {
            "first empty compile": first_time(FIRST_EMPTY, "same fonts", made), "... as typst comes": first_time(FIRST_EMPTY, "", made), "first set": first_time(FIRST_SET, str(kept), made),
        }
    for name, (wall, busy) in times.items():
        print(f"{name:<22}{1000 * wall:7.1f} ms {1000 * busy:9.1f} ms", end="   ratio" if name == "first set" else "\n")
    wall, busy = times.pop("first set")
    print(" and".join(f" {wall / empty:6.1f}, by the processor {busy / empty_busy:6.1f}" for empty, empty_busy in times.values()))


def made_anew(job: object, settings: object, turn: int, *, every: bool = False) -> None:
    """Make the set with a mark in its subtitle and hash, or in every text and drawing, so that what was laid out before cannot serve again."""
    from borewright.drawing import living
    from borewright.papers import PAPERS, make, paper_pdf

    mark = "".join(chr(97 + turn // 26**place % 26) for place in (1, 0))
    told = make._data
    if every:
        living._KEPT.clear()
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
        return value.replace("</desc>", f"{mark}</desc>", 1).replace("</text>", f"{mark}</text>")
    return value + mark if isinstance(value, str) and value and key in ("text", "rows", "items", "head", "message", "caption", "title", "subtitle", "foot") else value


if __name__ == "__main__":
    main()
