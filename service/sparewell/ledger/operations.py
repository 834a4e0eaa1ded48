"""The ledger, and the balances that are kept with it in the same transaction.

:func:`change_balance` is the only statement of the service that moves a balance. It is one
conditional UPDATE, so the database decides every race: it changes nothing, and says so, when less
would be in hand than is promised. Rows are always taken in the order of their ids.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from sparewell.database import faults
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.work import Work


def change_balance(
    session: Session, lot_id: int, *, in_hand: int = 0, promised: int = 0, cost_minor: int = 0
) -> bool:
    """Move a lot's balances by these amounts, or change nothing and return False."""
    new_in_hand, new_promised = Lot.in_hand + in_hand, Lot.promised + promised
    statement = (
        update(Lot)
        .where(Lot.id == lot_id, new_promised >= 0, new_in_hand - new_promised >= 0)
        .values(
            in_hand=new_in_hand,
            promised=new_promised,
            cost_minor=Lot.cost_minor + cost_minor,
            has_available=new_in_hand - new_promised > 0,
        )
        .returning(Lot.id)
        .execution_options(synchronize_session=False)
    )
    changed = session.scalar(statement) is not None
    kept = session.identity_map.get(session.identity_key(Lot, lot_id))
    if kept is not None:
        session.expire(kept)
    faults.reach(faults.AFTER_BALANCE_CHANGED)
    return changed


def lock_lots(session: Session, lot_ids: Collection[int]) -> None:
    """Lock lots in the order of their ids, before any of them is changed."""
    session.execute(
        select(Lot.id).where(Lot.id.in_(lot_ids)).order_by(Lot.id).with_for_update(key_share=True)
    )


@dataclass(frozen=True)
class LedgerLine:
    """One line of the ledger, before it is written. `change` is signed; `pieces` is not."""

    lot: Lot
    verb: Verb
    change: int
    pieces: int
    cost_change_minor: int = 0
    place_id: int | None = None
    from_place_id: int | None = None
    reservation_id: int | None = None
    job_id: int | None = None


def record(
    work: Work, note: str, *lines: LedgerLine, undoes_act_id: int | None = None
) -> list[Movement]:
    """Write what one person did at one moment; the lines belong together."""
    act = Act(
        at=work.now,
        actor=work.actor.token,
        person=work.actor.person,
        note=note,
        undoes_act_id=undoes_act_id,
    )
    work.session.add(act)
    work.session.flush()
    movements = [
        Movement(
            act_id=act.id,
            lot_id=line.lot.id,
            verb=line.verb,
            change=line.change,
            pieces=line.pieces,
            cost_change_minor=line.cost_change_minor,
            place_id=line.place_id or line.lot.place_id,
            from_place_id=line.from_place_id,
            reservation_id=line.reservation_id,
            job_id=line.job_id,
        )
        for line in lines
    ]
    work.session.add_all(movements)
    work.session.flush()
    faults.reach(faults.AFTER_LEDGER_WRITTEN)
    return movements
