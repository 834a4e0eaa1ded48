"""Pens bought together, what a donor cost, and what became of a pen that was sold."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0017"
down_revision: str | None = "0016"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

# SQLite makes the tables anew, and only what stands here is made again.
_KEEPS_COUNTING = {"sqlite_autoincrement": True}
_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_BOUGHT = ("pen", "donor")


def upgrade() -> None:
    """Add the purchases, what belongs to one, and what is said of a sale."""
    op.create_table(
        "pen_purchase",
        sa.Column("id", _ID, autoincrement=True, nullable=False),
        sa.Column("bought_from", sa.String(length=200), nullable=False),
        sa.Column("bought_on", sa.Date(), nullable=True),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.Column("postage_minor", sa.BigInteger(), nullable=True),
        sa.Column("divided", sa.String(length=10), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "divided IN ('evenly', 'by_value', 'by_hand')",
            name=op.f("ck_pen_purchase_division_known"),
        ),
        sa.CheckConstraint(
            "price_minor >= 0 AND postage_minor >= 0", name=op.f("ck_pen_purchase_price_possible")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pen_purchase")),
        sqlite_autoincrement=True,
    )
    op.add_column("donor", sa.Column("cost_minor", sa.BigInteger(), nullable=True))
    op.add_column("donor_component", sa.Column("value_minor", sa.BigInteger(), nullable=True))
    given = sa.text("purchase_id IS NOT NULL")
    for table in _BOUGHT:
        op.add_column(table, sa.Column("might_fetch_minor", sa.BigInteger(), nullable=True))
        with op.batch_alter_table(table, table_kwargs=_KEEPS_COUNTING) as batch_op:
            batch_op.add_column(sa.Column("purchase_id", _ID, nullable=True))
            batch_op.create_foreign_key(
                op.f(f"fk_{table}_purchase_id_pen_purchase"),
                "pen_purchase",
                ["purchase_id"],
                ["id"],
            )
        op.create_index(
            f"ix_{table}_purchase_id",
            table,
            ["purchase_id"],
            sqlite_where=given,
            postgresql_where=given,
        )
    op.add_column("job", sa.Column("sold_on", sa.Date(), nullable=True))
    op.add_column("job", sa.Column("price_minor", sa.BigInteger(), nullable=True))
    sold_to = sa.Column("sold_to", sa.String(length=200), nullable=False, server_default="")
    op.add_column("job", sold_to)
    op.add_column("job", sa.Column("warranty_until", sa.Date(), nullable=True))


def downgrade() -> None:
    """Take all of it away, where nothing of it is said."""
    _refuse_what_would_be_lost()
    for column in ("warranty_until", "sold_to", "price_minor", "sold_on"):
        op.drop_column("job", column)
    for table in reversed(_BOUGHT):
        op.drop_index(f"ix_{table}_purchase_id", table)
        with op.batch_alter_table(table, table_kwargs=_KEEPS_COUNTING) as batch_op:
            batch_op.drop_constraint(
                op.f(f"fk_{table}_purchase_id_pen_purchase"), type_="foreignkey"
            )
            batch_op.drop_column("purchase_id")
        op.drop_column(table, "might_fetch_minor")
    op.drop_column("donor_component", "value_minor")
    op.drop_column("donor", "cost_minor")
    op.drop_table("pen_purchase")


def _refuse_what_would_be_lost() -> None:
    """Refuse to lose what was bought, and what was sold with a warranty."""
    for table, where in (
        ("pen_purchase", "id > 0"),
        ("job", "sold_on IS NOT NULL OR price_minor IS NOT NULL OR warranty_until IS NOT NULL"),
        ("donor", "cost_minor IS NOT NULL"),
    ):
        statement = f"SELECT count(*) FROM {table} WHERE {where}"
        rows = op.get_bind().exec_driver_sql(statement).scalar()
        if rows:
            raise RuntimeError(
                f"{rows} rows of {table} cannot be kept by the release before; restore a backup"
            )
