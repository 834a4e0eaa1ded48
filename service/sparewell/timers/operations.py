"""What a job waits for: setting a timer, moving it, ending it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, Row, Select, select
from sqlalchemy.orm import Session

from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Impossible, NotFound
from sparewell.jobs.operations import locked_open
from sparewell.jobs.progress import LONGEST_WAIT_DAYS, state_of
from sparewell.jobs.tables import Job, Timer, TimerMark, TimerState, TimerVerb
from sparewell.pens.tables import Pen
from sparewell.work import Work


@dataclass(frozen=True)
class Wait:
    """How long to wait: until a moment, or so many minutes from now."""

    until: datetime | None = None
    minutes: int | None = None

    def end(self, now: datetime) -> datetime:
        """Return the moment at which it is over. Raises :class:`Impossible`."""
        if self.until is None:
            return now + timedelta(minutes=self.minutes or 0)
        if abs(self.until - now) > timedelta(days=LONGEST_WAIT_DAYS):
            raise Impossible.at("/until", f"must lie within {LONGEST_WAIT_DAYS} days of now")
        return self.until


def find_timer(session: Session, timer_id: int) -> Timer:
    """Return a timer by its id. Raises :class:`NotFound`."""
    timer = session.get(Timer, timer_id)
    if timer is None:
        raise NotFound(f"there is no timer {timer_id}")
    return timer


def set_timer(work: Work, job: Job, what: str, wait: Wait) -> Timer:
    """Let an open job wait for something."""
    job = locked_open(work, job)
    timer = Timer(job_id=job.id, what=what, until=wait.end(work.now), created_at=work.now)
    work.session.add(timer)
    work.session.flush()
    _mark(work, timer, TimerVerb.SET)
    return timer


def change_timer(work: Work, timer: Timer, wait: Wait | None, what: str | None, note: str) -> Timer:
    """Move a locked timer that is not done, or call it something else."""
    _refuse_done(timer)
    timer.what = timer.what if what is None else what
    if wait is not None:
        timer.until = wait.end(work.now)
    _mark(work, timer, TimerVerb.MOVED, note)
    return timer


def finish_timer(work: Work, timer: Timer, note: str) -> Timer:
    """End a timer, whether its time is over or not."""
    timer = locked(work.session, timer)
    _refuse_done(timer)
    timer.done_at = work.now
    _mark(work, timer, TimerVerb.DONE, note)
    return timer


def end_timers(work: Work, job: Job) -> None:
    """End whatever a locked job that has ended still waits for."""
    statement = (
        select(Timer)
        .where(Timer.job_id == job.id, Timer.done_at.is_(None))
        .order_by(Timer.id)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    )
    for timer in work.session.scalars(statement).all():
        timer.done_at = work.now
        _mark(work, timer, TimerVerb.ENDED, f"{job.number} {job.state}")


def _refuse_done(timer: Timer) -> None:
    if timer.done_at is not None:
        raise Conflict(f"timer {timer.id} is done since {timer.done_at:%Y-%m-%d %H:%M} UTC")


def _mark(work: Work, timer: Timer, verb: TimerVerb, note: str = "") -> None:
    work.session.add(
        TimerMark(
            timer_id=timer.id,
            verb=verb,
            until=timer.until,
            note=note,
            actor=work.actor.token,
            person=work.actor.person,
            at=work.now,
        )
    )
    work.session.flush()


def timers_of_all(
    now: datetime, state: str | None = None, before: datetime | None = None
) -> Select[Timer, int, int, str]:
    """Return the timers of all jobs, soonest first, each with its job, its pen, and its name."""
    statement = (
        select(Timer, Job.id, Pen.id, Pen.called)
        .join(Job, Job.id == Timer.job_id)
        .join(Pen, Pen.id == Job.pen_id)
        .order_by(Timer.until, Timer.id)
    )
    if before is not None:
        statement = statement.where(Timer.until < before)
    return statement if state is None else statement.where(*_in_state(state, now))


@dataclass(frozen=True)
class ShownTimer:
    """A timer, whose it is, and whether its time is over."""

    row: Timer
    job_id: int
    pen_id: int
    called: str
    state: str

    @property
    def ready(self) -> bool:
        """Whether its time is over and nobody has ended it."""
        return self.state == TimerState.READY


def shown_timers(work: Work, rows: Sequence[Row[Timer, int, int, str]]) -> list[ShownTimer]:
    """Return timers as they are shown."""
    return [ShownTimer(*row, state_of(row[0], work.now)) for row in rows]


def with_job(session: Session, timer: Timer) -> Row[Timer, int, int, str]:
    """Return one timer as :func:`timers_of_all` does."""
    return session.execute(timers_of_all(timer.until).where(Timer.id == timer.id)).one()


def _in_state(state: str, now: datetime) -> Sequence[ColumnElement[bool]]:
    if state == TimerState.DONE:
        return [Timer.done_at.is_not(None)]
    return [
        Timer.done_at.is_(None),
        Timer.until <= now if state == TimerState.READY else Timer.until > now,
    ]
