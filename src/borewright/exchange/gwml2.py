"""A bore as GroundWaterML 2.2 (OGC 16-032): gwml2w:GW_Well with construction, geology log, strikes, tests, levels, flows, samples and analyses.

What the well has no property for stands in related observations (`gwml2_rows`, `gwml2_tests`); bags, joints and volumes of what was built stay out, and
the CSV set carries them.
Water strikes have no element of their own: they stand in a second log whose observed property is the water strike.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from borewright.errors import BadInput
from borewright.exchange.bore import Bore
from borewright.exchange.gwml2_rows import write_rows
from borewright.exchange.gwml2_tests import write_tests
from borewright.exchange.ogc import GWML, NS, PROPERTY, SCHEMAS, child, exact, observation, quantity, reference, tag
from borewright.exchange.xmlsafe import xml_bytes

__all__ = ["ORIGIN_ELEVATION", "STRIKE", "write_gwml2"]

# The spelling that the standard's own rules test for.
ORIGIN_ELEVATION = "http://resource.gwml.org/def/elevationType/originElevation"
STRIKE = "urn:borewright:def:observedProperty:waterStrike"  # ours: the standard has none
IDENTIFIER = "urn:borewright:bore:"
LITHOLOGY = "http://resource.geosciml.org/classifier/cgi/lithology/"
# Classes of ours whose name is a term of the CGI simple lithology vocabulary.
CGI = {"siltstone", "limestone", "coal", "duricrust", "quartzite", "schist", "slate", "gneiss", "basalt", "granite", "gravel", "clay", "silt", "sand", "peat"}
# Code URIs seen in use with the standard, which fixes none; the words stand beside them in xlink:title.
_METHOD = (("hammer", "DownholeHammer"), ("mud", "MudRotaryDrilling"), ("cable", "CableToolDrilling"), ("auger", "Auger"), ("sonic", "Sonic"), ("air", "AirRotaryDrilling"),
           ("rotary", "RotaryDrilling"))
_CASING = (("pvc", "pvc"), ("stainless", "stainlessSteel"), ("steel", "steel"), ("fibreglass", "fibreglass"), ("abs", "abs"), ("concrete", "concrete"))
_SEAL = (("bentonite", "bentonite"), ("cement", "cement_grouted"), ("cuttings", "cuttings"), ("clay", "clay"))
_USE = {"house": "Domestic", "stock": "Stock", "irrigation": "Irrigation", "industry": "Industrial", "garden": "Other", "other": "Other"}


def _code(words: str, table: tuple[tuple[str, str], ...], base: str) -> str:
    low = words.casefold()
    return next((f"{GWML}/{base}/{code}" for word, code in table if word in low), "")


def write_gwml2(bore: Bore) -> bytes:
    """Return the XML of one bore.

    Raises
    ------
    BadInput
        The bore has no place: the standard cannot do without one.
    """
    if bore.latitude is None or bore.longitude is None:
        raise BadInput("location", None, "is missing, and GroundWaterML cannot do without", "a spot with latitude and longitude")
    key = "bore." + re.sub(r"[^A-Za-z0-9_.-]", "_", bore.id)
    root = ET.Element(tag("gwml2w:GW_Well"), {tag("gml:id"): key, tag("xsi:schemaLocation"): SCHEMAS["gwml2w"]})
    child(root, "gml:identifier", IDENTIFIER + bore.id, codeSpace="urn:borewright:bore")
    if bore.name:
        child(root, "gml:name", bore.name)
    if bore.reference:
        child(root, "gml:name", bore.reference, codeSpace="urn:borewright:reference")
    _unknown(root, "sam:sampledFeature")
    write_tests(root, bore, key)
    write_rows(root, bore, key)
    _shape(root, bore, key)
    if bore.depth is not None or bore.drilled_on or bore.driller or bore.method or bore.rows:
        _borehole(child(root, "gwml2w:gwWellConstruction"), bore, key)
    place = child(child(root, "gwml2w:gwWellLocation"), "gml:Point", gml__id=f"{key}.place", srsName="http://www.opengis.net/def/crs/EPSG/0/4326")
    child(place, "gml:pos", f"{exact(bore.latitude)} {exact(bore.longitude)}", srsDimension="2")
    reference(root, "gwml2w:gwWellPurpose", "supply", f"{GWML}/wellPurpose/supply")
    elevation = child(child(root, "gwml2w:gwWellReferenceElevation"), "gwml2w:Elevation")
    if bore.elevation is not None:
        child(elevation, "gwml2w:elevation", exact(bore.elevation), srsName="http://www.opengis.net/def/crs/EPSG/0/5714", srsDimension="1")
    reference(elevation, "gwml2w:elevationType", "origin elevation (ground)", ORIGIN_ELEVATION)
    static = [r for r in bore.table("levels") if r["state"] == "static"]
    for n, row in enumerate(static, 1):
        made = observation(child(root, "gwml2w:gwWellStaticWaterDepth"), f"{key}.static.{n}", at=row["at"], procedure="dip meter", feature=f"#{key}",
                           observed=f"{PROPERTY}/staticGroundwaterLevel", observed_title="depth to water below ground, static")
        quantity(made, "om:result", row["depth_to_water"], "m")
    state = "sealed" if bore.table("sealed") else {"water": "new", "no water": "inactive"}.get(bore.status)
    if state:
        reference(root, "gwml2w:gwWellStatus", bore.stopped_reason or state, f"{GWML}/status/{state}")
    if bore.depth is not None:
        quantity(root, "gwml2w:gwWellTotalLength", bore.depth, "m")
    if bore.use:
        reference(root, "gwml2w:gwWellWaterUse", bore.use, f"{GWML}/wellUse/{_USE.get(bore.use, 'Other')}")
    if bore.yield_ is not None:
        last = max(enumerate(bore.table("flows")), key=lambda p: (p[1]["depth"], p[0]))[1]
        made = observation(child(root, "gwml2w:gwWellYield"), f"{key}.yield", at=last["at"], procedure=last["method"], feature=f"#{key}",
                           observed=f"{PROPERTY}/waterWellYield", observed_title="yield at the collar")
        quantity(made, "om:result", last["flow"], "L/s", 3)
    if bore.table("intervals"):
        _log(root, bore, key)
    if bore.table("strikes"):
        _strikes(root, bore, key)
    return xml_bytes(root, {p: NS[p] for p in NS if p != "wml2"})


def _unknown(parent: ET.Element, name: str) -> None:
    child(parent, name, xsi__nil="true", nilReason="unknown")


def _shape(root: ET.Element, bore: Bore, key: str) -> None:
    """Write the hole as a vertical line, or as a point where height or depth is not known: no height is made up."""
    shape = child(root, "sams:shape")
    flat = f"{exact(bore.latitude)} {exact(bore.longitude)}"
    if bore.elevation is None or bore.depth is None:
        point = child(shape, "gml:Point", gml__id=f"{key}.shape", srsName="http://www.opengis.net/def/crs/EPSG/0/4326")
        child(point, "gml:pos", flat, srsDimension="2")
        return
    # EPSG 9705 is WGS 84 with height above mean sea level: what a driller's elevation is, and no height above the ellipsoid.
    curve = child(shape, "gml:Curve", gml__id=f"{key}.shape", srsName="http://www.opengis.net/def/crs/EPSG/0/9705", srsDimension="3")
    line = child(child(curve, "gml:segments"), "gml:LineStringSegment")
    child(line, "gml:posList", f"{flat} {exact(bore.elevation)} {flat} {exact(bore.elevation - bore.depth)}")


def _borehole(parent: ET.Element, bore: Bore, key: str) -> None:
    hole = child(parent, "gwml2wc:Borehole", gml__id=f"{key}.hole")
    _unknown(hole, "sam:sampledFeature")
    child(hole, "sams:shape", xlink__href=f"#{key}.shape")
    if bore.drilled_on:
        child(hole, "gwml2wc:bholeDateOfDrilling", bore.drilled_on)
    if bore.driller:
        party = child(child(hole, "gwml2wc:bholeDriller"), "gmd:CI_ResponsibleParty")
        child(child(party, "gmd:individualName"), "gco:CharacterString", bore.driller)
        lists = "http://standards.iso.org/ittf/PubliclyAvailableStandards/ISO_19139_Schemas/resources/codelist/gmxCodelists.xml#CI_RoleCode"
        child(child(party, "gmd:role"), "gmd:CI_RoleCode", "resourceProvider", codeList=lists, codeListValue="resourceProvider")
    if bore.method:
        reference(hole, "gwml2wc:bholeDrillingMethod", bore.method, _code(bore.method, _METHOD, "procedure"))
    if bore.table("bits"):
        quantity(hole, "gwml2wc:bholeNominalDiameter", bore.table("bits")[-1]["diameter"], "mm", 3)
    reference(hole, "gwml2wc:bholeStartPoint", "natural ground surface")
    casing = bore.table("casing")
    _parts(hole, "Casing", "casingElement", "CasingComponent", [r for r in casing if not r["slotted"]], key, _casing)
    _parts(hole, "Screen", "screenElement", "ScreenComponent", [r for r in casing if r["slotted"]], key, _screen)
    around = bore.table("annulus")
    _parts(hole, "Filtration", "filterElement", "FiltrationComponent", [r for r in around if r["what"] == "pack"], key, _pack)
    _parts(hole, "Sealing", "sealingElement", "SealingComponent", [r for r in around if r["what"] != "pack"], key, _seal)
    child(hole, "gwml2wc:bholeHeadworks", xsi__nil="true", nilReason="missing")


def _parts(hole: ET.Element, group: str, element: str, component: str, rows: list[dict], key: str, fill) -> None:
    if not rows:
        return
    made = child(child(hole, "gwml2wc:bholeConstruction"), f"gwml2wc:{group}", gml__id=f"{key}.{group.lower()}")
    for n, row in enumerate(rows, 1):
        part = child(child(made, f"gwml2wc:{element}"), f"gwml2wc:{component}", gml__id=f"{key}.{group.lower()}.{n}")
        name = row.get("string") or row.get("what")
        child(part, "gml:name", name)
        quantity(part, "gwml2wc:from", row["from_depth"], "m")
        quantity(part, "gwml2wc:to", row["to_depth"], "m")
        fill(part, row)


def _casing(part: ET.Element, row: dict) -> None:
    if row["material"]:
        reference(part, "gwml2wc:casingMaterial", row["material"], _code(row["material"], _CASING, "casingMaterial"))
    quantity(part, "gwml2wc:casingExternalDiameter", row["outside_diameter"], "mm", 3)
    if row["wall"] is not None:
        quantity(part, "gwml2wc:casingWallThickness", row["wall"], "mm", 3)


def _screen(part: ET.Element, row: dict) -> None:
    reference(part, "gwml2wc:screenForm", "slotted", f"{GWML}/screenForm/slotted")
    if row["aperture"] is not None:
        quantity(part, "gwml2wc:screenHoleWidth", row["aperture"], "mm", 3)
    if row["material"]:
        reference(part, "gwml2wc:screenMaterial", row["material"], _code(row["material"], _CASING, "casingMaterial"))
    quantity(part, "gwml2wc:screenExternalDiameter", row["outside_diameter"], "mm", 3)
    if row["wall"] is not None:
        quantity(part, "gwml2wc:screenWallThickness", row["wall"], "mm", 3)


def _pack(part: ET.Element, row: dict) -> None:
    reference(part, "gwml2wc:filterMaterial", row["material"])


def _seal(part: ET.Element, row: dict) -> None:
    reference(part, "gwml2wc:sealingMaterial", row["material"], _code(row["material"], _SEAL, "sealing"))


def _coverage(root: ET.Element, identity: str, *, at: str | None, observed: str, title: str, key: str) -> ET.Element:
    log = observation(child(root, "gwml2w:gwWellGeology"), identity, at=at, procedure="driller's log", observed=observed, observed_title=title,
                      feature=f"#{key}", element="gwml2w:GW_GeologyLog")
    return child(child(log, "om:result"), "gwml2w:GW_GeologyLogCoverage", gml__id=f"{identity}.values")


def _record(coverage: ET.Element, top: float, bottom: float) -> ET.Element:
    value = child(child(coverage, "gwml2w:element"), "gwml2w:LogValue")
    quantity(value, "gwml2w:fromDepth", top, "m")
    quantity(value, "gwml2w:toDepth", bottom, "m")
    return child(child(value, "gwml2w:value"), "swe:DataRecord")


def _text(record: ET.Element, name: str, value: str) -> None:
    if value:
        child(child(child(record, "swe:field", name=name), "swe:Text"), "swe:value", value)


def _log(root: ET.Element, bore: Bore, key: str) -> None:
    rows = bore.table("intervals")
    coverage = _coverage(root, f"{key}.log", at=rows[0]["at"], observed=f"{PROPERTY}/earthMaterial", title="lithology", key=key)
    for row in rows:
        record = _record(coverage, row["from_depth"], row["to_depth"])
        if row["ground_class"] in CGI:
            category = child(child(record, "swe:field", name="lithology"), "swe:Category", definition=f"{PROPERTY}/earthMaterial")
            child(category, "swe:codeSpace", xlink__href="http://resource.geosciml.org/classifierscheme/cgi/201211/simplelithology")
            child(category, "swe:value", LITHOLOGY + row["ground_class"])
        # A record must hold a field, and the driller's own words are the one that matters.
        child(child(child(record, "swe:field", name="description"), "swe:Text"), "swe:value", row["words"])
        for name in ("ground_class", "colour", "grain", "strength", "weathering"):
            _text(record, name, row[name])


def _strikes(root: ET.Element, bore: Bore, key: str) -> None:
    rows = bore.table("strikes")
    coverage = _coverage(root, f"{key}.strikes", at=rows[0]["at"], observed=STRIKE, title="water strikes", key=key)
    for row, gain in zip(rows, bore.strike_yields(), strict=True):
        record = _record(coverage, row["depth"], row["depth"])
        child(child(child(record, "swe:field", name="event"), "swe:Text"), "swe:value", "water struck")
        if gain is not None:
            inner = child(child(record, "swe:field", name="yield"), "swe:Quantity")
            child(inner, "swe:uom", code="L/s")
            child(inner, "swe:value", exact(gain, 3))
        _text(record, "note", row["note"])
