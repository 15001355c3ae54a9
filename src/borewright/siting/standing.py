"""How the odds of a register stood in its own track record: kept beside it, and said with each answer."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from borewright.errors import Advisory
from borewright.quantities import show
from borewright.siting.register import Register

if TYPE_CHECKING:
    from borewright.siting.prove import Proof

__all__ = ["Standing", "carry_standings", "keep_standing", "standing_advisory", "standing_of"]

_FILE = "record.json"
_NEAR = 1.6  # needs that differ by no more than this are asked much the same
_KEPT = 24


@dataclass(frozen=True, slots=True)
class Standing:
    """What a track record found: need [m3/s], bores held out, share that had enough, and the scores of the odds and of the base rate (smaller is better)."""

    need: float
    bores: int
    share: float
    brier: float
    brier_base: float
    log_score: float
    log_score_base: float

    @property
    def better(self) -> bool:
        """Whether the odds beat the base rate by both scores."""
        return self.brier < self.brier_base and self.log_score < self.log_score_base

    @property
    def words(self) -> str:
        """The finding as a sentence."""
        about = f"This register's own track record ({self.bores} bores held out in blocks of ground, need {show(self.need, 'flow')}):"
        scores = f"log score {self.log_score:.3f} against {self.log_score_base:.3f}, Brier score {self.brier:.3f} against {self.brier_base:.3f}; smaller is better"
        if self.better:
            return f"{about} its odds beat the base rate, the plain share of its bores that had enough ({scores})."
        return f"{about} its odds have not beaten the base rate, by which {100 * self.share:.0f} in 100 of its bores with a known yield had enough ({scores})."

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain types, the need in L/s."""
        told = asdict(self)
        return {"need_lps": 1000.0 * told.pop("need")} | told | {"better": self.better}


def keep_standing(register: Register, proof: Proof) -> None:
    """Keep what a track record found with a register, and beside it where it was opened from a folder that can be written."""
    found = Standing(proof.need, proof.bores, proof.share, proof.brier_alone, proof.brier_base, proof.log_score_alone, proof.log_score_base)
    others = [one for one in _kept(register) if not np.isclose(one.need, found.need, rtol=1e-6)]
    all_of_them = [*others[1 - _KEPT :], found]
    register.__dict__["_standings"] = (None, all_of_them)
    path, stamp = _place(register)
    if path is None or stamp != _stamp(path.parent):  # loaded anew since: the record is of other bores
        return
    new = path.with_name(f"{path.stem}.{os.getpid()}.new")
    with suppress(OSError):
        new.write_text(json.dumps({"loaded": stamp, "records": [asdict(one) for one in all_of_them]}), encoding="utf-8")
        new.replace(path)


def carry_standings(of: Register, to: Register) -> None:
    """Let what a register's track record found stand for another as well: for the same bores and a few more."""
    to.__dict__["_standings"] = (None, list(_kept(of)))


def standing_of(register: Register, need: float) -> Standing | None:
    """Return the track record at about a need [m3/s], or None where none was worked out."""
    kept = _kept(register)
    if not kept:
        return None
    nearest = min(kept, key=lambda one: abs(np.log(one.need / need)))
    return nearest if abs(np.log(nearest.need / need)) <= np.log(_NEAR) else None


def standing_advisory(one: Standing) -> Advisory:
    """Return what a register's track record says of its odds."""
    if one.better:
        return Advisory("record-better", "note", one.words, "odds")
    return Advisory("record-no-better", "doubt", f"{one.words} Lean on that share and on what is known of the spot.", "odds")


def _place(register: Register) -> tuple[Path | None, Any]:
    home, stamp = register.__dict__.get("_home", (None, None))
    return (None if home is None else Path(home) / _FILE), stamp


def _stamp(home: Path) -> int | None:
    try:
        return (home / "about.json").stat().st_mtime_ns
    except OSError:
        return None


def _kept(register: Register) -> list[Standing]:
    """Return the records kept with a register, read again where the file has changed."""
    home, stamp = register.__dict__.get("_home", (None, None))
    seen, found = register.__dict__.get("_standings", (None, []))
    if home is None:
        return found
    try:
        now = os.stat(f"{home}/{_FILE}").st_mtime_ns  # asked with each answer: a path's own way takes ten times as long
    except OSError:
        return found
    if now != seen:
        try:
            data = json.loads((Path(home) / _FILE).read_text(encoding="utf-8"))
            found = [Standing(**one) for one in data["records"]] if data["loaded"] == stamp else []
        except (OSError, ValueError, KeyError, TypeError):
            found = []  # a record that cannot be read is worked out again when it is asked for
        register.__dict__["_standings"] = (now, found)
    return found
