"""Everything that ever happened to a pen, in its order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, lazyload, selectinload

from sparewell.database.columns import Signed
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.jobs.tables import Job, Timer, TimerMark
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.measure.money import money_text
from sparewell.outcomes.operations import glue_of, part_number, size_of
from sparewell.outcomes.tables import Outcome
from sparewell.pens.tables import Pen, Reading
from sparewell.photographs.tables import Photograph
from sparewell.places.tables import PlaceType
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


@dataclass(frozen=True)
class PenEvent:
    """One thing that happened, in words and in figures."""

    at: datetime
    what: str
    sentence: str
    job: str | None = None
    actor: str | None = None
    person: str | None = None
    note: str = ""
    details: Mapping[str, Any] = field(default_factory=dict)


def jobs_of(session: Session, pen: Pen) -> Sequence[Job]:
    """Return a pen's jobs with what was agreed and ticked off in them, the earliest first."""
    statement = (
        select(Job)
        .options(joinedload(Job.approvals), selectinload(Job.step_marks))
        .options(lazyload(Job.pen), lazyload(Job.needs))
        .where(Job.pen_id == pen.id)
        .order_by(Job.id)
    )
    return session.scalars(statement).unique().all()


def history(work: Work, pen: Pen, jobs: Sequence[Job]) -> list[PenEvent]:
    """Return everything that happened to a pen and in its jobs, the earliest first."""
    events = [
        *_of_pen(pen),
        *_of_photographs(work.session, pen),
        *(event for job in jobs for event in _of_job(job)),
        *_of_timers(work.session, jobs),
        *_of_pieces(work, jobs),
    ]
    return sorted(events, key=lambda event: event.at)  # stable: what came first stays first


def _of_pen(pen: Pen) -> Iterator[PenEvent]:
    yield PenEvent(pen.created_at, "came", f"{pen.called} came to the bench", note=pen.note)
    for reading in pen.readings:
        yield _signed(
            reading,
            "measured",
            f"{_spoken(reading.name)} read as {reading.entered}",
            details={"reading": reading.id, "name": reading.name, "entered": reading.entered},
        )
        if reading.correction is not None:
            yield _signed(
                reading.correction,
                "corrected",
                f"{_spoken(reading.name)} of {reading.entered} counts no more",
                note=reading.correction.why,
                details={"reading": reading.id, "by": reading.correction.by_reading_id},
            )
    if pen.retired_at is not None:
        yield PenEvent(pen.retired_at, "retired", f"{pen.called} was retired")


def _of_photographs(session: Session, pen: Pen) -> Iterator[PenEvent]:
    statement = select(Photograph).where(Photograph.pen_id == pen.id).order_by(Photograph.id)
    for row in session.scalars(statement):
        name, details = f"photograph {row.id}", {"photograph": row.id}
        yield _signed(row, "photographed", f"{name} taken in", note=row.note, details=details)
        if row.retired_at is not None:
            yield PenEvent(
                row.retired_at,
                "photograph_retired",
                f"{name} retired by {row.retired_by}",
                note=row.retired_why or "",
                details=details,
            )


def _of_job(job: Job) -> Iterator[PenEvent]:
    yield PenEvent(job.created_at, "job_opened", f"{job.number} opened", job.number)
    for approval in job.approvals:
        by = f" by {approval.by}" if approval.by else ""
        yield _signed(
            approval,
            "approval",
            f"estimate {_spoken(approval.state)}{by}",
            job.number,
            approval.note,
            {"state": approval.state, "by": approval.by},
        )
    steps = job.template["steps"]
    for mark in job.step_marks:
        name = steps[mark.position - 1]["name"]
        verb = ("not_needed" if mark.not_needed else "done") if mark.is_done else "undone"
        yield _signed(
            mark,
            f"step_{verb}",
            f"step {mark.position} ({_spoken(name)}) {_spoken(verb)}",
            job.number,
            mark.note,
            {"position": mark.position, "step": name},
        )
    if job.ended_at is not None:
        yield PenEvent(
            job.ended_at,
            f"job_{job.state}",
            f"{job.number} {job.state}"
            + (f", though not finished: {job.closed_anyway}" if job.closed_anyway else ""),
            job.number,
            note=job.note,
            details={
                "glue": job.glue,
                "ink": job.ink,
                "test_results": job.test_results,
                "anyway": job.closed_anyway,
            },
        )
        yield from _of_sale(job, job.ended_at)


def _of_sale(job: Job, ended_at: datetime) -> Iterator[PenEvent]:
    """Yield that the pen was sold: of the moment only the day is known."""
    if job.sold_on is None:
        return
    price = "" if job.price_minor is None else f" for {money_text(job.price_minor)}"
    buyer = f" to {job.sold_to}" if job.sold_to else ""
    until = f", with a warranty until {job.warranty_until}" if job.warranty_until else ""
    yield PenEvent(
        max(ended_at, datetime.combine(job.sold_on, time(), UTC)),
        "sold",
        f"sold on {job.sold_on}{price}{buyer}{until}",
        job.number,
    )


def _of_timers(session: Session, jobs: Sequence[Job]) -> Iterator[PenEvent]:
    statement = (
        select(TimerMark, Timer)
        .join(Timer, Timer.id == TimerMark.timer_id)
        .where(Timer.job_id.in_([job.id for job in jobs]))
        .order_by(TimerMark.id)
    )
    for mark, timer in session.execute(statement):
        yield _signed(
            mark,
            f"timer_{mark.verb}",
            f"timer {mark.verb}: {timer.what}, until {mark.until:%Y-%m-%d %H:%M} UTC",
            number_of(JOB_PREFIX, timer.job_id),
            mark.note,
            {"timer": timer.id, "timer_for": timer.what, "until": _text(mark.until)},
        )


def _of_pieces(work: Work, jobs: Sequence[Job]) -> Iterator[PenEvent]:
    """Yield promises, what the ledger says of their pieces, and how those turned out."""
    numbers = {job.id: job for job in jobs}
    statement = (
        select(Reservation, Lot, Outcome)
        .join(Lot, Lot.id == Reservation.lot_id)
        .outerjoin(Outcome, Outcome.reservation_id == Reservation.id)
        .where(Reservation.job_id.in_(numbers))
        .order_by(Reservation.id, Outcome.id)
    )
    promises: dict[int, tuple[Reservation, Lot]] = {}
    told: list[Outcome] = []
    for reservation, lot, outcome in work.session.execute(statement):
        promises[reservation.id] = (reservation, lot)
        told += [outcome] if outcome else []
    for reservation, lot in promises.values():
        yield PenEvent(
            reservation.created_at,
            "promised",
            f"{reservation.quantity} of {_named(lot)} promised"
            + (f", though refused: {reservation.override}" if reservation.override else ""),
            numbers[reservation.job_id].number,
            reservation.actor,
            reservation.person,
            reservation.note,
            _pieces(work, reservation, lot, reservation.quantity)
            | {
                "verdict": reservation.verdict,
                "why": reservation.why,
                "override": reservation.override,
            },
        )
        yield from _moved_aside(work, reservation, lot, promises)
    lines = work.session.scalars(
        select(Movement).where(Movement.reservation_id.in_(promises)).order_by(Movement.id)
    )
    for line in lines:
        reservation, lot = promises[line.reservation_id or 0]
        job = numbers[reservation.job_id]
        what = _VERBS.get(line.verb) or (
            "fetched" if line.place.type == PlaceType.TRAY else "returned"
        )
        details = _pieces(work, reservation, lot, line.pieces)
        if line.verb == Verb.FITTED:
            glue = glue_of(work.declared, lot, reservation.glue or job.glue)
            details |= {"glue": glue, "cost": money_text(-line.cost_change_minor)}
        elif line.verb == Verb.PUT_BACK:
            details |= {"lot_made": line.lot_id}
        yield PenEvent(
            line.act.at,
            what,
            f"{line.pieces} of {_named(lot)} {_spoken(what)}",
            job.number,
            line.act.actor,
            line.act.person,
            line.act.note,
            details,
        )
    yield from _of_outcomes(work, told, promises, numbers)


def _of_outcomes(
    work: Work,
    told: Sequence[Outcome],
    promises: Mapping[int, tuple[Reservation, Lot]],
    numbers: Mapping[int, Job],
) -> Iterator[PenEvent]:
    """Yield how fitted pieces turned out, in the order in which that was noted."""
    for outcome in sorted(told, key=lambda outcome: outcome.id):
        reservation, lot = promises[outcome.reservation_id]
        glue = glue_of(work.declared, lot, outcome.glue)
        yield _signed(
            outcome,
            "outcome",
            f"the {outcome.size} of bag {lot.id} turned out {outcome.outcome}",
            numbers[reservation.job_id].number,
            outcome.note,
            _pieces(work, reservation, lot, reservation.used)
            | {
                "outcome": outcome.outcome,
                "happened_on": f"{outcome.found_on}",
                "glue": glue,
                "ink": outcome.ink,
            },
        )


def _moved_aside(
    work: Work,
    before: Reservation,
    lot: Lot,
    promises: Mapping[int, tuple[Reservation, Lot]],
) -> Iterator[PenEvent]:
    """Yield that other pieces took the place of a promise, where they did."""
    if before.moved_to_id is None:
        return
    successor, other = promises[before.moved_to_id]
    moved_for = None if before.moved_for_id is None else number_of(JOB_PREFIX, before.moved_for_id)
    yield PenEvent(
        successor.created_at,
        "moved_aside",
        f"{before.settled} of {_named(lot)} left"
        + (f" to {moved_for}" if moved_for else "")
        + f": {_named(other)} took their place",
        number_of(JOB_PREFIX, before.job_id),
        successor.actor,
        details=_pieces(work, before, lot, before.settled)
        | {"moved_to": successor.id, "moved_for": moved_for},
    )


_VERBS: Mapping[str, str] = {
    Verb.FITTED: "used",
    Verb.SPOILED: "spoiled",
    Verb.UNDONE: "undone",
    Verb.PUT_BACK: "put_back",
}


def _named(lot: Lot) -> str:
    return f"bag {lot.id} ({part_number(lot) or _spoken(lot.kind)})"


def _pieces(work: Work, reservation: Reservation, lot: Lot, quantity: int) -> dict[str, Any]:
    return {
        "reservation": reservation.id,
        "lot": lot.id,
        "part": part_number(lot),
        "kind": lot.kind,
        "label": lot.label,
        "size": size_of(work.declared, lot),
        "quantity": quantity,
    }


def _signed(
    row: Signed | Reading,
    what: str,
    sentence: str,
    job: str | None = None,
    note: str = "",
    details: Mapping[str, Any] | None = None,
) -> PenEvent:
    return PenEvent(row.at, what, sentence, job, row.actor, row.person, note, details or {})


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def _text(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
