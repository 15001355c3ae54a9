"""Rate cards in the browser: every item is a field, TOML is a second door with the same checks, versions and quotes keep theirs."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from borewright.pricing import CHARGES, COSTS, card_as_dict, card_to_toml, card_version, sample_card, show_minor
from borewright.storage import current_rate_card, rate_card_versions
from borewright.web.firm import flat
from tests.web.conftest import said


def whole_form(**changes) -> dict[str, str]:
    return {k: str(v) for k, v in flat(card_as_dict(sample_card())).items()} | changes


def test_every_item_of_a_card_is_a_field_of_the_form(client):
    html = client.get("/rates").text
    names = set(re.findall(r'name="([^"]+)"', html))
    wanted = set(flat(card_as_dict(sample_card()))) - {"format"}
    assert {f"charges.{k}" for k in CHARGES} | {f"costs.{k}" for k in COSTS} <= wanted <= names


# Another value for each single item, and where the card holds it.
ITEMS = {
    **{f"charges.{k}": ("12.34", lambda c, k=k: c.charges[k] == 1234) for k in CHARGES},
    **{f"costs.{k}": ("12.34", lambda c, k=k: c.costs[k] == 1234) for k in COSTS},
    **{f"costs.wear_per_metre.{k}": ("12.34", lambda c, n=n: c.wear[n] == 1234) for n, k in enumerate(("loose", "soft", "medium", "hard"))},
    **{f"drilling.0.{k}": ("12.34", lambda c, n=n: c.drilling[0][n] == 1234) for n, k in enumerate(("loose", "soft", "medium", "hard"), 1)},
    **{f"casing.0.{k}": ("12.34", lambda c, n=n: c.casing[0][n] == 1234) for n, k in enumerate(("per_metre", "slotted_per_metre", "cost_per_metre", "cost_slotted_per_metre"), 1)},
    "tax.name": ("VAT", lambda c: c.tax_name == "VAT"), "tax.rate": ("0.2", lambda c: c.tax_rate == Decimal("0.2")), "rounding": ("up", lambda c: c.rounding == "up"),
    "minimum_charge": ("99.00", lambda c: c.minimum_charge == 9900), "round_total_to": ("0.05", lambda c: c.round_total_to == 5), "name": ("Winter", lambda c: c.name == "Winter"),
    "valid_from": ("2027-01-01", lambda c: c.valid_from == "2027-01-01"),
}


@pytest.mark.parametrize("item", list(ITEMS))
def test_each_item_alone_can_be_changed(client, book, item):
    text, holds = ITEMS[item]
    assert not holds(sample_card())
    assert client.post("/rates", data=whole_form(**{item: text})).status_code == 303
    assert holds(current_rate_card(book.folder))


def test_toml_is_a_second_door(client, book):
    text = client.get("/rates/toml").text
    assert "[charges]" in text
    other = card_to_toml(sample_card()).replace(sample_card().name, "From a file")
    assert client.post("/rates/toml", data={"text": other}).status_code == 303
    assert current_rate_card(book.folder).name == "From a file"


@pytest.mark.parametrize(("change", "words"), [
    (("[charges]", "[charge]"), "charge"), (("name = ", "name "), "TOML"), (('set_up = "', 'set_up = "-'), "set_up"), (("rounding = ", "# rounding = \nround = "), "round"),
])
def test_bad_toml_comes_back_as_typed_and_keeps_the_old_card(client, book, change, words):
    text = card_to_toml(sample_card()).replace(*change, 1)
    assert text != card_to_toml(sample_card())
    answer = client.post("/rates/toml", data={"text": text})
    assert answer.status_code == 422 and 'id="text-wrong"' in answer.text
    assert words in said(answer.text.split('id="text-wrong"')[1].split("</p>")[0])
    assert said(text)[:60] in said(answer.text) and current_rate_card(book.folder) is None


def test_versions_are_listed_read_downloaded_and_used_again(client, book):
    for name in ("Summer", "Winter"):
        client.post("/rates", data=whole_form(name=name))
    first = next(v for v in rate_card_versions(book.folder) if v.name == "Summer")
    listed = client.get("/rates").text
    assert f"/rates/{first.version}" in listed and "Summer" in listed and "Winter" in listed
    assert "Summer" in client.get(f"/rates/{first.version}").text
    toml = client.get(f"/rates/{first.version}/card.toml")
    assert 'name = "Summer"' in toml.text and "attachment" in toml.headers["content-disposition"]
    assert client.post(f"/rates/{first.version}/use").status_code == 303
    assert current_rate_card(book.folder).name == "Summer" and len(rate_card_versions(book.folder)) == 2
    assert client.get("/rates/0123456789abcdef").status_code == 404 and client.get("/rates/..%2fx").status_code in (404, 422)


def test_a_quote_keeps_the_card_that_it_was_made_with(client, book, job):
    client.post("/rates", data=whole_form(**{"name": "Dearer", "charges.set_up": "7777.00"}))
    old = client.get(f"/jobs/{job}/quote/rates/1").text
    assert show_minor(sample_card().charges["set_up"], "AUD") in old and "7,777.00" not in old
    client.post(f"/jobs/{job}/quote/issue", data={"maximum_depth": "80 m", "contract": "per metre"})
    assert "7,777.00" in client.get(f"/jobs/{job}/quote/rates/2").text
    assert book.job(job).quotes[0].body.content["card_version"] == card_version(sample_card()) != book.job(job).quotes[1].body.content["card_version"]
    assert client.get(f"/jobs/{job}/quote/rates/9").status_code == 404
