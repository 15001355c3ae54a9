"""`borewright jobs`: list jobs, show one, start one, read its history, write an entry."""

from __future__ import annotations

import argparse
import getpass
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput

if TYPE_CHECKING:
    from borewright.record import Entry, Job


def add_jobs(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    verbs = parser.add_subparsers(dest="verb", metavar="list|show|start|history|write|strike")
    listing = verbs.add_parser("list", help="every job in one line, the one written to last first")
    show = verbs.add_parser("show", help="one job as it stands")
    start = verbs.add_parser("start", help="open a job")
    history = verbs.add_parser("history", help="every entry of a job, struck-out ones with a line through them")
    write = verbs.add_parser("write", help="write one entry, such as: write LOT7 rig.struck depth=\"34 m\"")
    strike = verbs.add_parser("strike", help="rule a line through an entry; it stays readable in the history")
    for one in (show, history, write, strike):
        one.add_argument("job", help="title, reference or id (or the beginning or end of one)")
    start.add_argument("title")
    start.add_argument("--reference", default="", help="the firm's own number for the job")
    start.add_argument("--customer", help="the customer's name")
    start.add_argument("--phone", default="", help="the customer's telephone")
    start.add_argument("--need", help='flow needed, such as "15 L/min"')
    start.add_argument("--daily", help='volume needed in a day, such as "4 kL"')
    start.add_argument("--use", default="house", help="house, stock, garden, irrigation, industry or other")
    start.add_argument("--at", metavar="LAT,LON", help="where, in degrees; south and west negative")
    write.add_argument("kind", help="such as rig.struck")
    write.add_argument("values", nargs="*", metavar="field=value", help='such as depth="34 m"; a value that begins with [ or { is JSON, @PATH attaches a file')
    write.add_argument("--strikes-out", metavar="ENTRY", help="the entry that this one corrects")
    strike.add_argument("entry", help="the entry's id, or the beginning or end of it as history shows it")
    strike.add_argument("--why", default="", help="the reason")
    for one in (start, write, strike):
        one.add_argument("--by", default=None, help="who writes; the name of the account on this machine if not said")
    for one in (listing, show, start, history, write, strike):
        one.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="answer as JSON, in SI")
    parser.add_argument("--json", action="store_true", help="answer as JSON, in SI")


def run_jobs(arguments: argparse.Namespace) -> int:
    """Do what the verb says; without one, list."""
    from borewright.storage import open_job_book

    with open_job_book() as book:
        return _VERBS[arguments.verb or "list"](book, arguments)


def _list(book, arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.quantities import show

    lines = book.jobs()
    if arguments.json:
        print_json([
            {"id": str(j.id), "title": j.title, "reference": j.reference, "customer": j.customer, "stage": j.stage, "outcome": j.outcome,
             "updated": j.updated.isoformat(), "latitude": j.latitude, "longitude": j.longitude, "depth": j.depth, "flow": j.flow,
             "entries": j.entries}
            for j in lines
        ])
        return 0
    if not lines:
        print('No jobs yet. borewright jobs start "Lot 7 orchard house" --need "15 L/min" --at -27.5,152.9')
    system = _system(book)
    for j in lines:
        print(f"{j.id.hex[-6:]}  {j.title[:36]:<36}  {j.customer[:20]:<20}  {j.stage:<8} {j.outcome:<9} "
              f"{show(j.depth, 'depth', system=system):>8} {show(j.flow, 'flow', system=system):>10}")
    return 0


def _show(book, arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json

    job = book.job(book.find(arguments.job))
    if arguments.json:
        print_json(_job_as_dict(job))
    else:
        print("\n".join(_job_in_words(job, _system(book))))
    return 0


def _job_as_dict(job: Job) -> dict[str, Any]:
    def body(fact) -> dict[str, Any] | None:
        return None if fact is None else fact.body.model_dump(mode="json")

    return {
        "id": str(job.id), "title": job.title, "stage": job.stage, "outcome": job.outcome, "customer": body(job.customer), "need": body(job.need),
        "site": body(job.site), "spots": [body(f) for f in job.spots.values()], "quotes": len(job.quotes), "accepted": body(job.accepted),
        "holes": [
            {"hole": h.number, "depth": h.depth, "flow": h.last_flow.body.flow if h.last_flow else None,
             "strikes": [{"depth": depth, "yield": flow} for depth, flow in h.strike_yields()], "ground": [body(f) for f in h.ground],
             "casings": [body(f) for f in h.casings], "levels": [body(f) for f in h.levels], "stopped": body(h.stopped),
             "sealed_off": body(h.sealed_off)}
            for _, h in sorted(job.holes.items())
        ],
        "papers": [body(f) for f in job.papers], "entries": len(job.history), "unknown": len(job.unknown),
    }


def _job_in_words(job: Job, system: str) -> list[str]:
    from borewright.quantities import show

    lines = [f"{job.title}  ({job.id})", f"stage    {job.stage}, {job.outcome}"]
    if job.customer:
        lines.append(f"customer {job.customer.body.name}  {job.customer.body.phone}".rstrip())
    if job.need:
        lines.append(f"need     {show(job.need.body.flow, 'flow', system=system)} for {job.need.body.use}")
    place = job.spot or job.site
    if place:
        lines.append(f"where    {place.body.latitude:.6f}, {place.body.longitude:.6f}")
    if job.quotes:
        lines.append(f"quotes   {len(job.quotes)}{', accepted' if job.accepted else ''}")
    for number, hole in sorted(job.holes.items()):
        flow = show(hole.last_flow.body.flow, "flow", system=system) if hole.last_flow else "no flow measured"
        lines.append(f"hole {number}   {show(hole.depth, 'depth', system=system)} deep, {flow}")
        lines += [f"  ground {show(f.body.from_depth, 'depth', system=system)} to {show(f.body.to_depth, 'depth', system=system)}: {f.body.words}"
                  for f in hole.ground]
        lines += [f"  water struck at {show(depth, 'depth', system=system)}" + (f", {show(flow, 'flow', system=system)}" if flow is not None else "")
                  for depth, flow in hole.strike_yields()]
        lines += [f"  {f.body.string} casing {show(f.body.outside_diameter, 'diameter', system=system)}, "
                  f"{show(f.body.from_depth, 'depth', system=system)} to {show(f.body.to_depth, 'depth', system=system)}"
                  f"{', slotted' if f.body.slotted else ''}" for f in hole.casings]
        if hole.stopped:
            lines.append(f"  stopped at {show(hole.stopped.body.depth, 'depth', system=system)}: {hole.stopped.body.reason}")
    lines += [f"paper    {f.body.document}  {f.body.sha256[:12]}" for f in job.papers]
    struck = sum(striker is not None for _, striker in job.history)
    lines.append(f"entries  {len(job.history)}" + (f", {struck} struck out" if struck else ""))
    if job.unknown:
        lines.append(f"         {len(job.unknown)} that this version cannot read, kept as they are")
    return lines


def _start(book, arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.quantities import parse
    from borewright.work.enquiry import open_job

    customer = {"name": arguments.customer, "phone": arguments.phone} if arguments.customer else None
    need = None
    if arguments.need:
        flow = parse(arguments.need, "flow", field="need")
        need = {"flow": flow.si, "use": arguments.use, "typed": {"flow": flow.text}}
        if arguments.daily:
            daily = parse(arguments.daily, "volume", field="daily")
            need |= {"daily_volume": daily.si, "typed": {"flow": flow.text, "daily_volume": daily.text}}
    elif arguments.daily:
        raise BadInput("need", None, "is missing beside --daily", 'a flow such as --need "15 L/min"')
    job = open_job(
        book, arguments.title, by=_who(arguments), reference=arguments.reference, customer=customer, need=need,
        site=_place(arguments.at) if arguments.at else None,
    )
    if arguments.json:
        print_json({"id": str(job), "title": arguments.title})
    else:
        print(f"Opened {arguments.title!r} as {job}. borewright jobs show {job.hex[-6:]}")
    return 0


def _place(text: str) -> dict[str, Any]:
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError:
        raise BadInput("at", text, "is not a latitude and a longitude", "two numbers in degrees such as -27.5,152.9") from None
    return {"latitude": latitude, "longitude": longitude, "typed": {"latitude": text.split(",")[0], "longitude": text.split(",")[1]}}


def _history(book, arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.record import entry_to_json

    job = book.job(book.find(arguments.job))
    if arguments.json:
        print_json([entry_to_json(entry) | {"struck_out_by": str(striker.id) if striker else None} for entry, striker in job.history])
        return 0
    for entry, striker in job.history:
        line = f"{entry.id.hex[-8:]}  {entry.at.isoformat(timespec='minutes')}  {entry.by:<10} {entry.kind:<18} {_in_short(entry)}"
        if striker is None:
            print(f"  {line}")
        else:
            why = striker.body.get("why", "")
            print(f"× {line}\n    struck out by {striker.by} at {striker.at.isoformat(timespec='minutes')}" + (f": {why}" if why else ""))
    return 0


def _in_short(entry: Entry) -> str:
    typed = entry.body.get("typed", {})
    parts = [f"{name}={typed.get(name, value)}" for name, value in entry.body.items() if name != "typed" and not isinstance(value, (dict, list))]
    parts += [f"{name}=…" for name, value in entry.body.items() if name != "typed" and isinstance(value, (dict, list)) and value]
    return " ".join(parts)


def _write(book, arguments: argparse.Namespace) -> int:
    from borewright.record.typed import body_as_typed

    job = book.find(arguments.job)
    given = {}
    for word in arguments.values:
        name, equals, value = word.partition("=")
        if not equals:
            raise BadInput("values", word, "is not field=value", 'words such as depth="34 m"')
        name = name.strip().replace("-", "_")
        given[name] = _attached(book, name, value[1:]) if value.startswith("@") else value
    strikes_out = _entry_named(book, job, arguments.strikes_out).id if arguments.strikes_out else None
    entry = book.write(job, arguments.kind, body_as_typed(arguments.kind, given), by=_who(arguments), strikes_out=strikes_out)
    return _wrote(entry, arguments)


def _attached(book, name: str, path: str) -> str:
    try:
        return book.attach(Path(path).read_bytes())
    except OSError as error:
        raise BadInput(name, path, f"cannot be read: {error.strerror or error}", "@ and the path of a file") from None


def _strike(book, arguments: argparse.Namespace) -> int:
    job = book.find(arguments.job)
    target = _entry_named(book, job, arguments.entry)
    entry = book.write(job, "struck_out", {"why": arguments.why} if arguments.why else {}, by=_who(arguments), strikes_out=target.id)
    return _wrote(entry, arguments)


def _wrote(entry: Entry, arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.record import entry_to_json

    if arguments.json:
        print_json(entry_to_json(entry))
    else:
        print(f"Wrote {entry.kind} {entry.id.hex[-8:]}: {json.dumps(dict(entry.body), ensure_ascii=False)}")
    return 0


def _entry_named(book, job, text: str) -> Entry:
    digits = text.replace("-", "").casefold()
    fitting = [e for e in book.entries(job) if len(digits) >= 4 and (e.id.hex.startswith(digits) or e.id.hex.endswith(digits))]
    if len(fitting) != 1:
        problem = "fits no entry of the job" if not fitting else f"fits {len(fitting)} entries"
        raise BadInput("entry", text, problem, "the digits that `borewright jobs history` shows")
    return fitting[0]


def _who(arguments: argparse.Namespace) -> str:
    if arguments.by is not None:
        return arguments.by
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        raise BadInput("by", None, "is missing", "--by and the name of who writes") from None


def _system(book) -> str:
    from borewright.storage import load_settings

    return load_settings(book.folder).unit_system


_VERBS = {"list": _list, "show": _show, "start": _start, "history": _history, "write": _write, "strike": _strike}
