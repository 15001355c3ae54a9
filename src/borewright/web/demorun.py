"""Making the demo jobs from the first-run screen, in the background, with how far it is."""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass
from typing import Any

from borewright.errors import BorewrightError

__all__ = ["DemoRun", "DemoState"]


@dataclass(slots=True)
class DemoState:
    """How far the demo is: its fraction, what it is doing, its job once it is there, what went wrong."""

    running: bool = False
    done: float = 0.0
    doing: str = ""
    job: str = ""
    trouble: str = ""
    offered: bool = False


class DemoRun:
    """One run at a time."""

    def __init__(self) -> None:
        self.state = DemoState(offered=_offered())
        self._lock = threading.Lock()

    def begin(self, desk: Any) -> None:
        """Start, unless it runs or has run."""
        with self._lock:
            if self.state.running or self.state.job or not self.state.offered:
                return
            self.state.running, self.state.trouble = True, ""
        threading.Thread(target=self._run, args=(desk,), daemon=True, name="demo").start()

    def _run(self, desk: Any) -> None:
        from borewright.demo.jobs import make_demo

        def tell(done: float, doing: str) -> None:
            self.state.done, self.state.doing = done, doing

        try:
            self.state.job = str(make_demo(desk.book, desk.folder, progress=tell))
        except BorewrightError as error:
            self.state.trouble = str(error)
        except Exception:
            logging.getLogger(__name__).exception("the demo stopped")
            self.state.trouble = "The demo stopped on a fault of the program; its log says more."
        finally:
            self.state.running = False


def _offered() -> bool:
    from importlib.util import find_spec

    return find_spec("borewright.demo.jobs") is not None
