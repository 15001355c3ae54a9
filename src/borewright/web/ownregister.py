"""The register of the firm's own finished bores, brought up to date beside the pages: none of them waits for it."""

from __future__ import annotations

import logging
import threading
from typing import Any

from fastapi import Request

from borewright.errors import BorewrightError
from borewright.web.acts import Desk
from borewright.web.present import desk_of

__all__ = ["keep_up"]


class _Keeper:
    """One refreshing at a time; none where no job was written in since the last."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._seen: Any = None
        self.thread: threading.Thread | None = None

    def look(self, desk: Desk) -> None:
        now = max((line.updated for line in desk.book.jobs()), default=None)
        with self._lock:
            if now is None or now == self._seen or (self.thread is not None and self.thread.is_alive()):
                return
            self._seen = now
            self.thread = threading.Thread(target=self._refresh, args=(desk,), daemon=True, name="own bores")
            self.thread.start()

    def _refresh(self, desk: Desk) -> None:
        from borewright.work.ownbores import refresh_own_bores

        try:
            refresh_own_bores(desk.book, desk.registers)
        except BorewrightError as error:
            logging.getLogger(__name__).warning("the register of the firm's own bores was not brought up to date: %s", error)
        except Exception:
            logging.getLogger(__name__).exception("the register of the firm's own bores was not brought up to date")


def keep_up(request: Request) -> None:
    """Bring the register up to date in a thread of its own, if a job was written in since it was looked at last."""
    state = request.app.state
    if not hasattr(state, "own_bores"):
        state.own_bores = _Keeper()
    state.own_bores.look(desk_of(request))
