"""What jobs hold: the pieces promised to their needs or used for them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Final

from sqlalchemy import ColumnElement, ScalarSelect, Select, bindparam, func, select
from sqlalchemy.orm import Session, lazyload

from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class HeldPiece:
    """Pieces of a lot that a job has; extra ones are for no need.

    What was put back is not `used`; `used_at_end` counts what was put back after the job had ended
    all the same, since the job stands as it ended.
    """

    reservation_id: int
    job_id: int
    need_id: int | None
    lot: Lot
    promised: int
    used: int
    used_at_end: int

    @property
    def is_held(self) -> bool:
        """Whether any of it is promised, or in the pen."""
        return self.promised + self.used > 0


@dataclass(frozen=True)
class Pieces:
    """What jobs have, and what was ever taken for them although it was refused."""

    every: list[HeldPiece]
    overridden: list[Reservation]

    @property
    def held(self) -> list[HeldPiece]:
        """What is promised, or used and not put back since."""
        return [each for each in self.every if each.is_held]


def put_back_pieces(*conditions: ColumnElement[bool]) -> ScalarSelect[int]:
    """Return how many pieces of a reservation were put back, inside a statement."""
    return (
        select(func.coalesce(func.sum(Movement.pieces), 0))
        .join(Act, Act.id == Movement.act_id)
        .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.PUT_BACK)
        .where(*conditions)
        .scalar_subquery()
    )


_BY_THE_END: Final = Job.ended_at.is_(None) | (Act.at <= Job.ended_at)
_PIECES: Final = (
    select(
        Reservation,
        Lot,
        Reservation.used - put_back_pieces(),
        Reservation.used - put_back_pieces(_BY_THE_END),
    )
    .join(Lot, Lot.id == Reservation.lot_id)
    .join(Job, Job.id == Reservation.job_id)
    .where((Reservation.promised + Reservation.used > 0) | Reservation.override.is_not(None))
    .options(lazyload("*"))  # of a lot that is held nobody asks for its part or its place
    .order_by(Reservation.id)
)
_OF_JOBS: Final = _PIECES.where(Reservation.job_id.in_(bindparam("row_ids", expanding=True)))
_FOR_NEEDS: Final = _PIECES.where(Reservation.need_id.in_(bindparam("row_ids", expanding=True)))


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
    statement: Select[Reservation, Lot, int, int],
    of: Iterable[Job | Need],
) -> Pieces:
    rows = session.execute(statement, {"row_ids": [each.id for each in of]}).all()
    return Pieces(
        [
            HeldPiece(row.id, row.job_id, row.need_id, lot, row.promised, used, used_at_end)
            for row, lot, used, used_at_end in rows
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
    return [each for each in left if each.is_held]


def covers_of(pieces: Iterable[HeldPiece], jobs: Iterable[Job]) -> dict[int, Cover]:
    """Return, by need, how much of it is promised, and used as the job stands or ended."""
    covers = {need.id: Cover() for job in jobs for need in job.needs}
    for each in pieces:
        if each.need_id in covers:
            before = covers[each.need_id]
            covers[each.need_id] = Cover(
                before.promised + each.promised, before.used + each.used_at_end
            )
    return covers


def materials_held(found: Collection[HeldPiece], job: Job) -> dict[str, set[str | None]]:
    """Return by kind the materials of what a job holds."""
    materials: dict[str, set[str | None]] = {}
    for each in found:
        if each.job_id == job.id:
            materials.setdefault(each.lot.kind, set()).add(each.lot.material)
    return materials
