"""A bore as open formats can carry it: the tables, their columns and units declared once, from the job book and back to entries."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from borewright.errors import BadInput
from borewright.record import Entry, Fact, Hole, Job, entry_from_json
from borewright.record.bodies import CURRENT_VERSION, KINDS

__all__ = ["BORE_COLUMNS", "SPACE", "TABLES", "Bore", "Column", "Table", "bore_from", "bores_of", "entries_of", "foreign_unit", "from_text", "to_text"]

SPACE = UUID("6f0b8a5e-6f6e-5d0b-9b7b-2f1b6c1f7a11")  # of the ids that an import gives
MOST_BORES = 100_000


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name in a file (unit at the end), the field it stands for, its type, and the power of ten from SI to its unit."""

    name: str
    field: str
    type: str = "number"
    power: int = 0
    help: str = ""
    derived: bool = False
    default: Any = None


@dataclass(frozen=True, slots=True)
class Table:
    """One table beside the bores: the kind of entry it comes from, and which list of the body its rows are spread over, if any."""

    name: str
    kind: str
    title: str
    columns: tuple[Column, ...]
    spread: tuple[str, ...] = ()


def _text(name: str, field: str, help: str = "") -> Column:
    return Column(name, field, "string", help=help, default="")


AT = Column("at", "at", "datetime", help="when it was recorded, ISO 8601 with offset")
_FROM, _TO = Column("from_m", "from_depth", help="below ground level"), Column("to_m", "to_depth", help="below ground level")

BORE_COLUMNS = (
    _text("bore_id", "id", "the job's id and the number of the hole"),
    Column("lon", "longitude", help="WGS 84 [degrees]"), Column("lat", "latitude", help="WGS 84 [degrees]"),
    Column("elevation_m", "elevation", help="of the ground, above mean sea level"), Column("depth_m", "depth", help="drilled depth below ground level"),
    Column("yield_lps", "yield_", power=3, help="last flow measured at the collar", derived=True),
    Column("static_level_m", "static_level", help="last static level below ground, negative when it flows", derived=True),
    Column("first_water_m", "first_water", help="depth of the first strike", derived=True),
    Column("drilled_on", "drilled_on", "date", help="day the hole was stopped or else started", derived=True),
    Column("status", "status", "string", help="open, water or no water", derived=True),
    _text("name", "name"), _text("reference", "reference"), Column("hole", "hole", "integer", help="number of the hole in its job", default=1),
    _text("spot", "spot"), _text("way_of_picking", "way_of_picking", "how the spot was picked"), _text("use", "use", "of the water"),
    Column("need_lps", "need", power=3, help="flow the customer needs"), _text("driller", "driller"), _text("rig", "rig"), _text("method", "method"),
    Column("started_at", "started_at", "datetime"), Column("stopped_at", "stopped_at", "datetime"),
    _text("stopped_reason", "stopped_reason"), _text("stopped_words", "stopped_words"),
)
TABLES = (
    Table("bits", "rig.bit", "Hole diameters", (Column("diameter_mm", "diameter", power=3), _text("kind", "kind"), Column("from_m", "from_depth", default=0.0), AT)),
    Table("intervals", "rig.ground", "Ground", (
        _FROM, _TO, _text("lithology", "words", "the driller's own words"), _text("ground_class", "ground_class", "our class beside them"),
        _text("colour", "colour"), _text("grain", "grain"), _text("strength", "strength"), _text("weathering", "weathering"), AT)),
    Table("strikes", "rig.struck", "Water strikes", (
        Column("depth_m", "depth"), Column("yield_lps", "yield_", power=3, help="rise of the measured flow at this strike", derived=True), _text("note", "note"), AT)),
    Table("flows", "rig.flow", "Flow measured at the collar", (
        Column("depth_m", "depth", help="depth of the hole"), Column("flow_lps", "flow", power=3),
        Column("standard_uncertainty_lps", "standard_uncertainty", power=3), _text("method", "method"), AT)),
    Table("levels", "rig.level", "Water levels dipped", (
        Column("depth_to_water_m", "depth_to_water", help="below ground level, negative when it flows"), _text("state", "state"),
        _text("measured_from", "measured_from"), Column("stick_up_m", "stick_up", default=0.0), AT)),
    Table("casing", "rig.casing", "Casing and slots", (
        _FROM, _TO, _text("string", "string"), Column("outside_diameter_mm", "outside_diameter", power=3), Column("wall_mm", "wall", power=3),
        _text("material", "material"), Column("slotted", "slotted", "boolean", default=False), Column("aperture_mm", "aperture", power=3),
        Column("joints", "joints", "integer"), AT)),
    Table("annulus", "rig.annulus", "Seal, grout, pack and backfill", (
        _FROM, _TO, _text("what", "what"), _text("material", "material"), Column("bags", "bags"), Column("bag_mass_kg", "bag_mass"),
        Column("density_kg_per_m3", "density"), Column("volume_L", "volume", power=3), AT)),
    Table("samples", "rig.sample", "Water sampled while drilling", (
        Column("depth_m", "depth"), Column("conductivity_uS_per_cm", "conductivity", help="at 25 degC"), Column("ph", "ph"),
        Column("temperature_degC", "temperature"), _text("bottle", "bottle"), AT)),
    Table("sealed", "rig.sealed_off", "Sealing of a failed hole", (
        Column("from_m", "intervals.from_depth"), Column("to_m", "intervals.to_depth"), _text("material", "intervals.material"),
        Column("bags", "intervals.bags"), Column("volume_L", "intervals.volume", power=3), _text("reason", "reason"), AT), ("intervals",)),
    Table("tests", "test.run", "Pumping tests", (
        _text("run", "run"), _text("type", "type"), Column("rate_lps", "rate", power=3), Column("duration_s", "duration"),
        Column("static_level_m", "static_level"), Column("well", "well", "string", default="pumped"), Column("radius_m", "radius"),
        Column("at", "at", "datetime", help="when pumping began, ISO 8601 with offset"))),
    Table("test_levels", "test.levels", "Levels of the tests", (
        _text("run", "run"), Column("time_s", "time", help="since pumping began"), Column("drawdown_m", "drawdown"),
        Column("well", "well", "string", default="pumped"), Column("radius_m", "radius"), AT), ("time", "drawdown")),
    Table("water", "water.analysis", "Analyses of the water", (
        _text("name", "values.name"), Column("value", "values.value"), _text("unit", "values.unit"),
        Column("below_detection", "values.below_detection", "boolean", default=False), _text("form", "values.form"),
        _text("laboratory", "laboratory"), _text("sampled_on", "sampled_on"), Column("use", "use", "string", default="drinking"), AT), ("values",)),
)
_BORE_NAMES = frozenset(c.name for c in BORE_COLUMNS)
_OTHER_UNITS = frozenset(["m", "cm", "mm", "km", "ft", "feet", "foot", "in", "inch", "yd", "l", "lps", "lpm", "lph", "gpm", "gph", "gal", "m3h", "m3d", "m3s", "kld", "mld", "cfs", "usgpm", "igpm", "fathom", "fathoms", "furlong"])
_LIST = {
    "bits": "bits", "intervals": "ground", "strikes": "strikes", "flows": "flows", "levels": "levels", "casing": "casings", "annulus": "annulus",
    "samples": "samples", "water": "analyses",
}


@dataclass(frozen=True, slots=True)
class Bore:
    """One hole: who and where, and `rows`, for each table's name its rows as dictionaries of field -> SI value.

    `id`, `name` and the fields of `BORE_COLUMNS` that are not derived; text is "" and numbers are None where nothing is known.
    """

    id: str
    name: str = ""
    reference: str = ""
    hole: int = 1
    latitude: float | None = None
    longitude: float | None = None
    elevation: float | None = None
    depth: float | None = None
    spot: str = ""
    way_of_picking: str = ""
    use: str = ""
    need: float | None = None
    driller: str = ""
    rig: str = ""
    method: str = ""
    started_at: str | None = None
    stopped_at: str | None = None
    stopped_reason: str = ""
    stopped_words: str = ""
    rows: Mapping[str, tuple[dict[str, Any], ...]] = field(default_factory=dict)

    def table(self, name: str) -> tuple[dict[str, Any], ...]:
        """Return the rows of a table, none if it has none."""
        return self.rows.get(name, ())

    @property
    def yield_(self) -> float | None:
        """Flow measured last: the deepest and then the latest reading [m3/s]."""
        flows = self.table("flows")
        return max(enumerate(flows), key=lambda p: (p[1]["depth"], p[0]))[1]["flow"] if flows else None

    @property
    def static_level(self) -> float | None:
        """Static level dipped last, below ground [m]."""
        static = [r["depth_to_water"] for r in self.table("levels") if r["state"] == "static"]
        return static[-1] if static else None

    @property
    def first_water(self) -> float | None:
        """Depth of the first strike [m]."""
        return min((r["depth"] for r in self.table("strikes")), default=None)

    @property
    def drilled_on(self) -> str | None:
        """Day the hole was stopped, or else started, by the site's clock."""
        moment = self.stopped_at or self.started_at
        return moment[:10] if moment else None

    @property
    def status(self) -> str:
        """What became of it: "open", "water" or "no water"."""
        if self.table("sealed"):
            return "no water"
        if not self.stopped_reason:
            return "open"
        cased = any(r["string"] == "production" for r in self.table("casing"))
        return "water" if self.stopped_reason == "enough water" or (cased and self.stopped_reason in ("depth agreed", "other")) else "no water"

    def strike_yields(self) -> list[float | None]:
        """Return the yield of each row of the strikes, by the rule of `Hole.strike_yields` [m3/s]."""
        hole = Hole(self.hole)
        hole.strikes = [Fact(None, KINDS["rig.struck"](depth=r["depth"])) for r in self.table("strikes")]
        hole.flows = [Fact(None, KINDS["rig.flow"](depth=r["depth"], method=r["method"], flow=r["flow"])) for r in self.table("flows")]
        by_depth: dict[float, float | None] = dict(hole.strike_yields())
        return [by_depth[r["depth"]] for r in self.table("strikes")]


# From the job book


def bores_of(job: Job) -> list[Bore]:
    """Return a bore for each hole of a job; for a job with no hole yet, one with a place and no depth."""
    if not job.holes:
        return [_bore(job, Hole(1), several=False)]
    return [_bore(job, hole, several=len(job.holes) > 1) for _, hole in sorted(job.holes.items())]


def _bore(job: Job, hole: Hole, *, several: bool) -> Bore:
    started, stopped = hole.started, hole.stopped
    spot = (started and job.spots.get(started.body.spot)) or job.spot
    place = spot or job.site
    rows: dict[str, tuple[dict[str, Any], ...]] = {}
    for table in TABLES:
        facts = _facts(hole, table)
        made = tuple(row for fact in facts for row in _rows(table, fact))
        if made:
            rows[table.name] = made
    return Bore(
        id=f"{job.id}-{hole.number}", name=job.title + (f", hole {hole.number}" if several else ""),
        reference=job.opened.body.reference if job.opened else "", hole=hole.number,
        latitude=place.body.latitude if place else None, longitude=place.body.longitude if place else None,
        elevation=spot.body.elevation if spot else None, depth=hole.depth if hole.depth > 0 else None,
        spot=spot.body.name if spot else "", way_of_picking=spot.body.way_of_picking if spot else "",
        use=job.need.body.use if job.need else "", need=job.need.body.flow if job.need else None,
        driller=started.entry.by if started else "", rig=started.body.rig if started else "", method=started.body.method if started else "",
        started_at=started.entry.at.isoformat() if started else None, stopped_at=stopped.entry.at.isoformat() if stopped else None,
        stopped_reason=stopped.body.reason if stopped else "", stopped_words=stopped.body.words if stopped else "", rows=rows,
    )


def _facts(hole: Hole, table: Table) -> list[Fact]:
    if table.name in _LIST:
        return getattr(hole, _LIST[table.name])
    if table.name == "sealed":
        return [hole.sealed_off] if hole.sealed_off else []
    tests = hole.tests.values()
    return [t.run for t in tests] if table.name == "tests" else [level for t in tests for level in t.levels]


def _rows(table: Table, fact: Fact) -> list[dict[str, Any]]:
    body = fact.body
    base = {"at": fact.entry.at.isoformat()}
    columns = [c for c in table.columns if c.field != "at" and not c.derived]
    if table.spread == ("time", "drawdown"):
        return [{**{c.field: getattr(body, c.field) for c in columns}, "time": t, "drawdown": d, **base} for t, d in zip(body.time, body.drawdown, strict=True)]
    if table.spread:
        outer = {c.field: getattr(body, c.field) for c in columns if "." not in c.field}
        return [{**{c.field: getattr(inner, c.field.partition(".")[2]) for c in columns if "." in c.field}, **outer, **base}
                for inner in getattr(body, table.spread[0])]
    return [{**{c.field: getattr(body, c.field) for c in columns}, **base}]


# Back to entries


def entries_of(bore: Bore, *, by: str, at: datetime) -> list[Entry]:
    """Return the entries that make a new job of a bore that was read, every value checked.

    Parameters
    ----------
    by : str
        Who reads it in; rows keep the driller's name where the file has one.
    at : datetime
        Moment, with offset, for what the file gives no time.

    Raises
    ------
    BadInput
        Named by bore, table, row and column, the first value that cannot stand; the value in the column's unit.

    Notes
    -----
    Ids come from the bore's id and what the entry says (RFC 9562 version 5), so the same file read twice adds nothing.
    """
    job = uuid5(SPACE, bore.id)
    writer = bore.driller or by
    given = bore.started_at or bore.stopped_at  # what the ids rest on: a file that gives no time makes the same ones whenever it is read
    moment = given or at.isoformat()
    made: list[Entry] = []

    def put(kind: str, body: Mapping[str, Any], when: str | None, where: str) -> None:
        fields = KINDS[kind].model_fields
        kept = {name: value for name, value in body.items() if value is not None and (value != "" or fields[name].is_required())}
        count = len(made)
        told = {"id": str(uuid5(job, f"{count} {kind} {sorted(kept.items(), key=lambda p: p[0])!r} {when}")), "job": str(job), "kind": kind, "at": when or moment,
                 "by": writer, "device": f"import-{job.hex[:12]}", "counter": count, "version": CURRENT_VERSION[kind], "body": kept}
        try:
            made.append(entry_from_json(told))
        except BadInput as error:
            column = _column(kind, error.field)
            raise BadInput(f"bore {bore.id}, {where}: {column.name}", _as_in_file(error.value, column), error.problem, error.want) from None

    hole = {"hole": bore.hole}
    put("enquiry.opened", {"title": bore.name or bore.id, "reference": bore.reference, "typed": {"bore_id": bore.id}}, given, "bores")
    if bore.need is not None:
        put("enquiry.need", {"flow": bore.need, "use": bore.use or "other"}, given, "bores")
    if bore.latitude is not None or bore.longitude is not None:
        put("ground.spot", {"name": bore.spot or "A", "latitude": bore.latitude, "longitude": bore.longitude, "elevation": bore.elevation,
                            "way_of_picking": bore.way_of_picking or "other"}, given, "bores")
    if bore.depth is not None or bore.started_at or bore.rows:
        put("rig.hole_started", {**hole, "spot": bore.spot or "A", "rig": bore.rig, "method": bore.method or "not said"}, given, "bores")
    _check_depths(bore)
    if bore.depth is not None:
        put("rig.advanced", {**hole, "to_depth": bore.depth}, given, "bores")
    for table in TABLES:
        for number, row, body in _bodies(table, bore.table(table.name)):
            put(table.kind, {**hole, **body}, row["at"], f"{table.name} row {number}")
    if bore.stopped_reason:
        put("rig.stopped", {**hole, "depth": bore.depth or 0.0, "reason": bore.stopped_reason, "words": bore.stopped_words}, bore.stopped_at, "bores")
    return made


def _column(kind: str, name: str) -> Column:
    """Return the column that a field of a body stands under in the files, so that the sentence names what the person sees."""
    last = name.split(".")[-1]
    for columns in (next((t.columns for t in TABLES if t.kind == kind), ()), BORE_COLUMNS):
        for column in columns:
            if column.field.split(".")[-1] == last:
                return column
    return {"to_depth": Column("depth_m", last), "title": Column("name", last), "flow": Column("need_lps", last, power=3), "reason": Column("stopped_reason", last),
            "by": Column("driller", last)}.get(last, Column(last, last))


def _as_in_file(value: Any, column: Column) -> Any:
    """Return a value that was refused as the file gave it: in the column's unit."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not column.power or not math.isfinite(value):
        return value
    return float(Decimal(repr(float(value))).scaleb(column.power))


def _check_depths(bore: Bore) -> None:
    for name, key in (("intervals", "to_depth"), ("strikes", "depth")):
        for number, row in enumerate(bore.table(name), 1):
            if bore.depth is not None and row[key] is not None and row[key] > bore.depth + 1e-9:
                raise BadInput(f"bore {bore.id}, {name} row {number}: {'to_m' if key == 'to_depth' else 'depth_m'}", row[key], f"lies below the bottom of the bore at {bore.depth:g} m",
                               "a depth within the bore, or the bore's own depth mended")


def _bodies(table: Table, rows: Iterable[dict[str, Any]]) -> Iterable[tuple[int, dict[str, Any], dict[str, Any]]]:
    """Yield (number of the row, the row, the body); rows that were spread from one body are gathered again."""
    if not table.spread:
        for number, row in enumerate(rows, 1):
            yield number, row, {k: v for k, v in row.items() if k != "at"}
        return
    held: list[tuple[int, dict[str, Any]]] = []

    def outer(row: dict[str, Any]) -> tuple[Any, ...]:
        return tuple((k, v) for k, v in sorted(row.items()) if "." not in k and k not in table.spread)

    def gathered() -> tuple[int, dict[str, Any], dict[str, Any]]:
        number, first = held[0]
        body = {k: v for k, v in first.items() if "." not in k and k not in table.spread and k != "at"}
        if table.spread == ("time", "drawdown"):
            body |= {name: [r[name] for _, r in held] for name in table.spread}
        else:
            body[table.spread[0]] = [{k.partition(".")[2]: v for k, v in r.items() if "." in k and v is not None} for _, r in held]
        return number, first, body

    for number, row in enumerate(rows, 1):
        if held and outer(row) != outer(held[-1][1]):
            yield gathered()
            held = []
        held.append((number, row))
    if held:
        yield gathered()


# Text


def to_text(value: Any, column: Column) -> str:
    """Return a value as text in the column's unit; a number by its shortest exact decimal, so that reading gives the same float."""
    if value is None:
        return ""
    if column.type == "boolean":
        return "true" if value else "false"
    if column.type == "number":
        return f"{Decimal(repr(float(value))).scaleb(column.power):f}"
    return str(value)


def from_text(text: Any, column: Column, *, where: str) -> Any:
    """Return what a text or JSON value of a column says, in SI; raise BadInput named by `where` and the column."""
    name = f"{where}: {column.name}"
    if text is None or text == "" or (column.type != "string" and isinstance(text, str) and not text.strip()):
        return column.default
    if column.type in ("number", "integer"):
        if isinstance(text, bool):
            raise BadInput(name, text, "is not a number", "a number, with a point")
        try:
            # Through the shortest decimal of a JSON number too, so that a unit of ten to some power is taken off exactly.
            number = float(Decimal(str(text).strip()).scaleb(-column.power))
        except (ArithmeticError, ValueError):
            raise BadInput(name, text, "is not a number", "a number, with a point") from None
        if not math.isfinite(number):
            raise BadInput(name, str(text), "is not a finite number", "a number, with a point")
        if column.type == "integer":
            if number != int(number):
                raise BadInput(name, text, "is not a whole number", "a whole number")
            return int(number)
        return number
    if column.type == "boolean":
        if isinstance(text, bool):
            return text
        word = str(text).strip().casefold()
        if word not in ("true", "false", "1", "0", "yes", "no"):
            raise BadInput(name, text, "is not true or false", "true or false")
        return word in ("true", "1", "yes")
    if not isinstance(text, str):
        raise BadInput(name, text, "is not text", "a text")
    if column.type == "datetime":
        return moment_of(text, name)
    return text


def foreign_unit(name: str, where: str) -> None:
    """Raise BadInput for a column that is one of ours in another unit ("depth_ft"): passed over, it would be lost in silence."""
    stem, line, unit = name.lower().rpartition("_")
    if name in _BORE_NAMES or not line or unit not in _OTHER_UNITS:
        return
    if ours := next((c for c in BORE_COLUMNS if c.type == "number" and c.name.rpartition("_")[0] == stem), None):
        raise BadInput(f"{where}: {name}", name, "is in a unit that is not known here", f"{ours.name}: values in the unit that ends its name")


def moment_of(text: str, name: str) -> str:
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(name, text, "is not a date and time", "ISO 8601 with an offset, 2026-03-02T08:15:00+10:00") from None
    # A bare day or a time with no offset is taken in UTC at noon, so that the day stays the day.
    if len(text.strip()) == 10:
        moment = moment.replace(hour=12)
    return (moment if moment.utcoffset() is not None else moment.replace(tzinfo=UTC)).isoformat()


def bore_from(values: Mapping[str, Any], rows: Mapping[str, list[dict[str, Any]]], summary: Mapping[str, Any]) -> Bore:
    """Return a bore from what a file says, its summary figures standing in where the tables behind them are missing.

    A foreign table may give only `yield_lps`, `static_level_m` or `drilled_on`: each becomes the one reading that would have told it.
    """
    kept = {name: list(made) for name, made in rows.items() if made}
    moment = values.get("stopped_at") or values.get("started_at")
    values = dict(values)
    if moment is None and summary.get("drilled_on"):
        moment = values["started_at"] = moment_of(summary["drilled_on"], "bores: drilled_on")
    if summary.get("first_water") is not None and "strikes" not in kept:
        kept["strikes"] = [{"depth": summary["first_water"], "note": "", "at": moment}]
    if summary.get("yield_") is not None and "flows" not in kept:
        kept["flows"] = [{"depth": values.get("depth") or 0.0, "flow": summary["yield_"], "standard_uncertainty": None, "method": "estimate", "at": moment}]
    if summary.get("static_level") is not None and not any(r["state"] == "static" for r in kept.get("levels", ())):
        kept.setdefault("levels", []).append(
            {"depth_to_water": summary["static_level"], "state": "static", "measured_from": "ground", "stick_up": 0.0, "at": moment})
    return Bore(**values, rows={t.name: tuple(kept[t.name]) for t in TABLES if t.name in kept})
