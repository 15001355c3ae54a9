"""Files that are whole or absent: written beside, flushed to the disk, then moved into place."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from hashlib import sha256
from pathlib import Path

from borewright.errors import StoreError

__all__ = ["flush_folder", "hash_of", "write_whole"]


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that a reader, or a power cut, finds the old content or the new and never a part. Raises StoreError where the disk is full."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with open(beside, "xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except BaseException as error:
        beside.unlink(missing_ok=True)
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise StoreError("The disk is full. Nothing was written.") from error
        raise
    flush_folder(path.parent)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder last; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    with contextlib.suppress(OSError):  # some network file systems refuse it
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file, read in pieces."""
    digest = sha256()
    with open(path, "rb") as file:
        while piece := file.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()
