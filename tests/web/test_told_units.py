"""A page tells a calculation's sentence in the firm's own units; the job book keeps it as it was told."""

from dataclasses import replace

import pytest

from borewright.storage import save_settings

from .conftest import NEED, open_test_job

SENTENCE = "Of bores like this one, about 6 in 10 have enough by 60 m (it may be 5 to 8 in 10)."


@pytest.mark.parametrize(("units", "depth", "below", "flow"), [
    ("metric", "60 m", "90 m", "45 L/min"), ("us", "197 ft", "295 ft", "11.9 US gpm"), ("imperial", "197 ft", "295 ft", "9.9 imp gpm"),
])
def test_a_sentence_is_told_in_the_firms_units(client, book, units, depth, below, flow):
    # 60 m is 196.9 ft and 90 m 295.3 ft; 45 L/min is 11.89 US gal/min (3.785412 L) and 9.90 imperial gal/min (4.54609 L).
    job = open_test_job(book, quoted=False)
    odds = {"by_depth": [{"depth_m": 60.0, "p": 0.6, "low": 0.5, "high": 0.8}], "effective_records": 25.0,
            "advisories": [{"code": "x", "severity": "doubt", "message": "Hardly any bore went below 90 m, and none gave more than 45 L/min.", "where": "depth"}]}
    book.write(job, "ground.odds", {"register_name": "invented", "need": NEED, "answer": {"odds": odds}, "sentence": SENTENCE}, by="tester")
    desk = client.app.state.desk
    save_settings(replace(desk.settings, units=units), desk.folder)
    page = client.get(f"/jobs/{job}/ground").text
    assert f"about 6 in 10 have enough by {depth} (it may be 5 to 8 in 10)." in page
    assert f"Hardly any bore went below {below}, and none gave more than {flow}." in page
    assert book.job(job).odds[-1].body.sentence == SENTENCE
