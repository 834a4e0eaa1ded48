"""Purchases of several pens at once."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import TABLE_OPTIONS, Base, Identity, Moment, one_of


class Division(StrEnum):
    """How what was paid is divided."""

    EVENLY = "evenly"
    BY_VALUE = "by_value"
    BY_HAND = "by_hand"


class PenPurchase(Base):
    """What was paid for several pens and donors together.

    Each of them names its purchase, and its own cost is its share: that stands nowhere else.
    """

    __tablename__ = "pen_purchase"
    __table_args__ = (
        CheckConstraint(one_of("divided", Division), name="division_known"),
        CheckConstraint("price_minor >= 0 AND postage_minor >= 0", name="price_possible"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    bought_from: Mapped[str] = mapped_column(String(200))
    bought_on: Mapped[date | None]
    price_minor: Mapped[int] = mapped_column(BigInteger)
    postage_minor: Mapped[int | None] = mapped_column(BigInteger)
    divided: Mapped[str] = mapped_column(String(10))
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]

    @property
    def total_minor(self) -> int:
        """What it cost with postage: this is divided."""
        return self.price_minor + (self.postage_minor or 0)
