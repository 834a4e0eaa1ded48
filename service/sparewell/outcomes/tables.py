"""How used pieces turned out."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import TABLE_OPTIONS, Base, Document, Identity, Signed, one_of


class TurnedOut(StrEnum):
    """How used pieces turned out."""

    GOOD = "good"
    TIGHT = "tight"
    LOOSE = "loose"
    LEAKED = "leaked"


class Outcome(Signed, Base):
    """How used pieces turned out, with what was known of pen and pieces; the latest one counts.

    Where nobody said on which day it was found, that is the day on which it was noted.
    """

    __tablename__ = "outcome"
    __table_args__ = (
        CheckConstraint(one_of("outcome", TurnedOut), name="outcome_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    reservation_id: Mapped[int] = mapped_column(ForeignKey("reservation.id"), index=True)
    outcome: Mapped[str] = mapped_column(String(10))
    note: Mapped[str] = mapped_column(String(2000))
    size: Mapped[str] = mapped_column(String(200))
    verdict: Mapped[str | None] = mapped_column(String(10))
    glue: Mapped[str] = mapped_column(String(200))
    ink: Mapped[str] = mapped_column(String(200))
    readings: Mapped[Document]
    happened_on: Mapped[date | None]

    @property
    def found_on(self) -> date:
        """The day on which it was found."""
        return self.happened_on or self.at.date()
