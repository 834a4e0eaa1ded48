"""The ledger, and the balances that are kept with it in the same transaction.

:func:`change_balance` is the only statement of the service that moves a balance. It is one
conditional UPDATE, so the database decides every race: it changes nothing, and says so, when less
would be in hand than is promised. Rows are always taken in the order of their ids.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, cast

from sqlalchemy import Table, Update, bindparam, insert, select, update
from sqlalchemy.orm import Session

from sparewell.database import faults
from sparewell.database.inserting import one_or_many
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.work import Work

_ACT, _MOVEMENT, _LOT = (cast("Table", each.__table__) for each in (Act, Movement, Lot))


def _moves() -> Update:
    """Return the one statement that moves a balance, which is put together once."""
    lot = _LOT.c
    in_hand, promised = (
        lot.in_hand + bindparam("more_in_hand"),
        lot.promised + bindparam("more_promised"),
    )
    return (
        update(_LOT)
        .where(lot.id == bindparam("lot_id"), promised >= 0, in_hand - promised >= 0)
        .values(
            in_hand=in_hand,
            promised=promised,
            cost_minor=lot.cost_minor + bindparam("more_cost"),
            has_available=in_hand - promised > 0,
        )
        .returning(lot.id)
    )


_MOVE = _moves()
_MOVE_THE_SAME = _MOVE.where(_LOT.c.version == bindparam("looked_at"))
_WRITE_ACT = insert(_ACT).returning(_ACT.c.id)
_WRITE_LINES = insert(_MOVEMENT)


def change_balance(
    session: Session,
    lot_id: int,
    *,
    in_hand: int = 0,
    promised: int = 0,
    cost_minor: int = 0,
    version: int | None = None,
) -> bool:
    """Move a lot's balances by these amounts, or change nothing and return False.

    With a `version` it must be the lot that was looked at, its facts unchanged.
    """
    session.flush()  # what else was said of the lot would be forgotten below
    by = {
        "lot_id": lot_id,
        "more_in_hand": in_hand,
        "more_promised": promised,
        "more_cost": cost_minor,
    }
    statement = _MOVE if version is None else _MOVE_THE_SAME
    moved = session.connection().execute(statement, by | {"looked_at": version})
    changed = moved.first() is not None
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


class Located(Protocol):
    """Pieces and where they lie: a lot, or what was read of one."""

    @property
    def id(self) -> int:
        """The lot."""

    @property
    def place_id(self) -> int:
        """Its place."""


@dataclass(frozen=True)
class LedgerLine:
    """One line of the ledger, before it is written. `change` is signed; `pieces` is not."""

    lot: Located
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
    act = Act(**_act_of(work, note), undoes_act_id=undoes_act_id)
    work.session.add(act)
    work.session.flush()
    movements = [Movement(act_id=act.id, **_columns_of(line)) for line in lines]
    work.session.add_all(movements)
    work.session.flush()
    faults.reach(faults.AFTER_LEDGER_WRITTEN)
    return movements


def record_each(work: Work, note: str, lines: Sequence[LedgerLine]) -> None:
    """Write each line as an act of its own; two statements however many."""
    connection = work.session.connection()
    acts = [_act_of(work, note) for _ in lines]
    act_ids = sorted(connection.scalars(_WRITE_ACT, one_or_many(acts)))
    rows = [
        {"act_id": act_id, **_columns_of(line)} for act_id, line in zip(act_ids, lines, strict=True)
    ]
    connection.execute(_WRITE_LINES, one_or_many(rows))
    faults.reach(faults.AFTER_LEDGER_WRITTEN)


def _act_of(work: Work, note: str) -> dict[str, Any]:
    return {"at": work.now, "actor": work.actor.token, "person": work.actor.person, "note": note}


def _columns_of(line: LedgerLine) -> dict[str, Any]:
    return {
        "lot_id": line.lot.id,
        "verb": line.verb,
        "change": line.change,
        "pieces": line.pieces,
        "cost_change_minor": line.cost_change_minor,
        "place_id": line.place_id or line.lot.place_id,
        "from_place_id": line.from_place_id,
        "reservation_id": line.reservation_id,
        "job_id": line.job_id,
    }
