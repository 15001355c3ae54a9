"""Photos from the rig page in headless Chromium: the time and place that a photo's file carries go with it, large or small, and stay off papers."""

from __future__ import annotations

import io
from datetime import datetime

import pytest

from borewright.record.pictures import picture_facts, without_private_data
from borewright.storage import open_job_book
from tests.web.test_rig_browser import chromium, phone, served  # noqa: F401  fixtures
from tests.web.waiting import expect

pytestmark = pytest.mark.browser


def picture(size=(60, 40), *, orientation: int = 1, noise: bool = False, place: bool = True, offset: str | None = "+10:00") -> bytes:
    """Return a JPEG written by Pillow, with an invented camera's time and place."""
    import numpy as np
    from PIL import Image

    pixels = np.random.default_rng(3).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8) if noise else np.full((size[1], size[0], 3), 120, np.uint8)
    image = Image.fromarray(pixels)
    tags = Image.Exif()
    tags[0x0112], tags[0x010F] = orientation, "Invented camera"
    about = tags.get_ifd(0x8769)
    about[0x9003] = "2026:03:02 14:05:06"
    if offset:
        about[0x9011] = offset
    if place:
        where = tags.get_ifd(0x8825)
        where[1], where[2], where[3], where[4] = "S", (38.0, 28.0, 12.0), "W", (18.0, 13.0, 30.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=tags, quality=95)
    return out.getvalue()


def _take(phone, label: str, data: bytes) -> None:  # noqa: F811
    phone.page.get_by_label(label, exact=True).set_input_files({"name": "chips.jpg", "mimeType": "image/jpeg", "buffer": data})
    phone.page.get_by_text("Photo taken").wait_for()


def test_a_large_photo_is_made_smaller_and_keeps_its_time_place_and_way_up(phone, served, quoted):  # noqa: F811
    given = picture((2400, 1800), orientation=6, noise=True)
    assert len(given) > 1_500_000
    phone.first_opening()
    phone.context.set_offline(True)
    phone.start_hole()
    phone.rod()
    phone.tap("Ground")
    phone.page.get_by_text("Colour, grain, strength, photo first").click()
    phone.tap("grey")
    _take(phone, "Photo of the chips", given)
    phone.tap("granite")
    phone.page.locator("ol.book").get_by_text("Photo Chips: granite, at 3 m, with its place").wait_for()
    phone.page.reload()  # the phone is restarted before there is coverage
    phone.wait_outbox("(6 not sent|Sending 6)")
    phone.context.set_offline(False)
    phone.wait_sent()
    with open_job_book(served.home) as book:
        hole = book.job(quoted[0].job).hole
        (fact,) = hole.photos
        assert hole.ground[0].body.colour == "grey" and fact.body.caption == "Chips: granite" and fact.body.depth == 3.0
        assert (fact.body.latitude, fact.body.longitude) == (pytest.approx(-38.47, abs=1e-6), pytest.approx(-18.225, abs=1e-6))
        assert fact.entry.at == datetime.fromisoformat("2026-03-02T14:05:06+10:00") and fact.entry.version == 3
        kept = book.attachment(fact.body.attachment).read_bytes()
    facts = picture_facts(kept)
    assert len(kept) < len(given) and (facts.width, facts.height) == (1200, 1600)  # turned upright, so the tag says upright
    assert facts.orientation == 1 and facts.device == "Invented camera" and facts.latitude == pytest.approx(-38.47, abs=1e-6)
    assert facts.taken == datetime.fromisoformat("2026-03-02T14:05:06+10:00")
    plain = picture_facts(without_private_data(kept))
    assert plain.latitude is None and plain.taken is None and not plain.device


def test_a_small_photo_is_kept_to_the_byte_and_one_with_no_tags_is_a_photo_too(phone, served, quoted):  # noqa: F811
    small, bare = picture(), without_private_data(picture((80, 50)))
    phone.first_opening()
    for data in (small, bare):
        phone.tap("Note, photo")
        _take(phone, "Take a photo", data)
        phone.tap("Write down")
        phone.page.get_by_text("kept.").wait_for()
    phone.wait_sent()
    with open_job_book(served.home) as book:
        first, second = sorted(book.job(quoted[0].job).hole.photos, key=lambda f: f.entry.counter)
        assert book.attachment(first.body.attachment).read_bytes() == small and first.body.latitude == pytest.approx(-38.47, abs=1e-6)
        assert book.attachment(second.body.attachment).read_bytes() == bare and second.body.latitude is None


def test_the_phone_reads_tags_as_the_desk_does_and_survives_any_that_lie(phone):  # noqa: F811
    phone.page.goto(f"{phone.served.base}/rig")
    read = """async (all) => { const m = await import('/static/rig/photo.js'); return all.map((one) => { try { const f = m.pictureFacts(new Uint8Array(one).buffer);
        return [f.taken && f.taken.toISOString(), f.latitude, f.longitude, f.orientation]; } catch (error) { return error instanceof RangeError ? 'lies' : String(error); } }); }"""
    whole = [picture(), picture(orientation=8, place=False), picture(offset="-03:30")]
    for data, (taken, latitude, longitude, orientation) in zip(whole, phone.page.evaluate(read, [list(d) for d in whole]), strict=True):
        facts = picture_facts(data)
        assert datetime.fromisoformat(taken) == facts.taken and orientation == facts.orientation
        assert latitude == (None if facts.latitude is None else pytest.approx(facts.latitude, abs=1e-6))
        assert longitude == (None if facts.longitude is None else pytest.approx(facts.longitude, abs=1e-6))
    import random

    dice, damaged = random.Random(5), []
    for _ in range(150):
        data = bytearray(whole[0][:420])
        for _ in range(dice.randint(1, 12)):
            data[dice.randrange(2, len(data))] = dice.randrange(256)
        damaged.append(list(data[:dice.randint(3, len(data))]))
    answers = phone.page.evaluate(read, damaged)
    assert len(answers) == 150 and all(isinstance(a, list) or a == "lies" for a in answers)


def test_a_photo_that_does_not_fit_is_not_half_kept(phone):  # noqa: F811
    phone.first_opening()
    phone.page.evaluate("() => { const put = IDBObjectStore.prototype.put; IDBObjectStore.prototype.put = function (...a) { if (this.name === 'photos') throw new DOMException('full', 'QuotaExceededError'); return put.apply(this, a); }; }")
    phone.tap("Note, photo")
    _take(phone, "Take a photo", picture())
    phone.tap("Write down")
    phone.page.get_by_text("NOT KEPT: this phone is full").wait_for()
    assert phone.page.evaluate("import('/static/rig/store.js').then((s) => s.unsent()).then((rows) => rows.length)") == 0
    expect(phone.page.get_by_text("Photo taken")).to_have_count(1)  # the photo is still there to be tapped in once there is room
