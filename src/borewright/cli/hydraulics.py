"""`borewright pumptest`, `steptest`, `slug`, `rate`: tests of a bore and the flow it can give."""

from __future__ import annotations

import argparse
from typing import Any

from borewright.errors import BadInput

__all__ = ["add_pumptest", "run_pumptest"]


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
    parser.add_argument("--robust", action="store_true", help="readings far off the curve count less")
    parser.add_argument("--confidence", type=float, default=0.9, help="of the intervals, 0.9 if not said")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_pumptest(arguments: argparse.Namespace) -> int:
    """Read, fit and print."""
    from borewright.cli.output import print_json
    from borewright.hydraulics import fit_test, fits_as_dict, read_levels

    history = _history(arguments)
    radius = _length(arguments.radius, "radius")
    fit = fit_test(
        read_levels(arguments.data, radius=radius), rate=history, solutions=arguments.solution, bore_radius=_length(arguments.bore_radius, "bore-radius"),
        casing_radius=_length(arguments.casing_radius, "casing-radius"), thickness=_length(arguments.thickness, "thickness"),
        robust=arguments.robust, confidence=arguments.confidence)
    answer = fits_as_dict(fit)
    if arguments.json:
        print_json(answer)
    else:
        print("\n".join(_fits_in_words(answer)))
    return 0


def _length(text: str | None, field: str) -> float | None:
    from borewright.quantities import parse

    return None if text is None else parse(text, "length", field=field).si


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
    lines.append(f"Intervals hold {answer['confidence']:.0%} by profile likelihood, readings taken as independent.")
    return lines
