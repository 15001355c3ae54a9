"""Entries in words: what each kind is called and what one says, in the units that the firm reads."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from borewright.quantities import show
from borewright.record.bodies import read_body
from borewright.record.entries import Entry

__all__ = ["KIND_TITLES", "says", "shown_value"]

KIND_TITLES = {
    "enquiry.opened": "Job opened", "enquiry.customer": "Customer", "enquiry.need": "Need", "enquiry.site": "Site", "enquiry.closed": "Job closed",
    "ground.spot": "Spot picked", "ground.odds": "Odds told", "quote.issued": "Quote issued", "quote.accepted": "Quote accepted",
    "quote.varied": "Variation", "bore.design": "Design", "rig.day_started": "Day started", "rig.hole_started": "Hole started", "rig.bit": "Bit on",
    "rig.advanced": "Drilled to", "rig.ground": "Ground", "rig.struck": "Water struck", "rig.flow": "Flow measured", "rig.level": "Level dipped",
    "rig.casing": "Casing run", "rig.annulus": "Annulus filled", "rig.airlift": "Airlift reading", "rig.sample": "Sample", "rig.stopped": "Hole stopped",
    "rig.sealed_off": "Hole sealed", "rig.used": "Used", "rig.stood_by": "Stand-by", "rig.near_miss": "Near miss", "rig.photo": "Photo", "rig.note": "Note",
    "test.planned": "Test planned", "test.run": "Test run", "test.levels": "Test levels", "test.fitted": "Test fitted", "test.rated": "Rated yield", "pump.chosen": "Pump chosen",
    "pump.demand": "Water wanted", "pump.sun": "Sun pump", "pump.serviced": "Service", "pump.reading": "Reading",
    "water.analysis": "Water analysis", "papers.issued": "Paper issued", "struck_out": "Struck out",
}
_KINDS = {
    "flow": "flow", "standard_uncertainty": "flow", "rate": "flow", "depth": "depth", "from_depth": "depth", "to_depth": "depth", "intake_depth": "depth",
    "diameter": "diameter", "outside_diameter": "diameter", "wall": "diameter", "aperture": "diameter", "rod_length": "length",
    "distance_from_yard": "length", "pipe_run": "length", "lift_to_tank": "level", "elevation": "level", "depth_to_water": "level", "stick_up": "length",
    "static_level": "level", "pumping_level": "level", "radius": "length", "daily_volume": "volume", "volume": "volume", "bag_mass": "mass", "density": "density", "elapsed": "time",
    "duration": "time", "sand": "concentration", "conductivity": "conductivity", "temperature": "temperature", "air_flow": "air_flow",
    "air_pressure": "pressure", "ph": "pH", "need": "flow", "electricity_meter": "energy", "water_meter": "volume", "electric_power": "power",
}
_SKIPPED = {"typed", "hole", "content", "content_hash", "answer", "design", "result", "rating", "duty", "assessment", "readings", "attachment", "inputs", "plan", "source",
            "sha256", "inputs_sha256", "time", "drawdown"}
_FIRST = {"rig.advanced": "to_depth", "rig.struck": "depth"}


def shown_value(name: str, value: Any, system: str, typed: dict[str, str] | None = None) -> str:
    """Return one value as a person reads it: as it was typed where it was, else in the firm's units."""
    if typed and name in typed:
        return typed[name]
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)) and name in _KINDS:
        if _KINDS[name] == "length" and value >= 2000:
            return show(float(value), "length", unit="km" if system == "metric" else "mile", digits=3)
        return show(float(value), _KINDS[name], system=system, digits=4)
    if isinstance(value, (list, tuple)):
        return f"{len(value)} lines" if value and not isinstance(value[0], str) else ", ".join(map(str, value))
    if isinstance(value, dict):
        return ", ".join(k for k, v in value.items() if v) if all(isinstance(v, bool) for v in value.values()) else f"{len(value)} values"
    return str(value)


_SAID: dict[tuple[UUID, str], str] = {}  # an entry never changes, so neither does what it says


def says(entry: Entry, system: str = "metric") -> str:
    """Return what an entry says in one line; a kind from a newer program is shown as it came."""
    key = (entry.id, system)
    if key not in _SAID:
        if len(_SAID) > 50_000:
            _SAID.clear()
        _SAID[key] = _said(entry, system)
    return _SAID[key]


def _said(entry: Entry, system: str) -> str:
    body = read_body(entry.kind, entry.version, entry.body)
    if body is None:
        return "kept as it came from a newer version: " + ", ".join(f"{k} {v}" for k, v in list(entry.body.items())[:6])
    given = body.model_dump(exclude_defaults=True)
    typed = given.pop("typed", {})
    if entry.kind == "struck_out":
        return given.get("why") or "ruled through"
    sentence = _sentence(entry.kind, given, system, typed)
    if sentence:
        return sentence
    parts = [
        f"{name.replace('_', ' ')} {shown_value(name, value, system, typed)}"
        for name, value in given.items() if name not in _SKIPPED and value not in ("", None, (), {})
    ]
    return ", ".join(parts)


def _sentence(kind: str, given: dict[str, Any], system: str, typed: dict[str, str]) -> str:
    """Return the sentence of the kinds that are read most; nothing for the others."""
    def v(name: str) -> str:
        return shown_value(name, given[name], system, typed) if name in given else ""

    where = f"{v('from_depth') or '0 m'} to {v('to_depth')}" if "to_depth" in given else ""
    if kind == "rig.advanced":
        return v("to_depth")
    if kind == "rig.ground":
        return _join(where, v("words"), v("colour"), v("grain"), v("strength"), v("weathering"))
    if kind == "rig.struck":
        return _join(f"at {v('depth')}", v("note"))
    if kind == "rig.flow":
        doubt = f" ± {show(2 * given['standard_uncertainty'], 'flow', system=system, digits=2)}" if given.get("standard_uncertainty") else ""
        return f"{v('flow')}{doubt} by {v('method')} at {v('depth')}"
    if kind == "rig.level":
        return f"{v('depth_to_water')} below ground, {given.get('state', 'static')}"
    if kind == "rig.casing":
        return _join(where, f"{v('string')} {v('outside_diameter')}", v("material"), "slotted" if given.get("slotted") else "", f"{given['joints']} joints" if given.get("joints") else "")
    if kind == "rig.annulus":
        return _join(where, f"{v('what')}: {v('material')}", f"{given['bags']:g} bags" if given.get("bags") else "", v("density"))
    if kind == "rig.note":
        return given.get("text", "")
    if kind == "rig.photo":
        whose = " (place of the phone, not of the picture)" if given.get("place_of") == "phone" else ""
        within = f" within {show(given['place_within'], 'length', system=system)}" if given.get("place_within") else ""
        place = f"{given['latitude']:.5f}, {given['longitude']:.5f}{within}{whose}" if "latitude" in given and "longitude" in given else ""
        return _join(v("caption"), f"at {v('depth')}" if "depth" in given else "", place, f"file {given['attachment'][:12]}")
    if kind in ("rig.used",):
        return f"{given['quantity']:g} {given['unit']} {given['item']}"
    if kind == "ground.odds":
        return given.get("refused") or given.get("sentence") or f"from the register {given.get('register_name', '')}"
    if kind == "quote.issued":
        return f"{given['number']}, revision {given.get('revision', 1)}, stands until {given.get('valid_until', '')}"
    if kind in ("pump.demand", "pump.sun"):
        return str(given.get("answer", {}).get("sentence", ""))
    if kind == "pump.serviced":
        return _join(given["date"], given["what"], f"by {given['by']}" if given.get("by") else "")
    if kind == "test.planned":
        plan = given["plan"]
        return f"{show(plan['duration'], 'time', system=system)} at {show(plan['rate'], 'flow', system=system)}" if {"duration", "rate"} <= set(plan) else ""
    if kind == "papers.issued":
        return f"{given['document']}, {given.get('paper', 'A4')}, {given['sha256'][:12]}"
    return ""


def _join(*parts: str) -> str:
    return ", ".join(part for part in parts if part)
