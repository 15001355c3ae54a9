"""`borewright pumptest`, `steptest`, `slug`, `rate`: tests of a bore and the flow it can give."""

from __future__ import annotations

import argparse
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_pumptest", "add_rate", "add_slug", "add_steptest", "run_pumptest", "run_rate", "run_slug", "run_steptest"]


def add_pumptest(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("data", help="CSV: time_s,drawdown_m[,well,radius_m]; other units by the column's name (time_min, drawdown_ft)")
    parser.add_argument("--rate", help='steady pumping rate, such as "788 m3/d"')
    parser.add_argument("--rates", metavar="CSV", help="rates that change: time_s,rate_m3/d; each holds until the next")
    parser.add_argument("--stopped", help='when the pump stopped, such as "240 min"; later readings are recovery')
    parser.add_argument("--solution", action="append", help="a solution to fit, again for more; those that suit the test if not said")
    parser.add_argument("--radius", help='distance of the readings from the pumped bore, such as "30 m", where the file does not say')
    parser.add_argument("--bore-radius", help='radius of the pumped bore, such as "0.08 m"')
    parser.add_argument("--casing-radius", help="radius of the casing in which the level moves")
    parser.add_argument("--thickness", help='saturated thickness under a water table, such as "20 m": corrects for thinning')
    part = parser.add_argument_group("a bore open to part of a confined aquifer (depths below the aquifer's top)")
    part.add_argument("--open", metavar="INTERVAL", help='of the pumped bore, such as "5 m to 15 m"; needs --aquifer-thickness')
    part.add_argument("--aquifer-thickness", help='of the whole aquifer, such as "40 m"')
    part.add_argument("--anisotropy", type=float, help="vertical over level conductivity, 1 if not said; layered ground often 0.01 to 0.5 (common practice, no source)")
    part.add_argument("--observed", action="append", metavar="WELL:INTERVAL", help='where another bore is open, such as "P30: 5 m to 15 m", again for more; the whole if not said')
    many = parser.add_argument_group("several bores that pump, or two parallel edges")
    many.add_argument("--also-pumped", action="append", metavar="BORE:RATE", help='another bore that pumped meanwhile, "B2: 3 L/s" from the start on, or "B2: rates.csv"; again for more')
    many.add_argument("--places", metavar="CSV", help="where the bores stand: well,east_m,north_m; distances follow from it")
    many.add_argument("--pumped", metavar="BORE", help="which of the places is the bore of --rate")
    many.add_argument("--across", action="append", metavar="WELL:DISTANCE", help='how far a bore lies from the pumped one towards the first edge of a strip, such as "P30: 12 m"; 0 if not said')
    parser.add_argument("--robust", action="store_true", help="readings far off the curve count less")
    parser.add_argument("--confidence", type=float, default=0.9, help="of the intervals, 0.9 if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_pumptest(arguments: argparse.Namespace) -> int:
    """Read, fit and print."""
    from borewright.cli.output import print_json
    from borewright.hydraulics import fit_test, fits_as_dict, read_levels

    history = _history(arguments)
    radius = _length(arguments.radius, "radius")
    part = _part_open(arguments)
    levels, also = _placed(read_levels(arguments.data, radius=radius), arguments)
    levels = _across(_observed(levels, arguments.observed), arguments.across)
    fit = fit_test(
        levels, rate=history, part_open=part, also=also, solutions=_solutions(arguments), bore_radius=_length(arguments.bore_radius, "bore-radius"),
        casing_radius=_length(arguments.casing_radius, "casing-radius"), thickness=_length(arguments.thickness, "thickness"),
        robust=arguments.robust, confidence=arguments.confidence)
    answer = fits_as_dict(fit)
    if arguments.json:
        print_json(answer)
    else:
        print("\n".join(_fits_in_words(answer)))
    return 0


def _solutions(arguments: argparse.Namespace) -> list[str] | None:
    """Return the names given by --solution, once or often, with commas or without."""
    return None if arguments.solution is None else [word for text in arguments.solution for word in text.split(",") if word.strip()]


def _length(text: str | None, field: str) -> float | None:
    from borewright.quantities import parse

    return None if text is None else parse(text, "length", field=field).si


def _part_open(arguments: argparse.Namespace) -> Any:
    """Return how the pumped bore is open, or None where it is open to the whole aquifer."""
    from borewright.hydraulics import PartOpen

    if arguments.open is None:
        for field in ("aquifer_thickness", "anisotropy", "observed"):
            if getattr(arguments, field) is not None:
                raise BadInput("open", None, f"is missing beside --{field.replace('_', '-')}", 'the part that the pumped bore is open to, such as "5 m to 15 m"')
        return None
    if arguments.aquifer_thickness is None:
        raise BadInput("aquifer-thickness", None, "is missing beside --open", 'the thickness of the whole aquifer, such as "40 m"')
    if arguments.thickness is not None:
        raise BadInput("thickness", arguments.thickness, "does not go with --open", "one of the two: thinning under a water table, or a confined aquifer open in part")
    thickness = _length(arguments.aquifer_thickness, "aquifer-thickness")
    interval = _interval(arguments.open, "open")
    try:
        return PartOpen(thickness, interval, 1.0 if arguments.anisotropy is None else arguments.anisotropy)
    except BadInput as problem:
        field = {"screen": "open", "thickness": "aquifer-thickness"}.get(problem.field, problem.field)
        raise BadInput(field, problem.value, problem.problem, problem.want) from problem


def _interval(text: str, field: str) -> tuple[float, float]:
    """Return the top and the bottom of an interval written as "5 m to 15 m" [m]."""
    top, word, bottom = text.partition(" to ")
    if not word:
        raise BadInput(field, text, "is not an interval", 'top and bottom with their units, such as "5 m to 15 m"')
    return _length(top, field), _length(bottom, field)


def _observed(levels: list[Any], said: list[str] | None) -> list[Any]:
    """Return the readings, each with the part of the aquifer in which it was taken where that is said."""
    from dataclasses import replace

    parts = {}
    for text in said or ():
        well, colon, interval = text.rpartition(":")
        well = well.strip()
        if not colon or well not in {one.well for one in levels}:
            raise BadInput("observed", text, "names no bore of the file", "one of " + ", ".join(one.well for one in levels) + ', such as "P30: 5 m to 15 m"')
        parts[well] = _interval(interval, "observed")
    return [replace(one, observed=parts[one.well]) if one.well in parts else one for one in levels]


def _across(levels: list[Any], said: list[str] | None) -> list[Any]:
    """Return the readings, each with how far its bore lies across a strip where that is said."""
    from dataclasses import replace

    from borewright.quantities import parse

    far = {}
    for text in said or ():
        well, colon, distance = text.rpartition(":")
        if not colon or well.strip() not in {one.well for one in levels}:
            raise BadInput("across", text, "names no bore of the file", "one of " + ", ".join(one.well for one in levels) + ', such as "P30: 12 m"')
        far[well.strip()] = parse(distance, "level", field="across").si
    return [replace(one, across=far.get(one.well, 0.0)) for one in levels]


def _placed(levels: list[Any], arguments: argparse.Namespace) -> tuple[list[Any], list[Any]]:
    """Return the readings and the other bores that pumped, with their distances."""
    from borewright.hydraulics import placed, read_places, read_rates, steady_rate
    from borewright.quantities import parse

    if arguments.places is None:
        for field in ("also_pumped", "pumped"):
            if getattr(arguments, field) is not None:
                raise BadInput("places", None, f"are missing beside --{field.replace('_', '-')}", "a CSV with well,east_m,north_m")
        return levels, []
    if arguments.pumped is None:
        raise BadInput("pumped", None, "is missing beside --places", "the bore of --rate, as the places name it")
    also = {}
    for text in arguments.also_pumped or ():
        name, colon, rate = (part.strip() for part in text.partition(":"))
        if not colon or not name or name in also:
            raise BadInput("also-pumped", text, "is not BORE:RATE of another bore", 'such as "B2: 3 L/s" or "B2: rates.csv"')
        also[name] = read_rates(rate) if rate.lower().endswith((".csv", ".tsv", ".txt", ".xlsx")) else steady_rate(parse(rate, "flow", field="also-pumped").si)
    return placed(levels, read_places(arguments.places), pumped=arguments.pumped, also=also)


def _history(arguments: argparse.Namespace) -> Any:
    from borewright.hydraulics import read_rates, steady_rate
    from borewright.quantities import parse

    if (arguments.rate is None) == (arguments.rates is None):
        raise BadInput("rate", arguments.rate, "is given twice" if arguments.rate else "is missing", 'either --rate "788 m3/d" or --rates FILE.csv')
    stopped = None if arguments.stopped is None else parse(arguments.stopped, "time", field="stopped").si
    if arguments.rates is not None:
        if stopped is not None:
            raise BadInput("stopped", arguments.stopped, "does not go with --rates", "a row with rate 0 in the file of rates")
        return read_rates(arguments.rates)
    return steady_rate(parse(arguments.rate, "flow", field="rate").si, stopped_at=stopped)


def _fits_in_words(answer: dict[str, Any]) -> list[str]:
    from borewright.quantities import rounded

    lines = [answer["sentence"], ""]
    for one in answer["fits"]:
        mark = "*" if one["solution"] == answer["best"] else " "
        aicc = "–" if one["aicc"] is None else f"{one['aicc']:.1f}"
        lines.append(f"{mark} {one['title']}   AICc {aicc}   rms {rounded(one['rmse_m'], 3)} m   {one['readings']} readings")
        for key, value in one["parameters"].items():
            lines.append(f"    {key:<42} {rounded(value['value'], 4):>12}   {rounded(value['low'], 3)} to {rounded(value['high'], 3)}")
        for key, value in one["derived"].items():
            lines.append(f"    {key:<42} {rounded(value, 3):>12}")
        if one["solution"] == answer["best"]:
            lines += [f"    {a['severity']}: {a['message']}" for a in one["advisories"]]
    lines += [f"{a['severity']}: {a['message']}" for a in answer["advisories"]]
    lines += [f"{one['bore']} pumped too, {one['rate'][0]['rate_m3_per_s'] * 86400:.4g} m3/d at first; its drawdown is counted." for one in answer["also_pumped"]]
    part = answer["part_open"]
    if part is not None:
        lines.append(f"The pumped bore is open from {part['top_m']:g} to {part['bottom_m']:g} m below the top of an aquifer {part['thickness_m']:g} m thick; "
                     f"vertical over level conductivity {part['anisotropy']:g}, given and not fitted.")
    lines.append(f"Intervals hold {answer['confidence']:.0%} by profile likelihood, readings taken as independent.")
    return lines


def add_steptest(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("data", help="CSV: time_s,drawdown_m with --rates; or rate_m3/d,drawdown_m, one row for each step")
    parser.add_argument("--rates", metavar="CSV", help="the steps: time_s,rate_m3/d; each holds until the next")
    parser.add_argument("--exponent", type=float, default=2.0, help="of the loss at the bore, 2 if not said (Jacob)")
    parser.add_argument("--find-exponent", action="store_true", help="find the exponent between 1.5 and 3.5 (Rorabaugh)")
    parser.add_argument("--settle", default="60 s", help="readings this soon after a change of rate are left out")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_steptest(arguments: argparse.Namespace) -> int:
    """Read, fit and print."""
    from borewright.cli.output import print_json
    from borewright.hydraulics import fit_step_readings, fit_steps, read_levels, read_rates, read_steps, steps_as_dict
    from borewright.quantities import parse

    if not 1.0 < arguments.exponent <= 4.0:
        raise BadInput("exponent", arguments.exponent, "is not an exponent of loss", "above 1 and at most 4; Jacob takes 2")
    exponent = None if arguments.find_exponent else arguments.exponent
    if arguments.rates is None:
        rates, drawdowns = read_steps(arguments.data)
        fit = fit_steps(rates, drawdowns, exponent=exponent)
    else:
        levels = read_levels(arguments.data)[0]
        fit = fit_step_readings(levels.time, levels.drawdown, read_rates(arguments.rates), exponent=exponent,
                                settle=parse(arguments.settle, "time", field="settle").si)
    answer = steps_as_dict(fit)
    if arguments.json:
        print_json(answer)
        return 0
    from borewright.quantities import rounded, show

    b, c, p = (answer[k] for k in ("aquifer_loss_s_per_m2", "well_loss_si", "exponent"))
    print(f"drawdown = B Q + C Q^P   B {rounded(b['value'], 4)} s/m2 ({rounded(b['low'], 3)} to {rounded(b['high'], 3)})   "
          f"C {rounded(c['value'], 4)} ({rounded(c['low'], 3)} to {rounded(c['high'], 3)})   P {rounded(p['value'], 3)}")
    for step in answer["steps"]:
        print(f"  {show(step['rate_m3_per_s'], 'flow'):>12}   drawdown {rounded(step['drawdown_m'], 3)} m   the aquifer takes {step['efficiency']:.0%}")
    if answer["condition"]:
        print(f"bore: {answer['condition']} (Walton 1962, from memory)")
    for one in answer["advisories"]:
        print(f"{one['severity']}: {one['message']}")
    return 0


def add_slug(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("data", help="CSV: time_s,displacement_m (level from rest, either sign)")
    parser.add_argument("--method", default="hvorslev", help="hvorslev, bouwer-rice, cooper or underdamped")
    parser.add_argument("--casing-radius", required=True, help='radius where the level moves, such as "0.05 m"')
    parser.add_argument("--screen-radius", required=True, help="radius of the screen or hole")
    parser.add_argument("--screen-length", required=True, help="length of the screen or open hole")
    parser.add_argument("--bottom-below-water", help="foot of the screen below the level at rest (Bouwer & Rice)")
    parser.add_argument("--thickness", help="saturated thickness of the aquifer (Bouwer & Rice)")
    parser.add_argument("--initial", help="displacement at the start; the first reading if not said")
    parser.add_argument("--drainable", type=float, help="share of the filter pack that drains, 0 to 1, where the level falls through it")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_slug(arguments: argparse.Namespace) -> int:
    """Read, fit and print."""
    from borewright.cli.output import print_json
    from borewright.hydraulics import fit_slug, read_slug, slug_as_dict

    time, displacement = read_slug(arguments.data)
    lengths = {name: _length(getattr(arguments, name), name.replace("_", "-"))
               for name in ("casing_radius", "screen_radius", "screen_length", "bottom_below_water", "thickness", "initial")}
    if arguments.drainable is not None:
        lengths["drainable"] = arguments.drainable
    answer = slug_as_dict(fit_slug(time, displacement, method=arguments.method, **lengths))
    if arguments.json:
        print_json(answer)
        return 0
    from borewright.quantities import rounded

    for key, unit in (("hydraulic_conductivity_m_per_d", "m/d"), ("transmissivity_m2_per_d", "m2/d"), ("storativity", "")):
        one = answer[key]
        if one is not None:
            print(f"{key.rsplit('_m', 1)[0].replace('_', ' '):<24} {rounded(one['value'], 3)} {unit}   ({rounded(one['low'], 3)} to {rounded(one['high'], 3)})")
    for one in answer["advisories"]:
        print(f"{one['severity']}: {one['message']}")
    print("source: " + "; ".join(answer["source"]))
    return 0


def add_rate(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("target", nargs="?", help="a job, or a CSV of a pumping test; neither with --airlift")
    parser.add_argument("--rate", help='steady pumping rate of the test, such as "788 m3/d"')
    parser.add_argument("--rates", metavar="CSV", help="rates that change: time_s,rate_m3/d")
    parser.add_argument("--stopped", help="when the pump stopped")
    parser.add_argument("--solution", action="append", help="a solution to fit, again for more")
    parser.add_argument("--airlift", metavar="FLOW", help='all there is: the flow of a short airlift, such as "1.2 L/s"')
    parser.add_argument("--duration", default="1 h", help="of the airlift")
    parser.add_argument("--lifting-level", help="depth to water while lifting, if dipped")
    parser.add_argument("--air-line", help="depth of the air line")
    parser.add_argument("--static", help='depth to water at rest, such as "12.4 m"')
    parser.add_argument("--guard", help="deepest pumping level allowed: intake less its cover, main strike, or top of the slots")
    parser.add_argument("--dry-season-fall", help="how far the level at rest falls in a dry season")
    parser.add_argument("--neighbour", action="append", metavar="DISTANCE:FLOW", help='a bore that pumps, such as "300 m: 0.5 L/s"; again for more')
    parser.add_argument("--well-loss", type=float, help="C of C Q2 from a step test [s2/m5]")
    parser.add_argument("--bore-radius", help="radius of the pumped bore")
    parser.add_argument("--radius", help="distance of the readings from the pumped bore, where the file does not say")
    parser.add_argument("--hours-per-day", type=float, default=24.0, help="pumping hours a day")
    parser.add_argument("--need", help="the flow wanted: its chance of lasting ten years is told")
    parser.add_argument("--by", default=None, help="who writes, for a job")
    parser.add_argument("--json", action="store_true", help="answer as JSON, SI")


def run_rate(arguments: argparse.Namespace) -> int:
    """Rate from a job, a test file or an airlift, and print."""
    from pathlib import Path

    from borewright.cli.output import print_json

    if arguments.target is not None and arguments.airlift is None and not Path(arguments.target).is_file() and not arguments.target.lower().endswith(".csv"):
        answer = _rate_job(arguments)
    else:
        answer = _rate_given(arguments)
    if arguments.json:
        print_json(answer)
        return 0
    from borewright.quantities import show

    print(answer["sentence"])
    print(f"rests on {answer['basis']}")
    for row in answer["horizons"]:
        print(f"  {row['name']:<9} {show(row['flow'], 'flow'):>12}   band {show(row['low'], 'flow')} to {show(row['high'], 'flow')}, middle {show(row['middle'], 'flow')}")
    if answer["chance_of_need"] is not None:
        print(f"chance that the need lasts ten years: {answer['chance_of_need']:.0%}")
    for rule in answer["rules"]:
        print(f"  rule of thumb {rule['rule']:<22} {show(rule['flow'], 'flow'):>12}   {rule['note']} ({rule['source']})")
    for one in answer["advisories"]:
        print(f"{one['severity']}: {one['message']}")
    return 0


def _rate_job(arguments: argparse.Namespace) -> dict[str, Any]:
    import getpass

    from borewright.storage import open_job_book
    from borewright.work import testing

    for option in ("rate", "rates", "stopped", "solution", "static", "well_loss", "bore_radius", "radius", "need", "lifting_level", "air_line"):
        if getattr(arguments, option) is not None:
            raise BadInput(option.replace("_", "-"), getattr(arguments, option), "does not go with a job", "what the job book says of it; or a file of levels in place of the job")
    fall = _length(arguments.dry_season_fall, "dry-season-fall")
    with open_job_book() as book:
        entry = testing.rate_job(
            book, book.find(arguments.target), by=arguments.by or getpass.getuser(), dry_season_fall=fall, neighbours=_neighbours(arguments),
            hours_per_day=arguments.hours_per_day, guard_depth=_level(arguments.guard, "guard"))
    return dict(entry.body["rating"])


def _level(text: str | None, field: str) -> float | None:
    from borewright.quantities import parse

    return None if text is None else parse(text, "level", field=field).si


def _neighbours(arguments: argparse.Namespace) -> list[Any]:
    """Return the bores that pump meanwhile, each "DISTANCE:FLOW"."""
    from borewright.hydraulics import Neighbour
    from borewright.quantities import parse

    found = []
    for word in arguments.neighbour or ():
        distance, colon, flow = word.partition(":")
        if not colon:
            raise BadInput("neighbour", word, "is not DISTANCE:FLOW", 'such as "300 m: 0.5 L/s"')
        found.append(Neighbour(parse(distance, "length", field="neighbour").si, parse(flow, "flow", field="neighbour").si))
    return found


def _rate_given(arguments: argparse.Namespace) -> dict[str, Any]:
    from borewright.hydraulics import Airlift, Estimate, fit_test, rate_bore, rating_as_dict, read_levels
    from borewright.quantities import parse

    for field, value in (("static", arguments.static), ("guard", arguments.guard)):
        if value is None:
            raise BadInput(field, None, "is missing", f'--{field} with a depth below ground, such as "12.4 m"')
    bore_radius = _length(arguments.bore_radius, "bore-radius")
    if arguments.airlift is not None:
        test: Any = Airlift(parse(arguments.airlift, "flow", field="airlift").si, parse(arguments.duration, "time", field="duration").si,
                            _level(arguments.lifting_level, "lifting-level"), _level(arguments.air_line, "air-line"))
    elif arguments.target is not None:
        test = fit_test(read_levels(arguments.target, radius=_length(arguments.radius, "radius")), rate=_history(arguments),
                        solutions=_solutions(arguments), bore_radius=bore_radius)
    else:
        raise BadInput("target", None, "is missing", "a job, a CSV of a pumping test, or --airlift")
    loss = arguments.well_loss
    rating = rate_bore(
        test, static_level=_level(arguments.static, "static"), guard_depth=_level(arguments.guard, "guard"),
        dry_season_fall=_length(arguments.dry_season_fall, "dry-season-fall"), neighbours=_neighbours(arguments),
        well_loss=None if loss is None else Estimate(loss, 0.8 * loss, 1.2 * loss), hours_per_day=arguments.hours_per_day,
        need=None if arguments.need is None else parse(arguments.need, "flow", field="need").si, bore_radius=bore_radius or 0.08)
    return rating_as_dict(rating)
