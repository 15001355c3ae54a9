"""INVENTED registers of the kind a government keeps: no strikes, half the yields blank, heaped figures, few dry holes, other bores than for water.

They are made by processes that the odds model does not assume: yields are drawn for whole bores, not strike by strike, and depth is
chosen by aquifer, purse or custom. No real place, bore or person.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from borewright.demo.district import _smooth_field
from borewright.siting import Register

KINDS = ("nothing told", "depth helps", "stopped when enough", "patches", "patches with own depth", "two programmes", "smooth", "nearly all enough")
_HEAPS = np.array([0.1, 0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200, 300, 500])  # US gallons a minute
_GALLON = 6.309e-5


@dataclass(frozen=True)
class Government:
    """How a register is made: kind, seed, bores in it, side of the square [m], share of yields left blank."""

    kind: str
    seed: int
    bores: int = 800
    side: float = 40_000.0
    blank: float = 0.5


def make_government(recipe: Government) -> Register:
    """Return the register of a recipe; the same recipe always gives the same register."""
    rng = np.random.default_rng([recipe.seed, KINDS.index(recipe.kind)])
    n, side = recipe.bores, recipe.side
    # Bores stand along roads and in villages, and some anywhere.
    villages = rng.uniform(0, side, (12, 2))
    at = villages[rng.integers(0, 12, n)] + rng.normal(0, 0.05 * side, (n, 2))
    away = rng.random(n) < 0.4
    at[away] = rng.uniform(0, side, (away.sum(), 2))
    x, y = np.clip(at, 0, side).T
    fields = [_smooth_field(rng, share * side) for share in (0.1, 0.2, 0.25)]
    patch = cKDTree(rng.uniform(0, side, (9, 2))).query(np.column_stack([x, y]))[1]
    by_patch, depth_by_patch = rng.normal(0, 1.0, 9), rng.normal(0, 0.5, 9)
    noise = rng.standard_normal(n)
    log_depth = np.log(60.0) + 0.45 * rng.standard_normal(n)
    log_gpm = np.log(6.0) + 1.2 * noise
    kind = recipe.kind
    if kind == "depth helps":
        log_gpm += 1.0 * (log_depth - np.log(60.0)) / 0.45
    elif kind == "stopped when enough":
        log_depth = np.log(60.0) + 0.2 * rng.standard_normal(n) - 0.35 * noise + 0.3 * fields[0](x, y)
        log_gpm += 0.4 * fields[1](x, y)
    elif kind == "patches":
        log_gpm += by_patch[patch]
    elif kind == "patches with own depth":
        log_gpm = np.log(6.0) + 0.9 * noise + 1.2 * by_patch[patch]
        log_depth = np.log(60.0) + 0.3 * rng.standard_normal(n) + depth_by_patch[patch] - 0.4 * by_patch[patch]
    elif kind == "two programmes":
        log_depth = np.log(60.0) + 0.3 * rng.standard_normal(n)
        log_gpm += 0.3 * fields[2](x, y)
    elif kind == "smooth":
        log_gpm = np.log(6.0) + 0.8 * noise + 0.9 * fields[1](x, y) + 0.3 * fields[0](x, y) + 0.3 * (log_depth - np.log(60.0)) / 0.45
    elif kind == "nearly all enough":
        log_gpm += 2.3 + 0.2 * fields[2](x, y)
    depth = np.exp(log_depth)
    tail = rng.random(n) < 0.03
    depth[tail] *= rng.uniform(1.5, 4.0, tail.sum())
    depth = np.where(rng.random(n) < 0.6, np.maximum(np.round(depth / 6.096), 1.0) * 6.096, depth)  # every 20 ft
    pumped = rng.random(n) < 0.2
    log_gpm = np.where(pumped, np.minimum(log_gpm, np.log(50.0)), log_gpm)  # what the test pump could lift
    flow = _HEAPS[np.abs(log_gpm[:, None] - np.log(_HEAPS)).argmin(axis=1)] * _GALLON
    wet = np.where(rng.random(n) < 0.3, 1, -1).astype(np.int8)
    dry = (log_gpm < np.log(0.2)) & (rng.random(n) < 0.5)
    blank = rng.random(n) < recipe.blank * (0.6 + 0.8 * (x < 0.5 * side))
    if kind == "two programmes":
        # One programme writes down what failed, the other what was tested; they worked in different places.
        survey = fields[0](x, y) + 0.3 * rng.standard_normal(n) > 0
        dry = survey & (log_gpm < np.log(3.0))
        blank = np.where(survey, True, blank)
        wet[survey] = 1
    watching = rng.random(n) < 0.15
    depth[watching], blank[watching], dry[watching], wet[watching] = rng.uniform(3, 20, watching.sum()).round(1), True, False, -1
    flow = np.where(blank, np.nan, flow)
    flow, wet = np.where(dry, np.nan, flow), np.where(dry, 0, wet).astype(np.int8)
    lon, lat = -30.0 + x / 100_000.0, -20.0 + y / 111_320.0
    first = rng.random(n) < 0.3
    level = np.where(rng.random(n) < 0.5, np.round(0.5 * depth * rng.random(n), 1), np.nan)
    return Register.of("invented", lon=lon.round(4), lat=lat.round(4), depth=depth.round(1), flow=flow, wet=wet, static_level=level,
                       first_water=np.where(first & ~dry, (depth * rng.uniform(0.3, 0.95, n)).round(1), np.nan))
