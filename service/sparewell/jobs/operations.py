"""Jobs: opening one, finding it, what covers its needs, cancelling and ending it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.database.numbers import JOB_PREFIX, id_of
from sparewell.database.transaction import locked
from sparewell.errors import Conflict, NotFound, Problem
from sparewell.extend.declarations import FillingSystem, TemplateNeed
from sparewell.filling_systems.operations import document_of, find_system
from sparewell.jobs.tables import Job, JobState, Need, NeedState
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.pens.intake import refuse_retired
from sparewell.pens.tables import Pen
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


@dataclass(frozen=True)
class Cover:
    """How much of a need is promised, and how much is used already and was not put back.

    `fills` is how many pieces fill the place, where the plan knows it; it goes before the need's
    own quantity, and as a maximum: whoever fitted the least and kept no more has filled it.
    """

    promised: int = 0
    used: int = 0
    fills: int | None = None

    def wanted(self, need: Need) -> int:
        """Return how many pieces the need asks for in all."""
        return need.quantity if self.fills is None else self.fills

    def remaining(self, need: Need) -> int:
        """Return how many pieces the need still lacks; one that is not wanted lacks none."""
        if not need.is_wanted:
            return 0
        return 0 if self._is_full(need) else max(0, self.wanted(need) - self.promised - self.used)

    def state(self, need: Need) -> str:
        """How a need stands: open, promised, met; or undecided, or dropped."""
        if not need.is_wanted:
            return NeedState.UNDECIDED if need.dropped_at is None else NeedState.DROPPED
        if self._is_full(need):
            return NeedState.MET
        return NeedState.PROMISED if self.remaining(need) == 0 else NeedState.OPEN

    def _is_full(self, need: Need) -> bool:
        """Whether all that is wanted is fitted, or the least of what would fill the place."""
        least = self.wanted(need) if self.promised else need.quantity
        return self.used >= min(least, self.wanted(need))


def find_job(session: Session, number: str) -> Job:
    """Return a job by its number. Raises :class:`NotFound`."""
    job = session.get(Job, id_of(JOB_PREFIX, number))
    if job is None:
        raise NotFound(f"there is no job {number!r}")
    return job


def open_job(work: Work, pen: Pen, note: str = "") -> Job:
    """Open a job on a pen, with its own copy of the filling system's template."""
    # Whoever retires the pen, or makes a donor of it, waits for this, or this for them.
    pen = locked(work.session, pen)
    refuse_retired(pen)
    job = described_job(work, pen, note)
    work.session.add(job)
    work.session.flush()
    return job


def described_job(
    work: Work, pen: Pen, note: str = "", *, system: FillingSystem | None = None
) -> Job:
    """Return a job on a pen as it would be opened, written nowhere yet.

    Whoever has looked up its filling system hands it in.
    """
    system = system or find_system(work, pen.filling_system, "/pen").system
    return Job(
        pen=pen,
        state=JobState.OPEN,
        template=_template(system),
        note=note,
        created_at=work.now,
        needs=[need_of(template) for template in system.needs],
    )


def _template(system: FillingSystem) -> dict[str, Any]:
    """Return the copy that a job keeps; its needs become rows, since they may be changed."""
    return {name: value for name, value in document_of(system).items() if name != "needs"}


def need_of(template: TemplateNeed) -> Need:
    """Return the row of a template's need."""
    return Need(
        kind=template.kind,
        quantity=template.quantity,
        at_most=template.at_most,
        calculator=template.calculator,
        optional=template.optional,
        seals_where=template.seals_where,
        given=dict(template.given),
        reads=dict(template.reads),
        together=template.together,
        decided=not template.decided_when_open,
        materials=list(template.materials),
        note=template.note,
    )


def covers(session: Session, jobs: Iterable[Job]) -> Mapping[int, Cover]:
    """Return, by need, what is promised and used; one statement however many jobs.

    What was put back into stock is used no more, unless the job had ended by then: it stands as it
    ended.
    """
    needs = [need.id for job in jobs for need in job.needs]
    put_back = (
        select(func.coalesce(func.sum(Movement.pieces), 0))
        .join(Act, Act.id == Movement.act_id)
        .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.PUT_BACK)
        .where(Job.ended_at.is_(None) | (Act.at <= Job.ended_at))
        .scalar_subquery()
    )
    statement = (
        select(
            Reservation.need_id,
            func.sum(Reservation.promised),
            func.sum(Reservation.used - put_back),
        )
        .join(Job, Job.id == Reservation.job_id)
        .where(Reservation.need_id.in_(needs))
        .group_by(Reservation.need_id)
    )
    found = {
        need_id: Cover(int(promised), int(used))
        for need_id, promised, used in session.execute(statement)
    }
    return {need_id: found.get(need_id, Cover()) for need_id in needs}


def locked_open(work: Work, job: Job) -> Job:
    """Lock a job that is still open. Raises :class:`Conflict`."""
    job = locked(work.session, job)
    if job.state != JobState.OPEN:
        raise Conflict(f"{job.number} is {job.state}; nothing more can be done on it")
    # Its needs change under this lock only, so from here on they stand; look at them anew.
    work.session.expire(job, ["needs"])
    statement = select(Need).where(Need.job_id == job.id)
    work.session.scalars(statement.execution_options(populate_existing=True)).all()
    return job


def refuse_promised(work: Work, job: Job) -> None:
    """Raise :class:`Conflict` while anything is still promised to a locked job."""
    lapse_expired(work, job_id=job.id)
    held = _held(work.session, job)
    if held:
        raise Conflict(
            f"{job.number} still has pieces promised: use, spoil or release them first",
            [
                Problem(
                    "",
                    f"reservation {row.id} holds {row.promised} of bag {row.lot_id}",
                    {"reservation": row.id},
                )
                for row in held
            ],
        )


def cancel_job(work: Work, job: Job, note: str = "") -> Job:
    """Cancel a job and give up everything promised to it."""
    job = locked_open(work, job)
    reservations.release_all(work, _held(work.session, job), note or f"{job.number} cancelled")
    return end_job(work, job, JobState.CANCELLED, note)


def _held(session: Session, job: Job) -> list[Reservation]:
    statement = (
        select(Reservation)
        .where(Reservation.job_id == job.id, Reservation.promised > 0)
        .order_by(Reservation.id)
    )
    return list(session.scalars(statement))


def end_job(work: Work, job: Job, state: JobState, note: str) -> Job:
    """Note that a locked job has ended; whatever is in the way was looked at before."""
    job.state = state
    job.ended_at = work.now
    if note:
        job.note = f"{job.note}\n{note}".strip()[:2000]
    work.session.flush()
    return job
