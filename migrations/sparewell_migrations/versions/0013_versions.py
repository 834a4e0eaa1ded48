"""Versions of jobs, pens and lots, which rise with the facts that plans are worked out from."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0013"
down_revision: str | None = "0011"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_VERSIONED = ("job", "pen", "lot")


def upgrade() -> None:
    """Let everything that there is begin at its first version."""
    for table in _VERSIONED:
        op.add_column(
            table,
            sa.Column("version", sa.BigInteger(), nullable=False, server_default=sa.text("1")),
        )


def downgrade() -> None:
    for table in reversed(_VERSIONED):
        op.drop_column(table, "version")
