"""Plain JSON out of the rig, and vectors that can be worked again by hand."""

import json
import math

import numpy as np
import pytest

from borewright.rig import (
    FLOW_METHODS,
    airlift,
    airlift_as_dict,
    cleaning_as_dict,
    cleaning_by_depth,
    development_as_dict,
    flow_vectors,
    track_development,
)


def test_plain_json():
    cleaning = cleaning_by_depth([50.0, 100.0], hole_diameter=0.165, rod_diameter=0.114, air_flow=0.3, compressor_pressure=2e6)
    told = [cleaning_as_dict(cleaning), airlift_as_dict(airlift(0.1, air_depth=60, static_level=10, specific_capacity=3e-4)), development_as_dict(track_development([0, 1, 2], [9, 8, 7]))]
    for one in told:
        assert json.loads(json.dumps(one, allow_nan=False)) == one
    assert told[0]["depth"] == [50.0, 100.0] and told[0]["advisories"][-1]["code"] == "compressed-air"
    assert told[2]["fitted"] == [None, None, None]


def test_vectors_reach_every_method_and_are_the_plain_equations():
    vectors = flow_vectors()
    assert {v["method"] for v in vectors} == set(FLOW_METHODS) and json.dumps(vectors, allow_nan=False)
    for v in vectors:
        r = v["readings"]
        if v["method"] == "bucket":
            assert v["flow"] == pytest.approx(r["volume"] / np.mean(r["fill_times"]), rel=1e-12)
        if v["method"] == "pipe trajectory" and not r.get("dry_depth"):
            assert v["flow"] == pytest.approx(math.pi / 4 * r["pipe_inside_diameter"] ** 2 * np.mean(r["throws"]) / math.sqrt(2 * r["drop"] / 9.80665), rel=1e-12)
        assert v["high"] - v["flow"] == pytest.approx(v["coverage_factor"] * v["standard_uncertainty"])
