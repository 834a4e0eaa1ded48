"""Ending the holds whose time is over, when somebody wants their pieces and in a regular sweep."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, Final

from sqlalchemy import BindParameter, ColumnElement, and_, bindparam, func, or_, select
from sqlalchemy.orm import Session

from sparewell.ledger.operations import lock_lots
from sparewell.reservations.operations import give_up, is_over
from sparewell.reservations.tables import Reservation, ReservationState
from sparewell.work import Due, Work

MOST_LAPSED_AT_ONCE = 500


def lapse_expired(
    work: Work,
    *,
    job_id: int | None = None,
    of_lots: Collection[int] | None = None,
    with_reservations: Sequence[int] = (),
    with_lots: Collection[int] = (),
) -> int:
    """End the holds whose time is over and that were not fetched; return how many pieces.

    Where lots or a job are named, only their holds end. A reservation ends together with those
    that go with it. Name under `with_reservations` and `with_lots` what the caller will change
    next: all rows are then locked in the one order.
    """
    over = _over(work, job_id, of_lots)
    leaders = _leaders(work.session, or_(over, Reservation.id.in_(with_reservations)))
    if not leaders:
        return 0
    statement = (
        select(Reservation)
        .where(or_(Reservation.id.in_(leaders), Reservation.goes_with_id.in_(leaders)))
        .order_by(Reservation.id)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    )
    rows = [row for row in work.session.scalars(statement) if is_over(work, row)]
    if rows:
        lock_lots(work.session, {row.lot_id for row in rows}.union(with_lots))
    lapsed = 0
    for row in sorted(rows, key=lambda row: row.lot_id):
        pieces = row.promised - row.in_tray
        give_up(work, row, pieces, ReservationState.LAPSED, "")
        lapsed += pieces
    return lapsed


def refuse_over(
    work: Work, *, job_id: int | None = None, of_lots: Collection[int] | None = None
) -> None:
    """Raise :class:`Due` where holds are over: whoever only reads cannot end them."""
    wanted: dict[str, Any] = {"now": work.now, "job_id": job_id, "lot_ids": list(of_lots or ())}
    statement = _ANY_OVER if of_lots is None and job_id is None else _OVER_OF
    if work.session.connection().execute(statement, wanted).first() is not None:
        raise Due(lambda writing: lapse_expired(writing, job_id=job_id, of_lots=of_lots))


def _over(work: Work, job_id: int | None, of_lots: Collection[int] | None) -> ColumnElement[bool]:
    over = _are_over(work.now)
    if of_lots is not None or job_id is not None:
        over &= or_(Reservation.job_id == job_id, Reservation.lot_id.in_(of_lots or ()))
    return over


def _are_over(now: datetime | BindParameter[datetime]) -> ColumnElement[bool]:
    return and_(
        Reservation.promised > 0,  # as the index of open ones says it
        Reservation.promised > Reservation.in_tray,
        Reservation.expires_at <= now,
    )


# Whether any hold is over, or any of a job or of some lots: put together once.
_ANY_OVER: Final = select(Reservation.id).where(_are_over(bindparam("now"))).limit(1)
_OVER_OF: Final = _ANY_OVER.where(
    or_(
        Reservation.job_id == bindparam("job_id"),
        Reservation.lot_id.in_(bindparam("lot_ids", expanding=True)),
    )
)


def _leaders(session: Session, condition: ColumnElement[bool]) -> Sequence[int]:
    """Return the first reservation of each family in which one meets a condition."""
    leader = func.coalesce(Reservation.goes_with_id, Reservation.id)
    statement = select(leader).where(condition).distinct().order_by(leader)
    return session.scalars(statement.limit(MOST_LAPSED_AT_ONCE)).all()
