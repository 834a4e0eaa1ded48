"""What the owner of a pen wishes, was promised and agreed to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from sparewell.errors import Conflict
from sparewell.jobs.schemas import JobDescription
from sparewell.jobs.selling import refuse_odd_warranty, refuse_unsold
from sparewell.jobs.tables import Approval, ApprovalState, Job
from sparewell.work import Work

_LATEST: Final = (
    select(Approval.state, Approval.by, Approval.note, Approval.at)
    .where(Approval.job_id == bindparam("job_id"))
    .order_by(Approval.id.desc())
    .limit(1)
)


def change_job(work: Work, job: Job, said: Mapping[str, Any]) -> Job:
    """Note what is said of a job, by the names it has outside.

    Raises :class:`Conflict` and :class:`Impossible` for what cannot be said of a sale.
    """
    refuse_unsold(job, said)
    for name, value in said.items():
        if name == "approval":
            work.session.add(_approval(work, job, value))
        else:
            setattr(job, JobDescription.kept_as(name), value)
    refuse_odd_warranty(job)
    work.session.flush()
    work.session.expire(job, ["approvals", "latest_approval"])
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


def refuse_declined(session: Session, job: Job) -> None:
    """Refuse to promise anything to a locked job whose estimate the owner declined."""
    latest = session.connection().execute(_LATEST, {"job_id": job.id}).first()
    if latest is None or latest.state != ApprovalState.DECLINED:
        return
    who = latest.by or "the owner"
    reason = f": {latest.note}" if latest.note else ""
    raise Conflict(
        f"nothing can be reserved for {job.number}: {who} declined the estimate on "
        f"{latest.at.date().isoformat()}{reason}; PATCH the job's approval when that changes"
    )
