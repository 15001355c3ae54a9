"""Quantities inside sentences: a firm that works in feet reads feet, and what only looks like a length stays."""

import pytest

from borewright.papers.toldunits import in_firms_units
from borewright.quantities import from_si, parse


@pytest.mark.parametrize("told, said", [
    ("The level falls 4.1 m, give or take half.", "The level falls 13.5 ft, give or take half."),
    ("31 L/min, the most it was pumped; between 66.1 L/min and 101 L/min.", "8.19 US gpm, the most it was pumped; between 17.5 US gpm and 26.7 US gpm."),
    ("from 60 to 75 m", "from 197 to 246 ft"),
    ("3 % for each 1,200 m above the sea", "3 % for each 3937 ft above the sea"),
    ("Drilling 311 mm, loose ground", "Drilling 12.2 in, loose ground"),
])
def test_a_quantity_is_told_in_us_units(told, said):
    assert in_firms_units(told, "US") == said


@pytest.mark.parametrize("told", ["50 mg/L as nitrate", "1.5 m/s", "9 m²/d", "12 m2", "Q20 m", "12 h, 65 readings", "version 1.2 mm²", "none in 100 mL"])
def test_what_is_no_length_or_flow_stays(told):
    assert in_firms_units(told, "US") == told == in_firms_units(told, "metric")


def test_the_figure_is_that_of_the_units_and_french_figures_are_read():
    assert in_firms_units("4,1 m", "imperial", decimal=",", group="\u202f") == "13.5 ft"
    assert in_firms_units("31 L/min", "imperial") == f"{from_si(parse('31 L/min', 'flow').si, 'flow', 'imp gpm'):.3g} imp gpm"
