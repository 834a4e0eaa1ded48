"""What the rows of a checked file become; indexes only of the references that there are.

A file that was checked before is checked again when it is applied. Few lots came out of others,
and few lines of the ledger belong to a reservation: an index that is full of nulls was written for
nothing, and a planner that had counted them rather read the whole table.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0014"
down_revision: str | None = "0013"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_MOSTLY_NULL = (
    ("lot", "parent_lot_id"),
    ("lot", "part_of_lot_id"),
    ("lot", "donor_id"),
    ("movement", "reservation_id"),
    ("movement", "job_id"),
)


def upgrade() -> None:
    """Add the column, and put a smaller index in the place of each."""
    op.add_column("notebook_import", sa.Column("ready", sa.LargeBinary(), nullable=True))
    for table, column in _MOSTLY_NULL:
        given = sa.text(f"{column} IS NOT NULL")
        op.drop_index(f"ix_{table}_{column}", table)
        op.create_index(
            f"ix_{table}_{column}", table, [column], sqlite_where=given, postgresql_where=given
        )


def downgrade() -> None:
    """Put the whole indexes back, and take the column away."""
    for table, column in _MOSTLY_NULL:
        op.drop_index(f"ix_{table}_{column}", table)
        op.create_index(f"ix_{table}_{column}", table, [column])
    op.drop_column("notebook_import", "ready")
