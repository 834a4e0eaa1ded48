"""Suppliers, offers, orders and parcels."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0008"
down_revision: str | None = "0007"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_TABLES = (
    "parcel_line",
    "parcel",
    "purchase_order_line",
    "purchase_order",
    "offer",
    "supplier",
)


def _id() -> sa.Column[int]:
    return sa.Column("id", _ID, autoincrement=True, nullable=False)


def _number(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, sa.BigInteger(), nullable=nullable)


def _text(name: str, length: int, *, nullable: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(length=length), nullable=nullable)


def _moment(name: str, *, nullable: bool = False) -> sa.Column[sa.DateTime]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _row(name: str, *, nullable: bool = False) -> sa.Column[int]:
    return sa.Column(name, _ID, nullable=nullable)


def _points(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}_{to}"))


def _check(table: str, name: str, condition: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(condition, name=op.f(f"ck_{table}_{name}"))


def _make(table: str, *items: object, indexed: Sequence[str] = ()) -> None:
    key = sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{table}"))
    op.create_table(table, _id(), *items, key, sqlite_autoincrement=True)
    for column in indexed:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def upgrade() -> None:
    _make_suppliers()
    _make_orders()
    _make_parcels()


def _make_suppliers() -> None:
    _make(
        "supplier",
        _text("name", 200),
        _number("postage_minor"),
        _number("free_postage_from_minor", nullable=True),
        _number("minimum_order_minor", nullable=True),
        _number("lead_days"),
        _number("lead_spread_days"),
        _text("note", 2000),
        _moment("created_at"),
        _moment("retired_at", nullable=True),
        _check("supplier", "postage_possible", "postage_minor >= 0"),
        _check("supplier", "free_postage_possible", "free_postage_from_minor >= 0"),
        _check("supplier", "minimum_possible", "minimum_order_minor >= 0"),
        _check("supplier", "lead_possible", "lead_days >= 0 AND lead_spread_days >= 0"),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    _make(
        "offer",
        _row("supplier_id"),
        _row("part_id", nullable=True),
        _text("kind", 40, nullable=True),
        _text("size", 200, nullable=True),
        _text("item_number", 100),
        _number("pack_pieces"),
        _number("minimum_pieces"),
        sa.Column("breaks", sa.JSON(), nullable=False),
        _text("note", 2000),
        _moment("created_at"),
        _moment("retired_at", nullable=True),
        _check("offer", "part_or_kind", "(part_id IS NULL) <> (kind IS NULL)"),
        _check("offer", "kind_with_size", "(kind IS NULL) = (size IS NULL)"),
        _check("offer", "packs_possible", "pack_pieces > 0 AND minimum_pieces > 0"),
        _points("offer", "supplier_id", "supplier"),
        _points("offer", "part_id", "part"),
        indexed=("supplier_id", "part_id"),
    )


def _make_orders() -> None:
    _make(
        "purchase_order",
        _row("supplier_id"),
        _text("state", 10),
        _number("postage_minor"),
        _text("note", 2000),
        _moment("created_at"),
        _moment("sent_at", nullable=True),
        _moment("cancelled_at", nullable=True),
        _text("cancelled_why", 2000, nullable=True),
        _check("purchase_order", "state_known", "state IN ('draft', 'sent', 'cancelled')"),
        _check("purchase_order", "postage_possible", "postage_minor >= 0"),
        _points("purchase_order", "supplier_id", "supplier"),
        indexed=("supplier_id", "state"),
    )
    _make(
        "purchase_order_line",
        _row("order_id"),
        _row("part_id"),
        _row("offer_id", nullable=True),
        _text("item_number", 100),
        _number("packs"),
        _number("pack_pieces"),
        _number("price_minor"),
        _number("given_up_pieces"),
        _text("given_up_why", 2000, nullable=True),
        _check("purchase_order_line", "packs_possible", "packs > 0 AND pack_pieces > 0"),
        _check("purchase_order_line", "price_possible", "price_minor >= 0"),
        _check(
            "purchase_order_line",
            "given_up_possible",
            "given_up_pieces >= 0 AND given_up_pieces <= packs * pack_pieces",
        ),
        _points("purchase_order_line", "order_id", "purchase_order"),
        _points("purchase_order_line", "part_id", "part"),
        _points("purchase_order_line", "offer_id", "offer"),
        indexed=("order_id", "part_id"),
    )


def _make_parcels() -> None:
    _make(
        "parcel",
        _row("order_id"),
        _row("act_id"),
        _text("note", 2000),
        _moment("received_at"),
        _points("parcel", "order_id", "purchase_order"),
        _points("parcel", "act_id", "act"),
        sa.UniqueConstraint("act_id", name=op.f("uq_parcel_act_id")),
        indexed=("order_id",),
    )
    _make(
        "parcel_line",
        _row("parcel_id"),
        _row("line_id"),
        _row("lot_id"),
        _number("pieces"),
        _number("counted_pieces"),
        sa.Column("differences", sa.JSON(), nullable=False),
        _check("parcel_line", "pieces_positive", "pieces > 0"),
        _check("parcel_line", "counted_came", "counted_pieces >= 0 AND counted_pieces <= pieces"),
        _points("parcel_line", "parcel_id", "parcel"),
        _points("parcel_line", "line_id", "purchase_order_line"),
        _points("parcel_line", "lot_id", "lot"),
        sa.UniqueConstraint("lot_id", name=op.f("uq_parcel_line_lot_id")),
        indexed=("parcel_id", "line_id"),
    )


def downgrade() -> None:
    _refuse_what_would_be_lost()
    for table in _TABLES:
        op.drop_table(table)


def _refuse_what_would_be_lost() -> None:
    """Refuse to lose what was ordered and what came."""
    rows = op.get_bind().exec_driver_sql("SELECT count(*) FROM purchase_order").scalar()
    if rows:
        raise RuntimeError(
            f"{rows} rows of purchase_order cannot be kept by the release before; restore a backup"
        )
