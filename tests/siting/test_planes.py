"""Planes: made, measured and cut again, by another road than the code's."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.errors import OutOfDomain, Refused
from borewright.siting import apparent_dip, collars_cutting_two, cut_depths, plane_from_points, plane_from_strike


def test_three_points_by_the_normal_vector():
    points = np.array([[0.0, 0, 120], [400, 0, 80], [100, 300, 130]])
    normal = np.cross(points[1] - points[0], points[2] - points[0])
    normal *= np.sign(normal[2])
    plane = plane_from_points(points)
    assert plane.dip == pytest.approx(np.degrees(np.arccos(normal[2] / np.linalg.norm(normal))))
    assert plane.dip_direction == pytest.approx(np.degrees(np.arctan2(normal[0], normal[1])) % 360)
    assert plane.elevation_at(points[:, 0], points[:, 1]) == pytest.approx(points[:, 2])


def test_textbook_right_hand_rule():
    # A bed that falls 45 degrees to the east strikes north.
    plane = plane_from_points([[0, 0, 100], [0, 50, 100], [100, 0, 0]])
    assert (plane.strike, plane.dip, plane.dip_direction) == pytest.approx((0.0, 45.0, 90.0))
    # Along the strike nothing is seen to dip, across it all of it; at 30 degrees tan 45 x sin 30 = 0.5.
    assert [apparent_dip(45.0, a) for a in (0.0, 90.0, 30.0)] == pytest.approx([0.0, 45.0, np.degrees(np.arctan(0.5))])


@settings(max_examples=60, deadline=None, derandomize=True)
@given(strike=st.floats(0, 359.9), dip=st.floats(0.5, 80), seed=st.integers(0, 999))
def test_there_and_back(strike, dip, seed):
    plane = plane_from_strike(10.0, -20.0, 55.0, strike=strike, dip=dip)
    xy = np.random.default_rng(seed).uniform(-500, 500, (5, 2))
    again = plane_from_points(np.column_stack([xy, plane.elevation_at(xy[:, 0], xy[:, 1])]))
    assert again.dip == pytest.approx(dip, abs=1e-6)
    assert abs((again.strike - strike + 180) % 360 - 180) < 1e-5


def test_cuts_and_collars():
    level, falling = plane_from_strike(0, 0, 60.0, strike=0, dip=0), plane_from_strike(0, 0, 100.0, strike=0, dip=45)
    depths = cut_depths([level, falling], [30.0, -30.0], 0.0, 100.0)
    assert depths[0] == pytest.approx([40.0, 40.0])
    assert depths[1, 0] == pytest.approx(30.0) and np.isnan(depths[1, 1])
    found = collars_cutting_two(level, falling, elevation=100.0, depth=45.0, bounds=(-50, -10, 80, 10), spacing=10.0)
    assert found and all(0 <= c.easting <= 45 and c.first == pytest.approx(40) for c in found)
    assert max(found[0].first, found[0].second) == min(max(c.first, c.second) for c in found)


def test_nonsense():
    with pytest.raises(Refused):
        plane_from_points([[0, 0, 1], [1, 1, 2], [2, 2, 5]])
    for bad in ([[0, 0, 1], [1, 1, 2]], [[0, 0, np.nan], [1, 0, 2], [0, 1, 5]]):
        with pytest.raises(OutOfDomain):
            plane_from_points(bad)
    with pytest.raises(OutOfDomain):
        plane_from_strike(0, 0, 0, strike=0, dip=90)
    plane = plane_from_strike(0, 0, 0, strike=0, dip=10)
    with pytest.raises(OutOfDomain):
        collars_cutting_two(plane, plane, elevation=0, depth=10, bounds=(0, 0, -1, 1), spacing=1)
