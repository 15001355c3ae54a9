"""Hours by activity, from the taps alone: nobody starts or stops a clock at a rig.

A tap is made when a thing is done, so the time since the tap before it belongs to what the tap says. A stand-by says its own length; where it is
longer than the time since the last tap (it was written down late), the rest is taken back from what came before. Nights are left out: no span joins two
days. A gap of more than two hours that no stand-by explains is not laid on anything.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from borewright.record.entries import Entry
from borewright.record.fold import Job

__all__ = ["ACTIVITIES", "LONGEST_SPAN", "Span", "hours_by_activity", "time_spans"]

_ASIDE = frozenset({"rig.photo", "rig.note", "rig.used", "rig.near_miss", "rig.day_started"})
LONGEST_SPAN = 2 * 3600.0  # s; common sense, no source: a rod or a string takes less, and what is longer was a pause
DRILLING, STANDING, UNTOLD = "drilling", "standing by", "not told"
ACTIVITIES = (DRILLING, "measuring water", "casing", "grout and seal", "developing", STANDING, "the rest", UNTOLD)
_OF_KIND = {
    "rig.advanced": DRILLING, "rig.ground": DRILLING, "rig.struck": DRILLING, "rig.flow": "measuring water", "rig.level": "measuring water",
    "rig.sample": "measuring water", "rig.casing": "casing", "rig.annulus": "grout and seal", "rig.sealed_off": "grout and seal",
    "rig.airlift": "developing", "rig.stood_by": STANDING,
}


@dataclass(slots=True)
class Span:
    """Time between two taps of one day: when it began and ended, what it was spent on, and how long that was [s]."""

    began: datetime
    ended: datetime
    activity: str
    seconds: float
    hole: int


def _taps(job: Job) -> list[Entry]:
    """Return the standing rig entries in the order of their own times; what is written in the midst of other work tells no time."""
    return sorted(
        (e for e, striker in job.history if striker is None and e.kind.startswith("rig.") and e.kind not in _ASIDE),
        key=lambda e: e.at,
    )


def time_spans(job: Job) -> list[Span]:
    """Return what the time between taps was spent on, in order; a stand-by put in late takes its time from the spans before it."""
    spans: list[Span] = []
    before: Entry | None = None
    for entry in _taps(job):
        if before is not None and before.at.date() == entry.at.date():
            gap = (entry.at - before.at).total_seconds()
            hole = int(entry.body.get("hole", 1))
            activity = _OF_KIND.get(entry.kind, "the rest")
            if activity == STANDING:
                _stand(spans, before.at, entry, gap, hole)
            else:
                spans.append(Span(before.at, entry.at, activity if gap <= LONGEST_SPAN else UNTOLD, gap, hole))
        before = entry
    return spans


def _stand(spans: list[Span], began: datetime, entry: Entry, gap: float, hole: int) -> None:
    """Lay a stand-by on the time before it; what it leaves of its own gap is the rest."""
    given = entry.body.get("duration")
    wanted = gap if given is None else float(given)
    owed = max(0.0, wanted - gap)
    taken = 0.0
    for span in reversed(spans):
        if owed <= taken or span.began.date() != entry.at.date():
            break
        if span.activity != STANDING:
            part = min(span.seconds, owed - taken)
            span.seconds -= part
            taken += part
    if wanted < gap:
        spans.append(Span(began, entry.at, "the rest" if gap - wanted <= LONGEST_SPAN else UNTOLD, gap - wanted, hole))
    spans.append(Span(began, entry.at, STANDING, min(wanted, gap) + taken, hole))


def hours_by_activity(job: Job) -> list[dict[str, Any]]:
    """Return {"activity", "seconds", "share"} of each activity that the log tells of, in the order of ACTIVITIES."""
    sums: dict[str, float] = defaultdict(float)
    for span in time_spans(job):
        sums[span.activity] += span.seconds
    total = sum(sums.values())
    return [{"activity": a, "seconds": sums[a], "share": sums[a] / total} for a in ACTIVITIES if sums[a] > 0]
