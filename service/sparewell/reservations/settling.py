"""Promises that move aside: each ends as settled, and another takes its place at the same moment.

Only whole promises move, of which nothing was fetched yet and that are not pinned. All that is
locked is locked in the one order: the jobs by whoever calls this, then the reservations by their
ids, then the lots by theirs. Pieces are freed first and promised then, so each balance is possible
after every statement.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from sqlalchemy import or_, select

from sparewell.ledger.operations import lock_lots
from sparewell.lots.fixed import inside
from sparewell.reservations.operations import give_up, is_over
from sparewell.reservations.promising import NewPromise, promise_all
from sparewell.reservations.tables import Reservation, ReservationState
from sparewell.work import Stale, Work


@dataclass(frozen=True)
class Move:
    """One whole promise that moves to other pieces: `to` is for the same job, need and quantity.

    `moved_for` is the job that it makes room for; None where all jobs were planned together.
    """

    reservation_id: int
    to: NewPromise
    moved_for: int | None = None


def replace_all(
    work: Work, moves: Sequence[Move], promises: Sequence[NewPromise], lasts: timedelta | None
) -> list[Reservation] | None:
    """Let promises move and make new ones, the jobs being locked; the new ones come first.

    Returns None where pieces are not there: whoever calls this may not commit then. Raises
    :class:`Stale` where a promise is not as it was, and what :func:`promise_all` raises.
    """
    families = _locked_families(work, moves)
    leaving = [row for family in families.values() for row in family]
    _lock_lots(work, leaving, [*promises, *(move.to for move in moves)])
    for row in sorted(leaving, key=lambda row: row.lot_id):
        give_up(work, row, row.promised, ReservationState.SETTLED, "")
    work.session.flush()
    taking = [replace(move.to, replaces=families[move.reservation_id][0]) for move in moves]
    made = promise_all(work, [*promises, *taking], lasts)
    if made is None:
        return None
    for move, successor in zip(moves, made[len(promises) :], strict=True):
        for row in families[move.reservation_id]:
            row.moved_to_id, row.moved_for_id = successor.id, move.moved_for
    work.session.flush()
    return made


def may_move(reservation: Reservation) -> bool:
    """Whether a promise is whole, still in its place, and not pinned."""
    is_whole = reservation.promised == reservation.quantity and reservation.in_tray == 0
    return is_whole and reservation.goes_with_id is None and not reservation.pinned


def _locked_families(work: Work, moves: Sequence[Move]) -> Mapping[int, list[Reservation]]:
    """Lock the promises that move, each with those that go with it, in the order of their ids."""
    wanted = [move.reservation_id for move in moves]
    statement = (
        select(Reservation)
        .where(or_(Reservation.id.in_(wanted), Reservation.goes_with_id.in_(wanted)))
        .order_by(Reservation.id)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    )
    families: dict[int, list[Reservation]] = {}
    for row in work.session.scalars(statement):
        families.setdefault(row.goes_with_id or row.id, []).append(row)
    for move in moves:
        leader = families.get(move.reservation_id, [None])[0]
        if leader is None or not _is_as_prepared(work, leader, move.to):
            raise Stale
    return {
        leader_id: [row for row in family if row.promised] for leader_id, family in families.items()
    }


def _is_as_prepared(work: Work, leader: Reservation, to: NewPromise) -> bool:
    same = (leader.job_id, leader.need_id, leader.promised) == (to.job_id, to.need_id, to.quantity)
    return same and may_move(leader) and not is_over(work, leader)


def _lock_lots(work: Work, leaving: Iterable[Reservation], promises: Sequence[NewPromise]) -> None:
    """Lock every lot whose balance will move, those fixed in a donor's pieces too."""
    fixed = inside(work.session, [each.lot_id for each in promises if not each.is_alone])
    lot_ids = {row.lot_id for row in leaving} | {each.lot_id for each in promises}
    lock_lots(work.session, lot_ids | {lot.id for lot in fixed})
