"""Evenings that were worked out, each kept for a day: what was shown, and what it would promise."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0018"
down_revision: str | None = "0017"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "evening",
        sa.Column("id", _ID, nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("shown", sa.JSON(), nullable=False),
        sa.Column("promises", sa.JSON(), nullable=False),
        sa.Column("failed", sa.String(length=2000), server_default="", nullable=False),
        sa.CheckConstraint(
            "state IN ('working', 'ready', 'failed')", name=op.f("ck_evening_state_known")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_evening")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_evening_made_at"), "evening", ["made_at"])


def downgrade() -> None:
    """Forget the evenings."""
    op.drop_table("evening")
