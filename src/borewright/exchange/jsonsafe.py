"""JSON counted before it is read: a few bytes of text can stand for a value that takes thirty times their room."""

from __future__ import annotations

from borewright.errors import BadInput

__all__ = ["few_parts"]


def few_parts(data: bytes | str, *, most: int, field: str = "file") -> None:
    """Raise BadInput where JSON has more lists, objects and values than `most`, without reading it; signs inside texts count too."""
    signs = (b",", b"[", b"{") if isinstance(data, bytes) else (",", "[", "{")
    count = sum(data.count(sign) for sign in signs)
    if count > most:
        raise BadInput(field, count, "has too many parts", f"at most {most}")
