"""What the store notes about itself: by which fold its list of jobs was made."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add one table of names and values."""
    op.create_table(
        "marks",
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("value", sa.String(200), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_marks"),
    )
