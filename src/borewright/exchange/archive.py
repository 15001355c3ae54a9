"""A firm's whole book in one zip that any program can read: JSON Lines, attachments by hash, and a manifest; it restores byte for byte.

Layout, version 1::

    manifest.json        {"format": "borewright archive", "version": 1, "made", "entries", "files": [{"name", "size", "sha256"}, ...]}
    entries.jsonl        one entry a line, in the order the store took them: the keys of `entry_to_json`, sorted, UTF-8, newline at the end
    attachments/HASH     each file that entries name, under the SHA-256 of its bytes
    README.txt           this, for whoever finds the file in thirty years
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from borewright.errors import BadInput
from borewright.exchange.jsonsafe import few_parts
from borewright.exchange.zips import member_bytes, member_hash, member_pieces, open_zip, put_member
from borewright.record import Entry, entry_from_json, entry_to_json
from borewright.record.bodies import LARGEST_BODY

__all__ = ["Archive", "attachments_named", "entry_line", "read_archive", "write_archive"]

FORMAT, VERSION = "borewright archive", 1
MOST_BYTES = 2**29  # of the entries, which are read line by line, and in memory at once of one attachment
LONGEST_LINE = 2 * LARGEST_BODY  # of an entry as it is written out: its body and who wrote it when
MOST_MEMBERS = 200_000
MOST_JOBS = 200_000
MOST_OF_A_JOB = 250_000  # entries: a rig's whole day is some hundreds, and a job is folded in memory
_README = """This is the archive of a book of bores. It is plain: no program is needed to read it.

entries.jsonl    every entry ever written, one JSON object a line, oldest first. Depths are metres below ground, flows m3/s, times
                 ISO 8601 with offset, money whole minor units. An entry with "strikes_out" rules a line through the entry it names.
attachments/     photos and logger files, each named by the SHA-256 of its bytes, as entries name them.
manifest.json    the size and SHA-256 of every file here.
"""


@dataclass(frozen=True, slots=True)
class Archive:
    """A checked archive: how many entries it holds, of which jobs, and the hashes of its attachments; what they hold is read when asked for."""

    path: Path
    made: str
    count: int
    jobs: tuple[UUID, ...]
    attachments: tuple[str, ...]

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every entry in order, all in memory at once: `each_entry` reads an archive of any size."""
        return tuple(self.each_entry())

    def each_entry(self) -> Iterator[Entry]:
        """Yield every entry in order, one in memory at a time; BadInput if the file has changed since it was checked."""
        with self.path.open("rb") as source, open_zip(source, most_members=MOST_MEMBERS) as archive:
            count = 0
            for entry in _entries(member_pieces(archive, "entries.jsonl", most=MOST_BYTES)):
                count += 1
                yield entry
        if count != self.count:
            raise BadInput("entries.jsonl", count, "holds another number of entries than when it was checked", "an archive that has not changed")

    def each_attachment(self) -> Iterator[tuple[str, bytes]]:
        """Yield (hash, bytes) of every attachment, one in memory at a time; BadInput if the file has changed since it was checked."""
        with self.path.open("rb") as source, open_zip(source, most_members=MOST_MEMBERS) as archive:
            for name in self.attachments:
                data = member_bytes(archive, f"attachments/{name}", most=MOST_BYTES)
                if sha256(data).hexdigest() != name:
                    raise BadInput("attachment", name, "does not hold what its name says", "an archive that has not changed")
                yield name, data


def entry_line(entry: Entry) -> bytes:
    """Return the one line that stands for an entry in an archive."""
    return json.dumps(entry_to_json(entry), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode() + b"\n"


def attachments_named(entries: Iterable[Entry]) -> list[str]:
    """Return the hashes of the attachments that entries name, each once, in order of first mention."""
    found: dict[str, None] = {}
    for entry in entries:
        name = entry.body.get("attachment")
        if isinstance(name, str) and len(name) == 64:
            found[name] = None
    return list(found)


def write_archive(
    entries: Iterable[Entry], attachments: Mapping[str, Path | bytes] | Iterable[tuple[str, Path | bytes]], stream: IO[bytes], *, made: datetime
) -> None:
    """Write an archive to a seekable stream; the same content and moment give the same bytes.

    Parameters
    ----------
    attachments : mapping or iterable of (SHA-256, path or bytes)
        Read one at a time.

    Raises
    ------
    BadInput
        An attachment whose bytes are not what its name says: an archive is never made of rot.
    """
    lines = io.BytesIO()
    count = 0
    for entry in entries:
        lines.write(entry_line(entry))
        count += 1
    files: list[dict[str, Any]] = []
    with zipfile.ZipFile(stream, "w", allowZip64=True) as archive:
        def put(name: str, data: bytes, *, packed: bool = True) -> None:
            put_member(archive, name, data, packed=packed)
            files.append({"name": name, "size": len(data), "sha256": sha256(data).hexdigest()})

        put("README.txt", _README.encode())
        put("entries.jsonl", lines.getvalue())
        for name, source in attachments.items() if isinstance(attachments, Mapping) else attachments:
            data = source if isinstance(source, bytes) else source.read_bytes()
            if sha256(data).hexdigest() != name:
                raise BadInput("attachment", name, "does not hold what its name says", "bytes whose SHA-256 is the name")
            put(f"attachments/{name}", data, packed=False)  # photos are packed already
        manifest = {"format": FORMAT, "version": VERSION, "made": made.isoformat(), "entries": count, "files": files}
        put_member(archive, "manifest.json", json.dumps(manifest, indent=1).encode() + b"\n")


def read_archive(path: Path) -> Archive:
    """Return an archive after every byte of it has been checked against the manifest and every entry against its kind.

    Raises
    ------
    BadInput
        The first thing that is not as it should be; nothing is returned then.
    """
    with path.open("rb") as source, open_zip(source, most_members=MOST_MEMBERS) as archive:
        manifest = _manifest(archive)
        listed = {f["name"]: f for f in manifest["files"]}
        there = {i.filename for i in archive.infolist()} - {"manifest.json"}
        if there != set(listed):
            odd = sorted(there ^ set(listed))[0]
            raise BadInput("manifest.json", odd, "is listed and missing, or there and not listed", "a manifest of exactly the files there")
        for name, said in listed.items():
            _check_bytes(archive, name, said)
        # One entry in memory at a time: half a gigabyte of small ones would be many times that as objects.
        count, jobs = 0, dict[UUID, int]()
        for entry in _entries(member_pieces(archive, "entries.jsonl", most=MOST_BYTES)):
            count += 1
            jobs[entry.job] = of_job = jobs.get(entry.job, 0) + 1
            if len(jobs) > MOST_JOBS:
                raise BadInput("entries.jsonl", len(jobs), "holds too many jobs", f"at most {MOST_JOBS}")
            if of_job > MOST_OF_A_JOB:
                raise BadInput("entries.jsonl", of_job, f"holds too many entries of the job {entry.job}", f"at most {MOST_OF_A_JOB}")
    if count != manifest["entries"]:
        raise BadInput("entries.jsonl", count, "holds another number of entries than the manifest", str(manifest["entries"]))
    names = tuple(n.partition("/")[2] for n in listed if n.startswith("attachments/"))
    return Archive(path, manifest["made"], count, tuple(jobs), names)


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    # A manifest says a name, a size and a hash for each file that the zip really has: it can be no longer than that.
    count = len(archive.infolist())
    data = member_bytes(archive, "manifest.json", most=4096 + 512 * count, field="manifest.json")
    few_parts(data, most=64 + 8 * count, field="manifest.json")
    try:
        manifest = json.loads(data)
    except (ValueError, RecursionError) as error:
        if isinstance(error, BadInput):
            raise
        raise BadInput("manifest.json", str(error)[:80], "is not JSON", "the manifest as it was written") from None
    want = f"format {FORMAT!r}, version {VERSION}"
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT or manifest.get("version") != VERSION:
        raise BadInput("manifest.json", str(manifest)[:80], "is not of this kind of archive, or is newer than this program", want)
    files, count, made = manifest.get("files"), manifest.get("entries"), manifest.get("made")
    if not isinstance(files, list) or isinstance(count, bool) or not isinstance(count, int) or not isinstance(made, str):
        raise BadInput("manifest.json", str(files)[:80], "does not list its files and entries", want)
    for one in files:
        if not (isinstance(one, dict) and isinstance(one.get("name"), str) and isinstance(one.get("size"), int) and isinstance(one.get("sha256"), str)):
            raise BadInput("manifest.json: files", str(one)[:80], "does not say a name, a size and a SHA-256", "all three for each file")
        name = one["name"]
        if name not in ("README.txt", "entries.jsonl") and name != f"attachments/{one['sha256']}":
            raise BadInput("manifest.json: files", name, "is not a file of an archive", "entries.jsonl, README.txt and attachments under their hash")
    if len({f["name"] for f in files}) != len(files) or "entries.jsonl" not in {f["name"] for f in files}:
        raise BadInput("manifest.json: files", len(files), "lists a file twice or lacks entries.jsonl", "each file once")
    return manifest


def _check_bytes(archive: zipfile.ZipFile, name: str, said: Mapping[str, Any]) -> None:
    size, digest = member_hash(archive, name, most=max(said["size"], 0))
    if (size, digest) != (said["size"], said["sha256"]):
        raise BadInput(name, digest, "is not what the manifest says", said["sha256"])


def _lines(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Yield each line without its end, one in memory at a time."""
    held = b""
    for piece in pieces:
        *lines, held = (held + piece).split(b"\n")
        yield from lines
        if len(held) > LONGEST_LINE:
            raise BadInput("entries.jsonl", len(held), "holds a line that is longer than any entry", f"at most {LONGEST_LINE} bytes")
    if held:
        raise BadInput("entries.jsonl", held[-40:].decode(errors="replace"), "breaks off in the middle of a line", "a file that is whole")


def _entries(pieces: Iterable[bytes]) -> Iterator[Entry]:
    for number, line in enumerate(_lines(pieces), 1):
        where = f"entries.jsonl line {number}"
        try:
            given = json.loads(line)
        except (ValueError, RecursionError) as error:
            raise BadInput(where, str(error)[:80], "is not JSON", "one entry a line") from None
        if not isinstance(given, dict):
            raise BadInput(where, str(given)[:80], "is not an object", "one entry a line")
        try:
            entry = entry_from_json(given)
        except BadInput as error:
            raise BadInput(f"{where}: {error.field}", error.value, error.problem, error.want) from None
        if entry_line(entry) != line + b"\n":
            raise BadInput(where, given.get("id"), "does not come back byte for byte", "an entry as the program writes it")
        yield entry
