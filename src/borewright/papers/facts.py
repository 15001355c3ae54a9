"""What a form may ask of a job: named paths, each with its kind of quantity, and rows by column. Nothing else of a job can be reached."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from borewright.papers.wording import number
from borewright.record.fold import Fact, Hole, Job

if TYPE_CHECKING:
    from borewright.storage import Settings

__all__ = ["PATHS", "ROWS", "Source", "written_at"]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a form's facts come from: the job, the hole that the form is about, the firm."""

    job: Job
    hole: Hole
    settings: Settings

    @classmethod
    def of(cls, job: Job, settings: Settings) -> Source:
        """Return the source for the hole last logged, or for a hole with nothing in it."""
        return cls(job, job.hole or Hole(1), settings)


def _of(*names: str) -> Callable[[Source], Any]:
    """Return what walks from the source along attributes, through facts into their bodies, and gives None where there is nothing."""

    def get(source: Source) -> Any:
        value: Any = source
        for name in names:
            if value is None:
                return None
            value = getattr(value.body if isinstance(value, Fact) else value, name)
        return value

    return get


def _at(get: Callable[[Source], Fact | None]) -> Callable[[Source], Any]:
    def moment(source: Source) -> Any:
        fact = get(source)
        return fact.entry.at if fact else None

    return moment


def _last(name: str, *then: str) -> Callable[[Source], Any]:
    def get(source: Source) -> Any:
        facts = getattr(source.hole, name)
        value = facts[-1] if facts else None
        for step in then:
            value = None if value is None else getattr(value.body, step)
        return value

    return get


def _production(get: Callable[[list[Any]], Any]) -> Callable[[Source], Any]:
    def found(source: Source) -> Any:
        parts = [f.body for f in source.hole.casings if f.body.string == "production"]
        return get(parts) if parts else None

    return found


def _sealed_to(source: Source) -> float | None:
    return max((f.body.to_depth for f in source.hole.annulus if f.body.what in ("seal", "grout") and f.body.from_depth < 1.0), default=None)


def _widest(source: Source) -> float | None:
    return max((f.body.diameter for f in source.hole.bits), default=None)


def _rated(source: Source) -> float | None:
    rated = source.hole.rated
    if rated is None:
        return None
    return rated.body.flow if rated.body.flow is not None else number(rated.body.rating.get("flow"))


def _drillers(source: Source) -> str:
    hole = source.hole
    return ", ".join(dict.fromkeys(f.entry.by for f in (hole.started, *hole.ground, *hole.advances, hole.stopped) if f))


# path -> (kind of quantity, or text, date, degrees, whole; how it is got)
PATHS: dict[str, tuple[str, Callable[[Source], Any]]] = {
    "job.title": ("text", _of("job", "title")), "job.reference": ("text", _of("job", "opened", "reference")), "job.id": ("text", _of("job", "id")),
    "job.outcome": ("text", _of("job", "outcome")),
    "firm.name": ("text", _of("settings", "firm")), "firm.owner": ("text", _of("settings", "owner")), "firm.address": ("text", _of("settings", "address")),
    "firm.phone": ("text", _of("settings", "phone")), "firm.email": ("text", _of("settings", "email")), "firm.licence": ("text", _of("settings", "licence")),
    "customer.name": ("text", _of("job", "customer", "name")), "customer.phone": ("text", _of("job", "customer", "phone")),
    "customer.email": ("text", _of("job", "customer", "email")), "customer.address": ("text", _of("job", "customer", "address")),
    "need.flow": ("flow", _of("job", "need", "flow")), "need.daily_volume": ("volume", _of("job", "need", "daily_volume")), "need.use": ("text", _of("job", "need", "use")),
    "site.name": ("text", _of("job", "site", "name")), "site.access": ("text", _of("job", "site", "access")),
    "bore.latitude": ("degrees", lambda s: _of("latitude")(s.job.spot or s.job.site) if s.job.spot or s.job.site else None),
    "bore.longitude": ("degrees", lambda s: _of("longitude")(s.job.spot or s.job.site) if s.job.spot or s.job.site else None),
    "bore.elevation": ("level", _of("job", "spot", "elevation")),
    "hole.number": ("whole", _of("hole", "number")), "hole.depth": ("depth", lambda s: s.hole.depth or None), "hole.method": ("text", _of("hole", "started", "method")),
    "hole.started_on": ("date", _at(_of("hole", "started"))), "hole.stopped_on": ("date", _at(_of("hole", "stopped"))),
    "hole.reason": ("text", _of("hole", "stopped", "reason")), "hole.reason_words": ("text", _of("hole", "stopped", "words")), "hole.drillers": ("text", _drillers),
    "hole.diameter": ("diameter", _widest), "hole.static_level": ("level", _of("hole", "static_level")),
    "hole.flow": ("flow", _of("hole", "last_flow", "flow")), "hole.flow_method": ("text", _of("hole", "last_flow", "method")), "hole.rated_flow": ("flow", _rated),
    "hole.first_water": ("depth", lambda s: min((f.body.depth for f in s.hole.strikes), default=None)), "hole.sealed_to": ("depth", _sealed_to),
    "hole.sealed_off_on": ("date", _at(_of("hole", "sealed_off"))),
    "casing.outside_diameter": ("diameter", _production(lambda p: max(b.outside_diameter for b in p))), "casing.depth": ("depth", _production(lambda p: max(b.to_depth for b in p))),
    "casing.material": ("text", _production(lambda p: p[0].material)), "casing.wall": ("diameter", _production(lambda p: p[0].wall)),
    "casing.slotted_from": ("depth", _production(lambda p: min((b.from_depth for b in p if b.slotted), default=None))),
    "casing.slotted_to": ("depth", _production(lambda p: max((b.to_depth for b in p if b.slotted), default=None))),
    "pump.name": ("text", _of("hole", "pump", "name")), "pump.intake": ("depth", _of("hole", "pump", "intake_depth")),
    "sample.conductivity": ("conductivity", _last("samples", "conductivity")), "sample.ph": ("pH", _last("samples", "ph")),
    "sample.temperature": ("temperature", _last("samples", "temperature")), "sample.bottle": ("text", _last("samples", "bottle")),
    "analysis.laboratory": ("text", _last("analyses", "laboratory")), "analysis.sampled_on": ("text", _last("analyses", "sampled_on")),
}


def _strikes(source: Source) -> Iterable[dict[str, Any]]:
    return ({"depth": depth, "flow": gain} for depth, gain in source.hole.strike_yields())


def _bodies(name: str) -> Callable[[Source], Iterable[dict[str, Any]]]:
    return lambda source: (dict(f.body) | {"at": f.entry.at} for f in getattr(source.hole, name))


def _sealing(source: Source) -> Iterable[dict[str, Any]]:
    return (dict(i) for i in source.hole.sealed_off.body.intervals) if source.hole.sealed_off else ()


def _values(source: Source) -> Iterable[dict[str, Any]]:
    return (dict(v) for v in source.hole.analyses[-1].body.values) if source.hole.analyses else ()


_SPAN = {"from_depth": "depth", "to_depth": "depth"}
# path -> (columns with their kinds, how the rows are got)
ROWS: dict[str, tuple[dict[str, str], Callable[[Source], Iterable[dict[str, Any]]]]] = {
    "hole.ground": (_SPAN | {"words": "text", "ground_class": "text", "colour": "text", "grain": "text", "strength": "text", "weathering": "text"}, _bodies("ground")),
    "hole.strikes": ({"depth": "depth", "flow": "flow"}, _strikes),
    "hole.flows": ({"depth": "depth", "flow": "flow", "method": "text", "at": "date"}, _bodies("flows")),
    "hole.levels": ({"depth_to_water": "level", "state": "text", "at": "date"}, _bodies("levels")),
    "hole.casings": (_SPAN | {"string": "text", "outside_diameter": "diameter", "wall": "diameter", "material": "text", "joints": "whole", "aperture": "diameter"}, _bodies("casings")),
    "hole.annulus": (_SPAN | {"what": "text", "material": "text", "bags": "number", "bag_mass": "mass", "density": "density", "volume": "volume"}, _bodies("annulus")),
    "hole.sealing": (_SPAN | {"material": "text", "bags": "number", "volume": "volume"}, _sealing),
    "hole.bits": ({"diameter": "diameter", "from_depth": "depth", "kind": "text"}, _bodies("bits")),
    "analysis.values": ({"name": "text", "value": "number", "unit": "text"}, _values),
}

_WRITTEN_AT = {
    "firm": "settings", "job": "enquiry", "customer": "enquiry", "need": "enquiry", "site": "enquiry", "bore": "ground", "hole": "rig", "casing": "rig", "sample": "rig",
    "hole.rated_flow": "test", "pump": "pump", "analysis": "water",
}


def written_at(path: str) -> str:
    """Return where a person writes down what a path asks for: a stage of the job, or "settings"."""
    return _WRITTEN_AT.get(path) or _WRITTEN_AT[path.partition(".")[0]]
