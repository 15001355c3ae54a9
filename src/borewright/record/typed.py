"""From what a person typed to a body: quantities read at the edge, kept in SI beside the text as it was typed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from borewright.errors import BadInput
from borewright.quantities import parse
from borewright.record.bodies import KINDS

__all__ = ["QUANTITY_OF_FIELD", "body_as_typed"]

# Which kind of quantity a field holds. One name means one thing in every body; tests/record holds the list to the bodies.
QUANTITY_OF_FIELD: dict[str, str] = {
    "from_depth": "depth", "to_depth": "depth", "depth": "depth", "intake_depth": "depth", "depth_to_water": "level", "static_level": "level", "pumping_level": "level",
    "elevation": "level", "lift_to_tank": "level", "diameter": "diameter", "rod_diameter": "diameter", "outside_diameter": "diameter", "wall": "diameter",
    "aperture": "diameter", "flow": "flow", "need": "flow", "rate": "flow", "standard_uncertainty": "flow", "air_flow": "air_flow",
    "air_pressure": "pressure", "daily_volume": "volume", "volume": "volume", "distance_from_yard": "length", "distance": "length",
    "pipe_run": "length", "place_within": "length", "rod_length": "length", "stick_up": "length", "radius": "length", "bag_mass": "mass", "density": "density",
    "elapsed": "time", "duration": "time", "pumping_time": "time", "extra": "volume", "tank": "volume", "panel_power": "power", "electricity_meter": "energy", "water_meter": "volume", "electric_power": "power",
    "tilt": "angle", "azimuth": "angle", "sand": "concentration", "conductivity": "conductivity", "temperature": "temperature",
}


def body_as_typed(kind: str, given: Mapping[str, str]) -> dict[str, Any]:
    """Return the body that typed words make, still to be validated by whoever writes it.

    A quantity must carry its unit ("34 m", "6 5/8 in"). A value that begins with [ or { is JSON, its numbers in SI.

    Raises
    ------
    BadInput
        An unknown kind, a quantity without number or unit, or JSON that cannot be read.
    """
    if kind not in KINDS:
        import difflib

        near = difflib.get_close_matches(kind, KINDS, 3, 0.4) or list(KINDS)
        raise BadInput("kind", kind, "is not a kind of entry", "one of " + ", ".join(near))
    body: dict[str, Any] = {}
    typed: dict[str, str] = {}
    for name, text in given.items():
        if text.startswith(("[", "{")):
            try:
                body[name] = json.loads(text)
            except (ValueError, RecursionError):
                raise BadInput(name, text, "is not JSON", 'JSON such as {"key": 1.5}') from None
        elif name in QUANTITY_OF_FIELD and name in KINDS[kind].model_fields:
            quantity = parse(text, QUANTITY_OF_FIELD[name], field=name)
            body[name], typed[name] = quantity.si, quantity.text
        else:
            body[name] = text
    return body | ({"typed": typed} if typed else {})
