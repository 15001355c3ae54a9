"""Zip files written the same for the same content, and read without trust: bounded sizes, plain names, nothing twice."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from typing import IO

from borewright.errors import BadInput

__all__ = ["MOST_UNPACKED", "member_bytes", "member_hash", "member_pieces", "open_zip", "put_member", "zip_of"]

MOST_UNPACKED = 2**31  # bytes of all members together, and of one
_EPOCH = (1980, 1, 1, 0, 0, 0)


def put_member(archive: zipfile.ZipFile, name: str, data: bytes, *, packed: bool = True) -> None:
    """Write one member with no clock and no owner in it."""
    info = zipfile.ZipInfo(name, _EPOCH)
    info.external_attr = 0o644 << 16
    info.create_system = 3
    archive.writestr(info, data, zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED)


def zip_of(members: Iterable[tuple[str, bytes]]) -> bytes:
    """Return a zip of (name, bytes): the same members give the same file."""
    import io

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in members:
            put_member(archive, name, data)
    return out.getvalue()


def open_zip(source: IO[bytes], *, most_members: int, most_bytes: int = MOST_UNPACKED, field: str = "file") -> zipfile.ZipFile:
    """Return an open zip whose list of members is sane; nothing is unpacked yet.

    Raises
    ------
    BadInput
        Not a zip; too many members; a path in a name; a link; a name twice; encrypted; unpacked sizes beyond the bound.
    """
    try:
        archive = zipfile.ZipFile(source)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise BadInput(field, str(error), "is not a zip file", "a zip as the program writes it") from None
    members, seen, total = archive.infolist(), set(), 0
    if len(members) > most_members:
        raise BadInput(field, len(members), "holds too many files", f"at most {most_members}")
    for info in members:
        # The name as it stands in the file: the library cuts `filename` at a zero byte.
        name = info.orig_filename
        parts = name.split("/")
        if "\\" in name or "\0" in name or ":" in name or name.startswith("/") or any(p in ("", ".", "..") for p in parts):
            raise BadInput(field, name, "holds a file whose name is a path to somewhere else", "plain names")
        if name in seen:
            raise BadInput(field, name, "holds the same name twice", "each name once")
        if info.external_attr >> 16 & 0o170000 == 0o120000:
            raise BadInput(field, name, "is a link to another file", "the file itself")
        if info.flag_bits & 1:
            raise BadInput(field, name, "is encrypted", "a zip without a password")
        seen.add(name)
        total += info.file_size
        if total > most_bytes:
            raise BadInput(field, total, "unpacks to too much", f"at most {most_bytes} bytes")
    return archive


@contextmanager
def _unpacking(name: str, field: str) -> Iterator[None]:
    try:
        yield
    except BadInput:
        raise
    except KeyError:
        raise BadInput(field, name, "is missing", f"a zip that holds {name}") from None
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise BadInput(field, name, f"cannot be unpacked: {error}", "a zip that is whole") from None


def member_bytes(archive: zipfile.ZipFile, name: str, *, most: int, field: str = "file") -> bytes:
    """Return a member's bytes, never more than `most`, whatever its header says."""
    with _unpacking(name, field), archive.open(name) as stream:
        data = stream.read(most + 1)
        if len(data) > most:
            raise BadInput(field, name, "unpacks to too much", f"at most {most} bytes")
        return data


def member_pieces(archive: zipfile.ZipFile, name: str, *, most: int, field: str = "file") -> Iterator[bytes]:
    """Yield a member's bytes a piece at a time and never more than `most`, so that what is read need not be held."""
    size = 0
    with _unpacking(name, field), archive.open(name) as stream:
        while piece := stream.read(2**18):
            size += len(piece)
            if size > most:
                raise BadInput(field, name, "unpacks to too much", f"at most {most} bytes")
            yield piece


def member_hash(archive: zipfile.ZipFile, name: str, *, most: int, field: str = "file") -> tuple[int, str]:
    """Return the size and SHA-256 of a member, read a piece at a time and never more than `most` bytes."""
    size, digest = 0, sha256()
    for piece in member_pieces(archive, name, most=most, field=field):
        size += len(piece)
        digest.update(piece)
    return size, digest.hexdigest()
