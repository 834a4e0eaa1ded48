"""What jobs hold: the pieces promised to their needs or used for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.repairs.tables import Job
from sparewell.stock.conversions import PUT_BACK
from sparewell.stock.tables import Lot, Movement, Reservation


@dataclass(frozen=True)
class Held:
    """Pieces of a lot that a job holds; extra ones are for no need."""

    job_id: int
    need_id: int | None
    lot: Lot


def held(session: Session, jobs: Iterable[Job]) -> list[Held]:
    """Return what is promised to jobs, and what was used and not put back since."""
    put_back = (
        select(func.coalesce(func.sum(Movement.pieces), 0))
        .where(Movement.reservation_id == Reservation.id, Movement.verb == PUT_BACK)
        .scalar_subquery()
    )
    statement = (
        select(Reservation.job_id, Reservation.need_id, Lot)
        .join(Lot, Lot.id == Reservation.lot_id)
        .where(Reservation.job_id.in_([job.id for job in jobs]))
        .where(Reservation.promised + Reservation.used > put_back)
        .order_by(Reservation.id)
    )
    return [Held(*row) for row in session.execute(statement)]


def materials_held(found: Collection[Held], job: Job) -> dict[str, set[str | None]]:
    """Return by kind the materials of what a job holds."""
    materials: dict[str, set[str | None]] = {}
    for each in found:
        if each.job_id == job.id:
            materials.setdefault(each.lot.kind, set()).add(each.lot.material)
    return materials
