"""What jobs hold: the pieces promised to their needs or used for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Final

from sqlalchemy import ScalarSelect, Select, bindparam, func, select
from sqlalchemy.orm import Session, lazyload

from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class HeldPiece:
    """Pieces of a lot that a job holds; extra ones are for no need.

    What was put back is not `used`.
    """

    reservation_id: int
    job_id: int
    need_id: int | None
    lot: Lot
    promised: int
    used: int


@dataclass(frozen=True)
class Pieces:
    """What jobs hold, and what was ever taken for them although it was refused."""

    held: list[HeldPiece]
    overridden: list[Reservation]


def put_back_pieces() -> ScalarSelect[int]:
    """Return how many pieces of a reservation were put back, inside a statement."""
    return (
        select(func.coalesce(func.sum(Movement.pieces), 0))
        .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.PUT_BACK)
        .scalar_subquery()
    )


_USED: Final = Reservation.used - put_back_pieces()
_HELD: Final = (
    select(Reservation, Lot, _USED)
    .join(Lot, Lot.id == Reservation.lot_id)
    .where((Reservation.promised + _USED > 0) | Reservation.override.is_not(None))
    .options(lazyload("*"))  # of a lot that is held nobody asks for its part or its place
    .order_by(Reservation.id)
)
_OF_JOBS: Final = _HELD.where(Reservation.job_id.in_(bindparam("row_ids", expanding=True)))
_FOR_NEEDS: Final = _HELD.where(Reservation.need_id.in_(bindparam("row_ids", expanding=True)))


def held(session: Session, jobs: Iterable[Job]) -> list[HeldPiece]:
    """Return what is promised to jobs, and what was used and not put back since."""
    return pieces_of(session, jobs).held


def held_for(session: Session, needs: Iterable[Need]) -> list[HeldPiece]:
    """Return what is held for some needs."""
    return _pieces(session, _FOR_NEEDS, needs).held


def pieces_of(session: Session, jobs: Iterable[Job]) -> Pieces:
    """Return what jobs hold and what was overridden; one statement however many jobs."""
    return _pieces(session, _OF_JOBS, jobs)


def _pieces(
    session: Session,
    statement: Select[Reservation, Lot, int],
    of: Iterable[Job | Need],
) -> Pieces:
    rows = session.execute(statement, {"row_ids": [each.id for each in of]}).all()
    return Pieces(
        [
            HeldPiece(row.id, row.job_id, row.need_id, lot, row.promised, used)
            for row, lot, used in rows
            if row.promised + used > 0
        ],
        [row for row, *_ in rows if row.override is not None],
    )


def without(pieces: Iterable[HeldPiece], reservation_id: int, quantity: int) -> list[HeldPiece]:
    """Return what would be held if a reservation promised so many pieces less."""
    left = (
        replace(each, promised=each.promised - quantity)
        if each.reservation_id == reservation_id
        else each
        for each in pieces
    )
    return [each for each in left if each.promised + each.used > 0]


def covers_of(pieces: Iterable[HeldPiece], job: Job) -> dict[int, Cover]:
    """Return, by need, how much of it an open job holds."""
    covers = {need.id: Cover() for need in job.needs}
    for each in pieces:
        if each.need_id in covers:
            before = covers[each.need_id]
            covers[each.need_id] = Cover(before.promised + each.promised, before.used + each.used)
    return covers


def materials_held(found: Collection[HeldPiece], job: Job) -> dict[str, set[str | None]]:
    """Return by kind the materials of what a job holds."""
    materials: dict[str, set[str | None]] = {}
    for each in found:
        if each.job_id == job.id:
            materials.setdefault(each.lot.kind, set()).add(each.lot.material)
    return materials
