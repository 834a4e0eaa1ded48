"""The filling systems that the workshop wrote itself."""

from __future__ import annotations

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    OptionalMoment,
)


class OwnFillingSystem(Base):
    """A filling system that the workshop wrote itself; `actor` and `person` changed it last.

    A retired one is not offered for new pens. Jobs have copies of their own.
    """

    __tablename__ = "filling_system"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    name: Mapped[str] = mapped_column(String(40), unique=True)
    document: Mapped[Document]
    retired_at: Mapped[OptionalMoment]
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    created_at: Mapped[Moment]
    changed_at: Mapped[Moment]
