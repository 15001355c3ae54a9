"""Photos made for the tests: real pictures of a few pixels with tags that name an invented place, device and person."""

from __future__ import annotations

import base64
import struct
import zlib

LATITUDE, LONGITUDE = -(38 + 28 / 60 + 12.72 / 3600), -(18 + 13 / 60 + 12.36 / 3600)
PRIVATE = (b"Inventcam", b"R. Invented", b"SN-0042", b"2026:03:02 10:41:07")


def _directory(order: list[tuple[int, int, int, bytes]], at: int, after: bytes = b"") -> bytes:
    """Return an IFD that begins at an offset of the block, its longer values behind it."""
    entries, values = b"", b""
    base = at + 2 + 12 * len(order) + 4
    for tag, kind, count, raw in sorted(order):
        if len(raw) <= 4:
            entries += struct.pack(">HHI", tag, kind, count) + raw.ljust(4, b"\0")
        else:
            entries += struct.pack(">HHII", tag, kind, count, base + len(values))
            values += raw
    return struct.pack(">H", len(order)) + entries + b"\0\0\0\0" + values


def _text(text: str) -> tuple[int, int, bytes]:
    raw = text.encode() + b"\0"
    return 2, len(raw), raw if len(raw) > 4 else raw.ljust(5, b"\0")


def _thirds(degrees: int, minutes: int, hundredths: int) -> tuple[int, int, bytes]:
    return 5, 3, struct.pack(">6I", degrees, 1, minutes, 1, hundredths, 100)


def tiff_tags() -> bytes:
    """Return a TIFF block with position, time, device, owner and a picture that stands on its side."""
    def built(exif_at: int, place_at: int) -> tuple[bytes, bytes, bytes]:
        first = _directory([
            (0x010F, *_text("Inventcam")), (0x0110, *_text("Model Q9")), (0x0112, 3, 1, struct.pack(">H", 6)), (0x013B, *_text("R. Invented")),
            (0x8769, 4, 1, struct.pack(">I", exif_at)), (0x8825, 4, 1, struct.pack(">I", place_at)),
        ], 8)
        exif = _directory([(0x9003, *_text("2026:03:02 10:41:07")), (0x9011, *_text("+10:00")), (0xA430, *_text("R. Invented")), (0xA431, *_text("SN-0042"))], exif_at)
        place = _directory([(1, 2, 2, b"S\0"), (2, *_thirds(38, 28, 1272)), (3, 2, 2, b"W\0"), (4, *_thirds(18, 13, 1236))], place_at)
        return first, exif, place

    first, exif, _ = built(0, 0)
    exif_at = 8 + len(first)
    place_at = exif_at + len(exif)
    return b"MM\0*" + struct.pack(">I", 8) + b"".join(built(exif_at, place_at))


# A baseline JPEG of 16 by 8 pixels in grey, with no tags.
_PLAIN = base64.b64decode(
    "/9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAAYEBQYFBAYGBQYHBwYIChAKCgkJChQODwwQFxQYGBcUFhYaHSUfGhsjHBYWICwgIyYnKSopGR8tMC0oMCUoKSj/wAALCAAIABABAREA/8QAHwAAAQUBAQ"
    "EBAQEAAAAAAAAAAAECAwQFBgcICQoL/8QAtRAAAgEDAwIEAwUFBAQAAAF9AQIDAAQRBRIhMUEGE1FhByJxFDKBkaEII0KxwRVS0fAkM2JyggkKFhcYGRolJicoKSo0NTY3ODk6Q0RFRkdISUpTVFVW"
    "V1hZWmNkZWZnaGlqc3R1dnd4eXqDhIWGh4iJipKTlJWWl5iZmqKjpKWmp6ipqrKztLW2t7i5usLDxMXGx8jJytLT1NXW19jZ2uHi4+Tl5ufo6erx8vP09fb3+Pn6/9oACAEBAAA/APO/CPhP7n7v9K"
    "9r8I+E/ufu/wBK/9k="
)


def made_jpeg(*, tags: bytes | None = None) -> bytes:
    """Return a JPEG with tags, a text about it, a comment, and another file behind its end."""
    block = b"Exif\0\0" + (tiff_tags() if tags is None else tags)
    about = b"http://ns.adobe.com/xap/1.0/\0<x>R. Invented 2026:03:02 10:41:07</x>"
    segments = b"".join(mark + struct.pack(">H", len(body) + 2) + body for mark, body in ((b"\xff\xe1", block), (b"\xff\xe1", about), (b"\xff\xfe", b"Inventcam SN-0042")))
    return _PLAIN[:2] + segments + _PLAIN[2:] + b"hidden behind: R. Invented"


def made_png() -> bytes:
    """Return a PNG of 16 by 8 pixels with tags, text and a time in it."""
    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    rows = b"".join(b"\0" + bytes(range(row, row + 16)) for row in range(8))
    return b"\x89PNG\r\n\x1a\n" + b"".join((
        chunk(b"IHDR", struct.pack(">IIBBBBB", 16, 8, 8, 0, 0, 0, 0)), chunk(b"tEXt", b"Author\0R. Invented"), chunk(b"eXIf", tiff_tags()),
        chunk(b"tIME", struct.pack(">HBBBBB", 2026, 3, 2, 10, 41, 7)), chunk(b"IDAT", zlib.compress(rows)), chunk(b"IEND", b""),
    ))
