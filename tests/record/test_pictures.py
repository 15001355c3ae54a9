"""Photos as files: what the tags say is read, and a copy for others holds the picture and nothing else. Made here; no real place, camera or person."""

from __future__ import annotations

import struct
import zlib
from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.record.pictures import picture_facts, without_private_data
from tests.made_photos import LATITUDE, LONGITUDE, PRIVATE, made_jpeg, made_png


def test_where_when_and_with_what_a_photo_was_taken_is_read():
    facts = picture_facts(made_jpeg())
    assert (facts.media_type, facts.width, facts.height) == ("image/jpeg", 16, 8)
    assert facts.latitude == pytest.approx(LATITUDE, abs=1e-6) and facts.longitude == pytest.approx(LONGITUDE, abs=1e-6)
    assert facts.taken == datetime(2026, 3, 2, 10, 41, 7, tzinfo=timezone(timedelta(hours=10)))
    assert facts.device == "Inventcam Model Q9 SN-0042" and facts.owner == "R. Invented" and facts.orientation == 6


@pytest.mark.parametrize("data", [made_jpeg(), made_png()], ids=["jpeg", "png"])
def test_the_copy_for_others_has_none_of_it_and_the_same_picture(data):
    clean = without_private_data(data)
    for private in PRIVATE:
        assert private in data and private not in clean
    facts = picture_facts(clean)
    whole = picture_facts(data)
    assert (facts.width, facts.height, facts.orientation) == (whole.width, whole.height, whole.orientation if data[:2] == b"\xff\xd8" else 1)
    assert (facts.taken, facts.latitude, facts.longitude, facts.device, facts.owner) == (None, None, None, "", "")
    assert without_private_data(clean) == clean


def test_the_pixels_of_the_copy_are_those_of_the_photo():
    image = pytest.importorskip("PIL.Image", reason="no independent decoder is here")
    import io

    for data in (made_jpeg(), made_png()):
        one, other = image.open(io.BytesIO(data)), image.open(io.BytesIO(without_private_data(data)))
        assert one.tobytes() == other.tobytes()
        assert not other.getexif().get_ifd(0x8825) and set(other.getexif()) <= {0x0112}
    assert image.open(io.BytesIO(made_jpeg())).getexif().get_ifd(0x8825), "the independent reader finds the position in the photo itself"


def test_a_webp_loses_its_tags_and_its_flags():
    body = b"VP8L" + struct.pack("<I", 5) + b"\x2f" + struct.pack("<I", 15 | 7 << 14) + b"\0"
    extended = b"VP8X" + struct.pack("<I", 10) + bytes([0b00101100]) + b"\0\0\0" + (15).to_bytes(3, "little") + (7).to_bytes(3, "little")
    tags = b"EXIF" + struct.pack("<I", len(b"MM\0*private!")) + b"MM\0*private!"
    inside = b"WEBP" + extended + body + tags
    clean = without_private_data(b"RIFF" + struct.pack("<I", len(inside)) + inside)
    assert b"private" not in clean and clean[20] == 0 and (picture_facts(clean).width, picture_facts(clean).height) == (16, 8)
    assert struct.unpack_from("<I", clean, 4)[0] == len(clean) - 8


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"RIFF\0\0\0\0WEBP", b"not a picture"])
def test_what_is_no_whole_picture_is_refused(data):
    for read in (picture_facts, without_private_data):
        with pytest.raises(BadInput, match="photo"):
            read(data)


@given(st.integers(0, 10_000), st.binary(max_size=12))
@settings(max_examples=400, deadline=None, derandomize=True)
def test_a_damaged_file_is_read_or_refused_and_never_tells_more(at, junk):
    data = made_jpeg()
    at %= len(data)
    broken = data[:at] + junk + data[at + len(junk):]
    try:
        clean = without_private_data(broken)
    except BadInput:
        return
    facts = picture_facts(clean)
    assert facts.latitude is None and facts.taken is None and facts.device == "" and facts.owner == ""


@given(st.binary(max_size=300))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_tags_that_lie_say_nothing_and_break_nothing(block):
    data = made_jpeg(tags=b"MM\0*" + struct.pack(">I", 8) + block)
    facts = picture_facts(data)
    assert facts.latitude is None or -90 <= facts.latitude <= 90
    assert 1 <= facts.orientation <= 8


def test_a_png_chunk_that_runs_past_the_end_is_refused():
    data = made_png()
    cut = data[:-40]
    with pytest.raises(BadInput):
        picture_facts(cut)
    assert zlib.crc32(b"IEND") == struct.unpack(">I", data[-4:])[0]
