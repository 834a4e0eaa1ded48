"""How far a job has come: the steps that are done, and how its timers stand."""

from __future__ import annotations

from datetime import datetime

from sparewell.errors import Conflict, NotFound
from sparewell.jobs.operations import locked_open
from sparewell.jobs.tables import Job, StepMark, Timer, TimerState
from sparewell.work import Work

LONGEST_WAIT_DAYS = 366


def state_of(timer: Timer, now: datetime) -> str:
    """Return how a timer stands by the server's clock."""
    if timer.done_at is not None:
        return TimerState.DONE
    return TimerState.READY if timer.until <= now else TimerState.RUNNING


def mark_step(
    work: Work,
    job: Job,
    position: int,
    note: str,
    *,
    is_done: bool,
    not_needed: str | None = None,
) -> Job:
    """Note that a step of an open job is done, is not needed and why, or is not done after all.

    Raises :class:`NotFound` for a step there is not, :class:`Conflict` where it stands so already.
    """
    steps = job.template["steps"]
    if position > len(steps):
        raise NotFound(f"{job.number} has {len(steps)} steps: there is no step {position}")
    job = locked_open(work, job)
    work.session.expire(job, ["step_marks"])
    present = standing(job).get(position)
    if is_done is (present is not None):
        raise Conflict(
            f"step {position} ({steps[position - 1]['name']}) is "
            + ("done already" if is_done else "not done")
        )
    job.step_marks.append(
        StepMark(
            job_id=job.id,
            position=position,
            is_done=is_done,
            not_needed=not_needed is not None,
            note=not_needed or note,
            actor=work.actor.token,
            person=work.actor.person,
            at=work.now,
        )
    )
    work.session.flush()
    return job


def standing(job: Job) -> dict[int, StepMark]:
    """Return, by its position, the mark of each step that is done now."""
    latest = {mark.position: mark for mark in job.step_marks}
    return {position: mark for position, mark in latest.items() if mark.is_done}
