"""The face of a package whose parts are loaded when one of their names is first asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any

__all__ = ["loaded_when_asked"]


def loaded_when_asked(package: str, parts: Mapping[str, Sequence[str]]) -> Callable[[str], Any]:
    """Return what a package's `__getattr__` is to be (PEP 562): it loads the part that holds a name.

    Parameters
    ----------
    parts : mapping of str to sequence of str
        Module of the package -> public names that it holds.
    """
    module_of = {name: module for module, names in parts.items() for name in names}

    def named(name: str) -> Any:
        if name not in module_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(f"{package}.{module_of[name]}"), name)

    return named
