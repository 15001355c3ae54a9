"""Pipe from what is printed on it, held to the standard's series; fittings as they are typed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import BadInput
from borewright.pumping import FITTINGS, pipe_of, pipe_wall, read_fittings, standard_pipe

# ISO 4427 polyethylene 100: outside diameter, wall [mm] in SDR 11 (PN 16) and SDR 17 (PN 10); from memory.
SERIES = ((32, 3.0, 2.0), (40, 3.7, 2.4), (50, 4.6, 3.0), (63, 5.8, 3.8), (75, 6.8, 4.5), (90, 8.2, 5.4), (110, 10.0, 6.6), (160, 14.6, 9.5))


@pytest.mark.parametrize(("size", "sixteen", "ten"), SERIES)
def test_the_wall_of_a_class_is_that_of_the_series_to_a_tenth_of_a_millimetre(size, sixteen, ten):
    for pressure, wall in ((1.6e6, sixteen), (1.0e6, ten)):
        assert pipe_wall(size / 1000, material="polyethylene", pressure_class=pressure) * 1000 == pytest.approx(wall, abs=0.1501)


def test_the_same_pipe_by_its_print_and_by_the_list():
    listed = standard_pipe("riser", flow=1e-3, length=40.0)
    printed = pipe_of("riser", material="polyethylene", outside_diameter=0.040, pressure_class=1.6e6, length=40.0)
    assert printed.inside_diameter == pytest.approx(listed.inside_diameter, abs=3e-4)
    assert printed.loss(1e-3) == pytest.approx(listed.loss(1e-3), rel=0.05)


@given(st.floats(0.02, 0.3), st.floats(2e5, 2.0e6), st.floats(1.05, 2.0), st.sampled_from(("polyethylene", "PVC-U")))
@settings(max_examples=60, derandomize=True)
def test_a_higher_class_never_has_a_thinner_wall(size, pressure, more, material):
    assert pipe_wall(size, material=material, pressure_class=pressure * more) >= pipe_wall(size, material=material, pressure_class=pressure)


@pytest.mark.parametrize(("given", "field"), [
    ({"material": "bamboo", "outside_diameter": 0.05, "pressure_class": 1e6}, "material"), ({"material": "steel", "outside_diameter": 0.05, "pressure_class": 1e6}, "wall"),
    ({"material": "PVC-U", "outside_diameter": 0.05}, "wall"), ({"material": "steel", "outside_diameter": 0.05, "wall": 0.024}, "wall"),
    ({"material": "PVC-U", "outside_diameter": -1.0, "pressure_class": 1e6}, "outside_diameter"),
])
def test_a_pipe_that_cannot_be_is_refused_by_its_field(given, field):
    with pytest.raises(BadInput) as caught:
        pipe_of("main", length=10.0, **given)
    assert caught.value.field == field and caught.value.want


def test_fittings_as_people_type_them():
    assert read_fittings("check valve 1, elbow 90 x 2; 3 gate valve open\nElbow 90") == {"check valve": 1, "elbow 90": 3, "gate valve open": 3}
    assert read_fittings("") == {} and all(read_fittings(name) == {name: 1} for name in FITTINGS)
    for bad in ("bend 2", "check valve 1000", "check valve -1"):
        with pytest.raises(BadInput) as caught:
            read_fittings(bad)
        assert caught.value.field == "fittings"
