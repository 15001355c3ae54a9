"""Photos as files: where and when one was taken, and a copy of it that says neither, nor by whom or with what.

The file itself is kept whole as evidence. What leaves the firm is `without_private_data`: the same picture, bit for bit, in a file that holds nothing
else: no position, no clock, no device, no owner, no comment, no picture hidden behind the picture. Only which way up it stands is kept.
JPEG is ITU-T T.81 annex B, the tags Exif 2.32 (JEITA CP-3451) over TIFF 6.0, PNG ISO/IEC 15948, WebP RFC 9649 (all from memory).
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from typing import Any

from borewright.errors import BadInput

__all__ = ["PictureFacts", "picture_facts", "without_private_data"]

_JPEG, _PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
_PNG_KEPT = {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"bKGD"}
_WEBP_KEPT = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF"}
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8}
MOST_TAGS = 500


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """What a photo's file says of itself: kind and size in pixels; when [with offset where it is told], where [deg], which way up (1 to 8), with what, by whom."""

    media_type: str
    width: int
    height: int
    taken: datetime | None = None
    latitude: float | None = None
    longitude: float | None = None
    orientation: int = 1
    device: str = ""
    owner: str = ""


def picture_facts(data: bytes) -> PictureFacts:
    """Return what a JPEG, PNG or WebP file says of itself; tags that cannot be read say nothing. Raises BadInput for what is no such picture."""
    kind, width, height, _, tags = _opened(data)
    facts = _tags(tags) if tags else {}
    return PictureFacts(kind, width, height, **facts)


def without_private_data(data: bytes) -> bytes:
    """Return the same picture in a file with nothing else in it but which way up it stands. Raises BadInput for what is no whole picture."""
    kind, _, _, parts, tags = _opened(data)
    orientation = _tags(tags).get("orientation", 1) if tags else 1
    if kind == "image/jpeg":
        turned = _upright(orientation)
        return b"\xff\xd8" + (b"\xff\xe1" + struct.pack(">H", len(turned) + 2) + turned if turned else b"") + b"".join(parts)
    if kind == "image/png":
        return _PNG + b"".join(parts)
    body = b"WEBP" + b"".join(parts)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _bad(problem: str) -> BadInput:
    return BadInput("photo", None, problem, "a whole JPEG, PNG or WebP file")


def _opened(data: bytes) -> tuple[str, int, int, list[bytes], bytes]:
    """Return (media type, width, height, the parts that make the picture, the TIFF block of its tags)."""
    try:
        if data.startswith(_JPEG):
            return ("image/jpeg", *_jpeg(data))
        if data.startswith(_PNG):
            return ("image/png", *_png(data))
        if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            return ("image/webp", *_webp(data))
    except (IndexError, struct.error):
        raise _bad("breaks off") from None
    raise _bad("is not a picture that can be read")


def _jpeg(data: bytes) -> tuple[int, int, list[bytes], bytes]:
    at, parts, tags, size = 2, [], b"", None
    while True:
        if data[at] != 0xFF:
            raise _bad("is damaged")
        marker = data[at + 1]
        if marker == 0xFF:  # fill
            at += 1
            continue
        if marker == 0xD9:
            parts.append(b"\xff\xd9")
            break  # what follows the end is another file
        length = struct.unpack_from(">H", data, at + 2)[0]
        end = at + 2 + length
        if length < 2 or end > len(data):
            raise _bad("breaks off")
        body = data[at + 4:end]
        if marker in _FRAMES:
            size = struct.unpack_from(">HH", body, 1)
        if marker == 0xE1 and body.startswith(b"Exif\0\0") and not tags:
            tags = body[6:]
        keep = not (0xE0 <= marker <= 0xEF or marker == 0xFE)
        if marker == 0xE0 and body.startswith(b"JFIF\0"):
            parts.append(b"\xff\xe0\x00\x10" + body[:12] + b"\0\0")  # without its thumbnail
        elif marker == 0xEE and body.startswith(b"Adobe"):
            keep = True  # how the colours are to be read
        if keep:
            parts.append(data[at:end])
        at = end
        if marker == 0xDA:
            start = at
            while True:
                at = data.find(b"\xff", at)
                if at < 0:
                    raise _bad("breaks off")
                if data[at + 1] == 0 or 0xD0 <= data[at + 1] <= 0xD7:
                    at += 2
                    continue
                break
            parts.append(data[start:at])
    if size is None or not all(size):
        raise _bad("has no size")
    return size[1], size[0], parts, tags


def _png(data: bytes) -> tuple[int, int, list[bytes], bytes]:
    at, parts, tags = 8, [], b""
    width, height = struct.unpack_from(">II", data, 16)
    while True:
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            raise _bad("breaks off")
        if name == b"eXIf":
            tags = data[at + 8:end - 4]
        if name in _PNG_KEPT:
            parts.append(data[at:end])
        at = end
        if name == b"IEND":
            break
    if not width or not height:
        raise _bad("has no size")
    return width, height, parts, tags


def _webp(data: bytes) -> tuple[int, int, list[bytes], bytes]:
    at, parts, tags, size = 12, [], b"", (0, 0)
    last = min(len(data), 8 + struct.unpack_from("<I", data, 4)[0])
    while at + 8 <= last:
        name, length = struct.unpack_from("<4sI", data, at)
        end = at + 8 + length
        if end > len(data):
            raise _bad("breaks off")
        body = data[at + 8:end]
        if name == b"EXIF":
            tags = body.removeprefix(b"Exif\0\0")
        elif name == b"VP8X":
            size = (1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little"))
            body = bytes([body[0] & 0b00010010]) + body[1:]  # transparency and movement; no colour profile, tags or text follow
        elif name == b"VP8 " and size == (0, 0):
            size = tuple(v & 0x3FFF for v in struct.unpack_from("<HH", body, 6))
        elif name == b"VP8L" and size == (0, 0):
            bits = struct.unpack_from("<I", body, 1)[0]
            size = (1 + (bits & 0x3FFF), 1 + ((bits >> 14) & 0x3FFF))
        if name in _WEBP_KEPT:
            parts.append(struct.pack("<4sI", name, length) + body + b"\0" * (length & 1))
        at = end + (length & 1)
    if not all(size) or not parts:
        raise _bad("has no size")
    return size[0], size[1], parts, tags


def _upright(orientation: int) -> bytes:
    """Return the smallest block of tags that says which way up a picture stands, or nothing where it stands upright."""
    if orientation == 1:
        return b""
    return b"Exif\0\0" + b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, orientation, 0, 0)


def _tags(block: bytes) -> dict[str, Any]:
    """Return what the tags say as the arguments of PictureFacts; of a block that lies, only what can be read."""
    order = {b"II": "<", b"MM": ">"}.get(block[:2])
    if order is None or len(block) < 8:
        return {}
    first = _directory(block, struct.unpack_from(order + "I", block, 4)[0], order)
    exif = _directory(block, _whole(first.get(0x8769)), order)
    place = _directory(block, _whole(first.get(0x8825)), order)
    said: dict[str, Any] = {}
    orientation = _whole(first.get(0x0112))
    if 1 <= orientation <= 8:
        said["orientation"] = orientation
    said["device"] = " ".join(p for p in (_text(first.get(0x010F)), _text(first.get(0x0110)), _text(exif.get(0xA431))) if p)
    said["owner"] = _text(exif.get(0xA430)) or _text(first.get(0x013B))
    said["taken"] = _moment(_text(exif.get(0x9003)) or _text(first.get(0x0132)), _text(exif.get(0x9011)) or _text(exif.get(0x9010)))
    latitude, longitude = _degrees(place.get(2), _text(place.get(1)), "S", 90.0), _degrees(place.get(4), _text(place.get(3)), "W", 180.0)
    if latitude is not None and longitude is not None:
        said["latitude"], said["longitude"] = latitude, longitude
    return said


def _directory(block: bytes, at: int, order: str) -> dict[int, Any]:
    """Return {tag: value} of one directory: bytes for text, a tuple of numbers else."""
    found: dict[int, Any] = {}
    if not 8 <= at <= len(block) - 2:
        return found
    for n in range(min(struct.unpack_from(order + "H", block, at)[0], MOST_TAGS)):
        entry = at + 2 + 12 * n
        if entry + 12 > len(block):
            break
        tag, kind, count = struct.unpack_from(order + "HHI", block, entry)
        size = _SIZES.get(kind, 0) * count
        if size == 0 or size > 65536:
            continue
        where = entry + 8 if size <= 4 else struct.unpack_from(order + "I", block, entry + 8)[0]
        raw = block[where:where + size]
        if len(raw) < size:
            continue
        if kind in (1, 2, 7):
            found[tag] = raw
        elif kind in (5, 10):
            pairs = struct.unpack(order + ("I" if kind == 5 else "i") * 2 * count, raw)
            found[tag] = tuple(a / b if b else math.nan for a, b in zip(pairs[::2], pairs[1::2], strict=True))
        else:
            found[tag] = struct.unpack(order + {3: "H", 4: "I", 9: "i"}[kind] * count, raw)
    return found


def _whole(value: Any) -> int:
    return int(value[0]) if isinstance(value, tuple) and value and math.isfinite(value[0]) else 0


def _text(value: Any) -> str:
    if not isinstance(value, bytes):
        return ""
    text = value.split(b"\0")[0].decode("utf-8", errors="replace").strip()
    return "".join(c for c in text if c.isprintable())[:200]


def _moment(text: str, offset: str) -> datetime | None:
    try:
        found = datetime.strptime(text, "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    if len(offset) == 6 and offset[0] in "+-" and offset[3] == ":" and (offset[1:3] + offset[4:]).isdigit():
        minutes = int(offset[1:3]) * 60 + int(offset[4:])
        if minutes < 24 * 60:
            return found.replace(tzinfo=timezone((-1 if offset[0] == "-" else 1) * timedelta(minutes=minutes)))
    return found


def _degrees(value: Any, side: str, negative: str, most: float) -> float | None:
    if not isinstance(value, tuple) or len(value) != 3 or not side or not all(math.isfinite(v) for v in value):
        return None
    degrees = value[0] + value[1] / 60 + value[2] / 3600
    return (-degrees if side == negative else degrees) if 0 <= degrees <= most else None
