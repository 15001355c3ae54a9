"""`borewright demo`: the two invented jobs, their papers and a summary in a folder."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = ["add_demo", "run_demo"]


def add_demo(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `demo`."""
    parser.add_argument("--out", metavar="DIR", type=Path, default=Path("borewright-demo"), help="folder for the papers and the summary (default borewright-demo)")
    parser.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="size of the papers (default A4)")
    parser.add_argument("--json", action="store_true", help="print the summary as JSON")


def run_demo(arguments: argparse.Namespace) -> int:
    """Run the main job end to end; a second run finds the jobs made and only prints the papers again."""
    import sys

    from tqdm import tqdm

    from borewright.cli.output import print_json
    from borewright.demo.summary import summarise, write_papers
    from borewright.storage import data_folder, open_job_book

    bar = tqdm(total=100, bar_format="{l_bar}{bar}| {desc}", leave=False, disable=not sys.stderr.isatty())

    def tell(done: float, doing: str) -> None:
        bar.n = round(100 * done)
        bar.set_description_str(doing[:60])
        bar.refresh()

    with open_job_book() as book:
        from borewright.demo.jobs import make_demo

        make_demo(book, data_folder(), progress=lambda done, doing: tell(0.7 * done, doing))
        papers = write_papers(book, arguments.out, paper=arguments.paper, progress=lambda done, doing: tell(0.7 + 0.3 * done, doing))
        summary = summarise(book, papers, arguments.out)
    bar.close()
    if arguments.json:
        print_json(summary.as_dict())
    else:
        print(summary.text())
    return 0
