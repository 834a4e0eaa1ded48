"""Promises that move aside: a fifth end, what took their place, and which of them stay.

Nobody knows of an older promise whether a person named its bag, so those that still stand stay.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0015"
down_revision: str | None = "0014"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_KEEPS_COUNTING = {"sqlite_autoincrement": True}
_FOUR_ENDS = ("used", "released", "spoiled", "lapsed")
_FIVE_ENDS = (*_FOUR_ENDS, "settled")
_REFERENCES = {"moved_to_id": "reservation", "moved_for_id": "job"}


def upgrade() -> None:
    """Add the columns, and let the checks know the end."""
    with op.batch_alter_table("reservation", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.add_column(
            sa.Column("settled", sa.BigInteger(), server_default="0", nullable=False)
        )
        batch_op.add_column(
            sa.Column("pinned", sa.Boolean(), server_default=sa.false(), nullable=False)
        )
        for name, table in _REFERENCES.items():
            batch_op.add_column(sa.Column(name, _ID, nullable=True))
            # What took a place came later: rows that are copied name it before it is there.
            later = {"deferrable": True, "initially": "DEFERRED"} if table == "reservation" else {}
            batch_op.create_foreign_key(
                op.f(f"fk_reservation_{name}_{table}"), table, [name], ["id"], **later
            )
        for name in ("move_read_at", "move_read_there_at"):
            batch_op.add_column(sa.Column(name, sa.DateTime(timezone=True), nullable=True))
        batch_op.drop_constraint(op.f("ck_reservation_each_piece_ends_once"), type_="check")
        batch_op.drop_constraint(op.f("ck_reservation_ends_possible"), type_="check")
        batch_op.create_check_constraint(
            op.f("ck_reservation_each_piece_ends_once_of_five"), _adds_up(_FIVE_ENDS)
        )
        batch_op.create_check_constraint(
            op.f("ck_reservation_five_ends_possible"), _possible(_FIVE_ENDS)
        )
        batch_op.create_check_constraint(
            op.f("ck_reservation_settled_has_successor"),
            "settled > 0 OR moved_to_id IS NULL",
        )
    for name in _REFERENCES:
        given = sa.text(f"{name} IS NOT NULL")
        op.create_index(
            f"ix_reservation_{name}",
            "reservation",
            [name],
            sqlite_where=given,
            postgresql_where=given,
        )
    op.execute("UPDATE reservation SET pinned = (promised > 0)")


def downgrade() -> None:
    """Take them away; what was settled was given up, as the release before says it."""
    for name in _REFERENCES:
        op.drop_index(f"ix_reservation_{name}", "reservation")
    with op.batch_alter_table("reservation", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_constraint(op.f("ck_reservation_settled_has_successor"), type_="check")
        batch_op.drop_constraint(op.f("ck_reservation_each_piece_ends_once_of_five"), type_="check")
        batch_op.drop_constraint(op.f("ck_reservation_five_ends_possible"), type_="check")
    op.execute(
        "UPDATE reservation SET released = released + settled, "
        "ended_as = CASE WHEN ended_as = 'settled' THEN 'released' ELSE ended_as END"
    )
    with op.batch_alter_table("reservation", table_kwargs=_KEEPS_COUNTING) as batch_op:
        for name, table in _REFERENCES.items():
            batch_op.drop_constraint(op.f(f"fk_reservation_{name}_{table}"), type_="foreignkey")
        for name in ("settled", "pinned", *_REFERENCES, "move_read_at", "move_read_there_at"):
            batch_op.drop_column(name)
        batch_op.create_check_constraint(
            op.f("ck_reservation_each_piece_ends_once"), _adds_up(_FOUR_ENDS)
        )
        batch_op.create_check_constraint(
            op.f("ck_reservation_ends_possible"), _possible(_FOUR_ENDS)
        )


def _adds_up(ends: Sequence[str]) -> str:
    return f"promised = quantity - {' - '.join(ends)}"


def _possible(ends: Sequence[str]) -> str:
    return " AND ".join(f"{end} >= 0" for end in ends)
