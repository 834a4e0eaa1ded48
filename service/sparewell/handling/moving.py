"""Moving whole lots, and what is fixed in them, from place to place."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from sparewell.errors import Conflict, Problem
from sparewell.ledger.operations import LedgerLine
from sparewell.ledger.tables import Verb
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place, PlaceType
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


def moved_lines(work: Work, lots: Sequence[Lot], place: Place) -> list[LedgerLine]:
    """Put whole locked lots into a place and return the lines that say so.

    What is taken out of a donor, or out of a piece that stays behind, is stripped.
    """
    ids = {lot.id for lot in lots}
    lines = []
    for lot in lots:
        is_taken_out = lot.part_of_lot_id is not None and lot.part_of_lot_id not in ids
        if is_taken_out:
            _refuse_following(work, lot)
            lot.part_of_lot_id = None
        verb = Verb.STRIPPED if is_taken_out or lot.place.type == PlaceType.DONOR else Verb.MOVED
        lines.append(LedgerLine(lot, verb, 0, lot.in_hand, 0, place.id, lot.place_id))
        lot.place = place
    work.session.flush()
    return lines


def _refuse_following(work: Work, lot: Lot) -> None:
    """Refuse to take a piece out of another with which it is promised."""
    statement = select(Reservation).where(
        Reservation.lot_id == lot.id,
        Reservation.promised > 0,
        Reservation.goes_with_id.is_not(None),
    )
    follower = work.session.scalars(statement).first()
    if follower is not None:
        raise Conflict(
            f"bag {lot.id} is promised together with bag {lot.part_of_lot_id}, in which it is "
            f"fixed: release reservation {follower.goes_with_id} first",
            [Problem("", "it goes with another", {"reservation": follower.goes_with_id})],
        )
