"""Every rule of a design checked live, as it is made and after each edit by hand, and what would be done differently."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from borewright.construction.catalogue import Catalogue, casing_doubts, casing_of, standard_catalogue
from borewright.construction.column import sound_rock
from borewright.construction.design import (
    Annulus,
    BoreDesign,
    CasingString,
    StageCheck,
    outer_pieces,
    require_buildable,
    with_strings,
)
from borewright.construction.grout import GROUT_CAUTION, check_slurry, grout_mix, grout_mixes, slurry
from borewright.construction.screens import ENTRANCE_SPEED, entrance
from borewright.construction.stages import check_stages, grout_density, shallowest_failure, stage_profiles
from borewright.construction.volumes import buy_list, fill_volumes, order_of_work
from borewright.errors import Advisory

__all__ = ["CasingChoice", "DesignCheck", "RuleCheck", "check_design", "compare_casings", "recheck", "what_differently"]

TOUCH = 1e-3  # m; depths closer than this meet
RATHOLE = 1.0  # m of wide hole left under a conductor's foot is not drilled through it
LEAST_SEAL = 0.6  # m above the pack: 2 ft, TI 814-01 (read)
LEAST_STICK_UP = 0.3  # 12 in, TM 5-813-1 p. 29 (read)
CODE_CAUTION = Advisory(
    "local-code", "note", "Local code, the licence and the driller on the day come first; rules and factors here are common practice unless a source is named.", "design"
)
FLOWING_CAUTION = Advisory(
    "flowing-bore", "danger", "Water may flow at the top: grout a conductor deep enough to hold it, have a valve or diverter and heavy mud ready before drilling into the aquifer, "
    "and follow the licence for flowing bores.", "static_level",
)


@dataclass(frozen=True, slots=True)
class RuleCheck:
    """One rule: what was asked, what was found, and whether it holds; `severity` says how much a failure matters."""

    rule: str
    where: str
    found: str
    asked: str
    holds: bool
    severity: str


@dataclass(frozen=True, slots=True)
class DesignCheck:
    """All rules and stages of a design. `passes` when every stage holds and no rule of severity danger is broken."""

    rules: tuple[RuleCheck, ...]
    stages: tuple[StageCheck, ...]
    advisories: tuple[Advisory, ...]
    passes: bool


def check_design(design: BoreDesign, *, catalogue: Catalogue | None = None) -> DesignCheck:
    """Return every rule and every stage of a design, worked out anew.

    Raises
    ------
    BadInput
        What cannot be built at all: see `design_from_dict`.
    """
    catalogue = catalogue or standard_catalogue()
    require_buildable(design)
    rules = (*_casing_rules(design), *_slot_rules(design), *_annulus_rules(design), *_finish_rules(design))
    stages = check_stages(stage_profiles(design, catalogue=catalogue))
    advisories = [Advisory(r.rule, r.severity, f"{r.found}; asked: {r.asked}.", r.where) for r in rules if not r.holds]
    for s in stages:
        if s.verdict == "fails":
            advisories.append(Advisory("stage-fails", "danger", f"The {s.string} casing fails at {s.stage}: {s.pressure / 1000:.0f} kPa at {s.depth:.1f} m against "
                                       f"{s.resistance / 1000:.0f} kPa, a factor of {s.factor:.2f} where {s.required:g} is asked.", s.string))
        elif s.verdict == "close":
            advisories.append(Advisory("stage-close", "note", f"The {s.string} casing is close at {s.stage}: a factor of {s.factor:.2f} where {s.required:g} is asked.", s.string))
    passes = all(s.verdict != "fails" for s in stages) and all(r.holds for r in rules if r.severity == "danger")
    return DesignCheck(rules, stages, tuple(advisories), passes)


def recheck(design: BoreDesign, *, catalogue: Catalogue | None = None) -> BoreDesign:
    """Return the same design with volumes, bags, stages, materials, advisories and the words on what to do differently reckoned anew."""
    catalogue = catalogue or standard_catalogue()
    require_buildable(design)
    filled = fill_volumes(design)
    check = check_design(filled, catalogue=catalogue)
    advisories = [*check.advisories, *filled.notes, *_cautions(filled, catalogue)]
    return replace(filled, stages=check.stages, materials=buy_list(filled, catalogue=catalogue), advisories=tuple(dict.fromkeys(advisories)),
                   differently=what_differently(filled, catalogue=catalogue), steps=order_of_work(filled))


def _cautions(design: BoreDesign, catalogue: Catalogue) -> list[Advisory]:
    found = []
    if any(a.what == "grout" for a in design.annulus):
        found.append(GROUT_CAUTION)
    if any(a.lifts > 1 for a in design.annulus):
        found.append(Advisory("lifts", "danger", "Grout goes in by the lifts shown: let each set, and let or bail the water over it back to its level, before the next.", "annulus"))
    if design.static_level <= 0:
        found.append(FLOWING_CAUTION)
    found.append(Advisory("chlorine", "danger", "Chlorine burns and its gas kills: goggles, gloves, open air, never with acid or other cleaners; nobody drinks until it is pumped "
                          "out and a test has passed.", "materials"))
    for string in design.strings:
        found += casing_doubts(casing_of(catalogue, string.material, string.outside_diameter, string.wall))
    found.append(CODE_CAUTION)
    return found


def _metres(value: float) -> str:
    return f"{value:.2f} m"


def _casing_rules(design: BoreDesign) -> list[RuleCheck]:
    rules, settings = [], design.settings
    for string in design.strings:
        grouted = [a for a in design.annulus if a.string == string.string and a.what == "grout"]
        gaps = [0.5 * (outer - inner) for a in grouted for _, _, outer, inner, _ in outer_pieces(design, string.string, a.from_depth, a.to_depth) if inner > 0]
        if gaps:
            rules.append(RuleCheck("annulus-room", string.string, f"{min(gaps) * 1000:.0f} mm of grout round the {string.string}", f"{settings.annulus * 1000:.0f} mm",
                                   min(gaps) >= settings.annulus - 5e-4, "doubt"))
    conductor = design.string("conductor")
    if conductor is not None:
        inside = conductor.outside_diameter - 2 * conductor.wall
        below = [h.diameter for h in design.hole if h.to_depth > conductor.to_depth + RATHOLE]
        if below:
            rules.append(RuleCheck("bit-passes", "conductor", f"{inside * 1000:.0f} mm inside the conductor for a {max(below) * 1000:.0f} mm bit",
                                   f"{(max(below) + settings.bit_clearance) * 1000:.0f} mm", inside >= max(below) + settings.bit_clearance - 5e-4,
                                   "doubt" if inside >= max(below) - 5e-4 else "danger"))
        if design.rockhead is not None:
            sound = sound_rock(design.ground, below=design.rockhead)
            # A rule about rock that nobody found cannot be kept; the design's own notes say so.
            if sound is not None and sound + settings.into_rock <= 0.85 * design.total_depth:
                rules.append(RuleCheck("into-sound-rock", "conductor", f"the conductor ends at {_metres(conductor.to_depth)}, sound rock begins at {_metres(sound)}",
                                       f"{_metres(settings.into_rock)} into it", conductor.to_depth >= sound + settings.into_rock - TOUCH, "doubt"))
    widths = [h.diameter for h in sorted(design.hole, key=lambda h: h.from_depth)]
    rules.append(RuleCheck("hole-narrows", "hole", "diameters from the top: " + ", ".join(f"{w * 1000:.0f}" for w in widths) + " mm", "none wider below a narrower one",
                           all(b <= a + 1e-9 for a, b in zip(widths, widths[1:], strict=False)), "danger"))
    finished = design.string("production")
    if finished is not None:
        inside = finished.outside_diameter - 2 * finished.wall
        rules.append(RuleCheck("pump-passes", "production", f"{inside * 1000:.0f} mm inside for a {settings.pump_diameter * 1000:.0f} mm pump",
                               f"{(settings.pump_diameter + settings.pump_clearance) * 1000:.0f} mm", inside >= settings.pump_diameter + settings.pump_clearance - 5e-4, "danger"))
    return rules


def _slot_rules(design: BoreDesign) -> list[RuleCheck]:
    rules, settings = [], design.settings
    production = design.string("production")
    if production is None:
        return rules
    if not design.slots:
        return [RuleCheck("no-slots", "slots", "the production casing has no slots", "slots along the strikes", False, "danger")]
    top, bottom = min(s.from_depth for s in design.slots), max(s.to_depth for s in design.slots)
    rules.append(RuleCheck("slots-in-casing", "slots", f"slots from {_metres(top)} to {_metres(bottom)}", f"within the casing that ends at {_metres(production.to_depth)}",
                           bottom <= production.to_depth + TOUCH, "danger"))
    rules.append(RuleCheck("slots-below-static", "slots", f"slots begin at {_metres(top)}, water stands at {_metres(design.static_level)}", "slots below the static level",
                           top >= design.static_level - TOUCH, "danger"))
    for strike in design.strikes:
        if strike.depth < top - TOUCH and any(a.what in ("grout", "seal") and a.from_depth <= strike.depth <= a.to_depth for a in design.annulus):
            continue  # cased off on purpose; the notes say so
        covered = any(s.from_depth - TOUCH <= strike.depth <= s.to_depth + TOUCH for s in design.slots)
        rules.append(RuleCheck("strike-slotted", "slots", f"the strike at {_metres(strike.depth)} is {'slotted' if covered else 'behind blank casing'}", "slots along each strike",
                               covered, "doubt"))
    rules.append(RuleCheck("pumping-above-slots", "slots", f"pumping level {_metres(design.pumping_level)}, slots from {_metres(top)}", "a pumping level above the slots, so that "
                           "water does not fall and carry air", design.pumping_level <= top + TOUCH, "doubt"))
    sump = production.to_depth - bottom
    asked = min(settings.sump, 0.5) if design.total_depth < 12 else min(settings.sump, 1.0)
    rules.append(RuleCheck("sump", "production", f"{_metres(sump)} of sump", f"{_metres(asked)} at the least", sump >= asked - TOUCH, "note"))
    blank = not any(s.from_depth - TOUCH <= design.pump_depth <= s.to_depth + TOUCH for s in design.slots)
    rules.append(RuleCheck("pump-in-blank", "pump", f"pump at {_metres(design.pump_depth)}", "blank casing round the pump, or a shroud", blank, "note"))
    rules.append(RuleCheck("pump-in-casing", "pump", f"pump at {_metres(design.pump_depth)}, casing to {_metres(production.to_depth)}", "a pump in the casing, below the pumping level",
                           design.pumping_level <= design.pump_depth <= production.to_depth + TOUCH, "danger"))
    length = sum(s.to_depth - s.from_depth for s in design.slots)
    share = min(s.open_share for s in design.slots)
    speed = entrance(flow=design.need, open_area=math.pi * production.outside_diameter * share, length=length).speed
    rules.append(RuleCheck("entrance-speed", "slots", f"water enters at {speed:.3f} m/s, half the slots blocked", f"at most {ENTRANCE_SPEED} m/s (TM 5-813-1)",
                           speed <= ENTRANCE_SPEED, "doubt"))
    return rules


def _annulus_rules(design: BoreDesign) -> list[RuleCheck]:
    rules, settings = [], design.settings
    for string in design.strings:
        parts = sorted((a for a in design.annulus if a.string == string.string), key=lambda a: a.from_depth)
        grouted = [a for a in parts if a.what == "grout"]
        at_top = bool(grouted) and grouted[0].from_depth < TOUCH
        rules.append(RuleCheck("grout-to-surface", string.string, f"grout of the {string.string} begins at {_metres(grouted[0].from_depth)}" if grouted else
                               f"the {string.string} has no grout", "grout to the surface", at_top, "danger"))
        meet = all(abs(b.from_depth - a.to_depth) < TOUCH for a, b in zip(parts, parts[1:], strict=False))
        reach = bool(parts) and parts[-1].to_depth >= string.to_depth - TOUCH
        rules.append(RuleCheck("annulus-whole", string.string, f"the annulus of the {string.string} " + ("is" if meet and reach else "is not") + " accounted for down to its foot",
                               "no gap between what is placed", meet and reach, "doubt"))
        for part in grouted:
            rules += _grout_rules(design, part.string, part)
    sealed = max((a.to_depth for a in design.annulus if a.what in ("grout", "seal")), default=0.0)
    least = min(settings.least_sealed, 0.5 * design.total_depth)
    rules.append(RuleCheck("sealed-length", "annulus", f"sealed to {_metres(sealed)}", f"{_metres(settings.least_sealed)} below ground", sealed >= least - TOUCH,
                           "danger"))
    if design.slots:
        rules += _seal_rules(design)
    return rules


def _grout_rules(design: BoreDesign, string: str, part: Annulus) -> list[RuleCheck]:
    rules = []
    inside = [s for s in design.slots if design.string(string).slotted_from is not None and s.from_depth < part.to_depth - TOUCH and s.to_depth > part.from_depth + TOUCH]
    rules.append(RuleCheck("grout-off-slots", string, f"grout from {_metres(part.from_depth)} to {_metres(part.to_depth)}", "no grout against slots", not inside, "danger"))
    if part.material in grout_mixes():
        mix = grout_mix(part.material)
        made = slurry(bag_mass=design.settings.bag_mass, water_ratio=mix.water_ratio, bentonite_share=mix.bentonite_share, powder=mix.powder)
        doubts = check_slurry(replace(made, density=grout_density(part)), mix)
        rules.append(RuleCheck("grout-density", string, f"{grout_density(part):.0f} kg/m3", f"{mix.least_density:.0f} kg/m3 or more for {mix.name}", not doubts, "doubt"))
    return rules


def _seal_rules(design: BoreDesign) -> list[RuleCheck]:
    top = min(s.from_depth for s in design.slots)
    seals = [a for a in design.annulus if a.what == "seal" and a.to_depth <= top + TOUCH]
    length = max((a.to_depth - a.from_depth for a in seals), default=0.0)
    least = min(LEAST_SEAL, 0.1 * design.total_depth)
    rules = [RuleCheck("seal-above-slots", "annulus", f"{_metres(length)} of seal above the slots", f"{_metres(least)} (TI 814-01)", length >= least - TOUCH, "danger")]
    against = [a for a in design.annulus if a.what == "seal" and a.from_depth < max(s.to_depth for s in design.slots) - TOUCH and a.to_depth > top + TOUCH]
    rules.append(RuleCheck("seal-off-slots", "annulus", "a seal stands against the slots" if against else "no seal stands against the slots", "seals above the slots", not against, "danger"))
    if seals:
        cover = top - max(a.to_depth for a in seals)
        rules.append(RuleCheck("pack-cover", "annulus", f"{_metres(cover)} between seal and slots", f"{_metres(min(0.6, 0.1 * design.total_depth))} (UFGS 02525N)",
                               cover >= min(0.6, 0.1 * design.total_depth) - TOUCH, "note"))
    return rules


def _finish_rules(design: BoreDesign) -> list[RuleCheck]:
    rules = [RuleCheck("stick-up", "headworks", f"{_metres(design.stick_up)} above the slab", f"{_metres(LEAST_STICK_UP)} (TM 5-813-1), and above any flood",
                       design.stick_up >= LEAST_STICK_UP - TOUCH, "doubt")]
    for string in design.strings:
        depths = sorted(d for name, d in design.centralisers if name == string.string)
        widest = max(np.diff([string.from_depth, *depths, string.to_depth])) if depths else string.to_depth - string.from_depth
        rules.append(RuleCheck("centralisers", string.string, f"up to {_metres(float(widest))} of {string.string} between centralisers", _metres(design.settings.centraliser_spacing),
                               float(widest) <= design.settings.centraliser_spacing + TOUCH, "doubt"))
    return rules


def what_differently(design: BoreDesign, *, catalogue: Catalogue | None = None) -> tuple[str, ...]:
    """Return, in words, what the next lighter casing, one lift fewer and the next heavier casing would mean."""
    catalogue = catalogue or standard_catalogue()
    words: list[str] = []
    for string in design.strings:
        casing = casing_of(catalogue, string.material, string.outside_diameter, string.wall)
        same = [c for c in catalogue.of(string.material) if abs(c.outside_diameter - string.outside_diameter) < 5e-4]
        lighter = [c for c in same if c.wall < string.wall - 1e-5]
        heavier = [c for c in same if c.wall > string.wall + 1e-5]
        if lighter:
            other = max(lighter, key=lambda c: c.wall)
            fails = shallowest_failure(stage_profiles(design, catalogue=catalogue, casings={string.string: other}), string.string)
            words.append(f"{string.string}, one step lighter ({other.name}): " + (f"fails at {fails[0]} below {fails[1]:.0f} m" if fails else "would hold as well; the bit or the pump chose")
                         + ".")
        if shallowest_failure(stage_profiles(design, catalogue=catalogue), string.string):
            for other in sorted(heavier, key=lambda c: c.wall):
                if not shallowest_failure(stage_profiles(design, catalogue=catalogue, casings={string.string: other}), string.string):
                    words.append(f"{string.string}, heavier ({other.name}): would hold at every stage, {other.inside_diameter * 1000:.0f} mm inside.")
                    break
            else:
                words.append(f"{string.string}: no heavier stock of {casing.material.name} at this diameter holds; take a stronger material.")
        for part in design.annulus:
            if part.string == string.string and part.lifts > 1:
                fewer = replace(design, annulus=tuple(replace(a, lifts=1) if a is part else a for a in design.annulus))
                fails = shallowest_failure(stage_profiles(fewer, catalogue=catalogue, only=("grouting", "setting")), string.string)
                if fails:
                    words.append(f"{string.string}, grouted in one lift: fails at {fails[0]} below {fails[1]:.0f} m.")
    return tuple(words)


@dataclass(frozen=True, slots=True)
class CasingChoice:
    """One production casing in a design: worst stage and factor, weight [kg], inside [m], whether it holds, what it costs in money's minor units."""

    casing: str
    holds: bool
    worst_stage: str
    worst_depth: float
    worst_factor: float
    worst_required: float
    inside_diameter: float
    mass: float
    cost_minor: int | None
    chance_of_collapse: float


SPREAD = 0.15  # of resistance over load, as one standard deviation of the logarithm; common practice, no source


def compare_casings(
    design: BoreDesign, names: Sequence[str], *, price_per_metre_minor: dict[str, int] | None = None, catalogue: Catalogue | None = None,
) -> tuple[CasingChoice, ...]:
    """Return production casings side by side in one design: the cheap against the good.

    Parameters
    ----------
    design : BoreDesign
    names : sequence of str
        Stock sizes by name.
    price_per_metre_minor : dict, optional
        Price of a metre of each, in whole minor units of money.

    Notes
    -----
    The chance of collapse over the bore's life takes resistance over load as log-normal with a spread of 15 % about the worst factor reckoned
    (common practice, no source): it ranks choices and is no promise.
    """
    from scipy.special import ndtr

    catalogue = catalogue or standard_catalogue()
    production = design.string("production") or design.strings[0]
    found = []
    for name in names:
        casing = catalogue.casing(name)
        string = CasingString(production.string, production.from_depth, production.to_depth, casing.outside_diameter, casing.wall, casing.material.name,
                              production.slotted_from, production.slotted_to, casing.name)
        tried = with_strings(design, **{production.string: string})
        require_buildable(tried)
        checks = [c for c in check_stages(stage_profiles(tried, catalogue=catalogue)) if c.string == production.string]
        worst = min(checks, key=lambda c: c.factor / c.required)
        length = production.to_depth - production.from_depth + design.stick_up
        crushing = min((c.factor for c in checks if c.stage not in ("hanging", "standing")), default=99.0)
        price = (price_per_metre_minor or {}).get(name)
        found.append(CasingChoice(
            name, all(c.verdict != "fails" for c in checks), worst.stage, worst.depth, worst.factor, worst.required, casing.inside_diameter,
            casing.mass_per_length * length, None if price is None else round(price * length), float(ndtr(-math.log(crushing) / SPREAD)),
        ))
    return tuple(found)
