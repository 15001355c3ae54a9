"""The web app: server-rendered pages, the JSON API, and the rig page that a phone keeps. It computes nothing.

What others call::

    create_app(book, settings_folder, *, access=None) -> FastAPI       access: borewright.web.guard.Access; loopback by default
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from borewright.web.app import create_app

__all__ = ["create_app"]


def __getattr__(name: str):
    if name == "create_app":
        return import_module("borewright.web.app").create_app
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
