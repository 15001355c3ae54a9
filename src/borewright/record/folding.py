"""A fold that is carried on: entries that come after all that is there are laid on the job as it stood, the rest is folded anew.

What comes out is what `fold` makes of all the entries (a property test holds it to that). A rig sends its log in batches, each later than the last;
folding the whole job for each of them would take time with the square of its length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from borewright.record.bodies import read_body
from borewright.record.entries import Entry
from borewright.record.fold import Fact, Hole, Job, fold, in_depth_order, take

__all__ = ["Folding", "carried_on", "folded"]

_Key = tuple[datetime, str, int, UUID]


@dataclass(frozen=True, slots=True)
class Folding:
    """A job, and what has to be known to lay more entries on it: each device's last count and clock, the last place in the order, and the ids there or aimed at.

    A folding is never changed: carrying it on makes another. The sets of ids are shared by all that come of one another and only ever grow,
    so an older one may know ids of a newer one; then it is folded anew, which is always right.
    """

    job: Job
    devices: dict[str, tuple[int, datetime]]
    last: _Key
    here: set[UUID]
    aimed: set[UUID]


def folded(entries: Sequence[Entry]) -> Folding:
    """Return the fold of all the entries of a job."""
    job = fold(entries)
    devices: dict[str, tuple[int, datetime]] = {}
    last: _Key | None = None
    for entry, _ in job.history:
        before = devices.get(entry.device)
        latest = max(before[1], entry.at) if before else entry.at
        devices[entry.device] = (entry.counter, latest)
        last = (latest, entry.device, entry.counter, entry.id)
    assert last is not None  # fold raises for no entries
    aimed = {entry.strikes_out for entry, _ in job.history if entry.strikes_out}
    return Folding(job, devices, last, {entry.id for entry, _ in job.history}, aimed)


def carried_on(before: Folding, entries: Sequence[Entry], new: Sequence[Entry]) -> Folding:
    """Return the fold of all the `entries` of a job, of which `new` are not in `before`."""
    keyed = _after(before, new)
    if keyed is None:
        return folded(entries)
    job = _copied(before.job)
    touched: set[int] = set()
    devices = dict(before.devices)
    for (latest, device, counter, _), entry in keyed:
        devices[device] = (counter, latest)
        before.here.add(entry.id)
        job.history.append((entry, None))
        body = read_body(entry.kind, entry.version, entry.body)
        if body is None:
            job.unknown.append(entry)
            continue
        number = getattr(body, "hole", None)
        if number is not None and number in job.holes and number not in touched:
            job.holes[number] = _copied_hole(job.holes[number])
        if number is not None:
            touched.add(number)
        take(job, Fact(entry, body))
    for number in touched:
        if number in job.holes:
            in_depth_order(job.holes[number])
    return Folding(job, devices, keyed[-1][0], before.here, before.aimed)


def _after(before: Folding, new: Sequence[Entry]) -> list[tuple[_Key, Entry]] | None:
    """Return the new entries in order with their keys, or None where one of them does more than come after all that is there."""
    if not new:
        return None
    made: dict[str, list[Entry]] = {}
    ids: set[UUID] = set()
    for entry in new:
        if entry.strikes_out or entry.job != before.job.id or entry.id in ids or entry.id in before.here or entry.id in before.aimed:
            return None
        ids.add(entry.id)
        made.setdefault(entry.device, []).append(entry)
    keyed = []
    for device, own in made.items():
        own.sort(key=lambda e: (e.counter, e.at, e.id))
        count, latest = before.devices.get(device, (-1, own[0].at))
        if own[0].counter <= count:
            return None
        for entry in own:
            latest = max(latest, entry.at)
            keyed.append(((latest, device, entry.counter, entry.id), entry))
    keyed.sort(key=lambda k: k[0])
    return keyed if keyed[0][0] > before.last else None


def _copied(one: Any) -> Any:
    """Return a dataclass with lists and mappings of its own, holding the same things."""
    own = {field.name: value.copy() for field in fields(one) if isinstance(value := getattr(one, field.name), (list, dict))}
    return replace(one, **own)


def _copied_hole(hole: Hole) -> Hole:
    copy = _copied(hole)
    copy.tests = {name: replace(test, levels=list(test.levels)) for name, test in hole.tests.items()}
    return copy
