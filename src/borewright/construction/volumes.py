"""What a design takes: grout, seal and pack by the bag, casing by the length, and all else there is to buy."""

from __future__ import annotations

import math
from dataclasses import replace

from borewright.construction.catalogue import Catalogue, casing_of
from borewright.construction.chlorine import chlorine_dose
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

__all__ = ["PACK_BULK_DENSITY", "buy_list", "fill_volumes"]

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
    rows.append(_chlorine_row(design, finished))
    return tuple(r for r in rows if r.quantity > 0)


def _chlorine_row(design: BoreDesign, finished: CasingString) -> MaterialItem:
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
    dose = chlorine_dose(dose=design.settings.chlorine_dose, inside_diameter=inside, water_length=water, extra_water=wet)
    return MaterialItem("calcium hypochlorite, 65 %", dose.product_mass or 0.0, "kg",
                        f"{design.settings.chlorine_dose:g} mg/L in {dose.water_volume * 1000:.0f} L; goggles, gloves, never with acid or other cleaners")
