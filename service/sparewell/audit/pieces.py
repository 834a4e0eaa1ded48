"""Recomputing every balance from the ledger and the reservations. It must always agree.

The database compares, and hands out only what disagrees: a million lots take seconds and no memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Integer, and_, case, cast, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class Audit:
    """What was looked at, and each disagreement as a sentence."""

    lots: int
    movements: int
    reservations: int
    faults: tuple[str, ...]


def audit(session: Session) -> Audit:
    """Compare the balances with what the ledger and the reservations say."""
    faults = [
        *_balances(session),
        *_promises(session),
        *_endings(session),
        *_places(session),
        *_conversions(session),
        *_undoings(session),
        *_put_back(session),
        *_moved(session),
    ]
    return Audit(
        lots=_count(session, Lot.id),
        movements=_count(session, Movement.id),
        reservations=_count(session, Reservation.id),
        faults=tuple(faults),
    )


def _count(session: Session, column: object) -> int:
    return session.scalar(select(func.count(column))) or 0  # type: ignore[arg-type]


def _balances(session: Session) -> Iterator[str]:
    change = func.coalesce(func.sum(Movement.change), 0)
    cost_change = func.coalesce(func.sum(Movement.cost_change_minor), 0)
    kept_cost = func.coalesce(Lot.cost_minor, 0)
    statement = (
        select(Lot.id, Lot.in_hand, kept_cost, change, cost_change)
        .outerjoin(Movement, Movement.lot_id == Lot.id)
        .group_by(Lot.id)
        .having((Lot.in_hand != change) | (kept_cost != cost_change))
        .order_by(Lot.id)
    )
    for lot_id, in_hand, cost, counted, added_up in session.execute(statement):
        if in_hand != counted:
            yield f"lot {lot_id}: {in_hand} in hand, and the ledger adds up to {counted}"
        if cost != added_up:
            yield f"lot {lot_id}: cost {cost}, and the ledger adds up to {added_up}"


def _promises(session: Session) -> Iterator[str]:
    held = (
        select(Reservation.lot_id, func.sum(Reservation.promised).label("promised"))
        .group_by(Reservation.lot_id)
        .subquery()
    )
    reserved = func.coalesce(held.c.promised, 0)
    is_free = Lot.in_hand > Lot.promised
    statement = (
        select(Lot.id, Lot.in_hand, Lot.promised, Lot.has_available, reserved)
        .outerjoin(held, held.c.lot_id == Lot.id)
        .where(
            (Lot.promised != reserved)
            | (Lot.promised > Lot.in_hand)
            | (Lot.has_available.expression != is_free)
        )
        .order_by(Lot.id)
    )
    for lot_id, in_hand, promised, has_available, holding in session.execute(statement):
        if promised != holding:
            yield f"lot {lot_id}: {promised} promised, and its reservations hold {holding}"
        if promised > in_hand:
            yield f"lot {lot_id}: {promised} promised of {in_hand} in hand"
        if bool(has_available) != (in_hand > promised):
            yield f"lot {lot_id}: the flag has_available is wrong"


def _endings(session: Session) -> Iterator[str]:
    """Each piece used or spoiled stands once in the ledger, under its reservation."""
    undone = select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))
    for verb, column in ((Verb.FITTED, Reservation.used), (Verb.SPOILED, Reservation.spoiled)):
        ledger = (
            select(
                Movement.reservation_id,
                cast(func.sum(Movement.pieces), Integer).label("pieces"),
            )
            .where(Movement.verb == verb, Movement.act_id.not_in(undone))
            .group_by(Movement.reservation_id)
            .subquery()
        )
        statement = (
            select(Reservation.id, column, ledger.c.pieces)
            .outerjoin(ledger, ledger.c.reservation_id == Reservation.id)
            .where(column != func.coalesce(ledger.c.pieces, 0))
        )
        for reservation_id, counted, pieces in session.execute(statement):
            yield (
                f"reservation {reservation_id}: {counted} {verb}, and the ledger says {pieces or 0}"
            )


def _moved(session: Session) -> Iterator[str]:
    """Look whether as many pieces for the same need took the place of each settled promise."""
    successor = aliased(Reservation)
    has_successor = and_(
        successor.id == Reservation.moved_to_id,
        successor.id != Reservation.id,
        successor.job_id == Reservation.job_id,
        or_(
            Reservation.goes_with_id.is_not(None),
            and_(
                successor.need_id.is_not_distinct_from(Reservation.need_id),
                successor.quantity == Reservation.settled,
            ),
        ),
    )
    statement = (
        select(Reservation.id)
        .outerjoin(successor, has_successor)
        .where(Reservation.settled > 0, successor.id.is_(None))
        .order_by(Reservation.id)
    )
    for reservation_id in session.scalars(statement):
        yield f"reservation {reservation_id}: it was settled, and nothing took its place"


def _places(session: Session) -> Iterator[str]:
    """Look whether each lot lies where its last own movement put it."""
    latest = (
        select(Movement.lot_id, func.max(Movement.id).label("id"))
        .where(Movement.reservation_id.is_(None) | (Movement.verb == Verb.PUT_BACK))
        .where(Movement.verb != Verb.VALUED)
        .where((Movement.verb != Verb.MOVED) | (Movement.change >= 0))
        .group_by(Movement.lot_id)
        .subquery()
    )
    statement = (
        select(Lot.id)
        .join(latest, latest.c.lot_id == Lot.id)
        .join(Movement, Movement.id == latest.c.id)
        .where(Movement.place_id != Lot.place_id)
        .order_by(Movement.id)
    )
    for lot_id in session.scalars(statement):
        yield f"lot {lot_id}: it does not lie where the ledger last put it"


def _conversions(session: Session) -> Iterator[str]:
    """Look whether what is cut, opened, punched, moved or stripped keeps its cost as a whole."""
    statement = (
        select(Movement.act_id, func.sum(Movement.cost_change_minor))
        .where(Movement.verb.in_((Verb.CUT, Verb.OPENED, Verb.PUNCHED, Verb.MOVED, Verb.STRIPPED)))
        .group_by(Movement.act_id)
        .having(func.sum(Movement.cost_change_minor) != 0)
    )
    for act_id, cost in session.execute(statement):
        yield f"group {act_id}: pieces became others, and their cost changed by {cost}"


def _undoings(session: Session) -> Iterator[str]:
    """Look whether an act and the one that undoes it leave each lot as it was."""
    undone_id = func.coalesce(Act.undoes_act_id, Act.id)
    undone = select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))
    change, cost = func.sum(Movement.change), func.sum(Movement.cost_change_minor)
    statement = (
        select(undone_id, Movement.lot_id)
        .join(Act, Act.id == Movement.act_id)
        .where(undone_id.in_(undone))
        .group_by(undone_id, Movement.lot_id)
        .having((change != 0) | (cost != 0))
    )
    for act_id, lot_id in session.execute(statement):
        yield f"group {act_id}: it was undone, and lot {lot_id} is not as it was before"


def _put_back(session: Session) -> Iterator[str]:
    """No more comes back from a reservation than left for it, in pieces and in cost."""

    def total(verb: Verb, column: InstrumentedAttribute[int]) -> ColumnElement[int]:
        return func.sum(case((Movement.verb == verb, column), else_=0))

    pieces, cost = Movement.pieces, Movement.cost_change_minor
    statement = (
        select(Movement.reservation_id)
        .where(Movement.verb.in_((Verb.FITTED, Verb.PUT_BACK)))
        .group_by(Movement.reservation_id)
        .having(
            (total(Verb.PUT_BACK, pieces) > total(Verb.FITTED, pieces))
            | (total(Verb.PUT_BACK, cost) > -total(Verb.FITTED, cost))
        )
    )
    for reservation_id in session.scalars(statement):
        yield f"reservation {reservation_id}: more was put back than was used"
