"""Levels, flows, samples and analyses in a GroundWaterML well, both ways: one related observation for each row.

The well of the standard has properties for its static depth and its yield alone; any other observation of it is a `sam:relatedObservation` (OGC 16-032
takes it from ISO 19156). What a row says beside its result stands in named parameters, which the standard leaves to the writer.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import TABLES, Bore, Column
from borewright.exchange.ogc import PROPERTY, child, exact, observation, quantity, tag

__all__ = ["read_rows", "write_rows"]

_ROW = "urn:borewright:def:observation:"  # ours: it says which table of ours a row belongs to
_NAME = "urn:borewright:def:parameter:"
# Table -> (procedure, observed property, the fields that can be its result with their unit, power of ten to it)
_RESULTS: dict[str, tuple[str, str, tuple[tuple[str, str, int], ...]]] = {
    "levels": ("dip meter", f"{PROPERTY}/groundwaterLevel", (("depth_to_water", "m", 0),)),
    "flows": ("flow measured at the collar", f"{PROPERTY}/waterWellYield", (("flow", "L/s", 3),)),
    "samples": ("field instrument on a sample", f"{PROPERTY}/waterQuality", (("conductivity", "uS/cm", 0), ("ph", "[pH]", 0), ("temperature", "Cel", 0))),
    "water": ("laboratory analysis of a sample", f"{PROPERTY}/waterQuality", (("values.value", "", 0),)),
}
# Here the result says the field, in whatever unit another program may write it; elsewhere the parameters say all.
_TOLD_BY_RESULT = {"levels": ("depth_to_water", "length"), "flows": ("flow", "flow")}
_UNIT = re.compile(r"[^: \n\r\t]+")


def _columns(name: str) -> list[Column]:
    table = next(t for t in TABLES if t.name == name)
    return [c for c in table.columns if not c.derived and c.field != "at"]


def _said(bore: Bore, name: str) -> bool:
    """Return whether the properties of the well leave something of these rows out."""
    rows = bore.table(name)
    if name == "levels":
        return any(r["state"] != "static" or r["measured_from"] != "ground" or r["stick_up"] for r in rows)
    if name == "flows":
        return len(rows) > 1 or any(r["depth"] != bore.depth or r["standard_uncertainty"] is not None for r in rows)
    return bool(rows)


def write_rows(root: ET.Element, bore: Bore, key: str) -> None:
    """Add an observation for each row that the well's own properties do not carry whole."""
    for name, (procedure, observed, results) in _RESULTS.items():
        if not _said(bore, name):
            continue
        for n, row in enumerate(bore.table(name), 1):
            result = next(((field, unit, power) for field, unit, power in results if row[field] is not None), None)
            made = observation(
                child(root, "sam:relatedObservation"), f"{key}.{name}.{n}", at=row["at"], procedure=procedure, observed=observed,
                observed_title=str(row.get("values.name") or row.get("state") or name), feature=f"#{key}", between=lambda one, row=row, name=name: _parameters(one, name, row),
            )
            if result is None:
                # A result may not be nil by the schema: a bottle that was filled and not looked at says that it was taken.
                child(child(child(made, "om:result"), "swe:Text"), "swe:value", "taken")
                continue
            field, unit, power = result
            unit = unit or (row["values.unit"] if _UNIT.fullmatch(row["values.unit"]) else "1")
            quantity(made, "om:result", row[field], unit, power)


def _parameters(one: ET.Element, name: str, row: dict[str, Any]) -> None:
    """Write the table and every field that says something; a figure in the unit of the table's column, which its name ends with."""
    pairs: list[tuple[str, str | bool | float, int]] = [("table", name, 0)]
    pairs += [(c.name, row[c.field], c.power) for c in _columns(name) if row[c.field] not in (None, "") and c.field != _TOLD_BY_RESULT.get(name, ("",))[0]]
    for label, value, power in pairs:
        pair = child(child(one, "om:parameter"), "om:NamedValue")
        child(pair, "om:name", xlink__href=(_ROW if label == "table" else _NAME) + label, xlink__title=label)
        holder = child(pair, "om:value")
        if isinstance(value, bool):
            child(child(holder, "swe:Boolean"), "swe:value", "true" if value else "false")
        elif isinstance(value, str):
            child(child(holder, "swe:Text"), "swe:value", value)
        else:
            inner = child(holder, "swe:Quantity")
            child(inner, "swe:uom", code="1")
            child(inner, "swe:value", exact(value, power))


def read_rows(
    well: ET.Element, where: str, *, moment_of: Callable[[str, str], str], number_of: Callable[[str | None, str], Any],
    quantity_of: Callable[[ET.Element | None, str, str], float | None],
) -> dict[str, tuple[dict[str, Any], ...]]:
    """Return the rows of levels, flows, samples and analyses; observations of other kinds are passed over."""
    found: dict[str, list[dict[str, Any]]] = {}
    for n, one in enumerate(well.findall(f"{tag('sam:relatedObservation')}/{tag('om:OM_Observation')}"), 1):
        said: dict[str, str] = {}
        for pair in one.iter(tag("om:NamedValue")):
            label, value = pair.find(tag("om:name")), pair.find(f".//{tag('swe:value')}")
            if label is not None and value is not None:
                said[label.get(tag("xlink:href"), "").removeprefix(_NAME)] = value.text or ""
        name = said.get(_ROW + "table")
        if name is None:
            continue
        place = f"{where}: observation {n}"
        if name not in _RESULTS:
            raise BadInput(f"{place}: table", name, "is not known", "one of " + ", ".join(_RESULTS))
        position = one.find(f"{tag('om:phenomenonTime')}//{tag('gml:timePosition')}")
        at = moment_of((position.text or "").strip(), f"{place}: timePosition") if position is not None and (position.text or "").strip() else None
        row = {c.field: _read(said.get(c.name), c, f"{place}: {c.name}", number_of) for c in _columns(name)}
        if name in _TOLD_BY_RESULT:
            field, kind = _TOLD_BY_RESULT[name]
            row[field] = quantity_of(one.find(tag("om:result")), kind, f"{place}: result")
            if row[field] is None:
                raise BadInput(f"{place}: result", None, "is missing", f"a quantity of {kind}")
        found.setdefault(name, []).append(row | {"at": at})
    return {name: tuple(rows) for name, rows in found.items()}


def _read(text: str | None, column: Column, where: str, number_of: Callable[[str | None, str], Any]) -> Any:
    if text is None:
        return column.default
    if column.type == "boolean":
        if text.strip() not in ("true", "false", "1", "0"):
            raise BadInput(where, text, "is neither true nor false", "true or false")
        return text.strip() in ("true", "1")
    return float(number_of(text, where).scaleb(-column.power)) if column.type in ("number", "integer") else text
