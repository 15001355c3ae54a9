"""Work that a page would wait too long for: done in a thread, with how far it is, its answer kept for the next look."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

from borewright.errors import BadInput, BorewrightError

__all__ = ["Background", "Work", "background_of"]


@dataclass(slots=True)
class Work:
    """One piece of work: its fraction, what it is doing, and in the end its answer, or what is wrong."""

    done: float = 0.0
    doing: str = ""
    answer: Any = None
    trouble: str = ""
    wrong: BadInput | None = None
    over: threading.Event = field(default_factory=threading.Event)


class Background:
    """One piece of work at a time; the last answers are kept by their key."""

    KEPT = 12

    def __init__(self) -> None:
        self._works: dict[Hashable, Work] = {}
        self._lock = threading.Lock()
        self._one = threading.Lock()

    def work(self, key: Hashable, task: Callable[[Callable[[float, str], None]], Any], *, patience: float = 0.8) -> Work:
        """Return the work of a key, begun if it is new, after waiting a moment for it; `task` is given a function to tell how far it is."""
        with self._lock:
            if key not in self._works:
                while len(self._works) >= self.KEPT:
                    self._works.pop(next(iter(self._works)))
                self._works[key] = Work()
                threading.Thread(target=self._run, args=(self._works[key], task), daemon=True, name="background").start()
            work = self._works[key]
        work.over.wait(patience)
        return work

    def _run(self, work: Work, task: Callable[[Callable[[float, str], None]], Any]) -> None:
        def tell(done: float, doing: str) -> None:
            work.done, work.doing = done, doing

        try:
            with self._one:
                work.answer = task(tell)
        except BadInput as error:
            work.wrong = error
        except BorewrightError as error:
            work.trouble = str(error)
        except Exception:
            logging.getLogger(__name__).exception("work in the background stopped")
            work.trouble = "This stopped on a fault of the program; its log says more."
        finally:
            work.over.set()


def background_of(request: Any) -> Background:
    """Return the app's own background."""
    state = request.app.state
    if not hasattr(state, "background"):
        state.background = Background()
    return state.background
