"""How near at hand a lot is, and what of it is promised."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter

from sqlalchemy import exists, select
from sqlalchemy.orm import Session, aliased

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.extend.declarations import Range
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.search import MOST_MISSES, is_whole, within
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place, PlaceType
from sparewell.reservations.tables import Reservation

# So many lots with promises are judged, where one of these might move.
MOST_PROMISED = 2_000
_BREAKS_INTO = (Verb.STRIPPED, Verb.FITTED, Verb.SPOILED)


def fully_promised(
    session: Session, kind: str, ranges: Mapping[str, Range]
) -> list[tuple[Lot, list[str]]]:
    """Return lots inside a box of which every piece is promised, with the jobs that have them."""
    promised = select(Reservation.lot_id).where(Reservation.promised > 0)
    lots = (
        select(Lot.id)
        .where(Lot.id.in_(promised), Lot.kind == kind, Lot.in_hand == Lot.promised, is_whole())
        .where(*within(ranges))
        .order_by(Lot.id)
        .limit(MOST_MISSES)
        .subquery()
    )
    statement = (
        select(Lot, Reservation.job_id)
        .join(lots, lots.c.id == Lot.id)
        .join(Reservation, Reservation.lot_id == Lot.id)
        .where(Reservation.promised > 0)
        .order_by(Lot.id, Reservation.id)
    )
    rows = session.execute(statement).unique().all()
    return [
        (lot, list(dict.fromkeys(number_of(JOB_PREFIX, job_id) for _, job_id in of_lot)))
        for lot, of_lot in groupby(rows, key=itemgetter(0))
    ]


def with_promises(session: Session, kind: str, ranges: Mapping[str, Range]) -> Sequence[Lot]:
    """Return lots inside a box of which some pieces are promised; none that lies in a donor."""
    promised = select(Reservation.lot_id).where(Reservation.promised > 0)
    statement = (
        select(Lot)
        .where(Lot.id.in_(promised), Lot.kind == kind, Lot.donor_id.is_(None), is_whole())
        .where(*within(ranges))
        .order_by(Lot.id)
        .limit(MOST_PROMISED)
    )
    return session.scalars(statement).unique().all()


def reach(session: Session, lots: Iterable[Lot]) -> Mapping[int, int]:
    """Return by lot how near at hand it is: 1 in a donor already broken into, 2 in a whole one.

    A lot in a drawer is not named: it is at hand.
    """
    of_donors = [lot.id for lot in lots if lot.donor_id is not None]
    if not of_donors:
        return {}
    another = aliased(Lot)
    is_broken_into = (
        exists()
        .where(another.donor_id == Lot.donor_id, Movement.lot_id == another.id)
        .where(Movement.verb.in_(_BREAKS_INTO))
    )
    statement = (
        select(Lot.id, is_broken_into)
        .join(Lot.place)
        .where(Lot.id.in_(of_donors), Place.type == PlaceType.DONOR)
    )
    return {lot_id: 1 if is_broken else 2 for lot_id, is_broken in session.execute(statement)}


def promised_inside(session: Session, lots: Iterable[Lot]) -> Iterator[tuple[int, Lot, int]]:
    """Yield each lot that has a promised piece fixed in it, the piece, and the job that has it."""
    root: dict[int | None, int] = {lot.id: lot.id for lot in lots if lot.donor_id is not None}
    while root:
        statement = (
            select(Lot, Reservation.job_id)
            .outerjoin(Reservation, (Reservation.lot_id == Lot.id) & (Reservation.promised > 0))
            .where(Lot.part_of_lot_id.in_(root), Lot.in_hand > 0)
            .order_by(Lot.id)
        )
        below: dict[int | None, int] = {}
        for lot, job_id in session.execute(statement).unique():
            below[lot.id] = root[lot.part_of_lot_id]
            if job_id is not None:
                yield root[lot.part_of_lot_id], lot, job_id
        root = below
