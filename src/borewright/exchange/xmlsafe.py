"""XML read without trust: no document type, so no entity; bounded size, depth and number of elements. And the little that writing needs."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from xml.parsers import expat

from borewright.errors import BadInput

__all__ = ["clean", "parse_xml", "xml_bytes"]

MOST_BYTES = 50 * 2**20
MOST_DEEP = 100
MOST_ELEMENTS = 1_000_000  # with their attributes
LONGEST_TAG = 2**20  # bytes of a tag, or of a comment: a tag is held whole before it is told
# What XML 1.0 (section 2.2) has no place for.
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """Return a text without the characters that XML cannot hold, each replaced by U+FFFD."""
    return _FORBIDDEN.sub("\ufffd", text)


def parse_xml(data: bytes) -> ET.Element:
    """Return the root of a document, names as {namespace}local.

    Raises
    ------
    BadInput
        Not well formed; a document type declaration; too large, too deep, too many elements, a tag too long.
    """
    if len(data) > MOST_BYTES:
        raise BadInput("file", len(data), "is too large", f"at most {MOST_BYTES} bytes")
    builder = ET.TreeBuilder()
    parser = expat.ParserCreate(namespace_separator="}")
    depth = count = 0

    def refuse(*_: object) -> None:
        raise BadInput("file", "DOCTYPE", "declares a document type", "plain XML; entities are not read")

    def name(raw: str) -> str:
        return "{" + raw if "}" in raw else raw

    def start(tag: str, attributes: dict[str, str]) -> None:
        nonlocal depth, count
        depth += 1
        count += 1 + len(attributes)
        if depth > MOST_DEEP:
            raise BadInput("file", depth, "is nested too deep", f"at most {MOST_DEEP} elements deep")
        if count > MOST_ELEMENTS:
            raise BadInput("file", count, "has too many elements", f"at most {MOST_ELEMENTS}, attributes counted")
        builder.start(name(tag), {name(k): v for k, v in attributes.items()})

    def end(tag: str) -> None:
        nonlocal depth
        depth -= 1
        builder.end(name(tag))

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, builder.data
    parser.buffer_text = True
    try:
        for place in range(0, len(data), LONGEST_TAG):
            parser.Parse(data[place:place + LONGEST_TAG], False)
            if place - max(parser.CurrentByteIndex, 0) > LONGEST_TAG:
                raise BadInput("file", place, "holds a tag that is too long", f"at most {LONGEST_TAG} bytes")
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise BadInput("file", str(error), "is not well-formed XML", "XML in UTF-8") from None
    except (LookupError, ValueError) as error:  # an encoding that no one knows
        if isinstance(error, BadInput):
            raise
        raise BadInput("file", str(error), "is in an encoding that is not known", "XML in UTF-8") from None
    return builder.close()


def xml_bytes(root: ET.Element, prefixes: dict[str, str]) -> bytes:
    """Return a document, indented, with our own prefixes."""
    for prefix, namespace in prefixes.items():
        ET.register_namespace(prefix, namespace)
    ET.indent(root, " ")
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode").encode() + b"\n"
