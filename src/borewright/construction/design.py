"""A bore design as plain data: what it holds, how it travels as a dict, and what no design can be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from borewright.construction.column import GroundInterval, Strike, read_ground, read_strikes
from borewright.errors import Advisory, BadInput

__all__ = ["Annulus", "BoreDesign", "CasingString", "DesignSettings", "HoleInterval", "MaterialItem", "Slots", "StageCheck", "design_as_dict",
           "design_from_dict", "hole_diameter_at", "outer_pieces", "read_settings"]

# Bits in mm; common practice, no source.
BITS = (89, 95, 102, 115, 127, 140, 152, 165, 178, 191, 200, 216, 229, 241, 254, 270, 290, 305, 330, 349, 381, 406, 445, 508, 559, 610, 660)


@dataclass(frozen=True, slots=True)
class DesignSettings:
    """What the firm and the local code ask of a design. Lengths and diameters in m, shares as fractions, temperature in degC.

    The defaults are common practice unless a source stands beside them; the local code comes first.
    """

    material: str = "PVC-U"
    series: str = "metric"
    casing: str = ""  # a stock size by name, to hold the design to it
    conductor_material: str = "PVC-U"
    conductor_series: str = "metric"
    conductor_casing: str = ""
    completion: str = "cased"  # or "open hole" below the conductor
    bits: tuple[float, ...] = tuple(b / 1000 for b in BITS)
    annulus: float = 0.0254  # all round: casing + 2 in, New York 10 NYCRR 5-B Table 2 (read)
    bit_clearance: float = 0.006  # a bit must pass the casing above by this much on diameter
    into_rock: float = 1.5  # 5 ft into bedrock, health guidance (read, secondary)
    least_sealed: float = 6.0  # 19 ft of casing below grade, 10 NYCRR 5-B.3 (read)
    slot_margin: float = 1.5
    slot_layout: str = "whole"  # the whole water-bearing length, or "by strike"
    open_share: float = 0.05  # 4 in schedule 80, 0.025 in slots: at least 5 %, TM 5-818-5 (read)
    aperture: float = 0.0015  # in rock the slots only hold the ground up
    pack: str = "auto"  # "auto", "yes" or "no"
    pack_cover: float = 1.0  # 600 to 1500 mm above the screen, UFGS 02525N (read)
    seal_length: float = 1.5  # at least 2 ft, TI 814-01 (read)
    seal_kind: str = "medium chips"
    sump: float = 3.0
    stick_up: float = 0.3  # 12 in above slab, TM 5-813-1 p. 29 (read)
    grout_mix: str = "neat cement"
    grout_density: float | None = None  # what the mud balance will show, where it is not the mix's own
    washout: float = 0.2
    bag_mass: float = 20.0
    most_lifts: int = 3
    grout_method: str = "tremie"  # or "through the casing", for strings without slots
    running_lag: float = 6.0  # casing filled as it is run, at most one length behind
    run_empty: bool = False
    slot_relief: float = 0.5  # share of the column that slots and the open annulus behind them let through
    ground_temperature: float = 20.0
    centraliser_spacing: float = 6.0
    pump_diameter: float = 0.098
    pump_clearance: float = 0.012
    pump_submergence: float = 5.0
    chlorine_dose: float = 100.0  # mg/L
    rockhead_chance: float = 0.5


@dataclass(frozen=True, slots=True)
class CasingString:
    """One string: conductor or production. Depths, outside diameter and wall in m; `casing` is its name in the catalogue."""

    string: str
    from_depth: float
    to_depth: float
    outside_diameter: float
    wall: float
    material: str
    slotted_from: float | None = None
    slotted_to: float | None = None
    casing: str = ""


@dataclass(frozen=True, slots=True)
class HoleInterval:
    """Hole of one diameter between two depths [m]."""

    from_depth: float
    to_depth: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Slots:
    """Slotted casing between two depths, with the width of a slot [m] and the open share of the wall [-]."""

    from_depth: float
    to_depth: float
    aperture: float
    open_share: float = 0.05


@dataclass(frozen=True, slots=True)
class Annulus:
    """What stands outside a string between two depths: grout, seal, pack, backfill or open; volume [m3], whole bags, density [kg/m3]."""

    what: str
    from_depth: float
    to_depth: float
    material: str
    string: str
    volume: float = 0.0
    bags: int = 0
    density: float = 0.0
    lifts: int = 1


@dataclass(frozen=True, slots=True)
class StageCheck:
    """One string at one stage, at the depth where it is worst: Pa; the factor is capped at 99 where nothing presses."""

    stage: str
    string: str
    depth: float
    pressure: float
    resistance: float
    factor: float
    required: float
    verdict: str
    source: str


@dataclass(frozen=True, slots=True)
class MaterialItem:
    """Something to buy."""

    item: str
    quantity: float
    unit: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class BoreDesign:
    """A whole bore: what to drill, run, place and buy, with every stage checked. SI; depths below ground level."""

    basis: str
    total_depth: float
    static_level: float
    pumping_level: float
    need: float
    rockhead: float | None
    ground: tuple[GroundInterval, ...]
    strikes: tuple[Strike, ...]
    hole: tuple[HoleInterval, ...]
    strings: tuple[CasingString, ...]
    slots: tuple[Slots, ...]
    annulus: tuple[Annulus, ...]
    pump_depth: float
    stick_up: float
    centralisers: tuple[tuple[str, float], ...]
    settings: DesignSettings
    stages: tuple[StageCheck, ...] = ()
    materials: tuple[MaterialItem, ...] = ()
    differently: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    notes: tuple[Advisory, ...] = ()  # what was assumed when the design was made; kept through hand edits
    advisories: tuple[Advisory, ...] = ()

    def string(self, name: str) -> CasingString | None:
        """Return a string by name, or None."""
        return next((s for s in self.strings if s.string == name), None)


def design_as_dict(design: BoreDesign) -> dict[str, Any]:
    """Return a design as plain JSON types; depths [m], diameters [m], volumes [m3], pressures [Pa]."""
    found = asdict(design)
    for name in ("ground", "strikes", "hole", "strings", "slots", "annulus", "stages", "materials", "notes", "advisories"):
        found[name] = [dict(row) for row in found[name]]
    found["differently"], found["steps"] = list(design.differently), list(design.steps)
    found["centralisers"] = [{"string": string, "depth": depth} for string, depth in design.centralisers]
    found["settings"] = {**found["settings"], "bits": list(design.settings.bits)}
    found["headworks"] = {"stick_up": design.stick_up, "slab_side": SLAB_SIDE, "slab_thickness": SLAB_THICKNESS}
    return found


SLAB_SIDE, SLAB_THICKNESS = 1.2, 0.1  # 4 in thick, 2 ft all round, TM 5-813-1 p. 29 (read)


def _row(kind: type, row: Any, where: str) -> Any:
    if not isinstance(row, Mapping):
        raise BadInput(where, row, "is not a row of fields", "an object with " + ", ".join(f.name for f in fields(kind)))
    known = {f.name: f for f in fields(kind)}
    for name in row:
        if name not in known:
            raise BadInput(f"{where}.{name}", row[name], "is not a field here", "one of " + ", ".join(known))
    values: dict[str, Any] = {}
    for name, one in known.items():
        if name not in row:
            if one.default is one.default_factory:  # both MISSING
                raise BadInput(f"{where}.{name}", None, "is missing", f"a value for {name.replace('_', ' ')}")
            continue
        values[name] = _value(row[name], str(one.type), f"{where}.{name}")
    return kind(**values)


def _value(value: Any, kind: str, where: str) -> Any:
    if value is None and "None" in kind:
        return None
    if kind.startswith("tuple"):
        if not isinstance(value, (list, tuple)):
            raise BadInput(where, value, "is not a list", "a list of numbers")
        return tuple(_value(v, "float", where) for v in value)
    if kind.startswith("bool"):
        if not isinstance(value, bool):
            raise BadInput(where, value, "is not true or false", "true or false")
        return value
    if kind.startswith(("float", "int")):
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise BadInput(where, value, "is not a finite number", "a number in SI units")
        return float(value) if kind.startswith("float") else int(value)
    if not isinstance(value, str):
        raise BadInput(where, value, "is not text", "a word")
    return value


def read_settings(data: Mapping[str, Any]) -> DesignSettings:
    """Return design settings from a dict, each value of its kind and possible; BadInput names the one that is not."""
    found: DesignSettings = _row(DesignSettings, data, "settings")
    for one in fields(DesignSettings):
        value = getattr(found, one.name)
        where = f"settings.{one.name}"
        for number in value if isinstance(value, tuple) else (value,):
            if not isinstance(number, (int, float)) or isinstance(number, bool):
                continue
            if number < 0 or (number == 0 and one.name in ABOVE_ZERO):
                raise BadInput(where, number, "is negative or nothing", "a number above zero" if one.name in ABOVE_ZERO else "zero or more")
            if one.name in SHARES and number > 1:
                raise BadInput(where, number, "is more than the whole", "a share from 0 to 1")
        if one.name in WORDS and value not in WORDS[one.name]:
            raise BadInput(where, value, "is not a word that is known here", "one of " + ", ".join(WORDS[one.name]))
    if not found.bits:
        raise BadInput("settings.bits", 0, "is empty", "the diameters of the bits that the firm has [m]")
    return found


ABOVE_ZERO = ("bits", "annulus", "slot_margin", "aperture", "open_share", "bag_mass", "most_lifts", "centraliser_spacing", "pump_diameter", "chlorine_dose")
SHARES = ("open_share", "slot_relief", "rockhead_chance")
WORDS = {
    "completion": ("cased", "open hole"), "slot_layout": ("whole", "by strike"), "pack": ("auto", "yes", "no"),
    "grout_method": ("tremie", "through the casing"),
}


def _rows(kind: type, data: Mapping[str, Any], name: str) -> tuple[Any, ...]:
    rows = data.get(name, ())
    if not isinstance(rows, (list, tuple)):
        raise BadInput(name, rows, "is not a list", "a list of rows")
    return tuple(_row(kind, row, f"{name}[{i}]") for i, row in enumerate(rows))


def design_from_dict(data: Mapping[str, Any]) -> BoreDesign:
    """Return the design held in a dict made by `design_as_dict`, perhaps edited by hand.

    Raises
    ------
    BadInput
        A field missing, unknown or not finite; what cannot be built: a wall as thick as the radius, intervals that overlap or turn over, a
        string longer than the hole or wider than it, a strike outside the hole. What is only against a rule is left for `check_design`.
    """
    if not isinstance(data, Mapping):
        raise BadInput("design", data, "is not a design", "the object that design_as_dict makes")
    depth = _value(data.get("total_depth"), "float", "total_depth")
    if depth <= 0:
        raise BadInput("total_depth", depth, "must be above zero", "the depth of the hole [m]")
    raw = data.get("centralisers", ())
    centralisers = tuple((str(c["string"]), _value(c["depth"], "float", "centralisers.depth")) for c in raw) if isinstance(raw, (list, tuple)) else ()
    number = {name: _value(data.get(name), "float", name) for name in ("static_level", "pumping_level", "need", "pump_depth", "stick_up")}
    design = BoreDesign(
        basis=_value(data.get("basis", "by hand"), "str", "basis"), total_depth=depth, rockhead=_value(data.get("rockhead"), "float | None", "rockhead"),
        ground=read_ground(data.get("ground", ())), strikes=read_strikes(data.get("strikes", ()), total_depth=depth),
        hole=_rows(HoleInterval, data, "hole"), strings=_rows(CasingString, data, "strings"), slots=_rows(Slots, data, "slots"),
        annulus=_rows(Annulus, data, "annulus"), centralisers=centralisers, settings=read_settings(data.get("settings", {})),
        stages=_rows(StageCheck, data, "stages"), materials=_rows(MaterialItem, data, "materials"),
        differently=tuple(str(t) for t in data.get("differently", ())), steps=tuple(str(t) for t in data.get("steps", ())), notes=_rows(Advisory, data, "notes"),
        advisories=_rows(Advisory, data, "advisories"), **number,
    )
    require_buildable(design)
    return design


def _ordered(rows: Iterable[Any], name: str, depth: float) -> None:
    last = 0.0
    for i, row in enumerate(sorted(rows, key=lambda r: r.from_depth)):
        if row.from_depth < -1e-9 or row.to_depth <= row.from_depth:
            raise BadInput(f"{name}[{i}].to_depth", row.to_depth, "is not below the top of the interval", f"a depth below {max(row.from_depth, 0.0):g} m")
        if row.to_depth > depth + 1e-6:
            raise BadInput(f"{name}[{i}].to_depth", row.to_depth, "lies below the hole", f"at most {depth:g} m")
        if i and row.from_depth < last - 1e-6:
            raise BadInput(f"{name}[{i}].from_depth", row.from_depth, "overlaps the interval above", f"at least {last:g} m")
        last = row.to_depth


def require_buildable(design: BoreDesign) -> None:
    """Raise BadInput for what no rig can build."""
    depth = design.total_depth
    if not design.hole or not design.strings:
        raise BadInput("strings" if design.hole else "hole", 0, "is empty", "at least one row")
    _ordered(design.hole, "hole", depth)
    last = 0.0
    for i, interval in enumerate(sorted(design.hole, key=lambda h: h.from_depth)):
        if interval.diameter <= 0:
            raise BadInput(f"hole[{i}].diameter", interval.diameter, "must be above zero", "the diameter of the bit [m]")
        if abs(interval.from_depth - last) > 1e-6:
            raise BadInput(f"hole[{i}].from_depth", interval.from_depth, "leaves a gap in the hole", f"{last:g} m")
        last = interval.to_depth
    if abs(last - depth) > 1e-6:
        raise BadInput("hole", last, "does not reach the total depth", f"hole down to {depth:g} m")
    _ordered(design.slots, "slots", depth)
    for i, slots in enumerate(sorted(design.slots, key=lambda s: s.from_depth)):
        if not 0 < slots.open_share < 1:
            raise BadInput(f"slots[{i}].open_share", slots.open_share, "is not an open share of a wall", "a share between 0 and 1")
        if slots.aperture <= 0:
            raise BadInput(f"slots[{i}].aperture", slots.aperture, "is not a slot", "a width above zero [m]")
    names = [s.string for s in design.strings]
    if len(set(names)) != len(names):
        raise BadInput("strings", ", ".join(names), "names one string twice", "each string once")
    for i, string in enumerate(design.strings):
        where = f"strings[{i}]"
        if string.outside_diameter <= 0 or string.wall <= 0 or 2 * string.wall >= string.outside_diameter:
            raise BadInput(f"{where}.wall", string.wall, "is as thick as the radius, or is not a wall", "a wall under half the outside diameter [m]")
        if not -1e-9 <= string.from_depth < string.to_depth or string.to_depth > depth + 1e-6:
            raise BadInput(f"{where}.to_depth", string.to_depth, "does not end in the hole", f"a depth from {string.from_depth:g} to {depth:g} m")
        for interval in design.hole:
            if interval.from_depth < string.to_depth - 1e-6 and interval.to_depth > string.from_depth + 1e-6 and interval.diameter <= string.outside_diameter:
                raise BadInput(f"{where}.outside_diameter", string.outside_diameter, f"does not fit the {interval.diameter * 1000:g} mm hole",
                               f"less than {interval.diameter:g} m")
        _ordered([a for a in design.annulus if a.string == string.string], f"annulus of the {string.string}", depth)
    for i, part in enumerate(design.annulus):
        if part.string not in names:
            raise BadInput(f"annulus[{i}].string", part.string, "is no string of this design", "one of " + ", ".join(names))
        if part.lifts < 1:
            raise BadInput(f"annulus[{i}].lifts", part.lifts, "is not a number of lifts", "1 or more")
    for i, outer in enumerate(design.strings):
        for inner in design.strings[i + 1:]:
            small, large = sorted((outer, inner), key=lambda s: s.outside_diameter)
            if min(small.to_depth, large.to_depth) > max(small.from_depth, large.from_depth) and small.outside_diameter >= large.outside_diameter - 2 * large.wall:
                raise BadInput(f"strings[{names.index(small.string)}].outside_diameter", small.outside_diameter, f"does not pass through the {large.string}",
                               f"less than {large.outside_diameter - 2 * large.wall:g} m")


def hole_diameter_at(design: BoreDesign, depth: float) -> float:
    """Return the diameter of the hole at a depth [m]."""
    for interval in design.hole:
        if interval.from_depth - 1e-9 <= depth <= interval.to_depth + 1e-9:
            return interval.diameter
    raise BadInput("depth", depth, "lies outside the hole", f"0 to {design.total_depth:g} m")


def outer_pieces(design: BoreDesign, string: str, top: float, bottom: float) -> list[tuple[float, float, float, float, bool]]:
    """Return (from, to, outer diameter, inner diameter, cased outside) of a string's annulus, cut where either changes; inner is 0 below its foot."""
    one = design.string(string)
    wider = [s for s in design.strings if one is not None and s.outside_diameter > one.outside_diameter]
    marks = {top, bottom}
    for rows in (design.hole, wider, [one] if one else []):
        marks |= {edge for row in rows for edge in (row.from_depth, row.to_depth) if top < edge < bottom}
    cuts = sorted(marks)
    pieces = []
    for a, b in zip(cuts, cuts[1:], strict=False):
        middle = 0.5 * (a + b)
        around = [s for s in wider if s.from_depth <= middle <= s.to_depth]
        outer = min((s.outside_diameter - 2 * s.wall for s in around), default=0.0) or hole_diameter_at(design, middle)
        inner = one.outside_diameter if one is not None and middle <= one.to_depth else 0.0
        pieces.append((a, b, outer, inner, bool(around)))
    return pieces


def with_strings(design: BoreDesign, **changes: CasingString) -> BoreDesign:
    """Return a design with some strings put in place of those of the same name."""
    return replace(design, strings=tuple(changes.get(s.string, s) for s in design.strings))
