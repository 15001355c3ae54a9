"""The folded section of a test's page: the bore open over part of the aquifer, read, kept in links and written out again."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any
from urllib.parse import urlencode

from borewright.errors import BadInput
from borewright.web.fields import Field, Form

__all__ = ["PART", "part_of", "part_query", "part_text"]

PART = Form("part", "Bore open over part of the aquifer", "Show", (
    Field("open_thickness", "Thickness of the aquifer", "length", example="40 m"),
    Field("open_top", "The opening begins", "length", help="Below the top of the aquifer", example="5 m"),
    Field("open_bottom", "The opening ends", "length", help="Below the top of the aquifer", example="15 m"),
    Field("open_anisotropy", "Vertical over level conductivity", "number", help="1 where empty; layered ground often 0.01 to 0.5 (common practice, no source)", example="0.1"),
    Field("open_observed", "Where other bores are open", help="The whole aquifer where not said", example="P30: 5 m to 15 m; P60: 2 m to 8 m"),
))
_BACK = {"thickness": "open_thickness", "anisotropy": "open_anisotropy", "screen": "open_bottom"}


def part_of(given: Mapping[str, str], system: str, wells: Collection[str]) -> tuple[dict[str, Any], dict[str, BadInput]]:
    """Return `part_open` and `observed` for a fit, nothing where nothing was said, and what is wrong by field; `wells` are those that were read."""
    from borewright.hydraulics import PartOpen

    values, wrong = PART.read(given, system)
    values.pop("typed", None)
    if wrong or not values:
        return {}, wrong
    for name in ("open_thickness", "open_top", "open_bottom"):
        if name not in values:
            wrong[name] = BadInput(name, "", "is missing", "all three: the thickness, and where the opening begins and ends; or none of them")
    if wrong:
        return {}, wrong
    try:
        part = PartOpen(values["open_thickness"], (values["open_top"], values["open_bottom"]), values.get("open_anisotropy", 1.0))
    except BadInput as error:
        name = _BACK[error.field]
        return {}, {name: BadInput(name, error.value, error.problem, error.want)}
    try:
        observed = _observed(values.get("open_observed", ""), system)
        for well, interval in observed.items():
            if well not in wells:
                raise BadInput("open_observed", well, "is not a bore that was read", "one of " + ", ".join(wells))
            PartOpen(part.thickness, interval)
    except BadInput as error:
        return {}, {"open_observed": BadInput("open_observed", error.value, error.problem, error.want)}
    return {"part_open": part, "observed": observed}, {}


def _observed(text: str, system: str) -> dict[str, tuple[float, float]]:
    found = {}
    depth = Field("open_observed", "", "length")
    for piece in (p for p in text.split(";") if p.strip()):
        well, colon, interval = piece.rpartition(":")
        top, word, bottom = interval.partition(" to ")
        if not (colon and word and well.strip()):
            raise BadInput("open_observed", piece.strip(), "is not a bore and its interval", "such as P30: 5 m to 15 m; a semicolon between bores")
        found[well.strip()] = (depth.read(top, system), depth.read(bottom, system))
    return found


def part_text(kept: Mapping[str, Any]) -> dict[str, str]:
    """Return the fields of the section from what a kept fit was given, `work.joint.kept_part`."""
    part = kept.get("part_open")
    if part is None:
        return {}
    said = {"open_thickness": f"{part.thickness:g} m", "open_top": f"{part.screen[0]:g} m", "open_bottom": f"{part.screen[1]:g} m", "open_anisotropy": f"{part.anisotropy:g}"}
    observed = "; ".join(f"{well}: {top:g} m to {bottom:g} m" for well, (top, bottom) in kept.get("observed", {}).items())
    return said | ({"open_observed": observed} if observed else {})


def part_query(given: Mapping[str, str]) -> str:
    """Return the section as the tail of a link, or nothing."""
    said = {f.name: given[f.name] for f in PART.fields if str(given.get(f.name, "")).strip()}
    return "&" + urlencode(said) if said else ""
