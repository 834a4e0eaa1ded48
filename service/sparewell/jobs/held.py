"""What jobs hold: the pieces promised to their needs or used for them; and what moved aside."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    ScalarSelect,
    Subquery,
    bindparam,
    cast,
    func,
    or_,
    select,
)
from sqlalchemy.orm import Session, aliased, lazyload

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
    in_tray: int = 0

    @property
    def is_held(self) -> bool:
        """Whether any of it is promised, or in the pen."""
        return self.promised + self.used > 0


@dataclass(frozen=True)
class Moved:
    """A promise that moved aside, and what took its place.

    The job that it was of, and `moved_for_id`, the one that it made room for, say so until each has
    read it.
    """

    row: Reservation
    to_lot_id: int
    at: datetime

    @property
    def reservation(self) -> int:
        """The promise that ended."""
        return self.row.id

    @property
    def moved_to(self) -> int | None:
        """The promise that took its place."""
        return self.row.moved_to_id

    def is_unread(self, job_id: int) -> bool:
        """Whether a job has still to read of it."""
        own = self.row.job_id == job_id and self.row.move_read_at is None
        return own or (self.row.moved_for_id == job_id and self.row.move_read_there_at is None)


@dataclass(frozen=True)
class Pieces:
    """What jobs have, what was taken for them although it was refused, and what moved, unread."""

    every: list[HeldPiece]
    overridden: list[Reservation]
    moved: list[Moved] = field(default_factory=list)

    @property
    def held(self) -> list[HeldPiece]:
        """What is promised, or used and not put back since."""
        return [each for each in self.every if each.is_held]


def put_back_pieces(*conditions: ColumnElement[bool]) -> ScalarSelect[int]:
    """Return how many pieces of a reservation were put back, inside a statement.

    They are a whole number on either database; PostgreSQL by itself adds them up to a decimal.
    """
    return (
        select(cast(func.coalesce(func.sum(Movement.pieces), 0), BigInteger))
        .join(Act, Act.id == Movement.act_id)
        .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.PUT_BACK)
        .where(*conditions)
        .scalar_subquery()
    )


def pieces_of_needs() -> Subquery:
    """Return what is `promised` for each need, and its `pieces` with those used, for a join."""
    return (
        select(
            Reservation.need_id,
            func.sum(Reservation.promised).label("promised"),
            func.sum(Reservation.promised + Reservation.used).label("pieces"),
        )
        .group_by(Reservation.need_id)
        .subquery()
    )


_BY_THE_END: Final = Job.ended_at.is_(None) | (Act.at <= Job.ended_at)
_IS_HAD: Final = (Reservation.promised + Reservation.used > 0) | Reservation.override.is_not(None)
_EVERY: Final = (
    select(
        Reservation,
        Lot,
        Reservation.used - put_back_pieces(),
        Reservation.used - put_back_pieces(_BY_THE_END),
    )
    .join(Lot, Lot.id == Reservation.lot_id)
    .join(Job, Job.id == Reservation.job_id)
    .options(lazyload("*"))  # of a lot that is held nobody asks for its part or its place
    .order_by(Reservation.id)
)
_PIECES: Final = _EVERY.where(_IS_HAD)
_OF_JOBS: Final = _PIECES.where(Reservation.job_id.in_(bindparam("row_ids", expanding=True)))
_FOR_NEEDS: Final = _PIECES.where(Reservation.need_id.in_(bindparam("row_ids", expanding=True)))
_SUCCESSOR: Final = aliased(Reservation)
_HAS_MOVED: Final = Reservation.moved_to_id.is_not(None) & Reservation.goes_with_id.is_(None)
# What jobs have; and what moved aside of theirs, or for them, and is not read there.
_TOLD_OF_JOBS: Final = (
    _EVERY.add_columns(_SUCCESSOR.lot_id, _SUCCESSOR.created_at)
    .outerjoin(_SUCCESSOR, _SUCCESSOR.id == Reservation.moved_to_id)
    .where(
        or_(
            Reservation.job_id.in_(bindparam("row_ids", expanding=True))
            & (_IS_HAD | (_HAS_MOVED & Reservation.move_read_at.is_(None))),
            Reservation.moved_for_id.in_(bindparam("row_ids", expanding=True))
            & _HAS_MOVED
            & Reservation.move_read_there_at.is_(None),
        )
    )
)


def held(session: Session, jobs: Iterable[Job]) -> list[HeldPiece]:
    """Return what is promised to jobs, and what was used and not put back since."""
    return _pieces(session.execute(_OF_JOBS, _ids_of(jobs)).all()).held


def held_for(session: Session, needs: Iterable[Need]) -> list[HeldPiece]:
    """Return what is held for some needs."""
    return _pieces(session.execute(_FOR_NEEDS, _ids_of(needs)).all()).held


def pieces_of(session: Session, jobs: Iterable[Job]) -> Pieces:
    """Return what jobs hold, what was overridden, what moved; one statement however many jobs."""
    wanted = _ids_of(jobs)
    told = session.execute(_TOLD_OF_JOBS, wanted).all()
    of_these = frozenset(wanted["row_ids"])
    found = _pieces([row[:4] for row in told if _is_had(row[0], of_these)])
    moved = [Moved(row[0], row[4], row[5]) for row in told if row[0].moved_to_id is not None]
    return replace(found, moved=moved)


def _is_had(row: Reservation, job_ids: Collection[int]) -> bool:
    is_something = row.promised + row.used > 0 or row.override is not None
    return row.job_id in job_ids and is_something


def _ids_of(rows: Iterable[Job | Need]) -> dict[str, list[int]]:
    return {"row_ids": [each.id for each in rows]}


def _pieces(rows: Iterable[Any]) -> Pieces:
    found = list(rows)
    return Pieces(
        [
            HeldPiece(
                row.id,
                row.job_id,
                row.need_id,
                lot,
                row.promised,
                used,
                used_at_end,
                row.in_tray,
            )
            for row, lot, used, used_at_end in found
        ],
        [row for row, *_ in found if row.override is not None],
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
