"""Photographs of pens and donors, and their bytes in a table of their own."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0005"
down_revision: str | None = "0004"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "photograph",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("pen_id", _ID, nullable=True),
        sa.Column("donor_id", _ID, nullable=True),
        sa.Column("media_type", sa.String(length=20), nullable=False),
        sa.Column("width_pixels", sa.BigInteger(), nullable=False),
        sa.Column("height_pixels", sa.BigInteger(), nullable=False),
        sa.Column("orientation", sa.BigInteger(), nullable=True),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("taken_on", sa.Date(), nullable=True),
        sa.Column("retired_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("retired_by", sa.String(length=200), nullable=True),
        sa.Column("retired_why", sa.String(length=2000), nullable=True),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(pen_id IS NULL) <> (donor_id IS NULL)", name=op.f("ck_photograph_of_one")
        ),
        sa.CheckConstraint(
            "media_type IN ('image/jpeg', 'image/png', 'image/webp')",
            name=op.f("ck_photograph_media_type_known"),
        ),
        sa.CheckConstraint(
            "width_pixels > 0 AND height_pixels > 0 AND size_bytes > 0",
            name=op.f("ck_photograph_size_positive"),
        ),
        sa.CheckConstraint(
            "orientation BETWEEN 1 AND 8", name=op.f("ck_photograph_orientation_known")
        ),
        sa.CheckConstraint(
            "(retired_at IS NULL) = (retired_why IS NULL) "
            "AND (retired_at IS NULL) = (retired_by IS NULL)",
            name=op.f("ck_photograph_retired_with_why"),
        ),
        sa.ForeignKeyConstraint(["pen_id"], ["pen.id"], name=op.f("fk_photograph_pen_id_pen")),
        sa.ForeignKeyConstraint(
            ["donor_id"], ["donor.id"], name=op.f("fk_photograph_donor_id_donor")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photograph")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_photograph_pen_id"), "photograph", ["pen_id"])
    op.create_index(op.f("ix_photograph_donor_id"), "photograph", ["donor_id"])
    op.create_table(
        "photograph_image",
        sa.Column("photograph_id", _ID, autoincrement=False, nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["photograph_id"],
            ["photograph.id"],
            name=op.f("fk_photograph_image_photograph_id_photograph"),
        ),
        sa.PrimaryKeyConstraint("photograph_id", name=op.f("pk_photograph_image")),
    )


def downgrade() -> None:
    _refuse_what_would_be_lost()
    op.drop_table("photograph_image")
    op.drop_table("photograph")


def _refuse_what_would_be_lost() -> None:
    rows = op.get_bind().exec_driver_sql("SELECT count(*) FROM photograph").scalar()
    if rows:
        raise RuntimeError(
            f"{rows} rows of photograph cannot be kept by the release before; restore a backup"
        )
