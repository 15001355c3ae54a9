"""What a hole at one place in an invented district would really meet, so that the demo's log is drilled and not made up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from borewright.demo.district import District

__all__ = ["TrueHole", "true_hole"]


@dataclass(frozen=True, slots=True)
class TrueHole:
    """The truth under one collar: strikes (depth [m], yield [m3/s]), ground (from, to [m], words), static level [m]."""

    longitude: float
    latitude: float
    strikes: tuple[tuple[float, float], ...]
    ground: tuple[tuple[float, float, str], ...]
    static_level: float
    rockhead: float

    def flow_at(self, depth: float) -> float:
        """Return what the hole gives when it is this deep [m3/s]."""
        return sum(flow for at, flow in self.strikes if at <= depth)


def true_hole(district: District, longitude: float, latitude: float, *, deepest: float, seed: int) -> TrueHole:
    """Return one draw of the district's truth under a collar; the same seed gives the same hole."""
    rng = np.random.default_rng(seed)
    where = np.array([longitude]), np.array([latitude])
    edges, expected = district.expected_strikes(*where)
    cumulative = np.concatenate(([0.0], np.cumsum(expected[0])))
    total = float(np.interp(deepest, edges, cumulative))
    depths = np.sort(np.interp(rng.uniform(0, total, rng.poisson(total)), cumulative, edges))
    yields = np.exp(district.log_yield_mean(*where)[0] + district.recipe.yield_sd * rng.standard_normal(len(depths))) * 1e-3
    ground = district.ground_log(longitude, latitude, deepest, rng)
    strikes = tuple((round(float(d), 1), float(q)) for d, q in zip(depths, yields, strict=True))
    first = strikes[0][0] if strikes else deepest
    static = round(float(min(first - 0.5, max(1.0, rng.normal(9, 3)))), 2)
    return TrueHole(longitude, latitude, strikes, ground, static, round(float(district.rockhead(*where)[0]), 1))
