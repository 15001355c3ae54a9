"""Chlorine to disinfect a bore: how much of which product for the water in the casing, the pack and what is mixed in."""

from __future__ import annotations

from dataclasses import dataclass

from borewright.construction.grout import annulus_volume, inside_volume
from borewright.errors import Advisory, BadInput, require, require_fraction, require_non_negative, require_positive

__all__ = ["CHLORINE_CAUTIONS", "PRODUCTS", "ChlorineDose", "chlorine_dose"]

# product -> (is a liquid, available chlorine: kg per kg of solid, or kg per litre of liquid ("trade percent"), words)
PRODUCTS = {
    "calcium hypochlorite": (False, 0.65, "dry granules or tablets, 65 % available chlorine by mass"),
    "sodium hypochlorite": (True, 0.12, "liquid, 12 g of chlorine in 100 mL"),
    "household bleach": (True, 0.0525, "liquid, 5.25 g of chlorine in 100 mL; plain, unscented"),
}
CHLORINE_CAUTIONS = (
    Advisory("chlorine-handling", "danger",
             "Chlorine burns eyes, skin and lungs: goggles and gloves, upwind, open air. Add the product to water, never water to the product. Never let it meet "
             "acid, ammonia, fuel or another cleaner: it makes poisonous gas or fire.", "chlorine"),
    Advisory("chlorine-not-drinking", "danger",
             "Nobody drinks the water until the chlorine is pumped out to waste (under 0.5 mg/L; WHO technical note 1, read) and a bacteria test has passed. Waste it "
             "away from streams, ponds, gardens and septic tanks. Local rules come first.", "chlorine"),
)


@dataclass(frozen=True, slots=True)
class ChlorineDose:
    """The dose for a bore: water reached [m3], chlorine [kg], product as mass [kg] or volume [m3], hours of contact as s."""

    water_volume: float
    chlorine: float
    product: str
    product_mass: float | None
    product_volume: float | None
    contact_time: float
    advisories: tuple[Advisory, ...]


def chlorine_dose(
    *, dose: float, inside_diameter: float, water_length: float, product: str = "calcium hypochlorite", strength: float | None = None,
    hole_diameter: float | None = None, casing_diameter: float | None = None, pack_length: float = 0.0, pack_porosity: float = 0.35,
    extra_water: float = 0.0, ph: float | None = None,
) -> ChlorineDose:
    """Return the product that gives a dose to all the water in the bore and its pack.

    Parameters
    ----------
    dose : float
        Free chlorine wanted at the start; 50 to 200 mg/L are the published doses [mg/L].
    inside_diameter, water_length : float
        Of the casing (or open hole) and the water standing in it [m].
    product : str
        A key of `PRODUCTS`.
    strength : float, optional
        Available chlorine: kg per kg of a solid, kg per litre of a liquid (12 trade percent is 0.12) [-].
    hole_diameter, casing_diameter, pack_length, pack_porosity : float
        Annulus of pack or open hole that the dose must reach as well [m, m, m, -]; porosity 1 for open annulus.
    extra_water : float
        Water to be mixed in or pumped round, such as a tank and pipes [m3].
    ph : float, optional
        Above 8 chlorine works slowly.

    Notes
    -----
    Product = dose x volume / available chlorine. It reproduces 327 IAC 8-3.4-24 Table 24-1 at 50 mg/L and the Alberta Agdex 716 (A10) worksheet
    at 200 mg/L in twice the casing volume. Contact: 24 h (MIL-HDBK-1164, San Bernardino code; read), 12 h above 100 mg/L (common practice, no source).
    """
    require_positive(dose=dose, inside_diameter=inside_diameter, water_length=water_length)
    require_non_negative(pack_length=pack_length, extra_water=extra_water)
    require_fraction(pack_porosity=pack_porosity)
    if product not in PRODUCTS:
        raise BadInput("product", product, "is not a product that is known", "one of " + ", ".join(PRODUCTS))
    liquid, usual, _ = PRODUCTS[product]
    share = usual if strength is None else strength
    require_positive(strength=share)
    require_fraction(strength=share)
    require(dose <= 2000, "dose", dose, "is far above any published dose", "50 to 200 mg/L for a bore")
    volume = inside_volume(inside_diameter, water_length) + extra_water
    if pack_length > 0:
        if hole_diameter is None or casing_diameter is None:
            raise BadInput("hole_diameter", hole_diameter, "is needed with a pack length", "hole and casing diameters [m]")
        volume += annulus_volume(hole_diameter, casing_diameter, pack_length) * pack_porosity
    chlorine = dose * 1e-3 * volume  # mg/L is g/m3
    doubts = list(CHLORINE_CAUTIONS)
    if dose > 250:
        doubts.append(Advisory("strong-dose", "doubt", "Above the published doses of 50 to 200 mg/L: more corrodes the pump and raises the pH, and kills no faster.", "dose"))
    if dose < 50:
        doubts.append(Advisory("weak-dose", "doubt", "Below 50 mg/L (California Bulletin 74-81 Appendix C, read).", "dose"))
    if ph is not None:
        require(0 <= ph <= 14, "ph", ph, "is not a pH", "0 to 14")
        if ph > 8:
            doubts.append(Advisory("high-ph", "doubt", "Above pH 8 chlorine works slowly: give it longer, and ask before lowering the pH with any acid.", "ph"))
    if product != "calcium hypochlorite":
        doubts.append(Advisory("old-bleach", "note", "Liquid chlorine weakens in months, faster when warm: use fresh stock or test it.", "product"))
    return ChlorineDose(
        volume, chlorine, product, None if liquid else chlorine / share, chlorine / (share * 1000.0) if liquid else None,
        24 * 3600.0 if dose <= 100 else 12 * 3600.0, tuple(doubts),
    )
