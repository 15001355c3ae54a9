"""The job book: entries, the projection of jobs, attachments."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables, and forbid a change or removal of an entry in the database itself."""
    op.create_table(
        "entries",
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.String(36), nullable=False),
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
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("chain", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("sequence", name="pk_entries"),
        sa.UniqueConstraint("id", name="uq_entries_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_entries_job_sequence", "entries", ["job", "sequence"])
    op.create_index("ix_entries_device_counter", "entries", ["device", "counter"])
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("reference", sa.String(200), nullable=False),
        sa.Column("customer", sa.String(200), nullable=False),
        sa.Column("stage", sa.String(20), nullable=False),
        sa.Column("outcome", sa.String(20), nullable=False),
        sa.Column("updated", sa.String(40), nullable=False),
        sa.Column("latitude", sa.Float),
        sa.Column("longitude", sa.Float),
        sa.Column("depth", sa.Float),
        sa.Column("flow", sa.Float),
        sa.Column("entries", sa.Integer, nullable=False),
        sa.Column("last_sequence", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
    )
    op.create_table(
        "attachments",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("received", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_attachments"),
    )
    if op.get_bind().dialect.name == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER entries_never_{change.lower()} BEFORE {change} ON entries "
                "BEGIN SELECT RAISE(ABORT, 'an entry never changes'); END"
            )
    elif op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION entries_never_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'an entry never changes'; END $$"
        )
        op.execute(
            "CREATE TRIGGER entries_never_change BEFORE UPDATE OR DELETE ON entries "
            "FOR EACH ROW EXECUTE FUNCTION entries_never_change()"
        )
