"""Where the data lives: the platform's data folder, or the folder named by --home or BOREWRIGHT_HOME."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["data_folder"]


def data_folder(*parts: str) -> Path:
    """Return the data folder, or a folder inside it, made if it was not there."""
    named = os.environ.get("BOREWRIGHT_HOME")
    if named:
        base = Path(named).expanduser()
    else:
        from platformdirs import user_data_path

        base = user_data_path("borewright", appauthor=False)
    folder = base.joinpath(*parts)
    folder.mkdir(parents=True, exist_ok=True)
    return folder
