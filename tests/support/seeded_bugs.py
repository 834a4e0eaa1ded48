"""`python -m support.seeded_bugs BUG serve ...`: the service with one known mistake patched in.

An oracle that never objects proves nothing. Each of these mistakes has to be caught by the same
runs and the same oracles that the service itself passes.
"""

from __future__ import annotations

import random
import sys
import threading
from collections.abc import Callable, Sequence
from datetime import timedelta
from types import ModuleType
from typing import Any

from sqlalchemy import event, select, update
from sqlalchemy.engine import Engine
from sqlalchemy.orm import Session

from sparewell.cli.main import main
from sparewell.configuration import read_configuration
from sparewell.database import transaction
from sparewell.database.engine import Database, open_database
from sparewell.edge import unit_of_work
from sparewell.errors import Conflict
from sparewell.handling import freeing, undoing
from sparewell.handling import operations as handling
from sparewell.ledger import operations as ledger
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from sparewell.plans import chains, naming, reserving
from sparewell.reservations import operations as reservations
from sparewell.reservations import promising, settling
from sparewell.reservations.promising import NewPromise
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

SHARE_UNDONE = 0.08
_MOVERS = (freeing, handling, ledger, promising, reservations, undoing)


def drop_row_condition() -> None:
    """Move a balance whatever it is; only the CHECK is left under it."""

    def change_balance(session: Session, lot_id: int, **changes: int) -> bool:
        values: dict[str, Any] = {
            name: getattr(Lot, name) + changes.get(name, 0)
            for name in ("in_hand", "promised", "cost_minor")
        }
        values["has_available"] = values["in_hand"] - values["promised"] > 0
        _update(session, lot_id, values)
        return True

    _replace("change_balance", change_balance, *_MOVERS)


def drop_condition_and_check() -> None:
    """Move a balance whatever it is, with nothing under it."""
    drop_row_condition()
    database = open_database(read_configuration().database_url)
    if database.is_sqlite:

        @event.listens_for(Engine, "connect")
        def ignore_checks(connection: Any, _record: Any) -> None:
            connection.execute("PRAGMA ignore_check_constraints=ON")

    else:
        name = "ck_lot_promised_in_hand"
        with database.writer.begin() as connection:
            connection.exec_driver_sql(f"ALTER TABLE lot DROP CONSTRAINT {name}")
    database.close()


def undo_twice() -> None:
    """Give back twice what an undone act had taken."""
    opposite = undoing._opposite

    def opposite_twice(work: Work, line: Movement, lot: Lot) -> ledger.LedgerLine:
        written = opposite(work, line, lot)
        ledger.change_balance(work.session, lot.id, in_hand=written.change)
        return written

    _replace("_opposite", opposite_twice, undoing)


def forget_keys() -> None:
    """Do what is asked under a key, and keep no answer."""
    _replace("_key", lambda: None, unit_of_work)


def release_twice() -> None:
    """Free pieces again that a reservation has given up or used already."""
    release = reservations.release

    def release_again(
        work: Work, reservation_id: int, quantity: int | None, note: str
    ) -> Reservation:
        try:
            return release(work, reservation_id, quantity, note)
        except Conflict:
            row = work.session.get_one(Reservation, reservation_id)
            freed = ledger.change_balance(work.session, row.lot_id, promised=-(quantity or 1))
            if not freed:
                raise
            return row

    _replace("release", release_again, reservations)


def look_then_write() -> None:
    """Look before one's turn, compare here, and write the computed value."""
    seen = threading.local()
    write = transaction.write

    def look_first(database: Database, work: Callable[[Session], Any]) -> Any:
        with transaction.read(database) as session:
            rows = session.execute(select(Lot.id, Lot.in_hand, Lot.promised)).all()
        seen.lots = {lot_id: (in_hand, promised) for lot_id, in_hand, promised in rows}
        return write(database, work)

    def change_balance(session: Session, lot_id: int, **changes: int) -> bool:
        before = getattr(seen, "lots", {}).get(lot_id)
        if before is None:
            before = session.execute(
                select(Lot.in_hand, Lot.promised).where(Lot.id == lot_id)
            ).one()
        in_hand = before[0] + changes.get("in_hand", 0)
        promised = before[1] + changes.get("promised", 0)
        if not 0 <= promised <= in_hand:
            return False
        values = {"in_hand": in_hand, "promised": promised, "has_available": promised < in_hand}
        _update(session, lot_id, values)
        return True

    _replace("write", look_first, unit_of_work)
    _replace("change_balance", change_balance, *_MOVERS)


def moves_one_promise_and_not_the_other() -> None:
    """End a promise that moves aside, and put nothing in its place."""
    promise_all = settling.promise_all

    def promise_new_ones(
        work: Work, promises: Sequence[NewPromise], lasts: timedelta | None
    ) -> list[Reservation] | None:
        new = [each for each in promises if each.replaces is None]
        made = promise_all(work, new, lasts)
        return made and [*made, *(made[0] for _ in promises[len(new) :])]

    _replace("promise_all", promise_new_ones, settling)


def takes_a_pinned_one() -> None:
    """Let a promise move aside whether it is pinned or not."""
    may_move = settling.may_move

    def may_move_anyway(reservation: Reservation) -> bool:
        pinned, reservation.pinned = reservation.pinned, False
        try:
            return may_move(reservation)
        finally:
            reservation.pinned = pinned

    class Unpinned(chains.RoomMaker):
        def _why_not(self, reservation: Reservation, lot: Lot) -> str | None:
            why_not = super()._why_not(reservation, lot)
            is_for_it = why_not is not None and why_not.startswith("it is pinned")
            return None if is_for_it and may_move_anyway(reservation) else why_not

    _replace("may_move", may_move_anyway, settling)
    _replace("RoomMaker", Unpinned, naming, reserving)


def answer_before_commit() -> None:
    """Answer, and now and then undo what was answered."""
    dice = random.Random(1)  # noqa: S311 - a seed to repeat it with
    write = transaction.write

    def write_or_undo(database: Database, work: Callable[[Session], Any]) -> Any:
        if dice.random() > SHARE_UNDONE:
            return write(database, work)
        with database.write_lock.turn(), Session(database.writer) as session:
            answer = work(session)
            session.rollback()
            return answer

    _replace("write", write_or_undo, unit_of_work)


def _replace(name: str, function: Callable[..., Any], *modules: ModuleType) -> None:
    for module in modules:
        setattr(module, name, function)


def _update(session: Session, lot_id: int, values: dict[str, Any]) -> None:
    statement = update(Lot).where(Lot.id == lot_id).values(values)
    session.execute(statement.execution_options(synchronize_session=False))
    kept = session.identity_map.get(session.identity_key(Lot, lot_id))
    if kept is not None:
        session.expire(kept)


BUGS = {
    bug.__name__: bug
    for bug in (
        drop_row_condition,
        drop_condition_and_check,
        forget_keys,
        release_twice,
        undo_twice,
        look_then_write,
        answer_before_commit,
        moves_one_promise_and_not_the_other,
        takes_a_pinned_one,
    )
}

if __name__ == "__main__":
    BUGS[sys.argv.pop(1)]()
    main()
