"""What is noted of pens and jobs on their way: intake, waiting, outcomes."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0003"
down_revision: str | None = "0002"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_EMPTY_LIST = sa.text("'[]'")

# New columns only, and each either null or with a default: no table is built anew.
_COLUMNS = {
    "pen": (
        ("owner", sa.String(length=200), ""),
        ("accessories", sa.String(length=2000), ""),
        ("condition", sa.String(length=2000), ""),
        ("components", sa.JSON(), _EMPTY_LIST),
        ("model_note", sa.String(length=200), ""),
        ("model_key", sa.String(length=600), ""),
        ("cost_minor", sa.BigInteger(), None),
        ("retired_at", sa.DateTime(timezone=True), None),
    ),
    "job": (
        ("wishes", sa.String(length=2000), ""),
        ("promised_on", sa.Date(), None),
        ("estimate_minor", sa.BigInteger(), None),
        ("ceiling_minor", sa.BigInteger(), None),
        ("postage_minor", sa.BigInteger(), None),
        ("glue", sa.String(length=200), ""),
        ("ink", sa.String(length=200), ""),
        ("test_results", sa.JSON(), _EMPTY_LIST),
        ("time_minutes", sa.BigInteger(), None),
        ("value_as_restored_minor", sa.BigInteger(), None),
    ),
}


def upgrade() -> None:
    for table, columns in _COLUMNS.items():
        for name, kind, default in columns:
            nullable = default is None
            op.add_column(table, sa.Column(name, kind, server_default=default, nullable=nullable))
    op.create_index(op.f("ix_pen_model_key"), "pen", ["model_key"])
    op.create_table(
        "reading_correction",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("reading_id", _ID, nullable=False),
        sa.Column("by_reading_id", _ID, nullable=True),
        sa.Column("why", sa.String(length=2000), nullable=False),
        *_signed(),
        sa.ForeignKeyConstraint(
            ["by_reading_id"],
            ["reading.id"],
            name=op.f("fk_reading_correction_by_reading_id_reading"),
        ),
        sa.ForeignKeyConstraint(
            ["reading_id"], ["reading.id"], name=op.f("fk_reading_correction_reading_id_reading")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_correction")),
        sa.UniqueConstraint("reading_id", name=op.f("uq_reading_correction_reading_id")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "approval",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("job_id", _ID, nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("by", sa.String(length=200), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        *_signed(),
        sa.CheckConstraint(
            "state IN ('not_asked', 'asked', 'approved', 'declined')",
            name=op.f("ck_approval_state_known"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_approval_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_approval")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_approval_job_id"), "approval", ["job_id"])
    op.create_table(
        "step_mark",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("job_id", _ID, nullable=False),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("is_done", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        *_signed(),
        sa.CheckConstraint("position > 0", name=op.f("ck_step_mark_position_counted")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_step_mark_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step_mark")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_step_mark_job_id"), "step_mark", ["job_id"])
    _make_timers()
    op.create_table(
        "outcome",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("reservation_id", _ID, nullable=False),
        sa.Column("outcome", sa.String(length=10), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("size", sa.String(length=200), nullable=False),
        sa.Column("verdict", sa.String(length=10), nullable=True),
        sa.Column("glue", sa.String(length=200), nullable=False),
        sa.Column("ink", sa.String(length=200), nullable=False),
        sa.Column("readings", sa.JSON(), nullable=False),
        *_signed(),
        sa.CheckConstraint(
            "outcome IN ('good', 'tight', 'loose', 'leaked')",
            name=op.f("ck_outcome_outcome_known"),
        ),
        sa.ForeignKeyConstraint(
            ["reservation_id"],
            ["reservation.id"],
            name=op.f("fk_outcome_reservation_id_reservation"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outcome")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_outcome_reservation_id"), "outcome", ["reservation_id"])


def _make_timers() -> None:
    op.create_table(
        "timer",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("job_id", _ID, nullable=False),
        sa.Column("what", sa.String(length=200), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_timer_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_timer")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_timer_job_id"), "timer", ["job_id"])
    op.create_index(
        "ix_timer_open",
        "timer",
        ["until"],
        sqlite_where=sa.text("done_at IS NULL"),
        postgresql_where=sa.text("done_at IS NULL"),
    )
    op.create_table(
        "timer_mark",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("timer_id", _ID, nullable=False),
        sa.Column("verb", sa.String(length=10), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        *_signed(),
        sa.CheckConstraint(
            "verb IN ('set', 'moved', 'done', 'ended')", name=op.f("ck_timer_mark_verb_known")
        ),
        sa.ForeignKeyConstraint(
            ["timer_id"], ["timer.id"], name=op.f("fk_timer_mark_timer_id_timer")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_timer_mark")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_timer_mark_timer_id"), "timer_mark", ["timer_id"])


def _signed() -> tuple[sa.Column[str], sa.Column[str], sa.Column[object]]:
    return (
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
    )


def downgrade() -> None:
    for table in (
        "outcome",
        "timer_mark",
        "timer",
        "step_mark",
        "approval",
        "reading_correction",
    ):
        op.drop_table(table)
    op.drop_index(op.f("ix_pen_model_key"), table_name="pen")
    for table, columns in _COLUMNS.items():
        for name, _, _ in reversed(columns):
            op.drop_column(table, name)
