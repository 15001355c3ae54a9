"""`borewright register` and `borewright odds`: other bores' records in, odds out."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from borewright.errors import BadInput


def add_register(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="load|list|prove|map")
    load = verbs.add_parser("load", help="read a register from files")
    load.add_argument("bores", metavar="BORES", help="CSV, Parquet, GeoJSON or spreadsheet: bore_id, lon, lat, depth_m are compulsory")
    load.add_argument("--name", help="name to keep it under")
    load.add_argument("--preview", action="store_true", help="show the first 20 rows as they would be read, and keep nothing")
    load.add_argument("--strikes", metavar="FILE", help="water strikes: bore_id, depth_m, yield_lps")
    load.add_argument("--intervals", metavar="FILE", help="logged ground: bore_id, from_m, to_m, lithology")
    load.add_argument("--columns", metavar="MAP.toml", help="column map: names, units, grid")
    listed = verbs.add_parser("list", help="say what registers there are")
    prove = verbs.add_parser("prove", help="how right the odds are at bores held out in blocks of ground")
    prove.add_argument("name", metavar="NAME")
    prove.add_argument("--need", required=True, help='flow that counts as enough, such as "0.25 L/s"')
    prove.add_argument("--against-boosting", action="store_true", help="also score gradient boosting on place and depth")
    from borewright.cli.oddsmap import add_map

    for verb in (load, listed, prove, add_map(verbs)):
        verb.add_argument("--json", action="store_true", help="answer as JSON")


def run_register(arguments: argparse.Namespace) -> int:
    """Load, list, prove or map."""
    if arguments.verb == "map":
        from borewright.cli.oddsmap import run_map

        return run_map(arguments, _folder())
    return {"load": _load, "list": _list, "prove": _prove}[arguments.verb](arguments)


def _folder() -> Path:
    from borewright.storage.home import data_folder

    return data_folder("registers")


def _say(step: str) -> None:
    if sys.stderr.isatty():
        print(f"{step} ...", file=sys.stderr)


def _load(arguments: argparse.Namespace) -> int:
    from dataclasses import asdict

    from borewright.cli.output import print_json
    from borewright.siting import load_register
    from borewright.work.trackrecord import first_record

    if arguments.preview:
        from borewright.cli.oddsmap import run_preview

        return run_preview(arguments)
    if arguments.name is None:
        raise BadInput("name", None, "is missing", "the name to keep the register under, such as --name orrin-vale")

    report = load_register(arguments.bores, name=arguments.name, strikes=arguments.strikes, intervals=arguments.intervals, columns=arguments.columns,
                           folder=_folder(), progress=_say)
    standing = first_record(report.name, _folder(), progress=lambda step: _say(f"holding bores out, {step}"))
    if arguments.json:
        print_json({
            "name": report.name, "rows": report.rows, "loaded": report.loaded, "strikes": report.strikes, "intervals": report.intervals,
            "refused": len(report.refused), "refused_file": None if report.refused_file is None else str(report.refused_file),
            "advisories": [asdict(a) for a in report.advisories], "track_record": None if standing is None else standing.as_dict(),
        })
        return 0
    print(f"{report.name}: {report.loaded} of {report.rows} bores, {report.strikes} strikes, {report.intervals} intervals of ground")
    if standing is not None:
        print(standing.words)
    if report.refused:
        print(f"refused: {len(report.refused)} rows, each with its reason in {report.refused_file}")
    for advisory in report.advisories[:12]:
        print(f"{advisory.severity}: {advisory.message}")
    if len(report.advisories) > 12:
        print(f"and {len(report.advisories) - 12} more doubts (--json shows all)")
    return 0


def _list(arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.siting import list_registers

    found = list_registers(_folder())
    if arguments.json:
        print_json([{k: r.get(k) for k in ("name", "bores", "strikes", "intervals", "refused")} for r in found])
        return 0
    for one in found:
        print(f"{one['name']:<24} {one['bores']:>9} bores {one.get('strikes', 0):>9} strikes {one.get('intervals', 0):>9} intervals")
    if not found:
        print("no register yet: borewright register load BORES.csv --name NAME")
    return 0


def _prove(arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.quantities import parse, show
    from borewright.siting import open_register, proof_as_dict, prove

    need = parse(arguments.need, "flow", field="need").si
    proof = prove(open_register(arguments.name, _folder()), need=need, boosting=arguments.against_boosting, progress=_say)
    if arguments.json:
        print_json(proof_as_dict(proof))
        return 0
    print(f"{proof.bores} bores held out in {proof.blocks} blocks; {100 * proof.share:.0f} % gave at least {show(need, 'flow')}")
    print(f"{'':26}{'Brier':>8}{'log score':>11}   (smaller is better)")
    scores = [("these odds", proof.brier, proof.log_score), ("  before blending", proof.brier_alone, proof.log_score_alone), ("base rate", proof.brier_base, proof.log_score_base),
              ("share of 25 nearest", proof.brier_neighbours, proof.log_score_neighbours)]
    if proof.brier_boosting is not None:
        scores.append(("gradient boosting", proof.brier_boosting, proof.log_score_boosting))
    for words, brier, score in scores:
        print(f"{words:<26}{brier:>8.4f}{score:>11.4f}")
    shares = ", ".join(f"{words} {weight:.2f}" for words, weight in proof.weights.items() if weight >= 0.005)
    print(f"\nThe odds are blended with the record's own shares as far as these helped at other bores held out: {shares or 'nothing helped, so the base rate stands'}.")
    print("\nodds told    bores    mean told    found   (80 % interval)")
    for row in proof.reliability:
        print(f"{row.low:.1f} to {row.high:.1f} {row.count:>8}{row.told:>13.2f}{row.found:>9.2f}   {row.found_low:.2f} to {row.found_high:.2f}")
    return 0


def add_odds(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("--register", required=True, metavar="NAME")
    parser.add_argument("--at", metavar="LAT,LON", help="the spot in degrees, such as --at=-38.5,-18.2")
    parser.add_argument("--sites", metavar="SITES.csv", help="many spots: lon,lat,depth_m,need_lps; one JSON line each")
    parser.add_argument("--need", help='flow that counts as enough, such as "15 L/min"')
    parser.add_argument("--depth", nargs="+", action="extend", metavar="M", help="depths to tell the odds for")
    parser.add_argument("--own", action="store_true", help="count the firm's own finished bores in as well")
    parser.add_argument("--opinion", help='your own, counted as bores: "0.5 as 5 bores" or "0.6 by 70 m as 3 bores"')
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def run_odds(arguments: argparse.Namespace) -> int:
    """Tell the odds at one spot or at many."""
    if (arguments.at is None) == (arguments.sites is None):
        raise BadInput("at", arguments.at, "one of --at and --sites is needed, not both", "--at LAT,LON or --sites SITES.csv")
    return _many(arguments) if arguments.sites else _one(arguments)


def _register(arguments: argparse.Namespace) -> Any:
    from borewright.siting import open_register

    if not arguments.own:
        return open_register(arguments.register, _folder())
    from borewright.storage import open_job_book
    from borewright.work.ownbores import register_with_own

    with open_job_book() as book:
        return register_with_own(book, arguments.register, _folder())


def _place(text: str) -> tuple[float, float]:
    parts = text.replace(";", ",").split(",")
    try:
        latitude, longitude = (float(p) for p in parts)
    except ValueError as error:
        raise BadInput("at", text, "is not a place", "latitude,longitude in degrees, such as -38.5,-18.2") from error
    return latitude, longitude


def _one(arguments: argparse.Namespace) -> int:
    from borewright.cli.output import print_json
    from borewright.quantities import parse, show
    from borewright.siting import odds_as_dict, odds_at

    if arguments.need is None:
        raise BadInput("need", None, "is missing", 'the flow that counts as enough, such as --need "15 L/min"')
    need = parse(arguments.need, "flow", field="need").si
    latitude, longitude = _place(arguments.at)
    depths = None
    if arguments.depth:
        depths = [parse(d, "depth", field="depth", default_unit="m").si for words in arguments.depth for d in words.split(",") if d]
    register = _register(arguments)
    odds = odds_at(register, latitude, longitude, need=need, depths=depths, opinion=arguments.opinion)
    if arguments.json:
        print_json(odds_as_dict(odds))
        return 0
    print(odds.sentence)
    print(f"\nneed {show(need, 'flow')}; {odds.effective_records:.1f} bores' worth of record behind it\n\n{'by depth':>10}{'odds':>8}   (8 in 10 sure)")
    for row in odds.by_depth:
        print(f"{show(row.depth, 'depth'):>10}{row.p:>8.2f}   {row.low:.2f} to {row.high:.2f}")
    for words, table in (("depth for enough", odds.enough_depth), ("first water", odds.first_water), ("rockhead", odds.column.rockhead_quantiles), ("static level", odds.static_level)):
        shown = [f"{show(table[q], 'depth') if table.get(q) is not None else 'out of reach'} ({q:g})" for q in (0.1, 0.5, 0.9) if q in table]
        if shown:
            print(f"{words:<18} " + "   ".join(shown))
    print("\nnearest bores")
    for bore in odds.nearest[:6]:
        flow = "not recorded" if bore.flow is None else "dry" if bore.flow == 0 else show(bore.flow, "flow")
        print(f"  {bore.bore_id:<14}{bore.distance / 1000:>7.2f} km  {show(bore.depth, 'depth'):>9}  {flow}")
    for advisory in odds.advisories:
        print(f"{advisory.severity}: {advisory.message}")
    return 0


def _many(arguments: argparse.Namespace) -> int:
    import numpy as np
    import polars as pl

    from borewright.siting import odds_at_sites

    path = Path(arguments.sites)
    try:
        frame = pl.read_csv(path, infer_schema=False)
    except (OSError, pl.exceptions.PolarsError) as error:
        raise BadInput("sites", str(path), f"cannot be read: {str(error).splitlines()[0]}", "a CSV with lon,lat,depth_m,need_lps") from error
    values = {}
    for name in ("lon", "lat", "depth_m", "need_lps"):
        if name not in frame.columns:
            raise BadInput("sites", ", ".join(frame.columns), f"has no column {name}", "the columns lon,lat,depth_m,need_lps")
        numbers = frame[name].str.strip_chars().cast(pl.Float64, strict=False)
        wrong = numbers.is_null() | ~numbers.fill_null(0.0).is_finite()
        if wrong.any():
            row = int(wrong.arg_true()[0])
            raise BadInput(name, frame[name][row], f"row {row + 1} of {path.name} is not a number", "a number in every row")
        values[name] = numbers.to_numpy()
    if not len(frame):
        return 0
    register = _register(arguments)
    odds = odds_at_sites(register, values["lat"], values["lon"], need=values["need_lps"] * 1e-3, depth=values["depth_m"])
    lines = []
    for i in range(len(frame)):
        line = {name: float(values[name][i]) for name in values}
        told = bool(np.isfinite(odds.p[i]))
        line |= {k: float(getattr(odds, k)[i]) if told else None for k in ("p", "low", "high")}
        line["effective_records"] = float(odds.effective_records[i])
        if not told:
            line["refused"] = "too far from any bore of the register"
        lines.append(json.dumps(line, allow_nan=False))
    print("\n".join(lines))
    return 0
