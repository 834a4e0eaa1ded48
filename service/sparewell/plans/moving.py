"""Promises that moved aside: letting them, saying so until it is read, and taking one back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.errors import Conflict, NotFound, Problem
from sparewell.extend.declarations import Verdict
from sparewell.jobs.ground import Ground, lock_each
from sparewell.jobs.tables import Job
from sparewell.plans.naming import NamedLot, made_or_stale, named_lot
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import refuse_over
from sparewell.reservations.promising import NewPromise
from sparewell.reservations.settling import Move, may_move, replace_all
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


@dataclass(frozen=True)
class MovedPromise:
    """A promise that has just moved: from which lot, and what took its place."""

    move: Move
    lot_id: int
    successor: Reservation

    @property
    def reservation(self) -> int:
        """The promise that ended."""
        return self.move.reservation_id

    @property
    def job_id(self) -> int:
        """The job that it is of."""
        return self.move.to.job_id

    @property
    def moved_to(self) -> int:
        """The promise that took its place."""
        return self.successor.id

    @property
    def to_lot_id(self) -> int:
        """The lot that the job has instead."""
        return self.move.to.lot_id

    @property
    def moved_for_id(self) -> int | None:
        """The job that it made room for."""
        return self.move.moved_for

    @property
    def at(self) -> datetime:
        """When."""
        return self.successor.created_at


def settle(
    work: Work,
    grounds: Sequence[Ground],
    moves: Sequence[Move],
    promises: Sequence[NewPromise],
    lasts: timedelta | None,
) -> list[Reservation] | None:
    """Let promises move and make new ones, all in one; return the new ones, then the moved ones.

    Every job has its ground here: those that are promised something, and those whose promises move.
    Returns None where pieces are not there: whoever calls this refuses then, or prepares anew.
    Raises :class:`Stale` where anything is not as it was prepared, and :class:`Conflict` where a
    piece is fixed in another that a job has.
    """
    lock_each(work, grounds)
    return replace_all(work, moves, promises, lasts)


def read_move(work: Work, job: Job, reservation_id: int) -> None:
    """Note that a job has read of a promise that moved, of its own or for it.

    Raises :class:`NotFound`.
    """
    row = work.session.get(Reservation, reservation_id)
    if row is None or row.moved_to_id is None or job.id not in {row.job_id, row.moved_for_id}:
        raise NotFound(f"no reservation {reservation_id} of {job.number}, or for it, has moved")
    row = locked(work.session, row)
    if row.job_id == job.id:
        row.move_read_at = row.move_read_at or work.now
    if row.moved_for_id == job.id:
        row.move_read_there_at = row.move_read_there_at or work.now
    work.session.flush()


@dataclass(frozen=True)
class MovingBack:
    """A promise that took another's place, that one, and what is said of its lot now."""

    successor_id: int
    before_id: int
    found: NamedLot
    to: NewPromise


_BEFORE: Final = select(Reservation).where(Reservation.goes_with_id.is_(None))


def prepare_back(work: Work, reservation_id: int) -> MovingBack:
    """Work out whether a promise that moved aside may have its old pieces again.

    Changes nothing. Raises :class:`NotFound`, :class:`Conflict`, and :class:`Due` where a hold has
    to end first.
    """
    successor = reservations.find_reservation(work.session, reservation_id)
    before = work.session.scalar(_BEFORE.where(Reservation.moved_to_id == reservation_id))
    if before is None:
        instead = successor.moved_to_id
        named = f"; name reservation {instead}, which took its place" if instead else ""
        raise Conflict(f"reservation {reservation_id} did not take the place of another{named}")
    refuse_over(work, of_lots=[before.lot_id], job_id=successor.job_id)
    if not may_move(successor):
        raise Conflict(
            f"reservation {reservation_id} is {'pinned' if successor.pinned else successor.state}: "
            "only what is held as a whole, and not pinned, can move back"
        )
    found = named_lot(work, work.session.get_one(Job, before.job_id), before.lot_id)
    verdict, why, margins = found.verdicts[before.need_id]
    if verdict == Verdict.REFUSED and before.override is None:
        raise Conflict(f"bag {before.lot_id} would not do any more: {why}")
    lot = found.lot
    if lot.available < successor.promised:
        jobs = sorted({holder.job for holder in reservations.open_on(work.session, lot.id)})
        raise Conflict(
            f"{successor.promised} of bag {lot.id} wanted back, and {lot.available} available"
            + (f"; the others are promised to {', '.join(jobs)}" if jobs else ""),
            [Problem("", f"at most {lot.available}", {"lot": lot.id, "jobs": jobs})],
        )
    to = NewPromise(
        lot.id,
        successor.promised,
        successor.job_id,
        successor.need_id,
        verdict,
        why,
        override=before.override,
        version=lot.version,
        is_alone=lot.donor_id is None,
        margins=margins,
        pinned=True,
    )
    return MovingBack(successor.id, before.id, found, to)


def move_back(work: Work, found: MovingBack) -> Reservation:
    """Let a promise have its old pieces again; it stays there, and nobody has to read of it."""
    made = settle(work, [found.found.ground], [Move(found.successor_id, found.to)], [], None)
    (back,) = made_or_stale(work, made)
    for row_id in (found.before_id, found.successor_id):
        row = work.session.get_one(Reservation, row_id)
        row.move_read_at = row.move_read_at or work.now
        row.move_read_there_at = row.move_read_there_at or work.now
    work.session.flush()
    return back
