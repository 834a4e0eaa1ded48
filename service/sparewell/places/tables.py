"""Places: drawers, donors, and the trays of jobs."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import TABLE_OPTIONS, Base, Identity, Moment, one_of


class PlaceType(StrEnum):
    """What kind of place it is."""

    DRAWER = "drawer"
    DONOR = "donor"
    TRAY = "tray"


class Place(Base):
    """Where pieces lie: a drawer, a donor, or a job's tray."""

    __tablename__ = "place"
    __table_args__ = (
        CheckConstraint(one_of("type", PlaceType), name="type_one_of_three"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    type: Mapped[str] = mapped_column(String(10))
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
