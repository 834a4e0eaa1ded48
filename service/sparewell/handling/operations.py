"""What is done with the pieces of a lot: they arrive, are counted, thrown away, moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sparewell.errors import Conflict, Impossible, Problem
from sparewell.handling.freeing import (
    locked_free,
    refuse_holder,
    refuse_lack,
    refuse_promised,
    take_out,
)
from sparewell.handling.moving import moved_lines
from sparewell.ledger.operations import LedgerLine, change_balance, record
from sparewell.ledger.tables import Verb
from sparewell.lots.fixed import inside
from sparewell.lots.operations import NewLot, change_facts, split_off, unrecorded_lot
from sparewell.lots.tables import Lot
from sparewell.measure.money import take_share
from sparewell.places.operations import drawer_named
from sparewell.work import Work

MOST_IN_A_LOT = 1_000_000


def arrive(work: Work, new: NewLot) -> Lot:
    """Take pieces in. Raises :class:`Impossible`."""
    lot = unrecorded_lot(work, new)
    record_arrival(work, [lot], new.note)
    return lot


def record_arrival(work: Work, lots: Sequence[Lot], note: str) -> int:
    """Write into the ledger that new lots came, all in one act; return the act's id."""
    lines = [
        LedgerLine(
            lot, Verb.ARRIVED, lot.in_hand, lot.in_hand, cost_change_minor=lot.cost_minor or 0
        )
        for lot in lots
    ]
    return record(work, note, *lines)[0].act_id


def change_lot(work: Work, lot: Lot, changes: Mapping[str, Any]) -> Lot:
    """Change what a locked lot says; a cost is changed in the ledger, too."""
    change_facts(work, lot, {name: value for name, value in changes.items() if name != "cost"})
    if "cost" in changes:
        _change_cost(work, lot, changes["cost"])
    work.session.flush()
    return lot


def _change_cost(work: Work, lot: Lot, cost: int | None) -> None:
    if cost is None:
        raise Impossible.at("/cost", "a cost can be changed, not taken away")
    if cost == lot.cost_minor:
        return
    before = lot.cost_minor or 0
    lot.cost_minor = cost
    record(
        work, "cost changed", LedgerLine(lot, Verb.VALUED, 0, 0, cost_change_minor=cost - before)
    )


def count(work: Work, lot: Lot, counted: int, note: str, release: Sequence[int] = ()) -> Lot:
    """Set what is in hand to what was counted, pieces in trays included."""
    (lot,) = locked_free(work, [lot], release)
    difference = counted - lot.in_hand
    _take_out(work, lot, Verb.COUNTED, difference, note)
    return lot


def discard(work: Work, lot: Lot, quantity: int, note: str, release: Sequence[int] = ()) -> Lot:
    """Throw pieces away."""
    (lot,) = locked_free(work, [lot], release)
    refuse_lack(work, lot, quantity, Verb.DISCARDED)
    _take_out(work, lot, Verb.DISCARDED, -quantity, note)
    return lot


def move(
    work: Work,
    lot: Lot,
    drawer: str,
    quantity: int | None,
    note: str,
    release: Sequence[int] = (),
) -> Lot:
    """Move pieces to another drawer; some of a lot become a lot of their own there.

    Without a quantity the whole lot moves, promises and all, and what is fixed in it moves along; a
    quantity is of pieces that are not promised. Returns the lot that lies there now.
    """
    place = drawer_named(work.session, drawer)
    fixed = inside(work.session, [lot.id])
    locked = locked_free(work, [lot, *fixed], release)
    if quantity is None:
        quantity = lot.in_hand
    elif quantity <= lot.in_hand:
        refuse_promised(work, lot, lot.in_hand - quantity)
    if quantity > lot.in_hand or quantity == 0:
        raise Conflict(
            f"only {lot.in_hand} in hand: {quantity} cannot be moved",
            [Problem("/quantity", f"at most {lot.in_hand}")],
        )
    if place.id == lot.place_id and lot.part_of_lot_id is None:
        raise Conflict(f"bag {lot.id} lies in {drawer} already")
    if quantity == lot.in_hand:
        record(work, note, *moved_lines(work, locked, place))
        return lot
    return _move_some(work, lot, place.id, quantity, note)


def _move_some(work: Work, lot: Lot, place_id: int, quantity: int, note: str) -> Lot:
    """Split a lot: the moved pieces keep its measurements, age and their share of its cost."""
    origin = lot.place_id
    cost = take_out(work, lot, quantity)
    there = split_off(lot, quantity, cost, place_id=place_id)
    work.session.add(there)
    work.session.flush()
    record(
        work,
        note,
        LedgerLine(lot, Verb.MOVED, -quantity, quantity, -(cost or 0), place_id, origin),
        LedgerLine(there, Verb.MOVED, quantity, quantity, cost or 0, place_id, origin),
    )
    return there


def _take_out(work: Work, lot: Lot, verb: Verb, change: int, note: str) -> None:
    refuse_promised(work, lot, lot.in_hand + change)
    record(work, note, taken_line(work, lot, verb, change))


def taken_line(work: Work, lot: Lot, verb: Verb, change: int) -> LedgerLine:
    """Change what is in hand of a locked lot, and return the line that says so."""
    if lot.in_hand + change > MOST_IN_A_LOT:
        raise Impossible.at("/counted", f"a bag holds at most {MOST_IN_A_LOT}")
    if lot.in_hand + change == 0 and change:
        refuse_holder(work, lot)
    cost = 0
    if change < 0 and lot.cost_minor is not None:
        cost = -take_share(lot.cost_minor, lot.in_hand, -change)
    if not change_balance(work.session, lot.id, in_hand=change, cost_minor=cost):
        raise Conflict(f"bag {lot.id} has just changed; look again")
    return LedgerLine(lot, verb, change, abs(change), cost)
