"""Entries to and from rows of the table, and the chain that makes the loss of a row visible."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any
from uuid import UUID

from borewright.record.entries import Entry, content_hash

__all__ = ["CHAIN_START", "chained", "entry_of", "row_of_entry"]

CHAIN_START = "0" * 64
_BODY = json.JSONEncoder(sort_keys=True, allow_nan=False).encode


def chained(before: str, content: str) -> str:
    """Return the link of an entry: the SHA-256 of the link before it and of its own content hash."""
    return sha256((before + content).encode()).hexdigest()


def row_of_entry(entry: Entry, *, received: datetime, before: str) -> dict[str, Any]:
    """Return the row of an entry as it is first kept."""
    content = content_hash(entry)
    return {
        "id": str(entry.id), "job": str(entry.job), "kind": entry.kind, "at": entry.at.isoformat(), "by": entry.by, "device": entry.device,
        "counter": entry.counter, "version": entry.version, "body": _BODY(dict(entry.body)),
        "strikes_out": str(entry.strikes_out) if entry.strikes_out else None, "received": received.astimezone(UTC).isoformat(),
        "hash": content, "chain": chained(before, content),
    }


def entry_of(row: Any) -> Entry:
    """Return the entry that a row holds."""
    return Entry(
        id=UUID(row.id), job=UUID(row.job), kind=row.kind, at=datetime.fromisoformat(row.at), by=row.by, device=row.device,
        counter=row.counter, body=json.loads(row.body), version=row.version,
        strikes_out=UUID(row.strikes_out) if row.strikes_out else None, received=datetime.fromisoformat(row.received), sequence=row.sequence,
    )
