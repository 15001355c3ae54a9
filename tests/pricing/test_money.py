"""Money: rounding against the decimal module (General Decimal Arithmetic, IEEE 754-2008 modes), exactness, currencies."""

import subprocess
import sys
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright import pricing
from borewright.errors import BadInput
from borewright.pricing.money import (
    Money,
    amounts,
    decimal_fraction,
    read_minor,
    round_ratio,
    round_to_step,
    show_minor,
)

MODES = {"half-even": ROUND_HALF_EVEN, "half-up": ROUND_HALF_UP, "up": ROUND_CEILING, "down": ROUND_FLOOR}


@pytest.mark.parametrize("rule", MODES)
@settings(max_examples=150, derandomize=True, deadline=None)
@given(top=st.integers(-10**15, 10**15), bottom=st.sampled_from([1, 2, 3, 5, 8, 10, 1000, 10**6]))
def test_rounding_matches_the_named_standard(rule, top, bottom):
    want = (Decimal(top) / Decimal(bottom)).quantize(Decimal(1), rounding=MODES[rule])
    assert round_ratio(top, bottom, rule) == int(want)
    assert round_ratio(np.array([top]), bottom, rule).tolist() == [int(want)]


def test_what_is_due_is_reckoned_without_what_simulates():
    code = """import sys
from borewright.pricing import Contract, Variation, WorkDone, bill_for, card_from_dict, show_minor
Contract(kind="per metre")
sys.exit(bool({"numpy", "scipy", "polars"} & set(sys.modules)))"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
    assert pricing.season is pricing.seasons.season and set(pricing.__all__) == {name for name in pricing.__all__ if hasattr(pricing, name)}


def test_ties_of_ieee_754():
    # IEEE 754-2008 section 4.3.1: roundTiesToEven and roundTiesToAway differ at ties only.
    halves = np.array([-5, -3, -1, 1, 3, 5])  # over 2
    assert round_ratio(halves, 2, "half-even").tolist() == [-2, -2, 0, 0, 2, 2]
    assert round_ratio(halves, 2, "half-up").tolist() == [-3, -2, -1, 1, 2, 3]


def test_amounts_are_exact_where_floats_are_not():
    # 1.005 m at 1.00 is 1.005: binary floats see 1.00499...; the tie goes to even (1.00), and away from zero to 1.01.
    assert int(amounts(1005, 100, "half-even")) == 100
    assert int(amounts(1005, 100, "half-up")) == 101
    assert int(amounts(33_333_333, 9999)) == int((Decimal(33_333_333) * 9999 / 1000).quantize(Decimal(1), ROUND_HALF_EVEN))
    assert int(round_to_step(12_350, 100)) == 12_400 and int(round_to_step(12_250, 100)) == 12_200


def test_reading_and_showing():
    assert read_minor("85.10", "AUD", field="x") == 8510
    assert read_minor(85, "AUD", field="x") == 8500
    assert read_minor("85", "JPY", field="x") == 85
    assert read_minor("0.125", "KWD", field="x") == 125
    assert show_minor(1_234_050, "AUD") == "AUD 12,340.50" and show_minor(1500, "JPY") == "JPY 1,500"


@pytest.mark.parametrize("bad", [85.1, "85.101", "-1", "nan", "inf", "ten", True, None, "1e12"])
def test_amounts_that_are_not_exact_are_refused_by_field(bad):
    with pytest.raises(BadInput) as caught:
        read_minor(bad, "AUD", field="charges.set_up")
    assert caught.value.field == "charges.set_up"


def test_currencies_do_not_mix():
    assert Money(100, "AUD") + Money(50, "AUD") == Money(150, "AUD")
    with pytest.raises(BadInput, match="does not mix"):
        Money(100, "AUD") + Money(100, "NZD")
    with pytest.raises(BadInput):
        Money(100, "aud")
    with pytest.raises(BadInput):
        Money(1.5, "AUD")
    with pytest.raises(BadInput):
        decimal_fraction("1.2", field="tax.rate")
    with pytest.raises(BadInput):
        round_ratio(np.array([1.5]), 2)
