"""What pumping a bore does elsewhere: drawdown at the bores nearby, water taken from a stream."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from borewright.errors import BadInput
from borewright.record.fold import Job
from borewright.work.facts import the_hole

__all__ = ["TIMES", "aquifer_of", "effects_of"]

BELIEVED_STORATIVITY = 5e-4  # the median that a rating believes in where no other bore was read
DAY = 86400.0
TIMES = (("1 day", DAY), ("30 days", 30 * DAY), ("100 days", 100 * DAY), ("1 year", 365.25 * DAY), ("10 years", 3652.5 * DAY))


def aquifer_of(job: Job) -> dict[str, Any]:
    """Return transmissivity [m2/s] and storativity of the last fit that has them, and whether the storativity is measured: read in another bore."""
    hole = the_hole(job)
    for test in reversed(list(hole.tests.values())):
        result = test.fitted.body.result if test.fitted else {}
        best = next((f for f in result.get("fits") or () if f.get("solution") == result.get("best")), None)
        held = (best or {}).get("parameters") or {}
        if "transmissivity_m2_per_d" in held:
            measured = any(not w.get("pumped", True) for w in result.get("wells") or ()) and "storativity" in held
            found = {"transmissivity": held["transmissivity_m2_per_d"]["value"] / DAY, "run": test.run.body.run, "measured": measured}
            return found | ({"storativity": held["storativity"]["value"]} if measured else {})
    return {}


def effects_of(job: Job, given: Mapping[str, Any], times: Sequence[tuple[str, float]]) -> dict[str, Any]:
    """Return the fall of level at each neighbour and the share of a stream in the pumping, at named times.

    `given` may hold rate [m3/s], transmissivity [m2/d], storativity, neighbours (rows of name and distance), allowed [m], stream_distance [m] and
    pumped_for [s], the pumping season after which the bore rests until the year is out; what is not given comes from the rating and the fit.

    Raises
    ------
    BadInput
        Neither a rate, a transmissivity, nor anything to look at is given or in the job.
    """
    from borewright.hydraulics import RateHistory, neighbour_interference, stream_depletion, stream_depletion_volume

    hole = the_hole(job)
    known = aquifer_of(job)
    rate = given.get("rate") or (hole.rated.body.flow if hole.rated else None)
    if not rate:
        raise BadInput("rate", None, "is neither given nor rated", "the mean flow pumped, such as 15 L/min")
    transmissivity = given["transmissivity"] / DAY if given.get("transmissivity") else known.get("transmissivity")
    if not transmissivity:
        raise BadInput("transmissivity", None, "is neither given nor fitted", "square metres a day, or a fitted test")
    storativity = given.get("storativity") or known.get("storativity") or BELIEVED_STORATIVITY
    guessed = not given.get("storativity") and "storativity" not in known
    neighbours = [(row["name"], row["distance"]) for row in given.get("neighbours") or ()]
    stream = given.get("stream_distance")
    if not neighbours and not stream:
        raise BadInput("neighbours", None, "are not given, and no stream", "bores nearby with their distances, or the distance of a stream")
    at = [t for _, t in times]
    ground = {"transmissivity": transmissivity, "storativity": storativity}
    rows = neighbour_interference(neighbours, rate=rate, times=at, allowed=given.get("allowed"), **ground)
    advisories = [{"severity": "doubt", "message": "The aquifer is taken as without end and the same everywhere; an edge deepens these falls, a leak or a river lessens them. "
                                                   "Where someone's supply hangs on it, ask the authority and measure."}]
    if guessed:
        advisories.append({"severity": "doubt", "message": f"The storativity is a guess ({storativity:g}): ten times less of it makes the fall reach three times as far in the same time."})
    answer = {"rate": rate, **ground, "storativity_guessed": guessed, "run": known.get("run", "") if not given.get("transmissivity") else "",
              "rows": [{"name": r.name, "distance": r.distance, "drawdown": list(r.drawdown), "within": r.within} for r in rows], "advisories": advisories}
    if stream:
        season = given.get("pumped_for")
        history: Any = rate
        if season:
            year = 365.25 * DAY
            if not 0 < season < year:
                raise BadInput("pumped_for", season, "is not a part of a year", "less than a year")
            years = int(max(at) // year) + 1
            history = RateHistory(tuple(k * year + part for k in range(years) for part in (0.0, season)), tuple(rate if part else 0.0 for _ in range(years) for part in (1, 0)))
        taken = stream_depletion(at, distance=stream, rate=history, **ground)
        volume = stream_depletion_volume(at, distance=stream, rate=history, **ground)
        answer["stream"] = [{"name": name, "rate": float(q), "share": float(q) / rate, "volume": float(v)} for (name, _), q, v in zip(times, taken, volume, strict=True)]
        advisories.append({"severity": "note", "message": "The stream is taken to cut the whole aquifer with an open bed: a real stream gives less, and gives it longer (Glover & Balmer 1954; Jenkins 1968)."})
    return answer
