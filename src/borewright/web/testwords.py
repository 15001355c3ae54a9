"""The parameters of a fitted test in words: name, value with its unit, and the interval, with an end that the test does not set said to be open."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from borewright.quantities import rounded

__all__ = ["face", "figure_words", "shown_derived", "shown_parameters"]

_FACES = {"_m2": "m²", "_m2_per_d": "m²/d", "_m_per_d": "m/d", "_m": "m", "_s": "s", "_d": "d"}


def face(key: str) -> str:
    """Return a parameter's key as words with its unit."""
    words, unit = _split(key)
    return words + (f", {unit}" if unit else "")


def _split(key: str) -> tuple[str, str]:
    suffix = max((s for s in _FACES if key.endswith(s)), key=len, default="")
    words = key.removesuffix(suffix).replace("_", " ")
    return words[:1].upper() + words[1:], _FACES.get(suffix, "")


def figure_words(value: float) -> str:
    """Return a figure to three digits, in powers of ten only where plain figures would hide its size."""
    if value == 0 or 1e-4 <= abs(value) < 1e7:
        return rounded(value, 3)
    mantissa, _, power = f"{value:.2e}".partition("e")
    return f"{mantissa.rstrip('0').rstrip('.')} × 10{''.join('⁻⁰¹²³⁴⁵⁶⁷⁸⁹'['-0123456789'.index(c)] for c in str(int(power)))}"


def shown_derived(fit: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return each figure that follows from a fit as (name, value with unit)."""
    rows = []
    for key, value in (fit.get("derived") or {}).items():
        words, unit = _split(key)
        rows.append((words, f"{figure_words(value)} {unit}".strip()))
    return rows


def shown_parameters(fit: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """Return each parameter of a fit, as results keep it, as (key, name, value with unit, interval in words).

    An end that only the search set, listed under "open_ends", is not given as a figure; fits kept before that list was show both ends.
    """
    rows, unset = [], fit.get("open_ends") or {}
    for key, told in (fit.get("parameters") or {}).items():
        value = told.get("value") if isinstance(told, Mapping) else None
        if not isinstance(value, int | float):
            continue
        words, unit = _split(key)
        low, high = told.get("low"), told.get("high")
        between = ""
        if isinstance(low, int | float) and isinstance(high, int | float) and low != high:
            below, above = ("low" in unset.get(key, ())), ("high" in unset.get(key, ()))
            between = ("the test does not tell" if below and above else f"at most {figure_words(high)}" if below else f"at least {figure_words(low)}" if above
                       else f"{figure_words(low)} to {figure_words(high)}")
        rows.append((key, words, f"{figure_words(value)} {unit}".strip(), between))
    return rows
