"""Files that are whole or absent."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["whole_file"]


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a path beside the wanted one to write to; it takes the wanted name when the block ends well, and is gone when it does not."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        yield part
        with open(part, "r+b") as file:
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
