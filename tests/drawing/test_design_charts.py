"""The charts of a design: curves stand where the numbers say, words stay apart, bad numbers are refused."""

from __future__ import annotations

import math
import re

import pytest

from borewright.drawing.designcharts import grading_chart, strength_chart
from borewright.errors import BadInput
from drawing.test_charts import circles
from drawing.test_living import boxes, meeting, words

SIZE = {"width": 460, "height": 300}
SIEVES, PASSING = [0.075e-3, 0.15e-3, 0.3e-3, 0.6e-3, 1.2e-3], [0.03, 0.15, 0.45, 0.8, 0.98]
ENVELOPE = [(0.1, 0.74e-3, 0.87e-3), (0.3, 0.98e-3, 1.15e-3), (0.6, 1.5e-3, 1.74e-3), (0.9, 2.25e-3, 2.63e-3)]


def profile(stage, pressure, resistance, required=1.5, string="production"):
    depth = [0.0, 20.0, 40.0]
    factor = [min(r / p, 99.0) if p else 99.0 for p, r in zip(pressure, resistance, strict=True)]
    return {"stage": stage, "string": string, "depth": depth, "pressure": pressure, "resistance": resistance, "factor": factor, "required": required, "source": ""}


PROFILES = [profile("grouting", [0.0, 2e5, 4e5], [9e5] * 3), profile("airlifting", [0.0, 1e5, 3e5], [4e5] * 3), profile("hanging", [3e6, 2e6, 1e6], [2.8e7] * 3)]


def test_the_ground_and_its_pack_stand_on_one_scale_of_size():
    svg = grading_chart([(SIEVES, PASSING)], ENVELOPE, aperture=0.8e-3, **SIZE)
    dots = circles(svg)
    assert len(dots) == 5
    # Each sieve is twice the one before, so on a logarithmic scale the dots stand evenly apart, each higher than the last.
    steps = [b[0] - a[0] for a, b in zip(dots, dots[1:], strict=False)]
    assert max(steps) - min(steps) < 0.2 and all(b[1] < a[1] for a, b in zip(dots, dots[1:], strict=False))
    # 0.6 to 1.2 mm has the envelope's finest D10 of 0.74 mm in it, log2(0.74 / 0.6) of the way.
    edge = re.search(r'd="M([\d.]+) ([\d.]+)L', svg)
    assert float(edge[1]) == pytest.approx(dots[3][0] + steps[0] * math.log2(0.74 / 0.6), abs=0.3)
    assert all(word in words(svg) for word in ("ground", "filter pack", "slot", "grain size, mm", "finer, %"))
    assert meeting(svg) == [] and all(box[0] >= -0.5 and box[2] <= 460.5 for box in (b[:4] for b in boxes(svg)))


def test_order_of_the_sieves_does_not_matter():
    backward = grading_chart([(SIEVES[::-1], PASSING[::-1])], **SIZE)
    assert circles(backward) == circles(grading_chart([(SIEVES, PASSING)], **SIZE))


@pytest.mark.parametrize("samples", [[], [([], [])], [([0.0, 1e-3], [0.1, 0.9])], [([1e-4, 1e-3], [0.1, 90.0])], [([1e-4], [0.1, 0.9])], [([1e-4, float("nan")], [0.1, 0.9])]])
def test_a_curve_that_is_none_is_refused(samples):
    with pytest.raises(BadInput):
        grading_chart(samples, **SIZE)


def test_the_stage_nearest_to_failing_is_drawn_against_depth():
    svg = strength_chart(PROFILES, "production", **SIZE)
    said = words(svg)
    assert "airlifting" in said and "kPa" in said and "depth, m" in said and "hanging" not in said  # 4/3 over 1.5 against 9/4 over 1.5
    assert "psi" in words(strength_chart(PROFILES, "production", units="US", **SIZE))
    with pytest.raises(BadInput, match="string"):
        strength_chart(PROFILES, "conductor", **SIZE)
