"""Folding a job's entries into the job as it stands.

The same set of entries gives the same job whatever order they came in. Order between facts of one device is that device's
own counter. Between devices no clock is an authority, yet some order is needed: each device's clock is made to run forward
along its counter (an entry is never earlier than the one before it on the same device) and devices are merged by that,
ties by id. Both clocks, `at` and `received`, stay on every entry to be shown. Depths, not times, order what is in a hole.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from borewright.record import bodies as b
from borewright.record.entries import Entry

__all__ = ["Fact", "Hole", "Job", "Test", "fold", "in_depth_order", "in_order", "take"]

STAGES = ("enquiry", "ground", "quote", "bore", "rig", "test", "pump", "water", "papers")


@dataclass(frozen=True, slots=True)
class Fact:
    """A body with the entry that told it."""

    entry: Entry
    body: b.Body


@dataclass(slots=True)
class Test:
    """A test on the bore: how it was run, its levels, and what came of it."""

    __test__ = False
    run: Fact
    levels: list[Fact] = field(default_factory=list)
    fitted: Fact | None = None


@dataclass(slots=True)
class Hole:
    """One hole of the job as logged."""

    number: int
    started: Fact | None = None
    bits: list[Fact] = field(default_factory=list)
    advances: list[Fact] = field(default_factory=list)
    ground: list[Fact] = field(default_factory=list)
    strikes: list[Fact] = field(default_factory=list)
    flows: list[Fact] = field(default_factory=list)
    levels: list[Fact] = field(default_factory=list)
    casings: list[Fact] = field(default_factory=list)
    annulus: list[Fact] = field(default_factory=list)
    airlift: list[Fact] = field(default_factory=list)
    samples: list[Fact] = field(default_factory=list)
    used: list[Fact] = field(default_factory=list)
    stood_by: list[Fact] = field(default_factory=list)
    near_misses: list[Fact] = field(default_factory=list)
    photos: list[Fact] = field(default_factory=list)
    notes: list[Fact] = field(default_factory=list)
    stopped: Fact | None = None
    sealed_off: Fact | None = None
    tests: dict[str, Test] = field(default_factory=dict)
    planned: Fact | None = None
    rated: Fact | None = None
    pump: Fact | None = None
    sun: Fact | None = None
    services: list[Fact] = field(default_factory=list)
    readings: list[Fact] = field(default_factory=list)
    analyses: list[Fact] = field(default_factory=list)

    @property
    def depth(self) -> float:
        """Depth drilled so far [m]: the deepest thing that was logged."""
        reached = [f.body.to_depth for f in (*self.advances, *self.ground)] + [f.body.depth for f in self.strikes]
        if self.stopped:
            reached.append(self.stopped.body.depth)
        return max(reached, default=0.0)

    @property
    def last_flow(self) -> Fact | None:
        """The flow measured last, by the deepest and then the latest reading."""
        return max(enumerate(self.flows), key=lambda p: (p[1].body.depth, p[0]))[1] if self.flows else None

    @property
    def static_level(self) -> float | None:
        """The static level last dipped, below ground, negative when the bore flows [m]; None when none was dipped."""
        return next((f.body.depth_to_water for f in reversed(self.levels) if f.body.state == "static"), None)

    def strike_yields(self) -> list[tuple[float, float | None]]:
        """Return (depth [m], yield of that strike [m3/s] or None where no flow was measured), shallowest first.

        Flow is measured at the collar and counts every strike above, so a strike's yield is the rise from the highest flow
        measured above it to the last flow measured at or below it and above the next strike. A strike with no reading of its
        own is counted with the next one that has.
        """
        depths = sorted(f.body.depth for f in self.strikes)
        readings = sorted(((f.body.depth, f.body.flow) for f in self.flows), key=lambda r: r[0])  # of one depth, the later last
        answer: list[tuple[float, float | None]] = []
        for index, depth in enumerate(depths):
            following = depths[index + 1] if index + 1 < len(depths) else float("inf")
            here = [flow for at, flow in readings if depth <= at < following]
            before = max((flow for at, flow in readings if at < depth), default=0.0)
            answer.append((depth, max(0.0, here[-1] - before) if here else None))
        return answer


@dataclass(slots=True)
class Job:
    """A job as its entries tell it."""

    id: UUID
    opened: Fact | None = None
    customer: Fact | None = None
    need: Fact | None = None
    site: Fact | None = None
    demand: Fact | None = None
    closed: Fact | None = None
    spots: dict[str, Fact] = field(default_factory=dict)
    odds: list[Fact] = field(default_factory=list)
    quotes: list[Fact] = field(default_factory=list)
    acceptances: list[Fact] = field(default_factory=list)
    variations: list[Fact] = field(default_factory=list)
    designs: list[Fact] = field(default_factory=list)
    days: list[Fact] = field(default_factory=list)
    holes: dict[int, Hole] = field(default_factory=dict)
    papers: list[Fact] = field(default_factory=list)
    unknown: list[Entry] = field(default_factory=list)
    history: list[tuple[Entry, Entry | None]] = field(default_factory=list)  # every entry, and the one that struck it out

    @property
    def title(self) -> str:
        """The job's name."""
        return self.opened.body.title if self.opened else f"Job {str(self.id)[:8]}"

    @property
    def spot(self) -> Fact | None:
        """The spot last picked."""
        return list(self.spots.values())[-1] if self.spots else None

    @property
    def quote(self) -> Fact | None:
        """The quote last issued."""
        return self.quotes[-1] if self.quotes else None

    @property
    def accepted(self) -> Fact | None:
        """The acceptance of the quote last issued; an earlier revision that was accepted does not speak for a later one."""
        if self.quote is None:
            return None
        return next((f for f in self.acceptances if f.body.content_hash == self.quote.body.content_hash), None)

    @property
    def design(self) -> Fact | None:
        """The design last made."""
        return self.designs[-1] if self.designs else None

    @property
    def hole(self) -> Hole | None:
        """The hole last started or logged."""
        return self.holes[max(self.holes)] if self.holes else None

    @property
    def stage(self) -> str:
        """The furthest stage of the bore's life that the job has reached."""
        hole = self.hole
        reached = [
            ("papers", any(f.body.document in ("bore record", "handover pack", "invoice") for f in self.papers)), ("water", bool(hole and hole.analyses)),
            ("pump", bool(hole and hole.pump)), ("test", bool(hole and (hole.tests or hole.rated))), ("rig", bool(self.holes)),
            ("bore", bool(self.designs)), ("quote", bool(self.quotes)), ("ground", bool(self.spots or self.odds)),
        ]
        return next((name for name, there in reached if there), "enquiry")

    @property
    def outcome(self) -> str:
        """What became of the job so far: "open", "water", "no water" or "closed"."""
        hole = self.hole
        if hole and hole.sealed_off:
            return "no water"
        if hole and hole.stopped:
            # A conductor is run into every hole, dry ones too; production casing is not.
            cased = any(f.body.string == "production" for f in hole.casings)
            reason = hole.stopped.body.reason
            return "water" if reason == "enough water" or (cased and reason in ("depth agreed", "other")) else "no water"
        return "closed" if self.closed else "open"


def in_order(entries: Iterable[Entry]) -> list[Entry]:
    """Return the entries, each once, in the order described at the head of this module."""
    once = {e.id: e for e in entries}
    by_device: dict[str, list[Entry]] = {}
    for entry in once.values():
        by_device.setdefault(entry.device, []).append(entry)
    keyed: list[tuple[datetime, str, int, UUID, Entry]] = []
    for device, made in by_device.items():
        made.sort(key=lambda e: (e.counter, e.at, e.id))
        latest = made[0].at
        for entry in made:
            latest = max(latest, entry.at)
            keyed.append((latest, device, entry.counter, entry.id, entry))
    return [k[-1] for k in sorted(keyed, key=lambda k: k[:-1])]


def _struck(ordered: list[Entry]) -> dict[UUID, Entry]:
    """Return which entries are struck out, and by which.

    A bare strike-out ("struck_out") that is itself struck out strikes nothing: the reading stands again. A correction (an
    entry that says something and strikes out another) is a line that stays: correcting the correction must not bring the
    first mistake back. Entries that strike each other in a ring strike nothing: no reading is lost to a puzzle.
    """
    here = {e.id for e in ordered}
    aims = {e.id: e.strikes_out for e in ordered if e.strikes_out in here}
    for entry_id in _in_rings(aims):
        del aims[entry_id]
    strikers: dict[UUID, list[Entry]] = {}
    for entry in ordered:
        if entry.id in aims:
            strikers.setdefault(aims[entry.id], []).append(entry)
    # Without rings the strikes are a forest: from the entries that nothing strikes, each is settled after all its strikers.
    undecided = {key: len(by) for key, by in strikers.items()}
    ready = [e.id for e in ordered if e.id not in strikers]
    struck: dict[UUID, Entry] = {}
    while ready:
        aim = aims.get(ready.pop())
        if aim is None:
            continue
        undecided[aim] -= 1
        if undecided[aim] == 0:
            by = next((s for s in strikers[aim] if s.kind != "struck_out" or s.id not in struck), None)
            if by is not None:
                struck[aim] = by
            ready.append(aim)
    return struck


def _in_rings(aims: dict[UUID, UUID]) -> set[UUID]:
    """Return the entries that strike each other round in a ring."""
    seen: set[UUID] = set()
    rings: set[UUID] = set()
    for start in aims:
        path: dict[UUID, None] = {}
        at: UUID | None = start
        while at is not None and at not in seen and at not in path:
            path[at] = None
            at = aims.get(at)
        if at in path:
            walked = list(path)
            rings.update(walked[walked.index(at):])
        seen.update(path)
    return rings


_ONE = {"enquiry.opened": "opened", "enquiry.customer": "customer", "enquiry.need": "need", "enquiry.site": "site", "enquiry.closed": "closed", "pump.demand": "demand"}
_MANY = {
    "ground.odds": "odds", "quote.issued": "quotes", "quote.accepted": "acceptances", "quote.varied": "variations", "bore.design": "designs",
    "rig.day_started": "days", "papers.issued": "papers",
}
_HOLE_ONE = {"rig.hole_started": "started", "rig.stopped": "stopped", "rig.sealed_off": "sealed_off", "test.planned": "planned", "test.rated": "rated", "pump.chosen": "pump", "pump.sun": "sun"}
_HOLE_MANY = {
    "rig.bit": "bits", "rig.advanced": "advances", "rig.ground": "ground", "rig.struck": "strikes", "rig.flow": "flows", "rig.level": "levels",
    "rig.casing": "casings", "rig.annulus": "annulus", "rig.airlift": "airlift", "rig.sample": "samples", "rig.used": "used",
    "rig.stood_by": "stood_by", "rig.near_miss": "near_misses", "rig.photo": "photos", "rig.note": "notes", "water.analysis": "analyses",
    "pump.serviced": "services", "pump.reading": "readings",
}


def fold(entries: Iterable[Entry]) -> Job:
    """Return the job that the entries tell. Raises ValueError when there are none or they belong to several jobs."""
    ordered = in_order(entries)
    if len({e.job for e in ordered}) != 1:
        raise ValueError("fold takes the entries of one job")
    job = Job(id=ordered[0].job)
    struck = _struck(ordered)
    for entry in ordered:
        striker = struck.get(entry.id)
        job.history.append((entry, striker))
        if striker is not None:
            continue
        body = b.read_body(entry.kind, entry.version, entry.body)
        if body is None:
            job.unknown.append(entry)
        else:
            take(job, Fact(entry, body))
    for hole in job.holes.values():
        in_depth_order(hole)
    return job


def in_depth_order(hole: Hole) -> None:
    """Put what is in a hole in the order of its depths, readings while air-lifting by their time."""
    hole.advances.sort(key=lambda f: f.body.to_depth)
    hole.ground.sort(key=lambda f: (f.body.from_depth, f.body.to_depth))
    hole.strikes.sort(key=lambda f: f.body.depth)
    hole.casings.sort(key=lambda f: (-f.body.outside_diameter, f.body.from_depth))
    hole.annulus.sort(key=lambda f: f.body.from_depth)
    hole.airlift.sort(key=lambda f: f.body.elapsed)


def take(job: Job, fact: Fact) -> None:
    """Put one fact, later than all that is there, in its place in the job."""
    kind, body = fact.entry.kind, fact.body
    if kind in _ONE:
        setattr(job, _ONE[kind], fact)
    elif kind in _MANY:
        getattr(job, _MANY[kind]).append(fact)
    elif kind == "ground.spot":
        job.spots.pop(body.name, None)
        job.spots[body.name] = fact
    elif isinstance(body, b.HoleBody):
        hole = job.holes.setdefault(body.hole, Hole(body.hole))
        if kind in _HOLE_ONE:
            setattr(hole, _HOLE_ONE[kind], fact)
        elif kind in _HOLE_MANY:
            getattr(hole, _HOLE_MANY[kind]).append(fact)
        else:
            _take_test(hole, fact)


def _take_test(hole: Hole, fact: Fact) -> None:
    name = fact.body.run
    if fact.entry.kind == "test.run":
        if name in hole.tests:
            hole.tests[name].run = fact
        else:
            hole.tests[name] = Test(fact)
        return
    # Levels may arrive before the run that they belong to (two phones): hold them under a run with nothing said yet.
    test = hole.tests.get(name)
    if test is None:
        run = b.TestRun(run=name, type="constant rate", hole=fact.body.hole)
        test = hole.tests[name] = Test(Fact(fact.entry, run))
    if fact.entry.kind == "test.levels":
        test.levels.append(fact)
    else:
        test.fitted = fact
