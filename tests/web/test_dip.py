"""A level dipped from the top of the casing is kept below ground."""

from __future__ import annotations

import pytest

from borewright.errors import BadInput
from borewright.storage import open_job_book
from borewright.web.acts import Desk, dip
from borewright.work.enquiry import open_job


def test_the_casing_is_taken_off(tmp_path):
    with open_job_book(tmp_path) as book:
        desk, job = Desk(book, tmp_path), open_job(book, "Paddock (invented)", by="office")
        dip(desk, job, {"depth_to_water": 12.4, "state": "static", "measured_from": "top of casing", "stick_up": 0.4, "hole": 1})
        level = book.job(job).hole.levels[-1].body
        assert level.depth_to_water == pytest.approx(12.0) and level.stick_up == 0.4
        dip(desk, job, {"depth_to_water": 11.0, "state": "static", "measured_from": "ground", "stick_up": "", "hole": 1})
        assert book.job(job).hole.static_level == 11.0
        with pytest.raises(BadInput) as caught:
            dip(desk, job, {"depth_to_water": 12.4, "measured_from": "top of casing", "hole": 1})
        assert caught.value.field == "stick_up"
