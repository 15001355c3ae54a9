"""Device clocks: how far off each was when it last sent, so that the history can name a clock that was wrong.

No clock decides the order of entries. A device says its own time with everything that it sends; what differs from this machine's
by more than a few seconds' travel is kept by device, in a file beside the settings, and laid against the entries received then.
"""

from __future__ import annotations

import contextlib
import json
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from borewright.errors import StoreError

__all__ = ["FAR", "Clocks", "clocks_of", "heard"]

FAR = 300.0  # s; a clock further off than this is named
_FILE = "device_clocks.json"
_MOST_DEVICES, _MOST_CHANGES = 200, 50
_LOCK = threading.Lock()


class Clocks:
    """What is known of each device's clock: when it was heard, and by how much it was ahead [s]."""

    def __init__(self, heard_by_device: dict[str, list[tuple[str, float]]]):
        self.heard = heard_by_device

    def off(self, entry: Any) -> float | None:
        """Return how far ahead (behind: negative) the clock that wrote an entry was [s], or None if nothing says it was far off.

        From what the device said when it sent the entry; else from the entry itself: nothing is received before it happens.
        """
        if entry.received is None:
            return None
        last = [offset for heard, offset in self.heard.get(entry.device, []) if datetime.fromisoformat(heard) <= entry.received]
        if last and abs(last[-1]) > FAR:
            return last[-1]
        ahead = (entry.at - entry.received).total_seconds()
        return ahead if ahead > FAR and not last else None


def clocks_of(folder: Path) -> Clocks:
    """Return what is known of the clocks; nothing where the file is absent or cannot be read."""
    try:
        kept = json.loads((Path(folder) / _FILE).read_text(encoding="utf-8"))
        return Clocks({str(d): [(str(h), float(o)) for h, o in rows if datetime.fromisoformat(str(h)).tzinfo] for d, rows in kept.items()})
    except (OSError, ValueError, TypeError, AttributeError):
        return Clocks({})


def heard(folder: Path, device: str, clock: str, now: datetime | None = None) -> None:
    """Take note of a device's time when it differs from what was heard last by over a minute; nonsense is passed over."""
    from borewright.storage.files import write_whole

    now = now or datetime.now(UTC)
    try:
        offset = (datetime.fromisoformat(clock) - now).total_seconds()
    except (ValueError, TypeError):
        return
    if not device or len(device) > 80:
        return
    with _LOCK:
        kept = clocks_of(folder).heard
        before = kept.get(device, [])
        if abs(offset - (before[-1][1] if before else 0.0)) <= 60:
            return
        kept.pop(device, None)
        kept[device] = [*before, (now.isoformat(), round(offset, 1))][-_MOST_CHANGES:]
        with contextlib.suppress(OSError, StoreError):  # a note of a clock is no reason to turn entries away
            write_whole(Path(folder) / _FILE, json.dumps(dict(list(kept.items())[-_MOST_DEVICES:])).encode())
