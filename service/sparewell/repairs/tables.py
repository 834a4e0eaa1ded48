"""Pens, their readings, the jobs done on them, and what each job needs."""

from __future__ import annotations

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
)
from sparewell.database.numbers import JOB_PREFIX, PEN_PREFIX, number_of


class Pen(Base):
    """The pen on the bench. What is written of its maker is the user's own free text."""

    __tablename__ = "pen"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    called: Mapped[str] = mapped_column(String(200))
    filling_system: Mapped[str] = mapped_column(String(40))
    materials: Mapped[DocumentList]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]

    readings: Mapped[list[Reading]] = relationship(
        back_populates="pen", order_by="Reading.id", lazy="selectin"
    )

    @property
    def number(self) -> str:
        """The number people use, such as PEN-0001."""
        return number_of(PEN_PREFIX, self.id)


class Reading(Base):
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


class Job(Base):
    """One repair of one pen, with its own copy of the filling system's template."""

    __tablename__ = "job"
    __table_args__ = (
        CheckConstraint("state IN ('open', 'closed', 'cancelled')", name="state_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    pen_id: Mapped[int] = mapped_column(ForeignKey("pen.id"), index=True)
    state: Mapped[str] = mapped_column(String(10), index=True)
    template: Mapped[Document]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    ended_at: Mapped[OptionalMoment]

    pen: Mapped[Pen] = relationship(lazy="joined", innerjoin=True)
    needs: Mapped[list[Need]] = relationship(order_by="Need.id", lazy="selectin")

    @property
    def number(self) -> str:
        """The number people use, such as JOB-0001."""
        return number_of(JOB_PREFIX, self.id)


class Need(Base):
    """One thing a job needs."""

    __tablename__ = "need"
    __table_args__ = (CheckConstraint("quantity > 0", name="quantity_positive"), TABLE_OPTIONS)

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(40))
    quantity: Mapped[int] = mapped_column(BigInteger)
    calculator: Mapped[str | None] = mapped_column(String(40))
    optional: Mapped[bool]
    seals_where: Mapped[str] = mapped_column(String(200))
