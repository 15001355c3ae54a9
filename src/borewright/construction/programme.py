"""The programme of a bore: from ground, strikes and need to hole, casing, slots, seal and grout, each string proved at each stage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from borewright.construction.catalogue import Casing, Catalogue, casing_of, catalogue_material, standard_catalogue
from borewright.construction.column import (
    GroundInterval,
    Strike,
    expected_depth,
    expected_ground,
    expected_strikes,
    read_ground,
    read_strikes,
    rockhead_of,
    sound_rock,
)
from borewright.construction.design import (
    Annulus,
    BoreDesign,
    CasingString,
    DesignSettings,
    HoleInterval,
    Slots,
    require_buildable,
)
from borewright.construction.grout import WATER_DENSITY, grout_mix
from borewright.construction.rules import recheck
from borewright.construction.seal import FILLS
from borewright.construction.stages import check_stages, grout_density, shallowest_failure, stage_profiles
from borewright.errors import (
    Advisory,
    BadInput,
    Refused,
    require_finite,
    require_fraction,
    require_non_negative,
    require_positive,
)
from borewright.siting.prospect import ExpectedColumn, WaterProspect

__all__ = ["centralisers_of", "design_bore", "design_from_expected", "design_from_log"]

SHALLOW = 12.0  # m; a hole shallower than this takes one string and no conductor
MERGE_SLOTS = 3.0  # m between slotted lengths that are not worth a blank one
LEAST_SLOTS = 0.3  # m of slotted casing worth the name
LEAST_BIT = 0.127  # m; open hole below a conductor


@dataclass(frozen=True, slots=True)
class _Built:
    """What stands already: the hole as drilled and the conductor as run, either or neither."""

    hole: tuple[HoleInterval, ...] = ()
    conductor: Casing | None = None
    conductor_depth: float = 0.0
    passing: float | None = None  # the largest bit that the conductor passes

    @property
    def bit(self) -> float | None:
        """The narrowest hole below the conductor, or the bit that may yet drill it; the production casing must fit [m]."""
        return min((h.diameter for h in self.hole if h.to_depth > self.conductor_depth + 1e-6), default=self.passing)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Depths of a design before any diameter is chosen [m]; `foot` is where the production casing ends."""

    conductor: float
    slots: tuple[tuple[float, float], ...]
    foot: float
    cover: float
    seal: float
    packed: bool
    notes: tuple[Advisory, ...]


def design_bore(
    ground: Iterable[Any], strikes: Iterable[Any], *, total_depth: float, static_level: float, need: float, pumping_level: float | None = None,
    rockhead: float | None = None, hole: Sequence[tuple[float, float, float]] = (), conductor: Any = None, basis: str = "by hand",
    settings: DesignSettings | None = None, catalogue: Catalogue | None = None, notes: tuple[Advisory, ...] = (),
) -> BoreDesign:
    """Return a whole bore for the ground, the strikes and the need.

    Parameters
    ----------
    ground : iterable
        Rows with from_depth, to_depth [m] and ground_class or words.
    strikes : iterable
        (depth [m], flow [m3/s]) pairs, or rows with depth and flow.
    total_depth : float
        Of the hole [m].
    static_level : float
        Depth to standing water; negative when it flows [m].
    need : float
        Flow the customer must have [m3/s].
    pumping_level : float, optional
        Deepest pumping level over the life; two thirds of the way from static to the slots when left out [m].
    rockhead : float, optional
        Top of rock; read off the ground when left out [m].
    hole : sequence of (from, to, diameter), optional
        The hole as drilled, from the top down without gaps; chosen when left out [m].
    conductor : row, optional
        The conductor as run: to_depth, outside_diameter, wall [m] and material; wall and material may be missing.
    settings : DesignSettings, optional
    catalogue : Catalogue, optional

    Raises
    ------
    BadInput
        Overlapping ground, a strike outside the hole, levels that cannot be, no casing that the pump passes, or a grout that no casing of the
        series can stand in the lifts allowed: it names the stage, the depth and the pressure.
    Refused
        No strike can be slotted: nothing to build.

    Notes
    -----
    The conductor reaches `into_rock` into sound rock. Slots run along the whole water-bearing length, below the static level and the sealed
    length. The lightest casing of the smallest diameter that passes the pump and holds at every stage is taken; where none holds, the strongest is
    and the design says at which stage and depth it fails.
    """
    settings, catalogue = settings or DesignSettings(), catalogue or standard_catalogue()
    require_positive(total_depth=total_depth, need=need)
    _require_settings(settings)
    require_finite(static_level=static_level)
    if static_level >= total_depth:
        raise BadInput("static_level", static_level, "lies below the hole", f"less than {total_depth:g} m")
    intervals, found = read_ground(ground), read_strikes(strikes, total_depth=total_depth)
    if rockhead is not None and not rockhead >= 0:
        raise BadInput("rockhead", rockhead, "must not be below zero", "a depth in the hole [m]")
    if rockhead is None:
        rockhead = rockhead_of(intervals)
    built = _built(hole, conductor, total_depth, settings, catalogue)
    layout = _layout(intervals, found, total_depth, static_level, rockhead, settings, built)
    top = layout.slots[0][0] if layout.slots else total_depth
    if pumping_level is None:
        pumping_level = max(static_level, 0.0) + 2 / 3 * (top - max(static_level, 0.0))
    require_finite(pumping_level=pumping_level)
    if not static_level <= pumping_level < total_depth:
        raise BadInput("pumping_level", pumping_level, "is above the static level or below the hole", f"from {static_level:g} to {total_depth:g} m")
    foot = layout.foot or total_depth
    pump = min(max(pumping_level, 0.0) + settings.pump_submergence, foot - min(1.0, 0.1 * foot))
    bare = BoreDesign(
        basis=basis, total_depth=total_depth, static_level=static_level, pumping_level=pumping_level, need=need, rockhead=rockhead, ground=intervals,
        strikes=found, hole=(), strings=(), slots=tuple(Slots(a, b, settings.aperture, settings.open_share) for a, b in layout.slots), annulus=(),
        pump_depth=pump, stick_up=settings.stick_up, centralisers=(), settings=settings, notes=(*notes, *layout.notes),
    )
    chosen = _choose(bare, layout, catalogue, built)
    require_buildable(chosen)
    return recheck(chosen, catalogue=catalogue)


def design_from_log(
    ground: Iterable[Any], strikes: Iterable[Any], *, total_depth: float, static_level: float, need: float, pumping_level: float | None = None,
    rockhead: float | None = None, hole: Sequence[tuple[float, float, float]] = (), conductor: Any = None, settings: DesignSettings | None = None,
    catalogue: Catalogue | None = None,
) -> BoreDesign:
    """Return the bore for a hole as it was drilled and logged, its diameters and conductor kept where they are given; see `design_bore`."""
    return design_bore(ground, strikes, total_depth=total_depth, static_level=static_level, need=need, pumping_level=pumping_level, rockhead=rockhead,
                       hole=hole, conductor=conductor, basis="logged", settings=settings, catalogue=catalogue)


def design_from_expected(
    prospect: WaterProspect, column: ExpectedColumn, *, need: float, total_depth: float | None = None, static_level: float | None = None,
    pumping_level: float | None = None, settings: DesignSettings | None = None, catalogue: Catalogue | None = None,
) -> BoreDesign:
    """Return the bore to plan and price before drilling, from what is expected under the spot.

    Depth, strikes and static level are taken from the belief where they are not given, and each such assumption is a note of the design.
    """
    settings = settings or DesignSettings()
    notes = []
    if total_depth is None:
        total_depth = math.ceil(expected_depth(prospect, need=need) + settings.sump)
        notes.append(Advisory("depth-assumed", "note", f"Depth of {total_depth:g} m is where the strikes expected reach the need; the hole will decide.", "total_depth"))
    require_positive(total_depth=total_depth)
    ground, rockhead = expected_ground(column, depth=total_depth, chance=settings.rockhead_chance)
    sound = sound_rock(ground, below=rockhead or 0.0)
    sealed = min(settings.least_sealed, 0.5 * total_depth)
    shallow = max(sound + settings.into_rock if sound is not None else 0.0, sealed) + min(settings.pack_cover, 0.1 * total_depth)
    strikes = expected_strikes(prospect, total_depth=total_depth, below=min(shallow, 0.8 * total_depth))
    if static_level is None:
        static_level = 0.5 * strikes[0].depth
        notes.append(Advisory("static-assumed", "note", f"Static level is not known: {static_level:.1f} m, half way to the first strike expected, is assumed.", "static_level"))
    quantiles = column.rockhead_quantiles
    if quantiles:
        least, most = min(quantiles), max(quantiles)
        notes.append(Advisory("rockhead-band", "note", f"Rockhead may lie from {quantiles[least]:.0f} to {quantiles[most]:.0f} m ({least:g} to {most:g} chance): have "
                              "conductor for the deeper.", "conductor"))
    return design_bore(ground, strikes, total_depth=total_depth, static_level=static_level, need=need, pumping_level=pumping_level, rockhead=rockhead,
                       basis="expected", settings=settings, catalogue=catalogue, notes=tuple(notes))


def _require_settings(settings: DesignSettings) -> None:
    grout_mix(settings.grout_mix)
    if settings.seal_kind not in FILLS or settings.seal_kind == "sand":
        raise BadInput("seal_kind", settings.seal_kind, "does not swell or is not known", "coarse chips, medium chips or pellets")
    for name, known in (("slot_layout", ("whole", "by strike")), ("pack", ("auto", "yes", "no")), ("completion", ("cased", "open hole")),
                        ("grout_method", ("tremie", "through the casing"))):
        if getattr(settings, name) not in known:
            raise BadInput(name, getattr(settings, name), "is not a choice here", " or ".join(known))
    if settings.most_lifts < 1 or int(settings.most_lifts) != settings.most_lifts:
        raise BadInput("most_lifts", settings.most_lifts, "is not a number of lifts", "1 or more")
    for name in ("annulus", "aperture", "open_share", "bag_mass", "centraliser_spacing", "pump_diameter", "seal_length", "least_sealed", "slot_margin"):
        require_positive(**{name: getattr(settings, name)})
    for name in ("bit_clearance", "into_rock", "pack_cover", "sump", "stick_up", "washout", "running_lag", "pump_clearance", "pump_submergence"):
        require_non_negative(**{name: getattr(settings, name)})
    require_fraction(slot_relief=settings.slot_relief, open_share=settings.open_share, rockhead_chance=settings.rockhead_chance)
    require_positive(bits=settings.bits, chlorine_dose=settings.chlorine_dose)
    if settings.grout_density is not None:
        require_positive(grout_density=settings.grout_density)


def _half(depth: float) -> float:
    """Round a depth down to the half metre a driller works to."""
    return math.floor(depth * 2 + 1e-9) / 2


def _built(hole: Sequence[tuple[float, float, float]], conductor: Any, total: float, settings: DesignSettings, catalogue: Catalogue) -> _Built:
    """Read what stands already; a conductor of unknown wall is taken as the lightest stock of its diameter."""
    rows = []
    for i, row in enumerate(hole):
        if len(row) != 3:
            raise BadInput(f"hole[{i}]", row, "is not from, to and diameter", "three numbers [m]")
        require_finite(**{f"hole[{i}]": row})
        rows.append(HoleInterval(*(float(v) for v in row)))
    if conductor is None:
        return _Built(tuple(rows))
    given = {name: conductor.get(name) if isinstance(conductor, Mapping) else getattr(conductor, name, None)
             for name in ("to_depth", "outside_diameter", "wall", "material")}
    for name in ("to_depth", "outside_diameter"):
        if given[name] is None:
            raise BadInput(f"conductor.{name}", None, "is missing", "a number [m]")
        require_positive(**{f"conductor.{name}": given[name]})
    if given["to_depth"] >= total:
        raise BadInput("conductor.to_depth", given["to_depth"], "leaves no hole below it", f"less than {total:g} m")
    material = catalogue_material(catalogue, given["material"] or settings.conductor_material)
    stock = sorted(catalogue.of(material), key=lambda c: (round(abs(c.outside_diameter - given["outside_diameter"]), 4), c.wall))[0]
    wall = given["wall"] or stock.wall * given["outside_diameter"] / stock.outside_diameter
    casing = casing_of(catalogue, material, given["outside_diameter"], wall)
    passing = max((b for b in settings.bits if b + settings.bit_clearance <= casing.inside_diameter + 1e-9), default=None)
    if passing is None:
        raise BadInput("conductor.outside_diameter", given["outside_diameter"], "passes none of the bits", f"{(min(settings.bits) + settings.bit_clearance) * 1000:.0f} mm inside or more")
    return _Built(tuple(rows), casing, float(given["to_depth"]), passing)


def _layout(
    ground: tuple[GroundInterval, ...], strikes: tuple[Strike, ...], total: float, static: float, rockhead: float | None, settings: DesignSettings,
    built: _Built,
) -> _Layout:
    notes: list[Advisory] = []
    sealed = min(settings.least_sealed, 0.5 * total)
    cover, seal = min(settings.pack_cover, 0.1 * total), min(settings.seal_length, 0.15 * total)
    if built.conductor is not None:
        conductor = built.conductor_depth
    elif len({h.diameter for h in built.hole}) == 1:
        conductor = 0.0
        notes.append(Advisory("no-conductor", "note", "The hole was drilled at one diameter: one string, grouted in.", "conductor"))
    elif built.hole:
        conductor = min(built.hole, key=lambda h: (-h.diameter, -h.to_depth)).to_depth
    else:
        conductor = _conductor_depth(ground, total, rockhead, sealed, settings, notes)
    if settings.completion == "open hole":
        if not conductor:
            raise BadInput("completion", "open hole", "needs a conductor into rock", "cased, for this ground")
        return _Layout(conductor, (), 0.0, 0.0, 0.0, False, tuple(notes))
    highest = max(conductor + (0.5 if conductor else 0.0), sealed + cover, static + 0.5)
    usable = [s for s in strikes if highest <= s.depth and highest < total - LEAST_SLOTS]
    lost = [s for s in strikes if s not in usable]
    if not usable:
        where = ", ".join(f"{s.depth:g} m" for s in strikes) or "none"
        raise Refused(f"no water strike (strikes: {where}) lies below the sealed length, the conductor and the static level, from {highest:.1f} m down: there is nothing to slot; "
                      "drill on, or seal the hole")
    if lost:
        notes.append(Advisory("cased-off", "note", "Strikes at " + ", ".join(f"{s.depth:.1f} m" for s in lost) + " are cased off above the slots.", "slots"))
    groups: list[list[float]] = []
    for s in usable:
        top, bottom = s.depth - settings.slot_margin, s.depth + settings.slot_margin
        if groups and (settings.slot_layout == "whole" or top - groups[-1][1] < MERGE_SLOTS):
            groups[-1][1] = bottom
        else:
            groups.append([top, bottom])
    lowest = max(total - settings.sump, usable[-1].depth)
    spans = []
    for top, bottom in groups:
        top, bottom = max(_half(top), highest), min(_half(bottom + 0.49), max(lowest, top + 0.2))
        if bottom - top < 0.5:
            top = max(min(top, bottom - 0.5), highest)
            bottom = max(bottom, min(top + 0.5, total))
        spans.append((top, min(bottom, total)))
    foot = spans[-1][1] + settings.sump
    foot = total if total - foot < 1.0 else foot
    top = spans[0][0]
    water_ground = [g for g in ground if g.to_depth > top and g.from_depth < spans[-1][1]]
    packed = settings.pack == "yes" or (settings.pack == "auto" and any(not g.sound for g in water_ground))
    return _Layout(conductor, tuple(spans), foot, cover, seal, packed, tuple(notes))


def _conductor_depth(
    ground: tuple[GroundInterval, ...], total: float, rockhead: float | None, sealed: float, settings: DesignSettings, notes: list[Advisory],
) -> float:
    if total < SHALLOW:
        notes.append(Advisory("no-conductor", "note", f"A hole of {total:g} m takes one string, grouted in.", "conductor"))
        return 0.0
    sound = sound_rock(ground, below=rockhead) if rockhead is not None else None
    if rockhead is None:
        notes.append(Advisory("no-rock", "note", "No rock in the hole: the conductor only holds the top and the seal.", "conductor"))
        return sealed
    if sound is None:
        notes.append(Advisory("no-sound-rock", "doubt", "No sound rock to land the conductor in: it ends just below rockhead, and the production casing holds the rest.", "conductor"))
        return min(max(math.ceil((rockhead + settings.into_rock) * 2) / 2, sealed), 0.6 * total)
    wanted = max(math.ceil((sound + settings.into_rock) * 2 - 1e-9) / 2, sealed)
    if wanted > 0.85 * total:
        notes.append(Advisory("deep-rock", "doubt", f"Sound rock at {sound:.1f} m is too near the bottom for a conductor into it.", "conductor"))
        return min(max(rockhead + settings.into_rock, sealed), 0.6 * total)
    return wanted


def _bit(settings: DesignSettings, least: float, what: str) -> float:
    for bit in sorted(settings.bits):
        if bit >= least - 1e-9:
            return bit
    raise BadInput("bits", max(settings.bits), f"is the largest bit, too small for {what}", f"a bit of at least {least * 1000:.0f} mm")


def _candidates(catalogue: Catalogue, name: str, material: str, series: str) -> tuple[Casing, ...]:
    return (catalogue.casing(name),) if name else catalogue.of(material, series or None)


def _hole_for(casing: Casing, settings: DesignSettings) -> float:
    return max(casing.outside_diameter + 2 * settings.annulus, casing.coupling_diameter + 0.010)


def _choose(bare: BoreDesign, layout: _Layout, catalogue: Catalogue, built: _Built) -> BoreDesign:
    settings = bare.settings
    if not layout.slots:
        bit = built.bit or _bit(settings, max(settings.pump_diameter + settings.pump_clearance, LEAST_BIT), "the pump")
        return _assemble(bare, layout, None, bit, catalogue, built)
    needed = settings.pump_diameter + settings.pump_clearance
    stock = _candidates(catalogue, settings.casing, settings.material, settings.series)
    fitting = [c for c in stock if c.inside_diameter >= needed - 1e-9]
    if not fitting:
        raise BadInput("pump_diameter", settings.pump_diameter, f"does not pass any {settings.material} casing allowed", f"a casing of {needed * 1000:.0f} mm inside or more")
    if built.bit is not None:
        fitting = _in_drilled(fitting, built.bit, settings)
    best: tuple[float, BoreDesign] | None = None
    first: BadInput | None = None
    for casing in fitting:
        try:
            bit = built.bit or _bit(settings, _hole_for(casing, settings), casing.name)
            tried = _assemble(bare, layout, casing, bit, catalogue, built)
        except BadInput as problem:  # no bit or no conductor for so wide a casing
            first = first or problem
            continue
        worst = min((c.factor / c.required for c in check_stages(stage_profiles(tried, catalogue=catalogue, step=1.0)) if c.string == "production"), default=1.0)
        if worst >= 1 - 1e-9:
            best = (worst, tried)
            break
        if best is None or worst > best[0]:
            best = (worst, tried)
    if best is None:
        assert first is not None
        raise first
    _refuse_crushing_grout(best[1], catalogue)
    return best[1]


def _in_drilled(fitting: list[Casing], bit: float, settings: DesignSettings) -> list[Casing]:
    """Return the casings that a drilled hole takes with room for grout, or, where none does, those that go in at all."""
    roomy = [c for c in fitting if _hole_for(c, settings) <= bit + 1e-9]
    tight = [c for c in fitting if c.coupling_diameter + 0.010 <= bit + 1e-9]
    if not tight:
        least = min(c.coupling_diameter for c in fitting) + 0.010
        raise BadInput("hole", bit, "is (or, below the conductor, would be) too narrow for any casing that the pump passes", f"a hole of {least * 1000:.0f} mm, reamed, or a smaller pump")
    return roomy or tight


def _refuse_crushing_grout(design: BoreDesign, catalogue: Catalogue) -> None:
    for check in check_stages(stage_profiles(design, catalogue=catalogue, step=1.0, only=("grouting", "setting"))):
        if check.verdict == "fails":
            part = next(a for a in design.annulus if a.string == check.string and a.what == "grout")
            string = design.string(check.string)
            raise BadInput(
                "grout_density", round(grout_density(part)), f"would crush the {check.string} casing ({string.casing}) at the stage of {check.stage}: "
                f"{check.pressure / 1000:.0f} kPa at {check.depth:.1f} m against {check.resistance / 1000:.0f} kPa, in {part.lifts} lifts",
                f"a factor of {check.required:g} or more: heavier casing, lighter grout, or more lifts",
            )


def _assemble(bare: BoreDesign, layout: _Layout, casing: Casing | None, bit: float, catalogue: Catalogue, built: _Built) -> BoreDesign:
    """Put a production casing and its bit into the layout: choose the conductor they pass, and set the lifts."""
    settings, total = bare.settings, bare.total_depth
    strings: list[CasingString] = []
    annulus: list[Annulus] = []
    holes: list[HoleInterval] = []
    conductors: list[Casing | None] = [None]
    if built.conductor is not None:
        conductors = [built.conductor]
    elif layout.conductor:
        stock = _candidates(catalogue, settings.conductor_casing, settings.conductor_material, settings.conductor_series)
        conductors = [c for c in stock if c.inside_diameter >= bit + settings.bit_clearance - 1e-9]
        if not conductors:
            raise BadInput("conductor_material", settings.conductor_material, f"has no casing that a {bit * 1000:.0f} mm bit passes",
                           f"a conductor of {(bit + settings.bit_clearance) * 1000:.0f} mm inside or more")
    if casing is not None:
        annulus += _production_annulus(layout, total, settings)
    design: BoreDesign | None = None
    for conductor in conductors:
        strings, holes, rows = [], [], []
        if conductor is not None:
            if design is not None and _hole_for(conductor, settings) > max(settings.bits):
                break
            strings.append(CasingString("conductor", 0.0, layout.conductor, conductor.outside_diameter, conductor.wall, conductor.material.name, casing=conductor.name))
            if not built.hole:
                holes.append(HoleInterval(0.0, layout.conductor, _bit(settings, _hole_for(conductor, settings), conductor.name)))
            rows.append(Annulus("grout", 0.0, layout.conductor, settings.grout_mix, "conductor", density=settings.grout_density or 0.0))
        holes += built.hole or [HoleInterval(layout.conductor, total, bit)]
        if casing is not None:
            strings.append(CasingString("production", 0.0, layout.foot, casing.outside_diameter, casing.wall, casing.material.name,
                                        layout.slots[0][0], layout.slots[-1][1], casing.name))
        design = replace(bare, strings=tuple(strings), hole=tuple(holes), annulus=(*rows, *annulus))
        design = replace(design, centralisers=centralisers_of(design))
        design = _with_lifts(design, catalogue)
        checks = check_stages(stage_profiles(design, catalogue=catalogue, step=1.0))
        if all(c.verdict != "fails" for c in checks if c.string == "conductor"):
            break
    assert design is not None
    return design


def _production_annulus(layout: _Layout, total: float, settings: DesignSettings) -> list[Annulus]:
    cover_top = layout.slots[0][0] - layout.cover
    seal_top = cover_top - layout.seal
    around = ("pack", "graded gravel") if layout.packed else ("open", "open hole")
    rows = [
        Annulus("grout", 0.0, seal_top, settings.grout_mix, "production", density=settings.grout_density or 0.0),
        Annulus("seal", seal_top, cover_top, settings.seal_kind, "production"),
        Annulus(around[0], cover_top, layout.foot, around[1], "production"),
    ]
    if total - layout.foot > 1e-6:
        rows.append(Annulus("backfill", layout.foot, total, "clean gravel", "production"))
    return rows


def centralisers_of(design: BoreDesign) -> tuple[tuple[str, float], ...]:
    """Return one near the foot, one each side of the slots, and the rest at even spacing between."""
    spacing = design.settings.centraliser_spacing
    found: list[tuple[str, float]] = []
    for string in design.strings:
        length = string.to_depth - string.from_depth
        fixed = {string.from_depth + min(1.0, 0.2 * length), string.to_depth - min(1.0, 0.1 * length)}
        if string.slotted_from is not None:
            fixed |= {max(string.slotted_from - 0.5, string.from_depth), min(string.slotted_to + 0.5, string.to_depth)}
        marks = sorted(fixed)
        every = set(marks)
        for a, b in zip(marks, marks[1:], strict=False):
            parts = math.ceil((b - a) / spacing - 1e-9)
            every |= {a + (b - a) * i / parts for i in range(1, parts)}
        found += [(string.string, depth) for depth in sorted(every)]
    return tuple(found)


def _with_lifts(design: BoreDesign, catalogue: Catalogue) -> BoreDesign:
    """Return the design with the fewest lifts for each grouted annulus that its casing stands, or the most allowed."""
    rows = []
    for part in design.annulus:
        chosen = part
        if part.what == "grout":
            string = design.string(part.string)
            alone = replace(design, strings=(string,))
            casings = {string.string: casing_of(catalogue, string.material, string.outside_diameter, string.wall)}
            for lifts in range(1, design.settings.most_lifts + 1):
                chosen = replace(part, lifts=lifts)
                tried = replace(alone, annulus=(chosen,))
                profiles = stage_profiles(tried, catalogue=catalogue, casings=casings, step=1.0, only=("grouting", "setting"))
                if shallowest_failure(profiles, part.string) is None or grout_density(chosen) <= WATER_DENSITY:
                    break
        rows.append(chosen)
    return replace(design, annulus=tuple(rows))
