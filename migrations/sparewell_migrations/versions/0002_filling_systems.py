"""Filling systems of the workshop's own, and needs that a job may change."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0002"
down_revision: str | None = "0001"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

# SQLite makes the table anew, and only what stands here is made again.
_KEEPS_COUNTING = {"sqlite_autoincrement": True}
# What the needs there are already are given; what comes later says it itself.
_NEW_AND_REQUIRED = (
    ("given", sa.JSON(), sa.text("'{}'")),
    ("reads", sa.JSON(), sa.text("'{}'")),
    ("together", sa.String(length=100), sa.text("''")),
    ("decided", sa.Boolean(), sa.true()),
    ("note", sa.String(length=2000), sa.text("''")),
)
_NEW = (
    ("at_most", sa.BigInteger()),
    ("dropped_at", sa.DateTime(timezone=True)),
    ("dropped_by", sa.String(length=200)),
    ("dropped_why", sa.String(length=2000)),
)


def upgrade() -> None:
    op.create_table(
        "filling_system",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("document", sa.JSON(), nullable=False),
        sa.Column("retired_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_filling_system")),
        sa.UniqueConstraint("name", name=op.f("uq_filling_system_name")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("need", table_kwargs=_KEEPS_COUNTING) as batch_op:
        for name, kind, default in _NEW_AND_REQUIRED:
            batch_op.add_column(sa.Column(name, kind, nullable=False, server_default=default))
        for name, kind in _NEW:
            batch_op.add_column(sa.Column(name, kind, nullable=True))
        batch_op.create_check_constraint(op.f("ck_need_at_most_positive"), "at_most > 0")
        batch_op.create_check_constraint(
            op.f("ck_need_dropped_with_why"), "(dropped_at IS NULL) = (dropped_why IS NULL)"
        )
    with op.batch_alter_table("need", table_kwargs=_KEEPS_COUNTING) as batch_op:
        for name, kind, _ in _NEW_AND_REQUIRED:
            batch_op.alter_column(name, existing_type=kind, server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("need", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_constraint(op.f("ck_need_dropped_with_why"), type_="check")
        batch_op.drop_constraint(op.f("ck_need_at_most_positive"), type_="check")
        for name, *_ in (*_NEW_AND_REQUIRED, *_NEW):
            batch_op.drop_column(name)
    op.drop_table("filling_system")
