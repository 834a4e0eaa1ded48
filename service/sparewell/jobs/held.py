"""What jobs hold: the pieces promised to their needs or used for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.jobs.tables import Job
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class HeldPiece:
    """Pieces of a lot that a job holds; extra ones are for no need."""

    job_id: int
    need_id: int | None
    lot: Lot


@dataclass(frozen=True)
class Pieces:
    """What jobs hold, and what was ever taken for them although it was refused."""

    held: list[HeldPiece]
    overridden: list[Reservation]


def held(session: Session, jobs: Iterable[Job]) -> list[HeldPiece]:
    """Return what is promised to jobs, and what was used and not put back since."""
    return pieces_of(session, jobs).held


def pieces_of(session: Session, jobs: Iterable[Job]) -> Pieces:
    """Return what jobs hold and what was overridden; one statement however many jobs."""
    put_back = (
        select(func.coalesce(func.sum(Movement.pieces), 0))
        .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.PUT_BACK)
        .scalar_subquery()
    )
    is_held = Reservation.promised + Reservation.used > put_back
    statement = (
        select(Reservation, Lot, is_held)
        .join(Lot, Lot.id == Reservation.lot_id)
        .where(Reservation.job_id.in_([job.id for job in jobs]))
        .where(is_held | Reservation.override.is_not(None))
        .order_by(Reservation.id)
    )
    rows = session.execute(statement).all()
    return Pieces(
        [HeldPiece(row.job_id, row.need_id, lot) for row, lot, holds in rows if holds],
        [row for row, _lot, _holds in rows if row.override is not None],
    )


def materials_held(found: Collection[HeldPiece], job: Job) -> dict[str, set[str | None]]:
    """Return by kind the materials of what a job holds."""
    materials: dict[str, set[str | None]] = {}
    for each in found:
        if each.job_id == job.id:
            materials.setdefault(each.lot.kind, set()).add(each.lot.material)
    return materials
