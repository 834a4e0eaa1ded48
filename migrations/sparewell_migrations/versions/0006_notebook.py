"""Files of a notebook that are brought in, and what is wrong in them."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0006"
down_revision: str | None = "0005"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "notebook_import",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("of", sa.String(length=20), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("options", sa.JSON(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("rows", sa.BigInteger(), nullable=False),
        sa.Column("problems_total", sa.BigInteger(), nullable=False),
        sa.Column("notices", sa.JSON(), nullable=False),
        sa.Column("created", sa.JSON(), nullable=False),
        sa.Column("act_id", _ID, nullable=True),
        sa.Column("progress_doing", sa.String(length=20), nullable=True),
        sa.Column("progress_done", sa.BigInteger(), nullable=False),
        sa.Column("progress_of", sa.BigInteger(), nullable=False),
        sa.Column("progress_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'checked', 'faulty', 'applied', 'withdrawn')",
            name=op.f("ck_notebook_import_state_known"),
        ),
        sa.CheckConstraint(
            "(content IS NULL) = (state IN ('applied', 'withdrawn'))",
            name=op.f("ck_notebook_import_content_until_ended"),
        ),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_notebook_import_act_id_act")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notebook_import")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_notebook_import_state"), "notebook_import", ["state"])
    op.create_index(op.f("ix_notebook_import_sha256"), "notebook_import", ["sha256"])
    op.create_table(
        "notebook_problem",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("import_id", _ID, nullable=False),
        sa.Column("row", sa.BigInteger(), nullable=True),
        sa.Column("column", sa.String(length=200), nullable=True),
        sa.Column("cell", sa.String(length=20), nullable=True),
        sa.Column("value", sa.String(length=200), nullable=True),
        sa.Column("detail", sa.String(length=2000), nullable=False),
        sa.Column("accepted", sa.String(length=1000), nullable=False),
        sa.ForeignKeyConstraint(
            ["import_id"],
            ["notebook_import.id"],
            name=op.f("fk_notebook_problem_import_id_notebook_import"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notebook_problem")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_notebook_problem_import_id"), "notebook_problem", ["import_id"])


def downgrade() -> None:
    op.drop_table("notebook_problem")
    op.drop_table("notebook_import")
