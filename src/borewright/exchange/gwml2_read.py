"""Reading GroundWaterML 2.2: what this program writes comes back whole, what others write as far as it says what this program can hold."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from typing import Any

from borewright.errors import BadInput
from borewright.exchange.bore import Bore, moment_of
from borewright.exchange.gwml2 import IDENTIFIER, ORIGIN_ELEVATION, STRIKE
from borewright.exchange.gwml2_rows import read_rows
from borewright.exchange.gwml2_tests import read_tests
from borewright.exchange.ogc import LENGTHS, NS, number_of, tag
from borewright.exchange.xmlsafe import parse_xml
from borewright.ground import classify

__all__ = ["read_gwml2", "wells_in"]

# UCUM code -> (power of ten, factor) to SI.
_UNITS: dict[str, dict[str, tuple[int, float]]] = {
    "length": LENGTHS,
    "flow": {"L/s": (-3, 1.0), "l/s": (-3, 1.0), "m3/s": (0, 1.0), "L/min": (-3, 1 / 60), "m3/h": (0, 1 / 3600), "m3/d": (0, 1 / 86400),
             "[gal_us]/min": (0, 3.785411784e-3 / 60), "[gal_br]/h": (0, 4.54609e-3 / 3600), "[gal_br]/min": (0, 4.54609e-3 / 60)},
}
_ORIGIN = (ORIGIN_ELEVATION, "http://www.opengis.net/req/gwml2-well/origin-elevation", "http://www.opengis.net/req/gwml2-well/origin_elevation")
_USES = {"domestic": "house", "house": "house", "stock": "stock", "garden": "garden", "irrigation": "irrigation", "industrial": "industry", "industry": "industry"}
# Geographic systems within two metres of WGS 84, latitude first; others are moved by pyproj.
_NEAR_WGS84 = {"4326", "4979", "9705", "4283", "4939", "7844", "7843", "4258", "4937", "4167", "4959", "4269", "4957"}


def read_gwml2(data: bytes) -> list[Bore]:
    """Return every GW_Well of a document.

    Raises
    ------
    BadInput
        Not safe or not well-formed XML; no well; a unit that is not known; depths that cross; a place that is not on the Earth.
    """
    return wells_in(parse_xml(data))


def wells_in(root: ET.Element) -> list[Bore]:
    """Return every GW_Well of a document that was parsed; raises as `read_gwml2` does."""
    wells = list(root.iter(tag("gwml2w:GW_Well")))
    if not wells:
        raise BadInput("file", root.tag, "holds no GW_Well", f"a GW_Well of {NS['gwml2w']}")
    bores = [_bore(well, n) for n, well in enumerate(wells, 1)]
    seen: set[str] = set()
    for number, bore in enumerate(bores, 1):
        if bore.id in seen:
            raise BadInput(f"well {number}: identifier", bore.id, "stands for two bores", "each identifier once")
        seen.add(bore.id)
    return bores


def _bore(well: ET.Element, number: int) -> Bore:
    where = f"well {number}"
    identity = _text(well, "gml:identifier") or well.get(tag("gml:id")) or ""
    if not identity:
        raise BadInput(f"{where}: identifier", None, "is missing", "gml:identifier or gml:id")
    named = {n.get("codeSpace"): n.text or "" for n in reversed(well.findall(tag("gml:name")))}
    reference = named.pop("urn:borewright:reference", "")
    hole = well.find(f"{tag('gwml2w:gwWellConstruction')}/{tag('gwml2wc:Borehole')}")
    latitude, longitude = _place(well, where)
    rows: dict[str, tuple[dict[str, Any], ...]] = {}
    moment = None
    method = driller = ""
    if hole is not None:
        day = _text(hole, "gwml2wc:bholeDateOfDrilling")
        moment = _time(day, f"{where}: bholeDateOfDrilling") if day else None
        method = _title(hole, "gwml2wc:bholeDrillingMethod")
        driller = " ".join((t.text or "") for t in hole.findall(f"{tag('gwml2wc:bholeDriller')}//{tag('gco:CharacterString')}")[:1]).strip()[:120]
        rows |= _construction(hole, moment, where)
    rows |= _logs(well, where)
    rows |= _levels_and_yield(well, moment, where)
    rows |= read_tests(well, where, moment_of=_time, number_of=number_of)
    rows |= read_rows(well, where, moment_of=_time, number_of=number_of, quantity_of=_quantity)  # whole rows, where the well's own properties say only a part of them
    use = _title(well, "gwml2w:gwWellWaterUse").casefold()
    depth = _quantity(well.find(tag("gwml2w:gwWellTotalLength")), "length", f"{where}: gwWellTotalLength")
    status = _title(well, "gwml2w:gwWellStatus")
    reasons = ("enough water", "walked away", "depth agreed", "hole lost", "other")
    order = ("bits", "intervals", "strikes", "flows", "levels", "casing", "annulus", "samples", "tests", "test_levels", "water")
    return Bore(
        id=identity.removeprefix(IDENTIFIER), name=next(iter(named.values()), ""), reference=reference, latitude=latitude, longitude=longitude,
        elevation=_elevation(well, where), depth=depth, use=_USES.get(use, "other") if use else "", driller=driller, method=method,
        started_at=None if status in reasons else moment, stopped_at=moment if status in reasons else None,
        stopped_reason=status if status in reasons else "", rows={k: rows[k] for k in order if rows.get(k)},
    )


def _text(parent: ET.Element, name: str) -> str:
    found = parent.find(tag(name))
    return (found.text or "").strip() if found is not None else ""


def _title(parent: ET.Element, name: str) -> str:
    """Return the words of a reference, or the last part of its code where it has none."""
    found = parent.find(tag(name))
    if found is None or found.get(tag("xsi:nil")) == "true":
        return ""
    href = found.get(tag("xlink:href"), "")
    return found.get(tag("xlink:title")) or ("" if "/nil/" in href else href.rstrip("/").rpartition("/")[2])


def _time(text: str, where: str) -> str:
    # A day may carry an offset of its own (XML Schema date), which ISO 8601 as read here does not know.
    return moment_of(text[:10] if len(text) in (11, 16) and text[4:5] == "-" else text, where)


def _quantity(holder: ET.Element | None, kind: str, where: str) -> float | None:
    """Return what a property with a swe:Quantity says, in SI; None if it is absent or nil."""
    inner = holder if holder is None or holder.tag == tag("swe:Quantity") else holder.find(tag("swe:Quantity"))
    if inner is None or inner.find(tag("swe:value")) is None:
        return None
    unit = inner.find(tag("swe:uom"))
    code = unit.get("code", "") if unit is not None else ""
    if not code and unit is not None:
        code = unit.get(tag("xlink:href"), "").rpartition("/")[2]
    if code not in _UNITS[kind]:
        raise BadInput(where, code, f"is not a known unit of {kind}", "one of " + ", ".join(_UNITS[kind]))
    power, factor = _UNITS[kind][code]
    value = float(number_of(inner.find(tag("swe:value")).text, where).scaleb(power))
    return value if factor == 1.0 else value * factor


def _interval(part: ET.Element, top: str, bottom: str, where: str) -> tuple[float, float]:
    start, end = (_quantity(part.find(tag(name)), "length", f"{where}: {name.partition(':')[2]}") for name in (top, bottom))
    if start is None or end is None:
        raise BadInput(where, None, "lacks a depth", "both depths of each interval")
    if end < start:
        raise BadInput(where, end, f"ends above its beginning at {start:g} m", "from above to")
    return start, end


def _place(well: ET.Element, where: str) -> tuple[float | None, float | None]:
    for path in (f"{tag('gwml2w:gwWellLocation')}/{tag('gml:Point')}", f"{tag('sams:shape')}/{tag('gml:Point')}", f"{tag('sams:shape')}/{tag('gml:Curve')}"):
        geometry = well.find(path)
        if geometry is None:
            continue
        found = geometry.find(f".//{tag('gml:pos')}")
        found = geometry.find(f".//{tag('gml:posList')}") if found is None else found
        numbers = [float(number_of(t, f"{where}: position")) for t in ((found.text or "") if found is not None else "").split()[:3]]
        if len(numbers) < 2:
            continue
        system = geometry.get("srsName") or (found.get("srsName") if found is not None else None) or ""
        return _latitude_longitude(numbers[0], numbers[1], system.rstrip("/").replace(":", "/").rpartition("/")[2], where)
    return None, None


def _latitude_longitude(first: float, second: float, code: str, where: str) -> tuple[float, float]:
    if code and code not in _NEAR_WGS84:
        from pyproj import CRS, Transformer
        from pyproj.exceptions import CRSError

        try:
            first, second = Transformer.from_crs(CRS.from_epsg(int(code)), CRS.from_epsg(4326)).transform(first, second)
        except (CRSError, ValueError):
            raise BadInput(f"{where}: srsName", code, "is not a known reference system", "an EPSG code, such as .../EPSG/0/4326") from None
    elif abs(first) > 90 >= abs(second):
        # These systems put latitude first; a first number that no latitude can be shows that the writer did not.
        first, second = second, first
    if not (abs(first) <= 90 and abs(second) <= 180):
        raise BadInput(f"{where}: position", f"{first:g} {second:g}", "is not on the Earth", "latitude, then longitude, in degrees")
    return first, second


def _elevation(well: ET.Element, where: str) -> float | None:
    """Return the elevation of the ground: the one marked as origin, or the only one there is."""
    found = []
    for one in well.findall(f"{tag('gwml2w:gwWellReferenceElevation')}/{tag('gwml2w:Elevation')}"):
        kind, value = one.find(tag("gwml2w:elevationType")), one.find(tag("gwml2w:elevation"))
        if value is not None and (value.text or "").strip():
            found.append((kind is not None and kind.get(tag("xlink:href")) in _ORIGIN, float(number_of(value.text, f"{where}: elevation"))))
    marked = [v for origin, v in found if origin]
    return marked[0] if marked else found[0][1] if len(found) == 1 else None


def _construction(hole: ET.Element, moment: str | None, where: str) -> dict[str, tuple[dict[str, Any], ...]]:
    rows: dict[str, list[dict[str, Any]]] = {"bits": [], "casing": [], "annulus": []}

    def parts(name: str):
        for n, part in enumerate(hole.iter(tag(f"gwml2wc:{name}")), 1):
            place = f"{where}: {name} {n}"
            yield part, place, _interval(part, "gwml2wc:from", "gwml2wc:to", place)

    for name, start, slotted in (("CasingComponent", "casing", False), ("ScreenComponent", "screen", True)):
        for part, place, (top, bottom) in parts(name):
            outside, inside, wall = (_quantity(part.find(tag(f"gwml2wc:{start}{what}")), "length", f"{place}: {start}{what}")
                                     for what in ("ExternalDiameter", "InternalDiameter", "WallThickness"))
            if outside is None and inside is not None:
                outside = inside + 2 * (wall or 0.0)
            string = _text(part, "gml:name")
            rows["casing"].append({
                "from_depth": max(top, 0.0), "to_depth": bottom, "string": string if string in ("conductor", "surface", "production") else "production",
                "outside_diameter": outside, "wall": wall, "material": _title(part, f"gwml2wc:{start}Material"), "slotted": slotted,
                "aperture": _quantity(part.find(tag("gwml2wc:screenHoleWidth")), "length", f"{place}: screenHoleWidth"), "joints": None, "at": moment})
    diameter = _quantity(hole.find(tag("gwml2wc:bholeNominalDiameter")), "length", f"{where}: bholeNominalDiameter")
    if diameter is not None:
        # The one diameter that the standard has a place for is the last; above it the hole took casing that would not have gone through it.
        wider = [r["to_depth"] for r in rows["casing"] if r["outside_diameter"] is not None and r["outside_diameter"] > diameter]
        rows["bits"].append({"diameter": diameter, "kind": "", "from_depth": max(wider, default=0.0), "at": moment})
    for name, material, kinds in (("FiltrationComponent", "filterMaterial", ("pack",)), ("SealingComponent", "sealingMaterial", ("seal", "grout", "backfill"))):
        for part, _, (top, bottom) in parts(name):
            what = _text(part, "gml:name")
            rows["annulus"].append({
                "from_depth": top, "to_depth": bottom, "what": what if what in kinds else kinds[0], "material": _title(part, f"gwml2wc:{material}"),
                "bags": None, "bag_mass": None, "density": None, "volume": None, "at": moment})
    return {name: tuple(made) for name, made in rows.items()}


def _observed_at(one: ET.Element, where: str) -> str | None:
    position = one.find(f"{tag('om:phenomenonTime')}//{tag('gml:timePosition')}")
    return _time((position.text or "").strip(), f"{where}: timePosition") if position is not None and (position.text or "").strip() else None


def _logs(well: ET.Element, where: str) -> dict[str, tuple[dict[str, Any], ...]]:
    intervals, strikes = [], []
    for n, log in enumerate(well.findall(f"{tag('gwml2w:gwWellGeology')}/{tag('gwml2w:GW_GeologyLog')}"), 1):
        place = f"{where}: log {n}"
        observed = log.find(tag("om:observedProperty"))
        water = observed is not None and observed.get(tag("xlink:href")) == STRIKE
        moment = _observed_at(log, place)
        for m, value in enumerate(log.iter(tag("gwml2w:LogValue")), 1):
            top, bottom = _interval(value, "gwml2w:fromDepth", "gwml2w:toDepth", f"{place}, value {m}")
            said = {}
            for field in value.iter(tag("swe:field")):
                found = field.find(f".//{tag('swe:value')}")
                said[field.get("name", "")] = (found.text or "") if found is not None else ""
            if water:
                strikes.append({"depth": top, "note": said.get("note", ""), "at": moment})
                continue
            lithology = said.get("lithology", "").rpartition("/")[2]
            words = said.get("description") if "description" in said else lithology.replace("_", " ")
            known = classify(words or "") if "ground_class" not in said and "description" not in said else None
            intervals.append({
                "from_depth": top, "to_depth": bottom, "words": words or "", "ground_class": said.get("ground_class") or (known.name if known else ""),
                **{name: said.get(name, "") for name in ("colour", "grain", "strength", "weathering")}, "at": moment})
    return {"intervals": tuple(intervals), "strikes": tuple(strikes)}


def _levels_and_yield(well: ET.Element, moment: str | None, where: str) -> dict[str, tuple[dict[str, Any], ...]]:
    levels = []
    for n, one in enumerate(well.findall(f"{tag('gwml2w:gwWellStaticWaterDepth')}/{tag('om:OM_Observation')}"), 1):
        place = f"{where}: static level {n}"
        depth = _quantity(one.find(tag("om:result")), "length", place)
        if depth is not None:
            levels.append({"depth_to_water": depth, "state": "static", "measured_from": "ground", "stick_up": 0.0, "at": _observed_at(one, place) or moment})
    flows = []
    one = well.find(f"{tag('gwml2w:gwWellYield')}/{tag('om:OM_Observation')}")
    if one is not None:
        flow = _quantity(one.find(tag("om:result")), "flow", f"{where}: yield")
        procedure = _title(one, "om:procedure")
        known = ("bucket", "V-notch", "rectangular weir", "orifice pipe", "pipe trajectory", "upright pipe", "meter")
        if flow is not None:
            depth = _quantity(well.find(tag("gwml2w:gwWellTotalLength")), "length", f"{where}: gwWellTotalLength")
            flows.append({"depth": depth or 0.0, "flow": flow, "standard_uncertainty": None,
                          "method": procedure if procedure in known else "estimate", "at": _observed_at(one, f"{where}: yield") or moment})
    return {"levels": tuple(levels), "flows": tuple(flows)}
