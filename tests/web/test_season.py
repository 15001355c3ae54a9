"""The season page: its figures are those of the pricing package on the quotes that stand, and bad inputs come back beside their field."""

from __future__ import annotations

import re
import time
from datetime import date

import pytest

from borewright.errors import BadInput
from borewright.pricing import (
    dry_hole_ledger,
    kept_quote,
    mean_stake,
    promise,
    reserve_of_promises,
    sample_card,
    season_of_quote,
    show_minor,
    stake_of,
)
from borewright.work.quoting import accept_quote, issue_quote
from borewright.work.season import outlook, quotes_at_stake
from tests.web.conftest import column, log_hole, prospect, said

TODAY = date(2026, 3, 3)


def opened(client, query: str = "") -> str:
    """Return the page once the work is done."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        page = client.get(f"/season{query}")
        assert page.status_code == 200
        if "http-equiv" not in page.text:
            return said(page.text)
        time.sleep(0.1)
    raise AssertionError("the season was not worked out in a minute")


def test_a_kept_quote_gives_the_same_season_as_the_quote_itself():
    from borewright.pricing import make_quote, quote_as_dict

    made = make_quote(prospect(), column(), sample_card(), need=0.25e-3, contract=promise(deposit=50_000), maximum_depth=80.0, holes=300, sensitivities=False)
    given = {"jobs": 12, "seasons": 200}
    kept = kept_quote(quote_as_dict(made))
    assert season_of_quote(prospect(), column(), sample_card(), kept, **given) == season_of_quote(prospect(), column(), sample_card(), made, **given)
    with pytest.raises(BadInput, match="form"):
        kept_quote({k: v for k, v in quote_as_dict(made).items() if k != "form"})


def test_a_stake_balances_the_mean_profit(book, job):
    content = book.job(job).quote.body.content
    stake = stake_of(content)
    assert (1 - stake.chance_dry) * stake.gain - stake.chance_dry * stake.loss == pytest.approx(content["agreed_rule"]["profit"])
    two = mean_stake([stake, stake])
    assert (two.chance_dry, two.gain, two.loss) == pytest.approx((stake.chance_dry, stake.gain, stake.loss))
    with pytest.raises(BadInput):
        mean_stake([])


def test_the_reserve_of_a_promise_is_on_the_page_to_the_cent(client, book, job):
    issue_quote(book, job, by="tester", card=sample_card(), contract=promise(), maximum_depth=80.0, holes=400)
    folded = book.job(job)
    content = folded.quote.body.content
    stake = stake_of(content)
    harsh = reserve_of_promises(jobs=20, chance_dry=stake.chance_dry, profit=stake.gain, loss=stake.loss, correlation=0.5, ruin_allowed=0.1)
    simulated = season_of_quote(prospect(), column(), sample_card(), kept_quote(content), jobs=20, correlation=0.5, ruin_allowed=0.1)
    text = opened(client, "?jobs=20&correlation=0.5&ruin=0.1")
    assert harsh > 0 and simulated.reserve > 0
    assert show_minor(round(harsh), content["currency"]) in text and show_minor(simulated.reserve, content["currency"]) in text
    assert "A simulation is not insurance" in text


def test_what_happened_is_held_against_the_odds_and_the_way_of_picking(client, book, job):
    assert "nothing to hold them against" in opened(client)
    book.write(job, "ground.spot", {"latitude": -38.47, "longitude": -18.22, "way_of_picking": "lineament"}, by="tester")
    log_hole(book, job)
    text = opened(client)
    ledger = dry_hole_ledger([0.25], [True])  # odds of 0.25 were told at 50 m, the row nearest to the 48 m drilled
    assert ledger.sentence in text and "Lineament 1 1" in text and "met" in text


def test_the_pace_shows_the_metres_behind_it(client, book, job):
    from datetime import timedelta

    from tests.web.conftest import BEGUN

    book.write(job, "rig.ground", {"from_depth": 0.0, "to_depth": 60.0, "words": "granite"}, by="tester", at=BEGUN)
    for n in range(1, 11):
        book.write(job, "rig.advanced", {"to_depth": 6.0 * n}, by="tester", at=BEGUN + timedelta(minutes=60 * n))
    text = opened(client)
    assert "Hard 5.0 m/h 5.7 m/h 54 m 1" in text or re.search(r"Hard 5\.0 m/h \d\.\d m/h 54 m 1", text)
    assert "Loose 14.0 m/h 14.0 m/h 0 m 0" in text


@pytest.mark.parametrize(("query", "name"), [
    ("?jobs=0", "jobs"), ("?jobs=x", "jobs"), ("?jobs=2000", "jobs"), ("?correlation=1.5", "correlation"), ("?correlation=", "correlation"), ("?ruin=0", "ruin"), ("?ruin=nan", "ruin"), ("?ruin=1.2", "ruin"),
])
def test_what_no_season_can_have_comes_back_beside_its_field(client, job, query, name):
    answer = client.get(f"/season{query}")
    assert answer.status_code == 422 and f'id="season-{name}-wrong"' in answer.text


def test_an_empty_book_has_nothing_at_stake(client):
    assert "nothing is at stake" in opened(client)


def test_open_and_accepted_quotes_stand_and_run_out_ones_do_not(book, job):
    folded = book.job(job)
    last = date.fromisoformat(folded.quote.body.valid_until)
    assert quotes_at_stake([folded], last) == ([folded], True)
    after = last.replace(year=last.year + 1)
    assert quotes_at_stake([folded], after) == ([folded], False)  # none is open: shown as what was quoted before
    accept_quote(book, job, name="A (invented)", by="tester")
    assert quotes_at_stake([book.job(job)], after)[1]
    log_hole(book, job)
    assert not quotes_at_stake([book.job(job)], last)[1]


def test_progress_is_told_and_impossible_seasons_are_refused(book, job):
    told = []
    made = outlook([book.job(job)], season_jobs=5, correlation=0.2, ruin_allowed=0.1, today=TODAY, seasons=200, progress=lambda done, doing: told.append((done, doing)))
    assert [d for d, _ in told] == [0.0, 0.5] and made.quotes[0].season.jobs == 5
    with pytest.raises(BadInput):
        outlook([], season_jobs=0, correlation=0.2, ruin_allowed=0.1, today=TODAY)
