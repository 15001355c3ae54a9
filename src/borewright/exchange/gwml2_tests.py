"""Pumping tests in a GroundWaterML well, both ways: related observations whose result is an array of time and drawdown.

The standard's own aquifer test is a feature apart that describes the analysis; the readings are what the next consultant wants.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import Bore
from borewright.exchange.ogc import child, exact, observation, tag

__all__ = ["read_tests", "write_tests"]

DRAWDOWN = "urn:borewright:def:observedProperty:drawdown"  # ours, like the names of the parameters below
_NAME = "urn:borewright:def:parameter:"
_RUN = {"rate": ("m3/s", "rate"), "duration": ("s", "duration"), "static_level": ("m", "staticLevel"), "radius": ("m", "radius")}


def write_tests(root: ET.Element, bore: Bore, key: str) -> None:
    """Add an observation for each series of levels of each test, and one with no values for a test with no levels."""
    number = 0
    for run in bore.table("tests"):
        series: dict[tuple[str, float | None], list[dict[str, Any]]] = {}
        for row in bore.table("test_levels"):
            if row["run"] == run["run"]:
                series.setdefault((row["well"], row["radius"]), []).append(row)
        for (well, radius), rows in series.items() or [(("", None), [])]:
            number += 1
            parameters: list[tuple[str, str, str | float]] = [("run", "", run["run"]), ("type", "", run["type"]), ("well", "", run["well"])]
            parameters += [(name, unit, run[field]) for field, (unit, name) in _RUN.items() if run[field] is not None]
            if rows:
                parameters += [("levelsWell", "", well), ("levelsAt", "", rows[0]["at"])] + ([("levelsRadius", "m", radius)] if radius is not None else [])
            made = observation(child(root, "sam:relatedObservation"), f"{key}.test.{number}", at=run["at"], procedure=f"pumping test: {run['type']}",
                               observed=DRAWDOWN, observed_title="drawdown", feature=f"#{key}", between=lambda one, p=parameters: _parameters(one, p))
            _array(child(made, "om:result"), rows)


def _parameters(one: ET.Element, parameters: Iterable[tuple[str, str, str | float]]) -> None:
    for name, unit, value in parameters:
        pair = child(child(one, "om:parameter"), "om:NamedValue")
        child(pair, "om:name", xlink__href=_NAME + name, xlink__title=name)
        inner = child(child(pair, "om:value"), "swe:Text" if isinstance(value, str) else "swe:Quantity")
        if not isinstance(value, str):
            child(inner, "swe:uom", code=unit)
        child(inner, "swe:value", value if isinstance(value, str) else exact(value))


def _array(result: ET.Element, rows: list[dict[str, Any]]) -> None:
    array = child(result, "swe:DataArray")
    child(child(child(array, "swe:elementCount"), "swe:Count"), "swe:value", str(len(rows)))
    record = child(child(array, "swe:elementType", name="reading"), "swe:DataRecord")
    for name, unit in (("time", "s"), ("drawdown", "m")):
        child(child(child(record, "swe:field", name=name), "swe:Quantity"), "swe:uom", code=unit)
    if rows:
        child(child(array, "swe:encoding"), "swe:TextEncoding", tokenSeparator=",", blockSeparator=" ")
        child(array, "swe:values", " ".join(f"{exact(r['time'])},{exact(r['drawdown'])}" for r in rows))


def read_tests(well: ET.Element, where: str, *, moment_of: Callable[[str, str], str], number_of: Callable[[str | None, str], Any]) -> dict[str, tuple[dict[str, Any], ...]]:
    """Return the rows of the tests and their levels; observations of other kinds are passed over."""
    tests: dict[str, dict[str, Any]] = {}
    levels: list[dict[str, Any]] = []
    for n, one in enumerate(well.findall(f"{tag('sam:relatedObservation')}/{tag('om:OM_Observation')}"), 1):
        observed = one.find(tag("om:observedProperty"))
        if observed is None or observed.get(tag("xlink:href")) != DRAWDOWN:
            continue
        place = f"{where}: test {n}"
        said = {}
        for pair in one.iter(tag("om:NamedValue")):
            name, value = pair.find(tag("om:name")), pair.find(f".//{tag('swe:value')}")
            if name is not None and value is not None:
                said[name.get(tag("xlink:href"), "").removeprefix(_NAME)] = value.text or ""
        if "run" not in said:
            raise BadInput(f"{place}: run", None, "is missing", "the name of the run among the parameters")

        def figure(name: str, said: dict[str, str] = said, place: str = place) -> float | None:
            return float(number_of(said[name], f"{place}: {name}")) if name in said else None

        position = one.find(f"{tag('om:phenomenonTime')}//{tag('gml:timePosition')}")
        at = moment_of((position.text or "").strip(), f"{place}: timePosition") if position is not None and (position.text or "").strip() else None
        tests.setdefault(said["run"], {
            "run": said["run"], "type": said.get("type", ""), **{field: figure(name) for field, (_, name) in _RUN.items()}, "well": said.get("well", "pumped"), "at": at})
        recorded = moment_of(said["levelsAt"], f"{place}: levelsAt") if said.get("levelsAt") else at
        values = one.find(f"{tag('om:result')}/{tag('swe:DataArray')}/{tag('swe:values')}")
        for m, pair in enumerate((values.text or "").split() if values is not None else (), 1):
            time, comma, drawdown = pair.partition(",")
            if not comma:
                raise BadInput(f"{place}, reading {m}", pair, "is not a time and a drawdown", "two numbers with a comma between")
            levels.append({"run": said["run"], "time": float(number_of(time, f"{place}, reading {m}: time")),
                           "drawdown": float(number_of(drawdown, f"{place}, reading {m}: drawdown")),
                           "well": said.get("levelsWell") or "pumped", "radius": figure("levelsRadius"), "at": recorded})
    order = ("run", "type", "rate", "duration", "static_level", "well", "radius", "at")
    return {"tests": tuple({k: t[k] for k in order} for t in tests.values()), "test_levels": tuple(levels)}
