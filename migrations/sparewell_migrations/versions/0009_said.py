"""What a person decided against a warning, with the reason: overrides, and jobs closed anyway."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0009"
down_revision: str | None = "0008"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    op.add_column("reservation", sa.Column("override", sa.String(2000), nullable=True))
    op.add_column(
        "job", sa.Column("closed_anyway", sa.String(2000), server_default="", nullable=False)
    )
    op.add_column(
        "step_mark",
        sa.Column("not_needed", sa.Boolean(), server_default=sa.false(), nullable=False),
    )


def downgrade() -> None:
    op.drop_column("step_mark", "not_needed")
    op.drop_column("job", "closed_anyway")
    op.drop_column("reservation", "override")
