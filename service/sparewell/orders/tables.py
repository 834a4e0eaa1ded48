"""Orders, and the parcels that came of them.

How much of an order has come is not kept: it is what its parcels hold, less those whose arrival was
undone in the ledger.
"""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.catalogue.tables import Part
from sparewell.database.columns import (
    IDENTITY,
    TABLE_OPTIONS,
    Base,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
    one_of,
)
from sparewell.database.numbers import number_of
from sparewell.suppliers.tables import Supplier

ORDER_PREFIX = "ORD"


class OrderState(StrEnum):
    """Where an order stands; how much of a sent one has come is worked out."""

    DRAFT = "draft"
    SENT = "sent"
    PARTLY_RECEIVED = "partly_received"
    RECEIVED = "received"
    CANCELLED = "cancelled"


KEPT_STATES = (OrderState.DRAFT, OrderState.SENT, OrderState.CANCELLED)


class Order(Base):
    """What is asked of one supplier. It is a draft until it is sent."""

    __tablename__ = "purchase_order"
    __table_args__ = (
        CheckConstraint(one_of("state", KEPT_STATES), name="state_known"),
        CheckConstraint("postage_minor >= 0", name="postage_possible"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    supplier_id: Mapped[int] = mapped_column(ForeignKey("supplier.id"), index=True)
    state: Mapped[str] = mapped_column(String(10), index=True)
    postage_minor: Mapped[int] = mapped_column(BigInteger)
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    sent_at: Mapped[OptionalMoment]
    cancelled_at: Mapped[OptionalMoment]
    cancelled_why: Mapped[str | None] = mapped_column(String(2000))

    supplier: Mapped[Supplier] = relationship(lazy="joined", innerjoin=True)
    lines: Mapped[list[OrderLine]] = relationship(order_by="OrderLine.id", lazy="selectin")
    parcels: Mapped[list[Parcel]] = relationship(order_by="Parcel.id", lazy="selectin")

    @property
    def number(self) -> str:
        """The number people use, such as ORD-0001."""
        return number_of(ORDER_PREFIX, self.id)


class OrderLine(Base):
    """So many packs of one part at one price a pack. Pieces given up will not come any more."""

    __tablename__ = "purchase_order_line"
    __table_args__ = (
        CheckConstraint("packs > 0 AND pack_pieces > 0", name="packs_possible"),
        CheckConstraint("price_minor >= 0", name="price_possible"),
        CheckConstraint(
            "given_up_pieces >= 0 AND given_up_pieces <= packs * pack_pieces",
            name="given_up_possible",
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    order_id: Mapped[int] = mapped_column(ForeignKey("purchase_order.id"), index=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    offer_id: Mapped[int | None] = mapped_column(IDENTITY, ForeignKey("offer.id"))
    item_number: Mapped[str] = mapped_column(String(100))
    packs: Mapped[int] = mapped_column(BigInteger)
    pack_pieces: Mapped[int] = mapped_column(BigInteger)
    price_minor: Mapped[int] = mapped_column(BigInteger)
    given_up_pieces: Mapped[int] = mapped_column(BigInteger, default=0)
    given_up_why: Mapped[str | None] = mapped_column(String(2000))

    part: Mapped[Part] = relationship(lazy="joined", innerjoin=True)

    @property
    def pieces(self) -> int:
        """How many pieces were ordered."""
        return self.packs * self.pack_pieces


class Parcel(Base):
    """What came at one time; its lots arrived in one act of the ledger."""

    __tablename__ = "parcel"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    order_id: Mapped[int] = mapped_column(ForeignKey("purchase_order.id"), index=True)
    act_id: Mapped[int] = mapped_column(ForeignKey("act.id"), unique=True)
    note: Mapped[str] = mapped_column(String(2000))
    received_at: Mapped[Moment]

    lines: Mapped[list[ParcelLine]] = relationship(order_by="ParcelLine.id", lazy="joined")


class Difference(StrEnum):
    """How what came differs from what was ordered."""

    SHORT = "short"
    TOO_MANY = "too_many"
    WRONG_SIZE = "wrong_size"
    OTHER_PART = "other_part"


class ParcelLine(Base):
    """One bag of a parcel, the lot it became, and how it differs from what was ordered.

    Pieces that turned out to be of another part do not count for the line they were sent for.
    """

    __tablename__ = "parcel_line"
    __table_args__ = (
        CheckConstraint("pieces > 0", name="pieces_positive"),
        CheckConstraint("counted_pieces >= 0 AND counted_pieces <= pieces", name="counted_came"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    parcel_id: Mapped[int] = mapped_column(ForeignKey("parcel.id"), index=True)
    line_id: Mapped[int] = mapped_column(ForeignKey("purchase_order_line.id"), index=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"), unique=True)
    pieces: Mapped[int] = mapped_column(BigInteger)
    counted_pieces: Mapped[int] = mapped_column(BigInteger)
    differences: Mapped[DocumentList]
