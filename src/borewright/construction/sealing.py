"""Sealing a failed or old bore: what goes in between which depths, how much, how many bags, from the bottom up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from borewright.construction.chlorine import CHLORINE_CAUTIONS, chlorine_dose
from borewright.construction.column import GroundInterval, read_ground, read_strikes, rockhead_of
from borewright.construction.grout import GROUT_CAUTION, annulus_volume, grout_mix, inside_volume, slurry
from borewright.construction.seal import FILLS
from borewright.errors import Advisory, BadInput, require_finite, require_fraction, require_positive

__all__ = ["SEALING_WAYS", "SealedInterval", "SealingPlan", "seal_hole", "sealing_as_dict"]

SEALING_WAYS = ("grout throughout", "fill and plugs")
PLUG, SPACING = 1.5, 5.0  # m: bentonite plugs of 1.5 m at most 5 m apart, New Brunswick guidelines (read)
CUT = 1.0  # m: casing cut below ground, New Brunswick (read); Texas 4 ft (read)
TOP_GROUT = 3.0  # m of grout at the top, New Brunswick (read)
STRADDLE = 1.5  # m each side of a casing's foot or rockhead: a 3 m plug, New Brunswick (read)
HOLE_CAUTION = Advisory(
    "open-hole", "danger", "An open hole can swallow a child, an animal or a tool, and may hold gas: keep it covered, do not lean over it or smoke, and never climb in.", "hole"
)
FLOWING = Advisory(
    "flowing-bore", "danger", "This hole flows: the flow must be stopped with heavy mud, a packer or stand-pipe before any grout can stay in it. Get licensed help.", "water_level"
)


@dataclass(frozen=True, slots=True)
class SealedInterval:
    """One material between two depths [m]: volume with waste [m3], bags or dry mass [kg] and how it is placed."""

    from_depth: float
    to_depth: float
    what: str
    material: str
    volume: float
    bags: int
    mass: float
    note: str


@dataclass(frozen=True, slots=True)
class SealingPlan:
    """How a hole is sealed, from the top down on paper and from the bottom up on site."""

    way: str
    total_depth: float
    hole_volume: float
    intervals: tuple[SealedInterval, ...]
    grout_bags: int
    chip_bags: int
    grout_water: float
    fill_volume: float
    chlorine_mass: float
    bag_mass: float
    waiting_time: float
    steps: tuple[str, ...]
    source: tuple[str, ...]
    advisories: tuple[Advisory, ...]


def sealing_as_dict(plan: SealingPlan) -> dict[str, Any]:
    """Return a plan as plain JSON types."""
    found = asdict(plan)
    for name in ("intervals", "advisories", "steps", "source"):
        found[name] = list(found[name])
    return found


def seal_hole(
    ground: Iterable[Any] = (), strikes: Iterable[Any] = (), *, hole: Sequence[tuple[float, float, float]], water_level: float | None = None,
    casing_foot: float | None = None, way: str = "grout throughout", mix: str = "neat cement", chips: str = "medium chips", waste: float = 0.1,
    bag_mass: float = 20.0,
) -> SealingPlan:
    """Return what seals a hole.

    Parameters
    ----------
    ground, strikes : iterable
        As in `design_bore`; they say where plugs belong. Without ground the hole is taken as sound all the way.
    hole : sequence of (from, to, diameter)
        From the top down without gaps; the inside diameter where casing stays in [m].
    water_level : float, optional
        Depth to standing water, negative if it flows [m].
    casing_foot : float, optional
        Where casing that stays in the hole ends [m].
    way : str
        "grout throughout", or "fill and plugs": clean chlorinated gravel in sound rock with bentonite plugs between.
    mix, chips, bag_mass
        Of the grout and the plugs [kg].
    waste : float
        Extra over the hole's volume: trade guidance says 0.1 [-].

    Raises
    ------
    BadInput
        Gaps, overlaps or impossible sizes; a way or a material that is not known.

    Notes
    -----
    New Brunswick guidelines: bentonite plugs of at least 1.5 m no more than 5 m apart, a 3 m plug across the foot of casing, the top 3 m grouted and the
    casing cut 1 m below ground; filled from the bottom up by tremie (Wisconsin NR 812.26). Volume pi/4 D^2 h (1 + waste).
    """
    if way not in SEALING_WAYS:
        raise BadInput("way", way, "is not a way to seal a hole", "one of " + ", ".join(SEALING_WAYS))
    if chips not in FILLS or chips == "sand":
        raise BadInput("chips", chips, "does not swell or is not known", "coarse chips, medium chips or pellets")
    recipe = grout_mix(mix)
    require_fraction(waste=waste)
    require_positive(bag_mass=bag_mass)
    pieces = _pieces(hole)
    total = pieces[-1][1]
    found = read_ground(ground)
    wet = read_strikes(strikes, total_depth=total)
    if water_level is not None:
        require_finite(water_level=water_level)
    if casing_foot is not None and not 0 < casing_foot <= total:
        raise BadInput("casing_foot", casing_foot, "is not in the hole", f"a depth to {total:g} m")
    spans = _spans(found, total, casing_foot, way)
    one = slurry(bag_mass=bag_mass, water_ratio=recipe.water_ratio, bentonite_share=recipe.bentonite_share, powder=recipe.powder)
    rows = []
    for top, bottom, what in spans:
        volume = sum(inside_volume(d, min(b, bottom) - max(a, top)) for a, b, d in pieces if min(b, bottom) - max(a, top) > 0) * (1 + waste)
        if what == "grout":
            bags, mass, material = math.ceil(volume / one.volume - 1e-9), volume / one.volume * bag_mass, mix
            note = f"by tremie from the bottom, {bags * one.water * 1000:.0f} L of water, {one.density:.0f} kg/m3"
        elif what == "plug":
            mass, material = volume * FILLS[chips].bulk_density, f"bentonite {chips}"
            bags, note = math.ceil(mass / bag_mass - 1e-9), "poured slowly, sounded, wetted where it is above water"
        elif what == "fill":
            bags, mass, material, note = 0, volume * 1600.0, "clean gravel", "washed and chlorinated; never past the depth shown"
        else:
            bags, mass, material, note = 0, volume * 1700.0, "soil", "casing cut off below, ground mounded and marked"
        rows.append(SealedInterval(top, bottom, what, material, volume, bags, mass, note))
    inside = max(total - max(water_level or 0.0, 0.0), 0.0)
    chlorine = 0.0
    if inside > 0:
        water = sum(inside_volume(d, b - max(a, total - inside)) for a, b, d in pieces if b > total - inside)
        equal = math.sqrt(water / inside * 4 / math.pi)
        chlorine = chlorine_dose(dose=100.0, inside_diameter=equal, water_length=inside).product_mass or 0.0
    doubts = [HOLE_CAUTION, GROUT_CAUTION, *CHLORINE_CAUTIONS[:1]]
    if water_level is not None and water_level <= 0:
        doubts.insert(0, FLOWING)
    if way == "fill and plugs" and len(wet) > 1:
        doubts.append(Advisory("aquifers-joined", "doubt", "Gravel between plugs leaves water free to move between strikes: grout throughout if they differ in salt or pressure.", "way"))
    if casing_foot is not None:
        doubts.append(Advisory("outside-casing", "doubt", "Casing that was never grouted outside lets water pass behind it: pull it, or perforate it and grout through.", "casing_foot"))
    if not found:
        doubts.append(Advisory("no-log", "doubt", "No log of the ground was given, so where rock and plugs lie is not known.", "ground"))
    doubts.append(Advisory("local-code", "note", "Local code says how a bore is sealed and who may do it; it comes first.", "plan"))
    grout_bags = sum(r.bags for r in rows if r.what == "grout")
    return SealingPlan(
        way=way, total_depth=total, hole_volume=sum(inside_volume(d, b - a) for a, b, d in pieces), intervals=tuple(rows), grout_bags=grout_bags,
        chip_bags=sum(r.bags for r in rows if r.what == "plug"), grout_water=grout_bags * one.water, fill_volume=sum(r.volume for r in rows if r.what == "fill"),
        chlorine_mass=chlorine, bag_mass=bag_mass, waiting_time=recipe.setting_time, steps=_steps(rows, chlorine, recipe.setting_time),
        source=("Guidelines for Decommissioning Water Wells, New Brunswick (read)", "Wisconsin NR 812.26 (read)", "NRCS Idaho ID-351: 100 mg/L first (read)"),
        advisories=tuple(doubts),
    )


def _pieces(hole: Sequence[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    if not hole:
        raise BadInput("hole", 0, "is empty", "(from, to, diameter) from the top down")
    pieces, last = [], 0.0
    for i, row in enumerate(hole):
        if len(row) != 3:
            raise BadInput(f"hole[{i}]", row, "is not from, to and diameter", "three numbers [m]")
        top, bottom, diameter = (float(v) for v in row)
        require_finite(**{f"hole[{i}]": (top, bottom, diameter)})
        if abs(top - last) > 1e-6:
            raise BadInput(f"hole[{i}].from_depth", top, "leaves a gap or overlaps", f"{last:g} m")
        if bottom <= top:
            raise BadInput(f"hole[{i}].to_depth", bottom, "is not below the top of the interval", f"a depth below {top:g} m")
        annulus_volume(diameter, 0.0, bottom - top)
        pieces.append((last, bottom, diameter))
        last = bottom
    return pieces


def _spans(ground: tuple[GroundInterval, ...], total: float, casing_foot: float | None, way: str) -> list[tuple[float, float, str]]:
    """Return (from, to, what) from the top down, without gaps."""
    soil = min(CUT, 0.2 * total)
    spans = [(0.0, soil, "soil")]
    if way == "grout throughout":
        return [*spans, (soil, total, "grout")]
    rockhead = rockhead_of(ground) if ground else 0.0
    if rockhead is None:
        return [*spans, (soil, total, "grout")]
    unsound = max((g.to_depth for g in ground if not g.sound), default=0.0)
    grouted = min(max(rockhead + STRADDLE, unsound + STRADDLE, (casing_foot or 0.0) + STRADDLE, soil + TOP_GROUT), total)
    spans.append((soil, grouted, "grout"))
    top = grouted
    while total - top > PLUG + 0.5:
        bottom = min(top + SPACING, total)
        spans.append((top, bottom, "fill"))
        if bottom < total:
            spans.append((bottom, min(bottom + PLUG, total), "plug"))
        top = min(bottom + PLUG, total)
    if total - top > 1e-9:
        spans.append((top, total, "plug"))
    return spans


def _steps(rows: list[SealedInterval], chlorine: float, wait: float) -> tuple[str, ...]:
    words = []
    if chlorine > 0:
        words.append(f"Stir {chlorine * 1000:.0f} g of 65 % calcium hypochlorite, dissolved, into the standing water (100 mg/L).")
    for row in reversed(rows):
        amount = f"{row.bags} bags" if row.bags else f"{row.volume * 1000:.0f} L"
        words.append(f"{row.to_depth:.1f} to {row.from_depth:.1f} m: {row.material}, {amount}; {row.note}."
                     + (" Sound the top before going on." if row.what != "soil" else ""))
    words.insert(-1, f"Wait {wait / 3600:.0f} h and top up if the grout has gone down; cut the casing off.")
    return tuple(words)
