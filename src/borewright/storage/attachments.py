"""Photos and logger files, each kept under the SHA-256 of its content, so that a name can never lie about what it names."""

from __future__ import annotations

import re
from hashlib import sha256
from pathlib import Path

from borewright.errors import BadInput, NotFound
from borewright.storage.files import hash_of, write_whole

__all__ = ["attachment_path", "keep_attachment"]

_NAME = re.compile(r"^[0-9a-f]{64}$")


def attachment_path(folder: Path, name: str) -> Path:
    """Return where an attachment of that hash stands, whether or not it is there."""
    if not _NAME.match(name):
        raise BadInput("attachment", name, "is not the name of an attachment", "64 hexadecimal digits, a SHA-256")
    return folder / "attachments" / name[:2] / name


def keep_attachment(folder: Path, data: bytes) -> tuple[str, bool]:
    """Write the data whole under its hash, unless it is there already; return the hash and whether it is new."""
    if not data:
        raise BadInput("attachment", "", "is empty", "the bytes of a file")
    name = sha256(data).hexdigest()
    path = attachment_path(folder, name)
    # A file that has rotted on the disk is mended when the same bytes are sent again.
    if path.is_file() and path.stat().st_size == len(data) and hash_of(path) == name:
        return name, False
    write_whole(path, data)
    return name, True


def existing_attachment(folder: Path, name: str) -> Path:
    """Return the path of an attachment; raise NotFound if it has not arrived."""
    path = attachment_path(folder, name)
    if not path.is_file():
        raise NotFound(f"No attachment {name[:12]}… is kept here; a phone may still have it to send.")
    return path
