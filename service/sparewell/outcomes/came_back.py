"""What came back: pieces that failed in a pen that was sold, while its warranty ran."""

from __future__ import annotations

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.jobs.tables import Job
from sparewell.outcomes.operations import fittings_of
from sparewell.outcomes.showing import ShownOutcome
from sparewell.outcomes.tables import Outcome, TurnedOut
from sparewell.reservations.tables import Reservation


def came_back(session: Session) -> list[ShownOutcome]:
    """Return each failure of a sold pen within its warranty, the earliest first.

    It came back even where something better was said of it later.
    """
    statement = (
        select(Outcome)
        .join(Reservation, Reservation.id == Outcome.reservation_id)
        .join(Job, Job.id == Reservation.job_id)
        .where(Job.warranty_until.is_not(None), Outcome.outcome != TurnedOut.GOOD)
        .order_by(Outcome.id)
    )
    failures = session.scalars(statement).all()
    reservations = {outcome.reservation_id for outcome in failures}
    by_reservation = {
        fitting.reservation.id: fitting
        for fitting in fittings_of(session, Reservation.id.in_(reservations))
    }
    found = [ShownOutcome(each, by_reservation[each.reservation_id]) for each in failures]
    return [each for each in found if _is_under_warranty(each.fitting.job, each.row.found_on)]


def _is_under_warranty(job: Job, day: date) -> bool:
    sold_on, until = job.sold_on, job.warranty_until
    return sold_on is not None and until is not None and sold_on <= day <= until
