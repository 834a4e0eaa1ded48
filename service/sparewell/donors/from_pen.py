"""Making a donor of a pen that is not worth repairing."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.donors.operations import NewComponent, create_donor
from sparewell.donors.tables import Donor
from sparewell.errors import Conflict, Problem
from sparewell.jobs.tables import Job, JobState
from sparewell.pens.tables import Pen
from sparewell.work import Work


def make_donor(
    work: Work, pen: Pen, components: Sequence[NewComponent] = (), note: str = ""
) -> Donor:
    """Keep a pen to be stripped: it is retired, and its jobs have to be over.

    What it cost is divided over its pieces.

    Raises :class:`Conflict`.
    """
    pen = locked(work.session, pen)
    kept_as = work.session.scalar(select(Donor).where(Donor.pen_id == pen.id))
    if kept_as is not None:
        raise Conflict(f"{pen.number} is a donor already: {kept_as.number}")
    statement = select(Job).where(Job.pen_id == pen.id, Job.state == JobState.OPEN).order_by(Job.id)
    jobs = work.session.scalars(statement).unique().all()
    if jobs:
        raise Conflict(
            f"{', '.join(job.number for job in jobs)} on {pen.number} must be closed or cancelled "
            "first",
            [Problem("", f"{job.number} is open", {"job": job.number}) for job in jobs],
        )
    pen.retired_at = pen.retired_at or work.now
    return create_donor(
        work, pen.called, pen.materials, components, note, pen_id=pen.id, cost=pen.cost_minor
    )
