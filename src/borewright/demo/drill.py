"""Drilling a demo hole: the truth of the district comes up the hole rod by rod, and the crew does what the rig card says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

import numpy as np

from borewright.demo.hole import TrueHole
from borewright.ground import classify
from borewright.work.onrig import measure_flow, what_now

if TYPE_CHECKING:
    from borewright.storage import JobBook

__all__ = ["Drilled", "drill"]

ROD = 3.0
MINUTES_PER_METRE = {"loose": 3.6, "soft": 4.4, "medium": 6.9, "hard": 9.5}  # invented pace of the invented rig
BUCKET = 0.020
START_OF_DAY = (
    "Overhead lines looked for and clear", "Buried services asked about and marked", "Hoses and whip checks sound",
    "First-aid kit and fire extinguisher at hand", "Exclusion zone marked",
)


@dataclass(frozen=True, slots=True)
class Drilled:
    """How the drilling ended: depth [m], flow at the collar [m3/s], what the rule said, and the clock."""

    depth: float
    flow: float
    action: str
    clock: datetime


def drill(
    book: JobBook, job: UUID, truth: TrueHole, *, by: str, start: datetime, deepest: float, seed: int, conductor: Callable[[datetime], datetime],
    conductor_depth: float, upper_bit: float, main_bit: float,
) -> Drilled:
    """Log a hole rod by rod under the job's stop rule; `conductor` is called once when its depth is reached."""
    rng = np.random.default_rng(seed)
    clock = start
    book.write_all(job, [
        ("rig.day_started", {"checks": dict.fromkeys(START_OF_DAY, True), "crew": ["driller", "offsider"]}),
        ("rig.hole_started", {"rig": "Rig 1 (invented)", "rod_length": ROD, "air_flow": 0.35, "air_pressure": 1.7e6}),
        ("rig.bit", {"diameter": upper_bit, "kind": "button bit", "from_depth": 0.0}),
    ], by=by, at=clock)
    depth, told, set_conductor, action = 0.0, 0.0, False, ""
    pace = float(np.exp(0.12 * rng.standard_normal()))
    while depth < deepest:
        if not set_conductor and depth >= conductor_depth:
            clock = conductor(clock)
            book.write(job, "rig.bit", {"diameter": main_bit, "kind": "button bit on down-hole hammer", "from_depth": depth}, by=by, at=clock)
            set_conductor = True
        below = min(depth + ROD, deepest)
        for top, end, words in truth.ground:
            metres = min(end, below) - max(top, depth)
            if metres <= 0:
                continue
            ground = classify(words)
            clock += timedelta(minutes=metres * MINUTES_PER_METRE[ground.drilling if ground else "medium"] * pace)
            if end <= below:
                book.write(job, "rig.ground", {"from_depth": top, "to_depth": end, "words": words, "ground_class": ground.name if ground else ""}, by=by, at=clock)
                told = end
        for at, _ in truth.strikes:
            if depth < at <= below:
                book.write(job, "rig.struck", {"depth": at}, by=by, at=clock)
        depth = below
        clock += timedelta(minutes=5)
        book.write(job, "rig.advanced", {"to_depth": depth, "rods": round(depth / ROD)}, by=by, at=clock)
        flow = truth.flow_at(depth)
        if flow > 0:
            times = [round(BUCKET / flow * float(np.exp(0.02 * rng.standard_normal())), 1) for _ in range(3)]
            measure_flow(book, job, "bucket", {"volume": BUCKET, "fill_times": times}, depth=depth, by=by, at=clock)
        now = what_now(book.job(job))
        action = now.action if now else ""
        if set_conductor and action and action != "drill":
            break
    words = next(w for top, end, w in truth.ground if top < depth <= end)
    if told < depth:
        ground = classify(words)
        book.write(job, "rig.ground", {"from_depth": told, "to_depth": depth, "words": words, "ground_class": ground.name if ground else ""}, by=by, at=clock)
    return Drilled(depth, truth.flow_at(depth), action, clock)
