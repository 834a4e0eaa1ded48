"""Donors and their checklists, pieces inside pieces, conditions of pieces, and undoing."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0004"
down_revision: str | None = "0003"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

# SQLite makes the tables anew, and only what stands here is made again.
_KEEPS_COUNTING = {"sqlite_autoincrement": True}
_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_CONDITIONS = "condition IN ('as new', 'used', 'cut', 'offcut', 'unchecked')"


def upgrade() -> None:
    _make_donors()
    with op.batch_alter_table("place", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_constraint(op.f("ck_place_type_known"), type_="check")
        batch_op.create_check_constraint(
            op.f("ck_place_type_one_of_three"), "type IN ('drawer', 'donor', 'tray')"
        )
    with op.batch_alter_table("act", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.add_column(sa.Column("undoes_act_id", _ID, nullable=True))
        batch_op.create_foreign_key(
            op.f("fk_act_undoes_act_id_act"), "act", ["undoes_act_id"], ["id"]
        )
        batch_op.create_unique_constraint(op.f("uq_act_undoes_act_id"), ["undoes_act_id"])
    with op.batch_alter_table("lot", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.alter_column("part_id", existing_type=_ID, nullable=True)
        batch_op.add_column(sa.Column("part_of_lot_id", _ID, nullable=True))
        batch_op.add_column(sa.Column("donor_id", _ID, nullable=True))
        batch_op.add_column(sa.Column("condition", sa.String(length=10), nullable=True))
        batch_op.create_check_constraint(op.f("ck_lot_condition_known"), _CONDITIONS)
        batch_op.create_foreign_key(
            op.f("fk_lot_part_of_lot_id_lot"), "lot", ["part_of_lot_id"], ["id"]
        )
        batch_op.create_foreign_key(op.f("fk_lot_donor_id_donor"), "donor", ["donor_id"], ["id"])
        batch_op.create_index(op.f("ix_lot_part_of_lot_id"), ["part_of_lot_id"])
        batch_op.create_index(op.f("ix_lot_donor_id"), ["donor_id"])
    with op.batch_alter_table("reservation", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.add_column(sa.Column("goes_with_id", _ID, nullable=True))
        batch_op.create_foreign_key(
            op.f("fk_reservation_goes_with_id_reservation"),
            "reservation",
            ["goes_with_id"],
            ["id"],
        )
        batch_op.create_index(op.f("ix_reservation_goes_with_id"), ["goes_with_id"])
    _make_components()


def _make_donors() -> None:
    op.create_table(
        "donor",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("pen_id", _ID, nullable=True),
        sa.Column("called", sa.String(length=200), nullable=False),
        sa.Column("materials", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["pen_id"], ["pen.id"], name=op.f("fk_donor_pen_id_pen")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_donor")),
        sa.UniqueConstraint("pen_id", name=op.f("uq_donor_pen_id")),
        sqlite_autoincrement=True,
    )


def _make_components() -> None:
    op.create_table(
        "donor_component",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("donor_id", _ID, nullable=False),
        sa.Column("lot_id", _ID, nullable=True),
        sa.Column("part_of_id", _ID, nullable=True),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("attributes", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.CheckConstraint(
            "state IN ('present', 'unchecked', 'damaged', 'missing')",
            name=op.f("ck_donor_component_state_known"),
        ),
        sa.CheckConstraint(
            "lot_id IS NOT NULL OR state IN ('damaged', 'missing')",
            name=op.f("ck_donor_component_present_is_a_lot"),
        ),
        sa.ForeignKeyConstraint(
            ["donor_id"], ["donor.id"], name=op.f("fk_donor_component_donor_id_donor")
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_donor_component_lot_id_lot")),
        sa.ForeignKeyConstraint(
            ["part_of_id"],
            ["donor_component.id"],
            name=op.f("fk_donor_component_part_of_id_donor_component"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_donor_component")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_donor_component_lot_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_donor_component_donor_id"), "donor_component", ["donor_id"])
    op.create_index(op.f("ix_donor_component_part_of_id"), "donor_component", ["part_of_id"])


def downgrade() -> None:
    _refuse_what_would_be_lost()
    op.drop_table("donor_component")
    with op.batch_alter_table("reservation", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_index(op.f("ix_reservation_goes_with_id"))
        batch_op.drop_constraint(
            op.f("fk_reservation_goes_with_id_reservation"), type_="foreignkey"
        )
        batch_op.drop_column("goes_with_id")
    with op.batch_alter_table("lot", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_index(op.f("ix_lot_donor_id"))
        batch_op.drop_index(op.f("ix_lot_part_of_lot_id"))
        batch_op.drop_constraint(op.f("fk_lot_donor_id_donor"), type_="foreignkey")
        batch_op.drop_constraint(op.f("fk_lot_part_of_lot_id_lot"), type_="foreignkey")
        batch_op.drop_constraint(op.f("ck_lot_condition_known"), type_="check")
        for name in ("condition", "donor_id", "part_of_lot_id"):
            batch_op.drop_column(name)
        batch_op.alter_column("part_id", existing_type=_ID, nullable=False)
    with op.batch_alter_table("act", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_constraint(op.f("uq_act_undoes_act_id"), type_="unique")
        batch_op.drop_constraint(op.f("fk_act_undoes_act_id_act"), type_="foreignkey")
        batch_op.drop_column("undoes_act_id")
    with op.batch_alter_table("place", table_kwargs=_KEEPS_COUNTING) as batch_op:
        batch_op.drop_constraint(op.f("ck_place_type_one_of_three"), type_="check")
        batch_op.create_check_constraint(op.f("ck_place_type_known"), "type IN ('drawer', 'tray')")
    op.drop_table("donor")


def _refuse_what_would_be_lost() -> None:
    """Refuse to lose donors, and to have offcuts and used pieces taken for new ones."""
    for table, where in (
        ("donor", "id > 0"),
        ("lot", "part_id IS NULL OR condition IS NOT NULL"),
    ):
        statement = f"SELECT count(*) FROM {table} WHERE {where}"
        rows = op.get_bind().exec_driver_sql(statement).scalar()
        if rows:
            raise RuntimeError(
                f"{rows} rows of {table} cannot be kept by the release before; restore a backup"
            )
