"""A photo whose file says no place: the phone's own goes in when it is asked for and allowed, and is said to be the phone's."""

from __future__ import annotations

import pytest

from borewright.storage import open_job_book
from tests.web.test_rig_browser import chromium, phone, served  # noqa: F401  fixtures
from tests.web.test_rig_photo import picture
from tests.web.waiting import expect

pytestmark = pytest.mark.browser
HERE = {"latitude": -38.4712345, "longitude": -18.2256789, "accuracy": 12.0}  # in the invented district


def _take(phone, data: bytes) -> None:  # noqa: F811
    phone.tap("Note, photo")
    phone.page.get_by_label("Take a photo", exact=True).set_input_files({"name": "chips.jpg", "mimeType": "image/jpeg", "buffer": data})
    phone.page.get_by_text("Photo taken").wait_for()


def _written(phone, served, job):  # noqa: F811
    phone.tap("Write down")
    phone.page.get_by_text("kept.").wait_for()
    phone.wait_sent()
    with open_job_book(served.home) as book:
        return max(book.job(job).hole.photos, key=lambda fact: fact.entry.counter)


def test_the_place_of_the_phone_goes_in_when_it_is_asked_for_and_is_named_as_such(phone, served, quoted):  # noqa: F811
    job, page = quoted[0].job, phone.page
    phone.first_opening()
    phone.context.grant_permissions(["geolocation"], origin=served.base)
    phone.context.set_geolocation(HERE)
    _take(phone, picture(place=False))
    page.get_by_text("The picture says no place.").wait_for()
    phone.tap("Say where this phone is")
    page.get_by_text("Goes in as the place of the phone, not of the picture, to about 12 m.").wait_for()
    expect(page.get_by_role("button", name="Leave the place out")).to_be_visible()
    fact = _written(phone, served, job)
    assert fact.entry.version == 3 and fact.body.place_of == "phone" and fact.body.place_within == 12.0
    assert (fact.body.latitude, fact.body.longitude) == (pytest.approx(HERE["latitude"], abs=1e-7), pytest.approx(HERE["longitude"], abs=1e-7))
    page.locator("ol.book").get_by_text("with the place of the phone, not of the picture").wait_for()
    page.goto(f"{served.base}/jobs/{job}/history")
    page.get_by_text("within 12 m (place of the phone, not of the picture)").first.wait_for()


def test_a_picture_that_says_its_own_place_is_not_asked_about_and_a_place_can_be_taken_back(phone, served, quoted):  # noqa: F811
    job, page = quoted[0].job, phone.page
    phone.first_opening()
    phone.context.grant_permissions(["geolocation"], origin=served.base)
    phone.context.set_geolocation(HERE)
    _take(phone, picture())
    expect(page.get_by_text("The picture says no place.")).to_be_hidden()
    own = _written(phone, served, job)
    assert own.body.place_of == "picture" and own.body.latitude == pytest.approx(-38.47, abs=1e-6) and own.body.place_within is None
    _take(phone, picture(place=False))
    phone.tap("Say where this phone is")
    phone.tap("Leave the place out")
    expect(page.get_by_role("button", name="Say where this phone is")).to_be_visible()
    bare = _written(phone, served, job)
    assert bare.entry.id != own.entry.id and bare.body.latitude is None and bare.body.place_within is None


def test_a_phone_that_is_not_allowed_says_so_and_the_photo_goes_in_without_a_place(phone, served, quoted):  # noqa: F811
    phone.first_opening()
    phone.context.clear_permissions()  # headless: a question that nobody answers is a no
    _take(phone, picture(place=False))
    phone.tap("Say where this phone is")
    phone.page.get_by_text("The phone gave no place: it was not allowed to. The photo goes in without one.").wait_for()
    fact = _written(phone, served, quoted[0].job)
    assert fact.body.latitude is None and fact.body.longitude is None
