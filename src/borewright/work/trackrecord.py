"""The track record of a register that was just loaded, so that its first answer already says how far to trust it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from borewright.errors import Refused
from borewright.pricing import LEAST_USABLE_FLOW

if TYPE_CHECKING:
    from borewright.siting import Standing

__all__ = ["first_record"]

_MOST = 3000  # bores above which a track record is worked out only where it is asked for


def first_record(name: str, folder: Path | str, *, need: float = LEAST_USABLE_FLOW, progress: Callable[[str], None] = lambda step: None) -> Standing | None:
    """Hold a register's bores out in blocks at a need [m3/s], keep how the odds stood, and return it.

    Returns
    -------
    Standing or None
        None where the register is large (then it waits until it is asked for), or too thin to tell anything.

    Raises
    ------
    NotFound
        No register of that name.
    """
    from borewright.siting import open_register, prove, standing_of

    register = open_register(name, folder)
    found = standing_of(register, need)
    if found is None and len(register) <= _MOST:
        try:
            prove(register, need=need, blended=False, progress=progress)
        except Refused:
            return None
        found = standing_of(register, need)
    return found
