"""The folded section of a test's page: a bore open over part of the aquifer (invented bore, truth known)."""

from __future__ import annotations

import numpy as np
import pytest

from borewright.hydraulics import partial_drawdown
from tests.web.conftest import log_hole, open_test_job, said

T, S, RATE = 9.0 / 86400, 2e-4, 0.5e-3
SAID = {"open_thickness": "40 m", "open_top": "5 m", "open_bottom": "15 m", "open_anisotropy": "0.2", "open_observed": "P8: 20 m to 30 m"}

pytestmark = pytest.mark.usefixtures("patient")


@pytest.fixture
def tested(book):
    job = open_test_job(book, quoted=False)
    log_hole(book, job)
    rng = np.random.default_rng(8)
    time = np.geomspace(60, 6e4, 40)
    for run, well, radius, seen in (("constant", "pumped", 0.0825, (5.0, 15.0)), ("near", "P8", 8.0, (20.0, 30.0))):
        fall = partial_drawdown(time, radius=radius, rate=RATE, transmissivity=T, storativity=S, thickness=40.0, screen=(5.0, 15.0), observed=seen, anisotropy=0.2)
        body = {"run": run, "type": "constant rate", "rate": RATE, "duration": 6e4, "well": well} | ({} if run == "constant" else {"radius": radius})
        book.write(job, "test.run", body, by="t")
        book.write(job, "test.levels", {"run": run, "well": well, "time": list(time), "drawdown": list(fall + 0.005 * rng.standard_normal(time.size))}, by="t")
    return job


def test_what_is_said_of_the_opening_is_fitted_told_and_kept(client, book, tested):
    plain = client.get(f"/jobs/{tested}/test/constant")
    assert '<details id="part">' in plain.text, "folded until it is used"
    answer = client.get(f"/jobs/{tested}/test/constant", params=SAID)
    text = said(answer.text)
    assert answer.status_code == 200 and '<details id="part" open>' in answer.text
    assert "open to 10 m of 40 m" in text and "given, not fitted" in text
    assert "fracture (Gringarten)" not in text.split("Every solution")[1], "only what takes such a bore is fitted"
    assert 'value="P8: 20 m to 30 m"' in answer.text and "open_top=5+m" in answer.text, "kept in the field and in the links"
    posted = client.post(f"/jobs/{tested}/test/constant/keep", data=SAID | {"solution": "theis"}, follow_redirects=False)
    assert posted.status_code == 303
    kept = book.job(tested).hole.tests["constant"].fitted.body.result
    assert kept["part_open"] | {"observed_m": None} == {"thickness_m": 40.0, "top_m": 5.0, "bottom_m": 15.0, "anisotropy": 0.2, "observed_m": None}
    theis = next(f for f in kept["fits"] if f["solution"] == "theis")["parameters"]["transmissivity_m2_per_d"]
    assert theis["low"] < 9.0 < theis["high"]
    again = client.get(f"/jobs/{tested}/test/constant").text
    assert '<details id="part" open>' in again and 'value="15 m"' in again, "what was kept comes back"


def test_a_solution_that_takes_no_such_bore_gives_way(client, tested):
    answer = client.get(f"/jobs/{tested}/test/constant", params=SAID | {"solution": "papadopulos-cooper"})
    assert answer.status_code == 200 and "Keep this fit" in answer.text


@pytest.mark.parametrize(("change", "field"), [
    ({"open_thickness": ""}, "open_thickness"), ({"open_bottom": ""}, "open_bottom"), ({"open_thickness": "-3 m"}, "open_thickness"), ({"open_thickness": "deep"}, "open_thickness"),
    ({"open_bottom": "3 m"}, "open_bottom"), ({"open_bottom": "50 m"}, "open_bottom"), ({"open_anisotropy": "0"}, "open_anisotropy"), ({"open_anisotropy": "nan"}, "open_anisotropy"),
    ({"open_observed": "P8 20 to 30"}, "open_observed"), ({"open_observed": "P8: 20 m to 60 m"}, "open_observed"), ({"open_observed": "P9: 20 m to 30 m"}, "open_observed"),
])
def test_what_cannot_be_is_told_beside_its_field(client, tested, change, field):
    answer = client.get(f"/jobs/{tested}/test/constant", params=SAID | change)
    assert answer.status_code == 422 and f'id="{field}-wrong"' in answer.text, said(answer.text)[-800:]


def test_the_api_takes_the_same_words(client, tested):
    ask = {"job": str(tested), "run": "constant", "solution": "theis", "part": SAID, "hold": {}}
    value = lambda told: told.json()["fit"]["parameters"]["transmissivity_m2_per_d"]["value"]
    told = client.post("/api/test/fit", json=ask)
    assert told.status_code == 200 and value(told) == pytest.approx(9.0, rel=0.05)
    assert value(client.post("/api/test/fit", json=ask | {"part": {}})) < 7.5, "taken as open to the whole aquifer, it comes out too small"
    for part in ({"open_thickness": "40 m"}, "deep", {"open_thickness": "40 m", "open_top": "9 m", "open_bottom": "4 m"}):
        wrong = client.post("/api/test/fit", json=ask | {"part": part})
        assert wrong.status_code == 422 and set(wrong.json()["error"]) == {"field", "value", "problem", "want"}, part
