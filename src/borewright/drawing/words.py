"""The words that stand in a drawing, in the language of whoever it is made for: English unless another tongue is set around the call.

A text is named by its English with `{name}` where a value stands; a tongue holds the same text in its own words. Papers set the tongue of
the firm with `speaking`; it is a context variable, so two threads may draw in two languages.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any

__all__ = ["Tongue", "figure", "say", "speaking", "spoken", "term"]


@dataclass(frozen=True, slots=True)
class Tongue:
    """A language for drawings: texts by their English, words of the job book, and how a figure is written.

    Tongues of one `code` say the same, so that a drawing made in one serves the other; a tongue without a code is on its own.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    terms: Callable[[str], str] = str
    figures: Callable[[str], str] = str
    code: str = ""


_ENGLISH = Tongue(code="drawn in English")
_SPOKEN: ContextVar[Tongue] = ContextVar("spoken")


def spoken() -> Tongue:
    """Return the tongue that is set."""
    return _SPOKEN.get(_ENGLISH)


@contextmanager
def speaking(tongue: Tongue) -> Iterator[None]:
    """Draw in a tongue while inside."""
    token = _SPOKEN.set(tongue)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def say(text: str, **values: Any) -> str:
    """Return a text of a drawing in the tongue that is set, with its values in place; a text that the tongue has not stays English."""
    said = spoken().texts.get(text, text)
    return said.format(**values) if values else said


def term(word: str) -> str:
    """Return a word of the job book (a string, a method, a filling, a reason, a ground class, a material) in the tongue that is set."""
    return spoken().terms(word)


def figure(text: str) -> str:
    """Return a figure written with a decimal point as the tongue that is set writes it."""
    return spoken().figures(text)
