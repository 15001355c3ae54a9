"""What a slug or bail run of a job tells, read by each method that its geometry allows."""

from __future__ import annotations

from typing import Any

from borewright.errors import BadInput, BorewrightError
from borewright.record.fold import Hole
from borewright.work.runs import bore_radius_of, casing_radius_of, run_of

__all__ = ["slug_geometry", "slug_result"]


def slug_geometry(hole: Hole) -> dict[str, float]:
    """Return the geometry that the bore record gives: radius where the level moves, radius and length of the slots or open hole, depths below water [m]."""
    found: dict[str, float] = {}
    production = [f.body for f in hole.casings if f.body.string == "production"]
    slots = [c for c in production if c.slotted]
    inside = casing_radius_of(hole)
    if inside:
        found["casing_radius"] = inside
    radius = bore_radius_of(hole)
    if radius:
        found["screen_radius"] = radius
        if not production:
            found["casing_radius"] = radius
    if slots:
        found["screen_length"] = sum(c.to_depth - c.from_depth for c in slots)
    else:
        cased = max((c.to_depth for c in production), default=0.0)
        if hole.depth > cased:
            found["screen_length"] = hole.depth - max(cased, hole.static_level or 0.0)
    if hole.static_level is not None:
        foot = max((c.to_depth for c in slots), default=hole.depth)
        found["bottom_below_water"] = foot - hole.static_level
        found["thickness"] = max(hole.depth - hole.static_level, found["bottom_below_water"])
    return {k: v for k, v in found.items() if v > 0}


def slug_result(hole: Hole, run: str, **geometry: float | None) -> dict[str, Any]:
    """Return what is kept for a slug run: every method that can read it, the one that fits best first, and the geometry taken.

    `geometry` may say casing_radius, screen_radius, screen_length, bottom_below_water, thickness, initial, drainable [m]; what it does not say
    comes from the bore record.

    Raises
    ------
    BadInput
        No levels, or a length that neither the caller nor the bore record gives.
    """
    from borewright.hydraulics import SLUG_METHODS, fit_slug, slug_as_dict

    test = run_of(hole, run)
    pairs = sorted((t, s) for f in test.levels if f.body.well == test.run.body.well for t, s in zip(f.body.time, f.body.drawdown, strict=True))
    if not pairs:
        raise BadInput("levels", None, "are not recorded for this test", "times since the slug and displacements")
    taken = slug_geometry(hole) | {k: v for k, v in geometry.items() if v is not None}
    for name, want in (("casing_radius", "half of the inside diameter where the level moves"), ("screen_radius", "half of the diameter of the hole along the slots"),
                       ("screen_length", "the length of slots or open hole")):
        if name not in taken:
            raise BadInput(name, None, "is not said and not in the bore record", want)
    told, refused = [], {}
    for method in SLUG_METHODS:
        try:
            told.append(slug_as_dict(fit_slug([t for t, _ in pairs], [s for _, s in pairs], method=method, **taken)))
        except BorewrightError as error:
            refused[method] = str(error)
    if not told:
        raise BadInput("levels", len(pairs), "cannot be read by any method: " + "; ".join(refused.values()), "a change of level that dies away")
    swings = any(a["code"] == "swings" for row in told for a in row["advisories"])
    order = ("underdamped",) if swings else ("bouwer-rice", "hvorslev", "cooper", "underdamped")
    best = next(row for name in (*order, *SLUG_METHODS) for row in told if row["method"] == name)
    told.sort(key=lambda row: row is not best)
    value = best["hydraulic_conductivity_m_per_d"]
    spread = [row["hydraulic_conductivity_m_per_d"]["value"] for row in told if row["hydraulic_conductivity_m_per_d"] and (row["method"] == "underdamped") == swings]
    sentence = f"The ground beside the slots lets water through at about {value['value']:.2g} m/d (hydraulic conductivity, {best['method']})."
    if len(spread) > 1:
        sentence += f" The methods that suit it give {min(spread):.2g} to {max(spread):.2g} m/d. A slug test feels only the ground near the bore."
    return {"slug": told, "best": best["method"], "sentence": sentence, "geometry": taken, "refused": refused, "advisories": best["advisories"]}
