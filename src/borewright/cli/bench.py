"""`borewright bench`: list the single calculations, or run one with key=value."""

from __future__ import annotations

import argparse

from borewright.errors import BadInput


def add_bench(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("name", nargs="?", help="the calculation; none lists them all")
    parser.add_argument("values", nargs="*", metavar="key=value", help='inputs such as hole_diameter="165 mm"')
    parser.add_argument("--json", action="store_true", help="answer as JSON, in SI")
    parser.add_argument("--units", choices=("metric", "US", "imperial"), default="metric", help="units of the plain answer")


def run_bench(arguments: argparse.Namespace) -> int:
    """List, explain or run."""
    from borewright.bench.declare import answer, calculation, calculations, input_fields
    from borewright.cli.output import print_json

    if arguments.name is None:
        listed = calculations()
        if arguments.json:
            print_json([{"name": c.name, "title": c.title, "stage": c.stage} for c in listed.values()])
            return 0
        stage = ""
        for one in listed.values():
            if one.stage != stage:
                stage = one.stage
                print(f"\n{stage}")
            print(f"  {one.name:<28} {one.title}")
        return 0
    one = calculation(arguments.name)
    if not arguments.values and not arguments.json:
        print(f"{one.title}\n\n{one.about}\n\ninputs:")
        for face in input_fields(one):
            need = "" if face.required else f"  [{face.default_text or 'optional'}]"
            print(f"  {face.name:<28} {face.help}, e.g. {face.example}{need}")
        print("\nsource: " + "\n        ".join(one.source))
        return 0
    given = {}
    for word in arguments.values:
        key, equals, value = word.partition("=")
        if not equals:
            raise BadInput("inputs", word, "is not key=value", 'words such as hole_diameter="165 mm"')
        given[key.strip().replace("-", "_")] = value
    result = answer(one.name, given)
    if arguments.json:
        print_json(result)
    else:
        _print_plain(one, result, arguments.units)
    return 0


def _print_plain(one, result, system: str) -> None:
    from borewright.bench.declare import result_fields
    from borewright.quantities import rounded, show

    for face in result_fields(one):
        if face.name not in result["results"]:
            continue
        value = result["results"][face.name]["value"]
        if face.many:
            text = ", ".join(rounded(v, 4) for v in value) + f" {result['results'][face.name]['unit']}"
        elif face.kind == "choice":
            text = value
        elif system == "metric" and face.unit:
            text = show(value, face.kind, unit=face.unit, digits=4)
        else:
            text = show(value, face.kind, system=system, digits=4)
        print(f"{face.label:<30} {text}")
    for heading, lines in (("caution", result["cautions"]), ("limit", result["limits"]), ("source", result["source"])):
        for line in lines:
            print(f"{heading}: {line}")
