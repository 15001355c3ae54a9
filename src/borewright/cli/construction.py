"""`borewright design JOB`: the bore on paper, every string proved at every stage, and what to buy."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from borewright.errors import BadInput

if TYPE_CHECKING:
    from borewright.construction import BoreDesign, Catalogue, DesignCheck

__all__ = ["add_design", "run_design"]


def add_design(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of `design`."""
    parser.add_argument("job", metavar="JOB", nargs="?", help="the job: its id, the start of it, its reference or title; may be left out with --check")
    ground = parser.add_mutually_exclusive_group()
    ground.add_argument("--expected", action="store_true", help="from the odds and the expected column")
    ground.add_argument("--logged", action="store_true", help="from the ground and strikes logged in the hole (the default once there is a log)")
    ground.add_argument("--check", metavar="FILE.json", help="re-check a design edited by hand (the form that --json prints); exit code 1 when it does not pass")
    parser.add_argument("--hole", type=int, metavar="N", help="which hole of the job (default the last)")
    parser.add_argument("--depth", metavar="DEPTH", help="total depth to plan for, with --expected")
    parser.add_argument("--pumping-level", metavar="DEPTH", help="lowest pumping level over the life, with --logged")
    parser.add_argument("--dry-run", action="store_true", help="print it without writing it into the job book")
    parser.add_argument("--by", default="office", help="who writes it")
    parser.add_argument("--json", action="store_true", help="print the design as JSON, with every rule under \"check\"")


def run_design(arguments: argparse.Namespace) -> int:
    """Design or re-check the bore, keep it in the job's book and print it."""
    from borewright.cli.output import print_json
    from borewright.construction import check_design, design_as_dict
    from borewright.storage import load_settings, open_job_book
    from borewright.work.bore import keep_design
    from borewright.work.designing import catalogue_of

    if arguments.job is None and arguments.check is None:
        raise BadInput("job", None, "is missing", "a job, or --check FILE.json")
    with open_job_book() as book:
        catalogue, system = catalogue_of(book.folder), load_settings(book.folder).unit_system
        job = book.find(arguments.job) if arguments.job is not None else None
        basis, design = _designed(arguments, book, job, catalogue)
        check = check_design(design, catalogue=catalogue)
        kept = job is not None and not arguments.dry_run
        if kept:
            keep_design(book, job, design, basis=basis, by=arguments.by)
    if arguments.json:
        print_json(design_as_dict(design) | {"check": {"passes": check.passes, "rules": [asdict(r) for r in check.rules]}})
    else:
        print("\n".join(in_words(design, check, system)))
        print("Kept in the job book." if kept else "Not kept: nothing was written.")
    return 1 if arguments.check is not None and not check.passes else 0


def _designed(arguments: argparse.Namespace, book: Any, job_id: Any, catalogue: Catalogue) -> tuple[str, BoreDesign]:
    from borewright.work.bore import plan_expected, plan_logged

    if arguments.check is not None:
        for name in ("depth", "pumping_level", "hole"):
            if getattr(arguments, name) is not None:
                raise BadInput(name, getattr(arguments, name), "does not go with --check", "the value in the file")
        return "by hand", _read(arguments.check, catalogue)
    job = book.job(job_id)
    logged = arguments.logged or not arguments.expected and any(hole.ground for hole in job.holes.values())
    for name, belongs in (("depth", not logged), ("pumping_level", logged), ("hole", logged)):
        if getattr(arguments, name) is not None and not belongs:
            raise BadInput(name, getattr(arguments, name), f"does not go with a design from the {'logged' if logged else 'expected'} ground",
                           "--expected" if logged else "--logged")
    if logged:
        return "logged", plan_logged(book, job, hole=arguments.hole, pumping_level=_depth(arguments.pumping_level, "pumping_level"))
    return "expected", plan_expected(book, job, total_depth=_depth(arguments.depth, "depth"))


def _depth(text: str | None, field: str) -> float | None:
    from borewright.quantities import parse

    return None if text is None else parse(text, "depth", field=field, default_unit="m").si


def _read(path: str, catalogue: Catalogue) -> BoreDesign:
    from dataclasses import replace

    from borewright.construction import design_from_dict, recheck

    try:
        data = json.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BadInput("check", path, f"cannot be read: {error}", "a JSON file such as `borewright design JOB --json` prints") from None
    return recheck(replace(design_from_dict(data), basis="by hand"), catalogue=catalogue)


def in_words(design: BoreDesign, check: DesignCheck, system: str) -> list[str]:
    """Return a design as the lines of a page of text."""
    from borewright.quantities import show

    def depth(value: float) -> str:
        return show(value, "depth", system=system)

    def wide(value: float) -> str:
        return show(value, "diameter", system=system)

    def span(row: Any) -> list[str]:
        return [depth(row.from_depth), depth(row.to_depth)]

    lines = [
        f"Design from the {design.basis} ground" if design.basis != "by hand" else "Design by hand",
        f"{depth(design.total_depth)} deep, water stands at {depth(design.static_level)}, lowest pumping level {depth(design.pumping_level)}, "
        f"pump at {depth(design.pump_depth)}, need {show(design.need, 'flow', system=system)}",
    ]
    lines += _table("Hole", ("from", "to", "bit"), ([*span(h), wide(h.diameter)] for h in design.hole))
    lines += _table("Casing", ("string", "from", "to", "outside", "wall", "what"),
                    ([s.string, *span(s), wide(s.outside_diameter), wide(s.wall), s.casing or s.material] for s in design.strings))
    lines += _table("Slots", ("from", "to", "width", "open"), ([*span(s), wide(s.aperture), f"{100 * s.open_share:.1f} %"] for s in design.slots))
    lines += _table("Annulus", ("string", "what", "from", "to", "material", "volume", "bags"),
                    ([a.string, a.what, *span(a), a.material, show(a.volume, "volume", system=system), str(a.bags or "–")] for a in design.annulus))
    lines += _table("Will it hold, stage by stage", ("stage", "string", "at", "pressure", "resists", "factor", "asked", "verdict"), (
        [s.stage, s.string, depth(s.depth), show(s.pressure, "pressure", system=system), show(s.resistance, "pressure", system=system),
         f"{s.factor:.2f}", f"{s.required:g}", s.verdict] for s in design.stages))
    lines += _list("Where the required factors and loads are from", dict.fromkeys(f"{s.stage}: {s.source}" for s in design.stages))
    lines += _table("Materials", ("quantity", "unit", "item", "note"), ([f"{m.quantity:.4g}", m.unit, m.item, m.note] for m in design.materials))
    lines += _list("Order of work", design.steps)
    lines += _list("What would be done differently", design.differently)
    lines += _list("Rules that do not hold", (f"{r.severity}: {r.where}: {r.found}; asked: {r.asked}" for r in check.rules if not r.holds))
    lines += _list("Cautions", (f"{a.severity}: {a.message}" for a in design.advisories))
    lines += ["", "The design passes." if check.passes else "The design does NOT pass: a stage fails or a rule of danger is broken."]
    return lines


def _list(title: str, rows: Iterable[str]) -> list[str]:
    rows = list(rows)
    return ["", title, *(f"  {row}" for row in rows)] if rows else []


def _table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    rows = list(rows)
    if not rows:
        return []
    widths = [max(len(str(line[i])) for line in (heads, *rows)) for i in range(len(heads))]
    right = [all(str(row[i])[:1].isdigit() or row[i] == "–" for row in rows) for i in range(len(heads))]
    pad: Callable[[str, int], str] = lambda text, i: f"{text:>{widths[i]}}" if right[i] else f"{text:<{widths[i]}}"
    return ["", title, *("  " + "  ".join(pad(str(text), i) for i, text in enumerate(line)).rstrip() for line in (heads, *rows))]
