"""What the rows of a checked file become, kept until they are applied.

A file that was checked before has none, so it is checked again when it is applied.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0014"
down_revision: str | None = "0011"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("notebook_import", sa.Column("ready", sa.LargeBinary(), nullable=True))


def downgrade() -> None:
    """Take it away."""
    op.drop_column("notebook_import", "ready")
