"""The table of the first release."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0001"
down_revision: str | None = None
branch_labels: str | Sequence[str] | None = ("bushings",)
depends_on: str | Sequence[str] | None = None

_ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the table; the service has brought its own up before."""
    op.create_table(
        "bushings_turning",
        sa.Column("id", _ROW_ID, autoincrement=True, nullable=False),
        sa.Column("lot_id", _ROW_ID, nullable=False),
        sa.Column("stock", sa.String(length=200), nullable=False),
        sa.Column("turned_on", sa.Date(), nullable=False),
        sa.CheckConstraint("stock <> ''", name=op.f("ck_bushings_turning_stock_named")),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_bushings_turning_lot_id_lot")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bushings_turning")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_bushings_turning_lot_id"), "bushings_turning", ["lot_id"])


def downgrade() -> None:
    """Take the table away, and what is in it."""
    op.drop_table("bushings_turning")
