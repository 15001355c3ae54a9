"""Entries to and from rows of the table, and the chain that makes the loss of a row visible."""

from __future__ import annotations

import json
from datetime import datetime
from hashlib import sha256
from typing import Any
from uuid import UUID

from borewright.record.entries import Entry, EntryText

__all__ = ["CHAIN_START", "COLUMNS", "chained", "entry_of", "row_of_entry"]

CHAIN_START = "0" * 64


def chained(before: str, content: str) -> str:
    """Return the link of an entry: the SHA-256 of the link before it and of its own content hash."""
    return sha256((before + content).encode()).hexdigest()


# The columns of a row as it is first kept, in the order of `row_of_entry`.
COLUMNS = ("id", "job", "kind", "at", "by", "device", "counter", "version", "body", "strikes_out", "received", "hash", "chain")


def row_of_entry(entry: Entry, text: EntryText, received: str, before: str) -> tuple[Any, ...]:
    """Return the row of an entry as it is first kept: `text` is the entry written out, `received` the moment in UTC, `before` the last link of the chain."""
    own, job, at, body, strikes_out, content = text
    return (own, job, entry.kind, at, entry.by, entry.device, entry.counter, entry.version, body, strikes_out, received, content, chained(before, content))


def entry_of(row: Any) -> Entry:
    """Return the entry that a row holds."""
    return Entry(
        id=UUID(row.id), job=UUID(row.job), kind=row.kind, at=datetime.fromisoformat(row.at), by=row.by, device=row.device,
        counter=row.counter, body=json.loads(row.body), version=row.version,
        strikes_out=UUID(row.strikes_out) if row.strikes_out else None, received=datetime.fromisoformat(row.received), sequence=row.sequence,
    )
