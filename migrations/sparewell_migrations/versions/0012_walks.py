"""Two indexes for each dimension that lots are looked up by: one upward, one downward.

The one there was gave the sizes in a range, but not those nearest to the ideal in their order: the
whole range had to be read and sorted.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0012"
down_revision: str | None = "0011"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_LEADS = ("outside_diameter", "inside_diameter", "width", "length", "thread_diameter")
_THEN = ("made_from", "id", "material", "arrived_at", "condition")


def upgrade() -> None:
    """Put two indexes in the place of each."""
    is_undated = sa.text("(made_from IS NULL)")
    for lead in _LEADS:
        column = f"{lead}_nanometres"
        op.drop_index(f"ix_lot_fit_{lead}", "lot")
        op.create_index(
            f"ix_lot_fit_{lead}_up",
            "lot",
            ["kind", column, is_undated, *_THEN],
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        op.create_index(
            f"ix_lot_fit_{lead}_down",
            "lot",
            ["kind", sa.text(f"{column} DESC"), is_undated, *_THEN],
            sqlite_where=sa.text(f"has_available = 1 AND {column} IS NOT NULL"),
            postgresql_where=sa.text(f"has_available AND {column} IS NOT NULL"),
        )


def downgrade() -> None:
    """Put the one index back."""
    for lead in _LEADS:
        op.drop_index(f"ix_lot_fit_{lead}_up", "lot")
        op.drop_index(f"ix_lot_fit_{lead}_down", "lot")
        op.create_index(
            f"ix_lot_fit_{lead}",
            "lot",
            ["kind", f"{lead}_nanometres", "made_from", "id"],
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
