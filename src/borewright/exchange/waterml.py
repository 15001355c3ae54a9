"""Water levels over time as WaterML 2.0 part 1 (OGC 10-126): the dips of a bore and the levels of its tests, each a series."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from datetime import datetime, timedelta

from borewright.errors import BadInput
from borewright.exchange.bore import Bore
from borewright.exchange.ogc import NS, PROPERTY, SCHEMAS, child, exact, reference, tag
from borewright.exchange.xmlsafe import xml_bytes

__all__ = ["level_series", "write_levels"]

FEATURE = "urn:borewright:bore:"
DEPTH, DRAWDOWN = "urn:borewright:def:observedProperty:depth", "urn:borewright:def:observedProperty:drawdown"
PARAMETER = "urn:borewright:def:parameter:"  # ours: the standard leaves parameters to the writer
RUN = {"rate": "rate", "duration": "duration", "static_level": "staticLevel", "radius": "radius"}  # field of a test -> its parameter, in SI
_DEFINED = "http://www.opengis.net/def/waterml/2.0"


def level_series(bore: Bore) -> list[tuple[str, str, list[tuple[datetime, float]]]]:
    """Return (title, kind, points) of each series: kind "depth" below ground or "drawdown" [m]; points in order of time.

    The levels of a test count from the moment of its run, taken as when pumping began.
    """
    return [(title, kind, points) for title, kind, points, _ in _told(bore)]


def _told(bore: Bore) -> list[tuple[str, str, list[tuple[datetime, float]], dict[str, str]]]:
    """Return the series with what a test's own says besides, by the name of its parameter."""
    made: list[tuple[str, str, list[tuple[datetime, float]], dict[str, str]]] = []
    for state in ("static", "pumping", "recovering", "drilling"):
        points = sorted((datetime.fromisoformat(r["at"]), r["depth_to_water"]) for r in bore.table("levels") if r["state"] == state)
        if points:
            made.append((f"depth to water below ground, {state}", "depth", points, {}))
    runs = {r["run"]: r for r in bore.table("tests")}
    begun = {run: datetime.fromisoformat(r["at"]) for run, r in runs.items()}
    radius: dict[tuple[str, str], float | None] = {}
    series: dict[tuple[str, str], list[tuple[datetime, float]]] = {}
    for row in bore.table("test_levels"):
        if row["run"] in begun:
            radius.setdefault((row["run"], row["well"]), row["radius"])
            series.setdefault((row["run"], row["well"]), []).append((begun[row["run"]] + timedelta(seconds=row["time"]), row["drawdown"]))
    for (run, well), points in series.items():
        row = runs[run]
        besides = {"run": run, "type": row["type"], "well": row["well"], "begun": row["at"], "levelsWell": well}
        besides |= {name: exact(row[field]) for field, name in RUN.items() if row[field] is not None}
        if radius[run, well] is not None:
            besides["levelsRadius"] = exact(radius[run, well])
        made.append((f"drawdown in test {run}, {well} bore", "drawdown", sorted(points), besides))
    return made


def write_levels(bore: Bore, *, made: datetime | None = None) -> bytes:
    """Return the XML of every level series of a bore.

    Parameters
    ----------
    made : datetime, optional
        When the document is made; the last reading by default, so that the same bore gives the same bytes.

    Raises
    ------
    BadInput
        The bore has no level at all.
    """
    series = _told(bore)
    if not series:
        raise BadInput("levels", None, "are missing", "a bore with a level dipped or a test with levels")
    moment = (made or max(p[0] for _, _, points, _ in series for p in points)).isoformat()
    key = "levels." + re.sub(r"[^A-Za-z0-9_.-]", "_", bore.id)
    root = ET.Element(tag("wml2:Collection"), {tag("gml:id"): key, tag("xsi:schemaLocation"): SCHEMAS["wml2"]})
    child(child(child(root, "wml2:metadata"), "wml2:DocumentMetadata", gml__id=f"{key}.about"), "wml2:generationDate", moment)
    for number, (title, kind, points, besides) in enumerate(series, 1):
        _series(root, bore, f"{key}.{number}", title, kind, points, besides, moment)
    return xml_bytes(root, {p: NS[p] for p in ("wml2", "gml", "om", "xlink", "xsi")})


def _series(root: ET.Element, bore: Bore, key: str, title: str, kind: str, points: list[tuple[datetime, float]], besides: dict[str, str], made: str) -> None:
    one = child(child(root, "wml2:observationMember"), "om:OM_Observation", gml__id=key)
    period = child(child(one, "om:phenomenonTime"), "gml:TimePeriod", gml__id=f"{key}.period")
    child(period, "gml:beginPosition", points[0][0].isoformat())
    child(period, "gml:endPosition", points[-1][0].isoformat())
    child(child(child(one, "om:resultTime"), "gml:TimeInstant", gml__id=f"{key}.made"), "gml:timePosition", made)
    process = child(child(one, "om:procedure"), "wml2:ObservationProcess", gml__id=f"{key}.how")
    reference(process, "wml2:processType", "manual method", f"{_DEFINED}/processType/ManualMethod")
    for name, value in besides.items():
        pair = child(child(one, "om:parameter"), "om:NamedValue")
        child(pair, "om:name", xlink__href=PARAMETER + name, xlink__title=name)
        child(pair, "om:value", value)
    static = kind == "depth" and title.endswith("static")
    reference(one, "om:observedProperty", title, f"{PROPERTY}/staticGroundwaterLevel" if static else DEPTH if kind == "depth" else DRAWDOWN)
    reference(one, "om:featureOfInterest", bore.name or bore.id, f"{FEATURE}{bore.id}")
    values = child(child(one, "om:result"), "wml2:MeasurementTimeseries", gml__id=f"{key}.values")
    default = child(child(values, "wml2:defaultPointMetadata"), "wml2:DefaultTVPMeasurementMetadata")
    child(default, "wml2:uom", code="m")
    reference(default, "wml2:interpolationType", "discontinuous", f"{_DEFINED}/interpolationType/Discontinuous")
    for moment, value in points:
        point = child(child(values, "wml2:point"), "wml2:MeasurementTVP")
        child(point, "wml2:time", moment.isoformat())
        child(point, "wml2:value", exact(value))
