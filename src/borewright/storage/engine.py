"""Engines that open their transactions themselves, so that a transaction is whole or absent on SQLite as on PostgreSQL."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, OperationalError

from borewright.errors import StoreError

__all__ = ["make_engine", "reading", "writing"]

BUSY_SECONDS = 30
_WRITERS_LOCK = 0x62726F6577726974  # PostgreSQL: one writer at a time, as SQLite does, so that the chain of entries is a line


def make_engine(where: Path | str) -> sa.Engine:
    """Return an engine on a SQLite file (a path) or on any database that SQLAlchemy names by URL."""
    url = f"sqlite:///{where}" if isinstance(where, Path) else where
    if not str(url).startswith("sqlite"):
        return sa.create_engine(url, pool_pre_ping=True)
    engine = sa.create_engine(url, connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False})
    sa.event.listen(engine, "connect", _prepare_sqlite)
    sa.event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _: Any) -> None:
    # Left to itself the driver begins a transaction late and never before a change of tables: with this it never begins one.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")
    _use_wal(cursor)
    cursor.execute("PRAGMA synchronous = FULL")  # every commit reaches the disk before it is acknowledged
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _use_wal(cursor: Any) -> None:
    """Put the file in WAL mode. SQLite does not wait for others at this one step, so two that open a new file at once must."""
    until = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _begin_sqlite(connection: sa.Connection) -> None:
    # IMMEDIATE takes the write lock at once: a transaction that read first and wrote later could find itself out of date.
    connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN")


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """Open a transaction that only reads: everything in it is of one moment."""
    with _told(), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: sa.Engine) -> Iterator[sa.Connection]:
    """Open a transaction that writes; it is committed whole at the end, or not at all if an error passes through."""
    with _told(), engine.connect() as connection:
        connection = connection.execution_options(writes=True)
        with connection.begin():
            if engine.dialect.name == "postgresql":
                connection.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": _WRITERS_LOCK})
            yield connection


@contextmanager
def _told() -> Iterator[None]:
    """Turn what the database says into one sentence that a person can act on."""
    try:
        yield
    except OperationalError as error:
        said = str(error.orig)
        if "locked" in said:
            raise StoreError("The job book is busy: another program has been writing to it for half a minute. Nothing was written.") from error
        if "full" in said:
            raise StoreError("The disk is full. Nothing was written.") from error
        if "readonly" in said or "unable to open" in said:
            raise StoreError(f"The job book cannot be written where it is kept ({said}).") from error
        raise StoreError(f"The job book could not be read or written: {said}.") from error
    except DBAPIError as error:
        raise StoreError(f"The job book could not be read or written: {error.orig}.") from error
