"""The tables of the store. Changed only by a migration; `tests/storage` holds the two to each other."""

from __future__ import annotations

import sqlalchemy as sa

__all__ = ["ROLES", "accounts", "attachments", "entries", "jobs", "marks", "metadata", "sessions", "tries"]

# Constraints are named from the first, so that a later migration can speak of them on any engine.
metadata = sa.MetaData(naming_convention={
    "ix": "ix_%(table_name)s_%(column_0_name)s", "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s", "fk": "fk_%(table_name)s_%(column_0_name)s", "pk": "pk_%(table_name)s",
})

# Moments are ISO 8601 text: `at` as the device wrote it with its offset, `received` and `updated` in UTC. Ids are the 36
# letters of a UUID. Both sort and compare the same on every engine, and a person can read the file with any SQLite tool.
entries = sa.Table(
    "entries", metadata,
    sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(36), nullable=False, unique=True),
    sa.Column("job", sa.String(36), nullable=False),
    sa.Column("kind", sa.String(60), nullable=False),
    sa.Column("at", sa.String(40), nullable=False),
    sa.Column("by", sa.String(120), nullable=False),
    sa.Column("device", sa.String(120), nullable=False),
    sa.Column("counter", sa.BigInteger, nullable=False),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("strikes_out", sa.String(36)),
    sa.Column("received", sa.String(40), nullable=False),
    sa.Column("hash", sa.String(64), nullable=False),  # of what the device wrote
    sa.Column("chain", sa.String(64), nullable=False),  # of the line before and this hash: an entry cannot vanish unseen
    sa.Index("ix_entries_job_sequence", "job", "sequence"),
    sa.Index("ix_entries_device_counter", "device", "counter"),
    sqlite_autoincrement=True,
)

# A projection: the fold of the entries, written in the same transaction or marked there as behind and renewed when read, rebuilt by `borewright check --rebuild`.
jobs = sa.Table(
    "jobs", metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("title", sa.String(200), nullable=False),
    sa.Column("reference", sa.String(200), nullable=False),
    sa.Column("customer", sa.String(200), nullable=False),
    sa.Column("stage", sa.String(20), nullable=False),
    sa.Column("outcome", sa.String(20), nullable=False),
    sa.Column("updated", sa.String(40), nullable=False),
    sa.Column("latitude", sa.Float),
    sa.Column("longitude", sa.Float),
    sa.Column("depth", sa.Float),  # m
    sa.Column("flow", sa.Float),  # m3/s
    sa.Column("entries", sa.Integer, nullable=False),
    sa.Column("last_sequence", sa.Integer, nullable=False),
)

attachments = sa.Table(
    "attachments", metadata,
    sa.Column("sha256", sa.String(64), primary_key=True),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("received", sa.String(40), nullable=False),
)

ROLES = ("owner", "driller", "offsider", "reader")

accounts = sa.Table(
    "accounts", metadata,
    sa.Column("id", sa.String(36), primary_key=True),
    sa.Column("name", sa.String(120), nullable=False),
    sa.Column("key", sa.String(240), nullable=False, unique=True),  # the name folded, so that "Sam" and "sam" are one
    sa.Column("role", sa.String(20), sa.CheckConstraint("role IN ('owner', 'driller', 'offsider', 'reader')", name="role"), nullable=False),
    sa.Column("passphrase", sa.String(200), nullable=False),  # an argon2 hash, never the passphrase
    sa.Column("made", sa.String(40), nullable=False),
    sa.Column("closed", sa.String(40)),
)

sessions = sa.Table(
    "sessions", metadata,
    sa.Column("token_hash", sa.String(64), primary_key=True),  # who reads the database cannot take over a session
    sa.Column("account", sa.String(36), sa.ForeignKey("accounts.id"), nullable=False),
    sa.Column("made", sa.String(40), nullable=False),
    sa.Column("expires", sa.String(40), nullable=False),
)

tries = sa.Table(
    "tries", metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("key", sa.String(400), nullable=False),
    sa.Column("at", sa.String(40), nullable=False),
    sa.Index("ix_tries_key", "key", "at"),
)

marks = sa.Table(
    "marks", metadata,
    sa.Column("name", sa.String(60), primary_key=True),
    sa.Column("value", sa.String(200), nullable=False),
)
