"""`borewright testplan`, `effects`: before a pumping test, and what pumping does to bores and streams nearby."""

from __future__ import annotations

import argparse
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_effects", "add_testplan", "run_effects", "run_testplan"]

_PLAN = {"flow": "flow", "drawdown": "length", "available": "length", "need": "flow", "static": "level", "bore_radius": "length", "casing_radius": "length", "edge": "length", "step_length": "time"}
_NAMES = {"drawdown": "drawdown_then", "static": "static_level", "edge": "boundary_distance"}


def add_testplan(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", nargs="?", help="a job: what is not said is taken from it, and the plan is written down; with none, everything is said")
    parser.add_argument("--flow", help='flow pumped or lifted before, such as "20 L/min"')
    parser.add_argument("--drawdown", help="the drawdown that it made")
    parser.add_argument("--available", help="from the level at rest to the guard")
    parser.add_argument("--need", help="flow wanted")
    parser.add_argument("--static", help="level at rest")
    parser.add_argument("--bore-radius", help="radius of the hole")
    parser.add_argument("--casing-radius", help="inside radius of the casing")
    parser.add_argument("--storativity", type=float, help="a guess, 0.0005 if not said")
    parser.add_argument("--edge", help="distance of an edge or stream that the test should reach")
    parser.add_argument("--step-length", help="length of a step, 1 h if not said")
    parser.add_argument("--by", default=None, help="who writes, for a job")
    parser.add_argument("--json", action="store_true", help="answer as JSON, SI")


def run_testplan(arguments: argparse.Namespace) -> int:
    """Plan a test and print it; for a job, write it down."""
    from borewright.cli.output import print_json
    from borewright.quantities import parse

    given: dict[str, float] = {}
    for option, kind in _PLAN.items():
        text = getattr(arguments, option)
        if text is not None:
            given[_NAMES.get(option, option)] = parse(text, kind, field=option.replace("_", "-")).si
    if arguments.storativity is not None:
        given["storativity"] = arguments.storativity
    plan = _plan(arguments, given)
    if arguments.json:
        print_json(plan)
        return 0
    from borewright.quantities import show

    expected = plan["expected_drawdown"]
    print(f"Steps of {show(plan['step_length'], 'time')}: {', '.join(show(s['rate'], 'flow') for s in plan['steps'])}.")
    print(f"Then rest, then {show(plan['rate'], 'flow')} for {show(plan['duration'], 'time')}, and as long again of recovery.")
    print(f"Drawdown to expect: {show(expected['middle'], 'length')} ({show(expected['low'], 'length')} to {show(expected['high'], 'length')}).")
    most = max(plan["rate"], *(s["rate"] for s in plan["steps"]))
    print(f"Pump: up to {show(most, 'flow')} from {show(plan['lowest_pumping_level'], 'level')} below ground, and a valve to hold the least step, {show(min(s['rate'] for s in plan['steps']), 'flow')}.")
    print(f"Read by hand at (minutes): {', '.join(f'{t / 60:g}' for t in plan['reading_times'])}.")
    for reason in plan["reasons"]:
        print(f"- {reason}")
    for one in plan["advisories"]:
        print(f"{one['severity']}: {one['message']}")
    if arguments.job:
        print('written down; `borewright papers JOB --document "field sheet"` prints the sheet')
    return 0


def _plan(arguments: argparse.Namespace, given: dict[str, float]) -> dict[str, Any]:
    options = {v: k for k, v in _NAMES.items()}

    def renamed(error: BadInput) -> BadInput:
        return BadInput(options.get(error.field, error.field).replace("_", "-"), error.value, error.problem, error.want)

    if arguments.job:
        import getpass

        from borewright.storage import open_job_book
        from borewright.work.planning import keep_plan

        with open_job_book() as book:
            job = book.find(arguments.job)
            try:
                return dict(keep_plan(book, job, given, by=arguments.by or getpass.getuser()).body["plan"])
            except BadInput as error:
                raise renamed(error) from None
    from borewright.hydraulics import plan_as_dict, plan_test

    for name in ("flow", "drawdown_then", "available", "need", "static_level", "bore_radius", "casing_radius"):
        if name not in given:
            raise renamed(BadInput(name, None, "is missing", "a value with its unit, or a job that says it"))
    try:
        return plan_as_dict(plan_test(**given))
    except BadInput as error:
        raise renamed(error) from None


def add_effects(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", help="a job with a fitted test, or with --rate and --transmissivity")
    parser.add_argument("--neighbour", action="append", metavar="NAME:DISTANCE", help='a bore nearby, such as "Lot 9: 400 m"; again for more')
    parser.add_argument("--stream", help='distance of a stream, such as "600 m"')
    parser.add_argument("--rate", help="mean flow pumped; the rated flow if not said")
    parser.add_argument("--transmissivity", type=float, help="m2/d; from the fit if not said")
    parser.add_argument("--storativity", type=float, help="from the fit of another bore, else a guess that is said")
    parser.add_argument("--allowed", help="drawdown that the neighbours can bear")
    parser.add_argument("--pumped-for", help="how long in a year, if not all of it")
    parser.add_argument("--json", action="store_true", help="answer as JSON, SI")


def run_effects(arguments: argparse.Namespace) -> int:
    """Work out falls of level at neighbours and water taken from a stream, and print."""
    from borewright.cli.output import print_json
    from borewright.quantities import parse, show
    from borewright.storage import open_job_book
    from borewright.work.effects import TIMES, effects_of

    given: dict[str, Any] = {k: getattr(arguments, k) for k in ("transmissivity", "storativity") if getattr(arguments, k) is not None}
    for name, option, kind in (("rate", "rate", "flow"), ("stream_distance", "stream", "length"), ("allowed", "allowed", "length"), ("pumped_for", "pumped_for", "time")):
        text = getattr(arguments, option)
        if text is not None:
            given[name] = parse(text, kind, field=option.replace("_", "-")).si
    rows = []
    for word in arguments.neighbour or ():
        name, colon, distance = word.rpartition(":")
        if not colon or not name.strip():
            raise BadInput("neighbour", word, "is not NAME:DISTANCE", 'such as "Lot 9: 400 m"')
        rows.append({"name": name.strip(), "distance": parse(distance, "length", field="neighbour").si})
    given["neighbours"] = rows
    with open_job_book() as book:
        answer = effects_of(book.job(book.find(arguments.job)), given, TIMES)
    if arguments.json:
        print_json(answer | {"times": [{"name": name, "time_s": time} for name, time in TIMES]})
        return 0
    print(f"Pumping {show(answer['rate'], 'flow')}; transmissivity {answer['transmissivity'] * 86400:.3g} m2/d, storativity {answer['storativity']:.2g}{' (a guess)' if answer['storativity_guessed'] else ''}.")
    for row in answer["rows"]:
        falls = ", ".join(f"{name} {show(fall, 'length')}" for (name, _), fall in zip(TIMES, row["drawdown"], strict=True))
        held = "" if row["within"] is None else "; within what it can bear" if row["within"] else "; MORE than it can bear"
        print(f"{row['name']}, {show(row['distance'], 'length')} off: falls {falls}{held}")
    for row in answer.get("stream", ()):
        print(f"stream after {row['name']}: {row['share']:.0%} of the pumping, {show(row['rate'], 'flow')}")
    for one in answer["advisories"]:
        print(f"{one['severity']}: {one['message']}")
    return 0
