"""Time of a full set of papers for a job against one empty typst compile in the same run: want at most 20.

    python bench/papers.py

The job is the invented one of the tests, with every stage filled in. All are measured in turn, warm, so that typst remembers what it
laid out before, as it does in a running program. The last two lines are the set with its subtitle and hash new, as after one more
entry, and with every text new, as the first set of a job is; no wish is set for them.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))


def medians_in_turn(works: dict[str, Callable[[], object]], runs: int = 9) -> dict[str, float]:
    """Return the median wall time of each work [s], all taken in turn, after two rounds that warm caches."""
    times: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(runs + 2):
        for name, work in works.items():
            start = time.perf_counter()
            work()
            if turn > 1:
                times[name].append(time.perf_counter() - start)
    return {name: statistics.median(each) for name, each in times.items()}


def main() -> None:
    """Print each paper's median, the sum, and the ratio to an empty compile with the same fonts."""
    import made_jobs
    import typst

    from borewright.drawing import font_folder
    from borewright.papers import PAPERS, paper_pdf
    from borewright.storage import Settings

    job, settings = made_jobs.built().job(), Settings(firm="Hollow Reed Bores (invented)")
    works: dict[str, Callable[[], object]] = {"empty typst compile": lambda: typst.compile(b"", font_paths=[str(font_folder())], ignore_system_fonts=True, format="pdf")}
    works |= {name: lambda name=name: paper_pdf(job, name, settings=settings) for name in PAPERS}
    took = medians_in_turn(works)
    empty = took.pop("empty typst compile")
    print(f"empty typst compile {1000 * empty:8.1f} ms")
    for name, seconds in took.items():
        print(f"{name:<19} {1000 * seconds:8.1f} ms")
    total = sum(took.values())
    print(f"{'all':<19} {1000 * total:8.1f} ms\nratio               {total / empty:8.2f}  (want <= 20)")
    rounds = iter(range(1000))
    for name, every in (("one entry more", False), ("every text new", True)):
        seconds = medians_in_turn({name: lambda every=every: made_anew(job, settings, next(rounds), every=every)}, runs=3)[name]
        print(f"{name:<19} {1000 * seconds:8.1f} ms\nratio               {seconds / empty:8.2f}")


def made_anew(job: object, settings: object, turn: int, *, every: bool) -> None:
    """Make the set with a mark in its subtitle and hash, or in every text, so that what was laid out before cannot serve again."""
    from borewright.papers import PAPERS, make, paper_data

    mark = "abcdefghijklmnopqrstuvwxyz"[turn % 26]
    for name in PAPERS:
        data = paper_data(job, name, settings=settings)
        data = marked(data, mark) if every else data | {"subtitle": data["subtitle"] + mark, "hash": data["hash"] + mark, "hash_shown": data["hash_shown"] + mark}
        make._set(data, None, make._STANDARDS, {})


def marked(value: object, mark: str, key: str = "") -> object:
    """Return data with a mark behind every text that a reader sees."""
    if isinstance(value, dict):
        return {k: marked(v, mark, k) for k, v in value.items()}
    if isinstance(value, list):
        return [marked(v, mark, key) for v in value]
    return value + mark if isinstance(value, str) and value and key in ("text", "rows", "items", "head", "message", "caption", "title", "subtitle", "foot") else value


if __name__ == "__main__":
    main()
