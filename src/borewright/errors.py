"""The errors a person can meet, and the doubts that travel with a result."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

__all__ = [
    "Advisory",
    "BadInput",
    "BorewrightError",
    "Conflict",
    "NotFound",
    "OutOfDomain",
    "Refused",
    "StoreError",
    "require",
    "require_finite",
    "require_fraction",
    "require_non_negative",
    "require_positive",
]


class BorewrightError(Exception):
    """Base of every error that is meant to be read by a person."""


class BadInput(BorewrightError, ValueError):
    """Input that cannot be used: which field, what came, what is wrong with it, what would be right.

    The same four words travel to every door: one line on standard error and exit code 2 at the command line,
    HTTP 422 with ``{"error": {"field", "value", "problem", "want"}}`` in the API, a sentence beside the field in a form,
    a row in the refused-rows file of an import.
    """

    def __init__(self, field: str, value: Any, problem: str, want: str):
        self.field, self.value, self.problem, self.want = field, value, problem, want
        super().__init__(field, value, problem, want)

    def __str__(self) -> str:
        return f"{self.field}: {self.problem} (got {_shown(self.value)}; want {self.want})"

    def as_dict(self) -> dict[str, Any]:
        """Return the four words as plain JSON types."""
        value = self.value
        if isinstance(value, float) and not math.isfinite(value):
            value = str(value)
        elif not isinstance(value, (str, int, float, bool, type(None))):
            value = _shown(value)
        return {"field": self.field, "value": value, "problem": self.problem, "want": self.want}


class OutOfDomain(BadInput):
    """An argument of a calculation outside the values for which it has a meaning."""


class NotFound(BorewrightError, LookupError):
    """Something named does not exist."""


class Conflict(BorewrightError):
    """Two things that cannot both be true, such as one entry id with two contents."""


class Refused(BorewrightError):
    """A question that has no honest answer, with the reason in a sentence."""


class StoreError(BorewrightError):
    """The store could not read or keep what it was given."""


@dataclass(frozen=True, slots=True)
class Advisory:
    """A doubt or a danger that travels with a result and prints on the document.

    ``severity`` is "note" (worth knowing), "doubt" (outside a validity range, poor data) or "danger" (can hurt people).
    """

    code: str
    severity: Literal["note", "doubt", "danger"]
    message: str
    where: str = ""


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."


def require(condition: bool, field: str, value: Any, problem: str, want: str) -> None:
    """Raise OutOfDomain naming the field unless the condition holds."""
    if not condition:
        raise OutOfDomain(field, value, problem, want)


def _bad(field: str, value: Any, ok: Any, problem: str, want: str) -> None:
    import numpy as np

    array = np.asarray(value, dtype=float)
    mask = ok(np, array)
    if not np.all(mask):
        offending = float(array[~mask].flat[0]) if array.ndim else float(array)
        raise OutOfDomain(field, offending, problem if math.isfinite(offending) else "is not a finite number", want)


def require_finite(**values: Any) -> None:
    """Raise OutOfDomain unless every named scalar or array is finite throughout."""
    for field, value in values.items():
        if not (isinstance(value, (float, int)) and math.isfinite(value)):
            _bad(field, value, lambda np, a: np.isfinite(a), "is not a finite number", "a finite number")


def require_positive(**values: Any) -> None:
    """Raise OutOfDomain unless every named scalar or array is finite and above zero throughout."""
    for field, value in values.items():
        if not (isinstance(value, (float, int)) and 0.0 < value < math.inf):
            _bad(field, value, lambda np, a: np.isfinite(a) & (a > 0), "must be above zero", "a number above zero")


def require_non_negative(**values: Any) -> None:
    """Raise OutOfDomain unless every named scalar or array is finite and not below zero throughout."""
    for field, value in values.items():
        if not (isinstance(value, (float, int)) and 0.0 <= value < math.inf):
            _bad(field, value, lambda np, a: np.isfinite(a) & (a >= 0), "must not be below zero", "zero or more")


def require_fraction(**values: Any) -> None:
    """Raise OutOfDomain unless every named scalar or array lies from 0 to 1 throughout."""
    for field, value in values.items():
        if not (isinstance(value, (float, int)) and 0.0 <= value <= 1.0):
            _bad(field, value, lambda np, a: np.isfinite(a) & (a >= 0) & (a <= 1), "must lie from 0 to 1", "a fraction from 0 to 1")
