"""Who is signed in at the bench page."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0007"
down_revision: str | None = "0006"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "bench_session",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("token_id", _ID, nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["token_id"], ["token.id"], name=op.f("fk_bench_session_token_id_token")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_session")),
        sa.UniqueConstraint("sha256", name=op.f("uq_bench_session_sha256")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_bench_session_token_id"), "bench_session", ["token_id"])


def downgrade() -> None:
    op.drop_table("bench_session")
