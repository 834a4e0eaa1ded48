"""The materials that a need is taken in, the first one first."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0011"
down_revision: str | None = "0010"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Give every need an order of materials; those of jobs there are already have none."""
    op.add_column(
        "need", sa.Column("materials", sa.JSON(), nullable=False, server_default=sa.text("'[]'"))
    )


def downgrade() -> None:
    op.drop_column("need", "materials")
