"""`borewright export` and `borewright import`: bores and books in open formats."""

from __future__ import annotations

import argparse
import getpass
import re
import shutil
import sys
import tempfile
from pathlib import Path

from borewright.errors import BadInput

FORMATS = ("csv", "geojson", "gwml2", "gpkg", "waterml", "ics", "archive")


def add_export(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `export`."""
    parser.add_argument("job", help="title, reference or id (or the beginning or end of one); `all` for every job")
    parser.add_argument("--format", required=True, choices=FORMATS, help="csv, geojson, gpkg and archive hold many bores, gwml2 and waterml one, ics a season")
    parser.add_argument("--out", metavar="FILE", help="where to write; - is standard output; none names the file after the job, in this folder")
    parser.add_argument("--hole", type=int, metavar="N", help="only this hole of the job")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_export(arguments: argparse.Namespace) -> int:
    """Write a job, or every job."""
    from borewright.cli.output import print_json
    from borewright.exchange import FORMATS as known
    from borewright.exchange import write_jobs
    from borewright.storage import open_job_book

    plain = arguments.out == "-"
    if arguments.json and plain:
        raise BadInput("out", "-", "does not go with --json", "one of the two")
    with open_job_book() as book, tempfile.TemporaryDirectory() as aside:
        jobs = [line.id for line in book.jobs()] if arguments.job == "all" else [book.find(arguments.job)]
        if not jobs:
            raise BadInput("job", "all", "names no job: the book is empty", "a book with jobs")
        name = "all" if arguments.job == "all" else _file_name(book.job(jobs[0]).title)
        path = Path(aside) / "out" if plain else Path(arguments.out or name + known[arguments.format][0])
        if path.exists() and not arguments.replace:
            raise BadInput("out", str(path), "is there already", "another name, or --replace")
        if not path.parent.is_dir():
            raise BadInput("out", str(path), "lies in a folder that is not there", "a folder that is there")
        size = write_jobs(book, jobs, arguments.format, path, hole=arguments.hole)
        if plain:
            with path.open("rb") as stream:
                shutil.copyfileobj(stream, sys.stdout.buffer)
            sys.stdout.buffer.flush()
            return 0
    if arguments.json:
        print_json({"file": str(path), "format": arguments.format, "jobs": [str(j) for j in jobs], "bytes": size})
    else:
        print(f"Wrote {path}: {len(jobs)} {'job' if len(jobs) == 1 else 'jobs'}, {known[arguments.format][2]}, {size:,} bytes")
    return 0


def _file_name(title: str) -> str:
    return re.sub(r"[^\w.-]+", "-", title, flags=re.ASCII).strip("-.").lower()[:60] or "job"


def add_import(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `import`."""
    parser.add_argument("file", type=Path, help="CSV set or table of bores, GeoJSON, GeoPackage, GroundWaterML 2.2, WaterML 2.0 levels, or an archive; found by content")
    parser.add_argument("--by", default="", help="who brings it in (default: the name you are logged in with)")
    parser.add_argument("--dry-run", action="store_true", help="read and check the file, and write nothing")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_import(arguments: argparse.Namespace) -> int:
    """Bring a file in, whole or not at all."""
    from borewright.cli.output import print_json
    from borewright.exchange import bring_in
    from borewright.storage import open_job_book

    with open_job_book() as book:
        done = bring_in(book, arguments.file, by=arguments.by or _user(), dry_run=arguments.dry_run)
    if arguments.json:
        print_json({"format": done.format, "jobs": [str(j) for j in done.jobs], "entries": done.entries, "fresh": done.fresh,
                    "attachments": done.attachments, "written": not arguments.dry_run})
        return 0
    held = f"{len(done.jobs)} {'job' if len(done.jobs) == 1 else 'jobs'}, {done.entries} entries, {done.attachments} attachments ({done.format})"
    print(f"Sound: {held}. Nothing was written." if arguments.dry_run else f"Read in: {held}; {done.fresh} entries were new.")
    return 0


def _user() -> str:
    try:
        return getpass.getuser() or "import"
    except (OSError, KeyError):
        return "import"
