"""Names and small parts that the documents of the Open Geospatial Consortium share."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from decimal import Decimal

from borewright.errors import BadInput
from borewright.exchange.xmlsafe import clean

__all__ = ["NS", "SCHEMAS", "child", "exact", "length_of", "number_of", "observation", "quantity", "reference", "tag"]

NS = {
    "gwml2w": "http://www.opengis.net/gwml-well/2.2", "gwml2wc": "http://www.opengis.net/gwml-wellconstruction/2.2",
    "gml": "http://www.opengis.net/gml/3.2", "om": "http://www.opengis.net/om/2.0", "sam": "http://www.opengis.net/sampling/2.0",
    "sams": "http://www.opengis.net/samplingSpatial/2.0", "swe": "http://www.opengis.net/swe/2.0", "gmd": "http://www.isotc211.org/2005/gmd",
    "gco": "http://www.isotc211.org/2005/gco", "xlink": "http://www.w3.org/1999/xlink", "xsi": "http://www.w3.org/2001/XMLSchema-instance",
    "wml2": "http://www.opengis.net/waterml/2.0",
}
SCHEMAS = {
    "gwml2w": "http://www.opengis.net/gwml-well/2.2 http://schemas.opengis.net/gwml/2.2/gwml2-well.xsd",
    "wml2": "http://www.opengis.net/waterml/2.0 http://schemas.opengis.net/waterml/2.0/waterml2.xsd",
}
GWML = "http://www.opengis.net/def/gwml"
# UCUM code of a length -> (power of ten, factor) to metres; the codes seen with bores. Powers are taken off exactly.
LENGTHS: dict[str, tuple[int, float]] = {
    "m": (0, 1.0), "mm": (-3, 1.0), "cm": (-2, 1.0), "km": (3, 1.0), "[ft_i]": (0, 0.3048), "[in_i]": (0, 0.0254), "ft": (0, 0.3048), "in": (0, 0.0254),
}
PROPERTY = f"{GWML}/2.0/observedProperty"


def number_of(text: str | None, where: str) -> Decimal:
    """Return a finite number, exactly as it is written."""
    try:
        value = Decimal((text or "").strip())
    except ArithmeticError:
        raise BadInput(where, text, "is not a number", "a number, with a point") from None
    if not value.is_finite() or not math.isfinite(float(value)):
        raise BadInput(where, text, "is not a finite number", "a number, with a point")
    return value


def length_of(text: str | None, unit: str, where: str) -> float:
    """Return a length in metres; raise BadInput for what is no number or no known unit."""
    if unit not in LENGTHS:
        raise BadInput(where, unit, "is not a known unit of length", "one of " + ", ".join(LENGTHS))
    power, factor = LENGTHS[unit]
    return float(number_of(text, where).scaleb(power)) * factor


def tag(name: str) -> str:
    """Return {namespace}local for prefix:local."""
    prefix, _, local = name.partition(":")
    return f"{{{NS[prefix]}}}{local}"


def child(parent: ET.Element, element: str, text: str | None = None, /, **attributes: str) -> ET.Element:
    """Add an element; attribute names write the colon as two underscores."""
    made = ET.SubElement(parent, tag(element), {tag(k.replace("__", ":")) if "__" in k else k: clean(v) for k, v in attributes.items()})
    if text is not None:
        made.text = clean(text)
    return made


def reference(parent: ET.Element, name: str, title: str, href: str = "") -> ET.Element:
    """Add a reference: the words always, the code where there is one."""
    link = {"xlink__href": href} if href else {}
    return child(parent, name, **link, xlink__title=title)


def exact(value: float, power: int = 0) -> str:
    """Return a number times ten to a power, exactly as its shortest decimal says."""
    return f"{Decimal(repr(float(value))).scaleb(power):f}"


def quantity(parent: ET.Element, name: str, value: float, unit: str, power: int = 0) -> ET.Element:
    """Add a property that holds a swe:Quantity in a UCUM unit, ten to `power` of them to the SI unit."""
    made = child(parent, name)
    inner = child(made, "swe:Quantity")
    child(inner, "swe:uom", code=unit)
    child(inner, "swe:value", exact(value, power))
    return made


def observation(
    parent: ET.Element, identity: str, *, at: str | None, procedure: str, procedure_href: str = "", observed: str, observed_title: str, feature: str,
    element: str = "om:OM_Observation", between: Callable[[ET.Element], None] | None = None,
) -> ET.Element:
    """Add an observation up to its feature of interest, in the order the schema asks; its result is still to come.

    `between` adds what stands after the procedure: the parameters.
    """
    made = child(parent, element, gml__id=identity)
    if at:
        instant = child(child(made, "om:phenomenonTime"), "gml:TimeInstant", gml__id=f"{identity}.t")
        child(instant, "gml:timePosition", at)
        child(made, "om:resultTime", xlink__href=f"#{identity}.t")
    else:
        child(made, "om:phenomenonTime", nilReason="unknown")
        child(made, "om:resultTime", nilReason="unknown")
    reference(made, "om:procedure", procedure, procedure_href)
    if between:
        between(made)
    reference(made, "om:observedProperty", observed_title, observed)
    child(made, "om:featureOfInterest", xlink__href=feature)
    return made
