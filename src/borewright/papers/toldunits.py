"""Quantities inside a sentence: calculations tell theirs in metric units, and a paper speaks the firm's."""

from __future__ import annotations

import re
from functools import lru_cache

from borewright.quantities import KINDS, show

__all__ = ["in_firms_units"]

# unit as it is told -> (kind, unit it is shown in where that is not the one of the kind: metric aside)
_KINDS = {
    "L/min": ("flow", None), "L/s": ("flow", None), "L": ("volume", None), "km": ("length", "mile"), "mm": ("diameter", None), "m": ("depth", None), "kPa": ("pressure", None), "kW": ("power", None),
}


@lru_cache(maxsize=8)
def _quantities(decimal: str, group: str) -> re.Pattern[str]:
    figure = rf"\d{{1,3}}(?:{re.escape(group)}\d{{3}})+(?:{re.escape(decimal)}\d+)?|\d+(?:{re.escape(decimal)}\d+)?"
    units = "|".join(sorted(map(re.escape, _KINDS), key=len, reverse=True))
    # Two figures may share one unit: "60 to 75 m". A unit that goes on ("m²/d", "m/s", "mg/L as") is another unit.
    return re.compile(rf"(?<![\w{re.escape(decimal)}])({figure})(?:( to | and | or | à | et | ou |\s?–\s?)({figure}))?[ \u00a0\u202f]({units})(?![\w/²³])")


def in_firms_units(told: str, system: str, *, decimal: str = ".", group: str = ",") -> str:
    """Return a sentence whose metric quantities stand in a firm's units, to three digits, its signs for figures being those given.

    The figures that come out have a decimal point; lengths over land are miles, depths feet.
    """
    if system == "metric":
        return told

    def shown(text: str, unit: str) -> str:
        kind, instead = _KINDS[unit]
        value = float(text.replace(group, "").replace(decimal, "."))
        return show(value * KINDS[kind].units[unit], kind, system=system, unit=instead, digits=3)

    def said(match: re.Match[str]) -> str:
        first, joint, second, unit = match.groups()
        if second is None:
            return shown(first, unit)
        return f"{shown(first, unit).partition(' ')[0]}{joint}{shown(second, unit)}"

    return _quantities(decimal, group).sub(said, told)
