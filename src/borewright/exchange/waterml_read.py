"""Reading water levels from WaterML 2.0 part 1: the dips of a bore and the levels of its tests, where the file says that depth to water or drawdown is what it holds."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import Bore, moment_of
from borewright.exchange.ogc import NS, PROPERTY, length_of, number_of, tag
from borewright.exchange.waterml import DEPTH, DRAWDOWN, FEATURE, PARAMETER, RUN

__all__ = ["levels_in", "read_levels"]

_STATES = ("static", "pumping", "recovering", "drilling")


def read_levels(data: bytes) -> list[Bore]:
    """Return a bore for each feature of interest, with its levels and tests; see `levels_in` for what is refused."""
    from borewright.exchange.xmlsafe import parse_xml

    return levels_in(parse_xml(data))


def levels_in(root: ET.Element) -> list[Bore]:
    """Return a bore for each feature of interest of a document.

    Raises
    ------
    BadInput
        No series; a quantity that is neither depth to water nor drawdown; a unit that is not one of length; a time or a value that cannot be read.
    """
    series = [one for one in root.iter(tag("om:OM_Observation")) if one.find(f"{tag('om:result')}/{tag('wml2:MeasurementTimeseries')}") is not None]
    if not series:
        raise BadInput("file", root.tag, "holds no series of measurements", f"a MeasurementTimeseries of {NS['wml2']}")
    found: dict[str, dict[str, Any]] = {}
    for number, one in enumerate(series, 1):
        where = f"series {number}"
        feature = one.find(tag("om:featureOfInterest"))
        href, title = (feature.get(tag("xlink:href"), ""), feature.get(tag("xlink:title"), "")) if feature is not None else ("", "")
        identity = href.removeprefix(FEATURE) or title
        if not identity:
            raise BadInput(f"{where}: featureOfInterest", None, "is missing", "the bore that was read, by reference")
        bore = found.setdefault(identity, {"name": title, "levels": [], "tests": {}, "test_levels": []})
        _series(one, where, bore)
    return [Bore(id=key, name=one["name"] if one["name"] != key else "", rows={
        name: tuple(rows) for name, rows in (("levels", one["levels"]), ("tests", one["tests"].values()), ("test_levels", one["test_levels"])) if rows}) for key, one in found.items()]


def _series(one: ET.Element, where: str, bore: dict[str, Any]) -> None:
    observed = one.find(tag("om:observedProperty"))
    href, title = (observed.get(tag("xlink:href"), ""), observed.get(tag("xlink:title"), "")) if observed is not None else ("", "")
    points = _points(one.find(f"{tag('om:result')}/{tag('wml2:MeasurementTimeseries')}"), where)
    if href == DRAWDOWN:
        _drawdown(one, where, points, bore)
        return
    words = title.casefold()
    if href != f"{PROPERTY}/staticGroundwaterLevel" and href != DEPTH and "depth to water" not in words:
        # A level above a datum read as a depth would put the water on the wrong side of the ground.
        raise BadInput(f"{where}: observedProperty", title or href, "is not depth to water below ground, nor drawdown", f"{DEPTH}, {DRAWDOWN}, or a title that says depth to water")
    state = next((s for s in _STATES if words.endswith(s)), "static")
    bore["levels"] += [{"depth_to_water": value, "state": state, "measured_from": "ground", "stick_up": 0.0, "at": moment.isoformat()} for moment, value in points]


def _drawdown(one: ET.Element, where: str, points: list[tuple[datetime, float]], bore: dict[str, Any]) -> None:
    said = _parameters(one)
    begun = datetime.fromisoformat(moment_of(said["begun"], f"{where}: begun")) if said.get("begun") else min((m for m, _ in points), default=None)
    if begun is None:
        raise BadInput(where, None, "has no reading and no beginning", "a series of readings")
    run = said.get("run") or str(len(bore["tests"]) + 1)
    figure = lambda name: float(number_of(said[name], f"{where}: {name}")) if name in said else None
    bore["tests"].setdefault(run, {"run": run, "type": said.get("type") or "constant rate", **{field: figure(name) for field, name in RUN.items()}, "well": said.get("well") or "pumped", "at": begun.isoformat()})
    for moment, drawdown in points:
        time = (moment - begun) / timedelta(seconds=1)
        if time < 0:
            raise BadInput(f"{where}: time", moment.isoformat(), f"stands before the pumping began at {begun.isoformat()}", "readings from the beginning on")
        bore["test_levels"].append({"run": run, "time": time, "drawdown": drawdown, "well": said.get("levelsWell") or "pumped", "radius": figure("levelsRadius"), "at": begun.isoformat()})


def _parameters(one: ET.Element) -> Mapping[str, str]:
    said = {}
    for pair in one.iter(tag("om:NamedValue")):
        label, value = pair.find(tag("om:name")), pair.find(tag("om:value"))
        if label is not None and value is not None and label.get(tag("xlink:href"), "").startswith(PARAMETER):
            said[label.get(tag("xlink:href"), "").removeprefix(PARAMETER)] = value.text or ""
    return said


def _points(values: ET.Element, where: str) -> list[tuple[datetime, float]]:
    default = values.find(f"{tag('wml2:defaultPointMetadata')}//{tag('wml2:uom')}")
    points = []
    for number, point in enumerate(values.iter(tag("wml2:MeasurementTVP")), 1):
        place = f"{where}, point {number}"
        value = point.find(tag("wml2:value"))
        if value is None or value.get(tag("xsi:nil")) in ("true", "1"):
            continue
        own = point.find(f".//{tag('wml2:uom')}")
        unit = next((u.get("code", "") for u in (own, default) if u is not None), "")
        points.append((datetime.fromisoformat(moment_of(_said(point, "wml2:time"), f"{place}: time")), length_of(value.text, unit, f"{place}: value")))
    return points


def _said(parent: ET.Element, name: str) -> str:
    found = parent.find(tag(name))
    return (found.text or "").strip() if found is not None else ""
