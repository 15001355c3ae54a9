"""What a phone takes to the rig, and the desk's own view of the same: air, clearing, the day's sheet, the clocks."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from borewright.storage import load_settings, save_settings, settings_from_dict
from borewright.web.clocks import FAR, clocks_of, heard
from tests.web.conftest import entry, log_hole

SHEET = ("mast clear of lines (invented)", "gas meter on (invented)")


def _pack(client, job):
    pack = client.get("/api/rig/pack").json()
    return pack, next(one for one in pack["jobs"] if one["id"] == str(job))


def test_the_firms_sheet_and_kit_travel_in_the_pack(client, book, job):
    save_settings(settings_from_dict({"start_of_day": list(SHEET), "rods": ["110 mm"], "compressors": ["20 m3/min at 1.7 MPa"], "units": "us"}), book.folder)
    pack, packed = _pack(client, job)
    assert pack["start_of_day"] == list(SHEET) and pack["units"] == "US" and pack["criteria"] == {"turbidity": 5.0, "sand": 5.0}
    tables = pack["air"]["tables"][str(packed["air_altitude"])]
    assert pack["air"]["rods"] == [pytest.approx(0.11)] and pack["air"]["compressors"] == [pytest.approx([20 / 60, 1.7e6])]
    assert len(tables["kits"]) == 7  # of eight bits one leaves the rods too little room
    assert tables["caution"].startswith("Compressed air kills") and pack["air_caution"] == tables["caution"]


def test_a_kit_of_a_hole_that_is_not_the_firms_is_worked_out_for_it(client, book, job):
    book.write(job, "ground.spot", {"latitude": -38.47, "longitude": -18.22, "elevation": 1480.0}, by="tester")
    book.write(job, "rig.hole_started", {"rod_diameter": 0.1, "air_flow": 0.3, "air_pressure": 1.2e6}, by="tester")
    book.write(job, "rig.bit", {"diameter": 0.22}, by="tester")
    pack, packed = _pack(client, job)
    assert packed["air_altitude"] == 1500 and pack["air"]["tables"]["1500"]["altitude"] == 1500.0
    (kit,) = packed["air_kits"]
    assert (kit["bit"], kit["rod"], kit["flow"], kit["compressor"]) == (0.22, 0.1, 0.3, 1.2e6)
    ends = [c["cleaning_ends"] or 1e9 for c in kit["curves"]]
    assert ends == sorted(ends, reverse=True)  # a wetter hole stops cleaning no deeper
    page = client.get(f"/jobs/{job}/rig").text
    assert "Where the air runs out" in page and "Compressed air kills" in page


def test_an_older_start_of_a_hole_is_still_read(book, job, client):
    old = entry(job, "rig.hole_started", {"rod_length": 6.0, "air_flow": 0.35, "air_pressure": 1.7e6}, 1)
    assert old["version"] == 1
    assert client.post("/api/entries", json=[old]).status_code == 200
    started = book.job(job).hole.started
    assert started.body.rod_length == 6.0 and started.body.rod_diameter is None and started.entry.version == 1


def test_clearing_is_tracked_from_airlift_taps_and_told_with_its_band(client, book, job):
    import numpy as np

    from borewright.rig import track_development

    log_hole(book, job)
    minutes = np.array([10, 20, 30, 45, 60, 80])
    values = 300 * np.exp(-0.03 * minutes) * np.array([1.05, 0.97, 1.02, 0.98, 1.03, 0.96])
    for n, (t, v) in enumerate(zip(minutes, values, strict=True)):
        body = {"elapsed": float(60 * t), "turbidity": float(v)}
        assert client.post("/api/entries", json=[entry(job, "rig.airlift", body, 50 + n)]).status_code == 200
    _, packed = _pack(client, job)
    (told,) = packed["clearing"]
    wanted = track_development(60.0 * minutes, values, what="turbidity")
    assert told["clean_by"] == pytest.approx(wanted.clean_by) and told["clean_low"] < told["clean_by"] < told["clean_high"]
    assert told["clean_by"] == pytest.approx(60 * np.log(300 / 5) / 0.03, rel=0.05)  # the truth the readings were made from
    assert told["readings"] == 6 and told["hole"] == 1
    hours = f"{wanted.clean_by / 3600:.1f} h"
    page = client.get(f"/jobs/{job}/rig").text
    assert "Clean by about" in told["sentence"] and hours in told["sentence"] and told["sentence"] in page


def test_two_readings_at_one_time_and_too_few_are_told_plainly(client, book, job):
    for v in (80.0, 60.0):
        book.write(job, "rig.airlift", {"elapsed": 600.0, "sand": v}, by="tester")
    _, packed = _pack(client, job)
    (told,) = packed["clearing"]
    assert told["what"] == "sand" and told["readings"] == 1 and told["clean_by"] is None and "at least four" in told["sentence"]


def test_the_sheet_is_edited_on_the_settings_page(client, book):
    page = client.get("/settings").text
    assert "overhead lines looked for\nburied services asked for" in page and "does not replace your local rules" in page
    given = {"word": "bore", "units": "metric", "paper": "A4", "currency": "AUD", "zone": "UTC", "bag_mass": "20 kg", "colour": "#2f5d62", "quote_valid_days": "30", "keep_backups": "14",
             "start_of_day": "  mast  down \r\n\r\nhoses\nhoses", "rods": "89 mm", "compressors": "25 m3/min at 2400 kPa"}
    assert client.post("/settings", data=given).status_code == 303
    assert load_settings(book.folder).start_of_day == ("mast down", "hoses")
    bad = client.post("/settings", data=given | {"compressors": "plenty"})
    assert bad.status_code == 422 and "has no pressure" in bad.text and "mast  down" in bad.text
    assert client.post("/settings", data=given | {"start_of_day": " \n "}).status_code == 422
    assert load_settings(book.folder).start_of_day == ("mast down", "hoses")


def test_a_clock_that_is_off_is_heard_and_named_on_both_pages(client, book, job):
    late = (datetime.now(UTC) - timedelta(hours=1)).isoformat()
    headers = {"x-device": "phone-late", "x-device-clock": late}
    sent = entry(job, "rig.note", {"text": "an hour late"}, 1, device="phone-late", at=datetime.fromisoformat(late))
    fine = entry(job, "rig.note", {"text": "on time"}, 1, device="phone-fine", at=datetime.now(UTC))
    early = entry(job, "rig.note", {"text": "from tomorrow"}, 1, device="phone-early", at=datetime.now(UTC) + timedelta(hours=26))
    assert client.post("/api/entries", json=[sent], headers=headers).status_code == 200
    assert client.post("/api/entries", json=[fine], headers={"x-device": "phone-fine", "x-device-clock": datetime.now(UTC).isoformat()}).status_code == 200
    assert client.post("/api/entries", json=[early]).status_code == 200
    page = client.get(f"/jobs/{job}/history").text
    assert "The clock of phone-late was 60 min behind" in page and "The clock of phone-early was 1560 min ahead" in page and "The clock of phone-fine" not in page
    assert page.count("received") >= 3
    _, packed = _pack(client, job)
    off = {e["device"]: e.get("clock_off") for e in packed["entries"]}
    assert off["phone-late"] == pytest.approx(-3600, abs=5) and off["phone-fine"] is None and off["phone-early"] == pytest.approx(26 * 3600, abs=5)
    assert all(e["received"] for e in packed["entries"])


def test_a_clock_put_right_is_named_only_for_what_it_sent_before(tmp_path, book, job):
    began = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    heard(tmp_path, "phone-a", (began + timedelta(minutes=30)).isoformat(), began)
    heard(tmp_path, "phone-a", (began + timedelta(hours=2, seconds=2)).isoformat(), began + timedelta(hours=2))
    heard(tmp_path, "", began.isoformat(), began)
    heard(tmp_path, "phone-b", "half past nine", began)
    clocks = clocks_of(tmp_path)
    assert set(clocks.heard) == {"phone-a"} and len(clocks.heard["phone-a"]) == 2

    class One:
        device, at, received = "phone-a", began, began + timedelta(minutes=1)

    assert clocks.off(One) == pytest.approx(1800) and clocks.off(One) > FAR
    One.received = began + timedelta(hours=3)
    assert clocks.off(One) is None  # late is not wrong: it was only out of coverage
    (tmp_path / "device_clocks.json").write_text("{broken", encoding="utf-8")
    assert clocks_of(tmp_path).heard == {}
