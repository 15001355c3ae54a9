"""Bring the tables of a store to the form this program writes. Alembic is loaded only when there is something to do."""

from __future__ import annotations

import threading
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa

from borewright.errors import StoreError
from borewright.storage.engine import reading, writing

__all__ = ["HEAD", "KNOWN", "bring_up_to_date", "revision_of"]

KNOWN = ("0001", "0002", "0003")
HEAD = KNOWN[-1]
_ONE_AT_A_TIME = threading.Lock()  # Alembic keeps the migration at hand in module globals


def revision_of(engine: sa.Engine) -> str | None:
    """Return the form that the tables have, or None for an empty store."""
    with reading(engine) as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return None
        return connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()


def bring_up_to_date(engine: sa.Engine, *, copy_to: Path | None = None) -> str | None:
    """Migrate in one transaction, after a copy of the file if it held anything. Returns the form found, None if it was empty.

    Raises
    ------
    StoreError
        The store was written by a newer program, or a step failed: then nothing has changed and the copy is named.
    """
    found = revision_of(engine)
    if found == HEAD:
        return found
    if found is not None and found not in KNOWN:
        raise StoreError(f"The job book was written by a newer version of the program (form {found}, this one knows {HEAD}). Update the program.")
    copy = _copy(engine, copy_to, found) if found and copy_to and engine.dialect.name == "sqlite" else None
    try:
        _run(engine)
    except Exception as error:
        kept = f" A copy from before is at {copy}." if copy else ""
        raise StoreError(f"The job book could not be brought from form {found} to {HEAD}: {error}. Nothing has changed.{kept}") from error
    return found


def _run(engine: sa.Engine) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    with _ONE_AT_A_TIME, writing(engine) as connection:
        # Another process may have done it while this one waited for the lock; Alembic then finds nothing to do.
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        if engine.dialect.name == "sqlite":
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
            if broken:
                raise StoreError(f"{len(broken)} rows point at nothing")


def _copy(engine: sa.Engine, folder: Path, found: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"before-{found}-to-{HEAD}-{datetime.now(UTC):%Y%m%dT%H%M%S%f}.sqlite"
    connection = engine.raw_connection()
    try:
        connection.cursor().execute("VACUUM INTO ?", (str(path),))
    finally:
        connection.close()
    return path
