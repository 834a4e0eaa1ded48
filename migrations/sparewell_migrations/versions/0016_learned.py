"""What a piece was promised on, what it was glued with, and the day on which an outcome was found.

Of what was promised before, nobody knows the margins any more: it is counted as unknown. An outcome
without a day of its own was found on the day on which it was noted.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0016"
down_revision: str | None = "0015"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add the columns."""
    nothing, none_yet = sa.text("''"), sa.text("'{}'")
    for column in (
        sa.Column("calculator", sa.String(40), nullable=True),
        sa.Column("margins", sa.JSON(), nullable=False, server_default=none_yet),
        sa.Column("glue", sa.String(200), nullable=False, server_default=nothing),
    ):
        op.add_column("reservation", column)
    op.add_column("outcome", sa.Column("happened_on", sa.Date(), nullable=True))


def downgrade() -> None:
    """Take the columns away."""
    op.drop_column("outcome", "happened_on")
    for name in ("glue", "margins", "calculator"):
        op.drop_column("reservation", name)
