"""`borewright pump`, `borewright water`: the pump for a rated bore, and an analysis held against the guidelines for its use."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_pump", "add_water", "run_pump", "run_water"]


def add_pump(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("job", help="title, reference or id of a job whose bore is rated")
    parser.add_argument("--curve", metavar="CSV", help="the pump's points: flow_lps (or flow_lpm, flow_m3h), head_m[,efficiency,npsh_m]; a generic, invented one if not said")
    parser.add_argument("--name", help="what the pump is called")
    parser.add_argument("--minimum-flow", metavar="FLOW", help="least flow that the maker allows")
    parser.add_argument("--pressure", help='wanted at the tank or tap, such as "250 kPa"')
    parser.add_argument("--tank-height", help="of the tank's inlet above ground; the site's rise if not said")
    for name in ("riser", "main"):
        parser.add_argument(f"--{name}", metavar="PIPE", help='material, outside diameter and class, such as "polyethylene 50 mm 1600 kPa"')
        parser.add_argument(f"--{name}-length", metavar="LENGTH", help="to the intake if not said" if name == "riser" else "the site's run of pipe if not said")
        parser.add_argument(f"--{name}-fittings", metavar="LIST", help='such as "check valve 1, elbow 90 2"')
    parser.add_argument("--intake", metavar="DEPTH", help="where the intake hangs; worked out if not said")
    parser.add_argument("--motor-diameter", default="96 mm", help="outside, 96 mm if not said")
    parser.add_argument("--voltage", default="230 V", help="at the board, 230 V if not said")
    parser.add_argument("--phases", default="1", help="1 or 3")
    parser.add_argument("--start", default="direct on line", help='"direct on line", "soft start" or "variable speed"')
    parser.add_argument("--cable-length", metavar="LENGTH", help="from the board to the motor")
    parser.add_argument("--price", help="of a kWh in the rate card's currency, such as 0.285")
    parser.add_argument("--further-fall", metavar="LENGTH", help="of the level in a drier season than the rating counts")
    parser.add_argument("--hours", help="that it runs in a day")
    parser.add_argument("--by", default=None, help="who writes; the name of the account on this machine if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON, in SI")


def _number(text: str | None, kind: str, field: str) -> Any:
    from borewright.quantities import parse

    return None if text is None else parse(text, kind, field=field).si


def _text(path: str, field: str) -> str:
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = "is not text" if isinstance(error, UnicodeDecodeError) else "cannot be read"
        raise BadInput(field, path, why, "the path of a CSV file") from None


def _pipe(name: str, arguments: argparse.Namespace) -> Any:
    """Return a run of pipe from "polyethylene 50 mm 1600 kPa", or None where it is not said."""
    import re

    from borewright.pumping import PIPE_MATERIALS, read_fittings
    from borewright.work.pump import PipeRun

    words, length, fittings = getattr(arguments, name), getattr(arguments, f"{name}_length"), getattr(arguments, f"{name}_fittings")
    if words is None:
        if length or fittings:
            raise BadInput(name, None, "is missing beside its length or fittings", f'--{name} "polyethylene 50 mm 1600 kPa"')
        return None
    material = next((m for m in sorted(PIPE_MATERIALS, key=len, reverse=True) if words.lower().startswith(m.lower())), None)
    parts = re.findall(r"[\d.]+\s*[A-Za-z][A-Za-z ]*?(?=\s*[\d]|$)", words[len(material):]) if material else []
    if not 1 <= len(parts) <= 2:
        raise BadInput(name, words, "is not a pipe", f'material, outside diameter and class, such as "polyethylene 50 mm 1600 kPa"; materials {", ".join(PIPE_MATERIALS)}')
    pressure = _number(parts[1], "pressure", name) if len(parts) == 2 else None
    return PipeRun(name, material, _number(parts[0], "diameter", name), pressure, length=_number(length, "length", f"{name}-length"), fittings=read_fittings(fittings or ""))


def run_pump(arguments: argparse.Namespace) -> int:
    """Choose the pump, write it down and print it."""
    import getpass

    from borewright.cli.output import print_json
    from borewright.pricing import sample_card
    from borewright.pricing.money import minor_digits
    from borewright.pumping import read_pump_curve
    from borewright.storage import current_rate_card, open_job_book
    from borewright.work.pump import choose

    if arguments.phases not in ("1", "3"):
        raise BadInput("phases", arguments.phases, "is not a supply", "1 or 3")
    curve = read_pump_curve(_text(arguments.curve, "curve"), name=arguments.name or Path(arguments.curve).stem) if arguments.curve else None
    price = _number(arguments.price, "number", "price")
    with open_job_book() as book:
        currency = (current_rate_card(book.folder) or sample_card()).currency
        entry = choose(
            book, book.find(arguments.job), by=arguments.by or getpass.getuser(), pump=curve, minimum_flow=_number(arguments.minimum_flow, "flow", "minimum-flow"),
            delivery_pressure=_number(arguments.pressure, "pressure", "pressure") or 0.0, tank_height=_number(arguments.tank_height, "level", "tank-height"),
            riser=_pipe("riser", arguments), main=_pipe("main", arguments), intake_depth=_number(arguments.intake, "depth", "intake"),
            motor_diameter=_number(arguments.motor_diameter, "diameter", "motor-diameter"), voltage=_number(arguments.voltage, "voltage", "voltage"), phases=int(arguments.phases),
            cable_length=_number(arguments.cable_length, "length", "cable-length"), price_minor=None if price is None else price * 10 ** minor_digits(currency),
            start=arguments.start, further_fall=_number(arguments.further_fall, "length", "further-fall") or 0.0, hours_a_day=_number(arguments.hours, "number", "hours"),
        )
    answer = dict(entry.body["duty"])
    if arguments.json:
        print_json(answer)
    else:
        print("\n".join(_pump_in_words(answer, currency)))
    return 0


def _pump_in_words(d: dict[str, Any], currency: str) -> list[str]:
    from borewright.pricing import show_minor
    from borewright.quantities import show

    lines = [d["sentence"]]
    lines += [f"  {p['moment']:<18} {show(p['flow'], 'flow'):>12}  {show(p['head'], 'length'):>8} head   water at {show(p['pumping_level'], 'level')}" for p in d["moments"]]
    for p in d["pressures"]:
        rated = "class not given" if p["class"] is None else f"class {show(p['class'], 'pressure')}, {'holds' if p['holds'] else 'DOES NOT HOLD'}"
        lines.append(f"  {p['pipe']:<6} runs at {show(p['running'], 'pressure')}, valve shut {show(p['shut_off'], 'pressure')}, surge {show(p['surge'], 'pressure')}; {rated}")
    if d["cable"]:
        lines.append(f"  cable {d['cable']['conductor_area'] * 1e6:g} mm2 each core, {show(d['cable']['length'], 'length')}; drop {d['cable']['drop']:.1%} running, {d['cable']['start_drop']:.0%} starting")
    if d["generator"]:
        lines.append(f"  started by {d['start']}; generator at least {d['generator']['rating'] / 1000:.2g} kVA")
    for name, share in (d.get("speeds") or {}).items():
        lines.append(f"  {name}: " + (f"{share:.0%} of full speed gives the need" if share else "full speed does not give the need"))
    if d["energy_kwh_per_kl"]:
        cost = "" if d["cost_minor_per_kl"] is None else f", {show_minor(d['cost_minor_per_kl'], currency)}"
        lines.append(f"  1000 L take {d['energy_kwh_per_kl']:.2f} kWh{cost}")
    return lines + [f"{a['severity']}: {a['message']}" for a in d["advisories"]]


def add_water(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("analysis", nargs="?", default="", help="CSV: name,value,unit[,form]; a value may be a limit such as <0.001")
    parser.add_argument("--use", default="drinking", help="drinking, stock or irrigation")
    parser.add_argument("--guidelines", action="append", metavar="KEY", help="a guideline set, again for more; all of the use if not said; `list` names them")
    parser.add_argument("--temperature", help='of the water, such as "18 degC", where the analysis does not give it')
    parser.add_argument("--job", help="write the analysis down in this job")
    parser.add_argument("--laboratory", default="", help="who analysed it")
    parser.add_argument("--sampled-on", default="", help="the day, as 2026-03-02")
    parser.add_argument("--by", default=None, help="who writes; the name of the account on this machine if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_water(arguments: argparse.Namespace) -> int:
    """Judge the analysis and print it, what is past a guideline first."""
    from borewright.cli.output import print_json
    from borewright.water import assess, assessment_as_dict, read_analysis_csv

    if arguments.guidelines == ["list"]:
        return _list_sets(arguments.json)
    text = _text(arguments.analysis, "analysis")
    sample = read_analysis_csv(text)
    if arguments.job:
        answer = _kept(arguments, text)
    else:
        answer = assessment_as_dict(assess(sample, arguments.use, guidelines=arguments.guidelines, temperature=_number(arguments.temperature, "temperature", "temperature")))
    if arguments.json:
        print_json(answer)
    else:
        print("\n".join(_water_in_words(answer)))
    return 0


def _list_sets(as_json: bool) -> int:
    from borewright.cli.output import print_json
    from borewright.water import USES, guideline_sets

    sets = [s for use in USES for s in guideline_sets(use)]
    if as_json:
        print_json([{"key": s.key, "use": s.use, "name": s.name, "title": s.title, "publisher": s.publisher, "year": s.year, "dated": s.dated, "source": s.source} for s in sets])
    else:
        print("\n".join(f"{s.key:<16} {s.use:<11} {s.name} of {s.year}, {s.publisher} (table of {s.dated})" for s in sets))
    return 0


def _kept(arguments: argparse.Namespace, text: str) -> dict[str, Any]:
    import getpass

    from borewright.storage import open_job_book
    from borewright.work.water import as_kept, judge, rows_of_csv

    if arguments.temperature:
        raise BadInput("temperature", arguments.temperature, "does not go with --job", "the job's own: the warmth read at the rig, or a row of the analysis")
    with open_job_book() as book:
        entry = judge(book, book.find(arguments.job), [as_kept(row) for row in rows_of_csv(text)], use=arguments.use, by=arguments.by or getpass.getuser(),
                      guidelines=arguments.guidelines, laboratory=arguments.laboratory, sampled_on=arguments.sampled_on)
    return dict(entry.body["assessment"])


def _water_in_words(a: dict[str, Any]) -> list[str]:
    from borewright.quantities import rounded

    lines = [a["sentence"]]
    for f in a["findings"]:
        if f["past"] or f["verdict"] == "cannot tell":
            lines.append(f"  {f['kind']:<8} {f['sentence']}")
    lines += [f"  {name:<26} {rounded(i['value'], 3)} {i['unit']}  {i['meaning']}".rstrip() for name, i in a["indices"].items()]
    lines += [f"  {m['about']}: {m['words']} ({m['because']})" for m in (*a["treatments"], *a["materials"])]
    if a["not_tested_health"]:
        lines.append("  not tested, and it matters for health: " + ", ".join(a["not_tested_health"]))
    lines += [f"  test again: {r}" for r in a["retest"]]
    return lines + [f"{x['severity']}: {x['message']}" for x in a["advisories"]]
