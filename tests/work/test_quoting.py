"""Quote, acceptance, advice and learning over a job book."""

from __future__ import annotations

from datetime import timedelta

import pytest

from borewright.errors import BadInput, Conflict
from borewright.pricing import card_from_dict, promise, sample_card
from borewright.work.enquiry import open_job
from borewright.work.learning import penetration_records, time_model, told_and_found
from borewright.work.onrig import measure_flow, what_now
from borewright.work.quoting import accept_quote, estimate_against_actual, issue_quote
from tests.work.conftest import NEED, START


def test_bad_input_opens_no_job(book):
    with pytest.raises(BadInput) as caught:
        open_job(book, "x", by="office", need={"flow": -1.0})
    assert caught.value.field == "flow"
    assert book.jobs() == []


def test_a_quote_keeps_the_rate_card_it_used_and_counts_its_revisions(book, job):
    first = issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    second = issue_quote(book, job, by="office", card=sample_card(), contract=promise(), maximum_depth=80.0, holes=500, at=START)
    assert (first.body["number"], second.body["revision"]) == (second.body["number"], 2)
    assert card_from_dict(first.body["content"]["rate_card"]) == sample_card()
    assert first.body["valid_until"] == "2026-04-01"
    content = second.body["content"]
    assert content["promise"]["price"] > 0
    assert content["price"]["p10"] <= content["price"]["p50"] <= content["price"]["p90"]


def test_a_quote_needs_a_need_and_odds(book):
    bare = open_job(book, "bare", by="office", at=START)
    with pytest.raises(BadInput, match="need: is not stated"):
        issue_quote(book, bare, by="office", card=sample_card())
    book.write(bare, "enquiry.need", {"flow": NEED}, by="office")
    with pytest.raises(BadInput, match="odds: are not worked out"):
        issue_quote(book, bare, by="office", card=sample_card())
    assert book.job(bare).quotes == []


def test_acceptance_holds_the_hash_and_refuses_what_was_replaced_or_ran_out(book, job):
    with pytest.raises(BadInput, match="quote: is not issued"):
        accept_quote(book, job, name="C. Customer", by="office", at=START)
    quote = issue_quote(book, job, by="office", card=sample_card(), maximum_depth=60.0, holes=500, at=START)
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    with pytest.raises(Conflict, match="replaced by revision 2"):
        accept_quote(book, job, name="C. Customer", revision=1, by="office", at=START)
    with pytest.raises(Conflict, match="ran out"):
        accept_quote(book, job, name="C. Customer", by="office", at=START + timedelta(days=60))
    with pytest.raises(BadInput, match="name"):
        accept_quote(book, job, name="  ", by="office", at=START)
    accepted = accept_quote(book, job, name="C. Customer", by="office", at=START)
    assert accepted.body["content_hash"] == book.job(job).quote.body.content_hash != quote.body["content_hash"]
    assert book.job(job).accepted.entry.id == accepted.id
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=70.0, holes=500, at=START)
    assert book.job(job).accepted is None  # nobody has accepted the new revision yet


def test_what_now_follows_the_log(book, job):
    assert what_now_or_none(book, job) is None
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    book.write(job, "rig.hole_started", {}, by="rig", at=START)
    book.write(job, "rig.advanced", {"to_depth": 12.0}, by="rig", at=START)
    assert what_now_or_none(book, job).action == "drill"
    book.write(job, "rig.struck", {"depth": 14.0}, by="rig", at=START)
    entry = measure_flow(book, job, "bucket", {"volume": 0.02, "fill_times": [40.0, 41.0, 39.0]}, depth=15.0, by="rig", at=START)
    assert entry.body["flow"] == pytest.approx(0.02 / 40.0)
    now = what_now_or_none(book, job)
    assert now.action == "complete" and "need is met" in now.reason
    with pytest.raises(BadInput):
        measure_flow(book, job, "bucket", {"volume": -0.02, "fill_times": [40.0]}, depth=15.0, by="rig")


def what_now_or_none(book, job):
    return what_now(book.job(job)) if book.job(job).holes else None


def test_rods_and_their_times_teach_the_pace(book, job):
    book.write(job, "rig.ground", {"from_depth": 0.0, "to_depth": 60.0, "words": "granite"}, by="rig", at=START)
    at = START
    for n in range(1, 21):
        book.write(job, "rig.advanced", {"to_depth": 3.0 * n}, by="rig", at=at)
        at += timedelta(seconds=300 + 3 * 600)  # handling the rod and three metres at ten minutes each
    records = penetration_records(book.job(job))
    assert [(r.drilling, r.metres, r.seconds) for r in records] == [("hard", 57.0, 57.0 * 600)]
    learned = {b.drilling: b for b in time_model([book.job(job)]).penetration}["hard"]
    assert learned.metres == 57.0
    # Between the prior's 720 s/m (5 m/h, median) and the 600 s/m that was drilled.
    assert learned.prior_mean < learned.mean < -6.39


def test_odds_told_are_held_against_what_was_found(book, job):
    book.write(job, "rig.hole_started", {}, by="rig", at=START + timedelta(days=1))
    book.write(job, "rig.advanced", {"to_depth": 62.0}, by="rig", at=START + timedelta(days=1))
    assert told_and_found([book.job(job)]) == []  # not finished: it says nothing yet
    book.write(job, "rig.stopped", {"depth": 62.0, "reason": "walked away"}, by="rig", at=START + timedelta(days=1))
    (told,) = told_and_found([book.job(job)])
    assert told.odds == pytest.approx(1 - 0.99**60) and not told.found


def test_estimate_against_actual(book, job):
    assert estimate_against_actual(book.job(job)) ["rows"] == []
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    book.write(job, "rig.hole_started", {}, by="rig", at=START)
    book.write(job, "rig.advanced", {"to_depth": 33.0}, by="rig", at=START + timedelta(hours=5))
    rows = {r["what"]: r for r in estimate_against_actual(book.job(job))["rows"]}
    assert rows["metres drilled"]["actual"] == 33.0
    assert rows["time on the hole"]["actual"] == 5 * 3600.0


def drill(book, job, *, depth=33.0, days=1, reason="enough water", flow=5e-4):
    """Log a hole of a given depth over some days, twelve hours apart from each other (invented)."""
    book.write(job, "rig.hole_started", {}, by="rig", at=START)
    book.write(job, "rig.bit", {"diameter": 0.165}, by="rig", at=START)
    for day in range(days):
        book.write(job, "rig.advanced", {"to_depth": depth * (2 * day + 1) / (2 * days)}, by="rig", at=START + timedelta(days=day))
        book.write(job, "rig.advanced", {"to_depth": depth * (day + 1) / days}, by="rig", at=START + timedelta(days=day, hours=5))
    book.write(job, "rig.ground", {"from_depth": 0.0, "to_depth": depth, "words": "granite"}, by="rig", at=START + timedelta(days=days - 1, hours=5))
    book.write(job, "rig.flow", {"depth": depth, "method": "bucket", "flow": flow}, by="rig", at=START + timedelta(days=days - 1, hours=5))
    book.write(job, "rig.stopped", {"depth": depth, "reason": reason}, by="rig", at=START + timedelta(days=days - 1, hours=5))


def test_hours_leave_the_nights_out(book, job):
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    drill(book, job, days=2)
    rows = {r["what"]: r for r in estimate_against_actual(book.job(job))["rows"]}
    assert rows["time on the hole"]["actual"] == 10 * 3600.0


def test_price_cost_and_profit_after_the_job_by_hand(book, job):
    card = sample_card()
    issue_quote(book, job, by="office", card=card, maximum_depth=80.0, holes=500, at=START)
    drill(book, job)
    answer = estimate_against_actual(book.job(job))
    rows = {r["what"]: r for r in answer["rows"]}
    assert answer["lacks"] == "" and list(rows) == ["metres drilled", "time on the hole", "price with tax", "own cost", "profit"]
    size, rates = card.drilling_rates(0.165)
    net = card.charges["set_up"] + 24 * card.charges["travel_per_km"] + 33 * rates[3]  # 12 km each way; granite is hard
    assert net > card.minimum_charge
    tax = round(net * float(card.tax_rate))
    step = card.round_total_to
    assert rows["price with tax"]["actual"] == pytest.approx(net + tax, abs=step) and rows["price with tax"]["actual"] % step == 0
    road = 24 / 65 * card.costs["rig_and_crew_per_hour"]
    cost = card.costs["job"] + 24 * card.costs["travel_per_km"] + 33 * card.wear[3] + 5 * card.costs["rig_and_crew_per_hour"] + road
    assert rows["own cost"]["actual"] == pytest.approx(cost, abs=1)
    assert rows["profit"]["actual"] == rows["price with tax"]["actual"] - tax - rows["own cost"]["actual"]


def test_a_log_without_a_bit_says_what_it_lacks(book, job):
    issue_quote(book, job, by="office", card=sample_card(), maximum_depth=80.0, holes=500, at=START)
    book.write(job, "rig.advanced", {"to_depth": 20.0}, by="rig", at=START)
    book.write(job, "rig.stopped", {"depth": 20.0, "reason": "walked away"}, by="rig", at=START + timedelta(hours=2))
    answer = estimate_against_actual(book.job(job))
    assert "no bit recorded" in answer["lacks"] and [r["what"] for r in answer["rows"]] == ["metres drilled", "time on the hole"]
