"""`borewright papers JOB`: make the documents of a job."""

from __future__ import annotations

import argparse

from borewright.errors import BadInput, Refused

__all__ = ["add_papers", "run_papers"]


def add_papers(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `papers`."""
    parser.add_argument("job", metavar="JOB", nargs="?", help="the job: its id, the start of it, its reference or title")
    parser.add_argument("--document", metavar="NAME", action="append", help='such as "bore record"; may be given more than once (default: every paper the job is ready for)')
    parser.add_argument("--paper", metavar="SIZE", help="A4 or Letter (default: the firm's setting)")
    parser.add_argument("--language", metavar="CODE", help="en or fr (default: the firm's setting)")
    parser.add_argument("--form", metavar="NAME", action="append", help="an authority's form to fill instead; may be given more than once")
    parser.add_argument("--forms", action="store_true", help="list the authorities' forms there are")
    parser.add_argument("--add-form", metavar="FOLDER", help="check a form (a folder with form.toml and form.typ or form.pdf) and add it; --replace for one that is there")
    parser.add_argument("--replace", action="store_true", help="with --add-form: write over the form of that name")
    parser.add_argument("--out", metavar="DIR", default="papers", help="folder for the PDFs (default: papers)")
    parser.add_argument("--by", default="office", help="who issues them")
    parser.add_argument("--json", action="store_true", help="print what was made as JSON")


def run_papers(arguments: argparse.Namespace) -> int:
    """Make the papers, keep in the job book that they were issued, and say where they are and what was not ready."""
    from dataclasses import replace
    from pathlib import Path

    from borewright.cli.output import print_json
    from borewright.papers import PAPERS, issue, issue_form
    from borewright.storage import load_settings, open_job_book

    if arguments.forms or arguments.add_form:
        return _forms(arguments)
    if arguments.job is None:
        raise BadInput("job", None, "is missing", "a job, --forms or --add-form FOLDER")
    wanted = arguments.document or ([] if arguments.form else list(PAPERS))
    for name in wanted:
        if name not in PAPERS:
            raise BadInput("document", name, "is not a paper", "one of " + ", ".join(PAPERS))
    if arguments.paper not in (None, "A4", "Letter"):
        raise BadInput("paper", arguments.paper, "is not a size of paper", "A4 or Letter")
    folder = Path(arguments.out)
    if folder.exists() and not folder.is_dir():
        raise BadInput("out", arguments.out, "is not a folder", "a folder, made if it is not there")
    made, waiting = [], []
    with open_job_book() as book:
        settings = load_settings()
        if arguments.language is not None:
            settings = replace(settings, language=arguments.language)
        job = book.find(arguments.job)
        for name in wanted:
            try:
                path, entry = issue(book, job, name, settings=settings, folder=folder, by=arguments.by, paper=arguments.paper)
            except Refused as refusal:
                if arguments.document:
                    raise
                waiting.append({"document": name, "problem": str(refusal)})
                continue
            made.append({"document": name, "file": str(path), "entry": str(entry.id) if entry else None})
        for name in arguments.form or ():
            path, entry = issue_form(book, job, name, settings=settings, folder=folder, by=arguments.by)
            made.append({"document": f"form: {name}", "file": str(path), "entry": str(entry.id) if entry else None})
    if arguments.json:
        print_json({"papers": made, "waiting": waiting})
        return 0
    for row in made:
        print(f"{row['document']:<14} {row['file']}")
    for row in waiting:
        print(f"{row['document']:<14} {row['problem']}")
    return 0


def _forms(arguments: argparse.Namespace) -> int:
    """Add a form, or list those there are."""
    from pathlib import Path

    from borewright.cli.output import print_json
    from borewright.papers import add_form, forms

    if arguments.add_form:
        added = add_form(Path(arguments.add_form), replace=arguments.replace)
        if not arguments.json:
            print(f"Added {added.name}: {added.title}, {len(added.fields)} fields, {len(added.tables)} tables.")
            return 0
    rows = [{"name": f.name, "title": f.title, "authority": f.authority, "template": f.template, "sample": f.sample} for f in forms()]
    if arguments.json:
        print_json({"forms": rows})
        return 0
    for row in rows:
        print(f"{row['name']:<16} {row['title']}, {row['authority']}" + (" (sample)" if row["sample"] else ""))
    return 0
