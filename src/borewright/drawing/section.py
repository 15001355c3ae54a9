"""What the living section shows: the hole as the job book tells it, as plain data. Nothing is worked out here but what stands where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from borewright.record.fold import Hole, Job

__all__ = ["AnnulusPart", "Band", "CasingPart", "Check", "Expected", "HolePart", "OddsRow", "Section", "Strike", "section_of"]

STATES = ("before drilling", "drilling", "drilled", "built", "failed", "sealed")


@dataclass(frozen=True, slots=True)
class Band:
    """Ground from one depth to another [m] in the driller's own words."""

    from_depth: float
    to_depth: float
    words: str
    ground_class: str = ""


@dataclass(frozen=True, slots=True)
class Expected:
    """The expected column: cell edges [m], class names, and for each cell the probability of each class."""

    depth_edges: tuple[float, ...]
    classes: tuple[str, ...]
    probability: tuple[tuple[float, ...], ...]
    rockhead: tuple[tuple[float, float], ...]  # (probability, depth)


@dataclass(frozen=True, slots=True)
class OddsRow:
    """Chance of the need by a depth [m], with its band where one was told."""

    depth: float
    chance: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Strike:
    """A depth where water came in, and the yield of that strike [m3/s] or None where no flow was measured."""

    depth: float
    gain: float | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class HolePart:
    """Drilled or planned diameter between two depths [m]; `known` is False where no bit was recorded."""

    from_depth: float
    to_depth: float
    diameter: float
    known: bool = True


@dataclass(frozen=True, slots=True)
class CasingPart:
    """A length of casing or slotted casing [m]."""

    string: str
    from_depth: float
    to_depth: float
    outside_diameter: float
    wall: float | None = None
    material: str = ""
    slotted: bool = False
    aperture: float | None = None


@dataclass(frozen=True, slots=True)
class AnnulusPart:
    """What fills the annulus, or the whole hole where `plug`, between two depths [m]."""

    what: str
    from_depth: float
    to_depth: float
    material: str = ""
    bags: float | None = None
    plug: bool = False


@dataclass(frozen=True, slots=True)
class Check:
    """A stage check of the casing: how many times the load it holds, and how many it must."""

    stage: str
    string: str
    depth: float
    factor: float
    required: float
    verdict: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """Everything drawn, in SI, depths below ground. `planned` says whether construction is a plan or was built."""

    title: str
    state: str
    bottom: float
    drilled: float
    ground: tuple[Band, ...] = ()
    expected: Expected | None = None
    odds: tuple[OddsRow, ...] = ()
    need: float | None = None
    strikes: tuple[Strike, ...] = ()
    flows: tuple[tuple[float, float, str], ...] = ()
    static_level: float | None = None
    pumping_level: float | None = None
    pumping_flow: float | None = None
    hole: tuple[HolePart, ...] = ()
    casings: tuple[CasingPart, ...] = ()
    annulus: tuple[AnnulusPart, ...] = ()
    pump_name: str = ""
    intake_depth: float | None = None
    checks: tuple[Check, ...] = ()
    planned: bool = False
    stopped: str = ""
    headworks: bool = False
    walk_away: float | None = None


def _number(given: Any) -> float | None:
    """Return a finite number, or None: what is drawn comes from dicts that may hold anything."""
    if isinstance(given, Mapping):
        given = given.get("value", given.get("si"))
    if isinstance(given, bool) or not isinstance(given, (int, float)) or given != given or abs(given) == float("inf"):
        return None
    return float(given)


def _first(table: Mapping[str, Any], *names: str) -> float | None:
    return next((v for v in (_number(table.get(name)) for name in names) if v is not None), None)


def _expected_of(table: Mapping[str, Any] | None) -> Expected | None:
    if not table:
        return None
    edges = tuple(float(e) for e in table.get("depth_edges") or ())
    classes = tuple(str(c) for c in table.get("classes") or ())
    rows = tuple(tuple(float(p) for p in row) for row in table.get("probability") or ())
    if len(edges) != len(rows) + 1 or not rows or any(len(row) != len(classes) for row in rows):
        return None
    given = table.get("rockhead_quantiles") or {}
    pairs = given.items() if isinstance(given, Mapping) else given
    rockhead = tuple(sorted((float(q), float(d)) for q, d in pairs if _number(d) is not None))
    return Expected(edges, classes, rows, rockhead)


def _odds_of(job: Job) -> tuple[OddsRow, ...]:
    """Return the odds told last, else those of the quote."""
    for fact in reversed(job.odds):
        answer = fact.body.answer
        rows = (answer.get("odds") or answer).get("by_depth") or ()
        found = []
        for row in rows:
            depth, chance = _first(row, "depth_m", "depth"), _first(row, "p", "chance")
            if depth is not None and chance is not None:
                found.append(OddsRow(depth, chance, _first(row, "low"), _first(row, "high")))
        if found:
            return tuple(sorted(found, key=lambda r: r.depth))
    if job.quote:
        content = job.quote.body.content
        pairs = zip(content.get("odds_depth") or (), content.get("odds_by_depth") or (), strict=False)
        return tuple(OddsRow(float(d), float(p)) for d, p in pairs)
    return ()


def _rows(table: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    rows = table.get(name) or ()
    return [r for r in rows if isinstance(r, Mapping)] if isinstance(rows, Sequence) and not isinstance(rows, str) else []


def _spans(table: Mapping[str, Any], name: str) -> list[tuple[float, float, Mapping[str, Any]]]:
    found = []
    for row in _rows(table, name):
        top, bottom = _number(row.get("from_depth")), _number(row.get("to_depth"))
        if top is not None and bottom is not None and bottom > top:
            found.append((top, bottom, row))
    return found


def _planned_parts(design: Mapping[str, Any]) -> tuple[list[HolePart], list[CasingPart], list[AnnulusPart]]:
    hole = [HolePart(a, b, d) for a, b, row in _spans(design, "hole") if (d := _number(row.get("diameter")))]
    apertures = [(a, b, _number(row.get("aperture"))) for a, b, row in _spans(design, "slots")]
    casings = []
    for top, bottom, row in _spans(design, "strings"):
        outside = _number(row.get("outside_diameter"))
        if not outside:
            continue
        part = {"string": str(row.get("string", "production")), "outside_diameter": outside, "wall": _number(row.get("wall")), "material": str(row.get("material", ""))}
        cuts = [(a, b, w) for a, b, w in apertures if a < bottom and b > top] if part["string"] == "production" else []
        if not cuts and row.get("slotted_from") is not None and row.get("slotted_to") is not None:
            cuts = [(float(row["slotted_from"]), float(row["slotted_to"]), None)]
        at = top
        for a, b, width in sorted(cuts):
            a, b = max(a, at), min(b, bottom)
            if b <= a:
                continue
            if a > at:
                casings.append(CasingPart(from_depth=at, to_depth=a, **part))
            casings.append(CasingPart(from_depth=a, to_depth=b, slotted=True, aperture=width, **part))
            at = b
        if at < bottom:
            casings.append(CasingPart(from_depth=at, to_depth=bottom, **part))
    annulus = [AnnulusPart(str(row.get("what", "")), a, b, str(row.get("material", "") or ""), _number(row.get("bags")))
               for a, b, row in _spans(design, "annulus") if row.get("what") != "open"]
    return hole, casings, annulus


def _drilled_parts(hole: Hole) -> list[HolePart]:
    """Return the diameters drilled. A second bit that starts above the bottom of the first has reamed down to where it stopped, unless the
    first is smaller: then it went on from there."""
    if hole.depth <= 0:
        return []
    bits = sorted(hole.bits, key=lambda f: f.body.from_depth)
    if not bits:
        return [HolePart(0.0, hole.depth, 0.15, known=False)]
    marks = [f.body.from_depth for f in bits] + [hole.depth]
    parts = [HolePart(a, b, fact.body.diameter) for fact, (a, b) in zip(bits, pairwise(marks), strict=True) if b > a]
    if parts and parts[0].from_depth > 0:
        parts.insert(0, HolePart(0.0, parts[0].from_depth, parts[0].diameter, known=False))
    return parts


def _checks(design: Mapping[str, Any]) -> tuple[Check, ...]:
    found = []
    for row in _rows(design, "stages"):
        depth, factor, required = (_number(row.get(k)) for k in ("depth", "factor", "required"))
        if depth is not None and factor is not None and required:
            found.append(Check(str(row.get("stage", "")), str(row.get("string", "")), depth, factor, required, str(row.get("verdict", ""))))
    return tuple(found)


def _state(hole: Hole | None) -> str:
    if hole is None or (hole.depth <= 0 and not hole.casings and not hole.stopped):
        return "before drilling"
    if hole.sealed_off:
        return "sealed"
    if hole.casings and (hole.stopped or any(f.body.string == "production" for f in hole.casings)):
        return "built"
    if hole.stopped and hole.stopped.body.reason in ("walked away", "hole lost"):
        return "failed"
    return "drilled" if hole.stopped else "drilling"


def _levels(hole: Hole | None) -> tuple[float | None, float | None, float | None]:
    """Return the static level last dipped, and a pumping level with its flow: dipped, else of the pump's duty, else of the rating."""
    if hole is None:
        return None, None, None
    static = hole.static_level
    if static is None:
        static = next((t.run.body.static_level for t in hole.tests.values() if t.run.body.static_level is not None), None)
    pumping = next((f.body.depth_to_water for f in reversed(hole.levels) if f.body.state == "pumping"), None)
    flow = None
    tables = ([hole.pump.body.duty] if hole.pump else []) + ([hole.rated.body.rating] if hole.rated else [])
    for table in tables:
        if pumping is None:
            pumping, flow = _first(table, "pumping_level", "pumping_level_m"), _first(table, "flow", "flow_m3_per_s")
    return static, pumping, flow


def section_of(
    job: Job, *, hole: int | None = None, expected: Mapping[str, Any] | None = None, design: Mapping[str, Any] | None = None,
    policy_table: Mapping[str, Any] | None = None, as_designed: bool = False,
) -> Section:
    """Return what the living section of a job shows now.

    Parameters
    ----------
    job : Job
        The folded job.
    hole : int, optional
        Number of the hole; the last by default.
    expected, design, policy_table : mapping, optional
        Expected column, bore design and stop rule as plain data; by default those the job book holds.
    as_designed : bool
        Show hole, casing and annulus as the design has them, whatever was drilled and built, with its stage checks beside them.
    """
    logged = job.holes.get(hole) if hole is not None else job.hole
    if expected is None:
        expected = next((f.body.answer["column"] for f in reversed(job.odds) if f.body.answer.get("column")), None)
    if design is None:
        design = job.design.body.design if job.design else {}
    if policy_table is None and job.quote:
        policy_table = job.quote.body.content.get("table")
    state = _state(logged)
    column, odds = _expected_of(expected), _odds_of(job)
    plan_hole, plan_casings, plan_annulus = _planned_parts(design)
    drilled = logged.depth if logged else 0.0
    parts, casings, annulus = (_drilled_parts(logged) if logged else []), [], []
    if logged:
        for fact in logged.casings:
            body = fact.body
            casings.append(CasingPart(body.string, body.from_depth, body.to_depth, body.outside_diameter, body.wall, body.material, body.slotted, body.aperture))
        annulus = [AnnulusPart(f.body.what, f.body.from_depth, f.body.to_depth, f.body.material, f.body.bags) for f in logged.annulus]
        if logged.sealed_off:
            annulus += [AnnulusPart(_plug_of(i.material), i.from_depth, i.to_depth, i.material, i.bags, plug=True) for i in logged.sealed_off.body.intervals]
    if as_designed and (plan_hole or plan_casings):
        parts, casings, annulus = list(plan_hole), list(plan_casings), list(plan_annulus)
    planned = as_designed or state == "before drilling" or (state in ("drilling", "drilled") and not casings)
    if planned:
        casings, annulus = casings or plan_casings, annulus or plan_annulus
        if state == "before drilling":
            parts = plan_hole
    plan_depth = 0.0
    if state in ("before drilling", "drilling"):
        quoted = _number(job.quote.body.content.get("maximum_depth")) if job.quote else None
        plan_depth = max([p.to_depth for p in (*plan_hole, *plan_casings)], default=0.0)
        plan_depth = max(plan_depth, quoted or 0.0)
        if not plan_depth and not drilled:
            plan_depth = max([odds[-1].depth if odds else 0.0, column.depth_edges[-1] if column else 0.0])
    static, pumping, flow = _levels(logged)
    deepest = [drilled, plan_depth, *(p.to_depth for p in (*casings, *annulus, *parts)), *(v for v in (static, pumping) if v is not None)]
    if logged and logged.pump and logged.pump.body.intake_depth:
        deepest.append(logged.pump.body.intake_depth)
    stopped = ""
    if logged and logged.stopped:
        stopped = logged.stopped.body.reason
    return Section(
        title=job.title, state=state, bottom=max(deepest) or 30.0, drilled=drilled,
        ground=tuple(Band(f.body.from_depth, f.body.to_depth, _words(f.body), f.body.ground_class) for f in logged.ground) if logged else (),
        expected=column if state in ("before drilling", "drilling") else None,
        odds=odds if state in ("before drilling", "drilling") and not as_designed else (), need=job.need.body.flow if job.need else None,
        strikes=tuple(Strike(d, y) for d, y in logged.strike_yields()) if logged else (),
        flows=tuple((f.body.depth, f.body.flow, f.body.method) for f in logged.flows) if logged else (),
        static_level=static, pumping_level=pumping, pumping_flow=flow, hole=tuple(parts), casings=tuple(casings), annulus=tuple(annulus),
        pump_name=logged.pump.body.name if logged and logged.pump else "", intake_depth=logged.pump.body.intake_depth if logged and logged.pump else None,
        checks=_checks(design), planned=planned, stopped=stopped, headworks=state == "built",
        walk_away=_walk_away(policy_table) if state in ("before drilling", "drilling") else None,
    )


def _plug_of(material: str) -> str:
    """Return how a sealing material is drawn: by what the driller called it."""
    said = material.lower()
    if any(word in said for word in ("cement", "grout", "concrete")):
        return "grout"
    return "seal" if any(word in said for word in ("bentonite", "clay", "seal")) else "backfill"


def _words(body: Any) -> str:
    """Return the driller's words, with what he said beside them that they do not already say."""
    said = body.words
    for more in (body.colour, body.grain, body.strength, body.weathering):
        if more and more.lower() not in said.lower():
            said += f", {more}"
    return said


def _walk_away(table: Mapping[str, Any] | None) -> float | None:
    """Return the depth at which the stop rule leaves a hole that is still dry [m], read off its table, or None."""
    if not table:
        return None
    codes = table.get("codes") or ()
    for index, rows in enumerate(table.get("actions") or ()):
        code = codes[rows[0][0][1]] if rows and rows[0] else ""
        if code and code not in ("drill", "complete") and index < table.get("steps", 0):
            return index * float(table["step_m"])
    return None
