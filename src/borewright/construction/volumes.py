"""What a design takes: grout, seal and pack by the bag, casing by the length, and all else there is to buy."""

from __future__ import annotations

import math
from dataclasses import replace

from borewright.construction.catalogue import Catalogue, casing_of
from borewright.construction.chlorine import ChlorineDose, chlorine_dose
from borewright.construction.design import (
    SLAB_SIDE,
    SLAB_THICKNESS,
    Annulus,
    BoreDesign,
    CasingString,
    MaterialItem,
    outer_pieces,
)
from borewright.construction.grout import annulus_volume, grout_mix, slurry
from borewright.construction.seal import FILLS
from borewright.construction.stages import grout_density

__all__ = ["PACK_BULK_DENSITY", "buy_list", "disinfection", "fill_volumes", "order_of_work"]

PACK_BULK_DENSITY = 1600.0  # kg/m3; silica sand as poured, 100 lb/ft3, supplier bulletin (read)


def fill_volumes(design: BoreDesign) -> BoreDesign:
    """Return the design with the volume and bags of each annulus reckoned from its geometry; washout only where the hole is bare."""
    settings = design.settings
    rows: list[Annulus] = []
    for part in design.annulus:
        volume = sum(
            annulus_volume(outer, inner, b - a, washout=0.0 if cased else settings.washout)
            for a, b, outer, inner, cased in outer_pieces(design, part.string, part.from_depth, part.to_depth)
        )
        bags, density = 0, 0.0
        if part.what == "grout":
            mix = grout_mix(part.material)
            density = grout_density(part)
            one = slurry(bag_mass=settings.bag_mass, water_ratio=mix.water_ratio, bentonite_share=mix.bentonite_share, powder=mix.powder)
            bags = math.ceil(volume / one.volume - 1e-9)
        elif part.what == "seal":
            fill = FILLS[part.material if part.material in FILLS else settings.seal_kind]
            bags = math.ceil(volume * fill.bulk_density / settings.bag_mass - 1e-9)
        elif part.what == "pack":
            bags = math.ceil(volume * PACK_BULK_DENSITY / settings.bag_mass - 1e-9)
        rows.append(replace(part, volume=volume, bags=bags, density=density))
    return replace(design, annulus=tuple(rows))


def _lengths(metres: float, stock: float) -> int:
    return max(math.ceil(metres / stock - 1e-9), 0)


def _casing_rows(design: BoreDesign, string: CasingString, catalogue: Catalogue) -> list[MaterialItem]:
    casing = casing_of(catalogue, string.material, string.outside_diameter, string.wall)
    words = f"{string.string} casing, {casing.name}"
    slotted = sum(s.to_depth - s.from_depth for s in design.slots) if string.slotted_from is not None else 0.0
    blank = string.to_depth - string.from_depth - slotted + design.stick_up
    slotted_count, blank_count = _lengths(slotted, casing.length), _lengths(blank, casing.length)
    rows = [MaterialItem(words, blank_count, "lengths", f"{blank:.1f} m with the stick-up, in {casing.length:g} m lengths")]
    if slotted_count:
        aperture = design.slots[0].aperture * 1000
        rows.append(MaterialItem(f"{words}, slotted {aperture:g} mm", slotted_count, "lengths", f"{slotted:.1f} m"))
    joints = max(slotted_count + blank_count - 1, 0)
    for word, item, unit in (("coupled", "couplings", "each"), ("solvent", "solvent cement and primer", "joints"), ("weld", "welds", "welds")):
        if word in casing.joint:
            rows.append(MaterialItem(f"{item} for {casing.name}", joints, unit, casing.joint))
            break
    if string.slotted_from is not None:
        rows.append(MaterialItem(f"end cap for {casing.name}", 1, "each", "foot of the sump"))
    count = sum(1 for name, _ in design.centralisers if name == string.string)
    if count:
        rows.append(MaterialItem(f"centralisers, {string.outside_diameter * 1000:.0f} mm casing", count, "each", "at the foot, beside the slots and up the string"))
    return rows


def buy_list(design: BoreDesign, *, catalogue: Catalogue) -> tuple[MaterialItem, ...]:
    """Return what to buy for a design whose volumes have been reckoned."""
    settings = design.settings
    rows: list[MaterialItem] = []
    for string in design.strings:
        rows += _casing_rows(design, string, catalogue)
    for part in design.annulus:
        where = f"{part.string} annulus, {part.from_depth:.1f} to {part.to_depth:.1f} m"
        if part.what == "grout":
            mix = grout_mix(part.material)
            one = slurry(bag_mass=settings.bag_mass, water_ratio=mix.water_ratio, bentonite_share=mix.bentonite_share, powder=mix.powder)
            rows.append(MaterialItem(f"{mix.powder}, {settings.bag_mass:g} kg bags", part.bags, "bags",
                                     f"{part.material}, {where}; {part.bags * one.water * 1000:.0f} L of water; {part.lifts} lift{'s' * (part.lifts > 1)}"))
            if one.bentonite:
                rows.append(MaterialItem("bentonite powder for the cement", part.bags * one.bentonite, "kg", where))
        elif part.what == "seal":
            rows.append(MaterialItem(f"bentonite {part.material}, {settings.bag_mass:g} kg bags", part.bags, "bags", where))
        elif part.what == "pack":
            rows.append(MaterialItem(f"filter pack {part.material}, {settings.bag_mass:g} kg bags", part.bags, "bags", f"{where}; wash and disinfect it"))
        elif part.what == "backfill":
            rows.append(MaterialItem("clean backfill", part.volume, "m3", where))
    production = design.string("production")
    if production and any(a.what == "open" and a.string == "production" for a in design.annulus):
        rows.append(MaterialItem("annulus packer", 1, "each", "holds the seal up above the open annulus"))
    finished = production or design.strings[0]
    rows.append(MaterialItem(f"bore cap for {finished.outside_diameter * 1000:.0f} mm casing", 1, "each", f"lockable, vermin-proof, {design.stick_up:g} m above the slab"))
    rows.append(MaterialItem("concrete for the slab", SLAB_SIDE**2 * SLAB_THICKNESS, "m3", f"{SLAB_SIDE:g} m square, {SLAB_THICKNESS * 1000:.0f} mm thick, sloping away"))
    rows.append(_chlorine_row(design))
    return tuple(r for r in rows if r.quantity > 0)


def disinfection(design: BoreDesign, *, product: str = "calcium hypochlorite", ph: float | None = None) -> ChlorineDose:
    """Return the chlorine for all the water in a designed bore: in the casing, its pack (35 % voids) or open annulus, and open hole below.

    Raises
    ------
    BadInput
        A product that is not one of `PRODUCTS`; a pH that is none.
    """
    finished = design.string("production") or design.strings[0]
    inside = finished.outside_diameter - 2 * finished.wall
    water = max(finished.to_depth - max(design.static_level, 0.0), 0.5)
    around = [a for a in design.annulus if a.string == finished.string and a.what in ("open", "pack")]
    wet = sum(
        annulus_volume(outer, inner, b - max(a, design.static_level)) * (0.35 if part.what == "pack" else 1.0)
        for part in around
        for a, b, outer, inner, _ in outer_pieces(design, part.string, part.from_depth, part.to_depth)
        if b > design.static_level and inner > 0
    )
    open_hole = design.total_depth - finished.to_depth if design.string("production") is None else 0.0
    if open_hole > 0:
        wet += annulus_volume(design.hole[-1].diameter, 0.0, open_hole)
    return chlorine_dose(dose=design.settings.chlorine_dose, inside_diameter=inside, water_length=water, extra_water=wet, product=product, ph=ph)


def _chlorine_row(design: BoreDesign) -> MaterialItem:
    dose = disinfection(design)
    return MaterialItem("calcium hypochlorite, 65 %", dose.product_mass or 0.0, "kg",
                        f"{design.settings.chlorine_dose:g} mg/L in {dose.water_volume * 1000:.0f} L; goggles, gloves, never with acid or other cleaners")


def order_of_work(design: BoreDesign) -> tuple[str, ...]:
    """Return what is done on site, in order, one sentence a step."""
    words: list[str] = []
    holes = sorted(design.hole, key=lambda h: h.from_depth)
    for i, hole in enumerate(holes):
        words.append(f"Drill {hole.diameter * 1000:.0f} mm from {hole.from_depth:.1f} to {hole.to_depth:.1f} m.")
        for string in design.strings:
            last = i == len(holes) - 1
            if string.to_depth <= hole.to_depth + 1e-6 and (string.to_depth > hole.from_depth + 1e-6) and (last or string.string != "production"):
                words += _string_steps(design, string)
    finished = design.string("production") or design.strings[-1]
    words.append(f"Airlift and develop until clean; keep the air line above {max((s.to_depth for s in design.slots), default=design.total_depth):.1f} m.")
    words.append(f"Disinfect at {design.settings.chlorine_dose:g} mg/L; pump to waste; test before anyone drinks.")
    words.append(f"Finish {design.stick_up:.2f} m above the slab with a locked cap; slab {SLAB_SIDE:g} m square. Pump at {min(design.pump_depth, finished.to_depth):.1f} m."
                 if design.string("production") else f"Finish {design.stick_up:.2f} m above the slab with a locked cap; slab {SLAB_SIDE:g} m square.")
    return tuple(words)


def _string_steps(design: BoreDesign, string: CasingString) -> list[str]:
    below = [a for a in design.annulus if a.string == string.string and a.what == "backfill" and a.from_depth >= string.to_depth - 1e-6]
    words = [f"Fill the hole with {a.material} from {a.to_depth:.1f} up to {a.from_depth:.1f} m, {a.volume * 1000:.0f} L; sound the top." for a in below]
    words += [f"Run {string.casing or string.material} to {string.to_depth:.1f} m"
             + (f", slotted {design.slots[0].from_depth:.1f} to {design.slots[-1].to_depth:.1f} m" if string.slotted_from is not None and design.slots else "")
             + ", filled with water as it goes in."]
    for part in sorted((a for a in design.annulus if a.string == string.string and a not in below), key=lambda a: -a.to_depth):
        span = f"{part.to_depth:.1f} up to {part.from_depth:.1f} m"
        if part.what == "grout":
            wait = grout_mix(part.material).setting_time / 3600
            lifts = "in one lift" if part.lifts == 1 else f"in {part.lifts} lifts of {(part.to_depth - part.from_depth) / part.lifts:.1f} m, each left {wait:.0f} h"
            words.append(f"Grout {span} with {part.material}, {part.bags} bags at {part.density:.0f} kg/m3, {lifts}, casing full of water; wait {wait:.0f} h before work goes on.")
        elif part.what == "seal":
            words.append(f"Seal {span} with bentonite {part.material}, {part.bags} bags; sound the top; let it swell an hour.")
        elif part.what in ("pack", "backfill"):
            words.append(f"Place {part.material} {span}, {part.volume * 1000:.0f} L; sound the top.")
        else:
            words.append(f"Leave the annulus open {span}, with a packer under the seal.")
    return words
