"""The thresholds of parts, older ones kept."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0001"
down_revision: str | None = None
branch_labels: str | Sequence[str] | None = ("reorder",)
depends_on: str | Sequence[str] | None = None

_ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "reorder_threshold",
        sa.Column("id", _ROW_ID, autoincrement=True, nullable=False),
        sa.Column("part_id", _ROW_ID, nullable=False),
        sa.Column("policy", sa.String(length=40), nullable=True),
        sa.Column("parameters", sa.JSON(), nullable=False),
        sa.Column("why", sa.String(length=2000), nullable=False),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("policy <> ''", name=op.f("ck_reorder_threshold_policy_named")),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_reorder_threshold_part_id_part")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reorder_threshold")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_reorder_threshold_part_id"), "reorder_threshold", ["part_id"])


def downgrade() -> None:
    op.drop_table("reorder_threshold")
