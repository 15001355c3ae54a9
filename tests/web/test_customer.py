"""The quote as the customer reads and accepts it: nothing of the firm's own money, one acceptance, old revisions readable."""

from __future__ import annotations

import pytest

from borewright.pricing import promise, sample_card, show_minor
from borewright.work.quoting import accept_quote, issue_quote
from tests.web.conftest import BEGUN, said


def sign(client, book, job, name="N. Body (invented)", revision=None, content_hash=None):
    quote = book.job(job).quote.body
    return client.post(f"/jobs/{job}/quote/customer/{revision or quote.revision}", data={"name": name, "content_hash": content_hash or quote.content_hash})


def test_it_says_what_happens_what_each_case_costs_and_the_chance(client, book, job):
    content = book.job(job).quote.body.content
    page = client.get(f"/jobs/{job}/quote/customer")
    text = said(page.text)
    assert page.status_code == 200 and "<script" not in page.text
    for scenario in content["scenarios"]:
        assert show_minor(scenario["price_minor"], content["currency"]) in text
    assert f"{round(100 * content['chance_found'])} in 100" in text
    assert "as low as 10 in 100 or as high as 80 in 100" in text  # the band of the odds as they were told
    assert "sealed as the local code asks" in text and book.job(job).quote.body.content_hash in text


def test_nothing_of_the_firms_own_money_is_on_it(client, book, job):
    issue_quote(book, job, by="tester", card=sample_card(), contract=promise(), maximum_depth=100.0, holes=400)
    content = book.job(job).quote.body.content
    page = client.get(f"/jobs/{job}/quote/customer").text
    own = [content[kind][q] for kind in ("cost", "profit") for q in ("p10", "p50", "p90")]
    own += [content["promise"]["loss_when_dry"], content["promise"]["target_profit"], content["promise"]["expected_loss"]]
    for amount in own:
        assert show_minor(int(round(amount)), content["currency"]) not in page
    for word in ("profit", "margin", "reserve", "your cost"):
        assert word not in said(page).lower()


def test_a_name_accepts_exactly_this_version(client, book, job):
    answer = sign(client, book, job)
    assert answer.status_code == 303
    accepted = book.job(job).accepted.body
    assert (accepted.name, accepted.way, accepted.content_hash) == ("N. Body (invented)", "on this screen", book.job(job).quote.body.content_hash)
    page = client.get(answer.headers["location"]).text
    assert "Your acceptance is written down" in page and "Accepted by N. Body" in page and 'name="name"' not in page


def test_no_name_comes_back_beside_the_field_and_writes_nothing(client, book, job):
    answer = sign(client, book, job, name="   ")
    assert answer.status_code == 422
    assert 'aria-describedby="name-wrong"' in answer.text and "is empty" in said(answer.text)
    assert book.job(job).accepted is None


def test_a_second_phone_is_told_who_accepted_and_nothing_is_written_twice(client, book, job):
    sign(client, book, job)
    answer = sign(client, book, job, name="Another (invented)")
    assert answer.status_code == 409 and "accepted already by N. Body" in said(answer.text)
    assert [f.body.name for f in book.job(job).acceptances] == ["N. Body (invented)"]


def test_a_replaced_revision_stays_readable_and_is_refused(client, book, job):
    first = book.job(job).quote.body
    issue_quote(book, job, by="tester", card=sample_card(), maximum_depth=80.0, holes=400)
    old = client.get(f"/jobs/{job}/quote/customer/1")
    assert old.status_code == 200 and first.content_hash in old.text and "newer revision" in old.text and 'name="name"' not in old.text
    answer = sign(client, book, job, revision=1, content_hash=first.content_hash)
    assert answer.status_code == 409 and "was replaced by revision 2" in said(answer.text) and book.job(job).accepted is None
    assert "Revision 1" in said(client.get(f"/jobs/{job}/quote/customer").text)


def test_an_expired_quote_is_refused_from_either_phone(client, book, quoted):
    job = quoted[0].job
    book.add([e for e in quoted if e.kind != "quote.issued"])
    issue_quote(book, job, by="tester", card=sample_card(), maximum_depth=80.0, holes=400, valid_days=1, at=BEGUN)
    page = client.get(f"/jobs/{job}/quote/customer")
    assert "has run out" in page.text and 'name="name"' not in page.text
    for name in ("One (invented)", "Two (invented)"):
        answer = sign(client, book, job, name=name)
        assert answer.status_code == 409 and "ran out on" in said(answer.text)
    assert not book.job(job).acceptances


def test_a_page_that_shows_another_version_signs_nothing(client, book, job):
    answer = sign(client, book, job, content_hash="0" * 64)
    assert answer.status_code == 409 and "read it again" in said(answer.text) and book.job(job).accepted is None


@pytest.mark.parametrize("path", ["quote/customer/9", "quote/customer/x"])
def test_what_was_never_issued_says_so(client, job, path):
    assert client.get(f"/jobs/{job}/{path}").status_code in (404, 422)


def test_a_job_without_a_quote_says_so(client, book):
    from tests.web.conftest import open_test_job

    bare = open_test_job(book, quoted=False)
    answer = client.get(f"/jobs/{bare}/quote/customer")
    assert answer.status_code == 404 and "No quote" in answer.text


def test_the_second_acceptance_is_refused_by_the_use_case_too(book, job):
    from borewright.errors import Conflict

    accept_quote(book, job, name="First (invented)", by="tester")
    with pytest.raises(Conflict, match="accepted already by First"):
        accept_quote(book, job, name="Second (invented)", by="tester")
