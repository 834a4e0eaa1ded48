"""Pens, their readings, the jobs done on them, and what each job needs."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, text
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
from sparewell.repairs.bench_tables import Approval, ReadingCorrection, StepMark, Timer

_NONE_YET = text("'[]'")


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
    owner: Mapped[str] = mapped_column(String(200), server_default="")
    accessories: Mapped[str] = mapped_column(String(2000), server_default="")
    condition: Mapped[str] = mapped_column(String(2000), server_default="")
    components: Mapped[DocumentList] = mapped_column(server_default=_NONE_YET)
    model_note: Mapped[str] = mapped_column(String(200), server_default="")
    model_key: Mapped[str] = mapped_column(String(600), server_default="", index=True)
    cost_minor: Mapped[int | None] = mapped_column(BigInteger)
    retired_at: Mapped[OptionalMoment]

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
    correction: Mapped[ReadingCorrection | None] = relationship(
        foreign_keys=[ReadingCorrection.reading_id], lazy="joined"
    )


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
    wishes: Mapped[str] = mapped_column(String(2000), server_default="")
    promised_on: Mapped[date | None]
    estimate_minor: Mapped[int | None] = mapped_column(BigInteger)
    ceiling_minor: Mapped[int | None] = mapped_column(BigInteger)
    postage_minor: Mapped[int | None] = mapped_column(BigInteger)
    glue: Mapped[str] = mapped_column(String(200), server_default="")
    ink: Mapped[str] = mapped_column(String(200), server_default="")
    test_results: Mapped[DocumentList] = mapped_column(server_default=_NONE_YET)
    time_minutes: Mapped[int | None] = mapped_column(BigInteger)
    value_as_restored_minor: Mapped[int | None] = mapped_column(BigInteger)
    closed_anyway: Mapped[str] = mapped_column(String(2000), server_default="")

    pen: Mapped[Pen] = relationship(lazy="joined", innerjoin=True)
    needs: Mapped[list[Need]] = relationship(order_by="Need.id", lazy="selectin")
    approvals: Mapped[list[Approval]] = relationship(order_by=Approval.id)
    step_marks: Mapped[list[StepMark]] = relationship(order_by=StepMark.id)
    timers: Mapped[list[Timer]] = relationship(order_by=Timer.id)

    @property
    def number(self) -> str:
        """The number people use, such as JOB-0001."""
        return number_of(JOB_PREFIX, self.id)


class Need(Base):
    """One thing a job needs.

    `given`, `reads`, `together` and `materials` are as in the template. What is not `decided` waits
    for the pen to be open; what was dropped stays, with the reason.
    """

    __tablename__ = "need"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity_positive"),
        CheckConstraint("at_most > 0", name="at_most_positive"),
        CheckConstraint("(dropped_at IS NULL) = (dropped_why IS NULL)", name="dropped_with_why"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    kind: Mapped[str] = mapped_column(String(40))
    quantity: Mapped[int] = mapped_column(BigInteger)
    at_most: Mapped[int | None] = mapped_column(BigInteger)
    calculator: Mapped[str | None] = mapped_column(String(40))
    optional: Mapped[bool]
    seals_where: Mapped[str] = mapped_column(String(200))
    given: Mapped[Document]
    reads: Mapped[Document]
    together: Mapped[str] = mapped_column(String(100))
    decided: Mapped[bool]
    materials: Mapped[DocumentList] = mapped_column(server_default=_NONE_YET)
    note: Mapped[str] = mapped_column(String(2000))
    dropped_at: Mapped[OptionalMoment]
    dropped_by: Mapped[str | None] = mapped_column(String(200))
    dropped_why: Mapped[str | None] = mapped_column(String(2000))

    @property
    def is_wanted(self) -> bool:
        """Whether pieces are looked for: it is decided and was not dropped."""
        return self.decided and self.dropped_at is None


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
