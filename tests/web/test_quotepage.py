"""The quote stage: every case with its lines, what moves the price, whose rule, the terms of the contract, and how the job came out."""

from __future__ import annotations

import pytest

from borewright.pricing import show_minor
from borewright.web.quotepage import price_bars, terms
from tests.web.conftest import log_hole, said


def issue(client, job, **given):
    return client.post(f"/jobs/{job}/quote/issue", data={"maximum_depth": "80 m", "contract": "per metre"} | given)


def test_every_case_and_every_line_is_shown(client, book, job):
    content = book.job(job).quote.body.content
    text = said(client.get(f"/jobs/{job}/quote").text)
    assert [s["name"] for s in content["scenarios"]] == ["shallow", "likely", "deep", "no water"]
    for scenario in content["scenarios"]:
        assert scenario["stands_for"] in text and show_minor(scenario["price_minor"], content["currency"]) in text
        for line in scenario["lines"]:
            assert f"{line['label']} " in text and show_minor(line["amount_minor"], content["currency"]) in text
    assert content["difference"] in text and content["card_version"] in text


def test_bars_stand_on_one_scale_the_longest_first(book, job):
    content = book.job(job).quote.body.content
    bars = price_bars(content)
    ends = [v for b in bars for v in (b["price_low"], b["price_high"])]
    assert [b["long"] for b in bars] == sorted((b["long"] for b in bars), reverse=True)
    for bar in bars:
        left, right = sorted((bar["price_low"], bar["price_high"]))
        assert bar["at"] == pytest.approx(100 * (left - min(ends)) / (max(ends) - min(ends)), abs=0.01)
        assert bar["long"] == pytest.approx(max(0.6, 100 * (right - left) / (max(ends) - min(ends))), abs=0.01)
    assert price_bars({"sensitivities": [{"price_low": 1.0, "price_high": 1.0}]}) == []


def test_every_term_of_a_contract_can_be_set_in_the_form(client, book, job):
    answer = issue(client, job, contract="promise", promise_price="4000.00", deposit="500.00", metres_cap="70 m", dry_hole_share="0.25", least_depth="40 m")
    assert answer.status_code == 303, said(answer.text)[:600]
    contract = book.job(job).quote.body.content["contract"]
    assert (contract["kind"], contract["promise_price"], contract["deposit"], contract["metres_cap"], contract["dry_hole_share"], contract["least_depth"]) == (
        "promise", 400000, 50000, 70.0, 0.25, 40.0)
    text = said(client.get(f"/jobs/{job}/quote").text)
    for words in ("Price of the promise before tax: AUD 4,000.00", "Deposit: AUD 500.00", "Metres charged, at most: 70 m", "Not given up above: 40 m", "Part charged for a dry hole: 25 in 100"):
        assert words in text
    assert len(terms(contract)) == 5


@pytest.mark.parametrize(("given", "field"), [
    ({"contract": "fixed"}, "price"), ({"contract": "per metre", "price": "9000.00"}, "price"), ({"contract": "fixed", "price": "9000.00", "metres_cap": "40 m"}, "metres_cap"),
    ({"dry_hole_share": "1.5"}, "dry_hole_share"), ({"contract": "per metre", "promise_price": "10.00"}, "promise_price"), ({"deposit": "-3"}, "deposit"),
    ({"least_depth": "400 m"}, "least_depth"), ({"metres_cap": "0 m"}, "metres_cap"), ({"maximum_depth": "0 m"}, "maximum_depth"),
])
def test_terms_that_do_not_go_together_come_back_beside_their_field(client, book, job, given, field):
    before = len(book.job(job).quotes)
    answer = issue(client, job, **given)
    assert answer.status_code == 422
    assert f'id="issue-{field}-wrong"' in answer.text
    assert len(book.job(job).quotes) == before


def test_a_promise_below_what_it_costs_is_made_and_told(client, book, job):
    assert issue(client, job, contract="promise", promise_price="1.00").status_code == 303
    assert "priced below what it costs" in said(client.get(f"/jobs/{job}/quote").text)


def test_estimate_against_actual_holds_money_once_the_hole_is_done(client, book, job):
    log_hole(book, job)
    text = said(client.get(f"/jobs/{job}/quote").text)
    after = text.split("Estimate against actual")[1]
    for words in ("Metres drilled", "Time on the hole", "Price with tax", "Own cost", "Profit"):
        assert words in after


def test_the_page_of_a_job_without_a_quote_opens(client, book):
    from tests.web.conftest import open_test_job

    assert client.get(f"/jobs/{open_test_job(book, quoted=False)}/quote").status_code == 200
