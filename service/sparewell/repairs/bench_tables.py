"""What is noted of a pen and a job on their way; lines are added here and hardly ever changed."""

from __future__ import annotations

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, false, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    OptionalMoment,
)


class Signed:
    """Who noted it, and when."""

    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    at: Mapped[Moment]


class ReadingCorrection(Signed, Base):
    """Why a reading no longer counts, and which reading stands in its place, if one does."""

    __tablename__ = "reading_correction"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    reading_id: Mapped[int] = mapped_column(ForeignKey("reading.id"), unique=True)
    by_reading_id: Mapped[int | None] = mapped_column(ForeignKey("reading.id"))
    why: Mapped[str] = mapped_column(String(2000))


class Approval(Signed, Base):
    """What the owner said to a job's estimate; the latest one counts."""

    __tablename__ = "approval"
    __table_args__ = (
        CheckConstraint(
            "state IN ('not_asked', 'asked', 'approved', 'declined')", name="state_known"
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    state: Mapped[str] = mapped_column(String(10))
    by: Mapped[str | None] = mapped_column(String(200))
    note: Mapped[str] = mapped_column(String(2000))


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


class TimerMark(Signed, Base):
    """One thing that happened to a timer, and the moment it stood at then."""

    __tablename__ = "timer_mark"
    __table_args__ = (
        CheckConstraint("verb IN ('set', 'moved', 'done', 'ended')", name="verb_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    timer_id: Mapped[int] = mapped_column(ForeignKey("timer.id"), index=True)
    verb: Mapped[str] = mapped_column(String(10))
    until: Mapped[Moment]
    note: Mapped[str] = mapped_column(String(2000))


class Outcome(Signed, Base):
    """How used pieces turned out, with what was known of pen and pieces; the latest one counts."""

    __tablename__ = "outcome"
    __table_args__ = (
        CheckConstraint("outcome IN ('good', 'tight', 'loose', 'leaked')", name="outcome_known"),
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
