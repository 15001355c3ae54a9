"""One file that holds everything and has been read back: written beside, verified, then moved into place.

A backup is a zip with a manifest of SHA-256: the database as one consistent moment, attachments, settings, rate cards,
registers and papers. Passphrases travel in it only as argon2 hashes; open sessions do not travel.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path, PurePosixPath
from typing import IO, TYPE_CHECKING, Any

import sqlalchemy as sa

from borewright.errors import Conflict, NotFound, StoreError
from borewright.storage import tables as t
from borewright.storage.engine import make_engine, reading, writing
from borewright.storage.files import flush_folder
from borewright.storage.migrate import bring_up_to_date

if TYPE_CHECKING:
    from borewright.storage.jobbook import JobBook

__all__ = ["Restored", "backup", "backup_if_due", "restore", "verify_backup"]

FORMAT = 1
DATABASE = "job_book.sqlite"
MANIFEST = "manifest.json"
KEPT = ("settings.toml", "rate_cards", "attachments", "registers", "papers", "forms", "design.json", "casing_supplier.toml", "yard.csv", "column-maps")
_NIGHTLY = re.compile(r"^nightly-(\d{4}-\d{2}-\d{2})\.zip$")


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore brought back, and where what stood there before was put."""

    folder: Path
    entries: int
    jobs: int
    attachments: int
    made: str
    set_aside: Path | None


def backup(book: JobBook, path: Path, *, replace: bool = False) -> Path:
    """Write a backup, read it back whole, and only then give it its name; in a folder it is named by the time.

    Raises Conflict if the file exists, unless `replace`.
    """
    path = Path(path)
    if path.is_dir():
        path = path / f"borewright-{datetime.now():%Y%m%d-%H%M%S}.zip"
    if path.exists() and not replace:
        raise Conflict(f"{path} is there already. Nothing was written.")
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with tempfile.TemporaryDirectory(prefix=".borewright-backup-", dir=path.parent) as room:
            copy = Path(room) / DATABASE
            _copy_database(book.engine, copy)
            _write(beside, copy, book.folder)
        verify_backup(beside)
        os.replace(beside, path)
    except OSError as error:
        raise StoreError(f"The backup could not be written to {path.parent}: {error.strerror or error}. No backup was made.") from error
    finally:
        beside.unlink(missing_ok=True)
    flush_folder(path.parent)
    return path


def _copy_database(engine: sa.Engine, copy: Path) -> None:
    """Copy the database as it stands at one moment, while others may write to it."""
    if engine.dialect.name == "sqlite":
        source = engine.raw_connection()
        try:
            with closing(sqlite3.connect(copy)) as target:
                source.driver_connection.backup(target)
        finally:
            source.close()
    else:
        _copy_rows(engine, copy)
    with closing(sqlite3.connect(copy)) as target:
        target.execute("PRAGMA journal_mode = DELETE")
        if target.execute("SELECT 1 FROM sqlite_master WHERE name = 'sessions'").fetchone():
            target.execute("DELETE FROM sessions")
        target.commit()
        target.execute("VACUUM")


def _copy_rows(engine: sa.Engine, copy: Path) -> None:
    target = make_engine(copy)
    try:
        bring_up_to_date(target)
        with reading(engine) as source, writing(target) as kept:
            for table in t.metadata.sorted_tables:
                rows = [row._asdict() for row in source.execute(sa.select(table))]
                if rows:
                    kept.execute(sa.insert(table), rows)
    finally:
        target.dispose()


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    for name in KEPT:
        top = folder / name
        if top.is_file():
            yield name, top
        for path in sorted(top.rglob("*")) if top.is_dir() else ():
            if path.is_file() and not path.is_symlink() and not path.name.endswith(".part"):
                yield path.relative_to(folder).as_posix(), path


def _write(beside: Path, database: Path, folder: Path) -> None:
    listed: dict[str, dict[str, Any]] = {}
    with open(beside, "xb") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
            for name, path in [(DATABASE, database), *_files(folder)]:
                digest, size = sha256(), 0
                packed = zipfile.ZIP_STORED if name.startswith("attachments/") else zipfile.ZIP_DEFLATED
                info = zipfile.ZipInfo.from_file(path, name, strict_timestamps=False)
                info.compress_type = packed
                with open(path, "rb") as source, archive.open(info, "w", force_zip64=True) as target:
                    while piece := source.read(1 << 20):
                        digest.update(piece)
                        size += len(piece)
                        target.write(piece)
                listed[name] = {"sha256": digest.hexdigest(), "size": size}
            manifest = {
                "what": "borewright backup", "format": FORMAT, "program": version("borewright"), "made": datetime.now(UTC).isoformat(), "files": listed,
            }
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
        file.flush()
        os.fsync(file.fileno())


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    """Return the manifest after checking that names and files agree and that none points outside."""
    try:
        manifest = json.loads(archive.read(MANIFEST))
        files, form = manifest["files"], int(manifest["format"])
    except (KeyError, ValueError, TypeError) as error:
        raise StoreError("This is not a backup of the job book: it has no manifest that can be read.") from error
    if form > FORMAT:
        raise StoreError("The backup was made by a newer version of the program. Update the program.")
    names = [info.filename for info in archive.infolist() if not info.is_dir()]
    if sorted(names) != sorted([*files, MANIFEST]):
        raise StoreError("The backup is damaged: the files in it are not those that its manifest lists.")
    for name in files:
        parts = PurePosixPath(name).parts
        if not parts or PurePosixPath(name).is_absolute() or ".." in parts or "\\" in name or ":" in name:
            raise StoreError(f"The backup holds a file that points outside it ({name!r}) and is refused.")
        if parts[0] != DATABASE and parts[0] not in KEPT:
            raise StoreError(f"The backup holds a file that no backup holds ({name!r}) and is refused.")
    if DATABASE not in files:
        raise StoreError("The backup is damaged: the database is missing.")
    return manifest


def _hashed(source: IO[bytes], target: IO[bytes] | None) -> str:
    digest = sha256()
    while piece := source.read(1 << 20):
        digest.update(piece)
        if target is not None:
            target.write(piece)
    return digest.hexdigest()


def _unpack(path: Path, room: Path) -> dict[str, Any]:
    """Unpack a backup, comparing every file with the manifest, and return the manifest."""
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _manifest(archive)
            for name, said in manifest["files"].items():
                place = room / name
                place.parent.mkdir(parents=True, exist_ok=True)
                with archive.open(name) as source, open(place, "xb") as target:
                    if _hashed(source, target) != said["sha256"]:
                        raise StoreError(f"The backup is damaged: {name} is not what was written.")
                    target.flush()
                    os.fsync(target.fileno())
    except (zipfile.BadZipFile, EOFError, NotImplementedError) as error:
        raise StoreError(f"The backup is damaged or is not a backup: {error}.") from error
    return manifest


def verify_backup(path: Path) -> dict[str, Any]:
    """Unpack a backup beside itself, check it as a store is checked, and return its manifest. Raises StoreError."""
    path = Path(path)
    if not path.is_file():
        raise NotFound(f"No file {path} is there.")
    # Beside the file, not in the system's temporary folder: photos may be larger than that holds.
    with tempfile.TemporaryDirectory(prefix=".borewright-verify-", dir=path.parent) as room:
        manifest = _unpack(path, Path(room))
        _checked(Path(room))
    return manifest


def _checked(folder: Path):
    from borewright.storage.jobbook import open_store

    with open_store(folder) as book:
        report = book.check()
    if not report.ok:
        raise StoreError(f"The backup holds a job book with {len(report.problems)} faults, the first: {report.problems[0]}")
    return report


def restore(path: Path | str, folder: Path | str, *, replace: bool = False) -> Restored:
    """Bring a backup back into a data folder, verified before anything is switched.

    A folder that holds anything is refused unless `replace`; then what was there is set aside under another name, never deleted.

    Raises
    ------
    Conflict
        The folder is not empty, or the program is running on it.
    StoreError
        The backup is damaged or the switch failed; the folder is as it was.
    """
    path, folder = Path(path), Path(folder).absolute()
    if not path.is_file():
        raise NotFound(f"No file {path} is there.")
    occupied = folder.is_dir() and any(folder.iterdir())
    if occupied and not replace:
        raise Conflict(f"{folder} already holds data. Nothing was restored; --replace sets what is there aside and restores.")
    if occupied:
        _must_be_idle(folder / DATABASE)
    folder.parent.mkdir(parents=True, exist_ok=True)
    stamp = f"{datetime.now():%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"
    staged = folder.with_name(f".{folder.name}-restoring-{stamp}")
    try:
        staged.mkdir()
        manifest = _unpack(path, staged)
        report = _checked(staged)
        set_aside = folder.with_name(f"{folder.name}-before-restore-{stamp}") if occupied else None
        _switch(staged, folder, set_aside)
    except OSError as error:
        raise StoreError(f"The backup could not be restored to {folder}: {error.strerror or error}. What was there is as it was.") from error
    finally:
        shutil.rmtree(staged, ignore_errors=True)
    return Restored(folder, report.entries, report.jobs, report.attachments, str(manifest.get("made", "")), set_aside)


def _switch(staged: Path, folder: Path, set_aside: Path | None) -> None:
    if set_aside is not None:
        os.rename(folder, set_aside)
    elif folder.is_dir():
        folder.rmdir()
    try:
        os.rename(staged, folder)
    except OSError:
        if set_aside is not None:
            os.rename(set_aside, folder)
        raise
    if set_aside is not None and (set_aside / "backups").is_dir() and not (folder / "backups").exists():
        os.rename(set_aside / "backups", folder / "backups")  # the backups stay where they are looked for
    flush_folder(folder.parent)


def _must_be_idle(database: Path) -> None:
    """Raise Conflict while any program has the database open: it would go on writing to what was set aside."""
    if not database.is_file():
        return
    try:
        with closing(sqlite3.connect(database, timeout=1, isolation_level=None)) as connection:
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("COMMIT")
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise Conflict("The program is running on this data. Stop it, then restore.") from error
    except sqlite3.DatabaseError:
        return  # damaged: all the more reason to let it be replaced


def backup_if_due(book: JobBook, *, keep_days: int = 14, now: datetime | None = None) -> Path | None:
    """Make the backup of the day if there is none yet, then remove nightly backups older than `keep_days`.

    A backup is removed only once a newer one has been written and read back; other files in the folder are left alone.
    Returns the backup made, or None if it was not due.
    """
    today = (now or datetime.now()).date()
    folder = book.folder / "backups"
    path = folder / f"nightly-{today.isoformat()}.zip"
    if path.is_file():
        return None
    made = backup(book, path)
    oldest = today - timedelta(days=keep_days)
    for other in folder.iterdir():
        found = _NIGHTLY.match(other.name)
        if found and other != made and datetime.fromisoformat(found[1]).date() <= oldest:
            other.unlink(missing_ok=True)
    return made
