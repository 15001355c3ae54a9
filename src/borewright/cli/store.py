"""`borewright backup`, `restore`, `check` and `where`: keep what was written, prove it, and bring it back."""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def add_backup(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `backup`."""
    parser.add_argument("file", nargs="?", type=Path, help="the zip to write; none puts one with the date in the backups folder")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    parser.add_argument("--if-due", action="store_true", help="make the backup of the day if there is none yet, and remove old ones")
    _add_json(parser)


def run_backup(arguments: argparse.Namespace) -> int:
    """Write a backup that has been read back."""
    from borewright.errors import BadInput
    from borewright.storage import backup_if_due, data_folder, load_settings, open_job_book

    if arguments.if_due and arguments.file:
        raise BadInput("file", str(arguments.file), "does not go with --if-due", "one of the two")
    with open_job_book() as book:
        if arguments.if_due:
            path = backup_if_due(book, keep_days=load_settings(book.folder).keep_backups)
        else:
            path = book.backup(arguments.file or data_folder("backups"), replace=arguments.replace)
    said = "The backup of the day is there already." if path is None else f"Backed up and read back: {path} ({path.stat().st_size:,} bytes)"
    _say(arguments, {"file": str(path) if path else None}, said)
    return 0


def add_restore(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `restore`."""
    parser.add_argument("file", type=Path, help="a backup")
    parser.add_argument("--replace", action="store_true", help="set aside what the data folder holds (it is not deleted)")
    parser.add_argument("--verify", action="store_true", help="read the backup whole and restore nothing")
    _add_json(parser)


def run_restore(arguments: argparse.Namespace) -> int:
    """Verify a backup and bring it back."""
    from borewright.storage import data_folder, restore, verify_backup

    if arguments.verify:
        manifest = verify_backup(arguments.file)
        _say(arguments, {"made": manifest["made"], "files": len(manifest["files"])}, f"Whole: made {manifest['made']}, {len(manifest['files'])} files.")
        return 0
    done = restore(arguments.file, data_folder(), replace=arguments.replace)
    said = f"Restored {done.jobs} jobs, {done.entries} entries and {done.attachments} attachments to {done.folder}"
    if done.set_aside:
        said += f"\nWhat was there is now at {done.set_aside}"
    _say(arguments, {
        "folder": str(done.folder), "jobs": done.jobs, "entries": done.entries, "attachments": done.attachments, "made": done.made,
        "set_aside": str(done.set_aside) if done.set_aside else None,
    }, said)
    return 0


def add_check(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `check`."""
    parser.add_argument("--rebuild", action="store_true", help="make the list of jobs anew from the entries first")
    _add_json(parser)


def run_check(arguments: argparse.Namespace) -> int:
    """Verify everything; 1 if anything is at fault."""
    from borewright.storage import open_job_book

    with open_job_book() as book:
        report = book.check(rebuild=arguments.rebuild)
    lines = [f"fault: {problem}" for problem in report.problems] + [f"note: {note}" for note in report.notes]
    if arguments.rebuild:
        lines.append(f"The list of jobs was made anew: {report.rebuilt} jobs.")
    verdict = "Everything is as it was written." if report.ok else f"{len(report.problems)} faults."
    lines.append(f"Read {report.entries} entries of {report.jobs} jobs and {report.attachments} attachments. {verdict}")
    _say(arguments, {
        "ok": report.ok, "entries": report.entries, "jobs": report.jobs, "attachments": report.attachments, "problems": list(report.problems),
        "notes": list(report.notes), "rebuilt": report.rebuilt,
    }, "\n".join(lines))
    return 0 if report.ok else 1


def add_where(parser: argparse.ArgumentParser) -> None:
    """Declare the words of `where`."""
    _add_json(parser)


def run_where(arguments: argparse.Namespace) -> int:
    """Say where the data is kept, and nothing secret of a database named by a URL."""
    from borewright.storage import data_folder

    folder = data_folder()
    elsewhere = bool(os.environ.get("BOREWRIGHT_DATABASE"))
    said = str(folder) + ("\nThe entries are in the database that BOREWRIGHT_DATABASE names." if elsewhere else "")
    _say(arguments, {"folder": str(folder), "database": "BOREWRIGHT_DATABASE" if elsewhere else str(folder / "job_book.sqlite")}, said)
    return 0


def _say(arguments: argparse.Namespace, answer: dict, words: str) -> None:
    from borewright.cli.output import print_json

    if arguments.json:
        print_json(answer)
    else:
        print(words)
