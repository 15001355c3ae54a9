"""`borewright levels`: a logger's or a hand-kept file read as stated, set right, thinned in log time, and written for `pumptest` or kept in a job."""

from __future__ import annotations

import argparse

from borewright.errors import BadInput

__all__ = ["add_levels", "run_levels"]


_OPTIONS = {"time_column": "time", "clock_column": "clock", "value_column": "level", "decimal_mark": "decimal", "time_form": "times-are", "started_at": "started", "dips": "dip",
            "air_value_column": "air-level", "air_time_column": "air-time", "read_at": "clock-read", "set_at": "clock-set", "ahead": "clock-ahead", "file": "data"}


def add_levels(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("data", help="CSV, text or spreadsheet; title lines above the names are left out")
    parser.add_argument("--columns", action="store_true", help="only say which columns the file has, with its first rows")
    parser.add_argument("--time", metavar="COLUMN", help="column of dates and times, or of times since the start")
    parser.add_argument("--clock", metavar="COLUMN", default="", help="column of the time of day where it stands apart from the day")
    parser.add_argument("--level", metavar="COLUMN", help="column of levels")
    parser.add_argument("--times-are", default="date and time", help='"date and time", or "seconds", "minutes" or "hours" since the start')
    parser.add_argument("--date-format", default="", help='such as "%%d/%%m/%%Y %%H:%%M:%%S"; stated, not guessed: 3/4 is two days')
    parser.add_argument("--zone", default="", help="what the logger's clock kept: +10:00, UTC or Australia/Sydney (with summer time)")
    parser.add_argument("--unit", default="m", help="of the levels: m, cm, mm, ft, kPa, mbar or psi")
    parser.add_argument("--shape", default="depth to water", help='"depth to water", "drawdown", "height of water over the sensor" or "pressure with air in it"')
    parser.add_argument("--decimal", default="", help="point or comma, where the file leaves it open")
    parser.add_argument("--started", default="", help="when the pump started (or stopped, for a recovery), in that format and zone")
    parser.add_argument("--static", help='level at rest in the file\'s own terms, such as "11.2 m"; the hour before the start if not said')
    parser.add_argument("--until", help='only until so long after the start, such as "24 h"')
    parser.add_argument("--clock-set", help="when the clock was right; with --clock-read and --clock-ahead")
    parser.add_argument("--clock-read", help="when it was compared")
    parser.add_argument("--clock-ahead", type=float, help="seconds ahead then, behind with a minus")
    parser.add_argument("--dip", action="append", default=[], metavar="MOMENT;DEPTH", help="a dip by hand that sets the logger right; again for more")
    parser.add_argument("--air", metavar="FILE", default="", help="a record of air pressure over the same time")
    parser.add_argument("--air-time", metavar="COLUMN", default="", help="its column of times, if not named as in the levels")
    parser.add_argument("--air-level", metavar="COLUMN", default="", help="its column of pressures")
    parser.add_argument("--air-unit", default="kPa", help="kPa, mbar, psi or m of water")
    parser.add_argument("--air-efficiency", type=float, help="barometric efficiency, 0 to 1; found from the rest before the start if not said")
    parser.add_argument("--keep", type=int, default=400, help="readings to keep, evenly in log time")
    parser.add_argument("--out", metavar="CSV", help="write time_s,drawdown_m for `borewright pumptest`")
    parser.add_argument("--job", help="keep them in a job, with the file itself")
    parser.add_argument("--run", help="the test in that job")
    parser.add_argument("--by", default=None, help="who writes, for a job")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_levels(arguments: argparse.Namespace) -> int:
    """Read, set right, thin, and write or keep."""
    from pathlib import Path

    from borewright.cli.output import print_json
    from borewright.work.loggers import preview_file

    if arguments.columns:
        return _columns(arguments)
    for option in ("time", "level"):
        if not getattr(arguments, option):
            raise BadInput(option, "", "is not said", f"--{option} with a column's name; `borewright levels FILE --columns` lists them")
    if bool(arguments.job) != bool(arguments.run):
        raise BadInput("run" if arguments.job else "job", "", "is missing", "--job and --run together")
    try:
        picks = _picks(arguments)
        found = preview_file(arguments.data, picks)
    except BadInput as error:
        raise BadInput(_OPTIONS.get(error.field, error.field.replace("_", "-")), error.value, error.problem, error.want) from None
    if arguments.job:
        _keep(arguments, picks)
    if arguments.out:
        rows = "\n".join(f"{t:.10g},{s:.6g}" for t, s in zip(found.time.tolist(), found.drawdown.tolist(), strict=True))
        Path(arguments.out).write_text(f"time_s,drawdown_m\n{rows}\n", encoding="utf-8")
    if arguments.json:
        print_json({
            "time_s": found.time.tolist(), "drawdown_m": found.drawdown.tolist(), "rows": found.rows, "kept": int(found.time.size),
            "pump_stops": [{"stopped_s": off, "started_again_s": on} for off, on in found.stops], "source": found.source,
            "advisories": [{"code": a.code, "severity": a.severity, "message": a.message, "where": a.where} for a in found.advisories],
        })
        return 0
    from borewright.quantities import show

    print(f"{found.time.size} of {found.rows} rows kept, from {found.time[0] / 60:.4g} to {found.time[-1] / 60:.6g} minutes after the start; "
          f"the last drawdown is {show(found.drawdown[-1], 'level')}.")
    for one in found.advisories:
        print(f"{one.severity}: {one.message}")
    if arguments.out:
        print(f"written to {arguments.out}")
    if arguments.job:
        print(f"kept in test {arguments.run}")
    return 0


def _columns(arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.hydraulics.tables import read_table

    frame = read_table(arguments.data)
    rows = [["" if v is None else str(v) for v in row] for row in frame.head(5).rows()]
    if arguments.json:
        print_json({"columns": frame.columns, "rows": frame.height, "first": rows})
    else:
        print(f"{frame.height} rows")
        for name, cells in zip(frame.columns, zip(*rows, strict=True), strict=True):
            print(f"  {name}: {', '.join(cells[:3])} ...")
    return 0


def _picks(arguments: argparse.Namespace):
    from borewright.quantities import parse
    from borewright.work.loggers import Picks, dips_from

    form = arguments.times_are.strip().lower()
    form = f"{form} since the start" if form in ("seconds", "minutes", "hours") else form
    if form not in ("date and time", "seconds since the start", "minutes since the start", "hours since the start"):
        raise BadInput("times-are", arguments.times_are, "is not a way to write times", "date and time, seconds, minutes or hours")
    clock = (arguments.clock_set, arguments.clock_read, arguments.clock_ahead)
    if any(v is not None for v in clock) and any(v is None for v in clock):
        missing = next(n for n, v in zip(("clock-set", "clock-read", "clock-ahead"), clock, strict=True) if v is None)
        raise BadInput(missing, "", "is missing beside the rest of the clock's drift", "when it was set right, when compared, and seconds ahead then")
    if arguments.air and not arguments.air_level:
        raise BadInput("air-level", "", "is missing", "the column of the air pressure file that holds the pressure")
    return Picks(
        time_column=arguments.time, clock_column=arguments.clock, value_column=arguments.level, decimal_mark=arguments.decimal, time_form=form,
        date_format=arguments.date_format, zone=arguments.zone, unit=arguments.unit, shape=arguments.shape, started_at=arguments.started,
        static=None if arguments.static is None else parse(arguments.static, "level", field="static").si,
        clock=None if clock[0] is None else clock, dips=dips_from(arguments.dip), air=arguments.air, air_time_column=arguments.air_time,
        air_value_column=arguments.air_level, air_unit=arguments.air_unit, air_efficiency=arguments.air_efficiency, keep=arguments.keep,
        until=None if arguments.until is None else parse(arguments.until, "time", field="until").si)


def _keep(arguments: argparse.Namespace, picks) -> None:
    import getpass
    from dataclasses import replace
    from pathlib import Path

    from borewright.storage import open_job_book
    from borewright.work.loggers import keep_levels

    with open_job_book() as book:
        job = book.find(arguments.job)
        kept = book.attach(Path(arguments.data).read_bytes())
        if picks.air:
            picks = replace(picks, air=book.attach(Path(picks.air).read_bytes()))
        keep_levels(book, job, arguments.run, kept, picks, by=arguments.by or getpass.getuser())
