"""The kinds of entry as a table for people: `python -m borewright.record.describe` prints the part of docs/jobbook.md that is made from the bodies."""

from __future__ import annotations

import re
from typing import Any, Literal, get_args, get_origin

from borewright.record.bodies import CURRENT_VERSION, KINDS

__all__ = ["kinds_document"]

# The unit is said where the name does not say it: SI throughout, as the head of `bodies` has it.
_KINDS_OF_VALUE = ((r"bool", "yes or no"), (r"dict", "named values"), (r"tuple", "list"), (r"Literal", "word"), (r"\bint\b", "whole number"), (r"\bfloat\b", "number"), (r"\bstr\b", "text"))


def kinds_document() -> str:
    """Return Markdown with a section for each kind of entry: its version, what it is for, and its fields."""
    parts = []
    for kind, body in KINDS.items():
        body.model_rebuild()
        parts.append(f"### `{kind}`, version {CURRENT_VERSION[kind]}\n")
        about = (body.__dict__.get("__doc__") or "").strip()
        if about:
            parts.append(" ".join(about.split()) + "\n")
        fields = {name: info for name, info in body.model_fields.items() if name != "typed"}
        rows = [f"| `{name}` | {_value(info)} | {_default(info)} |" for name, info in fields.items()]
        parts.append("\n".join(["| field | holds | when not given |", "|---|---|---|", *rows]) + "\n" if rows else "It holds nothing.\n")
    return "\n".join(parts)


def _value(info: Any) -> str:
    text = str(info.annotation)
    words = next((word for pattern, word in _KINDS_OF_VALUE if re.search(pattern, text)), "part")
    if "Literal" in text:
        words = "one of " + ", ".join(_choices(info.annotation))
    limits = _limits(info)
    return words + (f", {limits}" if limits else "")


def _choices(annotation: Any) -> list[str]:
    """Return the words of a Literal, wherever it stands in the annotation."""
    if get_origin(annotation) is Literal:
        return [str(word) for word in get_args(annotation)]
    return [word for part in get_args(annotation) for word in _choices(part)]


def _limits(info: Any) -> str:
    marks = list(info.metadata)
    for leaf in getattr(info.annotation, "__args__", ()):
        for part in getattr(leaf, "__metadata__", ()):
            marks += [part, *getattr(part, "metadata", ())]
    found = {name: getattr(m, name) for m in marks for name in ("ge", "gt", "le", "lt") if getattr(m, name, None) is not None}
    words = {"ge": "from", "gt": "above", "le": "to", "lt": "under"}
    return " ".join(f"{words[name]} {found[name]:g}" for name in ("ge", "gt", "le", "lt") if name in found)


def _default(info: Any) -> str:
    if info.is_required():
        return "needed"
    value = info.get_default(call_default_factory=True)
    return "nothing" if value in (None, "", (), {}) else f"`{value}`" if isinstance(value, (str, int, float, bool)) else "nothing"


if __name__ == "__main__":
    print(kinds_document())
