"""`borewright demand`, `borewright sun`: is this bore enough, and what the chosen pump lifts by the sun; each written down in the job."""

from __future__ import annotations

import argparse
import getpass
import re
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_demand", "add_sun", "run_demand", "run_sun"]

_SUN_UNITS = {"kWh/m2": 3.6e6, "MJ/m2": 1e6}  # J/m2 in one, a day


def _by_and_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--by", default=None, help="who writes; the name of the account on this machine if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON, in SI")


def add_demand(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", nargs="?", default="", help="title, reference or id of a job; `list` names the lines of the table")
    parser.add_argument("--of", action="append", default=[], metavar="LINE=NUMBER", help='again for more, such as "person, all household use=4"')
    parser.add_argument("--extra", metavar="VOLUME", help='other use a day, such as "200 L"')
    parser.add_argument("--dry-days", metavar="N", default="90", help="length of the dry spell, 90 if not said")
    parser.add_argument("--outage-days", metavar="N", default="3", help="days in it without a pump, 3 if not said")
    parser.add_argument("--pumping-hours", metavar="N", default="18", help="that the pump may run in a day, 18 if not said")
    parser.add_argument("--dry-yield", metavar="SHARE", default="1", help='of the rated yield that is left in it, such as "70 %%"; all if not said')
    parser.add_argument("--tank", metavar="VOLUME", help="a tank to try day by day")
    _by_and_json(parser)


def _value(text: str | None, kind: str, field: str) -> Any:
    from borewright.quantities import parse

    return None if text is None else parse(text, kind, field=field, default_unit="deg" if kind == "angle" else None).si


def _whole(text: str, field: str) -> int:
    if not re.fullmatch(r"\d{1,6}", text.strip()):
        raise BadInput(field, text, "is not a whole number", "whole days, such as 90")
    return int(text)


def _counts(lines: list[str]) -> dict[str, float]:
    """Return how many of each line of the table, from "LINE=NUMBER"."""
    found: dict[str, float] = {}
    for line in lines:
        name, said, number = line.rpartition("=")
        name = name.strip()
        if not said or not name:
            raise BadInput("of", line, "does not say a line and a number", 'such as "person, all household use=4"; `borewright demand list` names the lines')
        if name in found:
            raise BadInput("of", name, "is said twice", "each line once")
        found[name] = _value(number, "number", "of")
    return found


def run_demand(arguments: argparse.Namespace) -> int:
    """Hold what is wanted against the rated yield, write it down and print it."""
    from borewright.cli.output import print_json
    from borewright.storage import open_job_book
    from borewright.work.supply import tell_demand

    if arguments.job == "list":
        return _list_lines(arguments.json)
    if not arguments.job:
        raise BadInput("job", "", "is missing", "a job, or `list` for the lines of the table")
    numbers = _counts(arguments.of)
    with open_job_book() as book:
        entry = tell_demand(
            book, book.find(arguments.job), numbers, by=arguments.by or getpass.getuser(), extra=_value(arguments.extra, "volume", "extra") or 0.0,
            dry_days=_whole(arguments.dry_days, "dry-days"), outage_days=_whole(arguments.outage_days, "outage-days"),
            pumping_hours=_value(arguments.pumping_hours, "number", "pumping-hours"), dry_yield=_value(arguments.dry_yield, "fraction", "dry-yield"),
            tank=_value(arguments.tank, "volume", "tank"),
        )
    answer = dict(entry.body["answer"])
    if arguments.json:
        print_json(answer)
        return 0
    print(answer["sentence"])
    for line in answer["lines"]:
        print(f"  {line['number']:g} x {line['name']:<40} {1000 * line['low']:>8,.0f} to {1000 * line['high']:,.0f} L a day")
    if "tried" in answer:
        print(answer["tried"]["sentence"])
    _doubts(answer)
    return 0


def _list_lines(as_json: bool) -> int:
    from borewright.cli.output import print_json
    from borewright.pumping import demand_items

    items = demand_items()
    if as_json:
        print_json([{"name": name, "low": item.low, "high": item.high} for name, item in items.items()])
    else:
        print("\n".join(f"{name:<44} {1000 * item.low:>9,.1f} to {1000 * item.high:,.1f} L a day each" for name, item in items.items()))
    return 0


def add_sun(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", help="title, reference or id of a job whose pump is chosen by its curve")
    parser.add_argument("table", help='twelve numbers, January first, of the sun in a mean day: "6.2, 5.5, ..."')
    parser.add_argument("--unit", default="kWh/m2", help=f"of the table, a day: {' or '.join(_SUN_UNITS)}; kWh/m2 if not said")
    parser.add_argument("--tilt", metavar="DEGREES", help="of the panels from flat; the table is then of the flat, else of the plane of the panels")
    parser.add_argument("--azimuth", metavar="DEGREES", help="true bearing that they face; the equator if not said")
    parser.add_argument("--reflectance", metavar="SHARE", help="of the ground before the panels, with a tilt; 20 %% if not said")
    parser.add_argument("--latitude", metavar="DEGREES", help="of the bore's place if not said; south below nought")
    parser.add_argument("--panel-power", metavar="POWER", help="rated; the least that serves if not said")
    parser.add_argument("--demand", metavar="VOLUME", help="wanted in a day; that of the job if not said")
    parser.add_argument("--cloudy-days", metavar="N", default="3", help="that the tank is to carry without sun, 3 if not said")
    parser.add_argument("--losses", metavar="SHARE", default="20 %", help="to heat, dust and wire, 20 %% if not said")
    _by_and_json(parser)


def _months(text: str, unit: str) -> list[float]:
    """Return the twelve months [J/m2 a day]."""
    if unit not in _SUN_UNITS:
        raise BadInput("unit", unit, "is not a unit of sun", " or ".join(_SUN_UNITS))
    parts = [p for p in re.split(r"[,;\s]+", text) if p]
    if len(parts) != 12:
        raise BadInput("table", text[:80], f"holds {len(parts)} numbers", "twelve numbers, January first")
    numbers = [_value(part, "number", "table") for part in parts]
    for number in numbers:
        if not 0 <= number * _SUN_UNITS[unit] <= 45e6:
            raise BadInput("table", number, "is not a day's sun", f"0 to {45e6 / _SUN_UNITS[unit]:.3g} {unit}")
    return [number * _SUN_UNITS[unit] for number in numbers]


def run_sun(arguments: argparse.Namespace) -> int:
    """Work out what the panels lift in each month, write it down and print it."""
    from borewright.cli.output import print_json
    from borewright.storage import open_job_book
    from borewright.work.supply import MONTHS, tell_sun

    months = _months(arguments.table, arguments.unit)
    stand = {name: _value(getattr(arguments, name), kind, name) for name, kind in (("tilt", "angle"), ("azimuth", "angle"), ("reflectance", "fraction"), ("latitude", "angle"))}
    with open_job_book() as book:
        entry = tell_sun(
            book, book.find(arguments.job), months, by=arguments.by or getpass.getuser(), panel_power=_value(arguments.panel_power, "power", "panel-power"),
            demand=_value(arguments.demand, "volume", "demand"), cloudy_days=_whole(arguments.cloudy_days, "cloudy-days"), losses=_value(arguments.losses, "fraction", "losses"),
            **{name: value for name, value in stand.items() if value is not None},
        )
    answer = dict(entry.body["answer"])
    if arguments.json:
        print_json(answer)
        return 0
    print(answer["sentence"])
    print("\n".join(f"  {name:<10} {1000 * lifted:>8,.0f} L a day" for name, lifted in zip(MONTHS, answer["daily"], strict=True)))
    _doubts(answer)
    return 0


def _doubts(answer: dict[str, Any]) -> None:
    for advisory in answer.get("advisories", ()):
        print(f"{advisory['severity']}: {advisory['message']}")
