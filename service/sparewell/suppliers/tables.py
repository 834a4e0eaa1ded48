"""Suppliers, and what they offer."""

from __future__ import annotations

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
)


class Supplier(Base):
    """Somebody who sells parts. A retired one is not ordered from any more."""

    __tablename__ = "supplier"
    __table_args__ = (
        CheckConstraint("postage_minor >= 0", name="postage_possible"),
        CheckConstraint("free_postage_from_minor >= 0", name="free_postage_possible"),
        CheckConstraint("minimum_order_minor >= 0", name="minimum_possible"),
        CheckConstraint("lead_days >= 0 AND lead_spread_days >= 0", name="lead_possible"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    name: Mapped[str] = mapped_column(String(200), unique=True)
    postage_minor: Mapped[int] = mapped_column(BigInteger)
    free_postage_from_minor: Mapped[int | None] = mapped_column(BigInteger)
    minimum_order_minor: Mapped[int | None] = mapped_column(BigInteger)
    lead_days: Mapped[int] = mapped_column(BigInteger)
    lead_spread_days: Mapped[int] = mapped_column(BigInteger)
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    retired_at: Mapped[OptionalMoment]


class Offer(Base):
    """What a supplier sells: a part of the catalogue, or a kind and a size in words.

    `breaks` are documents {"packs", "price_minor"}, the fewest packs first: who takes so many pays
    that price for every pack.
    """

    __tablename__ = "offer"
    __table_args__ = (
        CheckConstraint("(part_id IS NULL) <> (kind IS NULL)", name="part_or_kind"),
        CheckConstraint("(kind IS NULL) = (size IS NULL)", name="kind_with_size"),
        CheckConstraint("pack_pieces > 0 AND minimum_pieces > 0", name="packs_possible"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    supplier_id: Mapped[int] = mapped_column(ForeignKey("supplier.id"), index=True)
    part_id: Mapped[int | None] = mapped_column(IDENTITY, ForeignKey("part.id"), index=True)
    kind: Mapped[str | None] = mapped_column(String(40))
    size: Mapped[str | None] = mapped_column(String(200))
    item_number: Mapped[str] = mapped_column(String(100))
    pack_pieces: Mapped[int] = mapped_column(BigInteger)
    minimum_pieces: Mapped[int] = mapped_column(BigInteger)
    breaks: Mapped[DocumentList]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    retired_at: Mapped[OptionalMoment]

    supplier: Mapped[Supplier] = relationship(lazy="joined", innerjoin=True)
    part: Mapped[Part | None] = relationship(lazy="joined")
