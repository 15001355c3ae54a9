"""`borewright photo JOB`: add photos with the place and time that they carry, list them, or write them out, bare or whole."""

from __future__ import annotations

import argparse
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_photo", "run_photo"]


def add_photo(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", metavar="JOB", help="the job: its id, the start of it, its reference or title")
    parser.add_argument("files", metavar="FILE", nargs="*", help="JPEG, PNG or WebP to add; without one the photos of the job are listed")
    parser.add_argument("--hole", type=int, help="number of the hole (default: the last)")
    parser.add_argument("--depth", help='below ground, what the photo shows, such as "38.4 m"')
    parser.add_argument("--caption", default="", help="what there is to see")
    parser.add_argument("--by", default="office", help="who writes it")
    parser.add_argument("--out", metavar="DIR", help="write the job's photos into a folder: the picture alone, without place, clock, device or owner")
    parser.add_argument("--whole", action="store_true", help="with --out: the files as they came, with all that they tell")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_photo(arguments: argparse.Namespace) -> int:
    """Add photos, all of them or none; or list or write out those there are."""
    from borewright.cli.output import print_json
    from borewright.storage import load_settings, open_job_book
    from borewright.work.photos import attach_photos, photo_list, write_photos

    if arguments.whole and not arguments.out:
        raise BadInput("whole", True, "says how photos are written out", "--out DIR with it")
    if arguments.out and arguments.files:
        raise BadInput("out", arguments.out, "writes photos out, and files to add are named", "one of the two")
    with open_job_book() as book:
        job = book.find(arguments.job)
        if arguments.files:
            attach_photos(
                book, job, arguments.files, by=arguments.by, hole=arguments.hole, depth=_depth(arguments.depth), caption=arguments.caption, zone=load_settings().zone,
            )
        rows = photo_list(book, job)
        if arguments.out:
            rows = write_photos(book, job, arguments.out, whole=arguments.whole)
        elif arguments.files:
            rows = rows[-len(arguments.files):]
    if arguments.json:
        print_json({"photos": rows})
        return 0
    for row in rows:
        print(_line(row))
    if not rows:
        print("no photos in this job")
    return 0


def _depth(text: str | None) -> float | None:
    from borewright.quantities import parse

    return None if text is None else parse(text, "depth").si


def _line(row: dict[str, Any]) -> str:
    place = f"{row['latitude']:.5f},{row['longitude']:.5f}" if row["latitude"] is not None else "no place"
    if row["place_of"] == "phone":
        place += " (place of the phone, not of the picture)"
    depth = f"{row['depth_m']:g} m" if row["depth_m"] is not None else "no depth"
    return "  ".join(p for p in (row["at"], f"hole {row['hole']}", depth, place, row["caption"], row.get("file", "")) if p)
