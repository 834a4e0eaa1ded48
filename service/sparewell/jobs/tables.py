"""Jobs, what each needs, and what is noted on its way: approvals, steps, timers."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    ForeignKey,
    Index,
    ScalarSelect,
    String,
    and_,
    false,
    func,
    select,
    text,
)
from sqlalchemy.orm import Mapped, aliased, mapped_column, relationship

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
    Signed,
    one_of,
)
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.database.versions import Fact, Versioned
from sparewell.pens.tables import Pen

_NONE_YET = text("'[]'")


class ApprovalState(StrEnum):
    """What the owner said to an estimate."""

    NOT_ASKED = "not_asked"
    ASKED = "asked"
    APPROVED = "approved"
    DECLINED = "declined"


class Approval(Signed, Fact, Base):
    """What the owner said to a job's estimate; the latest one counts."""

    __tablename__ = "approval"
    __table_args__ = (
        CheckConstraint(one_of("state", ApprovalState), name="state_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    state: Mapped[str] = mapped_column(String(10))
    by: Mapped[str | None] = mapped_column(String(200))
    note: Mapped[str] = mapped_column(String(2000))

    def is_of(self) -> tuple[type[Job], int]:
        """Return the job whose estimate it is about."""
        return Job, self.job_id


class StepMark(Signed, Base):
    """A step of a job was done, or was found not to be done after all; the latest one counts.

    One that is `not_needed` is done with: the note says why.
    """

    __tablename__ = "step_mark"
    __table_args__ = (CheckConstraint("position > 0", name="position_counted"), TABLE_OPTIONS)

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    position: Mapped[int] = mapped_column(BigInteger)
    is_done: Mapped[bool]
    not_needed: Mapped[bool] = mapped_column(server_default=false())
    note: Mapped[str] = mapped_column(String(2000))


class TimerState(StrEnum):
    """How a timer stands by the clock."""

    RUNNING = "running"
    READY = "ready"
    DONE = "done"


class Timer(Base):
    """Something a job waits for, until a moment. Its marks say who set, moved and ended it."""

    __tablename__ = "timer"
    __table_args__ = (
        Index(
            "ix_timer_open",
            "until",
            sqlite_where=text("done_at IS NULL"),
            postgresql_where=text("done_at IS NULL"),
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    what: Mapped[str] = mapped_column(String(200))
    until: Mapped[Moment]
    created_at: Mapped[Moment]
    done_at: Mapped[OptionalMoment]

    marks: Mapped[list[TimerMark]] = relationship(order_by="TimerMark.id")


class TimerVerb(StrEnum):
    """What happened to a timer; one is ended when its job closes."""

    SET = "set"
    MOVED = "moved"
    DONE = "done"
    ENDED = "ended"


class TimerMark(Signed, Base):
    """One thing that happened to a timer, and the moment it stood at then."""

    __tablename__ = "timer_mark"
    __table_args__ = (
        CheckConstraint(one_of("verb", TimerVerb), name="verb_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    timer_id: Mapped[int] = mapped_column(ForeignKey("timer.id"), index=True)
    verb: Mapped[str] = mapped_column(String(10))
    until: Mapped[Moment]
    note: Mapped[str] = mapped_column(String(2000))


class JobState(StrEnum):
    """Where a repair stands."""

    OPEN = "open"
    CLOSED = "closed"
    CANCELLED = "cancelled"


class Job(Versioned, Base):
    """One repair of one pen, with its own copy of the filling system's template."""

    __tablename__ = "job"
    __table_args__ = (
        CheckConstraint(one_of("state", JobState), name="state_known"),
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
    sold_on: Mapped[date | None]
    price_minor: Mapped[int | None] = mapped_column(BigInteger)
    sold_to: Mapped[str] = mapped_column(String(200), server_default="")
    warranty_until: Mapped[date | None]

    pen: Mapped[Pen] = relationship(lazy="joined", innerjoin=True)
    needs: Mapped[list[Need]] = relationship(order_by="Need.id", lazy="selectin")
    approvals: Mapped[list[Approval]] = relationship(order_by=Approval.id)
    latest_approval: Mapped[Approval | None] = relationship(
        primaryjoin=lambda: and_(Job.id == Approval.job_id, Approval.id == _latest_approval()),
        viewonly=True,
    )
    step_marks: Mapped[list[StepMark]] = relationship(order_by=StepMark.id)
    timers: Mapped[list[Timer]] = relationship(order_by=Timer.id)

    @property
    def number(self) -> str:
        """The number people use, such as JOB-0001."""
        return number_of(JOB_PREFIX, self.id)

    def need(self, need_id: int | None) -> Need | None:
        """Return one of its needs; None where it is none of this job."""
        return next((need for need in self.needs if need.id == need_id), None)


class NeedState(StrEnum):
    """How a need stands: whether pieces are looked for, and how far it is covered."""

    OPEN = "open"
    PROMISED = "promised"
    MET = "met"
    UNDECIDED = "undecided"
    DROPPED = "dropped"


class Need(Fact, Base):
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

    def is_of(self) -> tuple[type[Job], int]:
        """Return the job that needs it."""
        return Job, self.job_id


def _latest_approval() -> ScalarSelect[int]:
    """Return the id of the latest word on an estimate among those on the same one."""
    other = aliased(Approval)
    return (
        select(func.max(other.id))
        .where(other.job_id == Approval.job_id)
        .correlate(Approval)
        .scalar_subquery()
    )
