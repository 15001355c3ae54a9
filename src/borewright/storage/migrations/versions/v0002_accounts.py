"""Who may use the app on the local network: accounts, open sessions, failed tries."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the three tables; nothing that was kept is touched."""
    op.create_table(
        "accounts",
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("key", sa.String(240), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("passphrase", sa.String(200), nullable=False),
        sa.Column("made", sa.String(40), nullable=False),
        sa.Column("closed", sa.String(40)),
        sa.PrimaryKeyConstraint("id", name="pk_accounts"),
        sa.UniqueConstraint("key", name="uq_accounts_key"),
        sa.CheckConstraint("role IN ('owner', 'driller', 'offsider', 'reader')", name="ck_accounts_role"),
    )
    op.create_table(
        "sessions",
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("account", sa.String(36), nullable=False),
        sa.Column("made", sa.String(40), nullable=False),
        sa.Column("expires", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("token_hash", name="pk_sessions"),
        sa.ForeignKeyConstraint(["account"], ["accounts.id"], name="fk_sessions_account"),
    )
    op.create_table(
        "tries",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("key", sa.String(400), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_tries"),
    )
    op.create_index("ix_tries_key", "tries", ["key", "at"])
