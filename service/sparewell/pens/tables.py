"""Pens, their readings, and what was wrong with a reading."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    ForeignKey,
    ScalarSelect,
    String,
    select,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
    Signed,
    index_where_given,
)
from sparewell.database.numbers import PEN_PREFIX, number_of
from sparewell.database.versions import Fact, Versioned
from sparewell.measure.length import millimetres

_NONE_YET = text("'[]'")


class ReadingCorrection(Signed, Fact, Base):
    """Why a reading no longer counts, and which reading stands in its place, if one does."""

    __tablename__ = "reading_correction"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    reading_id: Mapped[int] = mapped_column(ForeignKey("reading.id"), unique=True)
    by_reading_id: Mapped[int | None] = mapped_column(ForeignKey("reading.id"))
    why: Mapped[str] = mapped_column(String(2000))

    def is_of(self) -> tuple[type[Pen], ScalarSelect[int]]:
        """Return the pen whose reading it is about."""
        read = select(Reading.pen_id).where(Reading.id == self.reading_id)
        return Pen, read.scalar_subquery()


class Pen(Versioned, Base):
    """The pen on the bench. What is written of its maker is the user's own free text."""

    # What was paid and what it fetches change no plan.
    NO_FACTS = frozenset({"cost_minor", "might_fetch_minor", "purchase_id"})
    __tablename__ = "pen"
    __table_args__ = (index_where_given("pen", "purchase_id"), TABLE_OPTIONS)

    id: Mapped[Identity]
    called: Mapped[str] = mapped_column(String(200))
    filling_system: Mapped[str] = mapped_column(String(40))
    materials: Mapped[DocumentList]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    owner: Mapped[str] = mapped_column(String(200), server_default="")
    accessories: Mapped[str] = mapped_column(String(2000), server_default="")
    condition: Mapped[str] = mapped_column(String(2000), server_default="")
    components: Mapped[DocumentList] = mapped_column(server_default=_NONE_YET)
    model_note: Mapped[str] = mapped_column(String(200), server_default="")
    model_key: Mapped[str] = mapped_column(String(600), server_default="", index=True)
    cost_minor: Mapped[int | None] = mapped_column(BigInteger)
    might_fetch_minor: Mapped[int | None] = mapped_column(BigInteger)
    purchase_id: Mapped[int | None] = mapped_column(ForeignKey("pen_purchase.id"))
    retired_at: Mapped[OptionalMoment]

    readings: Mapped[list[Reading]] = relationship(
        back_populates="pen", order_by="Reading.id", lazy="selectin"
    )

    @property
    def number(self) -> str:
        """The number people use, such as PEN-0001."""
        return number_of(PEN_PREFIX, self.id)

    @property
    def retired(self) -> bool:
        """Whether it is no longer about."""
        return self.retired_at is not None


class Reading(Fact, Base):
    """One measurement of a pen; a later one of the same name stands beside it, not over it.

    A length is kept in nanometres, anything else as `value_text`; `entered` is the text as typed.
    """

    __tablename__ = "reading"
    __table_args__ = (
        CheckConstraint("(value_nanometres IS NULL) <> (value_text IS NULL)", name="one_value"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    pen_id: Mapped[int] = mapped_column(ForeignKey("pen.id"), index=True)
    name: Mapped[str] = mapped_column(String(40))
    value_nanometres: Mapped[int | None] = mapped_column(BigInteger)
    value_text: Mapped[str | None] = mapped_column(String(200))
    entered: Mapped[str] = mapped_column(String(200))
    instrument: Mapped[str | None] = mapped_column(String(100))
    spread_nanometres: Mapped[int | None] = mapped_column(BigInteger)
    spread_entered: Mapped[str | None] = mapped_column(String(200))
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    at: Mapped[Moment]

    pen: Mapped[Pen] = relationship(back_populates="readings")
    correction: Mapped[ReadingCorrection | None] = relationship(
        foreign_keys=[ReadingCorrection.reading_id], lazy="joined"
    )

    def is_of(self) -> tuple[type[Pen], int]:
        """Return the pen that was measured."""
        return Pen, self.pen_id

    @property
    def value(self) -> float | str | None:
        """What was read: millimetres where it is a length, else the text."""
        length = self.value_nanometres
        return self.value_text if length is None else millimetres(length)
