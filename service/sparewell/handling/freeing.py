"""What every act on the pieces of a lot begins with: freeing them, locking them, refusing it."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Problem
from sparewell.ledger.operations import change_balance
from sparewell.lots.tables import Lot
from sparewell.measure.money import take_share
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.work import Work


def locked_free(work: Work, lots: Sequence[Lot], release: Sequence[int]) -> list[Lot]:
    """Release the named reservations of the lots, then lock the lots, in the order of their ids."""
    lot_ids = sorted({lot.id for lot in lots})
    lapse_expired(work, of_lots=lot_ids, with_reservations=release, with_lots=lot_ids)
    reservations.release_named(work, lot_ids, release)
    return [locked(work.session, work.session.get_one(Lot, lot_id)) for lot_id in lot_ids]


def refuse_promised(work: Work, lot: Lot, would_leave: int) -> None:
    """Refuse what would leave less than is promised, naming the jobs and their reservations."""
    if would_leave >= lot.promised:
        return
    raise Conflict(
        f"that would leave {would_leave} of bag {lot.id}, and {lot.promised} are promised to "
        f"{jobs_holding(work, lot)}",
        promised_problems(work, lot, "/release"),
    )


def jobs_holding(work: Work, lot: Lot) -> str:
    """Return the numbers of the jobs that hold pieces of a lot, as a sentence has them."""
    return ", ".join(sorted({holder.job for holder in reservations.open_on(work.session, lot.id)}))


def promised_problems(work: Work, lot: Lot, pointer: str) -> list[Problem]:
    """Return each promise of a lot as what stands in the way, with what would free it."""
    return [
        Problem(
            pointer,
            f"reservation {holder.reservation} holds {holder.quantity} for {holder.job}; "
            'name it in "release" to give them up',
            {"lot": lot.id, "job": holder.job, "reservation": holder.reservation},
        )
        for holder in reservations.open_on(work.session, lot.id)
    ]


def refuse_lack(work: Work, lot: Lot, quantity: int, what: str) -> None:
    """Refuse to take more than is in hand or than is free; `what` says what cannot be done."""
    if quantity > lot.in_hand:
        raise Conflict(
            f"only {lot.in_hand} in hand: {quantity} cannot be {what}",
            [Problem("/quantity", f"at most {lot.in_hand}")],
        )
    refuse_promised(work, lot, lot.in_hand - quantity)


def refuse_holder(work: Work, lot: Lot) -> None:
    """Refuse to change or to lose a piece that other pieces are still fixed in."""
    inside = (
        select(Lot).where(Lot.part_of_lot_id == lot.id, Lot.in_hand > 0).order_by(Lot.id).limit(20)
    )
    fixed = work.session.scalars(inside).all()
    if fixed:
        raise Conflict(
            f"in bag {lot.id} there is still "
            + ", ".join(f"bag {each.id} ({each.kind})" for each in fixed)
            + ": move it out first",
            [Problem("", f"bag {each.id} is part of it", {"lot": each.id}) for each in fixed],
        )


def take_out(work: Work, lot: Lot, quantity: int) -> int | None:
    """Take pieces out of a locked lot; return their share of its cost, None where it has none."""
    cost = take_share(lot.cost_minor, lot.in_hand, quantity) if lot.cost_minor is not None else None
    if not change_balance(work.session, lot.id, in_hand=-quantity, cost_minor=-(cost or 0)):
        raise Conflict(f"bag {lot.id} has just changed; look again")
    return cost
