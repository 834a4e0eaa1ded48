"""What is noted when a pen comes in: of the pen itself, and what its owner agreed to."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.errors import Conflict, Impossible
from sparewell.extend.work import Work
from sparewell.repairs.bench_tables import Approval, ReadingCorrection
from sparewell.repairs.tables import Job, Pen, Reading

NOT_ASKED, ASKED, APPROVED, DECLINED = APPROVAL_STATES = (
    "not_asked",
    "asked",
    "approved",
    "declined",
)
OF_A_PEN = ("owner", "accessories", "condition", "components", "model_note", "cost")
_PEN_COLUMNS = {"cost": "cost_minor"}
_JOB_COLUMNS = {
    "estimate": "estimate_minor",
    "ceiling": "ceiling_minor",
    "postage": "postage_minor",
    "value_as_restored": "value_as_restored_minor",
}


def model_key(model_note: str) -> str:
    """Return a model note as it is compared: without regard to capitals and spaces."""
    return " ".join(model_note.casefold().split())


def write_down(pen: Pen, said: Mapping[str, Any], now: datetime) -> None:
    """Note what is said of a pen, by the names it has outside."""
    for name, value in said.items():
        if name == "retired":
            pen.retired_at = (pen.retired_at or now) if value else None
            continue
        setattr(pen, _PEN_COLUMNS.get(name, name), value)
        if name == "model_note":
            pen.model_key = model_key(value)


def change_job(work: Work, job: Job, said: Mapping[str, Any]) -> Job:
    """Note what is said of a job, by the names it has outside."""
    for name, value in said.items():
        if name == "approval":
            work.session.add(_approval(work, job, value))
        else:
            setattr(job, _JOB_COLUMNS.get(name, name), value)
    work.session.flush()
    work.session.expire(job, ["approvals"])
    return job


def _approval(work: Work, job: Job, said: Mapping[str, Any]) -> Approval:
    return Approval(
        job_id=job.id,
        state=said["state"],
        by=said.get("by"),
        note=said["note"],
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
    )


def refuse_retired(pen: Pen) -> None:
    """Refuse to begin anything on a retired pen."""
    if pen.retired_at is not None:
        raise Conflict(
            f"{pen.number} is retired; PATCH it with "
            '{"retired": false} if it is to be repaired after all'
        )


def refuse_declined(session: Session, job: Job) -> None:
    """Refuse to promise anything to a locked job whose estimate the owner declined."""
    latest = session.scalar(
        select(Approval).where(Approval.job_id == job.id).order_by(Approval.id.desc()).limit(1)
    )
    if latest is None or latest.state != DECLINED:
        return
    who = latest.by or "the owner"
    reason = f": {latest.note}" if latest.note else ""
    raise Conflict(
        f"nothing can be reserved for {job.number}: {who} declined the estimate on "
        f"{latest.at.date().isoformat()}{reason}; PATCH the job's approval when that changes"
    )


def correct_reading(work: Work, pen: Pen, reading_id: int, why: str, new: list[Reading]) -> None:
    """Add readings to a locked pen; an old one is kept but counts no more, being corrected.

    Of the new readings the one of the same name stands in its place. Raises :class:`Impossible`
    for a reading that is not this pen's, :class:`Conflict` for one that is corrected already.
    """
    old = next((reading for reading in pen.readings if reading.id == reading_id), None)
    if old is None:
        raise Impossible.at(
            "/corrects",
            f"{reading_id} is no reading of {pen.number}; the pen shows the ids of its readings",
        )
    if old.correction is not None:
        raise Conflict(f"reading {reading_id} is corrected already: {old.correction.why}")
    pen.readings.extend(new)
    work.session.flush()
    by = next((reading.id for reading in new if reading.name == old.name), None)
    old.correction = ReadingCorrection(
        reading_id=old.id,
        by_reading_id=by,
        why=why,
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
    )
    work.session.flush()
