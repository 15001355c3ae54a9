"""Rate cards: there and back through TOML, the version, and every kind of bad line named by its field."""

import copy

import pytest

from borewright.errors import BadInput
from borewright.pricing.ratecard import (
    CHARGES,
    COSTS,
    card_as_dict,
    card_from_dict,
    card_from_toml,
    card_to_toml,
    card_version,
    sample_card,
)


def test_toml_there_and_back_keeps_every_rate():
    card = sample_card()
    again = card_from_toml(card_to_toml(card))
    assert again == card and card_version(again) == card_version(card)
    assert card.invented and "invented" in card.name


def test_version_changes_with_any_rate():
    base, seen = card_as_dict(sample_card()), {card_version(sample_card())}
    for part in ("charges", "costs"):
        for name in CHARGES if part == "charges" else COSTS:
            changed = copy.deepcopy(base)
            changed[part][name] = "1234.56"
            seen.add(card_version(card_from_dict(changed)))
    assert len(seen) == 1 + len(CHARGES) + len(COSTS)


def _broken():
    def edit(*path, value=..., drop=False):
        table = card_as_dict(sample_card())
        at = table
        for key in path[:-1]:
            at = at[key]
        if drop:
            del at[path[-1]]
        else:
            at[path[-1]] = value
        return table

    yield "charges.set_up", edit("charges", "set_up", value="-1.00")
    yield "charges.headworks", edit("charges", "headworks", drop=True)
    yield "charges.test_per_hour", edit("charges", "test_per_hour", value=180.0)
    yield "charges.colour", edit("charges", "colour", value="1.00")
    yield "costs.rig_and_crew_per_hour", edit("costs", "rig_and_crew_per_hour", drop=True)
    yield "costs.wear_per_metre.hard", edit("costs", "wear_per_metre", "hard", drop=True)
    yield "costs.currency", edit("costs", "currency", value="NZD")
    yield "drilling[1].medium", edit("drilling", 1, "medium", value="free")
    yield "drilling[0].diameter_mm", edit("drilling", 0, "diameter_mm", value=165.0)
    yield "drilling", edit("drilling", 1, "diameter_mm", value=165)
    yield "drilling", edit("drilling", value=[])
    yield "casing[2].per_metre", edit("casing", 2, "per_metre", value="1.005")
    yield "tax.rate", edit("tax", "rate", value="10")
    yield "rounding", edit("rounding", value="nearest")
    yield "currency", edit("currency", value="dollars")
    yield "round_total_to", edit("round_total_to", value="0.00")
    yield "format", edit("format", value=2)
    yield "invented", edit("invented", value="yes")


@pytest.mark.parametrize(("field", "table"), list(_broken()), ids=lambda v: v if isinstance(v, str) else "")
def test_bad_lines_are_refused_by_name(field, table):
    with pytest.raises(BadInput) as caught:
        card_from_dict(table)
    assert caught.value.field == field


def test_not_toml_is_refused():
    with pytest.raises(BadInput, match="is not TOML"):
        card_from_toml("name = ")


def test_a_size_that_the_card_does_not_list():
    card = sample_card()
    assert card.drilling_rates(0.170)[0] == 216
    with pytest.raises(BadInput, match="wider than any hole"):
        card.drilling_rates(0.350)
    with pytest.raises(BadInput, match="wider than any casing"):
        card.casing_rates(0.300)
