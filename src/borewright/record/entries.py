"""The entry: one line of the job book, made once on a device and never changed."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from hashlib import sha256
from json.encoder import c_make_encoder
from json.encoder import encode_basestring as _quoted
from typing import Any, NamedTuple
from uuid import UUID

from pydantic_core import SchemaSerializer, SchemaValidator, core_schema

from borewright.errors import BadInput
from borewright.record.bodies import KINDS, validate_body
from borewright.record.quick import quick_door

__all__ = ["Entry", "EntryText", "as_texts", "checked_entry", "content_hash", "entry_from_json", "entry_to_json", "new_id"]

_JSON = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
# The same encoder made once: `encode` makes it anew at each call, which takes as long as a body does.
_pieces = c_make_encoder and c_make_encoder(None, _JSON.default, _quoted, None, ":", ",", True, False, False)
_read_uuid = SchemaValidator(core_schema.uuid_schema()).validate_python
_written = partial(SchemaSerializer(core_schema.any_schema()).to_python, mode="json")  # ids or moments as text, in a fifth of the time of `str`
_NEEDED = ("id", "job", "kind", "at", "by", "device", "counter")
_PARTS = {*_NEEDED, "body", "version", "strikes_out", "received", "sequence"}
_DOORS: dict[str, Callable[[Any], Entry] | None] = {}
_WORDS = re.compile(r"^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)?$")


def new_id(at: datetime | None = None) -> UUID:
    """Return a fresh UUID version 7 (RFC 9562 section 5.7): sortable by the clock of the device that made it."""
    milliseconds = int((at.timestamp() if at else time.time()) * 1000) & ((1 << 48) - 1)
    noise = int.from_bytes(os.urandom(10), "big")
    value = milliseconds << 80 | 0x7 << 76 | (noise >> 64 & 0xFFF) << 64 | 0b10 << 62 | noise & ((1 << 62) - 1)
    return UUID(int=value)


@dataclass(frozen=True, slots=True)
class Entry:
    """One fact about one job, as one device wrote it.

    Attributes
    ----------
    id : UUID
        Made on the device; the same id is the same entry for ever.
    job : UUID
        The job it belongs to.
    kind : str
        Such as "rig.struck"; see `borewright.record.bodies`. A kind that this version does not know is kept and shown.
    at : datetime
        When it happened by the device's clock, with its offset from UTC. No authority: see `borewright.record.fold`.
    by, device : str
        Who wrote it and on which device.
    counter : int
        The device's own count of its entries, which no clock can put out of order.
    body : dict
        What was recorded; SI floats, and under "typed" the text of each value as it was typed.
    version : int
        Format of the body; older formats are brought up when read and stay as they are in the store.
    strikes_out : UUID or None
        An entry that this one rules a line through; a body beside it is the correction. See `borewright.record.fold`.
    received, sequence
        When and in which order the store took it; set by the store.
    """

    id: UUID
    job: UUID
    kind: str
    at: datetime
    by: str
    device: str
    counter: int
    body: Mapping[str, Any] = field(default_factory=dict)
    version: int = 1
    strikes_out: UUID | None = None
    received: datetime | None = None
    sequence: int | None = None


def _uuid(value: Any, name: str) -> UUID:
    if isinstance(value, UUID):
        return value
    text = str(value)
    try:
        if len(text) == 36:  # as every device of ours writes it: five times as quick as `UUID`
            return _read_uuid(text)
    except ValueError:
        pass  # `UUID` takes more ways of writing it
    try:
        return UUID(text)
    except ValueError:
        raise BadInput(name, value, "is not a UUID", "32 hexadecimal digits such as 0192f1a2-…") from None


def _moment(value: Any, name: str) -> datetime:
    if isinstance(value, datetime):
        moment = value
    else:
        try:
            moment = datetime.fromisoformat(str(value))
        except ValueError:
            raise BadInput(name, value, "is not a date and time", "ISO 8601 with an offset, 2026-03-02T08:15:00+10:00") from None
    if moment.utcoffset() is None:
        raise BadInput(name, str(value), "has no offset from UTC", "ISO 8601 with an offset, 2026-03-02T08:15:00+10:00")
    if not 1900 <= moment.year <= 2200:
        raise BadInput(name, str(value), "is not in the life of a bore", "a year from 1900 to 2200")
    return moment


def entry_from_json(given: Mapping[str, Any]) -> Entry:
    """Return the entry that a JSON object holds, its body validated if its kind is known; raise BadInput otherwise."""
    kind = given.get("kind")
    if type(kind) is str:
        door = _DOORS.get(kind)
        if door is None and kind in KINDS and kind not in _DOORS:
            door = _DOORS[kind] = quick_door(kind, Entry)
        if door is not None:
            try:
                return door(given)
            except (ValueError, TypeError, RecursionError):
                pass  # not as our own devices write it; what is wrong, if anything is, is said below
    return _looked_at(given)


def _looked_at(given: Mapping[str, Any]) -> Entry:
    """Return the entry that a JSON object holds, taking every way of writing it; raise BadInput for the first thing that cannot stand."""
    if not given.keys() <= _PARTS:
        name = next(name for name in given if name not in _PARTS)
        raise BadInput(name, given[name], "is not a part of an entry", "one of " + ", ".join(sorted(_PARTS)))
    for name in _NEEDED:
        value = given.get(name)
        if value is None or value == "":
            raise BadInput(name, given.get(name), "is missing", "every entry carries id, job, kind, at, by, device and counter")
    kind = str(given["kind"])
    if kind not in KINDS and (not _WORDS.match(kind) or len(kind) > 60):
        raise BadInput("kind", kind, "is not the name of a kind", "stage.what in small letters, such as rig.struck")
    counter = given["counter"]
    if not isinstance(counter, int) or isinstance(counter, bool) or counter < 0 or counter >= 2**53:
        raise BadInput("counter", counter, "is not a count", "a whole number from 0")
    version = given.get("version", 1)
    if not isinstance(version, int) or isinstance(version, bool) or not 1 <= version < 10_000:
        raise BadInput("version", version, "is not a format version", "a whole number from 1")
    body = given.get("body", {})
    if not isinstance(body, Mapping):
        raise BadInput("body", body, "is not an object", "the fields of the kind")
    strikes_out = given.get("strikes_out")
    if kind == "struck_out" and not strikes_out:
        raise BadInput("strikes_out", None, "is missing", "the id of the entry that this one strikes out")
    if strikes_out and str(strikes_out) == str(given["id"]):
        raise BadInput("strikes_out", str(strikes_out), "is the entry itself", "the id of another entry of the job")
    received = given.get("received")
    return Entry(
        id=_uuid(given["id"], "id"), job=_uuid(given["job"], "job"), kind=kind, at=_moment(given["at"], "at"),
        by=_short(given["by"], "by"), device=_short(given["device"], "device"), counter=counter,
        body=validate_body(kind, version, body), version=version,
        strikes_out=_uuid(strikes_out, "strikes_out") if strikes_out else None,
        received=_moment(received, "received") if received else None, sequence=given.get("sequence"),
    )


def checked_entry(entry: Entry) -> Entry:
    """Return an entry made in this program after the same checks as one that came as JSON; raise BadInput otherwise."""
    return entry_from_json(entry_to_json(entry))


def _short(value: Any, name: str) -> str:
    text = str(value).strip()
    if not 0 < len(text) <= 120 or not text.isprintable():
        raise BadInput(name, value, "must have 1 to 120 letters that can be printed", "a name")
    return text


def entry_to_json(entry: Entry, *, stored: bool = True) -> dict[str, Any]:
    """Return the entry as plain JSON types; without what the store added unless `stored`."""
    plain: dict[str, Any] = {
        "id": str(entry.id), "job": str(entry.job), "kind": entry.kind, "at": entry.at.isoformat(), "by": entry.by,
        "device": entry.device, "counter": entry.counter, "version": entry.version, "body": dict(entry.body),
        "strikes_out": str(entry.strikes_out) if entry.strikes_out else None,
    }
    if stored:
        plain["received"] = entry.received.astimezone(UTC).isoformat() if entry.received else None
        plain["sequence"] = entry.sequence
    return plain


def content_hash(entry: Entry) -> str:
    """Return the SHA-256 of what the device wrote, the same however often and in whatever order it arrives."""
    return next(as_texts([entry])).hash


class EntryText(NamedTuple):
    """The parts of an entry that have to be written out, as text: `at` with the device's offset, `body` as canonical JSON; and the content hash."""

    id: str
    job: str
    at: str
    body: str
    strikes_out: str | None
    hash: str


_entry_text = partial(tuple.__new__, EntryText)  # as `EntryText._make`, without a call of Python for each


def as_texts(entries: Sequence[Entry]) -> Iterator[EntryText]:
    """Write entries out, once for the book and for the hash, which is over the same text within the canonical JSON of the entry.

    Canonical: names sorted, no spaces, letters as they are, `at` in UTC. The outer object is written out here, its ten names in order, and ids
    and moments are written for all the entries at once, because a phone sends thousands; tests/record holds it to what `json` makes of the whole.
    """
    ids, jobs = _written([entry.id for entry in entries]), _written([entry.job for entry in entries])
    moments, universal = _written([entry.at for entry in entries]), _written([entry.at.astimezone(UTC) for entry in entries])
    for entry, own, job, at, moment in zip(entries, ids, jobs, moments, universal, strict=True):
        body, struck = entry.body, entry.strikes_out
        if type(body) is not dict:
            body = dict(body)
        body = "".join(_pieces(body, 0)) if _pieces else _JSON.encode(body)
        moment = f"{moment[:-1]}+00:00"  # for the Z that it ends with
        if at[-1] == "Z" or at[17:19] != moment[17:19]:  # an offset of parts of a minute is no offset to pydantic's core
            at = entry.at.isoformat()
        by, device, kind, line = _quoted(entry.by), _quoted(entry.device), _quoted(entry.kind), f'"{struck}"' if struck else "null"
        text = (
            f'{{"at":"{moment}","body":{body},"by":{by},"counter":{entry.counter},"device":{device},'
            f'"id":"{own}","job":"{job}","kind":{kind},"strikes_out":{line},"version":{entry.version}}}'
        )
        yield _entry_text((own, job, at, body, str(struck) if struck else None, sha256(text.encode()).hexdigest()))
