"""`borewright owner`: the years of a bore after handover, as its owner's page tells them, and readings loaded from a file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_owner", "run_owner"]


def add_owner(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", help="title, reference or id of a job whose bore is drilled")
    parser.add_argument("--readings", metavar="CSV", help='write these down first: "date,pumping_level (m),flow (L/min),electricity_meter (kWh),water_meter (kL),note"; twice the same is written once')
    parser.add_argument("--hole", type=int, default=None, help="number of the hole, the last if not said")
    parser.add_argument("--by", default=None, help="who writes; the name of the account on this machine if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON, in SI")


def run_owner(arguments: argparse.Namespace) -> int:
    """Write readings down where a file is given, and print what the years say."""
    import getpass
    import sys
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo

    from borewright.cli.output import print_json
    from borewright.storage import load_settings, open_job_book
    from borewright.work.owner import history
    from borewright.work.readings import load_readings
    from borewright.work.yearwords import energy_words, intake_words, step_words, trend_words

    with open_job_book() as book:
        job = book.job(book.find(arguments.job))
        hole = job.hole if arguments.hole is None else job.holes.get(arguments.hole)
        if hole is None:
            raise BadInput("hole", arguments.hole, "was not drilled", "a hole of the job's log" if job.holes else "a hole in the log first")
        settings = load_settings(book.folder)
        if arguments.readings:
            written, there = load_readings(book, job.id, _text(arguments.readings), by=arguments.by or getpass.getuser(), hole=hole.number, zone=ZoneInfo(settings.zone))
            print(f"{written} readings written down, {there} stood in the book already", file=sys.stderr)
            job = book.job(job.id)
            hole = job.holes[hole.number]
        told = history(job, now=datetime.now(UTC).astimezone().date(), hole=hole)
    if arguments.json:
        print_json(_plain(told))
        return 0
    system = settings.unit_system
    for one in told.series:
        print(f"{one.name} ({len(one.days)} days): {trend_words(one, system)} {step_words(one, system)}".rstrip())
        for doubt in (*(one.trend.advisories if one.trend else ()), *one.advisories):
            print(f"  {doubt.severity}: {doubt.message}")
    for words in (energy_words(told.energy, system), intake_words(told.intake, system)):
        if words:
            print(words)
    for fact in told.services:
        print(f"service {fact.body.date}: {fact.body.what}, {fact.body.by}")
    if not told.series:
        print("Nothing has been read yet.")
    return 0


def _text(path: str) -> str:
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput("readings", path, "is not text" if isinstance(error, UnicodeDecodeError) else "cannot be read", "the path of a CSV file") from None


def _plain(told: Any) -> dict[str, Any]:
    return {
        "series": [{
            "name": one.name, "kind": one.kind, "days": [d.isoformat() for d in one.days], "values": list(one.values),
            "trend": None if one.trend is None else {"tau": one.trend.tau, "p_value": one.trend.p_value, "slope_per_s": one.trend.slope, "low_per_s": one.trend.slope_low, "high_per_s": one.trend.slope_high},
            "step": None if one.step is None else {"after": one.days[one.step.after].isoformat(), "before": one.step.before, "since": one.step.since, "p_value": one.step.p_value},
            "advisories": [{"code": a.code, "severity": a.severity, "message": a.message} for a in (*(one.trend.advisories if one.trend else ()), *one.advisories)],
        } for one in told.series],
        "intake": {"state": told.intake.state, "limit": told.intake.limit, "last": told.intake.last, "likely_s": told.intake.likely, "earliest_s": told.intake.earliest},
        "energy": None if told.energy is None else {"last": told.energy.last, "chosen": told.energy.chosen, "over": told.energy.over},
        "services": [{"date": f.body.date, "what": f.body.what, "by": f.body.by} for f in told.services],
    }
